"""How likely frost is on nights without a forecast: by former years, by normals, by the last frost that is stated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from forcing.dates import DAY
from forcing.engine.frost import FEW, FrostCare, forecasts, grounds
from forcing.errors import Finding, Several
from forcing.model import LotPlan, Season
from forcing.science.frost import (
    NORTH,
    FreezeSeason,
    MonthDay,
    SpringWindow,
    chance_about,
    chance_from,
    frost_date,
    last_freezes,
    pooled_nights,
    share_freezing,
)
from forcing.text import listed

RARE = 0.1  # one spring in ten
HALF_YEAR = 183  # days
# °C by which single nights scatter about a month's mean low: practice, about that of daily minima in spring.
NORMAL_SPREAD = 4.0
KEEP_CLOTH = "Keep cloth and mats at hand until then, and enter the forecast lows in readings."
LIKELY_FROST = 0.1  # chance of a night at which the season is told to keep cloth ready: one night in ten


@dataclass(frozen=True, slots=True)
class Minima:
    """Daily minima [°C] that the user supplies for a site, one for each date; None is a missing day."""

    dates: Sequence[date]
    lows: Sequence[float | None]


@dataclass(frozen=True, slots=True)
class NightChance:
    """The chance that a place needs its cover on a night without a forecast: from past minima, or normals."""

    evening: date
    display: str
    tenderest: str
    limit: float  # °C that it stands
    threshold: float  # °C: a low at or below it asks for the cover
    chance: float | None  # of that night; None: nothing known of that time of year
    later: float | None  # of that night or any later one of the spring; None: not known, or not in spring
    years: int  # springs that `later` rests on; 0: the normals with a spread, the last frost, or nothing
    # After it such a low came in one spring of ten, or the last frost that is stated; None: neither, or not in spring.
    last: date | None = None


def night_chances(
    season: Season,
    plan_lots: Sequence[LotPlan],
    on: date,
    minima: Mapping[str, Minima],
    care: FrostCare | None = None,
    window: SpringWindow = NORTH,
) -> tuple[NightChance, ...]:
    """The chance that each display or other place without heat needs its cover, for every night from `on` on.

    Nights that have a forecast are left out. minima: daily minima by place. `chance` is the share of years with such a
    low on that night, pooled over a week of nights, and `later` counts last freezes of the spring `window`; without
    minima they are as `_Odds` says. Raises ValueError where minima have a date twice or uneven lengths.
    """
    care = care or FrostCare()
    told, outdoors = forecasts(season, on)
    odds = _Odds(season, minima, window)
    chances = []
    for ground in grounds(season, plan_lots, care):
        for evening in ground.evenings(on):
            there, morning = ground.there(evening), evening + DAY
            if not there or (ground.site, morning) in told or morning in outdoors:
                continue
            limit = there[0].stands(evening)
            at = limit + care.margin
            night = odds.of(ground.site, morning, at)
            if night is not None:
                chances.append(NightChance(evening, ground.name, there[0].name, limit, at, *night))
    return tuple(sorted(chances, key=lambda n: n.evening))


_NightOdds = tuple[float | None, float | None, int, date | None]  # the last four fields of NightChance


class _Odds:
    """How likely lows are where there is no forecast.

    By former years' minima of the place; else by its normals with a spread about them, after the last frost that is
    stated not at all; with neither, nights until that day are ones to watch, with no chance of their own. A place of
    which nothing is known is as likely to freeze as the likeliest of the sites: a closed frame counts as no warmer.
    """

    def __init__(self, season: Season, minima: Mapping[str, Minima], window: SpringWindow) -> None:
        self.minima, self.window = minima, window
        self.sites = [place.name for place in season.places if place.kind == "site"]
        self.last = season.last_frost.day if season.last_frost else None
        self.usual = {(n.place, n.month): n.low for n in season.normals}
        self.nights: dict[
            str, dict[MonthDay, list[float]]
        ] = {}  # by place: minima of each time of year, in order
        self.springs: dict[tuple[str, float], tuple[FreezeSeason, ...]] = {}

    def of(self, place: str, morning: date, threshold: float) -> _NightOdds | None:
        """Of a low at or below `threshold` [°C] that morning; None: not judged."""
        near = [at for at in self.sites if self._knows(at, morning)]
        places = [place] if self._knows(place, morning) or not near else near
        found = [odds for at in places if (odds := self._at(at, morning, threshold)) is not None]
        return max(found, key=lambda odds: odds[0] or 0.0, default=None)

    def _knows(self, place: str, morning: date) -> bool:
        return place in self.minima or (place, morning.month) in self.usual

    def _at(self, place: str, morning: date, threshold: float) -> _NightOdds | None:
        if place in self.minima:
            return self._by_minima(place, morning, threshold)
        if self.last is not None and morning > self.last:
            return None
        if (mean := self.usual.get((place, morning.month))) is not None:
            return chance_about(mean, NORMAL_SPREAD, threshold), None, 0, self.last
        return None if self.last is None else (None, None, 0, self.last)

    def _by_minima(self, place: str, morning: date, threshold: float) -> _NightOdds:
        past = self.minima[place]
        if place not in self.nights:
            self.nights[place] = pooled_nights(past.dates, past.lows)
        # A low typed as 36 °F may lie a rounding error above the same limit worked out in °C.
        at = place, threshold + 1e-9
        if at not in self.springs:
            self.springs[at] = last_freezes(past.dates, past.lows, at[1], self.window)
        springs, spring = self.springs[at], self.window.season(morning)
        known = sum(s.outcome != "not known" for s in springs)
        chance = share_freezing(self.nights[place][morning.month, morning.day], at[1])
        if spring is None:
            return chance, None, known, None
        later = chance_from(springs, morning, window=self.window)
        return chance, later, known, frost_date(springs, RARE, window=self.window).in_year(spring)


# ---------------------------------------------------------------- findings


def chance_findings(season: Season, chances: Sequence[NightChance]) -> Iterator[Finding]:
    """For each display or other place: until when a night that asks for cover comes once in ten or oftener."""
    for display in dict.fromkeys(chance.display for chance in chances):
        mine = [c for c in chances if c.display == display]
        risky = [c for c in mine if c.chance is not None and c.chance >= LIKELY_FROST]
        watched = [c for c in mine if c.chance is None and c.last is not None and not c.years]
        if watched:
            yield _watched(display, watched)
        if not risky:
            continue
        worst = max(risky, key=lambda c: c.chance or 0.0)
        yield Finding(
            "frost-likely", "note", "minima" if worst.years else "normals", None, None,
            f"by {_rests_on(worst)}, nights that ask for cover come to {display} once in "
            f"ten or oftener from {risky[0].evening} to {risky[-1].evening}; the likeliest is {worst.evening}, "
            f"{worst.chance:.0%} ({worst.tenderest} is the tenderest there)"
            + _last_words(season, worst),
            KEEP_CLOTH, days=(risky[0].evening, risky[-1].evening), several=Several(
                "nights that ask for cover come to {names} once in ten or oftener from {first} to {last}",
                KEEP_CLOTH, display,
            ),
        )  # fmt: skip


def _watched(display: str, nights: Sequence[NightChance]) -> Finding:
    """Nights that nothing tells of but the last frost that is stated."""
    first, last = nights[0], nights[-1]
    return Finding(
        "frost-watch", "note", "season", None, "last frost",
        f"by the last frost, {last.last}, nights from {first.evening} to {last.evening} may ask for cover in "
        f"{display} ({last.tenderest} is the tenderest there)",
        KEEP_CLOTH, days=(first.evening, last.evening), several=Several(
            "by the last frost, nights from {first} to {last} may ask for cover in {names}", KEEP_CLOTH, display,
        ),
    )  # fmt: skip


def _last_words(season: Season, worst: NightChance) -> str:
    if worst.last is None:
        return ""
    if worst.years:
        return f"; one spring in ten had such a night after {worst.last}"
    chance = season.last_frost.chance if season.last_frost else None
    later = "" if chance is None else f", and a later one comes in {chance:.0%} of springs"
    return f"; the last frost is stated as {worst.last}{later}"


def _rests_on(chance: NightChance) -> str:
    return (
        f"the minima of {chance.years} former springs"
        if chance.years
        else "the normals with a spread about them"
    )


def last_frost_findings(season: Season) -> Iterator[Finding]:
    """A last frost of another year, or one that no display sees the end of."""
    if season.last_frost is None:
        return
    day = season.last_frost.day
    if abs((day - season.span.start).days) > HALF_YEAR:
        yield Finding(
            "last-frost-year", "warning", "season", None, "last frost",
            f"it lies more than half a year from the opening on {season.span.start}",
            "Check the year: it is the last frost of the spring of the show.", str(day), days=(day,),
        )  # fmt: skip
    elif season.displays and day >= max(display.span.end for display in season.displays):
        yield Finding(
            "last-frost-late", "note", "season", None, "last frost",
            f"it comes after the last display has closed on {max(d.span.end for d in season.displays) - DAY}: "
            "frost may come on any night that plants stand in them",
            "Keep the cloth at hand throughout, and enter the forecast lows in readings.", str(day), days=(day,),
        )  # fmt: skip


def unjudged_finding(
    season: Season, plan_lots: Sequence[LotPlan], on: date, minima: Mapping[str, Minima], care: FrostCare
) -> Iterator[Finding]:
    """One note that names the places without heat whose nights are judged by nothing."""
    told, outdoors = forecasts(season, on)
    known = {place for place, _ in told} | set(minima) | {n.place for n in season.normals}
    anywhere = known & {place.name for place in season.places if place.kind == "site"}
    if outdoors or anywhere or season.last_frost is not None:
        return
    blind = [
        ground.name for ground in grounds(season, plan_lots, care)
        if ground.site not in known and any(ground.there(evening) for evening in ground.evenings(on))
    ]  # fmt: skip
    if blind:
        yield Finding(
            "frost-not-judged", "note", "readings", None, None,
            f"frost nights are not judged in {listed(list(dict.fromkeys(blind)), 2 * FEW)}: no forecast, minima of "
            "former years, normals or last frost are known there",
            "Enter forecast lows in readings as the nights come near, or last frost in the season table.",
        )  # fmt: skip
