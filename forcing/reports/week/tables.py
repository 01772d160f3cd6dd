"""The tables of the printed task sheet: tasks to tick off, day by day, and overdue tasks."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from itertools import chain, pairwise
from math import fsum
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Table, TableStyle

from forcing.model import Task
from forcing.reports.draw import text as fit
from forcing.reports.draw.pdf import REGULAR
from forcing.reports.style import ALERT, INK, PAPER, QUIET, RULE, TINT, short_date
from forcing.reports.task_words import CHECKS, TICK, by_stage, route, stages_look, title, way_on
from forcing.reports.week.facts import PART, DayWork, WeekFacts, days_late, whole
from forcing.reports.week.parts import (
    SMALLEST,
    STANDING,
    ClassBadge,
    DayHeading,
    NumberDisc,
    PageLook,
    Ruled,
    TickBox,
    WriteLine,
    safe,
)
from forcing.text import is_called, one_line, some, together

GAP = "\u00a0\u00a0 "  # wider than one space, and still a place to break the line

COMMON = [
    ("FONTNAME", (0, 0), (-1, -1), REGULAR),  # else empty cells would name a font that is not embedded
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
]


def task_columns(look: PageLook) -> list[float]:
    """Widths of tick, task, lot, class, cultivar, pots, done by [pt]; the cultivar takes what is left."""
    fixed = [look.mm(10.5), look.mm(43), look.lots, look.mm(9.5)]
    tail = [look.mm(w) for w in (15, 23)]
    return [*fixed, look.width - sum(fixed) - sum(tail), *tail]


def lots_column(facts: WeekFacts) -> float:
    """Width [pt] of the column of lots: as wide as the longest word of a name on this sheet, within reason."""
    words = {word for lot in facts.lots for word in fit.clean(one_line(lot)).split()}
    longest = max((fit.width(word, STANDING, True) for word in words), default=0.0)
    return float(min(max(20 * mm, longest + 3 * mm), 38 * mm))


def label_row(look: PageLook) -> Any:
    """What the columns of the task tables are, in small type: once before them, and atop each further page."""
    names = ("", "task", "lot", "class", "cultivar, what to look for", "pots", "done by")
    cells = [look.text(n, 7.5, colour=QUIET, align="right" if n == "pots" else "left") for n in names]
    style = [*COMMON, ("RIGHTPADDING", (5, 0), (5, 0), look.mm(4)), ("TOPPADDING", (0, 0), (-1, 0), look.mm(0.6)),
             ("BOTTOMPADDING", (0, 0), (-1, 0), 0)]  # fmt: skip
    return Table([cells], colWidths=task_columns(look), style=TableStyle(style))


def day_tables(facts: WeekFacts, day: DayWork, look: PageLook) -> list[Any]:
    """One table a place; the first carries the day's own heading, every other one names the day beside the place."""
    name, work = short_date(day.day), day.work.words()
    if len(day.places) == 1 and not day.walks:
        place, tasks = day.places[0]
        rows = _task_rows(facts, tasks, look)
        return [_task_table(look, _band(name, work, look, place=safe(place or "")), None, rows)]
    tables = []
    if day.walks:
        tables.append(_task_table(look, _band(name, work, look), None, [_walked_row(day, look)]))
    for place, tasks in day.places:
        where = f"<b>{safe(place) if place else _without_place(tasks)}</b>"
        where += beside(name, look, 9.5, QUIET) if tables else ""
        rows = _task_rows(facts, tasks, look)
        band = None if tables else _band(name, work, look)
        tables.append(_task_table(look, band, look.text(where, 9.5), rows))
    return tables


# What work that names no place is called.
_NAMELESS = {"order": "Ordering", "unpack": "Bulb store", "pot": "Potting"}


def _without_place(tasks: Sequence[Task]) -> str:
    kinds = {task.task for task in tasks}
    if kinds <= _NAMELESS.keys():
        return ", ".join(name for kind, name in _NAMELESS.items() if kind in kinds)
    return "Elsewhere"


