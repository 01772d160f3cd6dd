"""Companion annuals: the shipped figures, the dates counted back against printed schedules, and the findings."""

from __future__ import annotations

import itertools
import math
import pickle
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from forcing.dates import Span, WorkCalendar, week_span
from forcing.engine.climate import build_climate
from forcing.engine.companions import CompanionPlan, plan_companions
from forcing.engine.context import Context
from forcing.engine.loads import companion_stays
from forcing.engine.plan import work_out
from forcing.engine.work.orders import companion_order_day, order_lines
from forcing.engine.work.tasks import CAUTIONS, companion_tasks
from forcing.errors import Finding, RecipeError
from forcing.model import (
    Companion,
    CompanionStart,
    Display,
    Event,
    LogEntry,
    Minutes,
    Normal,
    Override,
    Place,
    Plan,
    Planting,
    Round,
    Season,
    Setpoint,
    Supply,
)
from forcing.recipes.book import (
    COMPANION_PARAMETERS,
    COMPANION_UNITS,
    OPTIONAL,
    CompanionBook,
    RecipeBook,
    shipped_companion_figures,
    shipped_minutes,
    split_overrides,
)
from forcing.reports import frames
from forcing.reports.week import write_week
from forcing.science.heat import degree_days
from tests import season_text
from tests.builders import MON_FRI, season, seen_on

CROPS = (
    "pansy", "viola", "stock", "snapdragon", "alyssum", "calendula", "dianthus", "osteospermum", "nemesia",
    "primula", "petunia", "linaria",
)  # fmt: skip
DAY = timedelta(days=1)
ON = date(2026, 11, 2)


def bench(degrees: float, **other: Any) -> Place:
    return Place("Bench", "bench", day=degrees, night=degrees, **other)


def frame(day: float, night: float) -> Place:
    return Place("Frame", "frame", day=day, night=night)


def grown(
    crop: str, degrees: float, ready: date | None = date(2027, 3, 17), *overrides: Override,
    places: tuple[Place, ...] | None = None, **other: Any,
) -> tuple[CompanionPlan, tuple[Finding, ...]]:  # fmt: skip
    """The plan of 40 pots of one crop on a bench of one temperature, hardened there unless a frame is given."""
    stated = season(
        companions=(Companion("Mine", crop, 40, ready, "Bench", 2),),
        places=places or (bench(degrees),),
        **other,
    )
    plans, findings = worked(stated, *overrides)
    assert len(plans) == 1, findings
    return plans[0], findings


def worked(stated: Season, *overrides: Override) -> tuple[tuple[CompanionPlan, ...], tuple[Finding, ...]]:
    return plan_companions(stated, build_climate(stated), CompanionBook.from_overrides(overrides))


def own(crop: str, **figures: float) -> tuple[Override, ...]:
    return tuple(Override(crop, name, value) for name, value in figures.items())


# ---------------------------------------------------------------- the table


def test_every_companion_has_every_figure_once_with_its_unit_and_range() -> None:
    book = CompanionBook.from_overrides()
    assert book.crops == CROPS
    assert set(COMPANION_UNITS) == set(COMPANION_PARAMETERS)
    seen = [(f.crop, f.parameter) for f in shipped_companion_figures()]
    assert len(seen) == len(set(seen))
    for figure in shipped_companion_figures():
        assert figure.unit == COMPANION_UNITS[figure.parameter]
        assert figure.low is not None and figure.high is not None
        assert figure.low <= float(figure.typical) <= figure.high, figure
    for crop in CROPS:
        recipe = book.recipe(crop)
        assert book.check(recipe) == ()
        assert set(recipe.figures) | set(OPTIONAL) == set(COMPANION_PARAMETERS)
        assert recipe.harden_days >= 14  # UC ANR handbook: at least two weeks


@pytest.mark.parametrize(
    ("crop", "parameter", "low", "high"),
    [
        ("dianthus", "sow_to_transplant", 38, 38),  # Blanchard & Runkle: 38 d in a 288-cell plug at 20 °C
        ("snapdragon", "sow_to_transplant", 27, 27),  # the same
        ("osteospermum", "sow_to_transplant", 26, 30),  # the same; 4 to 5 wk in the seed guide 2021-22
        ("petunia", "sow_to_transplant", 27, 35),  # the same
        ("pansy", "sow_to_transplant", 35, 42),  # seed guide 2021-22: 5 to 6 wk
        ("alyssum", "sow_to_transplant", 28, 38),  # Seed Crop Information: 28 to 38 d
        ("alyssum", "transplant_to_finish", 21, 28),  # the same: 3 to 4 wk
        ("pansy", "cap", 21.7, 21.7),  # Adams, Pearson & Hadley 1997
        ("stock", "cool_below", 15.6, 15.6),  # University of Vermont PSS123: 60 °F
        ("stock", "cool_days", 21, 21),
        ("stock", "frost", -2.3, -2.2),  # 28 °F
        ("pansy", "germinate_at", 18, 20),  # seed guide 2021-22
        ("osteospermum", "germinate_at", 20, 21),
        ("nemesia", "frost", 0, 0),  # 32 °F, cautious where lists disagree
        ("osteospermum", "frost", -2.3, -2.2),  # 28 °F, likewise
        ("petunia", "frost", -1.1, 0),  # a seed house: 30 to 32 °F
        ("alyssum", "frost", -2.3, -1.6),  # the same: 28 °F or lower; Purdue HO-203: 29 °F
        ("linaria", "germinate_at", 16, 21),  # a seed guide
        ("petunia", "base", 3.9, 3.95),  # Mattson & Erwin 2003, by hand: 264 / 67 = 3.94
    ],
)
def test_figures_lie_where_print_puts_them(crop: str, parameter: str, low: float, high: float) -> None:
    assert low <= getattr(CompanionBook.from_overrides().recipe(crop), parameter) <= high


def test_tender_crops_are_not_said_to_stand_frost() -> None:
    book = CompanionBook.from_overrides()
    assert book.recipe("petunia").frost >= 0 and book.recipe("nemesia").frost >= 0
    # Purdue HO-203: very hardy stand short hard frosts, the next class light frost only
    hardy = [book.recipe(c).frost for c in ("pansy", "viola", "calendula", "snapdragon", "stock", "primula")]
    light = [book.recipe(c).frost for c in ("dianthus", "alyssum")]
    assert max(hardy) < min(light) <= max(light) < 0


def test_minutes_of_the_three_works_no_bulb_has() -> None:
    rows = {row.task: row for row in shipped_minutes()}
    assert all(rows[task].per_pot > 0 and rows[task].each_time > 0 for task in ("sow", "transplant", "pinch"))


# ---------------------------------------------------------------- dates against print


def test_violas_of_2012_by_the_log_of_their_grower() -> None:
    # sown 25 January, transplanted 7 March, saleable about 9 April 2012 (over a leap day): 11 weeks sow to sell.
    # The greenhouse's temperature is not printed; 15 °C is taken, as in the recipe.
    plan, _ = grown("viola", 15, date(2012, 4, 9), opens=date(2012, 4, 9))
    assert (plan.sow, plan.transplant, plan.finish) == (date(2012, 1, 25), date(2012, 3, 7), date(2012, 4, 9))
    assert round((plan.set_out - plan.sow).days / 7) == 11


