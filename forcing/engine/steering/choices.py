"""The steering problem as numbers: what may be set, carried and held, and what each choice is expected to cost.

Days are numbers from the first day to act on. Running sums of heat are kept for each place at each setting, so that
the bloom of a lot along any row of places and settings is a look-up. What a choice costs is counted in pot-days off
target, over the needs that a lot may have.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forcing.engine.simulate import SHORTEST_HOLD

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
What = Literal["as planned", "move", "bench", "hold", "leave out"]

# What a day off target and an action cost; all of it practice, no source.
LATE = 1.1  # a day late costs so many days early: visitors miss the bud, staff can hold what is early
BEND = 8.0  # days off from which each further day costs twice the first: one lot 8 days off is worse than 8 lots one
FUSS = 4.0  # pot-days that any action must earn: it is told, done, ticked off and may be forgotten
HOUR = 12.0  # pot-days that an hour of work must earn
DISTURBED = 0.05  # days off that a change of setting must earn for each pot of the zone
MOST_CHANGE = 3.0  # °C that a setting changes by at a time
MOST_A_WEEK = 8  # actions
REST = 14  # days in which no lot is carried a second time
STARTS = 4  # working days from colour on which a hold may begin
NODES = 7  # equally likely errors that stand for all there may be
SCALE = 1e5  # between the running sums of two series, more than any sum


@dataclass(frozen=True, slots=True)
class Zone:
    """Benches that are set together. `low`, `high`: steps, by block, by which they may be set cooler or warmer."""

    name: str
    benches: tuple[int, ...]  # numbers of places
    low: Ints
    high: Ints
    jump: (
        Floats  # °C by which it is to be set otherwise anyway at the start of each block, and after the last
    )
    fixed: NDArray[np.bool_]  # blocks at whose start it may not be set otherwise
    price: Floats  # pot-days that a change at the start of each block must earn


@dataclass(frozen=True, slots=True)
class Trip:
    """A lot carried from place to place on a day."""

    place: int
    to: int
    day: int


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Where a lot stands, one place a piece; pieces lie between `cuts`, each in one block (the last is the tail)."""

    what: What
    places: Ints
    cuts: Ints
    blocks: Ints
    trips: tuple[Trip, ...] = ()
    hours: float = 0.0

    @property
    def actions(self) -> int:
        return int(self.what != "as planned")

    @property
    def price(self) -> float:
        """Pot-days that it must earn."""
        return self.actions * (FUSS + HOUR * self.hours)


@dataclass(frozen=True, slots=True)
class Holding:
    """A cooler in which a lot in colour may wait: on which days it may be carried, and for how long at most."""

    cooler: int
    longest: int
    hours: tuple[float, float]  # of work: into it, and back


