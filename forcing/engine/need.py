"""What the log says of a lot's need, and how uncertain the heat still to come is."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from forcing.engine.climate import FORECAST, GAP, MEASURED, NORMAL, Climate
from forcing.engine.simulate import STAGES, LotSimulation, Run, Waiting, pieces
from forcing.model import Lot, Recipe
from forcing.science.evidence import Need, Sight, autocorrelated_sum_sd, posterior_need, prior_need
from forcing.science.flowering import lognormal_sigma
from forcing.science.pooling import COMMON, Kind, Measured, Pool, Tie
from forcing.text import fold

# Half of what lies between the 10 and 90 % points of a normal distribution, in standard deviations.
Z90 = 1.2815515655446004
# Where a recipe gives no low and high for a stage's share of the need: a sixth either way. Practice, no source.
STAGE_ERROR = 0.15
LEAST_ERROR = 0.02  # even a stage with a sharp share is judged by eye
LEARNED = 0.98  # of its recipe's standard deviation: a lot that is known no better says nothing of others
LIKELY = 400  # equally likely needs that stand for all there may be
SILENT = 1.5  # times the heat a recipe asks: past it a lot without bloom in its log has no log; practice, no source
OUTLIER = 4.0  # standard deviations: a lot farther off has a slip in its log or recipe; practice, no source

# Errors of daily mean temperatures ahead [°C]; common practice, no source, but for the sensor: +/-0.5 °C is what a
# shielded sensor keeps to (Tarara & Hoheisel 2007, HortScience 42:1372-1379).
ROOM_OFFSET_SD = 0.5  # a heated or cooled room is off by this much for the whole time: sensor and control
FORECAST_SD, FORECAST_CORRELATION = 1.5, 0.5
NORMAL_SD, NORMAL_CORRELATION = 3.0, 0.7  # weather about its normals


def heat_by(simulation: LotSimulation, run: Run, day: date) -> float | None:
    """Heat [°C·d] gathered from bring in to the start of `day`; None across a gap."""
    return simulation.heat_between(run.stays, run.stays[0].start, day)


def need_of(simulation: LotSimulation, run: Run) -> Need:
    """The lot's need after all looks at it, and what the other lots say. `run`: at the pace of `simulation`.

    Where nobody has seen bloom yet, the need is more than the heat at the last look.
    """
    prior = prior_need(run.need / simulation.pace, simulation.spread(run.cold_weeks))
    if simulation.others is not None:
        prior = Need(prior.median * simulation.others.factor, simulation.others.sigma)
    seen, bloom = sights(simulation, run)
    above = bloom.low if bloom is not None and math.isinf(bloom.high) else 0.0
    return replace(posterior_need(prior, seen), above=above)


def expected_need(simulation: LotSimulation, run: Run, on: date) -> Need:
    """The lot's need as its outlook on `on` has it: after all looks, as unsure as the heat to come makes it.

    `run`: of the lot at the pace of `simulation`. The heat to come is that from `on` (or bring in) to bloom.
    """
    return unsure_ahead(simulation, run, need_of(simulation, run), on)


def unsure_ahead(simulation: LotSimulation, run: Run, need: Need, on: date) -> Need:
    """A need as unsure as the heat to come from `on` (or bring in) to bloom makes it."""
    first = max(on, run.stays[0].start)
    return need.widened(heat_ahead_sd(simulation, run, first, max(first, run.bloom)))


def tie_of(simulation: LotSimulation, known: Need, ahead: Need) -> Tie:
    """What makes the bloom of a lot late together with that of others; its need as `known`, and as unsure `ahead`.

    The more was seen of other lots, the less is open of what it has in common with them; and the more of itself.
    """
    kind, bench = kind_of(simulation.lot, simulation.recipe), simulation.route.bench
    alone, all_of_it = kind.sigma**2, ahead.sigma**2
    before = alone if simulation.others is None else simulation.others.sigma**2
    if not all_of_it or not before:
        return Tie(kind, bench, 0.0)
    common = min(COMMON, max(0.0, 1.0 - (1.0 - COMMON) * alone / before))
    share = known.sigma**2 / all_of_it
    return Tie(kind, bench, common * min(1.0, known.sigma**2 / before) * share, 1.0 - share)


def seen_of(simulation: LotSimulation, run: Run) -> Measured | None:
    """What the looks at a lot, bloom included, say of its need over that of its recipe; None: nothing.

    The normal law that, taken together with the recipe's own, has the mean and variance of what is known of the lot.
    """
    prior = prior_need(run.need / simulation.pace, simulation.spread(run.cold_weeks))
    before, bloom = sights(simulation, run)
    after = posterior_need(prior, (*before, *([bloom] if bloom else [])))
    if not 0.0 < after.sigma < LEARNED * prior.sigma:
        return None
    precision = after.sigma**-2 - prior.sigma**-2
    return Measured(math.log(after.median / prior.median) / after.sigma**2 / precision, precision**-0.5)


def with_others(
    simulations: Sequence[LotSimulation], runs: Mapping[str, Run | None]
) -> tuple[LotSimulation, ...]:
    """The lots, each with what the looks at all others say of its pace; `runs`: by lot, at the recipe's pace."""
    kinds = [kind_of(s.lot, s.recipe) for s in simulations]
    seen = [_source(s, runs.get(s.lot.name)) for s in simulations]
    if not any(seen) or not all(kind.sigma > 0 for kind in kinds):
        return tuple(simulations)
    pool = Pool(kinds, seen)
    return tuple(replace(s, others=pool.from_others(i)) for i, s in enumerate(simulations))


