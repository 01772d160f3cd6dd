"""The entry workbook of a week: what is expected to happen, to be ticked, and a grid of readings to be filled in.

It is dropped into the log folder as it is; season/log_folder.py reads it. Headers are words that both know.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.worksheet.datavalidation import DataValidation

from forcing.dates import DAY, WEEK, YEARS, Span, iso_week, monday
from forcing.engine.work.rules import RULES
from forcing.engine.work.tasks import events_logged
from forcing.model import STAGE_EVENTS, Event, LotPlan, Plan
from forcing.reports.style import long_date
from forcing.reports.workbook.cells import DAY_LOOK, NUMBER, TEXT
from forcing.reports.workbook.table import ListColumn, set_up_page, write_table
from forcing.text import natural
from forcing.xlsx import Pen, write_xlsx

# The event of the log that shows each kind of work done; bulbs are ordered and swapped without one.
LOGGED_AS = {kind: rule.proof for kind, rule in RULES.items() if rule.proof and kind not in ("order", "swap")}
LATE = 14  # days for which a bloom that was expected and is not logged is asked after; practice, no source

_FILL = TEXT.but(edge="grid")
_COLUMNS = (
    ListColumn("done", _FILL.but(align="center"), arrow=False), ListColumn("lot", TEXT.but(bold=True), arrow=False),
    ListColumn("cultivar", TEXT, 110, arrow=False), ListColumn("event", TEXT, arrow=False),
    ListColumn("expected", DAY_LOOK, arrow=False), ListColumn("place", TEXT, 120, arrow=False),
    ListColumn("pots", NUMBER, arrow=False), ListColumn("done on", DAY_LOOK.but(edge="grid"), arrow=False),
    ListColumn("stage seen", _FILL, arrow=False), ListColumn("pots lost", NUMBER.but(edge="grid"), arrow=False),
    ListColumn("note", _FILL, arrow=False),
)  # fmt: skip
_WIDTHS = {
    "done on": 17.0,
    "stage seen": 11.0,
    "note": 30.0,
}  # of columns that are empty when they are written
_HOW = (
    ("events", "Put any mark under done where it was done on the day expected; on another day, write that day under "
               "done on. Of a stage: the mark says that it was seen; where another was, write that one under stage "
               "seen, or looked where there was none. Leave what has not happened as it is."),
    ("pots", "Where only some of the pots went, correct the number: the rest is then a lot of its own."),
    ("pots lost", "Pots thrown out, whether or not the row is ticked."),
    ("more", "Rows of your own may follow: lot, event and the day under done on."),
    ("readings", "Low and high of each place and day. Leave empty what was not read."),
    ("then", "Save it, as .xlsx, into the folder log beside the season, and run: forcing week"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ExpectedEvent:
    """Something that is to be logged in a week, or should have been before. `place`: where the lot goes, or is."""

    lot: LotPlan
    event: Event
    day: date
    place: str | None
    pots: int


def expected_events(plan: Plan, week: Span) -> tuple[ExpectedEvent, ...]:
    """What is to be logged of each lot in a week, or is overdue, in order of day, place and lot.

    Of stages the next one of each lot alone: a later one that was seen stands for those before it.
    """
    logged = events_logged(plan.season.log, plan.on)
    lots = {planned.lot.name: planned for planned in plan.lots}
    unkept = {finding.lot for finding in plan.findings if finding.code == "log-not-kept"}
    found = [
        ExpectedEvent(lots[task.lot], LOGGED_AS[task.task], task.date, task.to or task.place, round(task.pots))
        for task in plan.tasks
        if task.lot in lots and task.task in LOGGED_AS
        and (task.date in week if task.state in ("planned", "due") else task.state == "overdue"
             or (task.state == "not logged" and task.lot in unkept and RULES[task.task].expected))
    ]  # fmt: skip
    for name, planned in lots.items():
        ends = {"bloom": planned.bloom, "faded": planned.fade}
        for event, day in ends.items():
            first = week.start - LATE * DAY
            if (
                day is not None
                and first <= day < week.end
                and event not in logged.get(name, ())
                and planned.lot.pots
            ):
                place = planned.place_on(day) or planned.steps[-1].place
                found.append(ExpectedEvent(planned, event, day, place, planned.lot.pots))  # type: ignore[arg-type]
    found.sort(key=lambda e: (e.day, e.place or "", natural(e.lot.lot.name)))
    return tuple(_next_stage_alone(found))


def _next_stage_alone(events: Sequence[ExpectedEvent]) -> Iterator[ExpectedEvent]:
    seen: set[str] = set()
    for expected in events:
        name = expected.lot.lot.name
        if expected.event in STAGE_EVENTS:
            if name in seen:
                continue
            seen.add(name)
        yield expected


def places_in_use(plan: Plan, week: Span) -> tuple[str, ...]:
    """The places in which pots stand on some day of a week, in the season's order; none is once it is cleared."""
    cleared: dict[str | None, date] = {}
    for task in plan.tasks:
        if task.task == "clear":
            cleared[task.place] = max(task.date, cleared.get(task.place, task.date))
    used = {
        load.place
        for load in plan.loads
        if week.start <= cleared.get(load.place, week.start)
        and any(load.pots[i] for day in week if 0 <= (i := (day - load.start).days) < len(load.pots))
    }
    return tuple(place.name for place in plan.season.places if place.name in used)


