"""What the trade knows: the shipped recipes, one number a row, and where each comes from."""
