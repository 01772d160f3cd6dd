"""A season in US measures, from start to review: what is read in inches comes back in inches, and nothing is metric."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

import forcing
from forcing.reports import frames
from forcing.season.starter import write_starter
from forcing.units import POT_INCH, show_area, show_mix, show_pot, told
from tests.outside import program
from tests.season_text import brief, check_findings, reading_findings, season, write_text_folder

SEASON = """
[season]
item             | value
title            | Yard show
opens            | 3/20/2027
closes           | 4/11/2027
temperature unit | F
measures         | US
date order       | month first
number style     | comma for thousands
paper            | Letter
cover cloth      | fleece 0.5-1 oz/sq yd
[places]
place  | kind   | pots  | day | night
Cellar | cooler | 1,400 |     |
South  | bench  | 200   | 64  | 57
Yard   | site   |       |     |
[normals]
place | month | low | high
Yard  | 3     | 30  | 50
Yard  | 4     | 38  | 58
Yard  | 5     | 45  | 66
[displays]
display | containers | site | quarts | cover sq ft | shape | length in | depth in
Tubs    | 4          | Yard | 16     | 30          |       |           |
Rings   | 2          | Yard |        |             | bowl  | 20        | 8
[lots]
lot | crop    | pots | pot in | target bloom | display
T1  | tulips  | 40   | 6      | 3/20/2027    | Tubs
T2  | tulips  | 12   |        | 2027-W14     | Rings
[plantings]
display | lot | pots per container
Tubs    | T1  | 10
Rings   | T2  | 6
[supplies]
item      | pack
mix       | 2.8
pots 6 in | 36
[readings]
place | date      | low | high | kind
Yard  | 3/23/2027 | 20  | 40   | forecast
Yard  | 3/24/2027 | 20  | 40   | forecast
[log]
date       | lot | event
11/12/2026 | T1  | potted
11/13/2026 | T1  | cooler in
[crops]
crop  | parameter | typical
tulip | pot       | 6
"""


def test_what_is_stated_in_us_measures_is_read_in_metric() -> None:
    stated = season(SEASON)
    tubs, rings = stated.displays
    # NIST SP 811: a US liquid quart is 0.946352946 l, a square foot 0.09290304 m², an inch 2.54 cm
    assert tubs.litres == pytest.approx(16 * 0.946352946) and tubs.cover_m2 == pytest.approx(30 * 0.09290304)
    assert (rings.length_cm, rings.depth_cm) == (pytest.approx(20 * 2.54), pytest.approx(8 * 2.54))
    assert stated.lots[0].pot_cm == pytest.approx(15)  # the pot of 6 in is sold as that of 15 cm
    assert stated.places[0].pots == 1400 and stated.lots[1].target == date(2027, 4, 5)
    mix, pots = stated.supplies
    assert mix.pack == pytest.approx(2.8 * 28.316846592) and (pots.item, pots.pack) == ("pots 15 cm", 36)
    assert [figure.typical for figure in stated.overrides] == [pytest.approx(15)]


def test_a_header_that_names_its_unit_is_taken_at_its_word() -> None:
    rows = "[lots]\nlot | crop | pots | {} | target bloom\nT1 | tulip | 9 | 6 | 2027-03-20\n"
    top = "[season]\nitem | value\nopens | 2027-03-20\ncloses | 2027-04-11\nmeasures | {}\n"
    for header, measures, cm in (
        ("pot cm", "US", 6), ("pot in", "metric", 15), ("Pot In.", "US", 15), ("pot", "US", 15), ("pot", "metric", 6),
    ):  # fmt: skip
        assert season(top.format(measures) + rows.format(header)).lots[0].pot_cm == pytest.approx(cm)


def test_limits_are_told_in_the_unit_of_the_header() -> None:
    (found,) = reading_findings(SEASON.replace("| 40   | 6      |", "| 40   | 600    |"))
    assert (found.column, found.message) == ("pot in", "must be from 1.2 to 80")
    (found,) = reading_findings(SEASON.replace("| 40   | 6      |", "| 40   | 6 in   |"))
    assert found.hint == "Write 6 alone; the header says what it is."
    (found,) = reading_findings(SEASON.replace("| 40   | 6      |", "| 40   | 15 cm  |"))
    assert found.hint == "Write 6: 15 cm is 6 in."
    (found,) = reading_findings(SEASON.replace("| 16     | 30 ", "| 4 gal  | 30 "))  # 4 quarts are a gallon
    assert found.hint == "Write 16: 4 gal is 16 quarts."


def test_a_pot_hard_to_believe_is_told_in_inches() -> None:
    found = [f for f in check_findings(SEASON.replace("| 40   | 6      |", "| 40   | 2      |"))
             if f.code == "pot-doubtful"]  # fmt: skip
    assert brief(found) == ["warning pot-doubtful lots 2 pot in"] and "6 in wide" in found[0].message


@given(st.integers(12, 80))
def test_a_pot_comes_back_as_it_was_typed(quarters: int) -> None:
    assert show_pot(quarters / 4 * POT_INCH, "US") == f"{quarters / 4:g} in"


def test_measures_in_words() -> None:
    # 15.1 l is 16 quarts; 60 l is 2.12 cubic feet; 2.79 m² is 30 square feet (NIST SP 811)
    assert (show_mix(15.14, "US"), show_mix(60, "US"), show_mix(55, "metric")) == (
        "16 qt",
        "2.1 cu ft",
        "55 L",
    )
    assert (show_area(2.787, "US"), show_area(2.787, "metric")) == ("30 sq ft", "2.8 m²")
    prose = "9 to 5 °C, then 17 °C (63 °F); shoots of 2.5 cm; 23 kg; -1.7 and -2.2 °C"
    # 9 and 5 °C are 48.2 and 41 °F; 23 kg are 50.7 lb; -1.7 and -2.2 °C are 28.9 and 28 °F
    assert told(prose, "F", "US") == "48 to 41 °F, then 63 °F; shoots of 1 in; 51 lb; 29 and 28 °F"
    assert told(prose, "C", "metric") == prose


METRIC = re.compile(r"\b(?:cm|mm|ml|kg|litres?|liters?|metres?|Celsius)\b|\d ?L\b|m²|\bm2\b|°C|g/m")
# The titles of works, and a sum as its print has it, are not ours to turn.
_QUOTED = re.compile(r"Confidence: |°C·d")


def _texts(path: Path) -> Iterator[str]:
    if path.suffix == ".pdf":
        done = subprocess.run(
            [program("pdftotext"), "-layout", str(path), "-"], capture_output=True, text=True, check=True
        )
        yield from done.stdout.splitlines()
    elif path.suffix == ".xlsx":
        for sheet in load_workbook(path):
            cells = [cell for row in sheet.iter_rows() for cell in row]
            yield from (str(cell.value) for cell in cells if cell.value is not None)
            yield from (cell.comment.text for cell in cells if cell.comment)
    elif path.suffix == ".svg":
        yield from re.findall(r">([^<]+)</text>", path.read_text(encoding="utf-8"))
    elif path.suffix != ".png":
        yield from path.read_text(encoding="utf-8").splitlines()


def metric_in(files: Iterable[Path]) -> list[tuple[str, str]]:
    said = ((file.name, line) for file in files for line in _texts(file))
    return [(name, line) for name, line in said if METRIC.search(line) and not _QUOTED.search(line)]


def test_a_monday_in_us_measures_has_no_metric_word_on_any_paper(tmp_path: Path) -> None:
    loaded = forcing.load(write_text_folder(tmp_path / "yard", SEASON))
    spring = loaded.plan(on="2027-03-22")
    files = [*spring.write_week(tmp_path / "week"), *spring.why("T1").write(tmp_path / "why")]
    files += loaded.review().write(tmp_path / "review")
    assert metric_in(files) == []
    text = " ".join(line for file in files for line in _texts(file))
    for words in ("120 sq ft of cloth", "51 lb", "°F·d"):
        assert words in text, words
    orders = frames.orders(spring.result.plan)
    mix = orders[orders.item == "mix for the containers"].iloc[0]
    # 4 tubs of 16 quarts and the bowls; what is ordered is in bags of 2.8 cubic feet
    assert (
        mix.unit == "cu ft"
        and mix.pack == pytest.approx(2.8)
        and mix.quantity == pytest.approx(2.8 * mix.packs)
    )
    # 17 g/m² are half an ounce on a square yard: 17 / 33.9 (NIST SP 811)
    assert {"pots 6 in", "cloth: fleece 0.5-1 oz/sq yd"} <= set(orders.item)


def test_the_starter_of_a_house_with_us_measures(tmp_path: Path) -> None:
    starter = tmp_path / "starter.xlsx"
    write_starter(starter, unit="F", paper="Letter", measures="US")
    # Where the one or the other may be chosen; bulbs are graded by their centimetres the world over.
    choices = ("°C or °F", "Measures of this file", "YYYY", "Size grade")
    blank = [line for line in _texts(starter) if not any(choice in line for choice in choices)]
    assert [line for line in blank if METRIC.search(line)] == []
    assert {"pot in", "quarts", "cover sq ft", "length in"} <= set(blank)


@pytest.mark.slow
def test_a_plan_in_us_measures_has_no_metric_word_on_any_paper(tmp_path: Path) -> None:
    autumn = forcing.load(write_text_folder(tmp_path / "yard", SEASON)).plan(on="2026-11-16")
    files = autumn.write(tmp_path / "autumn")
    assert metric_in(files) == []
    text = " ".join(line for file in files for line in _texts(file))
    for words in ("pots 6 in", "40 pots of 6 in", "cu ft", "16 qt each"):
        assert words in text, words
