"""A sheet with its header found and its cells typed: rows that know where a person sees them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from forcing.errors import Finding, Severity
from forcing.season.cells import RawSheet, clean, read_cell, shown
from forcing.season.hints import CellProblem
from forcing.season.notation import Notation, as_headed
from forcing.season.schema import (
    SEASON_ITEMS,
    Column,
    Table,
    is_fraction,
    is_named,
    is_temperature,
    near,
    parameter_unit,
    season_item,
)
from forcing.season.schema import table as table_named
from forcing.text import fold_word, listed, some
from forcing.units import POT_INCH, Measures

HEADER_SEARCH = 20  # rows that are looked through for a header that is not in row 1
MANY = 10  # findings of one column that are alike: beyond them a person does not read on


@dataclass(frozen=True, slots=True)
class Row:
    """A row of typed cells. `bad` names the columns that were not understood and already reported."""

    table: Table
    number: int  # as a person sees it: the header is row 1
    cells: Mapping[str, object]
    heads: Mapping[str, str]  # column name -> header as the person wrote it
    bad: frozenset[str] = frozenset()

    def text(self, column: str) -> str | None:
        """The text of a cell, None where it is empty or was not understood."""
        value = self.cells.get(column)
        return value if isinstance(value, str) else None

    def day(self, column: str) -> date | None:
        """The date of a cell, None where it is empty or was not understood."""
        value = self.cells.get(column)
        return value if isinstance(value, date) else None

    def number_of(self, column: str) -> float | None:
        """The number of a cell, None where it is empty or was not understood."""
        value = self.cells.get(column)
        return float(value) if isinstance(value, int | float) else None

    def count(self, column: str) -> int | None:
        """The whole number of a cell, None where it is empty or was not understood."""
        value = self.cells.get(column)
        return value if isinstance(value, int) else None

    def finding(
        self, code: str, column: str | None, message: str, hint: str, severity: Severity = "error"
    ) -> Finding:
        """A finding about one cell of this row, or the whole row."""
        value = self.cells.get(column) if column else None
        header = self.heads.get(column, column) if column else None
        return Finding(
            code, severity, self.table.name, self.number, header, message, hint,
            None if value is None else shown(value),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """Where the columns of a table stand in a sheet: column name -> index, and its header as written."""

    at: Mapping[str, int] = field(default_factory=dict)
    heads: Mapping[str, str] = field(default_factory=dict)
    unnamed: tuple[int, ...] = ()  # indices without a header


def is_blank(raw: object) -> bool:
    """Whether a raw cell holds nothing that a person would see."""
    if isinstance(raw, str):
        return not raw[:1].isalnum() and clean(raw) == ""  # the first test only saves time
    return raw is None


def _header_text(raw: object) -> str:
    text = clean(raw) if isinstance(raw, str) else shown(raw)
    return shown(raw) if isinstance(text, CellProblem) else text


def _known(table: Table) -> dict[str, str]:
    return {fold_word(word): column.name for column in table.columns for word in (column.name, *column.heads)}


def below_heading(sheet: RawSheet, known: Collection[str], needed: int = 2) -> RawSheet:
    """The sheet from its header on: the first of its rows with as many `known` headers as needed; else as it is."""
    if not sheet.rows or _heads_in(sheet.rows[0], known) >= needed:
        return sheet
    for index, row in enumerate(sheet.rows[:HEADER_SEARCH]):
        if _heads_in(row, known) >= needed:
            return replace(sheet, rows=sheet.rows[index:], first=sheet.first + index)
    return sheet


def _heads_in(row: Sequence[object], known: Collection[str]) -> int:
    return sum(not is_blank(raw) and fold_word(_header_text(raw)) in known for raw in row)


def find_layout(sheet: RawSheet, table: Table) -> tuple[SheetLayout | None, list[Finding]]:
    """Where the columns of `table` are, or None where the first row is not its header; and what is wrong there."""
    if not sheet.rows or all(is_blank(raw) for row in sheet.rows for raw in row):
        return None, []
    known = _known(table)
    header = ["" if is_blank(raw) else _header_text(raw) for raw in sheet.rows[0]]
    if not any(fold_word(text) in known for text in header):
        return None, [_no_header(sheet, table)]
    at: dict[str, int] = {}
    heads: dict[str, str] = {}
    unknown: list[str] = []
    findings: list[Finding] = []
    for index, text in enumerate(header):
        name = known.get(fold_word(text))
        if name is None:
            unknown += [text] if text else []
        elif name in at:
            message = f"a second column {name}" + ("" if text == heads[name] else f", after {heads[name]}")
            hint = "Keep one of them."
            findings.append(Finding("column-twice", "error", table.name, sheet.first, text, message, hint))
        else:
            at[name], heads[name] = index, text
    if sheet.first > 1:
        findings.append(_above(sheet, table))
    width = max(len(row) for row in sheet.rows)
    unnamed = tuple(i for i in range(width) if i >= len(header) or not header[i])
    findings += _unknown_columns(sheet, table, unknown, at)
    findings += _missing_columns(sheet, table, at)
    return SheetLayout(at, heads, unnamed), findings


def _no_header(sheet: RawSheet, table: Table) -> Finding:
    first = ", ".join(column.name for column in table.columns if column.required)
    seen = ", ".join(_header_text(raw) for raw in sheet.rows[0] if not is_blank(raw)) or None
    hint = f"Write the headers in row 1; there must be at least: {first}."
    message = "row 1 holds none of the headers of this table"
    return Finding(
        "header-missing", "error", table.name, 1, None, message, hint, shown(seen) if seen else None
    )


def _above(sheet: RawSheet, table: Table) -> Finding:
    message = f"the header is in row {sheet.first}; what stands above it is not read"
    hint = "Nothing, if it is a heading for people."
    return Finding("header-not-first", "note", table.name, sheet.first, None, message, hint)


def _unknown_columns(
    sheet: RawSheet, table: Table, unknown: list[str], at: Mapping[str, int]
) -> Iterator[Finding]:
    free = [column.name for column in table.columns if column.name not in at]
    for text in unknown:
        match = near(text, free)
        if match:
            hint = f"Did you mean {match}? Correct the header, or delete the column."
            yield Finding(
                "column-unknown",
                "warning",
                table.name,
                sheet.first,
                text,
                "an unknown column, not read",
                hint,
            )
        else:
            hint = "Nothing, if the column is for people."
            yield Finding(
                "column-unknown", "note", table.name, sheet.first, text, "an unknown column, not read", hint
            )


def _missing_columns(sheet: RawSheet, table: Table, at: Mapping[str, int]) -> Iterator[Finding]:
    if all(is_blank(raw) for row in sheet.rows[1:] for raw in row):
        return
    for column in table.columns:
        if column.required and column.name not in at:
            hint = f"Add the header {column.name} to row {sheet.first} and fill the column."
            yield Finding(
                "column-missing", "error", table.name, sheet.first, column.name, "the column is missing", hint
            )


def read_rows(sheet: RawSheet, table: Table, how: Notation) -> tuple[list[Row] | None, list[Finding]]:
    """All filled rows of a sheet, typed, and every finding about its header and cells; None where it has no header.

    Rows in which no known column is filled are skipped. Cells that were not understood are left out of
    their row and named in its `bad`.
    """
    sheet = below_heading(sheet, _known(table))
    layout, findings = find_layout(sheet, table)
    if layout is None:
        return (None if findings else []), findings
    rows = []
    wrong: list[Finding] = []
    shifted = _beyond(sheet, layout) if sheet.delimited else {}
    for number, raw in raw_rows(sheet, layout):
        row, faults = _typed(table, layout, number, raw, how)
        if number in shifted:  # a delimiter too many: its cells may stand under other headers
            row, faults = replace(row, bad=row.bad | {column.name for column in table.columns}), []
        rows.append(row)
        wrong += faults
    return rows, [*findings, *_folded(wrong), *unnamed_values(sheet, table, layout)]


def _folded(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Findings; of more than MANY in one column that are alike, the first alone, which names the other rows."""
    alike: dict[tuple[str, str | None, str], list[Finding]] = {}
    for finding in findings:
        alike.setdefault((finding.code, finding.column, finding.message), []).append(finding)
    for group in alike.values():
        if len(group) <= MANY:
            yield from group
        else:
            numbers = [finding.row for finding in group[1:]]
            yield replace(group[0], message=group[0].message + and_rows(numbers))