@pytest.mark.parametrize(("degrees", "days"), [(12, 68), (24, 45)])
def test_viola_by_temperature_mattson_and_erwin_2003(degrees: float, days: int) -> None:
    # 'Sorbet Blackberry Cream' from seedling: 68 ± 1 d at 12 °C, 45 ± 1 d at 24 °C
    plan, _ = grown(
        "viola", degrees, date(2027, 3, 17), *own("viola", transplant_to_finish=68, finish_reference=12)
    )
    assert plan.finish is not None
    assert abs((plan.finish - plan.transplant).days - days) <= 1


def test_pansy_three_days_later_for_each_degree_cooler_mattson_and_erwin_2003() -> None:
    # mean slope from 12 to 24 °C with 45 d at 24 °C (as viola there; the pansy's own days are not printed)
    rows = own("pansy", transplant_to_finish=45, finish_reference=21.7)
    days = [
        (plan.set_out - plan.transplant).days
        for t in (12, 24)
        for plan in [grown("pansy", t, date(2027, 3, 17), *rows)[0]]
    ]
    assert 2.5 <= (days[0] - days[1]) / 12 <= 3.5


def test_pansy_five_to_six_weeks_plug_and_four_to_six_weeks_on() -> None:
    plan, _ = grown("pansy", 15)  # seed guide 2021-22; the finish is common practice
    assert 35 <= (plan.transplant - plan.sow).days <= 42
    assert 28 <= (plan.set_out - plan.transplant).days <= 42


@pytest.mark.parametrize("degrees", [12, 13, 14])
def test_alyssum_three_to_four_weeks_with_nights_of_10_to_13(degrees: float) -> None:
    plan, _ = grown(
        "alyssum", degrees
    )  # Seed Crop Information: 28 to 38 d in a 512-cell plug, then 3 to 4 wk
    assert 28 <= (plan.transplant - plan.sow).days <= 38
    assert 21 <= (plan.set_out - plan.transplant).days <= 29  # 28.1 d at 12 °C is day 29


@pytest.mark.parametrize(
    ("degrees", "days"),
    [
        (14.6, 68), (19.5, 43), (23.1, 37), (25.3, 35), (31.8, 34), (15.1, 67), (22.5, 39), (24, 34),
        pytest.param(27.5, 29, marks=pytest.mark.xfail(
            reason="faster than the same trials at 24, 25.3 and 31.8 °C; the recipe's rate stays level above 24 °C")),
    ],
)  # fmt: skip
def test_snapdragon_days_by_temperature_munir(degrees: float, days: int) -> None:
    # 'Chimes White', days from transplant to flower in two years; within the recipe's own spread
    plan, _ = grown("snapdragon", degrees)
    assert plan.finish is not None
    found = (plan.finish - plan.transplant).days
    assert abs(found - days) <= math.ceil(plan.recipe.spread * days)


def test_petunia_dreams_red_19_days_earlier_at_26_than_at_15() -> None:
    # Blanchard & Runkle; the recipe rounds 26.3 d at 20 °C up to 27, which adds at most one day
    days = []
    for degrees in (15, 26):
        plan, _ = grown("petunia", degrees)
        assert plan.finish is not None
        days.append((plan.finish - plan.transplant).days)
    assert abs(days[0] - days[1] - 19) <= 1


@pytest.mark.parametrize(("degrees", "days"), [(12, 112), (24, 45)])
def test_petunia_wave_purple_mattson_and_erwin_2003(degrees: float, days: int) -> None:
    # from seedling: 112 ± 2 d at 12 °C, 45 ± 1 d at 24 °C
    plan, _ = grown(
        "petunia", degrees, date(2027, 3, 17), *own("petunia", transplant_to_finish=112, finish_reference=12)
    )
    assert plan.finish is not None
    assert abs((plan.finish - plan.transplant).days - days) <= 2


def test_stock_wants_three_weeks_below_60_f() -> None:
    # University of Vermont PSS123: at least 21 d below 60 °F (15.6 °C) or it stays blind
    def codes(degrees: float) -> set[str]:
        return {f.code for f in grown("stock", degrees)[1]}

    assert "companion-warm" not in codes(15.5)
    assert "companion-warm" in codes(15.6)  # below, not at
    cool = grown("stock", 18, places=(bench(18), frame(9, 3)))[1]  # 14 d in the frame are not enough
    found = next(f for f in cool if f.code == "companion-warm")
    assert "has 14 days below 15.6 °C" in found.message and "needs 21" in found.message


# ---------------------------------------------------------------- counting back


def test_dates_by_hand_on_working_days() -> None:
    # Calendula: 42 d at 15 °C from base 4 = 462 °C·d. Bench 16 °C gives 12 a day, frame at 9 °C gives 5.
    # Wanted Saturday 20 March 2027: out Friday 19; hardening from Friday 5 March: 14 x 5 = 70 °C·d.
    # 392 left / 12 = 32.7, so 33 days before 5 March: Sunday 31 January -> Friday 29. Sown 25 d before: Monday 4.
    plan, _ = grown(
        "calendula", 16, date(2027, 3, 20), places=(bench(16), frame(9, 9)), calendar=MON_FRI, order_weeks=6
    )
    assert (plan.ready, plan.set_out, plan.harden) == (date(2027, 3, 20), date(2027, 3, 19), date(2027, 3, 5))
    assert (plan.transplant, plan.sow, plan.pinch) == (date(2027, 1, 29), date(2027, 1, 4), None)
    assert plan.order is None and plan.begins == plan.sow  # ordered its lead before it is sown
    # Forward: 35 d on the bench = 420, 42 left at 5 a day: 8.4, so the 9th day of hardening is over: 14 March
    assert plan.finish == date(2027, 3, 14)
    assert (plan.place, plan.harden_at, plan.need, plan.assumed_days) == ("Bench", "Frame", 462, 49)


def test_pinching_falls_on_a_working_day_after_its_days() -> None:
    # Nemesia 462 °C·d at 15 °C: 42 d before 17 March is 3 February; 14 d on is 17 February, closed until the 22nd
    closed = frozenset(date(2027, 2, 17) + DAY * i for i in range(5))
    plan, _ = grown("nemesia", 15, calendar=WorkCalendar(holidays=closed))
    assert (plan.transplant, plan.pinch) == (date(2027, 2, 3), date(2027, 2, 22))


def test_it_roots_in_for_a_week_and_is_pinched_before_it_is_hardened() -> None:
    # Petunia at 26 °C is finished in 20 d, less than a week in the pot and two weeks of hardening
    plan, _ = grown("petunia", 26)
    assert (plan.set_out - plan.harden, plan.harden - plan.transplant) == (DAY * 14, DAY * 7)
    late = own("petunia", pinch=12)
    plan, _ = grown("petunia", 26, date(2027, 3, 17), *late)
    assert plan.pinch is not None and plan.pinch < plan.harden
    assert plan.harden - plan.transplant == DAY * 13


