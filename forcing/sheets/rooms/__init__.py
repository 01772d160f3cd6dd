"""The parts of the room plan: moves week by week, their rows of type, the strip of staff hours, the page."""
