"""When each lot is now expected to bloom: early, likely and late, from the log, the readings and what lies ahead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from forcing.dates import DAY
from forcing.engine.climate import BASIS_WORDS, MEASURED
from forcing.engine.need import bloom_chances, expected_need, heat_by
from forcing.engine.replan import Expectation, expectations
from forcing.engine.simulate import STAGES, LotSimulation, Run, pieces
from forcing.model import LotPlan, TargetStage
from forcing.science.evidence import Need
from forcing.units import show_offset

EARLY, LATE = 0.1, 0.9
SHOWN = 0.25  # °C by which a room is off its setting that are worth words


@dataclass(frozen=True, slots=True)
class Outlook:
    """The bloom now expected of one lot, or the stage that is wanted on its target, as seen on day `on`.

    Heat and need in °C·d, of bloom.
    """

    lot: str
    on: date
    stage: str  # the stage that the heat so far leads to expect
    seen: str | None  # the last stage logged; None: none yet
    heat: float
    need: float
    early: date  # 10 % chance to be in bloom (at the stage wanted) before
    likely: date  # the typical pot's first day in bloom
    late: date  # 90 % chance to be in bloom by then
    target: date
    chance: float  # of being in bloom on the target
    ahead: str  # where the temperatures still to come are from, in words
    wanted: TargetStage = "bloom"  # the stage that early, likely and late are of
    spare: int = 0  # days before its target that it is to be there, for sureness' sake

    @property
    def as_planned(self) -> bool:
        """Whether it is expected on its target, or by no more before it than it is to be."""
        return -self.spare <= self.days_late <= 0

    @property
    def days_late(self) -> int:
        """Days from target to the likely bloom; negative when it is early."""
        return (self.likely - self.target).days

    @property
    def still_late(self) -> bool:
        """Whether it is expected after its target, and not there yet: what the plan of that day warns of."""
        return self.days_late > 0 and self.likely > self.on

    @property
    def band(self) -> int:
        """Days from early to late."""
        return (self.late - self.early).days


def _outlook_of(simulation: LotSimulation, known: Expectation | None, on: date) -> Outlook | None:
    """The outlook of one lot; None where it cannot be planned."""
    if known is None:
        return None
    stages = simulation.history.stages
    ready = stages.get(simulation.lot.target_stage, stages.get("bloom"))
    if ready is not None:
        return _seen_ready(known.simulation, known.run, on, ready)
    outlook = still_to_bloom(known.simulation, known.run, on)
    if outlook is None or on >= known.plan.bring_in:
        return outlook
    return replace(outlook, stage=_stage_before_bench(known.plan, on))


def _stage_before_bench(plan: LotPlan, on: date) -> str:
    if on < plan.potting:
        return "not potted"
    return "potted" if plan.cooler_in is None or on < plan.cooler_in else "in the cold"


def still_to_bloom(simulation: LotSimulation, run: Run, on: date) -> Outlook | None:
    """The outlook of a lot not seen in bloom; `run`: at the pace of `simulation`. None past a gap."""
    bring_in = run.stays[0].start
    start = max(on, bring_in)
    need = expected_need(simulation, run, on)
    heat = heat_by(simulation, run, on)
    by_target = heat_by(simulation, run, simulation.target)
    band = _band(simulation, run, need)
    if heat is None or by_target is None or band is None:
        return None
    early, late = band
    waits = None if run.waiting is None else bloom_chances(run.waiting, need)
    target = simulation.climate.index(simulation.target)
    return Outlook(
        lot=simulation.lot.name,
        on=on,
        stage=_stage_expected(simulation, heat, run.need),
        seen=last_stage(simulation),
        heat=heat,
        need=run.need,
        early=early,
        likely=run.ready,
        late=late,
        target=simulation.target,
        chance=need.chance(by_target / simulation.wanted) if waits is None else waits.by(target),
        ahead=_words_ahead(simulation, run, start, late),
        wanted=run.wanted,
        spare=max(0, (run.assured - run.ready).days) + (simulation.target - simulation.due).days,
    )


def _band(simulation: LotSimulation, run: Run, need: Need) -> tuple[date, date] | None:
    """Early and late about the bloom of `run`.

    The chance to be in bloom before early is as near to 10 % as whole days allow, and the chance to be in bloom by late
    as near to 90 %: so the days from early to late hold 80 %, not the odd half day more at either end.
    """
    climate, bring_in = simulation.climate, run.stays[0].start
    if run.waiting is not None:
        waits = bloom_chances(run.waiting, need)
        if waits.quantile(LATE) >= climate.days:
            return None
        first, last = (climate.day(waits.quantile(p)) for p in (EARLY, LATE))
        return min(first, run.ready), max(last, run.ready)
    early, late = (
        simulation.day_reaching(run.stays, bring_in, need.quantile(p) * simulation.wanted)
        for p in (EARLY, LATE)
    )
    if early is None or late is None:
        return None

    def by(day: date) -> float:
        return need.chance((heat_by(simulation, run, day) or 0.0) / simulation.wanted)

    if abs(by(early) - EARLY) < abs(by(early - DAY) - EARLY):
        early += DAY
    if abs(by(late - DAY) - LATE) < abs(by(late) - LATE):
        late -= DAY
    return min(early, run.ready), max(late, run.ready)


def _seen_ready(simulation: LotSimulation, run: Run, on: date, ready: date) -> Outlook | None:
    heat = heat_by(simulation, run, ready)
    if heat is None:
        return None
    seen, wanted = last_stage(simulation) or "bloom", simulation.lot.target_stage
    need = heat if seen == "bloom" else run.need
    return Outlook(
        simulation.lot.name, on, seen, seen, heat, need, ready, ready, ready, simulation.target,
        1.0 if ready <= simulation.target else 0.0, f"in {wanted}", wanted,
    )  # fmt: skip


def _stage_expected(simulation: LotSimulation, heat: float, need: float) -> str:
    reached = "brought in"
    for stage in STAGES:
        fraction = 1.0 if stage == "bloom" else float(getattr(simulation.recipe, stage))
        if heat >= fraction * need:
            reached = stage
    return reached


def last_stage(simulation: LotSimulation) -> str | None:
    """The latest stage that is logged."""
    seen = [stage for stage in STAGES if stage in simulation.history.stages]
    return seen[-1] if seen else None


def _words_ahead(simulation: LotSimulation, run: Run, start: date, end: date) -> str:
    """Where the temperatures from `start` to `end` are from, the most days first."""
    climate, count = simulation.climate, np.zeros(len(BASIS_WORDS), dtype=int)
    learned: list[str] = []
    for place, begin, stop in pieces(run.stays, start, end):
        days = slice(climate.index(begin), climate.index(stop))
        count += np.bincount(climate.basis[place][days], minlength=count.size)
        if climate.as_it_is(place)[days].any() and abs(climate.offsets[place].learned) >= SHOWN:
            learned.append(place)
    order = sorted(np.flatnonzero(count), key=lambda code: -count[code])
    words = ", ".join(f"{BASIS_WORDS[code]} {count[code]} d" for code in order) or BASIS_WORDS[MEASURED]
    return ", ".join([words, *(_offset_words(simulation, place) for place in dict.fromkeys(learned))])


def _offset_words(simulation: LotSimulation, place: str) -> str:
    off = simulation.climate.offsets[place].learned
    return f"{place} {show_offset(off, simulation.season.unit)} than set, as read"


def outlooks(
    simulations: Sequence[LotSimulation], on: date, expected: Mapping[str, Expectation | None] | None = None
) -> tuple[Outlook, ...]:
    """The outlook of every lot that has one, in the order given; `expected`: by name, where that is at hand."""
    known = expectations(simulations, on) if expected is None else expected
    return tuple(o for t in simulations if (o := _outlook_of(t, known[t.lot.name], on)) is not None)
