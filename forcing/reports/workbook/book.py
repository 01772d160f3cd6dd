"""The season plan workbook: everything a person needs of a Plan, in the order they need it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from forcing.engine.show.show import SeasonExtras
from forcing.engine.why import Leeway
from forcing.model import Plan
from forcing.reports.workbook import lists
from forcing.reports.workbook.calendars import write_calendar
from forcing.reports.workbook.cells import Pen
from forcing.reports.workbook.front import hours_chart, write_front
from forcing.reports.workbook.orders import write_order_sheets, write_orders
from forcing.reports.workbook.show import write_bloom_cover, write_companions, write_frost_nights
from forcing.reports.workbook.table import to_print
from forcing.xlsx import write_xlsx

Write = Callable[[Pen, Any, Plan], None]
# Looked up on a screen, and what is read on paper
_ON_SCREEN = {
    "Bloom cover": "On paper: cover.pdf.",
    "Tasks": "On paper: the task sheet of each week.",
    "Frost nights": "On paper: the frost call on the task sheet of each week.",
    "Sources": "It is not printed.",
}


def sheets_of(
    plan: Plan, beside: SeasonExtras | None = None, leeways: Mapping[str, Leeway] | None = None
) -> Iterator[tuple[str, str, Write]]:
    """The sheets after the front page: name, what is on it, what writes it; with `beside`, those of the show too."""
    grown = beside.companions if beside else ()
    coolers = partial(
        write_calendar, title="Cooler calendar", kinds=("cooler",), word="cooler", companions=grown
    )
    benches = partial(
        write_calendar,
        title="Bench calendar",
        kinds=("bench", "frame"),
        word="bench or frame",
        companions=grown,
    )
    yield (
        "Key dates",
        "a row a lot: every date from potting to fade, with the cold it gets and what its dates bear",
        partial(lists.write_dates, leeways=leeways or {}),
    )
    if beside and plan.season.companions:
        what = "a row a companion: every date from ordering the seed to setting out"
        yield "Companions", what, partial(write_companions, beside=beside)
    yield "Cooler calendar", "coolers week by week: how full, what temperature, which lots", coolers
    yield "Bench calendar", "benches and frames week by week, the same way", benches
    if beside:
        what = "each display day by day, to look up: the share in bloom to be expected, and the thin days"
        yield "Bloom cover", what, partial(write_bloom_cover, beside=beside)
    yield (
        "Tasks",
        "all work in order of date, to look up: what to look for, and the cautions",
        lists.write_tasks,
    )
    if beside and (beside.nights or beside.chances):
        what = "the evenings on which a display or place needs its cover, or may need it, to look up"
        yield "Frost nights", what, partial(write_frost_nights, beside=beside)
    yield (
        "Hours",
        "staff hours a week by kind of task, against the hours there are, and how full the places are",
        lists.write_hours,
    )
    what = "bulbs to order and by when, pots by size, trays, mix, companions"
    yield "Orders", what, partial(write_orders, companions=grown)
    if any(supply.supplier for supply in plan.season.supplies):
        what = "what goes to each supplier on each day of ordering, a page each"
        yield "Order sheets", what, partial(write_order_sheets, companions=grown)
    yield "Rooms", "what each place is set to, from when, and why", lists.write_rooms
    yield "Notices", "everything found wrong or risky, with what to do", lists.write_notices
    yield "Sources", "the figures the plan rests on, to look up: where they come from", lists.write_sources


def write_workbook(
    plan: Plan, path: Path, *, created: datetime, beside: SeasonExtras | None = None, source: str = "",
    leeways: Mapping[str, Leeway] | None = None,
) -> Path:  # fmt: skip
    """Write the plan as an .xlsx workbook to `path` and give it back.

    The companions of `beside` stand in the calendars, their seed or plugs among the orders; it also adds the bloom
    cover, and companions and frost nights where there are any. `source` is the name of the season's file, for the
    front page; `leeways`: what the dates of each lot bear. `created` (zoned, or taken as UTC) is stamped on the file,
    so that the same plan and time give the same bytes. Raises OutputError where the file cannot be written; what was
    there before is then untouched.
    """
    book = Workbook()
    pen = Pen(book)
    sheets = list(sheets_of(plan, beside, leeways))
    contents = [(name, what) for name, what, _ in sheets]
    nights = beside.nights if beside else ()
    book.active.title = "Season"
    for name, _, write in sheets:
        sheet = book.create_sheet(name)
        write(pen, sheet, plan)
        to_print(sheet, instead=_ON_SCREEN.get(name, ""))
    write_front(pen, book.active, plan, contents, source, nights, chart=hours_chart(book["Hours"]))
    to_print(book.active)
    book.active = 0
    return write_xlsx(book, path, title=plan.season.title, created=created)
