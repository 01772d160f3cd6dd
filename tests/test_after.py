"""What is done after the show, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from forcing.model import Planting
from tests.builders import MON_FRI
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
