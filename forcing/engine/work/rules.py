"""What work there is: every kind of task once, and the days on which a lot asks for each, by day numbers.

The same rules make the tasks of a finished plan and the hours of every way to grow a lot that is looked at. Days are
numbers counted from any one day; the caller gives the working days about them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import NamedTuple

from forcing.model import Event, StepName


@dataclass(frozen=True, slots=True)
class TaskRule:
    """What holds for every task of a kind."""

    look_for: str = ""
    cautions: tuple[str, ...] = ()  # keys of forcing.engine.work.tasks.CAUTIONS
    proof: Event | None = None  # the event of the log that shows it done; None: no event does
    expected: bool = False  # whether it is overdue where the log does not show it done


RULES: Mapping[str, TaskRule] = MappingProxyType({
    # of lots
    "order": TaskRule("cultivar, bulb size, count with spares, delivery date", proof="potted"),
    "unpack": TaskRule(cautions=("bulbs", "lifting")),
    "pot": TaskRule(
        "firm clean bulbs; discard soft or mouldy ones; noses level with the mix; label; water in",
        ("bulbs", "mould", "lifting"), "potted", True,
    ),
    "into cooler": TaskRule(
        "labels readable; pots moist; room dark and vented; note the thermometer",
        ("lifting", "cold room", "ethylene"), "cooler in", True,
    ),
    "root check": TaskRule(
        "white roots at the drain holes in several pots of the lot; pots moist",
        ("cold room", "ethylene", "mould"), "rooted", True,
    ),
    "step down": TaskRule(cautions=("cold room",)),
    "bring in": TaskRule(
        "shoots standing; roots at the holes; first days dim and on the cool side",
        ("lifting", "cold room", "wet floor"), "brought in", True,
    ),
    "check shoots": TaskRule(
        "leaves well up and green on the typical pot: log the stage", proof="shoots", expected=True
    ),
    "check bud": TaskRule(
        "flower bud clear of the leaves on the typical pot: log the stage", proof="bud", expected=True
    ),
    "check colour": TaskRule(
        "first colour on the buds of the typical pot: log the stage", proof="colour", expected=True
    ),
    "turn and space": TaskRule(
        "turn the pots; leaves not touching the next pot; check water", ("wet floor",)
    ),
    "hold": TaskRule(
        "move at colour, not by the date: whole bud coloured, still closed; dry leaves before the cold",
        ("lifting", "cold room"), "held", True,
    ),
    "move": TaskRule("labels with the pots; nothing crushed on the way", ("lifting", "wet floor"), "moved"),
    "harden off": TaskRule("shelter from wind and sun at first; less water", ("lifting",)),
    "set out": TaskRule(
        "stems firm; spread the bloom evenly over the containers",
        ("lifting", "wet floor"), "set out", True,
    ),
    "dispatch": TaskRule(
        "count; sound, even, at the stage asked for; labelled, sleeved or boxed against cold and wind",
        ("lifting", "wet floor"), "sold", True,
    ),
    # The log has no word for a swap: it is done once the lot that comes in is set out.
    "swap": TaskRule(cautions=("bulbs", "lifting", "wet floor"), proof="set out"),
    # of companions, beside those they share with lots
    "sow": TaskRule("fresh seed, clean trays, label", proof="sown"),
    "germination check": TaskRule(
        "seedlings up evenly and nearly everywhere: log germinated; gaps sown again at once; cover off, light",
        proof="germinated",
    ),
    "prick out": TaskRule("by a leaf, never the stem; as deep as the seed leaves; water in; shade for a few days"),
    "transplant": TaskRule(
        "roots hold the plug together; water in; label; shade for the first days",
        ("lifting", "wet floor"), "transplanted",
    ),
    "feed": TaskRule(
        "by the label, on moist mix; none where it freezes or nothing grows; rinse wet leaves", ("wet floor",)
    ),
    "pinch": TaskRule("tips out above a pair of leaves; clean hands", proof="pinched"),
    "deadhead": TaskRule("faded flowers off before they set seed; what is mouldy goes into a bag", ("wet floor",)),
    # after the show
    "clear": TaskRule(cautions=("bulbs", "mould", "lifting", "wet floor")),
    "clean": TaskRule(cautions=("chemicals", "wet floor", "ladder")),
    "look back": TaskRule(),
    # of frost nights
    "cover": TaskRule(cautions=("lifting", "wet floor")),
    "uncover": TaskRule(cautions=("wet floor",)),
})  # fmt: skip
BACK_FROM_HOLD = "back from the cold hold: buds still closed, leaves dry"
NO_COLD = "full light, warmth as the crop asks; check water"  # a lot without cold that is brought in
TURN_EVERY = 7  # days between two turns of the pots on a bench


class Stand(NamedTuple):
    """Days of a lot in a place, half-open, and what it does there. `place` is None only while it is being potted."""

    step: StepName
    place: str | None
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class LotDays:
    """The days of a lot's life that make work."""

    potting: int
    cooler_in: int | None  # None: a crop without cold
    rooted: int | None  # None: not before it is brought in
    bring_in: int
    stages: Sequence[int]  # shoots, bud, colour
    bloom: int
    install: int | None  # the day it is set out; None: it stays where it blooms
    site: str | None  # where it is on show once it is set out
    stands: Sequence[Stand]
    leaves: int | None = None  # the day it leaves the house; None: it stays until it fades


