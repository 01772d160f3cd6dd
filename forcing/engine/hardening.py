"""Lots that go from a heated bench to the open while nights may freeze, and where they could be hardened before.

Hardening is tried in the same sums: the lot is planned again with its days in a frame that has room. It is proposed,
never done unasked, as it moves the lot's other days.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from forcing.dates import Span
from forcing.engine.climate import Climate, unheated
from forcing.engine.companions import MATTED
from forcing.engine.frost import FREEZING
from forcing.engine.loads import Rooms, place_loads
from forcing.engine.log import Stay
from forcing.engine.night_chances import NORMAL_SPREAD
from forcing.engine.replan import replan_lot
from forcing.engine.simulate import LotSimulation
from forcing.errors import Finding, Several
from forcing.model import LotPlan, Occupancy, Season, Step
from forcing.recipes.book import LEAST_HARDENING
from forcing.science.frost import cover_holds
from forcing.text import later, some
from forcing.units import in_degrees, show_temperature

DAYS = (
    int(LEAST_HARDENING),
    10,
    7,
)  # of hardening that are tried, the most first; fewer than a week tell little
STRAIGHT = (
    "{lots} go straight from a heated bench to the open while nights may freeze: until they have stood out "
)
STRAIGHT += f"{LEAST_HARDENING:g} days they stand less frost than hardened"
ROOM = (
    "Frames have room to harden them off, brought in up to {most} days sooner: findings.csv says for each lot where, "
    "from when and at what cost. State harden at and harden days; where you will not, 0 days."
)
NO_ROOM = (
    "No frame has room for them then, or they would be late: have cloth ready for their first "
    f"{LEAST_HARDENING:g} nights, or set them out later."
)
TENDER = "{lots} stand no frost even when hardened, and are set out while nights may freeze"
LATER = "Set them out after the last frost, or have cloth ready and room inside for them."


@dataclass(frozen=True, slots=True)
class Hardened:
    """A lot as it would be with some days in a frame before it is set out."""

    plan: LotPlan
    frame: str
    days: int
    start: date


def hardening_findings(
    season: Season, plans: Sequence[LotPlan], simulations: Sequence[LotSimulation], occupancy: Iterable[Occupancy],
    climate: Climate, on: date,
) -> Iterator[Finding]:  # fmt: skip
    """A note for each lot that is set out unhardened while nights may freeze, with what hardening it would cost."""
    straight = {plan.lot.name: step for plan in plans if (step := _straight_out(season, plan, on))}
    if not straight:
        return
    rooms, of = Rooms.of(place_loads(season, plans, occupancy)), {t.lot.name: t for t in simulations}
    for plan in plans:
        out = straight.get(plan.lot.name)
        if out is None:
            continue
        where = f"goes straight from {plan.steps[plan.steps.index(out) - 1].place} to {out.place} on {out.span.start}"
        found = Finding("not-hardened", "note", "lots", plan.lot.row, "harden at", "", "", lot=plan.lot.name,
                        days=(out.span.start,))  # fmt: skip
        stands = show_temperature(plan.recipe.frost, season.unit)
        if plan.recipe.frost >= FREEZING:
            yield replace(
                found, code="set-out-tender", column="install",
                message=f"{plan.lot.name} is set out at {out.place} on {out.span.start} while nights may freeze, and "
                f"{plan.recipe.crop} stands {stands} even when hardened",
                hint="Set it out after the last frost, or have cloth ready and room inside for it.",
                several=Several(TENDER, LATER),
            )  # fmt: skip
        elif plan.lot.harden_at is None and plan.lot.harden_days is None:
            offer = _offer(plan, of[plan.lot.name], rooms, climate, on)
            rooms = rooms.taking(offer.plan, plan) if offer else rooms
            yield replace(
                found,
                message=f"{plan.lot.name} {where} while nights may freeze: it stands no frost until it has stood out, "
                f"{stands} after {LEAST_HARDENING:g} days",
                hint=_hint(season, plan, out, offer, of[plan.lot.name]),
                number=float((plan.bring_in - offer.plan.bring_in).days) if offer else None,
                several=Several(STRAIGHT, ROOM if offer else NO_ROOM),
            )  # fmt: skip


def _straight_out(season: Season, plan: LotPlan, on: date) -> Step | None:
    """Its first step in the open, where it comes there from a heated room and nights may freeze; None: not so."""
    free = unheated(season)
    for before, now in pairwise(plan.steps):
        if now.place in free and before.step in ("bench", "show", "on show") and before.place not in free:
            shown = now.place in {display.site for display in season.displays}
            ahead = now.span.start > on and _may_freeze(season, now.place, now.span.start)
            return now if shown and ahead else None
    return None


def _may_freeze(season: Season, place: str, day: date) -> bool:
    """Whether nights at a place may freeze then: up to the last frost where it is stated, else by the normals."""
    if season.last_frost is not None:
        return day <= season.last_frost.day
    usual = {(n.place, n.month): n.low for n in season.normals}
    return usual.get((place, day.month), FREEZING) - NORMAL_SPREAD <= FREEZING


# ---------------------------------------------------------------- trying


def _offer(
    plan: LotPlan, simulation: LotSimulation, rooms: Rooms, climate: Climate, on: date
) -> Hardened | None:
    """The longest hardening in a frame with room that keeps the lot in time and no colder than the frame can be."""
    season, install = simulation.season, simulation.route.install
    frames = [place.name for place in season.places if place.kind == "frame"]
    if install is None:
        return None
    for days in DAYS:
        start = season.calendar.on_or_before(install - timedelta(days=days))
        for frame in frames if start >= on else ():
            if not _mild_enough(climate, frame, Span(start, install)):
                continue
            trial = replan_lot(replace(
                simulation, lot=replace(simulation.lot, harden_at=frame, harden_days=days),
                route=replace(simulation.route, harden_at=frame, harden_start=start),
            ))  # fmt: skip
            if isinstance(trial, LotPlan) and _in_time(plan, trial, simulation, on):
                trial = replace(trial, lifted=plan.lifted)
                if rooms.lacking(trial, plan) is None:
                    return Hardened(trial, frame, days, start)
    return None


def _mild_enough(climate: Climate, frame: str, span: Span) -> bool:
    """Whether mats keep what is not yet hardened from freezing in a frame on its usual nights."""
    lows = climate.low[frame][climate.index(span.start) : climate.index(span.end)]
    return climate.first_gap(frame, span) is None and cover_holds(float(lows.min()), FREEZING, MATTED, 0.0)


def _in_time(plan: LotPlan, trial: LotPlan, simulation: LotSimulation, on: date) -> bool:
    """Whether a lot with other days is as good: still to be done, in bloom no later, with cold enough."""
    ahead = trial.potting >= on or trial.potting == plan.potting
    in_time = trial.bloom <= max(plan.bloom, simulation.due)
    recipe = plan.recipe
    cold = not recipe.needs_cold or trial.cold_weeks >= min(plan.cold_weeks, recipe.cold_min) - 0.05
    return ahead and in_time and cold


def _hint(season: Season, plan: LotPlan, out: Step, offer: Hardened | None, simulation: LotSimulation) -> str:
    if offer is None:
        return (
            "No frame has room for it then, or it would be late: have cloth ready for its first "
            f"{LEAST_HARDENING:g} nights, or set it out later."
        )
    span, unit = Span(offer.start, out.span.start), season.unit
    sooner = (plan.bring_in - offer.plan.bring_in).days
    when = f"{later(-sooner)}, on {offer.plan.bring_in}" if sooner > 0 else f"on {offer.plan.bring_in}"
    heat, instead = (
        f"{in_degrees(simulation.heat_between(_stood(p), span.start, span.end) or 0.0, unit):.0f}"
        for p in (offer.plan, plan)
    )
    return (
        f"{offer.frame} has room for its {some(plan.lot.pots, 'pot')} from {offer.start}: state harden at "
        f"{offer.frame} and harden days {offer.days}. It is then brought in {when}, has "
        f"{some(offer.plan.bench_days, 'bench-day')} instead of {plan.bench_days}, and gathers {heat} "
        f"instead of {instead} °{unit}·d in the {some(span.days, 'day')} before it is set out. Where you will not, "
        "state 0 harden days."
    )


def _stood(plan: LotPlan) -> list[Stay]:
    return [Stay(step.step, step.place, step.span.start) for step in plan.steps if step.place]
