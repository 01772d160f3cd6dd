"""The sheet `Orders`: bulbs by cultivar, pots by size, mix by display, companions."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from forcing.dates import WEEK
from forcing.model import BloomClass, LotPlan, Plan
from forcing.sheets.style import CLASS_MARKS, count
from forcing.sheets.tables import season_order
from forcing.sheets.workbook.cells import (
    DAY_LOOK,
    NONE,
    NOTE,
    NUMBER,
    SECTION,
    TEXT,
    Column,
    Marked,
    Pen,
    Value,
    as_needed,
    filtered,
    headed,
    height,
    set_up_page,
    write_table,
)


@dataclass(frozen=True, slots=True)
class BulbOrder:
    """Bulbs of one cultivar with as many in each pot; `order_by` is the earliest day of its lots."""

    crop: str
    bloom_class: BloomClass | None
    cultivar: str | None
    lots: tuple[str, ...]
    pots: int
    per_pot: float
    bulbs: int
    with_loss: int
    potting: date
    order_by: date


@dataclass(frozen=True, slots=True)
class PotOrder:
    """Pots of one width [cm]."""

    width: float
    pots: int
    with_loss: int


def bulb_orders(plan: Plan) -> tuple[BulbOrder, ...]:
    """Bulbs of the planned lots by crop, class and cultivar, in season order of their first lot."""
    groups: dict[tuple[str, str, str, float], list[LotPlan]] = defaultdict(list)
    for planned in season_order(plan):
        lot = planned.lot
        key = (lot.crop, bloom_class(planned) or "", lot.cultivar or "", _per_pot(planned))
        groups[key].append(planned)
    asked: dict[str, date] = {}
    for task in plan.tasks:
        if task.task == "order" and task.lot is not None:
            asked[task.lot] = min(task.date, asked.get(task.lot, task.date))
    return tuple(_bulb_order(plan, members, asked) for members in groups.values())


def pot_orders(plan: Plan) -> tuple[PotOrder, ...]:
    """Pots of the planned lots by width, smallest first."""
    by_width: dict[float, int] = defaultdict(int)
    for planned in plan.lots:
        by_width[planned.lot.pot_cm or planned.recipe.pot] += planned.lot.pots
    loss = plan.season.loss
    return tuple(PotOrder(width, pots, allow_for(pots, loss)) for width, pots in sorted(by_width.items()))


def bloom_class(planned: LotPlan) -> BloomClass | None:
    """The class the lot states, or else its recipe's."""
    return planned.lot.bloom_class or planned.recipe.bloom_class


def allow_for(number: float, loss: float) -> int:
    """How many to start with so that `number` are left after the fraction `loss` is lost, rounded up."""
    # Division leaves dust: 90 / 0.9 must be 100, not 101.
    return math.ceil(number / (1.0 - loss) - 1e-9) if loss < 1.0 else math.ceil(number)


def _per_pot(planned: LotPlan) -> float:
    stated = planned.lot.bulbs_per_pot
    return planned.recipe.bulbs_per_pot if stated is None else stated


def _bulb_order(plan: Plan, members: list[LotPlan], asked: Mapping[str, date]) -> BulbOrder:
    first = members[0]
    pots, per_pot = sum(p.lot.pots for p in members), _per_pot(first)
    potting = min(p.potting for p in members)
    return BulbOrder(
        first.lot.crop,
        bloom_class(first),
        first.lot.cultivar,
        tuple(p.lot.name for p in members),
        pots,
        per_pot,
        math.ceil(pots * per_pot - 1e-9),
        allow_for(pots * per_pot, plan.season.loss),
        potting,
        min(_order_by(plan, p, asked) for p in members),
    )


def _order_by(plan: Plan, planned: LotPlan, asked: Mapping[str, date]) -> date:
    """The day of the plan's own task; for a lot without one, by the season's rule."""
    if planned.lot.name in asked:
        return asked[planned.lot.name]
    season = plan.season
    day = planned.potting - timedelta(weeks=season.order_weeks)
    if season.bulbs_in_hand is not None:
        day = min(day, season.bulbs_in_hand - WEEK)
    return season.calendar.on_or_before(day)


