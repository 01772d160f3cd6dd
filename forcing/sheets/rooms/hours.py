"""The strip of staff hours under the room plan: a bar a week, stacked by kind of task, against the hours there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from forcing.dates import DAY, Span, monday, weeks_of
from forcing.model import Plan
from forcing.sheets.drawing import text as fit
from forcing.sheets.rooms.page import Page, words
from forcing.sheets.style import ALERT, INK, PAPER, QUIET, RULE, count, short_date

STRIP, ALONE = 88.0, 320.0  # height of the strip below the places, and on a page of its own [pt]
SMALL = 6.5
OTHER = "all other"
# Fill and hatch of a kind of task, the kind with most hours first: no two alike in grey.
_MARKS = (
    ("#595959", ""),
    ("#f0e442", "/"),
    (PAPER, "\\"),
    ("#a6d4f2", ""),
    (PAPER, "x"),
    ("#cc79a7", "-"),
)
_OTHER_MARK = (PAPER, "|")
_LEFT, _RIGHT = 30.0, 62.0  # room for the scale and for the words of the limit


@dataclass(frozen=True, slots=True)
class Hours:
    """Staff hours: kind of task -> Monday -> hours, the kind with most hours first; `weeks` without a gap."""

    weeks: tuple[date, ...]
    kinds: Mapping[str, Mapping[date, float]]
    limit: float | None

    def total(self, week: date) -> float:
        return sum(by_week.get(week, 0.0) for by_week in self.kinds.values())

    def over(self, week: date) -> bool:
        return self.limit is not None and self.total(week) > self.limit + 1e-6


def hours_of(plan: Plan) -> Hours:
    """The hours of every task of a plan by kind; beyond six kinds the least are one kind."""
    found: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for task in plan.tasks:
        if task.hours > 0:
            found[task.task][monday(task.date)] += task.hours
    order = sorted(found, key=lambda kind: (-sum(found[kind].values()), kind))
    kinds: dict[str, Mapping[date, float]] = {}
    most = len(_MARKS)
    for kind in order[: most if len(order) > most + 1 else most + 1]:
        kinds[kind] = dict(found[kind])
    rest: dict[date, float] = defaultdict(float)
    for kind in order[len(kinds) :]:
        for week, hours in found[kind].items():
            rest[week] += hours
    if rest:
        kinds[OTHER] = dict(rest)
    days = [week for by_week in kinds.values() for week in by_week]
    weeks = weeks_of(Span(min(days), max(days) + DAY)) if days else ()
    return Hours(weeks, kinds, plan.season.hours_per_week)


def draw_hours(page: Page, plan: Plan, left: float, top: float, right: float, tall: float = STRIP) -> None:
    """The strip, `tall` high, from `top` down."""
    hours = hours_of(plan)
    page.line(((left, top + 1), (right, top + 1)), 0.8)
    page.text(left, top + 11, "Staff hours a week", 9, bold=True)
    x = left + fit.width("Staff hours a week", 9, True) + 10
    page.text(x, top + 11, fit.shorten(_facts(hours), right - x, SMALL + 0.4), SMALL + 0.4, colour=QUIET)
    if not hours.weeks:
        return
    _draw_key(page, hours, left, top + 22, right)
    base, plot = top + tall - 24, tall - 24 - 37
    start, step = left + _LEFT, (right - _RIGHT - left - _LEFT) / len(hours.weeks)
    tallest = max(*(hours.total(week) for week in hours.weeks), hours.limit or 0.0, 1e-9)
    end = start + step * len(hours.weeks)
    for i, week in enumerate(hours.weeks):
        _draw_bar(page, hours, week, start + i * step, step, base, plot / tallest)
    page.line(((start, base), (end, base)), 0.6)
    page.text(start - 4, base, "0", SMALL, colour=QUIET, side="right")
    page.text(start - 4, base - plot + 3, f"{count(round(tallest, 1))} h", SMALL, colour=QUIET, side="right")
    if hours.limit is not None:
        level = base - hours.limit * plot / tallest
        page.line(((start, level), (end, level)), 1.1, dashes=(4, 2))
        said = fit.shorten(f"{count(hours.limit)} hours", _RIGHT - 5, SMALL, True)
        page.text(end + 4, level + 2.4, said, SMALL, bold=True)
    for i, week in enumerate(hours.weeks):
        _write_total(page, hours, week, start + i * step, step, base, plot / tallest)
    _draw_weeks(page, hours, start, step, base)


def _facts(hours: Hours) -> str:
    if not hours.weeks:
        return "There is no work: no lot is planned."
    said = (
        "no limit is stated"
        if hours.limit is None
        else f"there are {count(hours.limit)} hours a week (dashed line)"
    )
    over = [week for week in hours.weeks if hours.over(week)]
    if over:
        named = ", ".join(f"W{week.isocalendar().week:02d}" for week in over[:12])
        said += f"; ▲ more work than that in {named}{' and others' if len(over) > 12 else ''}"
    return f"by kind of task; {said}."


def _mark(hours: Hours, kind: str) -> tuple[str, str]:
    i = list(hours.kinds).index(kind)
    return _OTHER_MARK if i >= len(_MARKS) else _MARKS[i]


def _draw_key(page: Page, hours: Hours, left: float, y: float, right: float) -> None:
    """A swatch and the name of each kind with its hours in the season, as wide as their share of the line."""
    room = (right - left) / len(hours.kinds)
    x = left
    for kind, by_week in hours.kinds.items():
        fill, hatch = _mark(hours, kind)
        page.box(x, y - 6, x + 13, y + 1, fill=fill, hatch=hatch, edge=INK)
        total = f" {count(round(sum(by_week.values()), 1))} h"
        name = fit.shorten(words(kind), room - 24 - fit.width(total, SMALL), SMALL)
        page.text(x + 16, y, name + total, SMALL)
        x += 16 + fit.width(name + total, SMALL) + 10


def _draw_bar(
    page: Page, hours: Hours, week: date, x: float, step: float, base: float, per_hour: float
) -> None:
    inset = min(1.2, step * 0.1)
    y = base
    for kind, by_week in hours.kinds.items():
        tall = by_week.get(week, 0.0) * per_hour
        fill, hatch = _mark(hours, kind)
        if tall > 0.15:
            page.box(
                x + inset, y - tall, x + step - inset, y, fill=fill, hatch=hatch if tall > 1 else "", edge=INK,
                thick=0.35,
            )  # fmt: skip
        y -= tall


def _write_total(
    page: Page, hours: Hours, week: date, x: float, step: float, base: float, per_hour: float
) -> None:
    """The hours of a week over its bar, with a black mark where they are more than there are."""
    total, over = hours.total(week), hours.over(week)
    y = base - total * per_hour
    if total <= 0:
        return
    said = "<1" if total < 0.5 else f"{total:,.0f}"
    written = fit.width(said, SMALL, over) <= step - 0.6
    if written:
        page.box(x + 0.3, y - 8.6, x + step - 0.3, y - 1, fill=PAPER)  # the line of the limit may run there
        page.text(x + step / 2, y - 2, said, SMALL, bold=over, colour=ALERT if over else INK, side="center")
    if over:
        tip, middle, half = y - (13.4 if written else 6.4), x + step / 2, min(3.0, step / 2)
        page.area(((middle, tip), (middle - half, tip + 4.4), (middle + half, tip + 4.4)), ALERT)


def _draw_weeks(page: Page, hours: Hours, start: float, step: float, base: float) -> None:
    """ISO week and date of its Monday, as many as there is room for."""
    every_week = max(1, -(-int(fit.width("W53", SMALL) + 4) // max(1, int(step))))
    every_date = max(1, -(-int(fit.width("28 Mar", SMALL) + 5) // max(1, int(step))))
    every_date = -(-every_date // every_week) * every_week  # a date stands under its week
    for i, week in enumerate(hours.weeks):
        x = start + (i + 0.5) * step
        page.line(((start + i * step, base), (start + i * step, base + 2)), 0.4, RULE)
        if i % every_week == 0 and x + 9 < start + step * len(hours.weeks) + _RIGHT:
            page.text(x, base + 9, f"W{week.isocalendar().week:02d}", SMALL, side="center")
        if i % every_date == 0:
            page.text(x, base + 17.5, short_date(week)[4:], SMALL, colour=QUIET, side="center")
