"""The season plan workbook: the whole plan as sheets that a person can filter and print."""

from forcing.reports.workbook.book import write_workbook

__all__ = ["write_workbook"]
