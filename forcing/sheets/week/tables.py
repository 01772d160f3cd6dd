"""The tables of the printed task sheet: tasks to tick off, overdue tasks, cautions, places to read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import chain
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Table, TableStyle

from forcing.model import Task
from forcing.sheets.style import ALERT, INK, PAPER, QUIET, RULE, TINT, count, short_date
from forcing.sheets.task_words import ARROW, Whose, route, some, title
from forcing.sheets.week.facts import DayWork, WeekFacts, days_late, total
from forcing.sheets.week.parts import REGULAR, ClassBadge, Heading, Look, NumberDisc, TickBox, WriteLine, safe

CROWDED = 8  # more overdue tasks than this are listed one line each

_GAP = "\u00a0\u00a0 "  # wider than one space, and still a place to break the line

_COMMON = [
    ("FONTNAME", (0, 0), (-1, -1), REGULAR),  # else empty cells would name a font that is not embedded
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
]


def task_columns(look: Look) -> list[float]:
    """Widths of tick, task, lot, class, cultivar, pots, done by [pt]; the cultivar takes what is left."""
    fixed = [look.mm(w) for w in (10.5, 46, 19, 10)]
    tail = [look.mm(w) for w in (15, 23)]
    return [*fixed, look.width - sum(fixed) - sum(tail), *tail]


def label_row(look: Look) -> Any:
    """What the columns of the task tables are, in small type: once before them, and atop each further page."""
    names = ("", "task", "lot", "class", "cultivar, what to look for", "pots", "done by")
    cells = [look.text(n, 7.5, colour=QUIET, align="right" if n == "pots" else "left") for n in names]
    style = [*_COMMON, ("RIGHTPADDING", (5, 0), (5, 0), look.mm(4)), ("TOPPADDING", (0, 0), (-1, 0), look.mm(0.6)),
             ("BOTTOMPADDING", (0, 0), (-1, 0), 0)]  # fmt: skip
    return Table([cells], colWidths=task_columns(look), style=TableStyle(style))


def day_tables(facts: WeekFacts, day: DayWork, look: Look) -> list[Any]:
    """One table a place; the first carries the day's own heading, and both repeat on a further page."""
    name, work = short_date(day.day), day.work.words()
    if len(day.places) == 1:
        place, tasks = day.places[0]
        rows = _task_rows(facts, tasks, look)
        return [_task_table(look, _band(name, work, look, place=safe(place or "")), None, rows)]
    tables = []
    for i, (place, tasks) in enumerate(day.places):
        where = f"<b>{safe(place) if place else _without_place(tasks)}</b>"
        later = where if i == 0 else f"{where}{_GAP}<font color='{QUIET}'>{name}</font>"
        heading = Heading(look.text(where, 9.5), look.text(later, 9.5))
        rows = _task_rows(facts, tasks, look)
        tables.append(_task_table(look, _band(name, work, look) if i == 0 else None, heading, rows))
    return tables


def _without_place(tasks: Sequence[Task]) -> str:
    """What work that names no place is called."""
    kinds = {task.task for task in tasks}
    if kinds == {"pot"}:
        return "Potting"
    return "Ordering" if kinds == {"order"} else "Elsewhere"


def overdue_tables(facts: WeekFacts, look: Look) -> list[Any]:
    """Tasks of earlier weeks that are not done: in full where they are few, a line each where they are many."""
    work = f"{total(facts.overdue).words()} · late as of {short_date(facts.plan.on)}"
    band = _band("OVERDUE", work, look, colour=PAPER)
    if len(facts.overdue) > CROWDED:
        return _crowded(facts, look, band)
    rows = _task_rows(facts, facts.overdue, look, overdue=True)
    return [_task_table(look, band, None, rows, dark=True)]


def _band(name: str, totals: str, look: Look, *, place: str = "", colour: str = INK) -> list[Any]:
    def words(text: str) -> Any:
        small = f"<font size='{11 * look.scale}'>{text}</font>" if text else ""
        return look.text(f"<b>{name}</b>{_GAP}{small}", 13.5, colour=colour)

    again = f"{place}, continued" if place else "continued"
    return [Heading(words(place), words(again)), look.text(totals, 10, colour=colour, align="right")]


