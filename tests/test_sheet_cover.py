"""The bloom-cover sheet as a person gets it: the numbers of the CSV, the words of the PDF, the picture."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from forcing.dates import Span
from forcing.engine.show.cover import Cover
from forcing.model import Display, Plan
from forcing.reports.cover import draw_pages, write_cover
from tests.builders import season
from tests.printed_pages import HARD_NAMES, check_drawn, check_fonts

OPENS = date(2027, 3, 20)
CREATED = datetime(2026, 11, 2, tzinfo=UTC)


def plan(*displays: Display, **other: object) -> Plan:
    stated = replace(season(opens=OPENS), title="Hats & bells", displays=displays, **other)  # type: ignore[arg-type]
    return Plan(stated, date(2026, 11, 2), (), (), (), (), (), ())


def display(name: str = "Long bed", days: int = 30, opens: date = OPENS) -> Display:
    return Display(name, 12, "Court", Span(opens, opens + timedelta(days=days)))


def cover(shown: Display, **other: object) -> Cover:
    days = shown.span.days
    early = tuple(max(0.0, 0.9 - 0.05 * i) for i in range(days))
    late = tuple(min(0.5, 0.01 * i) for i in range(days))
    share = tuple(a + b for a, b in zip(early, late, strict=True))
    made = Cover(
        shown.name, shown.span, 0.6, (60,) * days, share, tuple(min(1.0, s) for s in share),
        {"early": early, "late": late}, (),
    )  # fmt: skip
    return replace(made, **other)  # type: ignore[arg-type]


def words(path: Path) -> str:
    return " ".join(page.extract_text() for page in PdfReader(path).pages)


def test_files_and_numbers(tmp_path: Path) -> None:
    shown = display()
    paths = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    assert [p.name for p in paths] == ["cover.csv", "cover.pdf", "cover.png"]
    rows = list(csv.reader(io.StringIO(paths[0].read_text(encoding="utf-8"))))
    assert tuple(rows[0]) == ("display", "date", "share", "chance", "wanted")
    assert rows[1] == ["Long bed", "2027-03-20", "0.9000", "0.9000", "0.6"]
    # Day 8: 0.9 - 0.40 + 0.08 = 0.58.
    assert rows[9] == ["Long bed", "2027-03-28", "0.5800", "0.5800", "0.6"]
    assert len(rows) == 31
    with Image.open(paths[2]) as picture:
        assert picture.width > 1200


def test_thin_days_are_named_in_words(tmp_path: Path) -> None:
    # 0.9 - 0.05 i + 0.01 i < 0.6 from i = 8 (0.58; at 7 it is 0.62): thin from 28 March to the close on 18 April.
    shown = display()
    _, pdf, _ = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    text = words(pdf)
    assert "Thin: Sun 28 Mar to Sun 18 Apr" in text
    assert "wanted 60%" in text
    assert "Hats & bells" in text
    for part in ("E early", "L late", "chance of enough"):
        assert part in text
    assert "M mid" not in text  # not in this display, not in the key


def test_a_display_that_is_never_thin(tmp_path: Path) -> None:
    shown = display(days=3)
    full = cover(shown, share=(0.9,) * 3, chance=(0.8,) * 3)
    _, pdf, _ = write_cover(plan(shown), [full], tmp_path, created=CREATED)
    assert "No thin days." in words(pdf)


def test_days_on_which_nothing_stands_are_empty_not_nought(tmp_path: Path) -> None:
    shown = display(days=2)
    bare = cover(
        shown, standing=(0, 60), share=(None, 0.9), chance=(None, 0.8), by_class={"early": (0.0, 0.9)}
    )
    table, pdf, _ = write_cover(plan(shown), [bare], tmp_path, created=CREATED)
    assert table.read_text(encoding="utf-8").splitlines()[1:] == [
        "Long bed,2027-03-20,,,0.6",
        "Long bed,2027-03-21,0.9000,0.8000,0.6",
    ]
    assert "Thin: Sat 20 Mar" in words(pdf)


def test_lots_not_counted_are_named(tmp_path: Path) -> None:
    shown = display()
    _, pdf, _ = write_cover(plan(shown), [cover(shown, unknown=("T9",))], tmp_path, created=CREATED)
    assert "not counted, as not planned: T9" in words(pdf)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("number", "pages"), [(0, 1), (1, 1), (3, 1), (4, 2), (10, 4)])
def test_pages(paper: str, number: int, pages: int) -> None:
    shown = [display(f"Bed {i}") for i in range(number)]
    found = draw_pages(plan(*shown, paper=paper), [cover(d) for d in shown])
    assert len(found) == pages


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("days", [1, 12, 30, 45, 120])
def test_no_words_touch_others_or_leave_the_page(days: int, paper: str) -> None:
    # A chance of 100 % on neighbouring days is the widest figure there is.
    shown = [display(name, days) for name in HARD_NAMES]
    sure = [cover(d, share=(0.9,) * days, chance=(1.0,) * days) for d in shown]
    for page in draw_pages(plan(*shown, paper=paper), sure):
        check_drawn(page)


def test_the_scale_says_its_unit_and_the_file_has_its_fonts(tmp_path: Path) -> None:
    shown = display()
    _, pdf, _ = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    for part in ("0 %", "50 %", "100 %", "in bloom", "chance, %"):
        assert part in words(pdf)
    check_fonts(pdf)


def test_no_display_and_no_day(tmp_path: Path) -> None:
    _, pdf, _ = write_cover(plan(), [], tmp_path, created=CREATED)
    assert "There is no display." in words(pdf)
    shown = display(days=0)
    paths = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    assert len(paths[0].read_text(encoding="utf-8").splitlines()) == 1


@pytest.mark.parametrize("opens", [date(2028, 2, 20), date(2026, 12, 20), date(2027, 3, 20)])
def test_long_shows_leap_days_and_new_year(tmp_path: Path, opens: date) -> None:
    shown = display("Ünïcode “quotes”, 牡丹 " + "very long name " * 12, 400, opens)
    paths = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    rows = paths[0].read_text(encoding="utf-8").splitlines()
    assert len(rows) == 401
    assert any("2028-02-29" in row for row in rows) == (opens + timedelta(days=400) > date(2028, 2, 29))


def test_same_cover_same_bytes(tmp_path: Path) -> None:
    shown = display()
    one, other = tmp_path / "one", tmp_path / "other"
    for folder in (one, other):
        folder.mkdir()
        write_cover(plan(shown), [cover(shown)], folder, created=CREATED)
    for name in ("cover.csv", "cover.pdf", "cover.png"):
        assert (one / name).read_bytes() == (other / name).read_bytes()


def test_thin_days_and_classes_tell_apart_in_grey(tmp_path: Path) -> None:
    # The mark over thin days is hatched: dark and light dots within it once the colours are gone.
    shown = display()
    *_, png = write_cover(plan(shown), [cover(shown)], tmp_path, created=CREATED)
    with Image.open(png) as picture:
        grey = picture.convert("L")
    *_, png = write_cover(
        plan(shown), [cover(shown, share=(0.9,) * 30, chance=(0.9,) * 30)], tmp_path, created=CREATED
    )
    with Image.open(png) as picture:
        other = picture.convert("L")
    changed = [(a, b) for a, b in zip(grey.tobytes(), other.tobytes(), strict=True) if abs(a - b) > 60]
    assert len(changed) > 500
