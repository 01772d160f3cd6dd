"""The steering problem as plain numbers, and the forward sum that every answer is scored by.

Day 0 is the first day on which anything can be changed. A choice is the number of a mean temperature of a
bench: 0 keeps what the bench is set to, the others are its grid. Heat in °C·d; areas in 15 cm-pot equivalents.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forcing.engine.climate import TOLERANCE

Floats = NDArray[np.float64]
KEEP = 0  # the choice that leaves a bench as it is set


@dataclass(frozen=True, slots=True)
class Stand:
    """A bench (or a cooler in which a lot is held now): its means [°C] by choice, and what it may hold."""

    name: str
    means: tuple[float, ...]  # by choice; the first is the mean it is set to on day 0
    room: Floats | None  # free for live lots on each day; None: no capacity stated
    free: NDArray[np.bool_]  # days whose temperature a choice decides: no reading is given for them
    choices: tuple[tuple[int, ...], ...]  # those open in each block
    bound: frozenset[int] = frozenset()  # blocks that must go on as the block before: nobody works then


@dataclass(frozen=True, slots=True)
class Option:
    """Where a lot stands in each block, the time after the last block included; the block of its one move."""

    path: tuple[int, ...]
    moved: int | None = None  # None: it stays


@dataclass(frozen=True, slots=True)
class Holding:
    """A cooler that a lot in colour may wait in."""

    cooler: str
    heat: Floats  # of the lot there, by day
    room: Floats | None  # free on each day; None: no capacity stated
    colour: float  # heat at which it may go in
    longest: int  # days
    working: NDArray[np.bool_]  # days on which pots are moved


@dataclass(frozen=True, slots=True)
class Hold:
    """Days `start` ... `end`-1 in the cooler."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class LiveLot:
    """A lot whose bloom can still be moved: what it has, what it needs and where it may stand."""

    name: str
    pots: int
    area: float
    kind: int  # which heat table: lots of one base and cap share it
    need: float
    heat: float  # gathered before day 0
    target: int  # day number, negative where it has passed
    begin: int  # first day on a bench
    leave: int  # day it goes out to harden or to its display; the last day of all if it never does
    gone: int  # day it frees its bench
    outside: Floats  # heat of each day from `leave` on, 0 before
    options: tuple[Option, ...]  # the first one is where it is to stand as planned
    fits: Mapping[int, frozenset[int]]  # choices of each bench that the lot stands
    holding: Holding | None = None
    bloomed: int = (
        10**9
    )  # day by which it is in bloom whatever is done; limits of forcing no longer bind it then

    def minds(self, first: int, end: int) -> bool:
        """Whether the limits of the lot bind the bench it stands on between these days."""
        return max(first, self.begin) < min(end, self.leave, self.bloomed)