def _task_table(
    look: Look, band: list[Any] | None, heading: Any | None, rows: list[list[Any]], dark: bool = False
) -> Any:
    """`band`: the day and its totals; `heading`: the place; both stand again atop a further page."""
    head = [] if band is None else [[band[0], "", "", "", band[1], "", ""]]
    head += [] if heading is None else [[heading, "", "", "", "", "", ""]]
    top = len(head)
    style = [
        *_COMMON,
        ("TOPPADDING", (0, top), (-1, -1), look.mm(1)),
        ("BOTTOMPADDING", (0, top), (-1, -1), look.mm(1.3)),
        ("TOPPADDING", (0, top), (0, -1), look.mm(1.3)),
        ("TOPPADDING", (5, top), (5, -1), look.mm(0.5)),  # larger type on the same base line
        ("LEFTPADDING", (0, top), (0, -1), look.mm(0.5)),
        ("RIGHTPADDING", (1, top), (4, -1), look.mm(2)),
        ("RIGHTPADDING", (5, top), (5, -1), look.mm(4)),
        ("LINEBELOW", (0, top), (-1, -1), 0.5, HexColor(RULE)),
    ]
    style += [("SPAN", (2, i), (4, i)) for i, row in enumerate(rows, start=top) if row[3] == ""]
    if heading is not None:
        style += _heading_style(look, top - 1)
    if band is not None:
        style += _band_style(look, 4, dark)
    table = Table([*head, *rows], colWidths=task_columns(look), repeatRows=top, style=TableStyle(style))
    table.spaceBefore = look.mm(2) if band is not None else 0
    return table


def _heading_style(look: Look, row: int) -> list[Any]:
    return [
        ("SPAN", (0, row), (-1, row)),
        ("BACKGROUND", (0, row), (-1, row), HexColor(TINT)),
        ("TOPPADDING", (0, row), (-1, row), look.mm(0.5)),
        ("BOTTOMPADDING", (0, row), (-1, row), look.mm(0.9)),
        ("LEFTPADDING", (0, row), (0, row), look.mm(1.5)),
    ]


def _band_style(look: Look, split: int, dark: bool) -> list[Any]:
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
    facts: WeekFacts, tasks: Iterable[Task], look: Look, *, overdue: bool = False
) -> list[list[Any]]:
    """A row a task; what to look for stands at the first of each kind and is 'as above' at those that follow."""
    rows, said = [], ""
    for task in tasks:
        again = bool(task.look_for) and task.look_for == said
        rows.append(_task_row(facts, task, look, overdue=overdue, again=again))
        said = task.look_for
    return rows


def _task_row(
    facts: WeekFacts, task: Task, look: Look, *, overdue: bool = False, again: bool = False
) -> list[Any]:
    owner = facts.whose.get(task.lot or "", Whose())
    where = route(task)
    named = [look.text(f"<b>{safe(title(task))}</b>", 10.5)]
    if note := _state_note(facts, task, overdue):
        named.append(look.text(f"<b>{note}</b>", 8.5, colour=ALERT))
    below = [safe(where)] if overdue or ARROW in where else []
    below += [marks] if (marks := caution_marks(facts, task)) else []
    if any(below):
        named.append(look.text(_GAP.join(filter(None, below)), 8.5))
    look_for = f"<font color='{QUIET}'>as above</font>" if again else safe(task.look_for)
    if task.lot:
        about = [look.text(_variety(owner), 10.5), *([look.text(look_for, 9)] if look_for else [])]
        whose = [
            look.text(f"<b>{safe(task.lot)}</b>", 10.5),
            ClassBadge(owner.bloom_class, look.mm(5)),
            about,
        ]
    else:  # work on a place: what to do takes the columns of lot, class and cultivar
        whose = [look.text(look_for, 10.5) if look_for else "", "", ""]
    return [
        TickBox(look.mm(7), ticked=task.state == "done"),
        named,
        *whose,
        look.text(f"<b>{count(task.pots)}</b>", 12, align="right") if task.pots else "",
        WriteLine(task_columns(look)[-1], look.mm(6.6)),
    ]


