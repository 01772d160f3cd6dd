"""Every way a lot can be grown: its cooler, cold-weeks and bench, with the dates, room and work that follow."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

import numpy as np

from forcing.engine.backward import CountBack, Dates, chosen_cold, count_back, plan_as_due
from forcing.engine.climate import Climate, Ints
from forcing.engine.coolers import STEP, area_of, grows_in_the_dark, states_its_own, too_warm
from forcing.engine.log import NOTHING, History
from forcing.engine.replan import replan_lot
from forcing.engine.simulate import LotSimulation, Route, in_cooler, simulation_of
from forcing.engine.work.rules import LotDays, Stand, moments
from forcing.model import Lot, LotPlan, Recipe, RoomSetting, Season, StepName, Unplanned

# What a pot costs, in weeks away from its ideal cold. A bench outside the crop's limits is worse than a week
# of cold for each °C; the rest decides between places that are equal in cold.
WEEKEND = 3  # days from the last working day of a week to the first of the next
LATE = 1.0  # weeks for each day that a lot that has begun is late
OUTSIDE = 1.0  # weeks for each °C that the bench is outside the crop's limits
TOO_WARM = 0.5  # weeks, where a room that the season sets stays too warm for the lot once it has shoots
UNROOTED = 1.0  # weeks, where a room that the season sets is stepped down before the lot is rooted
FROM_REFERENCE = 0.02  # weeks for each °C between the bench and the recipe's reference
LAST = 28  # days before it is about to be brought in, on which a second cooler is to be the colder one
MOVED = 0.05  # weeks, where it is carried from one cooler to another: as little as to split a lot
IDLE = 0.05  # weeks for each week in a cooler that is not credited in full

Work = tuple[tuple[int, str], ...]  # (day number, task)


# ---------------------------------------------------------------- dates


@dataclass(frozen=True, slots=True)
class OptionDates:
    """Day numbers of a lot's life in a climate. `stands`: (place, from, to) of every stay, half-open."""

    potting: int
    cooler_in: int | None
    rooted: int | None  # None: not before bring in
    bring_in: int
    bloom: int
    stages: tuple[int, int, int]  # shoots, bud, colour
    cold_weeks: float
    wanted: float
    stands: tuple[tuple[str, int, int], ...]


def dates_of(simulation: LotSimulation, weeks: Sequence[float]) -> list[OptionDates]:
    """Dates of the lot on its route for each of the cold-weeks; those that cannot be are left out."""
    if not simulation.recipe.needs_cold:
        weeks = (chosen_cold(simulation),)
    if {simulation.spread(wanted) for wanted in weeks} != {simulation.spread(chosen_cold(simulation))}:
        # How much sureness takes hangs on its cold.
        each = [(replace(simulation.lot, cold_weeks=wanted), wanted) for wanted in weeks]
        return [d for lot, wanted in each for d in dates_of(replace(simulation, lot=lot), (wanted,))]
    count = CountBack.of(simulation)
    found = zip(count_back(count, weeks), weeks, strict=True)
    dated = [(dates, wanted) for dates, wanted in found if isinstance(dates, Dates)]
    waits = simulation.lot.hold_days is None and simulation.slowness > 1.0
    if not simulation.lot.hold_days and not waits:
        return _written(count, dated) if dated else []
    # A hold makes a stay more, which only the forward run writes out.
    lots = [replace(simulation.lot, cold_weeks=wanted) for _, wanted in dated]
    plans = [plan_as_due(replace(simulation, lot=lot)) for lot in lots]
    return [exact(simulation.climate, plan) for plan in plans if isinstance(plan, LotPlan)]


def exact(climate: Climate, plan: LotPlan) -> OptionDates:
    """The day numbers of a plan that the engine made."""
    number = climate.index
    early = plan.rooted is not None and plan.rooted <= plan.bring_in
    return OptionDates(
        number(plan.potting),
        None if plan.cooler_in is None else number(plan.cooler_in),
        number(plan.rooted) if early and plan.rooted else None,
        number(plan.bring_in),
        number(plan.bloom),
        (number(plan.stages["shoots"]), number(plan.stages["bud"]), number(plan.stages["colour"])),
        plan.cold_weeks,
        plan.cold_wanted,
        tuple((s.place, number(s.span.start), number(s.span.end)) for s in plan.steps if s.place is not None),
    )


