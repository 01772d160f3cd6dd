"""The weekly task sheet that staff are handed."""

from forcing.reports.week.sheet import write_week

__all__ = ["write_week"]