def overdue_tables(facts: WeekFacts, look: PageLook) -> list[Any]:
    """Tasks of earlier weeks that are not done, the same work of several lots as one block."""
    band = _band("OVERDUE", facts.late.words(), look, colour=PAPER)
    return [_task_table(look, band, None, _task_rows(facts, facts.overdue, look, overdue=True), dark=True)]


def _walked_row(day: DayWork, look: PageLook) -> list[Any]:
    """Where the walks of a day go: the lots stand in the block of the week."""
    places = ", ".join(safe(task.place or task.to or "elsewhere") for task in day.walks)
    walk, where = (look.text(f"<b>{words}</b>", 11, least=STANDING) for words in ("Walk", places))
    return ["", walk, where, "", "", "", look.text("see above", 9)]


def walk_tables(facts: WeekFacts, look: PageLook) -> list[Any]:
    """The looks of the week as one block: a line a place, a column a day, in it each lot with a box to tick."""
    days = sorted({day for _, looks in facts.walks for day in looks})
    first = look.mm(38)
    each = (look.width - first) / len(days)
    count = f"{some(len(facts.looks), 'look')}: tick, and log the stage"
    band = [look.text(f"<b>Walks of the week</b>{beside(count, look, 10)}", 13.5), *[""] * len(days)]
    head = ["", *(look.text(f"<b>{short_date(day)}</b>", 11, least=STANDING) for day in days)]
    rows: list[list[Any]] = [
        [look.text(f"<b>{safe(place or 'Elsewhere')}</b>", 11, least=STANDING)]
        + [_walk_cell(facts, looks.get(day, ()), look) for day in days]
        for place, looks in facts.walks
    ]
    sign = [
        look.text("done by", 7.5, colour=QUIET),
        *(WriteLine(each - look.mm(4), look.mm(6.6)) for _ in days),
    ]
    overdue = chain.from_iterable(facts.overtaken.values())
    said = [
        look.text(f"<b>{stage.capitalize()}:</b> {safe(words, _NAMES)}", 9)
        for stage, words in stages_look((*facts.looks, *overdue), facts.whose) if words
    ]  # fmt: skip
    table = Table(
        [band, head, *rows, sign], colWidths=[first, *[each] * len(days)], repeatRows=2, splitByRow=0,
        splitInRow=look.mm(25), style=TableStyle([*COMMON, *_walk_style(look, len(rows))]),
    )  # fmt: skip
    table.spaceBefore = look.mm(2)
    return [table, *said]


def _walk_cell(facts: WeekFacts, looks: Sequence[Task], look: PageLook) -> list[Any]:
    """The lots of a place on a day, stage by stage, each with its box and what of it is overdue."""
    cells = []
    for stage, mine in by_stage(looks):
        lots = " ".join(
            f"{TICK}\u00a0{safe(task.lot or '')}{_overdue_looks(facts, task, look)}" for task in mine
        )
        small = f"<font size='{look.points(9)}'>{stage}</font>"
        cells.append(look.text(f"{small} <b>{lots}</b>", 11, least=STANDING))
    return cells


def _overdue_looks(facts: WeekFacts, task: Task, look: PageLook) -> str:
    late = (
        (stage, some(days_late(facts.plan, task), "day"))
        for stage, looks in by_stage(facts.overtaken.get(task.key, ())) for task in looks
    )  # fmt: skip
    said = ", ".join(f"{stage} {days} late" for stage, days in late)
    return beside(f"({said})" if said else "", look, 8.5, ALERT)