def _written(count: CountBack, dated: Sequence[tuple[Dates, float]]) -> list[OptionDates]:
    """All dates that follow from potting, cooler-in and bring-in."""
    simulation, recipe = count.simulation, count.simulation.recipe
    out = np.array([dates.bring_in for dates, _ in dated])
    into = np.array([dates.bring_in if dates.cooler_in is None else dates.cooler_in for dates, _ in dated])
    weeks = count.cold_weeks(into, out)
    fractions = np.array([recipe.shoots, recipe.bud, recipe.colour, 1.0])
    stages = count.heat.reaches(out[:, None], simulation.needs(weeks)[:, None] * fractions)
    ageing = simulation.climate.along(count.legs, "ageing", *recipe.ageing)
    fades = ageing.reaches(stages[:, 3], np.array(recipe.display_life))
    rooted = count.roots.reaches(into, np.array(recipe.rooting * 7))
    shown = simulation.climate.index(simulation.season.span.end)
    leaves = None if simulation.lot.leaves is None else simulation.climate.index(simulation.lot.leaves)
    written = []
    for i, (dates, wanted) in enumerate(dated):
        shoots, bud, colour, bloom = stages[i].tolist()
        fade = int(fades[i]) if fades[i] < ageing.never else max(shown, bloom + 1)
        fade = fade if leaves is None or leaves <= dates.bring_in else min(fade, leaves)
        stands = []
        if dates.cooler_in is not None and simulation.route.cooler is not None:
            moved = min(int(count.moved[dates.cooler_in]), dates.bring_in)
            stands.append((simulation.route.cooler, dates.cooler_in, moved))
            if moved < dates.bring_in and simulation.route.after_rooting is not None:
                stands.append((simulation.route.after_rooting, moved, dates.bring_in))
        for (place, start), (_, stop) in pairwise((*count.legs, ("", simulation.climate.days))):
            begin, end = max(start, dates.bring_in), min(stop, fade)
            if begin < end:
                stands.append((place, begin, end))
        early = dates.cooler_in is not None and rooted[i] <= dates.bring_in
        written.append(OptionDates(
            dates.potting, dates.cooler_in, int(rooted[i]) if early else None, dates.bring_in, bloom,
            (shoots, bud, colour), float(weeks[i]), wanted, tuple(stands),
        ))  # fmt: skip
    return written


@dataclass(slots=True)
class ClimateSums:
    """A climate with the working days of a season in it."""

    season: Season
    climate: Climate
    before: Ints = field(init=False)  # latest working day on or before each day number; -1: none
    after: Ints = field(init=False)  # earliest working day on or after; past the end: none

    def __post_init__(self) -> None:
        working = self.climate.working(self.season.calendar)
        self.before, self.after = working.before, working.after


# ---------------------------------------------------------------- ways


@dataclass(frozen=True, slots=True)
class Option:
    """One way to grow a lot. `cost` in weeks of distance from the ideal cold, for each pot."""

    cooler: str | None
    bench: str
    dates: OptionDates
    distance: float  # weeks between its cold and the ideal
    cost: float
    work: Work  # all of it but the potting
    after_rooting: str | None = None  # the cooler that it is moved to once rooted; None: it stays


@dataclass(frozen=True, slots=True)
class Candidate:
    """A lot with its options, best first. `kept`: it has one place to go only, or it has begun its life."""

    lot: Lot
    area: float  # 15 cm-pot equivalents
    kept: bool
    options: tuple[Option, ...]
    refused: Unplanned | None = None  # why there is no option
    split: bool = False  # whether it may be grown in two places
    begun: bool = False  # by its log
    pull: int = 1  # weeks by which its potting may come before the week that its cooler-in asks for

    @property
    def choice(self) -> bool:
        return len(self.options) > 1


