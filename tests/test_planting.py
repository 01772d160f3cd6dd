"""Planting day: what stands where in each container, by property and by hand; trolleys, crew and the pages."""

from __future__ import annotations

import csv
import itertools
import re
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.engine.context import Context
from forcing.engine.show.planting import (
    PlantingDay,
    PlantingItem,
    arranged,
    neighbours,
    planting_days,
    row_sizes,
)
from forcing.model import Display, Minutes, Planting, Position
from forcing.reports.planting import draw_pages, write_planting
from tests.printed_pages import UPRIGHT, check_fonts, check_printed, words_of
from tests.sample import sample_plan
from tests.season_text import ONE_LOT, SHOW, reading_findings, season
from tests.test_show import OPENS, PLACES, lot, stage, worked

SPAN = Span(OPENS, OPENS + timedelta(days=30))


def item(
    name: str,
    pots: int,
    height: float | None = 30,
    colour: str | None = None,
    position: Position = "anywhere",
) -> PlantingItem:
    return PlantingItem(
        name, "tulip", None, pots, 0, 15, OPENS, "Bench", position, height, None, colour, False
    )


@pytest.mark.parametrize(
    ("pots", "rows"),
    [(1, (1,)), (3, (3,)), (4, (2, 2)), (5, (2, 3)), (8, (4, 4)), (9, (3, 3, 3)), (11, (3, 4, 4))],
)
def test_rows_by_hand(pots: int, rows: tuple[int, ...]) -> None:
    assert row_sizes(pots) == rows


def test_what_touches_by_hand() -> None:
    # Two behind three: the left one touches the left and the middle, the right one the middle and the right.
    touching = set(neighbours((("a", "b"), ("c", "d", "e"))))
    assert touching == {
        ((0, 0), (0, 1)), ((1, 0), (1, 1)), ((1, 1), (1, 2)),
        ((0, 0), (1, 0)), ((0, 0), (1, 1)), ((0, 1), (1, 1)), ((0, 1), (1, 2)),
    }  # fmt: skip


@settings(max_examples=12, deadline=None)
@given(
    st.integers(1, 12),
    st.lists(st.tuples(st.integers(1, 4), st.sampled_from([None, 10.0, 20.0, 40.0])), min_size=1, max_size=4),
    st.integers(0, 3),
)
def test_every_container_holds_its_pots_with_the_tall_behind(
    number: int, rows: list[tuple[int, float | None]], short: int
) -> None:
    items = [
        item(f"I{i}", each * number - (short if i == 0 else 0), height)
        for i, (each, height) in enumerate(rows)
    ]
    items = [x for x in items if x.pots > 0]
    height = {x.name: x.height for x in items}
    made = list(arranged(Display("D", number, "Court", SPAN), items))
    assert len(made) == number
    total: Counter[str] = Counter()
    for container in made:
        held = Counter(itertools.chain(*container))
        total += held
        for x in items:  # as many in each as an even share, a pot more or less
            assert x.pots // number <= held[x.name] <= -(-x.pots // number)
        for behind, front in itertools.combinations(container, 2):
            for a, b in itertools.product(behind, front):
                if height[a] is not None and height[b] is not None:
                    assert height[a] >= height[b]  # type: ignore[operator]
    assert total == {x.name: x.pots for x in items}
    assert made == list(arranged(Display("D", number, "Court", SPAN), items))


def test_no_two_containers_are_alike_while_there_is_another_arrangement() -> None:
    # Two of A and two of B, of one height, in two rows of two: 4! / (2! 2!) = 6 arrangements for six containers; eight
    # containers have each of the six, and two of them twice.
    items = [item("A", 12), item("B", 12)]
    assert len(set(arranged(Display("D", 6, "Court", SPAN), items))) == 6
    eight = Counter(arranged(Display("D", 8, "Court", SPAN), [item("A", 16), item("B", 16)]))
    assert (len(eight), max(eight.values())) == (6, 2)


def test_many_containers_repeat_in_turn() -> None:
    # Twelve pots of as many kinds and no heights: 12! arrangements, of which 200 are drawn for 1,050 containers.
    items = [item(name, 1_050, height=None) for name in "ABCDEFGHIJKL"]
    made = list(arranged(Display("D", 1_050, "Court", SPAN), items))
    assert len(set(made[:200])) == 200 and made[200:400] == made[:200] and made[1_000:] == made[:50]


def test_neighbours_are_mixed_by_colour_as_well_as_can_be() -> None:
    # Two white lots of two pots each and four red pots, all of one height, in two rows of four: WRWR over RWRW leaves
    # no two neighbours alike, so that at the least no pot has only its own colour about it.
    items = [
        item("Ivory", 6, colour="white"),
        item("Snow", 6, colour="white"),
        item("Ruby", 12, colour="red"),
    ]
    colour = {x.name: x.colour for x in items}
    for rows in arranged(Display("D", 3, "Court", SPAN), items):
        about: dict[tuple[int, int], set[str | None]] = {}
        for one, other in neighbours(rows):
            about.setdefault(one, set()).add(colour[rows[other[0]][other[1]]])
            about.setdefault(other, set()).add(colour[rows[one[0]][one[1]]])
        for (r, i), seen in about.items():
            assert seen != {colour[rows[r][i]]}


