"""Exceptions, and findings: faults of a season as data.

ForcingError
├── SeasonUnreadable (ValueError)   the season could not be read or understood; carries its findings
├── NothingToPlan (ValueError)      the season was understood, but there is no lot in it to plan; carries its findings
├── RecipeError (ValueError)        a recipe lacks a number that was asked for, or contradicts itself
└── OutputError (OSError)           a sheet could not be written; the old file is untouched
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong or risky in a season: where it is, what it is, what to do.

    `row` is the row a person sees in the workbook or CSV file (the header is row 1), or None where
    the finding is about a whole table. `value` is what was found there, as text, or None.
    """

    code: str
    severity: Severity
    table: str
    row: int | None
    column: str | None
    message: str
    hint: str
    value: str | None = None
    # What it is about, for code that asks; nothing is ever decided by reading a message. None: not about one.
    lot: str | None = None
    place: str | None = None
    week: str | None = None  # ISO 8601, as 2026-W45
    days: tuple[date, ...] = ()  # the first and last, or the only one
    number: float | None = None  # the quantity told of: pots over, hours short, days late, weeks of cold

    def is_about(self, first: date, last: date) -> bool:
        """Whether it is about a day from `first` to `last`."""
        return bool(self.days) and self.days[0] <= last and first <= self.days[-1]

    def where(self) -> str:
        """Table, row and column in words; parts that do not apply are left out."""
        parts = [self.table]
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(self.column)
        return ", ".join(parts)

    def what(self) -> str:
        """The message with the value found in brackets."""
        return self.message if self.value is None else f"{self.message} ({self.value})"

    def __str__(self) -> str:
        return f"{self.where()}: {self.what()}. {self.hint}"


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in a fixed order: worst first, then table, row, column, code. Repeats are dropped."""
    rank = {severity: i for i, severity in enumerate(SEVERITIES)}
    return tuple(
        sorted(
            set(findings),
            key=lambda f: (rank[f.severity], f.table, f.row or 0, f.column or "", f.code, f.message),
        )
    )


class ForcingError(Exception):
    """Root of every exception that this package raises on purpose."""


class SeasonUnreadable(ForcingError, ValueError):
    """The season could not be read or understood. `findings` says all that is wrong.

    `partial` is what was understood of the season, where there is something: never to be planned, only to be checked,
    so that a person hears of every fault at once.
    """

    def __init__(self, findings: Iterable[Finding], partial: object | None = None) -> None:
        self.findings = sort_findings(findings)
        self.partial = partial
        super().__init__("\n".join(str(f) for f in self.findings))


class NothingToPlan(ForcingError, ValueError):
    """The season was understood, but holds no lot that could be planned. `findings` says all that is wrong."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = sort_findings(findings)
        super().__init__("\n".join(str(f) for f in self.findings if f.severity == "error"))


class RecipeError(ForcingError, ValueError):
    """A recipe lacks a number that was asked for, or contradicts itself. `parameters`: those it is about."""

    def __init__(self, message: str, parameters: tuple[str, ...] = ()) -> None:
        self.parameters = parameters
        super().__init__(message)


class OutputError(ForcingError, OSError):
    """A sheet could not be written. What was there before is untouched."""
