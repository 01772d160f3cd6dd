"""The starter workbook, and a filled season written as a workbook or as a folder of .csv files."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

from forcing.files import replacing
from forcing.model import Paper
from forcing.recipes.book import CompanionBook, RecipeBook, curve_names, shipped_minutes
from forcing.season.cells import clean
from forcing.season.hints import Problem
from forcing.season.schema import (
    COMPANION_HELP,
    PARAMETER_HELP,
    PARAMETER_WORDS,
    SEASON_ITEMS,
    SEASON_UNIT,
    TABLES,
    Column,
    Table,
    parameter_unit,
    plain,
    season_item,
)
from forcing.season.workbook import Page, Rule, Sheet, cell_range, column_letters, write_book
from forcing.units import TemperatureUnit

Tables = Mapping[str, Sequence[Mapping[str, object]]]
Rows = Mapping[str, Sequence[Sequence[object]]]


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
    rows: dict[str, tuple[tuple[object, ...], ...]] = {}
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


ROOM = 5000  # rows of each table with drop-downs, notes and filters
READ_ME, WORDS = "Read me", "words"

_STEPS: tuple[tuple[str, str], ...] = (
    ("1  season", "Write the day the show opens and the last day it is open, and what else holds for all of it."),
    ("2  places", "One row for every cooler, bench, frame and outdoor site, with the room it has."),
    ("3  lots", "One row for every lot: crop, class, cultivar and number of pots. Leave empty what the plan is "
                "to choose."),
    ("4  displays", "The containers, and in plantings what stands in each of them; pots of those lots may stay empty."),
    ("5  normals", "Usual low and high of each outdoor site, month by month."),
    ("6  check", "Save the file and run: forcing check FILE. It lists everything that is wrong or risky, with "
                 "sheet, row and column. Then run: forcing plan FILE -o sheets"),
    ("7  log", "Through the season write in log what happens and in readings what the thermometers say; then "
               "the forecasts follow the plants."),
)  # fmt: skip
_RULES: tuple[tuple[str, str], ...] = (
    ("Headers", "Leave row 1 of every sheet as it is. Dark headers must be filled, light ones may stay empty."),
    ("Empty cells", "An empty cell means the default. The note on each header says what that is."),
    ("Dates", "Year-month-day, such as 2027-03-20. Last days count: a show that closes on a day is open on it."),
    ("Numbers", "Digits alone, with no unit behind them; the header or its note says the unit."),
    ("Temperatures", "All in the unit that the season sheet states, °C or °F. Nothing is converted by guess."),
    ("Names", "Places, lots and displays go by the names you give them; capitals do not matter."),
    ("Crops", "The words sheet lists the crops whose recipes come with the program. Your own figures go in crops."),
    ("Own columns", "You may add columns and sheets of your own; they are not read."),
)  # fmt: skip


def write_starter(path: Path, *, unit: TemperatureUnit = "C", paper: str = "A4") -> None:
    """Write a starter season workbook: all tables empty, the season's items listed with blanks to fill.

    Raises OutputError where `path` cannot be written.
    """
    given: dict[str, object] = {"temperature unit": unit, "paper": paper}
    season_book(Path(path), {"season": tuple((i.name, given.get(i.name), None) for i in SEASON_ITEMS)})


def season_book(path: Path, rows: Rows) -> Path:
    """Write a season workbook with all tables; `rows` in the order of each table's columns; gives `path`."""
    stated = {row[0]: row[1] for row in rows["season"]}
    unit: TemperatureUnit = "F" if str(stated.get("temperature unit") or "C").upper().endswith("F") else "C"
    paper: Paper = "Letter" if "letter" in str(stated.get("paper")).lower() else "A4"
    sheets = [_season_sheet(TABLES[0], rows["season"])]
    sheets += [_table_sheet(each, rows.get(each.name, ()), unit, rows) for each in TABLES[1:]]
    return write_book(path, [_read_me(), *sheets, _words_sheet(unit)], paper)