def _walk_style(look: PageLook, rows: int) -> list[Any]:
    return [
        ("SPAN", (0, 0), (-1, 0)),
        ("LINEABOVE", (0, 0), (-1, 0), 1.6, HexColor(INK)),
        ("TOPPADDING", (0, 0), (-1, -1), look.mm(0.6)),
        ("BOTTOMPADDING", (0, 0), (-1, -1), look.mm(1)),
        ("RIGHTPADDING", (0, 0), (-1, -1), look.mm(1.5)),
        ("LEFTPADDING", (1, 1), (-1, -1), look.mm(1.2)),
        ("LINEBEFORE", (1, 1), (-1, -1), 0.6, HexColor(QUIET)),
        ("LINEABOVE", (0, 2), (-1, -1), 0.6, HexColor(QUIET)),
        ("NOSPLIT", (0, rows + 1), (-1, rows + 2)),
    ]


def _band(name: str, totals: str, look: PageLook, *, place: str = "", colour: str = INK) -> list[Any]:
    def words(text: str) -> Any:
        small = f"<font size='{11 * look.scale}'>{text}</font>" if text else ""
        return look.text(f"<b>{name}</b>{GAP}{small}", 13.5, colour=colour)

    again = f"{place}, continued" if place else "continued"
    return [DayHeading(words(place), words(again)), look.text(totals, 10, colour=colour, align="right")]


def _task_table(
    look: PageLook, band: list[Any] | None, heading: Any | None, rows: list[list[Any]], dark: bool = False
) -> Any:
    style = [
        ("TOPPADDING", 0, -1, look.mm(1)),
        ("BOTTOMPADDING", 0, -1, look.mm(1.3)),
        ("TOPPADDING", 0, 0, look.mm(1.3)),
        ("TOPPADDING", 5, 5, look.mm(0.95)),  # larger type on the same base line
        ("RIGHTPADDING", 5, 5, look.mm(4)),
        ("LINEBELOW", 0, -1, 0.5, HexColor(RULE)),
    ]
    lines = [i for i, row in enumerate(rows) if len(row) == 1]
    spans = [
        ("SPAN", (2, i), (4, i)) for i, row in enumerate(rows) if len(row) > 1 and row[3] == row[4] == ""
    ]
    spans += [("SPAN", (0, i), (-1, i)) for i in lines]
    close = [(f"{side}PADDING", (0, i), (-1, i), look.mm(0.6)) for i in lines for side in ("TOP", "BOTTOM")]
    kept = [
        ("NOSPLIT", (0, i - 1), (-1, i)) for i in lines if i - 1 not in lines
    ]  # the first with what to do
    blank = [""] * 6
    whole_rows = [row if len(row) > 1 else [*row, *blank] for row in rows]
    return _headed_table(
        look, band, heading, whole_rows, task_columns(look), style, [*spans, *close, *kept], dark
    )


def _headed_table(
    look: PageLook, band: list[Any] | None, heading: Any | None, rows: list[list[Any]], widths: list[float],
    style: Sequence[tuple[Any, ...]], spans: Iterable[tuple[Any, ...]], dark: bool,
) -> Any:  # fmt: skip
    """`band`: the day and its totals; `heading`: the place; both stand again atop a further page.

    `style`: what holds for columns, from the first to the last, of the rows; `spans` of single rows count from 0.
    """
    blank = [""] * len(widths)
    head = [] if band is None else [[band[0], "", "", "", band[1], *blank[5:]]]
    head += [] if heading is None else [[heading, *blank[1:]]]
    top = len(head)
    below = (*style, ("LEFTPADDING", 0, 0, look.mm(0.5)), ("RIGHTPADDING", 1, 4, look.mm(2)))
    commands = [*COMMON, *((name, (a, top), (b, -1), *values) for name, a, b, *values in below)]
    commands += [(name, (a, i + top), (b, j + top), *values) for name, (a, i), (b, j), *values in spans]
    if heading is not None:
        commands += _heading_style(look, top - 1)
    if band is not None:
        commands += _band_style(look, 4, dark)
    table = Table([*head, *rows], colWidths=widths, repeatRows=top, style=TableStyle(commands))
    table.spaceBefore = look.mm(2) if band is not None else 0
    return table


