"""Which displays to cover on which evenings, and the work of it: seasons of a display or two."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import Span, WorkCalendar
from forcing.engine.companions import CompanionStep
from forcing.engine.context import Context
from forcing.engine.frost import FrostCare, FrostNight, frost_findings, frost_nights, frost_tasks
from forcing.engine.night_chances import (
    Minima,
    chance_findings,
    last_frost_findings,
    night_chances,
    unjudged_finding,
)
from forcing.engine.work.tasks import CAUTIONS
from forcing.model import (
    Companion,
    Display,
    LastFrost,
    Lot,
    LotPlan,
    Minutes,
    Normal,
    Place,
    Planting,
    Reading,
    Season,
    Step,
)
from forcing.recipes.book import CompanionBook, RecipeBook, shipped_companion_figures, shipped_figures
from forcing.science.frost import COVERS
from forcing.units import f_to_c, f_to_c_difference
from tests.builders import house_figures, plan
from tests.season_text import ONE_LOT, check_findings
from tests.season_text import season as read

OPENS, CLOSES = date(2027, 3, 20), date(2027, 4, 19)  # closes: the day after the last
MINUTES = {"cover": Minutes("cover", 1.5, 10), "uncover": Minutes("uncover", 1, 5)}
MARGIN = 2.0  # °C, so that the sums below can be done in the head


def lot(name: str = "A", **other) -> Lot:
    given = {"crop": "tulip", "pots": 40, "display": "Yard", "target": OPENS, "install": OPENS}
    return Lot(name, **(given | other))


def a_season(readings=(), lots=None, **other) -> Season:
    """Tulips that stand -2 °C in four troughs of one yard, set out on opening day."""
    given = {
        "title": "test",
        "span": Span(OPENS, CLOSES),
        "confidence": 0.5,
        "places": (
            Place("Cold", "cooler", day=9, night=9),
            Place("Bench", "bench", day=16, night=16),
            Place("Yard site", "site", day=12, night=6),
        ),
        "displays": (Display("Yard", 4, "Yard site", Span(OPENS, CLOSES), row=2),),
        "lots": (lot(),) if lots is None else tuple(lots),
        "overrides": house_figures("tulip", frost=-2.0) + house_figures("crocus", frost=-4.0),
        "readings": tuple(readings),
    }
    return Season(**(given | other))


def forecast(day: date, low: float | None, place: str = "Yard site", **other) -> Reading:
    return Reading(place, day, low=low, high=None if low is None else low + 8, kind="forecast", **other)


def nights_of(season: Season, on: date = OPENS, **care) -> tuple[FrostNight, ...]:
    return frost_nights(season, planned(season), on, FrostCare(**({"margin": MARGIN, "hardening": 0} | care)))


def planned(season: Season) -> tuple[LotPlan, ...]:
    made = plan(replace(season, readings=()))
    assert not made.unplanned
    return made.lots


# ---------------------------------------------------------------- nights


def test_a_forecast_at_the_limit_and_margin_is_covered_the_evening_before() -> None:
    # Tulips stand -2 °C; with 2 °C of margin they are covered at 0 °C and below.
    season = a_season(
        [
            forecast(date(2027, 3, 25), 0.0),
            forecast(date(2027, 3, 26), 0.1),
            forecast(date(2027, 3, 27), -3.0),
        ]
    )
    nights = nights_of(season)
    assert [(n.evening, n.morning, n.low) for n in nights] == [
        (date(2027, 3, 24), date(2027, 3, 25), 0.0),
        (date(2027, 3, 26), date(2027, 3, 27), -3.0),
    ]
    assert {(n.display, n.site, n.tenderest, n.limit, n.cover_at, n.containers) for n in nights} == {
        ("Yard", "Yard site", "A", -2.0, 0.0, 4)
    }


def test_the_same_night_in_fahrenheit() -> None:
    # 28 °F and a margin of 4 °F: at 32 °F yes, at 33 °F no.
    season = a_season(
        [forecast(date(2027, 3, 25), f_to_c(32)), forecast(date(2027, 3, 26), f_to_c(33))],
        overrides=house_figures("tulip", frost=f_to_c(28)),
        unit="F",
    )
    nights = nights_of(season, margin=f_to_c_difference(4))
    assert [n.morning for n in nights] == [date(2027, 3, 25)]
    (cover, uncover) = frost_tasks(season, nights, Context(OPENS, MINUTES))
    assert "low of 32 °F forecast; tenderest A, to 28 °F" in cover.look_for
    assert "above 32 °F" in uncover.look_for


def test_only_forecast_lows_at_the_site_of_the_display_count() -> None:
    day = date(2027, 3, 25)
    measured = Reading("Yard site", day, low=-5, high=3)
    mean_only = Reading("Yard site", day, mean=-5, kind="forecast", row=7)
    assert nights_of(a_season([measured, mean_only, forecast(day, -5, "Bench")])) == ()
    (finding,) = frost_findings(a_season([mean_only]), (), OPENS)
    assert (finding.code, finding.table, finding.row, finding.column) == (
        "forecast-no-low", "readings", 7, "low",
    )  # fmt: skip
    assert not list(frost_findings(a_season([mean_only]), (), date(2027, 3, 26)))  # past


def test_a_later_forecast_for_a_day_replaces_the_earlier() -> None:
    day = date(2027, 3, 25)
    season = a_season([forecast(day, 4), forecast(day, -1), forecast(day, 0, row=9)])
    (night,) = nights_of(season)
    assert (night.low, night.row) == (0, 9)
    (cover, _) = frost_tasks(season, [night], Context(OPENS, MINUTES))
    assert "low of 0 °C forecast" in cover.look_for  # and nothing of the warmer and colder ones before
    assert nights_of(a_season([forecast(day, -1), forecast(day, 4)])) == ()


def test_all_forecasts_of_a_day_are_kept_as_readings() -> None:
    text = (
        ONE_LOT
        + """
