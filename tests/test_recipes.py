"""The shipped recipes as a table, how a recipe is resolved, what is found wrong in one, and its printed text."""

from __future__ import annotations

import csv
import dataclasses
import itertools
import pickle
import re
import subprocess
import sys
from collections import Counter
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.engine.work.rules import RULES
from forcing.errors import RecipeError
from forcing.model import CLASSES, PARAMETERS, BloomClass, Figure, Override, Recipe
from forcing.recipes.book import (
    UNITS,
    CompanionBook,
    RecipeBook,
    curve_names,
    curve_nodes,
    shipped_companion_figures,
    shipped_figures,
    shipped_minutes,
    shipped_sources,
)
from forcing.recipes.listing import crops_text

COMPANIONS = CompanionBook.from_overrides()
CROPS = (
    "tulip", "hyacinth", "prepared hyacinth", "narcissus", "miniature narcissus", "crocus", "muscari",
    "iris reticulata", "scilla", "easter lily", "asiatic lily", "oriental lily", "amaryllis", "paperwhite",
)  # fmt: skip
TABLES = {
    "recipes.csv": "crop,class,cultivar,parameter,low,typical,high,unit,basis,source,locator",
    "companions.csv": "crop,parameter,low,typical,high,unit,basis,source,locator",
    "cold_curves.csv": "curve,temperature,weight,basis,source,locator",
    "minutes.csv": "task,per_pot,each_time,basis,source,locator",
    "look_for.csv": "crops,task,words,basis,source,locator",
}
# DESIGN, recipe parameters, and the four the nouns add; restated here on purpose.
UNIT_WORDS = {
    "weeks": "cold_min cold_target cold_max rooting sprouting precooled_max line_from line_to pot_by "
    "earliest",
    "name": "cold_curve",
    "°C": "rooting_at cooled_at kept_at base cap reference bench_low bench_high hold display_reference "
    "display_base store_at frost",
    "days": "bench_days bench_days_min hold_max display_days display_longest potted_wait",
    "days per week": "days_saved",
    "fraction of need": "shoots bud colour",
    "fraction": "spread",
    "count": "bulbs_per_pot",
    "cm": "pot",
}


def _text(name: str) -> str:
    return resources.files("forcing.recipes").joinpath(name).read_bytes().decode("utf-8")


def _rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(_text(name).split("\n")))


def _all_rows() -> list[dict[str, str]]:
    return [row for name in TABLES for row in _rows(name)]


def _book(*rows: Override) -> RecipeBook:
    return RecipeBook.from_overrides(rows)


def _new_crop(**changes: float | str | None) -> tuple[Override, ...]:
    """Everything a crop of the house's own must state; a change of None leaves a figure out."""
    figures: dict[str, float | str | None] = {
        "cold_min": 10, "cold_target": 12, "cold_max": 15, "cold_curve": "bulb", "rooting": 3, "rooting_at": 8,
        "base": 2, "cap": 20, "reference": 15, "bench_days": 20, "bench_days_min": 12, "days_saved": 2,
        "shoots": 0.2, "bud": 0.5, "colour": 0.8, "bench_low": 8, "bench_high": 18, "hold": 2, "hold_max": 5,
        "display_reference": 10, "display_days": 9, "frost": -2, "spread": 0.1, "bulbs_per_pot": 5, "pot": 13,
    } | changes  # fmt: skip
    return tuple(Override("Fritillaria", name, value) for name, value in figures.items() if value is not None)


# ---------------------------------------------------------------- the tables


@pytest.mark.parametrize("name", TABLES)
def test_tables_have_their_columns_and_lf_line_ends(name: str) -> None:
    text = _text(name)
    assert text.splitlines()[0] == TABLES[name]
    assert "\r" not in text and text.endswith("\n") and not text.endswith("\n\n")


