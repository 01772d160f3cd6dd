"""Properties of every plan: forward judges backward, steps tile, order and unit change nothing.

The forward run here is written again, day by day and in plain Python, so that the engine is not its own judge.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from statistics import NormalDist

from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import WorkCalendar
from forcing.model import Lot, LotPlan, Place, Reading, Recipe, Season
from forcing.units import c_to_f, f_to_c
from tests.builders import plan, season

DAY = timedelta(days=1)


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    """One to four tulip, hyacinth or narcissus lots in places of random temperature and working days."""
    opens = date(2027, 1, 15) + timedelta(days=draw(st.integers(0, 100)))
    weekdays = frozenset(draw(st.sets(st.integers(0, 6), min_size=2, max_size=7)))
    holidays = frozenset(opens - timedelta(days=d) for d in draw(st.lists(st.integers(0, 200), max_size=6)))
    cold = draw(st.sampled_from([3.0, 5.0, 9.0, 10.5]))
    day, night = draw(st.integers(12, 20)), draw(st.integers(8, 16))
    lots = []
    for i in range(draw(st.integers(1, 4))):
        lots.append(
            Lot(
                f"L{i}",
                draw(st.sampled_from(["tulip", "hyacinth", "narcissus"])),
                draw(st.integers(1, 60)),
                draw(st.sampled_from([None, "early", "mid", "late"])),
                target=opens + timedelta(days=draw(st.integers(0, 25))),
                precooled_weeks=draw(st.sampled_from([0.0, 0.0, 3.5])),
                cooler="Cold",
                bench="Bench",
            )
        )
    return season(
        lots,
        opens=opens,
        calendar=WorkCalendar(weekdays, holidays),
        confidence=draw(st.sampled_from([0.5, 0.5, 0.8])),
        places=(Place("Cold", "cooler", day=cold, night=cold), Place("Bench", "bench", day=day, night=night)),
    )


def days_on_line(r: Recipe, cold: float) -> tuple[float, float]:
    """Days on the bench after so much cold, as far as that was measured; and weeks by which it lies outside."""
    inside = min(max(cold, r.line_from), r.line_to)
    return max(r.bench_days_min, r.bench_days - r.days_saved * (inside - r.cold_target)), abs(cold - inside)


def bloom_by_hand(stated: Season, p: LotPlan, bring_in: date, chance: float) -> date:
    """Bloom on a constant bench after a constant cooler, counted a day at a time."""
    r, bench = p.recipe, stated.place("Bench")
    assert p.cooler_in is not None and bench.day is not None and bench.night is not None
    precooled = min(p.lot.precooled_weeks, r.precooled_max)
    credit = (p.cold_weeks - precooled) / (p.bring_in - p.cooler_in).days  # weeks a day
    cold = precooled + credit * (bring_in - p.cooler_in).days
    days, _ = days_on_line(r, cold)
    # Where the cold that is chosen lies outside what was measured, the spread is wider by half of what that would save.
    known, beyond = days_on_line(r, p.cold_wanted)
    sigma = math.sqrt(math.log(1 + r.spread**2 + (beyond * r.days_saved / known / 2) ** 2))
    need = days * (r.reference - r.base) * math.exp(NormalDist().inv_cdf(chance) * sigma)
    low, high = sorted((bench.day, bench.night))
    assert r.base <= low and high <= r.cap, "the mean rule holds only between base and cap"
    gathered, day = 0.0, bring_in
    while gathered < need - 1e-3:
        gathered += (low + high) / 2 - r.base
        day += DAY
    return day


@settings(max_examples=60, deadline=None)
@given(seasons())
def test_forward_judges_backward(stated: Season) -> None:
    made = plan(stated)
    assert not made.unplanned
    for p in made.lots:
        works = stated.calendar.works
        assert p.cooler_in is not None
        assert works(p.potting) and works(p.cooler_in) and works(p.bring_in)
        assert p.potting < p.cooler_in < p.bring_in < p.bloom <= p.target
        assert p.cold_weeks >= p.cold_wanted - 1e-3
        assert p.cold_weeks >= p.recipe.cold_min - 1e-3
        assert p.rooted is not None and p.rooted <= p.bring_in
        if all(step.step != "hold" for step in p.steps):  # what waits in the cold is later than it gathers
            assert bloom_by_hand(stated, p, p.bring_in, 0.5) == p.bloom
        assert bloom_by_hand(stated, p, p.bring_in, stated.confidence) <= p.target
        later = stated.calendar.after(p.bring_in)
        assert bloom_by_hand(stated, p, later, stated.confidence) > p.target, "brought in a working day later"


@settings(max_examples=40, deadline=None)
@given(seasons())
def test_steps_tile_without_gap_or_overlap(stated: Season) -> None:
    for p in plan(stated).lots:
        assert p.steps[0].step == "pot" and p.steps[0].span.start == p.potting
        for before, after in pairwise(p.steps):
            assert before.span.end == after.span.start
            assert before.span.days > 0
        shows = [s for s in p.steps if s.step in ("show", "on show")]
        assert (
            [s.step for s in shows] == ["show", "on show"][: len(shows)]
            and shows[0].span.start == p.bloom
            and shows[-1].span.end == p.fade
        )


def key_dates(stated: Season) -> dict[str, tuple[object, ...]]:
    return {
        p.lot.name: (p.potting, p.cooler_in, p.rooted, p.bring_in, tuple(p.stages.items()), p.fade)
        for p in plan(stated).lots
    }


@settings(max_examples=25, deadline=None)
@given(seasons(), st.randoms(use_true_random=False))
def test_row_order_changes_nothing(stated: Season, random: object) -> None:
    lots, places = list(stated.lots), list(stated.places)
    random.shuffle(lots)  # type: ignore[attr-defined]
    random.shuffle(places)  # type: ignore[attr-defined]
    assert key_dates(replace(stated, lots=tuple(lots), places=tuple(places))) == key_dates(stated)


@settings(max_examples=25, deadline=None)
@given(seasons())
def test_a_season_through_fahrenheit_is_the_same_season(stated: Season) -> None:
    def there_and_back(place: Place) -> Place:
        assert place.day is not None and place.night is not None
        # typed to a tenth of a degree F, read back: what a person with a °F workbook does
        return replace(place, day=f_to_c(c_to_f(place.day)), night=f_to_c(c_to_f(place.night)))

    assert key_dates(replace(stated, places=tuple(map(there_and_back, stated.places)))) == key_dates(stated)


@settings(max_examples=25, deadline=None)
@given(seasons(), st.integers(1, 200))
def test_splitting_readings_changes_nothing(stated: Season, length: int) -> None:
    # Readings that say what the setpoint says, for part of the season, in one table or two halves, in any order.
    bench = stated.place("Bench")
    days = [stated.span.start - timedelta(days=d) for d in range(length)]
    rows = [Reading("Bench", d, min(bench.day, bench.night), max(bench.day, bench.night)) for d in days]  # type: ignore[type-var]
    whole = replace(stated, readings=tuple(rows))
    split = replace(stated, readings=(*rows[length // 2 :], *rows[: length // 2]))
    assert key_dates(whole) == key_dates(split) == key_dates(stated)
