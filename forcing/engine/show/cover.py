"""Bloom cover: the share of a display's pots in bloom on each day, and the chance that it is enough.

The model. Each lot's need is log-normal about what its recipe and its logged stages say, widened by what is not
known of the temperatures ahead; the pots of a lot bloom together on the first day its heat reaches that need, and
fade on the first day by which the heat since then has reached its life on display, at the place where it stands.
With `within`, the needs of the pots of a lot also differ from each other by that spread (log-normal, independent).
Lots are independent of each other, and the pots standing in the display on a day are as planned.

Because life is thermal time counted from bloom, a lot that blooms later never fades earlier. So a lot is in bloom on
day d just when its heat at d has reached the need, and its heat at the last day of bloom that is over by d has not:
the chance is the difference of two values of the distribution of its need. The chance that enough pots are in bloom
is the exact convolution of the lots' numbers of pots, on whole pots.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, Span
from forcing.engine.backward import replan_lot
from forcing.engine.climate import TOLERANCE
from forcing.engine.need import heat_ahead_sd, heat_by, need_of
from forcing.engine.show.standing import Standing
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import BloomClass, LotPlan
from forcing.science.evidence import Need
from forcing.science.flowering import lognormal_sigma

Floats = NDArray[np.float64]
WANTED = 0.6  # share of pots in bloom that a display is to keep; practice, no source
NODES = 400  # equal shares of a lot's own uncertainty, where its pots differ among themselves


_log_gamma = np.vectorize(math.lgamma, otypes=[float])
_normal_chance = np.vectorize(NormalDist().cdf, otypes=[float])


@dataclass(frozen=True, slots=True)
class BloomOdds:
    """When one lot is in bloom, on each day of a span (shape: days).

    `reached` is the heat [°C·d] by the start of the day, `over` the heat by the last bloom that is past display by
    then (0: none is). A lot seen in bloom is certain: its need is then None, and `reached` and `over` are 0 or 1.
    """

    lot: str
    need: Need | None
    above: float  # the need is known to be more than this [°C·d]
    reached: tuple[float, ...]
    over: tuple[float, ...]
    bloom: date  # of the typical pot
    fade: date | None  # None: not known that far

    def share(self, day: int, within: float = 0.0) -> float:
        """Expected share of the lot in bloom on that day of the span."""
        need = self.need
        if need is None:
            return self.reached[day] - self.over[day]
        if within <= 0.0:
            return need.chance(self.reached[day], self.above) - need.chance(self.over[day], self.above)
        return float(self._shares_within(day, within).mean())

    def pots(self, day: int, pots: int, within: float = 0.0) -> Floats:
        """Chances of 0 ... `pots` pots of the lot in bloom on that day (shape: pots + 1)."""
        out = np.zeros(pots + 1)
        if self.need is None or within <= 0.0:
            p = min(1.0, max(0.0, self.share(day)))
            out[0] += 1.0 - p
            out[pots] += p
            return out
        shares = self._shares_within(day, within)
        k = np.arange(pots + 1)
        ways = _log_gamma(pots + 1) - _log_gamma(k + 1) - _log_gamma(pots - k + 1)
        with np.errstate(divide="ignore"):
            logs, others = np.log(shares), np.log1p(-shares)
        powers = np.where(k == 0, 0.0, k * logs[:, None].clip(-1e6))
        powers += np.where(k == pots, 0.0, (pots - k) * others[:, None].clip(-1e6))
        return np.asarray(np.exp(ways + powers).mean(axis=0))

    def _shares_within(self, day: int, within: float) -> Floats:
        """Share of the pots in bloom for each of NODES equal shares of the lot's own uncertainty."""
        need, sigma = self.need, float(lognormal_sigma(within))
        assert need is not None
        middles = (np.arange(NODES) + 0.5) / NODES
        medians = np.log([need.quantile(p, self.above) for p in middles])

        def by(heat: float) -> Floats:
            if heat <= 0.0:
                return np.zeros(NODES)
            return np.asarray(_normal_chance((math.log(heat) - medians) / sigma))

        return by(self.reached[day]) - by(self.over[day])