def test_the_day_wanted_comes_from_its_displays_and_else_from_the_show() -> None:
    companions = tuple(Companion(n, "viola", 8, None, "Bench") for n in ("In two", "In none"))
    shows = (
        Display("Late", 4, "Court", Span(date(2027, 4, 3), date(2027, 4, 20))),
        Display("Early", 4, "Court", Span(date(2027, 3, 27), date(2027, 4, 20))),
    )
    plantings = (Planting("Late", "In two", 1), Planting("Early", "In two", 1), Planting("Gone", "In two", 1))
    stated = season(
        companions=companions, displays=shows, plantings=plantings, places=(bench(15), Place("Court", "site"))
    )
    plans, _ = worked(stated)
    assert [p.ready for p in plans] == [date(2027, 3, 27), date(2027, 3, 20)]
    # four pots are set out when each display opens, until it closes; those of the later one wait where they hardened
    assert [(s.step, s.place, s.span, s.pots) for s in plans[0].steps[3:]] == [
        ("harden", "Bench", Span(date(2027, 3, 27), date(2027, 4, 3)), 4.0),
        ("show", "Court", Span(date(2027, 4, 3), date(2027, 4, 20)), 4.0),
        ("show", "Court", Span(date(2027, 3, 27), date(2027, 4, 20)), 4.0),
    ]
    assert len(plans[1].steps) == 3


def test_the_first_frame_whose_temperatures_are_known_hardens_it() -> None:
    unknown = Place("Old frame", "frame")
    plan, findings = grown("viola", 15, places=(bench(15), unknown, frame(10, 4)))
    assert plan.harden_at == "Frame" and not findings
    plan, findings = grown("viola", 15, places=(bench(15), unknown))
    assert plan.harden_at == "Bench" and [f.code for f in findings] == ["companion-no-frame"]
    assert "no frame whose temperatures are known" in str(findings[0])
    stated = season(
        companions=(Companion("Mine", "viola", 4, date(2027, 3, 17), "Cold frame"),),
        places=(bench(15), frame(9, 9), Place("Cold frame", "frame", day=12, night=6)),
    )
    assert worked(stated)[0][0].harden_at == "Cold frame"  # it grows in a frame: it hardens there


def test_confidence_starts_earlier_and_one_half_is_the_recipe() -> None:
    half, _ = grown("snapdragon", 15)
    sure, _ = grown("snapdragon", 15, confidence=0.9)
    rash, _ = grown("snapdragon", 15, confidence=0.1)
    assert (half.set_out - half.transplant).days == 66
    # log-normal, CV 0.1: sigma 0.0998, z 1.2816, factor exp(0.1279) = 1.1364: 75.0 d; and 58.1 d
    assert 75 <= (sure.set_out - sure.transplant).days <= 76
    assert (rash.set_out - rash.transplant).days == 59
    # the typical pot is then finished on the bench some days after it was to be set out
    assert rash.finish is not None and (rash.finish - rash.transplant).days == 66


def test_a_season_across_the_year_s_end_and_week_53() -> None:
    plan, _ = grown("viola", 15, date(2027, 1, 3), opens=date(2027, 1, 3), calendar=MON_FRI)
    # Sunday of 2026-W53 -> Friday 1 January; 33 d before is 29 November, a Sunday -> Friday 27; 42 d: 16 October
    assert (plan.set_out, plan.transplant, plan.sow) == (
        date(2027, 1, 1),
        date(2026, 11, 27),
        date(2026, 10, 16),
    )


# ---------------------------------------------------------------- properties

CALENDARS = st.sampled_from(
    [
        WorkCalendar(),
        MON_FRI,
        WorkCalendar(frozenset({1})),
        WorkCalendar(frozenset(range(5)), frozenset(date(2027, 2, 1) + DAY * i for i in range(40))),
    ]
)
READY = st.dates(date(2027, 2, 20), date(2027, 4, 30))


def brute_force(plan: CompanionPlan, stated: Season) -> date:
    """The latest working day from which the sum of daily heat to the set-out day is the need, day by day."""
    rates = {
        p.name: float(
            degree_days(min(p.day, p.night), max(p.day, p.night), plan.recipe.base, plan.recipe.cap)
        )
        for p in stated.places
        if p.day is not None and p.night is not None
    }
    day = plan.harden - DAY * 7
    while True:
        days = [day + DAY * i for i in range((plan.set_out - day).days)]
        heat = sum(rates["Bench" if d < plan.harden else plan.harden_at] for d in days)
        pinch = None
        if plan.recipe.pinch:
            pinch = stated.calendar.on_or_after(day + DAY * int(plan.recipe.pinch))
        if stated.calendar.works(day) and heat >= plan.need - 1e-3 and (pinch is None or pinch < plan.harden):
            return day
        day -= DAY


@settings(max_examples=60, deadline=None)
@given(
    crop=st.sampled_from(CROPS), warm=st.integers(9, 26), swing=st.integers(0, 6), cold=st.integers(0, 12),
    calendar=CALENDARS, ready=READY, framed=st.booleans(),
)  # fmt: skip
def test_forward_judges_backward(
    crop: str, warm: int, swing: int, cold: int, calendar: WorkCalendar, ready: date, framed: bool
) -> None:
    places = (Place("Bench", "bench", day=warm + swing, night=warm - swing),)
    places += (frame(cold, cold),) if framed else ()
    stated = season(
        companions=(Companion("Mine", crop, 5, ready, "Bench"),), places=places, calendar=calendar
    )
    (plan,), _ = worked(stated)
    assert plan.transplant == brute_force(plan, stated)
    assert plan.finish is not None and plan.finish <= plan.set_out <= ready
    assert (plan.set_out - plan.harden).days >= 14
    assert (plan.transplant - plan.sow).days >= plan.recipe.sow_to_transplant
    assert plan.pinch is None or plan.transplant < plan.pinch < plan.harden
    days = (plan.sow, plan.transplant, plan.harden, plan.set_out)
    assert list(days) == sorted(days) and all(map(calendar.works, days))


@settings(max_examples=40, deadline=None)
@given(
    crop=st.sampled_from(CROPS), warm=st.integers(12, 28), less=st.floats(0, 4), calendar=CALENDARS, ready=READY
)  # fmt: skip
def test_a_cooler_place_never_starts_later(
    crop: str, warm: int, less: float, calendar: WorkCalendar, ready: date
) -> None:
    warmer, cooler = (
        grown(crop, degrees, ready, places=(bench(degrees), frame(8, 2)), calendar=calendar)[0]
        for degrees in (warm, warm - less)
    )
    assert cooler.transplant <= warmer.transplant
    assert cooler.sow <= warmer.sow
    assert cooler.harden == warmer.harden  # only what comes before hardening moves


