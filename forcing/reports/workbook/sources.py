"""The sheet `Sources`: every figure the plan rests on, with its unit, basis and source."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from openpyxl.utils import get_column_letter

from forcing.model import PARAMETERS, Figure, Plan, Recipe
from forcing.recipes.book import UNITS, Source, shipped_sources
from forcing.reports.frames import season_order
from forcing.reports.workbook.cells import NONE, NOTE, SECTION, TEXT, Look, Pen, Value, height, lines
from forcing.reports.workbook.table import (
    Column,
    Marked,
    filtered,
    headed,
    set_up_page,
    table_room,
    write_table,
)
from forcing.units import TemperatureUnit, from_celsius

_MEANING = {
    "cold_min": "least cold: below it a lot is refused",
    "cold_target": "cold to plan on",
    "cold_max": "most cold: above it stems grow tall and weak",
    "cold_curve": "which days of cold count how much",
    "rooting": "time to root",
    "rooting_at": "temperature for rooting",
    "cooled_at": "temperature once rooted",
    "kept_at": "temperature once shoots show in the cooler",
    "sprouting": "cold until shoots are about 2.5 cm",
    "precooled_max": "most cold that counts from before the bulbs came",
    "base": "bench heat counts above this",
    "cap": "bench heat counts up to this",
    "reference": "bench temperature the days below are for",
    "bench_days": "bring in to bloom at that temperature",
    "bench_days_min": "least days from bring in to bloom",
    "days_saved": "bench days saved by a week more of cold",
    "shoots": "shoots up, share of the way to bloom",
    "bud": "bud seen, share of the way to bloom",
    "colour": "colour seen, share of the way to bloom",
    "bench_low": "coldest safe bench",
    "bench_high": "warmest safe bench",
    "hold": "temperature of a cold hold",
    "hold_max": "longest cold hold",
    "display_reference": "display temperature the days below are for",
    "display_days": "bloom to fade at that temperature",
    "frost": "coldest it stands, hardened, uncovered",
    "spread": "how much pots and seasons differ",
    "bulbs_per_pot": "bulbs in a pot",
    "pot": "width of the pot",
}
_UNSOURCED = "not recorded"
_CITED = re.compile(r"\[([a-z0-9_]+)\]")

_NUMBER = TEXT.but(align="right")  # as many decimals as the figure has
_COLUMNS = (
    Column("Crop", TEXT.but(bold=True), most=90),
    Column("Class"),
    Column("Cultivar", most=90),
    Column("Figure", most=90),
    Column("Meaning", most=150),
    Column("Low", _NUMBER),
    Column("Used", _NUMBER.but(bold=True)),
    Column("High", _NUMBER),
    Column("Unit", most=80),
    Column("Basis"),
    Column("Source", most=120),
    Column("Where in it, or how derived", most=230),
)


def write_sources(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Sources`: figures of every crop used, crops in season order, each figure once."""
    headed(
        pen, sheet, "Sources",
        "Published: in print. Derived: worked out from print. Practice: common practice, no source. "
        "House: this house's own figure.",
    )  # fmt: skip
    figures = tuple(_figures(plan))
    rows = [_cells(figure, plan.season.unit) for figure in figures]
    after = write_table(pen, sheet, 3, _COLUMNS, rows, table_room(plan.season.paper))
    if rows:
        filtered(sheet, 3, len(_COLUMNS), after)
    else:
        pen.put(sheet, after, 1, "No lot is planned, so no figures were used.", NOTE)
    _works(pen, sheet, figures, after + 1)
    sheet.freeze_panes = "A4"
    sheet.print_title_rows = "1:3"
    set_up_page(sheet, plan.season.paper, plan.season.title)


def _figures(plan: Plan) -> Iterator[Figure]:
    """Figures by crop, then parameter, the wider reach first; of every crop, each once."""
    found: dict[Figure, int] = {}
    crops: dict[str, int] = {}
    for planned in season_order(plan):
        crops.setdefault(planned.recipe.crop, len(crops))
        for figure in _of(planned.recipe):
            found.setdefault(figure, len(found))
    rank = {name: i for i, name in enumerate(PARAMETERS)}
    yield from sorted(
        found,
        key=lambda f: (
            crops.get(f.crop, len(crops)),
            rank.get(f.parameter, len(rank)),
            f.bloom_class is not None,
            f.cultivar is not None,
            found[f],
        ),
    )


def _of(recipe: Recipe) -> Iterator[Figure]:
    """The figures of a recipe in force; a value that came without its figure says so."""
    for name in PARAMETERS:
        figure = recipe.figures.get(name)
        # The crop of a figure is the one it is written under, which every lot of that crop shares.
        yield replace(figure, crop=recipe.crop) if figure else Figure(
            recipe.crop, name, getattr(recipe, name), UNITS[name], "practice", _UNSOURCED, "",
            recipe.bloom_class, recipe.cultivar,
        )  # fmt: skip


def _works(pen: Pen, sheet: Any, figures: Sequence[Figure], row: int) -> None:
    """The works behind the keys, each once: those the figures name, and those their notes name in brackets."""
    known = shipped_sources()
    keys = [key for figure in figures for key in (figure.source, *_CITED.findall(figure.locator))]
    named = sorted({key for key in keys if key in known})
    if not named:
        return
    pen.put(sheet, row, 1, "Works", SECTION)
    sheet.row_dimensions[row].height = height(1, SECTION.size) + 3
    room = sum(sheet.column_dimensions[get_column_letter(c)].width for c in range(4, len(_COLUMNS) + 1))
    for i, key in enumerate(named, row + 1):
        text = _work(known[key])
        pen.put(sheet, i, 1, key, Look(bold=True))
        pen.put(sheet, i, 4, text, Look(wrap=True))
        sheet.merge_cells(start_row=i, end_row=i, start_column=4, end_column=len(_COLUMNS))
        sheet.row_dimensions[i].height = height(lines(text, room))


def _work(source: Source) -> str:
    parts = (source.author, "" if source.year is None else str(source.year), source.title, source.where)
    work = " ".join(f"{part.rstrip('.')}." for part in parts if part)
    return f"{work} Confidence: {source.confidence}."


def _cells(figure: Figure, unit: TemperatureUnit) -> tuple[Value | Marked, ...]:
    known = figure.source != _UNSOURCED
    return (
        figure.crop,
        figure.bloom_class or "",
        figure.cultivar or "",
        figure.parameter,
        _MEANING.get(figure.parameter, ""),
        _value(figure.low, figure, unit),
        _value(figure.typical, figure, unit),
        _value(figure.high, figure, unit),
        f"°{unit}" if figure.unit == "°C" else figure.unit,
        figure.basis if known else Marked(_UNSOURCED, NONE),
        figure.source if known else Marked(_UNSOURCED, NONE),
        figure.locator,
    )


def _value(value: float | str | None, figure: Figure, unit: TemperatureUnit) -> float | str | None:
    if isinstance(value, (int, float)) and figure.unit == "°C":
        return round(from_celsius(value, unit), 2)
    return value
