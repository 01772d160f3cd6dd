"""Which pots stand in a display on each day, and which take the places of others: the swaps.

The rule. Lots come into a display on the day they are set out, as many pots as its plantings say and are left.
Where they are themselves in bloom by the next chance to work they take the places of pots that have at most LEFT of
their days in bloom left, or the share that the display states; else of pots that will have faded by that chance; the
first to fade first. A lot whose day is the plan's to choose waits for its places (`waits`). One whose day is stated
comes on it: for its sake pots with up to OVERLAP days left are lifted too, and told as still in bloom. What does not
fit there takes new places, and faded pots whose place nobody takes stay. So lots that are set out up to the opening,
or within some days of each other, stand together, and a class set out in bloom as another fades replaces it, pot for
pot.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from forcing.dates import DAY, Span, WorkCalendar
from forcing.engine.context import Context
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.tasks import events_logged, make_task
from forcing.errors import Finding
from forcing.model import Display, Lot, LotPlan, Season, Step, Task
from forcing.text import listed, some

TOGETHER = (
    3  # days from which on what is set out may take the place of what was set out before; practice, no source
)
OVERLAP = 7  # days of display that a swap may cost where its day is stated; practice, no source; from memory
LEFT = 0.2  # share of its days in bloom that a pot may have left when its place is taken; practice, no source


@dataclass(frozen=True, slots=True)
class PlacedPots:
    """Pots of a lot in a display from `start` up to but not including `end` (None: to the end of the show)."""

    lot: str
    pots: int
    start: date
    end: date | None = None


@dataclass(frozen=True, slots=True)
class Swap:
    """On a day, pots of the lot `into` take the places of as many of the lot `out`."""

    display: str
    date: date
    out: str
    into: str
    pots: int
    left: int  # days in bloom that the pots lifted typically have left; 0: they have faded
    early: bool  # whether that is more than the rule leaves: the day was stated, and they are to be moved elsewhere


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
    found = []
    for display, coming, unplanned in _coming(season, by_name, simulations):
        pieces, swaps = _Places(season.calendar, display, by_name).filled(coming)
        found.append(Standing(display, tuple(pieces), tuple(swaps), unplanned))
    return tuple(found)


def waits(
    season: Season, plans: Sequence[LotPlan], simulations: Sequence[LotSimulation], asked: Collection[str]
) -> tuple[str, date] | None:
    """The first lot not `asked` yet that comes before its places are free, and the working day on which they are.

    None where none does. What comes after it may change with it: ask again once it is moved.
    """
    by_name = {plan.lot.name: plan for plan in plans}
    for display, coming, _ in _coming(season, by_name, simulations):
        places = _Places(season.calendar, display, by_name)
        for day, name, pots in coming:
            ready = places.ready(day, name, pots) if name not in asked else day
            if day < ready < display.span.end:
                return name, ready
            places.take(day, name, pots)
    return None


Coming = list[tuple[date, str, int]]  # day, lot, pots


def _coming(
    season: Season, plans: Mapping[str, LotPlan], simulations: Sequence[LotSimulation]
) -> Iterator[tuple[Display, Coming, tuple[str, ...]]]:
    """The lots that come into each display in their order, and those planted there that have no plan."""
    left = {t.lot.name: t.lot.pots for t in simulations}
    out_on = {t.lot.name: t.set_out() for t in simulations}
    all_planted = planted(season)
    for display in season.displays:
        coming: Coming = []
        unplanned = []
        for name, wanted in all_planted[display.name].items():
            plan = plans.get(name)
            if plan is None or name not in left:
                unplanned.append(name)
                continue
            pots = min(wanted, left[name])
            left[name] -= pots
            day = out_on[name] or season.calendar.on_or_before(plan.bloom)
            if pots and day < display.span.end:
                coming.append((day, name, pots))
        coming.sort(key=lambda row: row[0])  # rows of one day stay in the order of the plantings
        yield display, coming, tuple(unplanned)


class _Places:
    """The places of a display, lot after lot."""

    def __init__(self, calendar: WorkCalendar, display: Display, plans: Mapping[str, LotPlan]) -> None:
        self.calendar, self.display, self.plans = calendar, display, plans
        self.here: list[PlacedPots] = []
        self.gone: list[PlacedPots] = []
        self.swaps: list[Swap] = []

    def filled(self, coming: Coming) -> tuple[list[PlacedPots], list[Swap]]:
        """The pots and the swaps once all have come."""
        for row in coming:
            self.take(*row)
        return sorted([*self.gone, *self.here], key=lambda p: (p.start, p.lot)), self.swaps

    def take(self, day: date, name: str, pots: int) -> None:
        """Sets pots of a lot out: into the places that are free for it, the first to fade first."""
        needed = pots
        for fade, i in self._going(day, name):
            out = self.here[i]
            taken, left = min(needed, out.pots), (fade - day).days
            early = left > self._spared(out.lot)
            if taken == 0 or (early and self.plans[name].lot.install_open):
                continue
            self.gone.append(replace(out, pots=taken, end=day))
            self.here[i] = replace(out, pots=out.pots - taken)
            self.swaps.append(Swap(self.display.name, day, out.lot, name, taken, max(0, left), early))
            needed -= taken
        self.here = [piece for piece in self.here if piece.pots]
        self.here.append(PlacedPots(name, pots, day))

    def ready(self, day: date, name: str, pots: int) -> date:
        """The first working day from `day` on which the places that these pots would take are free."""
        ready, needed = day, pots
        for fade, i in self._going(day, name):
            if needed > 0:
                ready = max(ready, fade - timedelta(days=self._spared(self.here[i].lot)))
                needed -= self.here[i].pots
        return self.calendar.on_or_after(ready) if ready > day else day

    def _going(self, day: date, name: str) -> list[tuple[date, int]]:
        """Fade and number of the pots whose places a lot could take on a day, the first to fade first."""
        # The next chance to swap is the next working day: what fades before it has to be swapped today.
        chance = self.calendar.after(day)
        open_ = self.plans[name].bloom <= chance
        last = chance - DAY + timedelta(days=OVERLAP if open_ else 0)
        # What was set out up to the opening, or in the last days, stands together with what comes now.
        before = day - timedelta(days=TOGETHER) if day > self.display.span.start else date.min
        return sorted(
            (fade, i)
            for i, piece in enumerate(self.here)
            if piece.start <= before and (fade := self.plans[piece.lot].fade) is not None
            and fade <= max(last, day + timedelta(days=self._spared(piece.lot) if open_ else 0))
        )  # fmt: skip

    def _spared(self, name: str) -> int:
        return spared(self.plans[name], self.display)


def spared(plan: LotPlan, display: Display) -> int:
    """Days in bloom that pots of a lot may have left when their places in a display are taken."""
    days = 0 if plan.fade is None else (plan.fade - plan.bloom).days
    return int((LEFT if display.swap_at is None else display.swap_at) * days + 1e-9)


def waiting_findings(found: Sequence[Standing], plans: Sequence[LotPlan]) -> Iterator[Finding]:
    """One note for each display: lots that are in bloom long before the places that they take are free."""
    by_name = {plan.lot.name: plan for plan in plans}
    for stand in found:
        late = [
            (by_name[name], swaps[-1].date)
            for name in dict.fromkeys(swap.into for swap in stand.swaps)
            if (swaps := [swap for swap in stand.swaps if swap.into == name]) and by_name[name].lot.install_open
            and (swaps[-1].date - by_name[name].bloom).days > spared(by_name[name], stand.display)
        ]  # fmt: skip
        if late:
            lots = listed([f"{p.lot.name} {some((day - p.bloom).days, 'day')}" for p, day in late], 5)
            targets = ", ".join(f"{p.lot.name} {day}" for p, day in late)
            yield Finding(
                "waits-in-bloom", "note", "displays", stand.display.row, "display",
                f"{stand.display.name}: what stands there is still in bloom when the next lots are, which wait for its "
                f"places: {lots}", f"Later targets fit: {targets}; or hold them cold, or set swap at of the display "
                "higher, and what is lifted is moved elsewhere.", number=len(late),
                days=(min(p.bloom for p, _ in late), max(day for _, day in late)),
            )  # fmt: skip


# ---------------------------------------------------------------- after the swaps


def lifted(plans: Sequence[LotPlan], found: Sequence[Standing]) -> tuple[LotPlan, ...]:
    """The plans with the pots that swaps lift gone from their places, and with the last of them the lot's spares."""
    away: dict[str, dict[date, int]] = {}
    for swap in (swap for stand in found for swap in stand.swaps):
        days = away.setdefault(swap.out, {})
        days[swap.date] = days.get(swap.date, 0) + swap.pots
    standing = {piece.lot for stand in found for piece in stand.pieces if piece.end is None}
    return tuple(
        _lifted(plan, away[plan.lot.name], plan.lot.name in standing) if plan.lot.name in away else plan
        for plan in plans
    )


