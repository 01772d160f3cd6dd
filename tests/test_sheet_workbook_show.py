"""The sheets of the show in season-plan.xlsx, reopened and compared with what they were written from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from forcing.dates import Span
from forcing.engine.frost import FrostNight
from forcing.engine.night_chances import NightChance
from forcing.engine.show.cover import Cover
from forcing.engine.show.show import SeasonExtras, Show
from forcing.model import Companion, Place, Plan
from forcing.reports.workbook import write_workbook
from tests.sample import sample_plan
from tests.test_orders import grown
from tests.test_sheet_workbook import NAMES, table, texts

CREATED = datetime(2026, 11, 3, 8, 30)
OPENS = date(2027, 3, 20)
TROUGHS = Cover(
    "Terrace troughs",
    Span(OPENS, OPENS + timedelta(days=4)),
    0.6,
    (0, 48, 48, 40),
    (None, 0.25, 0.62, 0.75),
    (None, 0.125, 0.4, 0.9),
    {"early": (0.0, 0.25, 0.62, 0.75)},
    ("Lost cause",),
)


def beside(*covers: Cover, **other: Any) -> SeasonExtras:
    given: dict[str, Any] = {"companions": (), "nights": (), "chances": (), "tasks": (), "findings": ()}
    return SeasonExtras(show=Show((), (), covers, {}, (), ()), **(given | other))


def reopen(plan: Plan, other: SeasonExtras | None, folder: Path) -> Any:
    return load_workbook(write_workbook(plan, folder / "p.xlsx", created=CREATED, beside=other))


def contents(book: Any) -> list[str]:
    """What the front page says is in the file: its links, in order."""
    front = book["Season"]
    links = [row[0] for row in front.iter_rows() if row[0].hyperlink is not None]
    assert all(cell.hyperlink.location == f"'{cell.value}'!A1" for cell in links)
    return [cell.value for cell in links]


def with_viola(plan: Plan) -> tuple[Plan, SeasonExtras]:
    _, viola = grown()
    companions = (viola.companion, Companion("Nobody's", "mystery", 0))
    return replace(plan, season=replace(plan.season, companions=companions)), beside(companions=(viola,))


def frost(unit: str = "C") -> tuple[Plan, SeasonExtras]:
    plan = sample_plan(3, unit="F" if unit == "F" else "C")
    night = FrostNight(
        date(2027, 3, 24),
        "Terrace troughs",
        "Terrace",
        24,
        -1.5,
        "T001",
        -2.0,
        36.0,
        0,
        ("Edging",),
        7,
        ("T001", "Edging"),
        60.0,
        margin=2.0,
    )
    chance = NightChance(date(2027, 3, 23), "Terrace troughs", "T001", -2.0, 0.0, 0.25, None, 12)
    return plan, beside(nights=(night,), chances=(chance,))


# ---------------------------------------------------------------- which sheets


def test_without_the_show_the_workbook_is_as_before(tmp_path: Path) -> None:
    book = reopen(sample_plan(3), None, tmp_path)
    assert book.sheetnames == NAMES
    assert contents(book) == NAMES[1:]


def test_sheets_of_the_show_stand_among_the_others_and_on_the_front_page(tmp_path: Path) -> None:
    plan, companions = with_viola(sample_plan(3))
    _, nights = frost()
    book = reopen(plan, replace(companions, nights=nights.nights), tmp_path)
    assert book.sheetnames == [
        "Season", "Key dates", "Companions", "Cooler calendar", "Bench calendar", "Bloom cover", "Tasks",
        "Frost nights", "Hours", "Orders", "Rooms", "Notices", "Sources",
    ]  # fmt: skip
    assert contents(book) == book.sheetnames[1:]


def test_companions_and_frost_only_where_there_are_any(tmp_path: Path) -> None:
    book = reopen(sample_plan(3), beside(), tmp_path)
    assert [name for name in book.sheetnames if name not in NAMES] == ["Bloom cover"]
    assert contents(book) == book.sheetnames[1:]
    assert "No display is open" in texts(book["Bloom cover"])


def test_seed_of_the_companions_is_ordered(tmp_path: Path) -> None:
    plan, other = with_viola(sample_plan(0))
    assert "Edging" in texts(reopen(plan, other, tmp_path)["Orders"])


# ---------------------------------------------------------------- bloom cover


def test_bloom_cover_day_by_day(tmp_path: Path) -> None:
    sheet = reopen(sample_plan(3), beside(TROUGHS), tmp_path)["Bloom cover"]
    rows = table(sheet)
    assert [row["Date"] for row in rows] == [date(2027, 3, 20 + i) for i in range(4)]
    # 20 and 21 March 2027 are Saturday and Sunday of week 11
    assert [row["Week"] for row in rows] == ["2027-W11", "2027-W11", "2027-W12", "2027-W12"]
    assert [row["Pots standing"] for row in rows] == [0, 48, 48, 40]
    assert [row["In bloom, expected"] for row in rows] == ["none", 0.25, 0.62, 0.75]
    assert [row["Chance of enough"] for row in rows] == ["none", 0.125, 0.4, 0.9]
    assert {row["Wanted"] for row in rows} == {0.6}
    # thin: nothing there; 25 % below 60 %; 62 % expected but at a chance of 40 %; the last is neither
    assert [row["Thin days"] for row in rows] == [
        "▲ nothing stands there", "▲ less than wanted", "▲ enough less likely than not", None,
    ]  # fmt: skip
    assert "Terrace troughs: not counted, as not planned: Lost cause" in texts(sheet)
    assert sheet.freeze_panes == "A4" and sheet.auto_filter.ref == "A3:H7"


def test_thin_days_are_hatched_too_so_that_a_grey_print_shows_them(tmp_path: Path) -> None:
    sheet = reopen(sample_plan(3), beside(TROUGHS), tmp_path)["Bloom cover"]
    assert [sheet.cell(row, 5).fill.patternType for row in range(4, 8)] == [None, "lightUp", "lightUp", None]
    assert sheet.cell(5, 5).number_format.startswith("0.0%")


@pytest.mark.parametrize("share", [0.6, 0.6 - 1e-12])
def test_exactly_enough_is_not_thin(tmp_path: Path, share: float) -> None:
    cover = replace(TROUGHS, share=(share,) * 4, chance=(0.5,) * 4)
    rows = table(reopen(sample_plan(3), beside(cover), tmp_path)["Bloom cover"])
    assert [row["Thin days"] for row in rows] == [None] * 4


# ---------------------------------------------------------------- companions


def test_companions_with_all_their_dates(tmp_path: Path) -> None:
    plan, other = with_viola(sample_plan(3))
    (viola,) = other.companions
    first, second = table(reopen(plan, other, tmp_path)["Companions"])
    assert (first["Companion"], first["Crop"], first["Pots"]) == ("Edging", "viola", 45)
    assert (first["Sow"], first["Transplant"], first["Set out"]) == (
        viola.sow,
        viola.transplant,
        viola.set_out,
    )
    # 12 weeks before it is sown: 84 days, a working day there
    assert (first["Order seed"], first["Harden off"], first["Wanted"]) == (
        viola.sow - timedelta(weeks=12), viola.harden, date(2027, 3, 17),
    )  # fmt: skip
    assert first["Order seed"] < first["Sow"] < first["Transplant"] < first["Harden off"] < first["Set out"]
    assert first["Grown at"] == "Bench" and first["Shown at"] == "no display"
    assert first["Pinch"] == (viola.pinch or "not pinched")
    assert second["Companion"] == "Nobody's" and second["Pots"] is None and second["Wanted"] == "not stated"
    assert second["Shown at"].startswith("▲ not planned") and second["Sow"] is None


# ---------------------------------------------------------------- frost nights


def test_frost_nights_in_order_of_evening(tmp_path: Path) -> None:
    first, second = table(reopen(*frost(), tmp_path)["Frost nights"])
    assert (first["Evening"], first["Rests on"]) == (date(2027, 3, 23), "12 years before")
    assert first["Display or place"] == "Terrace troughs"  # frames and benches stand there too
    assert (first["Chance that night"], first["Chance then or later in spring"]) == (0.25, "not known")
    assert first["What to do"] is None and first["Cover at or below °C"] == 0
    assert (second["Evening"], second["Rests on"], second["Low ahead °C"]) == (
        date(2027, 3, 24),
        "forecast",
        -1.5,
    )
    assert (
        second["What to do"].startswith("▲ cover 24 containers")
        and "not sure to be enough" in second["What to do"]
    )
    assert second["Tenderest there"] == "T001; not known: Edging" and second["Cloth m²"] == 36
    assert second["Cover at or below °C"] == 0  # it stands -2 °C, and leaves may be 2 °C colder


def test_frost_nights_in_fahrenheit(tmp_path: Path) -> None:
    _, second = table(reopen(*frost("F"), tmp_path)["Frost nights"])
    # -1.5 °C = 29.3 °F; -2 °C = 28.4 °F; 0 °C = 32 °F
    assert (second["Low ahead °F"], second["It stands °F"], second["Cover at or below °F"]) == (
        29.3,
        28.4,
        32,
    )


# ---------------------------------------------------------------- user text, sizes, other programs


def test_user_text_stays_text(tmp_path: Path) -> None:
    cover = replace(TROUGHS, display='=HYPERLINK("x")', unknown=("@a\x07b",))
    sheet = reopen(sample_plan(3), beside(cover), tmp_path)["Bloom cover"]
    assert sheet["A4"].data_type == "s" and sheet["A4"].value == '=HYPERLINK("x")'


def test_a_long_show_of_many_displays(tmp_path: Path) -> None:
    covers = [
        replace(
            TROUGHS, display=f"Bed {i}", span=Span(date(2026, 12, 20), date(2027, 3, 20)), standing=(9,) * 90,
            share=(0.7,) * 90, chance=(0.9,) * 90, by_class={}, unknown=(),
        )
        for i in range(12)
    ]  # fmt: skip
    rows = table(reopen(sample_plan(3), beside(*covers), tmp_path)["Bloom cover"])
    assert len(rows) == 12 * 90
    # Thu 31 December 2026 and Sun 3 January 2027 lie in week 53 of 2026
    assert {r["Week"] for r in rows if date(2026, 12, 28) <= r["Date"] <= date(2027, 1, 3)} == {"2026-W53"}


def test_two_writes_are_equal(tmp_path: Path) -> None:
    plan, other = frost()
    one = write_workbook(plan, tmp_path / "a.xlsx", created=CREATED, beside=other).read_bytes()
    assert one == write_workbook(plan, tmp_path / "b.xlsx", created=CREATED, beside=other).read_bytes()


def test_companions_stand_below_the_lots_in_the_calendar_of_their_bench(tmp_path: Path) -> None:
    """45 violas, set out on Wed 17 March 2027, stand on the bench from transplanting; there they harden too.

    The trays that they are sown in stand there before: weeks of nothing but trays are not in the calendar.
    """
    plan, other = with_viola(sample_plan(2))
    viola = other.companions[0]
    places = (*plan.season.places, Place("Bench", "bench", 300.0))
    plan = replace(plan, season=replace(plan.season, places=places))
    sheet = reopen(plan, other, tmp_path)["Bench calendar"]
    rows = [row for row in sheet.iter_rows(min_row=5) if row[1].value == viola.companion.name]
    assert [(row[0].value, row[2].value, row[3].value) for row in rows] == [("Bench", "viola", None)]
    weeks = [cell.value.date() for cell in sheet[4] if isinstance(cell.value, datetime)]
    stands = {week for week, cell in zip(weeks, rows[0][4:], strict=False) if cell.value is not None}
    first = viola.transplant - timedelta(days=viola.transplant.weekday())
    assert (min(stands), max(stands)) == (first, date(2027, 3, 15))
    assert len(stands) == (max(stands) - first).days / 7 + 1
    assert {cell.value for cell in rows[0][4:]} == {None, 45}
    assert "g companion growing on" in sheet["E2"].value
