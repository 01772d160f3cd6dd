"""Frost nights: what to cover, close or bring in on which evenings, and the work of evening and morning.

One rule for every place without heat (displays, frames, benches, hardening grounds) and for bulbs and annuals alike.
What a plant stands goes from freezing point to the recipe's figure over the days that it is hardened or stands out;
the low is the latest forecast; nights without one are weighed in `night_chances.py`.
A low of a date is that of its early morning: the cover goes on the evening before and comes off that day.
The sky of a night is not in a forecast of temperatures, so every night is taken as clear and calm.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from forcing.dates import DAY, WEEKDAYS, Span
from forcing.engine.climate import unheated
from forcing.engine.companions import CompanionStep
from forcing.engine.context import Context
from forcing.engine.work.tasks import make_task
from forcing.errors import Finding
from forcing.model import Companion, Display, LotPlan, Season, Task
from forcing.recipes.book import LEAST_HARDENING
from forcing.science.frost import (
    LEAF_MARGIN,
    FrostCover,
    cover_holds,
    cover_wanted,
    hardening_reached,
    limit_reached,
)
from forcing.text import listed
from forcing.units import show_area, show_temperature

FREEZING = 0.0  # °C; what a plant is taken to stand where nothing is known of it

# Of the stated cloth, at most: practice, as in print a second layer helps but has no figure of its own.
LAYERS = 2
SHUT = "lights shut by mid-afternoon while it is warm, mats on before sunset"  # of a frame
FEW = 4  # names in a sentence; the task names all


@dataclass(frozen=True, slots=True)
class FrostCare:
    """What frost nights are judged by, beside the season itself. All of it may be left out.

    companion_limits: lowest temperature [°C] that a companion stands, hardened; None or left out is not
    known and taken as freezing point. companion_steps: where it stands and when; left out: in its displays from
    the day it is ready, else from their openings. companion_hardened: the day its hardening begins and how many
    days it takes; left out: hardened.
    cloth: m² over one container of a display; None or left out is not known.
    """

    companion_limits: Mapping[str, float | None] = field(default_factory=dict)
    companion_steps: Mapping[str, Sequence[CompanionStep]] = field(default_factory=dict)
    companion_hardened: Mapping[str, tuple[date, float]] = field(default_factory=dict)
    hardening: float = LEAST_HARDENING  # days until a lot that is put out stands what its recipe says
    cloth: Mapping[str, float | None] = field(default_factory=dict)
    cover: FrostCover | None = None  # None: kind of cover not stated
    margin: float = LEAF_MARGIN  # °C that leaves may be colder than the forecast


GroundKind = Literal["display", "frame", "ground"]


@dataclass(frozen=True, slots=True)
class FrostNight:
    """A display or other place to see to on an evening, because of a forecast low the next morning."""

    evening: date
    display: str  # or the frame, bench or ground
    site: str  # the place; that of a frame is the frame itself
    containers: int  # 0: no display
    low: float  # °C, forecast
    tenderest: str  # lot or companion
    limit: float  # °C that it stands that night
    area: float | None  # m² of cloth for the whole display, one layer; None: not known
    layers: int | None  # of the cloth that keep all; 0: more than LAYERS; None: its kind is not stated
    assumed: tuple[str, ...] = ()  # companions standing there of which no limit is known
    row: int | None = None  # of the reading
    inside: tuple[str, ...] = ()  # to bring in, most tender first, where no cover is enough
    pots: float = 0.0  # of those
    kind: GroundKind = "display"
    margin: float = LEAF_MARGIN  # °C that leaves may be colder than the forecast

    @property
    def cover_at(self) -> float:
        """The low [°C] from which it asks for the cover."""
        return self.limit + self.margin

    @property
    def morning(self) -> date:
        return self.evening + DAY

    @property
    def frost(self) -> bool:
        """Whether it is frost: freezing, or colder than the tenderest stands; else a night near enough to that."""
        return self.low <= FREEZING or self.low < self.limit


@dataclass(frozen=True, slots=True)
class Stander:
    name: str
    limit: float | None  # °C, hardened
    evenings: Span  # on which it stands there
    out: date | None  # since when it is hardened or stands without heat; None: hardened
    days: float  # that hardening takes
    pots: float

    def stands(self, evening: date) -> float:
        """°C that it stands on an evening, by the hardening reached."""
        hardened = FREEZING if self.limit is None else self.limit
        reached = 1.0 if self.out is None else hardening_reached((evening - self.out).days, self.days)
        return limit_reached(hardened, reached)


@dataclass(frozen=True, slots=True)
class Ground:
    """A display, or a place without heat, with what stands there."""

    name: str
    site: str
    kind: GroundKind
    standers: Sequence[Stander]
    until: date  # the first day it is no longer looked at
    display: Display | None = None

    def there(self, evening: date) -> list[Stander]:
        """What stands there that evening, most tender first."""
        found = [stander for stander in self.standers if evening in stander.evenings]
        return sorted(found, key=lambda s: (-s.stands(evening), s.name))

    def evenings(self, on: date) -> Span:
        """From the first to the last on which something may stand there, those before `on` left out."""
        first = max(on, min((s.evenings.start for s in self.standers), default=on))
        last = max((s.evenings.end for s in self.standers), default=first)
        return Span(first, max(first, min(last, self.until - DAY)))


def frost_nights(
    season: Season, plan_lots: Sequence[LotPlan], on: date, care: FrostCare | None = None
) -> tuple[FrostNight, ...]:
    """The nights on which something without heat needs care, from readings marked forecast; mornings from `on`.

    That is where the low is at or below what the tenderest plant standing there that evening stands by then,
    plus the margin. Of several forecasts for a day the last in the file counts. A place without a forecast of its
    own takes the coldest of the sites: a closed frame is not counted on to be warmer. In order of evening, place.
    """
    care = care or FrostCare()
    lows, outdoors = forecasts(season, on)
    nights = []
    for ground in grounds(season, plan_lots, care):
        mine = {day: low for (place, day), low in lows.items() if place == ground.site}
        for morning, (low, row) in (outdoors | mine).items():
            there = ground.there(morning - DAY) if morning < ground.until else []
            if there and cover_wanted(low, there[0].stands(morning - DAY), care.margin):
                nights.append(_night(ground, there, morning - DAY, low, row, care))
    return tuple(sorted(nights, key=lambda n: n.evening))


def _night(
    ground: Ground, there: Sequence[Stander], evening: date, low: float, row: int | None, care: FrostCare
) -> FrostNight:
    each = None if ground.display is None else care.cloth.get(ground.name)
    containers = 0 if ground.display is None else ground.display.containers
    layers, inside = None, []
    if care.cover is not None:
        held = care.cover.counted_on
        kept = [
            n for n in range(1, LAYERS + 1)
            if cover_holds(low, there[0].stands(evening), n * held, care.margin)
        ]  # fmt: skip
        layers = min(kept, default=0)
        if not layers:
            inside = [s for s in there if not cover_holds(low, s.stands(evening), LAYERS * held, care.margin)]
    return FrostNight(
        evening, ground.name, ground.site, containers, low, there[0].name, there[0].stands(evening),
        None if each is None else each * containers, layers, tuple(sorted({s.name for s in there if s.limit is None})),
        row, tuple(dict.fromkeys(s.name for s in inside)), sum(s.pots for s in inside), ground.kind,
        care.margin,
    )  # fmt: skip


_Low = tuple[float, int | None]  # °C, and the row of the reading


def forecasts(season: Season, on: date) -> tuple[dict[tuple[str, date], _Low], dict[date, _Low]]:
    """The forecast lows by place and morning, the later row standing in for the earlier; the coldest of the sites."""
    lows = {
        (r.place, r.date): (r.low, r.row)
        for r in season.readings
        if r.kind == "forecast" and r.low is not None and r.date >= on
    }
    sites = {place.name for place in season.places if place.kind == "site"}
    outdoors: dict[date, _Low] = {}
    for (place, day), low in lows.items():
        if place in sites and (day not in outdoors or low[0] < outdoors[day][0]):
            outdoors[day] = low
    return lows, outdoors


def frost_tasks(
    season: Season, nights: Sequence[FrostNight], context: Context, plan_lots: Sequence[LotPlan] = (),
    care: FrostCare | None = None,
) -> tuple[Task, ...]:  # fmt: skip
    """The work of frost nights in order of day: off in the morning, what to hold back, on and in by the evening.

    Frost does not wait for a working day, so neither do these. The minutes per pot of cover and uncover count for
    each container. Raises KeyError without them.
    """
    tasks = [task for night in nights for task in _night_tasks(season, night, context)]
    tasks += [
        make_task(
            context, "hold set-out", night.display, night.evening.isoformat(), night.evening, place=night.site,
            lot=standers[0].name if len(standers) == 1 else None, hours=0.0,
            look_for=_decision(season, night, standers),
        )
        for night, standers in _held_back(season, nights, plan_lots, care or FrostCare())
    ]  # fmt: skip
    clock = {"uncover": 0, "hold set-out": 1, "cover": 2, "move": 3}
    return tuple(sorted(tasks, key=lambda task: (task.date, clock[task.key.split("/")[0]])))


def _night_tasks(season: Season, night: FrostNight, context: Context) -> Iterator[Task]:
    cover, uncover = ("close and mat", "open") if night.kind == "frame" else ("cover", "uncover")
    to = None if night.display == night.site else night.display
    for task, kind, day, words in (
        (cover, "cover", night.evening, _cover_words(season, night)),
        (uncover, "uncover", night.morning, _uncover_words(season, night)),
    ):
        yield make_task(
            context, task, night.display, night.evening.isoformat(), day, place=night.site, look_for=words,
            count=max(night.containers, 1), kind=kind, to=to,
        )  # fmt: skip
    if night.inside:
        # Back out in the morning is half of the work.
        yield make_task(
            context, "bring in for the night", night.display, night.evening.isoformat(), night.evening,
            place=night.site, pots=night.pots, count=2 * night.pots, kind="move",
            look_for=f"{night.display}: most tender first: {', '.join(night.inside)}; frost-free, not warm; "
            "back out when the cover comes off",
        )  # fmt: skip


def _decision(season: Season, night: FrostNight, standers: Sequence[Stander]) -> str:
    """What is to be decided of those that are to be set out into a frost night, in words."""
    tenderest = max(standers, key=lambda s: s.stands(night.evening))
    it, was, stands = ("it", "was", "it stands") if len(standers) == 1 else (
        "them", "were", f"the tenderest, {tenderest.name}, stands"
    )  # fmt: skip
    return (
        f"decide before noon: {listed([s.name for s in standers])} {was} to go to {night.display}, a low of "
        f"{show_temperature(night.low, season.unit)} is forecast for the next morning and {stands} "
        f"{show_temperature(tenderest.stands(night.evening), season.unit)} so far; keep {it} in until the forecast is "
        f"better, or set {it} out and cover {it}"
    )


def _held_back(
    season: Season, nights: Sequence[FrostNight], plan_lots: Sequence[LotPlan], care: FrostCare
) -> Iterator[tuple[FrostNight, list[Stander]]]:
    """Frost nights with the lots and companions that are to be set out into each."""
    ways = {(ground.name, ground.site): ground for ground in grounds(season, plan_lots, care)}
    for night in nights:
        ground = ways.get((night.display, night.site))
        new = [
            stander
            for stander in (ground.there(night.evening) if ground and ground.display else ())
            if stander.evenings.start == night.evening
            and cover_wanted(night.low, stander.stands(night.evening), care.margin)
        ]
        if new:
            yield night, new


def frost_findings(season: Season, nights: Sequence[FrostNight], on: date) -> Iterator[Finding]:
    """What is not known or not enough about frost nights: lows, limits, cloth, covers, days off."""
    sites = {display.site for display in season.displays} | set(unheated(season))
    for reading in season.readings:
        forecast = reading.kind == "forecast" and reading.place in sites and reading.date >= on
        if forecast and reading.low is None:
            yield Finding(
                "forecast-no-low", "warning", "readings", reading.row, "low",
                f"the forecast for {reading.place} on {reading.date} has no low, so its night is not judged",
                "Give the forecast low.", days=(reading.date,),
            )  # fmt: skip
    rows = {display.name: display.row for display in season.displays}
    square = "square feet" if season.measures == "US" else "square metres"
    for name in dict.fromkeys(n.display for n in nights if n.kind == "display" and n.area is None):
        yield Finding(
            "cover-area-unknown", "note", "displays", rows[name], None,
            f"{name} has frost nights, but the cloth that covers one container is not known",
            f"State the {square} for a container, or its shape and measures: the cloth reaches the ground all round.",
        )  # fmt: skip
    companions = {companion.name: companion.row for companion in season.companions}
    for name in dict.fromkeys(name for n in nights for name in n.assumed):
        yield Finding(
            "frost-limit-unknown", "warning", "companions", companions.get(name), None,
            f"how much cold {name} stands is not known: taken as {show_temperature(FREEZING, season.unit)}",
            "State the lowest temperature it stands, hardened.",
        )  # fmt: skip
    for evening in dict.fromkeys(n.evening for n in nights if n.layers in (0, LAYERS) and n.evening >= on):
        thin = [n for n in nights if n.evening == evening and n.layers in (0, LAYERS)]
        coldest = min(thin, key=lambda n: n.low)
        yield Finding(
            "cover-too-thin", "warning", "readings", coldest.row, "low",
            f"on the night of {evening} one layer of the cover is not sure to be enough in "
            f"{listed([n.display for n in thin])}",
            "; ".join(f"{n.display}: {cover_answer(n)}" for n in thin) + ".",
            show_temperature(coldest.low, season.unit), days=(evening,),
        )  # fmt: skip
    days_off: dict[date, list[str]] = {}
    for night in nights:
        for day in (night.evening, night.morning):
            if day >= on and nobody_in(season, day):
                days_off.setdefault(day, []).append(night.display)
    for day, names in sorted(days_off.items()):
        yield Finding(
            "frost-day-off", "warning", "season", None, "working days",
            f"{WEEKDAYS[day.weekday()]} {day} is no working day, but covers go on or come off: "
            f"{', '.join(dict.fromkeys(names))}",
            "Find someone for that day.", days=(day,),
        )  # fmt: skip


# ---------------------------------------------------------------- inside


def nobody_in(season: Season, day: date) -> bool:
    """Whether nobody is there on a day off to see to covers: duty by the day of the week does not hold on holidays."""
    stated = day.weekday() in dict(season.duty) and day not in season.calendar.holidays
    return not (season.calendar.works(day) or stated)


def grounds(season: Season, plan_lots: Sequence[LotPlan], care: FrostCare) -> list[Ground]:
    """The displays, then the other places without heat, with what stands in them."""
    free = unheated(season)
    made = [
        Ground(d.name, d.site, "display", _standers(season, d, plan_lots, care, free), d.span.end, d)
        for d in season.displays if d.site in free
    ]  # fmt: skip
    # What finishes in its containers is seen to with its display.
    shown = {(ground.site, stander.name) for ground in made for stander in ground.standers}
    for place in season.places:
        if place.name in free:
            standers = [
                _lot_stander(plan, step.span, plan.lot.pots, care, free)
                for plan in plan_lots for step in plan.steps
                if step.place == place.name and step.step not in ("root", "cool")
                and (place.name, plan.lot.name) not in shown
            ] + [
                _companion_stander(companion, step.span, step.pots, care)
                for companion in season.companions for step in care.companion_steps.get(companion.name, ())
                if step.place == place.name and step.display is None
            ]  # fmt: skip
            kind: GroundKind = "frame" if place.kind == "frame" else "ground"
            made.append(Ground(place.name, place.name, kind, standers, date.max))
    return made


def _lot_stander(plan: LotPlan, evenings: Span, pots: float, care: FrostCare, free: Sequence[str]) -> Stander:
    """Hardening begins with the step of that name, else with the first days without heat."""
    out = min(
        (s.span.start for s in plan.steps
         if s.step == "harden" or (s.place in free and s.step not in ("root", "cool"))),
        default=evenings.start,
    )  # fmt: skip
    return Stander(plan.lot.name, plan.recipe.frost, evenings, out, care.hardening, pots)


def _companion_stander(companion: Companion, evenings: Span, pots: float, care: FrostCare) -> Stander:
    out, days = care.companion_hardened.get(companion.name, (None, LEAST_HARDENING))
    limit = care.companion_limits.get(companion.name)
    return Stander(companion.name, limit, evenings, out, days, pots)


def _standers(
    season: Season, display: Display, plan_lots: Sequence[LotPlan], care: FrostCare, free: Sequence[str]
) -> list[Stander]:
    """The lots and companions of a display, with the evenings on which they stand at its site."""
    planted: Counter[str] = Counter()
    for planting in season.plantings:
        if planting.display == display.name:
            planted[planting.item] += planting.per_container * display.containers
    standers = [
        _lot_stander(
            plan, step.span, min(planted[plan.lot.stated_name] or plan.lot.pots, plan.lot.pots), care, free
        )
        for plan in plan_lots
        if plan.lot.display == display.name or plan.lot.stated_name in planted
        for step in plan.steps
        if step.place == display.site
    ]
    for companion in season.companions:
        if companion.name in planted:
            out = companion.ready or display.span.start
            steps = care.companion_steps.get(companion.name)
            stays = (
                [(Span(out, max(out, display.span.end)), planted[companion.name])]
                if steps is None
                else [(step.span, step.pots) for step in steps if step.display == display.name]
            )
            standers += [_companion_stander(companion, span, pots, care) for span, pots in stays]
    return [stander for stander in standers if stander.evenings.days]


def cover_answer(night: FrostNight) -> str:
    """Whether the stated cloth is enough, the same on every paper; empty where one layer is, or none is stated."""
    if night.layers == 0:
        return f"two layers are not sure to be enough: bring in {listed(night.inside, FEW)}"
    return "two layers, one is not sure to be enough" if night.layers == 2 else ""


def _cover_words(season: Season, night: FrostNight) -> str:
    cloth = (
        "cloth not measured" if night.area is None else f"{show_area(night.area, season.measures)} of cloth"
    )
    containers = "1 container" if night.containers == 1 else f"{night.containers} containers"
    what = f"{containers}, {cloth}; before sunset, down to the soil, edges sealed"
    if night.kind == "frame":
        what = SHUT
    elif night.kind == "ground":
        what = "cloth over all pots before sunset, down to the ground, edges sealed"
    # What must be done comes first: a sheet may shorten a line that long names have made too long.
    answer = cover_answer(night)
    return (
        f"{night.display}: {what}; {answer + '; ' if answer else ''}"
        f"low of {show_temperature(night.low, season.unit)} forecast; "
        f"tenderest {night.tenderest}, to {show_temperature(night.limit, season.unit)}"
    )


def _uncover_words(season: Season, night: FrostNight) -> str:
    freezing = show_temperature(FREEZING, season.unit)
    return (
        f"{night.display}: once the air is above {freezing} and it has warmed, plastic before the sun heats it; "
        "leave frosted leaves untouched until thawed; ice underfoot"
    )
