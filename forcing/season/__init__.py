"""What the grower states: the tables, how they are read, the starter workbook and the checks."""