def kind_of(lot: Lot, recipe: Recipe) -> Kind:
    """What a lot has in common with others. One without a cultivar may be of any: it is a cultivar of its own."""
    cultivar = fold(lot.cultivar) if lot.cultivar else (lot.stated_name,)
    return Kind((fold(lot.crop), lot.bloom_class), cultivar, float(lognormal_sigma(recipe.spread)))


def _source(simulation: LotSimulation, run: Run | None) -> Measured | None:
    """What others may learn from a lot: nothing where its bring in is not logged, or its log is not to be believed."""
    if run is None or simulation.history.brought_in is None or not simulation.history.looks:
        return None
    seen = seen_of(simulation, run)
    beyond = OUTLIER * float(lognormal_sigma(simulation.recipe.spread))
    return None if seen is None or abs(seen.log_ratio) > beyond else seen


def sights(simulation: LotSimulation, run: Run) -> tuple[tuple[Sight, ...], Sight | None]:
    """What the looks say of the stages before bloom, and of bloom itself; None: nothing.

    Of a stage that is not logged, it is that it was not there, or was missed, at the look before a later one was seen,
    or else at the last look of all. Where the log must have lapsed, looks after the last stage say nothing.
    """
    history, found = simulation.history, list[Sight | None]()
    later: date | None = None  # when the first of the later stages was seen; None: none is yet
    silent = history.faded is not None or _silent(simulation, run)
    for stage in reversed(STAGES):
        day = history.stages.get(stage)
        later = day or later
        told = later is not None or not silent
        found.append(_sight(simulation, run, stage, later, day is not None) if told else None)
    return tuple(s for s in reversed(found[1:]) if s is not None), found[0]


def _silent(simulation: LotSimulation, run: Run) -> bool:
    """Whether a lot has had so much heat by the last look that it bloomed unlogged, rather than not at all."""
    looks, bring_in = simulation.history.looks, run.stays[0].start
    heat = heat_by(simulation, run, max(looks[-1], bring_in)) if looks else None
    return heat is not None and heat > SILENT * run.need / simulation.pace


