"""Counting back at its edges: too little cold, late bulbs, confidence, working days, finishing outdoors."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from forcing.dates import DAY, Span, WorkCalendar
from forcing.engine.allocation.options import OptionDates, dates_of, exact
from forcing.engine.climate import build_climate
from forcing.engine.outlook import outlooks
from forcing.engine.simulate import LotSimulation, simulation_of
from forcing.model import Display, Lot, LotPlan, Normal, Override, Place, Season
from forcing.recipes.book import RecipeBook
from tests.builders import MON_FRI, house_figures, only, plan, season, worked

TARGET = date(2027, 3, 20)  # a Saturday
# 24 days at 16 °C above base 2 is 336 °C·d, whatever the cold; 14 weeks wanted, 12 the least, 18 the most.
PLAIN = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1,
)  # fmt: skip


def lot(**other: object) -> Lot:
    return Lot("A", "tulip", 10, **({"target": TARGET} | other))  # type: ignore[arg-type]


def test_by_hand() -> None:
    p = only(season([lot()], overrides=PLAIN))
    # 24 days before 20 March: 24 February. 98 days before that: 18 November. Potted the day before.
    assert (p.bring_in, p.cooler_in, p.potting) == (date(2027, 2, 24), date(2026, 11, 18), date(2026, 11, 17))
    assert p.rooted == date(2026, 12, 9)  # 21 days at the rooting temperature
    assert p.need == pytest.approx(336)
    # 0.85 of 336 is 285.6: 20.4 days of 14 °C·d, so on the 21st day after 24 February
    assert p.stages["colour"] == date(2027, 2, 24) + timedelta(days=21)
    assert p.days_early == 0 and p.cold_weeks == pytest.approx(14)


@pytest.mark.parametrize(("stage", "days"), [("bloom", 24), ("colour", 21), ("bud", 12)])
def test_a_target_may_be_a_stage_before_bloom(stage: str, days: int) -> None:
    # Colour is 0.85 of 336 °C·d: 20.4 days of 14; bud, stated as 0.5, is 168: 12 days. Bloom follows 24 days on.
    figures = (*PLAIN, *house_figures("tulip", bud=0.5))
    p = only(season([lot(target_stage=stage)], overrides=figures))
    assert p.bring_in == TARGET - timedelta(days=days) and p.days_early == 0
    assert p.ready == p.stages[stage] == TARGET and p.bloom == p.bring_in + timedelta(days=24)


def test_what_is_expected_of_a_lot_that_is_wanted_in_colour() -> None:
    made = worked(season([lot(target_stage="colour")], overrides=PLAIN), TARGET - timedelta(days=21))
    (seen,) = outlooks(made.simulations, TARGET - timedelta(days=21))
    assert (seen.wanted, seen.likely, seen.days_late) == ("colour", TARGET, 0)
    # 294 °C·d by the target, of the 285.6 that the typical pot needs for colour: 3 % more, so more likely than not.
    assert 0.5 < seen.chance < 0.75 and seen.early < TARGET < seen.late


def test_a_lot_wanted_in_colour_waits_in_the_cold_for_its_day() -> None:
    # As sure as nine of ten it is in colour well before its target; it is kept cold until then, and blooms after it.
    spread = (*PLAIN, *house_figures("tulip", spread=0.3))
    wanted = only(season([lot(target_stage="colour", confidence=0.9, hold_at="Hold")], overrides=spread,
                         places=(Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16),
                                 Place("Hold", "cooler", day=2, night=2))))  # fmt: skip
    held = [step for step in wanted.steps if step.step == "hold"]
    assert wanted.ready < TARGET < wanted.bloom
    assert held and held[0].span.end == TARGET


def test_a_warmer_bench_and_a_colder_one() -> None:
    for degrees, days in ((20.0, 19), (12.0, 34)):  # 336 / 18 = 18.67 -> 19 ; 336 / 10 = 33.6 -> 34
        places = (
            Place("Cold", "cooler", day=9, night=9),
            Place("Bench", "bench", day=degrees, night=degrees),
        )
        p = only(season([lot()], overrides=PLAIN, places=places))
        assert (p.bloom - p.bring_in).days == days


def test_above_the_cap_is_no_sooner() -> None:
    hot = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=30, night=30))
    assert (only(season([lot()], overrides=PLAIN, places=hot)).bloom - TARGET).days == 0
    p = only(season([lot()], overrides=PLAIN, places=hot))
    assert (p.bloom - p.bring_in).days == 19


def test_extra_cold_buys_heat_down_to_the_floor() -> None:
    # 2 days saved a week: 16 weeks instead of 14 -> 20 days; 22 weeks -> 12, not 8 (the floor)
    figures = (*PLAIN, *house_figures("tulip", days_saved=2, cold_max=30))
    for weeks, days in ((14.0, 24), (16.0, 20), (22.0, 12)):
        p = only(season([lot(cold_weeks=weeks)], overrides=figures))
        assert (p.bloom - p.bring_in).days == days


def test_confidence_brings_in_sooner_and_half_changes_nothing() -> None:
    # need * exp(z * sigma): z(0.9) = 1.28155, sigma = sqrt(ln 1.01) = 0.09975 -> 336 * 1.1364 = 381.8 -> 27.3 days
    stated = season([lot()], overrides=PLAIN)
    assert only(replace(stated, confidence=0.5)).bring_in == date(2027, 2, 24)
    sure = only(replace(stated, confidence=0.9))
    assert sure.bring_in == TARGET - timedelta(days=28)
    assert sure.bloom == TARGET - timedelta(days=4)


def test_the_narrowest_confidence_stated_is_planned_on() -> None:
    # As above: 28 days on the bench at 0.9, 24 at 0.5.
    show = Display("D", 1, "Bench", span=Span(TARGET, TARGET + timedelta(days=30)), confidence=0.9)
    mine = lot(display="D")
    for own, display, whole, days in (
        (None, None, 0.9, 28), (None, 0.9, 0.5, 28), (0.5, 0.9, 0.9, 24), (0.9, 0.5, 0.5, 28), (None, 0.5, 0.9, 24),
    ):  # fmt: skip
        stated = season(
            [replace(mine, confidence=own)], overrides=PLAIN, confidence=whole,
            displays=(replace(show, confidence=display),),
        )  # fmt: skip
        assert only(stated).bring_in == TARGET - timedelta(days=days), (own, display, whole)


def test_alike_lots_of_another_confidence_are_not_taken_for_one() -> None:
    # No places are stated, so that the options of alike lots are shared.
    made = plan(season([lot(), Lot("B", "tulip", 10, target=TARGET, confidence=0.9)], overrides=PLAIN))
    days = {p.lot.name: (TARGET - p.bring_in).days for p in made.lots}
    assert days == {"A": 24, "B": 28}


def test_working_days_cost_is_shown_and_never_makes_it_late() -> None:
    p = only(season([lot(target=date(2027, 3, 22))], overrides=PLAIN, calendar=MON_FRI))
    # 24 days before Monday 22 March is Friday 26 February; 98 days before that Friday 20 November; both work.
    assert (p.bring_in, p.cooler_in, p.days_early) == (date(2027, 2, 26), date(2026, 11, 20), 0)
    q = only(season([lot(target=date(2027, 3, 23))], overrides=PLAIN, calendar=MON_FRI))
    # Saturday 27 February is not worked: Friday, so bloom comes a day early.
    assert (q.bring_in, q.days_early) == (date(2027, 2, 26), 1)
    holiday = WorkCalendar(frozenset(range(5)), frozenset({date(2027, 2, 26)}))
    r = only(season([lot(target=date(2027, 3, 22))], overrides=PLAIN, calendar=holiday))
    assert (r.bring_in, r.days_early) == (date(2027, 2, 25), 1)
    # 98 days before Thursday 25 February: Thursday 19 November; the wanted cold is kept to the day
    assert r.cooler_in == date(2026, 11, 19) and r.cold_weeks == pytest.approx(r.cold_wanted)


def test_late_bulbs_shorten_the_cold_but_not_below_the_least() -> None:
    # In hand on 24 November: into the cooler on the 25th; 24 February is 91 days on: 13 weeks, above the least 12.
    stated = season([lot()], overrides=PLAIN, bulbs_in_hand=date(2026, 11, 24))
    made = plan(stated)
    p = made.lots[0]
    assert p.potting == date(2026, 11, 24) and p.bring_in == date(2027, 2, 24)
    assert p.cold_weeks == pytest.approx(13)
    assert [f.code for f in made.findings if f.severity == "warning"] == ["cold-short"]


def test_later_bulbs_still_are_refused_with_the_earliest_bloom() -> None:
    # In hand 10 December, cooler the 11th, 84 days of cold to 5 March, 24 days on the bench: 29 March.
    made = plan(season([lot(row=2)], overrides=PLAIN, bulbs_in_hand=date(2026, 12, 10)))
    assert not made.lots
    assert made.unplanned[0].earliest == date(2027, 3, 29)
    finding = next(f for f in made.findings if f.severity == "error")
    assert (finding.table, finding.row, finding.column) == ("lots", 2, "target bloom")
    assert "2027-03-29" in finding.hint


@pytest.mark.parametrize(("in_hand", "planned"), [(date(2026, 12, 1), True), (date(2026, 12, 2), False)])
def test_the_last_day_that_still_works(in_hand: date, planned: bool) -> None:
    # cooler the day after potting; 2 December to 24 February is 84 days: exactly the 12 weeks that are least
    made = plan(season([lot()], overrides=PLAIN, bulbs_in_hand=in_hand))
    assert bool(made.lots) is planned


def test_stated_cold_below_the_least_is_refused_and_at_it_accepted() -> None:
    refused = plan(season([lot(cold_weeks=11.9)], overrides=PLAIN))
    assert refused.unplanned and "at least 12" in refused.unplanned[0].reason
    assert only(season([lot(cold_weeks=12.0)], overrides=PLAIN)).cold_weeks == pytest.approx(12)


@pytest.mark.parametrize(("day_off", "warns"), [(date(2026, 11, 19), False), (date(2026, 11, 18), True)])
def test_cold_above_the_most_warns(day_off: date, warns: bool) -> None:
    # Into the cooler on 18 November for exactly 14 weeks; if nobody works that day, on the 17th for a day too many.
    most = (*PLAIN, *house_figures("tulip", cold_max=14))
    calendar = WorkCalendar(frozenset(range(7)), frozenset({day_off}))
    codes = [f.code for f in plan(season([lot()], overrides=most, calendar=calendar)).findings]
    assert ("cold-above-max" in codes) is warns


def test_precooled_weeks_count_but_the_lot_must_still_root() -> None:
    figures = (*PLAIN, *house_figures("tulip", precooled_max=14))
    p = only(season([lot(precooled_weeks=4.0)], overrides=figures))
    assert (p.bring_in - p.cooler_in).days == 70 and p.cold_weeks == pytest.approx(14)  # type: ignore[operator]
    q = only(season([lot(precooled_weeks=14.0)], overrides=figures))
    assert (q.bring_in - q.cooler_in).days == 21  # type: ignore[operator]  # three weeks to root
    assert q.rooted == q.bring_in


def test_rooting_is_slower_in_a_cold_room() -> None:
    # The line of rooting pace from 0 at 0 °C to 1 at 9 °C: at 3 °C a third, so nine weeks for three.
    places = (Place("Cold", "cooler", day=3, night=3), Place("Bench", "bench", day=16, night=16))
    p = only(season([lot()], overrides=PLAIN, places=places))
    assert (p.rooted - p.cooler_in).days == 63  # type: ignore[operator]


def test_a_crop_without_cold() -> None:
    p = only(season([Lot("P", "paperwhite", 5, target=TARGET)]))
    assert p.cooler_in is None and p.rooted is None
    assert [s.step for s in p.steps] == ["pot", "bench", "show"]
    assert p.potting == p.bring_in - timedelta(days=1)
    assert p.bloom <= TARGET


OUTDOORS = (
    Place("Cold", "cooler", day=9, night=9),
    Place("Bench", "bench", day=16, night=16),
    Place("Frame", "frame", day=6, night=6),
    Place("Court", "site", day=7, night=7),
)


def test_finishing_outdoors_is_slower_and_reckoned_with() -> None:
    show = Display("D", 4, "Court", season().span)
    late = lot(display="D", install=date(2027, 3, 10), harden_at="Frame", harden_days=5)
    p = only(season([late], overrides=PLAIN, places=OUTDOORS, displays=(show,)))
    # Frame 5 to 9 March, 5 days of 4; Court 10 to 19 March, 10 days of 5: 70 °C·d. The bench must give 266: 19 days.
    assert p.bring_in == date(2027, 3, 5) - timedelta(days=19)
    assert [(s.step, s.place) for s in p.steps][-4:] == [
        ("bench", "Bench"), ("harden", "Frame"), ("harden", "Court"), ("show", "Court"),
    ]  # fmt: skip
    assert p.bloom == TARGET


def test_a_lot_that_opens_a_display_is_surer_and_in_bloom_when_it_is_set_out() -> None:
    # Nothing stated: 0.9 for the lot that is there on opening day, 0.5 for the one of the next day. 381.8 °C·d (above)
    # are 28 days on the bench, counted back from the day it is set out, 17 March; the other needs 336, of which the
    # Court gives 5 a day: 22 days on the bench and 4 outdoors are 328, 23 and 3 are 337.
    show = Display("D", 4, "Court", season().span)
    out = date(2027, 3, 17)
    lots = [
        lot(display="D", install=out),
        replace(lot(display="D", install=out), name="B", target=TARGET + DAY),
    ]
    made = plan(season(lots, overrides=PLAIN, places=OUTDOORS, displays=(show,), confidence=None))
    opens, later = made.lots
    assert opens.bring_in == out - timedelta(days=28) and later.bring_in == out - timedelta(days=23)
    assert later.bloom == TARGET and opens.bloom < out
    # Colour at 285.6: day 21, 10 March. 381.8 - 285.6 = 96.2 °C·d, 7 days: it would be back on the bench by 10 March.
    assert [s.step for s in opens.steps][-3:] == ["bench", "show", "on show"]
    assert not [f for f in made.findings if f.code == "bloom-outdoors"]
    # Set out eight days before its target it says that it finishes there: 21 days on the bench and 8 outdoors are 334,
    # 22 and 6 are 338.
    away = lot(display="D", install=TARGET - timedelta(days=8), confidence=0.5)
    (p,) = plan(season([away], overrides=PLAIN, places=OUTDOORS, displays=(show,), confidence=None)).lots
    assert (p.bring_in, p.bloom) == (TARGET - timedelta(days=30), TARGET - timedelta(days=2))


def test_where_it_cannot_be_in_bloom_when_set_out_it_finishes_outdoors_and_the_plan_says_so() -> None:
    # 12 weeks, the least, from the cooler on 29 November: out of it on 21 February. To 17 March are 24 days: 336 with
    # none to spare, bloom on 17 March; a day later in hand and it is set out in bud.
    show = Display("D", 4, "Court", season().span)
    one = lot(display="D", install=date(2027, 3, 17), confidence=0.5)
    stated = season([one], overrides=PLAIN, places=OUTDOORS, displays=(show,))
    for in_hand, bloom, told in (
        (date(2026, 11, 28), date(2027, 3, 17), 0),
        (date(2026, 11, 29), date(2027, 3, 20), 1),
    ):
        made = plan(replace(stated, bulbs_in_hand=in_hand))
        assert made.lots[0].bloom == bloom
        findings = [f for f in made.findings if f.code == "bloom-outdoors"]
        assert len(findings) == told
        assert all((f.lot, f.number, f.days) == ("A", 10, (date(2027, 3, 17),)) for f in findings)


def test_set_out_before_bring_in_goes_straight_from_the_cooler() -> None:
    show = Display("D", 4, "Court", season().span)
    p = only(
        season(
            [lot(display="D", install=date(2026, 12, 20))], overrides=PLAIN, places=OUTDOORS, displays=(show,)
        )
    )
    assert [s.step for s in p.steps] == ["pot", "root", "cool", "harden", "show"]
    # 336 at 5 °C·d a day: 67.2, so 68 days before the target
    assert p.bring_in == TARGET - timedelta(days=68)


def test_set_out_after_bloom_it_shows_where_it_stands_first() -> None:
    show = Display("D", 4, "Court", season().span)
    p = only(
        season(
            [lot(display="D", install=date(2027, 3, 25))], overrides=PLAIN, places=OUTDOORS, displays=(show,)
        )
    )
    assert [(s.step, s.place) for s in p.steps][-2:] == [("show", "Bench"), ("on show", "Court")]
    assert p.steps[-2].span.start == p.bloom == TARGET


def test_a_planned_hold_stops_the_clock() -> None:
    # Held at 1 °C, below base: the hold gives nothing, so bring in is as many days sooner.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    figures = (*PLAIN, *house_figures("tulip", rooting=0))
    free = only(season([lot()], overrides=figures, places=places))
    held = only(season([lot(hold_days=6)], overrides=figures, places=places))
    assert free.bring_in - held.bring_in == timedelta(days=6)
    assert [s.step for s in held.steps] == ["pot", "cool", "bench", "hold", "bench", "show"]
    hold = next(s for s in held.steps if s.step == "hold")
    assert hold.span.days == 6 and hold.place == "Cold" and hold.span.start == held.stages["colour"]


@pytest.mark.parametrize("days", range(1, 9))
def test_a_hold_ends_on_a_working_day_and_the_task_and_the_heat_begin_there(days: int) -> None:
    # At 1 °C, below base, the hold gives nothing; on the bench 16 - 2 = 14 °C·d a day, 24 of them to bloom.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    calendar = WorkCalendar(frozenset(range(5)))
    stated = season([lot(hold_days=days)], overrides=(*PLAIN, *house_figures("tulip", rooting=0)), places=places,
                    calendar=calendar)  # fmt: skip
    made = plan(stated)
    (p,) = made.lots
    hold = next(s for s in p.steps if s.step == "hold")
    back = calendar.on_or_after(hold.span.start + timedelta(days=days))
    assert hold.span.end == back
    assert [t.date for t in made.tasks if t.task == "bring in"] == [p.bring_in, back]
    assert (p.bloom - p.bring_in).days == 24 + hold.span.days and p.bloom <= p.target


def test_a_lot_is_held_where_it_says() -> None:
    # Colour on day 21, with 294 of 336 °C·d gathered. Six days at 5 °C give 18 more, so that two days on the bench are
    # left: 29 days in all, where a hold at 1 °C takes three more on the bench and so 30, and none 24.
    places = (
        Place("Cold", "cooler", day=1, night=1), Place("Fruit room", "cooler", day=5, night=5),
        Place("Bench", "bench", day=16, night=16),
    )  # fmt: skip
    figures = (*PLAIN, *house_figures("tulip", rooting=0))
    own = {"hold_days": 6, "cooler": "Cold"}
    cold = only(season([lot(**own)], overrides=figures, places=places))
    mild = only(season([lot(**own, hold_at="Fruit room")], overrides=figures, places=places))
    assert ((TARGET - cold.bring_in).days, (TARGET - mild.bring_in).days) == (30, 29)
    assert [(s.step, s.place) for s in mild.steps[1:4]] == [
        ("cool", "Cold"), ("bench", "Bench"), ("hold", "Fruit room"),
    ]  # fmt: skip
    # It takes its room there, in a pot as wide as is counted in.
    held = plan(season([lot(**own, hold_at="Fruit room", pot_cm=15)], overrides=figures, places=places))
    (load,) = (load for load in held.loads if load.place == "Fruit room")
    at = (mild.steps[3].span.start - load.start).days
    assert list(load.pots[at - 1 : at + 7]) == [0, *[10] * 6, 0]


def test_what_sureness_costs_in_earliness_is_waited_out_in_the_cold() -> None:
    # A spread of 0.2 at 0.9: z 1.28155, sigma sqrt(ln 1.04) = 0.19804, 336 * 1.2889 = 433.1 °C·d, 31 days on the bench:
    # in on 17 February. Colour of the typical pot on day 21, 10 March, with 294 °C·d. A slow pot with colour on wants
    # 0.15 * 433.1 = 65.0 more, five days: so all go back on 15 March, and the typical one wants 42, three days.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    figures = (*PLAIN, *house_figures("tulip", rooting=0, spread=0.2, hold=2, hold_max=14))
    p = only(season([lot(confidence=0.9)], overrides=figures, places=places))
    assert p.bring_in == TARGET - timedelta(days=31)
    (held,) = (s for s in p.steps if s.step == "hold")
    assert (held.place, held.span) == ("Cold", Span(date(2027, 3, 10), date(2027, 3, 15)))
    assert p.bloom == date(2027, 3, 18)
    # As stated instead: none, and it blooms on day 24; or where no room is as cold as it is held.
    plain = only(season([lot(confidence=0.9, hold_days=0)], overrides=figures, places=places))
    warm = (Place("Cold", "cooler", day=5, night=5), places[1])
    nowhere = only(season([lot(confidence=0.9)], overrides=figures, places=warm))
    assert (plain.bring_in, plain.bloom) == (p.bring_in, date(2027, 3, 13))
    assert "hold" not in {s.step for s in (*plain.steps, *nowhere.steps)}
    # No longer than the crop bears: four days, and back on the bench a day sooner.
    short = (*figures, *house_figures("tulip", hold_max=4))
    (held,) = (
        s
        for s in only(season([lot(confidence=0.9)], overrides=short, places=places)).steps
        if s.step == "hold"
    )
    assert held.span == Span(date(2027, 3, 10), date(2027, 3, 14))


def test_a_lot_that_waits_is_as_sure_as_it_is_asked_to_be() -> None:
    # A plain loop over pots, day by day: each is carried to the cold once it shows colour, if four days are left.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    figures = (*PLAIN, *house_figures("tulip", rooting=0, spread=0.2, hold=2, hold_max=14))
    stated = season([lot(confidence=0.9)], overrides=figures, places=places)
    rng, blooms = np.random.default_rng(7), []
    for need in 336 * np.exp(rng.normal(0, np.sqrt(np.log(1.04)), 4000)):
        heat, day, back = 0.0, date(2027, 2, 17), date(2027, 3, 15)
        waited = False
        while heat < need - 1e-9:
            if heat >= 0.85 * need - 1e-9 and not waited and (back - day).days >= 4:
                day, waited = min(back, day + timedelta(days=14)), True
                continue
            heat, day = heat + 14.0, day + timedelta(days=1)
        blooms.append(day)
    (told,) = outlooks([alone(stated)], date(2026, 9, 1))
    assert told.chance == pytest.approx(np.mean([day <= TARGET for day in blooms]), abs=0.02)
    assert told.chance >= 0.89
    # What lies ahead is not known to the day either: the band is as wide as that of the pots, or wider by a little.
    early, late = (sorted(blooms)[int(4000 * q)] for q in (0.1, 0.9))
    assert abs((told.early - early).days) <= 1 and abs((told.late - late).days) <= 1


def test_unknown_temperature_is_said_not_guessed() -> None:
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench"))
    made = plan(season([lot()], overrides=PLAIN, places=places))
    assert "no temperature is known for Bench" in made.unplanned[0].reason
    assert made.unplanned[0].earliest is None


def test_normals_missing_a_month_are_a_gap() -> None:
    court = (*OUTDOORS[:3], Place("Court", "site"))
    normals = tuple(Normal("Court", m, 3, 9) for m in (1, 2, 4))
    show = Display("D", 4, "Court", season().span)
    early = lot(display="D", install=date(2027, 3, 10))
    made = plan(season([early], overrides=PLAIN, places=court, normals=normals, displays=(show,)))
    assert "no temperature is known for Court on 2027-03-10" in made.unplanned[0].reason


def test_leap_day_is_a_day() -> None:
    p = only(season([lot(target=date(2028, 3, 10))], opens=date(2028, 3, 10), overrides=PLAIN))
    assert p.bring_in == date(2028, 2, 15)  # 24 days back across 29 February


def test_week_53() -> None:
    # ISO 8601: 2026 has 53 weeks; 28 December 2026 to 3 January 2027 is week 53
    from forcing.dates import iso_week

    made = plan(season([lot(target=date(2027, 1, 26))], opens=date(2027, 1, 26), overrides=PLAIN))
    assert made.lots[0].bring_in == date(2027, 1, 2)
    assert iso_week(made.lots[0].bring_in) == "2026-W53"


def test_a_bring_in_that_cold_makes_later_gives_back_the_cold_it_can() -> None:
    # Cold buys 5 days a week here, so a later bring in gathers cold of its own accord. What is kept of it is only
    # what the target needs: one working day less in the cooler and bloom is late, or the chosen cold is not had.
    steep = (*PLAIN, *house_figures("tulip", days_saved=5, bench_days=24.5))
    stated = season([lot(target=date(2027, 3, 23))], overrides=steep, calendar=MON_FRI)
    p = only(stated)
    assert p.bloom <= date(2027, 3, 23) and p.cold_weeks >= 14 - 1e-6
    assert p.cooler_in is not None
    later = stated.calendar.after(p.cooler_in)
    weeks = (p.bring_in - later).days / 7
    # by hand: need in days at 16 °C after that cold, against the days there are
    late = 24.5 - 5 * (weeks - 14) > (date(2027, 3, 23) - p.bring_in).days
    assert weeks < 14 or late


def test_precooled_weeks_above_the_most_that_count_earn_nothing() -> None:
    # 14 weeks wanted; 4 of the 6 precooled ones count: 10 weeks, 70 days, in the cooler and not 56.
    most = (*PLAIN, *house_figures("tulip", precooled_max=4))
    p = only(season([lot(precooled_weeks=6.0)], overrides=most))
    assert (p.bring_in - p.cooler_in).days == 70 and p.cold_weeks == pytest.approx(14)  # type: ignore[operator]
    at_it = only(season([lot(precooled_weeks=4.0)], overrides=most))
    assert (at_it.bring_in, at_it.cooler_in) == (p.bring_in, p.cooler_in)


def test_a_hundredth_of_a_week_above_the_most_cold_warns() -> None:
    # 4.01 weeks precooled leave 9.99 of 14: 69.93 days, so 70 days: 10 + 4.01 = 14.01, above 14.
    most = (*PLAIN, *house_figures("tulip", cold_max=14, precooled_max=9))
    above = plan(season([lot(precooled_weeks=4.01)], overrides=most))
    warned = [f for f in above.findings if f.code == "cold-above-max"]
    assert [(f.lot, f.number) for f in warned] == [("A", pytest.approx(14.01))] and "14.01" in warned[
        0
    ].message
    exactly = plan(season([lot(precooled_weeks=4.0)], overrides=most))
    assert not [f for f in exactly.findings if f.code == "cold-above-max"]


def test_cold_above_what_was_chosen_is_given_back_as_far_as_the_target_allows() -> None:
    # Need in days at 16 °C after d days of cold: 22.9 - 5 (d - 98) / 7. Target 23 March 2027; nobody works on 27 and
    # 28 February and from 2 to 12 March.
    #   26 February leaves 25 days; 98 days before it is 20 November: 22.9 days. In time.
    #   1 March leaves 22 days; 98 days before it is 23 November: 22.9 days. Late.
    #   1 March with 20 November kept, 101 days: 20.8 days. In time, and the next working day is 13 March: late.
    # Of those 101 days 98 are wanted. 100 (from 21 November): 21.5 days, in time. 99: 22.2 days, late.
    off = [date(2027, 2, 27), date(2027, 2, 28), *(date(2027, 3, day) for day in range(2, 13))]
    steep = (*PLAIN, *house_figures("tulip", days_saved=5, bench_days=22.9))
    calendar = WorkCalendar(frozenset(range(7)), frozenset(off))
    p = only(season([lot(target=date(2027, 3, 23))], overrides=steep, calendar=calendar))
    assert (p.cooler_in, p.bring_in, p.bloom) == (date(2026, 11, 21), date(2027, 3, 1), date(2027, 3, 23))
    assert p.cold_weeks == pytest.approx(100 / 7)


def test_the_earliest_bloom_is_not_always_that_of_the_first_bring_in() -> None:
    # On a bench at 6 °C a day gives 4 °C·d, and a day more in the cooler saves 4 / 7 days at 16 °C: 8 °C·d. After d
    # days of cold (80 - 4 d / 7) * 14 = 1120 - 8 d are needed, at least 168: d + 280 - 2 d days to bloom until d = 119.
    # d = 84, the least cold: day 196. d = 119: day 161, then later again. 161 days from 11 December: 21 May.
    figures = (*PLAIN, *house_figures("tulip", days_saved=4))
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=6, night=6))
    made = plan(season([lot()], overrides=figures, places=places, bulbs_in_hand=date(2026, 12, 10)))
    assert made.unplanned[0].earliest == date(2027, 5, 21)


def test_a_hold_is_counted_with_the_heat_of_the_cooler_it_is_held_in() -> None:
    # Colour at 0.85 of 336 = 285.6: day 21 on a bench of 14 °C·d a day, 294 by then. Six days in a cooler at 5 °C give
    # 3 each: 312. The 24 left take two days more: 29 days in all.
    places = (Place("Cold", "cooler", day=5, night=5), Place("Bench", "bench", day=16, night=16))
    p = only(
        season([lot(hold_days=6)], overrides=(*PLAIN, *house_figures("tulip", colour=0.85)), places=places)
    )
    assert (p.bloom, p.bring_in) == (TARGET, TARGET - timedelta(days=29))


def test_figures_that_lead_to_no_date_refuse_their_lot_and_no_other() -> None:
    # A hold of eleven million years is beyond the calendar.
    made = plan(
        season([lot(hold_days=4_000_000_000, row=2), Lot("B", "tulip", 10, target=TARGET)], overrides=PLAIN)
    )
    assert [p.lot.name for p in made.lots] == ["B"]
    assert [(f.lot, f.row, f.severity) for f in made.findings if f.code == "lot-unplanned"] == [
        ("A", 2, "error")
    ]


def test_a_show_without_an_end_closes_when_the_last_lot_fades() -> None:
    show = Display("D", 4, "Court", Span(TARGET, TARGET + timedelta(days=1)))
    stated = season(
        [lot(), Lot("B", "tulip", 10, target=TARGET + timedelta(days=9), display="D")],
        span=show.span, places=OUTDOORS, overrides=PLAIN, displays=(show,), show_stated=False,
    )  # fmt: skip
    made = plan(stated)
    fades = [p.fade for p in made.lots]
    assert made.season.span == Span(TARGET, max(day for day in fades if day is not None))
    assert made.season.displays[0].span == made.season.span
    assert plan(replace(stated, show_stated=True)).season.span == show.span


def test_a_hold_is_over_before_the_lot_is_set_out() -> None:
    # Held at 1 °C, below base. Colour on day 21 of the bench, 294 °C·d; six days of hold; set out on 10 March, so
    # brought in by 11 February at the latest. The 42 left take nine days at 5 °C·d on the court: 19 March. A day later
    # it would bloom on the 20th, in time, but be set out in the middle of its hold.
    places = (Place("Cold", "cooler", day=1, night=1), *OUTDOORS[1:])
    show = Display("D", 4, "Court", season().span)
    held = lot(hold_days=6, display="D", install=date(2027, 3, 10))
    figures = (*PLAIN, *house_figures("tulip", rooting=0, colour=0.85))
    p = only(season([held], overrides=figures, places=places, displays=(show,)))
    assert (p.bring_in, p.bloom) == (date(2027, 2, 11), date(2027, 3, 19))


# ---------------------------------------------------------------- refusals, in words


def test_a_bench_that_gives_no_heat_is_refused_and_says_what_was_asked() -> None:
    # 2 °C is the base: nothing is ever gathered.
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=2, night=2))
    (plain,) = plan(season([lot()], overrides=PLAIN, places=places)).unplanned
    assert plain.reason == "no bring in before the target leads to bloom by it"
    (held,) = plan(season([lot(hold_days=6)], overrides=PLAIN, places=places)).unplanned
    assert (
        held.reason == "no bring in before the target leads to bloom by it with a hold of 6 days on the way"
    )
    # Too little cold is asked for, and no later target would help: the bench leads to no bloom at all.
    stated = season([lot(cold_weeks=11.0)], overrides=PLAIN, places=places, bulbs_in_hand=date(2026, 11, 1))
    (short,) = plan(stated).unplanned
    assert "11 cold-weeks are chosen but tulip needs at least 12 to flower" in short.reason
    assert short.earliest is None


# 24 days at 16 °C, as PLAIN, for a crop that needs no cold.
NO_COLD = house_figures(
    "paperwhite", base=2, cap=20, reference=16, bench_days=24, bench_days_min=24, spread=0.1, shoots=0.2,
    bud=0.5, colour=0.85, display_days=10, display_reference=9,
)  # fmt: skip


@pytest.mark.parametrize("in_hand", [date(2027, 2, 22), date(2027, 2, 23)])
def test_bulbs_that_need_no_cold_come_in_time_until_the_day_before_bring_in(in_hand: date) -> None:
    p = only(season([Lot("P", "paperwhite", 5, target=TARGET)], overrides=NO_COLD, bulbs_in_hand=in_hand))
    assert (p.potting, p.cooler_in, p.bring_in) == (date(2027, 2, 23), None, date(2027, 2, 24))


def test_bulbs_that_need_no_cold_and_come_a_day_late_bloom_a_day_late() -> None:
    stated = season(
        [Lot("P", "paperwhite", 5, target=TARGET)], overrides=NO_COLD, bulbs_in_hand=date(2027, 2, 24)
    )
    (found,) = plan(stated).unplanned
    assert found.reason == "potting when the bulbs are in hand, on 2027-02-24, is too late"
    assert found.earliest == TARGET + timedelta(days=1)


@pytest.mark.parametrize(
    ("rooting", "in_hand", "earliest"),
    [
        # All its cold is had, but three weeks of rooting are not: cooler 11 February, rooted 4 March, 24 days more.
        (3, date(2027, 2, 10), date(2027, 3, 28)),
        # Nor is rooting asked for: no cooler at all, on the bench on 11 March, and 24 days more.
        (0, date(2027, 3, 10), date(2027, 4, 4)),
    ],
)
def test_precooled_bulbs_that_come_late_still_root_where_they_root_in_the_cooler(
    rooting: int, in_hand: date, earliest: date
) -> None:
    figures = (*PLAIN, *house_figures("tulip", precooled_max=14, rooting=rooting))
    (found,) = plan(season([lot(precooled_weeks=14.0)], overrides=figures, bulbs_in_hand=in_hand)).unplanned
    assert found.earliest == earliest


# ---------------------------------------------------------------- holds and the days on which nobody works


def test_a_lot_that_blooms_before_anybody_can_hold_it_blooms_as_without_a_hold() -> None:
    # Colour at 0.95 of 336: 319.2, day 23. Brought in on Thursday 25 February that is Saturday 20 March; nobody works
    # until Monday, and it blooms on Sunday, day 24. A day later colour is on Sunday and bloom on Monday: late.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    figures = (*PLAIN, *house_figures("tulip", rooting=0, colour=0.95))
    held = lot(hold_days=6, target=date(2027, 3, 21))
    p = only(season([held], overrides=figures, places=places, calendar=MON_FRI))
    assert (p.bring_in, p.bloom) == (date(2027, 2, 25), date(2027, 3, 21))


def test_a_lot_that_blooms_in_its_hold_blooms_in_the_cooler() -> None:
    # Colour at 0.95: day 23, 322 of 336. The cooler at 9 °C gives 7 a day: two days more, of the six of the hold.
    figures = (*PLAIN, *house_figures("tulip", colour=0.95))
    p = only(season([lot(hold_days=6)], overrides=figures))
    assert (p.bring_in, p.bloom) == (TARGET - timedelta(days=25), TARGET)
    assert next(s.place for s in p.steps if s.step == "show") == "Cold"


# ---------------------------------------------------------------- a lot alone, and its options

DATED = (
    *PLAIN,
    *house_figures("tulip", shoots=0.2, bud=0.5, colour=0.85, display_days=10, display_reference=9),
)


def alone(stated: Season) -> LotSimulation:
    """The one lot of a season in Cold and on Bench."""
    (one,) = stated.lots
    recipe = RecipeBook.from_overrides(stated.overrides).recipe(one.crop)
    return simulation_of(stated, build_climate(stated), one, recipe, "Cold", "Bench")


def options(stated: Season, *weeks: float) -> list[OptionDates]:
    return dates_of(alone(stated), weeks)


def test_the_options_of_a_lot_by_hand() -> None:
    # Life on display: 10 days of 7 °C·d, 70: five days of 14. Stages at 67.2, 168 and 285.6: days 5, 12 and 21.
    stated = season([lot()], overrides=DATED)
    climate = build_climate(stated)

    def number(month: int, day: int) -> int:
        return (date(2026 if month > 9 else 2027, month, day) - climate.start).days

    first, second = options(stated, 14.0, 16.0)
    assert first == OptionDates(
        number(11, 17), number(11, 18), number(12, 9), number(2, 24), number(3, 20),
        (number(3, 1), number(3, 8), number(3, 17)), pytest.approx(14.0), 14.0,
        (("Cold", number(11, 18), number(2, 24)), ("Bench", number(2, 24), number(3, 25))),
    )  # fmt: skip
    # Two weeks more: 14 days sooner into the cooler, and nothing else.
    assert (second.potting, second.cooler_in, second.rooted) == (number(11, 3), number(11, 4), number(11, 25))
    assert (second.bring_in, second.bloom, second.wanted) == (number(2, 24), number(3, 20), 16.0)
    assert options(stated, 11.0) == []  # below the least it flowers with
    made = only(stated)
    assert replace(exact(climate, made), stands=()) == replace(first, stands=())


def test_the_options_of_a_lot_with_a_hold_are_those_of_its_forward_run() -> None:
    # Held at 1 °C, below base, for six days from colour: brought in six days sooner, 18 February.
    places = (Place("Cold", "cooler", day=1, night=1), Place("Bench", "bench", day=16, night=16))
    figures = (*DATED, *house_figures("tulip", rooting=0))
    stated = season([lot(hold_days=6)], overrides=figures, places=places)
    start = build_climate(stated).start
    made = options(stated, 14.0, 16.0)
    assert [option.wanted for option in made] == [14.0, 16.0]
    brought, colour = (date(2027, 2, 18) - start).days, (date(2027, 3, 11) - start).days
    for option in made:
        assert (option.bring_in, option.stages[2]) == (brought, colour)
        assert ("Cold", colour, colour + 6) in option.stands
        assert option.cold_weeks == pytest.approx((option.bring_in - (option.cooler_in or 0)) / 7)
    first, second = made
    assert first.cooler_in is not None and second.cooler_in is not None
    assert first.cooler_in > second.cooler_in


def test_a_crop_without_cold_has_one_option_and_no_days_in_a_cooler() -> None:
    stated = season([Lot("P", "paperwhite", 5, target=TARGET)], overrides=NO_COLD)
    start = build_climate(stated).start
    (option,) = options(stated, 14.0, 16.0)
    brought = (date(2027, 2, 24) - start).days
    assert (option.potting, option.cooler_in, option.rooted) == (brought - 1, None, None)
    assert (option.bring_in, option.bloom, option.cold_weeks, option.wanted) == (brought, brought + 24, 0, 0)
    assert option.stands == (("Bench", brought, brought + 29),)
    assert exact(build_climate(stated), only(stated)).cooler_in is None


def test_roots_on_the_day_of_bring_in_are_there_and_later_ones_are_not_told() -> None:
    figures = (*DATED, *house_figures("tulip", precooled_max=14))
    stated = season([lot(precooled_weeks=14.0)], overrides=figures)
    (option,) = options(stated, 14.0)
    assert option.rooted == option.bring_in  # 21 days of rooting are what it is in the cooler for
    climate, made = build_climate(stated), only(stated)
    assert exact(climate, made).rooted == option.bring_in
    day_late = replace(made, rooted=made.bring_in + timedelta(days=1))
    assert exact(climate, day_late).rooted is None


def test_a_lot_whose_fading_is_too_far_off_to_know_stands_until_the_show_closes() -> None:
    # A thousand days of display lie beyond what is reckoned. The show closes on 19 April.
    figures = (*DATED, *house_figures("tulip", display_days=1000))
    stated = season([lot()], overrides=figures)
    start = build_climate(stated).start
    (option,) = options(stated, 14.0)
    assert option.stands[-1][2] == (date(2027, 4, 19) - start).days
    # One that blooms after the show has closed stands for its day of bloom.
    later = season([lot(target=date(2027, 6, 1))], overrides=figures)
    (option,) = options(later, 14.0)
    assert option.stands[-1][2] == (date(2027, 6, 2) - build_climate(later).start).days


# ---------------------------------------------------------------- the forward run


def test_a_run_says_when_a_slow_pot_blooms_and_what_was_seen() -> None:
    # At a confidence of 0.9: 381.8 °C·d (see above), 27.3 days, so day 28; the typical pot as ever on day 24.
    into, out = date(2026, 11, 18), date(2027, 2, 24)
    sure = alone(season([lot()], overrides=DATED, confidence=0.9))
    run = sure.run(into, out)
    assert run is not None
    assert (run.bloom, run.assured) == (TARGET, TARGET + timedelta(days=4))
    seen = replace(sure, history=replace(sure.history, stages={"bloom": TARGET - timedelta(days=2)}))
    run = seen.run(into, out)
    assert run is not None and run.bloom == run.assured == TARGET - timedelta(days=2)


def test_a_run_past_what_is_known_is_none() -> None:
    unknown = (Place("Cold", "cooler"), Place("Bench", "bench", day=16, night=16))
    lost = alone(season([lot()], overrides=DATED, places=unknown))
    assert lost.cold_weeks(date(2026, 11, 18), date(2027, 2, 24)) is None
    assert lost.run(date(2026, 11, 18), date(2027, 2, 24)) is None
    # The typical pot blooms on the last day that is known, eight months after the show; the slow one after it.
    sure = alone(season([lot()], overrides=DATED, confidence=0.9))
    last = sure.climate.day(sure.climate.days)
    assert sure.run(date(2026, 11, 18), last - timedelta(days=24)) is None
    assert sure.run(date(2026, 11, 18), last - timedelta(days=28)) is not None


@pytest.mark.parametrize(("weeks", "days"), [(13, 91), (13.9, 98), (14.1, None), (20, None)])
def test_shoots_in_the_cooler_are_told_up_to_bring_in(weeks: float, days: int | None) -> None:
    p = only(season([lot()], overrides=(*PLAIN, *house_figures("tulip", sprouting=weeks))))
    assert p.sprouted == (None if days is None else date(2026, 11, 18) + timedelta(days=days))


def test_the_steps_of_a_plan_tile_its_life() -> None:
    p: LotPlan = only(season([lot()], overrides=DATED))
    assert [(s.step, s.place, s.span.start) for s in p.steps] == [
        ("pot", None, date(2026, 11, 17)), ("root", "Cold", date(2026, 11, 18)), ("cool", "Cold", date(2026, 12, 9)),
        ("bench", "Bench", date(2027, 2, 24)), ("show", "Bench", TARGET),
    ]  # fmt: skip
    assert p.steps[-1].span.end == p.fade == TARGET + timedelta(days=5)
    # 98 days in the cooler and 29 on the bench, none of them measured.
    assert p.assumed_days == 98 + 29


def test_a_run_whose_hold_would_not_end_before_it_is_set_out_is_none() -> None:
    # Brought in on 24 February, colour on day 21; six days of hold end on day 27.
    show = Display("D", 4, "Court", season().span)
    for days, possible in ((26, False), (27, True)):
        out = date(2027, 2, 24) + timedelta(days=days)
        held = season(
            [lot(hold_days=6, display="D", install=out)], overrides=DATED, places=OUTDOORS, displays=(show,)
        )
        assert (alone(held).run(date(2026, 11, 18), date(2027, 2, 24)) is not None) is possible


def test_a_lot_of_a_display_is_set_out_on_the_last_working_day_up_to_its_target() -> None:
    # Saturday 20 March is not worked: Friday.
    show = Display("D", 4, "Court", season().span)
    stated = season([lot(display="D")], overrides=DATED, places=OUTDOORS, displays=(show,), calendar=MON_FRI)
    assert only(stated).install == date(2027, 3, 19)


def test_the_last_step_of_a_lot_that_is_not_known_to_fade_ends_with_the_show() -> None:
    # 400 days at 30 °C are 400 x 28 °C·d: at 14 °C·d a day on the bench 800 days, farther than temperatures are known.
    stated = season(
        [lot()], overrides=(*DATED, *house_figures("tulip", display_days=400, display_reference=30))
    )
    assert only(stated).steps[-1].span.end == date(2027, 4, 19)


def test_a_lots_own_day_in_hand_wins_over_the_seasons() -> None:
    # As above: in hand on 24 November the cold is 13 weeks; in hand in September it is the whole 14.
    late, early = date(2026, 11, 24), date(2026, 9, 1)
    lots = [lot(in_hand=late), replace(lot(in_hand=early), name="B"), replace(lot(), name="C")]
    for places in ((), (Place("Other", "cooler", day=9, night=9),)):  # counted back alone, and allocated
        both = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16), *places)
        made = plan(season(lots, overrides=PLAIN, bulbs_in_hand=late, places=both))
        assert {p.lot.name: round(p.cold_weeks) for p in made.lots} == {"A": 13, "B": 14, "C": 13}


def test_short_cold_is_found_where_a_lot_names_no_cooler_too() -> None:
    # In hand on 15 December, cooler the 16th: 70 days to 24 February are the least 10 weeks of a low of 10.
    low = (Override("tulip", "cold_min", 12.0, low=10.0),)
    places = (
        Place("Cold", "cooler", day=9, night=9), Place("Other", "cooler", day=9, night=9),
        Place("Bench", "bench", day=16, night=16),
    )  # fmt: skip
    for in_hand, planned in ((date(2026, 12, 15), True), (date(2026, 12, 16), False)):
        made = plan(season([lot()], overrides=(*PLAIN, *low), bulbs_in_hand=in_hand, places=places))
        assert bool(made.lots) is planned