def test_every_row_says_where_it_comes_from() -> None:
    for row in _all_rows():
        assert row["basis"] in ("published", "derived", "practice"), row
        assert row["locator"].strip(), row
        assert row["source"] in shipped_sources(), row
        # practice and the source of that name go together, and such a row says that it has no source
        assert (row["basis"] == "practice") == (row["source"] == "practice"), row
        assert (row["basis"] == "practice") == ("no source" in row["locator"]), row


def test_every_source_is_named_by_a_row_and_every_cited_key_exists() -> None:
    rows = _all_rows()
    cited = {key for row in rows for key in re.findall(r"\[([^\]]*)\]", row["locator"])}
    assert cited <= set(shipped_sources())
    assert cited | {row["source"] for row in rows} == set(shipped_sources())


def test_sources_are_complete() -> None:
    for key, source in shipped_sources().items():
        assert source.key == key
        assert source.author and source.title and source.where
        assert source.kind in ("research", "extension", "bulb body", "trade", "garden press", "practice")
        assert source.confidence in ("high", "medium", "low")
        assert source.year is None or 1960 <= source.year <= 2026
        assert "http" not in f"{source.author}{source.title}{source.where}"


def test_one_row_for_each_figure() -> None:
    count = Counter((r["crop"], r["class"], r["cultivar"], r["parameter"]) for r in _rows("recipes.csv"))
    assert [key for key, n in count.items() if n > 1] == []


def test_figures_have_a_range_their_unit_and_a_known_class() -> None:
    units = {name: unit for unit, names in UNIT_WORDS.items() for name in names.split()}
    assert set(units) == set(PARAMETERS) == set(UNITS)
    for figure in shipped_figures():
        assert figure.unit == units[figure.parameter] == UNITS[figure.parameter]
        assert figure.bloom_class in (None, *CLASSES)
        if figure.parameter == "cold_curve":
            assert figure.typical in curve_names() and figure.low is None and figure.high is None
        else:
            assert figure.low is not None and figure.high is not None
            assert figure.low <= float(figure.typical) <= figure.high, figure


def test_no_cultivar_table_is_made_up() -> None:
    assert {figure.cultivar for figure in shipped_figures()} == {None}


def test_cold_curves_rise_in_temperature_and_stay_between_0_and_1() -> None:
    assert set(curve_names()) == {
        "bulb", "tulip", "narcissus", "miniature narcissus", "hyacinth", "lily", "none",
    }  # fmt: skip
    for name in curve_names():
        temperatures, weights = curve_nodes(name)
        assert list(temperatures) == sorted(set(temperatures)) and len(temperatures) == len(weights) > 1
        assert all(0 <= w <= 1 for w in weights)
        assert weights[0] == weights[-1] == 0  # beyond the ends nothing is credited
        assert max(weights) == (0 if name == "none" else 1)
    assert curve_nodes("  Miniature   NARCISSUS ") == curve_nodes("miniature narcissus")
    with pytest.raises(RecipeError, match=r"no cold curve 'frost'.*tulip"):
        curve_nodes("frost")


def test_what_to_look_for_is_said_of_shipped_crops_and_tasks_in_a_line() -> None:
    known = {*CROPS, *(figure.crop for figure in shipped_companion_figures())}
    for row in _rows("look_for.csv"):
        assert set(row["crops"].split("; ")) <= known, row
        assert row["task"] in RULES and 0 < len(row["words"]) <= 120, row
    crops_and_tasks = [(crop, r["task"]) for r in _rows("look_for.csv") for crop in r["crops"].split("; ")]
    assert len(set(crops_and_tasks)) == len(crops_and_tasks)
    assert {crop for crop, task in crops_and_tasks if task == "pot"} == set(CROPS)


def test_minutes_are_given_for_every_kind_of_task() -> None:
    assert [m.task for m in shipped_minutes()] == [
        "order", "unpack", "pot", "into cooler", "root check", "step down", "bring in", "check shoots", "check bud",
        "check colour", "turn and space", "move", "hold", "harden off", "set out", "dispatch", "sow",
        "germination check", "prick out", "transplant", "feed", "pinch", "deadhead", "swap",
        "cover", "uncover", "clear", "clean", "look back",
    ]  # fmt: skip
    assert all(m.per_pot >= 0 and m.each_time >= 0 and m.per_pot + m.each_time > 0 for m in shipped_minutes())
    assert all(row["basis"] == "practice" for row in _rows("minutes.csv"))


