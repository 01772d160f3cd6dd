"""What the log says of a lot's need, and what is not known of the heat ahead: by hand and by plain loops."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.engine.need import evidence, expected_need, figure_sigma, heat_ahead_sd, need_of, paced
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import Display, Figure, LogEntry, Lot, Override, Place, Reading, Season
from forcing.recipes.book import RecipeBook
from tests.builders import house_figures, season, worked

DAY = timedelta(days=1)
TARGET, COOLED, BROUGHT = date(2027, 3, 20), date(2026, 11, 18), date(2027, 2, 24)
# 24 days of 14 °C·d, 336; brought in on 24 February for 20 March.
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
)  # fmt: skip


def growing(*seen: tuple[int, str], **other: object) -> tuple[LotSimulation, Run]:
    """A lot brought in on 24 February with stages seen so many days later, at the pace of its recipe."""
    figures = (*FIGURES, *other.pop("figures", ()))  # type: ignore[misc]
    log = [LogEntry(COOLED, "A", "cooler in"), LogEntry(BROUGHT, "A", "brought in")]
    log += [LogEntry(BROUGHT + days * DAY, "A", stage) for days, stage in seen]  # type: ignore[arg-type]
    lot = other.pop("lot", Lot("A", "tulip", 10, target=TARGET))
    stated: Season = season([lot], overrides=figures, log=tuple(log), **other)  # type: ignore[list-item]
    simulation = worked(stated, BROUGHT + 40 * DAY).simulations[0]
    plain = replace(simulation, pace=1.0)
    run = plain.run(COOLED, BROUGHT)
    assert run is not None
    return plain, run


# ---------------------------------------------------------------- stages


def test_each_stage_is_evidence_of_the_need_and_bloom_is_none() -> None:
    # Half a day before the day it was seen: 4.5, 11.5 and 20.5 days of 14 by shoots (0.2), bud (0.5), colour (0.85).
    # No range is stated: 0.15, with half a day of what was gathered.
    found = evidence(*growing((5, "shoots"), (12, "bud"), (21, "colour"), (24, "bloom")))
    days = ((4.5, 0.2), (11.5, 0.5), (20.5, 0.85))
    assert [seen.need for seen in found] == pytest.approx([14 * d / share for d, share in days])
    assert [seen.error for seen in found] == pytest.approx([math.hypot(0.15, 0.5 / d) for d, _ in days])


def test_a_stage_seen_on_the_first_day_says_nothing_and_hides_no_later_one() -> None:
    (seen,) = evidence(*growing((0, "shoots"), (12, "bud")))
    assert seen.need == pytest.approx(14 * 11.5 / 0.5)
    # One day on the bench: half a day before the look is half a day's heat.
    (seen,) = evidence(*growing((1, "shoots")))
    assert (seen.need, seen.error) == (pytest.approx(7 / 0.2), pytest.approx(math.hypot(0.15, 1)))


def test_the_error_of_a_stage_is_that_of_its_own_range_and_never_below_two_percent() -> None:
    # 0.4 to 0.6: ln 1.5 / (2 * 1.2815516) = 0.158193. A share that is sure is still judged by eye.
    wide = (Override("tulip", "bud", 0.5, low=0.4, high=0.6),)
    (seen,) = evidence(*growing((12, "bud"), figures=wide))
    assert seen.error == pytest.approx(math.hypot(0.158193, 0.5 / 11.5), abs=1e-6)
    sharp = (Override("tulip", "bud", 0.5, low=0.499, high=0.501),)
    (seen,) = evidence(*growing((12, "bud"), figures=sharp))
    assert seen.error == pytest.approx(math.hypot(0.02, 0.5 / 11.5))


@pytest.mark.parametrize(
    ("low", "high", "sigma"),
    [
        (0.4, 0.6, 0.158193),  # ln 1.5 / 2.5631031
        (2.0, 6.0, 0.428626),  # ln 3 / 2.5631031
        (None, 0.6, 9.0),
        (0.4, None, 9.0),
        (0.5, 0.5, 9.0),
        (0.6, 0.4, 9.0),
        (0.0, 0.6, 9.0),
        (-0.1, 0.6, 9.0),
    ],
)
def test_a_range_of_a_figure_is_its_10_and_90_percent(
    low: float | None, high: float | None, sigma: float
) -> None:
    recipe = RecipeBook.from_overrides(()).recipe("tulip")
    figure = Figure("tulip", "bud", 0.5, "fraction", "house", "house", low=low, high=high)
    stated = replace(recipe, figures={"bud": figure})
    assert figure_sigma(stated, "bud", 9.0) == pytest.approx(sigma, abs=1e-6)
    assert figure_sigma(stated, "shoots", 9.0) == 9.0


# ---------------------------------------------------------------- pace


def test_the_pace_of_a_lot_is_its_need_by_that_of_its_recipe_whatever_the_pace_it_was_run_at() -> None:
    # Bud at 12.5 days instead of 12: 175 / 0.5 = 350. Precisions 1 / ln 1.01 and 1 / (0.15² + (0.5 / 12.5)²).
    simulation, run = growing((13, "bud"))
    prior, seen = 1 / math.log(1.01), 1 / (0.15**2 + 0.04**2)
    by_hand = math.exp(math.log(350 / 336) * seen / (prior + seen))
    assert paced(simulation, run).pace == pytest.approx(by_hand)
    slow = replace(simulation, pace=1.25)
    again = slow.run(COOLED, BROUGHT)
    assert again is not None and again.need == pytest.approx(420)
    assert paced(slow, again).pace == pytest.approx(by_hand)
    assert need_of(slow, again).median == pytest.approx(336 * by_hand)


# ---------------------------------------------------------------- heat ahead


def test_days_that_are_measured_are_known_and_the_others_of_a_room_are_off_together() -> None:
    # 10 of 24 days are read; the other 14 may be off by 0.5 °C, all of them.
    readings = tuple(Reading("Bench", BROUGHT + i * DAY, 16, 16) for i in range(10))
    simulation, run = growing(readings=readings)
    assert heat_ahead_sd(simulation, run, BROUGHT, TARGET) == pytest.approx(7.0)
    assert heat_ahead_sd(simulation, run, BROUGHT, BROUGHT + 10 * DAY) == 0.0
    assert heat_ahead_sd(simulation, run, BROUGHT, BROUGHT + 11 * DAY) == pytest.approx(0.5)


def test_rooms_on_the_way_add_up() -> None:
    # 14 days on the bench, then on a court of a stated 16 °C: 24 days in all.
    places = (*season().places, Place("Court", "site", day=16, night=16))
    show = (Display("D", 1, "Court", season().span),)
    lot = Lot("A", "tulip", 10, target=TARGET, display="D", install=BROUGHT + 14 * DAY)
    simulation, run = growing(lot=lot, places=places, displays=show)
    assert heat_ahead_sd(simulation, run, BROUGHT, TARGET) == pytest.approx(12.0)


def test_what_is_ahead_begins_with_the_bring_in_and_ends_with_bloom() -> None:
    simulation, run = growing()
    for on, days in ((BROUGHT - 9 * DAY, 24), (BROUGHT + 9 * DAY, 15), (TARGET, 0), (TARGET + 9 * DAY, 0)):
        need = expected_need(simulation, run, on)
        assert need.sigma == pytest.approx(math.sqrt(math.log(1.01) + (0.5 * days / 336) ** 2))
