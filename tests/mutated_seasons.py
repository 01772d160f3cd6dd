"""Seasons as people really leave them: small ones drawn at random, each with a few slips of the hand or of the machine.

A season is a mapping of table name -> rows of cells, the header first, as it would stand in .csv files.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from openpyxl import Workbook

Tables = dict[str, list[list[str]]]
Slip = Callable[[random.Random, Tables], str]

CROPS = (
    "tulip",
    "hyacinth",
    "narcissus",
    "crocus",
    "muscari",
    "miniature narcissus",
    "amaryllis",
    "easter lily",
)
EVENTS = (
    "potted",
    "cooler in",
    "rooted",
    "brought in",
    "shoots",
    "bud",
    "colour",
    "bloom",
    "held",
    "set out",
    "faded",
)
WEEKS = ("Mon-Fri", "Mon-Sun", "Tue-Sat")
# What a cell may come to hold: nothing, another kind, a number off by a digit, an error of a spreadsheet, a paste.
ODD = (
    "", " ", "-", "?", "0", "-1", "1", "1.5", "10000", "1e308", "-1e308", "nan", "inf", "1e-308", "1,200", "1.200",
    "12 %", "6 in", "9 °C", "48F", "true", "TRUE", "yes", "no", "None", "#REF!", "#DIV/0!", "=1+1", "=A1", "@x", "+3",
    "2026-02-30", "2027-02-29", "31/12/2026", "12/31/2026", "1/2/2027", "2126-11-02", "1926-11-02", "0001-01-01",
    "9999-12-31", "45999", "2026-W45", "Mon", "Mon-Fri", "Sun-Sat", "2026-12-24 to 2037-01-01", "GB", "XX", "early",
    "tulip", "Tulipa", "cooler", "bench", "a, b", "'", '"', "x" * 3000, "Ωμέγα", "雪", "‮abc", "a\x00b", "a\nb", "💐",
    "../x", "C:\\x", "NUL", "<b>&amp;", "{{ x }}", "T1", "Cold", "Bench", "Court",
)  # fmt: skip


def drawn(rng: random.Random) -> Tables:
    """A small season that can be planned: one to five lots, a display or targets, sometimes a log and readings."""
    opens = date(2027, 3, 6) + timedelta(days=rng.randrange(40))
    closes = opens + timedelta(days=rng.randrange(7, 40))
    fahrenheit = rng.random() < 0.3
    degrees = (lambda c: f"{c * 1.8 + 32:g}") if fahrenheit else (lambda c: f"{c:g}")
    cold = [["", ""], [degrees(5)] * 2, [degrees(9)] * 2]
    months = list(enumerate((-2, -2, 1, 4, 8, 11, 13, 13, 10, 6, 2, -1), start=1))
    tables: Tables = {
        "season": [
            ["item", "value"], ["title", "A show"], ["opens", str(opens)], ["closes", str(closes)],
            ["temperature unit", "F" if fahrenheit else "C"], ["working days", rng.choice(WEEKS)],
        ],
        "places": [
            ["place", "kind", "pots", "day", "night"],
            ["Cold", "cooler", str(rng.randrange(60, 300)), *rng.choice(cold)],
            ["Bench", "bench", str(rng.randrange(60, 300)), degrees(18), degrees(14)],
            ["Bench 2", "bench", str(rng.randrange(30, 100)), degrees(15), degrees(12)],
            ["Court", "site", "", "", ""],
        ],
        "normals": [
            ["place", "month", "low", "high"],
            *(["Court", str(m), degrees(low), degrees(low + 8)] for m, low in months),
        ],
        "lots": [["lot", "crop", "class", "cultivar", "pots", "target bloom", "cooler", "bench", "display"]],
    }  # fmt: skip
    names = [f"T{i + 1}" for i in range(rng.randrange(1, 6))]
    shown = rng.random() < 0.5
    for name in names:
        crop = rng.choice(CROPS)
        target = str(opens + timedelta(days=rng.randrange(0, 14))) if not shown or rng.random() < 0.5 else ""
        named = rng.random() < 0.5
        kind = rng.choice(["early", "mid", "late"]) if crop == "tulip" else ""
        tables["lots"].append([
            name, crop, kind, rng.choice(["", "Tin Whistle"]), str(rng.randrange(5, 60)), target,
            "Cold" if named else "", "Bench" if named else "", "Troughs" if shown else "",
        ])  # fmt: skip
    if shown:
        tables["displays"] = [["display", "containers", "site", "litres"], ["Troughs", "12", "Court", "40"]]
        tables["plantings"] = [
            ["display", "lot or companion", "pots per container"],
            *(["Troughs", n, "2"] for n in names),
        ]
    if rng.random() < 0.4:
        day = opens - timedelta(days=140)
        tables["log"] = [["date", "lot", "event", "place", "pots", "note"]]
        for name in names:
            for n, event in enumerate(EVENTS[: rng.randrange(1, len(EVENTS))]):
                place = {"cooler in": "Cold", "brought in": "Bench", "set out": "Court"}.get(event, "")
                tables["log"].append(
                    [str(day + timedelta(days=n * rng.randrange(5, 20))), name, event, place, "", ""]
                )
    if rng.random() < 0.4:
        day = opens - timedelta(days=rng.randrange(20, 100))
        tables["readings"] = [["place", "date", "low", "high", "mean", "kind"]]
        for n in range(rng.randrange(1, 20)):
            low = rng.uniform(2, 14)
            ends = [degrees(round(low, 1)), degrees(round(low + 4, 1))]
            tables["readings"].append(
                [rng.choice(["Cold", "Bench"]), str(day + timedelta(days=n)), *ends, "", ""]
            )
    if rng.random() < 0.3:
        tables["companions"] = [
            ["companion", "crop", "pots", "ready", "place"],
            ["Violas", "viola", "20", "", "Bench"],
        ]
    if rng.random() < 0.3:
        tables["crops"] = [
            ["crop", "class", "cultivar", "parameter", "typical"],
            ["tulip", "", "", "spread", "0.1"],
        ]
    if rng.random() < 0.3:
        tables["jobs"] = [
            ["job", "step", "days before", "duration days", "hours"],
            ["Signs", "paint", "30", "2", "4"],
        ]
    return tables


# ---------------------------------------------------------------- slips


def _place(rng: random.Random, tables: Tables) -> tuple[str, int, int]:
    name = rng.choice(sorted(tables))
    rows = tables[name] or [[""]]
    tables[name] = rows
    row = rng.randrange(1, len(rows)) if len(rows) > 1 else 0
    rows[row] = rows[row] or [""]
    return name, row, rng.randrange(len(rows[row]))


def odd_cell(rng: random.Random, tables: Tables) -> str:
    name, row, column = _place(rng, tables)
    tables[name][row][column] = rng.choice(ODD)
    return f"{name} {row} {column} <- {tables[name][row][column][:20]!r}"


def scaled(rng: random.Random, tables: Tables) -> str:
    """A number ten times too large, negative, or beyond a hundred."""
    name, row, column = _place(rng, tables)
    try:
        number = float(tables[name][row][column])
    except ValueError:
        return odd_cell(rng, tables)
    tables[name][row][column] = (
        f"{rng.choice([number * 10, -number, number + 100, number / 10, number * 1000]):g}"
    )
    return f"{name} {row} {column} <- {tables[name][row][column]}"


def shifted_year(rng: random.Random, tables: Tables) -> str:
    """Every date of a table, or one, some years off: last year's copy."""
    name, by, one = rng.choice(sorted(tables)), rng.choice([-1, 1, -10, 100, -100]), rng.random() < 0.5
    for row in tables[name][1:]:
        for column, cell in enumerate(row):
            if len(cell) == 10 and cell[4:5] == "-" and cell[:4].isdigit():
                row[column] = f"{int(cell[:4]) + by:04d}{cell[4:]}"
        if one:
            break
    return f"{name} {by} years"


