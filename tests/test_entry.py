"""The entry workbook of a week: written, filled in as a person does it, dropped into the log folder and read back."""

from __future__ import annotations

import subprocess
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from forcing.dates import Span
from forcing.engine.work.rules import RULES
from forcing.errors import Finding
from forcing.model import PlaceLoad, Plan, Season, Task
from forcing.reports.entry import expected_events, places_in_use, write_entry
from forcing.season.read import read_season
from tests.outside import program
from tests.sample import sample_plan
from tests.season_text import brief, write_text_folder

MONDAY = date(2026, 11, 2)  # of the week of Tue 3 November, the day of the sample plan
WEEK = Span(MONDAY, date(2026, 11, 9))
CREATED = datetime(2026, 11, 3, tzinfo=UTC)
KINDS = (
    "pot",
    "into cooler",
    "root check",
    "bring in",
    "check shoots",
    "check bud",
    "check colour",
    "set out",
)


def task(
    kind: str, lot: str, day: int, place: str | None = None, to: str | None = None, state: Any = "planned"
) -> Task:
    return Task(f"{kind}/{lot}/1", date(2026, 11, day), lot, kind, 20, 0.5, place, to, state=state)


def with_tasks(*tasks: Task, lots: int = 5) -> Plan:
    return replace(sample_plan(lots), tasks=tasks)


FEW = (
    task("pot", "T001", 2, state="due"), task("into cooler", "T001", 3, None, "Cold room North"),
    task("check shoots", "T002", 4, "Bench 1"), task("check bud", "T002", 6, "Bench 1"),
    task("bring in", "T003", 5, "Cold room North", "Bench 2"), task("turn and space", "T004", 5, "Bench 1"),
    task("order", "T005", 5), task("set out", "T004", 1, "Bench 1", "Terrace", "overdue"),
    task("pot", "T005", 9), task("root check", "T005", 3, "Cold room North", None, "done"),
)  # fmt: skip


def test_what_is_expected_of_a_week_or_overdue_is_asked_once() -> None:
    # No turning, no orders, nothing done, nothing of next week; of two stages of a lot the next one alone.
    found = [(e.lot.lot.name, e.event, e.day.day, e.place) for e in expected_events(with_tasks(*FEW), WEEK)]
    assert found == [
        ("T004", "set out", 1, "Terrace"), ("T001", "potted", 2, None), ("T001", "cooler in", 3, "Cold room North"),
        ("T002", "shoots", 4, "Bench 1"), ("T003", "brought in", 5, "Bench 2"),
    ]  # fmt: skip


def test_blooms_of_the_week_and_those_not_logged_are_asked_for() -> None:
    plan = sample_plan(2)  # T001 and T002 bloom on 20 and 29 March 2027, and fade 14 days later
    plan = replace(plan, tasks=(), on=date(2027, 4, 1))
    week = Span(date(2027, 3, 29), date(2027, 4, 5))
    found = [(e.lot.lot.name, e.event, str(e.day), e.place) for e in expected_events(plan, week)]
    assert found == [
        ("T001", "bloom", "2027-03-20", "Terrace"), ("T002", "bloom", "2027-03-29", "Terrace"),
        ("T001", "faded", "2027-04-03", "Terrace"),
    ]  # fmt: skip


def standing(plan: Plan, **pots: tuple[date, tuple[float, ...]]) -> Plan:
    """The plan with so many pots in these places on each day from a first one."""
    loads = tuple(
        PlaceLoad(name.replace("_", " "), None, start, days) for name, (start, days) in pots.items()
    )
    return replace(plan, loads=loads)


def test_the_grid_has_the_places_in_use() -> None:
    plan = standing(
        with_tasks(*FEW), Terrace=(date(2026, 11, 8), (3.0,)), Bench_1=(date(2026, 10, 1), (9.0,) * 32),
        Bench_2=(date(2026, 11, 9), (5.0,)), Cold_room_North=(date(2026, 11, 1), (0.0, 7.0)),
        Frame=(MONDAY, (0.0,) * 7),
    )  # fmt: skip
    assert places_in_use(plan, WEEK) == ("Cold room North", "Terrace")


# ---------------------------------------------------------------- filled in and read back