def bloom_odds(simulation: LotSimulation, span: Span, on: date) -> BloomOdds | None:
    """When the lot is in bloom over the days of `span`, as seen on day `on`; None where it cannot be planned."""
    started = simulation.history.started
    plan = replan_lot(simulation, on if started else None)
    if not isinstance(plan, LotPlan):
        return None
    simulation = replace(simulation, pace=plan.need / simulation.need(plan.cold_weeks))
    run = simulation.run(plan.cooler_in or plan.bring_in, plan.bring_in)
    if run is None:
        return None
    name = simulation.lot.name
    if "bloom" in simulation.history.stages or simulation.history.faded is not None:
        fade = simulation.history.faded or simulation.fade(run)
        here = tuple(float(day >= run.bloom) for day in span)
        gone = tuple(float(fade is not None and day >= fade) for day in span)
        return BloomOdds(name, None, 0.0, here, gone, run.bloom, fade)
    bring_in = run.stays[0].start
    start = max(on, bring_in)
    need = need_of(simulation, run).widened(heat_ahead_sd(simulation, run, start, max(start, run.bloom)))
    above = heat_by(simulation, run, on) if started and on > bring_in else 0.0
    reached = [heat_by(simulation, run, day) for day in span]
    if above is None or any(heat is None for heat in reached):
        return None  # a gap before or during the show: nothing can be said
    over = _over(simulation, run, span)
    known = tuple((heat or 0.0) + TOLERANCE for heat in reached)
    return BloomOdds(name, need, above, known, over, run.bloom, simulation.fade(run))


def _over(simulation: LotSimulation, run: Run, span: Span) -> tuple[float, ...]:
    """For each day, the heat by the last day of bloom whose display is over by then; 0 where there is none."""
    out: list[float] = []
    bloom, heat = run.stays[0].start, 0.0
    for day in span:
        while bloom < day:
            faded = simulation.fade(_blooming(run, bloom))
            if faded is None or faded > day:
                break
            heat = (heat_by(simulation, run, bloom) or 0.0) + TOLERANCE
            bloom += DAY
        out.append(heat)
    return tuple(out)


def _blooming(run: Run, day: date) -> Run:
    return replace(run, stages={**run.stages, "bloom": day})


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
    stand: Standing,
    odds: Mapping[str, BloomOdds],
    classes: Mapping[str, BloomClass | None],
    wanted: float = WANTED,
    within: float = 0.0,
) -> Cover:
    """The bloom cover of one display: `odds` of its lots over its days, and the class of each lot.

    Raises ValueError unless `wanted` is above 0 and at most 1.
    """
    if not 0.0 < wanted <= 1.0:
        raise ValueError(f"the wanted share must be above 0 and at most 1: {wanted}")
    span, kinds = stand.display.span, sorted({classes[name] for name in odds}, key=str)
    numbers, shares, chances = [], [], []
    parts: dict[BloomClass | None, list[float]] = {kind: [] for kind in kinds}
    for i, day in enumerate(span):
        pots = {name: stand.pots(name, day) for name in odds}
        total = sum(pots.values())
        blooming = dict.fromkeys(kinds, 0.0)
        for name, number in pots.items():
            blooming[classes[name]] += number * odds[name].share(i, within) if number else 0.0
        for kind in kinds:
            parts[kind].append(blooming[kind] / total if total else 0.0)
        numbers.append(total)
        shares.append(sum(blooming.values()) / total if total else None)
        rows = [odds[name].pots(i, number, within) for name, number in pots.items() if number]
        chances.append(chance_of_enough(rows, wanted) if total else None)
    unknown = tuple(dict.fromkeys(p.lot for p in stand.pieces if p.lot not in odds)) + stand.unplanned
    return Cover(
        stand.display.name, span, wanted, tuple(numbers), tuple(shares), tuple(chances),
        {kind: tuple(values) for kind, values in parts.items()}, unknown,
    )  # fmt: skip


def chance_of_enough(lots: Sequence[Floats], wanted: float) -> float:
    """Chance that at least the share `wanted` of all pots is in bloom, from each lot's chances of 0, 1, ... pots."""
    total = np.ones(1)
    for chances in lots:
        total = np.convolve(total, chances)
    pots = total.size - 1
    # 0.6 × 50 is 30 pots, whatever dust the product leaves.
    return float(min(1.0, total[math.ceil(wanted * pots - 1e-9) :].sum()))


def covers_classes(simulations: Sequence[LotSimulation]) -> dict[str, BloomClass | None]:
    """The class of each lot: its own, or else its recipe's."""
    return {t.lot.name: t.lot.bloom_class or t.recipe.bloom_class for t in simulations}


def odds_over(simulations: Sequence[LotSimulation], span: Span, on: date) -> Iterator[BloomOdds]:
    """The odds of every lot that has some."""
    return (odds for t in simulations if (odds := bloom_odds(t, span, on)) is not None)
