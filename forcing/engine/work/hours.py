"""Staff hours: potting taken off busy weeks, and the weeks that need more hours than there are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from forcing.dates import DAY, WEEK, Span, iso_week, monday
from forcing.errors import Finding
from forcing.model import LotPlan, Season, Task
from forcing.text import listed

# Practice, no source: a potted bulb does well for some days in a cool shed; a change of less than two hours is
# not worth telling people another week.
AHEAD = WEEK
LEAST = 2.0  # hours by which the busier of the two weeks must gain
BUSY = 0.75  # share of the hours there are, where they are stated, from which a week is worth sparing


def hours_by_week(tasks: Iterable[Task]) -> dict[date, float]:
    """Staff hours of each week with work, by its Monday, in the order in which they come."""
    hours: dict[date, float] = {}
    for task in tasks:
        week = monday(task.date)
        hours[week] = hours.get(week, 0.0) + task.hours
    return hours


def hours_short(season: Season, hours: Mapping[date, float]) -> dict[date, float]:
    """Hours that each week (by its Monday) needs beyond those there are; none where no limit is stated."""
    limit = season.hours_per_week
    if limit is None:
        return {}
    return {week: total - limit for week, total in sorted(hours.items()) if total > limit + 1e-6}


def potted_on(plan: LotPlan, day: date | None) -> LotPlan:
    """The plan with its potting on an earlier day; the pots wait at the potting bench. None: as it is."""
    if day is None or day >= plan.potting:
        return plan
    first = replace(plan.steps[0], span=Span(day, plan.steps[0].span.end))
    return replace(plan, potting=day, steps=(first, *plan.steps[1:]))


def levelled(
    season: Season, plans: Sequence[LotPlan], tasks: Iterable[Task], begun: Iterable[str], on: date
) -> tuple[LotPlan, ...]:
    """The plans with their potting levelled. `tasks`: all the work there is; lots that have `begun` stay.

    Nothing is moved before the bulbs are in hand or before `on`. The answer does not hang on the order of `plans`.
    """
    tasks = tuple(tasks)
    hours = hours_by_week(tasks)
    potting = {task.lot: task.hours for task in tasks if task.task == "pot" and task.lot is not None}
    free = {p.lot.name: p for p in plans if p.lot.name not in set(begun) and p.cooler_in is not None}
    moved: dict[str, date] = {}
    while (best := _best(season, free, hours, potting, on)) is not None:
        name, day = best
        plan = free.pop(name)
        hours[monday(plan.potting)] -= potting[name]
        hours[monday(day)] = hours.get(monday(day), 0.0) + potting[name]
        moved[name] = day
    return tuple(potted_on(plan, moved.get(plan.lot.name)) for plan in plans)


def _best(
    season: Season,
    free: Mapping[str, LotPlan],
    hours: Mapping[date, float],
    potting: Mapping[str, float],
    on: date,
) -> tuple[str, date] | None:
    """The lot of the busiest week whose potting a week earlier gains most, and its new day; None: none gains."""
    found: list[tuple[float, float, str, date]] = []
    for name, plan in free.items():
        day, week = _week_before(season, plan, on), monday(plan.potting)
        if day is None or name not in potting:
            continue
        after = max(hours[week] - potting[name], hours.get(week - AHEAD, 0.0) + potting[name])
        if hours[week] - after >= LEAST and hours[week] > BUSY * (season.hours_per_week or 0.0):
            found.append((-hours[week], after, name, day))
    return min(found)[2:] if found else None


def _week_before(season: Season, plan: LotPlan, on: date) -> date | None:
    """The last working day of the week before the lot would be potted; None where it may not be potted then."""
    assert plan.cooler_in is not None
    if plan.potting < season.calendar.before(plan.cooler_in):
        return None  # it is ahead already
    first = monday(plan.potting) - AHEAD
    day = season.calendar.on_or_before(first + WEEK - DAY)
    early = season.bulbs_in_hand is not None and day < season.bulbs_in_hand
    return None if day < first or early or day < on else day


WEEKS_AHEAD = 8  # by which potting might come sooner


def hours_findings(season: Season, tasks: Sequence[Task]) -> Iterator[Finding]:
    """Weeks whose tasks need more staff hours than the season has, each with what would mend it."""
    hours = hours_by_week(tasks)
    for week, over in hours_short(season, hours).items():
        potting = [(t.lot or "", t.hours) for t in tasks if t.task == "pot" and monday(t.date) == week]
        yield Finding(
            "hours-short", "warning", "season", None, "hours per week",
            f"{iso_week(week)} needs {hours[week]:.1f} staff hours, {over:.1f} more than there are",
            _hours_hint(season, hours, week, potting), f"{season.hours_per_week:g}",
            week=iso_week(week), number=over,
        )  # fmt: skip


def _hours_hint(
    season: Season, hours: Mapping[date, float], week: date, potting: Sequence[tuple[str, float]]
) -> str:
    """How a short week could be mended: `hours` by Monday, `potting`: lots potted in it and their hours."""
    limit = season.hours_per_week or 0.0
    over = hours[week] - limit
    words = [f"{over:.1f} more hours of help that week"]
    moved, names = 0.0, []
    for name, needed in sorted(potting, key=lambda p: (p[1] < over, p[1], p[0])):
        if moved < over - 1e-6:
            moved += needed
            names.append(name)
    if moved >= over - 1e-6 and names:
        for n in range(1, WEEKS_AHEAD + 1):
            sooner = week - WEEK * n
            last = season.calendar.on_or_before(sooner + WEEK - DAY)
            early = season.bulbs_in_hand is not None and last < season.bulbs_in_hand
            if last >= sooner and not early and limit - hours.get(sooner, 0.0) >= moved - 1e-6:
                words.append(f"pot {listed(names)} {7 * n} days sooner, in {iso_week(sooner)}")
                break
        pots = f"{moved:.1f} hours of potting ({listed(names)})"
        if len(words) == 1:
            words.append(f"the bulbs in hand sooner, to move {pots} to an earlier week")
    if len(words) == 1:
        words.append("fewer pots in the lots moved that week, or their targets in different weeks")
    return f"Any one of these would mend it: {'; '.join(words)}."
