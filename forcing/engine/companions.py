"""Companion annuals counted back from the day they are set out: harden off, pinch, transplant, sow, order.

From transplanting on a companion gathers heat at the temperatures of its place, and of the frame while it is
hardened off there; it is finished on the first day by whose start the heat has reached the recipe's need.
Transplanting is the latest working day whose forward run is finished by the set-out day: forward is the judge,
as for lots. Sowing to transplanting is a number of days: seed is taken to be raised warm, where its trays are stated to
stand or on the bench it will grow on, and apart from the places of the season where that has no heat. Hardening is at
least two weeks (California Master Gardener Handbook, 2nd ed., UC ANR).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal, NamedTuple

import numpy as np

from forcing.dates import DAY, WEEK, Span
from forcing.engine.climate import FORECAST, GAP, MEASURED, Climate, unheated
from forcing.engine.log import CompanionHistory, companion_history
from forcing.engine.show.pots import Sowing, counting, sowing_of
from forcing.errors import Finding, RecipeError
from forcing.model import LATER, OPENING, Companion, CompanionStart, Place, Season
from forcing.recipes.book import CARE, LEAST_HARDENING, CompanionBook, CompanionRecipe
from forcing.science.flowering import need_at_confidence
from forcing.science.frost import cover_holds, hardening_reached, limit_reached
from forcing.text import fold, listed, some
from forcing.units import show_temperature

SLOW = 2  # times its days at the reference: beyond that the place is too cold for it to be worth the bench
RESCUE = timedelta(weeks=2)  # from ordering plugs or plants in a hurry to having them: practice, no source
STARTS: tuple[CompanionStart, ...] = ("seed", "plug", "plant")
# °C that mats over a closed frame keep on a clear night: practice, about a sheet and a fleece; from memory.
MATTED = 3.0
ROOTING_IN = 7  # days in the pot before hardening starts: common practice, no source; from memory
CompanionStepName = Literal["sow", "grow", "harden", "show"]


@dataclass(frozen=True, slots=True)
class CompanionStep:
    """Pots of a companion in a place for a span of days. `place` is None while it is raised apart from the places."""

    companion: str
    step: CompanionStepName
    place: str | None
    span: Span
    pots: float
    trays: int = 0  # that it stands in, before it has its pots
    display: str | None = None  # that it is set out in


@dataclass(frozen=True, slots=True)
class CompanionPlan:
    """The dates of one companion, proven by running them forward."""

    companion: Companion
    recipe: CompanionRecipe
    ready: date  # the day wanted; set_out is the last working day up to it
    begins: date  # sown, or where it is not raised from seed, delivered
    order: date | None  # the last day, where it is started again or logged; None: its lead before it begins
    sow: date | None  # None: not raised from seed
    sowing: Sowing | None  # None: not raised from seed
    faded: date | None  # as logged
    transplant: date | None  # None: bought as plants
    pinch: date | None  # None: not pinched
    harden: date
    set_out: date
    finish: date | None  # of the typical pot; None: later than temperatures are known
    place: str
    harden_at: str  # a frame, or `place` where there is none
    need: float  # °C·d from transplanting, typical pot
    assumed_days: int  # days from transplanting to set-out whose temperature is not measured
    steps: tuple[CompanionStep, ...]

    @property
    def slow(self) -> int:
        """Days from transplanting to set-out where its place is too cold for it to be worth the bench; else 0."""
        days = 0 if self.transplant is None else (self.set_out - self.transplant).days
        return days if days > SLOW * self.recipe.transplant_to_finish else 0

    @property
    def start(self) -> CompanionStart:
        """What it is raised from: of a kind without days from sowing to transplanting plugs, not seed."""
        stated = self.companion.start
        return "plug" if stated == "seed" and self.sowing is None else stated


@dataclass(frozen=True, slots=True)
class _Grower:
    """A companion with all that decides its dates."""

    companion: Companion
    recipe: CompanionRecipe
    place: str
    harden_at: str
    shows: tuple[tuple[str, str, Span, float], ...]  # display, its site, days there, pots
    harden: date
    set_out: date
    season: Season
    climate: Climate
    history: CompanionHistory = field(default_factory=CompanionHistory)
    not_before: date | None = None  # the first day on which it can begin; None: any

    def finish(self, transplant: date, need: float) -> date | None:
        """First day by which `need` [°C·d] is gathered since transplanting; None if not known."""
        last = self.shows[0][1] if self.shows else self.harden_at
        for place, start, end in (
            (self.place, transplant, self.harden),
            (self.harden_at, self.harden, self.set_out),
            (last, self.set_out, self.climate.day(self.climate.days)),
        ):
            heat = self.climate.heat(place, self.recipe.base, self.recipe.cap)
            a, b = self.climate.index(start), self.climate.index(end)
            day = heat.reach(a, need, b)
            if day is not None:
                return self.climate.day(day)
            total = heat.total(a, b)
            if total is None:
                return None
            need -= total
        return None

    @property
    def assured_need(self) -> float:
        """Heat [°C·d] of a pot as slow as is asked: by the season, else as of lots where they open a display."""
        name = self.companion.name
        opens = any(name in counting(self.season, display) for display, *_ in self.shows)
        usual = OPENING if opens else LATER
        chance = usual if self.season.confidence is None else self.season.confidence
        return float(need_at_confidence(self.recipe.need, self.recipe.spread, chance))

    @property
    def latest_transplant(self) -> date:
        """Latest working day that leaves time to root in, and to be pinched, before hardening starts."""
        calendar = self.season.calendar
        day = calendar.on_or_before(self.harden - timedelta(days=ROOTING_IN))
        while (pinch := self.pinch(day)) is not None and pinch >= self.harden:
            day = calendar.before(day)
        return day

    def pinch(self, transplant: date) -> date | None:
        if self.recipe.pinch <= 0:
            return None
        return self.season.calendar.on_or_after(transplant + _days(self.recipe.pinch))

    def transplant(self) -> date | None:
        """Latest working day whose forward run is finished by the set-out day; None if there is none."""
        climate, calendar, need = self.climate, self.season.calendar, self.assured_need
        hardening = climate.heat(self.harden_at, self.recipe.base, self.recipe.cap)
        gained = hardening.total(climate.index(self.harden), climate.index(self.set_out))
        if gained is None:
            return None
        day = self.latest_transplant
        growing = climate.heat(self.place, self.recipe.base, self.recipe.cap)
        first = growing.begin(climate.index(self.harden), max(0.0, need - gained))
        if first is None:
            return None
        day = min(day, calendar.on_or_before(climate.day(first)))
        while day > climate.start:
            finish = self.finish(day, need)
            if finish is not None and finish <= self.set_out:
                return day
            day = calendar.before(day)
        return None


def plan_companions(
    season: Season, climate: Climate, book: CompanionBook, on: date | None = None
) -> tuple[tuple[CompanionPlan, ...], tuple[Finding, ...]]:
    """The plans of a season's companions, and findings: those that cannot be planned, and what is risky.

    on: the day it is seen from: what is logged by then stands, and the days after it follow. None: nothing is logged.
    """
    plans: list[CompanionPlan] = []
    findings: list[Finding] = []
    for stated in season.companions:
        history = companion_history(season, stated, on)
        companion = replace(stated, pots=history.left(stated))
        answer = _plan(season, climate, book, companion, history, on)
        if isinstance(answer, Finding):
            findings.append(answer)
        else:
            plans.append(answer[0])
            findings.extend((*answer[1], *_risks(season, climate, answer[0])))
    return tuple(plans), tuple(findings)


def _not_begun(grower: _Grower, plan: CompanionPlan, on: date) -> Iterator[Finding]:
    """A companion that should be under way and of which nothing is logged: what is left where it was not begun."""
    if grower.history.days or not plan.begins < on < plan.set_out:
        return
    calendar, word = grower.season.calendar, "sown" if plan.sow else "delivered"
    lead = calendar.on_or_before(plan.harden - RESCUE)
    still = (
        f"buy plants by {lead}, for hardening from {plan.harden}" if lead >= on else "buy hardened ones now"
    )
    begun = calendar.on_or_after(on if plan.sow else on + RESCUE)
    again = _planned(replace(grower, not_before=begun))
    late = None if again is None else next(_late(again), None)
    then, do = "", f"have it {word} on {begun}: it is ready in time"
    if late is not None:
        when = f"on {late.days[0]}, {some(late.number or 0, 'day')} late" if late.days else "after the show"
        then = f"; {word} on {begun} it is ready {when}, at the temperatures of {plan.place}"
        do = f"it is too late from {plan.start}{' there: find it a warmer place, or ' if plan.slow else ': '}{still}"
    yield Finding(
        "companion-not-logged", "warning" if late and plan.slow else "note", "companions", plan.companion.row,
        "companion", f"nothing is logged of {plan.companion.name}, to be {word} on {plan.begins}: it is taken to have "
        f"gone as planned{then}", f"Log what was done; if it was not, {do}.", lot=plan.companion.name,
        days=(plan.begins,), number=None if late is None else late.number,
    )  # fmt: skip


def hardened_since(season: Season, plan: CompanionPlan) -> date:
    """The day its hardening begins: when it is hardened off, or from transplanting on where it grows without heat."""
    return plan.transplant if plan.transplant and plan.place in unheated(season) else plan.harden


def ready_day(season: Season, companion: Companion) -> date:
    """The day a companion is wanted: as stated, else the first opening of its displays, else of the show."""
    if companion.ready is not None:
        return companion.ready
    shows = {display.name: display.span.start for display in season.displays}
    opens = [shows[p.display] for p in season.plantings if p.item == companion.name and p.display in shows]
    return min(opens, default=season.span.start)


# ---------------------------------------------------------------- planning one


def _plan(
    season: Season, climate: Climate, book: CompanionBook, companion: Companion, history: CompanionHistory,
    on: date | None,
) -> tuple[CompanionPlan, list[Finding]] | Finding:  # fmt: skip
    try:
        recipe = book.recipe(companion.crop, companion.like)
    except RecipeError as error:
        known = book.knows(companion.crop)
        hint = "Mend its rows in the crops table." if known else (
            "Use one of those names, name a kind that it is like in the column as, or give the crop's figures in the "
            "crops table."
        )  # fmt: skip
        return _unplanned(companion, "crop", str(error), hint, companion.crop)
    problems = book.check(recipe, season.unit)
    if problems:
        reason = f"its recipe contradicts itself: {'; '.join(problems)}"
        return _unplanned(companion, "crop", reason, "Mend its rows in the crops table.", companion.crop)
    place = _place_of(season, companion)
    if isinstance(place, Finding):
        return place
    grower = replace(_grower(season, climate, companion, recipe, place), history=history)
    if not (climate.start < grower.harden and grower.set_out <= climate.day(climate.days)):
        return _unplanned(
            companion, "ready", f"{grower.set_out} lies outside the days of this season",
            f"Give a day near the show, which opens on {season.span.start}.", str(ready_day(season, companion)),
        )  # fmt: skip
    if history.failed is not None and on is not None:
        return _started_again(grower, on)
    plan = _planned(grower)
    if plan is None:
        return _no_transplant(grower)
    # What is there by the log goes on; what is yet to begin is refused while another place can be found for it.
    refused = None if history.days else _too_cold(season, climate, plan)
    return refused or (plan, [*_late(plan), *(() if on is None else _not_begun(grower, plan, on))])


def _planned(grower: _Grower, order: date | None = None) -> CompanionPlan | None:
    """The dates that follow from what is logged, and else the latest; None where no day leads to the set-out day."""
    companion, calendar, logged = grower.companion, grower.season.calendar, grower.history.days
    came = logged.get("received", grower.not_before)
    raised = timedelta(days=math.ceil(grower.recipe.sow_to_transplant))
    transplant: date | None = None
    if companion.start == "plant":
        harden = grower.harden if came is None else max(grower.harden, calendar.on_or_after(came))
    else:
        transplant = logged.get("transplanted")
        sown = logged.get("sown", grower.not_before if companion.start == "seed" else None)
        if transplant is None and sown is not None:
            transplant = calendar.on_or_after(sown + raised)
        if transplant is None and companion.start == "plug" and came is not None:
            transplant = calendar.on_or_after(came)
        transplant = transplant or grower.transplant()
        if transplant is None:
            return None
        pinch = logged.get("pinched") or grower.pinch(transplant)
        first = [transplant + timedelta(days=ROOTING_IN), *([pinch + DAY] if pinch else [])]
        harden = max(grower.harden, calendar.on_or_after(max(first)))
    set_out = grower.set_out
    if harden > grower.harden:
        set_out = max(set_out, calendar.on_or_after(harden + (grower.set_out - grower.harden)))
    set_out = logged.get("set out", set_out)

    def out_on(day: date) -> CompanionPlan:
        shows = _shows(grower.season, companion, day)
        moved = replace(grower, harden=min(harden, day), set_out=day, shows=shows)
        return _written_out(moved, transplant, logged.get("ordered", order))

    plan = out_on(set_out)
    ready = calendar.on_or_after(plan.finish) if plan.finish else set_out
    # What the log puts a few days behind waits until it is ready; for longer its places would stand empty. Practice.
    waits = any(_late(plan)) and logged and "set out" not in logged and set_out < ready <= set_out + WEEK
    return out_on(ready) if waits else plan


def _late(plan: CompanionPlan) -> Iterator[Finding]:
    """A companion that what is logged of it has made late."""
    if plan.finish is not None and max(plan.set_out, plan.finish) <= plan.ready:
        return
    finish = max(plan.set_out, plan.finish) if plan.finish else None
    when = f"on {finish}, {some((finish - plan.ready).days, 'day')} late" if finish else "after the show"
    yield Finding(
        "companion-late", "warning", "companions", plan.companion.row, "ready",
        f"{plan.companion.name} will be ready {when}",
        "Choose a warmer place if there is one, or buy plants for the opening.", str(plan.ready),
        lot=plan.companion.name, days=(finish,) if finish else (),
        number=(finish - plan.ready).days if finish else None,
    )  # fmt: skip


def _started_again(grower: _Grower, on: date) -> tuple[CompanionPlan, list[Finding]] | Finding:
    """A companion of which all was lost: from seed again where there is time, else from plugs, else from plants."""
    companion, failed, begun = grower.companion, grower.history.failed, grower.history.days
    calendar = grower.season.calendar
    today = calendar.on_or_after(on)
    plan: CompanionPlan | None = None
    for start in STARTS[STARTS.index(companion.start) :]:
        soonest = today if start == "seed" else calendar.on_or_after(begun.get("ordered", today) + RESCUE)
        again = replace(grower, companion=replace(companion, start=start), not_before=soonest)
        plan = _planned(again, today)
        if plan is not None and not list(_late(plan)):
            break
    if plan is None:
        return _no_transplant(grower)
    if begun:  # it was decided
        return plan, list(_late(plan))
    start, bought = plan.companion.start, STARTS.index(plan.companion.start) > STARTS.index(companion.start)
    do = {
        "seed": f"Sow again on {plan.sow}: it is ready in time.",
        "plug": f"Order plugs by {plan.order}, to transplant on {plan.transplant}.",
        "plant": f"Buy plants by {plan.order}, for hardening from {plan.harden}.",
    }[start]
    late = [f"{finding.message}. " for finding in _late(plan)]
    return plan, [Finding(
        "companion-again", "warning", "companions", companion.row, "companion",
        f"all {companion.pots} pots of {companion.name} were lost by {failed}"
        + (f"; too late from {companion.start}" if bought else ""),
        "".join(late) + do, lot=companion.name, number=companion.pots, days=(plan.begins,),
    )]  # fmt: skip


def _place_of(season: Season, companion: Companion) -> Place | Finding:
    """The light place a companion grows in, or the finding that there is none."""
    if companion.place is None:
        return _unplanned(
            companion, "place", "no place to grow it on is stated", "Name a bench, frame or site of the places sheet."
        )  # fmt: skip
    try:
        place = season.place(companion.place)
    except KeyError:
        hint = "Correct the name, or add it to places."
        return _unplanned(companion, "place", "the season has no place of that name", hint, companion.place)
    if place.kind == "cooler":
        hint = "Name a bench, frame or site."
        return _unplanned(companion, "place", "a cooler is dark: nothing grows there", hint, companion.place)
    return place


def _grower(
    season: Season, climate: Climate, companion: Companion, recipe: CompanionRecipe, place: Place
) -> _Grower:
    calendar = season.calendar
    set_out = calendar.on_or_before(ready_day(season, companion))
    harden_days = max(LEAST_HARDENING, math.ceil(recipe.harden_days))
    harden = calendar.on_or_before(set_out - timedelta(days=harden_days))
    harden_at = place.name
    if place.kind == "bench":
        # The first frame whose temperatures are known; without one it is hardened where it stands.
        span = Span(harden, set_out)
        frames = (p.name for p in season.places if p.kind == "frame")
        harden_at = next((f for f in frames if climate.first_gap(f, span) is None), place.name)
    shows = _shows(season, companion, set_out)
    return _Grower(companion, recipe, place.name, harden_at, shows, harden, set_out, season, climate)


def _shows(season: Season, companion: Companion, set_out: date) -> tuple[tuple[str, str, Span, float], ...]:
    """(display, site, days there, pots) of each planting, in the order of the plantings table.

    Where no day is stated each display has its own: the last working day up to its opening.
    """
    displays, shows = {display.name: display for display in season.displays}, []
    for planting in season.plantings:
        shown = displays.get(planting.display)
        if planting.item != companion.name or shown is None:
            continue
        opens = set_out if companion.ready else season.calendar.on_or_before(shown.span.start)
        out = max(set_out, opens)
        if out < shown.span.end:
            pots = float(shown.containers * planting.per_container)
            shows.append((shown.name, shown.site, Span(out, shown.span.end), pots))
    return tuple(shows)


def _no_transplant(grower: _Grower) -> Finding:
    """Why no transplanting day leads to the set-out day: a temperature not known, or too cold a place."""
    climate = grower.climate
    for place, end in ((grower.harden_at, grower.set_out), (grower.place, grower.harden)):
        gaps = np.flatnonzero(climate.basis[place][: climate.index(end)] == GAP)
        if gaps.size and (place == grower.place or climate.day(int(gaps[-1])) >= grower.harden):
            return _unplanned(
                grower.companion, "place", f"no temperature is known for {place} on {climate.day(int(gaps[-1]))}",
                f"State day and night of {place}, setpoints, or normals if it is outdoors.", grower.companion.place,
            )  # fmt: skip
    base = show_temperature(grower.recipe.base, grower.season.unit)
    return _unplanned(
        grower.companion, "place", f"it gathers too little warmth above {base} to be finished by {grower.set_out}",
        "Grow it in a warmer place.", grower.companion.place,
    )  # fmt: skip


def _written_out(grower: _Grower, transplant: date | None, order: date | None) -> CompanionPlan:
    season, recipe, name = grower.season, grower.recipe, grower.companion.name
    pots, history = float(grower.companion.pots), grower.history.days
    harden, set_out, sow, sowing = grower.harden, grower.set_out, None, None
    steps: list[CompanionStep] = []
    if transplant is not None:
        if grower.companion.start == "seed" and recipe.sow_to_transplant > 0:
            raised = season.calendar.on_or_before(transplant - _days(recipe.sow_to_transplant))
            sow = history.get("sown") or grower.not_before or raised
            sowing = sowing_of(season, grower.companion, recipe, Span(sow, transplant))
            steps += _in_trays(grower, sowing, Span(sow, transplant))
        steps.append(CompanionStep(name, "grow", grower.place, Span(transplant, harden), pots))
    steps.append(CompanionStep(name, "harden", grower.harden_at, Span(harden, set_out), pots))
    for display, site, span, shown in grower.shows:
        if span.start > set_out:  # it waits where it was hardened
            steps.append(CompanionStep(name, "harden", grower.harden_at, Span(set_out, span.start), shown))
        steps.append(CompanionStep(name, "show", site, span, shown, display=display))
    return CompanionPlan(
        companion=grower.companion,
        recipe=recipe,
        ready=ready_day(season, grower.companion),
        begins=sow or transplant or harden,
        order=order,
        sow=sow,
        sowing=sowing,
        faded=history.get("faded"),
        transplant=transplant,
        pinch=None if transplant is None else history.get("pinched") or grower.pinch(transplant),
        harden=harden,
        set_out=set_out,
        finish=harden if transplant is None else grower.finish(transplant, recipe.need),
        place=grower.place,
        harden_at=grower.harden_at,
        need=recipe.need,
        assumed_days=sum(
            grower.climate.assumed(s.place, s.span)
            for s in steps
            if s.place and s.step not in ("sow", "show") and s.span.start < set_out
        ),
        steps=tuple(steps),
    )


def _in_trays(grower: _Grower, sowing: Sowing, span: Span) -> Iterator[CompanionStep]:
    """Its trays stand where that is stated, else where it will grow, or apart in the warm where that has no heat."""
    companion, season = grower.companion, grower.season
    warm = None if grower.place in unheated(season) else grower.place
    place = next((known.name for known in season.places if known.name == companion.trays_at), warm)
    pricked = sowing.prick_out or span.start
    for start, end, trays in ((span.start, pricked, sowing.open_trays), (pricked, span.end, sowing.trays)):
        if start < end:
            yield CompanionStep(companion.name, "sow", place, Span(start, end), float(companion.pots), trays)


def _days(number: float) -> timedelta:
    """Whole days, never fewer than the number."""
    return timedelta(days=math.ceil(number))


# ---------------------------------------------------------------- findings


def _unplanned(
    companion: Companion, column: str, reason: str, hint: str, value: str | None = None
) -> Finding:
    return Finding(
        "companion-unplanned", "error", "companions", companion.row, column,
        f"{companion.name} is not planned: {reason}", hint, value,
    )  # fmt: skip


def _risks(season: Season, climate: Climate, plan: CompanionPlan) -> Iterator[Finding]:
    """Frost on the way, a slow place, too few cool days for its flowers, hardening without a frame."""
    name, row, unit = plan.companion.name, plan.companion.row, season.unit
    own = fold(plan.recipe.crop)
    taken = [f for f in plan.recipe.figures.values() if fold(f.crop) != own and f.parameter not in CARE]
    if taken:
        yield Finding(
            "companion-like", "note", "companions", row, "as",
            f"{name}: not known of {plan.recipe.crop} and taken from {taken[0].crop}: "
            f"{listed([figure.parameter for figure in taken], 13)}",
            "Name the kind that it is most like in the column as, or give its own figures in crops.", lot=name,
        )  # fmt: skip
    for step in plan.steps:
        if (cold := _coldest(season, climate, plan, step)) is not None and cold.low < cold.limit - 1e-6:
            low, stands = show_temperature(cold.low, unit), show_temperature(cold.limit, unit)
            yield Finding(
                "companion-frost", "warning", "companions", row, "ready",
                f"{step.place} is expected at {low} on {cold.day} while {name} stands there, and "
                f"{plan.recipe.crop} stands {stands} by then, with the hardening it has had",
                "Cover it or bring it in on cold nights, or set it out later.", f"{plan.ready}", days=(cold.day,),
            )  # fmt: skip
    if plan.slow:
        yield Finding(
            "companion-slow", "warning", "companions", row, "place",
            f"{name} takes {plan.slow} days from transplanting in {plan.place}, where {plan.recipe.crop} takes "
            f"{plan.recipe.transplant_to_finish:g} at {show_temperature(plan.recipe.finish_reference, unit)}",
            "Grow it in a warmer place if there is one.", plan.place,
        )  # fmt: skip
    cool = _cool_days(climate, plan)
    if cool is not None and plan.recipe.cool_days is not None and cool < plan.recipe.cool_days:
        below = show_temperature(plan.recipe.cool_below or 0.0, unit)
        yield Finding(
            "companion-warm", "warning", "companions", row, "place",
            f"{name} has {cool} days below {below} before it is set out, but {plan.recipe.crop} needs "
            f"{plan.recipe.cool_days:g} to begin its flowers",
            "Grow it in a cooler place.", plan.place,
        )  # fmt: skip
    if season.place(plan.harden_at).kind == "bench":
        yield Finding(
            "companion-no-frame", "note", "companions", row, "place",
            f"{name} is hardened off where it grows: the season has no frame whose temperatures are known",
            "Add a frame with normals or temperatures, or harden it on that bench with cool nights, air and less "
            "water.",
            plan.place,
        )  # fmt: skip


class _Cold(NamedTuple):
    """The night of a stay on which the low is furthest below what the plant stands by then, or least above it."""

    day: date
    low: float  # °C
    limit: float  # °C


def _coldest(season: Season, climate: Climate, plan: CompanionPlan, step: CompanionStep) -> _Cold | None:
    """The worst night known of a stay by the limit that hardening has reached; None where none is known.

    Trays are not judged: they stand in the warm.
    """
    if step.place is None or step.step == "sow":
        return None
    start, end = climate.index(step.span.start), climate.index(step.span.end)
    lows, recipe = climate.low[step.place][start:end], plan.recipe
    if lows.size == 0 or bool(np.isnan(lows).all()):
        return None
    gone = start - climate.index(hardened_since(season, plan))
    limits = np.array([
        limit_reached(recipe.frost, hardening_reached(gone + n, recipe.harden_days)) for n in range(lows.size)
    ])  # fmt: skip
    night = int(np.nanargmin(lows - limits))
    return _Cold(climate.day(start + night), float(lows[night]), float(limits[night]))


def _too_cold(season: Season, climate: Climate, plan: CompanionPlan) -> Finding | None:
    """Why a companion cannot stand where it grows or is hardened, even hardened and as warm as a mat keeps it.

    By what the place usually has: what was read or is forecast of single nights asks for care in those nights.
    """
    for step in plan.steps:
        if step.step not in ("grow", "harden") or step.place is None:
            continue
        start, end = climate.index(step.span.start), climate.index(step.span.end)
        usual = ~np.isin(climate.basis[step.place][start:end], (GAP, MEASURED, FORECAST))
        lows = np.where(usual, climate.low[step.place][start:end], np.inf)
        if lows.size == 0 or cover_holds(float(lows.min()), plan.recipe.frost, MATTED, 0.0):
            continue
        day, unit = climate.day(start + int(lows.argmin())), season.unit
        return _unplanned(
            plan.companion, "place",
            f"{step.place} usually has {show_temperature(float(lows.min()), unit)} on {day}, and {plan.recipe.crop} "
            f"stands {show_temperature(plan.recipe.frost, unit)} hardened: a mat at night is not enough",
            "Grow and harden it where it is kept warmer, or have it ready later.", step.place,
        )  # fmt: skip
    return None


def _cool_days(climate: Climate, plan: CompanionPlan) -> int | None:
    """Days from transplanting to set-out with a mean below `cool_below`; None if the crop needs none."""
    if plan.recipe.cool_below is None or plan.transplant is None:
        return None
    count = 0
    for place, start, end in (
        (plan.place, plan.transplant, plan.harden), (plan.harden_at, plan.harden, plan.set_out)
    ):  # fmt: skip
        means = climate.mean(place)[climate.index(start) : climate.index(end)]
        count += int(np.count_nonzero(means < plan.recipe.cool_below))
    return count
