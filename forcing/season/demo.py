"""The example season: an invented show in an invented court. Every name, count and date in it is made up.

It lies in the package as a folder of .csv files in °C and is written out as a workbook and as such a folder,
in °C or °F.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from datetime import date
from importlib.resources import files
from pathlib import Path

from forcing.model import Paper
from forcing.season.schema import TABLES, Column, Table, season_item
from forcing.season.starter import write_folder, write_workbook
from forcing.text import fold_word
from forcing.units import Measures, TemperatureUnit, c_to_f_difference, from_celsius

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
            tables[table.name] = [_row(table, row, unit, items) for row in reader]
    if measures != "metric":
        tables["season"].append({"item": "measures", "value": measures, "note": None})
    return tables


def _row(
    table: Table, row: dict[str, str], unit: TemperatureUnit, items: Mapping[str, object]
) -> dict[str, object]:
    if table.name == "season":
        item = season_item(row["item"])
        assert item is not None, f"the example season has an item that no season has: {row['item']}"
        return {**row, "value": items.get(item.name, _value(item, row["value"], unit))}
    columns = {fold_word(word): column for column in table.columns for word in (column.name, *column.heads)}
    return {name: _value(columns[fold_word(name)], text, unit) for name, text in row.items()}


def _value(column: Column, text: str, unit: TemperatureUnit) -> object:
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
