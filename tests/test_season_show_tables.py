"""What a season states about its show: jobs, minima, supplies, containers, companions' figures, pots left open."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import pytest

from forcing.engine.context import Context
from forcing.engine.work.house_work import plan_jobs
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import Finding
from forcing.model import PARAMETERS, Job, Minimum, Supply
from forcing.recipes.book import COMPANION_PARAMETERS, CompanionBook, RecipeBook, split_overrides
from forcing.season.checks import check_season
from forcing.season.read import read_season
from forcing.season.schema import (
    COMPANION_HELP,
    PARAMETER_WORDS,
    is_fraction,
    is_temperature,
    tables_markdown,
)
from forcing.season.starter import write_folder, write_workbook
from tests.season_text import ONE_LOT, PLACES, SHOW, brief, reading_findings, season

TROUGH = (
    "[displays]\ndisplay | containers | site | litres | cover m2 | shape | length cm | width cm | depth cm"
    " | base length cm | base width cm\n"
)


def checked(text: str) -> list[Finding]:
    stated = season(text)
    return list(check_season(stated, RecipeBook.from_overrides(split_overrides(stated.overrides)[0])))


# ---------------------------------------------------------------- items


def test_nothing_stated_means_the_defaults() -> None:
    stated = season(ONE_LOT)
    assert (stated.wanted_cover, stated.frost_margin, stated.cover_cloth) == (0.6, None, None)
    assert (stated.jobs, stated.minima, stated.supplies) == ((), (), ())


@pytest.mark.parametrize(
    ("unit", "margin", "celsius"),
    # 1 °C of difference is 1.8 °F (NIST SP 811): 4 °F is 2.22 °C, never -15.6 °C
    [("F", "4", 4 / 1.8), ("F", "0", 0), ("C", "2.5", 2.5), ("F", "36", 20)],
)
def test_the_margin_is_a_difference(unit: str, margin: str, celsius: float) -> None:
    before = f"{SHOW}temperature unit | {unit}\nfrost margin | {margin}\nwanted cover | 75 %\n"
    after = f"{SHOW}wanted cover | 0.75\nfrost margin | {margin}\ntemperature unit | {unit}\n"
    for text in (before, after):  # wherever the unit stands
        stated = season(text + ONE_LOT)
        assert stated.frost_margin == pytest.approx(celsius)
        assert stated.wanted_cover == 0.75


def test_items_that_cannot_be() -> None:
    text = f"{SHOW}wanted cover | 0\nfrost margin | -1\ncover cloth | blanket\n" + ONE_LOT
    assert brief(reading_findings(text)) == [
        "error cell-limits season 4 value", "error cell-limits season 5 value", "error cell-word season 6 value",
    ]  # fmt: skip
    assert season(f"{SHOW}cover cloth | Fleece 17 g/m2\n" + ONE_LOT).cover_cloth == "fleece 17 g/m²"


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("2027-05-10", (date(2027, 5, 10), None)), ("2027-05-10, 10 %", (date(2027, 5, 10), 0.1)),
        ("10/5/2027 2,5%", (date(2027, 5, 10), 0.025)), ("2027-05-10; 90 %", (date(2027, 5, 10), 0.9)),
    ],
)  # fmt: skip
def test_the_last_frost_is_a_day_and_may_have_a_chance(typed: str, read: object) -> None:
    assert season(f"{SHOW}date order | day first\nlast frost | {typed}\n" + ONE_LOT).last_frost == read


def test_a_last_frost_that_cannot_be() -> None:
    for typed, code in (("2027-05-10, 0 %", "cell-limits"), ("2027-05-10, 100 %", "cell-limits"),
                        ("10 %", "cell-date"), ("May", "cell-date"), ("2027-05-32, 10 %", "cell-date")):  # fmt: skip
        assert brief(reading_findings(f"{SHOW}last frost | {typed}\n" + ONE_LOT)) == [
            f"error {code} season 4 value"
        ]


# ---------------------------------------------------------------- containers


@pytest.mark.parametrize(
    ("cells", "litres"),
    [
        # inside measures, less 2 cm of room below the rim (1 cm where less than 20 cm deep), closed forms
        ("box | 100 | 40 | 42 | |", 100 * 40 * 40 / 1000),
        ("box | 100 | 40 | 19 | |", 100 * 40 * 18 / 1000),
        ("cylinder | 30 | | 32 | |", math.pi * 15**2 * 30 / 1000),
        # a bowl of 40 cm, 20 deep, is a half ball; filled to 18: pi h^2 (3 r - h) / 3
        ("bowl | 40 | | 20 | |", math.pi * 18**2 * (60 - 18) / 3 / 1000),
        # a cone cut off: rim 40, base 20, 42 deep; at 40 it is 20 + 20 x 40 / 42 across
        ("frustum | 40 | | 42 | 20 |", math.pi * 40 / 12 * (20**2 + 20 * (d := 20 + 800 / 42) + d**2) / 1000),
    ],
)
def test_litres_come_from_the_shape(cells: str, litres: float) -> None:
    (display,) = season(PLACES + TROUGH + f"Troughs | 4 | Terrace | | 2.5 | {cells}\n").displays
    assert display.litres == pytest.approx(litres, abs=1e-9)
    assert display.cover_m2 == 2.5 and display.shape == cells.split()[0]
    # stated litres win
    (display,) = season(PLACES + TROUGH + f"Troughs | 4 | Terrace | 55 | | {cells}\n").displays
    assert (display.litres, display.cover_m2) == (55, None)


def test_tapered_boxes_and_barrels() -> None:
    stated = season(PLACES + TROUGH + "T | 1 | Terrace | | | tapered box | 100 | 40 | 42 | 100 | 40\n"
                    "B | 1 | Terrace | | | barrel | 50 | 50 | 42 | 50 |\n")  # fmt: skip
    # without a taper they are a box and a cylinder
    assert stated.displays[0].litres == pytest.approx(160)
    assert stated.displays[1].litres == pytest.approx(math.pi * 25**2 * 40 / 1000)
    assert (stated.displays[0].base_length_cm, stated.displays[1].width_cm) == (100, 50)


@pytest.mark.parametrize(
    ("cells", "found"),
    [
        ("| | box | 100 | | 40 | |", "warning measure-missing displays 2 width cm"),
        ("| | | 100 | | | |", "warning shape-missing displays 2 length cm"),
        ("| | bowl | 40 | | 21 | |", "warning bowl-deep displays 2 depth cm"),
        ("| | ball | 40 | | 21 | |", "error cell-word displays 2 shape"),
        ("| | box | 0 | 10 | 21 | |", "error cell-limits displays 2 length cm"),
        ("| 0 | | | | | ", "error cell-limits displays 2 cover m2"),
    ],
)
def test_containers_that_cannot_be_reckoned(cells: str, found: str) -> None:
    text = ONE_LOT + TROUGH + f"Troughs | 4 | Terrace | {cells}\n"
    assert brief(reading_findings(text)) == [found]


# ---------------------------------------------------------------- pots from the display


def test_pots_may_be_left_to_the_display() -> None:
    stated = season(
        PLACES + "[displays]\ndisplay | containers | site\nD | 4 | Terrace\n"
        "[plantings]\ndisplay | lot or companion | pots per container\nD | t1 | 2\nD | Violas | 3\n"
        "[lots]\nlot | crop | pots\nT1 | tulip |\nT2 | tulip | 5\n[companions]\ncompanion | crop\nviolas | viola\n"
    )
    assert [lot.pots for lot in stated.lots] == [0, 5] and stated.companions[0].pots == 0
    assert not [f for f in check_season(stated, RecipeBook.from_overrides()) if f.code == "planting-short"]


def test_pots_of_what_is_not_planted_must_be_stated() -> None:
    found = reading_findings(
        PLACES + "[lots]\nlot | crop\nT1 | tulip\n[companions]\ncompanion | crop | pots\nV | viola |\n"
    )
    assert brief(found) == ["error cell-empty companions 2 pots", "error cell-empty lots 2 pots"]
    assert "plantings" in found[0].hint


# ---------------------------------------------------------------- jobs, minima, supplies


@pytest.mark.parametrize(
    ("typed", "every"),
    [
        ("Mon, Thu", (0, 3)), ("thu mon", (0, 3)), ("Mon-Wed", (0, 1, 2)), ("3 days", 3), ("2 weeks", 14),
        ("every 2 weeks", 14), ("1 week", 7), ("weekly", 7), ("every day", 1), ("366 days", 366), ("", None),
    ],
)  # fmt: skip
def test_jobs_that_recur(typed: str, every: object) -> None:
    text = f"[jobs]\njob | step | days before | every\nTubs | water | 60 | {typed}\n"
    (job,) = season(ONE_LOT + text).jobs
    # without a duration, work that recurs lasts until the opening, 60 days later
    assert (job.every, job.duration_days) == (every, 60 if typed else 1)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("3", "3 is not a number of days or weeks"), ("3 months", "3 months is not a number of days or weeks"),
        ("0 days", "0 days is no interval within one season"),
        ("53 weeks", "53 weeks is no interval within one season"),
        ("Mon Thurz", "thurz is not a day of the week"), ("-2 days", "nothing is not a day of the week"),
    ],
)  # fmt: skip
def test_a_recurrence_that_is_not_understood(typed: str, message: str) -> None:
    (found,) = reading_findings(
        ONE_LOT + f"[jobs]\njob | step | days before | every\nTubs | water | 60 | {typed}\n"
    )
    assert (found.code, found.row, found.column, found.message) == ("cell-repeat", 2, "every", message)
    assert found.hint == "Write weekdays such as Mon, Thu, or an interval such as 3 days or 2 weeks."


def test_jobs_are_read_and_planned() -> None:
    text = ONE_LOT + (
        "[jobs]\njob | step | days before | duration | hours | caution\n"
        "Troughs | cast | 60 | 2 | 12 | cement, lifting\nTroughs | cure | 58 | 28 | |\nSigns | paint | 10 | | 3 |\n"
    )
    stated = season(text)
    assert stated.jobs == (
        Job("Troughs", "cast", 60, 2, 12, "cement, lifting", 2), Job("Troughs", "cure", 58, 28, 0, "", 3),
        Job("Signs", "paint", 10, 1, 3, "", 4),
    )  # fmt: skip
    tasks, findings = plan_jobs(stated, stated.jobs, Context(date(2026, 11, 2)))
    assert len(tasks) == 4 and not [f for f in findings if f.severity == "error"]
    assert all("cement" in task.cautions for task in tasks if "Troughs" in task.task)
    assert brief(reading_findings(ONE_LOT + "[jobs]\njob | step | days before | duration days\nA | b | | 0\n")) == [
        "error cell-empty jobs 2 days before", "error cell-limits jobs 2 duration days",
    ]  # fmt: skip


def test_the_caution_on_cement_says_what_published_guidance_says() -> None:
    # NIOSH/CPWR guides for employers and OSHA's cement guidance: caustic, delayed burns, dust; gloves, sleeves,
    # eyes, mask; wash at once, do not wait for pain
    words = CAUTIONS["cement"].casefold()
    for needed in (
        "caustic",
        "late",
        "dust",
        "waterproof gloves",
        "long sleeves",
        "eye",
        "mask",
        "at once",
        "pain",
    ):
        assert needed in words


def test_minima_are_in_the_seasons_unit_and_once_a_day() -> None:
    rows = "[minima]\nplace | date | low\nterrace | 2024-02-29 | 23\nTerrace | 2024-03-01 |\n"
    stated = season(f"{SHOW}temperature unit | F\n" + ONE_LOT + rows)
    assert stated.minima == (
        Minimum("Terrace", date(2024, 2, 29), pytest.approx(-5), 2), Minimum("Terrace", date(2024, 3, 1), None, 3),
    )  # fmt: skip
    twice = ONE_LOT + rows + "Terrace | 2024-02-29 | 3\n"
    assert brief(reading_findings(twice)) == ["error minimum-twice minima 4 date"]
    lost = "[minima]\nplace | date | low\nNowhere | 2024-02-29 | 3\nCellar | 2024-02-29 | 3\n"
    assert brief(checked(ONE_LOT + lost)) == [
        "error place-unknown minima 2 place", "warning place-kind minima 3 place",
    ]  # fmt: skip


def test_supplies_are_read_and_must_be_of_something() -> None:
    text = ONE_LOT + (
        "[supplies]\nitem | pack | lead weeks | note\nTulip | 100 | 20 | ask early\npots 15 cm | 24 | |\n"
        "labels | | 2.5 |\n"
        "compst | 70 | 1 |\nviola | 264 | |\npots 15 mm | 1 | |\n"
    )
    assert season(text).supplies[:3] == (
        Supply("Tulip", 100, 20, "ask early", row=2), Supply("pots 15 cm", 24, None, "", row=3),
        Supply("labels", None, 2.5, "", row=4),
    )  # fmt: skip
    assert brief(checked(text)) == [
        "warning supply-unknown supplies 5 item",
        "warning supply-unknown supplies 7 item",
    ]
    assert "Did you mean pots 15 cm?" in checked(text)[1].hint
    wrong = ONE_LOT + "[supplies]\nitem | pack | lead weeks\nmix | 0 | -1\nmix | 5 | 1\n"
    assert brief(reading_findings(wrong)) == [
        "error cell-limits supplies 2 lead weeks", "error cell-limits supplies 2 pack",
        "error name-twice supplies 3 item",
    ]  # fmt: skip


# ---------------------------------------------------------------- figures of companions


def test_crops_takes_figures_of_bulbs_and_companions() -> None:
    text = (
        f"{SHOW}temperature unit | F\n" + ONE_LOT + "[crops]\ncrop | parameter | typical\ntulip | base | 36\n"
        "viola | sow to transplant | 40\nviola | germinate at | 68\nViola | frost | 23\n"
    )
    stated = season(text)
    bulbs, companions = split_overrides(stated.overrides)
    assert [(row.crop, row.parameter) for row in bulbs] == [("tulip", "base")]
    recipe = CompanionBook.from_overrides(companions).recipe("viola")
    assert (recipe.sow_to_transplant, recipe.germinate_at, recipe.frost) == (
        40,
        pytest.approx(20),
        pytest.approx(-5),
    )
    assert [f for f in checked(text) if f.table == "crops"] == []
    assert not RecipeBook.from_overrides(bulbs).knows("viola")


@pytest.mark.parametrize(
    ("rows", "row"),
    [
        ("tulip | base | 2\ntulip | pinch | 3\n", 3),  # a bulb is not pinched
        ("viola | bench days | 20\n", 2),  # a companion is not forced
        (
            "wallflower | sow_to_transplant | 30\nwallflower | cold_min | 3\n",
            3,
        ),  # a crop of its own is one or the other
    ],
)
def test_a_figure_of_the_other_kind_is_refused(rows: str, row: int) -> None:
    found = reading_findings(ONE_LOT + "[crops]\ncrop | parameter | typical\n" + rows)
    assert brief(found) == [f"error parameter-unknown crops {row} parameter"]


def test_every_parameter_has_its_words_and_unit() -> None:
    assert set(PARAMETER_WORDS) == {*PARAMETERS, *COMPANION_PARAMETERS}
    assert set(COMPANION_HELP) == set(PARAMETER_WORDS) - set(PARAMETERS)
    assert {p for p in COMPANION_HELP if is_temperature(p)} == {
        "finish_reference",
        "germinate_at",
        "cool_below",
        "warm_above",
    }
    assert [p for p in COMPANION_HELP if is_fraction(p)] == ["germination"]
    text = tables_markdown()
    assert all(f"`{parameter}`" in text for parameter in COMPANION_HELP)


# ---------------------------------------------------------------- both forms


def test_workbook_and_folder_mean_the_same(tmp_path: Path) -> None:
    tables: dict[str, list[dict[str, object]]] = {
        "season": [
            {"item": "opens", "value": date(2027, 3, 20)}, {"item": "closes", "value": date(2027, 5, 2)},
            {"item": "temperature unit", "value": "F"}, {"item": "frost margin", "value": 3.6},
            {"item": "cover cloth", "value": "thick row cover"}, {"item": "wanted cover", "value": 0.8},
        ],
        "places": [{"place": "Terrace", "kind": "site"}],
        "lots": [{"lot": "T1", "crop": "tulip"}],
        "displays": [{"display": "D", "containers": 2, "site": "Terrace", "shape": "box", "length cm": 80,
                      "width cm": 25.5, "depth cm": 30, "cover m2": 1.5}],
        "plantings": [{"display": "D", "lot or companion": "T1", "pots per container": 6}],
        "jobs": [{"job": "Signs", "step": "paint", "days before": 9, "hours": 2}],
        "minima": [{"place": "Terrace", "date": date(2025, 4, 1), "low": 30.2}],
        "supplies": [{"item": "mix", "pack": 70, "lead weeks": 2}],
    }  # fmt: skip
    one, found = read_season(write_workbook(tmp_path / "season.xlsx", tables))
    two, same = read_season(write_folder(tmp_path / "season", tables))
    assert one == two and found == same == ()
    assert one.frost_margin == pytest.approx(2) and one.minima[0].low == pytest.approx(-1)
    assert one.displays[0].litres == pytest.approx(80 * 25.5 * 28 / 1000)


def test_who_is_on_duty_by_days_of_the_week() -> None:
    stated = season(SHOW + "duty | Mon-Fri AB; Sat and Sun: Jo K\n" + ONE_LOT)
    assert stated.duty == (*((day, "AB") for day in range(5)), (5, "Jo K"), (6, "Jo K"))
    for wrong, said in (("AB", "AB does not name days"), ("Mon AB; Mon-Tue CD", "Mon is named twice")):
        found = reading_findings(SHOW + f"duty | {wrong}\n" + ONE_LOT)
        assert [f.code for f in found] == ["cell-duty"] and said in found[0].message