def _variety(owner: Whose) -> str:
    crop = f"<font color='{QUIET}'>{safe(owner.crop)}</font>" if owner.crop else ""
    if owner.cultivar is None:
        return crop
    return f"{safe(owner.cultivar)}, {crop}" if crop else safe(owner.cultivar)


def caution_marks(facts: WeekFacts, task: Task) -> str:
    """'⚠ 1 3': the numbers of the task's cautions in the box of this sheet."""
    numbers = [str(i) for i, (key, _) in enumerate(facts.cautions, start=1) if key in task.cautions]
    return "⚠\u00a0" + "\u00a0".join(numbers) if numbers else ""


def _state_note(facts: WeekFacts, task: Task, overdue: bool) -> str:
    late = days_late(facts.plan, task)
    by = f"{some(late, 'day')} late" if late > 0 else "overdue"
    if overdue:
        return f"{short_date(task.date)}, {by}"
    return {"overdue": by, "done": "done", "not logged": "not logged"}.get(task.state, "")


# ---------------------------------------------------------------- many overdue tasks


def _crowded(facts: WeekFacts, look: Look, band: list[Any]) -> list[Any]:
    groups: dict[tuple[str, str, str], list[Task]] = {}
    for task in facts.overdue:
        groups.setdefault((title(task), task.look_for, caution_marks(facts, task)), []).append(task)
    tables = []
    for i, ((name, look_for, marks), tasks) in enumerate(groups.items()):
        about = " – ".join([f"<b>{safe(name)}</b>", *([safe(look_for)] if look_for.strip() else [])])
        words = f"{about}{_GAP}{marks}" if marks else about
        again = words if i == 0 else f"{words}  <font color='{QUIET}'>overdue, continued</font>"
        heading = Heading(look.text(words, 9.5), look.text(again, 9.5))
        rows = [_crowded_row(facts, task, look) for task in tasks]
        tables.append(_crowded_table(look, band if i == 0 else None, heading, rows))
    return tables


def _crowded_row(facts: WeekFacts, task: Task, look: Look) -> list[Any]:
    owner = facts.whose.get(task.lot or "", Whose())
    late = days_late(facts.plan, task)
    by = f", <b>{some(late, 'day')} late</b>" if late > 0 else ""
    return [
        TickBox(look.mm(4.5)),
        look.text(f"<b>{safe(task.lot)}</b>", 9) if task.lot else "",
        ClassBadge(owner.bloom_class, look.mm(4)) if task.lot else "",
        look.text(_variety(owner), 9) if task.lot else "",
        look.text(safe(where), 8.5) if (where := route(task)) else "",
        look.text(f"<b>{count(task.pots)}</b>", 9, align="right") if task.pots else "",
        look.text(f"{_day_month(task.date)}{by}", 8.5),
        WriteLine(look.mm(16), look.mm(4.6)),
    ]


def _crowded_table(look: Look, band: list[Any] | None, heading: Any, rows: list[list[Any]]) -> Any:
    fixed = [look.mm(w) for w in (7.5, 18, 7.5)]
    tail = [look.mm(w) for w in (43, 13, 42, 16)]
    widths = [*fixed, look.width - sum(fixed) - sum(tail), *tail]
    head = [] if band is None else [[band[0], "", "", "", band[1], "", "", ""]]
    head.append([heading, *[""] * 7])
    top = len(head)
    style = [
        *_COMMON,
        *_heading_style(look, top - 1),
        ("LEFTPADDING", (0, top), (0, -1), look.mm(0.5)),
        ("RIGHTPADDING", (1, top), (4, -1), look.mm(2)),
        ("RIGHTPADDING", (5, top), (5, -1), look.mm(3)),
        ("TOPPADDING", (0, top), (-1, -1), look.mm(0.9)),
        ("BOTTOMPADDING", (0, top), (-1, -1), look.mm(1)),
        ("LINEBELOW", (0, top), (-1, -1), 0.4, HexColor(RULE)),
        *(("SPAN", (3, i), (4, i)) for i, row in enumerate(rows, start=top) if row[4] == ""),
    ]
    if band is not None:
        style += _band_style(look, 4, dark=True)
    table = Table([*head, *rows], colWidths=widths, repeatRows=top, style=TableStyle(style))
    table.spaceBefore = look.mm(2) if band is not None else 0
    return table