@dataclass(slots=True)
class OptionBuilder:
    """Makes the options of lots in one climate; lots that are alike share them."""

    season: Season
    climate_sums: ClimateSums
    programme: Sequence[RoomSetting]
    histories: Mapping[str, History]
    in_two: Collection[str] = ()  # lots that may be moved to a colder cooler once rooted
    known: dict[object, tuple[tuple[Option, ...], Unplanned | None]] = field(default_factory=dict)
    kinds: dict[tuple[Recipe, float], Recipe] = field(default_factory=dict)

    def candidate(
        self, lot: Lot, recipe: Recipe, coolers: Sequence[str | None], benches: Sequence[str]
    ) -> Candidate:
        """The lot's options in those coolers and on those benches."""
        history = self.histories.get(lot.name, NOTHING)
        kept = history.fixed or len(coolers) * len(benches) == 1
        climate = self.climate_sums.climate
        if history.fixed:
            return self.begun(lot, recipe, coolers, benches, history)
        kind = self.kinds.setdefault((recipe, recipe.cold_least), replace(recipe, cultivar=None))
        first = simulation_of(self.season, climate, lot, kind, coolers[0], benches[0])
        key = (
            kind, first.target, first.due, first.route.install, first.route.site, first.route.harden_at,
            first.route.harden_start, lot.cold_weeks, lot.precooled_weeks, lot.in_hand, lot.hold_days,
            lot.hold_at,
            self.season.confidence_of(lot), lot.cooler_after_rooting, tuple(coolers), tuple(benches),
            lot.name in self.in_two,
        )  # fmt: skip
        if key not in self.known:
            try:
                self.known[key] = self._options(first, coolers, benches)
            except (ArithmeticError, ValueError):
                self.known[key] = (), self._refusal(first)
        options, refused = self.known[key]
        if refused is not None:
            refused = replace(refused, lot=lot)
        split = lot.split and lot.pots > 1 and not kept
        return Candidate(lot, area_of(lot, recipe), kept, options, refused, split, pull=weeks_ahead(recipe))

    def begun(
        self,
        lot: Lot,
        recipe: Recipe,
        coolers: Sequence[str | None],
        benches: Sequence[str],
        history: History,
    ) -> Candidate:
        """A lot that has begun: its places still to come are open, what is logged stands."""
        found: list[Option] = []
        answer: LotPlan | Unplanned = Unplanned(lot, "it has nowhere to go", None)
        area = 0.0
        for cooler in coolers:
            for bench in benches:
                simulation = simulation_of(
                    self.season, self.climate_sums.climate, lot, recipe, cooler, bench, history
                )
                answer = replan_lot(simulation)
                if isinstance(answer, LotPlan):
                    area, dates = area_of(answer.lot, recipe), exact(self.climate_sums.climate, answer)
                    option = self._option(simulation, dates, 0.0)
                    late = LATE * max(0, -answer.days_early)
                    found.append(replace(option, distance=0.0, cost=option.cost - option.distance + late))
        if not found:
            assert isinstance(answer, Unplanned)
            return Candidate(lot, 0.0, True, (), answer, begun=True)
        found.sort(key=lambda o: (o.cost, o.cooler or "", o.bench))
        return Candidate(lot, area, True, tuple(found), begun=True)

    def _options(
        self, first: LotSimulation, coolers: Sequence[str | None], benches: Sequence[str]
    ) -> tuple[tuple[Option, ...], Unplanned | None]:
        """Options in order of cost; where there is none, why."""
        found: dict[object, Option] = {}
        weeks = cold_choices(first.lot, first.recipe)
        ways: list[tuple[LotSimulation, list[OptionDates]]] = []
        open_after = first.lot.name in self.in_two
        for cooler in coolers:
            for bench, after in product(benches, self._after(first, cooler, open_after)):
                route: Route = replace(first.route, cooler=cooler, bench=bench, after_rooting=after)
                simulation = replace(first, route=route)
                dated = dates_of(simulation, weeks)
                if open_after and after is not None:
                    dated = [dates for dates in dated if self._colder(cooler, after, dates)]
                ways.append((simulation, dated))
        dark = set() if open_after else self._dark(ways)
        for simulation, all_dates in ways:
            route = simulation.route
            for dates in all_dates:
                room = TOO_WARM * (route.cooler in dark)
                if open_after:
                    moved = MOVED * (route.after_rooting is not None)
                    room = moved + TOO_WARM * self._waits_with_shoots(simulation, dates)
                option = self._option(simulation, dates, room)
                known = (route.cooler, route.after_rooting, route.bench, dates.cooler_in, dates.bring_in)
                if known not in found or option.cost < found[known].cost:
                    found[known] = option
        if not found and first.due < first.target:
            return self._options(replace(first, finishes_outdoors=True), coolers, benches)
        if not found:
            return (), self._refusal(first)
        rooted = {k: o for k, o in found.items() if not self._stepped_too_soon(o, first.lot.name)}
        options = (rooted or found).values()
        return tuple(
            sorted(
                options,
                key=lambda o: (
                    o.cost,
                    o.cooler or "",
                    o.bench,
                    o.dates.cooler_in or 0,
                    o.after_rooting or "",
                ),
            )
        ), None

    def _after(self, first: LotSimulation, cooler: str | None, open_after: bool) -> list[str | None]:
        """The coolers that a lot may be moved to once rooted, None where it may stay."""
        stated = first.lot.cooler_after_rooting
        if cooler is None or not open_after:
            return [None if cooler in (None, stated) else stated]
        climate = self.climate_sums.climate
        out = climate.index(first.due) - int(first.recipe.bench_days)
        last = slice(max(0, out - LAST), max(1, out))
        means = {
            p.name: float(climate.mean(p.name)[last].mean()) for p in self.season.places if p.kind == "cooler"
        }
        return [None, *sorted(name for name in means if means[name] < means[cooler])]

    def _colder(self, cooler: str | None, after: str, dates: OptionDates) -> bool:
        """Whether the second cooler is the colder one, on the days that the lot stands in it."""
        climate = self.climate_sums.climate
        days = next((slice(start, end) for place, start, end in dates.stands if place == after), slice(0, 0))
        if cooler is None or days.start == days.stop or days.start >= dates.bring_in:
            return False
        return float(climate.mean(after)[days].mean()) < float(climate.mean(cooler)[days].mean())

    def _waits_with_shoots(self, simulation: LotSimulation, dates: OptionDates) -> bool:
        """Whether the lot stands with shoots for long in coolers warmer than they bear, by the rooms as they are."""
        climate = self.climate_sums.climate
        if dates.cooler_in is None:
            return False
        day = simulation.sprouted(climate.day(dates.cooler_in), climate.day(dates.bring_in))
        shown = dates.bring_in if day is None else climate.index(day)
        stays = [(p, max(a, shown), min(b, dates.bring_in)) for p, a, b in dates.stands]
        return grows_in_the_dark(climate, stays, simulation.recipe)

    @staticmethod
    def _refusal(first: LotSimulation) -> Unplanned:
        answer = replan_lot(first)
        return answer if isinstance(answer, Unplanned) else Unplanned(first.lot, "no dates fit", None)

    def _option(self, simulation: LotSimulation, dates: OptionDates, room: float) -> Option:
        """The option of these dates; `room`: what its cooler costs."""
        recipe, climate, bench = simulation.recipe, self.climate_sums.climate, simulation.route.bench
        ideal = recipe.cold_target if simulation.lot.cold_weeks is None else simulation.lot.cold_weeks
        distance = abs(dates.wanted - ideal)
        if dates.cold_weeks < dates.wanted - 0.05:
            distance = abs(dates.cold_weeks - ideal)
        mean = float(climate.mean(bench)[dates.bring_in : max(dates.bloom, dates.bring_in + 1)].mean())
        outside = max(0.0, recipe.bench_low - mean, mean - recipe.bench_high)
        idle = 0.0
        if dates.cooler_in is not None:
            credited = dates.cold_weeks - simulation.precooled
            idle = max(0.0, (dates.bring_in - dates.cooler_in) / 7 - credited)
        cost = distance + OUTSIDE * outside + FROM_REFERENCE * abs(mean - recipe.reference) + IDLE * idle
        if simulation.route.cooler is not None:
            cost += room + UNROOTED * self._stated_step_too_soon(simulation.route.cooler, dates)
        return Option(
            simulation.route.cooler, bench, dates, distance, round(cost, 6), self._work(simulation, dates),
            simulation.route.after_rooting,
        )  # fmt: skip

    # ------------------------------------------------------------ rooms

    def _steps_down(self, place: str) -> Iterator[int]:
        settings = sorted((r for r in self.programme if r.place == place), key=lambda r: r.span.start)
        for before, after in pairwise(settings):
            if after.mean < before.mean:
                yield self.climate_sums.climate.index(after.span.start)

    def _stepped_too_soon(self, option: Option, lot: str) -> bool:
        """Whether the room's programme steps down while the lot is there and not rooted."""
        return option.cooler is not None and self._unrooted_at(
            option.dates, tuple(self._steps_down(option.cooler))
        )

    def _stated_step_too_soon(self, cooler: str, dates: OptionDates) -> bool:
        place = self.season.place(cooler)
        if not states_its_own(self.season, place) or dates.cooler_in is None:
            return False
        mean = self.climate_sums.climate.mean(cooler)[dates.cooler_in : dates.bring_in]
        steps = np.flatnonzero(np.diff(mean) < -STEP) + dates.cooler_in + 1
        return self._unrooted_at(dates, tuple(int(s) for s in steps))

    def _dark(self, ways: Sequence[tuple[LotSimulation, list[OptionDates]]]) -> set[str | None]:
        """Coolers too warm for the lot's shoots, where another is not.

        By the first dates of a way, nearest to the ideal: other cold-weeks do not make a warm room fit.
        """
        seen = [(t.route.cooler, self._grows_in_the_dark(t, dates[0])) for t, dates in ways if dates]
        dark = {cooler for cooler, too in seen if too}
        return dark if dark < {cooler for cooler, _ in seen} else set()

    def _grows_in_the_dark(self, simulation: LotSimulation, dates: OptionDates) -> bool:
        """Whether the lot has shoots for long in a room that the season keeps warmer than they bear."""
        cooler, recipe = simulation.route.last_cooler, simulation.recipe
        if (
            cooler is None
            or dates.cooler_in is None
            or not states_its_own(self.season, self.season.place(cooler))
        ):
            return False
        climate = self.climate_sums.climate
        wanted = max(0.0, recipe.sprouting - simulation.precooled) * 7
        sprouted = simulation.cold(cooler).reach(dates.cooler_in, wanted, climate.days)
        return sprouted is not None and too_warm(climate.mean(cooler)[sprouted : dates.bring_in], recipe)

    @staticmethod
    def _unrooted_at(dates: OptionDates, steps: Sequence[int]) -> bool:
        if dates.cooler_in is None:
            return False
        rooted = dates.bring_in if dates.rooted is None else dates.rooted
        return any(dates.cooler_in < step < rooted for step in steps)

    # ------------------------------------------------------------ work

    def _work(self, simulation: LotSimulation, dates: OptionDates) -> Work:
        """(day, task) of all work but the potting."""
        sums = self.climate_sums
        made = moments(
            self._days(simulation, dates), lambda day: int(sums.before[day]), lambda day: int(sums.after[day])
        )
        return tuple((moment.day, moment.task) for moment in made if moment.task != "pot")

    def _days(self, simulation: LotSimulation, dates: OptionDates) -> LotDays:
        """The days that make work, with each stay called by what the lot does there."""
        route, bloom = simulation.route, dates.bloom
        out = (
            None
            if route.install is None or route.site is None
            else self.climate_sums.climate.index(route.install)
        )
        leaves = (
            None if simulation.lot.leaves is None else self.climate_sums.climate.index(simulation.lot.leaves)
        )
        stands = [Stand("pot", None, dates.potting, dates.stands[0][1] if dates.stands else dates.potting)]
        for place, start, end in dates.stands:
            step: StepName = "harden"
            if place == route.bench:
                step = "bench"
            elif simulation.season.place(place).kind == "cooler" or place == simulation.lot.hold_at:
                step = "hold" if start >= dates.bring_in else "cool"
            if start < bloom:
                stands.append(Stand(step, place, start, min(end, bloom)))
            if end > bloom:
                stands.append(Stand("show", place, max(start, bloom), end))
        return LotDays(
            dates.potting, dates.cooler_in, dates.rooted, dates.bring_in, dates.stages, bloom, out,
            route.site if out is not None else None, stands,
            None if leaves is None or leaves <= dates.bring_in else leaves,
        )  # fmt: skip


