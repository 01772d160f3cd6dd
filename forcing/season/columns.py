"""What a column is, and when two words count as the same.

One `Table` of `Column`s drives the reader, the starter workbook, the writers and the documentation.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "name",  # a short text that other tables may refer to
    "note",  # free text for people
    "date",
    "number",
    "count",  # a whole number
    "fraction",  # 0.8, or a cell shown as 80 %
    "percent",  # 5 means 5 %
    "temperature",  # in the season's unit
    "difference",  # of temperatures, in the season's unit: 9 °F is 5 °C
    "word",  # one of `words`
    "figure",  # a number or a name: which one depends on the parameter beside it
    "weekdays",  # Mon-Fri
    "holidays",  # dates and country codes
    "value",  # of a season item: its kind is the item's
]

NEAR_LIMIT = 1000  # candidates beyond which near matches are not searched for: it would take minutes


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table, or one item of the season table. Limits are inclusive."""

    name: str
    kind: Kind
    help: str  # one or two plain sentences
    unit: str = ""
    words: tuple[str, ...] = ()  # allowed words; for kind "name" words that are offered, not required
    also: tuple[tuple[str, str], ...] = ()  # (other spelling, word)
    heads: tuple[str, ...] = ()  # other header words that mean this column
    names: str = ""  # the table whose names are offered
    required: bool = False
    default: str = ""  # what an empty cell means, in words
    lowest: float | None = None
    highest: float | None = None
    width: int = 12  # of the sheet's column, in characters

    def prompt(self) -> str:
        """Help, unit and what empty means, in a few plain sentences (under 255 characters)."""
        parts = [self.help]
        if self.unit:
            parts.append(f"Unit: {self.unit}.")
        if self.required:
            parts.append("Must be filled.")
        elif self.default:
            parts.append(f"Empty: {self.default}.")
        return " ".join(parts)


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the season. `key` names the column whose entries must all differ, if there is one."""

    name: str
    help: str
    columns: tuple[Column, ...]
    key: str = ""

    def column(self, name: str) -> Column:
        """The column of that name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"{self.name} has no column {name!r}")


def plain(text: str) -> str:
    """A header, item or word without what does not count: case, underscores, blanks around and doubled."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().replace("_", " ").split())


def same_name(text: str) -> str:
    """A name without what does not count: case, and blanks around and doubled (underscores do count)."""
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def near(text: str, candidates: Iterable[str]) -> str | None:
    """The candidate that `text` was most likely meant to be, or None where nothing is close."""
    by_plain: dict[str, str] = {}
    for candidate in candidates:
        by_plain.setdefault(plain(candidate), candidate)
        if len(by_plain) > NEAR_LIMIT:
            return None
    close = difflib.get_close_matches(plain(text), by_plain, n=1, cutoff=0.7)
    return by_plain[close[0]] if close else None


def did_you_mean(text: str, candidates: Iterable[str], otherwise: str) -> str:
    """A hint: the near match as a question, or what else to do."""
    match = near(text, candidates)
    return f"Did you mean {match}? {otherwise}" if match else otherwise
