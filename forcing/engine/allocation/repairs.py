"""What does not fit, in words: which place, which weeks, how many pots, whose, and the cheapest ways to mend it.

Every repair is tried before it is told: the lots are moved in the numbers, and only what then fits is offered.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from forcing.dates import iso_week
from forcing.engine.allocation.options import Candidate, ClimateSums, Option, OptionBuilder, places_of
from forcing.engine.allocation.problem import FULL, Answer, Pick, Problem, Usage, usage_of
from forcing.engine.allocation.search import in_two
from forcing.engine.loads import weeks_words
from forcing.engine.log import NOTHING, History, Stay
from forcing.errors import Finding
from forcing.model import Recipe, Unplanned
from forcing.text import listed, some

MOST = 4  # lots that one repair may move
TOLD = 3  # repairs that are told
AHEAD = (7, 14, 21, 28)  # days by which potting might start sooner
LATER = (2, 4, 7, 10, 14, 21)  # days by which a target might be put off

# What a repair costs a grower, to say the cheapest first: in pot-weeks of cold lost. From judgement, no source.
MOVE, SOONER, PUT_OFF, ROOM, FRAME = 0.1, 0.15, 0.3, 4.0, 0.5  # a pot; a pot-week; a pot-day; a pot; a pot


@dataclass(frozen=True, slots=True)
class Repair:
    """Something that would mend a trouble, and what it costs as a grower might weigh it."""

    words: str
    cost: float


@dataclass(frozen=True, slots=True)
class Trouble:
    """A place that is to hold more than it can: days, pots over at worst, the lots that stand there then."""

    place: str
    days: tuple[int, ...]
    over: float  # 15 cm-pot equivalents
    lots: tuple[int, ...]  # numbers of candidates
    left: tuple[int, ...]  # of them, those that are left out


@dataclass(slots=True)
class RepairTrial:
    """The numbers with everything laid where it is least in the way, to try repairs on."""

    problem: Problem
    recipes: Mapping[str, Recipe]
    histories: Mapping[str, History]
    usage: Usage
    left: tuple[int, ...]
    first: int  # day number that can still be changed; what was before it is over
    makers: dict[int, OptionBuilder]

    def options(self, at: int, days: int = 0, **changes: Any) -> tuple[Option, ...]:
        """Options of a lot if the season said `changes` of it, and the bulbs came `days` sooner."""
        lot = replace(self.problem.candidates[at].lot, **changes)
        if days and lot.in_hand is not None:
            lot = replace(lot, in_hand=lot.in_hand - timedelta(days=days))
        if self.histories.get(lot.name, NOTHING).started:
            return ()
        coolers, benches = places_of(self.problem.season, lot, self.recipes[lot.name])
        if not coolers or not benches:
            return ()
        return self.maker(days).candidate(lot, self.recipes[lot.name], coolers, benches).options

    def maker(self, days: int) -> OptionBuilder:
        """The maker of options with the bulbs in hand `days` sooner."""
        if days not in self.makers:
            season, in_hand = self.problem.season, self.problem.season.bulbs_in_hand
            if days and in_hand is not None:
                season = replace(season, bulbs_in_hand=in_hand - timedelta(days=days))
            climate_sums = ClimateSums(season, self.problem.climate_sums.climate)
            self.makers[days] = OptionBuilder(season, climate_sums, (), {})
        return self.makers[days]

    def room_for(self, area: float, option: Option) -> bool:
        """Whether that much finds room wherever the option takes it."""
        return self.usage.left(option) >= area - FULL

    def over(self, place: str) -> float:
        """Pots over capacity at worst."""
        return self.usage.peak_over(place)


def findings_of(
    problem: Problem,
    answer: Answer,
    recipes: Mapping[str, Recipe],
    histories: Mapping[str, History],
    on: date,
) -> tuple[tuple[Finding, ...], tuple[Unplanned, ...]]:
    """Findings of every place too small from the working day ahead of `on`; the lots left out with the reason."""
    ahead = problem.season.calendar.on_or_after(on)  # before it nobody can move anything
    usage, first = usage_of(problem, answer), problem.climate_sums.climate.index(ahead)
    for taken in usage.taken.values():
        taken[:first] = 0.0
    left = [i for i, p in enumerate(answer) if p is None and problem.candidates[i].options]
    for at in sorted(left, key=lambda i: (-problem.candidates[i].area, i)):
        usage.put(at, Pick(usage.least_over(at)))
    trial = RepairTrial(problem, recipes, histories, usage, tuple(left), first, {})
    troubles = [t for place in sorted(problem.room) if (t := _trouble(trial, place)) is not None]
    findings = tuple(_finding(trial, trouble) for trouble in troubles)
    return findings, tuple(_left_out(trial, at, troubles) for at in left)


def _trouble(trial: RepairTrial, place: str) -> Trouble | None:
    taken, room = trial.usage.taken[place], trial.problem.room[place]
    days = tuple(int(d) for d in np.flatnonzero(taken > room + 1e-3))
    if not days:
        return None
    lots = tuple(
        at
        for at, pick in enumerate(trial.usage.picks)
        if pick is not None
        and any(
            name == place and any(start <= d < end for d in days)
            for name, start, end, _ in trial.problem.stays(at, pick)
        )
    )
    return Trouble(place, days, trial.over(place), lots, tuple(at for at in lots if at in trial.left))


# ---------------------------------------------------------------- words


def _finding(trial: RepairTrial, trouble: Trouble) -> Finding:
    season = trial.problem.season
    place = season.place(trouble.place)
    names = [trial.problem.candidates[at].lot.name for at in trouble.lots]
    told = sorted(_repairs(trial, trouble), key=lambda r: (r.cost, r.words))[:TOLD]
    hint = f"Any one of these would mend it: {'; '.join(r.words for r in told)}."
    kept = " for all that is wanted there" if trouble.left else ""
    if any(float(trial.problem.occupied[place.name][day]) > 0 for day in trouble.days):
        kept += " with the companions that stand there"
    return Finding(
        "place-overfull", "error" if trouble.left else "warning", "places", place.row, "pots",
        f"{place.name} is over its capacity of {trial.problem.room[place.name]:g} pots{kept} in "
        f"{weeks_words(_dates(trial, trouble))}, at worst by {max(1, math.ceil(trouble.over - 1e-3))}; "
        f"{listed(names)} contend for it",
        hint, f"{trial.problem.room[place.name] + trouble.over:.0f} pots",
        place=place.name, week=iso_week(_dates(trial, trouble)[0]), number=trouble.over,
    )  # fmt: skip


def _dates(trial: RepairTrial, trouble: Trouble) -> list[date]:
    return [trial.problem.climate_sums.climate.day(d) for d in trouble.days]


def _left_out(trial: RepairTrial, at: int, troubles: Sequence[Trouble]) -> Unplanned:
    lot = trial.problem.candidates[at].lot
    mine = [t for t in troubles if at in t.left] or list(troubles)
    where = " and ".join(
        f"{t.place} is over by {max(1, math.ceil(t.over - 1e-3))} pots in {weeks_words(_dates(trial, t))}"
        for t in mine
    )
    stated = next(s for s in trial.problem.season.lots if s.name == lot.name)
    return Unplanned(stated, f"no place has room for its {lot.pots} pots: with it {where}", None)


# ---------------------------------------------------------------- repairs


def _repairs(trial: RepairTrial, trouble: Trouble) -> Iterator[Repair]:
    pots = max(1, math.ceil(trouble.over - 1e-3))
    yield Repair(f"room for {pots} more pots in {trouble.place}", ROOM * pots)
    yield from _each(trial, trouble, _elsewhere)
    yield from _each(trial, trouble, _carried_over)
    yield from _in_two_places(trial, trouble)
    yield from _each(trial, trouble, _less_cold)
    yield from _each(trial, trouble, _put_off)
    if any(trial.problem.season.in_hand(c.lot) is not None for c in trial.problem.candidates):
        for days in AHEAD:
            found = list(_each(trial, trouble, lambda m, at, days=days: _sooner(m, at, days)))  # type: ignore[misc]
            yield from found
            if found:
                break
    yield from _to_frames(trial, trouble)


Way = Callable[[RepairTrial, int], Iterator[tuple[Option, str, float]]]  # option, words, cost


def _each(trial: RepairTrial, trouble: Trouble, way: Way) -> Iterator[Repair]:
    """The repair that moves lots in one way, one after another, until the place holds what is left."""
    candidates = trial.problem.candidates
    done: list[tuple[float, Option, Option]] = []
    words: list[str] = []
    cost = 0.0
    # The smallest lot that alone is enough; where none is, the largest first.
    sizes = {i: candidates[i].area for i in trouble.lots}
    order = sorted(sizes, key=lambda i: (sizes[i] < trouble.over, abs(sizes[i] - trouble.over), i))
    for at in order:
        if trial.over(trouble.place) <= 1e-3 or len(done) == MOST:
            break
        pick = trial.usage.picks[at]
        assert pick is not None
        if pick.second is not None:
            continue  # split already: it has been tried everywhere
        now, area = candidates[at].options[pick.option], candidates[at].area
        before = trial.over(trouble.place)
        trial.usage.shift(now, -area)
        best = None
        for option, said, price in way(trial, at):
            if trial.room_for(area, option) and (best is None or price < best[2]):
                best = (option, said, price)
        if best is None:
            trial.usage.shift(now, area)
            continue
        trial.usage.shift(best[0], area)
        if trial.over(trouble.place) > before - 1e-3:
            trial.usage.shift(best[0], -area)
            trial.usage.shift(now, area)
            continue
        done.append((area, now, best[0]))
        words.append(best[1])
        cost += best[2]
    cured = trial.over(trouble.place) <= 1e-3
    for area, before_, after in reversed(done):
        trial.usage.shift(after, -area)
        trial.usage.shift(before_, area)
    if cured and words:
        yield Repair(" and ".join(words), cost)


def _elsewhere(trial: RepairTrial, at: int) -> Iterator[tuple[Option, str, float]]:
    """The lot in another cooler or on another bench, with the cold-weeks it may have."""
    candidate = trial.problem.candidates[at]
    now = _now(trial, at)
    for option in trial.options(at, cooler=None, bench=None):
        cooler, bench = option.cooler != now.cooler, option.bench != now.bench
        if cooler or bench:
            where = " and ".join([f"cooler {option.cooler}"] * cooler + [f"bench {option.bench}"] * bench)
            yield (
                option,
                f"give {_who(candidate)} the {where}",
                candidate.lot.pots * (MOVE * (cooler + bench) + option.cost),
            )


def _carried_over(trial: RepairTrial, at: int) -> Iterator[tuple[Option, str, float]]:
    """A lot that has begun carried to another cooler or bench, from the next working day on."""
    candidate, season = trial.problem.candidates[at], trial.problem.season
    lot, climate = candidate.lot, trial.problem.climate_sums.climate
    history, now = trial.histories.get(lot.name, NOTHING), _now(trial, at)
    if not history.started:
        return
    day = season.calendar.on_or_after(climate.day(trial.first))
    cold = bool(history.coolers) and history.brought_in is None
    if (not cold and history.brought_in is None) or (cold and climate.index(day) >= now.dates.bring_in):
        return
    kind, here = ("cooler", now.cooler) if cold else ("bench", history.moves[-1].place)
    for place in sorted(p.name for p in season.places if p.kind == kind and p.name != here):
        if cold:
            there = replace(history, coolers=(*history.coolers, Stay("cool", place, day)))
            ways: tuple[list[str | None], list[str]] = ([place], [now.bench])
        else:
            there = replace(history, moves=(*history.moves, Stay("bench", place, day)))
            ways = ([now.cooler], [place])
        for option in trial.maker(0).begun(lot, trial.recipes[lot.name], *ways, there).options:
            late = max(0, option.dates.bloom - now.dates.bloom)
            words = f"carry {_who(candidate)} to {place} on {day}"
            if late:
                words += f", which costs it {some(late, 'day')}"
            yield option, words, lot.pots * (MOVE + PUT_OFF * late)


def _in_two_places(trial: RepairTrial, trouble: Trouble) -> Iterator[Repair]:
    """One lot split over two places, where its row does not say that it may be."""
    problem, best = trial.problem, None
    for at in trouble.lots:
        lot, pick = problem.candidates[at].lot, trial.usage.picks[at]
        if lot.split or lot.pots < 2 or pick is None:
            continue
        named = [word for word, name in (("cooler", lot.cooler), ("bench", lot.bench)) if name]
        free = replace(problem.candidates[at], options=trial.options(at, cooler=None, bench=None))
        candidates = (*problem.candidates[:at], free, *problem.candidates[at + 1 :])
        divided = Usage(replace(problem, candidates=candidates, known={}))
        divided.taken = {place: taken.copy() for place, taken in trial.usage.taken.items()}
        for place, start, end, area in problem.stays(at, pick):
            divided.taken[place][start:end] -= area
        found = in_two(divided, at)
        if found is None or found.second is None:
            continue
        divided.put(at, found)
        if float(divided.taken[trouble.place].max()) > problem.room[trouble.place] + 1e-3:
            continue
        other = free.options[found.second.option]
        where = " and ".join(dict.fromkeys(p for p in (other.cooler, other.bench) if p is not None))
        words = f"yes in split for {_who(problem.candidates[at])}: {found.second.pots} of them would go to {where}"
        if named:
            words += f" ({' and '.join(named)} left empty)"
        cost = divided.problem.cost(at, found) + MOVE * found.second.pots
        if best is None or cost < best.cost:
            best = Repair(words, cost)
    if best is not None:
        yield best


def _less_cold(trial: RepairTrial, at: int) -> Iterator[tuple[Option, str, float]]:
    """Fewer cold-weeks in the same places, never below the least the crop needs."""
    candidate, now = trial.problem.candidates[at], _now(trial, at)
    for option in trial.options(at, cold_weeks=None, cooler=now.cooler, bench=now.bench):
        fewer = now.dates.cold_weeks - option.dates.cold_weeks
        if fewer > 0.05:
            less, usual = f"{option.dates.cold_weeks:.1f}", f"{now.dates.cold_weeks:.1f}"
            words = f"{less} cold-weeks instead of {usual} for {_who(candidate)}"
            yield option, words, candidate.lot.pots * fewer


def _put_off(trial: RepairTrial, at: int) -> Iterator[tuple[Option, str, float]]:
    """A later target."""
    candidate, now, season = trial.problem.candidates[at], _now(trial, at), trial.problem.season
    target = candidate.lot.target or season.span.start
    for days in LATER:
        later = target + timedelta(days=days)
        if later >= season.span.end:
            return
        for option in trial.options(at, target=later, cooler=now.cooler, bench=now.bench):
            yield (
                option,
                f"{_who(candidate)} in bloom by {later}, {days} days later",
                candidate.lot.pots * days * PUT_OFF,
            )


def _sooner(trial: RepairTrial, at: int, days: int) -> Iterator[tuple[Option, str, float]]:
    """The bulbs in hand sooner, so that potting can begin sooner."""
    candidate, now = trial.problem.candidates[at], _now(trial, at)
    for option in trial.options(at, days):
        if option.dates.potting < now.dates.potting:
            words = f"{_who(candidate)} potted {now.dates.potting - option.dates.potting} days sooner"
            price = candidate.lot.pots * (
                SOONER * (now.dates.potting - option.dates.potting) / 7 + option.cost
            )
            yield option, words, price


def _to_frames(trial: RepairTrial, trouble: Trouble) -> Iterator[Repair]:
    """Part of one lot to a frame instead, for the whole of its time in the place."""
    problem = trial.problem
    frames = sorted(p.name for p in problem.season.places if p.kind == "frame")
    kind = problem.season.place(trouble.place).kind
    best: Repair | None = None
    for at in trouble.lots:
        candidate, now = problem.candidates[at], _now(trial, at)
        each = candidate.area / max(1, candidate.lot.pots)
        pots = math.ceil(trouble.over / each - 1e-6) if each > 0 else 0
        there = [s for s in now.dates.stands if s[0] == trouble.place]
        pick = trial.usage.picks[at]
        if pick is None or pick.second is not None:
            continue
        if not 0 < pots <= candidate.lot.pots or not all(
            any(a <= d < b for _, a, b in there) for d in trouble.days
        ):
            continue
        for frame in frames:
            changes = {"cooler": frame} if kind == "cooler" else {"bench": frame}
            named: dict[str, Any] = {"cooler": now.cooler, "bench": now.bench} | changes
            trial.usage.shift(now, -pots * each)
            fits = [o for o in trial.options(at, **named) if trial.room_for(pots * each, o)]
            trial.usage.shift(now, pots * each)
            if fits:
                cost = pots * (FRAME + min(o.cost for o in fits))
                words = f"{pots} pots of {candidate.lot.name} in the frame {frame} instead"
                if best is None or (cost, words) < (best.cost, best.words):
                    best = Repair(words, cost)
    if best is not None:
        yield best


def _now(trial: RepairTrial, at: int) -> Option:
    pick = trial.usage.picks[at]
    assert pick is not None
    return trial.problem.candidates[at].options[pick.option]


def _who(candidate: Candidate) -> str:
    return f"{candidate.lot.name} ({candidate.lot.pots} pots)"
