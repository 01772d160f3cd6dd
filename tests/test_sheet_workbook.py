"""season-plan.xlsx: reopened and compared, cell by cell, with the plan it was written from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from forcing.dates import DAY, Span
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import Finding
from forcing.model import (
    PARAMETERS,
    STEPS,
    Companion,
    Figure,
    LogEntry,
    Lot,
    Place,
    Plan,
    RoomSetting,
    Unplanned,
)
from forcing.reports.workbook import write_workbook
from forcing.reports.workbook.calendars import calendar_of, steps_in
from tests.sample import sample_plan

CREATED = datetime(2026, 11, 3, 8, 30)
NAMES = [
    "Season", "Key dates", "Cooler calendar", "Bench calendar", "Tasks", "Hours", "Orders", "Rooms", "Notices",
    "Sources",
]  # fmt: skip


def reopen(plan: Plan, tmp_path: Path) -> Any:
    return load_workbook(write_workbook(plan, tmp_path / "season-plan.xlsx", created=CREATED))


@lru_cache(maxsize=8)
def sample_book(lots: int) -> Any:
    """The workbook of the sample, opened once for the tests that only read it."""
    with TemporaryDirectory() as folder:
        return reopen(sample_plan(lots), Path(folder))


def day_of(value: Any) -> Any:
    return value.date() if isinstance(value, datetime) else value


def row_values(sheet: Any, row: int) -> list[Any]:
    return [day_of(cell.value) for cell in sheet[row]]


def table(sheet: Any, top: int = 3) -> list[dict[str, Any]]:
    """Rows below the header in row `top`, up to the first empty row."""
    head = [cell.value for cell in sheet[top] if cell.value is not None]
    rows = []
    for row in range(top + 1, sheet.max_row + 1):
        values = row_values(sheet, row)[: len(head)]
        if all(v is None for v in values):
            break
        rows.append(dict(zip(head, values, strict=True)))
    return rows


def texts(sheet: Any) -> str:
    return "\n".join(str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None)


def block_rows(sheet: Any, place: str) -> tuple[dict[date, int], dict[str, int]]:
    """Columns by the Monday they head, and rows of a place by their label (or lot) in the side columns."""
    columns = {c.value.date(): c.column for c in sheet[4] if isinstance(c.value, datetime)}
    rows: dict[str, int] = {}
    inside = False
    for row in range(5, sheet.max_row + 1):
        first, second = sheet.cell(row, 1).value, sheet.cell(row, 2).value
        if first == place and second is None:
            inside = True
        elif inside and first is None:
            break
        elif inside:
            rows[second or first] = row
    return columns, rows


# ---------------------------------------------------------------- the whole


@pytest.mark.parametrize("lots", [0, 1, 5, 200])
def test_sheets_stand_in_the_order_a_person_needs(lots: int) -> None:
    book = sample_book(lots)
    assert book.sheetnames == NAMES
    assert book.active.title == "Season"
    for sheet in book:
        assert texts(sheet).strip(), f"{sheet.title} says nothing"


def test_two_writes_are_equal_and_carry_the_time_given(tmp_path: Path) -> None:
    plan = sample_plan(30)
    a = write_workbook(plan, tmp_path / "a.xlsx", created=CREATED)
    b = write_workbook(plan, tmp_path / "b.xlsx", created=CREATED)
    one, two = load_workbook(a), load_workbook(b)
    for left, right in zip(one, two, strict=True):
        assert [[(c.value, c.number_format) for c in row] for row in left.iter_rows()] == [
            [(c.value, c.number_format) for c in row] for row in right.iter_rows()
        ]
    assert a.read_bytes() == b.read_bytes()
    assert (one.properties.created, one.properties.modified) == (CREATED, CREATED)
    assert one.properties.title == plan.season.title


def test_a_zoned_time_is_stamped_as_utc(tmp_path: Path) -> None:
    at = datetime(2026, 11, 3, 8, 30, tzinfo=timezone(timedelta(hours=2)))
    book = load_workbook(write_workbook(sample_plan(0), tmp_path / "a.xlsx", created=at))
    assert book.properties.created == datetime(2026, 11, 3, 6, 30)


def test_an_empty_season_says_so_on_every_sheet(tmp_path: Path) -> None:
    plan = sample_plan(0)
    season = replace(plan.season, places=(), displays=())
    book = reopen(
        replace(plan, season=season, unplanned=(), rooms=(), loads=(), tasks=(), findings=()), tmp_path
    )
    said = {
        "Season": "There is no lot in this season",
        "Key dates": "No lot is planned.",
        "Cooler calendar": "No cooler is stated in this season.",
        "Bench calendar": "No bench or frame is stated in this season.",
        "Tasks": "There is nothing to do",
        "Hours": "There is no work",
        "Orders": "there are no bulbs to order",
        "Rooms": "No place is stated",
        "Notices": "Nothing was found wrong or risky.",
        "Sources": "no figures were used",
    }
    for name, words in said.items():
        assert words in texts(book[name])


def test_places_without_lots_are_named_as_empty(tmp_path: Path) -> None:
    book = reopen(sample_plan(0), tmp_path)
    assert "No lot goes into a cooler." in texts(book["Cooler calendar"])
    assert "Cold room South: cooler, room for 700 pots" in texts(book["Cooler calendar"])
    assert "No lot goes into a bench or frame." in texts(book["Bench calendar"])
    # with lots on the benches, the empty frame is still there and says so
    sheet = reopen(sample_plan(5), tmp_path)["Bench calendar"]
    assert "No lot stands here." in texts(sheet)


# ---------------------------------------------------------------- on screen and on paper


@pytest.mark.parametrize("lots", [1, 30])
def test_panes_filters_and_print_titles(lots: int) -> None:
    book = sample_book(lots)
    assert book["Key dates"].freeze_panes == "B4"
    assert book["Key dates"].print_title_rows == "$1:$3"
    assert book["Key dates"].print_title_cols == "$A:$A"
    assert book["Key dates"].auto_filter.ref == f"A3:Y{3 + lots}"
    for name in ("Cooler calendar", "Bench calendar"):
        assert book[name].freeze_panes == "E5"
        assert book[name].print_title_rows == "$1:$4"
        assert book[name].print_title_cols == "$A:$D"
        assert book[name].sheet_view.showGridLines is False
    assert book["Tasks"].auto_filter.ref == f"A3:L{3 + 8 * lots + 1}"
    for name in ("Tasks", "Hours", "Orders", "Rooms", "Notices", "Sources"):
        assert book[name].freeze_panes == "A4"
        # the few bulbs of these plans fill one page, and the tables after them have headers of their own
        assert book[name].print_title_rows == ("$1:$2" if name == "Orders" else "$1:$3")
        assert book[name].auto_filter.ref
        assert book[name].page_setup.fitToWidth == 1
        assert book[name].sheet_properties.pageSetUpPr.fitToPage
    for sheet in book:
        assert sheet.page_setup.orientation == (
            "portrait" if sheet.title in ("Season", "Orders") else "landscape"
        )
        assert sheet.page_setup.paperSize == 9  # ECMA-376 part 1, 18.3.1.63: 9 is A4


def test_letter_paper_where_the_season_wants_it(tmp_path: Path) -> None:
    book = reopen(sample_plan(1, paper="Letter"), tmp_path)
    assert {sheet.page_setup.paperSize for sheet in book} == {1}  # ECMA-376 part 1, 18.3.1.63: 1 is Letter


# Adobe Core 14 font metrics (Adobe, 1997), Helvetica-Bold: widths in thousandths of the font size.
BOLD = {
    " ": 278, **dict.fromkeys("0123456789", 556),
    "A": 722, "D": 722, "F": 611, "J": 556, "M": 833, "N": 722, "O": 778, "S": 667, "T": 611, "W": 944,
    "a": 556, "b": 611, "c": 556, "d": 611, "e": 556, "g": 611, "h": 611, "i": 278, "l": 278, "n": 611, "o": 611,
    "p": 611, "r": 389, "t": 333, "u": 611, "v": 556, "y": 556,
}  # fmt: skip
WORDS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def date_units(day: date) -> float:
    """Column width that a bold 10 point date needs: a unit is 7 pixels of 0.75 points, 5 pixels are padding."""
    text = f"{WORDS[day.weekday()]} {day.day} {MONTHS[day.month - 1]} {day.year}"
    return (sum(BOLD[c] for c in text) / 100 + 5 * 0.75) / 5.25


@pytest.mark.parametrize("lots", [1, 200])
def test_no_date_is_wider_than_its_column(lots: int) -> None:
    book = sample_book(lots)
    checked = 0
    for sheet in book:
        merged = {r.min_row * 1000 + r.min_col: r.max_col for r in sheet.merged_cells.ranges}
        for row in sheet.iter_rows():
            for cell in row:
                if not isinstance(cell.value, datetime) or "yyyy" not in cell.number_format:
                    continue
                last = merged.get(cell.row * 1000 + cell.column, cell.column)
                width = sum(
                    sheet.column_dimensions[get_column_letter(c)].width for c in range(cell.column, last + 1)
                )
                assert width >= date_units(cell.value.date()), f"{sheet.title} {cell.coordinate}"
                checked += 1
    assert checked > 10 * lots


def test_every_date_is_a_real_date_that_cannot_be_read_the_wrong_way_round() -> None:
    book = sample_book(5)
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, datetime):
                    # the month is a word, in one language on every machine
                    assert cell.number_format.startswith("[$-809]") and "mmm" in cell.number_format


@pytest.mark.parametrize("lots", [5, 30, 200])
def test_calendars_print_on_at_most_two_pages_wide_and_places_are_not_cut(lots: int) -> None:
    book = sample_book(lots)
    for name in ("Cooler calendar", "Bench calendar"):
        sheet = book[name]
        scale = sheet.page_setup.scale / 100
        # A4 across: 841.9 x 595.3 points; margins as written in the file
        margins = sheet.page_margins
        wide = 841.9 - 72 * (margins.left + margins.right)
        tall = 595.3 - 72 * (margins.top + margins.bottom)
        widths = [
            sheet.column_dimensions[get_column_letter(c)].width * 5.56 for c in range(1, sheet.max_column + 1)
        ]
        cuts = [b.id for b in sheet.col_breaks.brk]
        assert len(cuts) <= 1
        ends = [4, *cuts, len(widths)]
        for start, end in pairwise(ends):
            assert (sum(widths[:4]) + sum(widths[start:end])) * scale <= wide
        heights = [sheet.row_dimensions[r].height for r in range(1, sheet.max_row + 1)]
        assert None not in heights
        breaks = [4, *(b.id for b in sheet.row_breaks.brk), len(heights)]
        for start, end in pairwise(breaks):
            assert (sum(heights[:4]) + sum(heights[start:end])) * scale <= tall
        for brk in sheet.row_breaks.brk:  # a page begins with a place or goes on in one of several pages
            first = sheet.cell(brk.id + 1, 1)
            assert first.value is not None
            assert lots == 200 or first.font.size == 11


# ---------------------------------------------------------------- front page


def test_front_page_shows_the_show_the_trouble_and_the_counts(tmp_path: Path) -> None:
    plan = sample_plan(5)
    error = Finding("x", "error", "lots", 9, "crop", "no such crop", "choose one of the crops", "tulp")
    sheet = reopen(replace(plan, findings=(*plan.findings, error)), tmp_path)["Season"]
    said = texts(sheet)
    assert "Spring in the Orangery – fenêtre sur cour" in said
    assert "Open Sat 20 Mar 2027 to Sun 2 May 2027, 44 days." in said
    assert "1 of 6 lots cannot be planned" in said
    assert "1 error, 2 warnings" in said
    assert "no such crop (tulp) (lots, row 9, crop). choose one of the crops" in said
    first_twenty = "\n".join(str(c.value) for row in sheet.iter_rows(max_row=20) for c in row if c.value)
    assert "needs 13 cold-weeks, has 9" in first_twenty
    facts = {sheet.cell(r, 1).value: day_of(sheet.cell(r, 2).value) for r in range(1, sheet.max_row + 1)}
    assert (facts["Lots planned"], facts["Lots not planned"]) == (5, 1)
    assert facts["Pots planned"] == 12 + 19 + 26 + 33 + 40
    assert facts["Bulbs in those pots"] == 6 * 130
    assert facts["Made on"] == date(2026, 11, 3)
    assert facts["Temperatures in"] == "°C"
    assert facts["Working days"] == "Mon to Fri, less 1 holiday: Fri 25 Dec 2026"
    assert facts["Hours a week"] == "60 hours"
    row = next(r for r in range(1, 30) if sheet.cell(r, 1).value == "Lost cause")
    assert day_of(sheet.cell(row, 7).value) == date(2027, 4, 2)
    links = {c.hyperlink.location for row in sheet.iter_rows() for c in row if c.hyperlink}
    assert links == {f"'{name}'!A1" for name in NAMES[1:]}


def test_front_page_when_all_is_well(tmp_path: Path) -> None:
    sheet = reopen(replace(sample_plan(5), unplanned=(), findings=()), tmp_path)["Season"]
    assert "All 5 lots are planned." in texts(sheet)
    assert "Nothing was found wrong or risky." in texts(sheet)
    assert "cannot be planned" not in texts(sheet)


def test_front_page_names_the_file_it_was_made_from(tmp_path: Path) -> None:
    path = write_workbook(sample_plan(3), tmp_path / "plan.xlsx", created=CREATED, source="spring-v2.xlsx")
    said = texts(load_workbook(path)["Season"])
    assert "Season file\nspring-v2.xlsx" in said or "Season file spring-v2.xlsx" in said


# ---------------------------------------------------------------- key dates


@pytest.mark.parametrize("lots", [1, 5, 200])
def test_key_dates_are_those_of_the_plan(lots: int) -> None:
    plan = sample_plan(lots)
    rows = table(sample_book(lots)["Key dates"])
    assert len(rows) == lots
    for row, planned in zip(rows, plan.lots, strict=True):
        lot = planned.lot
        assert (row["Lot"], row["Crop"], row["Cultivar"], row["Pots"]) == (
            lot.name,
            lot.crop,
            lot.cultivar,
            lot.pots,
        )
        assert row["Class"] == {"early": "E early", "mid": "M mid", "late": "L late"}[str(lot.bloom_class)]
        assert row["Potting"] == planned.potting
        assert row["Cooler in"] == planned.cooler_in
        assert row["Rooted"] == planned.rooted
        assert row["Out of cold, bring in"] == planned.bring_in
        assert [row[s.capitalize()] for s in ("shoots", "bud", "colour")] == [
            planned.stages[s] for s in ("shoots", "bud", "colour")
        ]
        assert (row["Bloom"], row["Target"], row["Days early"]) == (planned.bloom, planned.target, 0)
        assert (row["Set out"], row["Fade"]) == (planned.install, planned.fade)
        assert row["Cold-weeks chosen"] == planned.cold_wanted
        assert row["Cold-weeks credited"] == pytest.approx(planned.cold_weeks)
        assert (row["Cooler"], row["Bench"]) == (lot.cooler, lot.bench)
        assert row["Days with assumed temperature"] == planned.assumed_days


def test_what_is_not_known_is_said_in_words_and_late_lots_are_marked(tmp_path: Path) -> None:
    plan = sample_plan(2)
    first, second = plan.lots
    first = replace(first, cooler_in=None, rooted=None, install=None, fade=None, stages={}, days_early=-3)
    second = replace(second, rooted=None)
    sheet = reopen(replace(plan, lots=(first, second)), tmp_path)["Key dates"]
    one, two = table(sheet)
    assert (one["Cooler in"], one["Rooted"]) == ("needs no cold", "needs no cold")
    assert (one["Set out"], one["Fade"], one["Bud"]) == ("stays in place", "not known", "not known")
    assert two["Rooted"] == "not in time"
    assert one["Days early"] == -3
    assert "▲" in sheet.cell(4, 15).number_format and sheet.cell(4, 15).font.bold


def test_logged_dates_carry_a_tick_and_stay_dates(tmp_path: Path) -> None:
    plan = sample_plan(1)
    potted = LogEntry(plan.lots[0].potting, "T001", "potted")
    plan = replace(plan, on=date(2026, 11, 9), season=replace(plan.season, log=(potted,)))
    book = reopen(plan, tmp_path)
    sheet = book["Key dates"]
    assert "1 entry, the last on Mon 9 Nov 2026" in texts(book["Season"])
    assert table(book["Orders"])[0]["When"] == "potted"
    assert day_of(sheet["F4"].value) == plan.lots[0].potting
    assert "✓" in sheet["F4"].number_format
    assert "✓" not in sheet["G4"].number_format


def test_what_is_logged_after_the_day_of_the_plan_is_not_known_yet(tmp_path: Path) -> None:
    plan = replace(sample_plan(1), on=date(2026, 11, 8))  # T001 is potted on the 9th
    potted = LogEntry(plan.lots[0].potting, "T001", "potted")
    book = reopen(replace(plan, season=replace(plan.season, log=(potted,))), tmp_path)
    assert "✓" not in book["Key dates"]["F4"].number_format
    assert "0 entries; 1 after the day this was made" in texts(book["Season"])
    assert table(book["Orders"])[0]["When"] != "potted"


def test_unplanned_lots_stand_below_with_the_reason(tmp_path: Path) -> None:
    plan = sample_plan(3)
    lost = Unplanned(
        Lot("Odd", "tulip", 4, "late", "Ivory", target=date(2027, 1, 2)), "no cooler has room", None
    )
    sheet = reopen(replace(plan, unplanned=(*plan.unplanned, lost)), tmp_path)["Key dates"]
    below = [row_values(sheet, r)[:8] for r in range(8, sheet.max_row + 1)]
    assert [
        "Odd",
        "tulip",
        "L late",
        "Ivory",
        4,
        date(2027, 1, 2),
        "not known",
        "no cooler has room",
    ] in below
    assert any(row[0] == "Lost cause" and row[7] == "needs 13 cold-weeks, has 9" for row in below)


# ---------------------------------------------------------------- calendars


def recount(plan: Plan, place: str) -> dict[date, int]:
    """Most pots on any day of each week (by its Monday), counted lot by lot and day by day."""
    by_day: dict[date, int] = {}
    for planned in plan.lots:
        for step in planned.steps:
            day = step.span.start
            while step.place == place and day < step.span.end:
                by_day[day] = by_day.get(day, 0) + planned.lot.pots
                day += timedelta(days=1)
    peaks: dict[date, int] = {}
    for day, pots in by_day.items():
        year, week, _ = day.isocalendar()
        first = date.fromisocalendar(year, week, 1)
        peaks[first] = max(peaks.get(first, 0), pots)
    return peaks


@pytest.mark.parametrize("lots", [1, 5, 30, 200])
def test_peaks_space_and_overfull_weeks_match_a_count_by_hand(lots: int) -> None:
    plan = sample_plan(lots)
    book = sample_book(lots)
    checked = 0
    for place in plan.season.places:
        if place.kind == "site" or not recount(plan, place.name):
            continue
        assert place.pots is not None
        sheet = book["Cooler calendar" if place.kind == "cooler" else "Bench calendar"]
        columns, rows = block_rows(sheet, place.name)
        peaks = recount(plan, place.name)
        assert set(peaks) <= set(columns)
        for week, column in columns.items():
            peak = sheet.cell(rows["Most pots in the week"], column)
            space = sheet.cell(rows["Space left"], column)
            expected = peaks.get(week, 0)
            assert (peak.value or 0) == expected
            if expected > place.pots:
                assert space.value == f"▲ +{expected - place.pots:,.0f}"
                assert peak.fill.patternType == "lightUp"
            else:
                assert space.value == place.pots - expected
                assert peak.fill.patternType in (None, "solid")
            checked += 1
    assert checked


@pytest.mark.parametrize("lots", [5, 30])
def test_each_lot_stands_in_its_weeks_with_pots_and_letter(lots: int) -> None:
    plan = sample_plan(lots)
    book = sample_book(lots)
    letters = {"root": "r", "cool": "c", "bench": "b"}
    for planned in plan.lots:
        for name, place in (("Cooler calendar", planned.lot.cooler), ("Bench calendar", planned.lot.bench)):
            columns, rows = block_rows(book[name], str(place))
            for week, column in columns.items():
                cell = book[name].cell(rows[planned.lot.name], column)
                here = [
                    letters[s.step] for s in planned.steps
                    if s.place == place and s.span.start < week + timedelta(days=7) and s.span.end > week
                ]  # fmt: skip
                assert cell.value == (planned.lot.pots if here else None)
                if here:
                    assert cell.number_format == f'"{"".join(here)} "0'
                    assert cell.fill.patternType == "solid"


def test_week_53_is_there_with_its_monday(tmp_path: Path) -> None:
    # ISO 8601: 2026 has 53 weeks, the last begins on Monday 28 December 2026; then week 1 of 2027 on 4 January
    sheet = reopen(sample_plan(5), tmp_path)["Cooler calendar"]
    heads = {day_of(sheet.cell(4, c).value): sheet.cell(3, c).value for c in range(5, sheet.max_column + 1)}
    assert heads[date(2026, 12, 28)].strip() == "W53"
    assert heads[date(2027, 1, 4)] == "2027\nW01"
    assert heads[date(2026, 11, 2)] == "2026\nW45"
    weeks = [d for d in heads if d]
    assert all(b - a == timedelta(days=7) for a, b in pairwise(weeks))
    assert all(d.weekday() == 0 for d in weeks)


def test_smaller_pots_take_less_room_where_the_plan_gives_no_load(tmp_path: Path) -> None:
    plan = sample_plan(1)
    small = replace(plan.lots[0], lot=replace(plan.lots[0].lot, pots=20, pot_cm=10.5))
    sheet = reopen(replace(plan, lots=(small,), loads=()), tmp_path)["Cooler calendar"]
    columns, rows = block_rows(sheet, "Cold room North")
    # area goes with the square of the width: 20 x (10.5 / 15)^2 = 9.8 pots of 15 cm; 900 - 9.8 = 890.2
    column = columns[date(2026, 12, 14)]
    assert sheet.cell(rows["Most pots in the week"], column).value == 9.8
    assert sheet.cell(rows["Space left"], column).value == 890.2


def test_a_place_without_capacity_is_never_overfull(tmp_path: Path) -> None:
    plan = sample_plan(30)
    places = tuple(replace(p, pots=None) for p in plan.season.places)
    sheet = reopen(replace(plan, season=replace(plan.season, places=places)), tmp_path)["Bench calendar"]
    assert "capacity not stated" in texts(sheet)
    assert "Space left: not known" in texts(sheet)
    assert "▲ +" not in texts(sheet)


@pytest.mark.parametrize(("pots", "shown"), [(12.0, 0), (11.999, "▲ +0.1"), (11.0, "▲ +1"), (12.5, 0.5)])
def test_full_to_the_last_pot_is_not_overfull(tmp_path: Path, pots: float, shown: object) -> None:
    plan = sample_plan(1)  # 12 pots
    places = tuple(replace(p, pots=pots) if p.kind == "bench" else p for p in plan.season.places)
    sheet = reopen(replace(plan, season=replace(plan.season, places=places)), tmp_path)["Bench calendar"]
    columns, rows = block_rows(sheet, "Bench 1")
    assert sheet.cell(rows["Space left"], columns[date(2027, 3, 8)]).value == shown


def test_temperatures_and_steps_down(tmp_path: Path) -> None:
    plan = sample_plan(5)
    north = "Cold room North"
    rooms = (
        RoomSetting(north, Span(date(2026, 9, 28), date(2026, 11, 12)), 9.0, 9.0, "planned"),
        RoomSetting(north, Span(date(2026, 11, 12), date(2027, 1, 4)), 5.0, 5.0, "planned"),  # a Thursday
        RoomSetting(north, Span(date(2027, 1, 4), date(2027, 2, 1)), 1.0, 1.0, "planned"),  # a Monday
        RoomSetting(north, Span(date(2027, 2, 1), date(2027, 3, 8)), 1.0, 1.0, "planned"),  # no change
    )
    sheet = reopen(replace(plan, rooms=rooms), tmp_path)["Cooler calendar"]
    columns, rows = block_rows(sheet, north)
    shown = {week: sheet.cell(rows["Set to, °C"], column).value for week, column in columns.items()}
    assert shown[date(2026, 11, 2)] == 9
    assert shown[date(2026, 11, 9)] == "9\n↓5\nThu"
    assert shown[date(2026, 11, 16)] == 5
    assert shown[date(2027, 1, 4)] == "↓1\nMon"
    assert shown[date(2027, 2, 1)] == 1
    assert shown[date(2027, 3, 8)] is None  # nothing is stated from that day on
    assert "Set to: not stated" in texts(sheet)  # the other cooler


def test_temperatures_in_fahrenheit(tmp_path: Path) -> None:
    # 9 °C = 48.2 °F, 5 °C = 41 °F, 17 °C = 62.6 °F, 13 °C = 55.4 °F (NIST SP 811: °F = °C x 1.8 + 32)
    book = reopen(sample_plan(5, unit="F"), tmp_path)
    sheet = book["Cooler calendar"]
    columns, rows = block_rows(sheet, "Cold room North")
    assert sheet.cell(rows["Set to, °F"], columns[date(2026, 11, 2)]).value == 48.2
    assert sheet.cell(rows["Set to, °F"], columns[date(2026, 11, 9)]).value == "↓41\nMon"
    sheet = book["Bench calendar"]
    columns, rows = block_rows(sheet, "Bench 1")
    week = columns[date(2027, 3, 1)]
    assert [sheet.cell(rows[label], week).value for label in ("Day, °F", "Night, °F")] == [62.6, 55.4]
    room = table(book["Rooms"])[0]
    assert (room["Day °F"], room["Night °F"], room["Mean °F"]) == (48.2, 48.2, 48.2)
    used = {r["Figure"]: (r["Used"], r["Unit"]) for r in table(book["Sources"]) if r["Crop"] == "tulip"}
    assert used["bench_low"] == (50, "°F")
    assert used["frost"] == (28.4, "°F")
    assert used["cold_min"] == (13, "weeks")
    assert "°C" not in "".join(texts(s) for s in book if s.title not in ("Tasks", "Notices"))


def test_a_lot_in_two_steps_in_a_week_shows_the_longer_and_of_equals_the_later(tmp_path: Path) -> None:
    plan = sample_plan(1)
    planned = plan.lots[0]
    week = date(2026, 11, 30)
    for days, main in ((3, "cool"), (4, "root")):
        change = week + timedelta(days=days)
        steps = tuple(
            replace(s, span=Span(s.span.start, change)) if s.step == "root"
            else replace(s, span=Span(change, s.span.end)) if s.step == "cool" else s
            for s in planned.steps
        )  # fmt: skip
        calendar = calendar_of(replace(plan, lots=(replace(planned, steps=steps),)), ("cooler",))
        assert week in calendar.weeks
        assert steps_in(calendar.places[0].ways[0], Span(week, week + 7 * DAY)) == (("root", "cool"), main)


def luminance(rgb: tuple[float, float, float]) -> float:
    # WCAG 2.1, definition of relative luminance
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_figures_can_be_read_on_their_fill_in_colour_and_in_grey(tmp_path: Path) -> None:
    plan = sample_plan(5)
    planned = plan.lots[0]
    steps = tuple(  # every step stands on the bench for a week
        replace(planned.steps[1], step=step, place="Bench 1", span=Span(start, start + timedelta(days=7)))
        for i, step in enumerate(STEPS)
        for start in [date(2027, 1, 4) + timedelta(days=7 * i)]
    )
    book = reopen(replace(plan, lots=(replace(planned, steps=steps),), loads=()), tmp_path)
    columns, rows = block_rows(book["Bench calendar"], "Bench 1")
    fills = set()
    for i in range(len(STEPS)):
        cell = book["Bench calendar"].cell(rows["T001"], columns[date(2027, 1, 4) + timedelta(days=7 * i)])
        pair = []
        for colour in (cell.fill.start_color.rgb, cell.font.color.rgb):
            red, green, blue = (int(colour[j : j + 2], 16) / 255 for j in (2, 4, 6))
            grey = 0.299 * red + 0.587 * green + 0.114 * blue  # ITU-R BT.601
            pair.append((luminance((red, green, blue)), luminance((grey, grey, grey))))
        for ground, ink in zip(*pair, strict=True):
            assert (max(ground, ink) + 0.05) / (min(ground, ink) + 0.05) >= 4.4, STEPS[i]
        fills.add(cell.fill.start_color.rgb)
    assert len(fills) == len(STEPS)


def test_this_week_is_black_in_the_heads(tmp_path: Path) -> None:
    sheet = reopen(sample_plan(5), tmp_path)["Cooler calendar"]  # seen on Tue 3 November 2026
    dark = [
        day_of(c.value)
        for c in sheet[4]
        if c.fill.patternType and c.fill.start_color.rgb.upper() == "FF1A1A1A"
    ]
    assert dark == [date(2026, 11, 2)]


# ---------------------------------------------------------------- tasks, hours, orders, rooms, notices, sources


def test_tasks_are_those_of_the_plan(tmp_path: Path) -> None:
    plan = sample_plan(5)
    sheet = reopen(plan, tmp_path)["Tasks"]
    rows = table(sheet)
    assert len(rows) == len(plan.tasks)
    assert [r["Date"] for r in rows] == sorted(t.date for t in plan.tasks)
    found = {
        (r["Date"], r["Lot"] or None, r["Task"], r["Place"] or None, r["To"] or None, r["Pots"] or 0, r["Hours"],
         r["Look for"], r["Cautions"] or "", r["State"])
        for r in rows
    }  # fmt: skip
    assert found == {
        (t.date, t.lot, t.task, t.place, t.to, t.pots, t.hours, t.look_for, ", ".join(t.cautions), t.state)
        for t in plan.tasks
    }
    assert all(cell.number_format.startswith("[$-809]ddd ") for cell in sheet["A"][3:] if cell.is_date)
    assert all(r["Week"] == r["Date"].strftime("%G-W%V") for r in rows)
    for key in ("bulbs", "lifting", "cold room", "wet floor"):
        assert texts(sheet).count(CAUTIONS[key]) == 1
    assert CAUTIONS["ladder"] not in texts(sheet)


@pytest.mark.parametrize("limit", [60.0, 2.0, None])
def test_hours_by_week_against_those_there_are(tmp_path: Path, limit: float | None) -> None:
    plan = sample_plan(5)
    plan = replace(plan, season=replace(plan.season, hours_per_week=limit))
    sheet = reopen(plan, tmp_path)["Hours"]
    *rows, whole = table(sheet)
    wanted: dict[str, float] = {}
    for task in plan.tasks:
        week = task.date.strftime("%G-W%V")
        wanted[week] = wanted.get(week, 0) + task.hours
    assert {r["Week"]: r["All"] for r in rows if r["All"]} == pytest.approx(wanted, abs=0.006)
    # every week from the first work to the last pots, quiet ones too, and the fullest day of each kind of place
    assert all(b["Monday"] - a["Monday"] == timedelta(days=7) for a, b in pairwise(rows))
    kinds = {"Cold room North": 0, "Cold room South": 0, "Bench 1": 1, "Bench 2": 1, "Frame": 1, "Terrace": 1}
    for row in rows:
        full = [0.0, 0.0]
        for load in plan.loads:
            for i, pots in enumerate(load.pots):
                if 0 <= (load.start + timedelta(days=i) - row["Monday"]).days < 7:
                    full[kinds[load.place]] = max(full[kinds[load.place]], pots / load.capacity)
        found = [row["Fullest cooler"] or 0.0, row["Fullest bench or frame"] or 0.0]
        assert found == pytest.approx(full, abs=1e-4)
        assert row.get("There are") == limit
    assert whole["All"] == pytest.approx(sum(t.hours for t in plan.tasks), abs=0.006)
    assert whole["bring in"] == pytest.approx(
        sum(t.hours for t in plan.tasks if t.task == "bring in"), abs=0.006
    )
    for row in rows:
        if limit is None:
            assert row["Hours left: not known"] is None
        elif row["All"] > limit:
            assert row["Hours left"].startswith("▲ +")
            assert float(row["Hours left"][3:]) == pytest.approx(row["All"] - limit, abs=0.051)
        else:
            assert row["Hours left"] == pytest.approx(limit - row["All"])


def test_orders_add_the_loss_and_round_up(tmp_path: Path) -> None:
    plan = sample_plan(6)  # lot 6 has the cultivar of lot 1 in another crop, so it stays a row of its own
    plan = replace(plan, season=replace(plan.season, loss=0.1))
    sheet = reopen(plan, tmp_path)["Orders"]
    *rows, whole = table(sheet)
    assert [r["Lots"] for r in rows] == ["T001", "T002", "T003", "T004", "T005", "T006"]
    # T001: 12 pots x 6 = 72 bulbs; 72 / 0.9 = 80 exactly. T002: 19 x 6 = 114; 114 / 0.9 = 126.67 -> 127
    # No packs are stated: what is ordered is the bulbs with the loss, and no column says so twice.
    assert [(r["Bulbs"], r["To order"]) for r in rows[:2]] == [(72, 80), (114, 127)]
    assert "Bulbs with loss" not in rows[0] and "Packs" not in rows[0]
    assert whole["Pots"] == 12 + 19 + 26 + 33 + 40 + 47
    assert whole["Bulbs"] == 6 * 177
    # All bulbs together, 16 weeks before they are in hand on Sun 20 September: Sun 31 May, so Fri 29 May. To 3 November
    # are 2 days of May, 153 of June to October, and 3.
    assert {r["Order by"] for r in rows} == {date(2026, 5, 29)}
    assert rows[0]["When"] == "158 days ago: check it is ordered"
    said = texts(sheet)
    assert "10.0% loss" in said and "1 that cannot be planned" in said
    # 177 pots of 15 cm; 177 / 0.9 = 196.67 -> 197
    top = next(r for r in range(1, sheet.max_row) if sheet.cell(r, 1).value == "pots 15 cm")
    assert row_values(sheet, top)[1:4] == [177, 197, "pots"]


@pytest.mark.parametrize(("in_hand", "days"), [
    # The first, T004, is potted on Tue 3 November 2026: 16 weeks before is Tue 14 July, for all of them.
    (None, (date(2026, 7, 14), date(2026, 7, 14))),
    # Bulbs wanted in hand on Wed 26 August: 16 weeks before is Wed 6 May.
    (date(2026, 8, 26), (date(2026, 5, 6), date(2026, 5, 6))),
])  # fmt: skip
def test_lots_without_an_order_task_are_ordered_by_the_rule_of_the_season(
    tmp_path: Path, in_hand: date | None, days: tuple[date, date]
) -> None:
    plan = sample_plan(5)
    plan = replace(plan, tasks=(), season=replace(plan.season, bulbs_in_hand=in_hand))
    rows = table(reopen(plan, tmp_path)["Orders"])
    assert (rows[0]["Order by"], rows[4]["Order by"]) == days


def test_lots_of_one_cultivar_are_ordered_together_for_the_first_of_them(tmp_path: Path) -> None:
    plan = sample_plan(2)
    one, two = plan.lots
    two = replace(two, lot=replace(one.lot, name="T002", pots=3, bulbs_per_pot=None))  # the recipe says 6 too
    (row, _whole) = table(reopen(replace(plan, lots=(one, two)), tmp_path)["Orders"])
    assert (row["Lots"], row["Pots"], row["To order"]) == ("T001, T002", 15, 90)
    assert "Bulbs" not in row  # no loss is stated: it would say the same
    assert row["First potting"] == min(one.potting, two.potting)


def test_mix_and_companions_are_ordered_too(tmp_path: Path) -> None:
    plan = sample_plan(1)
    display = replace(plan.season.displays[0], litres=32.5)
    pansy = Companion("Viola edging", "viola", 48, date(2027, 3, 19))
    season = replace(plan.season, displays=(display,), companions=(pansy,))
    sheet = reopen(replace(plan, season=season), tmp_path)["Orders"]
    rows = [row_values(sheet, r)[:4] for r in range(1, sheet.max_row + 1)]
    assert ["Terrace troughs", 24, "32.5 L each", "780 L"] in rows  # 24 x 32.5 = 780
    assert ["Viola edging", "viola", 48, date(2027, 3, 19)] in rows


def test_rooms_show_first_and_last_day_of_each_setting(tmp_path: Path) -> None:
    rows = table(reopen(sample_plan(5), tmp_path)["Rooms"])
    first = rows[0]
    assert (first["Place"], first["Kind"], first["Basis"], first["Reason"]) == (
        "Cold room North", "cooler", "planned", "rooting",
    )  # fmt: skip
    # half-open 28 September to 9 November: the last day is the 8th
    assert (first["First day"], first["Last day"]) == (date(2026, 9, 28), date(2026, 11, 8))
    bench = next(r for r in rows if r["Place"] == "Bench 1")
    assert (bench["Day °C"], bench["Night °C"], bench["Mean °C"]) == (17, 13, 15)
    assert {r["Place"] for r in rows if r["First day"] == "not set"} == {
        "Cold room South", "Bench 2", "Frame", "Terrace",
    }  # fmt: skip


def test_notices_hold_every_finding_worst_first(tmp_path: Path) -> None:
    plan = sample_plan(1)
    error = Finding(
        "z", "error", "season", None, None, "none opens on 2027-03-20", "state the day the show opens"
    )
    rows = table(reopen(replace(plan, findings=(*plan.findings, error)), tmp_path)["Notices"])
    assert [r["Severity"] for r in rows] == ["▲ error", "warning", "warning"]
    assert [r["What is wrong"] for r in rows] == [
        "none opens on Sat 20 Mar",
        plan.findings[0].what(),
        "Bench 1 is 12 pots over in the week of Mon 1 Mar (312 of 300)",  # Monday of 2027-W09
    ]
    assert [(r["Table"], r["Row"], r["Column"]) for r in rows] == [
        ("season", None, None), ("lots", 3, "cold weeks"), ("places", 4, "pots"),
    ]  # fmt: skip


def test_sources_show_each_figure_once_with_where_it_comes_from(tmp_path: Path) -> None:
    plan = sample_plan(5)
    published = Figure(
        "tulip", "base", 2.0, "°C", "published", "ibc_tulip", "table 1 [practice]", low=0.0, high=5.0
    )
    house = Figure("tulip", "cold_curve", "tulip", "name", "house", "our log", "row 7", "early")
    figures = {"base": published, "cold_curve": house}
    lots = tuple(
        replace(p, recipe=replace(p.recipe, figures=figures)) if p.lot.crop == "tulip" else p
        for p in plan.lots
    )
    sheet = reopen(replace(plan, lots=lots), tmp_path)["Sources"]
    rows = [r for r in table(sheet) if r["Crop"] == "tulip"]
    assert len(rows) == len(PARAMETERS) == 37  # parameters of a recipe, once for the three lots of the crop
    base = next(r for r in rows if r["Figure"] == "base")
    assert [base[k] for k in ("Low", "Used", "High", "Unit", "Basis", "Source")] == [
        0, 2, 5, "°C", "published", "ibc_tulip",
    ]  # fmt: skip
    curve = next(r for r in rows if r["Figure"] == "cold_curve")
    assert (curve["Used"], curve["Class"], curve["Basis"], curve["Source"]) == (
        "tulip",
        "early",
        "house",
        "our log",
    )
    # a value that came without its figure does not pretend to have a source
    assert next(r for r in rows if r["Figure"] == "cap")["Source"] == "not recorded"
    named = {sheet.cell(r, 1).value for r in range(1, sheet.max_row + 1) if sheet.cell(r, 4).value}
    assert {"ibc_tulip", "practice"} <= named  # the works themselves, also the one a note names


# ---------------------------------------------------------------- text

NASTY = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    '=HYPERLINK("x")',
    "#N/A",
    "TRUE",
    "2027-01-01",
    "00123",
    "a\x07b",
    "\tx",
)


def renamed(plan: Plan, names: list[str]) -> Plan:
    """The plan with its lots, cultivars and a place named so."""
    lots = []
    for planned, name in zip(plan.lots, names, strict=True):
        steps = tuple(
            replace(s, lot=name, place="=C" if s.place == "Bench 1" else s.place) for s in planned.steps
        )
        lots.append(
            replace(planned, lot=replace(planned.lot, name=name, cultivar=name, bench="=C"), steps=steps)
        )
    places = tuple(Place("=C", "bench", 300.0) if p.name == "Bench 1" else p for p in plan.season.places)
    return replace(plan, lots=tuple(lots), season=replace(plan.season, places=places, title="=&A" + names[0]))


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    plan = renamed(sample_plan(len(NASTY)), list(NASTY))
    book = reopen(plan, tmp_path)
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type in ("s", "n", "d"), f"{sheet.title} {cell.coordinate} {cell.value!r}"
                if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@")):
                    assert cell.quotePrefix  # and it stays text when someone edits it
    names = [row["Lot"] for row in table(book["Key dates"])]
    assert names == [n.replace("\x07", " ") for n in NASTY]
    assert book["Season"]["A1"].value == "=&A=1+1"
    assert "&&A" in book["Season"].oddFooter.left.text  # '&A' alone would print the sheet's name


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40),
        min_size=1,
        max_size=4,
    )
)
def test_any_name_can_be_written_and_read_back(tmp_path: Path, names: list[str]) -> None:
    sheet = reopen(renamed(sample_plan(len(names)), names), tmp_path)["Key dates"]
    cells = [sheet.cell(4 + i, 1).value for i in range(len(names))]
    allowed = [n.replace("\ufffe", " ").replace("\uffff", " ") for n in names]
    assert cells == allowed


def test_no_text_is_cut_in_its_row(tmp_path: Path) -> None:
    # a reason of 60 words in a column of about 24 digits needs many lines; the row must be as high
    plan = sample_plan(1)
    reason = " ".join(["the cooler is full in every week that is cold enough"] * 6)
    lost = replace(plan.unplanned[0], reason=reason)
    sheet = reopen(replace(plan, unplanned=(lost,)), tmp_path)["Season"]
    row = next(r for r in range(1, 30) if sheet.cell(r, 1).value == "Lost cause")
    digits = sheet.column_dimensions["F"].width
    # Helvetica lower case averages under 0.5 of the size, a digit is 0.556: text fits in fewer lines than this
    needed = len(reason) * 0.47 / 0.556 / digits
    assert sheet.row_dimensions[row].height >= needed * 11.5


def test_two_hundred_lots_make_a_small_file(tmp_path: Path) -> None:
    path = write_workbook(sample_plan(200), tmp_path / "a.xlsx", created=CREATED)
    assert path.stat().st_size < 400_000
    assert len(sample_book(200)._cell_styles) < 120  # one style for each look, not for each cell


def test_a_year_round_plan_keeps_every_week(tmp_path: Path) -> None:
    """A lot of one day beside one that stays past a leap day."""
    plan = sample_plan(1)
    planned = plan.lots[0]
    long = Span(date(2027, 12, 27), date(2028, 3, 1))  # 29 February 2028 is its last day
    steps = (
        replace(planned.steps[1], span=Span(date(2027, 12, 26), date(2027, 12, 26) + DAY)),  # a Sunday
        replace(planned.steps[2], span=long),
    )
    calendar = calendar_of(replace(plan, lots=(replace(planned, steps=steps),), loads=()), ("cooler",))
    # Sunday 26 December is in week 51, which begins on the 20th; 29 February 2028 is a Tuesday of week 9
    assert (calendar.weeks[0], calendar.weeks[-1], len(calendar.weeks)) == (
        date(2027, 12, 20),
        date(2028, 2, 28),
        11,
    )
    assert [calendar.places[0].week(week).fullest for week in calendar.weeks] == [12.0] * 11
