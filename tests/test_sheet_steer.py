"""The steering sheet: its two tables read back with the csv module, its pages opened with an outside reader."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from forcing.dates import Span
from forcing.engine.steering.advice import LotOutcome, Move, Point, Steering, SteeringOption
from forcing.engine.steering.situation import ExpectedBloom
from forcing.engine.steering.steer import steer
from forcing.errors import Finding
from forcing.model import Plan, RoomSetting, Season
from forcing.reports import frames
from forcing.reports.draw.canvas import Canvas
from forcing.reports.steer import FOOT, HEAD, MARGIN, draw_pages, draw_picture, write_steer
from tests.printed_pages import HARD_NAMES, check_drawn, check_fonts, words_of
from tests.steer_cases import ON, bench, case, worked

CREATED = datetime(2027, 3, 1)


def late_bench() -> Season:
    # 130 of 300 °C·d had, 10 days left: 3 °C warmer, see tests/test_steer.py.
    return case([("A", 20, "Bench <1>", 10, 10)], [bench("Bench <1>", 15)])


def rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_files_and_columns(tmp_path: Path) -> None:
    # options.csv: option, actions, settings, moves, holds, hours, within a day, days off, recommended; steer.csv place,
    # from, to, mean, day, night; moves.csv lot, from, to, on.
    made = worked(late_bench())
    paths = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)
    assert [p.name for p in paths] == ["options.csv", "steer.csv", "moves.csv", "steer.pdf", "steer.png"]
    options = rows(paths[0])
    assert options[0] == [
        "option", "actions", "settings", "moves", "holds", "hours", "within a day", "days off", "recommended",
    ]  # fmt: skip
    assert options[1] == ["carry on", "0", "0", "0", "0", "0.0", "0", "4.00", "no"]
    assert options[3] == ["what matters", "1", "1", "0", "0", "0.2", "1", "1.00", "yes"]  # 15 minutes
    table = rows(paths[1])
    assert table[0] == ["place", "from", "to", "mean", "day", "night"]
    assert table[1][:2] == ["Bench <1>", "2027-03-01"]
    assert date.fromisoformat(table[1][2]) > ON
    assert table[1][3:] == ["18", "18", "18"]
    assert rows(paths[2]) == [["lot", "from", "to", "on"]]


def test_temperatures_are_in_the_unit_of_the_season() -> None:
    made = worked(replace(late_bench(), unit="F"))
    answer = steer(made, ON)
    for _, _, _, mean, day, night in frames.steer(answer, "F").itertuples(index=False):
        assert mean == day == night
        assert (mean - 59) % 2 == 0  # 15 °C is 59 °F, and a step 2 °F
        assert 63 <= mean <= 64.4  # 3 °C warmer at most: 5.4 °F


def test_moves_and_holds_stand_in_one_table() -> None:
    made = worked(case([("A", 20, "Cool", 10, 10)], [bench("Cool", 15, 15, 15), bench("Warm", 19, 19, 19)]))
    (move,) = frames.rows_of(frames.moves(steer(made, ON)))
    assert move == {"lot": "A", "from": "Cool", "to": "Warm", "on": ON, "pots": 20}


def test_the_page_says_what_to_do_and_what_it_brings(tmp_path: Path) -> None:
    made = worked(late_bench())
    path = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)[3]
    reader = PdfReader(path)
    assert len(reader.pages) == 1
    text = reader.pages[0].extract_text()
    for words in (
        "Set Bench <1> to 18 °C", "Mon 1 Mar", "4 d late", "1 d late", "Warning", "carry on", "settings only",
        "all worth it", "Recommended: what matters.", "Days off target (mean of pots) by number of things to do",
    ):  # fmt: skip
        assert words in text, words


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_large_house_goes_on_to_further_pages_and_loses_nothing(paper: str, tmp_path: Path) -> None:
    lots = [(f"Lot {i:03d}", 10 + i, f"Bench {i % 8 + 1}", 1 + i % 12, 8 + i % 9) for i in range(40)]
    benches = [bench(f"Bench {i + 1}", 15) for i in range(8)]
    made = worked(replace(case(lots, benches), paper=paper))  # type: ignore[arg-type]
    answer = steer(made, ON)
    path = write_steer(answer, made.plan, tmp_path, created=CREATED)[3]
    text = "\n".join(page.extract_text() for page in PdfReader(path).pages)
    for outcome in answer.lots:
        assert outcome.on_target or outcome.lot in text
    for move in (*answer.moves, *answer.holds):
        assert move.lot in text
    assert f"page 1 of {len(draw_pages(answer, made.plan))}" in text


def carrying(names: Sequence[str], *, trips: int = 1) -> tuple[Steering, Plan]:
    """An answer made by hand: every lot to the bench and into the cold room and back, day after day."""
    made = worked(
        case([(name, 20, "Bench", 10, 10) for name in names[:5]], [bench("Bench", 15), bench("Sill", 15)])
    )
    start = date(2027, 3, 1)
    moves, holds = [], []
    for trip in range(trips):
        day = start + timedelta(days=7 * trip)
        moves += [Move(name, 20, "Bench", "Sill", day) for name in names]
        holds += [Move(name, 20, "Sill", "Cold", day + timedelta(days=2)) for name in names]
        holds += [Move(name, 20, "Cold", "Bench", day + timedelta(days=4)) for name in names]
    off = timedelta(days=6)
    expected = ExpectedBloom(date(2027, 3, 11) - off, date(2027, 3, 11), date(2027, 3, 11) + off, 300.0)
    before = replace(expected, likely=date(2027, 3, 13))
    outcomes = tuple(
        LotOutcome(name, 20, date(2027, 3, 11), before, expected, start, start) for name in names
    )
    span = Span(start, date(2027, 4, 5))
    setting = RoomSetting("Bench", span, 20.0, 16.0, "planned", "steered")
    nothing = SteeringOption("carry on", (), (), (), (), 0, 0, 0.0, 3, 3.0)
    chosen = SteeringOption(
        "what matters", (setting,), tuple(moves), tuple(holds), (("Stay-put", "Bench"),), 1, len(names), 12.5, 9, 1.0,
        recommended=True,
    )  # fmt: skip
    answer = Steering(
        ON, span, (nothing, chosen), outcomes, (Point(0, 3.0, 3), Point(chosen.actions, 1.0, 9)), "9 things to do.",
        ("Told on the left.",), ("Best by 2027-03-11.",), ("All that is worth its work.",),
    )  # fmt: skip
    return answer, made.plan


def test_what_to_do_is_a_list_by_day_and_by_way(tmp_path: Path) -> None:
    answer, plan = carrying(["T10", "T2"])
    text = PdfReader(write_steer(answer, plan, tmp_path, created=CREATED)[3]).pages[0].extract_text()
    # 1 March 2027 is a Monday; into the cold two days later, back two days after that. T2 counts before T10.
    order = (
        "Mon 1 Mar", "1 setting · 2 lots, 40 pots", "Set Bench to 20 °C by day, 16 °C by night",
        "until Mon 5 Apr; mean 18 °C", "Move: Bench → Sill", "T2", "T10", "Wed 3 Mar", "Hold: Sill → Cold",
        "Only once the lot shows colour; not before.", "T2", "T10", "Fri 5 Mar", "Bring back: Cold → Bench",
        "T2", "T10",
    )  # fmt: skip
    at = 0
    for words in order:
        at = text.index(words, at) + len(words)
    assert text.count("Only once") == 1 and "Told on the left." not in text
    assert "Best by Thu 11 Mar." in text and "Leave Stay-put on Bench" in text
    assert "5 Mar – 17 Mar" in text  # early to late of each lot


def test_a_list_that_goes_on_says_its_day_its_way_and_its_condition_again() -> None:
    answer, plan = carrying([f"T{i}" for i in range(60)])
    pages = draw_pages(answer, plan)
    for number, page in enumerate(pages):
        said = words_of(page)
        if "Hold: Sill → Cold" in said:
            assert "Only once the lot shows colour; not before." in said
        listed = [words for words in said if words == "20 pots"]
        if number and listed:
            assert "continued" in said or "done by" in said
    boxes = words_of(*pages).count("20 pots")
    assert boxes == 60 * 3  # each lot of each day once, with its pots


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    ("names", "trips"), [(HARD_NAMES, 1), (HARD_NAMES, 3), ([f"T{i}" for i in range(200)], 1)]
)
def test_no_words_touch_others_or_leave_the_page(names: Sequence[str], trips: int, paper: str) -> None:
    answer, plan = carrying(names, trips=trips)
    plan = replace(plan, season=replace(plan.season, paper=paper))  # type: ignore[arg-type]
    for page in (*draw_pages(answer, plan), draw_picture(answer, plan)):
        check_drawn(page)
        # no cautions are cut, and no heading of a day or a way ends a page
        said = words_of(page)
        assert "come first." in " ".join(said)


def fill(page: Canvas) -> float:
    """How much of the two columns of a page is written on, above its foot."""
    room = page.height - 2 * MARGIN - HEAD - FOOT
    words = [t for t in page.texts if MARGIN + HEAD < t.y < page.height - MARGIN - FOOT]
    columns = [t.y for t in words if t.x < page.width / 2], [t.y for t in words if t.x >= page.width / 2]
    return sum(max(ys, default=MARGIN + HEAD) - MARGIN - HEAD for ys in columns) / (2 * room)


@pytest.mark.parametrize("lots", [8, 12, 22, 40, 60, 200])
def test_no_page_is_two_thirds_empty(lots: int) -> None:
    pages = draw_pages(*carrying([f"T{i}" for i in range(lots)]))
    assert [round(fill(page), 2) for page in pages if fill(page) < 1 / 3] == []


def test_each_setting_has_its_warning_beside_it() -> None:
    """A warning of a place stands right below its first setting; what to do about it is said where it is first told."""
    answer, plan = carrying(["T1"])
    benches = [
        RoomSetting(name, Span(date(2027, 3, day), date(2027, 4, 5)), 20.0, 16.0, "planned", "steered")
        for name, day in (("Bench", 1), ("Sill", 1), ("Bench", 8))
    ]
    found = tuple(
        Finding("steer-warmer", "warning", "places", None, "day", f"{name}: weak stems", "Look.", place=name)
        for name in ("Bench", "Sill")
    )
    options = tuple(replace(o, settings=tuple(benches), moves=(), holds=()) for o in answer.options)
    (page,) = draw_pages(replace(answer, options=options, findings=found), plan)
    said = [words for words in words_of(page) if words.startswith(("Set ", "Warning"))]
    assert said == [
        "Set Bench to 20 °C by day, 16 °C by night", "Warning: Bench: weak stems. Look.",
        "Set Sill to 20 °C by day, 16 °C by night", "Warning: Sill: weak stems.",
        "Set Bench to 20 °C by day, 16 °C by night",
    ]  # fmt: skip


def test_names_in_the_list_are_never_cut() -> None:
    answer, plan = carrying(HARD_NAMES[:3])
    pages = draw_pages(answer, plan)
    text = " ".join(words_of(*pages))
    assert "□" not in text
    for name in HARD_NAMES[:3]:
        for word in name.split():
            assert text.count(word) >= 3, word  # on each of the three days


def test_the_file_has_its_fonts(tmp_path: Path) -> None:
    answer, plan = carrying(["T1"])
    check_fonts(write_steer(answer, plan, tmp_path, created=CREATED)[3])


def test_nothing_to_steer_is_a_page_too(tmp_path: Path) -> None:
    made = worked(case([], [bench("Bench", 15)]))
    paths = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)
    assert rows(paths[1]) == [["place", "from", "to", "mean", "day", "night"]]
    assert "Nothing to change" in PdfReader(paths[3]).pages[0].extract_text()


def test_the_same_answer_gives_the_same_bytes(tmp_path: Path) -> None:
    made = worked(late_bench())
    answer = steer(made, ON)
    one = [p.read_bytes() for p in write_steer(answer, made.plan, tmp_path / "a", created=CREATED)]
    two = [p.read_bytes() for p in write_steer(answer, made.plan, tmp_path / "b", created=CREATED)]
    assert one == two