# ---------------------------------------------------------------- shipped recipes


@pytest.mark.parametrize(("crop", "kind"), list(itertools.product(CROPS, (None, *CLASSES))))
def test_every_crop_and_class_resolves_to_a_sound_recipe(crop: str, kind: BloomClass | None) -> None:
    book = _book()
    recipe = book.recipe(crop, kind, "Any Name")
    assert book.check(recipe) == ()
    assert (recipe.crop, recipe.bloom_class, recipe.cultivar) == (crop, kind, "Any Name")
    assert tuple(recipe.figures) == PARAMETERS
    assert all(getattr(recipe, name) == figure.typical for name, figure in recipe.figures.items())
    assert all(figure.bloom_class in (None, kind) for figure in recipe.figures.values())
    assert 0 <= recipe.days_saved < 7
    assert recipe.needs_cold == (crop not in ("amaryllis", "paperwhite"))
    assert recipe.frost < recipe.bench_low and recipe.kept_at <= recipe.cooled_at <= recipe.rooting_at


def test_crops_are_those_of_the_table_and_in_its_order() -> None:
    assert _book().crops == CROPS


def test_crops_without_cold_ask_for_none() -> None:
    for crop in ("amaryllis", "paperwhite"):
        recipe = _book().recipe(crop)
        assert recipe.cold_curve == "none"
        zero = ("cold_min", "cold_target", "cold_max", "rooting", "sprouting", "precooled_max", "days_saved")
        assert [getattr(recipe, name) for name in zero] == [0] * len(zero)


def test_later_classes_of_tulip_want_more_cold_and_longer_on_the_bench() -> None:
    early, mid, late = (_book().recipe("tulip", kind) for kind in CLASSES)
    for name in ("cold_min", "cold_target", "cold_max", "bench_days"):
        assert getattr(early, name) < getattr(late, name)
        assert getattr(early, name) <= getattr(mid, name) <= getattr(late, name)
    # without a class: as mid
    assert dataclasses.replace(mid, bloom_class=None) == _book().recipe("tulip")


# ---------------------------------------------------------------- which row wins

REACHES: tuple[tuple[BloomClass | None, str | None], ...] = (
    (None, None), ("late", None), (None, "Ivory"), ("late", "Ivory"),
)  # fmt: skip  # rising reach, DESIGN section 6


def _figure(owner: str, reach: tuple[BloomClass | None, str | None], value: float) -> Figure:
    basis, source = ("house", "logs") if owner == "house" else ("practice", "practice")
    return Figure("tulip", "bench_days", value, "days", basis, source, "", *reach)  # type: ignore[arg-type]


RANKED = [(owner, reach) for reach in REACHES for owner in ("shipped", "house")]


@pytest.mark.parametrize("top", range(len(RANKED)))
def test_the_most_specific_row_wins_and_the_house_over_the_shipped_at_equal_reach(top: int) -> None:
    # rows 1 .. top are there: the last one must win, whatever the others say
    shipped = [_figure(o, r, 100 + i) for i, (o, r) in enumerate(RANKED[: top + 1]) if o == "shipped"]
    house = [_figure(o, r, 100 + i) for i, (o, r) in enumerate(RANKED[: top + 1]) if o == "house"]
    book = RecipeBook((*shipped_figures(), *shipped, *house))
    won = book.recipe("tulip", "late", "Ivory").figures["bench_days"]
    # the shipped late row (27 d) is more specific than either row for the whole crop
    assert won.typical == (27 if top < 2 else 100 + top)
    assert won.basis == ("practice" if top < 2 or RANKED[top][0] == "shipped" else "house")