@dataclass(frozen=True, slots=True, eq=False)
class LiveLot:
    """A lot whose bloom can still be moved. Heat [°C·d] counts from `begin`."""

    name: str
    pots: int
    area: float
    kind: int  # which running sums: lots of one base and cap share them
    need: float  # heat still wanted, of the likely bloom
    colour: float  # heat still wanted to show colour
    target: int  # day number, negative where it has passed
    spare: int  # days before target that are as planned: what sureness costs in earliness
    costs: Floats  # expected cost [pot-days] of being likely to bloom on each day
    begin: int  # first day on a bench
    leave: int  # day it goes out to harden or to its display; the last day of all if it never does
    gone: int  # day it frees its bench
    bound: int  # day until which its limits bind the bench it stands on
    paths: tuple[Path, ...]  # as planned first; those of equal cuts as the first but for holds left out
    low: Mapping[int, Ints]  # of each bench that may do: steps, by block, that the lot stands there
    high: Mapping[int, Ints]
    holding: Holding | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SteeringProblem:
    """All places, zones and live lots. `starts`: first day of each block, then of the tail, then the day after all.

    Rows of settings are steps by zone and block; their last row is of places that have no dial, their last column
    of the tail, both 0.
    """

    days: int
    starts: Ints
    places: tuple[str, ...]
    first: Ints  # number of each place's series at step 0
    zone: Ints  # number of each place's zone; without a dial the number of zones
    zones: tuple[Zone, ...]
    lots: tuple[LiveLot, ...]
    sums: tuple[Floats, ...]  # of each kind: all series one after the other, each of days + 1, SCALE apart
    free: Mapping[
        int, Floats
    ]  # room in a place on each day, as planned; those of no stated capacity are not there
    working: NDArray[np.bool_]
    step: float  # °C
    most: int  # steps either way
    # What `bloom` has answered by the steps that a path passes through: most answers differ in those of a few lots.
    _blooms: dict[tuple[LiveLot, Path, float, bytes], int] = field(
        init=False, default_factory=dict, repr=False
    )

    @property
    def blocks(self) -> int:
        return self.starts.size - 2

    def unchanged(self) -> Ints:
        """The settings as they are."""
        return np.zeros((len(self.zones) + 1, self.blocks + 1), dtype=np.int64)

    # ------------------------------------------------------------ the forward sum

    def arrivals(self, lot: LiveLot, places: Ints, settings: Ints, path: Path, need: float) -> Ints:
        """First day by whose start the lot has `need` (shape: rows); at most the number of days.

        places: (rows or 1, pieces of `path`); settings: (rows or 1, zones + 1, blocks + 1).
        """
        chosen = (
            self.first[places] + settings[np.arange(len(settings))[:, None], self.zone[places], path.blocks]
        )
        sums, at = self.sums[lot.kind], chosen * (self.days + 1)
        begin = sums[at + path.cuts[:-1]]
        gain = sums[at + path.cuts[1:]] - begin
        total = np.cumsum(gain, axis=1)
        piece = (total < need).sum(axis=1)
        never, piece = piece == total.shape[1], np.minimum(piece, total.shape[1] - 1)
        row = np.arange(len(piece))
        wanted = begin[row, piece] + np.maximum(need - (total - gain)[row, piece], 0.0)
        day = np.searchsorted(sums, wanted) - at[row, piece]
        out: Ints = np.where(never, self.days, np.maximum(day, path.cuts[piece]))
        return out

    def losses(self, lot: LiveLot, places: Ints, settings: Ints, path: Path) -> Floats:
        """Expected cost [pot-days] of the lot by row of places or settings."""
        costs: Floats = lot.costs[self.arrivals(lot, places, settings, path, lot.need)]
        return costs

    def loss(self, lot: LiveLot, path: Path, settings: Ints) -> float:
        """Expected cost [pot-days] of the lot."""
        return float(lot.costs[self.bloom(lot, path, settings)])

    def bloom(self, lot: LiveLot, path: Path, settings: Ints, need: float | None = None) -> int:
        """Day number of the likely bloom, or of another need."""
        wanted = lot.need if need is None else need
        key = lot, path, wanted, settings[self.zone[path.places], path.blocks].tobytes()
        if key not in self._blooms:
            self._blooms[key] = int(self.arrivals(lot, path.places[None], settings[None], path, wanted)[0])
        return self._blooms[key]

    # ------------------------------------------------------------ rules

    def stands_it(self, lot: LiveLot, path: Path, settings: Ints) -> bool:
        """Whether every bench of a path keeps within the limits of the lot while it stands there."""
        for place, block, start in zip(
            path.places.tolist(), path.blocks.tolist(), path.cuts.tolist(), strict=False
        ):
            if (
                block < self.blocks
                and start < min(lot.bound, lot.leave)
                and self.zone[place] < len(self.zones)
            ):
                steps = settings[self.zone[place], block]
                if place not in lot.low or not lot.low[place][block] <= steps <= lot.high[place][block]:
                    return False
        return True

    def limits(self, zone: int, paths: Sequence[Path]) -> tuple[Ints, Ints]:
        """Steps, by block, between which a zone must be set for the lots that stand there then."""
        low, high = self.zones[zone].low.copy(), self.zones[zone].high.copy()
        for lot, path in zip(self.lots, paths, strict=True):
            bound = (path.blocks < self.blocks) & (path.cuts[:-1] < min(lot.bound, lot.leave))
            for piece in np.flatnonzero(bound & (self.zone[path.places] == zone)).tolist():
                place, block = int(path.places[piece]), int(path.blocks[piece])
                if place in lot.low:
                    low[block] = max(low[block], lot.low[place][block])
                    high[block] = min(high[block], lot.high[place][block])
        return low, high

    def rows(self, zone: int, now: Ints, low: Ints, high: Ints) -> Ints:
        """Every row of steps for a zone (by block and tail) that sets one stretch of blocks otherwise, `now` first."""
        found = [now[:-1]]
        for first, end in itertools.combinations(range(self.blocks + 1), 2):
            for steps in range(
                max(-self.most, low[first:end].max()), min(self.most, high[first:end].min()) + 1
            ):
                row = now[:-1].copy()
                row[first:end] = steps
                found.append(row)
        rows = np.array(list(dict.fromkeys(map(tuple, found))), dtype=np.int64)
        good = self.turned(zone, rows)
        good[0] = True
        return np.pad(rows[good], ((0, 0), (0, 1)))

    def turned(self, zone: int, rows: Ints) -> NDArray[np.bool_]:
        """Which rows of steps (by block) set a zone otherwise only when that may be, and by no more than may be."""
        mine, by = self.zones[zone], np.diff(rows, axis=1, prepend=0)
        wrong = (by != 0) & (mine.fixed | (abs(mine.jump[:-1] + by * self.step) > MOST_CHANGE + 1e-6))
        back = (rows[:, -1] == 0) | (abs(mine.jump[-1] - rows[:, -1] * self.step) <= MOST_CHANGE + 1e-6)
        good: NDArray[np.bool_] = ~wrong.any(axis=1) & back
        return good

    def stands(self, lot: LiveLot, path: Path) -> Iterator[tuple[int, int, int]]:
        """(place, from, to) of the room that a lot takes; a lot that is held keeps its room on the bench."""
        bench = int(path.places[0])
        for place, a, b in zip(
            path.places.tolist(), path.cuts.tolist(), path.cuts[1:].tolist(), strict=False
        ):
            b = min(b, lot.gone)
            if a < b:
                yield place, a, b
                if path.what == "hold" and lot.holding is not None and place == lot.holding.cooler:
                    yield bench, a, b
            bench = place

    def holds(self, lot: LiveLot, settings: Ints) -> Iterator[Path]:
        """Cold holds that may begin once the lot shows colour, on the path that is planned for it."""
        holding, planned = lot.holding, lot.paths[0]
        if holding is None:
            return
        shown = self.bloom(lot, planned, settings, lot.colour)
        bloom, last = self.bloom(lot, planned, settings), min(lot.leave, int(self.starts[-2]))
        begins = [d for d in range(max(shown, lot.begin), min(bloom, last)) if self.working[d]][:STARTS]
        for start in begins:
            for end in range(start + SHORTEST_HOLD, min(start + holding.longest, lot.leave) + 1):
                if end == lot.leave or (end < self.days and self.working[end]):
                    yield self._held(lot, start, end)

    def _held(self, lot: LiveLot, start: int, end: int) -> Path:
        planned, holding = lot.paths[0], lot.holding
        assert holding is not None
        cuts = np.union1d(planned.cuts, (start, end))
        piece = np.searchsorted(planned.cuts, cuts[:-1], side="right") - 1
        places, blocks = planned.places[piece], planned.blocks[piece]
        bench, into = int(places[cuts[:-1] <= start][-1]), (cuts[:-1] >= start) & (cuts[:-1] < end)
        places = np.where(into, holding.cooler, places)
        trips = [Trip(bench, holding.cooler, start)]
        hours = holding.hours[0]
        if end < lot.leave:
            trips.append(Trip(holding.cooler, bench, end))
            hours += holding.hours[1]
        return Path("hold", places, cuts, blocks, tuple(trips), hours)

    # ------------------------------------------------------------ what is possible at all

    def earliest(self, lot: LiveLot) -> int:
        """Day number of the soonest likely bloom there is for the lot: the warmest it may have, from now."""
        return min(self._extremes(lot, 1))

    def latest(self, lot: LiveLot) -> int:
        """Day number of the latest likely bloom there is for the lot: the coolest it may have, or held."""
        settings = self.unchanged()
        held = (self.bloom(lot, path, settings) for path in self.holds(lot, settings))
        return max((*self._extremes(lot, -1), *held))

    def _extremes(self, lot: LiveLot, way: int) -> Iterator[int]:
        settings, ramp = self.unchanged(), int(MOST_CHANGE / self.step + 1e-6)
        for place in lot.low:
            mine = self.zones[self.zone[place]] if self.zone[place] < len(self.zones) else None
            if mine is not None:
                edge = (
                    np.minimum(lot.high[place], mine.high)
                    if way > 0
                    else -np.maximum(lot.low[place], mine.low)
                )
                reach = 0
                for block in range(self.blocks):
                    reach = min(int(edge[block]), reach + ramp, self.most)
                    settings[self.zone[place], block] = way * max(reach, 0)
        yield from (self.bloom(lot, path, settings) for path in lot.paths)


