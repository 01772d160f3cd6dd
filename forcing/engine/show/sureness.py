"""How sure the displays are: how surely each lot that opens one is planned, and what would make it surer.

A lot alone that is nine times in ten in bloom gives a display that is; of three that are all wanted, and late for
reasons of their own, each must be surer. What is stated stands: for the lot, its display or the season.

What would bring a display to its wanted cover from opening to closing day is tried in the same sums, with its price.
First lots that are not yet potted are brought into bloom sooner, by the first day that is too unsure, where that makes
days surer: it costs no pots. Then more pots are tried, of the kinds planted most there: the fewest that do nearly as
much as the most. Pots that are over give their places up to what comes. What finds room in its cooler and on its bench
goes before what does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import chain

from forcing.dates import DAY, Span
from forcing.engine.climate import Floats
from forcing.engine.loads import Lack, Rooms
from forcing.engine.log import NOTHING
from forcing.engine.replan import Expectation, expectation
from forcing.engine.show.cover import (
    BloomOdds,
    Bools,
    Cover,
    bloom_odds,
    chances_of_enough,
    in_bloom,
    planned_odds,
)
from forcing.engine.show.standing import Standing, standings
from forcing.engine.simulate import LotSimulation, simulation_of
from forcing.errors import Finding
from forcing.model import OPENING, Lot, LotPlan, Season
from forcing.science.pooling import late_together
from forcing.text import later, some

STEPS = (0.92, 0.94, 0.96, 0.98, 0.99)  # confidences that are tried; common practice, no source
GAIN = 0.01  # of a chance for which a lot is brought in sooner


def surer_openings(
    season: Season, plans: Sequence[LotPlan], simulations: Sequence[LotSimulation], on: date
) -> dict[str, float]:
    """Confidences, by lot as stated, of lots that must be surer than OPENING for their display to be sure enough.

    None for lots that are begun or agreed, nor for those whose confidence is stated.
    """
    of = {t.lot.name: t for t in simulations}
    surer: dict[str, float] = {}
    for stand in standings(season, plans, simulations):
        if stand.display.span.start >= on and stand.display.span.days:
            surer |= _surer(season, stand, of, on)
    return surer


def _surer(season: Season, stand: Standing, of: Mapping[str, LotSimulation], on: date) -> dict[str, float]:
    """The confidences that make one display sure enough, one lot at a time, the one that gains most first."""
    opening = Span(stand.display.span.start, stand.display.span.start + DAY)
    there = [name for name in dict.fromkeys(p.lot for p in stand.pieces) if stand.pots(name)[0]]
    known = {name: expected for name in there if (expected := expectation(of[name], on)) is not None}
    sure = {name: odds for name, e in known.items() if (odds := bloom_odds(e, opening, on)) is not None}
    late = dict(zip(sure, late_together([found.tie for found in sure.values()]), strict=True))

    def chance(tried: Mapping[str, BloomOdds]) -> float:
        lots = [(stand.pots(name)[:1], in_bloom(late[name], {**sure, **tried}[name])) for name in sure]
        return chances_of_enough(lots, season.wanted_cover, 1)[0] or 0.0

    now, taken, ways = chance({}), dict[str, tuple[float, BloomOdds]](), None
    while now < OPENING:
        if ways is None:
            ways = _ways(season, [of[name] for name in sure], opening, on)
        so_far = {name: found for name, (_, found) in taken.items()}
        tried = [(chance({**so_far, name: found}), name, step, found) for name, step, found in ways]
        best = max(tried, key=lambda way: (way[0], -way[2]), default=None)
        if best is None or best[0] < now + GAIN:
            break
        now = best[0]
        taken[best[1]] = best[2:]
    return {of[name].lot.stated_name: step for name, (step, _) in taken.items()}


def _ways(
    season: Season, simulations: Sequence[LotSimulation], opening: Span, on: date
) -> list[tuple[str, float, BloomOdds]]:
    """Each lot that may be surer, at each step."""
    ways = []
    for t in simulations:
        if t.history.started or t.history.agreed is not None or season.stated_confidence(t.lot) is not None:
            continue
        if season.opened_by(t.lot):
            for step in STEPS:
                found = planned_odds(replace(t, lot=replace(t.lot, confidence=step)), opening, on)
                if found is not None:
                    ways.append((t.lot.name, step, found[1]))
    return ways


# ---------------------------------------------------------------- what would help

LASTING = (
    0.8  # chance of the wanted cover that a display is to have until it closes; common practice, no source
)
KINDS, MOST = 2, 3  # kinds that are tried, and offers that are made at most
NEAR = timedelta(
    days=10
)  # lots that come within so many days of a thin one are tried sooner, NEAREST of them
NEAREST = 3
SIZES = (1, 2, 3, 4, 6)  # numbers of pots that are tried, in half as many as there are containers
NEARLY = 0.005  # a chance is said in whole percents
WORTH = 0.1  # days lacking that an offer takes off at the least
NEARLY_ALL = 0.95  # of what the best takes off is enough where it asks for fewer pots
STRETCHES = 2  # of days that are too unsure, for which something is looked for each time
DRAWN = 2048  # seasons


@dataclass(frozen=True, slots=True)
class Offer:
    """Pots of a lot that is there or of one that could be, in bloom from a day of the display's span on."""

    plan: LotPlan
    odds: BloomOdds
    pots: int
    day: int
    sooner: int  # days by which the target of a lot that is there comes sooner; 0: these are more pots
    lacks: Lack | None = None  # the place that has no room for it; None: there is room

    @property
    def words(self) -> str:
        """'TM1 in bloom by 2027-03-29, 4 days sooner', '12 more pots of mid tulip in bloom by 2027-04-09 ...'."""
        lot, plan = self.plan.lot, self.plan
        room = f", for which {self.lacks.place} is {self.lacks.short}" if self.lacks else ""
        if self.sooner:
            return f"{lot.name} in bloom by {plan.target}, {later(-self.sooner)}{room}"
        kind = " ".join(filter(None, (lot.bloom_class, lot.crop)))
        return (
            f"{some(self.pots, 'more pot')} of {kind} in bloom by {plan.target} (potted by {plan.potting}, "
            f"{some(plan.bench_days, 'bench-day')}){room}"
        )


