"""Which pots stand in a display on each day, and which take the places of others: the swaps.

The rule. Lots come into a display on the day they are set out, as many pots as its plantings say and are left.
They take the places of pots that will have faded by the next chance to work, or, where they are themselves in bloom
by then, of pots that have at most OVERLAP days of display left; the first to fade first. What does not fit there
takes new places, and faded pots whose place nobody takes stay. So lots that are set out up to the opening, or within
some days of each other, stand together, and a class set out in bloom as another fades replaces it, pot for pot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from forcing.dates import DAY
from forcing.engine.context import Context
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.tasks import events_logged, make_task
from forcing.model import Display, Lot, LotPlan, Season, Task

TOGETHER = (
    3  # days from which on what is set out may take the place of what was set out before; practice, no source
)
OVERLAP = 7  # days of display that a swap may cost; common practice, no source; from memory


@dataclass(frozen=True, slots=True)
class PlacedPots:
    """Pots of a lot in a display from `start` up to but not including `end` (None: to the end of the show)."""

    lot: str
    pots: int
    start: date
    end: date | None = None


@dataclass(frozen=True, slots=True)
class Swap:
    """On a day, pots of the lot `into` take the places of as many of the faded lot `out`."""

    display: str
    date: date
    out: str
    into: str
    pots: int


@dataclass(frozen=True, slots=True)
class Standing:
    """The pots of a display over the show, and how they follow each other."""

    display: Display
    pieces: tuple[PlacedPots, ...]
    swaps: tuple[Swap, ...]
    unplanned: tuple[str, ...] = ()  # lots planted here that have no plan

    def pots(self, lot: str) -> tuple[int, ...]:
        """Pots of a lot in the display on each day it is open."""
        span, mine = self.display.span, [piece for piece in self.pieces if piece.lot == lot]
        return tuple(
            sum(p.pots for p in mine if p.start <= day and (p.end is None or day < p.end)) for day in span
        )


def planted(season: Season) -> dict[str, dict[str, int]]:
    """Display -> lot -> pots planted there. A lot that names a display and is in no planting stands there whole.

    The parts of a split lot share what is planted of it by their pots.
    """
    out: dict[str, dict[str, int]] = {display.name: {} for display in season.displays}
    lots: dict[str, list[Lot]] = {}
    for lot in season.lots:
        lots.setdefault(lot.stated_name, []).append(lot)
    for planting in season.plantings:
        if planting.display in out and planting.item in lots:
            pots = season.display(planting.display).containers * planting.per_container
            mine = out[planting.display]
            for name, share in _shares(lots[planting.item], pots):
                mine[name] = mine.get(name, 0) + share
    placed = {name for mine in out.values() for name in mine}
    for lot in season.lots:
        if lot.display in out and lot.name not in placed:
            out[lot.display][lot.name] = lot.pots
    return out


def _shares(parts: Sequence[Lot], pots: int) -> Iterator[tuple[str, int]]:
    """Those pots shared out over parts by their size, none lost: the last takes what is left."""
    left, size = pots, sum(part.pots for part in parts)
    for part in parts[:-1]:
        share = round(pots * part.pots / size) if size else 0
        left -= share
        yield part.name, share
    yield parts[-1].name, left


def standings(
    season: Season, plans: Sequence[LotPlan], simulations: Sequence[LotSimulation]
) -> tuple[Standing, ...]:
    """The pots of every display. A lot that has fewer pots than are planted fills its displays in their order."""
    by_name = {plan.lot.name: plan for plan in plans}
    left = {t.lot.name: t.lot.pots for t in simulations}
    out_on = {t.lot.name: t.set_out() for t in simulations}
    found, all_planted = [], planted(season)
    for display in season.displays:
        coming: list[tuple[date, str, int]] = []
        unplanned = []
        for name, wanted in all_planted[display.name].items():
            plan = by_name.get(name)
            if plan is None or name not in left:
                unplanned.append(name)
                continue
            pots = min(wanted, left[name])
            left[name] -= pots
            day = out_on[name] or season.calendar.on_or_before(plan.bloom)
            if pots and day < display.span.end:
                coming.append((day, name, pots))
        coming.sort(key=lambda row: row[0])  # rows of one day stay in the order of the plantings
        pieces, swaps = _follow(season, display, coming, by_name)
        found.append(Standing(display, tuple(pieces), tuple(swaps), tuple(unplanned)))
    return tuple(found)


def _follow(
    season: Season,
    display: Display,
    coming: Sequence[tuple[date, str, int]],
    plans: Mapping[str, LotPlan],
) -> tuple[list[PlacedPots], list[Swap]]:
    here: list[PlacedPots] = []
    gone: list[PlacedPots] = []
    swaps: list[Swap] = []
    for day, name, pots in coming:
        # The next chance to swap is the next working day: what fades before it has to be swapped today.
        chance = season.calendar.after(day)
        last = chance - DAY + timedelta(days=OVERLAP if plans[name].bloom <= chance else 0)
        # What was set out up to the opening, or in the last days, stands together with what comes now.
        before = day - timedelta(days=TOGETHER) if day > display.span.start else date.min
        going = sorted(
            (fade, i)
            for i, piece in enumerate(here)
            if piece.start <= before and (fade := plans[piece.lot].fade) is not None and fade <= last
        )
        needed = pots
        for _, i in going:
            taken = min(needed, here[i].pots)
            if taken == 0:
                continue
            gone.append(replace(here[i], pots=taken, end=day))
            here[i] = replace(here[i], pots=here[i].pots - taken)
            swaps.append(Swap(display.name, day, here[i].lot, name, taken))
            needed -= taken
        here = [piece for piece in here if piece.pots]
        here.append(PlacedPots(name, pots, day))
    return sorted([*gone, *here], key=lambda p: (p.start, p.lot)), swaps


def swap_tasks(season: Season, found: Sequence[Standing], context: Context) -> Iterator[Task]:
    """A task for each lot that takes places in a display: lifting the faded pots there and clearing them away.

    Setting out the new pots is a task of the lot itself. Hours come from the minutes of `swap`.
    """
    logged = events_logged(season.log, context.on)
    for stand in found:
        for into in dict.fromkeys(swap.into for swap in stand.swaps):
            swaps = [swap for swap in stand.swaps if swap.into == into]
            outs = " and ".join(f"{swap.pots} of {swap.out}" for swap in swaps)
            yield make_task(
                context, "swap", f"{into}/{stand.display.name}", 1, season.calendar.on_or_before(swaps[0].date),
                pots=float(sum(swap.pots for swap in swaps)), lot=into, place=stand.display.site,
                look_for=f"{stand.display.name}: lift the faded pots, {outs}; {into} takes their places; "
                "top up the mix, water in, mop up",
                logged=logged,
            )  # fmt: skip