def filled(folder: Path, plan: Plan, fill: Any, **season: str) -> tuple[Season, list[Finding]]:
    """The season of a plan after its entry workbook was written, filled in by `fill(events, readings)` and dropped."""
    lots = "\n".join(f"{p.lot.name} | {p.lot.crop} | {p.lot.pots}" for p in plan.lots)
    places = "\n".join(f"{p.name} | {p.kind} | 9 | 9" for p in plan.season.places)
    text = f"[places]\nplace | kind | day | night\n{places}\n[lots]\nlot | crop | pots\n{lots}\n"
    text += "".join(f"[{name}]\n{rows}\n" for name, rows in season.items())
    made = write_text_folder(folder / "season", text)
    (made / "log").mkdir()
    path = write_entry(plan, made / "log", created=CREATED)
    assert path.name == "entry-2026-W45.xlsx"
    book = load_workbook(path)
    fill(book["events"], book["readings"])
    book.save(path)
    read, findings = read_season(made)
    return read, [f for f in findings if f.table.startswith("log/")]


def heads(sheet: Any) -> dict[str, int]:
    return {cell.value: cell.column for cell in sheet[1]}


def rows_by_lot(sheet: Any) -> dict[tuple[str, str], int]:
    at = heads(sheet)
    return {
        (sheet.cell(r, at["lot"]).value, sheet.cell(r, at["event"]).value): r
        for r in range(2, sheet.max_row + 1)
    }


def test_a_workbook_nobody_filled_in_says_nothing(tmp_path: Path) -> None:
    season, findings = filled(tmp_path, with_tasks(*FEW), lambda events, readings: None)
    assert (season.log, season.readings, findings) == ((), (), [])


def test_ticks_days_stages_losses_and_notes_become_the_log(tmp_path: Path) -> None:
    def fill(events: Any, readings: Any) -> None:
        at, row = heads(events), rows_by_lot(events)
        events.cell(row["T001", "potted"], at["done"], "x")
        events.cell(row["T001", "potted"], at["pots lost"], 2)
        events.cell(row["T001", "cooler in"], at["done on"], datetime(2026, 11, 4))
        events.cell(row["T002", "shoots"], at["stage seen"], "Bud")
        events.cell(row["T003", "brought in"], at["done"], True)
        events.cell(row["T003", "brought in"], at["pots"], 12)
        events.cell(row["T004", "set out"], at["done"], "no")
        events.cell(row["T004", "set out"], at["note"], "too windy")
        last = events.max_row + 1
        for head, value in {
            "lot": "T005, T004",
            "event": "moved",
            "place": "Bench 2",
            "done on": date(2026, 11, 6),
        }.items():
            events.cell(last, at[head], value)

    season, findings = filled(tmp_path, with_tasks(*FEW), fill)
    found = [(e.date.day, e.lot, e.event, e.place, e.pots) for e in season.log]
    assert found == [
        (2, "T001", "potted", None, 20), (2, "T001", "lost", None, 2), (4, "T001", "cooler in", "Cold room North", 20),
        (4, "T002", "bud", None, None), (5, "T003", "brought in", "Bench 2", 12), (6, "T005", "moved", "Bench 2", None),
        (6, "T004", "moved", "Bench 2", None),
    ]  # fmt: skip
    assert brief(findings) == ["note entry-note log/entry-2026-W45.xlsx, events 2 note"]


def test_the_grid_becomes_readings_in_its_unit(tmp_path: Path) -> None:
    def fill(events: Any, readings: Any) -> None:
        at = heads(readings)
        assert readings.cell(2, 1).value == "Cold room North"
        readings.cell(2, at["Mon 2 Nov 2026 low °C"], 4.5)
        readings.cell(2, at["Mon 2 Nov 2026 high °C"], 6)
        readings.cell(2, at["Sun 8 Nov 2026 high °C"], 6)
        readings.cell(3, at["Tue 3 Nov 2026 low °C"], "warm")

    plan = standing(with_tasks(*FEW), Cold_room_North=(MONDAY, (1.0,)), Terrace=(MONDAY, (1.0,)))
    season, findings = filled(tmp_path, plan, fill)
    assert [(r.place, r.date, r.low, r.high) for r in season.readings] == [
        ("Cold room North", MONDAY, 4.5, 6)
    ]
    where = "log/entry-2026-W45.xlsx, readings"
    assert sorted((f.table, f.row, f.column, f.code) for f in findings) == [
        (where, 2, "mean", "cell-empty"), (where, 3, "Tue 3 Nov 2026 low °C", "cell-number"),
    ]  # fmt: skip
    assert all(f.severity == "error" for f in findings)