def offer_findings(
    stand: Standing, cover: Cover, odds: Mapping[str, BloomOdds], known: Mapping[str, Expectation | None],
    rooms: Rooms, on: date,
) -> Iterator[Finding]:  # fmt: skip
    """What the display lacks to be sure enough, on opening day and until it closes, and what that would cost.

    `rooms`: as they are planned.
    """
    lots = sorted((e for n, e in known.items() if e and n in odds), key=lambda e: -e.simulation.lot.pots)
    if all(lot.simulation.history.started for lot in lots):
        return  # there is nothing left to plan
    trial = _Trial.of(stand, cover, odds, lots, rooms, on)
    weak = _weak(trial.chances())
    offers: list[Offer] = []
    while len(offers) < MOST and (better := trial.better(lots, len(offers))):
        offer, trial = better
        offers.append(offer)
    if not offers:
        return
    then = trial.chances()
    worst = min(weak, key=lambda i: cover.chance[i] or 0.0)
    chance = f"{cover.chance[worst] or 0.0:.0%} on {cover.day(worst)}"
    more = sum(offer.pots for offer in offers if not offer.sooner)
    yield Finding(
        "cover-unsure", "note", "displays", stand.display.row, "display",
        f"{cover.display} has its wanted cover with a chance of {chance}; {OPENING:.0%} on opening day and "
        f"{LASTING:.0%} until it closes are asked",
        f"{'This would do' if not _weak(then) else 'This would help'}: {'; '.join(o.words for o in _joined(offers))}. "
        f"It is then {min(then.values()):.0%} on the worst day, and {len(weak) - len(_weak(then))} more days are sure "
        "enough.",
        place=stand.display.site, number=more, days=(cover.day(weak[0]), cover.day(weak[-1])),
    )  # fmt: skip