def _sight(simulation: LotSimulation, run: Run, stage: str, day: date | None, seen: bool) -> Sight | None:
    """The sight of a stage that was not there at the look before `day` (None: at the last), and `seen` on it or not."""
    history, bring_in, recipe = simulation.history, run.stays[0].start, simulation.recipe
    at = len(history.looks) if day is None else bisect_left(history.looks, day)
    low = heat_by(simulation, run, max(history.looks[at - 1], bring_in) if at else bring_in)
    high = heat_by(simulation, run, day) if seen and day is not None else math.inf
    if low is None or high is None or high <= 0.0 or (low <= 0.0 and not seen):
        return None
    if stage == "bloom":
        return Sight(1.0, 0.0, low, high)
    missed = 0.0 if seen else history.missed.get(stage, 1.0)
    error = max(LEAST_ERROR, figure_sigma(recipe, stage, STAGE_ERROR))
    return None if missed == 1.0 else Sight(float(getattr(recipe, stage)), error, low, high, missed)


def figure_sigma(recipe: Recipe, name: str, otherwise: float) -> float:
    """Standard deviation of the logarithm of a recipe's figure, from its low and high; `otherwise` without them."""
    figure = recipe.figures.get(name)
    if figure is None or figure.low is None or figure.high is None or not 0 < figure.low < figure.high:
        return otherwise
    return math.log(figure.high / figure.low) / (2 * Z90)


def paced(simulation: LotSimulation, run: Run) -> LotSimulation:
    """The simulation at the pace that the looks at it, and at other lots, show: that of the pot in the middle."""
    need = need_of(simulation, run).quantile(0.5)
    return replace(simulation, pace=need / (run.need / simulation.pace))


@dataclass(frozen=True, slots=True, eq=False)
class BloomChances:
    """When a lot comes into bloom, where it waits in the cold from its own colour on: equally likely days, in order."""

    days: NDArray[np.int64]

    def by(self, day: int) -> float:
        """Chance to be in bloom by a day number."""
        return float(np.searchsorted(self.days, day, side="right") / self.days.size)

    def quantile(self, chance: float) -> int:
        """Day number by which it is in bloom with this chance."""
        return int(self.days[min(int(chance * self.days.size), self.days.size - 1)])


def bloom_chances(waiting: Waiting, need: Need) -> BloomChances:
    """The days of a lot that waits; `need`: as it is known."""
    chances = (np.arange(LIKELY) + 0.5) / LIKELY
    return BloomChances(np.sort(waiting.blooms(np.array([need.quantile(float(p)) for p in chances]))))


def heat_ahead_sd(simulation: LotSimulation, run: Run, start: date, end: date) -> float:
    """Standard deviation [°C·d] of the heat from `start` to `end`, as far as temperatures are not measured."""
    return heat_sd(simulation.climate, pieces(run.stays, start, end))


def heat_sd(climate: Climate, stays: Iterable[tuple[str, date, date]]) -> float:
    """Standard deviation [°C·d] of the heat along stays (place, from, to), as far as temperatures are not measured."""
    rooms, normal_days, forecast_days = 0.0, 0, 0
    for place, begin, stop in stays:
        basis = climate.basis[place][climate.index(begin) : climate.index(stop)]
        known = int(np.count_nonzero((basis == MEASURED) | (basis == GAP)))
        normal = int(np.count_nonzero(basis == NORMAL))
        forecast = int(np.count_nonzero(basis == FORECAST))
        normal_days, forecast_days = normal_days + normal, forecast_days + forecast
        offset = climate.offsets.get(place)
        room = ROOM_OFFSET_SD * math.sqrt(offset.doubt if offset else 1.0)
        rooms += room * (basis.size - known - normal - forecast)
    return math.sqrt(
        rooms**2
        + autocorrelated_sum_sd(normal_days, NORMAL_SD, NORMAL_CORRELATION) ** 2
        + autocorrelated_sum_sd(forecast_days, FORECAST_SD, FORECAST_CORRELATION) ** 2
    )
