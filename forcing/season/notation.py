"""How a season is written: the order of its dates, the marks of its numbers, its units; and columns in its measures."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from forcing.dates import DateOrder
from forcing.text import fold_word
from forcing.units import (
    CUBIC_FOOT,
    INCH,
    POT_INCH,
    QUART,
    SQUARE_FOOT,
    Measures,
    TemperatureUnit,
    show_pot,
    told,
)

if TYPE_CHECKING:
    from forcing.season.schema import Column

NumberStyle = Literal["comma for thousands", "comma for decimals"]


@dataclass(frozen=True, slots=True)
class Notation:
    """How the cells of a season are written, as its own table states; None: not stated, and nothing is guessed."""

    unit: TemperatureUnit = "C"
    date_order: DateOrder | None = None
    number_style: NumberStyle | None = None
    measures: Measures = "metric"


SEASON_UNIT = "the season's °C or °F"

# Unit of a column -> the word for it in the column's name, and the words that may stand there instead: how many of the
# column's unit one of them is. The first is that of a season in US measures.
_UNIT_WORDS: Mapping[str, tuple[str, Mapping[str, float]]] = {
    "cm": (" cm", {" in": INCH, " in.": INCH, " inch": INCH, " inches": INCH}),
    "litres": ("litres", {"quarts": QUART, "qt": QUART, "cubic feet": CUBIC_FOOT, "cu ft": CUBIC_FOOT}),
    "m²": (
        " m2",
        {" sq ft": SQUARE_FOOT, " square feet": SQUARE_FOOT, " ft2": SQUARE_FOOT},
    ),
}


ROOM_UNIT = "15 cm pots"


def _other_heads(column: Column) -> dict[str, float | None]:
    """Headers that a measured column may have instead of its name, and how many of its unit one of theirs is.

    None: as the season's measures say.
    """
    word, others = _UNIT_WORDS[column.unit]
    bare = column.name.replace(word, "") or "mix"
    factors = {other: POT_INCH if column.name == "pot cm" and f == INCH else f for other, f in others.items()}
    return {bare: None, **{column.name.replace(word, other): factor for other, factor in factors.items()}}


def measured(column: Column) -> Column:
    """The column with the headers that name another unit than its own, or none."""
    return replace(column, heads=(*column.heads, *_other_heads(column)))


def us_name(column: Column) -> str:
    """The header of a column in a season of US measures."""
    return list(_other_heads(column))[1] if column.unit in _UNIT_WORDS else column.name


# What helps say of measures, and what they say in a season of US measures; whole words.
_US_WORDS = {"15 cm": "6 in", "2.5 cm": "1 in", "litres": "cubic feet", "m²": "square feet"}


def in_words(text: str, unit: TemperatureUnit, measures: Measures) -> str:
    """A help in the words of a season: its temperatures in its unit, its lengths, mix and cloth in its measures."""
    text = text.replace(SEASON_UNIT, f"°{unit}, as the season sheet states")
    text = re.sub(r"([\d.]+) °C or ([\d.]+) °F", rf"\{1 if unit == 'C' else 2} °{unit}", text)
    for metric, us in _US_WORDS.items() if measures == "US" else ():
        text = re.sub(rf"(?<![\w.]){metric}(?!\w)", us, text)
    return text


def in_measures(column: Column, unit: TemperatureUnit, measures: Measures) -> Column:
    """A column as a season with these measures has it: its header, its unit, its limits and its help."""
    name = us_name(column) if measures == "US" else column.name
    column = replace(as_headed(column, name, measures)[0], name=name)
    return replace(
        column, help=in_words(column.help, unit, measures), unit=in_words(column.unit, unit, measures),
        default=in_words(column.default, unit, measures),
        words=tuple(told(word, "C", measures) for word in column.words),
    )  # fmt: skip


def as_headed(column: Column, header: str, measures: Measures) -> tuple[Column, float]:
    """The column in the unit that its header names, or else of the season's measures; how many of its own that is."""
    if column.unit == ROOM_UNIT:
        return replace(column, unit=f"{show_pot(15, measures)} pots"), 1.0
    if column.unit not in _UNIT_WORDS:
        return column, 1.0
    others = _other_heads(column)
    head = fold_word(header)
    if others.get(head, 1.0) is None and measures == "US":
        head = us_name(column)
    factor = others.get(head)
    if factor is None:
        return column, 1.0
    unit = next(word for word in _UNIT_WORDS[column.unit][1] if head.endswith(word)).strip()
    low, high = (
        None if limit is None else round(limit / factor, 2) for limit in (column.lowest, column.highest)
    )
    return replace(column, unit=unit, lowest=low, highest=high), factor
