"""The sheet `Orders`: bulbs by cultivar, then all else, with packs and order-by days; containers, companions.

And the sheet `Order sheets`: what goes to each supplier on each day of ordering, a page each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.engine.companions import CompanionPlan
from forcing.engine.show.pots import cloth_over
from forcing.engine.work.orders import BULB_WEEKS
from forcing.model import Plan, Season
from forcing.reports import frames
from forcing.reports.frames import rows_of
from forcing.reports.style import long_date
from forcing.reports.workbook.cells import DAY_LOOK, NONE, NOTE, NUMBER, TEXT, Pen, points
from forcing.reports.workbook.lists import TOP, Columns, Row, class_text, known, section, write_list
from forcing.reports.workbook.table import (
    ListColumn,
    Marked,
    across,
    as_needed,
    headed,
    set_up_page,
    table_room,
    write_table,
)
from forcing.text import number, some
from forcing.units import show_mix

_ON_A_PAGE = 62  # rows
_SHORT = 60.0  # points: as narrow as a text may be made by the column it stands in
_SUM = NUMBER.but(bold=True)
_DAY = DAY_LOOK.but(bold=True)
_LEFT = NUMBER.but(align="left")
_MONEY = NUMBER.but(number="#,##0.00")
_BULBS: Columns = {
    "crop": ListColumn("Crop"),
    "class": ListColumn("Class"),
    "cultivar": ListColumn("Cultivar", most=170),
    "lots": ListColumn("Lots", most=120),
    "pots": ListColumn("Pots", NUMBER),
    "per pot": ListColumn("Bulbs per pot", NUMBER),
    "used": ListColumn("Bulbs", NUMBER),
    "need": ListColumn("Bulbs with loss", NUMBER),
    "quantity": ListColumn("To order", _SUM),
    "packs": ListColumn("Packs", most=110),
    "first used": ListColumn("First potting", DAY_LOOK),
    "order by": ListColumn("Order by", _DAY),
    "state": ListColumn("When", most=170),
}
_REST = {
    "item": "Item", "used": "Used", "quantity": "To order", "unit": "Unit", "packs": "Packs",
    "first used": "First used", "order by": "Order by", "lead": "Lead", "state": "When",
}  # fmt: skip


def write_orders(pen: Pen, sheet: Any, plan: Plan, companions: Sequence[CompanionPlan] = ()) -> None:
    """The sheet `Orders`. With the plans of companions their seed or plugs are ordered too."""
    season = plan.season
    loss = f"with {season.loss:.1%} loss added once and rounded up" if season.loss else "no loss is stated"
    note = (
        f"All bulbs are ordered {_bulb_weeks(season)} weeks before the first are wanted, while there is a choice, "
        f"unless supplies states a lead time; {loss}."
    )
    if plan.unplanned:
        note += f" Not counted: {len(plan.unplanned)} that cannot be planned (see Season)."
    lines = list(rows_of(frames.orders(plan, companions)))
    bulbs = [_bulb_cells(line) for line in lines if line["kind"] == "bulbs"]
    none = "No lot is planned, so there are no bulbs to order."
    columns = _unlike([line for line in lines if line["kind"] == "bulbs"])
    after = write_list(pen, sheet, season, ("Orders", note), columns, bulbs, none, landscape=False)
    if bulbs:
        pen.put(sheet, after, 1, "All bulbs", TEXT.but(bold=True))
        for column, name in enumerate(columns, 1):
            if name in ("pots", "used", "need", "quantity"):
                total = sum(round(line[name]) for line in lines if line["kind"] == "bulbs")
                pen.put(sheet, after, column, total, _SUM)
    row = _everything_else(pen, sheet, plan, [line for line in lines if line["kind"] != "bulbs"], after + 2)
    row = _containers(pen, sheet, plan, row)
    if not companions:
        _companions(pen, sheet, plan, row)
    if sheet.max_row > _ON_A_PAGE:
        sheet.row_breaks.append(Break(id=after + 1))
    # On a page of their own the small tables would stand under the header of the bulbs.
    sheet.print_title_rows = "1:3" if len(bulbs) > _ON_A_PAGE else "1:2"


def _unlike(bulbs: Sequence[Row]) -> Columns:
    """The columns of the bulbs: none that says what the next one says on every line, and packs where there are any."""
    alike = {
        one
        for one, other in (("used", "need"), ("need", "quantity"))
        if all(round(line[one]) == round(line[other]) for line in bulbs)
    }
    alike |= {"packs"} if all(line["pack"] is None for line in bulbs) else set()
    return {name: column for name, column in _BULBS.items() if bulbs and name not in alike}


def _bulb_weeks(season: Season) -> int:
    return BULB_WEEKS if season.bulb_order_weeks is None else season.bulb_order_weeks


_TOGETHER = timedelta(days=14)  # one order rather than two; common practice, no source; from memory
_SHEET = {
    "item": ListColumn("Item", most=200),
    "size": ListColumn("Size", most=60),
    "quantity": ListColumn("To order", _SUM),
    "unit": ListColumn("Unit", most=60),
    "packs": ListColumn("Packs", most=80),
    "first used": ListColumn("Here by", DAY_LOOK),
    "price": ListColumn("Price of one", _MONEY),
    "cost": ListColumn("Cost", _MONEY),
    "substitute": ListColumn("If not to be had", most=110),
    "came": ListColumn("Came (number, date)", most=120),
}


def write_order_sheets(pen: Pen, sheet: Any, plan: Plan, companions: Sequence[CompanionPlan] = ()) -> None:
    """The sheet `Order sheets`: a part for each supplier and day of ordering, to be printed and sent."""
    groups: dict[tuple[Any, str], list[Row]] = {}
    first: dict[str, Any] = {}
    for line in sorted(rows_of(frames.orders(plan, companions)), key=lambda line: line["order by"]):
        day, supplier = line["order by"], line["supplier"]
        if supplier not in first or day - first[supplier] > _TOGETHER:
            first[supplier] = day
        groups.setdefault((first[supplier], supplier), []).append(line)
    note = "A part for each supplier and day of ordering, with what is due in the two weeks after; here by: first use."
    headed(pen, sheet, "Order sheets", note)
    row = TOP
    for i, ((day, supplier), mine) in enumerate(sorted(groups.items(), key=lambda group: group[0])):
        if i:
            sheet.row_breaks.append(Break(id=row - 1))
        section(pen, sheet, row, f"{supplier or 'Supplier not stated'}: order by {long_date(day)}")
        row = write_table(
            pen,
            sheet,
            row + 1,
            tuple(_SHEET.values()),
            map(_sheet_cells, mine),
            table_room(plan.season.paper),
        )
        costs = [line["cost"] for line in mine]
        if any(cost is not None for cost in costs):
            unpriced = sum(cost is None for cost in costs)
            words = "In all" + (f", without {some(unpriced, 'line')} of no stated price" if unpriced else "")
            pen.put(sheet, row, 1, words, TEXT.but(bold=True))
            pen.put(
                sheet,
                row,
                list(_SHEET).index("cost") + 1,
                sum(cost or 0.0 for cost in costs),
                _MONEY.but(bold=True),
            )
            row += 1
        row += 1
    set_up_page(sheet, plan.season.paper, plan.season.title)


def _sheet_cells(line: Row) -> list[Any]:
    cells = line | {
        "quantity": as_needed(round(line["quantity"], 1), _SUM), "packs": _packs(line),
        "came": "" if line["received"] is None else f"{number(line['received'])} so far",
        "size": line["size"], "price": Marked("", NONE) if line["price"] is None else line["price"],
        "cost": Marked("", NONE) if line["cost"] is None else line["cost"],
    }  # fmt: skip
    return [cells[name] for name in _SHEET]


def _bulb_cells(line: Row) -> Row:
    each = line["per pot"]
    return known(line, cultivar="not stated") | {
        "class": class_text(line["class"]),
        "per pot": each if " or " in each else as_needed(float(each), NUMBER),
        "used": round(line["used"]),
        "need": round(line["need"]),
        "quantity": as_needed(line["quantity"], _SUM),
        "packs": _packs(line),
    }


def _packs(line: Row) -> str | Marked:
    """Like '3 of 50'; nothing for what is sold singly."""
    return Marked("singly", NONE) if line["pack"] is None else f"{line['packs']} of {number(line['pack'])}"


def _small_table(pen: Pen, sheet: Any, row: int, titles: Iterable[str], rows: Iterable[Sequence[Any]]) -> int:
    """A table below the first one, in the columns that one has made. Gives the row after an empty one."""
    columns = [
        ListColumn(title, most=max(_SHORT, points(sheet.column_dimensions[get_column_letter(i)].width) - 9))
        for i, title in enumerate(titles, 1)
    ]
    return write_table(pen, sheet, row, columns, rows) + 1


def _everything_else(pen: Pen, sheet: Any, plan: Plan, rest: Sequence[Row], row: int) -> int:
    """Pots, trays, labels, mix, seed, cloth: a line each, in the columns of the bulbs where they mean the same."""
    section(pen, sheet, row, "Pots, trays, labels, mix, companions, cloth")
    if not rest:
        pen.put(sheet, row + 1, 1, "No pots to order.", NOTE)
        return row + 3
    names = [name for name in _REST if name != "packs" or any(line["pack"] is not None for line in rest)]
    rows = [
        line
        | {name: as_needed(round(line[name], 1), _LEFT) for name in ("used", "quantity")}
        | {"lead": f"{number(line['lead weeks'])} weeks, {line['lead basis']}", "packs": _packs(line)}
        | {"first used": Marked(line["first used"], DAY_LOOK), "order by": Marked(line["order by"], _DAY)}
        for line in rest
    ]
    after = _small_table(
        pen,
        sheet,
        row + 1,
        (_REST[name] for name in names),
        [[line[name] for name in names] for line in rows],
    )
    note = "To order: with the loss added once, and for mix what it loses when pressed and watered in. "
    note += "Labels: one for each pot and one for each lot's crate."
    over = {d.name: cloth_over(plan.season, d) for d in plan.season.displays}
    cover = "cover sq ft" if plan.season.measures == "US" else "cover m2"
    reckoned = [d.name for d in plan.season.displays if over[d.name] and d.cover_m2 is None]
    if reckoned:
        note += f" Cloth is worked out from measures and heights where {cover} is not stated: {', '.join(reckoned)}."
    if unknown := [name for name, each in over.items() if not each]:
        note += f" Cloth is not counted where neither {cover} nor measures are stated: {', '.join(unknown)}."
    pen.put(sheet, after - 1, 1, note, NOTE)
    across(sheet, after - 1, 1)
    return after + 1


def _containers(pen: Pen, sheet: Any, plan: Plan, row: int) -> int:
    section(pen, sheet, row, "Mix in the containers")
    if not plan.season.displays:
        pen.put(sheet, row + 1, 1, "No display is stated.", NOTE)
        return row + 3
    rows = [
        (
            d.name,
            Marked(d.containers, _LEFT),
            Marked("not stated", NONE)
            if d.litres is None
            else f"{show_mix(d.litres, plan.season.measures)} each",
            Marked("not known", NONE)
            if d.litres is None
            else show_mix(d.litres * d.containers, plan.season.measures),
        )
        for d in plan.season.displays
    ]
    return _small_table(
        pen, sheet, row + 1, ("Display", "Containers", "Mix per container", "Mix in all"), rows
    )


def _companions(pen: Pen, sheet: Any, plan: Plan, row: int) -> None:
    if plan.season.companions:
        section(pen, sheet, row, "Companions")
        rows = [
            (c.name, c.crop, Marked(c.pots, _LEFT),
             Marked("not stated", NONE) if c.ready is None else Marked(c.ready, DAY_LOOK))
            for c in plan.season.companions
        ]  # fmt: skip
        _small_table(pen, sheet, row + 1, ("Companion", "Crop", "Pots", "Ready"), rows)
