"""The season table: one item a row, each with a kind of its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import cast

from forcing.errors import Finding
from forcing.season.cells import clean, read_cell
from forcing.season.columns import near
from forcing.season.raw import RawSheet, shown
from forcing.season.refusals import Problem
from forcing.season.rows import cell_finding, find_layout, raw_rows, unnamed_values
from forcing.season.tables import SEASON_ITEMS, season_item, table
from forcing.units import TemperatureUnit

_TABLE = table("season")


@dataclass(frozen=True, slots=True)
class Items:
    """Typed values of the season's items that were given, the rows they stand in, and what was wrong."""

    values: Mapping[str, object] = field(default_factory=dict)
    rows: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    @property
    def unit(self) -> TemperatureUnit:
        return cast(TemperatureUnit, self.values.get("temperature unit", "C"))


def read_items(sheet: RawSheet | None) -> Items:
    """The items of the season sheet; missing, doubled and unknown items are findings."""
    if sheet is None:
        return Items(findings=_missing({}, "there is no season table"))
    layout, findings = find_layout(sheet, _TABLE)
    if layout is None or "item" not in layout.at or "value" not in layout.at:
        return Items(findings=(*findings, *(() if findings else _missing({}, "the table is empty"))))
    values: dict[str, object] = {}
    rows: dict[str, int] = {}
    filled = tuple(raw_rows(sheet, layout))
    unit = _unit(raw for _, raw in filled)
    for number, raw in filled:
        findings += _item(number, raw, layout.heads, unit, values, rows)
    findings += unnamed_values(sheet, _TABLE, layout)
    return Items(values, rows, (*findings, *_missing(rows, "it is not stated")))


def _unit(filled: Iterable[Mapping[str, object]]) -> TemperatureUnit:
    """The temperature unit, which may stand below what is measured in it; °C where it is not understood."""
    for raw in filled:
        item = season_item(shown(raw.get("item", "")))
        if item is not None and item.name == "temperature unit" and raw.get("value") is not None:
            return "F" if read_cell(item, raw["value"], "C") == "F" else "C"
    return "C"


def _item(
    number: int, raw: Mapping[str, object], heads: Mapping[str, str], unit: TemperatureUnit,
    values: dict[str, object], rows: dict[str, int],
) -> list[Finding]:  # fmt: skip
    """Reads one row into `values` and `rows`; gives what is wrong with it."""
    value = raw.get("value")
    if "item" not in raw:
        if value is None:
            return []
        problem = Problem("item-missing", "a value without an item", "Write in column item what it is.")
        return [cell_finding(_TABLE, number, heads["value"], problem, value)]
    text = clean(raw["item"]) if isinstance(raw["item"], str) else shown(raw["item"])
    if isinstance(text, Problem):
        return [cell_finding(_TABLE, number, heads["item"], text, raw["item"])]
    item = season_item(text)
    if item is None:
        return [] if value is None else [_unknown(number, heads["item"], text)]
    typed = read_cell(item, value, unit)
    if item.name in rows:
        if typed is None:
            return []
        problem = Problem("item-twice", f"stated before in row {rows[item.name]}", "Keep one of them.")
        return [cell_finding(_TABLE, number, heads["item"], problem, text)]
    if typed is None:
        return []
    rows[item.name] = number
    if isinstance(typed, Problem):
        return [cell_finding(_TABLE, number, heads["value"], typed, value, prefix=f"{item.name}: ")]
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


def _missing(rows: Mapping[str, int], why: str) -> tuple[Finding, ...]:
    return tuple(
        Finding("item-missing", "error", "season", None, item.name, why, f"Write {item.name} in column item and "
                "the answer beside it, such as 2027-03-20.")
        for item in SEASON_ITEMS
        if item.required and item.name not in rows
    )  # fmt: skip