def expected_costs(off: Ints, pots: float, spare: int, sd: float) -> Floats:
    """Expected cost [pot-days] of likely blooming so many days off target, when the bloom is uncertain by `sd` [days].

    Convex, and late worse than early; the first day costs half a day. The uncertainty is taken as even on both sides,
    so that it blunts what there is to gain but never makes a lot that is likely to be on target seem off it.
    """
    errors = sd * np.array([NormalDist().inv_cdf((i + 0.5) / NODES) for i in range(NODES)])
    days = off[:, None] + errors

    def bent(days: Floats) -> Floats:
        first, near = np.clip(days, 0.0, 1.0), np.clip(days, 1.0, BEND)
        cost: Floats = (
            first**2 / 2 + (near - 1) + (near**2 - 1) / (2 * BEND) + 2 * np.maximum(days - BEND, 0.0)
        )
        return cost

    cost: Floats = pots * np.mean(LATE * bent(days) + bent(-days - spare), axis=1)
    return cost


def changed(rows: Ints) -> NDArray[np.bool_]:
    """At the start of which blocks rows of steps (last axis: blocks and tail) set a zone otherwise."""
    turns: NDArray[np.bool_] = np.diff(rows[..., :-1], axis=-1, prepend=0) != 0
    return turns


# ---------------------------------------------------------------- an answer


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """Steps for each zone, a path for each lot; what it is expected to cost, and what its actions must earn."""

    problem: SteeringProblem
    settings: Ints
    paths: tuple[Path, ...]
    losses: tuple[float, ...]
    price: float
    actions: int
    weekly: Ints = field(repr=False)  # actions by block, the tail last

    @classmethod
    def of(cls, problem: SteeringProblem, settings: Ints, paths: Sequence[Path]) -> Answer:
        losses = tuple(problem.loss(t, p, settings) for t, p in zip(problem.lots, paths, strict=True))
        turns = changed(settings[:-1])
        price = sum(float(z.price[t].sum()) for z, t in zip(problem.zones, turns, strict=True))
        weekly = np.append(turns.sum(axis=0), 0) + sum(
            (week_of(problem, p) for p in paths), np.zeros(problem.blocks + 1)
        )
        return cls(
            problem, settings, tuple(paths), losses, price + sum(p.price for p in paths),
            int(turns.sum()) + sum(p.actions for p in paths), weekly.astype(np.int64),
        )  # fmt: skip

    @property
    def loss(self) -> float:
        """Expected cost of all lots, in pot-days."""
        return sum(self.losses)

    def value(self) -> float:
        """What is to be least: what is lost, and what the actions must earn."""
        return self.loss + self.price

    def room(self) -> Mapping[int, Floats]:
        """What is free in each place on each day in this answer."""
        free = {place: room.copy() for place, room in self.problem.free.items()}
        for lot, path in zip(self.problem.lots, self.paths, strict=True):
            if path is not lot.paths[0]:
                take(self.problem, free, lot, lot.paths[0], -1.0)
                take(self.problem, free, lot, path, 1.0)
        return free


