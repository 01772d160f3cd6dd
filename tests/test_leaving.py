"""Houses that force for dates: lots that leave, all at once or some pots at a time."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

import forcing
from forcing.model import LogEntry, Lot
from forcing.reports.draw.days import target_words
from forcing.reports.labels import write_labels
from tests.builders import house_figures, only, season, worked
from tests.season_text import PLACES, brief, check_findings, write_text_folder
from tests.season_text import season as read

TARGET = date(2027, 3, 22)
CREATED = datetime(2026, 11, 9, 8)
# 24 days at 16 °C above base 2 is 336 °C·d, whatever the cold; 14 weeks wanted.
PLAIN = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1,
)  # fmt: skip


def lot(**other: object) -> Lot:
    return Lot("A", "tulip", 100, **({"target": TARGET, "pot_cm": 15} | other))  # type: ignore[arg-type]


def on_bench(made: object, day: date) -> float:
    (load,) = [load for load in made.plan.loads if load.place == "Bench"]  # type: ignore[attr-defined]
    at = (day - load.start).days
    return float(load.pots[at]) if 0 <= at < len(load.pots) else 0.0


def test_a_lot_that_leaves_takes_no_room_from_then_on() -> None:
    leaves = TARGET + timedelta(days=1)
    made = worked(season([lot(leaves=leaves)], overrides=PLAIN), date(2026, 11, 2))
    (plan,) = made.plan.lots
    assert plan.leaves == plan.steps[-1].span.end == leaves and plan.fade is not None and plan.fade > leaves
    assert (on_bench(made, leaves - timedelta(days=1)), on_bench(made, leaves)) == (100, 0)
    (task,) = [task for task in made.plan.tasks if task.task == "dispatch"]
    assert (task.date, task.pots, task.place, task.state) == (leaves, 100, "Bench", "planned")
    assert not [t for t in made.plan.tasks if t.lot == "A" and t.date > leaves]


def test_pots_sold_over_several_days_leave_as_they_go() -> None:
    leaves, first = TARGET + timedelta(days=3), TARGET - timedelta(days=2)
    log = (LogEntry(first, "A", "sold", None, 30), LogEntry(TARGET, "A", "lost", None, 10),
           LogEntry(TARGET, "A", "sold", None, 20))  # fmt: skip
    stated = season([lot(leaves=leaves)], overrides=PLAIN, log=log)
    made = worked(stated, TARGET + timedelta(days=1))
    day_before = first - timedelta(days=1)
    there = [on_bench(made, day) for day in (day_before, first, TARGET - timedelta(days=1), TARGET, leaves)]
    assert there == [100, 70, 70, 40, 0]
    (task,) = [task for task in made.plan.tasks if task.task == "dispatch"]
    assert (task.pots, task.state) == (40, "planned")  # what is left; some sold is not all


def test_a_lot_that_is_wanted_in_bud_leaves_in_bud() -> None:
    figures = (*PLAIN, *house_figures("tulip", bud=0.5))
    plan = only(season([lot(target_stage="bud", leaves=TARGET)], overrides=figures))
    # 168 °C·d are 12 days of 14: brought in on 10 March, in bud on the 22nd, when it leaves
    assert plan.bring_in == TARGET - timedelta(days=12) and plan.steps[-1].span.end == TARGET
    assert {step.step for step in plan.steps} == {"pot", "root", "cool", "bench"}


def test_a_lot_that_leaves_too_soon_or_too_late() -> None:
    rows = "[lots]\nlot | crop | pots | target bloom | leaves\nT1 | tulip | 9 | 2027-03-22 | 2027-W11\n"
    assert brief(check_findings(PLACES + rows))[:1] == ["warning leaves-early lots 2 leaves"]
    late = worked(season([lot(leaves=TARGET + timedelta(days=60))], overrides=PLAIN), date(2026, 11, 2))
    assert "leaves-faded" in {finding.code for finding in late.plan.findings}


def _words(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())


def test_papers_of_a_house_without_a_show_speak_of_no_opening(tmp_path: Path) -> None:
    text = (
        PLACES.replace("Terrace | site   |      |     |", "")
        + """
[lots]
lot | crop  | pots | target bloom | target stage | leaves
V1  | tulip | 90   | 2027-W03     | colour       | 2027-W04
V2  | tulip | 40   | 2027-W05     |              |
"""
    )
    text = "[season]\nitem | value\ntitle | House at the bend\n" + text
    loaded = forcing.load(write_text_folder(tmp_path / "house", text))
    made = loaded.plan(on="2026-11-09")
    plan = made.result.plan
    assert not plan.season.has_show
    # The Monday of 2027-W03 is 18 January 2027, 70 days after 9 November 2026.
    assert target_words(plan, date(2026, 11, 9)) == ("70", "days to the next target: Mon 18 Jan 2027, V1")
    assert target_words(plan, date(2027, 1, 19))[1] == "days to the next target: Mon 1 Feb 2027, V2"
    assert target_words(plan, date(2027, 2, 2)) == ("–", "no target is to come")
    files = made.write_week(tmp_path)
    words = _words(next(file for file in files if file.name == "week-2026-W46.pdf"))
    assert "opening" not in words and "days to the next target" in words
    words = _words(write_labels(plan, tmp_path, created=CREATED))
    assert "not set out" not in words and "Leaves" in words and "In bloom by Mon 1 Feb" in words
    with_show = season([lot()])
    assert with_show.has_show


@pytest.mark.parametrize("weeks", [1, 2])
def test_a_succession_leaves_in_turn(weeks: int) -> None:
    rows = (
        "[lots]\nlot | crop | pots | target bloom | leaves | repeat | every\n"
        f"V | tulip | 9 | 2027-W05 | 2027-02-05 | 3 | {weeks}\n"
    )
    stated = read(PLACES + rows)
    assert [lot.leaves for lot in stated.lots] == [
        date(2027, 2, 5) + timedelta(weeks=weeks * i) for i in range(3)
    ]