@settings(max_examples=30, deadline=None)
@given(crop=st.sampled_from(CROPS), pots=st.integers(1, 5000), ready=READY, containers=st.integers(1, 50))
def test_room_is_counted_every_day_once_from_sowing_to_set_out(
    crop: str, pots: int, ready: date, containers: int
) -> None:
    show = Display("Steps", containers, "Court", Span(date(2027, 2, 1), date(2027, 5, 20)))
    stated = season(
        companions=(Companion("Mine", crop, pots, ready, "Bench"),), displays=(show,),
        plantings=(Planting("Steps", "Mine", 3),), places=(bench(14), frame(8, 4), Place("Court", "site")),
    )  # fmt: skip
    (plan,), _ = worked(stated)
    trayed = [s for s in companion_stays(plan) if s.span.start < plan.transplant]
    stays = companion_stays(plan)[len(trayed) :]
    assert {s.place for s in trayed} == {"Bench"} and trayed[0].span.start == plan.sow
    assert all(round(s.pots * 0.0225 / 0.15, 6).is_integer() for s in trayed)  # trays of 0.15 m²
    assert all(a.span.end == b.span.start for a, b in itertools.pairwise((*trayed, stays[0])))
    assert [s[0] for s in stays] == ["Bench", "Frame", "Court"]
    assert stays[0][1].start == plan.transplant and stays[-1][1].end == show.span.end
    assert all(a[1].end == b[1].start for a, b in itertools.pairwise(stays))
    share = (plan.recipe.pot / 15) ** 2  # 10 cm pots take 4/9 of the room of a 15 cm pot
    assert [s[2] for s in stays] == pytest.approx([pots * share, pots * share, 3 * containers * share])


def test_forty_violas_take_the_room_of_eighteen_pots() -> None:
    plan, _ = grown("viola", 15)
    assert [round(s[2], 2) for s in companion_stays(plan)][1:] == [17.78, 17.78]  # 40 x (10/15)² = 17.78


# ---------------------------------------------------------------- findings


def test_what_cannot_be_planned_is_said_and_the_others_go_on() -> None:
    ready = date(2027, 3, 17)
    places = (bench(15), Place("Shed", "cooler", day=5, night=5), Place("Yard", "site"), frame(9, 5),
              Place("Arctic", "bench", day=-5, night=-8))  # fmt: skip
    companions = (
        Companion("Fine", "Viola", 5, ready, "Bench", 2),
        Companion("Odd", "voila", 5, ready, "Bench", 3),
        Companion("Homeless", "viola", 5, ready, None, 4),
        Companion("Astray", "viola", 5, ready, "Benhc", 5),
        Companion("Dark", "viola", 5, ready, "Shed", 6),
        Companion("Unread", "viola", 5, ready, "Yard", 7),
        Companion("Frozen", "viola", 5, ready, "Arctic", 8),
        Companion("Too late", "viola", 5, date(2031, 1, 1), "Bench", 9),
        Companion("Too soon", "viola", 5, date(2026, 1, 2), "Bench", 10),
        Companion("Also fine", "stock", 5, ready, "Bench", 11),
    )
    plans, findings = worked(season(companions=companions, places=places))
    assert [p.companion.name for p in plans] == ["Fine", "Also fine"]
    assert [(f.code, f.severity, f.table, f.row, f.column, f.value) for f in findings] == [
        ("companion-unplanned", "error", "companions", 3, "crop", "voila"),
        ("companion-unplanned", "error", "companions", 4, "place", None),
        ("companion-unplanned", "error", "companions", 5, "place", "Benhc"),
        ("companion-unplanned", "error", "companions", 6, "place", "Shed"),
        ("companion-unplanned", "error", "companions", 7, "place", "Yard"),
        ("companion-unplanned", "error", "companions", 8, "place", "Arctic"),
        ("companion-unplanned", "error", "companions", 9, "ready", "2031-01-01"),
        ("companion-unplanned", "error", "companions", 10, "ready", "2026-01-02"),
    ]
    words = [f.message for f in findings]
    assert "near it: viola" in words[0] and "no place to grow it on" in words[1]
    assert "no place of that name" in words[2] and "dark" in words[3]
    assert "no temperature is known for Yard on 2027-03-16" in words[4]
    assert "too little warmth above 30 °F" in str(
        worked(season(companions=companions[6:7], places=places, unit="F"))[1][0]
    )  # base -1.1 °C = 30.02 °F


def test_no_companions_is_no_plan_and_no_finding() -> None:
    assert worked(season()) == ((), ())


def test_a_gap_before_hardening_is_named_by_its_last_day() -> None:
    # setpoints only from 20 February: growing needs the days before
    stated = season(
        companions=(Companion("Mine", "viola", 5, date(2027, 3, 17), "House"),),
        places=(Place("House", "bench"),), setpoints=(Setpoint("House", date(2027, 2, 20), 14, 14),),
    )  # fmt: skip
    (found,) = worked(stated)[1]
    assert "no temperature is known for House on 2027-02-19" in found.message


def test_frost_on_the_way_is_told_by_the_hardening_reached_in_the_unit_of_the_season() -> None:
    normals = tuple(Normal("Frame", month, -3 if month == 3 else 2, 9) for month in range(1, 13))
    places = (bench(15), Place("Frame", "frame"))
    _, findings = grown("viola", 15, places=places, normals=normals, unit="F")
    (found,) = [f for f in findings if f.code == "companion-frost"]
    # normals stand for mid-month, 2 °C on 15 February and -3 °C on 15 March, 5 / 28 = 0.18 °C a day between; the limit
    # of -2.2 °C comes in 14 days from 3 March, 0.16 a day: the low gets ahead of it to the middle of March, when it is
    # -3 °C = 26.6 °F, and 12 of the 14 days have brought -1.9 °C
    assert "Frame is expected at 26.6 °F on 2027-03-15" in found.message and "by then" in found.message
    _, findings = grown("viola", 15, places=(bench(15), frame(9, 0)))
    assert not [
        f for f in findings if f.code == "companion-frost"
    ]  # at its limit on the first night, not below
    _, findings = grown("viola", 15, places=(bench(15), frame(9, -1)))
    assert [f.days for f in findings if f.code == "companion-frost"] == [
        (date(2027, 3, 3),)
    ]  # not yet hardened
    _, findings = grown("petunia", 20, places=(bench(20), frame(9, -0.1)))
    assert [f.code for f in findings] == ["companion-frost"]


@pytest.mark.parametrize(("low", "refused"), [(-7.0, True), (-5.3, True), (-5.1, False), (-2.0, False)])
def test_a_calendula_in_a_frame_too_cold_for_it_is_refused(low: float, refused: bool) -> None:
    # stands -2.2 °C hardened, -5.2 °C with the 3 °C of a matted frame
    normals = tuple(Normal("Frame", month, low, 14) for month in range(1, 13))
    stated = season(
        companions=(Companion("Mine", "calendula", 40, date(2027, 3, 17), "Bench", 2),),
        places=(bench(15), Place("Frame", "frame")), normals=normals,
    )  # fmt: skip
    plans, findings = worked(stated)
    assert [(f.code, f.column) for f in findings if f.severity == "error"] == (
        [("companion-unplanned", "place")] if refused else []
    )
    assert len(plans) == (not refused)
    if refused:
        assert (
            "Frame usually has" in findings[0].message
            and "a mat at night is not enough" in findings[0].message
        )


def test_a_place_too_cool_to_be_worth_its_bench_is_told() -> None:
    # calendula 42 d at 15 °C: at 9.5 °C 462 / 5.5 = 84 d is twice as long, at 9 °C 92.4 d more than twice
    assert "companion-slow" not in {f.code for f in grown("calendula", 9.5)[1]}
    found = next(f for f in grown("calendula", 9)[1] if f.code == "companion-slow")
    assert "takes 93 days from transplanting in Bench" in found.message and "42 at 15 °C" in found.message


