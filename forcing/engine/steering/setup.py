"""From a season worked out to the numbers of its steering problem."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.climate import SETPOINT, STANDING
from forcing.engine.evidence import heat_ahead_sd, need_of
from forcing.engine.outlook import still_to_bloom
from forcing.engine.plan import Worked
from forcing.engine.replan import replan_lot
from forcing.engine.rooms import UNSUITED, pot_area
from forcing.engine.steering.model import (
    KEEP,
    Floats,
    Holding,
    LiveLot,
    Option,
    Problem,
    Stand,
    bloom_day,
)
from forcing.engine.timeline import Run, Traveller
from forcing.model import LotPlan, Place, Season
from forcing.science.heat import degree_days
from forcing.units import TemperatureUnit, from_celsius, to_celsius

LONGEST = 8 * WEEK  # how far ahead benches are steered
AFTER = 60  # days after the last block in which a bloom is still counted
STEP = {"C": 0.5, "F": 1.0}  # grid of mean temperatures, in the season's own unit


@dataclass(frozen=True, slots=True)
class Expected:
    """When a lot is expected to bloom."""

    early: date
    likely: date
    late: date
    need: float  # °C·d, of the likely date


@dataclass(frozen=True, slots=True)
class Live:
    """A lot that can be steered: its traveller at its own pace, its plan, its run and what is expected of it."""

    traveller: Traveller
    plan: LotPlan
    run: Run
    expected: Expected

    @property
    def name(self) -> str:
        return self.traveller.lot.name

    @property
    def off(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.expected.likely - self.traveller.target).days


@dataclass(frozen=True, slots=True)
class Setup:
    """The problem with the dates and lots that its numbers stand for."""

    worked: Worked
    on: date
    start: date  # day 0
    end: date  # day after the last block
    lives: tuple[Live, ...]
    problem: Problem

    def day(self, number: int) -> date:
        return self.start + timedelta(days=number)


def expected_of(traveller: Traveller, run: Run, on: date) -> Expected | None:
    """Early, likely and late bloom of a run as its outlook on `on` has them; None past a gap."""
    started = traveller.history.started
    outlook = still_to_bloom(traveller, run, on, started)
    if outlook is None:
        return None
    first = max(on, run.stays[0].start)
    need = need_of(traveller, run).widened(heat_ahead_sd(traveller, run, first, max(first, run.bloom)))
    likely = need.quantile(0.5, outlook.heat if started else 0.0)
    return Expected(outlook.early, outlook.likely, outlook.late, likely)


def live_lots(worked: Worked, on: date, start: date) -> tuple[Live, ...]:
    """The lots that are not in bloom, faded or set out by `start`, each as it is now expected to go on."""
    out = []
    for traveller in worked.travellers:
        history = traveller.history
        if "bloom" in history.stages or history.faded is not None or traveller.lot.pots == 0:
            continue
        plan = replan_lot(traveller, on if history.started else None)
        if not isinstance(plan, LotPlan):
            continue
        paced = replace(traveller, pace=plan.need / traveller.need(plan.cold_weeks))
        run = paced.run(plan.cooler_in or plan.bring_in, plan.bring_in)
        if run is None or _leaves(run, start) <= start:
            continue
        expected = expected_of(paced, run, on)
        if expected is not None and expected.likely > start:
            out.append(Live(paced, plan, run, expected))
    return tuple(out)


def _leaves(run: Run, start: date) -> date:
    """The day it leaves the benches for frame or display; far ahead where it never does."""
    return next((s.start for s in run.stays if s.step == "harden"), max(start, run.bloom) + 2 * 365 * DAY)


def set_up(worked: Worked, on: date, block_days: int) -> Setup | None:
    """The problem as seen on `on`; None where no lot is on a bench or comes to one within the week."""
    season = worked.plan.season
    start = season.calendar.on_or_after(on)
    lives = live_lots(worked, on, start)
    soon = [live for live in lives if live.run.stays[0].start < start + WEEK]
    if not soon:
        return None
    end = max(max(live.expected.likely, live.traveller.target + DAY) for live in soon)
    end = season.calendar.on_or_after(max(start + DAY, min(end, start + LONGEST)))
    lives = tuple(live for live in lives if live.run.stays[0].start < end)
    problem = _Builder(worked, start, end, lives, block_days).problem()
    return Setup(worked, on, start, end, lives, problem)


def stated(season: Season, place: Place, day: date) -> tuple[float, float]:
    """Day and night [°C] that a place is set to on a day. Raises ValueError where it states none."""
    points = [p for p in season.setpoints if p.place == place.name and p.start <= day]
    if points:
        last = max(points, key=lambda p: p.start)
        return last.day, last.night
    if place.day is None or place.night is None:
        raise ValueError(f"{place.name} states no temperatures")
    return place.day, place.night


def grid(low: float, high: float, unit: TemperatureUnit) -> tuple[float, ...]:
    """Mean temperatures [°C] from low to high that are whole steps in the season's unit."""
    step = STEP[unit]
    first = math.ceil(from_celsius(low, unit) / step - 1e-6)
    last = math.floor(from_celsius(high, unit) / step + 1e-6)
    return tuple(to_celsius(n * step, unit) for n in range(first, last + 1))