def _lifted(plan: LotPlan, away: Mapping[date, int], some_stay: bool) -> LotPlan:
    days = sorted(away)
    pots = [away[day] for day in days]
    if not some_stay:
        pots[-1] = plan.lot.pots - sum(pots[:-1])
    cut = plan.steps if some_stay else [step for step in plan.steps if step.span.start < days[-1]]
    steps: list[Step] = []
    for step in cut:
        end = step.span.end if some_stay else min(step.span.end, days[-1])
        inside = [day for day in days if step.step in ("show", "on show") and step.span.start < day < end]
        for i, (start, stop) in enumerate(pairwise((step.span.start, *inside, end))):
            steps.append(replace(step, step="on show" if i else step.step, span=Span(start, stop)))
    return replace(plan, steps=tuple(steps), lifted=tuple(zip(days, pots, strict=True)))


# ---------------------------------------------------------------- the work

ELSEWHERE = "where visitors still pass it: an entrance, a desk, the sale table"
READY: tuple[str, ...] = ("colour", "bloom")  # stages from which on a lot can take a place


def swap_tasks(
    season: Season, found: Sequence[Standing], simulations: Sequence[LotSimulation], thin: Mapping[str, Sequence[Span]],
    context: Context,
) -> Iterator[Task]:  # fmt: skip
    """A task for each lot that takes places in a display, and one for each that is logged as faded and stands there.

    `thin`: display -> the days on which it has too little in bloom, and could take what is lifted elsewhere.
    Setting out the new pots is a task of the lot itself. Hours come from the minutes of `swap`.
    """
    logged = events_logged(season.log, context.on)
    over = {
        t.lot.name: t.history.faded for t in simulations if t.history.faded and t.history.faded <= context.on
    }
    for stand in found:
        for into in dict.fromkeys(swap.into for swap in stand.swaps):
            swaps = [swap for swap in stand.swaps if swap.into == into]
            outs = "; ".join(_lifting(swap, over, thin) for swap in swaps)
            yield make_task(
                context, "swap", f"{into}/{stand.display.name}", 1, season.calendar.on_or_before(swaps[0].date),
                pots=float(sum(swap.pots for swap in swaps)), lot=into, place=stand.display.site,
                look_for=f"{stand.display.name}: lift {outs}. {into} takes their places; top up the mix, water in, "
                "mop up",
                logged=logged,
            )  # fmt: skip
        yield from _faded_tasks(season, stand, over, simulations, context)


