"""The sheets `Tasks`, `Hours`, `Rooms` and `Notices`."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any

from forcing.dates import DAY, Span, iso_week, monday
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import sort_findings
from forcing.model import Plan, RoomSetting, Task
from forcing.reports.frames import where
from forcing.reports.style import ALERT, QUIET, TINT, count
from forcing.reports.workbook.cells import (
    DAY_LOOK,
    NONE,
    NOTE,
    NUMBER,
    SECTION,
    TENTH,
    TEXT,
    Look,
    Pen,
    Value,
    height,
    lines,
)
from forcing.reports.workbook.table import (
    Column,
    Marked,
    as_needed,
    filtered,
    headed,
    set_up_page,
    table_room,
    write_table,
)
from forcing.units import from_celsius

_TOP = 3
_Row = tuple[Value | Marked, ...]

# ---------------------------------------------------------------- tasks

_TASKS = (
    Column("Date", DAY_LOOK),
    Column("Week", TEXT.but(wrap=False)),
    Column("Place", most=90),
    Column("To", most=90),
    Column("Lot", TEXT.but(bold=True), most=80),
    Column("Cultivar", most=130),
    Column("Task", TEXT.but(bold=True), most=80),
    Column("Pots", NUMBER),
    Column("Hours", TENTH),
    Column("Look for", most=235),
    Column("Cautions", most=105),
    Column("State", most=70),
)
_CAUTION_WIDTH = 100.0  # units of column: the first columns of the table together


def write_tasks(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Tasks`, in the order of tasks.csv."""
    headed(
        pen, sheet, "Tasks",
        "All work in order of date. The cautions are written out below the last task.",
    )  # fmt: skip
    tasks = sorted(plan.tasks, key=lambda t: (t.date, where(t), t.lot or "", t.task, t.key))
    cultivars = {p.lot.name: p.lot.cultivar or p.lot.crop for p in plan.lots}
    rows = [_task_cells(task, cultivars) for task in tasks]
    after = write_table(pen, sheet, _TOP, _TASKS, rows, table_room(plan.season.paper))
    if tasks:
        filtered(sheet, _TOP, len(_TASKS), after)
    else:
        pen.put(sheet, after, 1, "There is nothing to do: no lot is planned.", NOTE)
    _cautions(pen, sheet, tasks, after + 1)
    _finish(sheet, plan)


def _task_cells(task: Task, cultivars: dict[str, str]) -> _Row:
    pressing = task.state in ("due", "overdue")
    return (
        task.date,
        iso_week(task.date),
        task.place or "",
        task.to or "",
        task.lot or "",
        cultivars.get(task.lot or "", ""),
        task.task,
        as_needed(task.pots, NUMBER) if task.pots else None,
        task.hours,
        task.look_for,
        ", ".join(task.cautions),
        Marked(task.state, TEXT.but(bold=True, ink=ALERT)) if pressing else task.state,
    )


def _cautions(pen: Pen, sheet: Any, tasks: list[Task], row: int) -> None:
    """Each caution that a task names, once, in full."""
    named = list(dict.fromkeys(key for task in tasks for key in task.cautions))
    if not named:
        return
    pen.put(sheet, row, 1, "Cautions", SECTION)
    sheet.row_dimensions[row].height = height(1, SECTION.size) + 3
    note = "Reminders only: labels, local codes, the house's own rules and licensed practice come first."
    pen.put(sheet, row + 1, 1, note, NOTE)
    for i, key in enumerate(named, row + 2):
        text = CAUTIONS.get(key, "No text for this caution: ask before starting.")
        pen.put(sheet, i, 1, key, Look(bold=True))
        pen.put(sheet, i, 2, text, Look(wrap=True))
        sheet.merge_cells(start_row=i, end_row=i, start_column=2, end_column=len(_TASKS))
        sheet.row_dimensions[i].height = height(lines(text, _CAUTION_WIDTH))


# ---------------------------------------------------------------- hours