class _Builder:
    """Puts the problem together; holds nothing after that."""

    def __init__(
        self, worked: Worked, start: date, end: date, lives: Sequence[Live], block_days: int
    ) -> None:
        self.worked, self.start, self.end, self.lives = worked, start, end, lives
        self.season, self.climate = worked.plan.season, worked.climate
        self.days = min((end - start).days + AFTER, self.climate.days - self.climate.index(start))
        self.benches = tuple(p for p in self.season.places if p.kind == "bench" and self._known(p.name))
        self.blocks = self._blocks(block_days)
        held = dict.fromkeys(self._stands_now(live) for live in lives)
        names = [p.name for p in self.benches]
        self.names = (*names, *(name for name in held if name not in names))
        self.kinds = tuple(dict.fromkeys((v.plan.recipe.base, v.plan.recipe.cap) for v in lives))

    def _days_of(self, values: Sequence[float] | Floats) -> Floats:
        first = self.climate.index(self.start)
        return np.asarray(values[first : first + self.days])

    def _known(self, place: str) -> bool:
        first = self.climate.index(self.start)
        return not np.isnan(self.climate.low[place][first : first + (self.end - self.start).days]).any()

    def _blocks(self, block_days: int) -> tuple[tuple[int, int], ...]:
        """Weeks from Monday to Monday (or blocks of other lengths); a setpoint already stated starts one too."""
        calendar, marks = self.season.calendar, {self.start, self.end}
        day = monday(self.start) + WEEK if block_days == 7 else self.start + timedelta(days=block_days)
        while day < self.end:
            marks.add(calendar.on_or_after(day))
            day += timedelta(days=block_days)
        names = {p.name for p in self.benches}
        marks |= {p.start for p in self.season.setpoints if p.place in names}
        days = sorted((m - self.start).days for m in marks if self.start <= m <= self.end)
        return tuple(itertools.pairwise(days))

    def problem(self) -> Problem:
        grids = {name: self._grid(name) for name in self.names}
        stands = tuple(self._stand(name, grids[name]) for name in self.names)
        daily = {
            (k, s): self._table(name, grids[name], base, cap)
            for k, (base, cap) in enumerate(self.kinds)
            for s, name in enumerate(self.names)
        }
        lots = tuple(self._lot(live, stands) for live in self.lives)
        bare = Problem(self.days, self.blocks, stands, lots, daily)
        # Where the plan already overfills a bench, doing nothing must stay possible.
        nothing = bare.unchanged()
        roomy = tuple(
            replace(stand, room=None if stand.room is None else np.maximum(stand.room, bare.standing(nothing, s)))
            for s, stand in enumerate(stands)
        )  # fmt: skip
        lots = tuple(replace(lot, bloomed=bloom_day(bare.extremes(lot)[0], lot)) for lot in lots)
        return replace(bare, stands=roomy, lots=lots)

    # ------------------------------------------------------------ benches

    def _grid(self, name: str) -> tuple[float, ...]:
        """The means [°C] a bench may be set to: inside its limits by day and night, and of use to some lot."""
        place = self.season.place(name)
        if place not in self.benches:
            return ()
        day, night = stated(self.season, place, self.start)
        half = abs(day - night) / 2
        low = min(live.plan.recipe.bench_low for live in self.lives)
        high = max(live.plan.recipe.bench_high for live in self.lives)
        if place.lowest is not None:
            low = max(low, place.lowest + half)
        if place.highest is not None:
            high = min(high, place.highest - half)
        return grid(low, high, self.season.unit)

    def _stand(self, name: str, means: Sequence[float]) -> Stand:
        first = self.climate.index(self.start)
        basis = self.climate.basis[name][first : first + self.days]
        free = np.isin(basis, (SETPOINT, STANDING)) & (np.arange(self.days) < (self.end - self.start).days)
        now = self._days_of(self.climate.mean(name))
        choices: list[tuple[int, ...]] = []
        bound = set()
        for k, (a, b) in enumerate(self.blocks):
            open_: list[int] = [KEEP]
            if free[a:b].any():
                at = a + int(np.argmax(free[a:b]))
                open_ += [i for i, mean in enumerate(means, 1) if self._in_limits(name, mean, a)
                          and abs(mean - now[at]) > 1e-9]  # fmt: skip
                if not self.season.calendar.works(self._day(a)) and k and not self._restated(name, a):
                    bound.add(k)
            choices.append(tuple(open_))
        return Stand(name, (float(now[0]), *means), self._room(name), free, tuple(choices), frozenset(bound))

    def _restated(self, name: str, day: int) -> bool:
        return any(p.place == name and p.start == self._day(day) for p in self.season.setpoints)

    def _in_limits(self, name: str, mean: float, day: int) -> bool:
        place = self.season.place(name)
        half = abs(self._swing(name, day)) / 2
        return not (
            (place.lowest is not None and mean - half < place.lowest - 1e-6)
            or (place.highest is not None and mean + half > place.highest + 1e-6)
        )

    def _swing(self, name: str, day: int) -> float:
        warm, cool = stated(self.season, self.season.place(name), self._day(day))
        return warm - cool

    def _day(self, number: int) -> date:
        return self.start + timedelta(days=number)

    def _table(self, name: str, means: Sequence[float], base: float, cap: float) -> Floats:
        """Heat of each choice on each day, for lots of that base and cap."""
        now = self._daily(name, base, cap)
        table = np.tile(now, (1 + len(means), 1))
        stand = self.season.place(name)
        if stand in self.benches:
            first = self.climate.index(self.start)
            steered = np.isin(self.climate.basis[name][first : first + self.days], (SETPOINT, STANDING))
            for a, b in self.blocks:
                half = abs(self._swing(name, a)) / 2
                heat = degree_days([m - half for m in means], [m + half for m in means], base, cap)
                for day in range(a, b):
                    if steered[day]:
                        table[1:, day] = heat
        return table

    def _daily(self, place: str, base: float, cap: float) -> Floats:
        """Heat of each day in a place as it is; a day that is not known gives none."""
        series = self.climate.heat(place, base, cap)
        first = self.climate.index(self.start)
        return np.diff(np.array(series.cumulative[first : first + self.days + 1]))

    def _room(self, name: str) -> Floats | None:
        """What is free for live lots on each day; None where the place states no capacity."""
        capacity = self.season.place(name).pots
        if capacity is None:
            return None
        free: Floats = np.full(self.days, float(capacity))
        live = {live.name for live in self.lives}
        for plan in self.worked.plan.lots:
            if plan.lot.name not in live:
                for step in plan.steps:
                    if step.place == name:
                        free[self._slice(step.span)] -= pot_area(plan)
        return free.clip(min=0.0)

    def _slice(self, span: Span) -> slice:
        return slice(*(min(max((d - self.start).days, 0), self.days) for d in (span.start, span.end)))

    # ------------------------------------------------------------ lots

    def _stands_now(self, live: Live) -> str:
        """Where it stands on day 0, or on the day it is brought in."""
        first = max(self.start, live.run.stays[0].start)
        return [s for s in live.run.stays if s.start <= first][-1].place

    def _lot(self, live: Live, stands: Sequence[Stand]) -> LiveLot:
        traveller, plan, recipe = live.traveller, live.plan, live.plan.recipe
        begin = max(0, (live.run.stays[0].start - self.start).days)
        leave = min(self.days, (_leaves(live.run, self.start) - self.start).days)
        heat = traveller.heat_between(live.run.stays, live.run.stays[0].start, self.start)
        here = self.names.index(self._stands_now(live))
        fits = {s: self._fits(live, stand, s == here) for s, stand in enumerate(stands)}
        gone = leave if leave < self.days else (plan.steps[-1].span.end - self.start).days
        return LiveLot(
            name=live.name,
            pots=plan.lot.pots,
            area=pot_area(plan),
            kind=self.kinds.index((recipe.base, recipe.cap)),
            need=live.expected.need,
            heat=heat or 0.0,
            target=(traveller.target - self.start).days,
            begin=begin,
            leave=leave,
            gone=min(self.days, max(gone, leave if leave < self.days else 0)),
            outside=self._outside(live, leave),
            options=self._options(live, here, begin, leave, fits),
            fits=fits,
            holding=self._holding(live),
        )

    def _fits(self, live: Live, stand: Stand, here: bool) -> frozenset[int]:
        recipe, place = live.plan.recipe, self.season.place(stand.name)
        if place not in self.benches:
            return frozenset({KEEP})
        good = {
            i for i, mean in enumerate(stand.means)
            if i != KEEP and recipe.bench_low - 1e-6 <= mean <= recipe.bench_high + 1e-6
        }  # fmt: skip
        now = self._days_of(self.climate.mean(stand.name))[: (self.end - self.start).days]
        kept = recipe.bench_low - 1e-6 <= now.min() and now.max() <= recipe.bench_high + 1e-6
        return frozenset(good | ({KEEP} if here or kept else set()))

    def _outside(self, live: Live, leave: int) -> Floats:
        out, recipe = np.zeros(self.days), live.plan.recipe
        if leave < self.days:
            first, last = self._day(leave), self._day(self.days)
            for place, start, end in live.traveller.pieces(live.run.stays, first, last):
                days = self._slice(Span(start, end))
                out[days] = self._daily(place, recipe.base, recipe.cap)[days]
        return out

    def _options(
        self, live: Live, here: int, begin: int, leave: int, fits: dict[int, frozenset[int]]
    ) -> tuple[Option, ...]:
        """As planned first; then, for a lot on a bench, each other bench from each block that starts on a
        working day; for a lot still to come, each other bench from the start."""
        n = len(self.blocks) + 1
        options = [Option((here,) * n)]
        others = [s for s, name in enumerate(self.names) if s != here and fits[s]
                  and self.season.place(name) in self.benches]  # fmt: skip
        if live.run.stays[0].start > self.start:
            return (*options, *(Option((s,) * n) for s in others))
        for k, (a, _) in enumerate(self.blocks):
            if a < leave and self.season.calendar.works(self._day(a)):
                options += [Option((here,) * k + (s,) * (n - k), k) for s in others]
        return tuple(options)

    def _holding(self, live: Live) -> Holding | None:
        """The cooler that an early lot may wait in once it is in colour; None where there is none."""
        history, recipe = live.traveller.history, live.plan.recipe
        early = live.off < 0 or live.plan.lot.hold_days > 0
        if not early or recipe.hold_max < 1 or any(s.step == "hold" for s in history.moves):
            return None
        coolers = [
            p.name for p in self.season.places
            if p.kind == "cooler" and self._known(p.name) and self._cold_enough(p.name, recipe.hold)
        ]  # fmt: skip
        if not coolers:
            return None
        usual = live.traveller.route.cooler
        cooler = usual if usual in coolers else coolers[0]
        working = np.array([self.season.calendar.works(self._day(i)) for i in range(self.days + 1)])
        heat = self._daily(cooler, recipe.base, recipe.cap)
        return Holding(
            cooler, heat, self._room(cooler), live.expected.need * recipe.colour, int(recipe.hold_max), working
        )  # fmt: skip

    def _cold_enough(self, cooler: str, wanted: float) -> bool:
        mean = self._days_of(self.climate.mean(cooler))[: (self.end - self.start).days]
        return bool(np.median(mean) <= wanted + UNSUITED)
