"""The outlook: a worked example by hand, what it says against simulated truths, and how the log changes the plan."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import lognorm

from forcing.engine.need import ROOM_OFFSET_SD, STAGE_ERROR, expected_need
from forcing.engine.outlook import Outlook, outlooks
from forcing.engine.replan import expectation
from forcing.model import Display, LogEntry, Lot, Normal, Place, Reading, Season
from forcing.science.evidence import Need, Sight, autocorrelated_sum_sd, posterior_need
from tests.builders import house_figures, season, worked

DAY = timedelta(days=1)
TARGET = date(2027, 3, 20)
# 24 days at 14 °C·d above base: 336 °C·d, spread 10 %; by hand brought in on 24 February.
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=25, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
)  # fmt: skip
BRING_IN = date(2027, 2, 24)


def look(stated: Season, on: date) -> Outlook:
    return outlooks(worked(stated, on).simulations, on)[0]


DAILY = frozenset(range(7))  # somebody looks every day


def one(*log: LogEntry, **other: object) -> Season:
    given = {"looks": DAILY, "overrides": FIGURES} | other
    return season([Lot("A", "tulip", 10, target=TARGET)], log=log, **given)


def entry(day: date, event: str, **other: object) -> LogEntry:
    return LogEntry(day, "A", event, **other)  # type: ignore[arg-type]


POTTED = entry(date(2026, 11, 17), "potted")
COOLED = entry(date(2026, 11, 18), "cooler in")
BROUGHT = entry(BRING_IN, "brought in", place="Bench")

# ---------------------------------------------------------------- by hand


@pytest.mark.parametrize(("out", "spare"), [(5, 5), (7, 7), (8, 0), (0, 0)])
def test_a_lot_that_is_set_out_in_bloom_has_the_days_until_its_target_to_spare(out: int, spare: int) -> None:
    # At confidence 0.5 there is no more to it: it opens a display, so it is to be in bloom when it is set out.
    # More than a week before the target it finishes outdoors, and has none.
    show = Display("D", 1, "Court", season().span)
    stated = season(
        [Lot("A", "tulip", 10, target=TARGET, display="D", install=TARGET - out * DAY, confidence=0.5)],
        overrides=FIGURES, displays=(show,), looks=DAILY, places=(*season().places, Place("Court", "site")),
        normals=tuple(Normal("Court", month, 8, 20) for month in range(1, 13)),
    )  # fmt: skip
    assert look(stated, date(2026, 11, 1)).spare == spare


def test_quantiles_and_chances_are_each_others_inverse() -> None:
    need = Need(336, 0.1)
    assert need.quantile(0.5) == pytest.approx(336)
    assert need.quantile(0.9) == pytest.approx(336 * math.exp(0.1 * 1.2815515655), rel=1e-9)
    for p in (0.1, 0.5, 0.9):
        for above in (0.0, 300.0, 360.0):
            past = replace(need, above=above)
            assert past.chance(past.quantile(p)) == pytest.approx(p)
    assert replace(need, above=300.0).chance(300) == 0.0


def test_the_error_of_a_sum_of_weather_against_a_plain_double_sum() -> None:
    # Variance of a sum is the sum of all covariances s² r^|i-j|.
    for n, r in ((1, 0.7), (5, 0.7), (30, 0.5)):
        double = sum(4.0 * r ** abs(i - j) for i in range(n) for j in range(n))
        assert autocorrelated_sum_sd(n, 2.0, r) == pytest.approx(math.sqrt(double))


def test_the_width_of_the_outlook_by_hand() -> None:
    # 24 days at 14 °C·d on a bench that may be off by 0.5 °C all the time: 12 °C·d of 336. The need spreads by
    # 0.0997513 on the logarithm: together the root of 0.0997513² + (12 / 336)² = 0.105952.
    #   10 %: 336 exp(-1.281552 * 0.105952) = 293.3, reached after 21 days. The chance by day 21 (294 °C·d) is that of
    #   ln(294 / 336) / 0.105952 = -1.2603, 10.4 %; by day 20 (280) it is 4.3 %. So 10 % bloom before day 22: early.
    #   90 %: 384.9, reached after 28 days: 392 °C·d, 92.7 %. By day 27 (378) 86.7 %, farther from 90: late is day 28.
    # Without what is not known of the bench, day 27 would have 88.1 %, nearer than the 93.9 % of day 28.
    outlook = look(one(POTTED, COOLED, BROUGHT), BRING_IN)
    assert outlook.early == BRING_IN + 22 * DAY
    assert (outlook.likely, outlook.late) == (BRING_IN + 24 * DAY, BRING_IN + 28 * DAY)
    # The chance by the target is that of half the pots; it is told as it is.
    assert outlook.chance == pytest.approx(0.5, abs=1e-6)


def test_the_width_of_the_outlook_where_early_is_the_day_that_reaches_it() -> None:
    # 23 days, 322 °C·d, with the same 0.105952 (11.5 °C·d of 322 are the same share). 10 %: 281.1, reached after 21
    # days, by when (294) it is 19.5 %; by day 20 (280) it is 9.4 %, nearer to 10: early is day 21. 90 %: 368.8, reached
    # after 27 days, by when (378) it is 93.5 %; by day 26 (364) 87.6 %, nearer to 90: late is day 26.
    shorter = house_figures("tulip", bench_days=23)
    figures = (*(row for row in FIGURES if row.parameter != "bench_days"), *shorter)
    outlook = look(one(POTTED, COOLED, BROUGHT, overrides=figures), BRING_IN)
    assert outlook.early == BRING_IN + 21 * DAY
    assert (outlook.likely, outlook.late) == (BRING_IN + 23 * DAY, BRING_IN + 26 * DAY)


def test_the_width_of_the_outlook_of_a_lot_that_is_wanted_with_colour() -> None:
    # As above, at 0.85 of the need: 285.6 °C·d, reached after 21 days.
    #   10 %: 0.85 · 293.3 = 249.3, reached after 18 days, by when (252, as 296.5 for bloom) it is 11.9 %; by day 17 it
    #   is 4.3 %: early is day 19.
    #   90 %: 0.85 · 384.9 = 327.2, reached after 24 days, by when (336, as 395.3) it is 93.8 %; by day 23 (322, 378.8)
    #   it is 87.1 %: late is day 23.
    lot = Lot("A", "tulip", 10, target=TARGET, target_stage="colour")
    stated = season([lot], log=(POTTED, COOLED, BROUGHT), looks=DAILY, overrides=FIGURES)
    outlook = look(stated, BRING_IN)
    assert (outlook.early, outlook.likely, outlook.late) == tuple(BRING_IN + n * DAY for n in (19, 21, 23))
    assert (outlook.stage, outlook.wanted, outlook.spare) == ("brought in", "colour", 0)
    # The target is day 24: ln(395.3 / 336) / 0.105952 = 1.5339, of which scipy's normal law has 0.93747.
    assert outlook.chance == pytest.approx(0.93747, abs=1e-4)


def test_the_outlook_of_a_lot_that_waits_in_the_cold_by_four_hundred_pots() -> None:
    # Sure to 0.9, it is brought in on 20 February, 28 days before its target; a pot with colour on (0.85) waits at
    # 2 °C, where it gains nothing, until 16 March, day 24: 14 days at most. Rooms are off by 0.5 °C for the 27 days to
    # bloom.
    places = (*season().places, Place("Store", "cooler", day=2, night=2))
    lot = Lot("A", "tulip", 10, target=TARGET, cooler="Cold", bench="Bench")
    stated = season([lot], overrides=FIGURES, places=places, looks=DAILY, confidence=0.9)
    sigma = math.hypot(math.sqrt(math.log(1.01)), 27 * 0.5 / 336)
    blooms = []
    for need in lognorm(sigma, scale=336).ppf((np.arange(400) + 0.5) / 400):
        colour = math.ceil(0.85 * need / 14)
        back = max(colour, min(24, colour + 14))
        blooms.append(back + math.ceil((need - 14 * colour) / 14))
    blooms.sort()
    start, on = date(2027, 2, 20), date(2027, 2, 1)
    by_target = sum(day <= 28 for day in blooms) / 400
    assert (blooms[40], blooms[360]) == (27, 28) and 0.9 < by_target < 0.95
    assert look(stated, on) == Outlook(
        lot="A", on=on, stage="in the cold", seen=None, heat=0.0, need=pytest.approx(336),
        early=start + 27 * DAY, likely=start + 27 * DAY, late=start + 28 * DAY, target=TARGET, chance=by_target,
        ahead="stated 28 d", wanted="bloom", spare=1,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("wanted", "events", "heat", "need", "chance"),
    [
        ("bloom", [(22, "bloom")], 308, 308, 1.0),
        ("bloom", [(20, "colour"), (24, "bloom")], 336, 336, 1.0),  # on its target
        ("bloom", [(25, "bloom")], 350, 350, 0.0),
        ("colour", [(25, "bloom")], 350, 350, 0.0),  # in bloom is past colour
        ("colour", [(20, "colour")], 280, None, 1.0),  # what it takes to bloom is not known yet
    ],
)
def test_what_was_seen_is_the_outlook(
    wanted: str, events: list[tuple[int, str]], heat: float, need: float | None, chance: float
) -> None:
    lot = Lot("A", "tulip", 10, target=TARGET, target_stage=wanted)  # type: ignore[arg-type]
    log = (POTTED, COOLED, BROUGHT, *(entry(BRING_IN + n * DAY, event) for n, event in events))
    (last, seen), on = events[-1], BRING_IN + 26 * DAY
    found = look(season([lot], log=log, looks=DAILY, overrides=FIGURES), on)
    assert need is not None or (300 < found.need < 336 * 1.1 and found.need != found.heat)
    day = BRING_IN + last * DAY
    assert found == Outlook(
        "A", on, seen, seen, pytest.approx(heat), found.need if need is None else pytest.approx(need),
        day, day, day, TARGET, chance, f"in {wanted}", wanted,
    )  # type: ignore[arg-type]  # fmt: skip


def test_before_the_bench_a_lot_is_where_it_was_brought() -> None:
    assert look(one(), date(2026, 11, 10)).stage == "not potted"
    assert look(one(POTTED), POTTED.date).stage == "potted"
    assert look(one(POTTED, COOLED), COOLED.date).stage == "in the cold"


def test_there_is_no_outlook_past_days_of_which_nothing_is_known() -> None:
    # 25 days of the bench are known: the typical pot blooms on the 24th, and when nine in ten have, nobody can say.
    places = (season().places[0], Place("Bench", "bench"))
    readings = tuple(Reading("Bench", BRING_IN + i * DAY, 16, 16, kind="forecast") for i in range(30))
    for known, found in ((30, 1), (25, 0)):
        stated = one(POTTED, COOLED, BROUGHT, places=places, readings=readings[:known])
        assert len(outlooks(worked(stated, BRING_IN).simulations, BRING_IN)) == found


def test_what_is_not_known_of_the_heat_ahead_by_a_plain_double_sum() -> None:
    # 8 days of forecast on the bench and 6 as stated, then 10 days of normals outdoors. Errors of the weather follow
    # one another, so every pair of days counts: s² r^|i-j|. The stated days are all off together: 6 * 0.5 °C.
    out = BRING_IN + 14 * DAY
    places = (*season().places, Place("Court", "site"))
    normals = tuple(Normal("Court", month, 8, 20) for month in range(1, 13))  # 14 °C, 12 °C·d a day
    show = (Display("D", 1, "Court", season().span),)
    lot = Lot("A", "tulip", 10, target=TARGET, display="D", install=out)
    forecast = tuple(Reading("Bench", BRING_IN + i * DAY, 16, 16, kind="forecast") for i in range(8))
    stated = season(
        [lot], overrides=FIGURES, places=places, normals=normals, displays=show, readings=forecast,
        log=(POTTED, COOLED, BROUGHT),
    )  # fmt: skip
    simulation = worked(stated, BRING_IN).simulations[0]
    known = expectation(simulation, BRING_IN)
    assert known is not None
    assert known.run.bloom == out + 12 * DAY  # 14 days of 14 leave 140 of 336: 11.7 days of 12
    pairs = sum(1.5**2 * 0.5 ** abs(i - j) for i in range(8) for j in range(8))
    pairs += sum(3.0**2 * 0.7 ** abs(i - j) for i in range(12) for j in range(12)) + (6 * 0.5) ** 2
    need = expected_need(known.simulation, known.run, BRING_IN)
    assert need.median == pytest.approx(336)
    assert need.sigma == pytest.approx(math.sqrt(math.log(1.01) + pairs / 336**2))
    found = look(stated, BRING_IN)
    assert (
        found.ahead == f"normals {(found.late - out).days} d, forecast 8 d, stated 6 d"
    )  # the most days first
    # Half way, only what is still to come is not known.
    later = expected_need(known.simulation, known.run, out)
    ahead = sum(3.0**2 * 0.7 ** abs(i - j) for i in range(12) for j in range(12))
    assert later.sigma == pytest.approx(math.sqrt(math.log(1.01) + ahead / 336**2))


# ---------------------------------------------------------------- the log and the plan


def test_without_a_log_the_outlook_is_the_plan() -> None:
    stated = one()
    plan = worked(stated, date(2027, 3, 1)).plan
    outlook = look(stated, date(2027, 3, 1))
    assert outlook.likely == plan.lots[0].bloom == TARGET
    assert {s.basis for s in plan.lots[0].steps} == {"planned"}


def test_a_log_of_what_was_planned_keeps_the_dates() -> None:
    planned = worked(one(), date(2027, 3, 1)).plan.lots[0]
    logged = worked(one(POTTED, COOLED, BROUGHT), date(2027, 3, 1)).plan.lots[0]
    assert (logged.bring_in, logged.bloom, logged.cold_weeks) == (
        planned.bring_in,
        planned.bloom,
        planned.cold_weeks,
    )
    assert [s.basis for s in logged.steps] == ["actual", "expected", "expected", "expected", "expected"]


def test_a_late_bring_in_moves_everything_downstream() -> None:
    late = worked(one(POTTED, COOLED, replace(BROUGHT, date=BRING_IN + 4 * DAY)), date(2027, 3, 2)).plan
    assert late.lots[0].bloom == TARGET + 4 * DAY
    assert [f.code for f in late.findings if f.code == "lot-late"] == ["lot-late"]


def test_a_late_potting_shortens_the_cold_and_says_so() -> None:
    late = worked(one(entry(date(2026, 11, 24), "potted")), date(2026, 11, 25)).plan
    lot = late.lots[0]
    assert lot.cooler_in == date(2026, 11, 25) and lot.bring_in == BRING_IN and lot.bloom == TARGET
    assert lot.cold_weeks == pytest.approx(13)
    assert "cold-short" in {f.code for f in late.findings}


def test_a_warm_break_in_the_cooler_moves_bring_in() -> None:
    # Twelve weeks are the least. Six warm weeks after 18 November leave 24 February with 8: 12 on 24 March.
    warm = tuple(Reading("Cold", date(2026, 12, 1) + i * DAY, 18, 20) for i in range(42))
    lot = worked(one(POTTED, COOLED, readings=warm), date(2027, 2, 1)).plan.lots[0]
    assert lot.bring_in == date(2027, 3, 24)
    assert lot.cold_weeks == pytest.approx(12)


def test_bloom_that_was_seen_is_certain() -> None:
    outlook = look(one(POTTED, COOLED, BROUGHT, entry(TARGET - 2 * DAY, "bloom")), TARGET)
    assert outlook.early == outlook.likely == outlook.late == TARGET - 2 * DAY
    assert (outlook.chance, outlook.days_late, outlook.seen) == (1.0, -2, "bloom")


def test_stages_that_come_late_make_bloom_late_and_the_band_narrower() -> None:
    base = look(one(POTTED, COOLED, BROUGHT), BRING_IN + 13 * DAY)
    # Bud is due after 12 days; seen after 16 says the need is a third more, so far as one stage can.
    slow = look(one(POTTED, COOLED, BROUGHT, entry(BRING_IN + 16 * DAY, "bud")), BRING_IN + 16 * DAY)
    fast = look(one(POTTED, COOLED, BROUGHT, entry(BRING_IN + 9 * DAY, "bud")), BRING_IN + 9 * DAY)
    assert fast.likely < base.likely < slow.likely
    assert fast.chance > base.chance > slow.chance
    assert slow.band < base.band + 2
    # 13 days of 14 °C·d are 182: past bud (168), though nobody has logged it.
    assert (base.stage, base.seen, slow.seen) == ("bud", None, "bud")


def test_the_same_lot_is_foretold_alike_whether_people_look_daily_or_on_mondays() -> None:
    # Bud after 12 days, on Monday 8 March, is seen that day by both; after 13 days only on the 15th by who comes on
    # Mondays. Read as reached the day before, that would be 19 days instead of 13: ten days late at bloom.
    log, monday = (POTTED, COOLED, BROUGHT), BRING_IN + 19 * DAY
    daily = look(one(*log, entry(BRING_IN + 13 * DAY, "bud")), monday)
    weekly = look(one(*log, entry(monday, "bud"), looks=frozenset({0})), monday)
    assert monday.weekday() == 0
    assert abs((weekly.likely - daily.likely).days) <= 2
    # Nothing stated: one stage seen on a Monday is taken for a weekly round.
    assert look(one(*log, entry(monday, "bud"), looks=None), monday).likely == weekly.likely


def test_the_plan_and_the_outlook_name_one_day_of_bloom() -> None:
    others = [LogEntry(day, "B", event) for day, event in (  # type: ignore[arg-type]
        (COOLED.date, "cooler in"), (BRING_IN - 9 * DAY, "brought in"), (BRING_IN + 18 * DAY, "bloom"),
    )]  # fmt: skip
    for stages in ((), ((7, "shoots"),), ((7, "shoots"), (14, "bud"))):
        seen = [entry(BRING_IN + days * DAY, stage) for days, stage in stages]
        stated = one(POTTED, COOLED, BROUGHT, *seen, *others)
        stated = replace(stated, lots=(*stated.lots, Lot("B", "tulip", 10, target=TARGET)))
        made = worked(stated, BRING_IN + 18 * DAY)
        for plan, outlook in zip(made.plan.lots, outlooks(made.simulations, made.plan.on), strict=True):
            assert plan.bloom == outlook.likely, plan.lot.name


def test_the_plan_warns_of_the_lots_that_the_outlook_counts_as_late() -> None:
    # Brought in four days late: expected late from then on, in bloom four days late, on that day no more.
    late = one(POTTED, COOLED, replace(BROUGHT, date=BRING_IN + 4 * DAY), entry(TARGET + 4 * DAY, "bloom"))
    for day, is_late in ((BRING_IN + 5 * DAY, True), (TARGET + 3 * DAY, True), (TARGET + 4 * DAY, False)):
        made = worked(late, day)
        warned = [f for f in made.plan.findings if f.code == "lot-late" and f.severity == "warning"]
        (outlook,) = outlooks(made.simulations, day)
        assert bool(warned) is outlook.still_late is is_late, day


def test_where_nobody_has_looked_lately_a_lot_may_be_in_bloom_already() -> None:
    # Nothing is logged since bring in and no looks are stated: bloom is expected when it was, in the past by now.
    on = TARGET + 4 * DAY
    assert look(one(POTTED, COOLED, BROUGHT, looks=None), on).likely == TARGET
    # Where somebody looks every day, it is not in bloom yet; past half as much heat again, the log has lapsed.
    assert look(one(POTTED, COOLED, BROUGHT), on).likely >= on
    assert look(one(POTTED, COOLED, BROUGHT), BRING_IN + 40 * DAY).likely == TARGET


def test_overdue_is_taken_for_today_and_long_forgotten_for_done() -> None:
    soon = look(one(POTTED, COOLED), BRING_IN + 5 * DAY)
    assert soon.likely == TARGET + 5 * DAY
    forgotten = look(one(POTTED, COOLED), BRING_IN + 22 * DAY)
    assert forgotten.likely <= TARGET + 3 * DAY


def test_lost_pots_are_gone_and_all_lost_is_no_lot() -> None:
    some = worked(one(POTTED, entry(date(2026, 12, 1), "lost", pots=3)), date(2026, 12, 2)).plan
    assert some.lots[0].lot.pots == 7
    none = worked(one(POTTED, entry(date(2026, 12, 1), "lost", pots=10)), date(2026, 12, 2)).plan
    assert not none.lots and "lost" in none.unplanned[0].reason


@pytest.mark.parametrize(
    ("log", "column"),
    [
        ((POTTED, COOLED, BROUGHT, replace(BROUGHT, date=BRING_IN + DAY)), "event"),
        (
            (POTTED, COOLED, BROUGHT, entry(BRING_IN + 9 * DAY, "bloom"), entry(BRING_IN + 10 * DAY, "bud")),
            "event",
        ),
        ((entry(date(2026, 11, 1), "bloom"), POTTED), "event"),
        ((POTTED, entry(date(2026, 12, 1), "lost", pots=11)), "pots"),
    ],
)
def test_what_cannot_have_happened_is_a_finding(log: tuple[LogEntry, ...], column: str) -> None:
    numbered = tuple(replace(e, row=i + 2) for i, e in enumerate(log))
    made = worked(one(*numbered), date(2027, 3, 20)).plan
    found = [f for f in made.findings if f.code == "log-contradiction"]
    assert found and all((f.table, f.column, f.severity) == ("log", column, "error") for f in found)
    assert all(f.row is not None for f in found)


@pytest.mark.parametrize("event", ["shoots", "bloom", "faded"])
def test_a_stage_without_a_bring_in_says_it_was_on_the_bench_before(event: str) -> None:
    seen = replace(entry(date(2027, 2, 10), event), row=4)
    made = worked(one(POTTED, COOLED, seen), date(2027, 3, 1)).plan
    lot = made.lots[0]
    assert lot.bring_in == date(2027, 2, 9) < BRING_IN  # the working day before; planned is 24 February
    assert [(f.row, f.severity) for f in made.findings if f.code == "log-not-brought-in"] == [(4, "warning")]
    assert [t.date for t in made.tasks if t.task == "bring in"] == [date(2027, 2, 9)]
    later = worked(one(POTTED, COOLED, replace(seen, date=BRING_IN + 9 * DAY)), date(2027, 3, 20)).plan
    assert later.lots[0].bring_in == BRING_IN  # as planned, where that is before


def test_a_lot_that_faded_in_its_cooler_has_a_plan_and_no_bench() -> None:
    made = worked(one(POTTED, COOLED, entry(date(2026, 11, 19), "faded")), date(2027, 3, 1)).plan
    assert {s.step for s in made.lots[0].steps} <= {"pot", "root", "cool", "bench"}


def test_too_little_cold_by_the_log_is_not_said_to_flower() -> None:
    early = worked(one(POTTED, entry(date(2026, 12, 20), "brought in", place="Bench")), date(2027, 1, 1)).plan
    short = next(f for f in early.findings if f.code == "cold-short")
    assert short.severity == "error" and "It needs 12 to flower" in short.hint


def test_a_place_that_is_not_there_does_not_lose_the_entry() -> None:
    stated = one(POTTED, replace(COOLED, place="Attic"), BROUGHT)
    assert worked(stated, date(2027, 3, 1)).plan.lots[0].bloom == TARGET


def test_the_stage_before_the_bench_is_said_in_its_own_words() -> None:
    for day, words in (
        (date(2026, 11, 1), "not potted"),
        (date(2026, 12, 1), "in the cold"),
        (BRING_IN, "brought in"),
    ):
        assert look(one(), day).stage == words


def test_set_out_early_is_followed_outdoors() -> None:
    places = (*season().places, Place("Court", "site", day=6, night=6))
    show = (Display("D", 1, "Court", season().span),)
    lot = Lot("A", "tulip", 10, target=TARGET, display="D", install=TARGET)
    log = (POTTED, COOLED, BROUGHT, entry(BRING_IN + 20 * DAY, "set out"))
    stated = season([lot], overrides=FIGURES, places=places, displays=show, log=log)
    made = worked(stated, BRING_IN + 21 * DAY).plan.lots[0]
    # 20 days of 14 leave 56 of 336; at 4 °C·d a day outdoors that is 14 days more
    assert made.bloom == BRING_IN + 34 * DAY
    assert made.install == BRING_IN + 20 * DAY


# ---------------------------------------------------------------- what it says, against simulated truths


def simulate(lots: int, spread: float, seed: int) -> tuple[list[tuple[Outlook, Outlook, date]], int]:
    """Truths drawn from the model that the outlook states: need, stage shares, a bench that is off by a little.

    Written apart from the engine: heat is gathered a day at a time in a loop.
    """
    rng, out = random.Random(seed), []
    sigma = math.sqrt(math.log(1 + spread**2))
    figures = (*FIGURES, *house_figures("tulip", spread=spread))
    for _ in range(lots):
        need = 336 * math.exp(rng.gauss(0, sigma))
        warmth = 16 + rng.gauss(0, ROOM_OFFSET_SD)
        shares = {s: f * math.exp(rng.gauss(0, STAGE_ERROR)) for s, f in (("shoots", 0.2), ("bud", 0.5))}
        seen: dict[str, date] = {}
        heat, day = 0.0, BRING_IN
        while heat < need:
            heat, day = heat + warmth - 2, day + DAY
            for stage, share in shares.items():
                if stage not in seen and heat >= share * need:
                    seen[stage] = day
        stated = one(POTTED, COOLED, BROUGHT, overrides=figures)
        at = max(seen.values())
        readings = tuple(
            Reading("Bench", BRING_IN + i * DAY, warmth, warmth) for i in range((at - BRING_IN).days)
        )
        stages = tuple(entry(when, stage) for stage, when in seen.items() if when < day)
        before = look(stated, BRING_IN)
        after = look(replace(stated, readings=readings, log=(*stated.log, *stages)), min(at, day - DAY))
        out.append((before, after, day))
    return out, lots


def coverage(cases: list[tuple[Outlook, Outlook, date]], which: int) -> float:
    return sum(c[which].early <= c[2] <= c[which].late for c in cases) / len(cases)  # type: ignore[union-attr]


def check_coverage(lots: int, tolerance: float, spreads: Sequence[tuple[float, int]]) -> None:
    for spread, seed in spreads:
        cases, _ = simulate(lots, spread, seed)
        for which in (0, 1):
            share = coverage(cases, which)
            print(
                f"spread {spread:.2f} {('before', 'after')[which]} evidence: {share:.3f} of {lots} in the band"
            )
            assert abs(share - 0.80) <= tolerance, (spread, which, share)
        widths = [sum(c[which].band for c in cases) / lots for which in (0, 1)]  # type: ignore[union-attr]
        assert widths[1] < widths[0], "evidence narrows the band on average"


def test_the_band_holds_what_it_says_smoke() -> None:
    check_coverage(80, 4 * math.sqrt(0.8 * 0.2 / 80), [(0.10, 2)])  # four binomial standard errors


@pytest.mark.slow
def test_the_band_holds_what_it_says() -> None:
    check_coverage(1000, 0.05, [(0.05, 1), (0.10, 2), (0.15, 3)])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(200, 500), max_size=5), st.floats(0.05, 0.5))
def test_more_evidence_never_widens_the_need(implied: list[float], error: float) -> None:
    prior = Need(336, 0.0997513)
    sights = [Sight(0.5, error, n / 2 - 1, n / 2 + 1) for n in implied]
    sigmas = [posterior_need(prior, sights[:k]).sigma for k in range(len(sights) + 1)]
    assert all(later < earlier for earlier, later in pairwise(sigmas))


@settings(max_examples=20, deadline=None)
@given(st.integers(8, 24), st.integers(1, 6))
def test_a_warmer_bench_never_blooms_later(degrees: int, warmer: int) -> None:
    def bloom(warmth: float) -> date:
        places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=warmth, night=warmth))
        return look(one(POTTED, COOLED, BROUGHT, places=places), BRING_IN).likely

    assert bloom(min(25, degrees + warmer)) <= bloom(degrees)