def test_what_cannot_be_ready_in_a_cold_frame_says_so_in_the_autumn() -> None:
    # 33 days at 15 °C above 0 °C are 495 °C·d, 99 days at 5 °C: transplanted on 8 December for 17 March, and sown 42
    # days before. Sown on 2 November it is transplanted on 14 December, and ready 99 days on.
    one = Companion("Mine", "viola", 40, date(2027, 3, 17), "Frame", 2)
    stated = season(companions=(one,), places=(frame(5, 5),))

    def seen(on: date, **other: Any) -> list[Finding]:
        there = replace(stated, **other)
        book = CompanionBook.from_overrides(own("viola", base=0))
        return list(plan_companions(there, build_climate(there), book, on)[1])

    assert [f.code for f in seen(date(2026, 8, 20))] == ["companion-slow"]
    found = seen(date(2026, 11, 2))
    assert [(f.code, f.severity) for f in found] == [
        ("companion-not-logged", "warning"), ("companion-slow", "warning"),
    ]  # fmt: skip
    assert "to be sown on 2026-10-27" in found[0].message and found[0].number == 6
    assert "sown on 2026-11-02 it is ready on 2027-03-23, 6 days late, at the temp" in found[0].message
    assert (
        "find it a warmer place, or buy plants by 2027-02-17, for hardening from 2027-03-03" in found[0].hint
    )
    # Where a slow pot has days to spare (1.17 of 99 are 116), a typical one is still in time a week later.
    (spare, _) = seen(date(2026, 10, 17), confidence=0.9)
    assert spare.severity == "note" and "have it sown on 2026-10-17: it is ready in time" in spare.hint


# ---------------------------------------------------------------- tasks


def tasks_of(stated: Season, on: date = ON, minutes: tuple[Minutes, ...] = ()) -> list[Any]:
    rows = {row.task: row for row in (*shipped_minutes(), *minutes)}
    return list(companion_tasks(stated, worked(stated)[0], Context(on, rows)))


def garden(**other: Any) -> Season:
    shows = tuple(
        Display(n, 5, f"{n} site", Span(date(2027, 3, 20), date(2027, 4, 20))) for n in ("Gate", "Steps")
    )
    given: dict[str, Any] = {
        "companions": (Companion("Mine", "nemesia", 40, date(2027, 3, 17), "Bench"),),
        "places": (bench(15), frame(9, 5), Place("Gate site", "site"), Place("Steps site", "site")),
        "displays": shows,
        "plantings": (Planting("Gate", "Mine", 2), Planting("Steps", "Mine", 6)),
        "calendar": MON_FRI,
    }
    return season(**(given | other))


def test_tasks_from_ordering_to_setting_out() -> None:
    found = [(t.key, t.lot, t.place, t.to, t.pots) for t in tasks_of(garden())]
    assert found == [
        ("order/Mine/1", "Mine", None, None, 40),
        ("sow/Mine/1", "Mine", "Bench", None, 40),
        ("germination check/Mine/1", "Mine", "Bench", None, 40),
        ("transplant/Mine/1", "Mine", None, "Bench", 40),
        ("pinch/Mine/1", "Mine", "Bench", None, 40),
        ("feed/Mine/1", "Mine", "Bench", None, 40),
        ("feed/Mine/2", "Mine", "Bench", None, 40),
        ("harden off/Mine/1", "Mine", "Bench", "Frame", 40),
        ("set out/Mine/1", "Mine", "Frame", "Gate site", 10),
        ("set out/Mine/2", "Mine", "Frame", "Steps site", 30),
        ("deadhead/Mine/1", "Mine", "Gate site", None, 10),
        ("deadhead/Mine/2", "Mine", "Steps site", None, 30),
    ]
    stated = garden(displays=(), plantings=(), places=(bench(15),))
    assert [(t.key, t.place, t.to) for t in tasks_of(stated)][-2:] == [
        ("harden off/Mine/1", "Bench", None), ("set out/Mine/1", "Bench", None),
    ]  # fmt: skip


def test_care_comes_round_on_the_first_working_day_of_a_week() -> None:
    # Nemesia, 462 °C·d above 4 °C: 14 days in the frame at 7 °C give 42, the rest takes 38.2 at 15 °C: transplanted by
    # Sat 23 January, so on Fri the 22nd. Fed each 14 days until it is hardened off on 3 March: due on 5 and 19
    # February; sheared 28 days after Wed 17 March, due on 14 April. Each on the Monday after.
    found = {t.key: t for t in tasks_of(garden())}
    assert found["transplant/Mine/1"].date == date(2027, 1, 22)
    assert [found[f"feed/Mine/{n}"].date for n in (1, 2)] == [date(2027, 2, 8), date(2027, 2, 22)]
    assert found["deadhead/Mine/1"].date == found["deadhead/Mine/2"].date == date(2027, 4, 19)
    assert "sheared" in found["deadhead/Mine/1"].look_for and "label" in found["feed/Mine/1"].look_for
    assert "third or fourth pair" in found["pinch/Mine/1"].look_for
    # Where somebody goes round a site it is done on the way, and not on a day of its own.
    rounds = (Round("Gate site", "look over"),)
    keys = [t.key for t in tasks_of(garden(rounds=rounds)) if t.task == "deadhead"]
    assert keys == ["deadhead/Mine/1"] and not [
        t for t in tasks_of(garden(daily_round="usual")) if t.task == "deadhead"
    ]
    (one, *_) = garden().companions
    bought = garden(companions=(replace(one, start="plant"),))
    assert not [t for t in tasks_of(bought) if t.task in ("feed", "sow", "pinch")]


def test_what_is_sown_in_an_open_tray_is_pricked_out() -> None:
    # 80 primulas as above: 124 seeds in one open tray, two trays of 72 cells from the 35th day on.
    stated = season(
        companions=(Companion("Mine", "primula", 80, date(2027, 3, 17), "Bench"),),
        places=(bench(12), frame(9, 5)), calendar=MON_FRI,
    )  # fmt: skip
    tasks = {t.task: t for t in tasks_of(stated)}
    assert tasks["sow"].look_for.startswith("124 seeds in 1 open tray; germinates at 16 °C; on the surface")
    assert tasks["prick out"].look_for.startswith("2 trays of 72 cells, one to a cell; by a leaf")
    assert (tasks["prick out"].date - tasks["sow"].date).days - 35 in range(3)  # or the Monday after
    assert tasks["germination check"].date < tasks["prick out"].date < tasks["transplant"].date
    assert tasks["prick out"].hours == 0.917  # (15 + 80 x 0.5) / 60


def test_tasks_carry_their_words_cautions_and_states() -> None:
    tasks = {t.task: t for t in tasks_of(garden(unit="F"), on=date(2027, 3, 3))}
    assert "germinates at 61 °F" in tasks["sow"].look_for  # 16 °C
    assert "not below 45 °F" in tasks["harden off"].look_for  # UC ANR: not out below 45 °F
    assert all(key in CAUTIONS for task in tasks.values() for key in task.cautions)
    assert "lifting" in tasks["set out"].cautions and "lifting" in tasks["harden off"].cautions
    assert (tasks["sow"].state, tasks["harden off"].state, tasks["set out"].state) == (
        "not logged", "due", "planned",
    )  # fmt: skip


