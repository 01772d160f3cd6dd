"""Frost nights: which displays to cover on which evenings, with what, and the work of evening and morning.

A low of a date is that of its early morning: the cover goes on the evening before and comes off that day.
The sky of a night is not in a forecast of temperatures, so every night is taken as clear and calm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from forcing.dates import DAY, WEEKDAYS, Span
from forcing.engine.context import Context
from forcing.engine.work.tasks import make_task
from forcing.errors import Finding
from forcing.model import Display, LotPlan, Season, Task
from forcing.science.frost import (
    LEAF_MARGIN,
    NORTH,
    FreezeSeason,
    FrostCover,
    MonthDay,
    SpringWindow,
    chance_from,
    cover_holds,
    cover_wanted,
    frost_date,
    last_freezes,
    nightly_chance,
)
from forcing.units import show_temperature

FREEZING = 0.0  # °C; what a plant is taken to stand where nothing is known of it

RARE = 0.1  # one spring in ten


@dataclass(frozen=True, slots=True)
class FrostCare:
    """What frost nights are judged by, beside the season itself. All of it may be left out.

    companion_limits: lowest temperature [°C] that a companion stands, hardened; None or left out is not
    known and taken as freezing point. companion_out: the day it is set out; left out: the day it is ready,
    else the day its display opens. cloth: m² over one container of a display; None or left out is not known.
    """

    companion_limits: Mapping[str, float | None] = field(default_factory=dict)
    companion_out: Mapping[str, date] = field(default_factory=dict)
    cloth: Mapping[str, float | None] = field(default_factory=dict)
    cover: FrostCover | None = None  # None: kind of cover not stated
    margin: float = LEAF_MARGIN  # °C that leaves may be colder than the forecast


@dataclass(frozen=True, slots=True)
class Minima:
    """Daily minima [°C] that the user supplies for a site, one for each date; None is a missing day."""

    dates: Sequence[date]
    lows: Sequence[float | None]


@dataclass(frozen=True, slots=True)
class FrostNight:
    """A display to cover on an evening, because of a forecast low the next morning."""

    evening: date
    display: str
    site: str
    containers: int
    low: float  # °C, forecast
    tenderest: str  # lot or companion
    limit: float  # °C that it stands
    area: float | None  # m² of cloth for the whole display; None: not known
    holds: bool | None  # whether the cover is enough; None: its kind is not stated
    assumed: tuple[str, ...] = ()  # companions standing there of which no limit is known
    row: int | None = None  # of the reading

    @property
    def morning(self) -> date:
        return self.evening + DAY


@dataclass(frozen=True, slots=True)
class NightChance:
    """The chance that a display needs its cover on a night without a forecast, from past daily minima."""

    evening: date
    display: str
    tenderest: str
    limit: float  # °C that it stands
    threshold: float  # °C: a low at or below it asks for the cover
    chance: float | None  # of that night; None: no minima of that time of year
    later: float | None  # of that night or any later one of the spring; None: not known, or not in spring
    years: int  # springs that `later` rests on
    last: date | None = (
        None  # after it such a low came in one spring of ten; None: not known, or not in spring
    )


@dataclass(frozen=True, slots=True)
class _Stander:
    name: str
    limit: float | None
    evenings: Span  # on which it stands in the display


def frost_nights(
    season: Season, plan_lots: Sequence[LotPlan], on: date, care: FrostCare | None = None
) -> tuple[FrostNight, ...]:
    """The nights on which a display needs its cover, from readings marked forecast; mornings from `on`.

    A display is covered where the low is at or below what the tenderest plant standing there that evening
    stands, plus the margin. Of several forecasts for a day the coldest counts. In order of evening, display.
    """
    care = care or FrostCare()
    lows: dict[tuple[str, date], tuple[float, int | None]] = {}
    for reading in season.readings:
        if reading.kind == "forecast" and reading.low is not None and reading.date >= on:
            at = (reading.place, reading.date)
            if at not in lows or reading.low < lows[at][0]:
                lows[at] = (reading.low, reading.row)
    nights = []
    for display in season.displays:
        standers = _standers(season, display, plan_lots, care)
        for (site, morning), (low, row) in lows.items():
            found = _tenderest(standers, morning - DAY)
            if site != display.site or morning >= display.span.end or found is None:
                continue
            name, limit, assumed = found
            if cover_wanted(low, limit, care.margin):
                holds = None
                if care.cover is not None:
                    holds = cover_holds(low, limit, care.cover.counted_on, care.margin)
                nights.append(
                    FrostNight(
                        morning - DAY, display.name, site, display.containers, low, name, limit,
                        _cloth(display, care), holds, assumed, row,
                    )
                )  # fmt: skip
    order = {display.name: i for i, display in enumerate(season.displays)}
    return tuple(sorted(nights, key=lambda n: (n.evening, order[n.display])))


def night_chances(
    season: Season,
    plan_lots: Sequence[LotPlan],
    on: date,
    minima: Mapping[str, Minima],
    care: FrostCare | None = None,
    window: SpringWindow = NORTH,
) -> tuple[NightChance, ...]:
    """The chance that each display needs its cover, for every night from `on` that has no forecast.

    minima: daily minima by site; a display at a site without them gets no rows. `chance` is the share of
    years with such a low on that night, pooled over a week of nights; `later` counts last freezes of the
    spring `window`. Raises ValueError where a site's minima have a date twice or uneven lengths.
    """
    care = care or FrostCare()
    told = {(r.place, r.date) for r in season.readings if r.kind == "forecast" and r.low is not None}
    shares: dict[tuple[str, float], dict[MonthDay, float | None]] = {}
    springs: dict[tuple[str, float], tuple[FreezeSeason, ...]] = {}
    chances = []
    for display in season.displays:
        standers = _standers(season, display, plan_lots, care)
        if display.site not in minima or not standers:
            continue
        past = minima[display.site]
        first = max(on, min(stander.evenings.start for stander in standers))
        for evening in Span(first, max(first, display.span.end - DAY)):
            found, morning = _tenderest(standers, evening), evening + DAY
            if found is None or (display.site, morning) in told:
                continue
            name, limit, _ = found
            at = (display.site, limit + care.margin)
            if at not in shares:
                # A low typed as 36 °F may lie a rounding error above the same limit worked out in °C.
                shares[at] = nightly_chance(past.dates, past.lows, at[1] + 1e-9)
                springs[at] = last_freezes(past.dates, past.lows, at[1] + 1e-9, window)
            spring = window.season(morning)
            chances.append(
                NightChance(
                    evening, display.name, name, limit, at[1],
                    shares[at][morning.month, morning.day],
                    None if spring is None else chance_from(springs[at], morning, window=window),
                    sum(s.outcome != "not known" for s in springs[at]),
                    None if spring is None else frost_date(springs[at], RARE, window=window).in_year(spring),
                )
            )  # fmt: skip
    order = {display.name: i for i, display in enumerate(season.displays)}
    return tuple(sorted(chances, key=lambda n: (n.evening, order[n.display])))


def frost_tasks(season: Season, nights: Sequence[FrostNight], context: Context) -> tuple[Task, ...]:
    """Covering on the evening and uncovering on the morning of each frost night, in order of day and display.

    Frost does not wait for a working day, so neither do these. The minutes per pot of cover and uncover count for
    each container. Raises KeyError without them.
    """
    tasks = [
        make_task(
            context, name, night.display, night.evening.isoformat(), day, place=night.site, look_for=look_for,
            count=night.containers,
        )
        for night in nights
        for name, day, look_for in (
            ("cover", night.evening, _cover_words(season, night)),
            ("uncover", night.morning, _uncover_words(season, night)),
        )
    ]  # fmt: skip
    return tuple(sorted(tasks, key=lambda task: (task.date, task.task == "cover", task.key)))


def frost_findings(season: Season, nights: Sequence[FrostNight], on: date) -> Iterator[Finding]:
    """What is not known or not enough about frost nights: lows, limits, cloth, covers, days off."""
    sites = {display.site for display in season.displays}
    for reading in season.readings:
        forecast = reading.kind == "forecast" and reading.place in sites and reading.date >= on
        if forecast and reading.low is None:
            yield Finding(
                "forecast-no-low", "warning", "readings", reading.row, "low",
                f"the forecast for {reading.place} on {reading.date} has no low, so its night is not judged",
                "Give the forecast low.", days=(reading.date,),
            )  # fmt: skip
    rows = {display.name: display.row for display in season.displays}
    for name in dict.fromkeys(n.display for n in nights if n.area is None):
        yield Finding(
            "cover-area-unknown", "note", "displays", rows[name], None,
            f"{name} has frost nights, but the cloth that covers one container is not known",
            "State the square metres for a container, or measure one: the cloth reaches the ground all round.",
        )  # fmt: skip
    companions = {companion.name: companion.row for companion in season.companions}
    for name in dict.fromkeys(name for n in nights for name in n.assumed):
        yield Finding(
            "frost-limit-unknown", "warning", "companions", companions.get(name), None,
            f"how much cold {name} stands is not known: taken as {show_temperature(FREEZING, season.unit)}",
            "State the lowest temperature it stands, hardened.",
        )  # fmt: skip
    for night in nights:
        if night.holds is False:
            yield Finding(
                "cover-too-thin", "warning", "readings", night.row, "low",
                f"on the night of {night.evening} the cover is not sure to keep {night.tenderest} in "
                f"{night.display} above {show_temperature(night.limit, season.unit)}",
                "Use a second layer or a thicker cover, or take the tenderest pots in for the night.",
                show_temperature(night.low, season.unit), days=(night.evening,),
            )  # fmt: skip
    days_off: dict[date, list[str]] = {}
    for night in nights:
        for day in (night.evening, night.morning):
            if day >= on and not season.calendar.works(day):
                days_off.setdefault(day, []).append(night.display)
    for day, names in sorted(days_off.items()):
        yield Finding(
            "frost-day-off", "warning", "season", None, "working days",
            f"{WEEKDAYS[day.weekday()]} {day} is no working day, but covers go on or come off: "
            f"{', '.join(dict.fromkeys(names))}",
            "Find someone for that day.", days=(day,),
        )  # fmt: skip


# ---------------------------------------------------------------- inside


def _standers(
    season: Season, display: Display, plan_lots: Sequence[LotPlan], care: FrostCare
) -> list[_Stander]:
    """The lots and companions of a display, with the evenings on which they stand at its site."""
    planted = {p.item for p in season.plantings if p.display == display.name}
    standers = [
        _Stander(plan.lot.name, plan.recipe.frost, step.span)
        for plan in plan_lots
        if plan.lot.display == display.name or plan.lot.stated_name in planted
        for step in plan.steps
        if step.place == display.site
    ]
    for companion in season.companions:
        if companion.name in planted:
            out = care.companion_out.get(companion.name) or companion.ready or display.span.start
            stands = Span(out, max(out, display.span.end))
            standers.append(_Stander(companion.name, care.companion_limits.get(companion.name), stands))
    return [stander for stander in standers if stander.evenings.days]


def _tenderest(standers: Sequence[_Stander], evening: date) -> tuple[str, float, tuple[str, ...]] | None:
    """(name, limit, those of unknown limit) of what stands there that evening; None where nothing does."""
    there = [stander for stander in standers if evening in stander.evenings]
    if not there:
        return None
    limits = {s.name: FREEZING if s.limit is None else s.limit for s in there}
    name = min(limits, key=lambda n: (-limits[n], n))
    return name, limits[name], tuple(sorted({s.name for s in there if s.limit is None}))


def _cloth(display: Display, care: FrostCare) -> float | None:
    each = care.cloth.get(display.name)
    return None if each is None else each * display.containers


def _cover_words(season: Season, night: FrostNight) -> str:
    cloth = "cloth not measured" if night.area is None else f"{night.area:.1f} m² of cloth"
    containers = "1 container" if night.containers == 1 else f"{night.containers} containers"
    # What must be done comes first: a sheet may shorten a line that long names have made too long.
    layers = "" if night.holds is not False else "two layers, one is not sure to be enough; "
    return (
        f"{night.display}: {containers}, {cloth}; before sunset, down to the soil, edges sealed; "
        f"{layers}low of {show_temperature(night.low, season.unit)} forecast; "
        f"tenderest {night.tenderest}, to {show_temperature(night.limit, season.unit)}"
    )


def _uncover_words(season: Season, night: FrostNight) -> str:
    freezing = show_temperature(FREEZING, season.unit)
    return (
        f"{night.display}: once the air is above {freezing} and it has warmed, plastic before the sun heats it; "
        "leave frosted leaves untouched until thawed; ice underfoot"
    )