def write_entry(plan: Plan, folder: Path, *, created: datetime) -> Path:
    """Write entry-2026-W45.xlsx for the ISO week of the day that the plan is seen from; gives its path.

    `created` (zoned, or taken as UTC) is stamped on the file. Raises OutputError where it cannot be written.
    """
    week = Span(monday(plan.on), monday(plan.on) + WEEK)
    book = Workbook()
    pen, name = Pen(book), iso_week(week.start)
    title = f"{plan.season.title}, {name}"
    for sheet, write in ((book.active, _write_events), (book.create_sheet("readings"), _write_readings)):
        write(pen, sheet, plan, week)
        set_up_page(sheet, plan.season.paper, title)
        sheet.print_title_rows = "1:1"
    how = book.create_sheet("Read me")
    _write_how(pen, how, title)
    set_up_page(how, plan.season.paper, title)
    return write_xlsx(book, folder / f"entry-{name}.xlsx", title=title, created=created)


def _write_events(pen: Pen, sheet: Any, plan: Plan, week: Span) -> None:
    sheet.title = "events"
    rows = [
        (None, e.lot.lot.name, e.lot.lot.cultivar or e.lot.lot.crop, e.event, e.day, e.place, e.pots, None, None, None,
         None)
        for e in expected_events(plan, week)
    ]  # fmt: skip
    after = write_table(pen, sheet, 1, _COLUMNS, rows)
    letters = {column.title: chr(ord("A") + i) for i, column in enumerate(_COLUMNS)}
    for heading, width in _WIDTHS.items():
        sheet.column_dimensions[letters[heading]].width = width
    sheet.freeze_panes = "C2"
    last = max(after, 2) + 50  # rows of the grower's own may follow
    ends = [f"DATE({year},{month},{day})" for year, month, day in ((YEARS[0], 1, 1), (YEARS[1], 12, 31))]
    stages = DataValidation("list", formula1=f'"{",".join((*STAGE_EVENTS, "looked"))}"', allow_blank=True)
    days = DataValidation("date", operator="between", formula1=ends[0], formula2=ends[1], allow_blank=True)
    counts = DataValidation("whole", operator="between", formula1="0", formula2="10000000", allow_blank=True)
    for rule, heading in ((stages, "stage seen"), (days, "done on"), (counts, "pots lost")):
        rule.add(f"{letters[heading]}2:{letters[heading]}{last}")
        sheet.add_data_validation(rule)


def _write_readings(pen: Pen, sheet: Any, plan: Plan, week: Span) -> None:
    temperature = NUMBER.but(number="General", edge="grid")
    columns = [ListColumn("place", TEXT.but(bold=True), arrow=False)]
    columns += [
        ListColumn(f"{long_date(day)} {end} °{plan.season.unit}", temperature, arrow=False)
        for day in week
        for end in ("low", "high")
    ]
    rows = [(place, *(None for _ in columns[1:])) for place in places_in_use(plan, week)]
    write_table(pen, sheet, 1, columns, rows)
    sheet.row_dimensions[1].height = 55
    sheet.freeze_panes = "B2"


def _write_how(pen: Pen, sheet: Any, title: str) -> None:
    pen.put(sheet, 1, 1, title, TEXT.but(bold=True, size=14, wrap=False, edge=""))
    for row, (name, words) in enumerate(_HOW, start=3):
        pen.put(sheet, row, 1, name, TEXT.but(bold=True, up="top"))
        pen.put(sheet, row, 2, words, TEXT)
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 12, 90
    for row in range(3, 3 + len(_HOW)):
        sheet.row_dimensions[row].height = 14 * -(-len(_HOW[row - 3][1]) // 85) + 4