def _joined(offers: Sequence[Offer]) -> list[Offer]:
    """The offers, more pots of one kind and day as one."""
    found: dict[tuple[str, str | None, date, int, str | None], Offer] = {}
    for offer in offers:
        lot = offer.plan.lot
        lacks = offer.lacks.place if offer.lacks else None
        key = (lot.crop, lot.bloom_class, offer.plan.target, offer.sooner, lacks)
        found[key] = replace(offer, pots=offer.pots + (found[key].pots if key in found else 0))
    return list(found.values())


def _asked(day: int) -> float:
    """The chance that is asked on a day of a display."""
    return (OPENING if day == 0 else LASTING) - NEARLY


def _weak(chances: Mapping[int, float]) -> list[int]:
    """The days that are not sure enough."""
    return [day for day, chance in chances.items() if chance < _asked(day)]


def _lacking(chances: Mapping[int, float]) -> float:
    """Days that are lacking: of each the chance that it is short by."""
    return sum(max(0.0, _asked(day) - chance) for day, chance in chances.items())


@dataclass(frozen=True, slots=True)
class _Trial:
    """A display with other lots in it, or other days of them."""

    cover: Cover
    odds: Mapping[str, BloomOdds]
    standing: Mapping[str, Sequence[int]]  # by lot and day
    shown: Mapping[str, Bools]  # by lot: in bloom or not (shape: days, seasons)
    late: Mapping[str, Floats]  # by lot, and by name of what could be added
    containers: int
    plans: Mapping[str, LotPlan]  # by lot
    rooms: Rooms
    on: date

    @classmethod
    def of(
        cls, stand: Standing, cover: Cover, odds: Mapping[str, BloomOdds], lots: Sequence[Expectation],
        rooms: Rooms, on: date,
    ) -> _Trial:  # fmt: skip
        """The display as it is planned."""
        more = {_name(lot, n): odds[lot.simulation.lot.name].tie for n in range(MOST) for lot in _kinds(lots)}
        names, ties = (*odds, *more), (*(lot.tie for lot in odds.values()), *more.values())
        late = dict(zip(names, late_together(ties, DRAWN), strict=True))
        shown = {name: in_bloom(late[name], lot) for name, lot in odds.items()}
        standing, plans = {n: stand.pots(n) for n in odds}, {e.plan.lot.name: e.plan for e in lots}
        return cls(cover, odds, standing, shown, late, stand.display.containers, plans, rooms, on)

    def chances(self) -> dict[int, float]:
        """Chance of enough on each day ahead on which something stands there."""
        lots = [(self.standing[name], self.shown[name]) for name in self.odds]
        found = chances_of_enough(lots, self.cover.wanted, self.cover.span.days)
        first = max(0, (self.on - self.cover.span.start).days)
        return {i: chance for i, chance in enumerate(found) if i >= first and chance is not None}

    def better(self, lots: Sequence[Expectation], number: int) -> tuple[Offer, _Trial] | None:
        """The best offer, and the display with it; None: nothing makes days surer."""
        chances = self.chances()
        weak, lacking = _weak(chances), _lacking(chances)
        starts = [day for day in weak if day - 1 not in weak][:STRETCHES]
        ways = chain.from_iterable(
            (_sooner(self, lots, day), _more(self, lots, day, number)) for day in starts
        )
        without: list[tuple[float, Offer, _Trial]] = []  # what finds no room
        for offers in ways:
            tried = [
                (lacking - _lacking(trial.chances()), o, trial) for o in offers for trial in [self.having(o)]
            ]
            found = _best([way for way in tried if way[1].lacks is None])
            if found is not None:
                return found[1:]
            without += tried
        found = _best(without)
        return None if found is None else found[1:]

    def having(self, offer: Offer) -> _Trial:
        """The display with an offer taken: pots that are over, the first to fade first, leave for what comes."""
        name, days = offer.plan.lot.name, range(self.cover.span.days)
        standing = {n: list(pots) for n, pots in self.standing.items() if n != name}
        before = self.standing.get(name, (0,) * len(days))
        for i in days[offer.day :]:
            left = offer.pots - before[i]
            for other in sorted(standing, key=lambda n: -self.odds[n].over[i]):
                gone = min(left, standing[other][i]) if self.odds[other].over[i] > 0.5 else 0
                standing[other][i] -= max(0, gone)
                left -= max(0, gone)
        came = [offer.pots if i >= offer.day else 0 for i in days]
        return replace(
            self, odds={**self.odds, name: offer.odds}, standing={**standing, name: came},
            shown={**self.shown, name: in_bloom(self.late[name], offer.odds)},
            plans={**self.plans, name: offer.plan}, rooms=self.rooms.taking(offer.plan, self.plans.get(name)),
        )  # fmt: skip

    def offer(self, plan: LotPlan, odds: BloomOdds, pots: int, day: int, sooner: int) -> Offer:
        """An offer, with what it lacks."""
        plan = plan if sooner else replace(plan, lot=replace(plan.lot, pots=pots))
        return Offer(plan, odds, pots, day, sooner, self.rooms.lacking(plan, self.plans.get(plan.lot.name)))


