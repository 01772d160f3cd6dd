"""The starter workbook, the example season, and a filled season as a workbook or as a folder of .csv files.

Sheets are made from the table of columns: drop-downs, limits and notes are its words, limits and help.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.hyperlink import Hyperlink

from forcing.dates import YEARS
from forcing.files import replacing
from forcing.model import Paper
from forcing.recipes.book import CompanionBook, RecipeBook, curve_names, shipped_minutes
from forcing.season.cells import clean
from forcing.season.hints import CellProblem
from forcing.season.notation import SEASON_UNIT, as_headed, in_measures, in_words
from forcing.season.schema import (
    COMPANION_HELP,
    PARAMETER_HELP,
    PARAMETER_WORDS,
    SEASON_ITEMS,
    TABLES,
    Column,
    Table,
    parameter_unit,
    season_item,
)
from forcing.text import fold_word
from forcing.units import Measures, TemperatureUnit, c_to_f_difference, from_celsius
from forcing.xlsx import Look, Pen, Value, set_paper, write_xlsx

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
        each: _csv_lines(each, rows.get(each.name, ())) for each in TABLES
    }  # all checked before any is written
    for each, lines in texts.items():
        with replacing(folder / f"{each.name}.csv") as temporary:
            _save(temporary, lines)
    return folder


def in_columns(tables: Tables) -> Rows:
    """Rows as tuples in the order of each table's columns. Raises ValueError for names no season has."""
    known = {fold_word(each.name): each for each in TABLES}
    rows: dict[str, tuple[tuple[object, ...], ...]] = {}
    for name, given in tables.items():
        if fold_word(name) not in known:
            raise ValueError(f"a season has no table {name!r}")
        each = known[fold_word(name)]
        rows[each.name] = tuple(_in_columns(each, row) for row in given)
    rows["season"] = _every_item(rows.get("season", ()))
    return rows


def _in_columns(table: Table, row: Mapping[str, object]) -> tuple[object, ...]:
    names = {fold_word(word): column for column in table.columns for word in (column.name, *column.heads)}
    values: dict[str, object] = {}
    for key, value in row.items():
        if fold_word(key) not in names:
            raise ValueError(f"the table {table.name} has no column {key!r}")
        column = names[fold_word(key)]
        if column.name in values:
            raise ValueError(f"the table {table.name} is given {key!r} twice in one row")
        factor = as_headed(column, key, "metric")[1]
        values[column.name] = value * factor if factor != 1.0 and isinstance(value, int | float) else value
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


def _csv_lines(table: Table, rows: Sequence[Sequence[object]]) -> list[list[str]]:
    lines = [[column.name for column in table.columns]]
    return lines + [[_text(value) for value in row] for row in rows]


def _text(value: object) -> str:
    """A value as CSV holds it: ISO dates, a point before decimals, as many digits as it takes."""
    written = writable(value)
    if written is None or isinstance(written, str):
        return written or ""
    return written.isoformat() if isinstance(written, date) else repr(written)


def _save(temporary: Path, lines: list[list[str]]) -> None:
    with temporary.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(lines)


ROOM = 5000  # rows of each table with drop-downs, notes and filters
READ_ME, WORDS = "Read me", "words"

