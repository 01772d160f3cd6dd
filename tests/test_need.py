"""What the log says of a lot's need, and what is not known of the heat ahead: by hand and by plain loops."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import lognorm

from forcing.engine.climate import Series, WorkingDays
from forcing.engine.log import NOTHING
from forcing.engine.need import (
    BloomChances,
    bloom_chances,
    expected_need,
    figure_sigma,
    heat_ahead_sd,
    kind_of,
    need_of,
    paced,
    seen_of,
    sights,
    tie_of,
    with_others,
)
from forcing.engine.simulate import LotSimulation, Run, Waiting
from forcing.model import Display, Figure, LogEntry, Lot, Override, Place, Reading, Season
from forcing.recipes.book import RecipeBook
from forcing.science.evidence import Need, Sight
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
    assert not any(s.missed for s in before)  # what is written down was not missed
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


def test_a_lot_that_was_not_in_bloom_at_the_last_look_needs_more_than_it_had_then() -> None:
    # The last look before day 35 is that of Monday, day 33.
    assert need_of(*growing(looks=MONDAYS, seen_from=35)).above == 33 * 14
    assert need_of(*growing(looks=MONDAYS, seen_from=3)).above == 0.0  # nobody has looked yet
    assert need_of(*growing((26, "bloom"), looks=EVERY_DAY)).above == 0.0


def test_half_as_much_again_is_not_in_bloom_yet_and_a_day_more_is_a_log_that_lapsed() -> None:
    # 36 days of 14 are 504, 1.5 times 336. Today's look is not taken until today has a row.
    _, still = sights(*growing(looks=EVERY_DAY, seen_from=37))
    assert still == Sight(1.0, 0.0, 36 * 14, math.inf)
    assert sights(*growing(looks=EVERY_DAY, seen_from=38))[1] is None
    # Of looks on Mondays the last is that of day 40 already: 560.
    assert sights(*growing(looks=MONDAYS, seen_from=42))[1] is None


def test_a_lot_that_was_not_looked_at_has_nothing_said_of_it() -> None:
    assert sights(*growing(looks=EVERY_DAY, seen_from=0)) == ((), None)
    simulation, run = growing((5, "shoots"), looks=MONDAYS, seen_from=35)
    # Where it is not known how often a stage is missed, that it is not logged says nothing.
    unknown = replace(simulation, history=replace(simulation.history, missed={}))
    assert [(s.share, s.high) for s in sights(unknown, run)[0]] == [(0.2, 5 * 14)]


def test_days_that_nobody_read_hide_what_was_seen_after_them() -> None:
    # Only 25 days of the bench are known; bloom on day 28 came after heat that nobody knows, whether the look before
    # it was on Monday, day 19, or the day before.
    unread = (season().places[0], Place("Bench", "bench"))
    readings = tuple(Reading("Bench", BROUGHT + i * DAY, 16, 16) for i in range(25))
    for looks in (MONDAYS, EVERY_DAY):
        assert sights(*growing((28, "bloom"), looks=looks, places=unread, readings=readings))[1] is None
    _, known = sights(*growing((25, "bloom"), looks=MONDAYS, places=unread, readings=readings))
    assert known == Sight(1.0, 0.0, 19 * 14, 25 * 14)


def test_half_a_degree_day_is_some_heat() -> None:
    # 2.5 °C on the first day, and 16 after it.
    cold = (Reading("Bench", BROUGHT, 2.5, 2.5),)
    before, _ = sights(*growing((1, "shoots"), looks=EVERY_DAY, seen_from=2, readings=cold))
    assert [(s.low, s.high) for s in before] == [(0.0, 0.5)]
    _, bloom = sights(*growing(looks=EVERY_DAY, seen_from=2, readings=cold))
    assert bloom == Sight(1.0, 0.0, 0.5, math.inf)


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
    simulation, _ = growing((26, "bloom"), looks=EVERY_DAY)
    slow = replace(simulation, pace=1.25)  # at whatever pace it is run
    run = slow.run(COOLED, BROUGHT)
    again = None if run is None else seen_of(slow, run)
    assert again is not None
    assert (again.log_ratio, again.error) == pytest.approx((seen.log_ratio, seen.error))


@pytest.mark.parametrize(("high", "error"), [(0.8556, 0.48), (0.9239, None)])
def test_a_lot_that_is_hardly_better_known_than_its_recipe_says_nothing(
    high: float, error: float | None
) -> None:
    # Bud from 0.25 to 0.8556 is off by ln 3.4224 / 2.5631 = 0.48, to 0.9239 by 0.51. Beside the recipe's 0.0997513 that
    # leaves 0.0997513 / (1 + (0.0997513 / 0.48)²)^0.5, 97.9 % of it, or 98.1 %: from 98 % on it is not told.
    rows = (Override("tulip", "bud", 0.5, low=0.25, high=high),)
    seen = seen_of(*growing((12, "bud"), figures=rows, looks=EVERY_DAY, seen_from=13))
    if error is None:
        assert seen is None
    else:  # what it says itself is its need by the bud alone: half of it between the 11th and 12th day of 14
        assert seen is not None
        assert seen.log_ratio == pytest.approx(math.log(11.5 * 14 / 0.5 / 336), abs=2e-3)
        assert seen.error == pytest.approx(error, rel=0.01)


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


@pytest.mark.parametrize(("days", "learns"), [(15, False), (17, True), (35, True), (37, False)])
def test_a_lot_is_not_believed_from_four_standard_deviations_on(days: int, learns: bool) -> None:
    # 4 · 0.0997513 = 0.399, 24 days times or by 1.49: from 16.1 to 35.8. Seen within a day, half a day sooner.
    simulation, run = growing((days, "bloom"), looks=EVERY_DAY)
    other = replace(simulation, lot=Lot("B", "tulip", 10, target=TARGET), history=NOTHING)
    assert (with_others([simulation, other], {"A": run})[1].others is not None) == learns


def test_a_lot_without_a_run_or_a_bring_in_and_a_recipe_without_spread_teach_nothing() -> None:
    simulation, run = growing((26, "bloom"), looks=EVERY_DAY)
    other = replace(simulation, lot=Lot("B", "tulip", 10, target=TARGET), history=NOTHING)
    unlogged = replace(simulation, history=replace(simulation.history, brought_in=None))
    exact = replace(other, recipe=replace(other.recipe, spread=0.0))
    for lots, runs in (
        ([simulation, other], {"A": None}),
        ([simulation, other], {}),
        ([unlogged, other], {"A": run}),
        ([simulation, exact], {"A": run}),
    ):
        assert with_others(lots, runs) == tuple(lots)
    assert with_others([simulation, other], {"A": run})[1].others is not None


# ---------------------------------------------------------------- what lots have in common


def test_lots_of_one_cultivar_and_of_one_class_are_of_a_kind_however_they_are_typed() -> None:
    recipe = replace(RecipeBook.from_overrides(()).recipe("tulip"), spread=0.1)
    jane, same, late, john, other = (
        kind_of(Lot("A", crop, 10, bloom_class, cultivar), recipe)  # type: ignore[arg-type]
        for crop, bloom_class, cultivar in (
            ("tulip", "mid", "Plain Jane"), ("Tulip", "mid", "plain  jane"), ("tulip", "late", "Plain Jane"),
            ("tulip", "mid", "Plain John"), ("hyacinth", "mid", "Plain Jane"),
        )
    )  # fmt: skip
    assert jane == same
    assert jane.whole == john.whole and jane.cultivar != john.cultivar
    assert len({jane.whole, late.whole, other.whole}) == 3
    assert jane.sigma == pytest.approx(math.sqrt(math.log(1.01)))
    # Without a cultivar a lot may be of any: it shares its class with others, and its cultivar with its own parts.
    a, b, part = (
        kind_of(lot, recipe)
        for lot in (
            Lot("A", "tulip", 10, "mid"), Lot("B", "tulip", 10, "mid"), Lot("A a", "tulip", 5, "mid", part_of="A"),
        )
    )  # fmt: skip
    assert a.whole == b.whole == jane.whole
    assert a == part and len({a.cultivar, b.cultivar, jane.cultivar}) == 3


# What a lot has in common with others beforehand, the mean of the splits' season, class and cultivar. Seasons:
# 0.3 · 0.02 + 0.4 · 0.24 + 0.3 · 0.5 = 0.252. The rest is 0.3 · 0.35 + 0.45 · 0.75 + 0.25 · 1.222 = 0.748, of which
# class and cultivar are a half, or a tenth of that: 0.275 on average, 0.2057.
COMMON = 0.252 + 0.2057


@pytest.mark.parametrize(
    ("others", "known", "ahead", "common", "to_come"),
    [
        # Nothing seen at all, and all heat known: all that is open is the need.
        (None, 0.0997513, 0.0997513, COMMON, 0.0),
        # 36 % of what is open is heat to come; of the need's own, 0.0064 of 0.00995033 are left.
        (None, 0.08, 0.1, COMMON * 0.64320 * 0.64, 0.36),
        # Others leave 0.0081, of which the lot's own part is as open as ever: (1 - 0.4577) · 0.00995033 = 0.00539606.
        # So 0.333820 are in common; seen itself it has 0.0064 of 0.0081 left.
        (0.09, 0.08, 0.1, 0.333820 * 0.790123 * 0.64, 0.36),
        # A need wider than before it was looked at, 0.009025 beside 0.0081, is taken to be as wide as before.
        (0.09, 0.095, 0.1, 0.333820 * 0.9025, 0.0975),
        # Others that leave less than the lot's own part, 0.0049: nothing in common is open.
        (0.07, 0.07, 0.1, 0.0, 0.51),
        # Others that leave more than the recipe, 0.0144: no more in common than beforehand.
        (0.12, 0.08, 0.1, COMMON * 0.0064 / 0.0144 * 0.64, 0.36),
        # Nothing open, or nothing open before: nothing in common.
        (None, 0.0, 0.0, 0.0, 0.0),
        (0.0, 0.0, 0.1, 0.0, 0.0),
    ],
)
def test_what_makes_lots_late_together(
    others: float | None, known: float, ahead: float, common: float, to_come: float
) -> None:
    simulation, _ = growing()
    if others is not None:
        simulation = replace(simulation, others=Effect(0.0, others))
    tie = tie_of(simulation, Need(336, known), Need(336, ahead))
    assert (tie.kind, tie.bench) == (kind_of(simulation.lot, simulation.recipe), "Bench")
    assert (tie.common, tie.ahead) == pytest.approx((common, to_come), abs=1e-5)


# ---------------------------------------------------------------- lots that wait in the cold


def test_chances_of_days_in_order() -> None:
    chances = BloomChances(np.array([10, 12, 12, 15]))
    assert [chances.by(day) for day in (9, 10, 11, 12, 14, 15, 16)] == [0, 0.25, 0.25, 0.75, 0.75, 1, 1]
    assert [chances.quantile(p) for p in (0.0, 0.2, 0.25, 0.5, 0.7, 0.75, 1.0)] == [
        10,
        10,
        12,
        12,
        12,
        15,
        15,
    ]


def test_the_days_of_a_lot_that_waits_are_those_of_four_hundred_pots_followed_day_by_day() -> None:
    # 14 °C·d a day on the bench, 1 in the cold, where a pot goes on the day it has 0.85 of its need, until day 30, or
    # for ten days; every day is a working day.
    days = np.arange(100)
    waiting = Waiting(
        "Cold", 0, Series.of(np.full(99, 14.0)), Series.of(np.full(99, 1.0)), 0.85, 1.0, 0, 30, 10,
        WorkingDays(days, days, days),
    )  # fmt: skip

    def bloom(need: float) -> int:
        heat, day, since = 0.0, 0, None
        while heat < need - 1e-3:
            if since is None and heat >= 0.85 * need - 1e-3:
                since = day
            heat += 1.0 if since is not None and day < min(30, since + 10) else 14.0
            day += 1
        return day

    # Needs of the same chance each: the middles of 400 parts of the log-normal law, by scipy.
    needs = lognorm(0.1, scale=336).ppf((np.arange(400) + 0.5) / 400)
    found = bloom_chances(waiting, Need(336, 0.1)).days
    assert list(found) == sorted(bloom(float(need)) for need in needs)
    assert len(set(found)) > 5 and max(found) > 30


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
