"""Steering: bench temperatures, moves and cold holds that bring bloom back to target, proven by running forward.

The choice is made in steering.search and steering.solve; here it becomes dates and degrees, every lot is run forward
again in the climate that results, and only those dates are reported. An answer that turns out no better than
doing nothing is not given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from forcing.dates import Span
from forcing.engine.climate import build_climate
from forcing.engine.context import Progress, unwatched
from forcing.engine.log import Stay
from forcing.engine.plan import PlanResult
from forcing.engine.simulate import LotSimulation
from forcing.engine.steering.advice import NOBODY, LotOutcome, Move, Steering, advice, curves, warnings
from forcing.engine.steering.choices import (
    KEEP,
    Answer,
    ExpectedBloom,
    Setup,
    SteeringProblem,
    bloom_days,
    expected_bloom,
    set_up,
    stated,
)
from forcing.engine.steering.descent import search, simplify
from forcing.engine.steering.program import solve
from forcing.model import RoomSetting, Season, Setpoint

GAP = 0.1  # days off per pot, on average, by which the answer may miss the best one there is
SMALL = 8  # up to so many lots the very best answer is sought
TIME_LIMIT = 60.0  # seconds for the solver on a slow machine: nodes end its search, so that answers repeat
# Nodes of its search tree, so that a long search ends alike on slow and fast machines; fewer where nothing but
# the number of changes and moves is still open.
MOST_NODES, FEW_NODES = 3000, 200
ON_TARGET = 1  # days: nearer than pots are counted


@dataclass(frozen=True, slots=True)
class Checked:
    """An answer as dates and degrees, with every lot run forward in it."""

    settings: tuple[RoomSetting, ...]
    moves: tuple[Move, ...]
    holds: tuple[Move, ...]
    expected: tuple[ExpectedBloom, ...]


def steer(
    worked: PlanResult,
    on: date,
    *,
    time_limit: float = TIME_LIMIT,
    gap: float | None = None,
    threads: int = 1,
    block_days: int = 7,
    tolerance: int = ON_TARGET,
    progress: Progress = unwatched,
) -> Steering:
    """What to set the benches to, and what to move or hold, as seen on day `on`.

    Where every lot is expected within `tolerance` days of its target nothing is changed, and work that brings
    a lot no more than nearer within them is left out. `gap` is in days off per pot (None: the very best for a
    few lots, a tenth of a day for many). What the
    solver has when it runs into `time_limit` [s] is not used, so that the same season gives the same answer.
    """
    setup = set_up(worked, on, block_days)
    if setup is None:
        return Steering(on, None, words=(NOBODY,))
    span = Span(setup.start, setup.end)
    nothing = setup.problem.unchanged()
    if all(abs(live.off) <= tolerance for live in setup.lots):
        outcomes = _outcomes(setup, tuple(live.bloom for live in setup.lots))
        return Steering(
            on, span, lots=outcomes, curves=curves(setup, nothing), words=advice(setup, (), (), (), outcomes)
        )
    progress(f"steering {len(setup.lots)} lots on {len(setup.problem.benches)} benches")
    answer, solved_gap, status, seconds = _best(setup.problem, gap, time_limit, threads, progress)
    answer = simplify(setup.problem, answer, tolerance)
    progress("running every lot forward in the answer")
    checked = check(setup, answer)
    if checked is None or _off(setup, checked) >= sum(lot.plan.lot.pots * abs(lot.off) for lot in setup.lots):
        answer = nothing
        checked = Checked((), (), (), tuple(live.bloom for live in setup.lots))
    outcomes = _outcomes(setup, checked.expected)
    return Steering(
        on, span, checked.settings, checked.moves, checked.holds, outcomes, curves(setup, answer),
        advice(setup, checked.settings, checked.moves, checked.holds, outcomes),
        warnings(setup, answer), solved_gap, status, seconds,
    )  # fmt: skip


def _best(
    problem: SteeringProblem, gap: float | None, time_limit: float, threads: int, progress: Progress
) -> tuple[Answer, float, str, float]:
    """The best answer, how far per pot it may be from the very best, and how the solver ended."""
    pots = max(1, sum(lot.pots for lot in problem.lots))
    if gap is None:
        gap = 0.0 if len(problem.lots) <= SMALL else GAP
    least = unavoidable(problem)
    start = search(problem, problem.unchanged(), enough=least + gap * pots)
    nodes = FEW_NODES if problem.score(start)[0] <= least else MOST_NODES
    progress("looking for a better answer")
    solved = solve(
        problem,
        start,
        gap=gap * pots,
        time_limit=time_limit,
        most_nodes=nodes,
        threads=threads,
    )
    best = start
    if solved.answer is not None and solved.in_time and next(problem.faults(solved.answer), None) is None:
        best = min((start, search(problem, solved.answer, kicks=0)), key=problem.score)
    bound = max(solved.bound, float(least))
    left = max(0.0, problem.score(best)[0] - bound) / pots
    # The bound is in whole pots × days but for the small weights of changes and moves.
    return best, left if left * pots >= 1.0 else 0.0, solved.status, solved.seconds


def unavoidable(problem: SteeringProblem) -> int:
    """Pots × days off target that no answer can be below: each lot alone at its hottest or coolest."""
    total = 0
    for lot in problem.lots:
        low, high = problem.extremes(lot)
        soonest, latest = bloom_days(lot, high), bloom_days(lot, low)
        total += lot.pots * max(0, int(soonest) - lot.target, lot.target - int(latest))
    return total


def _off(setup: Setup, checked: Checked) -> int:
    return sum(
        live.plan.lot.pots * abs((expected.likely - live.simulation.target).days)
        for live, expected in zip(setup.lots, checked.expected, strict=True)
    )


def _outcomes(setup: Setup, after: tuple[ExpectedBloom, ...]) -> tuple[LotOutcome, ...]:
    out = []
    for live, lot, expected in zip(setup.lots, setup.problem.lots, after, strict=True):
        soonest, latest = setup.day(setup.problem.earliest(lot)), setup.day(setup.problem.latest(lot))
        out.append(
            LotOutcome(
                live.name, live.plan.lot.pots, live.simulation.target, live.bloom, expected,
                min(soonest, expected.likely), max(latest, expected.likely),
            )
        )  # fmt: skip
    return tuple(out)


# ---------------------------------------------------------------- the answer run forward


def check(setup: Setup, answer: Answer) -> Checked | None:
    """The answer as dates and degrees, run forward by the engine; None where a lot cannot be run."""
    season, worked = setup.season, setup.worked
    settings = settings_of(setup, answer)
    climate = build_climate(steered_season(season, settings), worked.plan.rooms)
    expected, moves, holds = [], [], []
    for i, live in enumerate(setup.lots):
        carried, held, stays = _stays(setup, answer, i)
        moves += carried
        holds += held
        simulation: LotSimulation = replace(live.simulation, climate=climate)
        if carried or held or live.plan.lot.hold_days:
            simulation = replace(simulation, history=replace(simulation.history, moves=stays))
        run = simulation.run(live.plan.cooler_in or live.plan.bring_in, live.plan.bring_in)
        found = None if run is None else expected_bloom(simulation, run, setup.on)
        if found is None:
            return None
        expected.append(found)
    order = sorted(moves, key=lambda m: (m.on, m.lot)), sorted(holds, key=lambda m: (m.on, m.lot))
    return Checked(settings, tuple(order[0]), tuple(order[1]), tuple(expected))


def settings_of(setup: Setup, answer: Answer) -> tuple[RoomSetting, ...]:
    """What each bench is to be set to, equal blocks that follow each other as one span."""
    season, out = setup.season, []
    for bench, row in zip(setup.problem.benches, answer.choices, strict=True):
        mine: list[RoomSetting] = []
        for (a, b), choice in zip(setup.problem.blocks, row, strict=True):
            if choice == KEEP:
                continue
            day, night = stated(season, season.place(bench.name), setup.day(a))
            half, mean = (day - night) / 2, bench.means[choice]
            span = Span(setup.day(a), setup.day(b))
            setting = RoomSetting(bench.name, span, round(mean + half, 6), round(mean - half, 6), "steered")
            last = mine[-1] if mine else None
            if (
                last
                and last.span.end == span.start
                and (last.day, last.night) == (setting.day, setting.night)
            ):
                mine[-1] = replace(last, span=Span(last.span.start, span.end))
            else:
                mine.append(setting)
        out += mine
    return tuple(out)


def steered_season(season: Season, settings: tuple[RoomSetting, ...]) -> Season:
    """The season with its benches set as advised; before and after as it states them."""
    points = list(season.setpoints)
    for setting in settings:
        place, span = season.place(setting.place), setting.span
        covered = [p for p in points if p.place == setting.place and p.start in span]
        if not any(p.place == setting.place and p.start == span.end for p in points):
            points.append(Setpoint(setting.place, span.end, *stated(season, place, span.end)))
        points = [p for p in points if p not in covered]
        points.append(Setpoint(setting.place, span.start, setting.day, setting.night))
    return replace(season, setpoints=tuple(points))


def _stays(setup: Setup, answer: Answer, number: int) -> tuple[list[Move], list[Move], tuple[Stay, ...]]:
    """What is carried where for one lot, and where it stands from bring in on."""
    live, lot = setup.lots[number], setup.problem.lots[number]
    option, hold = answer.options[number], answer.holds[number]
    first = max(setup.start, live.run.stays[0].start)
    stays = [stay for stay in live.run.stays if stay.start <= first]
    moves, holds = [], []

    def carried(place: str, to: str, on: date) -> Move:
        return Move(live.name, live.plan.lot.pots, place, to, on)

    if option:
        to, block = setup.problem.benches[lot.paths[option, -1]].name, lot.moved[option]
        if block is None:  # still to be brought in: from its cooler, or from nowhere where it needs no cold
            moves.append(carried(live.simulation.route.cooler or "", to, stays[0].start))
            stays = [Stay("bench", to, stays[0].start)]
        else:
            day = setup.day(setup.problem.blocks[block][0])
            moves.append(carried(stays[-1].place, to, day))
            stays.append(Stay("bench", to, day))
    if hold is not None and lot.holding is not None:
        start, end, cooler = setup.day(hold.start), setup.day(hold.end), lot.holding.cooler
        bench = [s.place for s in stays if s.start <= start][-1]
        back = [s.place for s in stays if s.start <= end][-1]
        holds.append(carried(bench, cooler, start))
        stays = [s for s in stays if not start < s.start <= end] + [Stay("hold", cooler, start)]
        if hold.end < lot.leave:
            holds.append(carried(cooler, back, end))
            stays.append(Stay("bench", back, end))
        stays.sort(key=lambda s: s.start)
    return moves, holds, tuple(stays)