def _heading_style(look: PageLook, row: int) -> list[Any]:
    return [
        ("SPAN", (0, row), (-1, row)),
        ("BACKGROUND", (0, row), (-1, row), HexColor(TINT)),
        ("TOPPADDING", (0, row), (-1, row), look.mm(0.5)),
        ("BOTTOMPADDING", (0, row), (-1, row), look.mm(0.9)),
        ("LEFTPADDING", (0, row), (0, row), look.mm(1.5)),
    ]


def _band_style(look: PageLook, split: int, dark: bool) -> list[Any]:
    """The heading of a day in row 0: name left of column `split`, totals from there on."""
    style = [
        ("SPAN", (0, 0), (split - 1, 0)),
        ("SPAN", (split, 0), (-1, 0)),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("TOPPADDING", (0, 0), (-1, 0), look.mm(0.4)),
        ("BOTTOMPADDING", (0, 0), (-1, 0), look.mm(1)),
        ("BOTTOMPADDING", (split, 0), (split, 0), look.mm(1.27)),  # smaller type on the same base line
        ("RIGHTPADDING", (split, 0), (split, 0), look.mm(1.5) if dark else 0),
    ]
    if dark:
        return [*style, ("BACKGROUND", (0, 0), (-1, 0), HexColor(ALERT)),
                ("LEFTPADDING", (0, 0), (0, 0), look.mm(1.5))]  # fmt: skip
    return [*style, ("LINEABOVE", (0, 0), (-1, 0), 1.6, HexColor(INK))]


def _task_rows(
    facts: WeekFacts, tasks: Iterable[Task], look: PageLook, *, overdue: bool = False
) -> list[list[Any]]:
    """A row a task; the same work of several lots is one block, its instruction said once; what is done comes last."""
    open_work: dict[tuple[object, ...], list[Task]] = {}
    done: dict[tuple[str, str], list[Task]] = {}
    for task in tasks:
        if task.state == "done":
            name = "Stage checks" if task.task in CHECKS else title(task)
            done.setdefault((name, way_on(task)), []).append(task)
        else:
            way = None if overdue else way_on(task)
            open_work.setdefault((title(task), task.look_for, task.cautions, way, bool(task.lot)), []).append(
                task
            )
    rows: list[list[Any]] = []
    for alike in open_work.values():
        if alike[0].lot and len(alike) > (1 if _to_look_for(facts, alike[0]) else 2):
            rows += _block_rows(facts, alike, look, overdue=overdue)
        else:
            rows += [_task_row(facts, task, look, overdue=overdue) for task in alike]
    return [*rows, *(_done_row(name, alike, look) for (name, _), alike in done.items())]


def _task_row(facts: WeekFacts, task: Task, look: PageLook, *, overdue: bool = False) -> list[Any]:
    where = route(task) if overdue else way_on(task)
    named = [_named(facts, task, look)]
    if note := _state_note(facts, task, overdue):
        named.append(look.text(note, 8.5, colour=ALERT))
    if where:
        named.append(look.text(safe(where), 9))
    said = _to_look_for(facts, task)
    if task.lot:
        about = [look.text(_variety(facts, task), 10.5, least=10.5)]
        whose = [*_lot_cells(facts, task, look), [*about, *([look.text(said, 9)] if said else [])]]
    else:  # work on a place: what to do takes the columns of lot, class and cultivar
        lots = f"<b>{safe(', '.join(facts.rounds.get(task.key, ())), _NAMES)}</b>"
        whole_place = [look.text(lots, 11, least=STANDING)] if task.key in facts.rounds else []
        whose = [[*whole_place, *([look.text(said, 10.5)] if said else [])] or "", "", ""]
    return [
        TickBox(look.mm(7)),
        named,
        *whose,
        _count(facts, task, look, 12),
        WriteLine(task_columns(look)[-1], look.mm(6.6)),
    ]


def _count(facts: WeekFacts, task: Task, look: PageLook, size: float) -> Any:
    """How many pots, and below that the word where they are boxes."""
    if not task.pots:
        return ""
    count = look.text(f"<b>{whole(task.pots)}</b>", size, align="right", least=size)
    return [count, look.text("boxes", 7.5, align="right")] if facts.whose_is(task).in_boxes else count


