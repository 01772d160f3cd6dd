"""The sheet `Orders`: bulbs by cultivar, then all else, with packs and order-by days; containers, companions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.engine.companions import CompanionPlan
from forcing.engine.work.orders import OrderLine, order_lines
from forcing.model import Plan
from forcing.reports.style import count
from forcing.reports.workbook.cells import (
    DAY_LOOK,
    NONE,
    NOTE,
    NUMBER,
    SECTION,
    TEXT,
    Pen,
    Value,
    height,
    points,
)
from forcing.reports.workbook.lists import class_text
from forcing.reports.workbook.table import (
    Column,
    Marked,
    across,
    as_needed,
    filtered,
    headed,
    set_up_page,
    table_room,
    write_table,
)


def bulb_orders(plan: Plan) -> tuple[OrderLine, ...]:
    """Bulbs of the planned lots by crop, class and cultivar, in season order of their first lot."""
    return tuple(line for line in order_lines(plan) if line.kind == "bulbs")


# ---------------------------------------------------------------- drawing

_ON_A_PAGE = 36  # rows of bulbs
_SHORT = 60.0  # points: as narrow as a text may be made by the column it stands in
_SUM = NUMBER.but(bold=True)
_BULBS = (
    Column("Crop"),
    Column("Class"),
    Column("Cultivar", most=170),
    Column("Lots", most=120),
    Column("Pots", NUMBER),
    Column("Bulbs per pot", NUMBER),
    Column("Bulbs", NUMBER),
    Column("Bulbs with loss", NUMBER),
    Column("To order", _SUM),
    Column("Packs", most=110),
    Column("First potting", DAY_LOOK),
    Column("Order by", DAY_LOOK.but(bold=True)),
    Column("When", most=170),
)


_REST = (
    "Item", "Unit", "When", "Lead", "Used", "Needed", "To order", "Packs", "First used", "Order by",
)  # fmt: skip


def write_orders(pen: Pen, sheet: Any, plan: Plan, companions: Sequence[CompanionPlan] = ()) -> None:
    """The sheet `Orders`. With the plans of companions their seed or plugs are ordered too."""
    season = plan.season
    loss = f"with {season.loss:.1%} loss added once and rounded up" if season.loss else "no loss is stated"
    note = (
        f"Orders go out {season.order_weeks} weeks before potting, and in time for the bulbs in hand, unless "
        f"supplies states a lead time; {loss}."
    )
    if plan.unplanned:
        note += f" Not counted: {len(plan.unplanned)} that cannot be planned (see Season)."
    headed(pen, sheet, "Orders", note)
    lines = order_lines(plan, companions)
    orders = [line for line in lines if line.kind == "bulbs"]
    if orders:
        rows: list[tuple[Value | Marked, ...]] = [_bulb_cells(plan, order) for order in orders]
        after = write_table(pen, sheet, 3, _BULBS, rows, table_room(season.paper))
        filtered(sheet, 3, len(_BULBS), after)
        totals = {5: sum(o.pots for o in orders), 7: sum(round(o.used) for o in orders)}
        totals[8] = sum(round(o.need) for o in orders)
        totals[9] = round(sum(o.quantity for o in orders))
        pen.put(sheet, after, 1, "All bulbs", TEXT.but(bold=True))
        for column, total in totals.items():
            pen.put(sheet, after, column, total, _SUM)
    else:
        pen.put(sheet, 3, 1, "No lot is planned, so there are no bulbs to order.", NOTE)
        after = 3
    if len(orders) > _ON_A_PAGE / 2:
        sheet.row_breaks.append(Break(id=after + 1))
    row = _everything_else(pen, sheet, plan, lines, after + 2)
    row = _containers(pen, sheet, plan, row)
    _companions(pen, sheet, plan, row)
    sheet.freeze_panes = "A4"
    # On a page of their own the small tables would stand under the header of the bulbs.
    sheet.print_title_rows = "1:3" if len(orders) > _ON_A_PAGE else "1:2"
    set_up_page(sheet, season.paper, season.title)


def _bulb_cells(plan: Plan, order: OrderLine) -> tuple[Value | Marked, ...]:
    return (
        order.crop,
        class_text(order.bloom_class),
        order.cultivar or Marked("not stated", NONE),
        ", ".join(order.lots),
        order.pots,
        as_needed(order.per_pot[0], NUMBER)
        if len(order.per_pot) == 1
        else " or ".join(map(count, order.per_pot)),
        round(order.used),
        round(order.need),
        as_needed(order.quantity, _SUM),
        _packs(order),
        order.needed,
        order.order_by,
        _when(plan, order),
    )


def _when(plan: Plan, order: OrderLine) -> str:
    """Where the order stands on the day of the plan; what is potted is no longer to be ordered."""
    potted = {entry.lot for entry in plan.season.log if entry.event == "potted" and entry.date <= plan.on}
    done = [name for name in order.lots if name in potted]
    if done and len(done) == len(order.lots):
        return "potted"
    if done:
        return f"{len(done)} of {len(order.lots)} lots potted"
    days = (order.order_by - plan.on).days
    if days < 0:
        return f"{-days} days ago: check it is ordered"
    return "today" if days == 0 else f"in {days} days"


def _section(pen: Pen, sheet: Any, row: int, title: str) -> int:
    pen.put(sheet, row, 1, title, SECTION)
    sheet.row_dimensions[row].height = height(1, SECTION.size) + 3
    return row + 1


def _small_table(
    pen: Pen, sheet: Any, row: int, titles: tuple[str, ...], rows: list[tuple[Value | Marked, ...]]
) -> int:
    """A table below the first one, in the columns that one has made."""
    widths = [sheet.column_dimensions[get_column_letter(i)].width for i in range(1, len(titles) + 1)]
    columns = [
        Column(title, most=max(_SHORT, points(w) - 9)) for title, w in zip(titles, widths, strict=True)
    ]
    return write_table(pen, sheet, row, columns, rows) + 1


def _packs(line: OrderLine) -> Value | Marked:
    """Like '3 of 50'; nothing for what is sold singly."""
    return Marked("singly", NONE) if line.pack is None else f"{line.packs} of {count(line.pack)}"


def _everything_else(pen: Pen, sheet: Any, plan: Plan, lines: Sequence[OrderLine], row: int) -> int:
    """Pots, labels, mix, seed or plugs, cloth: a line each, in the columns of the bulbs where they mean the same."""
    row = _section(pen, sheet, row, "Pots, labels, mix, companions, cloth")
    rest = [line for line in lines if line.kind != "bulbs"]
    if not rest:
        pen.put(sheet, row, 1, "No pots to order.", NOTE)
        return row + 2
    figures = NUMBER.but(align="left")
    day = DAY_LOOK.but(bold=True)
    row = _small_table(
        pen, sheet, row, _REST,
        [
            (
                line.item, line.unit, _when(plan, line), f"{count(line.lead_weeks)} weeks, {line.lead_basis}",
                *(as_needed(round(v, 1), figures) for v in (line.used, line.need, line.quantity)),
                _packs(line), Marked(line.needed, DAY_LOOK), Marked(line.order_by, day),
            )
            for line in rest
        ],
    )  # fmt: skip
    notes = ["Needed has the loss added once, and for mix what it loses when pressed and watered in."]
    notes.append("Labels: one for each pot and one for each lot's crate.")
    unknown = [d.name for d in plan.season.displays if not d.cover_m2]
    if unknown:
        notes.append(f"Cloth is not counted where cover m2 is not stated: {', '.join(unknown)}.")
    pen.put(sheet, row - 1, 1, " ".join(notes), NOTE)
    across(sheet, row - 1, 1)
    return row + 1


def _containers(pen: Pen, sheet: Any, plan: Plan, row: int) -> int:
    row = _section(pen, sheet, row, "Mix in the containers")
    displays = plan.season.displays
    if not displays:
        pen.put(sheet, row, 1, "No display is stated.", NOTE)
        return row + 2
    rows: list[tuple[Value | Marked, ...]] = []
    for display in displays:
        litres = display.litres
        rows.append(
            (
                display.name,
                Marked(display.containers, NUMBER.but(align="left")),
                Marked("not stated", NONE) if litres is None else f"{count(litres)} L each",
                Marked("not known", NONE) if litres is None else f"{count(litres * display.containers)} L",
            )
        )
    return _small_table(pen, sheet, row, ("Display", "Containers", "Mix per container", "Mix in all"), rows)


def _companions(pen: Pen, sheet: Any, plan: Plan, row: int) -> int:
    companions = plan.season.companions
    if not companions:
        return row
    row = _section(pen, sheet, row, "Companions")
    rows: list[tuple[Value | Marked, ...]] = [
        (c.name, c.crop, Marked(c.pots, NUMBER.but(align="left")), _ready(c.ready)) for c in companions
    ]
    return _small_table(pen, sheet, row, ("Companion", "Crop", "Pots", "Ready"), rows)


def _ready(day: date | None) -> Marked:
    return Marked("not stated", NONE) if day is None else Marked(day, DAY_LOOK)
