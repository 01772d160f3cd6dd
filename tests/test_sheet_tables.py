"""plan.csv, tasks.csv and findings.csv: exact columns, fixed order, plain RFC 4180 text."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.errors import Finding, OutputError
from forcing.model import Plan, Task
from forcing.reports import frames
from forcing.reports.frames import csv_text, season_order, write_tables
from tests.sample import sample_plan

# The columns that other programs rely on, written here a second time on purpose.
COLUMNS = {
    "plan.csv": "lot,crop,class,cultivar,pots,step,place,start,end,basis",
    "tasks.csv": "date,week,place,lot,task,pots,hours,caution,state",
    "findings.csv": "code,severity,table,row,column,message,hint",
}


def read(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


def written(plan: Plan, folder: Path) -> dict[str, list[dict[str, str]]]:
    write_tables(plan, folder)
    return {name: read(folder, name) for name in COLUMNS}


@pytest.mark.parametrize("lots", [0, 1, 5, 200])
def test_headers_are_exact_and_every_row_is_there(tmp_path: Path, lots: int) -> None:
    plan = sample_plan(lots)
    paths = write_tables(plan, tmp_path)
    assert [p.name for p in paths] == list(COLUMNS)
    for name, header in COLUMNS.items():
        raw = (tmp_path / name).read_bytes()
        assert raw.startswith(header.encode() + b"\r\n")
        assert raw.count(b"\n") == raw.count(b"\r\n")
    assert len(read(tmp_path, "plan.csv")) == 6 * lots  # pot, root, cool, bench, harden, show of each
    assert len(read(tmp_path, "tasks.csv")) == 8 * lots + 1
    assert len(read(tmp_path, "findings.csv")) == 2


def test_plan_rows_of_one_lot_by_hand(tmp_path: Path) -> None:
    # sample lot 1: target Sat 20 March 2027; bring in 25 days before, cooler 105 days before that.
    rows = written(sample_plan(1), tmp_path)["plan.csv"]
    assert [tuple(r.values()) for r in rows] == [
        ("T001", "hyacinth", "early", "Été Précoce", "12", "pot", "", "2026-11-09", "2026-11-10", "planned"),
        ("T001", "hyacinth", "early", "Été Précoce", "12", "root", "Cold room North", "2026-11-10", "2026-12-04",
         "planned"),
        ("T001", "hyacinth", "early", "Été Précoce", "12", "cool", "Cold room North", "2026-12-04", "2027-02-23",
         "planned"),
        ("T001", "hyacinth", "early", "Été Précoce", "12", "bench", "Bench 1", "2027-02-23", "2027-03-19", "planned"),
        ("T001", "hyacinth", "early", "Été Précoce", "12", "harden", "Terrace", "2027-03-19", "2027-03-20", "planned"),
        ("T001", "hyacinth", "early", "Été Précoce", "12", "show", "Terrace", "2027-03-20", "2027-04-03", "planned"),
    ]  # fmt: skip


def test_the_show_row_starts_on_the_bloom_date_and_steps_join(tmp_path: Path) -> None:
    plan = sample_plan(30)
    rows = written(plan, tmp_path)["plan.csv"]
    for planned in plan.lots:
        mine = [r for r in rows if r["lot"] == planned.lot.name]
        assert [r["start"] for r in mine if r["step"] == "show"] == [planned.bloom.isoformat()]
        # half-open: each step ends on the day the next begins
        assert [r["end"] for r in mine[:-1]] == [r["start"] for r in mine[1:]]


def test_lots_come_in_season_order_whatever_the_order_of_the_plan(tmp_path: Path) -> None:
    plan = sample_plan(5)
    season = replace(plan.season, lots=tuple(reversed([p.lot for p in plan.lots])))
    shuffled = replace(
        plan, season=season, lots=(plan.lots[2], plan.lots[0], plan.lots[4], plan.lots[1], plan.lots[3])
    )
    rows = written(shuffled, tmp_path)["plan.csv"]
    assert list(dict.fromkeys(r["lot"] for r in rows)) == ["T005", "T004", "T003", "T002", "T001"]
    assert [p.lot.name for p in season_order(shuffled)] == ["T005", "T004", "T003", "T002", "T001"]


def test_class_comes_from_the_recipe_where_the_lot_states_none(tmp_path: Path) -> None:
    plan = sample_plan(2)
    second = plan.lots[1]  # stated mid, its recipe says early
    plan = replace(plan, lots=(plan.lots[0], replace(second, lot=replace(second.lot, bloom_class=None))))
    rows = written(plan, tmp_path)["plan.csv"]
    assert {r["class"] for r in rows if r["lot"] == "T002"} == {"early"}


def test_task_places_weeks_cautions_and_numbers(tmp_path: Path) -> None:
    day = date(2027, 1, 1)  # ISO 8601: Friday of week 53 of 2026
    tasks = (
        Task(
            "a", day, "L", "bring in", 12.0, 0.1 + 0.2, "Cooler", "Bench", "", ("lifting", "cold room"), "due"
        ),
        Task("b", day, "L", "into cooler", 2.5, 1.0, None, "Cooler"),
        Task("c", day, None, "step down", 0, 0.5, "Cooler"),
        Task("d", day, "L", "order", 7, 0.25, None),
    )
    rows = written(replace(sample_plan(0), tasks=tasks), tmp_path)["tasks.csv"]
    # by date, place, lot, task: "" < "Cooler" < "Cooler → Bench"; no lot before a lot
    assert [tuple(r.values()) for r in rows] == [
        ("2027-01-01", "2026-W53", "", "L", "order", "7", "0.25", "", "planned"),
        ("2027-01-01", "2026-W53", "Cooler", "", "step down", "0", "0.5", "", "planned"),
        ("2027-01-01", "2026-W53", "Cooler", "L", "into cooler", "2.5", "1", "", "planned"),
        (
            "2027-01-01",
            "2026-W53",
            "Cooler → Bench",
            "L",
            "bring in",
            "12",
            "0.3",
            "lifting; cold room",
            "due",
        ),
    ]


def test_findings_say_what_was_found_worst_first(tmp_path: Path) -> None:
    findings = (
        Finding("b", "note", "lots", None, None, "a note", "nothing"),
        Finding("a", "error", "lots", 7, "pots", "not a number", "write a count", "twelve"),
    )
    rows = written(replace(sample_plan(0), findings=findings), tmp_path)["findings.csv"]
    assert [tuple(r.values()) for r in rows] == [
        ("a", "error", "lots", "7", "pots", "not a number (twelve)", "write a count"),
        ("b", "note", "lots", "", "", "a note", "nothing"),
    ]


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    first = [p.read_bytes() for p in write_tables(sample_plan(30), tmp_path / "a")]
    second = [p.read_bytes() for p in write_tables(sample_plan(30), tmp_path / "b")]
    assert first == second


def test_a_folder_that_cannot_be_made_is_said_plainly(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError):
        write_tables(sample_plan(1), tmp_path / "file")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12), min_size=1
    )
)
def test_any_text_comes_back_as_it_went(texts: list[str]) -> None:
    # RFC 4180 by the standard library's own reader; '=' and '+' in front are left as written
    text = csv_text(pd.DataFrame({"x": texts, "y": "=1+1"}, dtype=object))
    back = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert back[1:] == [[t, "=1+1"] for t in texts]


# ---------------------------------------------------------------- as frames


def test_a_row_a_lot_under_its_name_with_days_that_can_be_reckoned_with() -> None:
    plan = sample_plan(30)
    lots = frames.lots(plan)
    assert list(lots.index) == [p.lot.name for p in plan.lots]
    days = ["target", "potting", "cooler_in", "rooted", "bring_in", "bloom", "fade", "install"]
    assert {lots[name].dtype.kind for name in days} == {"M"}
    first = plan.lots[0]
    assert (lots.bloom - lots.bring_in).dt.days["T001"] == (first.bloom - first.bring_in).days
    assert lots.loc["T001", ["crop", "class", "cultivar", "pots"]].tolist() == [
        "hyacinth", "early", "Été Précoce", 12,
    ]  # fmt: skip


def test_what_is_not_known_is_missing_in_a_frame_and_empty_in_its_file() -> None:
    plan = sample_plan(1)
    never = replace(plan, lots=(replace(plan.lots[0], fade=None, cooler_in=None),))
    assert frames.lots(never)[["fade", "cooler_in"]].isna().all(axis=None)
    (row,) = frames.rows_of(frames.lots(never)[["bloom", "fade"]])
    assert row == {"bloom": plan.lots[0].bloom, "fade": None}
    finding = Finding("a", "note", "lots", None, None, "m", "h")
    assert csv_text(frames.findings([finding])).splitlines()[1] == "a,note,lots,,,m,h,,,"


def test_empty_tables_keep_their_columns_and_kinds() -> None:
    plan = sample_plan(0)
    assert frames.lots(plan).bring_in.dtype.kind == "M"
    assert list(frames.steps(plan)) == COLUMNS["plan.csv"].split(",")
    assert list(frames.hours(replace(plan, tasks=()))) == ["week", "task", "hours"]


def test_loads_are_a_row_a_place_and_day() -> None:
    plan = sample_plan(5)
    loads = frames.loads(plan)
    assert list(loads) == ["date", "place", "pots", "capacity"]
    assert len(loads) == sum(len(load.pots) for load in plan.loads)
    for load in plan.loads:
        mine = loads[loads.place == load.place]
        assert mine.pots.tolist() == list(load.pots)
        assert mine.empty or mine.date.iloc[0].date() == load.start


def test_hours_of_a_week_are_summed_by_kind_of_task() -> None:
    # Mon 1 and Sun 7 March 2027 are one week, Mon 8 March begins the next.
    def task(key: str, day: int, name: str, hours: float) -> Task:
        return Task(key, date(2027, 3, day), None, name, 0, hours, "Bench")

    work = (
        task("a", 1, "turn", 0.5),
        task("b", 7, "turn", 0.75),
        task("c", 8, "turn", 2),
        task("d", 7, "pot", 1),
    )
    hours = frames.hours(replace(sample_plan(0), tasks=work))
    assert [tuple(row.values()) for row in frames.rows_of(hours)] == [
        (date(2027, 3, 1), "turn", 1.25), (date(2027, 3, 1), "pot", 1.0), (date(2027, 3, 8), "turn", 2.0),
    ]  # fmt: skip


def test_rooms_are_in_the_unit_of_the_season() -> None:
    plan = sample_plan(5)
    celsius, fahrenheit = (
        frames.rooms(replace(plan, season=replace(plan.season, unit=unit))) for unit in ("C", "F")
    )
    assert not celsius.empty
    assert (fahrenheit.day - (celsius.day * 1.8 + 32)).abs().max() < 0.006  # both rounded to hundredths
