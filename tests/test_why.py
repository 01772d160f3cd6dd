"""Why a lot has its dates: the page is added up again, and what if is reckoned by hand and by a plain loop."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from pypdf import PdfReader
from reportlab.lib.pagesizes import A4

import forcing
from forcing.model import Place, Reading
from forcing.reports import frames
from forcing.reports.why import file_name
from forcing.season.starter import write_demo
from tests.printed_pages import check_fonts, check_printed
from tests.test_commands import forcing as command
from tests.test_commands import season_folder

ROOT = Path(__file__).parent.parent
SMALL = ROOT / "examples" / "small-season"
ON = "2026-09-01"


def even(day: float = 16, unit: str = "C", **items: object) -> forcing.LoadedSeason:
    """One mid tulip at an even 9 °C, then on a bench at an even temperature; everyone works every day."""
    stated = {
        "opens": "2027-03-20",
        "closes": "2027-04-20",
        "working days": "Mon-Sun",
        "temperature unit": unit,
    } | items
    cold = 9 if unit == "C" else 48.2
    return forcing.load({
        "season": pd.DataFrame({"item": list(stated), "value": list(stated.values())}),
        "places": pd.DataFrame({"place": ["Cold", "Bench"], "kind": ["cooler", "bench"], "pots": [500, 300],
                                "day": [cold, day], "night": [cold, day]}),
        "lots": pd.DataFrame({"lot": ["A"], "crop": ["tulip"], "class": ["mid"], "pots": [20]}),
    })  # fmt: skip


def rows_of(text: str, first: str) -> list[list[str]]:
    """The rows of the table whose head begins with a word, cells parted by two blanks or more."""
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(first))
    rows = []
    for line in lines[start + 1 :]:
        if not line.strip() or line.startswith("*"):
            break
        rows.append(re.split(r"  +", line.strip()))
    return rows


def adds_up(plan: forcing.PlannedSeason, name: str, *, foretold: bool) -> None:
    """The page of a lot, its rows added up again; `foretold`: its need is that of its recipe, and of nothing seen."""
    lot, text = plan.lots.loc[name], plan.why(name).words
    weeks = rows_of(text, "week")
    cold = [row for row in weeks if row[1] in ("root", "cool")]
    heat = [row for row in weeks if row[1] not in ("root", "cool", "precooled")]
    # Each row is rounded to the printed digit, so sums are good to half a digit a row.
    assert sum(float(row[5]) for row in cold) == pytest.approx(lot.cold_weeks, abs=0.005 * len(cold) + 0.005)
    assert float(cold[-1][6]) == pytest.approx(lot.cold_weeks, abs=0.006)
    said = re.search(r"= ([\d.]+) × ([\d.]+) °C = ([\d.]+) °C·d", text)
    assert said is not None
    days, above, need = map(float, said.groups())
    if foretold:
        assert days * above == pytest.approx(need, abs=0.05 * above + 0.1)
    assert need == pytest.approx(lot.need, abs=0.06)
    # The heat so far reaches the need in the last row, and had not before it.
    total = sum(float(row[-2]) for row in heat)
    assert total >= need - 0.1 - 0.05 * len(heat) and float(heat[-1][-1]) - float(heat[-1][-2]) < need


@pytest.mark.parametrize("name", ["Early tulips", "Mid tulips", "Late narcissus"])
@pytest.mark.parametrize("on", [ON, "2027-03-01"])
def test_the_page_adds_up_to_the_day(name: str, on: str) -> None:
    adds_up(forcing.load(SMALL).plan(on=on), name, foretold=on == ON)


@pytest.mark.slow
@pytest.mark.parametrize("on", ["2026-11-02", "2027-03-08"])
def test_the_page_of_every_lot_of_the_demo_adds_up(on: str, tmp_path: Path) -> None:
    plan = forcing.load(write_demo(tmp_path)).plan(on=on)
    assert len(plan.lots) == 30
    for name in plan.lots.index:
        adds_up(plan, name, foretold=on < "2027")


def test_the_need_by_hand() -> None:
    """Tulip, mid: 24 d at 17 °C above a base of 2 °C after 16 weeks, 2.5 d fewer for each week more (forcing crops)."""
    made = even().plan(on=ON)
    lot, text = made.lots.loc["A"], made.why("A").words
    days = 24 - 2.5 * (lot.cold_weeks - 16)
    assert f"Need: {days:.1f} days × (17 °C − base 2 °C) = {days:.1f} × 15 °C = {days * 15:.1f} °C·d" in text
    assert lot.need == pytest.approx(days * 15)


def bloom_by_loop(start: date, need: float, bench: float) -> date:
    """First day by whose start an even temperature has given the need above 2 °C, held at the rate of 20 °C."""
    day, heat = start, 0.0
    while heat < need - 5e-4:
        heat += min(bench, 20.0) - 2.0
        day += timedelta(days=1)
    return day


def test_what_if_against_a_plain_loop() -> None:
    made = even().plan(on=ON)
    lot = made.lots.loc["A"]
    start, need = lot.bring_in.date(), float(lot.need)
    cases = {one.case: one for one in made.why("A").reasons.what_if}
    for case, degrees in (("bench cooler", 15.0), ("bench warmer", 17.0)):
        assert cases[case].bloom == bloom_by_loop(start, need, degrees)  # type: ignore[index]
    # A week later it has a week more of cold: 2.5 days at 17 °C less to gather.
    later = cases["a week later"].bloom
    assert later == bloom_by_loop(start + timedelta(days=7), need - 2.5 * 15, 16.0)
    assert cases["weather colder"].days == 0  # it never is outdoors


def test_a_warmer_bench_never_asks_for_an_earlier_bring_in_nor_gives_a_later_bloom() -> None:
    plan = forcing.load(SMALL).plan(on=ON)
    for name in plan.lots.index:
        cases = {one.case: one for one in plan.why(name).reasons.what_if}
        cooler, warmer = cases["bench cooler"], cases["bench warmer"]
        assert cooler.bloom and warmer.bloom and warmer.bloom <= plan.lots.bloom[name].date() <= cooler.bloom
        assert cooler.bring_in is None or warmer.bring_in is None or cooler.bring_in <= warmer.bring_in


def test_no_day_is_named_on_which_it_would_lack_roots_or_cold() -> None:
    """On a bench so cool that no day is in time none is named; without the least cold it would not flower at all."""
    season = even(**{"bulbs in hand": "2026-11-05"})
    made = season.plan(on=ON)
    lot = made.lots.loc["A"]
    for one in made.why("A").reasons.what_if:
        # 13 weeks at 9 °C are the least of a mid tulip (forcing crops): 91 days from the day into the cooler.
        assert one.bring_in is None or one.bring_in >= lot.cooler_in.date() + timedelta(days=91)


def test_a_day_that_had_to_move_is_said_with_its_cause() -> None:
    done = even().agree(on=ON)
    start = done.planned.lots.loc["A"].cooler_in.date()
    readings = tuple(Reading("Cold", start + timedelta(days=30 + n), 20, 20) for n in range(12))
    season = replace(done.season, stated=replace(done.season.stated, readings=readings))
    text = season.plan(on="2027-01-18").why("A").words
    assert "As agreed on Tue 1 Sep, but for: A: bring in " in text and "would bloom" in text


def test_slack_is_by_how_many_working_days_it_may_be_brought_in_later() -> None:
    made = even().plan(on=ON)
    lot, slack = made.lots.loc["A"], made.why("A").reasons.slack
    target = date(2027, 3, 20)

    def bloom(days: int) -> date:
        out = lot.bring_in.date() + timedelta(days=days)
        weeks = lot.cold_weeks + days / 7
        return bloom_by_loop(out, (24 - 2.5 * (weeks - 16)) * 15, 16.0)

    assert slack is not None and bloom(slack) <= target < bloom(slack + 1)


def test_in_fahrenheit_the_page_says_fahrenheit() -> None:
    text = even(61, "F").plan(on=ON).why("A").words
    assert "its bench is 1.8 °F cooler" in text and "3.6 °F colder outdoors" in text and "16 °C" not in text
    assert "62.6 °F" in text or "63 °F" in text  # the reference, 17 °C


def test_what_moved_it_is_said(tmp_path: Path) -> None:
    """Only Saturdays are worked: what a day costs is seen against every day worked."""
    text = even(**{"working days": "Sat"}).plan(on=ON).why("A").words
    assert "Alone, and if every day were a working day, it would be brought in on" in text
    assert "agreed" not in text and "for days on which nobody works." in text
    assert "As agreed on Tue 1 Sep." in even().agree(on=ON).season.plan(on=ON).why("A").words


def one_sound_page(path: Path) -> None:
    """A4, nothing outside its margins or on top of something else, its fonts in the file."""
    assert len(PdfReader(path).pages) == 1
    check_printed(path, A4, margin=15, least=4)
    check_fonts(path)


def test_the_command_prints_it_and_writes_one_page(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s")
    done = command("why", season, "A", "--on", ON, "-o", tmp_path / "out")
    assert done.exit_code == 0 and "Need: " in done.output and "common practice, no source" in done.output
    one_sound_page(tmp_path / "out" / "why-A.pdf")
    words = PdfReader(tmp_path / "out" / "why-A.pdf").pages[0].extract_text()
    assert "common practice, no source" in words and "…" not in words  # where figures come from is never cut
    wrong = command("why", season, "Z", "--on", ON, "-o", tmp_path / "other")
    assert wrong.exit_code == 2 and "no lot Z" in wrong.output and not (tmp_path / "other").exists()


def test_a_long_life_still_is_one_page(tmp_path: Path) -> None:
    """Eighteen weeks of cold and names as long as a row allows."""
    name = "Early Sunday morning in the long border " * 5
    season = season_folder(
        tmp_path / "s", lots=f"lot,crop,pots,cold weeks,cultivar\n{name.strip()},tulip,20,18,{name.strip()}\n"
    )
    made = forcing.load(season).plan(on=ON)
    (path,) = made.why(made.lots.index[0]).write(tmp_path / "out")
    one_sound_page(path)
    assert len(path.name) < 80


def test_the_name_of_the_file_is_made_of_letters() -> None:
    assert file_name("T1/2: spät") == "why-T1-2-spät.pdf" and file_name("///") == "why-lot.pdf"


def test_what_dates_bear_is_the_same_sum_for_all_lots() -> None:
    """lots.csv: bloom with the bench 1 °C off by the plain loop; slack by trying later days one after another."""
    made = even().plan(on=ON)
    lot, bears = made.lots.loc["A"], made.result.leeways()["A"]
    start, need = lot.bring_in.date(), float(lot.need)
    assert (bears.cooler, bears.warmer) == (bloom_by_loop(start, need, 15), bloom_by_loop(start, need, 17))
    slack = 0
    while True:  # a day more of cold is 2.5 / 7 days at 17 °C less
        later = start + timedelta(days=slack + 1)
        if bloom_by_loop(later, need - (slack + 1) / 7 * 2.5 * 15, 16) > date(2027, 3, 20):
            break
        slack += 1
    assert bears.slack == slack
    [row] = frames.rows_of(frames.lot_dates(made.result.plan, {"A": bears}))
    assert (row["slack days"], row["cooler"], row["warmer"]) == (slack, bears.cooler, bears.warmer)
    assert (row["confidence"], row["hold from"], row["hold place"]) == (0.5, None, "")


def test_half_a_degree_is_told_where_no_wait_takes_it_up() -> None:
    """20 d at 13.5 °C instead of 14 °C are 10 °C·d short, which is more than a day: told at 0.5, held at 0.9."""
    for confidence, told in ((0.5, True), (0.9, False)):
        made = even(14, confidence=confidence).plan(on=ON)
        lot = made.lots.loc["A"]
        loop = bloom_by_loop(lot.bring_in.date(), float(lot.need), 13.5)
        found = [f for f in made.result.plan.findings if f.code == "half-degree"]
        assert bool(found) is told
        if told:
            assert found[0].number == (loop - date(2027, 3, 20)).days and found[0].place == "Bench"


def test_what_moved_it_adds_up_and_says_whose_cold_it_is() -> None:
    """18 weeks of cold stated for a recipe of 16: 2.5 days at 17 °C less each, and so about 5 days later."""
    season = even(**{"working days": "Mon, Thu"})
    lots = tuple(replace(lot, cold_weeks=18.0) for lot in season.stated.lots)
    made = replace(season, stated=replace(season.stated, lots=lots)).plan(on=ON).why("A")
    moved = made.reasons.alone
    assert moved is not None
    assert sum(days for _, days in moved.by) == (made.planned.bring_in - moved.bring_in).days
    cold = dict(moved.by)["cold"]
    assert 4 <= cold <= 6 and f"{cold} days later for the cold-weeks that the season states" in made.words


def test_a_wait_at_colour_is_on_the_page_and_in_the_table() -> None:
    season = even(14, confidence=0.9)
    stated = season.stated
    lots = tuple(replace(lot, cooler="Cold", hold_at="Store") for lot in stated.lots)
    places = (*stated.places, Place("Store", "cooler", 500, 2, 2))
    made = replace(season, stated=replace(stated, places=places, lots=lots)).plan(on=ON)
    [row] = frames.rows_of(frames.lot_dates(made.result.plan, made.result.leeways()))
    days = (row["hold until"] - row["hold from"]).days
    assert row["hold place"] == "Store" and days > 1
    assert f"{days} days, as it is to be in bloom 90% surely" in made.why("A").words
