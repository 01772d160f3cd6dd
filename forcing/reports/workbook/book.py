"""The season plan workbook: everything a person needs of a Plan, in the order they need it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from forcing.engine.companions import CompanionPlan
from forcing.engine.extras import SeasonExtras
from forcing.model import Plan
from forcing.reports.workbook.calendar import write_calendar
from forcing.reports.workbook.cells import Pen
from forcing.reports.workbook.front import CONTENTS, write_front
from forcing.reports.workbook.lists import (
    write_dates,
    write_hours,
    write_notices,
    write_rooms,
    write_sources,
    write_tasks,
)
from forcing.reports.workbook.orders import write_orders
from forcing.reports.workbook.show import CONTENTS as SHOW_CONTENTS
from forcing.reports.workbook.show import write_bloom_cover, write_companions, write_frost_nights
from forcing.reports.workbook.table import to_print
from forcing.xlsx import write_xlsx


def _benches(pen: Pen, sheet: Any, plan: Plan, companions: Sequence[CompanionPlan] = ()) -> None:
    write_calendar(pen, sheet, plan, "Bench calendar", ("bench", "frame"), "bench or frame", companions)


def _coolers(pen: Pen, sheet: Any, plan: Plan, companions: Sequence[CompanionPlan] = ()) -> None:
    write_calendar(pen, sheet, plan, "Cooler calendar", ("cooler",), "cooler", companions)


Write = Callable[[Pen, Any, Plan], None]
FRONT = "Season"
SHEETS: tuple[tuple[str, Write], ...] = (
    ("Key dates", write_dates),
    ("Cooler calendar", _coolers),
    ("Bench calendar", _benches),
    ("Tasks", write_tasks),
    ("Hours", write_hours),
    ("Orders", write_orders),
    ("Rooms", write_rooms),
    ("Notices", write_notices),
    ("Sources", write_sources),
)


def sheets_of(
    plan: Plan, companions: Sequence[CompanionPlan] = (), beside: SeasonExtras | None = None
) -> tuple[tuple[str, Write], ...]:
    """The sheets after the front page, each with what writes it; with `beside`, those of the show among them."""
    after: dict[str, list[tuple[str, Write]]] = {}
    if beside is not None:
        companions = companions or beside.companions
        after["Bench calendar"] = [("Bloom cover", partial(write_bloom_cover, beside=beside))]
        if plan.season.companions:
            after["Key dates"] = [("Companions", partial(write_companions, beside=beside))]
        if beside.nights or beside.chances:
            after["Tasks"] = [("Frost nights", partial(write_frost_nights, beside=beside))]
    both = {"Orders": write_orders, "Cooler calendar": _coolers, "Bench calendar": _benches}
    found: list[tuple[str, Write]] = []
    for name, write in SHEETS:
        found.append((name, partial(both[name], companions=companions) if name in both else write))
        found.extend(after.get(name, ()))
    return tuple(found)


def write_workbook(
    plan: Plan,
    path: Path,
    *,
    created: datetime,
    companions: Sequence[CompanionPlan] = (),
    beside: SeasonExtras | None = None,
    source: str = "",
) -> Path:
    """Write the plan as an .xlsx workbook to `path` and give it back.

    The `companions` (or those of `beside`) stand in the calendars, their seed or plugs among the orders. `beside`
    also adds the bloom cover, and companions and frost nights where there are any. `source` is the name of the
    season's file, for the front page. `created` (zoned, or taken as UTC) is stamped on the file, so that the same plan
    and time give the same bytes. Raises OutputError where the file cannot be written; what was there before is then
    untouched.
    """
    book = Workbook()
    pen = Pen(book)
    sheets = sheets_of(plan, companions, beside)
    words = dict((*CONTENTS, *SHOW_CONTENTS))
    front: Write = partial(write_front, contents=[(name, words[name]) for name, _ in sheets], source=source)
    for i, (name, write) in enumerate([(FRONT, front), *sheets]):
        sheet = book.active if i == 0 else book.create_sheet()
        sheet.title = name
        write(pen, sheet, plan)
        to_print(sheet)
    book.active = 0
    return write_xlsx(book, path, title=plan.season.title, created=created)
