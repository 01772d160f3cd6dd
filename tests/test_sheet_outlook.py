"""The outlook sheet: its CSV read back, its pages opened with an outside reader, its areas measured in days."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from forcing.engine.outlook import Outlook
from forcing.model import Plan
from forcing.reports.outlook import BAND, draw_pages, headline, outlook_text, write_outlook
from tests.printed_pages import HARD_NAMES, check_drawn, check_fonts, words_of
from tests.sample import sample_plan
from tests.test_sheet_board import some_outlooks

MISSING_NOTE = "□ stands for a letter that this typeface does not have."
CREATED = datetime(2026, 11, 3)


def spoken(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def hard_plan(paper: str) -> Plan:
    plan = sample_plan(5, "F", paper)
    lots = tuple(
        replace(p, lot=replace(p.lot, name=f"{i} {name}", cultivar=name))
        for i, (p, name) in enumerate(zip(plan.lots, HARD_NAMES, strict=True))
    )
    return replace(plan, lots=lots, season=replace(plan.season, title=" ".join(HARD_NAMES)))


def test_every_lot_stands_with_its_target_its_likely_day_and_its_chance(tmp_path: Path) -> None:
    plan = sample_plan(30)
    outlooks = some_outlooks(plan)
    table, pdf, png = write_outlook(plan, outlooks, (), tmp_path, created=CREATED)
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert ",".join(rows[0]) == "lot,on,stage,heat,need,early,likely,late,target,days late,chance"
    assert [row["lot"] for row in rows] == [o.lot for o in outlooks]
    text = " ".join(page.extract_text() for page in PdfReader(pdf).pages)
    off = [o for o in outlooks if o.days_late]
    for outlook in off:
        assert text.count(spoken(outlook.target)) >= 1 and text.count(spoken(outlook.likely)) >= 1
    assert len(off) == text.count("25%") == 24 and text.count("2 d late") == text.count("2 d early") == 6
    # Lots on their day are a line: their names are there, once, and no band.
    assert all(text.count(f"{o.lot} (") == 1 for o in outlooks if not o.days_late)
    # uncertainty is said in words
    assert "8 chances in 10 that bloom falls in the band (1 in 10 before, 1 in 10 after)" in text
    check_fonts(pdf)
    with Image.open(png) as picture:
        assert picture.width > 1500


def test_a_band_is_as_long_as_its_days() -> None:
    # Early to late in the sample is 4 + 5 days and the late day itself: 10. A week of the axis is 7.
    plan = sample_plan(5)
    (page,) = draw_pages(plan, some_outlooks(plan), {})
    mondays = sorted(text.x for text in page.texts if text.said.startswith("W"))
    day = (mondays[1] - mondays[0]) / 7
    bands = [np.array(points)[:, 0] for points in page.areas[BAND]]
    lengths = [round((x.max() - x.min()) / day, 3) for x in bands]
    assert lengths.count(10.0) == 4  # and one is on its day


def late(plan: Plan, **days: int) -> list[Outlook]:
    """Outlooks of the first lots of a plan under other names, so many days late."""
    found = some_outlooks(plan)[: len(days)]
    return [
        replace(o, lot=name, likely=o.target + timedelta(days=off), late=o.target + timedelta(days=off + 5))
        for o, (name, off) in zip(found, days.items(), strict=True)
    ]


def test_it_opens_with_who_is_late_who_is_early_and_what_has_moved() -> None:
    outlooks = late(sample_plan(30), A=0, B=11, C=4, D=4, E=1, F=2, G=-3, H=-1, I=0)
    before = {o.lot: replace(o, likely=o.likely - timedelta(days=4 if o.lot == "C" else 1)) for o in outlooks}
    assert headline(outlooks, before) == (
        "5 of 9 lots are expected late: B by 11 days, C and D by 4, 2 more by 1 or 2.",
        "2 on the day, 2 early: G by 3 days, 1 more by 1.",
        "Moved since a week ago: C 4 days later.",
    )
    # B came on the day it is seen from: nothing is expected of it any more
    there = [replace(o, on=o.likely) if o.lot == "B" else o for o in outlooks]
    assert headline(there, {})[:2] == (
        "4 of 9 lots are expected late: C and D by 4 days, 2 more by 1 or 2.",
        "2 on the day, 2 early: G by 3 days, 1 more by 1, 1 came late: B by 11 days.",
    )
    calm = late(sample_plan(30), A=0, B=0)
    assert headline(calm, {}) == ("None of 2 lots is expected late.", "2 on the day.")
    slow = late(sample_plan(30), A=1, B=0)
    assert headline(slow, {})[0] == "1 of 2 lots is expected late: A by 1 day."


def test_rows_go_by_trouble_the_latest_first_then_the_earliest_and_names_are_whole() -> None:
    plan = sample_plan(10)
    outlooks = some_outlooks(plan)
    (page,) = draw_pages(plan, outlooks, {})
    words = [t.said for t in sorted(page.texts, key=lambda t: (round(t.y), t.x)) if " d " in t.said]
    assert words == ["2 d late"] * 2 + ["1 d late"] * 2 + ["2 d early"] * 2 + ["1 d early"] * 2
    table = outlook_text(outlooks, ()).splitlines()
    assert table[0].startswith("4 of 10 lots are expected late") and table[-1].startswith("On the day: ")
    long = replace(plan.lots[0], lot=replace(plan.lots[0].lot, cultivar="Grand Old Duchess of the Meadow"))
    (page,) = draw_pages(replace(plan, lots=(long, *plan.lots[1:])), outlooks[:1], {})
    said = " ".join(t.said for t in page.texts)
    assert "Grand Old Duchess" in said and "of the Meadow" in said and "…" not in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("lots", [0, 5, 30, 200])
def test_no_words_touch_others_or_leave_the_page(lots: int, paper: str) -> None:
    plan = sample_plan(lots, paper=paper)
    outlooks = some_outlooks(plan)
    before = {o.lot: replace(o, likely=o.likely - timedelta(days=3)) for o in outlooks}
    pages = draw_pages(plan, outlooks, before)
    for page in pages:
        check_drawn(page)
    assert f"page {len(pages)} of {len(pages)}" in words_of(*pages)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_long_names_of_every_script(paper: str) -> None:
    plan = hard_plan(paper)
    for page in draw_pages(plan, some_outlooks(plan), {}):
        check_drawn(page)
        # the typeface has Cyrillic, and no Han letters: the sheet says what stands for them
        assert any(MISSING_NOTE in words for words in words_of(page))
        assert any("Снежная" in words for words in words_of(page))
        rows = [t for t in page.texts if 130 < t.y < page.height - 60 and t.x < 220]  # names, what they are
        assert min(text.size for text in rows) >= 7 and not any("…" in text.said for text in rows)


@pytest.mark.parametrize("name", ["Lot", "A bench of Duchesses", "A very long name of a lot " * 4])
def test_two_hundred_lots_are_told_in_a_screen_of_80_columns(name: str) -> None:
    plan = sample_plan(200)
    outlooks = [replace(o, lot=f"{name}{i}") for i, o in enumerate(some_outlooks(plan))]
    lines = outlook_text(outlooks, (), 5).splitlines()
    table = [line for line in lines if "  " in line]
    assert len(table) == 6 and max(map(len, table)) <= 80 and "25%" in table[1]
    # 40 of 200 are on their day, the third of each five: from the earliest target on 20 March to the latest, 7 April
    assert lines[-1] == "On the day: 40 lots, from 20 Mar to 7 Apr: see outlook.csv."
    assert lines[-2] == "155 more are off their day: see outlook.csv."


def test_figures_are_large_enough_and_the_columns_are_named() -> None:
    (page,) = draw_pages(sample_plan(5), some_outlooks(sample_plan(5)), {})
    assert {"target", "likely bloom", "chance on time", "ISO week", "Monday"} <= set(words_of(page))
    days = [t for t in page.texts if t.x > 500 and t.said[:3] in ("Mon", "Tue", "Fri", "Sat", "Sun")]
    assert days and min(t.size for t in days) >= 8


def test_same_outlook_same_bytes(tmp_path: Path) -> None:
    plan = sample_plan(5)
    one, two = (
        [
            p.read_bytes()
            for p in write_outlook(plan, some_outlooks(plan), (), tmp_path / name, created=CREATED)
        ]
        for name in "ab"
    )
    assert one == two
