"""Tables of a sheet: a header, rows, columns as wide and rows as high as what they hold, filter arrows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.utils import get_column_letter

from forcing.sheets.workbook.cells import (
    HEAD,
    HEAD_RIGHT,
    SIZE,
    TEXT,
    Look,
    Pen,
    Value,
    height,
    lines,
    points,
    shown,
    text_width,
    units,
)

_INDENT = 1.8  # units of column that a step of indent takes
_KEPT = 0.6  # of its width that a column keeps when a table must be narrower


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its header, how its cells look, and the most points it may take before wrapping."""

    title: str
    look: Look = TEXT
    most: float = 150.0
    arrow: bool = True  # a filter's arrow may sit in its header


@dataclass(frozen=True, slots=True)
class Marked:
    """A value that looks different from the rest of its column."""

    value: Value
    look: Look


def as_needed(value: float, look: Look) -> Marked:
    """A number with one decimal where it has any, and none where it is whole."""
    whole = abs(value - round(value)) < 0.05
    return Marked(round(value, 2), look.but(number="#,##0" if whole else "#,##0.0"))


Cells = Sequence[Value | Marked]


def write_table(
    pen: Pen,
    sheet: Any,
    top: int,
    columns: Sequence[Column],
    rows: Iterable[Cells],
    within: float | None = None,
) -> int:
    """Header in row `top`, then the rows; columns grow to fit (never shrink). Gives the row after the last.

    Where the columns together take more than `within` points, those that wrap are made narrower, the emptiest first.
    """
    kept = [tuple(_marked(value, column) for value, column in zip(row, columns, strict=True)) for row in rows]
    widths = [_column_width(column, [row[i] for row in kept]) for i, column in enumerate(columns)]
    if within is not None and sum(map(points, widths)) > within:
        cells = [[row[i] for row in kept] for i in range(len(columns))]
        bare = (_least_width(*each) for each in zip(columns, cells, strict=True))
        least = [max(least, _KEPT * width) for least, width in zip(bare, widths, strict=True)]
        widths = _narrowed(widths, least, [_mean_width(each) for each in cells], within)
    for i, width in enumerate(widths):
        widths[i] = widen(sheet, i + 1, width)
    head = [Marked(c.title, HEAD_RIGHT if c.look.align == "right" else HEAD) for c in columns]
    for offset, row in enumerate([head, *kept]):
        for i, cell in enumerate(row):
            pen.put(sheet, top + offset, i + 1, cell.value, cell.look)
        sheet.row_dimensions[top + offset].height = height(_row_lines(row, widths))
    return top + 1 + len(kept)


def widen(sheet: Any, column: int, width: float) -> float:
    """Make a column at least so wide; gives its width."""
    letter = get_column_letter(column)
    now = sheet.column_dimensions[letter].width if letter in sheet.column_dimensions else 0.0
    sheet.column_dimensions[letter].width = max(width, now)
    return float(max(width, now))


def filtered(sheet: Any, top: int, columns: int, after: int) -> None:
    """Filter arrows on a table whose header is row `top` and whose last row is `after` - 1."""
    sheet.auto_filter.ref = f"A{top}:{get_column_letter(columns)}{max(top, after - 1)}"


def _marked(value: Value | Marked, column: Column) -> Marked:
    return value if isinstance(value, Marked) else Marked(value, column.look)


def _row_lines(row: Sequence[Marked], widths: Sequence[float]) -> int:
    wrapped = [
        lines(
            shown(cell.value, cell.look), width - _INDENT * cell.look.indent, cell.look.size, cell.look.bold
        )
        for cell, width in zip(row, widths, strict=True)
        if cell.look.wrap
    ]
    return max(wrapped, default=1)


def _column_width(column: Column, cells: Sequence[Marked]) -> float:
    """Wide enough for every date and number and for the longest word; text beyond `most` wraps."""
    widest = 0.0
    for cell in cells:
        text = shown(cell.value, cell.look)
        whole = text_width(text, cell.look.size, cell.look.bold)
        if cell.look.wrap and whole > column.most:
            whole = min(max(column.most, *_words(text, cell.look)), 2 * column.most)
        widest = max(widest, whole + _indent(cell.look))
    return units(max(widest, _header(column)))


def _header(column: Column) -> float:
    """Points of the longest word of a header, with room for the arrow of a filter over the end of its last line."""
    longest = max(text_width(word, SIZE, True) for word in column.title.split(" "))
    return longest + (14 if column.arrow else 2) + _indent(column.look)


def _least_width(column: Column, cells: Sequence[Marked]) -> float:
    """As narrow as a column may be: no word of what wraps is cut, and no figure or date."""
    widest = _header(column)
    for cell in cells:
        text = shown(cell.value, cell.look)
        if cell.look.wrap:
            needed = max(_words(text, cell.look), default=0.0)
        else:
            needed = text_width(text, cell.look.size, cell.look.bold)
        widest = max(widest, needed + _indent(cell.look))
    return units(widest)


def _mean_width(cells: Sequence[Marked]) -> float:
    texts = [text_width(shown(cell.value, cell.look), cell.look.size, cell.look.bold) for cell in cells]
    return sum(texts) / max(1, len(texts))


def _narrowed(
    widths: Sequence[float], least: Sequence[float], mean: Sequence[float], within: float
) -> list[float]:
    """The widths, those that may shrink made narrower until they fit or none can: where its texts fill least of it."""
    made = list(widths)
    while sum(map(points, made)) > within:
        free = [i for i, width in enumerate(made) if width - 1 >= least[i]]
        if not free:
            break
        made[min(free, key=lambda i: mean[i] / made[i])] -= 1
    return made


def _indent(look: Look) -> float:
    return 8.0 if look.align == "right" else 0.0


def _words(text: str, look: Look) -> Iterator[float]:
    return (text_width(word, look.size, look.bold) for word in text.split())