def test_hours_are_of_the_shipped_minutes_unless_the_season_has_its_own() -> None:
    tasks = {t.key: t for t in tasks_of(garden())}
    assert tasks["sow/Mine/1"].hours == 0.383  # (15 + 40 x 0.2) / 60
    assert tasks["transplant/Mine/1"].hours == 0.917  # (15 + 40 x 1) / 60
    assert tasks["set out/Mine/2"].hours == 1.333  # (20 + 30 x 2) / 60
    mine = {t.key: t for t in tasks_of(garden(), minutes=(Minutes("sow", 3.0, 0.0),))}
    assert mine["sow/Mine/1"].hours == 2.0 and mine["pinch/Mine/1"].hours == tasks["pinch/Mine/1"].hours


# ---------------------------------------------------------------- the book


def test_names_compare_without_capitals_and_near_ones_are_offered() -> None:
    book = CompanionBook.from_overrides()
    assert book.recipe("  VIOLA ").crop == "viola" and not book.knows("any")
    for many, one in (
        ("Pansies", "pansy"),
        ("violas", "viola"),
        ("Stocks", "stock"),
        ("nemesias", "nemesia"),
    ):
        assert book.recipe(many).crop == one and book.knows(many)
    with pytest.raises(RecipeError, match="'pansey'; near it: pansy"):
        book.recipe("pansey")
    with pytest.raises(RecipeError, match=r"'oak'; known: pansy, viola.*linaria"):
        book.recipe("oak")
    assert pickle.loads(pickle.dumps(book.recipe("stock"))) == book.recipe("stock")


def test_a_crop_of_the_house_s_own_and_figures_over_the_shipped_ones() -> None:
    figures = {p: float(CompanionBook.from_overrides().recipe("viola").figures[p].typical)
               for p in COMPANION_PARAMETERS if p not in OPTIONAL}  # fmt: skip
    rows = (*own("Wallflower", **figures), *own("VIOLA", frost=-5), *own("tulip", frost=-3, base=1))
    bulbs, companions = split_overrides(rows)
    assert [r.crop for r in bulbs] == ["tulip", "tulip"] and len(companions) == len(figures) + 1
    book = CompanionBook.from_overrides(rows)
    assert book.crops == (*CROPS, "Wallflower") and not book.knows("tulip")
    assert book.recipe("wallflower").need == book.recipe("viola").need
    figure = book.recipe("viola").figures["frost"]
    assert (figure.typical, figure.basis, book.recipe("viola").frost) == (-5, "house", -5)
    plan, _ = grown("wallflower", 15, date(2027, 3, 17), *rows)
    assert (plan.set_out - plan.transplant).days == 33


def test_a_kind_that_nobody_shipped_takes_what_is_missing_from_the_kind_it_is_like() -> None:
    viola, stock = (CompanionBook.from_overrides().recipe(crop) for crop in ("viola", "stock"))
    rows = own("wallflower", frost=-7, transplant_to_finish=70)
    plan, findings = grown("wallflower", 15, date(2027, 3, 17), *rows)
    assert (plan.recipe.crop, plan.recipe.frost, plan.recipe.transplant_to_finish) == ("wallflower", -7, 70)
    assert (plan.recipe.base, plan.recipe.germinate_at) == (viola.base, viola.germinate_at)
    (said,) = [f for f in findings if f.code == "companion-like"]
    assert (
        "taken from viola: sow_to_transplant, finish_reference" in said.message
        and "frost" not in said.message
    )
    stated = season(
        companions=(Companion("Mine", "erysimum", 4, None, "Bench", like="Stock"),), places=(bench(15),)
    )
    (plan,), _ = worked(stated)
    assert (plan.recipe.crop, plan.recipe.need, plan.recipe.cool_below) == (
        "erysimum",
        stock.need,
        stock.cool_below,
    )


@pytest.mark.parametrize("start", ["seed", "plug", "plant"])
def test_what_a_companion_is_raised_from_decides_when_it_begins(start: CompanionStart) -> None:
    # Calendula as above: out Friday 19 March, hardened from the 5th, transplanted 29 January, sown 4 January.
    one = Companion("Mine", "calendula", 40, date(2027, 3, 20), "Bench", start=start)
    stated = season(
        companions=(one,),
        places=(bench(16), frame(9, 9)),
        calendar=MON_FRI,
        supplies=(Supply("plug", lead_weeks=3),),
    )
    (plan,), findings = worked(stated)
    assert not findings and (plan.set_out, plan.harden) == (date(2027, 3, 19), date(2027, 3, 5))
    sow, transplant = date(2027, 1, 4), date(2027, 1, 29)
    assert (plan.sow, plan.transplant, plan.begins) == {
        "seed": (sow, transplant, sow), "plug": (None, transplant, transplant), "plant": (None, None, plan.harden),
    }[start]  # fmt: skip
    days = {
        "seed": date(2026, 10, 12),
        "plug": date(2027, 1, 8),
        "plant": date(2026, 12, 11),
    }  # 12, 3 and 12 weeks
    assert companion_order_day(stated, plan) == days[start]
    (line,) = [
        x for x in order_lines(Plan(stated, ON, (), (), (), (), (), ()), (plan,)) if x.kind == "companions"
    ]
    # Two seeds a cell, three in four come up: 15 of 16 cells have one. 40 x 16/15 = 42.7: 43 cells, 86 seeds.
    assert (line.unit, line.need) == {"seed": ("seeds", 86), "plug": ("plugs", 40), "plant": ("plants", 40)}[
        start
    ]
    assert line.order_by == days[start] and line.needed == plan.begins


def test_no_days_from_sowing_is_bought_as_plugs() -> None:
    plan, _ = grown("viola", 15, date(2027, 3, 17), *own("viola", sow_to_transplant=0))
    assert plan.sow is plan.sowing is None and plan.begins == plan.transplant and plan.start == "plug"


def test_seed_and_trays_are_counted_by_the_figures_of_the_kind() -> None:
    # 90 pots, a tenth lost: 100 plants. Four in five come up: of two in a cell 0.96, 104.2: 105 cells, 210 seeds; of
    # one in a cell 0.8: 125 cells. Trays of 50 cells: 3. Pricked out 20 days on: 125 seeds in one open tray, 100 cells.
    def sown(**figures: float) -> tuple[int, int, int, int]:
        (plan,), _ = worked(season(
            companions=(Companion("Mine", "viola", 90, date(2027, 3, 17), "Bench"),), loss=0.1,
            places=(bench(15), frame(9, 5)),
        ), *own("viola", germination=0.8, **figures))  # fmt: skip
        assert plan.sowing is not None
        return plan.sowing.seeds, plan.sowing.cells, plan.sowing.trays, plan.sowing.open_trays

    assert sown() == (210, 105, 2, 0)
    assert sown(seeds_per_cell=1, cells_per_tray=50) == (125, 125, 3, 0)
    assert sown(prick_out=20) == (125, 100, 2, 1)
    assert sown(prick_out=90) == (
        210,
        105,
        2,
        0,
    )  # later than it is transplanted: there is nothing to prick out