def _lifting(swap: Swap, over: Mapping[str, date], thin: Mapping[str, Sequence[Span]]) -> str:
    pots = f"{swap.pots} of {swap.out}"
    if swap.out in over:
        return f"{pots} (faded, if they still stand)"
    if not swap.early:
        return f"{pots} (faded)" if swap.left == 0 else f"{pots} (in their last days)"
    wanting = [
        name
        for name, spans in thin.items()
        if name != swap.display and any(swap.date in span for span in spans)
    ]
    to = f"{listed(wanting, 2)}, short of bloom then" if wanting else ELSEWHERE
    return f"{pots} (still in bloom for about {some(swap.left, 'day')}: move to {to})"


def _faded_tasks(
    season: Season, stand: Standing, over: Mapping[str, date], simulations: Sequence[LotSimulation], context: Context
) -> Iterator[Task]:  # fmt: skip
    """Lots logged as faded that still stand in a display that is open: their swap is due now."""
    today = season.calendar.on_or_after(context.on)
    if today >= stand.display.span.end:
        return
    ready = _standing_ready(stand, simulations, context.on)
    for name in dict.fromkeys(piece.lot for piece in stand.pieces):
        pots = sum(p.pots for p in stand.pieces if p.lot == name and (p.end is None or p.end > today))
        if name in over and pots:
            offer = (
                f"ready to take the places: {listed(ready, 4)}"
                if ready
                else "nothing stands ready: close the gaps"
            )
            yield make_task(
                context, "swap", f"{name}/{stand.display.name}", "faded", today, pots=float(pots), lot=name,
                place=stand.display.site,
                look_for=f"{stand.display.name}: {name} is logged as faded on {over[name]}; lift its {pots} pots now; "
                f"{offer}",
            )  # fmt: skip


def _standing_ready(stand: Standing, simulations: Sequence[LotSimulation], on: date) -> list[str]:
    """Lots for this display, or for none, that are logged with colour or bloom and are not out yet."""
    here = {piece.lot for piece in stand.pieces}
    offers = [
        t for t in simulations
        if (t.lot.name in here or t.lot.display is None)
        and t.lot.pots and t.history.faded is None
        and any(stage in t.history.stages for stage in READY)
        and not any(move.step == "harden" and move.place == stand.display.site for move in t.history.moves)
    ]  # fmt: skip
    return [f"{t.lot.name} ({t.lot.pots})" for t in offers]
