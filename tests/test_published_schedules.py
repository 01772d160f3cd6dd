"""Published schedules, to the day: the weeks each source gives are entered, its dates must come out.

The recipe's own biology is set aside (days_saved 0, cold credited day for day at 9 °C, every day a working
day): what is tested is the counting back. Each row is a published figure restated; dates marked (derived)
are plain arithmetic on the weeks that the source prints.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forcing.model import LogEntry, Lot, Place
from tests.builders import house_figures, only, plan, season, worked

SCHEDULES = [
    # International Flower Bulb Centre, "Producing daffodils for cut flowers": harvest 20 February, cold 16 weeks,
    # greenhouse 3 weeks. Out of cold 30 January, into cold 10 October (derived).
    ("narcissus", date(2027, 2, 20), 16, 21, date(2027, 1, 30), date(2026, 10, 10)),
    # Berbee tulip culture sheet: plant mid September at 48 °F, out of cold 5 to 10 January, ready 14 February.
    # 15 September to 5 January is 16.0 weeks; 5 January to 14 February is 40 days.
    ("tulip", date(2027, 2, 14), 16, 40, date(2027, 1, 5), date(2026, 9, 15)),
    # Colorado State University Extension (Gross): bloom by 1 February, 14-20 weeks of cold and 2-3 weeks after;
    # 18 and 3 weeks start on 7 September (derived), 14 and 2 on 12 October, 20 and 3 on 24 August.
    ("tulip", date(2027, 2, 1), 18, 21, date(2027, 1, 11), date(2026, 9, 7)),
    ("tulip", date(2027, 2, 1), 14, 14, date(2027, 1, 18), date(2026, 10, 12)),
    ("tulip", date(2027, 2, 1), 20, 21, date(2027, 1, 11), date(2026, 8, 24)),
    # McAvoy, Easter lily schedule 2015 (Greenhouse Management): Easter 5 April 2015, greenhouse 7 December (17
    # weeks), cold from 26 October (6 weeks; 23 weeks before Easter).
    ("easter lily", date(2015, 4, 5), 6, 119, date(2014, 12, 7), date(2014, 10, 26)),
    # The same programme for Easter 1 April 2018: 23 weeks before is 22 October 2017.
    ("easter lily", date(2018, 4, 1), 6, 119, date(2017, 12, 3), date(2017, 10, 22)),
    # Wholesale Easter lily schedule 2010, pot-cooled: 42 °F from 3 November for 42 days, forcing 15 December,
    # Easter 4 April 2010 (110 days later).
    ("easter lily", date(2010, 4, 4), 6, 110, date(2009, 12, 15), date(2009, 11, 3)),
]


@pytest.mark.parametrize(("crop", "target", "weeks", "days", "out", "into"), SCHEDULES)
def test_a_published_schedule_comes_out_to_the_day(
    crop: str, target: date, weeks: float, days: int, out: date, into: date
) -> None:
    figures = house_figures(
        crop, cold_min=weeks, cold_target=weeks, cold_max=weeks, reference=16, bench_days=days,
        bench_days_min=1, days_saved=0, rooting=0,
    )  # fmt: skip
    lot = Lot("A", crop, 10, target=target, cold_weeks=weeks)
    curve = house_figures(crop)
    planned = only(season([lot], opens=target, overrides=(*figures, *curve, *_cold_at_nine(crop))))
    assert planned.bring_in == out
    assert planned.cooler_in == into
    assert planned.bloom == target
    assert planned.cold_weeks == pytest.approx(weeks, abs=1e-9)


def _cold_at_nine(crop: str) -> tuple:  # type: ignore[type-arg]
    from forcing.model import Override

    return (Override(crop, "cold_curve", "tulip"),)


def test_precooled_tulips_for_valentine() -> None:
    # Ampersand Bulb Co.: precooled bulbs, planted about 3 January for 14 February: 2-3 weeks of cool rooting and
    # 3-4 of warmth, about 6 weeks in all. With 3 and 3: into the cool 3 January, to the bench 24 January (derived).
    # How long the bulbs were cooled dry is not printed: the 15 weeks are ours, so that the cooler adds none (the recipe
    # counts 9, the most that the International Flower Bulb Centre gives).
    figures = house_figures(
        "tulip", cold_target=15, reference=16, bench_days=21, bench_days_min=21, days_saved=0,
        rooting=3, rooting_at=9, precooled_max=15,
    )  # fmt: skip
    lot = Lot("V", "tulip", 10, target=date(2027, 2, 14), cold_weeks=15, precooled_weeks=15)
    planned = only(season([lot], opens=date(2027, 2, 14), overrides=figures))
    assert planned.cooler_in == date(2027, 1, 3)
    assert planned.bring_in == date(2027, 1, 24)
    assert planned.bloom == date(2027, 2, 14)


# Public gardens: pots of tulip, narcissus, hyacinth, crocus and muscari 10 to 12 weeks at 40 °F for a show in early
# March (Smith College, Newsletter spring 1999 p. 3); planted at the end of October, cooler to mid-January, show from 1
# March, so 11.3 weeks and 45 days (Mount Holyoke News, 26 February 2014); 10 to 13 weeks (Elizabeth Park, 2023).
GARDEN = [
    Lot(f"{crop} {kind or ''}".strip(), crop, 10, bloom_class=kind, target=date(2027, 3, 1))
    for crop, kind in (
        ("tulip", "early"), ("tulip", "mid"), ("tulip", "late"), ("narcissus", None), ("crocus", None),
        ("muscari", None), ("hyacinth", None),
    )
]  # fmt: skip
FORTY_F = (Place("Cold", "cooler", day=4.4, night=4.4), Place("Bench", "bench", day=16, night=16))
# What a class is usually given at least, where that is more: tulip 12, 13 and 15 weeks, narcissus 13.
SHORT = {"tulip early": 12, "tulip mid": 13, "tulip late": 15, "narcissus": 13}


@pytest.mark.parametrize("weeks", [11, 12])
def test_a_public_gardens_short_cold_is_planned_with_a_warning(weeks: float) -> None:
    lots = [replace(lot, cold_weeks=float(weeks)) for lot in GARDEN]
    made = plan(season(lots, opens=date(2027, 3, 1), places=FORTY_F), on=date(2026, 10, 1))
    assert not made.unplanned and all(p.bloom <= p.target for p in made.lots)
    told = [f for f in made.findings if f.code == "cold-below-usual"]
    # tulip early gets 12 of 12 in the second round
    assert {f.lot for f in told} == {name for name, usual in SHORT.items() if weeks < usual}
    assert len(told) == len({f.lot for f in told}) and {f.severity for f in told} == {"warning"}
    assert not [f for f in made.findings if f.code == "cold-short" or f.severity == "error"]


def test_a_public_gardens_pots_from_28_october_are_out_of_the_cold_by_mid_january_or_later() -> None:
    stated = season(GARDEN, opens=date(2027, 3, 1), places=FORTY_F, bulbs_in_hand=date(2026, 10, 27))
    made = plan(stated, on=date(2026, 10, 1))
    assert len(made.lots) == len(GARDEN)
    for p in made.lots:
        assert p.cooler_in is not None and p.cooler_in >= date(2026, 10, 28)
        assert p.bring_in >= date(2027, 1, 15) and p.bloom <= date(2027, 3, 1)


def test_a_public_gardens_pots_as_logged_are_in_bloom_for_the_first_of_march() -> None:
    log = [
        LogEntry(day, lot.name, event)
        for lot in GARDEN
        for event, day in (("cooler in", date(2026, 10, 28)), ("brought in", date(2027, 1, 15)))
    ]
    made = plan(season(GARDEN, opens=date(2027, 3, 1), places=FORTY_F, log=tuple(log)), on=date(2027, 1, 15))
    for p in made.lots:
        # 79 d from 28 October to 15 January: 11.3 weeks where the whole of 40 °F counts
        assert p.recipe.crop == "hyacinth" or p.cold_weeks == pytest.approx(79 / 7)
        assert p.bloom <= date(2027, 3, 1)
    assert not [f for f in made.findings if f.severity == "error" and f.code.startswith("cold")]


def test_lots_with_short_cold_are_one_warning_a_crop_and_class_with_the_days_it_costs() -> None:
    # Two mid tulips at 11 and 12 weeks: 2.5 days for each of the 16 - 11 = 5 weeks that lack: 12.5 days at 17 °C.
    mid = GARDEN[1]
    lots = [replace(mid, cold_weeks=11.0, row=4), replace(mid, name="B", cold_weeks=12.0, row=5)]
    (told,) = [f for f in plan(season(lots, opens=mid.target)).findings if f.code == "cold-below-usual"]
    assert (told.lot, told.row, told.number) == (None, 4, pytest.approx(11, abs=0.2))
    assert "tulip mid and B (mid tulip) get" in told.message and "13 or more are usual" in told.message
    assert "up to 12 days longer on a bench at 17 °C" in told.hint


def test_narcissus_is_not_reckoned_outside_the_weeks_that_rees_and_hanks_print() -> None:
    # Rees & Hanks 1984: 13.61 weeks -> 30 d at 16 °C, 15.31 -> 21 d. With 11 weeks: 30 d again, and less sure: carried
    # on, the line would give 5.3 · 2.61 = 13.8 d more, so sqrt(0.12² + (13.8 / 30 / 2)²) = 0.26. With 17 weeks: 21 d.
    lots = [replace(GARDEN[3], name=f"{w}", cold_weeks=float(w)) for w in (11, 14, 17)]
    made = worked(season(lots, opens=date(2027, 3, 1)), date(2026, 9, 1))
    days = {p.lot.name: (p.bloom - p.bring_in).days for p in made.plan.lots}
    assert (days["11"], days["17"]) == (30, 21) and 27 <= days["14"] <= 29
    spread = {s.lot.name: s.spread(float(s.lot.name)) for s in made.simulations}
    assert spread == pytest.approx({"11": 0.26, "14": 0.12, "17": 0.245}, abs=0.005)
    (told,) = [f for f in made.plan.findings if f.code == "cold-below-usual"]
    assert "at least 7 days longer on a bench at 16 °C" in told.hint


def test_sureness_costs_more_where_nobody_has_measured() -> None:
    # As above. 11 weeks: coefficient 0.26, sigma sqrt(ln(1 + 0.26²)) = 0.256; at 0.9 exp(1.2816 · 0.256) = 1.388 times
    # 30 d are 41.7 d. 17 weeks: 0.245, sigma 0.2414, 1.363 times 21 d are 28.6 d; at the 0.12 of its recipe 24.5 d.
    days = {}
    for weeks in (11.0, 17.0):
        lot = replace(GARDEN[3], cold_weeks=weeks, hold_days=0)
        p = only(season([lot], opens=date(2027, 3, 1), confidence=0.9))
        days[weeks] = (p.target - p.bring_in).days
    assert days == {11.0: 42, 17.0: 29}