def test_trays_take_the_room_of_the_bench_from_sowing_on() -> None:
    # A tray of 0.15 m² is 6 2/3 pots of 15 cm. 80 primulas, 65 in 100 come up: 124 seeds in one open tray until the
    # 35th day, then 80 cells in two trays, then 80 pots of 10 cm: 35.6.
    (plan,), _ = worked(season(
        companions=(Companion("Mine", "primula", 80, date(2027, 3, 17), "Bench"),), places=(bench(12), frame(9, 5)),
    ))  # fmt: skip
    stays = companion_stays(plan)
    assert [(place, round(room, 2)) for place, _, room in stays] == [
        ("Bench", 6.67), ("Bench", 13.33), ("Bench", 35.56), ("Frame", 35.56),
    ]  # fmt: skip
    assert [stay.span.start for stay in stays] == [
        plan.sow,
        plan.sow + 35 * DAY,
        plan.transplant,
        plan.harden,
    ]
    # Or they stand where that is stated, if there is such a place.
    named = replace(plan.companion, trays_at="Frame")
    stated = season(companions=(named,), places=(bench(12), frame(9, 5)))
    assert [stay.place for stay in companion_stays(worked(stated)[0][0])] == [
        "Frame",
        "Frame",
        "Bench",
        "Frame",
    ]
    moved = next(t for t in tasks_of(stated) if t.task == "transplant")
    assert (moved.place, moved.to) == ("Frame", "Bench")
    nowhere = replace(stated, companions=(replace(named, trays_at="Attic"),))
    assert companion_stays(worked(nowhere)[0][0]) == stays
    # Where nothing warms the place the seed is raised apart.
    (cold,), _ = worked(season(
        companions=(Companion("Mine", "primula", 80, date(2027, 5, 17), "Yard"),), places=(Place("Yard", "frame"),),
        normals=tuple(Normal("Yard", month, 6, 14) for month in range(1, 13)),
    ))  # fmt: skip
    assert [room[0] for room in companion_stays(cold)] == ["Yard", "Yard"] and cold.sow is not None


def logged(*entries: LogEntry, on: date, **other: Any) -> tuple[CompanionPlan, tuple[Finding, ...]]:
    """The calendula of the dates by hand with a log: sown 4 January, transplanted 29 January, out 19 March 2027."""
    one = Companion("Mine", "calendula", 40, date(2027, 3, 20), "Bench")
    stated = season(
        companions=(one,), places=(bench(16), frame(9, 9)), calendar=MON_FRI, log=entries, **other
    )
    (plan,), findings = plan_companions(stated, build_climate(stated), CompanionBook.from_overrides(), on)
    return plan, findings


def test_what_is_logged_of_a_companion_stands_and_what_follows_is_planned_again() -> None:
    sown = LogEntry(date(2027, 1, 11), "Mine", "sown")
    plan, findings = logged(sown, on=date(2027, 1, 12))
    # A week late: transplanted Friday 5 February, 25 days on. 28 days at 12 to 5 March are 336, 14 at 5 are 70: 406 by
    # the 19th, and 56 are missing: 12 days more where it was hardened.
    assert (plan.sow, plan.transplant) == (sown.date, date(2027, 2, 5))
    assert plan.finish == date(2027, 3, 31) and [f.code for f in findings] == ["companion-late"]
    assert findings[0].message == "Mine will be ready on 2027-03-31, 11 days late"
    assert plan.set_out == date(2027, 3, 19)  # twelve days are too long for its places to stand empty
    # Transplanted on Monday 1 February: 32 days at 12 are 384, 14 at 5 are 70: 8 of the 462 are missing on the 19th,
    # two days more in the frame. It is out once it is ready, on the Monday after Sunday 21 March.
    few, _ = logged(LogEntry(date(2027, 2, 1), "Mine", "transplanted"), on=date(2027, 2, 2))
    assert (few.finish, few.set_out) == (date(2027, 3, 21), date(2027, 3, 22))
    received = LogEntry(date(2027, 1, 20), "Mine", "received", pots=30)
    plan, _ = logged(sown, received, LogEntry(date(2027, 2, 1), "Mine", "lost", pots=4), on=date(2027, 2, 2))
    assert plan.companion.pots == 26
    plan, findings = logged(on=date(2027, 2, 2))
    assert [f.code for f in findings] == ["companion-not-logged"] and "buy plants by 2027-02-19" in findings[
        0
    ].hint


@pytest.mark.parametrize(
    ("lost", "start", "begins"),
    [
        # Sown again on the 29th December or before it is transplanted by 29 January: 25 days on.
        (date(2026, 12, 28), "seed", date(2026, 12, 29)),
        # Plugs ordered on 12 January come on the 26th.
        (date(2027, 1, 11), "plug", date(2027, 1, 26)),
        # Plants ordered on 9 February come on the 23rd, and are hardened from 5 March.
        (date(2027, 2, 8), "plant", date(2027, 3, 5)),
    ],
)
def test_a_failed_sowing_is_one_decision_with_new_dates(lost: date, start: str, begins: date) -> None:
    on = lost + DAY
    entries = (LogEntry(date(2026, 12, 14), "Mine", "sown"), LogEntry(lost, "Mine", "lost"))
    plan, findings = logged(*entries, on=on)
    (again,) = findings
    assert (again.code, again.number, again.lot) == ("companion-again", 40, "Mine")
    assert plan.companion.start == start and plan.companion.pots == 40
    assert plan.begins == begins and plan.set_out == date(2027, 3, 19)
    assert ("too late from seed" in again.message) == (start != "seed")


def test_what_was_decided_after_a_failed_sowing_stands_once_it_is_ordered() -> None:
    sown, lost = LogEntry(date(2026, 12, 14), "Mine", "sown"), LogEntry(date(2027, 1, 11), "Mine", "lost")
    first, _ = logged(sown, lost, on=date(2027, 1, 12))
    ordered = LogEntry(date(2027, 1, 12), "Mine", "ordered")
    for on in (date(2027, 1, 13), date(2027, 1, 18), date(2027, 1, 25)):
        plan, findings = logged(sown, lost, ordered, on=on)
        assert not findings
        assert (plan.start, plan.order, plan.transplant, plan.set_out) == (
            first.start, ordered.date, first.transplant, first.set_out,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("entries", "done"),
    [
        ([], set()),
        ([("sown", None)], {"order", "sow"}),
        ([("sown", None), ("lost", 4)], {"order", "sow"}),  # some seedlings: the rest go on
        ([("sown", None), ("lost", None)], set()),  # all of it: as if it had never been begun
        ([("sown", None), ("lost", None), ("ordered", None)], {"order"}),
    ],
)
def test_work_is_done_where_the_log_shows_it_and_not_for_what_was_lost(
    entries: list[tuple[Event, int | None]], done: set[str]
) -> None:
    days = [date(2026, 12, 14), date(2027, 1, 11), date(2027, 1, 12)]
    log = tuple(
        LogEntry(day, "Mine", event, pots=pots) for day, (event, pots) in zip(days, entries, strict=False)
    )
    one = Companion("Mine", "calendula", 40, date(2027, 3, 20), "Bench")
    stated = season(companions=(one,), places=(bench(16), frame(9, 9)), calendar=MON_FRI, log=log)
    context = Context(date(2027, 1, 13), {row.task: row for row in shipped_minutes()})
    plans, _ = plan_companions(stated, build_climate(stated), CompanionBook.from_overrides(), context.on)
    assert {task.task for task in companion_tasks(stated, plans, context) if task.state == "done"} == done


