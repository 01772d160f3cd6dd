"""The sheet `Key dates`: a row a lot, every date a real date."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.model import Event, LotPlan, Plan
from forcing.reports.frames import season_order
from forcing.reports.style import ALERT
from forcing.reports.workbook.cells import (
    DATE,
    DAY_LOOK,
    DONE_DATE,
    HEAD,
    NONE,
    NOTE,
    NUMBER,
    SECTION,
    TENTH,
    TEXT,
    Pen,
    Value,
    height,
    lines,
)
from forcing.reports.workbook.orders import bloom_class, class_text
from forcing.reports.workbook.table import Column, Marked, filtered, headed, set_up_page, write_table

_KEY = DAY_LOOK.but(bold=True)
_COLUMNS = (
    Column("Lot", TEXT.but(bold=True), most=90),
    Column("Crop", most=110),
    Column("Class", TEXT.but(wrap=False)),
    Column("Cultivar", most=120),
    Column("Pots", NUMBER),
    Column("Potting", _KEY),
    Column("Cooler in", _KEY),
    Column("Rooted", DAY_LOOK),
    Column("Out of cold, bring in", _KEY),
    Column("Shoots", DAY_LOOK),
    Column("Bud", DAY_LOOK),
    Column("Colour", DAY_LOOK),
    Column("Bloom", _KEY),
    Column("Target", DAY_LOOK),
    Column("Days early", NUMBER.but(number="0;▲ -0;0")),
    Column("Set out", DAY_LOOK),
    Column("Fade", DAY_LOOK),
    Column("Cold-weeks chosen", TENTH),
    Column("Cold-weeks credited", TENTH),
    Column("Cooler", most=90),
    Column("Bench", most=90),
    Column("Days with assumed temperature", NUMBER),
)
_LOST = ("Lot", "Crop", "Class", "Cultivar", "Pots", "Target", "Earliest bloom")
_REASON, _REASON_WIDE = 8, 3  # the reason takes three columns of dates, still on the first page of two
_TOP = 3
_HALF_A_PAGE = 16  # rows


def write_dates(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Key dates`: planned lots in season order, then those that cannot be planned."""
    headed(
        pen, sheet, "Key dates",
        "Each date is the first day of its step. ✓: logged, it has happened. Days early: target less bloom; "
        "▲ later than its target.", column=2,
    )  # fmt: skip
    logged = _logged(plan)
    rows = [_cells(planned, logged) for planned in season_order(plan)]
    after = write_table(pen, sheet, _TOP, _COLUMNS, rows)
    if rows:
        filtered(sheet, _TOP, len(_COLUMNS), after)
    else:
        pen.put(sheet, after, 2, "No lot is planned.", NOTE)
        after += 1
    _unplanned(pen, sheet, plan, after + 1)
    sheet.freeze_panes = sheet.cell(_TOP + 1, 2).coordinate
    sheet.print_title_rows = f"1:{_TOP}"
    sheet.print_title_cols = "A:A"
    # On one page the print would be half size; over two, with the lot repeated, it can be read at a bench.
    set_up_page(sheet, plan.season.paper, plan.season.title, pages_wide=2)


def _logged(plan: Plan) -> Mapping[tuple[str, Event], date]:
    """The first time each event of a lot was logged, as known on the day of the plan."""
    first: dict[tuple[str, Event], date] = {}
    for entry in sorted((e for e in plan.season.log if e.date <= plan.on), key=lambda e: e.date):
        first.setdefault((entry.lot, entry.event), entry.date)
    return first


def _cells(planned: LotPlan, logged: Mapping[tuple[str, Event], date]) -> tuple[Value | Marked, ...]:
    lot = planned.lot

    def day(value: date | None, event: Event | None, missing: str, *, key: bool = False) -> Marked:
        if value is None:
            return Marked(missing, NONE)
        done = event is not None and logged.get((lot.name, event)) == value
        return Marked(value, DAY_LOOK.but(bold=key, number=DONE_DATE if done else DATE))

    no_cold = planned.cooler_in is None
    stages = planned.stages
    late = planned.days_early < 0
    return (
        lot.name,
        lot.crop,
        class_text(bloom_class(planned)),
        lot.cultivar or Marked("not stated", NONE),
        lot.pots,
        day(planned.potting, "potted", "", key=True),
        day(planned.cooler_in, "cooler in", "needs no cold", key=True),
        day(planned.rooted, "rooted", "needs no cold" if no_cold else "not in time"),
        day(planned.bring_in, "brought in", "", key=True),
        day(stages.get("shoots"), "shoots", "not known"),
        day(stages.get("bud"), "bud", "not known"),
        day(stages.get("colour"), "colour", "not known"),
        day(planned.bloom, "bloom", "", key=True),
        planned.target,
        Marked(planned.days_early, _COLUMNS[14].look.but(bold=late, ink=ALERT))
        if late
        else planned.days_early,
        day(planned.install, "set out", "stays in place"),
        day(planned.fade, "faded", "not known"),
        planned.cold_wanted,
        planned.cold_weeks,
        _place(planned, ("root", "cool"), "none"),
        _place(planned, ("bench",), "none"),
        planned.assumed_days,
    )


def _place(planned: LotPlan, steps: tuple[str, ...], missing: str) -> str | Marked:
    """Where the plan puts the lot in these steps, in order; a lot may stand in more than one place."""
    names = [
        s.place for s in sorted(planned.steps, key=lambda s: s.span.start) if s.step in steps and s.place
    ]
    return ", ".join(dict.fromkeys(names)) or Marked(missing, NONE)


def _unplanned(pen: Pen, sheet: Any, plan: Plan, row: int) -> None:
    if not plan.unplanned:
        return
    if row > _HALF_A_PAGE:
        sheet.row_breaks.append(Break(id=row - 1))  # or the heading may be the last line of a page
    pen.put(sheet, row, 2, "Lots that cannot be planned", SECTION.but(ink=ALERT))
    sheet.row_dimensions[row].height = height(1, SECTION.size) + 3
    rows: list[tuple[Value | Marked, ...]] = [
        (
            Marked(lost.lot.name, TEXT.but(bold=True)),
            lost.lot.crop,
            class_text(lost.lot.bloom_class),
            lost.lot.cultivar or Marked("not stated", NONE),
            Marked(lost.lot.pots, NUMBER),
            Marked(lost.lot.target or "not stated", DAY_LOOK if lost.lot.target else NONE),
            Marked(lost.earliest or "not known", DAY_LOOK if lost.earliest else NONE),
        )
        for lost in plan.unplanned
    ]
    write_table(
        pen,
        sheet,
        row + 1,
        tuple(Column(title, NUMBER if title == "Pots" else TEXT) for title in _LOST),
        rows,
    )
    room = sum(sheet.column_dimensions[get_column_letter(_REASON + i)].width for i in range(_REASON_WIDE))
    reasons = ["Why", *(lost.reason for lost in plan.unplanned)]
    for i, reason in enumerate(reasons, row + 1):
        look = HEAD if i == row + 1 else TEXT.but(bold=True, ink=ALERT)
        pen.put(sheet, i, _REASON, reason, look)
        sheet.merge_cells(start_row=i, end_row=i, start_column=_REASON, end_column=_REASON + _REASON_WIDE - 1)
        needed = height(lines(reason, room, bold=True))
        sheet.row_dimensions[i].height = max(needed, sheet.row_dimensions[i].height)