class Moment(NamedTuple):
    """A task on a day; `turn` counts those of one kind. `place`: where it is done or the pots come from."""

    task: str
    turn: int
    day: int
    place: str | None
    to: str | None = None


Rolled = Callable[[int], int]  # the working day by a day number


def moments(lot: LotDays, before: Rolled, after: Rolled) -> Iterator[Moment]:
    """All the work on a lot from potting to setting out, kind by kind.

    `before` and `after` give the latest working day on or before a day, the earliest on or after.
    """
    cooler = next((stand.place for stand in lot.stands if stand.step in ("root", "cool")), None)
    yield Moment("pot", 1, lot.potting, None)
    if lot.cooler_in is not None:
        yield Moment("into cooler", 1, lot.cooler_in, None, cooler)
        if lot.rooted is not None and lot.cooler_in < lot.rooted < lot.bring_in:
            yield Moment("root check", 1, min(after(lot.rooted), lot.bring_in), cooler)
    if lot.install is None or lot.install > lot.bring_in:
        # A lot that had faded by then was never on a bench.
        bench = next((stand.place for stand in lot.stands if stand.start == lot.bring_in), None)
        last = next((stand.place for stand in lot.stands if stand.end == lot.bring_in), cooler)
        yield Moment("bring in", 1, lot.bring_in, last, bench)
    # Who hardens it off or sets it out that day looks at it anyhow.
    moved = {
        before(stand.start) for came, stand in pairwise(lot.stands)
        if stand.step in ("harden", "show", "on show") and stand.place != came.place
    }  # fmt: skip
    for stage, seen in zip(("shoots", "bud", "colour"), lot.stages, strict=True):
        day = after(seen)
        if lot.bring_in < day < min(lot.bloom, lot.leaves or lot.bloom) and day not in moved:
            place = next((stand.place for stand in lot.stands if stand.start <= day < stand.end), None)
            yield Moment(f"check {stage}", 1, day, place)
    yield from _on_the_way(lot, cooler, before, after)
    if lot.leaves is not None and lot.stands:
        yield Moment("dispatch", 1, max(before(lot.leaves), lot.bring_in), lot.stands[-1].place)


def _in_bloom(lot: LotDays, stand: Stand) -> bool:
    """Whether it comes to a place in bloom and before it is set out: to where it is hardened."""
    return stand.step in ("show", "on show") and lot.install is not None and stand.start < lot.install


def _on_the_way(lot: LotDays, cooler: str | None, before: Rolled, after: Rolled) -> Iterator[Moment]:
    """Turning and spacing each week on a bench; holding, bringing back, hardening off and setting out."""
    came, turned, brought, moved = None, 0, 1, 0
    for stand in lot.stands:
        step, place, start, end = stand
        if step == "bench":
            for day in map(after, range(start + TURN_EVERY, end, TURN_EVERY)):
                if day < end:
                    turned += 1
                    yield Moment("turn and space", turned, day, place)
        if came is not None:
            if step == "hold":
                yield Moment("hold", 1, start, came.place, place or cooler)
            elif came.step == "hold" and (
                step == "bench" or (step == "show" and place not in (came.place, lot.site))
            ):
                brought += 1
                yield Moment("bring in", brought, after(start), came.place, place)
            elif step == came.step == "bench" or (step == "cool" and place != came.place is not None):
                moved += 1
                yield Moment("move", moved, after(start), came.place, place)
            elif place not in (came.place, lot.site) and (step == "harden" or _in_bloom(lot, stand)):
                yield Moment("harden off", 1, start, came.place, place)
            if lot.site is not None and place == lot.site != came.place:
                yield Moment("set out", 1, before(start), came.place, place)
        came = stand
