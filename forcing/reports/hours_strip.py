"""Staff hours by week and kind of task, as a strip of bars below or behind the room plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from forcing.dates import DAY, Span, weeks_of
from forcing.model import Plan
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.paper import SMALL
from forcing.reports.frames import rows_of
from forcing.reports.style import ALERT, INK, PAPER, QUIET, RULE, day_month
from forcing.text import number, one_line

STRIP, ALONE = 88.0, 320.0  # height of the strip below the places, and on a page of its own [pt]
OTHER = "all other"
# Fill and hatch of a kind of task, the kind with most hours first: no two alike in grey.
_MARKS = (
    ("#595959", ""), ("#f0e442", "////"), (PAPER, "\\\\\\\\"), ("#a6d4f2", ""), (PAPER, "xxxx"), ("#cc79a7", "--"),
)  # fmt: skip
_OTHER_MARK = (PAPER, "||")
_LEFT, _RIGHT = 30.0, 62.0  # room for the scale and for the words of the limit
_LIMIT = Stroke(4, INK, 1.1, (4, 2))
_BACKING = Style(5, PAPER)  # over the line of the limit


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
    for row in rows_of(frames.hours(plan)):
        if row["hours"] > 0:
            found[row["task"]][row["week"]] = row["hours"]
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


@dataclass(frozen=True, slots=True)
class _Plot:
    """Where the bars stand [pt]: `step` a week from `start`, `per_hour` high from `base` up."""

    start: float
    step: float
    base: float
    per_hour: float

    def x(self, i: int) -> float:
        return self.start + i * self.step

    def y(self, hours: float) -> float:
        return self.base - hours * self.per_hour


def draw_hours(canvas: Canvas, plan: Plan, left: float, top: float, right: float, tall: float) -> None:
    """The strip, `tall` high, from `top` down."""
    hours = hours_of(plan)
    canvas.line(((left, top + 1), (right, top + 1)), Stroke(2, INK, 0.8))
    x = canvas.text(left, top + 11, "Staff hours a week", 9, bold=True) + 10
    canvas.text(x, top + 11, _facts(hours), SMALL + 0.4, colour=QUIET, room=right - x)
    if not hours.weeks:
        return
    _draw_key(canvas, hours, left, top + 22, right)
    height = tall - 24 - 37
    tallest = max(*(hours.total(week) for week in hours.weeks), hours.limit or 0.0, 1e-9)
    step = (right - _RIGHT - left - _LEFT) / len(hours.weeks)
    plot = _Plot(left + _LEFT, step, top + tall - 24, height / tallest)
    end = plot.x(len(hours.weeks))
    canvas.line(((plot.start, plot.base), (end, plot.base)), Stroke(4, INK, 0.6))
    for y, said in ((plot.base, "0"), (plot.y(tallest) + 3, f"{number(round(tallest, 1))} h")):
        canvas.text(plot.start - 4, y, said, SMALL, colour=QUIET, side="right")
    if hours.limit is not None:
        level = plot.y(hours.limit)
        canvas.line(((plot.start, level), (end, level)), _LIMIT)
        canvas.text(end + 4, level + 2.4, f"{number(hours.limit)} hours", SMALL, bold=True, room=_RIGHT - 5)
    for i, week in enumerate(hours.weeks):
        _draw_bar(canvas, hours, week, plot, plot.x(i))
        _write_total(canvas, hours, week, plot, plot.x(i))
    _draw_weeks(canvas, hours, plot)


def _facts(hours: Hours) -> str:
    if not hours.weeks:
        return "There is no work: no lot is planned."
    said = (
        "no limit is stated"
        if hours.limit is None
        else f"there are {number(hours.limit)} hours a week (dashed line)"
    )
    over = [week for week in hours.weeks if hours.over(week)]
    if over:
        named = ", ".join(f"W{week.isocalendar().week:02d}" for week in over[:12])
        said += f"; ▲ more work than that in {named}{' and others' if len(over) > 12 else ''}"
    return f"by kind of task; {said}."


def _style(hours: Hours, kind: str, thick: float = 0.5) -> Style:
    i = list(hours.kinds).index(kind)
    fill, hatch = _OTHER_MARK if i >= len(_MARKS) else _MARKS[i]
    return Style(3, fill, INK, thick, hatch)


def _draw_key(canvas: Canvas, hours: Hours, left: float, y: float, right: float) -> None:
    """A swatch and the name of each kind with its hours in the season, as wide as their share of the line."""
    room = (right - left) / len(hours.kinds)
    x = left
    for kind, by_week in hours.kinds.items():
        canvas.box(x, y - 6, x + 13, y + 1, _style(hours, kind))
        total = f" {number(round(sum(by_week.values()), 1))} h"
        name = fit.shorten(fit.clean(one_line(kind)), room - 24 - fit.width(total, SMALL), SMALL)
        x = canvas.text(x + 16, y, name + total, SMALL) + 10


def _draw_bar(canvas: Canvas, hours: Hours, week: date, plot: _Plot, x: float) -> None:
    inset = min(1.2, plot.step * 0.1)
    y = plot.base
    for kind, by_week in hours.kinds.items():
        tall = by_week.get(week, 0.0) * plot.per_hour
        style = _style(hours, kind, 0.35)
        if tall > 0.15:
            shown = style if tall > 1 else style._replace(hatch="")
            canvas.box(x + inset, y - tall, x + plot.step - inset, y, shown)
        y -= tall


def _write_total(canvas: Canvas, hours: Hours, week: date, plot: _Plot, x: float) -> None:
    """The hours of a week over its bar, with a black mark where they are more than there are."""
    total, over, step = hours.total(week), hours.over(week), plot.step
    y, middle = plot.y(total), x + step / 2
    if total <= 0:
        return
    said = "<1" if total < 0.5 else f"{total:,.0f}"
    written = fit.width(said, SMALL, over) <= step - 0.6
    if written:
        canvas.box(x + 0.3, y - 8.6, x + step - 0.3, y - 1, _BACKING)
        canvas.text(middle, y - 2, said, SMALL, bold=over, colour=ALERT if over else INK, side="center")
    if over:
        tip, half = y - (13.4 if written else 6.4), min(3.0, step / 2)
        canvas.area(((middle, tip), (middle - half, tip + 4.4), (middle + half, tip + 4.4)), Style(6, ALERT))


def _draw_weeks(canvas: Canvas, hours: Hours, plot: _Plot) -> None:
    """ISO week and date of its Monday, as many as there is room for."""
    step, base = max(1, int(plot.step)), plot.base
    every_week = max(1, -(-int(fit.width("W53", SMALL) + 4) // step))
    every_date = max(1, -(-int(fit.width("28 Mar", SMALL) + 5) // step))
    every_date = -(-every_date // every_week) * every_week  # a date stands under its week
    for i, week in enumerate(hours.weeks):
        x = plot.x(i) + plot.step / 2
        canvas.line(((plot.x(i), base), (plot.x(i), base + 2)), Stroke(2, RULE, 0.4))
        if i % every_week == 0 and x + 9 < plot.x(len(hours.weeks)) + _RIGHT:
            canvas.text(x, base + 9, f"W{week.isocalendar().week:02d}", SMALL, side="center")
        if i % every_date == 0:
            canvas.text(x, base + 17.5, day_month(week), SMALL, colour=QUIET, side="center")