def raw_rows(sheet: RawSheet, layout: SheetLayout) -> Iterator[tuple[int, dict[str, object]]]:
    """Row number and raw cells by column name, of the rows where a known column is filled."""
    for number, raw in enumerate(sheet.rows[1:], start=sheet.first + 1):
        cells = {name: raw[i] for name, i in layout.at.items() if i < len(raw) and not is_blank(raw[i])}
        if cells:
            yield number, cells


def _typed(
    table: Table, layout: SheetLayout, number: int, raw: Mapping[str, object], how: Notation
) -> tuple[Row, list[Finding]]:
    cells: dict[str, object] = {}
    bad: set[str] = set()
    findings: list[Finding] = []
    for column in table.columns:
        if column.name not in layout.at:
            if column.required:
                bad.add(column.name)  # reported once, at the header
            continue
        actual, factor = _actual(column, layout.heads[column.name], cells, how.measures)
        value = read_cell(actual, raw.get(column.name), how) if actual else None
        if isinstance(value, float):
            value *= factor
        elif isinstance(value, tuple) and column.kind == "box":
            value = tuple(side * factor for side in value)
        if value is None and column.required and actual:
            value = CellProblem("cell-empty", "the cell is empty", f"{column.help} It must be filled.")
        if isinstance(value, CellProblem):
            bad.add(column.name)
            findings.append(
                cell_finding(table, number, layout.heads[column.name], value, raw.get(column.name))
            )
        elif value is not None:
            cells[column.name] = value
    return Row(table, number, cells, layout.heads, frozenset(bad)), findings