@settings(max_examples=60, deadline=None)
@given(
    there=st.sets(st.sampled_from(REACHES)),
    kind=st.sampled_from([None, *CLASSES]),
    cultivar=st.sampled_from([None, "Ivory", "ivory ", "Other"]),
)
def test_precedence_against_brute_force(
    there: set[tuple[BloomClass | None, str | None]], kind: BloomClass | None, cultivar: str | None
) -> None:
    value = {reach: 200.0 + i for i, reach in enumerate(REACHES)}
    book = _book(*(Override("hyacinth", "bench_days", value[r], *r) for r in there))
    fits = [
        r for r in there
        if r[0] in (None, kind) and (r[1] is None or r[1].lower() == (cultivar or "").strip().lower())
    ]  # fmt: skip
    rank = {(True, True): 3, (False, True): 2, (True, False): 1, (False, False): 0}
    best = max(fits, key=lambda r: rank[(r[0] is not None, r[1] is not None)], default=None)
    wanted = 14.0 if best is None else value[best]  # 14 d is the shipped figure
    assert book.recipe("hyacinth", kind, cultivar).bench_days == wanted


def test_a_house_row_for_the_crop_does_not_reach_past_a_shipped_row_for_the_class() -> None:
    book = _book(Override("tulip", "bench_days", 25.0))
    assert book.recipe("tulip").bench_days == 25
    assert book.recipe("tulip", "mid").bench_days == 25  # no shipped row for mid
    assert book.recipe("tulip", "late").bench_days == 27


def test_of_two_house_rows_for_one_figure_the_later_wins() -> None:
    book = _book(Override("tulip", "spread", 0.2, row=2), Override("Tulip", "spread", 0.3, row=3))
    figure = book.recipe("tulip").figures["spread"]
    assert (figure.typical, figure.basis, figure.unit) == (0.3, "house", "fraction")
    assert figure.locator == "crops table, row 3"


def test_names_compare_without_capitals_and_extra_spaces() -> None:
    book = _book(Override(" IRIS  Reticulata ", "spread", 0.3, cultivar=" Blue   Ditty "))
    assert book.crops == CROPS and book.knows("Iris reticulata") and not book.knows("iris")
    assert book.recipe("Iris  RETICULATA", None, "blue ditty").spread == 0.3
    assert book.recipe("iris reticulata").spread == 0.15
    assert book.recipe("IRIS reticulata").crop == "iris reticulata"


def test_an_override_keeps_its_range_and_source() -> None:
    row = Override("tulip", "days_saved", 3.0, "mid", None, 2.0, 4.0, "bench logs", 7)
    assert _book(row).recipe("tulip", "mid").figures["days_saved"] == Figure(
        "tulip", "days_saved", 3.0, "days per week", "house", "bench logs", "crops table, row 7", "mid", None,
        2.0, 4.0,
    )  # fmt: skip


# ---------------------------------------------------------------- new crops, and what cannot be resolved


def test_a_new_crop_works_and_may_leave_four_figures_out() -> None:
    book = _book(*_new_crop())
    recipe = book.recipe("fritillaria", "early")
    assert book.crops == (*CROPS, "Fritillaria") and book.check(recipe) == ()
    assert (recipe.cooled_at, recipe.kept_at, recipe.sprouting, recipe.precooled_max) == (8, 8, 15, 15)
    for name, other in (("cooled_at", "rooting_at"), ("kept_at", "rooting_at"), ("sprouting", "cold_max")):
        figure = recipe.figures[name]
        assert (figure.parameter, figure.basis, figure.source) == (name, "practice", "practice")
        assert other in figure.locator
    assert recipe.figures["base"].basis == "house"
    given = _book(*_new_crop(cooled_at=5, kept_at=2, sprouting=9, precooled_max=0)).recipe("fritillaria")
    assert (given.cooled_at, given.kept_at, given.sprouting, given.precooled_max) == (5, 2, 9, 0)