def _season_sheet(table: Table, rows: Sequence[Sequence[object]]) -> Sheet:
    filled = tuple(
        (name, value, note or item.prompt())
        for item, (name, value, note) in zip(SEASON_ITEMS, rows, strict=True)
    )
    rules = tuple(Rule(f"B{i}", item, item.prompt()) for i, item in enumerate(SEASON_ITEMS, start=2))
    return Sheet(table.name, table.columns, filled, rules, key_columns=1, row_kinds=SEASON_ITEMS)


def _table_sheet(
    table: Table, rows: Sequence[Sequence[object]], unit: TemperatureUnit, all_rows: Rows
) -> Sheet:
    last = max(ROOM, len(rows) + 500) + 1
    helps = tuple(_in_unit(column.prompt(), unit) for column in table.columns)
    rules = tuple(
        Rule(f"{letter}2:{letter}{last}", column, help, *_choices(column, all_rows))
        for letter, column, help in zip(column_letters(len(helps)), table.columns, helps, strict=True)
        if column.kind != "note"
    )
    return Sheet(
        table.name,
        table.columns,
        tuple(map(tuple, rows)),
        rules,
        helps,
        last,
        key_columns=1 if table.key else 0,
    )


def _in_unit(text: str, unit: TemperatureUnit) -> str:
    return text.replace(SEASON_UNIT, f"°{unit}, as the season sheet states")


def _choices(column: Column, rows: Rows) -> tuple[str | None, bool]:
    """The range of names to choose from, and whether nothing else may be typed."""
    if column.names == "crop":
        return cell_range(WORDS, 5, len(RecipeBook.from_overrides().crops) + 1), False
    if column.names == "companion crop":
        return cell_range(WORDS, 6, len(CompanionBook.from_overrides().crops) + 1), False
    if column.names == "task":
        return cell_range(WORDS, 7, len(shipped_minutes()) + 1), False
    if column.words == PARAMETER_WORDS:  # too many for a list inside the cell's own rule
        return cell_range(WORDS, 1, len(PARAMETER_WORDS) + 1), True
    if column.names:
        return cell_range(column.names, 1, max(ROOM, len(rows.get(column.names, ())) + 500) + 1), False
    return None, False


def _read_me() -> Page:
    lines: list[tuple[str, str | None]] = [("A season of forced bulbs", None), ("What to fill in", None)]
    lines += [*_STEPS, ("How to write it", None), *_RULES, ("The sheets", None)]
    lines += [(each.name, each.help) for each in TABLES]
    lines += [(WORDS, "Figures, crops, tasks and cold curves by name: for looking up, not for filling in.")]
    return Page(READ_ME, tuple(lines), links=frozenset(each.name for each in TABLES) | {WORDS})


def _words_sheet(unit: TemperatureUnit) -> Sheet:
    columns = (
        Column("parameter", "name", "", width=20), Column("unit", "name", "", width=22),
        Column("what it is", "name", "", width=64), Column(" ", "name", "", width=3),
        Column("crops with a recipe", "name", "", width=26), Column("companions with a recipe", "name", "", width=26),
        Column("tasks", "name", "", width=18), Column("cold curves", "name", "", width=16),
    )  # fmt: skip
    units = [f"°{unit}" if parameter_unit(p) == SEASON_UNIT else parameter_unit(p) for p in PARAMETER_WORDS]
    helps = {**PARAMETER_HELP, **COMPANION_HELP}
    lists: list[list[str]] = [
        [*PARAMETER_WORDS], units, [helps[p] for p in PARAMETER_WORDS], [],
        [*RecipeBook.from_overrides().crops], [*CompanionBook.from_overrides().crops],
        [row.task for row in shipped_minutes()], [*curve_names()],
    ]  # fmt: skip
    rows = tuple(
        tuple(each[i] if i < len(each) else None for each in lists) for i in range(max(map(len, lists)))
    )
    return Sheet(WORDS, columns, rows)
