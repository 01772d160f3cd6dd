"""Weekly successions: rooms that stay as warm as roots want, beside rooms for what is rooted.

Figures of the crop are the tests' own (FIGURES): a tulip is brought in 24 days before its target after 14 weeks of
cold, is rooted after 3 weeks and has shoots after 10; once it has, more than 3 °C makes it grow in the dark.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.dates import Span
from forcing.engine.agreed import agreement_of
from forcing.engine.allocation import audit
from forcing.engine.climate import build_climate
from forcing.engine.coolers import programmes, rooms_apart
from forcing.engine.plan import PlanResult, work_out
from forcing.model import LogEntry, Lot, LotPlan, Place, Season
from forcing.recipes.book import RecipeBook
from tests.builders import EVERY_DAY, MON_FRI, season, seen_on, worked
from tests.test_allocate import FIGURES, tulips

JULY = date(2026, 7, 1)
POTS, WEEKS, FIRST = 40, 4, date(2027, 1, 20)
NAMES = "ABCDEF"
Stay = tuple[str, date, date]  # room, from, to


def successions(one: float, other: float, **more: object) -> Season:
    """Six lots of 40 pots with targets four weeks apart, and two rooms without temperatures."""
    lots = [tulips(name, POTS, target=FIRST + timedelta(weeks=WEEKS * at)) for at, name in enumerate(NAMES)]
    places = (
        Place("One", "cooler", one), Place("Other", "cooler", other), Place("Bench", "bench", 500, day=16, night=16),
    )  # fmt: skip
    return season(
        lots, **({"places": places, "overrides": FIGURES, "calendar": EVERY_DAY, "opens": FIRST} | more)
    )


def days_of(name: str) -> tuple[date, date, date, date]:
    """Into the cold, rooted, with shoots, brought in: by hand from its target."""
    out = FIRST + timedelta(weeks=WEEKS * NAMES.index(name)) - timedelta(days=24)
    into = out - timedelta(weeks=14)
    return into, into + timedelta(weeks=3), into + timedelta(weeks=10), out


def cold_from(stays: list[tuple[str, Stay]], roots: list[str]) -> date:
    """The day from which a room is at 1 °C: all that root there are rooted, for 4 days or until the first shoots."""
    last = max((days_of(name)[1] for name in roots), default=date.min)
    shown = [days_of(name)[2] for name, stay in stays if stay[2] > max(last, days_of(name)[2])]
    first = max(last, min(shown, default=date.max))
    return max(first, last + timedelta(days=4) if roots else first)


def cost_of(ways: dict[str, list[Stay]], room: dict[str, float], warm: str | None = None) -> float:
    """Pot-weeks that a way of growing all lots costs, by a plain count of its days; infinite where it does not fit.

    `warm`: the room that is not stepped down; None: both are when all that root in them are rooted.
    """
    full: dict[tuple[str, date], int] = defaultdict(int)
    cold: dict[str, date] = {}
    for name in room:
        stays = [(lot, stay) for lot, mine in ways.items() for stay in mine if stay[0] == name]
        roots = [lot for lot, mine in ways.items() if mine[0][0] == name]
        cold[name] = date.max if name == warm else cold_from(stays, roots)
        for _, (_, start, end) in stays:
            for i in range((end - start).days):
                full[name, start + timedelta(days=i)] += POTS
    if any(pots > room[name] for (name, _), pots in full.items()):
        return float("inf")
    total = 0.0
    for lot, mine in ways.items():
        dark = sum(
            max(0, (min(end, cold[name]) - max(start, days_of(lot)[2])).days) for name, start, end in mine
        )
        total += POTS * (0.5 * (dark >= 7) + 0.05 * (len(mine) > 1))
    return total


def every_way(room: dict[str, float]) -> Iterator[float]:
    """What each way costs: each lot in a room of its own; and each way to root all in one room and move some."""
    for picked in itertools.product(room, repeat=len(NAMES)):
        ways = {
            lot: [(name, days_of(lot)[0], days_of(lot)[3])] for lot, name in zip(NAMES, picked, strict=True)
        }
        yield cost_of(ways, room)
    for warm, cold in itertools.permutations(room):
        for moved in itertools.product((True, False), repeat=len(NAMES)):
            ways = {}
            for lot, moves in zip(NAMES, moved, strict=True):
                into, rooted, _, out = days_of(lot)
                ways[lot] = [(warm, into, rooted), (cold, rooted, out)] if moves else [(warm, into, out)]
            yield cost_of(ways, room, warm)


def stays_of(plan: LotPlan) -> list[Stay]:
    """Where a planned lot is cold, rooted or not."""
    rows = [(s.place or "", s.span.start, s.span.end) for s in plan.steps if s.step in ("root", "cool")]
    return [
        (name, group[0][1], group[-1][2])
        for name, same in itertools.groupby(rows, key=lambda row: row[0])
        for group in [list(same)]
    ]


@pytest.fixture(scope="module")
def apart() -> PlanResult:
    return worked(successions(100, 200), JULY)


def test_lots_are_rooted_in_a_room_that_stays_warm_and_moved_to_a_cold_one(apart: PlanResult) -> None:
    # Three lots in each of two rooms come in over 8 weeks and are all rooted after 11, when the first has had shoots
    # for one. Rooms apart hold one lot that roots (3 weeks each, 4 weeks apart) and three that are cold (11 each).
    room = {"One": 100.0, "Other": 200.0}
    assert [stays_of(p) for p in apart.plan.lots] == [
        [("One", into, rooted), ("Other", rooted, out)] for into, rooted, _, out in map(days_of, NAMES)
    ]
    assert min(every_way(room)) == pytest.approx(6 * POTS * 0.05)
    degrees = {name: [r.mean for r in apart.plan.rooms if r.place == name] for name in room}
    assert degrees == {"One": [9.0], "Other": [5.0, 1.0]}
    assert not {f.code for f in apart.plan.findings} & {"room-too-warm", "shoots-before-step-down"}
    moves = [(t.date, t.place, t.to, t.lot) for t in apart.plan.tasks if t.task == "move"]
    assert moves == [(days_of(name)[1], "One", "Other", name) for name in NAMES]


@pytest.mark.parametrize(
    ("rooms", "warm"),
    [
        ({"One": (100, None), "Other": (200, None)}, ("One",)),
        ({"One": (200, None), "Other": (100, None)}, ("Other",)),
        ({"One": (30, None), "Other": (200, None)}, ("One",)),
        ({"One": (200, None), "Other": (30, None), "Third": (100, None)}, ("Other", "Third")),
        ({"One": (100, 2), "Other": (200, None)}, ("Other",)),
        ({"One": (100, 9), "Other": (200, 9)}, None),
    ],
)
def test_rooms_are_set_apart_by_the_pots_that_root_at_one_time(
    apart: PlanResult, rooms: dict[str, tuple[float, float | None]], warm: tuple[str, ...] | None
) -> None:
    # At one time 40 pots root and 120 are rooted and cold. What states its temperature is as warm as that.
    places = tuple(Place(name, "cooler", pots, day=at, night=at) for name, (pots, at) in rooms.items())
    stated = replace(successions(1, 1), places=(*places, Place("Bench", "bench", 500, day=16, night=16)))
    climate = build_climate(stated, programmes(stated, ()))
    found = rooms_apart(stated, climate, apart.plan.lots, NAMES)
    assert (found and found.warm) == warm


@pytest.mark.parametrize("rooms", [(200.0, 100.0), (160.0, 130.0)])
def test_no_way_of_either_kind_is_cheaper(rooms: tuple[float, float]) -> None:
    room = dict(zip(("One", "Other"), rooms, strict=True))
    made = worked(successions(*rooms), JULY).plan
    ways = {p.lot.name: stays_of(p) for p in made.lots}
    assert len(ways) == len(NAMES) and not audit.overfull(made.season, made.lots)
    steady = [name for name in room if len([r for r in made.rooms if r.place == name]) == 1]
    assert cost_of(ways, room, *steady) <= min(every_way(room)) + 1e-6


def test_what_was_agreed_and_what_is_logged_keep_the_rooms(apart: PlanResult) -> None:
    stated = successions(100, 200)
    agreement = agreement_of(apart.plan, apart.simulations)
    log = (LogEntry(days_of("A")[0], "A", "cooler in", "One"),)
    on = days_of("A")[0] + timedelta(days=5)
    for then in (replace(stated, agreed=(agreement,), log=log), replace(stated, log=log)):
        now = worked(then, on)
        assert [stays_of(p) for p in now.plan.lots] == [stays_of(p) for p in apart.plan.lots]
        assert now.plan.rooms == apart.plan.rooms and not now.changes


def test_where_one_step_down_suits_all_lots_nothing_more_is_searched() -> None:
    said: list[str] = []
    stated = successions(400, 400)
    close = tuple(replace(lot, target=FIRST + timedelta(weeks=at)) for at, lot in enumerate(stated.lots[:4]))
    made = work_out(
        replace(stated, lots=close), RecipeBook.from_overrides(stated.overrides),
        replace(seen_on(JULY), progress=said.append),
    )  # fmt: skip
    assert len(made.plan.lots) == 4 and not [text for text in said if "second cooler" in text]


# ---------------------------------------------------------------- ninety lots


def weekly(one: Place, other: Place) -> Season:
    """Six kinds of lots in each of fifteen weeks."""
    rng, opens, weeks = random.Random(1), date(2027, 1, 18), 15
    kinds = (
        ("tulip", "early"), ("tulip", "mid"), ("tulip", "late"), ("narcissus", "early"), ("narcissus", "mid"),
        ("hyacinth", None),
    )  # fmt: skip
    lots = tuple(
        Lot(
            f"{crop[:1]}{(kind or 'all')[:1]}{week:02d}",
            crop,
            rng.randint(20, 60),
            kind,
            target=opens + timedelta(days=7 * week + 4),
        )
        for week in range(weeks)
        for crop, kind in kinds
    )
    benches = (
        Place("A", "bench", 800, day=18, night=14), Place("B", "bench", 800, day=16, night=12),
        Place("C", "bench", 800, day=17, night=13),
    )  # fmt: skip
    return Season(
        "weekly", Span(opens, opens + timedelta(weeks=weeks + 1)), calendar=MON_FRI,
        places=(one, other, *benches), lots=lots, confidence=0.5,
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    ("one", "other", "most"),
    [
        (Place("One", "cooler", 1200), Place("Other", "cooler", 2400), 0),
        (Place("One", "cooler", 1800), Place("Other", "cooler", 1800), 15),
        (Place("One", "cooler", 2500, day=9, night=9), Place("Other", "cooler", 2500, day=3, night=3), 0),
    ],
)
def test_few_of_ninety_weekly_lots_stand_with_shoots_in_the_warm(one: Place, other: Place, most: int) -> None:
    made = worked(weekly(one, other), JULY).plan
    assert len(made.lots) == 90 and not audit.overfull(made.season, made.lots)
    warm = {
        lot for f in made.findings if f.code in ("room-too-warm", "shoots-before-step-down") for lot in f.lots
    }
    print(f"\n{one.pots:g} and {other.pots:g} pots: {len(warm)} of 90 lots with shoots in the warm")
    assert len(warm) <= most