def test_a_recipe_that_lacks_figures_names_them_all() -> None:
    with pytest.raises(RecipeError, match=r"recipe of Fritillaria, late: no figure for cold_max, base, pot$"):
        _book(*_new_crop(base=None, pot=None, cold_max=None)).recipe("Fritillaria", "late")


def test_figures_that_cannot_be_used_are_named_at_once() -> None:
    book = _book(*_new_crop(cold_curve="quince", base="warm", cap=float("nan"), pot=None))
    with pytest.raises(RecipeError) as caught:
        book.recipe("fritillaria")
    text = str(caught.value)
    for part in ("no figure for pot", "cold_curve is none of bulb", "(quince)", "base is not a number (warm)",
                 "cap is not a number (nan)"):  # fmt: skip
        assert part in text
    with pytest.raises(RecipeError, match="cold_curve is none of"):
        _book(Override("tulip", "cold_curve", 9.0)).recipe("tulip")


def test_an_unknown_crop_is_named_with_those_near_it() -> None:
    with pytest.raises(RecipeError, match=r"no recipe for the crop 'Tulips'; near it: tulip"):
        _book().recipe("Tulips")
    with pytest.raises(RecipeError, match=r"'qqq'; known: tulip, hyacinth.*paperwhite"):
        _book().recipe("qqq")
    with pytest.raises(RecipeError, match="'Fritilaria'; near it: Fritillaria"):
        _book(*_new_crop()).recipe("Fritilaria")


def test_a_parameter_that_no_recipe_has_is_refused() -> None:
    with pytest.raises(RecipeError, match="no recipe has: colour_of_pot, zeal"):
        _book(Override("tulip", "zeal", 1.0), Override("tulip", "colour_of_pot", 1.0))


# ---------------------------------------------------------------- contradictions


def _changed(**changes: float | str) -> Recipe:
    return _book(*(Override("tulip", name, value) for name, value in changes.items())).recipe("tulip")


# tulip as shipped: cold 13-16-18 weeks, base 2, cap 20, reference 17 °C, bench 24 (least 17) d, bench 10-20 °C
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"cold_min": 16.1}, "cold_min, cold_target and cold_max must not fall: 16.1, 16, 18 weeks"),
        ({"cold_max": 15.9}, "must not fall: 13, 16, 15.9 weeks"),
        ({"cold_min": -1.0}, "must not fall: -1, 16, 18 weeks"),
        ({"rooting": -0.5}, "rooting must be from 0 to 60"),
        ({"sprouting": -1.0}, "sprouting must be from 0 to 60"),
        ({"precooled_max": -1.0}, "precooled_max must be from 0 to 60"),
        ({"cold_curve": "none"}, "cold_curve 'none' credits no cold, but 16 weeks are wanted"),
        ({"cap": 2.0}, "base must be below cap: 2 °C and 2 °C"),
        ({"reference": 2.0}, "base must be 1 °C or more below reference: 2 °C and 2 °C"),
        ({"reference": 20.5}, "reference must not be above cap: 20.5 °C and 20 °C"),
        ({"display_reference": 2.0}, "base must be 1 °C or more below display_reference"),
        (
            {"bench_days_min": 24.1},
            "bench_days_min must be above 0 and not above bench_days: 24.1 and 24 days",
        ),
        ({"bench_days_min": 0.0}, "bench_days_min must be above 0"),
        ({"days_saved": -0.1}, "days_saved must be 0 or more and below 7: -0.1"),
        ({"days_saved": 7.0}, "days_saved must be 0 or more and below 7: 7"),
        ({"shoots": 0.0}, "shoots, bud and colour must rise between 0 and 1: 0, 0.5, 0.85"),
        ({"bud": 0.2}, "must rise between 0 and 1: 0.2, 0.2, 0.85"),
        ({"colour": 1.0}, "must rise between 0 and 1: 0.2, 0.5, 1"),
        ({"bench_low": 20.0}, "bench_low must be below bench_high: 20 °C and 20 °C"),
        ({"bench_high": 2.0, "bench_low": 1.0}, "bench_high must be above base"),
        ({"rooting_at": 0.0}, "rooting_at must be above 0 °C"),
        ({"hold_max": -1.0}, "hold_max must be from 0 to 400"),
        ({"display_days": 0.0}, "display_days must be above 0: 0"),
        ({"spread": 0.0}, "spread must be above 0: 0"),
        ({"rooting": -1.0}, "rooting must be from 0 to 60"),
        ({"rooting": 1e308}, "rooting must be from 0 to 60"),
        ({"bench_days": 1e308}, "bench_days must be from 0 to 400"),
        ({"spread": 1.01}, "spread must be from 0 to 1"),
        ({"reference": 2.9}, "base must be 1 °C or more below reference: 2 °C and 2.9 °C"),
        ({"bulbs_per_pot": 1.5}, "bulbs_per_pot must be a whole number: 1.5"),
        ({"bulbs_per_pot": 0.0}, "bulbs_per_pot must be from 1 to 500"),
        ({"pot": 0.0}, "pot must be from 2 to 200"),
    ],
)
def test_contradictions_are_found(changes: dict[str, float | str], words: str) -> None:
    assert any(words in problem for problem in _book().check(_changed(**changes)))


