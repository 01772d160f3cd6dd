"""Steering: what to set, move and hold so that bloom comes back to its targets, as options with one recommended.

What was agreed before is where it starts from: carrying on costs nothing, and departing from it must earn its work.
The options are found in steering.descent; the recommended one is run forward again by the engine, and only the dates
of that run are reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby

import numpy as np

from forcing.dates import DAY, WEEK, Span
from forcing.engine.climate import Climate
from forcing.engine.context import Progress, unwatched
from forcing.engine.log import Stay
from forcing.engine.plan import PlanResult
from forcing.engine.steering.advice import (
    NOBODY,
    WITHIN,
    LotOutcome,
    Move,
    Point,
    Steering,
    SteeringOption,
    beyond,
    headline,
    helped,
    notes,
    say_left,
    say_settings,
    say_trips,
    warnings,
)
from forcing.engine.steering.choices import Answer, Path, changed
from forcing.engine.steering.descent import MOST_ACTIONS, Front, without
from forcing.engine.steering.situation import (
    ExpectedBloom,
    Situation,
    dial,
    expected_bloom,
    on_the_dial,
    set_up,
)
from forcing.model import RoomSetting

FEW = 6  # actions of the option that is recommended, at most; practice, no source
NAMES = ("carry on", "settings only", "what matters", "all worth it")


def steer(
    worked: PlanResult, on: date, actions: int | None = None, *, progress: Progress = unwatched
) -> Steering:
    """What to set the benches to, and what to move or hold, as seen on day `on`.

    Recommended are the few actions that earn most above their work; with `actions`, the best so many or fewer.
    Where every lot is expected within a day of its target there is nothing to do. Raises ValueError where `actions` is
    negative.
    """
    if actions is not None and actions < 0:
        raise ValueError(f"actions is how many may be asked for, 0 or more, and not {actions}")
    situation = set_up(worked, on)
    if situation is None:
        return Steering(on, None, headline=NOBODY)
    answers, front = _answers(situation, actions, progress)
    names = [*NAMES, *([] if actions is None else [f"at most {actions}"])]
    chosen = len(names) - 1 if actions is not None else names.index("what matters")
    if not answers[chosen].actions:
        chosen = 0
    progress("running every lot forward in the answer")
    after = run_forward(situation, answers[chosen])
    if after is None:
        chosen, after = 0, tuple(live.bloom for live in situation.lots)
    options = tuple(
        _option(situation, answer, name, n == chosen)
        for n, (name, answer) in enumerate(zip(names, answers, strict=True))
    )
    lots = _outcomes(situation, after)
    told = tuple(said for _, said in sorted(_told(situation, answers[chosen]), key=lambda row: -row[0]))
    return Steering(
        on, Span(situation.start, situation.end), options, lots, front, headline(options, lots), told,
        beyond(situation, lots), notes(options, lots), warnings(situation, _warmed(situation, options[chosen])),
    )  # fmt: skip


def _answers(
    situation: Situation, actions: int | None, progress: Progress
) -> tuple[list[Answer], tuple[Point, ...]]:
    """The answer of each option, and the best by number of actions."""
    problem = situation.problem
    planned = tuple(lot.paths[0] for lot in problem.lots)
    nothing = Answer.of(problem, problem.unchanged(), planned)
    if _within(nothing) == len(problem.lots):
        return [nothing] * (len(NAMES) + (actions is not None)), (_point(nothing),)
    progress(f"steering {len(problem.lots)} lots on {sum(len(z.benches) for z in problem.zones)} benches")
    best = Front(problem, most=max(MOST_ACTIONS, actions or 0)).search()
    progress("trying settings alone")
    only = Front(problem, carrying=False).search()
    few = _least(best, _few(situation))
    answers = [nothing, _least(only, MOST_ACTIONS), few, _least(best, MOST_ACTIONS)]
    if actions is not None:
        answers.append(_least(best, actions))
    most = max(answers[3].actions, FEW)
    return answers, tuple(_point(answer) for n, answer in best.items() if n <= most)


def _few(situation: Situation) -> int:
    """So many actions as are few, less those that people were given in the week so far."""
    agreement = situation.worked.agreement
    if agreement is None or agreement.on <= situation.on - WEEK:
        return FEW
    given = [s for s in agreement.settings if s.basis == "steered" and s.span.start >= agreement.on]
    return max(0, FEW - len(given) - sum(move.start >= agreement.on for move in agreement.moves))


def _least(best: dict[int, Answer], most: int) -> Answer:
    """The best answer of at most so many actions, each of which earns more than its work costs."""
    return min((a for n, a in best.items() if n <= most), key=lambda a: (a.value(), a.actions))


# ---------------------------------------------------------------- an answer as dates and degrees


def _point(answer: Answer) -> Point:
    return Point(answer.actions, _days_off(answer), _within(answer))


def _off(answer: Answer) -> list[int]:
    """Days from target to the likely bloom of each lot, early ones within what sureness costs as none."""
    problem, out = answer.problem, []
    for lot, path in zip(problem.lots, answer.paths, strict=True):
        off = problem.bloom(lot, path, answer.settings) - lot.target
        out.append(min(0, off + lot.spare) if off < 0 else off)
    return out


def _days_off(answer: Answer) -> float:
    pots = [lot.pots for lot in answer.problem.lots]
    return sum(p * abs(off) for p, off in zip(pots, _off(answer), strict=True)) / max(1, sum(pots))


def _within(answer: Answer) -> int:
    return sum(abs(off) <= WITHIN for off in _off(answer))


def _option(situation: Situation, answer: Answer, name: str, recommended: bool) -> SteeringOption:
    problem = answer.problem
    turns = int(changed(answer.settings[:-1]).sum())
    hours = turns * situation.minutes["step down"].each_time / 60 + sum(path.hours for path in answer.paths)
    settings = [
        setting for zone in range(len(problem.zones)) for bench in problem.zones[zone].benches
        for setting in settings_of(situation, answer, zone, bench)
    ]  # fmt: skip
    moves: list[Move] = []
    holds: list[Move] = []
    for lot, path in enumerate(answer.paths):
        (holds if path.what == "hold" else moves).extend(trips_of(situation, lot, path))
    left = tuple(
        (lot.name, problem.places[path.places[0]])
        for lot, path in zip(problem.lots, answer.paths, strict=True) if path.what == "leave out"
    )  # fmt: skip
    return SteeringOption(
        name, tuple(settings), _in_order(moves), _in_order(holds), left, turns,
        sum(path.what == "hold" for path in answer.paths), hours, _within(answer), _days_off(answer), recommended,
    )  # fmt: skip


def _in_order(moves: list[Move]) -> tuple[Move, ...]:
    return tuple(sorted(moves, key=lambda m: (m.on, m.lot)))


def settings_of(situation: Situation, answer: Answer, zone: int, bench: int) -> list[RoomSetting]:
    """What a bench is to be set to otherwise than planned and agreed, days of equal setting as one span."""
    problem, season = situation.problem, situation.season
    place = season.place(problem.places[bench])
    days: list[tuple[date, tuple[float, float]]] = []
    for block in range(problem.blocks):
        by = int(answer.settings[zone, block]) * problem.step
        for number in range(int(problem.starts[block]), int(problem.starts[block + 1])):
            now = dial(season, place, situation.day(number))
            if by and now is not None:
                set_to = on_the_dial(season, np.array(now), np.array(by)).round(6).tolist()
                days.append((situation.day(number), (set_to[0], set_to[1])))
    out: list[RoomSetting] = []
    for (_, (day, night)), run in groupby(
        enumerate(days), key=lambda row: (row[1][0].toordinal() - row[0], row[1][1])
    ):
        dates = [found for _, (found, _) in run]
        out.append(RoomSetting(place.name, Span(dates[0], dates[-1] + DAY), day, night, "steered"))
    return out


def trips_of(situation: Situation, number: int, path: Path) -> list[Move]:
    """What is carried where for a lot on a path."""
    live, places = situation.lots[number], situation.problem.places
    return [
        Move(live.name, live.plan.lot.pots, places[t.place], places[t.to], situation.day(t.day)) for t in path.trips
    ]  # fmt: skip


# ---------------------------------------------------------------- the answer run forward


def run_forward(situation: Situation, answer: Answer) -> tuple[ExpectedBloom, ...] | None:
    """When each lot is expected to bloom where the answer is carried out, run by the engine; None if one cannot be."""
    climate, expected = steered_climate(situation, answer), []
    for live, path in zip(situation.lots, answer.paths, strict=True):
        simulation = replace(live.simulation, climate=climate)
        if path.what != "as planned" or live.plan.lot.hold_days:
            pin = simulation.history.agreed
            history = replace(
                simulation.history, moves=_stays(situation, live.run.stays, path),
                agreed=None if pin is None else replace(pin, moves=()),
            )  # fmt: skip
            simulation = replace(simulation, history=history)
        run = simulation.run(live.plan.cooler_in, live.plan.bring_in)
        found = None if run is None else expected_bloom(simulation, run, situation.on)
        if found is None:
            return None
        expected.append(found)
    return tuple(expected)


def steered_climate(situation: Situation, answer: Answer) -> Climate:
    """The climate with the benches set as answered, on the days that are set and not read."""
    old, problem = situation.worked.climate, situation.problem
    first = old.index(situation.start)
    low, high = dict(old.low), dict(old.high)
    for number, zone in enumerate(problem.zones):
        by = np.repeat(answer.settings[number, :-1], np.diff(problem.starts[:-1])) * problem.step
        for name in (problem.places[bench] for bench in zone.benches):
            days, place = slice(first, first + by.size), situation.season.place(name)
            now = np.array([dial(situation.season, place, situation.day(i)) for i in range(by.size)])
            by_day = np.where(situation.dialled[name][: by.size], by, 0.0)[:, None]
            warmer = on_the_dial(situation.season, now, by_day) - now
            low[name], high[name] = low[name].copy(), high[name].copy()
            low[name][days] += warmer[:, 1]
            high[name][days] += warmer[:, 0]
    return Climate(old.start, old.days, low, high, old.basis, old.hours, old.offsets)


def _stays(situation: Situation, planned: Sequence[Stay], path: Path) -> tuple[Stay, ...]:
    """Where a lot stands from bring in on when it takes a path; what comes after the bench follows by itself."""
    season, places = situation.season, situation.problem.places
    stays = [stay for stay in planned if stay.start <= situation.start and path.what != "bench"]
    for place, day in zip(path.places.tolist(), path.cuts.tolist(), strict=False):
        name, kind = places[place], season.place(places[place]).kind
        if kind in ("bench", "cooler") and (not stays or stays[-1].place != name):
            stays.append(Stay("hold" if kind == "cooler" else "bench", name, situation.day(day)))
    return tuple(stays)


def _outcomes(situation: Situation, after: tuple[ExpectedBloom, ...]) -> tuple[LotOutcome, ...]:
    out = []
    for live, lot, expected in zip(situation.lots, situation.problem.lots, after, strict=True):
        soonest = situation.day(situation.problem.earliest(lot))
        latest = situation.day(situation.problem.latest(lot))
        out.append(LotOutcome(
            live.name, live.plan.lot.pots, live.simulation.target, live.bloom, expected,
            min(soonest, expected.likely), max(latest, expected.likely), live.spare,
        ))  # fmt: skip
    return tuple(out)


# ---------------------------------------------------------------- what each action brings


def _told(situation: Situation, answer: Answer) -> Iterator[tuple[float, str]]:
    """A sentence for each action with the pot-days that are lost without it."""
    problem = answer.problem
    for zone, benches in enumerate(z.benches for z in problem.zones):
        if answer.settings[zone].any():
            settings = settings_of(situation, answer, zone, benches[0])
            gain, said = _brings(answer, without(answer, zone=zone))
            yield gain, say_settings(situation, settings, said)
    for number, path in enumerate(answer.paths):
        if path.what == "as planned":
            continue
        name = situation.lots[number].name
        gain, said = _brings(answer, without(answer, lot=number), name)
        trips = trips_of(situation, number, path)
        yield (
            gain,
            say_trips(situation, trips, said) if trips else say_left(name, said),
        )


def _brings(answer: Answer, less: Answer, own: str = "") -> tuple[float, str]:
    problem, days = answer.problem, dict[str, int]()
    for lot, path, before in zip(problem.lots, answer.paths, less.paths, strict=True):
        off = abs(problem.bloom(lot, before, less.settings) - lot.target)
        nearer = off - abs(problem.bloom(lot, path, answer.settings) - lot.target)
        if nearer > 0:
            days[lot.name] = nearer
    order = sorted(days, key=lambda name: -days[name])
    return less.loss - answer.loss, helped(order, max(days.values(), default=0), own)


def _warmed(situation: Situation, option: SteeringOption) -> list[RoomSetting]:
    warmer = []
    for setting in option.settings:
        now = dial(situation.season, situation.season.place(setting.place), setting.span.start)
        if now is not None and setting.day > now[0] + 1e-6:
            warmer.append(setting)
    return warmer