def take(problem: SteeringProblem, free: Mapping[int, Floats], lot: LiveLot, path: Path, sign: float) -> None:
    """Take the room of a lot on a path out of `free`; with sign -1 give it back."""
    for place, a, b in problem.stands(lot, path):
        if place in free:
            free[place][a:b] -= sign * lot.area


def has_room(
    problem: SteeringProblem, free: Mapping[int, Floats], lot: LiveLot, old: Path, new: Path
) -> bool:
    """Whether a lot can take another path; where a place is overfull already it may not become more so."""
    change = {
        place: np.zeros(problem.days) for place in {*old.places.tolist(), *new.places.tolist()} & free.keys()
    }
    take(problem, change, lot, old, -1.0)
    take(problem, change, lot, new, 1.0)
    return not any(((by < 0) & (free[place] + by < -1e-6)).any() for place, by in change.items())


def week_of(problem: SteeringProblem, path: Path) -> Ints:
    """Actions of a path by block, the tail last: each time it is carried."""
    out = np.zeros(problem.blocks + 1, dtype=np.int64)
    for trip in path.trips:
        out[min(int(np.searchsorted(problem.starts, trip.day, side="right")) - 1, problem.blocks)] += 1
    return out


def steps_between(low: float, high: float, day: Floats, night: Floats, step: float) -> tuple[Ints, Ints]:
    """Steps by which a bench may be set cooler and warmer so that night is not below low, nor day above high."""
    warmer = np.floor(np.clip((high - day) / step, -99, 99) + 1e-6)
    cooler = np.ceil(np.clip((low - night) / step, -99, 99) - 1e-6)
    return cooler.astype(np.int64), warmer.astype(np.int64)


def whole(value: float) -> int:
    """Days that a recipe's figure allows."""
    return math.floor(value + 1e-9)
