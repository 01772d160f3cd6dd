"""What a workbook or a CSV file gives before it is understood: rows of raw values.

A raw value is None, text, bool, int, float, date, datetime, time, timedelta, or one of the marks below.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from forcing.errors import Finding

ERROR_WORDS: frozenset[str] = frozenset(
    {
        "#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#SPILL!", "#CALC!",
        "#GETTING_DATA", "#FIELD!", "#BLOCKED!", "#CONNECT!", "#UNKNOWN!",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Percent:
    """A number shown as a percentage: `fraction` 0.05 is seen as 5 %."""

    fraction: float


@dataclass(frozen=True, slots=True)
class ErrorValue:
    """A cell whose formula failed, such as #REF!."""

    text: str


@dataclass(frozen=True, slots=True)
class Uncomputed:
    """A formula that was saved without its value."""

    formula: str


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet or CSV file. `rows[i]` is what a person sees as row i + 1; short rows are short."""

    name: str
    rows: tuple[tuple[object, ...], ...]
    delimited: bool = False  # from a CSV file: a value too many means a delimiter too many


@dataclass(frozen=True, slots=True)
class RawSeason:
    """All sheets of a season, and what was wrong with the files themselves."""

    sheets: tuple[RawSheet, ...]
    findings: tuple[Finding, ...] = ()


def shown(raw: object) -> str:
    """A raw value as a person would recognise it, for a finding; at most 60 characters."""
    if isinstance(raw, Percent):
        text = f"{raw.fraction * 100:g} %"
    elif isinstance(raw, ErrorValue):
        text = raw.text
    elif isinstance(raw, Uncomputed):
        text = raw.formula
    elif isinstance(raw, bool):
        text = str(raw).upper()
    elif isinstance(raw, datetime):
        text = raw.date().isoformat() if raw.time() == time() else raw.isoformat(" ", "minutes")
    elif isinstance(raw, date | time):
        text = raw.isoformat()
    elif isinstance(raw, timedelta):
        text = f"a length of time, {raw}"
    elif isinstance(raw, float):
        text = f"{raw:.15g}"
    else:
        text = str(raw)
    text = " ".join("".join(c if c.isprintable() or c.isspace() else "?" for c in text).split())
    return text if len(text) <= 60 else text[:57] + "..."