def test_the_front_the_back_and_the_trailing() -> None:
    items = [
        item("Low at the back", 4, 10, position="back"), item("Tall in front", 4, 60, position="front"),
        item("Middling", 8, 30),
    ]  # fmt: skip
    for rows in arranged(Display("D", 4, "Court", SPAN), items):  # 4 pots: two rows of two
        assert "Low at the back" in rows[0]
        assert "Tall in front" in rows[-1]


def test_a_planting_day_by_hand() -> None:
    # 10 containers of 80 litres: A 3 and B 2 pots each, 15 cm; A has 33 pots. A container takes 6 + 0.1 * 80 = 14
    # minutes to fill and 5 * 2 = 10 to plant: 0.4 h; of 8 hours a day 20. A: 33 pots on trolleys of 30 are 2 loads.
    stated = stage(
        [lot("A", 33), lot("B", 20), lot("C", 10, OPENS + timedelta(days=12))],
        [Planting("D", "A", 3), Planting("D", "B", 2, colour="red", in_pot=True), Planting("D", "C", 1)],
        [Display("D", 10, "Court", SPAN, litres=80)],
        trolley_pots=30, hours_per_day=8,
    )  # fmt: skip
    assert PLACES
    w = worked(stated)
    (day,) = planting_days(
        w.plan,
        w.beside.show.standings,
        (),
        Context(date(2026, 11, 2), {"set out": Minutes("set out", 2, 20)}),
    )
    a, b = day.items
    assert (a.pots, a.spares, b.pots, b.spares, b.in_pot) == (30, 3, 20, 0, True)
    assert (dict(day.trolleys), day.hours, day.a_day) == ({"A": 2, "B": 1}, pytest.approx(0.4), 20)
    assert {len(list(itertools.chain(*rows))) for rows in day.containers} == {5}
    assert {swap.into for swap in day.later} == {"C"}


def test_the_pages_hold_every_container_and_no_word_leaves_them(tmp_path: Path) -> None:
    long, other = "Grand Old Duchess of the Northern Meadow, double", "Été Précoce à la très longue traîne"
    stated = stage(
        [lot(long, 40, cultivar=other), lot("T2", 40, cultivar="雪の灯")],
        [Planting("D", long, 4, colour="deep apricot with green flames", position="back"),
         Planting("D", "T2", 4, in_pot=True)],
    )  # fmt: skip
    w = worked(stated)
    context = Context(date(2026, 11, 2), {"set out": Minutes("set out", 2, 20)})
    days = tuple(planting_days(w.plan, w.beside.show.standings, (), context))
    table, pdf = write_planting(w.plan, days, tmp_path, created=datetime(2026, 11, 3, tzinfo=UTC))
    check_printed(pdf, UPRIGHT["A4"], margin=20, least=7)
    check_fonts(pdf)
    said = " ".join(words_of(*draw_pages(w.plan, days)))
    assert "Left in their pots: T2" in said
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert Counter((row["container"], row["lot or companion"]) for row in rows) == {
        (str(i), name): 4 for i in range(1, 11) for name in (long, "T2")
    }


SHOWN = (
    ONE_LOT
    + """
[displays]
display | containers | site
Tubs    | 10         | Terrace

[plantings]
display | lot or companion | pots per container | position | height cm | habit   | color | in pot
Tubs    | T1               | 2                  | {}       | 40        | upright | red   | yes
"""
)


def test_plantings_are_read_as_a_person_writes_them() -> None:
    (planting,) = season(SHOWN.format("back")).plantings
    assert (planting.position, planting.height_cm, planting.habit, planting.colour, planting.in_pot) == (
        "back", 40.0, "upright", "red", True,
    )  # fmt: skip
    assert [(f.table, f.column, f.value) for f in reading_findings(SHOWN.format("rim")) if f.table] == [
        ("plantings", "position", "rim")
    ]


def test_a_season_in_us_measures_has_no_metric_word_on_its_pages() -> None:
    # 55 litres are 1.9 cubic feet (28.317 litres each); 40 cm are 15.7 inches, so 15.5 to the half.
    text = SHOWN.format("back").replace("height cm", "height in").replace("| 40 ", "| 15.75 ")
    (planting,) = season(SHOW + "measures | US\n" + text).plantings
    assert planting.height_cm == pytest.approx(40, abs=0.01)
    stated = stage(
        [lot("A", 30)], [Planting("D", "A", 3, height_cm=40)], [Display("D", 10, "Court", SPAN, litres=55)],
        measures="US",
    )  # fmt: skip
    w = worked(stated)
    context = Context(date(2026, 11, 2), {"set out": Minutes("set out", 2, 20)})
    said = " ".join(
        words_of(*draw_pages(w.plan, tuple(planting_days(w.plan, w.beside.show.standings, (), context))))
    )
    assert "by height, 15.5 in" in said
    assert "1.9 cu ft of mix" in said
    assert not re.search(r"\bcm\b|litre| L ", said)


def test_a_further_page_says_again_what_the_letters_stand_for() -> None:
    items = (item("T1", 180), item("T2", 180))
    rows = (("T1", "T2"), ("T2", "T1"))
    loads = {"T1": 5, "T2": 5}
    day = PlantingDay(Display("D", 90, "Court", SPAN), items, (rows,) * 90, (), loads, 0.5, 20)
    pages = draw_pages(sample_plan(1), [day])
    assert len(pages) > 1
    assert all("A = T1; B = T2" in words_of(page) for page in pages[1:])