def _to_look_for(facts: WeekFacts, task: Task) -> str:
    """What to look for, without what stands before the first task."""
    said = facts.often.get(task.task)
    return "" if said == task.look_for else safe(task.look_for.removesuffix(f"{PART}{said}"))


def _named(facts: WeekFacts, task: Task, look: PageLook) -> Any:
    marks = beside(caution_marks(facts, task.cautions), look, 9)
    return look.text(f"<b>{safe(title(task))}</b>{marks}", 11, least=STANDING)


def _block_rows(facts: WeekFacts, alike: Sequence[Task], look: PageLook, *, overdue: bool) -> list[list[Any]]:
    """What to do, once; then the lots, two to a line where there is room, each line naming the work.

    A further page may begin at any line: one that does not name the work would point at nothing.
    """
    first = alike[0]
    named = [_named(facts, first, look)]
    if not overdue and (where := way_on(first)):
        named.append(look.text(safe(where), 9))
    said = _to_look_for(facts, first)
    count = look.text(f"{len(alike)} lots", 9, colour=QUIET, align="right")
    head = [
        "",
        named,
        look.text(said, 10.5) if said else "",
        "",
        "",
        count,
        WriteLine(task_columns(look)[-1], look.mm(6.6)),
    ]
    across = 1 if overdue or look.lots > look.mm(_WIDE_NAMES) else 2
    lines = [alike[i : i + across] for i in range(0, len(alike), across)]
    return [head, *([_line(facts, line, look, across, overdue=overdue)] for line in lines)]


_NAMES = 3000  # characters of the lots of one round
_WIDE_NAMES = 24  # mm: names of lots wider than this stand one to a line


def _line(facts: WeekFacts, tasks: Sequence[Task], look: PageLook, across: int, *, overdue: bool) -> Any:
    work = 19 * mm  # its type has the least size at every scale
    tick, badge, pots = (look.mm(w) for w in (7, 6.2, 11))
    late = look.mm(76) if overdue else 0.0
    cultivar = (look.width - work) / across - tick - look.lots - badge - late - pots
    cells: list[Any] = [look.text(safe(title(tasks[0])), SMALLEST, colour=QUIET)]
    for task in tasks:
        note = _state_note(facts, task, overdue)
        about = _variety(facts, task) + ("" if overdue else beside(note, look, 8.5, ALERT))
        where = f"{safe(route(task))}{beside(note, look, 8.5, ALERT)}"
        cells += [TickBox(look.mm(5.2)), *_lot_cells(facts, task, look), look.text(about, 9)]
        cells += [look.text(where, 8.5)] if overdue else []
        cells += [_count(facts, task, look, 11)]
    widths = [tick, look.lots, badge, cultivar, *([late] if overdue else []), pots]
    cells += [""] * (1 + across * len(widths) - len(cells))
    ends = [end for end in (len(widths), 2 * len(widths)) if end < len(cells)]
    style = [
        *COMMON,
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (0, 0), look.mm(0.9)),  # smaller type on the same base line
        ("RIGHTPADDING", (0, 0), (-1, -1), look.mm(1)),
        *(("RIGHTPADDING", (end, 0), (end, 0), look.mm(4)) for end in ends),
    ]
    return Table([cells], colWidths=[work, *widths * across], style=TableStyle(style))


def _done_row(name: str, alike: Sequence[Task], look: PageLook) -> list[Any]:
    """What is done already, on one line: ticked, its lots named, and nothing left to look for or to sign."""
    words = look.text(f"{safe(name)}{beside('done', look, 9)}", 11, least=STANDING)
    names = ", ".join(dict.fromkeys(safe(task.lot) for task in alike if task.lot))
    pots = 0.0 if alike[0].task in CHECKS else fsum(task.pots for task in alike)
    count = look.text(whole(pots), 12, align="right", least=12) if pots else ""
    return [
        TickBox(look.mm(4.8), ticked=True),
        words,
        look.text(names, 11, least=STANDING),
        "",
        "",
        count,
        "",
    ]


