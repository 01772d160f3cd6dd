"""The workbooks on paper: nothing cut, nothing too small to read, nothing said twice on the front page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from reportlab.pdfbase.pdfmetrics import stringWidth

from forcing.dates import Span
from forcing.errors import Finding
from forcing.model import Display, Lot, Place, Plan, Planting, RoomSetting, Unplanned
from forcing.reports.review import write_review
from forcing.reports.workbook import write_workbook
from tests.sample import sample_plan
from tests.test_review import by_hand, looked_back
from tests.test_sheet_workbook import CREATED, day_of, table, texts
from tests.test_sheet_workbook_show import frost, with_viola

LONG = (
    "Große Señora d'Été av Ångermanland (double late)",
    "Zoë's Øvre Älvdal Påskelilje of the Northern Meadow",
    "Ñandú Präsident von Süd-Köln",
)
# Paper across and up [points], by the number OOXML has for it: 9 is A4, 1 is Letter.
PAPERS = {9: (595.3, 841.9), 1: (612.0, 792.0)}


def long_named(lots: int, paper: str) -> Plan:
    """The sample with cultivars of 28 to 51 letters and places of 35."""
    plan = sample_plan(lots, "F" if paper == "Letter" else "C", paper)
    names = {
        "Cold room North": "Kühlhaus Süd neben der großen Töpferei",
        "Bench 1": "Lean-to with the high benches",
    }
    places = tuple(replace(p, name=names.get(p.name, p.name)) for p in plan.season.places)
    lots_ = []
    for i, planned in enumerate(plan.lots):
        steps = tuple(replace(s, place=names.get(s.place or "", s.place)) for s in planned.steps)
        lot = replace(
            planned.lot, cultivar=LONG[i % 3], cooler=names.get(planned.lot.cooler or "", planned.lot.cooler)
        )
        lots_.append(replace(planned, lot=lot, steps=steps))
    loads = tuple(replace(load, place=names.get(load.place, load.place)) for load in plan.loads)
    tasks = tuple(
        replace(t, place=names.get(t.place or "", t.place), to=names.get(t.to or "", t.to))
        for t in plan.tasks
    )
    rooms = tuple(replace(r, place=names.get(r.place, r.place)) for r in plan.rooms)
    season = replace(plan.season, places=places)
    return replace(plan, season=season, lots=tuple(lots_), loads=loads, tasks=tasks, rooms=rooms)


@pytest.fixture(scope="module", params=[(5, "A4"), (30, "Letter"), (200, "A4")], ids=str)
def book(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    lots, paper = request.param
    path = tmp_path_factory.mktemp("paper") / "p.xlsx"
    plan, beside = with_viola(long_named(lots, paper))
    _, nights = frost()
    both = replace(beside, nights=nights.nights, chances=nights.chances)
    return load_workbook(write_workbook(plan, path, created=CREATED, beside=both))


def widths(sheet: Any) -> list[float]:
    """Widths of the columns [points]: a unit is 7 pixels of 0.75 points and 5 pixels of padding are within."""
    dimensions = sheet.column_dimensions
    return [dimensions[get_column_letter(c)].width * 5.25 for c in range(1, sheet.max_column + 1)]


def scale(sheet: Any) -> float:
    """The scale at which a sheet is printed, by its settings: stated, or so that it fits its pages across."""
    setup = sheet.page_setup
    if not sheet.sheet_properties.pageSetUpPr.fitToPage:
        return float(setup.scale) / 100
    across = PAPERS[int(setup.paperSize)][setup.orientation == "landscape"]
    room = across - 72 * (sheet.page_margins.left + sheet.page_margins.right)
    return min(1.0, room * int(setup.fitToWidth) / sum(widths(sheet)))


def test_no_type_is_under_six_points_on_paper(book: Any) -> None:
    for sheet in book:
        sizes = {cell.font.size for row in sheet.iter_rows() for cell in row if cell.value is not None}
        assert min(sizes) * scale(sheet) >= 6.0, f"{sheet.title}: {min(sizes)} at {scale(sheet):.2f}"


def runs(sheet: Any) -> Iterator[tuple[Any, float]]:
    """Texts that do not wrap, each with the room it has up to the next cell that is filled or the last column."""
    wide = widths(sheet)
    for row in sheet.iter_rows():
        filled = [c.column for c in row if c.value is not None] + [len(wide) + 1]
        for cell in row:
            if (
                isinstance(cell.value, str)
                and not cell.alignment.wrap_text
                and cell.alignment.horizontal == "left"
            ):
                after = next(c for c in filled if c > cell.column)
                yield cell, sum(wide[cell.column - 1 : after - 1])


def test_no_text_runs_out_of_the_print_or_into_the_next_cell(book: Any) -> None:
    seen = 0
    for sheet in book:
        for cell, room in runs(sheet):
            name = "Helvetica-Bold" if cell.font.bold else "Helvetica"
            assert stringWidth(cell.value, name, cell.font.size) <= room, f"{sheet.title} {cell.coordinate}"
            seen += 1
    assert seen > 50


def test_headers_are_as_high_as_their_words(book: Any) -> None:
    """A header of three short words in a narrow column stands on as many lines as its words need."""
    sheet = book["Hours"]
    for cell in sheet[3]:
        if cell.value is None:
            continue
        room = widths(sheet)[cell.column - 1] - 3.75 - 9.0 * cell.alignment.indent
        line, needed = 0.0, 1
        for word in cell.value.split(" "):
            wide = stringWidth(word, "Helvetica-Bold", 10)
            if line and line + 2.78 + wide > room:
                line, needed = wide, needed + 1
            else:
                line += (2.78 if line else 0) + wide
        assert sheet.row_dimensions[3].height >= needed * 11.5, cell.value


def test_a_long_season_is_spread_over_as_many_pages_as_it_takes_to_be_read(tmp_path: Path) -> None:
    """Eighty weeks in a cooler: some hundred columns, which one or two pages could show only as specks."""
    plan = sample_plan(2)
    first, second = plan.lots
    start = date(2026, 9, 7)
    stay = Span(start, start + timedelta(weeks=80))
    steps = tuple(replace(s, span=stay) if s.step == "cool" else s for s in first.steps)
    plan = replace(plan, lots=(replace(first, steps=steps), second), loads=())
    sheet = load_workbook(write_workbook(plan, tmp_path / "p.xlsx", created=CREATED))["Cooler calendar"]
    assert 9 * scale(sheet) >= 6.0
    wide = widths(sheet)
    cuts = [4, *(b.id for b in sheet.col_breaks.brk), len(wide)]
    room = 841.9 - 72 * (sheet.page_margins.left + sheet.page_margins.right)
    assert len(cuts) > 3
    for a, b in pairwise(cuts):
        assert (sum(wide[:4]) + sum(wide[a:b])) * scale(sheet) <= room


def test_lost_lots_begin_a_page_of_their_own_below_a_long_table(tmp_path: Path) -> None:
    """30 lots below a header in row 3, an empty row, and the heading in row 35; with 5 lots both fit on a page."""
    for lots, breaks in ((30, [34]), (5, [])):
        book = load_workbook(write_workbook(sample_plan(lots), tmp_path / f"{lots}.xlsx", created=CREATED))
        sheet = book["Key dates"]
        assert [b.id for b in sheet.row_breaks.brk] == breaks
        assert sheet.cell(lots + 5, 2).value == "Lots that cannot be planned"


def test_a_note_wider_than_its_table_goes_on_below(tmp_path: Path) -> None:
    plan = replace(
        sample_plan(0), season=replace(sample_plan(0).season, places=(Place("A", "bench"),)), rooms=()
    )
    sheet = load_workbook(write_workbook(plan, tmp_path / "p.xlsx", created=CREATED))["Rooms"]
    note = sheet["A2"]
    assert note.alignment.wrap_text and "A2" in sheet.merged_cells
    assert sheet.row_dimensions[2].height > 2 * 11.5


# ---------------------------------------------------------------- rooms, front page


def test_rooms_name_no_day_that_nobody_stated(tmp_path: Path) -> None:
    """The lot is potted in autumn 2026: days that lie long before and after it are the edge of what was looked at."""
    plan = sample_plan(1)
    whole = Span(date(2026, 1, 18), date(2027, 12, 20))
    change = date(2027, 3, 15)
    rooms = (
        RoomSetting("Cold room North", whole, 5.0, 5.0, "stated"),
        RoomSetting("Bench 1", Span(whole.start, change), 17.0, 13.0, "stated"),
        RoomSetting("Bench 1", Span(change, whole.end), 15.0, 11.0, "stated"),
        RoomSetting("Bench 2", Span(date(2026, 9, 1), date(2027, 6, 1)), 18.0, 14.0, "stated"),
    )
    book = load_workbook(write_workbook(replace(plan, rooms=rooms), tmp_path / "p.xlsx", created=CREATED))
    found = [(r["Place"], day_of(r["First day"]), day_of(r["Last day"])) for r in table(book["Rooms"])]
    assert found[:4] == [
        ("Cold room North", "from the start", "to the end"),
        ("Bench 1", "from the start", date(2027, 3, 14)),
        ("Bench 1", change, "to the end"),
        ("Bench 2", date(2026, 9, 1), date(2027, 5, 31)),
    ]


def test_the_front_page_tells_a_lot_that_cannot_be_planned_once(tmp_path: Path) -> None:
    plan = sample_plan(1)
    lost = Unplanned(Lot("Lost", "tulip", 10, row=9), "no place has room for it", None)
    errors = (
        Finding("lot-unplanned", "error", "lots", 9, "cooler", "Lost has no place", "make room"),
        Finding("place-overfull", "error", "places", 4, "pots", "Bench 1 is over", "make room"),
    )
    plan = replace(plan, unplanned=(lost,), findings=errors)
    sheet = load_workbook(write_workbook(plan, tmp_path / "p.xlsx", created=CREATED))["Season"]
    assert "no place has room for it" in texts(sheet) and "Bench 1 is over" in texts(sheet)
    assert texts(sheet).count("Lost has no place") == 1  # among what matters first


def test_the_front_page_stays_a_page_when_most_lots_are_lost(tmp_path: Path) -> None:
    plan = sample_plan(2)
    lost = tuple(
        Unplanned(Lot(f"U{i:02d}", "tulip", 10, row=10 + i), "the cooler is full", None) for i in range(40)
    )
    book = load_workbook(write_workbook(replace(plan, unplanned=lost), tmp_path / "p.xlsx", created=CREATED))
    front = texts(book["Season"])
    assert "40 of 42 lots cannot be planned" in front and "U05" in front and "U06" not in front
    assert "and 34 more below the lots on the sheet Key dates." in front
    assert all(f"U{i:02d}" in texts(book["Key dates"]) for i in range(40))


@pytest.mark.parametrize(("shown", "said"), [(12, True), (11, False)])
def test_bulbs_with_the_loss_are_told_where_they_are_more(tmp_path: Path, shown: int, said: bool) -> None:
    """A lot of 12 pots, 5 % lost: 11.4 are left. They fill a bowl of 11 (no more to order), not one of 12."""
    plan = sample_plan(1)
    bowl = Display("Bowl", 1, "Terrace", plan.season.span)
    season = replace(plan.season, loss=0.05, displays=(bowl,), plantings=(Planting("Bowl", "T001", shown),))
    sheet = load_workbook(write_workbook(replace(plan, season=season), tmp_path / "p.xlsx", created=CREATED))[
        "Season"
    ]
    assert ("Bulbs with the loss" in texts(sheet)) is said


# ---------------------------------------------------------------- the review


def test_dates_of_the_review_are_dates(tmp_path: Path) -> None:
    path = write_review(looked_back(by_hand()), tmp_path, created=datetime(2027, 5, 3))[2]
    book = load_workbook(path)
    dates = [
        cell
        for sheet in ("Dates", "Why")
        for row in book[sheet].iter_rows()
        for cell in row
        if isinstance(cell.value, datetime)
    ]
    assert len(dates) > 4
    assert all(cell.number_format == "[$-809]ddd d mmm" for cell in dates)
    review = looked_back(by_hand())
    planned = {day for lot in review.lots for day in lot.planned.values()}
    assert planned <= {cell.value.date() for cell in dates}
