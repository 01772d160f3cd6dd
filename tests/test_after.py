"""What is done after the show, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from forcing.engine.review import hours_spent
from forcing.model import LogEntry, Planting, Task
from tests.builders import MON_FRI
from tests.season_text import PLACES, season
from tests.test_show import lot, stage, worked


def test_what_is_done_after_the_show_by_hand() -> None:
    # The display closes on Sunday 18 April 2027: it is cleared on Monday, of the 30 pots of B that stand in it; A went
    # on 30 March. Cooler and bench are empty by then and are cleaned on that Monday; the review is a week later.
    stated = stage(
        [lot("A", 30), lot("B", 30, date(2027, 3, 30))], [Planting("D", "A", 3), Planting("D", "B", 3)],
        calendar=MON_FRI,
    )  # fmt: skip
    tasks = worked(stated).plan.tasks
    after = [(t.date, t.task, t.place, t.pots) for t in tasks if t.task in ("clear", "clean", "look back")]
    monday = date(2027, 4, 19)
    assert sorted(after, key=lambda row: (row[0], row[1], row[2] or "")) == [
        (monday, "clean", "Bench", 0), (monday, "clean", "Cold", 0), (monday, "clear", "Court", 30),
        (date(2027, 4, 26), "look back", None, 0),
    ]  # fmt: skip
    (clear,) = (t for t in tasks if t.task == "clear")
    assert clear.look_for.startswith("D: B: compost")
    # 1 minute a pot and 20: 50 minutes.
    assert clear.hours == 0.833
    assert {"mould", "bulbs"} <= set(clear.cautions)


def test_a_house_without_displays_has_no_show_to_clear() -> None:
    stated = replace(stage([lot("A", 30, display=None)], (), ()), displays=(), plantings=())
    assert not [t for t in worked(stated).plan.tasks if t.task in ("clear", "clean", "look back")]


def test_hours_logged_stand_beside_those_planned_for_the_same_work() -> None:
    # Potting A took 2 and 1.5 hours where 2.5 were planned, B 1 where 1: 4.5 beside 3.5. C has no hours logged, D was
    # not planned, what was logged after the day is not known, and the orders of A are no potting.
    day = date(2026, 11, 9)
    tasks = [
        Task("pot/A/1", day, "A", "pot", 30, 2.5, None), Task("pot/B/1", day, "B", "pot", 10, 1.0, None),
        Task("pot/C/1", day, "C", "pot", 10, 1.0, None), Task("order/A/1", day, "A", "order", 30, 0.25, None),
    ]  # fmt: skip
    log = [
        LogEntry(day, "A", "potted", hours=2.0), LogEntry(day, "A", "potted", hours=1.5),
        LogEntry(day, "B", "potted", hours=1.0), LogEntry(day, "C", "potted"),
        LogEntry(day, "D", "potted", hours=9.0), LogEntry(date(2026, 11, 11), "B", "potted", hours=7.0),
    ]  # fmt: skip
    (spent,) = hours_spent(log, tasks, date(2026, 11, 10))
    assert (spent.event, spent.lots, spent.planned, spent.logged) == ("potted", 2, 3.5, 4.5)


def test_hours_of_several_lots_in_a_row_are_shared_among_them() -> None:
    text = PLACES + "[lots]\nlot | crop | pots\nT1 | tulip | 20\nT2 | tulip | 20\n"
    text += "[log]\ndate | lot | event | hours\n2026-11-02 | T1, T2 | potted | 3\n"
    assert [(entry.lot, entry.hours) for entry in season(text).log] == [("T1", 1.5), ("T2", 1.5)]
