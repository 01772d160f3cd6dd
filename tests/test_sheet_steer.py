"""The steering sheet: its two tables read back with the csv module, its pages opened with an outside reader."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from pypdf import PdfReader

from forcing.engine.steer import steer
from forcing.model import Season
from forcing.sheets.steer import draw_pages, move_rows, steer_rows, write_steer
from tests.steer_cases import ON, bench, case, worked

CREATED = datetime(2027, 3, 1)


def late_bench() -> Season:
    # 130 of 300 °C·d had, 10 days left: 19 °C, see tests/test_steer.py.
    return case([("A", 20, "Bench <1>", 10, 10)], [bench("Bench <1>", 15)])


def rows(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def test_files_and_columns(tmp_path: Path) -> None:
    # DESIGN section 6: steer.csv place, from, to, mean, day, night; moves.csv lot, from, to, on.
    made = worked(late_bench())
    paths = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)
    assert [p.name for p in paths] == ["steer.csv", "moves.csv", "steer.pdf", "steer.png"]
    table = rows(paths[0])
    assert table[0] == ["place", "from", "to", "mean", "day", "night"]
    assert table[1][:2] == ["Bench <1>", "2027-03-01"]
    assert date.fromisoformat(table[1][2]) > ON
    assert table[1][3:] == ["19", "19", "19"]
    assert rows(paths[1]) == [["lot", "from", "to", "on"]]


def test_temperatures_are_in_the_unit_of_the_season() -> None:
    made = worked(replace(late_bench(), unit="F"))
    answer = steer(made, ON)
    for _, _, _, mean, day, night in steer_rows(answer, "F"):
        assert mean == day == night
        assert float(mean) == round(float(mean))  # whole °F: 19 °C is 66.2 °F, so 66 or 67
        assert 66 <= float(mean) <= 68


def test_moves_and_holds_stand_in_one_table() -> None:
    made = worked(case([("A", 20, "Cool", 10, 10)], [bench("Cool", 15, 15, 15), bench("Warm", 19, 19, 19)]))
    assert move_rows(steer(made, ON)) == (("A", "Cool", "Warm", "2027-03-01"),)


def test_the_page_says_what_to_do_and_what_it_brings(tmp_path: Path) -> None:
    made = worked(late_bench())
    path = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)[2]
    reader = PdfReader(path)
    assert len(reader.pages) == 1
    text = reader.pages[0].extract_text()
    for words in ("Bench <1>", "Mon 1 Mar", "19 °C", "4 d late", "on the day", "Warning", "now 15 °C: 4.0 d"):
        assert words in text, words


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_large_house_goes_on_to_further_pages_and_loses_nothing(paper: str, tmp_path: Path) -> None:
    lots = [(f"Lot {i:03d}", 10 + i, f"Bench {i % 8 + 1}", 1 + i % 12, 8 + i % 9) for i in range(40)]
    benches = [bench(f"Bench {i + 1}", 15) for i in range(8)]
    made = worked(replace(case(lots, benches), paper=paper))  # type: ignore[arg-type]
    answer = steer(made, ON, time_limit=1, gap=2.0)
    path = write_steer(answer, made.plan, tmp_path, created=CREATED)[2]
    text = "\n".join(page.extract_text() for page in PdfReader(path).pages)
    for outcome in answer.lots:
        assert outcome.lot in text
    for curve in answer.curves:
        assert curve.bench in text
    assert f"page 1 of {len(draw_pages(answer, made.plan))}" in text


def test_nothing_to_steer_is_a_page_too(tmp_path: Path) -> None:
    made = worked(case([], [bench("Bench", 15)]))
    paths = write_steer(steer(made, ON), made.plan, tmp_path, created=CREATED)
    assert rows(paths[0]) == [["place", "from", "to", "mean", "day", "night"]]
    assert "Nothing to change" in PdfReader(paths[2]).pages[0].extract_text()


def test_the_same_answer_gives_the_same_bytes(tmp_path: Path) -> None:
    made = worked(late_bench())
    answer = steer(made, ON)
    one = [p.read_bytes() for p in write_steer(answer, made.plan, tmp_path / "a", created=CREATED)]
    two = [p.read_bytes() for p in write_steer(answer, made.plan, tmp_path / "b", created=CREATED)]
    assert one == two
