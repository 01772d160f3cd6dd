"""Plain shapes and what becomes of them in each kind of file, read by outside readers; pieces set in columns."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from forcing.reports.draw.canvas import Canvas, Stroke, Style, hatch_lines
from forcing.reports.draw.paper import Piece, Stretch, flow, write_picture, write_sheet
from tests.printed_pages import runs_of

CREATED = datetime(2026, 11, 3, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"


def drawing() -> Canvas:
    """100 by 60 pt: a red box under a lower green one, a blue line over both, and words at either side."""
    canvas = Canvas(100, 60)
    canvas.box(10, 10, 50, 30, Style(2, "#ff0000"))
    canvas.box(30, 20, 70, 40, Style(1, "#00ff00"))
    canvas.line(((0, 25), (100, 25)), Stroke(3, "#0000ff", 4))
    canvas.text(12, 55, "left & <b>", 8)
    canvas.text(98, 55, "right", 8, bold=True, side="right")
    return canvas


def test_layers_decide_what_lies_on_what_in_the_picture(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "a.png", drawing(), "A", CREATED, 72)  # a dot a point
    with Image.open(path) as picture:
        assert picture.size == (100, 60)
        dots = picture.convert("RGB")
    found = {at: dots.getpixel(at) for at in ((20, 15), (40, 22), (60, 35), (60, 25), (90, 10))}
    assert found == {
        (20, 15): (255, 0, 0), (40, 22): (255, 0, 0), (60, 35): (0, 255, 0), (60, 25): (0, 0, 255),
        (90, 10): (255, 255, 255),
    }  # fmt: skip


def test_words_stand_alike_in_pdf_and_svg(tmp_path: Path) -> None:
    left, right = runs_of(write_sheet(tmp_path / "a.pdf", [drawing()], "A", CREATED))
    assert (left.said, left.x, left.y, left.bold) == ("left & <b>", 12, pytest.approx(5), False)
    assert right.box[2] == pytest.approx(98, abs=0.05) and right.bold  # measured with fontTools
    path = write_picture(tmp_path / "a.svg", drawing(), "A & B", CREATED)
    root = ElementTree.parse(path).getroot()
    assert root.findtext(f"{SVG}title") == "A & B"
    texts = [(e.text, e.get("x"), e.get("y"), e.get("text-anchor")) for e in root.iter(f"{SVG}text")]
    assert texts == [("left & <b>", "12", "55", None), ("right", "98", "55", "end")]
    fills = [e.get("fill") for e in root.iter(f"{SVG}g") if e.get("fill") not in (None, "none")]
    assert fills == ["#00ff00", "#ff0000"]  # the lower layer first


def test_text_is_shortened_to_its_room_and_says_where_it_ends() -> None:
    canvas = Canvas(100, 60)
    assert canvas.text(10, 10, "", 8) == 10 and not canvas.texts
    end = canvas.text(10, 10, "a word too long", 8, room=30)
    assert canvas.texts[0].said.endswith("…") and 10 < end <= 40


# ---------------------------------------------------------------- hatches


def test_lines_of_a_hatch_by_hand() -> None:
    box = ((1.0, 1.0), (10.0, 1.0), (10.0, 7.0), (1.0, 7.0))
    assert sorted(hatch_lines(box, "-", 3.0)) == [((1, 3), (10, 3)), ((1, 6), (10, 6))]
    assert sorted(hatch_lines(box, "|", 3.0)) == [((x, 1), (x, 7)) for x in (3, 6, 9)]
    # x + y = 3, 6, ... 15 in the box (its corners have 2, 11, 17 and 8)
    ends = {tuple(round(v, 9) for point in line for v in point) for line in hatch_lines(box, "/", 3.0)}
    assert ends == {(1, 2, 2, 1), (1, 5, 5, 1), (2, 7, 8, 1), (5, 7, 10, 2), (8, 7, 10, 5)}
    assert len(list(hatch_lines(box, "x", 3.0))) == 5 + len(list(hatch_lines(box, "\\", 3.0)))


@given(st.lists(st.integers(0, 9), min_size=1, max_size=9), st.sampled_from("/\\x-|"))
def test_a_hatch_stays_within_stairs(heights: list[int], hatch: str) -> None:
    """Stairs up and down on a line, as in the cover: lines lie below the steps they cross, half way along too."""
    points = [(0.0, 0.0), *((float(i + d), float(h)) for i, h in enumerate(heights) for d in (0, 1))]
    points.append((float(len(heights)), 0.0))
    for (x0, y0), (x1, y1) in hatch_lines(points, hatch, 0.35):
        for part in (0.1, 0.5, 0.9):
            x, y = x0 + part * (x1 - x0), y0 + part * (y1 - y0)
            steps = heights[max(0, int(x - 1e-9))], heights[min(len(heights) - 1, int(x + 1e-9))]
            assert -1e-9 <= y <= max(steps) + 1e-9


# ---------------------------------------------------------------- columns


def piece(height: float, **more: object) -> Piece:
    return Piece(height, lambda canvas, x, y: None, **more)  # type: ignore[arg-type]


def heights(columns: list[list[Piece]]) -> list[list[float]]:
    return [[one.tall for one in column] for column in columns]


def test_headings_are_said_again_and_never_last() -> None:
    again = piece(3, heading=True)
    rows = [piece(10, again=again) for _ in range(4)]
    first = piece(5, heading=True, above=2)
    # 25 high: 5 + 10 + 10; then 3 + 10 + 10; the gap above the first is dropped at the top
    assert heights(flow([Stretch([first, *rows])], lambda n: 25)) == [[5, 10, 10], [3, 10, 10]]
    # 8 are left: the heading would fit, its row would not
    assert heights(flow([Stretch([piece(17), first, rows[0]])], lambda n: 25)) == [[17], [5, 10]]


def test_a_whole_stretch_begins_where_it_fits() -> None:
    rows = [piece(10), piece(10)]
    assert heights(flow([Stretch([piece(10)]), Stretch(rows, whole=True)], lambda n: 25)) == [[10], [10, 10]]
    assert heights(flow([Stretch([piece(10)]), Stretch(rows)], lambda n: 25)) == [[10, 10], [10]]
    tall = [piece(10) for _ in range(3)]  # 30: no column holds them, so they follow on
    assert heights(flow([Stretch([piece(10)]), Stretch(tall, whole=True)], lambda n: 25)) == [
        [10, 10],
        [10, 10],
    ]


def lines(count: int) -> Piece:
    """So many lines of 1 pt that may be cut."""

    def cut(room: float, least: int) -> tuple[Piece, Piece] | None:
        fit = max(1, int(room))
        return (lines(fit), lines(count - fit)) if least <= fit <= count - least else None

    return piece(count, cut=cut)


def test_a_piece_is_cut_only_where_two_lines_stand_on_either_side() -> None:
    assert heights(flow([Stretch([piece(7), lines(6)])], lambda n: 10)) == [[7, 3], [3]]
    assert heights(flow([Stretch([piece(9), lines(6)])], lambda n: 10)) == [[9], [6]]
    assert heights(flow([Stretch([piece(5), lines(6)])], lambda n: 10)) == [[5], [6]]
    assert heights(flow([Stretch([lines(25)])], lambda n: 10)) == [[10], [10], [5]]  # longer than a column