def _lot_cells(facts: WeekFacts, task: Task, look: PageLook) -> list[Any]:
    owner = facts.whose_is(task)
    name = look.text(f"<b>{safe(task.lot or '')}</b>", 11, least=STANDING)
    return [name, ClassBadge(owner.bloom_class, look.mm(4.8)) if owner.bloom_class else ""]


def beside(words: str, look: PageLook, size: float, colour: str = INK, least: float = SMALLEST) -> str:
    """Words in a type of their own behind others of the same line."""
    points = look.points(size, least)
    return f"{GAP}<font size='{points}' color='{colour}'>{words}</font>" if words else ""


def _variety(facts: WeekFacts, task: Task) -> str:
    owner = facts.whose_is(task)
    said = owner.crop if owner.crop and not is_called(task.lot or "", owner.crop) else None
    crop = f"<font color='{QUIET}'>{safe(said)}</font>" if said else ""
    if owner.cultivar is None:
        return crop
    return f"{safe(owner.cultivar)}, {crop}" if crop else safe(owner.cultivar)


def caution_marks(facts: WeekFacts, keys: Collection[str]) -> str:
    """'⚠ 1 3': the numbers of cautions in the box of this sheet."""
    numbers = [str(i) for i, (key, _) in enumerate(facts.cautions, start=1) if key in keys]
    return "⚠\u00a0" + "\u00a0".join(numbers) if numbers else ""


def _state_note(facts: WeekFacts, task: Task, overdue: bool) -> str:
    late = days_late(facts.plan, task)
    by = f"{some(late, 'day')} late" if late > 0 else "overdue"
    if overdue:
        return f"{together(short_date(task.date))}, <b>{together(by)}</b>"
    return {"overdue": f"<b>{by}</b>", "not logged": "<b>not logged</b>"}.get(task.state, "")


def caution_table(cautions: Sequence[tuple[str, str]], look: PageLook) -> Any:
    """Each hazard once, numbered as in the rows, in as many columns as take the least of the page."""
    tables = [_caution_columns(cautions, look, n) for n in range(1, min(3, len(cautions)) + 1)]
    return min(tables, key=lambda table: table.wrap(look.width, look.mm(1000))[1])


