"""Planting day: what goes where in each container of a display, what is picked for it, and how long it takes.

The rule of a container. Its pots stand in rows from back to front: those for the back first, those for the front or
the edge, and trailing ones, last; between them the taller stand behind the shorter. Where that leaves a choice it is
drawn by lot, from a seed of the display and the container, so that the same plan gives the same pages: of TRIES draws
the one is taken in which fewest pots have only neighbours of their own colour, then fewest neighbours are alike. No
two containers of a display are alike while there is an arrangement left that none has, up to DIFFERENT of them.
"""

from __future__ import annotations

import math
import random
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from itertools import pairwise
from types import MappingProxyType

from forcing.dates import DAY
from forcing.engine.companions import CompanionPlan
from forcing.engine.context import Context
from forcing.engine.show.pots import HEIGHTS, planted_pots
from forcing.engine.show.standing import Standing, Swap
from forcing.engine.work.hours import day_limit
from forcing.model import Display, Habit, LotPlan, Plan, Planting, Position

TRIES, MORE_TRIES = 40, 400  # draws for one container, and where all of those stand in others already
DIFFERENT = (
    200  # containers that hold the same, after which nobody sees that they repeat; practice, no source
)
TROLLEY = 40.0  # 15 cm pots on one trolley; common practice, no source; from memory
CREW_HOURS = 12.0  # staff hours of a day where none are stated: two people for six; practice, no source
FILLING = (
    6.0,
    0.1,
)  # minutes for a container's drainage and levelling, and for each litre of mix; practice, no source
_RANKS: Mapping[Position, int] = MappingProxyType(
    {"back": 0, "middle": 1, "anywhere": 1, "front": 2, "edge": 2}
)


@dataclass(frozen=True, slots=True)
class PlantingItem:
    """A lot or companion that is planted in a display on its first day."""

    name: str
    crop: str
    cultivar: str | None
    pots: int  # planted there in all
    spares: int  # of the lot, beyond all that is planted anywhere
    width: float  # of a pot [cm]
    day: date  # set out
    source: str | None  # where it stands on the eve; None: not known
    position: Position
    height: float | None  # cm; None: not known
    habit: Habit | None
    colour: str | None
    in_pot: bool

    @property
    def room(self) -> float:
        """15 cm-pot equivalents of its pots and spares on a trolley."""
        return (self.pots + self.spares) * (self.width / 15.0) ** 2

    @property
    def rank(self) -> int:
        """0 at the back, 2 at the front."""
        if self.position == "anywhere" and self.habit == "trailing":
            return 2
        return _RANKS[self.position]


Rows = tuple[tuple[str, ...], ...]  # names of items from back to front, each from left to right


@dataclass(frozen=True, slots=True)
class PlantingDay:
    """How a display is planted."""

    display: Display
    items: tuple[PlantingItem, ...]
    containers: tuple[Rows, ...]  # of each container
    later: tuple[Swap, ...]
    trolleys: Mapping[str, int]  # loads by item; those of one item share no trolley with another's
    hours: float  # of one container
    a_day: int  # containers that the staff of a day fill; 0: one takes longer than a day


def planting_days(
    plan: Plan, standings: Sequence[Standing], companions: Sequence[CompanionPlan], context: Context
) -> Iterator[PlantingDay]:
    """The planting of each display that has something on its first day. KeyError without minutes of `set out`."""
    for stand in standings:
        items = tuple(_items(plan, stand, companions))
        if not items:
            continue
        display = stand.display
        load = plan.season.trolley_pots or TROLLEY
        pots = sum(item.pots for item in items) / display.containers
        minutes = (
            FILLING[0] + FILLING[1] * (display.litres or 0.0) + context.minutes["set out"].per_pot * pots
        )
        limit = day_limit(plan.season) or CREW_HOURS
        yield PlantingDay(
            display, items, tuple(arranged(display, items)), stand.swaps,
            {item.name: math.ceil(item.room / load - 1e-9) for item in items}, minutes / 60,
            int(limit / (minutes / 60) + 1e-9),
        )  # fmt: skip


# ---------------------------------------------------------------- what is planted


def _items(plan: Plan, stand: Standing, companions: Sequence[CompanionPlan]) -> Iterator[PlantingItem]:
    lots = {planned.lot.name: planned for planned in plan.lots}
    stated = {p.item: p for p in plan.season.plantings if p.display == stand.display.name}
    first = max(stand.display.span.start, min((piece.start for piece in stand.pieces), default=date.max))
    pots: dict[str, int] = {}
    for piece in stand.pieces:
        if piece.start <= first:
            pots[piece.lot] = pots.get(piece.lot, 0) + piece.pots
    spread = _spares(plan, lots)
    for name, number in pots.items():
        planned = lots[name]
        day = planned.install or planned.bloom
        source = planned.place_on(day - DAY)
        lot = planned.lot
        yield _item(
            name, lot.crop, lot.cultivar, number, spread.get(name, 0), planned.pot_cm, day, source,
            stated.get(lot.stated_name),
        )  # fmt: skip
    for grown in companions:
        planting = stated.get(grown.companion.name)
        if planting is not None and grown.set_out < stand.display.span.end:
            number = planting.per_container * stand.display.containers
            yield _item(
                grown.companion.name, grown.companion.crop, None, number, 0, grown.recipe.pot, grown.set_out,
                grown.harden_at, planting,
            )  # fmt: skip


