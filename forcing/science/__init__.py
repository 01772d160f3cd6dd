"""What the plants do: pure functions of numbers and arrays, each with its source."""