_STEPS: tuple[tuple[str, str], ...] = (
    ("1  season", "Write the day the show opens and the last day it is open, if there is one, and what else holds."),
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


def write_starter(
    path: Path, *, unit: TemperatureUnit = "C", paper: str = "A4", measures: Measures = "metric"
) -> None:
    """Write a starter season workbook: all tables empty, the season's items listed with blanks to fill.

    Raises OutputError where `path` cannot be written.
    """
    given: dict[str, object] = {"temperature unit": unit, "paper": paper}
    given |= {} if measures == "metric" else {"measures": measures}
    season_book(Path(path), {"season": tuple((i.name, given.get(i.name), None) for i in SEASON_ITEMS)})


def season_book(path: Path, rows: Rows) -> Path:
    """Write a season workbook with all tables; `rows` in the order of each table's columns; gives `path`."""
    stated = {row[0]: row[1] for row in rows["season"]}
    unit: TemperatureUnit = "F" if str(stated.get("temperature unit") or "C").upper().endswith("F") else "C"
    paper: Paper = "Letter" if "letter" in str(stated.get("paper")).lower() else "A4"
    measures: Measures = "US" if str(stated.get("measures")).upper() == "US" else "metric"
    sheets = [_season_sheet(TABLES[0], rows["season"], unit, measures)]
    sheets += [_table_sheet(each, rows.get(each.name, ()), unit, measures, rows) for each in TABLES[1:]]
    return write_book(path, [_read_me(), *sheets, _words_sheet(unit, measures)], paper)


def _season_sheet(
    table: Table, rows: Sequence[Sequence[object]], unit: TemperatureUnit, measures: Measures
) -> Sheet:
    items = tuple(in_measures(item, unit, measures) for item in SEASON_ITEMS)
    prompts = [in_words(item.prompt(), unit, measures) for item in SEASON_ITEMS]
    filled = tuple(
        (name, value, note or prompt) for prompt, (name, value, note) in zip(prompts, rows, strict=True)
    )
    rules = tuple(
        Rule(f"B{i}", item, prompt)
        for i, (item, prompt) in enumerate(zip(items, prompts, strict=True), start=2)
    )
    return Sheet(table.name, table.columns, filled, rules, key_columns=1, row_kinds=items)


def _table_sheet(
    table: Table, rows: Sequence[Sequence[object]], unit: TemperatureUnit, measures: Measures, all_rows: Rows
) -> Sheet:
    columns = tuple(in_measures(column, unit, measures) for column in table.columns)
    factors = [
        as_headed(column, shown.name, measures)[1]
        for column, shown in zip(table.columns, columns, strict=True)
    ]
    last = max(ROOM, len(rows) + 500) + 1
    helps = tuple(column.prompt() for column in columns)
    rules = tuple(
        Rule(f"{letter}2:{letter}{last}", column, help, *_choices(column, all_rows))
        for letter, column, help in zip(column_letters(len(helps)), columns, helps, strict=True)
        if column.kind != "note"
    )
    return Sheet(
        table.name,
        columns,
        tuple(tuple(map(_divided, row, factors)) for row in rows),
        rules,
        helps,
        last,
        key_columns=1 if table.key else 0,
    )


def _divided(value: object, factor: float) -> object:
    return round(value / factor, 2) if factor != 1.0 and isinstance(value, int | float) else value


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


def _words_sheet(unit: TemperatureUnit, measures: Measures) -> Sheet:
    columns = (
        Column("parameter", "name", "", width=20), Column("unit", "name", "", width=22),
        Column("what it is", "name", "", width=64), Column(" ", "name", "", width=3),
        Column("crops with a recipe", "name", "", width=26), Column("companions with a recipe", "name", "", width=26),
        Column("tasks", "name", "", width=18), Column("cold curves", "name", "", width=16),
    )  # fmt: skip
    units = [parameter_unit(p, measures).replace(SEASON_UNIT, f"°{unit}") for p in PARAMETER_WORDS]
    helps = {
        name: in_words(text, unit, measures) for name, text in {**PARAMETER_HELP, **COMPANION_HELP}.items()
    }
    lists: list[list[str]] = [
        [*PARAMETER_WORDS], units, [helps[p] for p in PARAMETER_WORDS], [],
        [*RecipeBook.from_overrides().crops], [*CompanionBook.from_overrides().crops],
        [row.task for row in shipped_minutes()], [*curve_names()],
    ]  # fmt: skip
    rows = tuple(
        tuple(each[i] if i < len(each) else None for each in lists) for i in range(max(map(len, lists)))
    )
    return Sheet(WORDS, columns, rows)


# ---------------------------------------------------------------- sheets to fill in

_LONGEST_TEXT = 32_767  # characters of a cell, ISO/IEC 29500 as spreadsheet programs keep it
_FONT = "Calibri"
_LINE = 15.5  # points of one line of text
_TWO_PAGES = 170  # characters beyond which a sheet is printed two pages wide
_FORMATS = {
    "date": "yyyy-mm-dd", "name": "@", "word": "@", "weekdays": "@", "holidays": "@", "repeat": "@",
    "duty": "@", "day and chance": "@", "day or name": "@",
}  # fmt: skip
_CELL = Look(font=_FONT, size=11, ink="#000000", align="")
_MAY = _CELL.but(bold=True, ink="#1a1a1a", fill="#e4e4e4", wrap=True)
_MUST = _MAY.but(ink="#ffffff", fill="#1a1a1a")


@dataclass(frozen=True, slots=True)
class Rule:
    """What the cells of a range like 'C2:C5001' take: the column says kind, words, limits and help.

    `source` is a range of names to choose from; with `only` nothing else may be typed.
    """

    cells: str
    column: Column
    help: str
    source: str | None = None
    only: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet to write: a header of columns, rows of values, rules for cells."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[object, ...], ...] = ()
    rules: tuple[Rule, ...] = ()
    helps: tuple[str, ...] = ()  # a note for each header; empty: none
    last_row: int = 1  # of the filter
    key_columns: int = 0  # columns that stay in sight
    row_kinds: tuple[Column, ...] = ()  # the season sheet: the kind of `value` in each row


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet of plain words: rows of (left, right); a right of None makes the left a heading."""

    title: str
    rows: tuple[tuple[str, str | None], ...]
    widths: tuple[int, int] = (18, 92)
    links: frozenset[str] = frozenset()  # left texts that are names of sheets to jump to


def write_book(path: Path, sheets: Sequence[Sheet | Page], paper: str) -> Path:
    """Write a workbook, moved into place when whole. Raises OutputError; ValueError for text that cannot be."""
    book = Workbook()
    book.remove(book.active)
    pen = Pen(book, _FONT, _CELL.size)
    for sheet in sheets:
        drawn = book.create_sheet(sheet.title)
        if isinstance(sheet, Page):
            _draw_page(pen, drawn, sheet)
        else:
            _draw_sheet(pen, drawn, sheet)
        _print_setup(drawn, paper, sheet)
    return write_xlsx(book, path)


def _draw_sheet(pen: Pen, drawn: Any, sheet: Sheet) -> None:
    for index, column in enumerate(sheet.columns, start=1):
        letter = get_column_letter(index)
        dimension = drawn.column_dimensions[letter]
        dimension.width = column.width
        if column.kind in _FORMATS:
            dimension.number_format = _FORMATS[column.kind]  # of cells yet to be typed
        cell = pen.put(drawn, 1, index, column.name, _MUST if column.required else _MAY)
        if sheet.helps:
            lines = math.ceil(len(sheet.helps[index - 1]) / 34) + 1
            cell.comment = Comment(sheet.helps[index - 1], "forcing", height=18 * lines + 8, width=260)
    drawn.row_dimensions[1].height = 32
    drawn.freeze_panes = drawn.cell(2, sheet.key_columns + 1)
    if sheet.last_row > 1:
        drawn.auto_filter.ref = f"A1:{get_column_letter(len(sheet.columns))}{sheet.last_row}"
    _fill(pen, drawn, sheet)
    for number, item in enumerate(sheet.row_kinds, start=2):
        pen.put(drawn, number, 1, item.name, (_MUST if item.required else _MAY).but(number="@"))
    for rule in sheet.rules:
        drawn.add_data_validation(_validation(rule))


def _lines(text: str, width: int) -> int:
    return max(1, math.ceil(len(text) / width))


def _fill(pen: Pen, drawn: Any, sheet: Sheet) -> None:
    for number, row in enumerate(sheet.rows, start=2):
        texts = ((str(value), column.width) for column, value in zip(sheet.columns, row, strict=True))
        lines = max(_lines(text, width) for text, width in texts)
        if lines > 1:
            drawn.row_dimensions[number].height = _LINE * lines
        for index, (column, value) in enumerate(zip(sheet.columns, row, strict=True), start=1):
            kind = column.kind
            if isinstance(value, date):
                kind = "date"  # whatever the column: shown as a number it would be read as one
            elif sheet.row_kinds and kind == "value":
                kind = sheet.row_kinds[number - 2].kind
            elif value is None:
                continue
            look = _CELL.but(
                number=_FORMATS.get(kind, "General"),
                wrap=kind in ("name", "note", "holidays"),
                align="left" if column.kind == "value" else "",
            )
            pen.put(drawn, number, index, writable(value), look)


def writable(value: object) -> Value:
    """A value as it can be written to a file. Raises ValueError for one that cannot."""
    if isinstance(value, str):
        cleaned = clean(value, lines=True)
        if isinstance(cleaned, CellProblem):
            raise ValueError(f"{cleaned.message}: {value!r}")
        if len(cleaned) > _LONGEST_TEXT:
            raise ValueError(f"a text of {len(cleaned)} characters is too long for a cell")
        return cleaned
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"not a number that can be written: {value}")
    if value is None or (isinstance(value, int | float | date) and not isinstance(value, bool | datetime)):
        return value
    raise ValueError(f"not a value that can be written: {value!r}")


def _validation(rule: Rule) -> DataValidation:
    column = rule.column
    common: dict[str, Any] = {"allow_blank": True, "sqref": rule.cells}
    if rule.source is not None:
        style = "stop" if rule.only else "warning"
        made = DataValidation("list", formula1=f"={rule.source}", errorStyle=style, **common)
    elif column.kind == "word":
        made = DataValidation("list", formula1=f'"{",".join(column.words)}"', **common)
    elif column.kind == "date":
        ends = [f"DATE({year},{month},{day})" for year, month, day in ((YEARS[0], 1, 1), (YEARS[1], 12, 31))]
        made = DataValidation("date", operator="between", formula1=ends[0], formula2=ends[1], **common)
    elif column.kind in ("count", "number", "fraction", "percent", "temperature", "difference"):
        low = -100 if column.lowest is None else column.lowest
        high = 1000 if column.highest is None else column.highest
        made = DataValidation(
            "whole" if column.kind == "count" else "decimal", operator="between",
            formula1=f"{low:.10g}", formula2=f"{high:.10g}", **common,
        )  # fmt: skip
    else:
        made = DataValidation(**common)
    made.promptTitle, made.prompt, made.showInputMessage = column.name, rule.help, True
    made.errorTitle, made.error, made.showErrorMessage = column.name, rule.help, made.type is not None
    return made


def _draw_page(pen: Pen, drawn: Any, page: Page) -> None:
    for letter, width in zip("AB", page.widths, strict=True):
        drawn.column_dimensions[letter].width = width
    text = _CELL.but(wrap=True, up="top")
    for number, (left, right) in enumerate(page.rows, start=1):
        size = 18 if number == 1 else 13 if right is None else 11
        look = _CELL.but(bold=True, size=size) if right is None else text.but(bold=True, size=size)
        cell = pen.put(drawn, number, 1, writable(left), look)
        if right is None:
            drawn.row_dimensions[number].height = 30 if number == 1 else 26
            continue
        pen.put(drawn, number, 2, writable(right), text)
        drawn.row_dimensions[number].height = _LINE * _lines(right, page.widths[1] + 8)
        if left in page.links:
            cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{left}'!A1", display=left)
    drawn.sheet_view.showGridLines = False


def _print_setup(drawn: Any, paper: str, sheet: Sheet | Page) -> None:
    wide = isinstance(sheet, Sheet) and sum(column.width for column in sheet.columns) > _TWO_PAGES
    set_paper(drawn, paper, landscape=isinstance(sheet, Sheet), pages_wide=2 if wide else 1)
    drawn.oddFooter.left.text, drawn.oddFooter.right.text = "&A", "&P / &N"
    if isinstance(sheet, Sheet):
        drawn.print_title_rows = "1:1"
        drawn.print_options.gridLines = True
    if wide:
        drawn.print_title_cols = "A:A"
    drawn.page_margins.left = drawn.page_margins.right = drawn.page_margins.top = 0.5


def cell_range(title: str, column: int, last_row: int) -> str:
    """Rows 2 to `last_row` of a column (1-based) of a sheet, as a formula names them."""
    letter = get_column_letter(column)
    return f"'{title}'!${letter}$2:${letter}${last_row}"


def column_letters(count: int) -> Iterable[str]:
    """A, B, C ... for that many columns."""
    return (get_column_letter(i) for i in range(1, count + 1))


# ---------------------------------------------------------------- the example season

# It lies in the package as a folder of .csv files in °C: an invented show in an invented court, of which every name,
# count and date is made up.

# The three days on which the demo looks at its season.
DEMO_AUTUMN = date(2026, 11, 9)  # potting is in full swing
DEMO_WINTER = date(2027, 3, 8)  # the first lots are on the benches, and some are late
DEMO_AFTER = date(2027, 4, 26)  # the show is over
DEMO_LOT = "TM1"  # of which the demo shows how its dates came about


def write_demo(
    folder: Path, unit: TemperatureUnit = "C", progress: Callable[[str], None] = lambda text: None,
    paper: Paper = "A4", measures: Measures = "metric",
) -> Path:  # fmt: skip
    """Write the example season into `folder` as `season.xlsx` and as the folder `season`; gives the workbook.

    In US measures the folder's headers still name litres and cm, which its sheets turn into quarts and inches.
    Raises OutputError where they cannot be written.
    """
    progress(f"writing the example season into {folder}")
    tables = demo_tables(unit, paper, measures)
    write_folder(folder / "season", tables)
    return write_workbook(folder / "season.xlsx", tables)


def demo_tables(
    unit: TemperatureUnit = "C", paper: Paper = "A4", measures: Measures = "metric"
) -> dict[str, list[dict[str, object]]]:
    """The tables of the example season as rows of plain values, temperatures in `unit`, for sheets of that paper."""
    items: dict[str, object] = {"temperature unit": unit, "paper": paper}
    home = files("forcing.season") / "demo_season"
    tables: dict[str, list[dict[str, object]]] = {}
    for table in TABLES:
        file = home / f"{table.name}.csv"
        if file.is_file():
            reader = csv.DictReader(io.StringIO(file.read_text(encoding="utf-8")))
            tables[table.name] = [_demo_row(table, row, unit, items) for row in reader]
    if measures != "metric":
        tables["season"].append({"item": "measures", "value": measures, "note": None})
    return tables


def _demo_row(
    table: Table, row: dict[str, str], unit: TemperatureUnit, items: Mapping[str, object]
) -> dict[str, object]:
    if table.name == "season":
        item = season_item(row["item"])
        assert item is not None, f"the example season has an item that no season has: {row['item']}"
        return {**row, "value": items.get(item.name, _demo_value(item, row["value"], unit))}
    columns = {fold_word(word): column for column in table.columns for word in (column.name, *column.heads)}
    return {name: _demo_value(columns[fold_word(name)], text, unit) for name, text in row.items()}


def _demo_value(column: Column, text: str, unit: TemperatureUnit) -> object:
    if text == "":
        return None
    match column.kind:
        case "date" | "target":
            return date.fromisoformat(text)
        case "temperature":
            return round(from_celsius(float(text), unit), 1)
        case "difference":
            return round(c_to_f_difference(float(text)) if unit == "F" else float(text), 1)
        case "count":
            return int(text)
        case "number" | "fraction" | "percent":
            return float(text)
        case _:
            return text
