"""Bloom cover: the share of a display's pots in bloom on each day, and the chance that it is enough.

Companions count where no bulbs are planted, or where a planting says so: they stand from their set-out day, are in
flower from the day on which they are finished, with the spread of their recipe and of the heat still to come, and
flower until the display closes, they are logged as faded, or it was too warm for them on as many days as their recipe
says, where it does.

The model. Each lot's need is log-normal about what its recipe and its logged stages say, widened by what is not
known of the temperatures ahead; the pots of a lot bloom together on the first day its heat reaches that need, and
fade on the first day by which the heat since then has reached its life on display, at the place where it stands.
The pots standing in the display on a day are as planned.

Because life is thermal time counted from bloom, a lot that blooms later never fades earlier. So a lot is in bloom on
day d just when its heat at d has reached the need, and its heat at the last day of bloom that is over by d has not:
the chance is the difference of two values of the distribution of its need. Lots share their season, class, cultivar
and bench: the chance that enough pots are in bloom is counted over seasons drawn with what they have in common
(`pooling.late_together`), so that lots that are late are late together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, Span
from forcing.engine.backward import plan_lot
from forcing.engine.climate import TOLERANCE, Climate, Floats
from forcing.engine.companions import CompanionPlan, CompanionStep
from forcing.engine.need import bloom_chances, heat_sd, kind_of, need_of, tie_of, unsure_ahead
from forcing.engine.replan import Expectation
from forcing.engine.show.standing import Standing
from forcing.engine.simulate import LotSimulation
from forcing.model import BloomClass, Display, LotPlan
from forcing.science.evidence import prior_need
from forcing.science.flowering import lognormal_sigma
from forcing.science.pooling import COMMON, Kind, Tie, late_together

Bools = NDArray[np.bool_]
_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class BloomOdds:
    """Chances of one lot on each day of a span (both tuples: days), and its dates."""

    lot: str
    opened: tuple[float, ...]  # to have come into bloom
    over: tuple[float, ...]  # to be past display
    bloom: date  # of the typical pot
    fade: date | None  # None: not known that far
    tie: Tie

    @property
    def share(self) -> tuple[float, ...]:
        """The chance to be in bloom."""
        return tuple(opened - over for opened, over in zip(self.opened, self.over, strict=True))


def bloom_odds(known: Expectation, span: Span, on: date) -> BloomOdds | None:
    """When a lot is in bloom over the days of `span`, as seen on day `on`; None past a gap before or during them."""
    simulation, run = known.simulation, known.run
    name, history, recipe = simulation.lot.name, simulation.history, simulation.recipe
    if "bloom" in history.stages or history.faded is not None:  # seen, so certain
        fade = history.faded or simulation.fade(run)
        opened = tuple(float(day >= run.bloom) for day in span)
        over = tuple(float(fade is not None and day >= fade) for day in span)
        none = Tie(kind_of(simulation.lot, recipe), simulation.route.bench, 0.0)
        return BloomOdds(name, opened, over, run.bloom, fade, none)
    climate = simulation.climate
    legs = tuple((stay.place, climate.index(stay.start)) for stay in run.stays)
    heat = climate.along(legs, "heat", recipe.base, recipe.cap)
    first, days = legs[0][1], np.array([climate.index(day) for day in span], dtype=np.int64)
    last = int(days.max(initial=first))
    if heat.total(first, last) is None:
        return None
    sums = heat.cumulative - heat.cumulative[first] + TOLERANCE
    # Of the days it could come into bloom, the last whose display is over by each day of the span.
    ageing = climate.along(legs, "ageing", *recipe.ageing)
    blooms = np.arange(first, last + 1)
    done = np.searchsorted(
        ageing.reaches(blooms, np.full(blooms.size, recipe.display_life)), days, side="right"
    )
    past = np.where(done > 0, sums[first + done - 1], 0.0)
    seen = need_of(simulation, run)
    need = unsure_ahead(simulation, run, seen, on)
    tie = tie_of(simulation, seen, need)
    if run.waiting is not None:
        waits = bloom_chances(run.waiting, need)
        gone = [waits.by(first + n - 1) if n > 0 else 0.0 for n in done.tolist()]
        opened = tuple(map(waits.by, days.tolist()))
        return BloomOdds(name, opened, tuple(gone), run.bloom, simulation.fade(run), tie)
    opened, over = (tuple(need.chance(h) for h in heats.tolist()) for heats in (sums[days], past))
    return BloomOdds(name, opened, over, run.bloom, simulation.fade(run), tie)


def companion_odds(climate: Climate, plan: CompanionPlan, display: Display, on: date) -> BloomOdds | None:
    """When a companion is in flower over the days of a display, seen on day `on`; None past a gap of temperatures."""
    name, recipe, span, begun = plan.companion.name, plan.recipe, display.span, plan.transplant
    steps = [s for s in plan.steps if s.place is not None and s.display in (None, display.name)]
    days = np.array([climate.index(day) for day in span], dtype=np.int64)
    kind = Kind(("companion", recipe.crop), name, float(lognormal_sigma(recipe.spread)))
    opened = tuple(float(plan.finish is not None and day >= plan.finish) for day in span)
    tie = Tie(kind, plan.place, 0.0)
    if begun is not None:  # else it is bought in flower, or nearly
        legs = tuple((step.place or "", climate.index(step.span.start)) for step in steps)
        heat, first = climate.along(legs, "heat", recipe.base, recipe.cap), climate.index(begun)
        if heat.total(first, int(days.max(initial=first))) is None:
            return None
        known = prior_need(plan.need, recipe.spread)
        first_day, finish = max(on, begun), plan.finish or span.end
        ahead = [(s.place or "", max(s.span.start, first_day), min(s.span.end, finish)) for s in steps]
        need = known.widened(heat_sd(climate, [stay for stay in ahead if stay[1] < stay[2]]))
        share = (known.sigma / need.sigma) ** 2 if need.sigma else 1.0
        tie = Tie(kind, plan.place, COMMON * share, 1.0 - share)
        sums = heat.cumulative[days] - heat.cumulative[first] + TOLERANCE
        opened = tuple(map(need.chance, sums.tolist()))
    fade = plan.faded or _too_warm(climate, plan, steps)
    over = tuple(float(fade is not None and day >= fade) for day in span)
    opened = tuple(map(max, opened, over))
    return BloomOdds(name, opened, over, plan.finish or span.end, fade, tie)


def _too_warm(climate: Climate, plan: CompanionPlan, steps: Sequence[CompanionStep]) -> date | None:
    """The day by which it was too warm for its flowers for long enough; None: warmth does not end them."""
    recipe, start = plan.recipe, plan.finish
    if recipe.warm_above is None or recipe.warm_days is None or start is None:
        return None
    days = [(day, step.place or "") for step in steps for day in step.span if day >= start]
    warm = [day for day, place in days if climate.mean(place)[climate.index(day)] > recipe.warm_above]
    return warm[int(recipe.warm_days) - 1] + DAY if len(warm) >= recipe.warm_days > 0 else None


def planned_odds(simulation: LotSimulation, span: Span, on: date) -> tuple[LotPlan, BloomOdds] | None:
    """A lot counted back anew, and when it is in bloom; None: it cannot be potted any more, or past a gap."""
    plan = plan_lot(simulation)
    if not isinstance(plan, LotPlan) or plan.potting < on:
        return None
    run = simulation.run(plan.cooler_in, plan.bring_in)
    odds = None if run is None else bloom_odds(Expectation(plan, simulation, run), span, on)
    return None if odds is None else (plan, odds)


# ---------------------------------------------------------------- a display


@dataclass(frozen=True, slots=True)
class Cover:
    """The bloom of one display on each day it is open (all tuples: days of `span`)."""

    display: str
    span: Span
    wanted: float
    standing: tuple[int, ...]  # pots in the display
    share: tuple[float | None, ...]  # expected share of them in bloom; None: nothing stands there
    chance: tuple[float | None, ...]  # that at least `wanted` are
    by_class: Mapping[BloomClass | None, tuple[float, ...]]  # what each class gives to the share
    unknown: tuple[str, ...]  # lots of the display left out, because they are not planned

    def day(self, number: int) -> date:
        """The date of a day of the span."""
        return self.span.start + number * DAY

    def least_from(self, on: date) -> float:
        """The least chance of the days from `on`; 1 where none is left."""
        ahead = (chance for day, chance in zip(self.span, self.chance, strict=True) if day >= on)
        return min((chance or 0.0 for chance in ahead), default=1.0)

    @property
    def thin(self) -> tuple[bool, ...]:
        """Days on which too little is expected, or enough is less likely than not."""
        return tuple(
            share is None or chance is None or share < self.wanted - 1e-9 or chance < 0.5
            for share, chance in zip(self.share, self.chance, strict=True)
        )

    @property
    def thin_spans(self) -> tuple[Span, ...]:
        """Thin days in a row."""
        spans: list[Span] = []
        for day, thin in zip(self.span, self.thin, strict=True):
            if thin and spans and spans[-1].end == day:
                spans[-1] = Span(spans[-1].start, day + DAY)
            elif thin:
                spans.append(Span(day, day + DAY))
        return tuple(spans)


def cover_of(
    stand: Standing, odds: Mapping[str, BloomOdds], classes: Mapping[str, BloomClass | None], wanted: float
) -> Cover:
    """The bloom cover of one display: `odds` of its lots over its days, and the class of each lot.

    Raises ValueError unless `wanted` is above 0 and at most 1.
    """
    if not 0.0 < wanted <= 1.0:
        raise ValueError(f"the wanted share must be above 0 and at most 1: {wanted}")
    span, kinds = stand.display.span, sorted({classes[name] for name in odds}, key=str)
    standing = {name: stand.pots(name) for name in odds}
    shares = {name: lot.share for name, lot in odds.items()}
    totals, covered = [], []
    parts: dict[BloomClass | None, list[float]] = {kind: [] for kind in kinds}
    for i in range(span.days):
        lots = [(name, standing[name][i], shares[name][i]) for name in odds if standing[name][i]]
        total, blooming = sum(pots for _, pots, _ in lots), dict.fromkeys(kinds, 0.0)
        for name, pots, share in lots:
            blooming[classes[name]] += pots * share
        for kind in kinds:
            parts[kind].append(blooming[kind] / total if total else 0.0)
        totals.append(total)
        covered.append(sum(blooming.values()) / total if total else None)
    late = late_together([lot.tie for lot in odds.values()])
    shown = [
        (standing[name], in_bloom(row, lot)) for row, (name, lot) in zip(late, odds.items(), strict=True)
    ]
    unknown = tuple(dict.fromkeys(p.lot for p in stand.pieces if p.lot not in odds)) + stand.unplanned
    return Cover(
        stand.display.name, span, wanted, tuple(totals), tuple(covered), chances_of_enough(shown, wanted, span.days),
        {kind: tuple(values) for kind, values in parts.items()}, unknown,
    )  # fmt: skip


def in_bloom(late: Floats, lot: BloomOdds) -> Bools:
    """Whether a lot is in bloom (shape: days, seasons) in seasons in which it is so `late` (shape: seasons)."""
    over, opened = (np.array([[_score(chance)] for chance in chances]) for chances in (lot.over, lot.opened))
    return np.asarray((late > over) & (late <= opened))


def chances_of_enough(
    lots: Sequence[tuple[Sequence[int], Bools]], wanted: float, days: int
) -> tuple[float | None, ...]:
    """For each day the chance that at least the share `wanted` of the pots standing is in bloom; None: none stands.

    lots: pots by day, and whether they are in bloom (shape: days, seasons).
    """
    seasons = max((shown.shape[1] for _, shown in lots), default=1)
    blooming, total = np.zeros((days, seasons), dtype=np.float32), np.zeros((days, 1))
    for pots, shown in lots:
        there = np.flatnonzero(pots)  # most lots stand there for a part of the days
        mine = np.array(pots, dtype=np.float32)[there, None]
        blooming[there] += mine * shown[there]
        total[there] += mine
    # 0.6 × 50 is 30 pots, whatever dust the product leaves.
    enough = (blooming >= np.ceil(wanted * total - 1e-9)).mean(axis=1)
    return tuple(float(e) if t else None for e, t in zip(enough, total[:, 0], strict=True))


def _score(chance: float) -> float:
    """The standard normal quantile, at 0 and 1 without bound."""
    if 0.0 < chance < 1.0:
        return _NORMAL.inv_cdf(chance)
    return math.inf if chance >= 1.0 else -math.inf
