"""Staff hours: potting taken off busy weeks, and the weeks that need more hours than there are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from types import MappingProxyType

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
    """The plan with its potting on another day; the pots wait at the potting bench. None: as it is."""
    if day is None or day == plan.potting:
        return plan
    first = replace(plan.steps[0], span=Span(day, plan.steps[0].span.end))
    return replace(plan, potting=day, steps=(first, *plan.steps[1:]))


def levelled(
    season: Season, plans: Sequence[LotPlan], tasks: Iterable[Task], begun: Iterable[str], on: date
) -> tuple[LotPlan, ...]:
    """The plans with their potting levelled. `tasks`: all the work there is; lots that have `begun` stay.

    Nothing is moved before the bulbs are in hand or before `on`, nor so far that the pots wait warm for longer than
    their recipe bears. The answer does not hang on the order of `plans`.
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
    return day if day >= max(first, _soonest(season, plan, on)) else None


def _soonest(season: Season, plan: LotPlan, on: date) -> date:
    """First day on which a lot may be potted: once its bulbs are there, and near enough to its cold."""
    assert plan.cooler_in is not None
    near = plan.cooler_in - timedelta(days=int(plan.recipe.potted_wait))
    return max(on, season.in_hand(plan.lot) or on, near)


# ---------------------------------------------------------------- day by day


SHARE = (
    1 / 3
)  # of a week's hours that one day may take, where no hours of a day are stated; practice, no source
AWAY = 3  # working days by which plants may be set out before the day they are due; practice, no source


def hours_by_day(tasks: Iterable[Task]) -> dict[date, float]:
    """Staff hours of each day with work."""
    hours: dict[date, float] = {}
    for task in tasks:
        hours[task.date] = hours.get(task.date, 0.0) + task.hours
    return hours


def day_limit(season: Season) -> float | None:
    """Hours that one day may take; None where nothing is stated to tell."""
    if season.hours_per_day is not None or season.hours_per_week is None:
        return season.hours_per_day
    return season.hours_per_week * SHARE


def spread_over_days(
    season: Season, plans: Sequence[LotPlan], tasks: Sequence[Task], fixed: Iterable[str], on: date
) -> tuple[LotPlan, ...]:
    """The plans with potting taken off days that are too full, to other working days of its week or the week before.

    Lots in `fixed` stay, and nothing is moved before `on` or before the bulbs are in hand.
    """
    kept = set(fixed)
    free = {p.lot.name: p for p in plans if p.lot.name not in kept and p.cooler_in is not None}

    def days(name: str) -> list[date]:
        plan, calendar = free[name], season.calendar
        assert plan.cooler_in is not None
        last, first = calendar.before(plan.cooler_in), max(_soonest(season, plan, on), plan.potting - AHEAD)
        count = max(0, (last - first).days + 1)
        return [day for day in (last - DAY * i for i in range(count)) if calendar.works(day)]

    moved = off_full_days(season, tasks, "pot", {name: days(name) for name in free})
    return tuple(potted_on(plan, moved.get(plan.lot.name)) for plan in plans)


def off_full_days(
    season: Season, tasks: Sequence[Task], kind: str, days: Mapping[str, Sequence[date]],
    may: Callable[[str, date], bool] = lambda name, day: True,
) -> dict[str, date]:  # fmt: skip
    """New days for tasks of a kind by lot, taken off days over the limit to those of `days` that have room.

    The largest that finds a place goes first; the emptiest day takes it, of equals the first of `days`. A week is never
    brought over its own limit. `may`: whether a lot bears a day.
    """
    limit, moved = day_limit(season), dict[str, date]()
    if limit is None:
        return moved
    load, weeks = hours_by_day(tasks), hours_by_week(tasks)
    most = season.hours_per_week if season.hours_per_week is not None else float("inf")
    for full in sorted(day for day, hours in load.items() if hours > limit + 1e-9):
        mine = [t for t in tasks if t.task == kind and t.date == full and t.lot in days]
        for task in sorted(mine, key=lambda t: (-t.hours, t.lot or "")):
            name = task.lot or ""
            if load[full] <= limit + 1e-9:
                break

            def fits(day: date, hours: float = task.hours, full: date = full) -> bool:
                same = monday(day) == monday(full)
                return load.get(day, 0.0) + hours <= limit and (
                    same or weeks.get(monday(day), 0.0) + hours <= most
                )

            open_ = [day for day in days[name] if day != full and fits(day) and may(name, day)]
            if open_:
                best = min(open_, key=lambda day: (load.get(day, 0.0), days[name].index(day)))
                for day, sign in ((full, -1.0), (best, 1.0)):
                    load[day] = load.get(day, 0.0) + sign * task.hours
                    weeks[monday(day)] = weeks.get(monday(day), 0.0) + sign * task.hours
                moved[name] = best
    return moved


WEEKS_AHEAD = 8  # by which potting might come sooner


def hours_findings(
    season: Season, tasks: Sequence[Task], rounds: Mapping[date, float] = MappingProxyType({})
) -> Iterator[Finding]:
    """Weeks that need more staff hours than the season has, each with what would mend it.

    `rounds`: hours of the daily round by the Monday of the week. They count in weeks that have tasks too.
    """
    hours = {week: total + rounds.get(week, 0.0) for week, total in hours_by_week(tasks).items()}
    for week, over in hours_short(season, hours).items():
        potting = [(t.lot or "", t.hours) for t in tasks if t.task == "pot" and monday(t.date) == week]
        yield Finding(
            "hours-short", "warning", "season", None, "hours per week",
            f"{iso_week(week)} needs {hours[week]:.1f} staff hours{_with_round(rounds, week)}, {over:.1f} more than "
            "there are",
            _hours_hint(season, hours, week, potting), f"{season.hours_per_week:g}",
            week=iso_week(week), number=over,
        )  # fmt: skip


def _with_round(rounds: Mapping[date, float], week: date) -> str:
    return f" with {rounds[week]:.1f} of the daily round" if rounds.get(week) else ""


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
    own = {lot.name: season.in_hand(lot) for lot in season.lots}
    came = [own.get(name, season.bulbs_in_hand) for name in names]
    if moved >= over - 1e-6 and names:
        for n in range(1, WEEKS_AHEAD + 1):
            sooner = week - WEEK * n
            last = season.calendar.on_or_before(sooner + WEEK - DAY)
            if last >= sooner and limit - hours.get(sooner, 0.0) >= moved - 1e-6:
                pots = f"{moved:.1f} hours of potting ({listed(names)})"
                late = any(day is not None and last < day for day in came)
                words.append(
                    f"the bulbs in hand sooner, to move {pots} to an earlier week"
                    if late
                    else f"pot {listed(names)} {7 * n} days sooner, in {iso_week(sooner)}"
                )
                break
    if len(words) == 1:
        words.append("fewer pots in the lots moved that week, or their targets in different weeks")
    return f"Any one of these would mend it: {'; '.join(words)}."