def moved_day(rng: random.Random, tables: Tables) -> str:
    """One date some days, weeks or months off: a slip of one digit."""
    days = [
        (cells, column)
        for rows in tables.values()
        for cells in rows[1:]
        for column, cell in enumerate(cells)
        if len(cell) == 10 and cell[:2] == "20" and cell[4:5] == "-"
    ]
    if not days:
        return odd_cell(rng, tables)
    cells, column = rng.choice(days)
    try:
        moved = date.fromisoformat(cells[column]) + timedelta(
            days=rng.choice([-200, -90, -30, -7, -1, 1, 7, 30, 90, 200])
        )
    except ValueError:
        return odd_cell(rng, tables)
    cells[column] = str(moved)
    return f"{cells} {column} moved"


def exchanged(rng: random.Random, tables: Tables) -> str:
    """A cell holds what another row of its column holds."""
    name, row, column = _place(rng, tables)
    other = tables[name][rng.randrange(len(tables[name]))]
    if row == 0 or column >= len(other):
        return moved_day(rng, tables)
    tables[name][row][column] = other[column]
    return f"{name} {row} {column} <- {other[column]!r}"


def swapped(rng: random.Random, tables: Tables) -> str:
    """Two cells of a row changed places: low and high, from and to."""
    name, row, column = _place(rng, tables)
    cells = tables[name][row]
    other = rng.randrange(len(cells))
    cells[column], cells[other] = cells[other], cells[column]
    return f"{name} {row} swapped {column} {other}"


def doubled(rng: random.Random, tables: Tables) -> str:
    name, row, _ = _place(rng, tables)
    tables[name].insert(row, list(tables[name][row]))
    return f"{name} {row} twice"