# Violas for troughs that open on Saturday 17 April: sown on 2 February, all lost by the 19th.
FAILED = """
[season]
item         | value
opens        | 2027-04-17
closes       | 2027-05-09
working days | Mon-Fri

[places]
place | kind  | pots | day | night
House | bench | 200  | 15  | 15
Frame | frame | 200  | 9   | 6
Court | site  |      | 12  | 8

[displays]
display | containers | site
Troughs | 10         | Court

[plantings]
display | companion | pots per container
Troughs | Violas    | 3

[companions]
companion | crop  | pots | place
Violas    | viola | 40   | House

[log]
date       | lot    | event
2027-02-02 | Violas | sown
2027-02-19 | Violas | lost
"""


def test_a_sowing_that_failed_in_february_is_one_decision_with_its_dates_on_the_next_week_sheet(
    tmp_path: Path,
) -> None:
    monday = date(2027, 2, 22)
    made = work_out(season_text.season(FAILED), RecipeBook.from_overrides(()), seen_on(monday))
    about = [f for f in made.plan.findings if "Violas" in f.about or "Violas" in f.message]
    assert [f.code for f in about] == ["companion-again"]
    # Sown anew it would be transplanted 42 days on, on 5 April: twelve days before the opening. Plugs take two weeks.
    new = {task.task: task.date for task in made.plan.tasks if task.lot == "Violas"}
    assert new["order"] == monday and new["transplant"] == date(2027, 3, 8)
    assert new["set out"] == date(2027, 4, 16) and new["harden off"] <= date(2027, 4, 2)
    assert not [task for task in made.plan.tasks if task.lot == "Violas" and task.state == "done"]
    sheet = write_week(made.plan, week_span("2027-W08"), tmp_path, created=datetime(2027, 2, 22, tzinfo=UTC))
    said = " ".join(" ".join(page.extract_text() for page in PdfReader(sheet).pages).split())
    assert (
        "1. all 40 pots of Violas were lost by Fri 19 Feb; too late from seed. Order plugs by Mon 22 Feb, to"
        in said
    )
    assert "to be here by Mon 8 Mar" in said and "W10, 8–14 Mar: 1 task · 40 pots" in said


@pytest.mark.parametrize("on", [date(2026, 11, 2), date(2027, 2, 22), date(2027, 3, 1)])
@pytest.mark.parametrize("supply", ["", "[supplies]\nitem | lead weeks\nviola | 9\n"])
def test_all_tables_name_one_order_day(on: date, supply: str) -> None:
    made = work_out(season_text.season(FAILED + supply), RecipeBook.from_overrides(()), seen_on(on))
    plan, grown = made.plan, made.beside.companions
    (task,) = [task.date for task in plan.tasks if (task.lot, task.task) == ("Violas", "order")]
    orders = frames.orders(plan, grown)
    (listed,) = orders.loc[orders["kind"] == "companions", "order by"]
    (beside,) = frames.companions(plan, grown)["order"]
    assert (listed.date(), beside.date()) == (task, task)


@settings(max_examples=40, deadline=None)
@given(days=st.lists(st.integers(-40, 60), min_size=1, max_size=5, unique=True), seen=st.integers(0, 120))
def test_a_logged_day_never_moves_and_later_days_follow(days: list[int], seen: int) -> None:
    events: tuple[Event, ...] = ("sown", "germinated", "transplanted", "pinched", "set out")
    first = date(2027, 1, 4)
    happened = {e: first + DAY * d for e, d in zip(events, sorted(days), strict=False)}
    on = first + DAY * seen
    plan, _ = logged(*(LogEntry(day, "Mine", e) for e, day in happened.items()), on=on)
    known = {e: day for e, day in happened.items() if day <= on}
    planned_days = {
        "sown": plan.sow,
        "transplanted": plan.transplant,
        "pinched": plan.pinch,
        "set out": plan.set_out,
    }
    assert all(planned_days[e] == day for e, day in known.items() if e in planned_days)
    if "sown" in known and "transplanted" not in known:
        assert plan.transplant >= known["sown"] + DAY * 25
    if "set out" not in known:
        assert plan.transplant < plan.harden and plan.harden + DAY * 14 <= plan.set_out


def test_figures_unusable_are_named_at_once() -> None:
    rows = (*own("Wallflower", sow_to_transplant=30, cap=math.nan), Override("Wallflower", "base", "warm"))
    with pytest.raises(RecipeError, match=r"base is not a number \(warm\); cap is not a number \(nan\)"):
        CompanionBook.from_overrides(rows).recipe("wallflower")
    with pytest.raises(RecipeError, match="no companion has: bench_days"):
        CompanionBook.from_overrides(own("viola", bench_days=3))
    stated = season(companions=(Companion("Mine", "wallflower", 4, None, "Bench", 2),))
    (found,) = worked(stated, *rows)[1]
    assert found.column == "crop" and "base is not a number (warm)" in str(found)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"base": 15}, "base must be 1 °C or more below finish_reference: 15 °C and 15 °C"),
        ({"cap": 14.9}, "finish_reference must not be above cap: 15 °C and 14.9 °C"),
        ({"sow_to_transplant": -1}, "sow_to_transplant must not be below 0: -1"),
        ({"transplant_to_finish": -1}, "transplant_to_finish must be above 0: -1"),
        ({"spread": 0}, "spread must be above 0"),
        ({"germination": 0}, "germination must be above 0: 0"),
        ({"germination": 1.2}, "germination must be from 0 to 1"),
        ({"seeds_per_cell": 2.5}, "seeds_per_cell must be a whole number: 2.5"),
        ({"cells_per_tray": 0}, "cells_per_tray must be from 1 to 1000"),
        ({"pot": 0}, "pot must be from 2 to 200"),
        ({"pinch": -1}, "pinch must be from 0 to 400"),
        ({"harden_days": 13}, "harden_days must be 14 or more: 13"),
        ({"cool_below": 12}, "cool_below and cool_days are given together"),
        ({"cool_below": 12, "cool_days": -1}, "cool_days must be from 0 to 400"),
    ],
)
def test_contradictions_keep_a_companion_from_being_planned(changes: dict[str, float], words: str) -> None:
    rows = own("viola", **changes)
    book = CompanionBook.from_overrides(rows)
    assert any(words in problem for problem in book.check(book.recipe("viola")))
    stated = season(companions=(Companion("Mine", "viola", 4, None, "Bench", 2),))
    plans, (found,) = worked(stated, *rows)
    assert plans == () and re.search("contradicts itself", found.message) and words in found.message


def test_a_typical_outside_its_own_range_is_a_contradiction() -> None:
    book = CompanionBook.from_overrides([Override("viola", "cap", 20.0, low=21.0)])
    assert book.check(book.recipe("viola"), "F") == (
        "cap: low, typical and high must not fall: 70 °F, 68 °F, 68 °F",
    )
