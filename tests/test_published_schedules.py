"""Published schedules, to the day: the weeks each source gives are entered, its dates must come out.

The recipe's own biology is set aside (days_saved 0, cold credited day for day at 9 °C, every day a working
day): what is tested is the counting back. Each row is a published figure restated; dates marked (derived)
are plain arithmetic on the weeks that the source prints.
"""

from __future__ import annotations

from datetime import date

import pytest

from forcing.model import Lot
from tests.builders import house_figures, only, season

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
    figures = house_figures(
        "tulip", cold_target=15, reference=16, bench_days=21, bench_days_min=21, days_saved=0,
        rooting=3, rooting_at=9, precooled_max=15,
    )  # fmt: skip
    lot = Lot("V", "tulip", 10, target=date(2027, 2, 14), cold_weeks=15, precooled_weeks=15)
    planned = only(season([lot], opens=date(2027, 2, 14), overrides=figures))
    assert planned.cooler_in == date(2027, 1, 3)
    assert planned.bring_in == date(2027, 1, 24)
    assert planned.bloom == date(2027, 2, 14)
