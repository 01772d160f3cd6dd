"""The daily round: what is seen to in every place as long as something stands there, weekends too.

The rule. A row of the season says what is done in a place, on which weekdays or every how many days, and for how many
minutes; with the item `daily round` set to usual, places without rows of their own have the usual ones of their kind
(USUAL). It is walked from the first to the last day on which pots stand there, within its dates where these are stated.
A round is no task: it is not moved, ticked or logged, but its hours are those of somebody who is there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType

from forcing.dates import DAY, Span, monday
from forcing.engine.companions import CompanionPlan
from forcing.engine.work.rounds import recurring
from forcing.model import PlaceKind, PlaceLoad, Round, RoundWork, Season, Task

_DAILY = tuple(range(7))
DEADHEAD = "deadhead and tidy"
# What is done, on which weekdays, minutes each time and minutes for a hundred 15 cm pots: common practice, no source;
# from memory; time it once in your own house.
USUAL: Mapping[PlaceKind, tuple[tuple[str, tuple[int, ...], float, float], ...]] = MappingProxyType({
    "cooler": (("read low and high, look at a few pots, air", (0, 3), 10, 0), ("look for rot and mould", (0,), 5, 2)),
    "bench": (
        ("water what is light, vent by the reading, read low and high", _DAILY, 10, 6),
        ("look for pests and mould under the leaves", (0, 3), 5, 4),
    ),
    "frame": (
        ("open or close the lights, water, read low and high", _DAILY, 8, 5), ("look for slugs and pests", (0,), 5, 3),
    ),
    "site": (
        ("water by feel, put right what wind or visitors did", _DAILY, 10, 4), (DEADHEAD, (0, 2, 4), 5, 10),
    ),
})  # fmt: skip


def daily_rounds(
    season: Season, loads: Sequence[PlaceLoad], companions: Sequence[CompanionPlan] = ()
) -> tuple[RoundWork, ...]:
    """The rounds of a season in the order of its places, with the days and hours of each; none if none are wanted.

    The usual round of a site names the `companions` there that are deadheaded.
    """
    return tuple(work for load in loads for work in _of_place(season, load, companions) if work.visits)


def _of_place(season: Season, load: PlaceLoad, companions: Sequence[CompanionPlan]) -> Iterator[RoundWork]:
    days = [load.start + timedelta(days=i) for i, pots in enumerate(load.pots) if pots > 0]
    if not days:
        return
    stands = Span(days[0], days[-1] + DAY)
    shown = [
        plan.companion.name for plan in companions
        if plan.recipe.deadhead > 0 and any(s.step == "show" and s.place == load.place for s in plan.steps)
    ]  # fmt: skip
    for row in _rows(season, load.place):
        work = f"{row.work}: {', '.join(shown)}" if shown and row.work == DEADHEAD else row.work
        yield RoundWork(load.place, work, _DAILY if row.every is None else row.every, tuple(
            (day, (row.minutes + row.per_hundred * load.pots[(day - load.start).days] / 100) / 60)
            for day in _visits(row, stands)
        ))  # fmt: skip


def _rows(season: Season, place: str) -> list[Round]:
    """What is done in a place: as stated, else the usual where that is wanted."""
    mine = [row for row in season.rounds if row.place == place]
    if not mine and season.daily_round == "usual":
        return [
            Round(place, work, every, minutes, hundred)
            for work, every, minutes, hundred in USUAL[season.place(place).kind]
        ]
    return mine


def _visits(row: Round, stands: Span) -> list[date]:
    """The days of a round while something stands there."""
    start, end = max(stands.start, row.start or stands.start), stands.end
    end = end if row.until is None else min(end, row.until + DAY)
    return recurring(Span(start, end), _DAILY if row.every is None else row.every) if start < end else []


def round_minutes(season: Season, days: Span) -> dict[str, tuple[list[float], list[float]]]:
    """Place -> minutes of its rounds on each day, and for each 15 cm pot; of places without rounds nothing."""
    found: dict[str, tuple[list[float], list[float]]] = {}
    for place in season.places:
        for row in _rows(season, place.name):
            once, each = found.setdefault(place.name, ([0.0] * days.days, [0.0] * days.days))
            for day in _visits(row, days):
                once[(day - days.start).days] += row.minutes
                each[(day - days.start).days] += row.per_hundred / 100
    return found


def as_tasks(rounds: Iterable[RoundWork]) -> tuple[Task, ...]:
    """The visits of rounds as work of a place, to be reckoned with and never handed out."""
    return tuple(
        Task(f"round/{work.place}/{work.work}/{day}", day, None, work.work, 0.0, hours, work.place)
        for work in rounds
        for day, hours in work.visits
    )


def round_hours(rounds: Iterable[RoundWork], first: date = date.min) -> dict[date, float]:
    """Hours of all rounds by day, from a first one on."""
    hours: dict[date, float] = {}
    for work in rounds:
        for day, each in work.visits:
            if day >= first:
                hours[day] = hours.get(day, 0.0) + each
    return hours


def weekly(hours: Mapping[date, float]) -> dict[date, float]:
    """Hours by day -> by week, named by its Monday."""
    weeks: dict[date, float] = {}
    for day, each in hours.items():
        weeks[monday(day)] = weeks.get(monday(day), 0.0) + each
    return weeks
