"""The room plan: for each place, what goes in and out each week, how full it is and what it is set to.

One page where that can be read, else more; two columns of places, and a strip of staff hours below them or behind.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

from forcing.engine.companions import CompanionPlan
from forcing.files import replacing
from forcing.model import Plan
from forcing.sheets.drawing import text as fit
from forcing.sheets.gantt.axis import CAUTION
from forcing.sheets.gantt.sheet import PAPERS
from forcing.sheets.rooms.hours import ALONE, STRIP, draw_hours
from forcing.sheets.rooms.moves import PlaceWeeks, WeekRow, place_weeks
from forcing.sheets.rooms.page import Page, words
from forcing.sheets.rooms.rows import (
    FOOT,
    GUTTER,
    HEAD,
    LABELS,
    MARGIN,
    SMALL,
    Columns,
    Heading,
    Item,
    Row,
    height_of,
    layout,
    pots_text,
)
from forcing.sheets.style import ALERT, INK, PAPER, QUIET, RULE, TINT, count, long_date, short_date
from forcing.sheets.task_words import ARROW


def write_room_plan(
    plan: Plan, folder: Path, *, created: datetime, companions: Sequence[CompanionPlan] = ()
) -> Path:
    """Write `room-plan.pdf` into `folder` and return its path.

    `companions` go in and out with the lots. `created` goes into the file's own dates, so that the same plan gives
    the same bytes. Raises OutputError where the file cannot be written.
    """
    path = folder / "room-plan.pdf"
    content = _print(plan, place_weeks(plan, companions), created)
    with replacing(path) as temporary:
        temporary.write_bytes(content)
    return path


# ---------------------------------------------------------------- drawing


def _print(plan: Plan, blocks: Sequence[PlaceWeeks], created: datetime) -> bytes:
    size = PAPERS[plan.season.paper]
    title = words(plan.season.title) or "Forcing plan"
    columns, flowed, apart = layout(plan, blocks)
    filled = -(-len(flowed) // columns.across)
    pages = filled + int(apart)
    page = Page(size, f"{title}: room plan", created)
    left, right = MARGIN, size[0] - MARGIN
    names = (plan.season.title, *(p.name for p in plan.season.places), *(p.lot.name for p in plan.lots))
    foot = f"{CAUTION} {fit.letters_note(names)}".strip()
    for number in range(pages):
        _draw_head(page, plan, title, left, right, key=number < filled)
        for side, items in enumerate(flowed[columns.across * number : columns.across * (number + 1)]):
            x = left + side * (columns.wide + GUTTER)
            _draw_labels(page, columns, x, MARGIN + HEAD + 6.5)
            _draw_column(page, plan, items, columns, x, MARGIN + HEAD + LABELS)
        if number == filled:
            draw_hours(page, plan, left, MARGIN + HEAD + 4, right, ALONE)
        elif number == 0 and not apart:
            draw_hours(page, plan, left, size[1] - MARGIN - FOOT - STRIP + 4, right)
        _draw_foot(page, foot, left, right, size[1] - MARGIN, f"page {number + 1} of {pages}")
        page.next()
    return page.content()


def _draw_head(page: Page, plan: Plan, title: str, left: float, right: float, *, key: bool) -> None:
    page.text(left, MARGIN + 11, fit.shorten(f"Room plan: {title}", right - left, 14, True), 14, bold=True)
    if not key:
        return
    show = plan.season.span
    said = (
        f"What goes in and out of each place, week by week, as of {long_date(plan.on)}. The show opens "
        f"{long_date(show.start)}. Weeks are ISO weeks with the date of their Monday; the black one is this week."
    )
    page.text(left, MARGIN + 22, fit.shorten(said, right - left, 7.6), 7.6, colour=QUIET)
    marks = (
        f"In and out: lot (pots), {ARROW} where they go. Most pots: 15 cm-pot equivalents on the fullest day, the bar "
        "as part of the place's room;"
    )
    page.text(left, MARGIN + 32.5, marks, 7.2, colour=QUIET)
    x = left + fit.width(marks, 7.2) + 6
    page.box(x, MARGIN + 27, x + 18, MARGIN + 33, fill=PAPER, hatch="/", edge=INK)
    over = fit.shorten("▲ hatched: over it, by so many.", right - x - 22, 7.2, True)
    page.text(x + 22, MARGIN + 32.5, over, 7.2, bold=True)


def _draw_foot(page: Page, said: str, left: float, right: float, y: float, number: str) -> None:
    page.line(((left, y - 9), (right, y - 9)), 0.4, RULE)
    page.text(
        left,
        y,
        fit.shorten(said, right - left - fit.width(number, SMALL) - 12, SMALL),
        SMALL,
        colour=QUIET,
    )
    page.text(right, y, number, SMALL, colour=QUIET, side="right")


def _draw_column(page: Page, plan: Plan, items: Sequence[Item], columns: Columns, x: float, y: float) -> None:
    for item in items:
        if isinstance(item, Heading):
            _draw_heading(page, item, columns, x, y)
        elif isinstance(item, Row):
            _draw_row(page, plan.on, item, columns, x, y)
        else:
            page.text(x, y + columns.leading, item.said, columns.size)
        y += height_of(item, columns)


def _draw_labels(page: Page, columns: Columns, x: float, base: float) -> None:
    page.text(x + 2, base, "Week of", SMALL, colour=QUIET)
    page.text(x + columns.week, base, "What goes in and out", SMALL, colour=QUIET)
    at = x + columns.week + columns.way + columns.moves + columns.pots
    page.text(at - 3, base, "Most pots", SMALL, colour=QUIET, side="right")
    page.text(at + columns.bar, base, "Set to", SMALL, colour=QUIET)


def _draw_heading(page: Page, heading: Heading, columns: Columns, x: float, y: float) -> None:
    place, size = heading.block.place, columns.size
    base = y + 3 + size
    page.box(x, y + 2, x + columns.wide, base + 2.6, fill=TINT)
    page.line(((x, y + 2), (x + columns.wide, y + 2)), 0.8)
    room = "room not stated" if place.pots is None else f"room for {count(place.pots)} pots"
    facts = f"{place.kind}, {room}{', goes on' if heading.again else ''}"
    named = fit.shorten(words(place.name), columns.wide - fit.width(facts, size) - 14, size + 0.6, True)
    page.text(x + 2, base, named, size + 0.6, bold=True)
    page.text(x + columns.wide - 2, base, facts, size, colour=QUIET, side="right")


def _draw_row(page: Page, on: date, row: Row, columns: Columns, x: float, y: float) -> None:
    size, leading = columns.size, columns.leading
    bottom, base = y + height_of(row, columns), y + leading
    page.line(((x, bottom), (x + columns.wide, bottom)), 0.35, RULE)
    _draw_week(page, on, row.week, columns, x, base)
    at, colour = x + columns.week, QUIET if row.week.quiet else INK
    for i, line in enumerate(row.lines):
        for shift, said, bold in line:
            page.text(at + shift, base + i * leading, said, size, bold=bold, colour=colour)
    if row.first:
        at += columns.way + columns.moves
        _draw_load(page, row, columns, at, base)
        page.text(at + columns.pots + columns.bar, base, row.degrees, size)


def _draw_week(page: Page, on: date, week: WeekRow, columns: Columns, x: float, base: float) -> None:
    size, start = columns.size, week.span.start
    number = f"W{start.isocalendar().week:02d}"
    wide = fit.width(number, size, True)
    now = on in week.span
    if now:
        page.box(x, base - size, x + wide + 4, base + 0.28 * size, fill=INK)
    page.text(x + 2, base, number, size, bold=True, colour=PAPER if now else INK)
    page.text(x + 2 + wide + 4, base, short_date(start)[4:], size)


def _draw_load(page: Page, row: Row, columns: Columns, at: float, base: float) -> None:
    size, capacity, pots = columns.size, row.block.place.pots, row.week.fullest
    over = row.block.over(row.week) > 0
    said = pots_text(row.block, row.week)
    page.text(at + columns.pots - 3, base, said, size, bold=over, colour=ALERT if over else INK, side="right")
    if capacity is None:
        return
    left, top, wide = at + columns.pots, base - 0.75 * size, columns.bar - 4
    if over:
        page.box(left, top, left + wide, base, fill=PAPER, hatch="/", edge=INK, thick=1.1)
        return
    part = pots / capacity if capacity > 0 else 0.0
    page.box(left, top, left + wide * min(1.0, part), base, fill="#8c8c8c")
    page.box(left, top, left + wide, base, edge=INK, thick=0.4)