@pytest.mark.parametrize(
    "changes",
    [
        {"cold_min": 16.0}, {"cold_max": 16.0}, {"cold_min": 0.0}, {"rooting": 0.0}, {"reference": 20.0},
        {"bench_days_min": 24.0}, {"days_saved": 0.0}, {"days_saved": 6.99}, {"hold_max": 0.0},
        {"bench_low": 19.9}, {"rooting_at": 0.1}, {"colour": 0.999}, {"frost": -40.0},
    ],
)  # fmt: skip
def test_the_edges_of_the_rules_are_sound(changes: dict[str, float | str]) -> None:
    assert _book().check(_changed(**changes)) == ()


def test_all_contradictions_come_at_once_in_the_unit_of_the_season() -> None:
    recipe = _changed(base=20.0, spread=-1.0)
    problems = _book().check(recipe, "F")
    # 20 °C = 68 °F, 17 °C = 62.6 °F
    assert "base must be below cap: 68 °F and 68 °F" in problems
    assert "base must be 1.8 °F or more below reference: 68 °F and 62.6 °F" in problems
    assert any("spread" in p for p in problems)


def test_a_typical_outside_its_own_range_is_found() -> None:
    low = _book(Override("tulip", "base", 2.0, low=3.0)).recipe("tulip")
    assert _book().check(low) == ("base: low, typical and high must not fall: 3 °C, 2 °C, 2 °C",)
    high = _book(Override("tulip", "pot", 15.0, high=14.0)).recipe("tulip")
    assert _book().check(high) == ("pot: low, typical and high must not fall: 15, 15, 14",)


def test_a_crop_without_cold_may_have_a_curve_without_credit() -> None:
    assert _book().check(_book().recipe("amaryllis")) == ()


def test_recipes_compare_by_their_numbers_and_travel_between_processes() -> None:
    recipe = _book().recipe("tulip")
    assert pickle.loads(pickle.dumps(recipe)) == recipe
    assert len({recipe, _book().recipe("Tulip")}) == 1


# ---------------------------------------------------------------- the printed text


def test_all_crops_in_short() -> None:
    text = crops_text(_book(), COMPANIONS, None, "C")
    lines = text.split("\n")
    assert re.search(r"^tulip +late +15-17-20 +27 at 17 °C +11 at 18 °C", text, re.M)
    assert re.search(r"^amaryllis +any +none +49 at 20.5 °C", text, re.M)
    assert [line for line in lines if len(line) > 110 or line != line.rstrip()] == []
    assert all(any(line.startswith(crop) for line in lines) for crop in CROPS)