@dataclass(frozen=True, slots=True)
class Answer:
    """A choice for each bench and block, an option and perhaps a hold for each lot."""

    choices: tuple[tuple[int, ...], ...]
    options: tuple[int, ...]
    holds: tuple[Hold | None, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """All benches, blocks and live lots. `blocks` are (first day, day after the last); the last is the tail."""

    days: int
    blocks: tuple[tuple[int, int], ...]  # without the tail
    stands: tuple[Stand, ...]
    lots: tuple[LiveLot, ...]
    daily: Mapping[tuple[int, int], Floats]  # (kind, stand) -> heat by choice and day

    @property
    def tail(self) -> int:
        """First day after the last block."""
        return self.blocks[-1][1] if self.blocks else 0

    def spans(self) -> tuple[tuple[int, int], ...]:
        """The blocks, and after them the days on which benches are as the season states."""
        return (*self.blocks, (self.tail, self.days))

    def unchanged(self) -> Answer:
        """Nothing changed, nothing moved."""
        return Answer(
            tuple((KEEP,) * len(self.blocks) for _ in self.stands), (0,) * len(self.lots), (None,) * len(self.lots)
        )  # fmt: skip

    def heats(self, lot: LiveLot, option: Option, hold: Hold | None, answer: Answer) -> Floats:
        """Heat of the lot on each day of that answer."""
        out = lot.outside.copy()
        for k, (first, end) in enumerate(self.spans()):
            a, b = max(first, lot.begin), min(end, lot.leave)
            if a < b:
                stand = option.path[k]
                choice = answer.choices[stand][k] if k < len(self.blocks) else KEEP
                out[a:b] = self.daily[lot.kind, stand][choice, a:b]
        if hold is not None and lot.holding is not None:
            out[hold.start : hold.end] = lot.holding.heat[hold.start : hold.end]
        return out

    def bloom(self, lot: LiveLot, option: Option, hold: Hold | None, answer: Answer) -> int:
        """Day number of its bloom; the number of days where it does not bloom in them."""
        return bloom_day(self.heats(lot, option, hold, answer), lot)

    def days_off(self, answer: Answer) -> tuple[int, ...]:
        """Days from target to bloom of each lot, negative when early."""
        return tuple(
            self.bloom(lot, lot.options[answer.options[i]], answer.holds[i], answer) - lot.target
            for i, lot in enumerate(self.lots)
        )

    def score(self, answer: Answer) -> tuple[int, int, int]:
        """Pots × days off target, changes of setting, moves: what is minimised, in that order."""
        off = sum(lot.pots * abs(days) for lot, days in zip(self.lots, self.days_off(answer), strict=True))
        return off, changes(answer), moves(answer)

    def faults(self, answer: Answer) -> Iterator[str]:
        """What the answer breaks: limits of lots and benches, room, rules of holds. None: it can be done."""
        for i, lot in enumerate(self.lots):
            option = lot.options[answer.options[i]]
            for k, (first, end) in enumerate(self.blocks):
                if lot.minds(first, end):
                    stand = option.path[k]
                    if answer.choices[stand][k] not in lot.fits[stand]:
                        yield f"{lot.name} does not stand {self.stands[stand].name} in block {k}"
            hold = answer.holds[i]
            if hold is not None:
                yield from self.hold_faults(lot, option, hold, answer)
        for s, stand_ in enumerate(self.stands):
            for k, choice in enumerate(answer.choices[s]):
                if choice not in stand_.choices[k]:
                    yield f"{stand_.name} cannot be set to choice {choice} in block {k}"
                if k in stand_.bound and choice != answer.choices[s][k - 1]:
                    yield f"{stand_.name} is changed on a day off"
            if stand_.room is not None and (self.standing(answer, s) > stand_.room + 1e-6).any():
                yield f"{stand_.name} is overfull"
        yield from self._overfull_coolers(answer)

    def standing(self, answer: Answer, stand: int) -> Floats:
        """Area of live lots on a bench on each day; a held lot keeps its room there."""
        out = np.zeros(self.days)
        for i, lot in enumerate(self.lots):
            path = lot.options[answer.options[i]].path
            for k, (first, end) in enumerate(self.spans()):
                if path[k] == stand:
                    out[max(first, lot.begin) : max(0, min(end, lot.gone))] += lot.area
        return out

    def hold_faults(self, lot: LiveLot, option: Option, hold: Hold, answer: Answer) -> Iterator[str]:
        """What a hold breaks of its rules."""
        holding = lot.holding
        if holding is None or not lot.begin <= hold.start < hold.end <= lot.leave:
            yield f"{lot.name} cannot be held then"
            return
        heat = lot.heat + float(self.heats(lot, option, None, answer)[: hold.start].sum())
        if heat < holding.colour - TOLERANCE:
            yield f"{lot.name} is held before it is in colour"
        back = hold.end == lot.leave or holding.working[hold.end]
        if hold.end - hold.start > holding.longest or not holding.working[hold.start] or not back:
            yield f"{lot.name} is held too long or moved on a day off"

    def _overfull_coolers(self, answer: Answer) -> Iterator[str]:
        used: dict[str, Floats] = {}
        for lot, hold in zip(self.lots, answer.holds, strict=True):
            if hold is not None and lot.holding is not None:
                load = used.setdefault(lot.holding.cooler, np.zeros(self.days))
                load[hold.start : hold.end] += lot.area
        for lot in self.lots:
            load_ = used.get(lot.holding.cooler) if lot.holding is not None else None
            if load_ is not None and lot.holding is not None and lot.holding.room is not None:
                over = load_ > lot.holding.room + 1e-6
                if (over & (load_ > 0)).any():
                    yield f"{lot.holding.cooler} is overfull"

    def extremes(self, lot: LiveLot, *, held: bool = True) -> tuple[Floats, Floats]:
        """Least and greatest heat of the lot on each day, wherever it may stand; held as long as you like, or not."""
        low, high = lot.outside.copy(), lot.outside.copy()
        for k, (first, end) in enumerate(self.spans()):
            a, b = max(first, lot.begin), min(end, lot.leave)
            if a >= b:
                continue
            rows = []
            for stand in sorted({option.path[k] for option in lot.options}):
                open_ = self.stands[stand].choices[k] if k < len(self.blocks) else (KEEP,)
                rows += [
                    self.daily[lot.kind, stand][choice, a:b]
                    for choice in open_
                    if choice in lot.fits[stand] or k == len(self.blocks)
                ]
            stack = np.array(rows)
            low[a:b], high[a:b] = stack.min(axis=0), stack.max(axis=0)
            if held and lot.holding is not None:
                low[a:b] = np.minimum(low[a:b], lot.holding.heat[a:b])
        return low, high

    def earliest(self, lot: LiveLot) -> int:
        """Day number of the soonest bloom there is for the lot: the hottest that it may have, from now."""
        return bloom_day(self.extremes(lot)[1], lot)

    def latest(self, lot: LiveLot) -> int:
        """Day number of the latest bloom there is for the lot: the coolest it may have, and a hold by its rules."""
        low, _ = self.extremes(lot, held=False)
        best, holding = bloom_day(low, lot), lot.holding
        if holding is None:
            return best
        heat = lot.heat + np.concatenate(([0.0], np.cumsum(low)))
        for start in range(lot.begin, min(best, lot.leave, self.tail)):
            if heat[start] < holding.colour - TOLERANCE or not holding.working[start]:
                continue
            for end in range(start + 1, min(start + holding.longest, lot.leave, self.tail) + 1):
                if holding.working[end] or end == lot.leave:
                    waiting = low.copy()
                    waiting[start:end] = holding.heat[start:end]
                    best = max(best, bloom_day(waiting, lot))
        return best


def bloom_day(heats: Floats, lot: LiveLot) -> int:
    """First day by whose start the lot has what it needs; the number of days where none is."""
    wanted = lot.need - lot.heat - TOLERANCE
    if wanted <= 0:
        return 0
    return min(int(np.searchsorted(np.cumsum(heats), wanted)) + 1, heats.size)


def changes(answer: Answer) -> int:
    """How often a bench is set to something else than the block before."""
    return sum(
        now != before
        for row in answer.choices
        for before, now in zip((KEEP, *row), row, strict=False)
    )  # fmt: skip


def moves(answer: Answer) -> int:
    """Lots moved, brought to another bench than planned, or held."""
    return sum(
        (option != 0) + (hold is not None) for option, hold in zip(answer.options, answer.holds, strict=True)
    )
