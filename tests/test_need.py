"""What the log says of a lot's need, and what is not known of the heat ahead: by hand and by plain loops."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.engine.log import NOTHING
from forcing.engine.need import (
    expected_need,
    figure_sigma,
    heat_ahead_sd,
    need_of,
    paced,
    seen_of,
    sights,
    with_others,
)
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import Display, Figure, LogEntry, Lot, Override, Place, Reading, Season
from forcing.recipes.book import RecipeBook
from forcing.science.evidence import Sight
from forcing.science.pooling import Effect
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
    log += other.pop("more", ())  # type: ignore[arg-type]
    lots = [other.pop("lot", Lot("A", "tulip", 10, target=TARGET)), *other.pop("lots", ())]  # type: ignore[misc]
    on = BROUGHT + other.pop("seen_from", 40) * DAY  # type: ignore[operator]
    stated: Season = season(lots, overrides=figures, log=tuple(log), **other)  # type: ignore[list-item]
    plain = replace(worked(stated, on).simulations[0], pace=1.0, others=None)
    run = plain.run(COOLED, BROUGHT)
    assert run is not None
    return plain, run


# ---------------------------------------------------------------- stages

EVERY_DAY, MONDAYS = frozenset(range(7)), frozenset({0})  # 24 February is a Wednesday


def test_each_stage_was_reached_after_the_look_before_it() -> None:
    # 14 °C·d a day. Somebody looks every day: shoots between the 4th and 5th day, bud between 11 and 12, and so on.
    before, bloom = sights(
        *growing((5, "shoots"), (12, "bud"), (21, "colour"), (24, "bloom"), looks=EVERY_DAY)
    )
    assert [(s.low, s.high, s.share, s.error) for s in before] == [
        (56, 70, 0.2, 0.15), (154, 168, 0.5, 0.15), (280, 294, 0.85, 0.15),
    ]  # fmt: skip
    assert bloom == Sight(1.0, 0.0, 322, 336)


def test_looks_once_a_week_leave_a_week_open() -> None:
    # Mondays are 1, 8, 15 and 22 March: days 5, 12, 19 and 26 on the bench.
    before, bloom = sights(*growing((12, "bud"), (26, "bloom"), looks=MONDAYS))
    bud = next(s for s in before if s.share == 0.5)
    assert (bud.low, bud.high) == (5 * 14, 12 * 14)
    assert bloom is not None and (bloom.low, bloom.high) == (19 * 14, 26 * 14)


def test_a_look_that_is_logged_or_any_row_about_the_lot_counts() -> None:
    # Nothing on Monday the 15th; on the 17th, day 21, a pot was lost; on the 19th it is seen in bloom.
    lost = LogEntry(BROUGHT + 21 * DAY, "A", "lost", pots=1)
    _, bloom = sights(*growing((23, "bloom"), looks=MONDAYS, more=(lost,)))
    assert bloom is not None and (bloom.low, bloom.high) == (21 * 14, 23 * 14)


def test_nothing_seen_by_the_last_look_is_told_of_bloom_and_of_stages_that_this_house_logs() -> None:
    # Seen from day 40 on; the last look that counts is Monday 29 March, day 33: 462 °C·d, less than half as much again
    # as 336. Shoots were logged of the one lot that has passed them, so that they are missed with 1 - 1/2.
    before, bloom = sights(*growing((5, "shoots"), looks=MONDAYS, seen_from=35))
    assert bloom == Sight(1.0, 0.0, 33 * 14, math.inf)
    assert [s.share for s in before] == [0.2], "bud and colour are not known to be logged here"
    # Two weeks on, 47 days of 14 are 658, and whoever looks does not write it down.
    _, bloom = sights(*growing((5, "shoots"), looks=MONDAYS, seen_from=50))
    assert bloom is None


def test_a_stage_passed_over_was_not_there_at_the_look_before_or_was_missed() -> None:
    # Of two lots one logs bud, so that it is missed with 1 - 1/3. The other shows colour on 15 March, day 19: at the
    # look of day 12, 168 °C·d, bud was not there, or was missed.
    other = Lot("B", "tulip", 10, target=TARGET)
    rows = [LogEntry(COOLED, "B", "cooler in"), LogEntry(BROUGHT, "B", "brought in")]
    rows += [LogEntry(BROUGHT + 12 * DAY, "B", "bud")]
    before, _ = sights(*growing((19, "colour"), looks=MONDAYS, lots=(other,), more=tuple(rows)))
    assert [(s.share, s.low, s.high) for s in before] == [(0.5, 168, math.inf), (0.85, 168, 266)]
    assert before[0].missed == pytest.approx(2 / 3)


def test_a_stage_seen_on_the_first_day_says_nothing_and_hides_no_later_one() -> None:
    before, _ = sights(*growing((0, "shoots"), (12, "bud"), looks=EVERY_DAY))
    assert [(s.low, s.high) for s in before] == [(154, 168)]


def test_the_error_of_a_stage_is_that_of_its_own_range_and_never_below_two_percent() -> None:
    # 0.4 to 0.6: ln 1.5 / (2 * 1.2815516) = 0.158193. A share that is sure is still judged by eye.
    for low, high, error in ((0.4, 0.6, 0.158193), (0.499, 0.501, 0.02)):
        rows = (Override("tulip", "bud", 0.5, low=low, high=high),)
        before, _ = sights(*growing((12, "bud"), figures=rows, looks=EVERY_DAY))
        assert before[-1].error == pytest.approx(error, abs=1e-6)


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
    simulation, run = growing((13, "bud"), looks=EVERY_DAY)
    pace = paced(simulation, run).pace
    assert 1.0 < pace < 350 / 336  # bud at 12.5 days of 14 for its half says 350; the recipe 336
    slow = replace(simulation, pace=1.25)
    again = slow.run(COOLED, BROUGHT)
    assert again is not None and again.need == pytest.approx(420)
    assert paced(slow, again).pace == pytest.approx(pace)
    assert need_of(slow, again).quantile(0.5) == pytest.approx(336 * pace)


def test_what_the_others_say_is_where_a_lot_begins() -> None:
    simulation, run = growing()
    told = replace(simulation, others=Effect(math.log(1.05), 0.07))
    assert paced(told, run).pace == pytest.approx(1.05)
    assert need_of(told, run).sigma == 0.07


def test_a_lot_seen_to_bloom_says_what_it_needed_and_one_not_begun_nothing() -> None:
    # In bloom between 25 and 26 days of 14, whatever was foretold: the middle of ln(350/336) and ln(364/336).
    seen = seen_of(*growing((26, "bloom"), looks=EVERY_DAY))
    assert seen is not None
    assert seen.log_ratio == pytest.approx((math.log(350 / 336) + math.log(364 / 336)) / 2, abs=1e-4)
    assert seen.error == pytest.approx(math.log(364 / 350) / math.sqrt(12), rel=0.01)  # of an even law
    assert seen_of(*growing(looks=EVERY_DAY)) is None


def test_lots_learn_from_those_that_are_ahead_but_not_from_slips_of_the_pen() -> None:
    # A blooms two days late; B is not brought in. A season, class or cultivar that is slow would make both so.
    waiting = Lot("B", "tulip", 10, target=TARGET + 30 * DAY)
    for days, learns in ((26, True), (12, False)):
        simulation, _ = growing((days, "bloom"), looks=EVERY_DAY, lots=(waiting,))
        run = simulation.run(COOLED, BROUGHT)
        other = replace(simulation, lot=waiting, history=NOTHING)
        told = with_others([simulation, other], {"A": run})[1].others
        # Twelve days instead of 24 are ln 0.5 = -0.69, seven standard deviations of 0.0998.
        assert (told is not None) == learns
        if told is not None:
            assert 0.0 < told.mean < math.log(357 / 336)


# ---------------------------------------------------------------- heat ahead


def test_days_that_are_measured_are_known_and_the_others_of_a_room_are_off_together() -> None:
    # 10 of 24 days are read; the other 14 may be off by 0.5 °C, all of them, of which ten readings leave 4/14 of the
    # variance.
    readings = tuple(Reading("Bench", BROUGHT + i * DAY, 16, 16) for i in range(10))
    simulation, run = growing(readings=readings)
    left = 0.5 * math.sqrt(4 / 14)
    assert heat_ahead_sd(simulation, run, BROUGHT, TARGET) == pytest.approx(14 * left)
    assert heat_ahead_sd(simulation, run, BROUGHT, BROUGHT + 10 * DAY) == 0.0
    assert heat_ahead_sd(simulation, run, BROUGHT, BROUGHT + 11 * DAY) == pytest.approx(left)
    unread, run = growing()
    assert heat_ahead_sd(unread, run, BROUGHT, TARGET) == pytest.approx(12.0)


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
