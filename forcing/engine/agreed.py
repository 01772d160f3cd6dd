"""What was decided is kept: agreed dates and places stay, and the least is changed that something real makes necessary.

An agreement is the plan as it was handed out. Its lots keep their places, cold-weeks and dates; a lot is chosen anew
only where its place has become too full, and its dates are moved only where the agreed ones fail it (`departure`).
What the log says and what the season states stand above it. Without an agreement only the places are kept, as they
would have been chosen before anything was logged.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Literal

from forcing.dates import DAY, Span
from forcing.engine.allocation import audit
from forcing.engine.allocation.allocate import Allocation, Request, allocate
from forcing.engine.context import unwatched
from forcing.engine.coolers import area_of, simulations_of
from forcing.engine.log import NOTHING, History, Pin, Stay
from forcing.engine.parts import divided
from forcing.engine.replan import SETTLED, Failing, failing
from forcing.engine.show.sureness import surer_openings
from forcing.engine.simulate import LotSimulation
from forcing.model import (
    AgreedLot,
    AgreedMove,
    Agreement,
    Event,
    Lot,
    LotPlan,
    Plan,
    RoomSetting,
    Season,
    Setpoint,
)

SINGLE = 6  # lots of which each is tried alone before several are moved


@dataclass(frozen=True, slots=True)
class Choice:
    """Where a lot is grown, on how many cold-weeks, and how surely where that is not stated."""

    cooler: str | None  # None: no cold
    bench: str
    cold_weeks: float
    after_rooting: str | None = None  # the cooler that it is moved to once rooted; None: it stays
    confidence: float | None = None  # None: as stated, or as is usual


@dataclass(frozen=True, slots=True)
class Decision:
    """An allocation, the choices in it, and the lots that were chosen anew because a place had become too full."""

    made: Allocation
    choices: Mapping[str, Choice]
    crowded: Mapping[str, audit.Overfull]


# ---------------------------------------------------------------- the agreement in force


def in_force(season: Season, on: date) -> Agreement | None:
    """The newest agreement made by day `on`; None: nothing was agreed by then."""
    return next((a for a in reversed(season.agreed) if a.on <= on), None)


def with_agreement(season: Season, on: date) -> Season:
    """The season with the agreement in force as its only one: its settings as setpoints, lots in its parts."""
    agreement = in_force(season, on)
    if agreement is None:
        return replace(season, agreed=())
    setpoints = tuple(_setpoints(season, agreement.settings))
    return replace(_in_parts(season, agreement), agreed=(agreement,), setpoints=setpoints)


def _setpoints(season: Season, settings: Sequence[RoomSetting]) -> Iterator[Setpoint]:
    """Stated and agreed setpoints: the agreed hold over their days, but for what was stated since."""
    known = {(s.place, s.span.start, s.day, s.night) for s in settings if s.basis == "stated"}
    for place in season.places:
        steered = [s for s in settings if s.place == place.name and s.basis == "steered"]
        mine = sorted((p for p in season.setpoints if p.place == place.name), key=lambda p: p.start)
        new = {p.start for p in mine if (p.place, p.start, p.day, p.night) not in known}
        yield from (p for p in mine if p.start in new or not any(p.start in s.span for s in steered))
        starts = new | {s.span.start for s in steered}
        for setting in sorted(steered, key=lambda s: s.span.start):
            span = setting.span
            if span.start in new:
                continue
            yield Setpoint(place.name, span.start, setting.day, setting.night, agreed=True)
            if any(span.start < start <= span.end for start in starts) or any(
                p.start == span.end for p in mine
            ):
                continue
            before = [p for p in mine if p.start < span.end]
            day, night = (before[-1].day, before[-1].night) if before else (place.day, place.night)
            if day is not None and night is not None:
                yield Setpoint(place.name, span.end, day, night, agreed=True)


def _in_parts(season: Season, agreement: Agreement) -> Season:
    """The season with the lots in parts that were agreed in parts; the second part takes what the first leaves."""
    pots = {lot.name: lot.pots for lot in agreement.lots}
    parts = {
        lot.name: (min(first, lot.pots - 1), lot.pots - min(first, lot.pots - 1))
        for lot in season.lots
        if lot.split and lot.pots > 1 and (first := pots.get(lot.part_names[0])) and lot.part_names[1] in pots
    }
    return divided(season, parts)


def pinned(season: Season, histories: Mapping[str, History], on: date) -> dict[str, History]:
    """The histories with what was agreed of each lot. `season`: with the one agreement in force."""
    out = dict(histories)
    for agreement in season.agreed[-1:]:
        known = {agreed.name: agreed for agreed in agreement.lots}
        for lot in season.lots:
            agreed = known.get(lot.name) or known.get(lot.stated_name)  # one that has come in parts since
            if agreed is not None:
                moves = tuple(Stay(m.step, m.place, m.start) for m in agreement.moves if m.lot == agreed.name)
                history = out.get(lot.name, NOTHING)
                out[lot.name] = replace(history, agreed=Pin(agreed, on, moves))
    return out


# ---------------------------------------------------------------- deciding


def decide(request: Request, known: Mapping[str, Choice] | None = None) -> Decision:
    """The allocation of a season in which what was decided is kept.

    known: choices made before, where nothing is agreed; None: they are found where something is logged.
    """
    agreement = request.season.agreed[-1] if request.season.agreed else None
    if agreement is not None:
        known = {
            lot.name: Choice(lot.cooler, lot.bench, lot.cold_weeks, lot.cooler_after_rooting, lot.confidence)
            for lot in agreement.lots
        }
    elif known is None and any(history.started for history in request.histories.values()):
        known = _before_the_log(request)
    if not known:
        made = _surely(request)
        return Decision(made, _choices(made), {})
    made = _allocated(request, known)
    crowded: dict[str, audit.Overfull] = {}
    if over := _overfull(request, made):
        made, crowded = _with_room(request, known, made, over)
    return Decision(made, _choices(made), crowded)


def _choices(made: Allocation) -> dict[str, Choice]:
    return {
        p.lot.name: Choice(
            *made.placed[p.lot.name], p.cold_wanted, p.lot.cooler_after_rooting, p.lot.confidence
        )
        for p in made.settled.lots
    }


def _surely(request: Request) -> Allocation:
    """The allocation, with lots that open a display as sure as the display needs them."""
    made = allocate(request)
    season, settled = made.season, made.settled
    simulations = simulations_of(
        season,
        settled.climate,
        [p.lot for p in settled.lots],
        request.recipes,
        made.placed,
        request.histories,
    )
    surer = surer_openings(season, settled.lots, simulations, request.context.on)
    if not surer:
        return made
    lots = (replace(lot, confidence=surer.get(lot.name, lot.confidence)) for lot in request.season.lots)
    return allocate(replace(request, season=replace(request.season, lots=tuple(lots))))


def _before_the_log(request: Request) -> Mapping[str, Choice]:
    """The choices for a season of which nothing is logged or read."""
    request.context.progress("going back to the plan before the log")
    blank = replace(request.season, log=(), readings=())
    quiet = replace(request.context, progress=unwatched)
    return _choices(_surely(replace(request, season=blank, histories={}, context=quiet)))


def _allocated(request: Request, known: Mapping[str, Choice]) -> Allocation:
    """The allocation in which lots with a known choice have no other; stated ones stand above it."""
    stated = {lot.name: lot for lot in request.season.lots}
    names = {place.name for place in request.season.places}
    kept = replace(
        request.season,
        lots=tuple(
            _kept(request, lot, known.get(lot.name) or known.get(lot.stated_name), names)
            for lot in request.season.lots
        ),
    )
    made = allocate(replace(request, season=kept))

    def as_stated(lot: Lot) -> Lot:
        own, recipe = stated.get(lot.name), request.recipes.get(lot.name)
        if own is None or recipe is None:
            return lot
        pinned = request.histories.get(lot.name, NOTHING).agreed is not None
        usual = pinned or lot.cold_weeks == recipe.cold_target  # else the lot itself carries what was chosen
        cold = own.cold_weeks if usual else lot.cold_weeks
        return replace(lot, cooler=own.cooler, bench=own.bench, cold_weeks=cold, split=own.split)

    plans = tuple(replace(p, lot=as_stated(p.lot)) for p in made.settled.lots)
    season = replace(made.season, lots=tuple(as_stated(lot) for lot in made.season.lots))
    return replace(made, season=season, settled=replace(made.settled, lots=plans))


def _kept(request: Request, lot: Lot, choice: Choice | None, places: set[str]) -> Lot:
    if choice is None or lot.name not in request.recipes:
        return lot
    cold = choice.cold_weeks if request.recipes[lot.name].needs_cold else None
    after = choice.after_rooting if choice.after_rooting in places else None
    stated = request.season.stated_confidence(lot)
    return replace(
        lot,
        cooler=lot.cooler or (choice.cooler if choice.cooler in places else None),
        cooler_after_rooting=lot.cooler_after_rooting or after,
        bench=lot.bench or (choice.bench if choice.bench in places else None),
        cold_weeks=cold if lot.cold_weeks is None else lot.cold_weeks,
        confidence=choice.confidence if stated is None else lot.confidence,
        split=False,
    )


def _overfull(request: Request, made: Allocation) -> tuple[audit.Overfull, ...]:
    """The crowded days still to come: what stood too close before is over."""
    found = audit.overfull(made.season, made.settled.lots, request.occupancy)
    return tuple(day for day in found if day.day >= request.context.on)


# ---------------------------------------------------------------- too full


def _with_room(
    request: Request, known: Mapping[str, Choice], made: Allocation, over: Sequence[audit.Overfull]
) -> tuple[Allocation, dict[str, audit.Overfull]]:
    """The allocation with the fewest lots chosen anew that ends the crowding; as it was where none does."""
    movable = _movable(request, made, over)
    for names in _tries(request, movable, over):
        rest = {name: choice for name, choice in known.items() if name not in names}
        histories = {
            n: h if n not in names else replace(h, agreed=None) for n, h in request.histories.items()
        }
        other = _allocated(replace(request, histories=histories), rest)
        if not _overfull(request, other) and len(other.settled.lots) >= len(made.settled.lots):
            was = _choices(made)
            moved = [n for n in names if _choices(other).get(n) != was.get(n)]
            return other, {n: movable[n] for n in moved}
    return made, {}


def _movable(request: Request, made: Allocation, over: Sequence[audit.Overfull]) -> dict[str, audit.Overfull]:
    """Lots that the log has not put into the crowded place yet, each with the first day of the crowd."""
    first: dict[str, audit.Overfull] = {}
    for day in over:
        for name in day.lots:
            history = request.histories.get(name, NOTHING)
            if all(stay.place != day.place for stay in (*history.coolers, *history.moves)):
                first.setdefault(name, day)
    return {p.lot.name: first[p.lot.name] for p in made.settled.lots if p.lot.name in first}


def _tries(
    request: Request, movable: Mapping[str, audit.Overfull], over: Sequence[audit.Overfull]
) -> Iterator[tuple[str, ...]]:
    """Sets of lots to choose anew, the smallest first: one that alone is enough, the largest together, all of them.

    Lots whose handed-out dates are further off come before those of the next two weeks.
    """
    most = max(day.pots - day.capacity for day in over)
    areas = {
        lot.name: area_of(lot, request.recipes[lot.name])
        for lot in request.season.lots
        if lot.name in movable
    }
    soon = {name: _soon(request, name) for name in movable}
    enough = sorted((n for n in areas if areas[n] >= most), key=lambda n: (soon[n], areas[n], n))
    yield from ((name,) for name in enough[:SINGLE])
    largest = sorted(areas, key=lambda n: (soon[n], -areas[n], n))
    total = 0.0
    for count, name in enumerate(largest, 1):
        total += areas[name]
        if total >= most and count > 1:
            yield tuple(largest[:count])
            break
    if len(largest) > 1:
        yield tuple(largest)


def _soon(request: Request, name: str) -> bool:
    pin = request.histories.get(name, NOTHING).agreed
    return pin is not None and pin.lot.potting - pin.on < SETTLED


# ---------------------------------------------------------------- recording


def agreement_of(
    plan: Plan,
    simulations: Sequence[LotSimulation],
    settings: Sequence[RoomSetting] = (),
    moves: Sequence[AgreedMove] = (),
    left_out: Collection[str] = (),
    stated: Sequence[Setpoint] = (),
) -> Agreement:
    """What is handed out with a plan. `settings` and `moves`: of steering that is agreed to with it.

    left_out: lots whose moves of an earlier agreement are taken back. stated: the season's own setpoints, of which
    steering that is agreed to knew: only what is stated later stands above it.
    """
    routes = {t.lot.name: t.route for t in simulations}
    lots = tuple(
        AgreedLot(
            p.lot.name, p.lot.pots, p.target, routes[p.lot.name].cooler, routes[p.lot.name].bench, p.cold_wanted,
            p.days, p.steps, p.lot.confidence,
        )
        for p in plan.lots
    )  # fmt: skip
    rooms = [room for room in plan.rooms if room.basis == "planned"]
    rooms += (RoomSetting(p.place, Span(p.start, p.start + DAY), p.day, p.night, "stated") for p in stated)
    before = plan.season.agreed[-1] if plan.season.agreed else Agreement(plan.on)
    return Agreement(
        plan.on, lots, (*rooms, *_joined(before, settings)), _ahead(before, plan, moves, left_out)
    )


def _joined(before: Agreement, settings: Sequence[RoomSetting]) -> Iterator[RoomSetting]:
    """Steered settings: the new ones, and the former as far as no new one of the place takes over."""
    for setting in before.settings:
        if setting.basis == "steered":
            starts = [s.span.start for s in settings if s.place == setting.place]
            end = min([setting.span.end, *starts])
            if setting.span.start < end:
                yield replace(setting, span=Span(setting.span.start, end))
    yield from settings


def _ahead(
    before: Agreement, plan: Plan, moves: Sequence[AgreedMove], left_out: Collection[str]
) -> tuple[AgreedMove, ...]:
    """Moves agreed to: the new ones instead of those former ones of the same lots that were still to come."""
    renewed = {move.lot for move in moves} | set(left_out)
    kept = (m for m in before.moves if m.lot not in renewed or m.start < plan.on)
    return tuple(sorted((*kept, *moves), key=lambda m: (m.start, m.lot)))


def handed_out(season: Season, histories: Mapping[str, History]) -> Agreement | None:
    """What the lots of a whole season were told to do: each day as it was agreed last before it came.

    The stages on the bench are those agreed when the lot was brought in: what was agreed later knew how it grew.
    None: nothing was agreed.
    """
    if not season.agreed:
        return None
    lots = []
    for name in dict.fromkeys(lot.name for agreement in season.agreed for lot in agreement.lots):
        told = [(a.on, lot) for a in season.agreed for lot in a.lots if lot.name == name]
        history = histories.get(name, NOTHING)
        start = history.brought_in
        came = {"potted": history.potted, "cooler in": history.cooler_in, "brought in": start}
        came["set out"] = next((m.start for m in history.moves if m.step == "harden"), None)
        days: dict[Event, date] = {}
        for event in dict.fromkeys(event for _, lot in told for event in lot.days):
            before = came.get(event, history.rooted if event == "rooted" else start)
            said = [lot for on, lot in told if before is None or on <= before] or [told[0][1]]
            if event in said[-1].days:
                days[event] = said[-1].days[event]
        lots.append(replace(told[-1][1], days=days, steps=()))
    rooms = tuple(s for s in season.agreed[-1].settings if s.basis == "planned")
    return Agreement(season.agreed[0].on, tuple(lots), rooms)


# ---------------------------------------------------------------- changes

What = Literal[
    "plan", "pots", "potting", "cooler", "cooler in", "bring in", "bench", "set out", "temperature",
]  # fmt: skip
Why = Literal[
    "new", "gone", "logged", "stated", "target", "pots", "room", "refused", "dates", "rooted", "agreed"
]


@dataclass(frozen=True, slots=True)
class Change:
    """Something that is not as it was agreed, and why. `was`, `now`: a date, place, number or None (nothing)."""

    what: What
    subject: str  # the lot, or the place
    was: object
    now: object
    why: Why
    failing: Failing | None = None  # why "dates": in what the agreed ones would fail
    crowd: audit.Overfull | None = None  # why "room": where and when
    detail: str = ""  # why "refused": the reason; why "rooted": the lot that is not


def changes(
    agreement: Agreement,
    plan: Plan,
    simulations: Sequence[LotSimulation],
    crowded: Mapping[str, audit.Overfull],
) -> tuple[Change, ...]:
    """All that is not as it was agreed, lot by lot in the order of the plan, then the rooms."""
    agreed = {lot.name: lot for lot in agreement.lots}
    by_name = {t.lot.name: t for t in simulations}
    in_parts = {lot.name: agreed.pop(lot.part_of) for lot in plan.season.lots if lot.part_of in agreed}
    in_parts |= {
        lot.name: was for lot in plan.season.lots for was in in_parts.values() if was.name == lot.part_of
    }
    found: list[Change] = []
    for planned in plan.lots:
        name = planned.lot.name
        was = agreed.pop(name, None) or in_parts.get(name)
        if was is None:
            found.append(Change("plan", name, None, planned.bloom, "new"))
        else:
            found += _lot_changes(was, planned, by_name[name], crowded.get(name))
    for left_out in plan.unplanned:
        was = agreed.pop(left_out.lot.name, None)
        if was is not None:
            found.append(Change("plan", was.name, was.bloom, None, "refused", detail=left_out.reason))
    found += (Change("plan", lot.name, lot.bloom, None, "gone") for lot in agreed.values())
    return (*found, *_room_changes(agreement, plan))


def _lot_changes(
    was: AgreedLot, planned: LotPlan, simulation: LotSimulation, crowd: audit.Overfull | None
) -> Iterator[Change]:
    lot, history, route = planned.lot, simulation.history, simulation.route
    if lot.pots != was.pots:
        logged_so = history.gone or lot.part_of == was.name
        yield Change("pots", lot.name, was.pots, lot.pots, "logged" if logged_so else "stated")
    logged = {
        "potting": history.potted, "cooler": history.cooler_in, "cooler in": history.cooler_in,
        "bench": history.brought_in, "bring in": history.brought_in,
        "set out": next((m.start for m in history.moves if m.step == "harden"), None),
    }  # fmt: skip
    stated = {"cooler": lot.cooler, "bench": lot.bench, "set out": None if lot.install_open else lot.install}
    fault = None if history.agreed is None else failing(simulation)
    pairs: list[tuple[What, object, object]] = [
        ("potting", was.potting, planned.potting), ("cooler", was.cooler, route.cooler),
        ("cooler in", was.cooler_in, planned.cooler_in), ("bring in", was.bring_in, planned.bring_in),
        ("bench", was.bench, route.bench), ("set out", was.install, planned.install),
    ]  # fmt: skip
    for what, then, now in pairs:
        if then == now:
            continue
        why: Why = "dates"
        if logged.get(what) is not None or (what in ("potting", "cooler in") and history.started):
            why = "logged"
        elif stated.get(what) is not None:
            why = "stated"
        elif crowd is not None:
            why = "room"
        elif planned.target != was.target:
            why = "target"
        elif history.started and fault is None:
            why = "logged"
        yield Change(what, lot.name, then, now, why, failing=fault, crowd=crowd)


def _room_changes(agreement: Agreement, plan: Plan) -> Iterator[Change]:
    """Rooms of the plan whose temperature from some day on is not the agreed one."""
    for place in plan.season.places:
        then = [s for s in agreement.settings if s.place == place.name and s.basis == "planned"]
        now = [s for s in plan.rooms if s.place == place.name and s.basis == "planned"]
        steps_then, steps_now = ([(b.span.start, b.mean) for _, b in pairwise(s)] for s in (then, now))
        if then and now and (steps_then != steps_now or then[0].mean != now[0].mean):
            last = max(
                (p for p in plan.lots if any(s.place == place.name and s.step == "root" for s in p.steps)),
                key=lambda p: p.rooted or p.bring_in, default=None,
            )  # fmt: skip
            yield Change(
                "temperature", place.name, tuple(steps_then), tuple(steps_now), "rooted",
                detail="" if last is None else last.lot.name,
            )  # fmt: skip