def _item(
    name: str, crop: str, cultivar: str | None, pots: int, spares: int, width: float, day: date, source: str | None,
    planting: Planting | None,
) -> PlantingItem:  # fmt: skip
    stated = Planting("", name, 0) if planting is None else planting
    height = HEIGHTS.get(crop) if stated.height_cm is None else stated.height_cm
    return PlantingItem(
        name, crop, cultivar, pots, spares, width, day, source, stated.position, height, stated.habit, stated.colour,
        stated.in_pot,
    )  # fmt: skip


def _spares(plan: Plan, lots: Mapping[str, LotPlan]) -> dict[str, int]:
    """Pots of each lot beyond what all displays plant of it."""
    planted = planted_pots(plan.season)
    return {
        name: max(0, planned.lot.pots - planted[name]) for name, planned in lots.items() if name in planted
    }


# ---------------------------------------------------------------- what goes where


def arranged(display: Display, items: Sequence[PlantingItem]) -> Iterator[Rows]:
    """The rows of each container. Of an item that has not enough pots for all, they are spread evenly over them.

    DIFFERENT are drawn of containers that hold the same; the others have those again, in turn.
    """
    of, used = {item.name: item for item in items}, dict[Rows, int]()
    drawn: dict[tuple[str, ...], list[Rows]] = defaultdict(list)
    number = display.containers
    for i in range(number):
        names = tuple(
            item.name
            for item in items
            for _ in range((i + 1) * item.pots // number - i * item.pots // number)
        )
        if len(drawn[names]) < DIFFERENT:
            rng = random.Random(f"{display.name}/{i}")
            rows = _best(rng, [of[name] for name in names], used)
            used[rows] = used.get(rows, 0) + 1
            drawn[names].append(rows)
        else:
            drawn[names].append(rows := drawn[names].pop(0))
        yield rows


def _best(rng: random.Random, pots: Sequence[PlantingItem], used: Mapping[Rows, int]) -> Rows:
    """Of many draws the least used, then the one whose neighbours differ most."""
    colours = {pot.name: pot.colour or pot.name for pot in pots}
    known = sorted(pot.height for pot in pots if pot.height is not None)
    usual = known[len(known) // 2] if known else 0.0
    ranks = [((pot.rank, -(usual if pot.height is None else pot.height)), pot.name) for pot in pots]
    draws = [_drawn(rng, ranks) for _ in range(TRIES)]
    if all(rows in used for rows in draws):
        draws += [_drawn(rng, ranks) for _ in range(MORE_TRIES)]
    return min(draws, key=lambda rows: (used.get(rows, 0), *_sameness(rows, colours)))


def _drawn(rng: random.Random, pots: Sequence[tuple[tuple[int, float], str]]) -> Rows:
    """One arrangement by lot of pots, each with what position and height ask before its name."""
    order = sorted(pots, key=lambda pot: (pot[0], rng.random()))
    rows: list[tuple[str, ...]] = []
    start = 0
    for size in row_sizes(len(pots)):
        row = [name for _, name in order[start : start + size]]
        rng.shuffle(row)
        rows.append(tuple(row))
        start += size
    return tuple(rows)


def row_sizes(pots: int) -> tuple[int, ...]:
    """Pots in each row from back to front: one row up to three, two up to eight, three above; the front longest."""
    rows = 1 if pots <= 3 else 2 if pots <= 8 else 3
    least, more = divmod(pots, rows)
    return tuple(least + (i >= rows - more) for i in range(rows))


def row_words(rows: int) -> tuple[str, ...]:
    """What so many rows are called, from back to front."""
    return {1: ("across",), 2: ("back", "front")}.get(rows, ("back", "middle", "front"))


Spot = tuple[int, int]  # row, and number in it


def neighbours(rows: Rows) -> tuple[tuple[Spot, Spot], ...]:
    """Pairs of places that touch: side by side, and one behind the other."""
    return _touching(tuple(map(len, rows)))


@lru_cache(maxsize=256)
def _touching(sizes: tuple[int, ...]) -> tuple[tuple[Spot, Spot], ...]:
    """Those of rows of so many pots; kept, since every draw for a container has the same."""
    found = [((r, i), (r, i + 1)) for r, size in enumerate(sizes) for i in range(size - 1)]
    for r, (behind, front) in enumerate(pairwise(sizes)):
        for i in range(behind):
            for j in range(front):
                # The rows are as wide as each other: two places touch where their parts of the width overlap.
                if i * front < (j + 1) * behind and j * behind < (i + 1) * front:
                    found.append(((r, i), (r + 1, j)))
    return tuple(found)


def _sameness(rows: Rows, colours: Mapping[str, str]) -> tuple[int, int]:
    """Pots all of whose neighbours are of their own colour, and pairs of neighbours of one colour."""
    alone: dict[tuple[int, int], list[bool]] = {}
    same = 0
    for one, other in neighbours(rows):
        alike = colours[rows[one[0]][one[1]]] == colours[rows[other[0]][other[1]]]
        same += alike
        alone.setdefault(one, []).append(alike)
        alone.setdefault(other, []).append(alike)
    return sum(all(alike) for alike in alone.values()), same