@pytest.mark.parametrize("crop", CROPS)
def test_one_crop_shows_every_figure_with_its_source(crop: str) -> None:
    text = crops_text(_book(), COMPANIONS, crop.upper(), "C")
    body, _, sources = text.partition("\nSources\n")
    for name in PARAMETERS:
        assert re.search(rf"^  {name} +\S", body, re.M), name
    flat = " ".join(body.split())
    for figure in shipped_figures():
        if figure.crop == crop:
            words = re.split(r" ?\[[a-z0-9_]+\]", figure.locator)  # keys turn into numbers
            assert all(" ".join(part.split()) in flat for part in words), figure
    # every number that the text cites has one entry, and the other way round
    assert set(re.findall(r"\[(\d+)\]", body)) == set(re.findall(r"^\[(\d+)\]", sources, re.M))
    assert not re.search(r"\[[a-z]+_[a-z0-9_]+\]", text)  # no bare keys
    assert [line for line in text.split("\n") if len(line) > 110] == []


def test_temperatures_are_shown_in_the_unit_of_the_season() -> None:
    celsius, fahrenheit = (crops_text(_book(), COMPANIONS, "tulip", unit) for unit in ("C", "F"))  # type: ignore[arg-type]
    assert re.search(r"^  frost +-2\.2 +-2 +-1\.7 +°C +derived$", celsius, re.M)
    # -2.2, -2, -1.7 °C are 28.04, 28.4 and 28.94 °F
    assert re.search(r"^  frost +28 +28\.4 +28\.9 +°F +derived$", fahrenheit, re.M)
    # a time is no temperature: 2.5 days per week in both
    for text in (celsius, fahrenheit):
        assert re.search(r"^  days_saved +1\.5 +2\.5 +3\.5 +days per week +derived$", text, re.M)


def test_an_override_that_wins_is_shown_as_the_house_s_own() -> None:
    book = _book(Override("tulip", "bench_days", 25.0, source="bench logs", row=4))
    text = crops_text(book, COMPANIONS, "tulip", "C")
    assert re.search(
        r"^  bench_days +- +25 +- +days +house's own\n      crops table, row 4: bench logs$", text, re.M
    )
    assert (
        " ".join(text.split()).count("wins over your own bench_days") == 2
    )  # the shipped rows for early and late
    assert re.search(
        r"^tulip +any +13-16-18 +25 at 17 °C .* 1$", crops_text(book, COMPANIONS, None, "C"), re.M
    )


def test_an_incomplete_crop_is_shown_with_what_is_missing() -> None:
    long = "A Crop Whose Name Goes On For Longer Than Any Column Of A Table Should"
    book = _book(Override(long, "base", 2.0, "late", "And A Cultivar With A Very Long Name Indeed"))
    short, full = crops_text(book, COMPANIONS, None, "F"), crops_text(book, COMPANIONS, long, "F")
    assert "incomplete" in short and "no figure for cold_min" in short
    assert re.search(r"^  base +- +35\.6 +- +°F +house's own$", full, re.M)  # 2 °C
    assert "Sources" not in full  # nothing of it is shipped
    assert max(len(line) for line in (short + "\n" + full).split("\n")) <= 110
    assert "no figure for cold_min" in crops_text(
        _book(Override("Squill", "base", 2.0)), COMPANIONS, "squill", "C"
    )


def test_contradictions_are_shown_with_the_crop() -> None:
    text = crops_text(_book(Override("hyacinth", "base", 26.0)), COMPANIONS, "hyacinth", "C")
    assert "contradict" in text and "base must be below cap: 26 °C and 25 °C" in text
    assert "contradict" not in crops_text(_book(), COMPANIONS, "hyacinth", "C")


def test_an_unknown_crop_is_refused_with_those_near_it() -> None:
    with pytest.raises(RecipeError, match="near it: hyacinth"):
        crops_text(_book(), COMPANIONS, "hyacint", "C")


