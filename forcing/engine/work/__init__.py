"""The work of a season: tasks, hours, orders, and what recurs."""