def _actual(
    column: Column, header: str, cells: Mapping[str, object], measures: Measures
) -> tuple[Column | None, float]:
    """The column in the unit of its header, or of the parameter beside it, and how many of its own unit that is.

    None: no known parameter.
    """
    if column.kind != "figure":
        return as_headed(column, header, measures)
    parameter = cells.get("parameter")
    if not isinstance(parameter, str):
        return None, 1.0
    if is_temperature(parameter):
        return replace(column, kind="temperature"), 1.0
    if is_named(parameter):
        return (replace(column, kind="name") if column.name == "typical" else None), 1.0
    unit = parameter_unit(parameter, measures)
    column = replace(column, kind="fraction" if is_fraction(parameter) else "number", unit=unit)
    return column, POT_INCH if unit == "in" else 1.0


def cell_finding(
    table: Table, number: int, header: str, problem: CellProblem, raw: object, prefix: str = ""
) -> Finding:
    """The finding of a cell that was not understood."""
    value = None if is_blank(raw) else shown(raw)
    message = prefix + problem.message
    return Finding(problem.code, "error", table.name, number, header, message, problem.hint, value)


def _beyond(sheet: RawSheet, layout: SheetLayout) -> dict[int, int]:
    """Row number -> index of its first value that stands under no header, of the rows that have one."""
    found: dict[int, int] = {}
    for number, row in enumerate(sheet.rows[1:], start=sheet.first + 1):
        for index in layout.unnamed:
            if index < len(row) and not is_blank(row[index]):
                found[number] = index
                break
    return found


def unnamed_values(sheet: RawSheet, table: Table, layout: SheetLayout) -> list[Finding]:
    """One finding for each column without a header that holds something; it names the rows."""
    rows: dict[int, list[int]] = {}
    for number, index in _beyond(sheet, layout).items():
        rows.setdefault(index, []).append(number)
    hint = f"Name the column in row {sheet.first}, or move the value."
    if sheet.delimited:
        hint = (
            "Put text that holds a comma between double quotes, write numbers without a comma, or name the column "
            f"in row {sheet.first}."
        )
    return [
        Finding(
            "column-unnamed", "error" if sheet.delimited else "warning", table.name, first, None,
            f"a value in column {index + 1}, which has no header, is not read{and_rows(more)}", hint,
            shown(sheet.rows[first - sheet.first][index]),
        )
        for index, (first, *more) in rows.items()
    ]  # fmt: skip


# ---------------------------------------------------------------- the table of items

