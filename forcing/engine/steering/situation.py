"""A season as it stands on a day, made into the numbers of a steering problem."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, WEEK, monday
from forcing.engine.climate import NORMAL, SETPOINT, STANDING, TOLERANCE, outdoor_lift
from forcing.engine.coolers import pot_area
from forcing.engine.log import Stay
from forcing.engine.need import Z90
from forcing.engine.outlook import still_to_bloom
from forcing.engine.plan import PlanResult
from forcing.engine.replan import expectation
from forcing.engine.simulate import SHORTEST_HOLD, LotSimulation, Run, suits_hold
from forcing.engine.steering.choices import (
    DISTURBED,
    FUSS,
    HOUR,
    REST,
    SCALE,
    Floats,
    Holding,
    Ints,
    LiveLot,
    Path,
    SteeringProblem,
    Trip,
    Zone,
    expected_costs,
    steps_between,
    whole,
)
from forcing.model import LotPlan, Minutes, Place, Recipe, Season
from forcing.recipes.book import minutes_in_force
from forcing.science.heat import degree_days
from forcing.text import fold
from forcing.units import c_to_f_difference, f_to_c_difference, from_celsius, to_celsius

LONGEST = 8 * WEEK  # how far ahead benches are steered
AFTER = 60  # days after that in which a bloom is still counted
WARMEST = 8.0  # °C either way that is ever tried
UNTOLD = 1.0  # days that a bloom is uncertain by beside its band: bands are whole days; practice, no source
CAN_WAIT = 0.5  # share that a lot counts for while it is still in the cooler for a week: more will be known; practice
# The step of a dial; practice, no source.
STEP = {"C": 1.0, "F": f_to_c_difference(2.0)}


@dataclass(frozen=True, slots=True)
class ExpectedBloom:
    """When a lot is expected to bloom."""

    early: date
    likely: date
    late: date
    need: float  # °C·d, of the likely date


@dataclass(frozen=True, slots=True)
class ExpectedLot:
    """A lot that can be steered: what is expected of it if nothing is changed."""

    plan: LotPlan
    simulation: LotSimulation  # at its own pace
    run: Run
    bloom: ExpectedBloom

    @property
    def name(self) -> str:
        return self.plan.lot.name

    @property
    def to_come(self) -> bool:
        """Whether it is still to be brought in."""
        history = self.simulation.history
        return history.brought_in is None and history.first_sign is None

    @property
    def sd(self) -> float:
        """Standard deviation [days] of its bloom: from the days between early and late, and what those leave out."""
        return math.hypot((self.bloom.late - self.bloom.early).days / (2 * Z90), UNTOLD)

    @property
    def spare(self) -> int:
        """Days before its target that it may bloom: for sureness' sake, or as nobody could bring it in a day later.

        One that is set out in bloom is due before its target.
        """
        start = self.run.stays[0].start
        ahead = (self.simulation.target - self.simulation.due).days
        closed = (self.simulation.season.calendar.after(start) - start).days - 1
        return max(0, (self.run.assured - self.run.ready).days, closed) + ahead


@dataclass(frozen=True, slots=True)
class Situation:
    """The problem with the dates and lots that its numbers stand for."""

    worked: PlanResult
    on: date
    start: date  # day 0
    end: date  # day after the last block
    lots: tuple[ExpectedLot, ...]  # as those of the problem
    minutes: Mapping[str, Minutes]
    problem: SteeringProblem
    dialled: Mapping[str, NDArray[np.bool_]]  # of each bench that is set: days on which that decides

    @property
    def season(self) -> Season:
        return self.worked.plan.season

    def day(self, number: int) -> date:
        return self.start + timedelta(days=number)


def expected_bloom(simulation: LotSimulation, run: Run, on: date) -> ExpectedBloom | None:
    """Bloom of a run as its outlook on `on` has it; None past a gap."""
    outlook = still_to_bloom(simulation, run, on)
    return None if outlook is None else ExpectedBloom(outlook.early, outlook.likely, outlook.late, run.need)


def live_lots(worked: PlanResult, on: date, start: date) -> tuple[ExpectedLot, ...]:
    """The lots that are not in bloom, faded or set out by `start`, each as it is now expected to go on."""
    out = []
    for simulation in worked.simulations:
        history = simulation.history
        if (
            {"bloom", simulation.lot.target_stage} & history.stages.keys()
            or history.faded is not None
            or simulation.lot.pots == 0
        ):
            continue
        seen_today = on == worked.plan.on
        known = worked.expected[simulation.lot.name] if seen_today else expectation(simulation, on)
        if known is not None and known.run.waiting is not None:
            # Waiting for sureness' sake takes up what it is early, by itself: it is steered as if it did not wait.
            known = expectation(replace(simulation, lot=replace(simulation.lot, hold_days=0)), on)
        if known is None or _leaves(known.run, start) <= start:
            continue
        bloom = expected_bloom(known.simulation, known.run, on)
        if bloom is not None and bloom.likely > start:
            out.append(ExpectedLot(known.plan, known.simulation, known.run, bloom))
    return tuple(out)


def _leaves(run: Run, start: date) -> date:
    """The day it leaves the benches for frame or display; far ahead where it never does."""
    return next((s.start for s in run.stays if s.step == "harden"), max(start, run.bloom) + 2 * 365 * DAY)


def set_up(worked: PlanResult, on: date) -> Situation | None:
    """The problem as seen on `on`; None where no lot is on a bench or comes to one within the week."""
    calendar = worked.plan.season.calendar
    start = calendar.on_or_after(on)
    lots = live_lots(worked, on, start)
    soon = [lot for lot in lots if lot.run.stays[0].start < start + WEEK]
    if not soon:
        return None
    end = max(max(lot.bloom.likely, lot.simulation.target + DAY) for lot in soon)
    end = max(
        [end, *(p.start for p in worked.plan.season.setpoints if p.agreed)]
    )  # what was agreed is not cut short
    end = calendar.on_or_after(monday(max(start, min(end, start + LONGEST) - DAY)) + WEEK)
    lots = tuple(lot for lot in lots if lot.run.stays[0].start < end)
    minutes = minutes_in_force(worked.plan.season.minutes)
    builder = _Builder(worked, start, end, lots, minutes)
    dialled = {builder.places[i]: builder.dialled(builder.places[i]) for i in builder.dials}
    return Situation(worked, on, start, end, lots, minutes, builder.problem(), dialled)


def dial(season: Season, place: Place, day: date) -> tuple[float, float] | None:
    """Day and night [°C] that a place is set to on a day: as agreed, else as stated; None where nothing says."""
    points = [p for p in season.setpoints if p.place == place.name and p.start <= day]
    if points:
        last = max(points, key=lambda p: p.start)
        return last.day, last.night
    return None if place.day is None or place.night is None else (place.day, place.night)


def step_of(season: Season) -> float:
    """The step of a setting [°C]."""
    return STEP[season.unit] if season.temperature_step is None else season.temperature_step


def on_the_dial(season: Season, now: Floats, by: Floats) -> Floats:
    """What a dial that is at `now` [°C] is set to when it is to be `by` [°C] warmer: whole degrees, no farther off."""
    grid = min(1.0, c_to_f_difference(step_of(season)) if season.unit == "F" else step_of(season))
    wanted: Floats = from_celsius(cast(Any, now + by), season.unit) / cast(Any, grid)
    whole = np.where(by > 0, np.floor(wanted + 1e-6), np.ceil(wanted - 1e-6)) * grid
    return np.where(by == 0, now, to_celsius(cast(Any, whole), season.unit))


class _Builder:
    """Puts the problem together; holds nothing after that."""

    def __init__(
        self, worked: PlanResult, start: date, end: date, lots: Sequence[ExpectedLot], minutes: Mapping[str, Minutes]
    ) -> None:  # fmt: skip
        self.worked, self.start, self.lots, self.minutes = worked, start, lots, minutes
        self.season, self.climate = worked.plan.season, worked.climate
        self.first = self.climate.index(start)
        self.steered = (end - start).days
        self.days = min(self.steered + AFTER, self.climate.days - self.first)
        self.back = (start - monday(start)).days + 1  # days before the first that dials are looked at
        self.starts = self._starts()
        self.blocks = self.starts.size - 2
        self.step = step_of(self.season)
        self.most = max(1, int(WARMEST / self.step))
        self.places = [p.name for p in self.season.places]
        self.number = {name: i for i, name in enumerate(self.places)}
        self.dials = {i: d for i, p in enumerate(self.season.places) if (d := self._dial(p)) is not None}
        self.benches = [
            i for i, p in enumerate(self.season.places) if p.kind == "bench" and self._known(p.name)
        ]
        self.kinds = tuple(dict.fromkeys((r.base, r.cap) for r in (lot.plan.recipe for lot in lots)))
        self.zones: dict[str, list[int]] = {}
        for i in self.dials:
            place = self.season.places[i]
            self.zones.setdefault(f"z {fold(place.zone)}" if place.zone else f"p {place.name}", []).append(i)

    def problem(self) -> SteeringProblem:
        zone = np.full(len(self.places), len(self.zones))
        for number, benches in enumerate(self.zones.values()):
            zone[benches] = number
        width = np.array([2 * self.most + 1 if i in self.dials else 1 for i in range(len(self.places))])
        first = np.concatenate(([0], np.cumsum(width)[:-1])) + np.where(zone < len(self.zones), self.most, 0)
        lots = tuple(self._lot(lot) for lot in self.lots)
        return SteeringProblem(
            self.days, self.starts, tuple(self.places), first, zone,
            tuple(self._zone(benches, lots) for benches in self.zones.values()), lots,
            tuple(self._sums(base, cap) for base, cap in self.kinds), self._free(),
            np.array([self.season.calendar.works(self._day(i)) for i in range(self.days + 1)]), self.step, self.most,
        )  # fmt: skip

    def _day(self, number: int) -> date:
        return self.start + timedelta(days=number)

    def _number(self, day: date) -> int:
        return min(max((day - self.start).days, 0), self.days)

    def _known(self, place: str) -> bool:
        return not np.isnan(self.climate.low[place][self.first : self.first + self.steered]).any()

    def _starts(self) -> Ints:
        """The first working day of each week; then the day after the last that is steered, and the last of all."""
        starts, day = [0], monday(self.start) + WEEK
        while (day - self.start).days < self.steered:
            works = self.season.calendar.on_or_after(day)
            if works < day + WEEK and (works - self.start).days < self.steered:
                starts.append((works - self.start).days)
            day += WEEK
        return np.array([*starts, self.steered, self.days])

    # ------------------------------------------------------------ benches

    def _dial(self, place: Place) -> Floats | None:
        """Day and night [°C] by day, from the Monday before the first; None where nobody sets it."""
        if place.kind != "bench" or not self._known(place.name):
            return None
        days = [dial(self.season, place, self._day(i)) for i in range(-self.back, self.steered + 7)]
        return None if None in days else np.array(days)

    def _zone(self, benches: Sequence[int], lots: Sequence[LiveLot]) -> Zone:
        low, high = np.full(self.blocks, -self.most), np.full(self.blocks, self.most)
        jump, fixed, price = (
            np.zeros(self.blocks + 1),
            np.zeros(self.blocks, dtype=bool),
            np.zeros(self.blocks),
        )
        for bench in benches:
            place, (day, night) = self.season.places[bench], self._block_dial(bench)
            warmest = math.inf if place.highest is None else max(place.highest, float(day.max()))
            coolest = -math.inf if place.lowest is None else min(place.lowest, float(night.min()))
            cooler, warmer = steps_between(coolest, warmest, day, night, self.step)
            low, high = np.maximum(low, cooler), np.minimum(high, warmer)
            low = np.maximum(low, self._outdoors(day, night))
            decided = self._decided(place.name)
            low, high = np.where(decided, low, 0), np.where(decided, high, 0)
            by = np.diff(self.dials[bench], axis=0)  # of the day after
            jump = by[self.starts[:-1] + self.back - 1].mean(axis=1)
            turns = np.abs(by).max(axis=1) > 1e-9
            for k, start in enumerate(self.starts[: self.blocks].tolist()):
                at = start + self.back - 1
                week = slice(at - self._day(start).weekday(), at - self._day(start).weekday() + 7)
                fixed[k] |= bool(turns[week].any()) and not (turns[week].sum() == 1 and turns[at])
        hours = self.minutes["step down"].each_time / 60
        for k, start in enumerate(self.starts[: self.blocks].tolist()):
            pots = sum(
                t.pots for t in lots if np.isin(t.paths[0].places[t.paths[0].cuts[1:] > start], benches).any()
            )
            price[k] = FUSS + HOUR * hours + DISTURBED * pots
        name = self.season.places[benches[0]].zone or self.places[benches[0]]
        return Zone(name, tuple(benches), np.minimum(low, 0), np.maximum(high, 0), jump, fixed, price)

    def _block_dial(self, bench: int) -> tuple[Floats, Floats]:
        """The warmest that a bench is set to by day and the coolest by night, in each block."""
        dials = self.dials[bench][self.back :]
        spans = [slice(a, b) for a, b in zip(self.starts, self.starts[1:-1], strict=False)]
        return np.array([dials[s].max() for s in spans]), np.array([dials[s].min() for s in spans])

    def _decided(self, place: str) -> NDArray[np.bool_]:
        """Blocks with a day whose temperature the dial decides: no reading is given for it."""
        free = self.dialled(place)
        return np.array([free[a:b].any() for a, b in zip(self.starts, self.starts[1:-1], strict=False)])

    def dialled(self, place: str) -> NDArray[np.bool_]:
        basis = self.climate.basis[place][self.first : self.first + self.days]
        return np.isin(basis, (SETPOINT, STANDING)) & (np.arange(self.days) < self.steered)

    def _outdoors(self, day: Floats, night: Floats) -> Ints:
        """Steps, by block, below which a bench cannot be cooled: an aired house stays above outdoors."""
        sites = [p.name for p in self.season.places if p.kind == "site"
                 and (self.climate.basis[p.name][self.first : self.first + self.steered] == NORMAL).any()]  # fmt: skip
        if not sites:
            return np.full(day.size, -self.most)
        lift = outdoor_lift(self.season)
        coolest = []
        for a, b in zip(self.starts, self.starts[1:-1], strict=False):
            days = slice(self.first + a, self.first + b)
            coolest.append([
                min(float(np.nanmean(temperature[s][days])) for s in sites)
                for temperature in (self.climate.high, self.climate.low)
            ])  # fmt: skip
        floor = np.array(coolest) + lift
        by_day = np.ceil((floor[:, 0] - day) / self.step - 1e-6)
        by_night = np.ceil((floor[:, 1] - night) / self.step - 1e-6)
        return np.maximum(by_day, by_night).clip(-self.most, 0).astype(np.int64)

    def _sums(self, base: float, cap: float) -> Floats:
        """Running sums of heat of every place at every step, one after the other."""
        rows = []
        for i, name in enumerate(self.places):
            daily = np.diff(
                self.climate.heat(name, base, cap).cumulative[self.first : self.first + self.days + 1]
            )
            if i not in self.dials:
                rows.append(daily[None])
                continue
            by: Floats = np.arange(-self.most, self.most + 1, dtype=float)[:, None] * self.step
            days = slice(self.first, self.first + self.days)
            dials = np.zeros((self.days, 2))  # where no dial decides nothing is set otherwise
            dials[: self.steered] = self.dials[i][self.back : self.back + self.steered]
            warmer, milder = (on_the_dial(self.season, dials[:, n], by) - dials[:, n] for n in (0, 1))
            low, high = self.climate.low[name][days] + milder, self.climate.high[name][days] + warmer
            heat = np.asarray(degree_days(low, high, base, cap), dtype=float)
            rows.append(np.where(self.dialled(name) & (by != 0), heat, daily))
        table = np.concatenate(rows)
        sums = np.concatenate((np.zeros((len(table), 1)), np.cumsum(np.nan_to_num(table), axis=1)), axis=1)
        return (sums + SCALE * np.arange(len(sums))[:, None]).ravel()

    def _free(self) -> dict[int, Floats]:
        """What is free in each place on each day, as planned; where no capacity is stated nothing is said."""
        free: dict[int, Floats] = {}
        for load in self.worked.plan.loads:
            if load.capacity is not None and load.place in self.number:
                room = np.full(self.days, float(load.capacity))
                from_ = (load.start - self.start).days
                a, b = min(max(from_, 0), self.days), min(max(from_ + len(load.pots), 0), self.days)
                room[a:b] -= np.array(load.pots)[a - from_ : b - from_]
                free[self.number[load.place]] = room
        return free

    # ------------------------------------------------------------ lots

    def _lot(self, lot: ExpectedLot) -> LiveLot:
        simulation, plan, recipe, stays = lot.simulation, lot.plan, lot.plan.recipe, lot.run.stays
        heat = simulation.heat_between(stays, stays[0].start, self.start) or 0.0
        target = (simulation.target - self.start).days
        waits = lot.to_come and stays[0].start >= self.start + WEEK
        counts = plan.lot.pots * (CAN_WAIT if waits else 1.0)
        leave = self._number(_leaves(lot.run, self.start))
        paths, low, high = self._paths(lot, leave)
        return LiveLot(
            name=lot.name, pots=plan.lot.pots, area=pot_area(plan), kind=self.kinds.index((recipe.base, recipe.cap)),
            need=lot.bloom.need * simulation.wanted - heat - TOLERANCE,
            colour=lot.bloom.need * recipe.colour - heat - TOLERANCE,
            target=target, spare=lot.spare,
            costs=expected_costs(np.arange(self.days + 1) - target, counts, lot.spare, lot.sd),
            begin=int(paths[0].cuts[0]), leave=leave,
            gone=leave if leave < self.days else self._number(plan.steps[-1].span.end),
            bound=self._number(lot.bloom.late), paths=paths, low=low, high=high, holding=self._holding(lot),
        )  # fmt: skip

    def _paths(
        self, lot: ExpectedLot, leave: int
    ) -> tuple[tuple[Path, ...], dict[int, Ints], dict[int, Ints]]:
        """As planned first; then each other bench from each week on, and what is planned left out."""
        stays = lot.run.stays
        begin = max(0, (stays[0].start - self.start).days)
        marks = {begin, self.days, leave, *self.starts.tolist(), *(self._number(s.start) for s in stays)}
        cuts = np.array(sorted(m for m in marks if begin <= m <= self.days))
        starts = np.array([self._number(s.start) if s.start > self.start else 0 for s in stays])
        names = np.array([self.number[s.place] for s in stays])
        planned = names[np.searchsorted(starts, cuts[:-1], side="right") - 1]
        blocks = np.minimum(np.searchsorted(self.starts, cuts[:-1], side="right") - 1, self.blocks)
        low, high = self._stood(lot, int(planned[0]))
        paths = [Path("as planned", planned, cuts, blocks)]

        def path(what: str, place: int, start: int, trips: tuple[Trip, ...], hours: float) -> None:
            there = np.where((cuts[:-1] >= start) & (cuts[:-1] < leave), place, planned)
            paths.append(Path(what, there, cuts, blocks, trips, hours))  # type: ignore[arg-type]

        if lot.to_come and begin < leave:
            cooler = self.number.get(lot.simulation.route.cooler or "", int(planned[0]))
            for place in low:
                if place != planned[0]:
                    path("bench", place, begin, (Trip(cooler, place, begin),), 0.0)
            return tuple(paths), low, high
        hours = self._hours("bring in", lot)
        last = min(leave, self._number(lot.bloom.likely) - SHORTEST_HOLD + 1)
        for start in self.starts[: self.blocks].tolist():
            here = int(planned[cuts[:-1] < max(start, 1)][-1])
            if start < last and not self._rests(stays, start, here):
                for place in low:
                    if place != here:
                        path("move", place, start, (Trip(here, place, start),), hours)
        if planned[0] in self.benches and any(
            move.start > self.start for move in lot.simulation.agreed_moves()
        ):
            path("leave out", int(planned[0]), 0, (), 0.0)
        return tuple(paths), low, high

    def _rests(self, stays: Sequence[Stay], start: int, here: int) -> bool:
        """Whether a lot was carried too lately to be carried again; out of a cold room it always may."""
        if here not in self.benches:
            return False
        carried = [s.start for s in stays[1:] if s.step in ("bench", "hold")]
        return any(0 < (self._day(start) - day).days < REST for day in carried)

    def _stood(self, lot: ExpectedLot, home: int) -> tuple[dict[int, Ints], dict[int, Ints]]:
        """Steps, by block, that the lot stands on each bench: within its limits, or no farther out than at home."""
        recipe, low, high = lot.plan.recipe, {}, {}
        coolest, warmest = recipe.bench_low, recipe.bench_high
        if home in self.dials:
            day, night = self._block_dial(home)
            coolest, warmest = min(coolest, float(night.min())), max(warmest, float(day.max()))
        for bench in self.benches:
            if bench in self.dials:
                low[bench], high[bench] = steps_between(coolest, warmest, *self._block_dial(bench), self.step)
            elif bench == home or self._suits(bench, recipe):
                low[bench] = high[bench] = np.zeros(self.blocks, dtype=np.int64)
        return low, high

    def _suits(self, bench: int, recipe: Recipe) -> bool:
        mean = self.climate.mean(self.places[bench])[self.first : self.first + self.steered]
        return bool(recipe.bench_low <= mean.min() and mean.max() <= recipe.bench_high)

    def _hours(self, task: str, lot: ExpectedLot) -> float:
        minutes = self.minutes[task]
        return (minutes.for_each(lot.plan.lot) * lot.plan.lot.pots + minutes.each_time) / 60

    def _holding(self, lot: ExpectedLot) -> Holding | None:
        """The cooler that an early lot may wait in once it is in colour; None where there is none."""
        simulation, recipe, stays = lot.simulation, lot.plan.recipe, lot.run.stays
        early = lot.bloom.likely < simulation.target - lot.spare * DAY
        since = self.start - REST * DAY
        rests = any(s.step == "hold" or (s.step == "bench" and s.start > since) for s in stays[1:])
        if not early or rests or whole(recipe.hold_max) < SHORTEST_HOLD:
            return None
        days = slice(self.first, self.first + self.steered)
        coolers = [
            p.name for p in self.season.places
            if p.kind == "cooler" and suits_hold(self.climate, p.name, recipe, days)
        ]  # fmt: skip
        if not coolers:
            return None
        usual = simulation.route.cooler
        cooler = usual if usual in coolers else coolers[0]
        hours = self._hours("hold", lot), self._hours("bring in", lot)
        return Holding(self.number[cooler], whole(recipe.hold_max), hours)