def write_hours(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Hours`: week × kind of task, and the total against the hours there are."""
    limit = plan.season.hours_per_week
    stated = "no limit is stated" if limit is None else f"there are {count(limit)} hours a week"
    headed(pen, sheet, "Hours", f"Staff hours a week by kind of task; {stated}. ▲: more than there are.")
    _finish(sheet, plan)
    if not plan.tasks:
        pen.put(sheet, _TOP, 1, "There is no work: no lot is planned.", NOTE)
        return
    hours: dict[tuple[date, str], float] = defaultdict(float)
    kinds = list(dict.fromkeys(t.task for t in sorted(plan.tasks, key=lambda t: (t.date, t.key))))
    for task in plan.tasks:
        hours[monday(task.date), task.task] += task.hours
    columns = (
        Column("Week", TEXT.but(wrap=False, bold=True)),
        Column("Monday", DAY_LOOK),
        *(Column(kind, TENTH, arrow=False) for kind in kinds),
        Column("All", TENTH.but(bold=True), arrow=False),
        Column("Hours left" if limit is not None else "Hours left: not known", TENTH, arrow=False),
    )
    rows = [_week_cells(week, kinds, hours, limit) for week in sorted({week for week, _ in hours})]
    after = write_table(pen, sheet, _TOP, columns, rows)
    filtered(sheet, _TOP, 2, after)  # by week; arrows on every kind would take the room of its figures
    sums = [sum(h for (_, k), h in hours.items() if k == kind) for kind in kinds]
    pen.put(sheet, after, 1, "Season", TEXT.but(bold=True, wrap=False))
    pen.put(sheet, after, 2, None, TEXT)
    for column, total in enumerate([*sums, sum(sums)], 3):
        pen.put(sheet, after, column, round(total, 2), TENTH.but(bold=True))


def _week_cells(
    week: date, kinds: list[str], hours: dict[tuple[date, str], float], limit: float | None
) -> _Row:
    each = [hours.get((week, kind), 0.0) for kind in kinds]
    total = round(sum(each), 2)
    cells = [round(h, 2) if h else None for h in each]
    if limit is None:
        return (iso_week(week), week, *cells, total, None)
    left = round(limit - total, 2)
    if left < 0:
        over = Marked(f"▲ +{max(-left, 0.1):,.1f}", TENTH.but(bold=True, ink=ALERT))
        look = TENTH.but(bold=True, fill=QUIET, pattern="lightUp", ground=TINT)
        return (iso_week(week), week, *cells, Marked(total, look), over)
    fill = TINT if total > 0.75 * limit else None
    return (iso_week(week), week, *cells, Marked(total, TENTH.but(bold=True, fill=fill)), left)


# ---------------------------------------------------------------- rooms


def write_rooms(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Rooms`: the settings of each place, in the season's unit."""
    unit = plan.season.unit
    headed(
        pen, sheet, "Rooms",
        f"What each place is set to, in °{unit}. Stated: the season says so. Planned: the plan's own programme. "
        "From the start: before the first lot is potted. To the end: until the last one has gone.",
    )  # fmt: skip
    degrees = TENTH.but(number="0.0")
    columns = (
        Column("Place", TEXT.but(bold=True), most=140),
        Column("Kind"),
        Column("First day", DAY_LOOK),
        Column("Last day", DAY_LOOK),
        Column(f"Day °{unit}", degrees),
        Column(f"Night °{unit}", degrees),
        Column(f"Mean °{unit}", degrees.but(bold=True)),
        Column("Basis"),
        Column("Reason", most=220),
    )
    order = {place.name: i for i, place in enumerate(plan.season.places)}
    kinds = {place.name: place.kind for place in plan.season.places}
    settings = sorted(plan.rooms, key=lambda r: (order.get(r.place, len(order)), r.place, r.span))
    always = _open_ends(plan)
    rows: list[_Row] = [
        _room_cells(plan, setting, kinds.get(setting.place, ""), always) for setting in settings
    ]
    set_places = {r.place for r in plan.rooms}
    for place in plan.season.places:
        if place.name not in set_places:
            blank = Marked("not set", NONE)
            why = "outdoors: the weather decides" if place.kind == "site" else "no temperature is stated"
            rows.append((place.name, place.kind, blank, blank, None, None, None, "", why))
    after = write_table(pen, sheet, _TOP, columns, rows)
    if rows:
        filtered(sheet, _TOP, len(columns), after)
    else:
        pen.put(sheet, after, 1, "No place is stated in this season.", NOTE)
    _finish(sheet, plan)


def _open_ends(plan: Plan) -> Span:
    """The days the settings cover, where these go beyond the lots: no one has stated such a day, or acts on it."""
    starts, ends = [r.span.start for r in plan.rooms], [r.span.end for r in plan.rooms]
    lived = [day for lot in plan.lots for step in lot.steps for day in (step.span.start, step.span.end)]
    first, last = min(starts, default=date.max), max(ends, default=date.min)
    return Span(
        first if first < min(lived, default=date.max) else date.min,
        last if last > max(lived, default=date.min) else date.max,
    )


def _room_cells(plan: Plan, setting: RoomSetting, kind: str, always: Span) -> _Row:
    unit = plan.season.unit
    day, night, mean = (from_celsius(t, unit) for t in (setting.day, setting.night, setting.mean))
    first: Value = "from the start" if setting.span.start == always.start else setting.span.start
    last: Value = max(setting.span.start, setting.span.end - DAY)
    last = "to the end" if setting.span.end == always.end else last
    return (
        setting.place, kind, first, last, round(day, 2), round(night, 2), round(mean, 2),
        setting.basis, setting.reason,
    )  # fmt: skip


# ---------------------------------------------------------------- notices

_NOTICES = (
    Column("Severity", TEXT.but(bold=True), most=70),
    Column("Table", most=80),
    Column("Row", NUMBER),
    Column("Column", most=90),
    Column("What is wrong", most=260),
    Column("What to do", most=260),
    Column("Code", TEXT.but(ink=NOTE.ink), most=110),
)


def write_notices(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Notices`: all findings, worst first."""
    headed(
        pen, sheet, "Notices",
        "Everything found wrong or risky, worst first. Table, row and column are those of the season file.",
    )  # fmt: skip
    alarm = TEXT.but(bold=True, ink=ALERT)
    rows: list[_Row] = [
        (
            Marked(f"▲ {f.severity}", alarm) if f.severity == "error" else f.severity,
            f.table, f.row, f.column or "", f.what(), f.hint, f.code,
        )
        for f in sort_findings(plan.findings)
    ]  # fmt: skip
    after = write_table(pen, sheet, _TOP, _NOTICES, rows, table_room(plan.season.paper))
    if rows:
        filtered(sheet, _TOP, len(_NOTICES), after)
    else:
        pen.put(sheet, after, 1, "Nothing was found wrong or risky.", NOTE)
    _finish(sheet, plan)


def _finish(sheet: Any, plan: Plan) -> None:
    sheet.freeze_panes = f"A{_TOP + 1}"
    sheet.print_title_rows = f"1:{_TOP}"
    set_up_page(sheet, plan.season.paper, plan.season.title)