# ---------------------------------------------------------------- drawing

_SUM = NUMBER.but(bold=True)
_BULBS = (
    Column("Crop"),
    Column("Class"),
    Column("Cultivar", most=170),
    Column("Lots", most=120),
    Column("Pots", NUMBER),
    Column("Bulbs per pot", NUMBER),
    Column("Bulbs", NUMBER),
    Column("Bulbs with loss", _SUM),
    Column("First potting", DAY_LOOK),
    Column("Order by", DAY_LOOK.but(bold=True)),
    Column("When", most=110),
)


def class_text(name: BloomClass | None) -> str:
    """Letter and word of a class, like 'E early'."""
    return f"{CLASS_MARKS[name].letter} {name}" if name else "not stated"


def write_orders(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Orders`."""
    season = plan.season
    loss = f"with {season.loss:.1%} loss added and rounded up" if season.loss else "no loss is stated"
    note = (
        f"Orders go out {season.order_weeks} weeks before potting, and in time for the bulbs in hand; {loss}."
    )
    if plan.unplanned:
        note += f" Not counted: {len(plan.unplanned)} that cannot be planned (see Season)."
    headed(pen, sheet, "Orders", note)
    orders = bulb_orders(plan)
    if orders:
        rows: list[tuple[Value | Marked, ...]] = [_bulb_cells(plan, order) for order in orders]
        after = write_table(pen, sheet, 3, _BULBS, rows)
        filtered(sheet, 3, len(_BULBS), after)
        totals = {5: sum(o.pots for o in orders), 7: sum(o.bulbs for o in orders)}
        totals[8] = sum(o.with_loss for o in orders)
        pen.put(sheet, after, 1, "All bulbs", TEXT.but(bold=True))
        for column, total in totals.items():
            pen.put(sheet, after, column, total, _SUM)
    else:
        pen.put(sheet, 3, 1, "No lot is planned, so there are no bulbs to order.", NOTE)
        after = 3
    row = _pots(pen, sheet, plan, after + 2)
    row = _mix(pen, sheet, plan, row)
    _companions(pen, sheet, plan, row)
    sheet.freeze_panes = "A4"
    sheet.print_title_rows = "1:3" if orders else "1:2"
    set_up_page(sheet, season.paper, season.title)


def _bulb_cells(plan: Plan, order: BulbOrder) -> tuple[Value | Marked, ...]:
    return (
        order.crop,
        class_text(order.bloom_class),
        order.cultivar or Marked("not stated", NONE),
        ", ".join(order.lots),
        order.pots,
        as_needed(order.per_pot, NUMBER),
        order.bulbs,
        order.with_loss,
        order.potting,
        order.order_by,
        _when(plan, order),
    )


def _when(plan: Plan, order: BulbOrder) -> str:
    """Where the order stands on the day of the plan; what is potted is no longer to be ordered."""
    potted = {entry.lot for entry in plan.season.log if entry.event == "potted" and entry.date <= plan.on}
    done = [name for name in order.lots if name in potted]
    if len(done) == len(order.lots):
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
    return write_table(pen, sheet, row, tuple(Column(title) for title in titles), rows) + 1


def _pots(pen: Pen, sheet: Any, plan: Plan, row: int) -> int:
    row = _section(pen, sheet, row, "Pots by size")
    orders = pot_orders(plan)
    if not orders:
        pen.put(sheet, row, 1, "No pots to order.", NOTE)
        return row + 2
    figures = NUMBER.but(align="left")
    return _small_table(
        pen, sheet, row, ("Pot, cm across", "Pots", "Pots with loss"),
        [tuple(as_needed(v, figures) for v in (o.width, o.pots, o.with_loss)) for o in orders],
    )  # fmt: skip


def _mix(pen: Pen, sheet: Any, plan: Plan, row: int) -> int:
    row = _section(pen, sheet, row, "Mix for the containers")
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