def _best(tried: Sequence[tuple[float, Offer, _Trial]]) -> tuple[float, Offer, _Trial] | None:
    """Of offers with what each gains, the one of the fewest pots that gains nearly as much as the best; None: none."""
    best = max((gain for gain, _, _ in tried), default=0.0)
    if best < WORTH:
        return None
    return min((way for way in tried if way[0] >= NEARLY_ALL * best), key=lambda way: (way[1].pots, -way[0]))


def _sooner(trial: _Trial, lots: Sequence[Expectation], day: int) -> Iterator[Offer]:
    """The lots that are not potted yet and come next after that day, by it."""
    want = trial.cover.day(day)
    next_on = [e.simulation for e in lots if want < e.simulation.target <= want + NEAR]
    for simulation in sorted(next_on, key=lambda s: s.target)[:NEAREST]:
        if not simulation.history.started:
            for plan, odds in _by(trial, simulation, day, simulation.lot):
                pots = max(trial.standing[simulation.lot.name])
                yield trial.offer(plan, odds, pots, day, (simulation.target - want).days)


def _kinds(lots: Sequence[Expectation]) -> list[Expectation]:
    """The first lot of each of the kinds that are planted most."""
    kinds: dict[tuple[str, str | None], Expectation] = {}
    for one in lots:
        kinds.setdefault((one.simulation.lot.crop, one.simulation.lot.bloom_class), one)
    return list(kinds.values())[:KINDS]


def _name(like: Expectation, number: int) -> str:
    return f"{like.simulation.lot.name} + {number + 1}"


def _more(trial: _Trial, lots: Sequence[Expectation], day: int, number: int) -> Iterator[Offer]:
    """More pots of the kinds that are planted most, surely in bloom by that day."""
    for like in _kinds(lots):
        lot = replace(
            like.simulation.lot, name=_name(like, number), confidence=OPENING, hold_days=None, harden_at=None,
            harden_days=0,
        )  # fmt: skip
        for plan, odds in _by(trial, like.simulation, day, lot):
            for size in SIZES:
                yield trial.offer(plan, odds, size * -(-trial.containers // 2), day, 0)


def _by(trial: _Trial, simulation: LotSimulation, day: int, lot: Lot) -> Iterator[tuple[LotPlan, BloomOdds]]:
    """The lot in bloom by a day on the route of another, where it can still be potted for that."""
    season, route, target = simulation.season, simulation.route, trial.cover.day(day)
    lot = replace(lot, target=target, install=season.calendar.on_or_before(target))
    new = simulation_of(
        season, simulation.climate, lot, simulation.recipe, route.cooler, route.bench, NOTHING
    )
    if (found := planned_odds(new, trial.cover.span, trial.on)) is not None:
        yield found
