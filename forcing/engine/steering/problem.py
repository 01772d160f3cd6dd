"""The steering problem as plain numbers, made from a season worked out, and the forward sum that scores answers."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.backward import replan_lot
from forcing.engine.climate import SETPOINT, STANDING, TOLERANCE
from forcing.engine.coolers import UNSUITED, pot_area
from forcing.engine.need import heat_ahead_sd, need_of
from forcing.engine.outlook import still_to_bloom
from forcing.engine.plan import PlanResult
from forcing.engine.simulate import LotSimulation, Run
from forcing.model import LotPlan, Place, Season
from forcing.science.heat import degree_days
from forcing.units import TemperatureUnit, from_celsius, to_celsius

Floats = NDArray[np.float64]
KEEP = 0  # the choice that leaves a bench as it is set


@dataclass(frozen=True, slots=True)
class Stand:
    """A bench (or a cooler in which a lot is held now): its means [°C] by choice, and what it may hold."""

    name: str
    means: tuple[float, ...]  # by choice; the first is the mean it is set to on day 0
    room: Floats | None  # free for live lots on each day; None: no capacity stated
    free: NDArray[np.bool_]  # days whose temperature a choice decides: no reading is given for them
    choices: tuple[tuple[int, ...], ...]  # those open in each block
    bound: frozenset[int] = frozenset()  # blocks that must go on as the block before: nobody works then


@dataclass(frozen=True, slots=True)
class Option:
    """Where a lot stands in each block, the time after the last block included; the block of its one move."""

    path: tuple[int, ...]
    moved: int | None = None  # None: it stays


@dataclass(frozen=True, slots=True)
class Holding:
    """A cooler that a lot in colour may wait in."""

    cooler: str
    heat: Floats  # of the lot there, by day
    room: Floats | None  # free on each day; None: no capacity stated
    colour: float  # heat at which it may go in
    longest: int  # days
    working: NDArray[np.bool_]  # days on which pots are moved


@dataclass(frozen=True, slots=True)
class Hold:
    """Days `start` ... `end`-1 in the cooler."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class LiveLot:
    """A lot whose bloom can still be moved: what it has, what it needs and where it may stand."""

    name: str
    pots: int
    area: float
    kind: int  # which heat table: lots of one base and cap share it
    need: float
    heat: float  # gathered before day 0
    target: int  # day number, negative where it has passed
    begin: int  # first day on a bench
    leave: int  # day it goes out to harden or to its display; the last day of all if it never does
    gone: int  # day it frees its bench
    outside: Floats  # heat of each day from `leave` on, 0 before
    options: tuple[Option, ...]  # the first one is where it is to stand as planned
    fits: Mapping[int, frozenset[int]]  # choices of each bench that the lot stands
    holding: Holding | None = None
    bloomed: int = (
        10**9
    )  # day by which it is in bloom whatever is done; limits of forcing no longer bind it then

    def minds(self, first: int, end: int) -> bool:
        """Whether the limits of the lot bind the bench it stands on between these days."""
        return max(first, self.begin) < min(end, self.leave, self.bloomed)


