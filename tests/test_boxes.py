"""Lots in boxes: room by length and width, work and mix by the box."""

from __future__ import annotations

from datetime import date

import pytest

from forcing.engine.context import Context
from forcing.engine.plan import work_out
from forcing.engine.work.orders import order_lines
from forcing.model import Minutes
from forcing.recipes.book import RecipeBook, minutes_in_force
from forcing.reports import labels
from tests.builders import worked
from tests.season_text import PLACES, brief, reading_findings, season

ROWS = "[lots]\nlot | crop | pots | box cm | bulbs per pot | target bloom\nB1 | tulip | 20 | {} | 60 | 2027-03-22\n"


def test_a_box_takes_its_room_its_work_and_its_mix() -> None:
    own = "[minutes]\ntask | minutes per pot | minutes per box | minutes each time\npot | 3 | 9 | 20\n"
    stated = season(PLACES + ROWS.format("60x40x18") + own)
    assert stated.lots[0].box_cm == (60, 40, 18)
    assert stated.minutes == (Minutes("pot", 3, 20, 2, 9),)
    made = worked(stated, date(2026, 9, 1))
    # 60 x 40 cm are 2400 cm², a pot of 15 cm 225: 20 boxes take the room of 213.3 pots
    assert max(max(load.pots) for load in made.plan.loads) == pytest.approx(20 * 2400 / 225)
    lines = {line.item: line for line in order_lines(made.plan)}
    assert (lines["boxes 60 × 40 × 18 cm"].used, lines["boxes 60 × 40 × 18 cm"].kind) == (20, "pots")
    # filled to 1 cm below the rim: 60 x 40 x 17 cm is 40.8 litres
    assert lines["mix for pots"].used == pytest.approx(20 * 40.8)
    assert {line.used for line in lines.values() if line.kind == "bulbs"} == {20 * 60}
    assert [label.pots for label in labels.labels_of(made.plan)] == ["20 boxes of 60 × 40 cm, 60 bulbs each"]


def test_hours_are_by_the_box_where_so_stated() -> None:
    own = "[minutes]\ntask | minutes per pot | minutes per box | minutes each time\npot | 3 | {} | 20\n"
    hours = []
    for per_box in ("9", ""):
        stated = season(PLACES + ROWS.format("60 x 40") + own.format(per_box))
        context = Context(date(2026, 9, 1), minutes_in_force(stated.minutes))
        plan = work_out(stated, RecipeBook.from_overrides(), context).plan
        hours.append(next(task.hours for task in plan.tasks if task.task == "pot"))
    # 20 minutes each time, and 20 boxes of 9 minutes or, as nothing is stated of boxes, of 3
    assert hours == [pytest.approx((20 + 20 * 9) / 60, abs=1e-3), pytest.approx((20 + 20 * 3) / 60, abs=1e-3)]


@pytest.mark.parametrize(
    ("box", "header", "cm"),
    [
        ("24 x 16", "box in", (60.96, 40.64)),
        ("60×40", "box", (60, 40)),
        ("60 X 40 x 18", "box cm", (60, 40, 18)),
    ],
)
def test_boxes_as_people_write_them(box: str, header: str, cm: tuple[float, ...]) -> None:
    rows = ROWS.format(box).replace("box cm", header)
    assert season(PLACES + rows).lots[0].box_cm == pytest.approx(cm)  # an inch is 2.54 cm


def test_boxes_that_are_none() -> None:
    for wrong, code in (
        ("60", "cell-box"),
        ("60x", "cell-number"),
        ("60x40x18x2", "cell-box"),
        ("0x40", "cell-limits"),
    ):
        assert brief(reading_findings(PLACES + ROWS.format(wrong))) == [f"error {code} lots 2 box cm"]
    unsaid = ROWS.format("60x40").replace("| 60 |", "|    |")
    assert brief(reading_findings(PLACES + unsaid)) == ["error cell-empty lots 2 bulbs per pot"]
    both = ROWS.format("60x40").replace("box cm", "box cm | pot cm").replace("| 60x40", "| 60x40 | 15")
    assert brief(reading_findings(PLACES + both)) == ["warning box-and-pot lots 2 box cm"]