def lost(rng: random.Random, tables: Tables) -> str:
    """A row, a column or a table that is gone."""
    name, row, column = _place(rng, tables)
    kind = rng.choice(["row", "column", "table", "header", "rows"])
    if kind == "row":
        del tables[name][row]
    elif kind == "column":
        for cells in tables[name]:
            del cells[column : column + 1]
    elif kind == "table":
        del tables[name]
    elif kind == "rows":
        del tables[name][1:]
    else:
        del tables[name][0]
    return f"{name} lost a {kind}"


def ragged(rng: random.Random, tables: Tables) -> str:
    name, row, _ = _place(rng, tables)
    cells = tables[name][row]
    if rng.random() < 0.5:
        cells += [rng.choice(ODD) for _ in range(rng.randrange(1, 4))]
    else:
        del cells[rng.randrange(len(cells)) :]
    return f"{name} {row} ragged"


def own_figure(rng: random.Random, tables: Tables) -> str:
    """A row of the house's own figures that cannot be right."""
    parameter = rng.choice([
        "base", "cap", "reference", "bench_days", "bench_days_min", "days_saved", "shoots", "bud", "colour", "spread",
        "cold_min", "cold_target", "cold_max", "cold_curve", "rooting", "rooting_at", "hold", "hold_max", "frost",
        "display_reference", "display_days", "bulbs_per_pot", "pot", "bench_low", "bench_high", "cool_below",
        "nonsense",
    ])  # fmt: skip
    value = rng.choice(
        ["40", "17", "0", "-5", "1", "1e308", "1e-9", "700", "0.5", "15.999", "", "tulip", "nan"]
    )
    rows = tables.setdefault("crops", [["crop", "class", "cultivar", "parameter", "typical"]])
    rows.append([rng.choice([*CROPS, "viola"]), "", "", parameter, value])
    return f"crops {parameter} {value}"


def holidays(rng: random.Random, tables: Tables) -> str:
    value = rng.choice(
        ["2026-12-24 to 2037-01-01", "2027-01-01 to 2026-01-01", "GB", "ZZ", "2026-12-25; nonsense", "US; DE"]
    )
    tables.setdefault("season", [["item", "value"]]).append(["holidays", value])
    return f"holidays {value}"


def item(rng: random.Random, tables: Tables) -> str:
    """An item of the season with a value that is another's."""
    name = rng.choice(["confidence", "hours per week", "loss %", "bulbs in hand", "wanted cover", "closes", "opens",
                       "working days", "measures", "date order", "last frost", "nonsense",
                       "temperature unit"])  # fmt: skip
    value = rng.choice(ODD)
    tables.setdefault("season", [["item", "value"]]).append([name, value])
    return f"item {name} {value[:20]!r}"


SLIPS: tuple[Slip, ...] = (
    odd_cell, odd_cell, scaled, scaled, scaled, shifted_year, shifted_year, moved_day, moved_day, moved_day, exchanged,
    exchanged, swapped, doubled, lost, ragged, own_figure, own_figure, holidays, item,
)  # fmt: skip


def mutated(seed: int) -> tuple[Tables, list[str]]:
    """A season with one to three slips, and what they are."""
    rng = random.Random(seed)
    tables = drawn(rng)
    slips = []
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        if tables:
            slips.append(rng.choice(SLIPS)(rng, tables))
    return tables, slips


# ---------------------------------------------------------------- files


def write_folder(folder: Path, tables: Tables, rng: random.Random) -> Path:
    """The tables as .csv files, now and then in another encoding, with a byte order mark, or cut off."""
    folder.mkdir(parents=True, exist_ok=True)
    encoding = rng.choice(["utf-8"] * 36 + ["utf-8-sig", "utf-8-sig", "utf-16", "latin-1"])
    for name, rows in tables.items():
        out = io.StringIO()
        csv.writer(out, delimiter=rng.choice(",,,,,,,,;\t"), lineterminator="\r\n").writerows(rows)
        data = out.getvalue().encode(encoding, "replace")
        if rng.random() < 0.01:
            data = data[: rng.randrange(len(data) + 1)]
        (folder / f"{name}.csv").write_bytes(data)
    return folder


def write_workbook(path: Path, tables: Tables, rng: random.Random) -> Path:
    """The tables as a workbook, numbers as numbers; now and then with a stray cell far out, or cut off."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for r, row in enumerate(rows, start=1):
            for c, cell in enumerate(row, start=1):
                value = _typed(cell)
                if value is not None:
                    sheet.cell(r, c).value = value
        if rng.random() < 0.03:
            sheet.cell(1_048_576, 16_384).value = "x"
    if not book.worksheets:
        book.create_sheet("empty")
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)
    if rng.random() < 0.02:
        data = path.read_bytes()
        path.write_bytes(data[: rng.randrange(len(data))])
    return path


def _typed(cell: str) -> object:
    cell = "".join(char for char in cell if char in "\n\t" or char >= " ")
    if not cell:
        return None
    try:
        number = float(cell)
    except ValueError:
        pass
    else:
        return number if abs(number) < 1e300 else cell
    try:
        day = date.fromisoformat(cell)
    except ValueError:
        return cell
    return day if day.year >= 1900 else cell
