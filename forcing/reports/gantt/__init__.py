"""The Gantt sheet: every lot against the weeks, with the load of each place."""

from forcing.reports.gantt.page import write_gantt

__all__ = ["write_gantt"]
