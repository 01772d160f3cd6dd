"""Drawing in points on a page: areas, lines and text that every picture shares."""