_SEASON = table_named("season")
_HOW = {
    "temperature unit": "unit",
    "date order": "date_order",
    "number style": "number_style",
    "measures": "measures",
}  # field of Notation


@dataclass(frozen=True, slots=True)
class Items:
    """Typed values of the season's items that were given, the rows they stand in, and what was wrong."""

    values: Mapping[str, object] = field(default_factory=dict)
    rows: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    how: Notation = field(default_factory=Notation)
    unstated: str | None = "it is not stated"  # why an item may be missing; None: told already


def read_items(sheet: RawSheet | None) -> Items:
    """The items of the season sheet; doubled and unknown items are findings."""
    if sheet is None:
        return Items(unstated="there is no season table")
    sheet = below_heading(sheet, _known(_SEASON))
    layout, findings = find_layout(sheet, _SEASON)
    if layout is None or "item" not in layout.at or "value" not in layout.at:
        return Items(findings=tuple(findings), unstated=None if findings else "the table is empty")
    values: dict[str, object] = {}
    rows: dict[str, int] = {}
    filled = tuple(raw_rows(sheet, layout))
    how = _notation(raw for _, raw in filled)
    for number, raw in filled:
        findings += _item(number, raw, layout.heads, how, values, rows)
    findings += unnamed_values(sheet, _SEASON, layout)
    return Items(values, rows, tuple(findings), how)


def _notation(filled: Iterable[Mapping[str, object]]) -> Notation:
    """How the season is written, which may stand below what is so written; the default of what is not understood."""
    stated: dict[str, Any] = {}
    for raw in filled:
        item = season_item(shown(raw.get("item", "")))
        if item is not None and item.name in _HOW:
            value = read_cell(item, raw.get("value"), Notation())
            if isinstance(value, str):
                stated.setdefault(_HOW[item.name], value)
    return Notation(**stated)


def _item(
    number: int, raw: Mapping[str, object], heads: Mapping[str, str], how: Notation,
    values: dict[str, object], rows: dict[str, int],
) -> list[Finding]:  # fmt: skip
    """Reads one row into `values` and `rows`; gives what is wrong with it."""
    value = raw.get("value")
    if "item" not in raw:
        if value is None:
            return []
        problem = CellProblem("item-missing", "a value without an item", "Write in column item what it is.")
        return [cell_finding(_SEASON, number, heads["value"], problem, value)]
    text = clean(raw["item"]) if isinstance(raw["item"], str) else shown(raw["item"])
    if isinstance(text, CellProblem):
        return [cell_finding(_SEASON, number, heads["item"], text, raw["item"])]
    item = season_item(text)
    if item is None:
        return [] if value is None else [_unknown(number, heads["item"], text)]
    typed = read_cell(item, value, how)
    if item.name in rows:
        if typed is None:
            return []
        problem = CellProblem("item-twice", f"stated before in row {rows[item.name]}", "Keep one of them.")
        return [cell_finding(_SEASON, number, heads["item"], problem, text)]
    if typed is None:
        return []
    rows[item.name] = number
    if isinstance(typed, CellProblem):
        return [cell_finding(_SEASON, number, heads["value"], typed, value, prefix=f"{item.name}: ")]
    values[item.name] = typed
    return []


def _unknown(number: int, header: str, text: str) -> Finding:
    match = near(text, [item.name for item in SEASON_ITEMS])
    hint = f"Did you mean {match}? Correct it." if match else "Items are: " + ", ".join(
        item.name for item in SEASON_ITEMS
    ) + "."  # fmt: skip
    return Finding(
        "item-unknown", "warning", "season", number, header, "an unknown item, not read", hint, shown(text)
    )


# ---------------------------------------------------------------- words


def and_rows(numbers: Sequence[int | None]) -> str:
    """Words for the further rows of which a finding holds too; nothing where there are none."""
    if not numbers:
        return ""
    return f", and so in {'row' if len(numbers) == 1 else 'rows'} {listed([str(n) for n in numbers], 5)}"


def and_more(count: int, noun: str = "row") -> str:
    """Words for so many further rows of which a finding holds too; nothing where there are none."""
    return f", and so in {some(count, f'more {noun}')}" if count else ""
