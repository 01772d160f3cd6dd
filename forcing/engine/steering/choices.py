"""The steering problem as plain numbers, made from a season worked out, and the forward sum that scores answers."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from forcing.dates import DAY, WEEK, monday
from forcing.engine.backward import expectation
from forcing.engine.climate import SETPOINT, STANDING, TOLERANCE
from forcing.engine.coolers import UNSUITED, pot_area
from forcing.engine.need import expected_need
from forcing.engine.outlook import still_to_bloom
from forcing.engine.plan import PlanResult
from forcing.engine.simulate import LotSimulation, Run, pieces
from forcing.model import LotPlan, Place, Season
from forcing.science.heat import degree_days
from forcing.units import TemperatureUnit, from_celsius, to_celsius

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
KEEP = 0  # the choice that leaves a bench as it is set


@dataclass(frozen=True, slots=True)
class Bench:
    """A bench (or a cooler in which a lot is held now): its means [°C] by choice, and what it may hold."""

    name: str
    means: tuple[float, ...]  # by choice; the first is the mean it is set to on day 0
    room: Floats | None  # free for live lots on each day; None: no capacity stated
    free: NDArray[np.bool_]  # days whose temperature a choice decides: no reading is given for them
    choices: tuple[tuple[int, ...], ...]  # those open in each block
    bound: frozenset[int] = frozenset()  # blocks that must go on as the block before: nobody works then


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
    paths: Ints  # bench it stands on, by option and block, the tail included; the first option is as planned
    moved: tuple[int | None, ...]  # block of its one move, by option; None: it stays
    fits: Mapping[int, frozenset[int]]  # choices of each bench that the lot stands
    holding: Holding | None = None
    binding: tuple[
        int, ...
    ] = ()  # blocks in which its limits bind the bench it stands on: until it is in bloom


@dataclass(frozen=True, slots=True)
class Answer:
    """A choice for each bench and block, an option and perhaps a hold for each lot."""

    choices: tuple[tuple[int, ...], ...]
    options: tuple[int, ...]
    holds: tuple[Hold | None, ...]


@dataclass(frozen=True, slots=True)
class SteeringProblem:
    """All benches, blocks and live lots. `blocks` are (first day, day after the last); after them comes the tail."""

    days: int
    blocks: tuple[tuple[int, int], ...]  # without the tail
    benches: tuple[Bench, ...]
    lots: tuple[LiveLot, ...]
    daily: tuple[Floats, ...]  # heat by bench, choice and day, of each kind of lot

    @property
    def tail(self) -> int:
        """First day after the last block."""
        return self.blocks[-1][1] if self.blocks else 0

    def spans(self) -> tuple[tuple[int, int], ...]:
        """The blocks, and after them the days on which benches are as the season states."""
        return (*self.blocks, (self.tail, self.days))

    def spells(self, lot: LiveLot, until: int) -> Iterator[tuple[int, int, int]]:
        """(block, first day, day after the last) of a lot on benches up to a day, the tail included."""
        for k, (first, end) in enumerate(self.spans()):
            a, b = max(first, lot.begin), min(end, until)
            if a < b:
                yield k, a, b

    def unchanged(self) -> Answer:
        """Nothing changed, nothing moved."""
        return Answer(
            tuple((KEEP,) * len(self.blocks) for _ in self.benches), (0,) * len(self.lots), (None,) * len(self.lots)
        )  # fmt: skip

    def settings(self, choices: Sequence[Sequence[int]]) -> Ints:
        """The choices as an array, by bench and block, with the tail in which every bench is kept."""
        rows = np.array(choices, dtype=np.int64).reshape(len(self.benches), len(self.blocks))
        return np.pad(rows, ((0, 0), (0, 1)), constant_values=KEEP)

    # ------------------------------------------------------------ the forward sum

    def heats(self, lot: LiveLot, paths: Ints, choices: Ints) -> Floats:
        """Heat of the lot (shape: rows, days) on these benches, set to these choices (both: rows, blocks and tail)."""
        out = np.tile(lot.outside, (len(paths), 1))
        for k, a, b in self.spells(lot, lot.leave):
            out[:, a:b] = self.daily[lot.kind][paths[:, k], choices[:, k], a:b]
        return out

    def heats_by_option(self, lot: LiveLot, settings: Ints) -> Floats:
        """Heat of the lot by option and day, the benches set so."""
        return self.heats(lot, lot.paths, settings[lot.paths, np.arange(settings.shape[1])])

    def heats_of(self, lot: LiveLot, option: int, settings: Ints) -> Floats:
        """Heat of the lot on each day where nothing holds it."""
        path = lot.paths[option]
        heats: Floats = self.heats(lot, path[None], settings[path, np.arange(path.size)][None])[0]
        return heats

    def days_off(self, answer: Answer) -> tuple[int, ...]:
        """Days from target to bloom of each lot, negative when early."""
        settings, out = self.settings(answer.choices), []
        for lot, option, hold in zip(self.lots, answer.options, answer.holds, strict=True):
            heats = held(lot, self.heats_of(lot, option, settings), hold)
            out.append(int(bloom_days(lot, heats)) - lot.target)
        return tuple(out)

    def pots_off(self, days_off: Sequence[int]) -> int:
        """Pots × days off target of all lots."""
        return sum(lot.pots * abs(days) for lot, days in zip(self.lots, days_off, strict=True))

    def score(self, answer: Answer) -> tuple[int, int, int]:
        """Pots × days off target, changes of setting, moves: what is minimised, in that order."""
        return self.pots_off(self.days_off(answer)), changes(answer), moves(answer)

    # ------------------------------------------------------------ rules

    def stands_it(self, lot: LiveLot, option: int, settings: Ints) -> bool:
        """Whether the benches of an option stay within the limits of the lot."""
        path = lot.paths[option]
        return all(settings[path[k], k] in lot.fits[path[k]] for k in lot.binding)

    def holds(self, lot: LiveLot, heats: Floats, before: int) -> Iterator[Hold]:
        """Every hold begun before a day that is within the rules of a lot which has these heats without one."""
        holding = lot.holding
        if holding is None:
            return
        heat = lot.heat + np.concatenate(([0.0], np.cumsum(heats)))
        last = min(lot.leave, self.tail)
        for start in range(lot.begin, min(before, last)):
            if holding.working[start] and heat[start] >= holding.colour - TOLERANCE:
                for end in range(start + 1, min(start + holding.longest, last) + 1):
                    if holding.working[end] or end == lot.leave:
                        yield Hold(start, end)

    def faults(self, answer: Answer) -> Iterator[str]:
        """What the answer breaks: limits of lots and benches, room, rules of holds. None: it can be done."""
        settings = self.settings(answer.choices)
        for lot, option, hold in zip(self.lots, answer.options, answer.holds, strict=True):
            if not self.stands_it(lot, option, settings):
                yield f"{lot.name} does not stand the bench it is on"
            if hold is not None and hold not in self.holds(
                lot, self.heats_of(lot, option, settings), lot.leave
            ):
                yield f"{lot.name} cannot be held then"
        for s, bench in enumerate(self.benches):
            for k, choice in enumerate(answer.choices[s]):
                if choice not in bench.choices[k]:
                    yield f"{bench.name} cannot be set to choice {choice} in block {k}"
                if k in bench.bound and choice != answer.choices[s][k - 1]:
                    yield f"{bench.name} is changed on a day off"
            if bench.room is not None and (self.taken(answer.options, s) > bench.room + 1e-6).any():
                yield f"{bench.name} is overfull"
        yield from self._overfull_coolers(answer)

    def taken(self, options: Sequence[int], bench: int) -> Floats:
        """Area of live lots on a bench on each day; a held lot keeps its room there."""
        out = np.zeros(self.days)
        for lot, option in zip(self.lots, options, strict=True):
            for k, a, b in self.spells(lot, lot.gone):
                if lot.paths[option, k] == bench:
                    out[a:b] += lot.area
        return out

    def _overfull_coolers(self, answer: Answer) -> Iterator[str]:
        used: dict[str, Floats] = {}
        room: dict[str, Floats] = {}
        for lot, hold in zip(self.lots, answer.holds, strict=True):
            if hold is not None and lot.holding is not None and lot.holding.room is not None:
                load = used.setdefault(lot.holding.cooler, np.zeros(self.days))
                load[hold.start : hold.end] += lot.area
                room[lot.holding.cooler] = lot.holding.room
        for cooler, load in used.items():
            if ((load > room[cooler] + 1e-6) & (load > 0)).any():
                yield f"{cooler} is overfull"

    # ------------------------------------------------------------ what is possible at all

    def extremes(self, lot: LiveLot, *, waiting: bool = True) -> tuple[Floats, Floats]:
        """Least and greatest heat of the lot on each day, wherever it may stand; held as long as you like, or not."""
        low, high = lot.outside.copy(), lot.outside.copy()
        for k, a, b in self.spells(lot, lot.leave):
            rows = []
            for s in sorted(set(lot.paths[:, k].tolist())):
                tail = k == len(self.blocks)
                open_ = [KEEP] if tail else [c for c in self.benches[s].choices[k] if c in lot.fits[s]]
                rows.append(self.daily[lot.kind][s, open_, a:b])
            stack = np.concatenate(rows)
            low[a:b], high[a:b] = stack.min(axis=0), stack.max(axis=0)
            if waiting and lot.holding is not None:
                low[a:b] = np.minimum(low[a:b], lot.holding.heat[a:b])
        return low, high

    def earliest(self, lot: LiveLot) -> int:
        """Day number of the soonest bloom there is for the lot: the hottest that it may have, from now."""
        return int(bloom_days(lot, self.extremes(lot)[1]))

    def latest(self, lot: LiveLot) -> int:
        """Day number of the latest bloom there is for the lot: the coolest it may have, and a hold by its rules."""
        low, _ = self.extremes(lot, waiting=False)
        plain = int(bloom_days(lot, low))
        return max(
            (int(bloom_days(lot, held(lot, low, h))) for h in self.holds(lot, low, plain)), default=plain
        )


def held(lot: LiveLot, heats: Floats, hold: Hold | None) -> Floats:
    """The heats of a lot (by day) with the days it is held; without a hold as they are."""
    if hold is None or lot.holding is None:
        return heats
    out = heats.copy()
    out[hold.start : hold.end] = lot.holding.heat[hold.start : hold.end]
    return out


def bloom_days(lot: LiveLot, heats: Floats) -> Ints:
    """First day by whose start the lot has what it needs, of each row of daily heats; at most the number of days."""
    wanted = lot.need - lot.heat - TOLERANCE
    days: Ints = (np.cumsum(heats, axis=-1) < wanted).sum(axis=-1) + (wanted > 0)
    return np.minimum(days, heats.shape[-1])


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


# ---------------------------------------------------------------- what the numbers stand for

LONGEST = 8 * WEEK  # how far ahead benches are steered
AFTER = 60  # days after the last block in which a bloom is still counted
STEP = {"C": 0.5, "F": 1.0}  # grid of mean temperatures, in the season's own unit


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
    def off(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.bloom.likely - self.simulation.target).days


@dataclass(frozen=True, slots=True)
class Setup:
    """The problem with the dates and lots that its numbers stand for."""

    worked: PlanResult
    on: date
    start: date  # day 0
    end: date  # day after the last block
    lots: tuple[ExpectedLot, ...]  # as those of the problem
    problem: SteeringProblem

    @property
    def season(self) -> Season:
        return self.worked.plan.season

    def day(self, number: int) -> date:
        return self.start + timedelta(days=number)


def expected_bloom(simulation: LotSimulation, run: Run, on: date) -> ExpectedBloom | None:
    """Early, likely and late bloom of a run as its outlook on `on` has them; None past a gap."""
    outlook = still_to_bloom(simulation, run, on)
    if outlook is None:
        return None
    likely = expected_need(simulation, run, on).quantile(0.5)
    return ExpectedBloom(outlook.early, outlook.likely, outlook.late, likely)


def live_lots(worked: PlanResult, on: date, start: date) -> tuple[ExpectedLot, ...]:
    """The lots that are not in bloom, faded or set out by `start`, each as it is now expected to go on."""
    out = []
    for simulation in worked.simulations:
        history = simulation.history
        if "bloom" in history.stages or history.faded is not None or simulation.lot.pots == 0:
            continue
        known = expectation(simulation, on)
        if known is None or _leaves(known.run, start) <= start:
            continue
        bloom = expected_bloom(known.simulation, known.run, on)
        if bloom is not None and bloom.likely > start:
            out.append(ExpectedLot(known.plan, known.simulation, known.run, bloom))
    return tuple(out)


def _leaves(run: Run, start: date) -> date:
    """The day it leaves the benches for frame or display; far ahead where it never does."""
    return next((s.start for s in run.stays if s.step == "harden"), max(start, run.bloom) + 2 * 365 * DAY)


def set_up(worked: PlanResult, on: date, block_days: int) -> Setup | None:
    """The problem as seen on `on`; None where no lot is on a bench or comes to one within the week."""
    calendar = worked.plan.season.calendar
    start = calendar.on_or_after(on)
    lots = live_lots(worked, on, start)
    soon = [lot for lot in lots if lot.run.stays[0].start < start + WEEK]
    if not soon:
        return None
    end = max(max(lot.bloom.likely, lot.simulation.target + DAY) for lot in soon)
    end = calendar.on_or_after(max(start + DAY, min(end, start + LONGEST)))
    lots = tuple(lot for lot in lots if lot.run.stays[0].start < end)
    problem = _Builder(worked, start, end, lots, block_days).problem()
    return Setup(worked, on, start, end, lots, problem)


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
        self, worked: PlanResult, start: date, end: date, lots: Sequence[ExpectedLot], block_days: int
    ) -> None:
        self.worked, self.start, self.lots = worked, start, lots
        self.season, self.climate = worked.plan.season, worked.climate
        self.first = self.climate.index(start)
        self.steered = (end - start).days
        self.days = min(self.steered + AFTER, self.climate.days - self.first)
        own = [p.name for p in self.season.places if p.kind == "bench" and self._known(p.name)]
        self.own = frozenset(own)
        self.blocks = self._blocks(block_days, end)
        self.names = tuple(dict.fromkeys((*own, *(self._stands_now(lot) for lot in lots))))
        self.means = {name: self._means(name) for name in self.names}
        self.kinds = tuple(dict.fromkeys((r.base, r.cap) for r in (lot.plan.recipe for lot in lots)))

    def problem(self) -> SteeringProblem:
        benches = tuple(self._bench(name) for name in self.names)
        daily = tuple(self._table(benches, base, cap) for base, cap in self.kinds)
        lots = tuple(self._lot(lot, benches) for lot in self.lots)
        bare = SteeringProblem(self.days, self.blocks, benches, lots, daily)
        # Where the plan already overfills a bench, doing nothing must stay possible.
        roomy = tuple(
            bench if bench.room is None
            else replace(bench, room=np.maximum(bench.room, bare.taken((0,) * len(lots), s)))
            for s, bench in enumerate(benches)
        )  # fmt: skip
        return replace(bare, benches=roomy, lots=tuple(self._bound(bare, lot) for lot in lots))

    def _bound(self, bare: SteeringProblem, lot: LiveLot) -> LiveLot:
        """The lot with the blocks in which its limits bind: until it is in bloom whatever is done."""
        bloomed = int(bloom_days(lot, bare.extremes(lot)[0]))
        spells = bare.spells(lot, min(lot.leave, bloomed))
        return replace(lot, binding=tuple(k for k, _, _ in spells if k < len(self.blocks)))

    def _day(self, number: int) -> date:
        return self.start + timedelta(days=number)

    def _number(self, day: date) -> int:
        return min(max((day - self.start).days, 0), self.days)

    def _mean(self, place: str) -> Floats:
        return self.climate.mean(place)[self.first : self.first + self.days]

    def _known(self, place: str) -> bool:
        return not np.isnan(self._mean(place)[: self.steered]).any()

    def _blocks(self, block_days: int, end: date) -> tuple[tuple[int, int], ...]:
        """Weeks from Monday to Monday (or blocks of other lengths); a setpoint already stated starts one too."""
        marks = {self.start, end}
        day = monday(self.start) + WEEK if block_days == 7 else self.start + timedelta(days=block_days)
        while day < end:
            marks.add(self.season.calendar.on_or_after(day))
            day += timedelta(days=block_days)
        marks |= {p.start for p in self.season.setpoints if p.place in self.own}
        days = sorted((m - self.start).days for m in marks if self.start <= m <= end)
        return tuple(itertools.pairwise(days))

    # ------------------------------------------------------------ benches

    def _half(self, name: str, day: int) -> float:
        """Half of what lies between day and night of a bench."""
        warm, cool = stated(self.season, self.season.place(name), self._day(day))
        return abs(warm - cool) / 2

    def _limits(self, name: str, day: int) -> tuple[float, float]:
        """The means [°C] between which a bench keeps its limits by day and by night."""
        place, half = self.season.place(name), self._half(name, day)
        low = -math.inf if place.lowest is None else place.lowest + half
        return low, math.inf if place.highest is None else place.highest - half

    def _means(self, name: str) -> tuple[float, ...]:
        """The means [°C] a bench may be set to: inside its limits, and of use to some lot."""
        if name not in self.own:
            return ()
        low, high = self._limits(name, 0)
        recipes = [lot.plan.recipe for lot in self.lots]
        low = max(low, min(r.bench_low for r in recipes))
        return grid(low, min(high, max(r.bench_high for r in recipes)), self.season.unit)

    def _bench(self, name: str) -> Bench:
        means, now = self.means[name], self._mean(name)
        basis = self.climate.basis[name][self.first : self.first + self.days]
        free = np.isin(basis, (SETPOINT, STANDING)) & (np.arange(self.days) < self.steered)
        choices: list[tuple[int, ...]] = []
        bound = set()
        for k, (a, b) in enumerate(self.blocks):
            open_: list[int] = [KEEP]
            if free[a:b].any():
                at = a + int(np.argmax(free[a:b]))
                low, high = self._limits(name, a) if means else (0.0, 0.0)
                open_ += [i for i, mean in enumerate(means, 1) if low - 1e-6 <= mean <= high + 1e-6
                          and abs(mean - now[at]) > 1e-9]  # fmt: skip
                if not self.season.calendar.works(self._day(a)) and k and not self._restated(name, a):
                    bound.add(k)
            choices.append(tuple(open_))
        return Bench(name, (float(now[0]), *means), self._room(name), free, tuple(choices), frozenset(bound))

    def _restated(self, name: str, day: int) -> bool:
        return any(p.place == name and p.start == self._day(day) for p in self.season.setpoints)

    def _table(self, benches: Sequence[Bench], base: float, cap: float) -> Floats:
        """Heat of each bench, choice and day, for lots of that base and cap."""
        table = np.zeros((len(benches), max(len(bench.means) for bench in benches), self.days))
        for s, bench in enumerate(benches):
            table[s] = self._daily(bench.name, base, cap)
            means = np.array(bench.means[1:])
            for a, b in self.blocks if means.size else ():
                half = self._half(bench.name, a)
                heat = np.asarray(degree_days(means - half, means + half, base, cap))
                table[s, 1 : len(bench.means), a:b][:, bench.free[a:b]] = heat[:, None]
        return table

    def _daily(self, place: str, base: float, cap: float) -> Floats:
        """Heat of each day in a place as it is; a day that is not known gives none."""
        sums = self.climate.heat(place, base, cap).cumulative
        return np.diff(np.array(sums[self.first : self.first + self.days + 1]))

    def _room(self, name: str) -> Floats | None:
        """What is free for live lots on each day; None where the place states no capacity."""
        capacity = self.season.place(name).pots
        if capacity is None:
            return None
        free: Floats = np.full(self.days, float(capacity))
        live = {lot.name for lot in self.lots}
        for plan in self.worked.plan.lots:
            if plan.lot.name not in live:
                for step in plan.steps:
                    if step.place == name:
                        free[self._number(step.span.start) : self._number(step.span.end)] -= pot_area(plan)
        return free.clip(min=0.0)

    # ------------------------------------------------------------ lots

    def _stands_now(self, lot: ExpectedLot) -> str:
        """Where it stands on day 0, or on the day it is brought in."""
        first = max(self.start, lot.run.stays[0].start)
        return [s for s in lot.run.stays if s.start <= first][-1].place

    def _lot(self, lot: ExpectedLot, benches: Sequence[Bench]) -> LiveLot:
        simulation, plan, stays = lot.simulation, lot.plan, lot.run.stays
        leave = self._number(_leaves(lot.run, self.start))
        here = self.names.index(self._stands_now(lot))
        fits = {s: self._fits(lot, bench, s == here) for s, bench in enumerate(benches)}
        paths, moved = self._options(lot, here, leave, fits)
        return LiveLot(
            name=lot.name,
            pots=plan.lot.pots,
            area=pot_area(plan),
            kind=self.kinds.index((plan.recipe.base, plan.recipe.cap)),
            need=lot.bloom.need,
            heat=simulation.heat_between(stays, stays[0].start, self.start) or 0.0,
            target=(simulation.target - self.start).days,
            begin=max(0, (stays[0].start - self.start).days),
            leave=leave,
            gone=leave if leave < self.days else self._number(plan.steps[-1].span.end),
            outside=self._outside(lot, leave),
            paths=paths,
            moved=moved,
            fits=fits,
            holding=self._holding(lot),
        )

    def _fits(self, lot: ExpectedLot, bench: Bench, here: bool) -> frozenset[int]:
        if bench.name not in self.own:
            return frozenset({KEEP})
        recipe, now = lot.plan.recipe, self._mean(bench.name)[: self.steered]
        low, high = recipe.bench_low - 1e-6, recipe.bench_high + 1e-6
        good = {i for i, mean in enumerate(bench.means) if i != KEEP and low <= mean <= high}
        kept = low <= now.min() and now.max() <= high
        return frozenset(good | ({KEEP} if here or kept else set()))

    def _outside(self, lot: ExpectedLot, leave: int) -> Floats:
        out, recipe = np.zeros(self.days), lot.plan.recipe
        for place, start, end in pieces(lot.run.stays, self._day(leave), self._day(self.days)):
            a, b = self._number(start), self._number(end)
            out[a:b] = self._daily(place, recipe.base, recipe.cap)[a:b]
        return out

    def _options(
        self, lot: ExpectedLot, here: int, leave: int, fits: Mapping[int, frozenset[int]]
    ) -> tuple[Ints, tuple[int | None, ...]]:
        """As planned first; then, for a lot on a bench, each other bench from each block that starts on a
        working day; for a lot still to come, each other bench from the start."""
        n = len(self.blocks) + 1
        rows: list[tuple[tuple[int, ...], int | None]] = [((here,) * n, None)]
        others = [s for s, name in enumerate(self.names) if s != here and fits[s] and name in self.own]
        if lot.run.stays[0].start > self.start:
            rows += [((s,) * n, None) for s in others]
        else:
            for k, (a, _) in enumerate(self.blocks):
                if a < leave and self.season.calendar.works(self._day(a)):
                    rows += [((here,) * k + (s,) * (n - k), k) for s in others]
        return np.array([path for path, _ in rows]), tuple(moved for _, moved in rows)

    def _holding(self, lot: ExpectedLot) -> Holding | None:
        """The cooler that an early lot may wait in once it is in colour; None where there is none."""
        simulation, recipe = lot.simulation, lot.plan.recipe
        early = lot.off < 0 or simulation.lot.hold_days > 0
        if not early or recipe.hold_max < 1 or any(s.step == "hold" for s in simulation.history.moves):
            return None
        coolers = [
            p.name for p in self.season.places
            if p.kind == "cooler" and self._known(p.name) and self._cold_enough(p.name, recipe.hold)
        ]  # fmt: skip
        if not coolers:
            return None
        usual = simulation.route.cooler
        cooler = usual if usual in coolers else coolers[0]
        working = np.array([self.season.calendar.works(self._day(i)) for i in range(self.days + 1)])
        heat = self._daily(cooler, recipe.base, recipe.cap)
        return Holding(
            cooler, heat, self._room(cooler), lot.bloom.need * recipe.colour, int(recipe.hold_max), working
        )  # fmt: skip

    def _cold_enough(self, cooler: str, wanted: float) -> bool:
        return bool(np.median(self._mean(cooler)[: self.steered]) <= wanted + UNSUITED)