def _caution_columns(cautions: Sequence[tuple[str, str]], look: PageLook, columns: int) -> Any:
    cells: list[list[Any]] = []
    for n, (_, text) in enumerate(cautions, start=1):
        lead, colon, rest = safe(text).partition(":")
        words = f"<b>{lead}{colon}</b>{rest}" if colon else lead
        cells.append([NumberDisc(n, look.mm(4.6)), look.text(words, 9)])
    cells += [["", ""]] * (-len(cells) % columns)
    rows = [list(chain(*cells[i : i + columns])) for i in range(0, len(cells), columns)]
    disc = look.mm(7.5)
    style = [
        *COMMON,
        ("BOX", (0, 0), (-1, -1), 1.2, HexColor(INK)),
        ("TOPPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        ("BOTTOMPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        *(("LEFTPADDING", (2 * i, 0), (2 * i, -1), look.mm(1.8)) for i in range(columns)),
        *(("RIGHTPADDING", (2 * i + 1, 0), (2 * i + 1, -1), look.mm(2)) for i in range(columns)),
    ]
    return Table(rows, colWidths=[disc, look.width / columns - disc] * columns, style=TableStyle(style))


def room_table(facts: WeekFacts, look: PageLook) -> Any:
    """Place and set temperature, then low and high of each day to write in; ▲ marks a day of change."""
    days = list(facts.week)
    name = look.mm(53)
    half = (look.width - name) / (2 * len(days))
    head: list[Any] = [look.text("<b>Temperatures</b>", 9)]
    sub: list[Any] = [look.text(f"set: day / night, °{facts.plan.season.unit}", 7.5, colour=QUIET)]
    for day in days:
        head += [look.text(f"<b>{_day_number(day)}</b>", 9, align="centre"), ""]
        sub += [look.text(word, 7.5, colour=QUIET, align="centre") for word in ("low", "high")]
    rows = [head, sub]
    for room in facts.rooms:
        standing = room.settings[: len(room.settings) - len(room.changes)]  # at most one, held from Monday
        held = "".join(_held(safe(said), look) for said in standing)
        lines = [look.text(f"<b>{safe(room.place)}</b>{held}", 9)]
        lines += [look.text(f"<b>▲ {safe(words)}</b>", 9) for words in room.settings[len(standing) :]]
        row: list[Any] = [lines]
        for day in days:
            row += [look.text("<b>▲</b>", 7.5) if day in room.changes else "", ""]
        rows.append(row)
    return Table(rows, colWidths=[name, *[half] * (2 * len(days))], repeatRows=2,
                 rowHeights=None, style=TableStyle(_room_style(facts, look, days)))  # fmt: skip


def _held(setting: str, look: PageLook) -> str:
    """A set temperature in figures to be read standing; words ('outdoors') in small."""
    whole = together(setting)
    return (
        beside(f"<b>{whole}</b>", look, 11, least=STANDING)
        if any(map(str.isdigit, setting))
        else beside(whole, look, 9, QUIET)
    )


def _room_style(facts: WeekFacts, look: PageLook, days: list[date]) -> list[Any]:
    style = [
        *COMMON,
        ("TOPPADDING", (0, 0), (-1, 1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, 1), look.mm(0.5)),
        ("TOPPADDING", (0, 2), (-1, -1), look.mm(1.2)),
        ("BOTTOMPADDING", (0, 2), (-1, -1), look.mm(1.6)),
        ("RIGHTPADDING", (0, 0), (0, -1), look.mm(2)),
        ("LEFTPADDING", (1, 2), (-1, -1), look.mm(0.8)),
        ("LINEABOVE", (0, 2), (-1, 2), 0.9, HexColor(INK)),
        ("LINEBELOW", (0, 2), (-1, -1), 0.6, HexColor(QUIET)),
    ]
    for i, day in enumerate(days):
        left = 1 + 2 * i
        style += [
            ("SPAN", (left, 0), (left + 1, 0)),
            ("LINEBEFORE", (left, 0), (left, -1), 0.6, HexColor(QUIET)),
            ("LINEBEFORE", (left + 1, 2), (left + 1, -1), 0.4, HexColor(RULE)),
        ]
        if not facts.plan.season.calendar.works(day):
            style.append(("BACKGROUND", (left, 0), (left + 1, -1), HexColor(TINT)))
    style.append(("LINEAFTER", (-1, 0), (-1, -1), 0.6, HexColor(QUIET)))
    return style


_LOG = (
    (0.0, "day"),
    (0.1, "lot or place"),
    (0.3, "event, stage or count"),
    (0.56, "pots"),
    (0.65, "note"),
    (0.9, "who"),
)


def write_in(look: PageLook) -> list[Any]:
    """Lines to write counts, stages and notes on, in the columns of the season's log."""
    edges = [edge for edge, _ in _LOG]
    widths = [look.width * (after - edge) for edge, after in pairwise((*edges, 1.0))]
    pad = look.mm(1)
    names = Table([[look.text(name, 7.5, colour=QUIET) for _, name in _LOG]], colWidths=widths)
    names.setStyle(TableStyle([
        *COMMON, ("LEFTPADDING", (1, 0), (-1, 0), pad), ("TOPPADDING", (0, 0), (-1, 0), pad),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 0),
    ]))  # fmt: skip
    lead = "<b>Counts and notes</b>  What is written here goes into the log."
    return [look.text(lead, 9.5), names, Ruled(look.mm(8), 2, 14, edges)]


def _day_number(day: date) -> str:
    return short_date(day).rsplit(maxsplit=1)[0]
