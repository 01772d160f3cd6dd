"""A filled season written as a workbook or as a folder of .csv files, with identical meaning.

Both take tables as rows of plain values by column name; a missing or None value is an empty cell.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

from forcing.files import replacing
from forcing.season.cells import clean
from forcing.season.columns import Table, plain
from forcing.season.refusals import Problem
from forcing.season.starter import season_book
from forcing.season.tables import SEASON_ITEMS, TABLES, season_item

Tables = Mapping[str, Sequence[Mapping[str, object]]]
Rows = dict[str, tuple[tuple[object, ...], ...]]


def write_workbook(path: Path, tables: Tables) -> Path:
    """Write a season workbook with the looks of the starter, filled; gives `path`.

    Raises ValueError for a table, column, item or value that no season has; OutputError where `path`
    cannot be written.
    """
    return season_book(Path(path), in_columns(tables))


def write_folder(folder: Path, tables: Tables) -> Path:
    """Write a season as one .csv file a table (UTF-8, RFC 4180 quoting); gives `folder`.

    Every table gets its file, so that no row of an older season stays behind. Raises as `write_workbook`.
    """
    folder = Path(folder)
    rows = in_columns(tables)
    texts = {
        each: _lines(each, rows.get(each.name, ())) for each in TABLES
    }  # all checked before any is written
    for each, lines in texts.items():
        with replacing(folder / f"{each.name}.csv") as temporary:
            _save(temporary, lines)
    return folder


def in_columns(tables: Tables) -> Rows:
    """Rows as tuples in the order of each table's columns. Raises ValueError for names no season has."""
    known = {plain(each.name): each for each in TABLES}
    rows: Rows = {}
    for name, given in tables.items():
        if plain(name) not in known:
            raise ValueError(f"a season has no table {name!r}")
        each = known[plain(name)]
        rows[each.name] = tuple(_in_columns(each, row) for row in given)
    rows["season"] = _every_item(rows.get("season", ()))
    return rows


def _in_columns(table: Table, row: Mapping[str, object]) -> tuple[object, ...]:
    names = {plain(word): column.name for column in table.columns for word in (column.name, *column.heads)}
    values: dict[str, object] = {}
    for key, value in row.items():
        if plain(key) not in names:
            raise ValueError(f"the table {table.name} has no column {key!r}")
        if names[plain(key)] in values:
            raise ValueError(f"the table {table.name} is given {key!r} twice in one row")
        values[names[plain(key)]] = value
    return tuple(values.get(column.name) for column in table.columns)


def _every_item(given: Sequence[tuple[object, ...]]) -> tuple[tuple[object, ...], ...]:
    """All items of a season in their order, those that are not given with an empty value."""
    stated: dict[str, tuple[object, object]] = {}
    for name, value, note in given:
        item = season_item(str(name))
        if item is None or item.name in stated:
            raise ValueError(f"an item that no season has, or a second one: {name!r}")
        stated[item.name] = (value, note)
    return tuple((item.name, *stated.get(item.name, (None, None))) for item in SEASON_ITEMS)


def _lines(table: Table, rows: Sequence[Sequence[object]]) -> list[list[str]]:
    lines = [[column.name for column in table.columns]]
    return lines + [[_text(value) for value in row] for row in rows]


def _text(value: object) -> str:
    """A value as CSV holds it: ISO dates, a point before decimals, as many digits as it takes."""
    if value is None:
        return ""
    if isinstance(value, bool | datetime):
        raise ValueError(f"not a value that can be written: {value!r}")
    if isinstance(value, str):
        cleaned = clean(value, lines=True)
        if isinstance(cleaned, Problem):
            raise ValueError(f"{cleaned.message}: {value!r}")
        return cleaned
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int) or (isinstance(value, float) and math.isfinite(value)):
        return repr(value)
    raise ValueError(f"not a value that can be written: {value!r}")


def _save(temporary: Path, lines: list[list[str]]) -> None:
    with temporary.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(lines)
