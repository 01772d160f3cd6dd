"""Companion annuals counted back from the day they are set out: harden off, pinch, transplant, sow, order.

From transplanting on a companion gathers heat at the temperatures of its place, and of the frame while it is
hardened off there; it is finished on the first day by whose start the heat has reached the recipe's need.
Transplanting is the latest working day whose forward run is finished by the set-out day: forward is the judge,
as for lots. Sowing to transplanting is a number of days: seed is taken to be raised warm, apart from the places
of the season. Hardening is at least two weeks (California Master Gardener Handbook, 2nd ed., UC ANR).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from forcing.dates import WEEK, Span
from forcing.engine.climate import GAP, Climate
from forcing.errors import Finding, RecipeError
from forcing.model import LATER, Companion, Occupancy, Place, Season
from forcing.recipes.book import LEAST_HARDENING, CompanionBook, CompanionRecipe
from forcing.science.flowering import need_at_confidence
from forcing.units import show_temperature

SLOW = 2  # times its days at the reference: beyond that the place is too cold for it to be worth the bench
ROOTING_IN = 7  # days in the pot before hardening starts: common practice, no source; from memory
CompanionStepName = Literal["sow", "grow", "harden", "show"]


@dataclass(frozen=True, slots=True)
class CompanionStep:
    """Pots of a companion in a place for a span of days. `place` is None while it is raised from seed."""

    companion: str
    step: CompanionStepName
    place: str | None
    span: Span
    pots: float


@dataclass(frozen=True, slots=True)
class CompanionPlan:
    """The dates of one companion, proven by running them forward."""

    companion: Companion
    recipe: CompanionRecipe
    ready: date  # the day wanted; set_out is the last working day up to it
    order: date
    sow: date
    transplant: date
    pinch: date | None  # None: not pinched
    harden: date
    set_out: date
    finish: date | None  # of the typical pot; None: later than temperatures are known
    place: str
    harden_at: str  # a frame, or `place` where there is none
    need: float  # °C·d from transplanting, typical pot
    assumed_days: int  # days from transplanting to set-out whose temperature is not measured
    steps: tuple[CompanionStep, ...]


@dataclass(frozen=True, slots=True)
class _Grower:
    """A companion with all that decides its dates."""

    companion: Companion
    recipe: CompanionRecipe
    place: str
    harden_at: str
    shows: tuple[tuple[str, Span, float], ...]  # site, days there, pots
    harden: date
    set_out: date
    season: Season
    climate: Climate

    def finish(self, transplant: date, need: float) -> date | None:
        """First day by which `need` [°C·d] is gathered since transplanting; None if not known."""
        last = self.shows[0][0] if self.shows else self.harden_at
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
        """Heat [°C·d] of a pot as slow as the season's confidence asks; the typical pot's at 0.5, or unstated."""
        chance = LATER if self.season.confidence is None else self.season.confidence
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
    season: Season, climate: Climate, book: CompanionBook
) -> tuple[tuple[CompanionPlan, ...], tuple[Finding, ...]]:
    """The plans of a season's companions, and findings: those that cannot be planned, and what is risky."""
    plans: list[CompanionPlan] = []
    findings: list[Finding] = []
    for companion in season.companions:
        answer = _plan(season, climate, book, companion)
        if isinstance(answer, Finding):
            findings.append(answer)
        else:
            plans.append(answer)
            findings.extend(_risks(season, climate, answer))
    return tuple(plans), tuple(findings)


def companion_stays(plan: CompanionPlan) -> tuple[Occupancy, ...]:
    """The room of each stay, so that it is counted with the bulbs.

    Room is pots times the square of their width. On a site it is the pots of the displays there; a companion of no
    display is counted up to its set-out day. Trays of seedlings are raised apart and not counted.
    """
    width = plan.recipe.pot / 15.0
    return tuple(Occupancy(s.place, s.span, s.pots * width**2) for s in plan.steps if s.place is not None)


def ready_day(season: Season, companion: Companion) -> date:
    """The day a companion is wanted: as stated, else the first opening of its displays, else of the show."""
    if companion.ready is not None:
        return companion.ready
    shows = {display.name: display.span.start for display in season.displays}
    opens = [shows[p.display] for p in season.plantings if p.item == companion.name and p.display in shows]
    return min(opens, default=season.span.start)


# ---------------------------------------------------------------- planning one


