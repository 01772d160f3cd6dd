"""A lot run forward through its places, day by day: the judge of every date that is promised.

A lot that enters a place on day a and leaves on day b lives through that place's days a ... b-1.
Bloom is the first day by whose start the heat gathered since bring in has reached the need.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from itertools import zip_longest

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.climate import Climate, Floats, Ints, Legs, Series, WorkingDays
from forcing.engine.log import NOTHING, History, Stay, pots_left
from forcing.model import Basis, Lot, LotPlan, Recipe, Season, Step, StepName, TargetStage
from forcing.science.flowering import bench_need, need_at_confidence, spread_beyond
from forcing.science.pooling import Effect

STAGES = ("shoots", "bud", "colour", "bloom")


def pieces(stays: Sequence[Stay], start: date, end: date) -> Iterator[tuple[str, date, date]]:
    """(place, from, to) of each stay, cut to the days from `start` to `end`."""
    for stay, following in zip_longest(stays, stays[1:]):
        stop = end if following is None else min(end, following.start)
        begin = max(stay.start, start)
        if begin < stop:
            yield stay.place, begin, stop


def gathered(
    climate: Climate, stays: Sequence[Stay], start: date, end: date, of: Callable[[str], Series]
) -> float | None:
    """Sum of a daily quantity `of` places along the stays from `start` to the start of day `end`; None across a gap."""
    total = 0.0
    for place, begin, stop in pieces(stays, start, end):
        part = of(place).total(climate.index(begin), climate.index(stop))
        if part is None:
            return None
        total += part
    return total


def reached(
    climate: Climate, stays: Sequence[Stay], start: date, wanted: float, of: Callable[[str], Series],
    end: date | None = None,
) -> date | None:  # fmt: skip
    """First day by which the sum along the stays since `start` of a daily quantity `of` places is `wanted`.

    None if not by `end` (None: the last day known), or past a gap.
    """
    for place, begin, stop in pieces(stays, start, climate.day(climate.days) if end is None else end):
        a, b, series = climate.index(begin), climate.index(stop), of(place)
        day, total = series.reach(a, wanted, b), series.total(a, b)
        if day is not None:
            return climate.day(day)
        if total is None:
            return None
        wanted -= total
    return None


@dataclass(frozen=True, slots=True)
class Route:
    """Where a lot goes: its cooler (None: no cold), bench, and what comes after the bench."""

    cooler: str | None
    bench: str
    install: date | None
    site: str | None
    harden_at: str | None
    harden_start: date | None
    after_rooting: str | None = None  # the cooler that it is moved to once rooted; None: it stays

    @property
    def last_cooler(self) -> str | None:
        """Where it is cold last."""
        return self.after_rooting or self.cooler


# Days. Of a hold that steering advises: fewer are not worth two trips. Planned: a flower ages as much on two days of a
# bench as on a week outdoors. A lot set out longer before its target is to finish outdoors. Practice, no source.
SHORTEST_HOLD, SHORTEST_WAIT, IN_BLOOM = 4, 2, timedelta(days=7)
AUTUMN = 9  # the month from whose first day on the first bloom of a crop is counted
POTS = 9  # from the typical to the slowest, of which each is to bloom in time
# A room is never exact, and one step of the usual sequence is 4 °C: a room off by half of that is one for other lots.
UNSUITED = 2.0


def suits_hold(climate: Climate, place: str, recipe: Recipe, days: slice) -> bool:
    """Whether a room is, on these day numbers, as cold as a crop is held at, and never colder than it bears."""
    figure = recipe.figures.get("hold")
    least = recipe.hold - UNSUITED if figure is None or figure.low is None else figure.low
    mean, low = climate.mean(place)[days], climate.low[place][days]
    if not mean.size or np.isnan(low).any():
        return False
    return float(np.median(mean)) <= recipe.hold + UNSUITED and float(low.min()) >= least - 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Waiting:
    """A lot that waits in the cold, from the first working day with colour on, until it is wanted: by day numbers.

    A quick pot is brought to the cold sooner and waits longer, a slow one for less or not at all: what sureness costs
    in earliness is not spent blooming.
    """

    place: str
    first: int  # brought in
    heat: Series  # along the bench and what comes after it, without waiting
    cold: Series  # in the cold
    colour: float  # fraction of the need
    wanted: float  # fraction of the need that is wanted on the target: 1 is bloom
    soonest: int  # first day on which it can be brought to the cold: what is past is past
    back: int  # day by which it leaves the cold
    longest: int  # days
    working: WorkingDays

    def spans(self, needs: Floats) -> tuple[Ints, Ints]:
        """From and to of the waiting of pots with these needs [°C·d] (shape: needs); equal where they do not wait."""
        shown = np.minimum(
            self.heat.reaches(np.full(needs.shape, self.first), needs * self.colour), self.heat.never - 1
        )
        start = np.minimum(self.working.after[np.maximum(shown, self.soonest)], self.heat.never - 1)
        longest = self.working.before[np.minimum(start + self.longest, self.heat.never - 1)]
        return start, np.maximum(start, np.minimum(self.back, longest))

    def blooms(self, needs: Floats) -> Ints:
        """Day on which pots with these needs [°C·d] (shape: needs) are as they are wanted: in bloom, or at a stage."""
        if self.wanted <= self.colour:
            return self.heat.reaches(np.full(needs.shape, self.first), needs * self.wanted)
        start, end = self.spans(needs)
        got = self.heat.cumulative[start] - self.heat.cumulative[self.first]
        cold = self.cold.cumulative[end] - self.cold.cumulative[start]
        plain = self.heat.reaches(np.full(needs.shape, self.first), needs)
        waited = self.heat.reaches(end, np.maximum(needs - got - cold, 0.0))
        return np.where(end > start, waited, plain)


@dataclass(frozen=True, slots=True)
class Run:
    """What a lot does when run forward from a cooler-in and a bring-in date."""

    cold_weeks: float
    need: float  # °C·d, typical pot
    stays: tuple[Stay, ...]  # from bring in on
    stages: dict[str, date]  # typical pot
    assured: date  # when a pot as slow as the confidence asks is ready; the typical pot at confidence 0.5
    waiting: Waiting | None = None  # None: it does not wait in the cold for sureness' sake
    wanted: TargetStage = "bloom"

    @property
    def bloom(self) -> date:
        return self.stages["bloom"]

    @property
    def ready(self) -> date:
        """The day on which the typical pot reaches the stage that is wanted on the target."""
        return self.stages[self.wanted]


@dataclass(frozen=True, slots=True)
class LotSimulation:
    """A lot with all that decides its dates: recipe, route, the climate and the season's rules."""

    lot: Lot
    recipe: Recipe
    route: Route
    target: date
    climate: Climate
    season: Season
    history: History = NOTHING
    pace: float = 1.0  # what is known of its need, as a multiple of the recipe's
    others: Effect | None = None  # what the other lots say of that multiple; None: nothing beyond the recipe
    back_on: date | None = None  # the day it leaves the cold that it waits in; None: as its target asks
    finishes_outdoors: bool = (
        False  # whether it may be set out before it is in bloom, though it opens a display
    )

    @property
    def due(self) -> date:
        """The day by which it is to be in bloom: its target, or the day it is set out where it opens a display.

        It finishes outdoors where it is set out more than IN_BLOOM before its target.
        """
        out = self.route.install if self.route.site is not None else None
        if out is None or self.finishes_outdoors or not self.season.opened_by(self.lot):
            return self.target
        return out if out < self.target <= out + IN_BLOOM else self.target

    @property
    def blooms_from(self) -> date | None:
        """First day on which its kind can bloom in the year of its target; None: no limit, or its bulbs came cooled."""
        if self.recipe.earliest <= 0 or self.lot.precooled_weeks > 0:
            return None
        autumn = date(self.target.year - (self.target.month < AUTUMN), AUTUMN, 1)
        return autumn + timedelta(days=math.ceil(7 * self.recipe.earliest))

    # ------------------------------------------------------------ cold

    def cold_stays(self, cooler_in: date) -> tuple[Stay, ...]:
        """Where the lot gets its cold: as logged, or in its cooler from `cooler_in`; once rooted, in the next."""
        stays, after = self.history.coolers, self.route.after_rooting
        if not stays and self.route.cooler is not None:
            stays = (Stay("cool", self.route.cooler, cooler_in),)
        if not stays or after is None or any(stay.place == after for stay in stays):
            return stays
        rooted = self._rooted_in(stays, cooler_in)
        if rooted is None:
            return stays
        moved = self.season.calendar.on_or_after(max(rooted, stays[-1].start + timedelta(days=1)))
        return (*stays, Stay("cool", after, moved))

    @property
    def in_cooler(self) -> bool:
        """Whether it is cold in the house."""
        return in_cooler(self.lot, self.recipe, self.history)

    @property
    def precooled(self) -> float:
        """Weeks of cold that count of those the bulbs came with."""
        return self.recipe.precooled(self.lot.precooled_weeks)

    def cold_weeks(self, cooler_in: date, bring_in: date) -> float | None:
        """Weeks of cold credited by bring in, with those the bulbs came with; None across a gap."""
        days = gathered(self.climate, self.cold_stays(cooler_in), cooler_in, bring_in, self.cold)
        return None if days is None else days / 7 + self.precooled

    def rooted(self, cooler_in: date) -> date | None:
        """First day with roots at the drain holes; None if not inside the days that are known."""
        return self._rooted_in(self.cold_stays(cooler_in), cooler_in)

    def _rooted_in(self, stays: Sequence[Stay], cooler_in: date) -> date | None:
        wanted = self.recipe.rooting * 7
        return self.history.rooted or reached(self.climate, stays, cooler_in, wanted, self.rooting)

    def sprouted(self, cooler_in: date, bring_in: date) -> date | None:
        """First day with shoots of about 2.5 cm in the cooler; None if not before bring in."""
        return self.enough_cold(cooler_in, self.recipe.sprouting, bring_in)

    def enough_cold(self, cooler_in: date, cold_weeks: float, end: date | None = None) -> date | None:
        """First day by which `cold_weeks` are credited; None if not by `end`, or inside the days that are known."""
        wanted, stays = max(0.0, cold_weeks - self.precooled) * 7, self.cold_stays(cooler_in)
        return reached(self.climate, stays, cooler_in, wanted, self.cold, end)

    def cold(self, place: str) -> Series:
        """Days of cold credited in a place."""
        return self.climate.cold(place, self.recipe.cold_curve)

    def rooting(self, place: str) -> Series:
        """Days of rooting in a place."""
        return self.climate.rooting(place, self.recipe.rooting_at)

    # ------------------------------------------------------------ heat

    def need(self, cold_weeks: float) -> float:
        """Heat [°C·d] the typical pot needs after that much cold."""
        return float(self.needs(np.array(cold_weeks)))

    def needs(self, cold_weeks: Floats) -> Floats:
        """Heat [°C·d] the typical pot needs after each of these weeks of cold."""
        r = self.recipe
        need = bench_need(
            np.clip(cold_weeks, *r.line),
            cold_target=r.cold_target,
            bench_days=r.bench_days,
            bench_days_min=r.bench_days_min,
            days_saved=r.days_saved,
            reference=r.reference,
            base=r.base,
        )
        return self.pace * np.asarray(need)

    def spread(self, cold_weeks: float) -> float:
        """Coefficient of variation of the need after that much cold: more beyond what is known of the cold."""
        r, beyond = self.recipe, self.recipe.beyond_line(cold_weeks)
        if beyond == 0:
            return r.spread
        days = self.need(cold_weeks) / self.pace / (r.reference - r.base)
        return float(spread_beyond(r.spread, beyond * r.days_saved / days))

    @property
    def slowness(self) -> float:
        """Need of a pot as slow as the confidence asked of the lot, as a multiple of the typical pot's."""
        chosen = self.recipe.cold_target if self.lot.cold_weeks is None else self.lot.cold_weeks
        return _slowness(self.spread(chosen), self.season.confidence_of(self.lot))

    @property
    def wanted(self) -> float:
        """Fraction of its need that it is to have gathered by its target: 1, or that of the stage wanted then."""
        stage = self.lot.target_stage
        return 1.0 if stage == "bloom" else float(getattr(self.recipe, stage))

    @property
    def held_at(self) -> str | None:
        """Where it is held cold once it shows colour: as stated, else where it was cold last; None: nowhere."""
        return self.lot.hold_at or self.route.last_cooler

    def run(self, cooler_in: date | None, bring_in: date) -> Run | None:
        """The lot run forward; None where a temperature it needs is not known, or bloom lies too far.

        `cooler_in` is None for a lot without cold.
        """
        cold = self.cold_weeks(cooler_in or bring_in, bring_in)
        if cold is None:
            return None
        need = self.need(cold)
        waiting = self.waiting(bring_in, need)
        stays = self._stays(bring_in, need, waiting)
        if stays is None:
            return None
        fractions = (self.recipe.shoots, self.recipe.bud, self.recipe.colour, 1.0)
        days = [self.day_reaching(stays, bring_in, need * f) for f in fractions]
        assured = self.day_reaching(stays, bring_in, need * self.slowness * self.wanted)
        if waiting is not None:
            slow = int(waiting.blooms(np.array([need * self.slowness]))[0])
            assured = None if slow >= waiting.heat.never else self.climate.day(slow)
        if assured is None or any(day is None for day in days):
            return None
        stages = {name: day for name, day in zip(STAGES, days, strict=True) if day is not None}
        stages |= self.history.stages
        wanted = self.lot.target_stage
        return Run(cold, need, stays, stages, self.history.stages.get(wanted, assured), waiting, wanted)

    def stays(self, bring_in: date, need: float) -> tuple[Stay, ...] | None:
        """Where the lot stands from bring in on; a cold hold that is asked for starts once colour shows.

        None where colour comes only after the lot has left the bench, so that it cannot be held.
        """
        return self._stays(bring_in, need, self.waiting(bring_in, need))

    def _stays(self, bring_in: date, need: float, waiting: Waiting | None) -> tuple[Stay, ...] | None:
        moves = self.history.moves
        later = [s for s in self.later_stays() if not moves or s.start > moves[-1].start]
        if any(move.step == "harden" for move in moves):
            return moves
        begun = moves or self._stays_after(bring_in, later)[:1]
        plain = (*moves, *later) if moves else self._stays_after(bring_in, later)
        resting = bool(moves) and moves[-1].step == "hold" and "bloom" not in self.history.stages
        if resting and self.lot.hold_days is None and all(stay.step == "harden" for stay in later):
            return self._back_from_hold(later, need)
        if not self.lot.hold_days:
            return plain if waiting is None else self._waited(begun, plain, waiting, need)
        if self.held_at is None or self._held_already:
            return plain
        return self._with_hold(begun, plain, [stay for stay in later if stay.start > bring_in], need)

    @property
    def _held_already(self) -> bool:
        return any(move.step == "hold" for move in (*self.history.moves, *self.agreed_moves()))

    def waiting(self, bring_in: date, need: float) -> Waiting | None:
        """How the lot waits in the cold for sureness' sake; None: it does not. `need` [°C·d]: of the typical pot.

        It goes back to its bench on the last working day from which all pots up to one as slow as is asked, where that
        has colour on, are still in bloom when it is due; or straight out, where it is set out by then.
        """
        if self.lot.hold_days is not None or self.slowness <= 1.0 or "bloom" in self.history.stages:
            return None
        if self.wanted < self.recipe.colour:
            return None  # it is wanted before it may be held
        later, climate, recipe = self.later_stays(), self.climate, self.recipe
        begun = self.history.moves or self._stays_after(bring_in, later)[:1]
        after = [stay for stay in later if stay.start > begun[-1].start]
        if any(stay.step != "bench" for stay in begun) or any(stay.step != "harden" for stay in after):
            return None
        heat = climate.along(self._legs(begun, after), "heat", recipe.base, recipe.cap)
        first, back = climate.index(begun[0].start), self._back(heat, after, need)
        if back is None or back <= first:
            return None
        working, as_of = climate.working(self.season.calendar), self.history.as_of
        for place in self._rooms_to_wait_in():
            if suits_hold(climate, place, recipe, slice(max(back - SHORTEST_WAIT, 0), back)):
                waiting = Waiting(
                    place, first, heat, self.heat(place), recipe.colour, self.wanted,
                    0 if as_of is None else climate.index(as_of), back, int(recipe.hold_max), working,
                )  # fmt: skip
                waiting = self._latest(waiting, after, need)
                start, end = waiting.spans(np.array([need]))
                least = SHORTEST_WAIT if self.back_on is None else 1
                return waiting if end[0] - start[0] >= least else None
        return None

    def _latest(self, waiting: Waiting, after: Sequence[Stay], need: float) -> Waiting:
        """The waiting, back on a later working day where all pots up to the slowest that is asked bloom in time so.

        What shows colour on a day off goes on there, and is nearer to bloom than its colour when it is carried.
        """
        leave = self.climate.index(min(after[0].start, self.due) if after else self.due)
        needs = need / self.pace * np.linspace(1.0, self.slowness, POTS)
        due, working = self.climate.index(self.due), waiting.working
        while self.back_on is None and waiting.back < leave:
            later = replace(waiting, back=min(int(working.after[waiting.back + 1]), leave))
            if later.back <= waiting.back or int(later.blooms(needs).max()) > due:
                break
            waiting = later
        return waiting

    def _legs(self, begun: Sequence[Stay], after: Sequence[Stay]) -> Legs:
        return tuple((stay.place, self.climate.index(stay.start)) for stay in (*begun, *after))

    def _back(self, heat: Series, after: Sequence[Stay], need: float) -> int | None:
        """Last working day on which a pot as slow as is asked, with colour on, is brought back to bloom when it is due.

        The day it is set out, where that comes first; None where none is known. `need` [°C·d]: of the typical pot.
        """
        leave = self.climate.index(after[0].start) if after else self.climate.days
        if self.back_on is not None:
            return min(leave, self.climate.index(self.back_on))
        slow = need / self.pace * max(1.0, self.slowness)
        day = heat.begin(self.climate.index(self.due), slow * (self.wanted - self.recipe.colour))
        if day is None or day >= leave:
            return None if day is None else leave
        return int(self.climate.working(self.season.calendar).before[day])

    def _back_from_hold(self, later: Sequence[Stay], need: float) -> tuple[Stay, ...]:
        """The stays of a lot that was brought to the cold by its log: it goes back in time to bloom on its target."""
        moves, climate = self.history.moves, self.climate
        bench = next((m.place for m in reversed(moves) if m.step == "bench"), self.route.bench)
        legs = ((bench, climate.index(moves[-1].start)), *self._legs((), later))
        back = self._back(climate.along(legs, "heat", self.recipe.base, self.recipe.cap), later, need)
        after = moves[-1].start + DAY
        soonest = max(after, self.history.as_of or after)
        # Where no day is in time it goes at once.
        day = self.season.calendar.on_or_after(soonest if back is None else max(soonest, climate.day(back)))
        if later and day >= later[0].start:
            return (*moves, *later)
        return (*moves, Stay("bench", bench, day), *later)

    def _rooms_to_wait_in(self) -> list[str]:
        """Where it may wait in the cold: where it says, else where it was cold last, else in any cooler."""
        if self.lot.hold_at is not None:
            return [self.lot.hold_at]
        coolers = [place.name for place in self.season.places if place.kind == "cooler"]
        return sorted(coolers, key=lambda name: (name != self.route.last_cooler, name))

    def _waited(
        self, begun: Sequence[Stay], plain: Sequence[Stay], waiting: Waiting, need: float
    ) -> tuple[Stay, ...]:
        """The stays with the waiting of the typical pot in them."""
        start, end = (self.climate.day(int(day[0])) for day in waiting.spans(np.array([need])))
        after = [stay for stay in plain if stay.start > begun[-1].start]
        held = [Stay("hold", waiting.place, start)]
        if not after or end < after[0].start:
            held.append(Stay("bench", begun[-1].place, end))
        return (*begun, *held, *after)

    def _with_hold(
        self, begun: Sequence[Stay], plain: Sequence[Stay], later: Sequence[Stay], need: float
    ) -> tuple[Stay, ...] | None:
        assert self.held_at is not None and self.lot.hold_days is not None
        reached = self.day_reaching(plain, begun[0].start, need * self.recipe.colour)
        colour = self.history.stages.get("colour", reached)
        if colour is None:
            return None
        start = self.season.calendar.on_or_after(colour)
        # Nobody carries it back on a day off: it stays in the cold until the next working day.
        end = self.season.calendar.on_or_after(start + timedelta(days=self.lot.hold_days))
        if later and later[0].start < end:
            return None if not self.history.moves else tuple(plain)
        held = [Stay("hold", self.held_at, start)]
        if not later or end < later[0].start:
            held.append(Stay("bench", begun[-1].place, end))
        return (*begun, *held, *later)

    def heat(self, place: str) -> Series:
        """Heat [°C·d] that counts toward bloom in a place."""
        return self.climate.heat(place, self.recipe.base, self.recipe.cap)

    def ageing(self, place: str) -> Series:
        """Heat [°C·d] that counts toward fading in a place: warmth above the bench's cap still ages a flower."""
        return self.climate.ageing(place, *self.recipe.ageing)

    def day_reaching(self, stays: Sequence[Stay], start: date, wanted: float) -> date | None:
        """First day by which `wanted` [°C·d] is gathered along the stays since `start`; None if never known."""
        return reached(self.climate, stays, start, wanted, self.heat)

    def heat_between(self, stays: Sequence[Stay], start: date, end: date) -> float | None:
        """Heat [°C·d] gathered along the stays from `start` to the start of day `end`; None across a gap."""
        return gathered(self.climate, stays, start, end, self.heat)

    def at_pace_of(self, plan: LotPlan) -> LotSimulation:
        """The same lot at the pace that its plan is at."""
        return replace(self, pace=plan.need / self.need(plan.cold_weeks))

    def fade(self, run: Run) -> date | None:
        """First day the typical pot is past display; None where temperatures are not known that far."""
        return reached(self.climate, run.stays, run.bloom, self.recipe.display_life, self.ageing)

    def leaves(self, run: Run) -> date | None:
        """The day it leaves the house, as stated; None where it stays, or is only brought in after that day."""
        day = self.lot.leaves
        return day if day is not None and day > run.stays[0].start and not self.history.ended else None

    def set_out(self) -> date | None:
        """The day it is set out, logged or planned; None where it stays where it blooms."""
        logged = next((m.start for m in self.history.moves if m.step == "harden"), None)
        return logged or (self.route.install if self.route.site else None)

    def later_stays(self) -> list[Stay]:
        route, later = self.route, []
        if route.install is not None and route.site is not None:
            if route.harden_at is not None and route.harden_start is not None:
                later.append(Stay("harden", route.harden_at, route.harden_start))
            later.append(Stay("harden", route.site, route.install))
        return sorted((*self.agreed_moves(), *later), key=lambda stay: stay.start)

    def agreed_moves(self) -> tuple[Stay, ...]:
        """The moves of steering that was agreed to and that the log has not gone past."""
        pin, logged = self.history.agreed, self.history.moves
        if pin is None or not logged:
            return () if pin is None else pin.moves
        ahead = [move for move in pin.moves if move.start > logged[-1].start]
        return tuple(ahead[1:] if ahead and ahead[0].place == logged[-1].place else ahead)

    def _stays_after(self, bring_in: date, later: Sequence[Stay]) -> tuple[Stay, ...]:
        """The bench from bring in, then the later stays; one that had to start earlier starts at bring in."""
        first = Stay("bench", self.route.bench, bring_in)
        for stay in later:
            if stay.start <= bring_in:
                first = Stay(stay.step, stay.place, bring_in)
        return (first, *(stay for stay in later if stay.start > bring_in))

    # ------------------------------------------------------------ steps

    def steps(self, potting: date, cooler_in: date | None, run: Run, fade: date | None) -> tuple[Step, ...]:
        """The steps of the lot's life, tiling the days from potting to fade without gap or overlap."""
        name, bring_in = self.lot.name, run.stays[0].start
        rows: list[tuple[StepName, str | None, date]] = [("pot", None, potting)]
        if cooler_in is not None:
            rooted = self.rooted(cooler_in)
            for place, start, end in pieces(self.cold_stays(cooler_in), cooler_in, bring_in):
                if rooted is None or rooted > start:
                    rows.append(("root", place, start))
                if rooted is not None and rooted < end:
                    rows.append(("cool", place, max(rooted, start)))
        shown = False
        for i, stay in enumerate(run.stays):
            leaves = run.stays[i + 1].start if i + 1 < len(run.stays) else None
            if not shown and (leaves is None or run.bloom < leaves):
                if stay.start < run.bloom:
                    rows.append((stay.step, stay.place, stay.start))
                rows.append(("show", stay.place, max(run.bloom, stay.start)))
                shown = True
            else:
                rows.append(("on show" if shown else stay.step, stay.place, stay.start))
        last = fade if fade is not None else max(self.season.span.end, run.bloom + timedelta(days=1))
        rows = [row for row in rows if row[2] < last]
        ends: list[date] = [row[2] for row in rows[1:]] + [last]
        return tuple(
            Step(name, step, place, Span(start, stop), self._basis(step, start, stop))
            for (step, place, start), stop in zip(rows, ends, strict=True)
            if start < stop
        )

    def _basis(self, step: StepName, start: date, end: date) -> Basis:
        """Actual where both ends are logged, planned where nothing is, expected between."""
        h = self.history
        if not h.started:
            return "planned"
        logged = {h.potted, h.rooted, h.faded, h.stages.get("bloom")}
        logged |= {stay.start for stay in (*h.coolers, *h.moves)}
        return "actual" if start in logged and end in logged else "expected"