def test_a_grid_in_fahrenheit_is_read_as_such(tmp_path: Path) -> None:
    plan = standing(replace(sample_plan(5, unit="F"), tasks=()), Frame=(MONDAY, (1.0,)))

    def fill(events: Any, readings: Any) -> None:
        at = heads(readings)
        readings.cell(2, at["Mon 2 Nov 2026 low °F"], 41)
        readings.cell(2, at["Mon 2 Nov 2026 high °F"], 50)

    season, findings = filled(tmp_path, plan, fill)
    assert findings == [] and [(r.low, r.high) for r in season.readings] == [(5, 10)]


def busy_monday() -> Plan:
    """57 events of 47 lots in a week: ten are potted and go into the cooler, eight show stages."""
    names = [p.lot.name for p in sample_plan(47).lots]
    tasks = [task("pot", name, 2) for name in names[:10]]
    tasks += [task("into cooler", name, 3, None, "Cold room North") for name in names[:10]]
    tasks += [task("check shoots", name, 4, "Bench 1") for name in names[10:18]]
    tasks += [task("bring in", name, 5, "Cold room North", "Bench 1") for name in names[18:]]
    return with_tasks(*tasks, lots=47)


def test_a_busy_monday_is_ticked_in_with_few_cells(tmp_path: Path) -> None:
    plan, typed = busy_monday(), Counter[str]()

    def fill(events: Any, readings: Any) -> None:
        at = heads(events)
        for number, row in enumerate(range(2, events.max_row + 1)):
            stage = events.cell(row, at["event"]).value == "shoots" and number % 2
            head, value = ("stage seen", "bud") if stage else ("done", "x")
            events.cell(row, at[head], value)
            typed[head] += 1

    season, findings = filled(tmp_path, plan, fill)
    assert findings == []
    kinds = Counter(RULES[t.task].proof for t in plan.tasks)
    logged = Counter(e.event for e in season.log)
    assert sum(logged.values()) == 57 == len(plan.tasks)
    assert logged["shoots"] + logged["bud"] == kinds["shoots"] and logged["brought in"] == kinds["brought in"]
    lots = {e.lot for e in season.log}
    assert len(lots) == 47 and sum(typed.values()) <= 1.5 * len(lots)  # 57 marks for 47 lots: 1.2


def test_the_same_plan_gives_the_same_workbook(tmp_path: Path) -> None:
    first, second = (write_entry(busy_monday(), tmp_path / name, created=CREATED) for name in "ab")
    assert first.read_bytes() == second.read_bytes()


def test_it_comes_back_from_another_program_as_it_was_filled_in(tmp_path: Path) -> None:
    """Saved again by LibreOffice, as a person who fills it in there does."""
    soffice = program("soffice")

    def fill(events: Any, readings: Any) -> None:
        at = heads(events)
        for row in range(2, events.max_row + 1):
            events.cell(row, at["done"], "x")
        readings.cell(2, heads(readings)["Mon 2 Nov 2026 low °C"], 4.5)
        readings.cell(2, heads(readings)["Mon 2 Nov 2026 high °C"], 6)

    plan = standing(with_tasks(*FEW), Cold_room_North=(MONDAY, (1.0,)))
    season, _ = filled(tmp_path, plan, fill)
    folder = tmp_path / "season" / "log"
    path = folder / "entry-2026-W45.xlsx"
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    subprocess.run(
        [soffice, profile, "--headless", "--convert-to", "xlsx", "--outdir", str(tmp_path), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    (tmp_path / path.name).replace(path)
    again, findings = read_season(tmp_path / "season")
    assert again.log == season.log and len(again.log) == 5
    assert again.readings == season.readings and len(again.readings) == 1
    assert not [f for f in findings if f.table.startswith("log/")]