# ---------------------------------------------------------------- cautions and places


def caution_table(cautions: Sequence[tuple[str, str]], look: Look) -> Any:
    """Each hazard once, numbered as in the rows, in as many columns as take the least of the page."""
    tables = [_caution_columns(cautions, look, n) for n in range(1, min(3, len(cautions)) + 1)]
    return min(tables, key=lambda table: table.wrap(look.width, look.mm(1000))[1])


def _caution_columns(cautions: Sequence[tuple[str, str]], look: Look, columns: int) -> Any:
    cells: list[list[Any]] = []
    for number, (_, text) in enumerate(cautions, start=1):
        lead, colon, rest = safe(text).partition(":")
        words = f"<b>{lead}{colon}</b>{rest}" if colon else lead
        cells.append([NumberDisc(number, look.mm(4.6)), look.text(words, 8.2)])
    cells += [["", ""]] * (-len(cells) % columns)
    rows = [list(chain(*cells[i : i + columns])) for i in range(0, len(cells), columns)]
    disc = look.mm(7.5)
    style = [
        *_COMMON,
        ("BOX", (0, 0), (-1, -1), 1.2, HexColor(INK)),
        ("TOPPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        ("BOTTOMPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        *(("LEFTPADDING", (2 * i, 0), (2 * i, -1), look.mm(1.8)) for i in range(columns)),
        *(("RIGHTPADDING", (2 * i + 1, 0), (2 * i + 1, -1), look.mm(2)) for i in range(columns)),
    ]
    return Table(rows, colWidths=[disc, look.width / columns - disc] * columns, style=TableStyle(style))


def room_table(facts: WeekFacts, look: Look) -> Any:
    """Place and set temperature, then low and high of each day to write in; ▲ marks a day of change."""
    days = list(facts.week)
    name = look.mm(47)
    half = (look.width - name) / (2 * len(days))
    head: list[Any] = [look.text("<b>Temperatures</b>", 9)]
    sub: list[Any] = [look.text(f"set: day / night, °{facts.plan.season.unit}", 7.5, colour=QUIET)]
    for day in days:
        head += [look.text(f"<b>{_day_number(day)}</b>", 9, align="centre"), ""]
        sub += [look.text(word, 7.5, colour=QUIET, align="centre") for word in ("low", "high")]
    rows = [head, sub]
    for room in facts.rooms:
        standing = room.settings[: len(room.settings) - len(room.changes)]  # at most one, held from Monday
        lines = [look.text(_GAP.join([f"<b>{safe(room.place)}</b>", *map(safe, standing)]), 9)]
        lines += [look.text(f"<b>▲ {safe(words)}</b>", 8.5) for words in room.settings[len(standing) :]]
        row: list[Any] = [lines]
        for day in days:
            row += [look.text("<b>▲</b>", 7.5) if day in room.changes else "", ""]
        rows.append(row)
    return Table(rows, colWidths=[name, *[half] * (2 * len(days))], repeatRows=2,
                 rowHeights=None, style=TableStyle(_room_style(facts, look, days)))  # fmt: skip


def _room_style(facts: WeekFacts, look: Look, days: list[date]) -> list[Any]:
    style = [
        *_COMMON,
        ("TOPPADDING", (0, 0), (-1, 1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, 1), look.mm(0.5)),
        ("TOPPADDING", (0, 2), (-1, -1), look.mm(1.6)),
        ("BOTTOMPADDING", (0, 2), (-1, -1), look.mm(2)),
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


def _day_month(day: date) -> str:
    return short_date(day).split(maxsplit=1)[1]


def _day_number(day: date) -> str:
    return short_date(day).rsplit(maxsplit=1)[0]
