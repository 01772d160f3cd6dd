"""What the log says of a lot's need, and how uncertain the heat still to come is."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from forcing.engine.climate import FORECAST, GAP, MEASURED, NORMAL
from forcing.engine.simulate import LotSimulation, Run, pieces
from forcing.model import Recipe
from forcing.science.evidence import Need, Seen, autocorrelated_sum_sd, posterior_need, prior_need

# Half of what lies between the 10 and 90 % points of a normal distribution, in standard deviations.
Z90 = 1.2815515655446004
# Where a recipe gives no low and high for a stage's share of the need: a sixth either way. Practice, no source.
STAGE_ERROR = 0.15
LEAST_ERROR = 0.02  # even a stage with a sharp share is judged by eye

# Errors of daily mean temperatures ahead [°C]; common practice, no source, but for the sensor: +/-0.5 °C is what a
# shielded sensor keeps to (Tarara & Hoheisel 2007, HortScience 42:1372-1379).
ROOM_OFFSET_SD = 0.5  # a heated or cooled room is off by this much for the whole time: sensor and control
FORECAST_SD, FORECAST_CORRELATION = 1.5, 0.5
NORMAL_SD, NORMAL_CORRELATION = 3.0, 0.7  # weather about its normals


def heat_by(simulation: LotSimulation, run: Run, day: date) -> float | None:
    """Heat [°C·d] gathered from bring in to the start of `day`; None across a gap."""
    return simulation.heat_between(run.stays, run.stays[0].start, day)


def need_of(simulation: LotSimulation, run: Run) -> Need:
    """The lot's need after all that is logged of its stages. `run` is of the simulation at pace 1."""
    prior = prior_need(run.need / simulation.pace, simulation.recipe.spread)
    return posterior_need(prior, evidence(simulation, run))


def expected_need(simulation: LotSimulation, run: Run, on: date) -> Need:
    """The lot's need as its outlook on `on` has it: after its logged stages, as unsure as the heat to come makes it.

    `run`: of the lot at the pace of `simulation`. The heat to come is that from `on` (or bring in) to bloom.
    """
    first = max(on, run.stays[0].start)
    return need_of(simulation, run).widened(heat_ahead_sd(simulation, run, first, max(first, run.bloom)))


def evidence(simulation: LotSimulation, run: Run) -> tuple[Seen, ...]:
    """Each stage before bloom that is logged, as what it implies of the need.

    A stage seen on a day was reached since the day before: half a day's heat is taken off, and half a day's
    heat is part of its error.
    """
    out = []
    for stage in ("shoots", "bud", "colour"):
        day = simulation.history.stages.get(stage)
        if day is None:
            continue
        fraction = float(getattr(simulation.recipe, stage))
        heat, before = heat_by(simulation, run, day), heat_by(simulation, run, day - timedelta(days=1))
        if heat is None or before is None or heat <= 0:
            continue
        half = (heat - before) / 2
        reached = heat - half
        judged = max(LEAST_ERROR, figure_sigma(simulation.recipe, stage, STAGE_ERROR))
        out.append(Seen(reached / fraction, math.hypot(judged, half / reached)))
    return tuple(out)


def figure_sigma(recipe: Recipe, name: str, otherwise: float) -> float:
    """Standard deviation of the logarithm of a recipe's figure, from its low and high; `otherwise` without them."""
    figure = recipe.figures.get(name)
    if figure is None or figure.low is None or figure.high is None or not 0 < figure.low < figure.high:
        return otherwise
    return math.log(figure.high / figure.low) / (2 * Z90)


def paced(simulation: LotSimulation, run: Run) -> LotSimulation:
    """The simulation at the pace that its logged stages show."""
    need = need_of(simulation, run)
    return replace(simulation, pace=need.median / (run.need / simulation.pace))


def heat_ahead_sd(simulation: LotSimulation, run: Run, start: date, end: date) -> float:
    """Standard deviation [°C·d] of the heat from `start` to `end`, as far as temperatures are not measured."""
    climate, room_days, normal_days, forecast_days = simulation.climate, 0, 0, 0
    for place, begin, stop in pieces(run.stays, start, end):
        basis = climate.basis[place][climate.index(begin) : climate.index(stop)]
        known = int(np.count_nonzero((basis == MEASURED) | (basis == GAP)))
        normal = int(np.count_nonzero(basis == NORMAL))
        forecast = int(np.count_nonzero(basis == FORECAST))
        normal_days, forecast_days = normal_days + normal, forecast_days + forecast
        room_days += basis.size - known - normal - forecast
    return math.sqrt(
        (room_days * ROOM_OFFSET_SD) ** 2
        + autocorrelated_sum_sd(normal_days, NORMAL_SD, NORMAL_CORRELATION) ** 2
        + autocorrelated_sum_sd(forecast_days, FORECAST_SD, FORECAST_CORRELATION) ** 2
    )