[readings]
place   | date       | low | high | kind
Terrace | 2027-03-25 | 4   | 9    | forecast
Terrace | 2027-03-25 | -1  | 6    | forecast
"""
    )
    assert [r.low for r in read(text).readings] == [4, -1]
    assert not [f for f in check_findings(text) if f.table == "readings"]


def test_nothing_is_covered_before_it_is_set_out_or_after_the_show() -> None:
    # Set out on 20 March: the first night there ends on the 21st. The last day of the show is 18 April.
    days = (OPENS, OPENS + timedelta(days=1), date(2027, 4, 18), date(2027, 4, 19))
    nights = nights_of(
        a_season([forecast(d, -3) for d in days], [lot(crop="narcissus")],
                 overrides=house_figures("narcissus", frost=-2.0, display_days=90)),
        on=date(2027, 3, 1),
    )  # fmt: skip
    assert [n.morning for n in nights] == [OPENS + timedelta(days=1), date(2027, 4, 18)]


def test_a_lot_set_out_before_bloom_is_covered_from_its_first_evening() -> None:
    early = lot(install=date(2027, 3, 10))
    nights = nights_of(
        a_season([forecast(date(2027, 3, d), -3) for d in (10, 11, 12)], [early]), date(2027, 3, 1)
    )
    assert [n.evening for n in nights] == [date(2027, 3, 10), date(2027, 3, 11)]


def test_the_tenderest_that_stands_there_decides() -> None:
    # Crocus alone stands -4: covered at -2 and below; with tulips (-2) at 0 and below.
    reading = [forecast(date(2027, 3, 25), -1.0)]
    crocus, tulip = lot("C", crop="crocus"), lot("T")
    assert nights_of(a_season(reading, [crocus])) == ()
    (night,) = nights_of(a_season(reading, [crocus, tulip]))
    assert night.tenderest == "T"
    # Tulips set out elsewhere do not count.
    away = Display("Gate", 2, "Gate site", Span(OPENS, CLOSES))
    season = a_season(reading, [crocus, replace(tulip, display="Gate")])
    season = replace(
        season,
        displays=(*season.displays, away),
        places=(*season.places, Place("Gate site", "site", day=12, night=6)),
    )
    # At the gate, without a forecast of its own, the yard's holds.
    assert {(n.display, n.tenderest) for n in nights_of(season)} == {("Gate", "T")}


def test_a_faded_lot_no_longer_counts() -> None:
    season = a_season([forecast(date(2027, 4, 15), -1.0)])
    (only,) = planned(season)
    assert only.fade is not None and only.fade < date(2027, 4, 14)
    assert nights_of(season) == ()


def with_companion(readings, limit: float | None, **companion) -> tuple[Season, dict]:
    season = a_season(
        readings,
        companions=(Companion("Edging", "nemesia", 20, row=3, **companion),),
        plantings=(Planting("Yard", "Edging", 5),),
    )
    return season, {"companion_limits": {"Edging": limit}}


def test_companions_count_with_the_limits_given() -> None:
    season, care = with_companion([forecast(date(2027, 3, 25), 1.5)], 0.0)
    (night,) = nights_of(season, **care)
    assert (night.tenderest, night.limit, night.assumed) == ("Edging", 0.0, ())
    season, care = with_companion([forecast(date(2027, 3, 25), 1.5)], -5.0)
    assert nights_of(season, **care) == ()


def test_an_unknown_limit_is_taken_as_freezing_and_named() -> None:
    season, care = with_companion([forecast(date(2027, 3, 25), 1.5)], None)
    for limits in (care, {}):
        (night,) = nights_of(season, cloth={"Yard": 2.0}, **limits)
        assert (night.limit, night.assumed) == (0.0, ("Edging",))
    (finding,) = frost_findings(season, [night], OPENS)
    assert (finding.code, finding.table, finding.row) == ("frost-limit-unknown", "companions", 3)
    assert "0 °C" in finding.message


def test_companions_stand_there_from_the_day_they_are_ready_or_set_out() -> None:
    readings = [forecast(date(2027, 3, d), 1.5) for d in (15, 16, 17, 22)]
    season, care = with_companion(readings, 0.0, ready=date(2027, 3, 15))
    mornings = [n.morning.day for n in nights_of(season, date(2027, 3, 1), **care)]
    assert mornings == [16, 17, 22]
    out = (CompanionStep("Edging", "show", "Yard site", Span(date(2027, 3, 16), CLOSES), 20, "Yard"),)
    nights = nights_of(season, date(2027, 3, 1), companion_steps={"Edging": out}, **care)
    assert [n.morning.day for n in nights] == [17, 22]
    season, care = with_companion(readings, 0.0)
    assert [n.morning.day for n in nights_of(season, date(2027, 3, 1), **care)] == [22]


def test_this_mornings_night_is_kept_and_older_ones_dropped() -> None:
    season = a_season([forecast(date(2027, 3, d), -3) for d in (24, 25, 26)])
    nights = nights_of(season, date(2027, 3, 25))
    assert [n.morning.day for n in nights] == [25, 26]
    states = {t.key: t.state for t in frost_tasks(season, nights, Context(date(2027, 3, 25), MINUTES))}
    assert states == {
        "cover/Yard/2027-03-24": "not logged",
        "uncover/Yard/2027-03-24": "due",
        "cover/Yard/2027-03-25": "due",
        "uncover/Yard/2027-03-25": "planned",
    }


def test_a_season_without_displays_forecasts_or_lots_has_no_frost_nights() -> None:
    assert nights_of(a_season()) == ()
    assert nights_of(a_season([forecast(date(2027, 3, 25), -9)], [])) == ()
    assert nights_of(a_season([forecast(date(2027, 3, 25), -9)], [], displays=())) == ()


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(-15, 10), min_size=1, max_size=20), st.floats(0, 4), st.floats(0, 3))
def test_a_wider_margin_never_uncovers(lows: list[float], margin: float, more: float) -> None:
    season = a_season([forecast(OPENS + timedelta(days=1 + i), low) for i, low in enumerate(lows)])
    plans = PLANS
    few = frost_nights(season, plans, OPENS, FrostCare(margin=margin))
    many = frost_nights(season, plans, OPENS, FrostCare(margin=margin + more))
    assert {n.evening for n in few} <= {n.evening for n in many}
    tasks = frost_tasks(season, many, Context(OPENS, MINUTES))
    assert len({t.key for t in tasks}) == len(tasks) == 2 * len(many)
    assert [t.date for t in tasks] == sorted(t.date for t in tasks)


PLANS = planned(a_season())

# ---------------------------------------------------------------- cloth and covers


def test_cloth_by_container_and_for_the_worst_evening() -> None:
    season = a_season([forecast(date(2027, 3, 25), -3), forecast(date(2027, 3, 26), -3)])
    nights = nights_of(season, cloth={"Yard": 3.4})
    assert [n.area for n in nights] == pytest.approx([13.6, 13.6])  # 4 · 3.4
    unknown = nights_of(season, cloth={"Yard": None})
    assert {n.area for n in unknown} == {None}
    (finding,) = frost_findings(season, unknown, OPENS)  # once, not once a night
    assert (finding.code, finding.severity, finding.row) == ("cover-area-unknown", "note", 2)
    assert "cloth not measured" in frost_tasks(season, unknown, Context(OPENS, MINUTES))[0].look_for


def test_a_cover_that_is_not_sure_to_be_enough_is_said() -> None:
    # Thin sheet, 1 °C: leaves 2 °C below air stay at -2 °C down to a forecast of -1 °C.
    thin = COVERS[0]
    season = a_season([forecast(date(2027, 3, 25), -1), forecast(date(2027, 3, 26), -1.1, row=9)])
    nights = nights_of(season, cover=thin, cloth={"Yard": 1.0})
    assert [n.layers for n in nights] == [1, 2]
    (finding,) = frost_findings(season, nights, OPENS)
    assert (finding.code, finding.row, finding.value) == ("cover-too-thin", 9, "-1.1 °C")
    words = [t.look_for for t in frost_tasks(season, nights, Context(OPENS, MINUTES)) if t.task == "cover"]
    assert ["not sure to be enough" in w for w in words] == [False, True]
    assert [n.layers for n in nights_of(season)] == [None, None]


# ---------------------------------------------------------------- tasks


def test_evening_and_morning_tasks() -> None:
    season = a_season([forecast(date(2027, 3, 25), -3)])
    cover, uncover = frost_tasks(season, nights_of(season, cloth={"Yard": 3.4}), Context(OPENS, MINUTES))
    assert (cover.task, cover.date, cover.lot, cover.place) == (
        "cover", date(2027, 3, 24), None, "Yard site",
    )  # fmt: skip
    assert (uncover.task, uncover.date) == ("uncover", date(2027, 3, 25))
    assert (cover.pots, uncover.pots) == (0, 0)
    # 4 containers: (10 + 4 · 1.5) / 60 and (5 + 4) / 60 hours.
    assert (cover.hours, uncover.hours) == pytest.approx((0.267, 0.150))
    for words in ("Yard: 4 containers, 13.6 m²", "before sunset", "down to the soil", "edges sealed"):
        assert words in cover.look_for
    for words in ("above 0 °C", "warmed", "leave frosted leaves untouched until thawed"):
        assert words in uncover.look_for
    for task in (cover, uncover):
        assert task.cautions
        assert set(task.cautions) <= set(CAUTIONS)


def test_frost_does_not_wait_for_a_working_day() -> None:
    # 27 March 2027 is a Saturday.
    season = a_season([forecast(date(2027, 3, 27), -3)], calendar=WorkCalendar(frozenset(range(5))))
    nights = nights_of(season, cloth={"Yard": 1.0})
    assert [t.date for t in frost_tasks(season, nights, Context(OPENS, MINUTES))] == [
        date(2027, 3, 26), date(2027, 3, 27),
    ]  # fmt: skip
    (finding,) = frost_findings(season, nights, OPENS)
    assert finding.code == "frost-day-off"
    assert finding.message.startswith("Sat 2027-03-27 is no working day")
    # Who is on duty on Saturdays sees to it, but not on a Saturday that is a holiday.
    saturdays = replace(season, duty=((5, "AB"),))
    assert not list(frost_findings(saturdays, nights, OPENS))
    holiday = replace(saturdays, calendar=WorkCalendar(frozenset(range(5)), frozenset({date(2027, 3, 27)})))
    assert [f.code for f in frost_findings(holiday, nights, OPENS)] == ["frost-day-off"]


# ---------------------------------------------------------------- hardening and frames


LONG = (Display("Yard", 4, "Yard site", Span(OPENS, date(2027, 6, 1))),)


# What each kind that is shipped stands hardened [°C]. Bulbs: leaves sound at 29 °F, hurt below 28 °F (three
# reference pages that agree): -2; small bulbs, lilies and amaryllis from memory; paperwhites are kept above the
# -2 °C that is used as freezing stress. Annuals by class (Purdue HO-203): very hardy 28 °F, tolerant 29 to 32 °F.
HARDENED = {
    "tulip": -2.0, "hyacinth": -2.0, "prepared hyacinth": -2.0, "narcissus": -2.0, "miniature narcissus": -2.0,
    "crocus": -4.0, "muscari": -4.0, "iris reticulata": -4.0, "scilla": -4.0, "easter lily": 0.0, "asiatic lily": 0.0,
    "oriental lily": 0.0, "amaryllis": 2.0, "paperwhite": 0.0,
    "pansy": -2.2, "viola": -2.2, "stock": -2.2, "snapdragon": -2.2, "calendula": -2.2, "osteospermum": -2.2,
    "primula": -2.2, "alyssum": -1.7, "dianthus": -0.8, "linaria": -0.8, "nemesia": 0.0, "petunia": 0.0,
}  # fmt: skip


@pytest.mark.parametrize("crop", HARDENED)
def test_what_each_kind_stands_at_the_edge_of_every_band(crop: str) -> None:
    # Not hardened freezing point, half way the half of it, hardened all of it; what is hurt above that keeps its limit.
    full, annual = HARDENED[crop], crop in {figure.crop for figure in shipped_companion_figures()}
    for out, stands in ((0, max(full, 0.0)), (7, full if full > 0 else full / 2), (14, full), (40, full)):
        morning = OPENS + timedelta(days=out + 1)
        # At the limit and margin it is covered, a tenth of a degree above not.
        for low, wanted in ((stands + MARGIN, True), (stands + MARGIN + 0.1, False)):
            season, plans, care = (
                a_season([forecast(morning, low)], [], displays=LONG),
                (),
                FrostCare(margin=MARGIN),
            )
            if annual:
                season = replace(
                    season, companions=(Companion("E", crop, 20),), plantings=(Planting("Yard", "E", 5),)
                )
                limit = CompanionBook.from_overrides().recipe(crop).frost
                care = replace(care, companion_limits={"E": limit}, companion_hardened={"E": (OPENS, 14)})
            else:
                plans = (replace(STANDING, recipe=RecipeBook.from_overrides().recipe(crop)),)
            nights = frost_nights(season, plans, OPENS, care)
            assert [n.evening for n in nights] == [morning - timedelta(days=1)] * wanted


def test_every_shipped_kind_is_in_that_table() -> None:
    assert set(HARDENED) == {figure.crop for figure in (*shipped_figures(), *shipped_companion_figures())}


STANDING = replace(  # set out on opening day, and there as long as the display is open
    PLANS[0],
    steps=(Step("A", "bench", "Bench", Span(OPENS - timedelta(days=20), OPENS), "planned"),
           Step("A", "show", "Yard site", Span(OPENS, date(2027, 6, 1)), "planned")),
)  # fmt: skip


def stays(name: str, place: str, span: Span) -> tuple[CompanionStep, ...]:
    return (CompanionStep(name, "harden", place, span, 30),)


def calendula_in_a_frame(low: float, **place) -> tuple[Season, FrostCare]:
    season = a_season(
        [forecast(date(2027, 3, 10), low)], [],
        places=(Place("Yard site", "site"), Place("Frame", "frame", **place)),
        companions=(Companion("Marigolds", "calendula", 30),),
    )  # fmt: skip
    stay = {"Marigolds": stays("Marigolds", "Frame", Span(date(2027, 3, 1), date(2027, 3, 20)))}
    hard = {"Marigolds": (date(2027, 3, 1), 14.0)}
    limits = {"Marigolds": -2.2}
    return season, FrostCare(
        limits, companion_steps=stay, companion_hardened=hard, margin=MARGIN, cover=COVERS[0]
    )


def test_a_frame_without_heat_is_closed_and_what_it_cannot_keep_is_brought_in() -> None:
    # 8 nights hardened: -2.2 · 8/14 = -1.257 °C. Two layers of 1 °C at -7 °C leave leaves at -7 °C: not enough.
    season, care = calendula_in_a_frame(-7.0)
    on = date(2027, 3, 1)
    (night,) = frost_nights(season, (), on, care)
    assert (night.display, night.kind, night.layers, night.inside) == ("Frame", "frame", 0, ("Marigolds",))
    assert night.limit == pytest.approx(-1.257, abs=0.001)
    minutes = MINUTES | {"move": Minutes("move", 0.5, 5)}
    tasks = frost_tasks(season, (night,), Context(on, minutes))
    assert [(t.task, t.date.day, t.pots) for t in tasks] == [
        ("close and mat", 9, 0), ("bring in for the night", 9, 30), ("open", 10, 0),
    ]  # fmt: skip
    assert "two layers are not sure to be enough: bring in Marigolds" in tasks[0].look_for
    assert tasks[1].hours == pytest.approx((5 + 60 * 0.5) / 60, abs=0.001)  # in, and out again
    # A frame that is heated is not the weather's.
    heated, care = calendula_in_a_frame(-7.0, day=10, night=7)
    assert frost_nights(heated, (), on, care) == ()


@pytest.mark.parametrize(
    ("hardened", "low", "frost"),
    # Freezing air is frost; air above it only for what is hurt there; the rest are nights near enough to it.
    [(-2.0, 0.0, True), (-1.0, 0.5, False), (2.0, 1.9, True), (2.0, 2.0, False), (2.0, 3.5, False)],
)
def test_what_counts_as_frost(hardened: float, low: float, frost: bool) -> None:
    season = a_season([forecast(date(2027, 3, 25), low)], overrides=house_figures("tulip", frost=hardened))
    (night,) = nights_of(season)
    assert night.frost is frost


def test_setting_out_into_a_frost_night_is_a_decision_that_day() -> None:
    season = a_season([forecast(date(2027, 3, 21), -4)])
    plans, care = planned(season), FrostCare(margin=MARGIN)
    nights = frost_nights(season, plans, OPENS, care)
    tasks = frost_tasks(season, nights, Context(OPENS, MINUTES), plans, care)
    assert [(t.task, t.date) for t in tasks] == [
        ("hold set-out", OPENS), ("cover", OPENS), ("uncover", date(2027, 3, 21)),
    ]  # fmt: skip
    assert "a low of -4 °C is forecast for the next morning and it stands 0 °C so far" in tasks[0].look_for
    # Two that go out together are one decision; both come from a bench, so both stand no frost yet.
    both = a_season([forecast(date(2027, 3, 21), -4)], lots=(lot(), replace(lot(), name="Second")))
    plans = planned(both)
    nights = frost_nights(both, plans, OPENS, care)
    (held, *_) = frost_tasks(both, nights, Context(OPENS, MINUTES), plans, care)
    assert held.lot is None and " and Second were to go to Yard" in held.look_for
    # Nothing to decide of what stands there already.
    later = a_season([forecast(date(2027, 3, 22), -4)])
    nights = frost_nights(later, plans, OPENS, care)
    assert "hold set-out" not in {
        t.task for t in frost_tasks(later, nights, Context(OPENS, MINUTES), plans, care)
    }


def test_without_minima_the_normals_have_a_spread_about_them() -> None:
    # A mean low of 2 °C is no minimum: with 4 °C of spread, 0 °C lies half a spread below: 0.3085 (normal table).
    season = a_season(normals=(Normal("Yard site", 3, 2.0, 10.0),))
    (first, *_) = night_chances(season, planned(season), OPENS, {}, FrostCare(margin=MARGIN, hardening=0))
    assert (first.evening, first.threshold, first.years, first.later) == (OPENS, 0.0, 0, None)
    assert first.chance == pytest.approx(0.3085, abs=0.0001)


def test_frames_and_other_ground_have_chances_too() -> None:
    # Violas (-2.2 °C hardened) come out on 1 March, unhardened: they stand 0 °C, covered at 2 °C and below. Mean lows
    # of 2 and 6 °C with 4 °C of spread: 0.5, and one spread below: 0.1587 (normal table).
    cold, mild = Normal("Yard site", 3, 2.0, 10.0), Normal("Hill", 3, 6.0, 14.0)
    begins, out = date(2027, 3, 1), Span(date(2027, 3, 1), date(2027, 3, 20))
    for place, kind, usual, chance in (
        ("Frame", "frame", (cold, mild), 0.5),  # nothing is known of the frame: as the coldest of the sites
        ("Frame", "frame", (mild,), 0.1587),
        ("Frame", "frame", (cold, Normal("Frame", 3, 6.0, 14.0)), 0.1587),  # its own count before those
        ("Bench", "bench", (cold,), 0.5),
        ("Hill", "site", (mild, cold), 0.1587),
    ):
        places = (Place("Yard site", "site"), Place("Hill", "site"), Place(place, kind))
        season = a_season((), [], places=places[: 2 if kind == "site" else 3], normals=usual,
                          companions=(Companion("Edging", "viola", 30),))  # fmt: skip
        care = FrostCare(
            {"Edging": -2.2}, companion_steps={"Edging": stays("Edging", place, out)},
            companion_hardened={"Edging": (begins, 14.0)}, margin=MARGIN,
        )  # fmt: skip
        chances = night_chances(season, (), begins, {}, care)
        assert [c.evening for c in chances] == list(out)
        assert {c.display for c in chances} == {place} and not list(
            unjudged_finding(season, (), begins, {}, care)
        )
        assert chances[0].threshold == 2.0 and chances[0].chance == pytest.approx(chance, abs=0.0001)
        # Hardened, from the 15th on, at -0.2 °C: rarer.
        assert chances[14].threshold == pytest.approx(-0.2) and chances[14].chance < chance
        (found, *_) = chance_findings(season, chances)
        assert f"come to {place} once in ten or oftener from 2027-03-01 to" in found.message


def test_minutes_without_the_rows_are_a_callers_mistake() -> None:
    season = a_season([forecast(date(2027, 3, 25), -3)])
    with pytest.raises(KeyError):
        frost_tasks(season, nights_of(season), Context(OPENS))


# ---------------------------------------------------------------- before there are forecasts


def past(freezes: dict[int, date | None]) -> Minima:
    """Springs at 5 °C but for one morning of -1 °C in each (None: none)."""
    days = [date(y, 1, 1) + timedelta(days=i) for y in freezes for i in range(212)]
    return Minima(days, [-1.0 if d == freezes[d.year] else 5.0 for d in days])


def test_the_chance_of_a_night_and_of_any_later_one() -> None:
    # The limit and margin are 0 °C. Freezes on the mornings of 25 March, 10 April, 1 February, none.
    minima = past({2021: date(2021, 3, 25), 2022: date(2022, 4, 10), 2023: date(2023, 2, 1), 2025: None})
    season = a_season([forecast(date(2027, 3, 28), 6.0)])
    chances = night_chances(
        season, PLANS, OPENS, {"Yard site": minima}, FrostCare(margin=MARGIN, hardening=0)
    )
    by_morning = {c.evening + timedelta(days=1): c for c in chances}
    assert min(by_morning) == OPENS + timedelta(days=1)
    assert date(2027, 3, 28) not in by_morning  # a forecast tells more
    night = by_morning[date(2027, 3, 25)]
    assert (night.tenderest, night.limit, night.threshold) == ("A", -2.0, 0.0)
    assert night.chance == pytest.approx(1 / 28)  # one of seven nights in four years
    # Springs not seen between (2024) are not counted. Later: 2021 and 2022 of four; from 26 March one.
    assert (night.later, night.years) == (0.5, 4)
    assert by_morning[date(2027, 3, 26)].later == 0.25
    assert by_morning[date(2027, 4, 2)].chance == 0.0


def test_the_day_after_which_one_spring_in_ten_had_such_a_night() -> None:
    # Ten springs, the latest freezes on 9 and 10 April: 0.9 (10 + 1) = 9.9 lies between the ninth and the tenth, at
    # 9.9 April, and part days go upward. Four springs do not reach as far as one in ten.
    freezes = {2015 + n: date(2015 + n, 3, 1 + n) for n in range(10)}
    freezes |= {2019: date(2019, 4, 9), 2021: date(2021, 4, 10)}
    for springs, last in ((freezes, date(2027, 4, 10)), (dict(list(freezes.items())[:4]), None)):
        sites = {"Yard site": past(springs)}
        chances = night_chances(a_season([]), PLANS, OPENS, sites, FrostCare(margin=MARGIN))
        assert {chance.last for chance in chances} == {last}


def test_chances_need_minima_of_the_site_and_of_the_time_of_year() -> None:
    season = a_season()
    assert night_chances(season, PLANS, OPENS, {}) == ()
    assert night_chances(season, (), OPENS, {"Yard site": past({2021: None})}) == ()
    winter = Minima([date(2021, 1, 1)], [-4.0])
    chances = night_chances(season, PLANS, OPENS, {"Yard site": winter})
    assert chances
    assert {(c.chance, c.later, c.years) for c in chances} == {(None, None, 0)}


def test_after_the_last_frost_the_normals_are_not_asked() -> None:
    # A mean low of 2 °C in March: the morning of 25 March is judged as before, that of the 26th is not.
    usual, frost = (Normal("Yard site", 3, 2.0, 10.0),), LastFrost(date(2027, 3, 25), 0.1)
    judged = night_chances(
        a_season(normals=usual, last_frost=frost), PLANS, OPENS, {}, FrostCare(margin=MARGIN)
    )
    assert [c.evening for c in judged] == [OPENS + timedelta(days=i) for i in range(5)]
    assert {c.last for c in judged} == {frost.day} and all(c.chance for c in judged)
    # With no normals the same nights are ones to watch, with no chance; what former years had is told throughout.
    watched = night_chances(a_season(last_frost=frost), PLANS, OPENS, {})
    assert [(c.evening, c.chance, c.last) for c in watched] == [(c.evening, None, frost.day) for c in judged]
    minima = {"Yard site": past({2021: None})}
    assert len(night_chances(a_season(last_frost=frost), PLANS, OPENS, minima)) > len(judged)


@pytest.mark.parametrize(
    ("day", "codes"),
    # The display is open until 18 April.
    [
        (date(2027, 4, 18), []), (date(2027, 4, 19), ["last-frost-late"]), (date(2027, 5, 10), ["last-frost-late"]),
        (date(2026, 5, 10), ["last-frost-year"]),
    ],
)  # fmt: skip
def test_a_last_frost_after_the_displays_or_of_another_year(day: date, codes: list[str]) -> None:
    season = a_season(last_frost=LastFrost(day))
    assert [finding.code for finding in last_frost_findings(season)] == codes


def test_nights_judged_by_nothing_are_said_so_once() -> None:
    def said(season: Season, on: date = OPENS, minima=None) -> list[str]:
        return [f.message for f in unjudged_finding(season, PLANS, on, minima or {}, FrostCare())]

    (message,) = said(a_season())
    assert message.startswith("frost nights are not judged in Yard: ")
    assert not said(a_season(), CLOSES)  # nothing stands there any more
    assert not said(a_season([forecast(date(2027, 3, 25), 6.0)]))
    assert not said(a_season(normals=(Normal("Yard site", 3, 2.0, 10.0),)))
    assert not said(a_season(last_frost=LastFrost(date(2027, 3, 1))))
    assert not said(a_season(), minima={"Yard site": past({2021: None})})
    # A frame is no blinder than the site beside it.
    frame, stay = Place("Frame", "frame"), {"Viola": stays("Viola", "Frame", Span(OPENS, CLOSES))}
    season = a_season(companions=(Companion("Viola", "viola", pots=20),))
    season, care = replace(season, places=(*season.places, frame)), FrostCare(companion_steps=stay)
    usual = replace(season, normals=(Normal("Yard site", 3, 2.0, 10.0),))
    (finding,) = unjudged_finding(season, (), OPENS, {}, care)
    assert finding.message.startswith("frost nights are not judged in Frame: ")
    assert not list(unjudged_finding(usual, (), OPENS, {}, care))


def test_chances_end_with_the_show_and_start_today() -> None:
    season = a_season()
    chances = night_chances(season, PLANS, date(2027, 3, 28), {"Yard site": past({2021: None})})
    evenings = [c.evening for c in chances]
    assert evenings[0] == date(2027, 3, 28)
    assert evenings[-1] < PLANS[0].fade <= CLOSES
    assert night_chances(season, PLANS, CLOSES, {"Yard site": past({2021: None})}) == ()