@lru_cache(maxsize=1024)
def _slowness(spread: float, confidence: float) -> float:
    """Kept, since every run of a lot asks for it, and lots of one crop are alike in it."""
    return float(need_at_confidence(1.0, spread, confidence))


def in_cooler(lot: Lot, recipe: Recipe, history: History) -> bool:
    """Whether a lot is cold in the house: by its crop, and where its bulbs do not bring all of it; or by its log."""
    return recipe.needs_cold and (bool(history.coolers) or not recipe.cold_before(lot))


def simulation_of(
    season: Season,
    climate: Climate,
    lot: Lot,
    recipe: Recipe,
    cooler: str | None,
    bench: str,
    history: History = NOTHING,
) -> LotSimulation:
    """The lot ready to be run forward in that cooler and on that bench.

    It is set out on its install date, or else as agreed, or on the last working day up to its target. Raises
    KeyError where it names a display that the season does not have.
    """
    target = lot.target or season.span.start
    site = season.display(lot.display).site if lot.display else None
    install = lot.install
    if install is None and site is not None:
        pin = history.agreed
        agreed = pin.lot.install if pin is not None and pin.lot.target == target else None
        install = season.calendar.on_or_before(agreed or target)
    harden_at = harden_start = None
    if install is not None and lot.harden_at and lot.harden_days:
        harden_at = lot.harden_at
        harden_start = season.calendar.on_or_before(install - timedelta(days=lot.harden_days))
    after = lot.cooler_after_rooting
    if not in_cooler(lot, recipe, history):
        cooler = after = None
    after = None if after == cooler else after
    route = Route(cooler, bench, install, site, harden_at, harden_start, after)
    return LotSimulation(pots_left(lot, history), recipe, route, target, climate, season, history)