def _plan(
    season: Season, climate: Climate, book: CompanionBook, companion: Companion
) -> CompanionPlan | Finding:
    try:
        recipe = book.recipe(companion.crop)
    except RecipeError as error:
        known = book.knows(companion.crop)
        hint = "Mend its rows in the crops table." if known else (
            "Use one of those names, or give the crop's figures in the crops table."
        )  # fmt: skip
        return _unplanned(companion, "crop", str(error), hint, companion.crop)
    problems = book.check(recipe, season.unit)
    if problems:
        reason = f"its recipe contradicts itself: {'; '.join(problems)}"
        return _unplanned(companion, "crop", reason, "Mend its rows in the crops table.", companion.crop)
    place = _place_of(season, companion)
    if isinstance(place, Finding):
        return place
    grower = _grower(season, climate, companion, recipe, place)
    if not (climate.start < grower.harden and grower.set_out <= climate.day(climate.days)):
        return _unplanned(
            companion, "ready", f"{grower.set_out} lies outside the days of this season",
            f"Give a day near the show, which opens on {season.span.start}.", str(ready_day(season, companion)),
        )  # fmt: skip
    transplant = grower.transplant()
    if transplant is None:
        return _no_transplant(grower)
    return _written_out(grower, transplant)


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


def _shows(season: Season, companion: Companion, set_out: date) -> tuple[tuple[str, Span, float], ...]:
    """(site, days there, pots) of each planting, in the order of the plantings table."""
    displays = {display.name: display for display in season.displays}
    return tuple(
        (shown.site, Span(set_out, shown.span.end), float(shown.containers * planting.per_container))
        for planting in season.plantings
        if planting.item == companion.name
        and (shown := displays.get(planting.display)) is not None
        and set_out < shown.span.end
    )


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


def _written_out(grower: _Grower, transplant: date) -> CompanionPlan:
    season, calendar, recipe, name = (
        grower.season, grower.season.calendar, grower.recipe, grower.companion.name
    )  # fmt: skip
    sow = calendar.on_or_before(transplant - _days(recipe.sow_to_transplant))
    pots = float(grower.companion.pots)
    steps = [
        CompanionStep(name, "sow", None, Span(sow, transplant), pots),
        CompanionStep(name, "grow", grower.place, Span(transplant, grower.harden), pots),
        CompanionStep(name, "harden", grower.harden_at, Span(grower.harden, grower.set_out), pots),
        *(CompanionStep(name, "show", site, span, shown) for site, span, shown in grower.shows),
    ]
    return CompanionPlan(
        companion=grower.companion,
        recipe=recipe,
        ready=ready_day(season, grower.companion),
        order=calendar.on_or_before(sow - WEEK * season.order_weeks),
        sow=sow,
        transplant=transplant,
        pinch=grower.pinch(transplant),
        harden=grower.harden,
        set_out=grower.set_out,
        finish=grower.finish(transplant, recipe.need),
        place=grower.place,
        harden_at=grower.harden_at,
        need=recipe.need,
        assumed_days=sum(grower.climate.assumed(s.place, s.span) for s in steps[1:3] if s.place),
        steps=tuple(steps),
    )


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
    for step in plan.steps:
        cold = None if step.place is None else _coldest(climate, step.place, step.span)
        if cold is not None and cold[1] < plan.recipe.frost - 1e-6:
            low, stands = show_temperature(cold[1], unit), show_temperature(plan.recipe.frost, unit)
            yield Finding(
                "companion-frost", "warning", "companions", row, "ready",
                f"{step.place} is expected at {low} on {cold[0]} while {name} stands there, and "
                f"{plan.recipe.crop} stands {stands} when hardened",
                "Cover it or bring it in on cold nights, or set it out later.", f"{plan.ready}", days=(cold[0],),
            )  # fmt: skip
    days = (plan.set_out - plan.transplant).days
    if days > SLOW * plan.recipe.transplant_to_finish:
        yield Finding(
            "companion-slow", "warning", "companions", row, "place",
            f"{name} takes {days} days from transplanting in {plan.place}, where {plan.recipe.crop} takes "
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


def _coldest(climate: Climate, place: str, span: Span) -> tuple[date, float] | None:
    """Day and low [°C] of the coldest night known in a span; None where none is known."""
    start = climate.index(span.start)
    lows = climate.low[place][start : climate.index(span.end)]
    if lows.size == 0 or bool(np.isnan(lows).all()):
        return None
    day = int(np.nanargmin(lows))
    return climate.day(start + day), float(lows[day])


def _cool_days(climate: Climate, plan: CompanionPlan) -> int | None:
    """Days from transplanting to set-out with a mean below `cool_below`; None if the crop needs none."""
    if plan.recipe.cool_below is None:
        return None
    count = 0
    for place, start, end in (
        (plan.place, plan.transplant, plan.harden), (plan.harden_at, plan.harden, plan.set_out)
    ):  # fmt: skip
        means = climate.mean(place)[climate.index(start) : climate.index(end)]
        count += int(np.count_nonzero(means < plan.recipe.cool_below))
    return count