def weeks_ahead(recipe: Recipe) -> int:
    """Whole weeks by which a lot may be potted before the week its cooler asks for; the weekend comes on top."""
    return max(0, (int(recipe.potted_wait) - WEEKEND) // 7)


def cold_choices(lot: Lot, recipe: Recipe) -> tuple[float, ...]:
    """Cold-weeks that may be planned on: the stated, or whole weeks from the target within the crop's limits."""
    if not recipe.needs_cold:
        return (0.0,)
    if lot.cold_weeks is not None:
        return (lot.cold_weeks,)
    if recipe.cold_before(lot):
        return (recipe.cold_target,)
    ideal = min(max(recipe.cold_target, recipe.cold_min), recipe.cold_max)
    weeks = {ideal, recipe.cold_min, recipe.cold_max}
    weeks |= {ideal + n for n in range(-8, 9) if recipe.cold_min < ideal + n < recipe.cold_max}
    return tuple(sorted(weeks, key=lambda w: (abs(w - ideal), w)))


def places_of(
    season: Season, lot: Lot, recipe: Recipe, history: History = NOTHING
) -> tuple[list[str | None], list[str]]:
    """Coolers (None alone: no cold needed) and benches that the lot may go to, or stands on by its log."""
    names = sorted(season.places, key=lambda p: p.name)
    benches = [lot.bench] if lot.bench else [p.name for p in names if p.kind == "bench"]
    coolers: list[str | None] = [None]
    if in_cooler(lot, recipe, history):
        coolers = [lot.cooler] if lot.cooler else [p.name for p in names if p.kind == "cooler"]
    if history.coolers:
        coolers = [history.coolers[-1].place]
    brought = [move.place for move in history.moves if move.step == "bench"]
    return coolers, brought[-1:] or benches
