"""Every sheet at 5, 30, 80 and 200 lots, on both papers, with names that are long and of several scripts.

No words lie on others or leave the page, none is smaller than 7 pt, and of what is cut all are names that people gave:
the sheets' own words are whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

import pytest

from forcing.dates import DAY, week_span
from forcing.engine.show.cover import Cover
from forcing.engine.show.planting import PlantingDay, PlantingItem
from forcing.engine.show.standing import Swap
from forcing.engine.steering.advice import Steering
from forcing.model import Display, Plan, Planting
from forcing.reports import cover, labels, outlook, planting, room_plan, steer
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas
from forcing.reports.gantt import chart, page
from forcing.reports.room_weeks import place_weeks
from forcing.reports.week import write_week
from tests.printed_pages import HARD_NAMES, UPRIGHT, check_drawn, check_printed
from tests.sample import sample_plan
from tests.test_sheet_board import some_outlooks
from tests.test_sheet_steer import carrying

CREATED = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
QUICK = (
    (5, "A4"),
    (30, "Letter"),
)  # the other ways are as many again, and the largest sheets take seconds each
SIZES = [
    pytest.param(lots, paper, marks=() if (lots, paper) in QUICK else pytest.mark.slow)
    for lots in (5, 30, 80, 200)
    for paper in ("A4", "Letter")
]
PLACES = {
    "Cold room North": "Kühlhaus Süd neben der großen Töpferei am Anger",
    "Bench 2": "Старая теплица у пруда",
}


@lru_cache(maxsize=4)
def hard_plan(lots: int, paper: str) -> Plan:
    """The sample with every name its own kind of hard; every third lot of a crop without classes."""
    plan = sample_plan(lots, "F" if paper == "Letter" else "C", paper)
    places = tuple(replace(p, name=PLACES.get(p.name, p.name)) for p in plan.season.places)
    names = {
        p.lot.name: f"{p.lot.name} {HARD_NAMES[i % 5]}" if i % 4 == 1 else p.lot.name
        for i, p in enumerate(plan.lots)
    }
    lots_ = []
    for i, p in enumerate(plan.lots):
        kind = p.lot.bloom_class if i % 3 else None
        lot = replace(
            p.lot, name=names[p.lot.name], cultivar=HARD_NAMES[i % 5] if i % 2 else p.lot.cultivar, bloom_class=kind,
            cooler=PLACES.get(p.lot.cooler or "", p.lot.cooler), bench=PLACES.get(p.lot.bench or "", p.lot.bench),
        )  # fmt: skip
        steps = tuple(replace(s, lot=lot.name, place=PLACES.get(s.place or "", s.place)) for s in p.steps)
        recipe = replace(p.recipe, bloom_class=kind)
        lots_.append(replace(p, lot=lot, steps=steps, recipe=recipe))
    loads = tuple(replace(load, place=PLACES.get(load.place, load.place)) for load in plan.loads)
    rooms = tuple(replace(room, place=PLACES.get(room.place, room.place)) for room in plan.rooms)
    tasks = []
    for t in plan.tasks:
        place, to = PLACES.get(t.place or "", t.place), PLACES.get(t.to or "", t.to)
        tasks.append(replace(t, lot=names.get(t.lot or "", t.lot), place=place, to=to))
    displays = tuple(Display(name, 12, "Terrace", plan.season.span) for name in HARD_NAMES)
    plantings = tuple(Planting(HARD_NAMES[0], name, 1) for name in names.values())
    season = replace(
        plan.season, title="Spring " + HARD_NAMES[1], places=places, displays=displays, plantings=plantings
    )
    return replace(plan, season=season, lots=tuple(lots_), loads=loads, rooms=rooms, tasks=tuple(tasks))


def covers(plan: Plan) -> list[Cover]:
    """Displays with chances of 100 % side by side, thin stretches, and lots that are not counted."""
    days = plan.season.span.days
    share = tuple(0.9 - 0.05 * (i % 13) for i in range(days))
    return [
        Cover(d.name, d.span, 0.6, (60,) * days, share, (1.0,) * days, {"early": share, None: (0.0,) * days},
              tuple(p.lot.name for p in plan.lots[:3]))
        for d in plan.season.displays
    ]  # fmt: skip


def planted(plan: Plan) -> list[PlantingDay]:
    """A display of eight containers for every dozen lots, each pot of a container of another lot, and a swap."""
    opens, lots, days = plan.season.span.start, [p.lot for p in plan.lots], []
    for i, some in enumerate(lots[n : n + 12] for n in range(0, len(lots), 12)):
        display = Display(HARD_NAMES[i % 5], 8, "Terrace", plan.season.span)
        names = tuple(lot.name for lot in some)
        items = tuple(
            PlantingItem(lot.name, lot.crop, lot.cultivar, 8, 2, 15.0, opens, PLACES["Bench 2"], "anywhere", 30.0 + n,
                         None, "orange-scarlet with a yellow base", n % 2 == 0)
            for n, lot in enumerate(some)
        )  # fmt: skip
        later = (Swap(display.name, opens + 9 * DAY, names[0], names[-1], 8, 2, False),)
        rows = (names[: len(names) // 2], names[len(names) // 2 :])
        days.append(PlantingDay(display, items, (rows,) * 8, later, dict.fromkeys(names, 1), 0.75, 5))
    return days


def steered(plan: Plan) -> Steering:
    """Every lot carried to another bench, into the cold room and back."""
    answer, _ = carrying([p.lot.name for p in plan.lots])
    named = {"Bench": PLACES["Bench 2"], "Cold": PLACES["Cold room North"], "Sill": "Sill"}
    options = []
    for option in answer.options:
        moves, holds = (
            tuple(replace(m, place=named[m.place], to=named[m.to]) for m in carried)
            for carried in (option.moves, option.holds)
        )
        options.append(replace(option, moves=moves, holds=holds))
    return replace(answer, options=tuple(options))


DRAWN: Mapping[str, Callable[[Plan], list[Canvas]]] = {
    "gantt": lambda plan: page.draw_pages(chart.chart_of(plan)),
    "gantt picture": lambda plan: [page.draw_picture(chart.chart_of(plan))],
    "room plan": lambda plan: room_plan.draw_pages(plan, place_weeks(plan)),
    "cover": lambda plan: cover.draw_pages(plan, covers(plan)),
    "outlook": lambda plan: outlook.draw_pages(plan, some_outlooks(plan), {}),
    "planting": lambda plan: planting.draw_pages(plan, planted(plan)),
    "steer": lambda plan: steer.draw_pages(steered(plan), plan),
    "labels": lambda plan: labels.draw_pages(plan, list(labels.labels_of(plan))),
}


def names_of(plan: Plan) -> Iterator[str]:
    """All that people named, as a sheet can draw it."""
    for lot in (p.lot for p in (*plan.lots, *plan.unplanned)):
        yield from (lot.name, lot.cultivar or "", lot.crop)
    yield from (
        plan.season.title,
        *(p.name for p in plan.season.places),
        *(d.name for d in plan.season.displays),
    )


def check_cut(plan: Plan, said: list[str]) -> None:
    """Where something is cut, what stands before the … is the beginning of a name, or of a word of one."""
    words_of = (fit.clean(name).split() for name in names_of(plan))
    names = {" ".join(words[i:]) for words in words_of for i in range(len(words))}
    for words in said:
        for before in words.split("…")[:-1]:
            ends = (before[-keep:] for keep in range(2, len(before) + 1))
            assert any(name.startswith(end.strip()) for end in ends for name in names), words


@pytest.mark.parametrize(("lots", "paper"), SIZES)
@pytest.mark.parametrize("sheet", DRAWN)
def test_no_sheet_has_words_on_others_or_cuts_its_own(sheet: str, lots: int, paper: str) -> None:
    plan = hard_plan(lots, paper)
    pages = DRAWN[sheet](plan)
    for drawn in pages:
        check_drawn(drawn)
    check_cut(plan, [text.said for drawn in pages for text in drawn.texts])


@pytest.mark.parametrize(("lots", "paper"), SIZES)
def test_no_week_sheet_has_words_on_others_or_cuts_its_own(lots: int, paper: str, tmp_path: Path) -> None:
    plan = hard_plan(lots, paper)
    path = write_week(plan, week_span("2027-W11"), tmp_path, created=CREATED)
    runs = check_printed(path, UPRIGHT[paper], margin=17, least=7)
    check_cut(plan, [run.said for run in runs])
