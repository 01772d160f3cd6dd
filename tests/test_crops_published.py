"""Our recipes against figures in print. Each printed figure stands here again, with its source beside it.

Where a recipe was derived from the very figure, the test shows that the arithmetic holds; where it was not,
that the recipe lies within what is printed. A printed row that a recipe does not meet is kept as a strict
expected failure with the reason.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from forcing.model import CLASSES, BloomClass, Recipe
from forcing.recipes.book import RecipeBook, curve_nodes

BOOK = RecipeBook.from_overrides()


def days(recipe: Recipe, cold: float, at: float, fraction: float = 1.0) -> float:
    """Days on a bench at constant `at` [°C] after `cold` [weeks], written out from DESIGN section 4."""
    cold = min(max(cold, recipe.line_from), recipe.line_to)  # what lies beyond is not in print
    at_reference = max(
        recipe.bench_days_min, recipe.bench_days - recipe.days_saved * (cold - recipe.cold_target)
    )
    need = at_reference * (recipe.reference - recipe.base)
    return fraction * need / (min(at, recipe.cap) - recipe.base)


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


def weeks(start: date, end: date) -> float:
    return (end - start).days / 7


def on_show(recipe: Recipe, at: float) -> float:
    """Days from bloom to fade at constant `at` [°C], written out from DESIGN section 4."""
    life = recipe.display_days * (recipe.display_reference - recipe.display_base)
    return min(recipe.display_longest, life / max(at - recipe.display_base, 1e-9))


# ---------------------------------------------------------------- weeks of cold

TARGETS = [
    # crop, class, printed weeks, source
    ("tulip", None, 11, 18, "International Flower Bulb Centre, Tulip: boxes 13-20, pots 2 less"),
    ("tulip", "early", 11, 18, "the same"),
    ("tulip", "late", 11, 18, "the same"),
    ("tulip", None, 13, 23, "Cornell pot tulip trials, lengths tested"),
    ("tulip", None, 14, 16, "bulb supplier's tulip sheet, main rule"),
    ("tulip", "early", 14, 16, "the same"),
    ("tulip", None, 14, 17, "Slootweg, Acta Hort. 14:19, boxed bulbs"),
    ("tulip", "late", 14, 17, "the same"),
    ("tulip", None, 14, 20, "Colorado State (Gross); Saskatchewan Perennial Society"),
    ("tulip", None, 15, 18, "Missouri Extension (Byers)"),
    ("tulip", None, 12, 16, "Iowa State 2011, all spring bulbs"),
    ("hyacinth", None, 8, 12, "International Flower Bulb Centre, hyacinth pots"),
    ("hyacinth", None, 11, 12, "Minnesota Extension, Star Tribune 2015"),
    ("hyacinth", None, 12, 14, "Courier 2018, regular"),
    ("hyacinth", None, 11, 14, "Saskatchewan Perennial Society"),
    ("prepared hyacinth", None, 8, 12, "International Flower Bulb Centre, hyacinth pots"),
    ("prepared hyacinth", None, 8, 10, "Courier 2018, prepared"),
    ("prepared hyacinth", None, 10, 10, "International Flower Bulb Centre, pot hyacinths, worked example"),
    ("narcissus", None, 14, 18, "International Flower Bulb Centre, narcissus boxes"),
    ("narcissus", None, 15, 15, "Rees & Hanks 1984, at least 15 for the earliest"),
    ("narcissus", None, 15, 17, "Saskatchewan Perennial Society"),
    ("narcissus", None, 12, 16, "Iowa State 2011, all spring bulbs"),
    ("miniature narcissus", None, 12, 15, "farm page 12; retail chart, cyclamineus 14-15"),
    ("miniature narcissus", None, 12, 16, "Iowa State 2011, all spring bulbs"),
    ("crocus", None, 8, 15, "chill table"),
    ("crocus", None, 12, 12, "Illinois Extension 2007, others than tulip"),
    ("muscari", None, 10, 12, "Missouri Extension (Byers)"),
    ("muscari", None, 8, 15, "chill table"),
    ("iris reticulata", None, 13, 15, "chill table"),
    ("iris reticulata", None, 12, 16, "Iowa State 2011, all spring bulbs"),
    ("scilla", None, 12, 15, "Saskatchewan Perennial Society"),
    ("easter lily", None, 6, 6, "McAvoy 2014"),
    ("asiatic lily", None, 6, 8, "IASRI e-course, longiflorum and Asiatic lilies"),
    ("oriental lily", None, 8, 8, "IASRI e-course, Oriental lilies"),
    ("miniature narcissus", None, 14, 14, "Vreeburg & Schipper 1990, 'Tete-a-Tete' in pots"),
    ("amaryllis", None, 0, 0, "newspaper column on amaryllis"),
    ("paperwhite", None, 0, 0, "Volcani archive, 'Ziva'"),
]


@pytest.mark.parametrize(("crop", "kind", "low", "high", "source"), TARGETS)
def test_cold_planned_on_lies_within_the_printed_weeks(
    crop: str, kind: BloomClass | None, low: float, high: float, source: str
) -> None:
    assert low <= BOOK.recipe(crop, kind).cold_target <= high, source


LIMITS = [
    # crop, printed shortest, printed longest, source
    ("tulip", 10, 20, "Smith College 1999, Elizabeth Park 2023: from 10; IBC boxes up to 20"),
    ("hyacinth", 8, 18, "IBC pots from 8; Cornell pot hyacinth trials: 18 is more than needed"),
    ("prepared hyacinth", 8, 12, "International Flower Bulb Centre, hyacinth pots"),
    ("narcissus", 10, 18, "Smith College 1999: from 10; IBC boxes up to 18"),
    ("crocus", 6, 16, "Missouri 6-8; Iowa State 12-16"),
    ("muscari", 8, 16, "chill table 8-15; Iowa State 12-16"),
    ("iris reticulata", 10, 16, "retail chart 10-12; Iowa State 12-16"),
    ("scilla", 10, 16, "Iowa State 12-16, low judged as other small bulbs: Smith College 1999, from 10"),
    ("asiatic lily", 6, 8, "IASRI e-course"),
]


@pytest.mark.parametrize(("crop", "low", "high", "source"), LIMITS)
def test_no_crop_is_refused_above_or_let_through_below_what_is_printed(
    crop: str, low: float, high: float, source: str
) -> None:
    for kind in (None, *CLASSES):
        recipe = BOOK.recipe(crop, kind)
        assert low <= recipe.cold_least <= recipe.cold_min and recipe.cold_max <= high, source


def test_fifteen_weeks_is_within_the_cold_of_tulip_hyacinth_and_narcissus() -> None:
    # Oklahoma 1994: five tulips flowered after 15 wk; Cornell: hyacinth pots at 15 wk; Rees & Hanks 1984: 15 wk
    for crop in ("tulip", "hyacinth", "narcissus"):
        recipe = BOOK.recipe(crop)
        assert recipe.cold_min <= 15 <= recipe.cold_max


SCHEDULES = [
    # crop, cold starts, out of the cold, source (weeks by the calendar)
    ("tulip", date(2026, 9, 15), date(2027, 1, 5), "supplier's tulip sheet, mid-February: 16.0 wk"),
    ("tulip", date(2026, 9, 15), date(2027, 1, 10), "supplier's tulip sheet, mid-February: 16.7 wk"),
    ("tulip", date(2026, 9, 7), date(2027, 1, 11), "Colorado State, before 1 February: 18 wk + 3"),
    (
        "narcissus",
        date(2026, 10, 10),
        date(2027, 1, 30),
        "IBC, daffodils for cut flowers: 16 wk + 3 to 20 February",
    ),
    ("easter lily", date(2014, 10, 26), date(2014, 12, 7), "McAvoy 2014, Easter 5 April 2015"),
    ("easter lily", date(2009, 10, 22), date(2009, 12, 3), "Easter 2010, case-cooled from 22 October, 42 d"),
    ("easter lily", date(2009, 11, 3), date(2009, 12, 15), "Easter 2010, pot-cooled from 3 November, 42 d"),
]


@pytest.mark.parametrize(("crop", "start", "out", "source"), SCHEDULES)
def test_printed_schedules_are_within_the_cold_that_a_recipe_allows(
    crop: str, start: date, out: date, source: str
) -> None:
    recipe = BOOK.recipe(crop)
    assert recipe.cold_min <= weeks(start, out) <= recipe.cold_max, source


# ---------------------------------------------------------------- days on the bench

BENCH = [
    # crop, class, at [°C], fraction of the way, printed days, source
    ("tulip", None, 17, 1.0, 21, 28, "IBC, Tulip: 3-4 wk typical; 17 °C as in the Cornell trials"),
    ("tulip", "early", 17, 1.0, 21, 28, "the same"),
    ("tulip", "mid", 17, 1.0, 21, 28, "the same"),
    ("tulip", "late", 17, 1.0, 21, 28, "the same"),
    ("tulip", None, celsius(60), 1.0, 21, 28, "Iowa State 2011: 60-70 °F, 3-4 wk"),
    ("tulip", None, celsius(68), 1.0, 14, 21, "Colorado State: raised to 68 °F, 2-3 wk"),
    ("hyacinth", None, 18, 1.0, 14, 21, "IBC, hyacinth cut (florets turned out): 2-3 wk at 20 to 18 °C"),
    ("hyacinth", None, 20, 1.0, 14, 21, "the same"),
    ("hyacinth", None, 18, 0.5, 7, 14, "IBC, hyacinth pots, spike visible: 1-2 wk, 18 °C"),
    ("hyacinth", None, 20, 0.5, 7, 14, "the same, 20 °C"),
    ("prepared hyacinth", None, 25, 1.0, 7, 14, "IBC, hyacinth pots for Christmas: 1-2 wk at 25 °C"),
    ("prepared hyacinth", None, 18, 1.0, 0, 21, "UK nursery: in flower within 3 wk"),
    ("narcissus", None, 15, 0.5, 7, 14, "IBC, narcissus pots: 1-2 wk to saleable (bud), 15 °C"),
    ("narcissus", None, 18, 0.5, 7, 14, "the same, 18 °C"),
    ("narcissus", None, 16, 1.0, 14, 28, "IBC, narcissus boxes: 2-4 wk, 16 °C"),
    ("narcissus", None, 18, 1.0, 14, 28, "the same, 18 °C"),
    ("miniature narcissus", None, 16, 1.0, 14, 21, "farm page: 2-3 wk"),
    ("crocus", None, 15, 1.0, 14, 21, "chill table: 2-3 wk"),
    ("crocus", None, 12, 1.0, 21, 28, "garden calendar: 3-4 wk at 12 °C"),
    ("muscari", None, 15, 1.0, 14, 21, "chill table: 2-3 wk"),
    ("iris reticulata", None, 15, 1.0, 14, 21, "chill table: 2-3 wk"),
    ("scilla", None, 15, 1.0, 14, 21, "Saskatchewan Perennial Society: 2-3 wk"),
    (
        "easter lily",
        None,
        celsius(63.5),
        1.0,
        118.5,
        119.5,
        "McAvoy 2014: 17 wk; soil 62-65 °F, Blom & Fisher",
    ),
    ("asiatic lily", None, 14, 1.0, 63, 112, "IBC, lily pots: 9-16 wk at 14-16 °C"),
    ("asiatic lily", None, 16, 1.0, 63, 112, "the same, 16 °C"),
    ("asiatic lily", None, 15, 1.0, 60, 90, "University of Massachusetts, hybrid lilies in pots"),
    ("oriental lily", None, 15, 1.0, 80, 130, "the same"),
    ("amaryllis", None, celsius(68), 1.0, 42, 56, "newspaper column: 6-8 wk at 68-70 °F"),
    ("amaryllis", None, celsius(70), 1.0, 42, 56, "the same, 70 °F"),
    ("paperwhite", None, 18, 1.0, 28, 42, "Missouri Botanical Garden 2023: 4-6 wk"),
]


@pytest.mark.parametrize(("crop", "kind", "at", "fraction", "low", "high", "source"), BENCH)
def test_bench_days_after_the_planned_cold_lie_within_the_printed_time(
    crop: str, kind: BloomClass | None, at: float, fraction: float, low: float, high: float, source: str
) -> None:
    recipe = BOOK.recipe(crop, kind)
    assert low <= days(recipe, recipe.cold_target, at, fraction) <= high, source


def test_narcissus_meets_both_points_of_rees_and_hanks() -> None:
    # Rees & Hanks 1984: 2000 units below 30 °C -> 30 d at 16 °C, 2250 -> 21 d; 9 °C gives 21 units a day
    recipe = BOOK.recipe("narcissus")
    assert days(recipe, 2000 / 21 / 7, 16) == pytest.approx(30, abs=0.5)
    assert days(recipe, 2250 / 21 / 7, 16) == pytest.approx(21, abs=0.5)


def test_two_more_weeks_of_cold_end_later_in_narcissus() -> None:
    # Rees & Hanks 1984: 1-2 extra weeks shorten the glasshouse time, yet two extra weeks made the final date later
    recipe = BOOK.recipe("narcissus")
    saved = days(recipe, 13.61, 16) - days(recipe, 15.61, 16)
    assert 0 < saved < 14


def test_tulip_saves_five_days_from_12_to_14_weeks() -> None:
    # Marcinek, Laskowska & Szmagara 2013: about 5 d on average; earliest after 14 wk 25.2 d, latest after 12 wk 35.2 d
    recipe = BOOK.recipe("tulip")
    assert days(recipe, 12, 17) - days(recipe, 14, 17) == pytest.approx(5, abs=0.5)
    assert 25.2 <= days(recipe, 14, 17) <= days(recipe, 12, 17) <= 35.2


def test_tulips_after_long_cold_are_no_faster_than_printed() -> None:
    # grower, 2017: 17-20 d at the quickest; Colorado State: 2-3 wk after up to 20 wk
    for kind in (None, *CLASSES):
        assert 14 <= days(BOOK.recipe("tulip", kind), 20, 17) <= 21


def test_narcissus_after_12_weeks_in_october_blooms_in_january() -> None:
    # newspaper column, October 2021: tulip and daffodil pots 12 wk at 45-50 °F, those of mid-October bloom in mid to
    # late January, 15 to 31: from 15 October and 84 d of cold (7 January) that is 8 to 24 d in a house of 20 °C
    assert 8 <= days(BOOK.recipe("narcissus"), 12, 20) <= 24


def test_narcissus_boxes_over_their_whole_span_of_cold() -> None:
    # IBC, narcissus boxes: 14-18 wk, then 2-4 wk at 16-18 °C
    recipe = BOOK.recipe("narcissus")
    assert 14 <= days(recipe, 18, 16) <= days(recipe, 14, 16) <= 28


def test_narcissus_for_cutting_takes_16_weeks_and_3() -> None:
    # IBC, "Producing daffodils for cut flowers": 16 wk of cold and 3 wk in the greenhouse
    assert days(BOOK.recipe("narcissus"), 16, 16) == pytest.approx(21, abs=0.5)


def test_dwarf_asiatic_lily_response_to_temperature() -> None:
    # abstract on dwarf Asiatic lilies: 10 -> 15 °C saves 30-50 d, 15 -> 20 °C about 10 d, 20 -> 25 °C none
    recipe = BOOK.recipe("asiatic lily")
    d10, d15, d20, d25 = (days(recipe, recipe.cold_target, at) for at in (10, 15, 20, 25))
    assert 30 <= d10 - d15 <= 50
    assert d15 - d20 == pytest.approx(10, abs=1)
    assert d20 - d25 == pytest.approx(0, abs=0.05)


EASTERS = [
    # forcing starts, Easter, source: dates that the trade printed
    (date(2014, 12, 7), date(2015, 4, 5), "McAvoy 2014: 119 d"),
    (date(2009, 12, 7), date(2010, 4, 4), "Easter 2010, case-cooled: 118 d"),
    (date(2017, 12, 3), date(2018, 4, 1), "UMass note 2017: 23-week programme from 22 October, less 6 wk"),
]


@pytest.mark.parametrize(("start", "easter", "source"), EASTERS)
def test_easter_lily_calendars(start: date, easter: date, source: str) -> None:
    recipe = BOOK.recipe("easter lily")
    printed = (easter - start).days
    typical = days(recipe, 6, 17.5)
    assert abs(printed - typical) <= recipe.spread * typical, source


def test_easter_lily_needs_23_weeks_from_cold_to_bloom() -> None:
    # McAvoy 2014: 26 October 2014 is 23 wk before Easter, 5 April 2015: 6 wk of cold and 17 wk in the greenhouse
    recipe = BOOK.recipe("easter lily")
    assert recipe.cold_target + days(recipe, 6, 17.5) / 7 == pytest.approx(
        weeks(date(2014, 10, 26), date(2015, 4, 5)), abs=0.5 / 7
    )


def test_easter_lily_stages() -> None:
    recipe = BOOK.recipe("easter lily")
    # McAvoy 2012: visible bud to bloom about 5 wk
    assert days(recipe, 6, 17.5, 1 - recipe.bud) / 7 == pytest.approx(5, abs=0.5)
    # Blom & Fisher 2002: Easter 31 March 2002, emergence 20-25 December, puffy bud shipped 11-26 March
    easter = date(2002, 3, 31)
    emergence = days(recipe, 6, 17.5, 1 - recipe.shoots)
    assert (easter - date(2001, 12, 25)).days - 0.5 <= emergence <= (easter - date(2001, 12, 20)).days + 0.5
    puffy = days(recipe, 6, 17.5, 1 - recipe.colour)
    assert (easter - date(2002, 3, 26)).days <= puffy <= (easter - date(2002, 3, 11)).days


def test_ziva_paperwhite_is_within_twice_its_own_spread() -> None:
    # Volcani archive: 'Ziva' about 40 d from October planting
    recipe = BOOK.recipe("paperwhite")
    assert abs(40 - recipe.bench_days) <= 2 * recipe.spread * recipe.bench_days


@pytest.mark.xfail(
    strict=True,
    reason="35 d is printed for mid-February forcing of bulbs housed early in January; our recipe is for the "
    "3-4 wk (IBC) of a spring show, and the earliest forcing is slower than that",
)
def test_tulips_for_mid_february_take_35_days() -> None:
    # supplier's tulip sheet: 58-65 °F from 10 January, ready 14 February, after 16.7 wk of cold
    recipe = BOOK.recipe("tulip")
    typical = days(recipe, 16.7, celsius(61.5))
    assert abs(35 - typical) <= 2 * recipe.spread * typical


# ---------------------------------------------------------------- cooler, cold credit, other limits


def test_steps_of_the_cooler() -> None:
    # Cornell 2017: 9, 5, 1 °C; IBC: narcissus pots 9, 5, 2 °C; IBC: hyacinth pots 9 °C throughout
    steps = {crop: BOOK.recipe(crop) for crop in ("tulip", "narcissus", "hyacinth", "prepared hyacinth")}
    found = {crop: (r.rooting_at, r.cooled_at, r.kept_at) for crop, r in steps.items()}
    assert found == {
        "tulip": (9, 5, 1), "narcissus": (9, 5, 2), "hyacinth": (9, 9, 9), "prepared hyacinth": (9, 9, 9),
    }  # fmt: skip


@pytest.mark.parametrize("crop", ["tulip", "narcissus", "crocus", "miniature narcissus", "hyacinth"])
@pytest.mark.parametrize("at", [celsius(41), 5.0, celsius(48), 9.0])
def test_published_cold_counts_in_full(crop: str, at: float) -> None:
    # Cornell 2017: 48 and 41 °F; Rees & Hanks 1984: 9 °C; Oklahoma 1994: 5 °C
    assert np.interp(at, *curve_nodes(BOOK.recipe(crop).cold_curve)) == pytest.approx(1)


@pytest.mark.parametrize("at", [2.0, 5.0, celsius(40), celsius(42), celsius(45)])
def test_lily_cold_counts_in_full(at: float) -> None:
    # IASRI: 2-5 °C; Easter 2010: 42 °F; McAvoy 2014: 40-45 °F
    assert np.interp(at, *curve_nodes("lily")) == pytest.approx(1)


def test_a_lily_bulb_stands_still_near_freezing() -> None:
    # greenhouse magazine, November 2010: at 32-34 °F the bulb stands still
    assert np.interp([0.0, celsius(32), celsius(34)], *curve_nodes("lily")) == pytest.approx(0, abs=0.02)


def test_tete_a_tete_is_cooled_in_full_at_9_5_and_2_degrees() -> None:
    # Vreeburg & Schipper 1990, Acta Hort. 266:33
    assert np.interp([2, 5, 9], *curve_nodes("miniature narcissus")).tolist() == [1, 1, 1]


def test_warm_and_frozen_time_counts_for_nothing() -> None:
    # 17 °C holds bulbs before the cold (Acta Hort. 68:11): it is no cold
    for crop in BOOK.crops:
        nodes = curve_nodes(BOOK.recipe(crop).cold_curve)
        assert np.interp([-5, -2, 13, 17, 25], *nodes).tolist() == [0] * 5


def test_near_freezing_rooms_are_worth_less_to_hyacinth_and_miniature_narcissus_only() -> None:
    # Cornell June 2013: hyacinth and 'Tete-a-Tete' grow very slowly after rooms below their best; tulip is run at 1 °C
    for crop in ("hyacinth", "prepared hyacinth", "miniature narcissus"):
        at_1, at_5 = np.interp([1, 5], *curve_nodes(BOOK.recipe(crop).cold_curve))
        assert at_1 < at_5
    assert np.interp(1, *curve_nodes("tulip")) == 1


def test_dry_cold_that_may_count() -> None:
    # IBC, Tulip: at most 9 wk dry; Oklahoma 1994: 10 wk without loss, 12 with; IBC, narcissus: 6 of 14 wk dry
    assert BOOK.recipe("tulip").precooled_max == 9
    assert BOOK.recipe("narcissus").precooled_max == 6
    # Easter 2010: case-cooled, all 42 d before potting
    assert BOOK.recipe("easter lily").precooled_max == 6


def test_tulip_shoots_in_the_cooler_by_early_january() -> None:
    # floriculture lecture: 41 °F until 1-5 January; supplier's sheet: planted mid-September for mid-February
    # and rooting rooms filled to October: the earliest and latest of these bracket our weeks
    recipe = BOOK.recipe("tulip")
    assert (
        weeks(date(2026, 10, 12), date(2027, 1, 1))
        <= recipe.sprouting
        <= weeks(date(2026, 9, 15), date(2027, 1, 5))
    )


def test_frost_on_tulip_and_narcissus() -> None:
    # reference pages: foliage sound at 29 °F, hurt below 28 °F
    for crop in ("tulip", "narcissus", "miniature narcissus"):
        assert celsius(28) <= BOOK.recipe(crop).frost <= celsius(29)


def test_pots_of_bulbs() -> None:
    # Iowa State 2011, 6 in pot: tulip 5-7, hyacinth 3, daffodil 3-5, crocus 10-12; Cornell: tulip 6;
    # supplier's lily sheet, 6 in pot: 1-3 by bulb size
    printed = {
        "tulip": (6, 6), "hyacinth": (3, 3), "narcissus": (3, 5), "crocus": (10, 12), "easter lily": (1, 3),
        "asiatic lily": (1, 3),
    }  # fmt: skip
    for crop, (low, high) in printed.items():
        recipe = BOOK.recipe(crop)
        assert low <= recipe.bulbs_per_pot <= high
        assert recipe.pot == pytest.approx(6 * 2.54, abs=0.5)


def test_limits_of_the_bench() -> None:
    # Iowa State 2011: from 50 °F; Super Floral 2014: never over 70 °F; IBC, narcissus: up to 18 °C;
    # IBC, hyacinth: up to 25 °C; abstract on dwarf Asiatic lilies: fewer buds lost at 10-20 °C than at 25 °C
    tulip, narcissus, lily = (BOOK.recipe(crop) for crop in ("tulip", "narcissus", "asiatic lily"))
    assert tulip.bench_low == pytest.approx(celsius(50)) and tulip.bench_high <= celsius(70)
    assert narcissus.bench_high == 18
    assert BOOK.recipe("hyacinth").bench_high == 25
    assert (lily.bench_low, lily.bench_high) == (10, 20)


def test_life_on_display() -> None:
    # reference pages: tulip 1-2 wk at 45-55 °F, few days over 70 °F; farm page: daffodil pots 2-3 wk if cool
    tulip = BOOK.recipe("tulip")
    assert on_show(tulip, celsius(70)) < 8
    # Nell, Barrett & De Hertogh 1992: from the stage of sale 18 d at 18 °C and 8 d at 26 °C; colour to bloom, 15 % of
    # 360 °C·d, is 3.4 and 3.0 d of that. A place of a five-week show filled 3 to 4 times (2022): 9-12 d a pot.
    assert 9 <= on_show(tulip, 18) <= 18 - 3.4
    assert on_show(tulip, 26) == pytest.approx(8 - 3.0, abs=0.2)
    # never longer than the longest in print, 18 d; LancasterOnline 2023, Longwood: a flower up to 2 wk outdoors, and
    # the flowers of a pot open over some days
    assert 14 <= on_show(tulip, 5) <= 18
    assert 14 <= BOOK.recipe("narcissus").display_days <= 21
    # Agriculture 2022, 12(12):2114: fresh Narcissus poeticus 7.5-8.5 d in the vase, 20 °C taken
    daffodil = BOOK.recipe("narcissus")
    vase = daffodil.display_days * (daffodil.display_reference - daffodil.base) / (20 - daffodil.base)
    assert 7.5 <= vase <= 8.5


def test_spread_covers_the_errors_in_print() -> None:
    # Yang, Luo & Chen 2007: 2.3, 2.9, 1.2, 3.2 d a stage, a mean of 2.4 d; here of the days on the bench
    tulip = BOOK.recipe("tulip")
    assert tulip.spread * tulip.bench_days == pytest.approx((2.3 + 2.9 + 1.2 + 3.2) / 4, abs=0.05)


def test_cold_hold_of_lilies_and_crocus() -> None:
    # New England greenhouse update 2017: lilies held cold in bud up to 2 wk; importer's library: crocus at 34-38 °F,
    # a cool pot lasts 7-12 d
    crocus = BOOK.recipe("crocus")
    assert BOOK.recipe("easter lily").hold_max == 14
    assert celsius(34) <= crocus.hold <= celsius(38) and 7 <= crocus.display_days <= 12


def test_cold_hold_of_potted_tulips() -> None:
    # ASHS 2016, paper 24274: 1, 4, 7 °C for 1, 2, 4, 7 wk; beyond 1 wk use 1 °C
    tulip = BOOK.recipe("tulip")
    assert tulip.hold == 1 and 7 <= tulip.hold_max <= 49
