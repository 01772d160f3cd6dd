"""Exceptions, and findings: faults of a season as data.

ForcingError
├── SeasonUnreadable (ValueError)   the season could not be read or understood; carries its findings
├── NothingToPlan (ValueError)      the season was understood, but there is no lot in it to plan; carries its findings
├── RecipeError (ValueError)        a recipe lacks a number that was asked for, or contradicts itself
└── OutputError (OSError)           a sheet could not be written; the old file is untouched
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from forcing.text import listed, number

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
MOST_ROWS = 12  # of one finding by number: each is to be looked at


@dataclass(frozen=True, slots=True)
class Several:
    """One event told of many: texts in which {names}, {lots}, {count}, {days}, {first} and {last}, {least} and
    {most}, and {least_to_most} with its days are filled in.

    `of` is what the finding calls the one it is about, where that is no lot.
    """

    message: str
    hint: str
    of: str | None = None


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
    several: Several | None = None  # how it is told of many at once; None: each is told by itself
    lots: tuple[str, ...] = ()  # where one event is told of more than one: all of them
    rows: tuple[int, ...] = ()  # theirs
    most: float | None = None  # of an event: days late that it accounts for; None: any
    cause: str | None = None  # the key of the event that it follows from; None: it stands for itself

    @property
    def key(self) -> str:
        """Names an event among others, for what follows from it."""
        return " ".join([self.code, self.place or "", *map(str, self.days[:1])])

    @property
    def about(self) -> tuple[str, ...]:
        """The lots it is about."""
        return self.lots or (() if self.lot is None else (self.lot,))

    def is_about(self, first: date, last: date) -> bool:
        """Whether it is about a day from `first` to `last`."""
        return bool(self.days) and self.days[0] <= last and first <= self.days[-1]

    def where(self) -> str:
        """Table, row and column in words; parts that do not apply are left out."""
        parts = [self.table]
        if len(self.rows) > 1:
            parts.append(f"rows {listed([str(row) for row in self.rows], MOST_ROWS)}")
        elif self.row is not None:
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


def merged(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings of one cause as one, where the first of them stood: `several` is how it is told, or all say the same.

    What follows from an event that is among them is left to it.
    """
    groups: dict[Finding, list[Finding]] = {}
    findings = list(findings)
    events = {finding.key for finding in findings if finding.cause is None}
    for finding in findings:
        if finding.cause in events:
            continue  # told with its cause
        alone = replace(finding, row=None, lot=None, lots=(), rows=(), days=(), number=None, week=None)
        if finding.several is not None:
            same = Several(finding.several.message, finding.several.hint)
            place = None if finding.several.of else finding.place
            alone = replace(alone, message="", hint="", value=None, place=place, several=same)
        groups.setdefault(alone, []).append(finding)
    return tuple(group[0] if len(group) == 1 else _as_one(group) for group in groups.values())


def _as_one(group: Sequence[Finding]) -> Finding:
    group = sorted(group, key=lambda f: -(f.number or 0.0))
    first, several = group[0], group[0].several
    rows = tuple(sorted({row for f in group for row in (f.rows or (f.row,)) if row is not None}))
    lots = tuple(dict.fromkeys(name for f in group for name in f.about))
    days = tuple(sorted({day for f in group for day in f.days}))
    numbers = sorted(f.number for f in group if f.number is not None)
    one = replace(first, lot=None, lots=lots, rows=rows, days=days, number=max(numbers, default=None))
    if several is None:
        return one
    names = list(dict.fromkeys(f.several.of for f in group if f.several and f.several.of)) or list(lots)
    words = {
        "names": listed(names), "lots": listed(list(lots)), "count": len(names), "days": _days_words(days),
        "first": days[0] if days else "", "last": days[-1] if days else "",
        "least": number(min(numbers, default=0)), "most": number(max(numbers, default=0)),
        "least_to_most": _least_to_most(numbers or [0.0]),
    }  # fmt: skip
    return replace(
        one, message=several.message.format_map(words), hint=several.hint.format_map(words), value=None
    )


MOST_DAYS = 3  # named one by one


def _least_to_most(numbers: Sequence[float]) -> str:
    """'1 day', '1 to 9 days' of numbers in order."""
    least, most = number(numbers[0]), number(numbers[-1])
    return f"{most} {'day' if numbers[-1] == 1 else 'days'}" if least == most else f"{least} to {most} days"


def _days_words(days: Sequence[date]) -> str:
    if len(days) > MOST_DAYS:
        return f"{len(days)} days from {days[0]} to {days[-1]}"
    return listed([str(day) for day in days])


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