def test_companions_are_listed_and_shown_like_the_bulbs() -> None:
    text = crops_text(_book(), COMPANIONS, None, "C")
    assert all(re.search(rf"^{crop} ", text, re.M) for crop in COMPANIONS.crops)
    viola = crops_text(_book(), COMPANIONS, "Viola", "F")
    figures = [figure for figure in shipped_companion_figures() if figure.crop == "viola"]
    assert all(re.search(rf"^  {figure.parameter} +\S", viola, re.M) for figure in figures)
    assert re.search(r"^  finish_reference +53\.6 +59 +64\.4 +°F", viola, re.M)  # 12, 15 and 18 °C
    assert "\nSources\n" in viola
    with pytest.raises(RecipeError, match="near it: pansy"):
        crops_text(_book(), COMPANIONS, "pansey", "C")


def test_a_companion_of_the_house_s_own_and_one_whose_figures_are_few() -> None:
    rows = (Override("viola", "pinch", 3.0, row=2), Override("wallflower", "sow_to_transplant", 40.0, row=3))
    companions = CompanionBook.from_overrides(rows)
    assert "crops table, row 2: no source given" in crops_text(_book(), companions, "viola", "C")
    shown = crops_text(_book(), companions, "wallflower", "C")  # what is not known of it is the viola's
    assert re.search(r"^  sow_to_transplant .*\b40\b", shown, re.M)
    assert all(re.search(rf"^  {name} +\S", shown, re.M) for name in ("transplant_to_finish", "frost"))


@pytest.mark.parametrize(
    ("typed", "crop"),
    [("daffodil", "narcissus"), ("Daffodils", "narcissus"), ("grape hyacinth", "muscari"), ("squill", "scilla"),
     ("Siberian squills", "scilla"), ("dwarf iris", "iris reticulata"), ("hyacint", "hyacinth")],
)  # fmt: skip
def test_everyday_names_lead_to_their_crop_and_are_never_taken(typed: str, crop: str) -> None:
    assert _book().near(typed)[0] == crop and not _book().knows(typed)
    assert COMPANIONS.near(typed) != (crop,)  # a book offers only what it has


def test_reading_recipes_needs_none_of_the_heavy_libraries() -> None:
    code = "import sys, forcing.recipes.listing; print({'numpy', 'pandas', 'openpyxl', 'scipy'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_contradictions_name_the_parameters_that_they_are_about() -> None:
    problems = _book().contradictions(_changed(base=20.0, spread=-1.0))
    about = {problem.parameters for problem in problems}
    assert {("base", "cap"), ("base", "reference"), ("spread",)} <= about
    with pytest.raises(RecipeError) as raised:
        _book(Override("tulip", "cold_curve", "no such curve")).recipe("tulip")
    assert raised.value.parameters == ("cold_curve",)


def test_a_lot_is_refused_below_the_low_of_its_least_cold_or_below_that_where_no_low_is_stated() -> None:
    assert _book().recipe("tulip").cold_least == 10 < _book().recipe("tulip").cold_min == 13
    assert _book(Override("tulip", "cold_min", 12.0)).recipe("tulip").cold_least == 12
    assert _book(Override("tulip", "cold_min", 12.0, low=9.0)).recipe("tulip").cold_least == 9


def test_the_life_on_show_has_a_base_of_its_own_that_goes_with_the_reference() -> None:
    tulip = _book().recipe("tulip")
    # 11 d at 18 °C above 11.6: 70.4 °C·d, and at least an 18th of that a day
    assert tulip.display_life == pytest.approx(70.4)
    assert tulip.ageing == pytest.approx((11.6, 70.4 / 18))
    # A season that states its own reference, as before there was a base: from the bench's base, twice its days at most
    own = _book(Override("tulip", "display_reference", 10.0), Override("tulip", "display_days", 12.0)).recipe(
        "tulip"
    )
    assert (own.display_base, own.display_longest, own.display_life) == (2, 24, 96)
    longer = _book(Override("tulip", "display_days", 20.0)).recipe("tulip")
    assert longer.ageing[1] == pytest.approx(20 * 6.4 / 20)  # no longer than it lasts, though 18 are printed
    new = _book(*_new_crop()).recipe("fritillaria")
    assert (new.display_base, new.display_longest) == (2, 18)
