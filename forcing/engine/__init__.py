"""What must be decided: from a season and its recipes to dates, rooms, tasks and findings."""