@dataclass(frozen=True, slots=True)
class Answer:
    """A choice for each bench and block, an option and perhaps a hold for each lot."""

    choices: tuple[tuple[int, ...], ...]
    options: tuple[int, ...]
    holds: tuple[Hold | None, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """All benches, blocks and live lots. `blocks` are (first day, day after the last); the last is the tail."""

    days: int
    blocks: tuple[tuple[int, int], ...]  # without the tail
    stands: tuple[Stand, ...]
    lots: tuple[LiveLot, ...]
    daily: Mapping[tuple[int, int], Floats]  # (kind, stand) -> heat by choice and day

    @property
    def tail(self) -> int:
        """First day after the last block."""
        return self.blocks[-1][1] if self.blocks else 0

    def spans(self) -> tuple[tuple[int, int], ...]:
        """The blocks, and after them the days on which benches are as the season states."""
        return (*self.blocks, (self.tail, self.days))

    def unchanged(self) -> Answer:
        """Nothing changed, nothing moved."""
        return Answer(
            tuple((KEEP,) * len(self.blocks) for _ in self.stands), (0,) * len(self.lots), (None,) * len(self.lots)
        )  # fmt: skip

    def heats(self, lot: LiveLot, option: Option, hold: Hold | None, answer: Answer) -> Floats:
        """Heat of the lot on each day of that answer."""
        out = lot.outside.copy()
        for k, (first, end) in enumerate(self.spans()):
            a, b = max(first, lot.begin), min(end, lot.leave)
            if a < b:
                stand = option.path[k]
                choice = answer.choices[stand][k] if k < len(self.blocks) else KEEP
                out[a:b] = self.daily[lot.kind, stand][choice, a:b]
        if hold is not None and lot.holding is not None:
            out[hold.start : hold.end] = lot.holding.heat[hold.start : hold.end]
        return out

    def bloom(self, lot: LiveLot, option: Option, hold: Hold | None, answer: Answer) -> int:
        """Day number of its bloom; the number of days where it does not bloom in them."""
        return bloom_day(self.heats(lot, option, hold, answer), lot)

    def days_off(self, answer: Answer) -> tuple[int, ...]:
        """Days from target to bloom of each lot, negative when early."""
        return tuple(
            self.bloom(lot, lot.options[answer.options[i]], answer.holds[i], answer) - lot.target
            for i, lot in enumerate(self.lots)
        )

    def score(self, answer: Answer) -> tuple[int, int, int]:
        """Pots × days off target, changes of setting, moves: what is minimised, in that order."""
        off = sum(lot.pots * abs(days) for lot, days in zip(self.lots, self.days_off(answer), strict=True))
        return off, changes(answer), moves(answer)

    def faults(self, answer: Answer) -> Iterator[str]:
        """What the answer breaks: limits of lots and benches, room, rules of holds. None: it can be done."""
        for i, lot in enumerate(self.lots):
            option = lot.options[answer.options[i]]
            for k, (first, end) in enumerate(self.blocks):
                if lot.minds(first, end):
                    stand = option.path[k]
                    if answer.choices[stand][k] not in lot.fits[stand]:
                        yield f"{lot.name} does not stand {self.stands[stand].name} in block {k}"
            hold = answer.holds[i]
            if hold is not None:
                yield from self.hold_faults(lot, option, hold, answer)
        for s, stand_ in enumerate(self.stands):
            for k, choice in enumerate(answer.choices[s]):
                if choice not in stand_.choices[k]:
                    yield f"{stand_.name} cannot be set to choice {choice} in block {k}"
                if k in stand_.bound and choice != answer.choices[s][k - 1]:
                    yield f"{stand_.name} is changed on a day off"
            if stand_.room is not None and (self.standing(answer, s) > stand_.room + 1e-6).any():
                yield f"{stand_.name} is overfull"
        yield from self._overfull_coolers(answer)

    def standing(self, answer: Answer, stand: int) -> Floats:
        """Area of live lots on a bench on each day; a held lot keeps its room there."""
        out = np.zeros(self.days)
        for i, lot in enumerate(self.lots):
            path = lot.options[answer.options[i]].path
            for k, (first, end) in enumerate(self.spans()):
                if path[k] == stand:
                    out[max(first, lot.begin) : max(0, min(end, lot.gone))] += lot.area
        return out

    def hold_faults(self, lot: LiveLot, option: Option, hold: Hold, answer: Answer) -> Iterator[str]:
        """What a hold breaks of its rules."""
        holding = lot.holding
        if holding is None or not lot.begin <= hold.start < hold.end <= lot.leave:
            yield f"{lot.name} cannot be held then"
            return
        heat = lot.heat + float(self.heats(lot, option, None, answer)[: hold.start].sum())
        if heat < holding.colour - TOLERANCE:
            yield f"{lot.name} is held before it is in colour"
        back = hold.end == lot.leave or holding.working[hold.end]
        if hold.end - hold.start > holding.longest or not holding.working[hold.start] or not back:
            yield f"{lot.name} is held too long or moved on a day off"

    def _overfull_coolers(self, answer: Answer) -> Iterator[str]:
        used: dict[str, Floats] = {}
        for lot, hold in zip(self.lots, answer.holds, strict=True):
            if hold is not None and lot.holding is not None:
                load = used.setdefault(lot.holding.cooler, np.zeros(self.days))
                load[hold.start : hold.end] += lot.area
        for lot in self.lots:
            load_ = used.get(lot.holding.cooler) if lot.holding is not None else None
            if load_ is not None and lot.holding is not None and lot.holding.room is not None:
                over = load_ > lot.holding.room + 1e-6
                if (over & (load_ > 0)).any():
                    yield f"{lot.holding.cooler} is overfull"

    def extremes(self, lot: LiveLot, *, held: bool = True) -> tuple[Floats, Floats]:
        """Least and greatest heat of the lot on each day, wherever it may stand; held as long as you like, or not."""
        low, high = lot.outside.copy(), lot.outside.copy()
        for k, (first, end) in enumerate(self.spans()):
            a, b = max(first, lot.begin), min(end, lot.leave)
            if a >= b:
                continue
            rows = []
            for stand in sorted({option.path[k] for option in lot.options}):
                open_ = self.stands[stand].choices[k] if k < len(self.blocks) else (KEEP,)
                rows += [
                    self.daily[lot.kind, stand][choice, a:b]
                    for choice in open_
                    if choice in lot.fits[stand] or k == len(self.blocks)
                ]
            stack = np.array(rows)
            low[a:b], high[a:b] = stack.min(axis=0), stack.max(axis=0)
            if held and lot.holding is not None:
                low[a:b] = np.minimum(low[a:b], lot.holding.heat[a:b])
        return low, high

    def earliest(self, lot: LiveLot) -> int:
        """Day number of the soonest bloom there is for the lot: the hottest that it may have, from now."""
        return bloom_day(self.extremes(lot)[1], lot)

    def latest(self, lot: LiveLot) -> int:
        """Day number of the latest bloom there is for the lot: the coolest it may have, and a hold by its rules."""
        low, _ = self.extremes(lot, held=False)
        best, holding = bloom_day(low, lot), lot.holding
        if holding is None:
            return best
        heat = lot.heat + np.concatenate(([0.0], np.cumsum(low)))
        for start in range(lot.begin, min(best, lot.leave, self.tail)):
            if heat[start] < holding.colour - TOLERANCE or not holding.working[start]:
                continue
            for end in range(start + 1, min(start + holding.longest, lot.leave, self.tail) + 1):
                if holding.working[end] or end == lot.leave:
                    waiting = low.copy()
                    waiting[start:end] = holding.heat[start:end]
                    best = max(best, bloom_day(waiting, lot))
        return best


def bloom_day(heats: Floats, lot: LiveLot) -> int:
    """First day by whose start the lot has what it needs; the number of days where none is."""
    wanted = lot.need - lot.heat - TOLERANCE
    if wanted <= 0:
        return 0
    return min(int(np.searchsorted(np.cumsum(heats), wanted)) + 1, heats.size)


def changes(answer: Answer) -> int:
    """How often a bench is set to something else than the block before."""
    return sum(
        now != before
        for row in answer.choices
        for before, now in zip((KEEP, *row), row, strict=False)
    )  # fmt: skip


def moves(answer: Answer) -> int:
    """Lots moved, brought to another bench than planned, or held."""
    return sum(
        (option != 0) + (hold is not None) for option, hold in zip(answer.options, answer.holds, strict=True)
    )


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
    """A lot that can be steered: its simulation at its own pace, its plan, its run and what is expected of it."""

    simulation: LotSimulation
    plan: LotPlan
    run: Run
    expected: Expected

    @property
    def name(self) -> str:
        return self.simulation.lot.name

    @property
    def off(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.expected.likely - self.simulation.target).days


@dataclass(frozen=True, slots=True)
class Setup:
    """The problem with the dates and lots that its numbers stand for."""

    worked: PlanResult
    on: date
    start: date  # day 0
    end: date  # day after the last block
    lives: tuple[Live, ...]
    problem: Problem

    def day(self, number: int) -> date:
        return self.start + timedelta(days=number)


def expected_of(simulation: LotSimulation, run: Run, on: date) -> Expected | None:
    """Early, likely and late bloom of a run as its outlook on `on` has them; None past a gap."""
    started = simulation.history.started
    outlook = still_to_bloom(simulation, run, on, started)
    if outlook is None:
        return None
    first = max(on, run.stays[0].start)
    need = need_of(simulation, run).widened(heat_ahead_sd(simulation, run, first, max(first, run.bloom)))
    likely = need.quantile(0.5, outlook.heat if started else 0.0)
    return Expected(outlook.early, outlook.likely, outlook.late, likely)


def live_lots(worked: PlanResult, on: date, start: date) -> tuple[Live, ...]:
    """The lots that are not in bloom, faded or set out by `start`, each as it is now expected to go on."""
    out = []
    for simulation in worked.simulations:
        history = simulation.history
        if "bloom" in history.stages or history.faded is not None or simulation.lot.pots == 0:
            continue
        plan = replan_lot(simulation, on if history.started else None)
        if not isinstance(plan, LotPlan):
            continue
        paced = replace(simulation, pace=plan.need / simulation.need(plan.cold_weeks))
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


def set_up(worked: PlanResult, on: date, block_days: int) -> Setup | None:
    """The problem as seen on `on`; None where no lot is on a bench or comes to one within the week."""
    season = worked.plan.season
    start = season.calendar.on_or_after(on)
    lives = live_lots(worked, on, start)
    soon = [live for live in lives if live.run.stays[0].start < start + WEEK]
    if not soon:
        return None
    end = max(max(live.expected.likely, live.simulation.target + DAY) for live in soon)
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
        self, worked: PlanResult, start: date, end: date, lives: Sequence[Live], block_days: int
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
        simulation, plan, recipe = live.simulation, live.plan, live.plan.recipe
        begin = max(0, (live.run.stays[0].start - self.start).days)
        leave = min(self.days, (_leaves(live.run, self.start) - self.start).days)
        heat = simulation.heat_between(live.run.stays, live.run.stays[0].start, self.start)
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
            target=(simulation.target - self.start).days,
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
            for place, start, end in live.simulation.pieces(live.run.stays, first, last):
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
        history, recipe = live.simulation.history, live.plan.recipe
        early = live.off < 0 or live.plan.lot.hold_days > 0
        if not early or recipe.hold_max < 1 or any(s.step == "hold" for s in history.moves):
            return None
        coolers = [
            p.name for p in self.season.places
            if p.kind == "cooler" and self._known(p.name) and self._cold_enough(p.name, recipe.hold)
        ]  # fmt: skip
        if not coolers:
            return None
        usual = live.simulation.route.cooler
        cooler = usual if usual in coolers else coolers[0]
        working = np.array([self.season.calendar.works(self._day(i)) for i in range(self.days + 1)])
        heat = self._daily(cooler, recipe.base, recipe.cap)
        return Holding(
            cooler, heat, self._room(cooler), live.expected.need * recipe.colour, int(recipe.hold_max), working
        )  # fmt: skip

    def _cold_enough(self, cooler: str, wanted: float) -> bool:
        mean = self._days_of(self.climate.mean(cooler))[: (self.end - self.start).days]
        return bool(np.median(mean) <= wanted + UNSUITED)
