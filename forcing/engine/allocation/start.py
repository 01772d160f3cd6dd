"""A good start without a solver, what a pot-day in each place is worth, and a bound from those prices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from forcing.engine.allocation.problem import SPLIT, Answer, Floats, Part, Pick, Problem, Usage, usage_of

Ints = NDArray[np.int64]
ROUNDS = 1000
PATIENCE = 20  # rounds without a better bound until steps grow shorter
SMOOTH = 0.3  # share of the newest shortage in the direction that prices move


@dataclass(frozen=True, slots=True)
class Table:
    """All options of all lots side by side."""

    lots: tuple[int, ...]  # numbers of the candidates that have options
    first: Ints  # of each lot, its first option here
    owner: Ints  # of each option, the place of its lot in `lots`
    cost: Floats  # pot-weeks
    area: Floats  # of each option's lot
    place: Ints  # (options, stays): number of the place
    start: Ints  # (options, stays): day numbers; a stay that is none starts and ends on day 0
    end: Ints
    room: Floats  # (places, days): what is left beside the companions


@dataclass(frozen=True, slots=True)
class Prices:
    """The bound [pot-weeks] and the price of every option at the best prices found (by candidate)."""

    bound: float
    priced: dict[int, Floats]
    price: Floats  # (places, days)


def table_of(problem: Problem) -> Table | None:
    """The options as arrays; None where there is nothing to choose or no room is limited."""
    names = sorted(problem.room)
    lots = tuple(i for i, c in enumerate(problem.candidates) if c.options)
    if not lots or not names:
        return None
    number = {name: i for i, name in enumerate(names)}
    first: list[int] = []
    owner: list[int] = []
    cost: list[float] = []
    area: list[float] = []
    stays: list[list[tuple[int, int, int]]] = []
    for k, at in enumerate(lots):
        candidate = problem.candidates[at]
        first.append(len(cost))
        for option in candidate.options:
            owner.append(k)
            cost.append(candidate.lot.pots * option.cost)
            area.append(candidate.area)
            stays.append([(number[p], a, b) for p, a, b in option.dates.stands if p in number and a < b])
    most = max(1, *(len(s) for s in stays))
    padded = np.array([s + [(0, 0, 0)] * (most - len(s)) for s in stays], dtype=np.int64)
    return Table(
        lots, np.array(first), np.array(owner), np.array(cost), np.array(area),
        padded[:, :, 0], padded[:, :, 1], padded[:, :, 2],
        np.array([problem.room[n] - problem.occupied[n] for n in names]),
    )  # fmt: skip


def prices_of(problem: Problem, upper: float, rounds: int = ROUNDS) -> Prices | None:
    """Prices that bound the cost as high as is found in `rounds`; `upper`: the cost of a
    known answer."""
    table = table_of(problem)
    if table is None:
        return None
    price = np.zeros_like(table.room)
    best, best_price = 0.0, price
    found = False
    direction = np.zeros_like(price)
    theta, since = 1.0, 0
    for _ in range(rounds):
        total = table.cost + _charged(table, price)
        least = np.minimum.reduceat(total, table.first)
        bound = float(least.sum() - (price * table.room).sum())
        if not found or bound > best + 1e-9 * max(1.0, abs(best)):
            found, best, best_price, since = True, bound, price, 0
        else:
            since += 1
            if since >= PATIENCE:
                theta, since, price = theta * 0.7, 0, best_price
        short = _use(table, total, least) - table.room
        direction = SMOOTH * short + (1 - SMOOTH) * direction
        push = np.where((price > 0) | (direction > 0), direction, 0.0)
        norm = float((push * push).sum())
        if norm < 1e-9 or theta < 1e-4:
            break
        price = np.maximum(0.0, price + theta * max(upper * 1.01 - bound, 1e-6) / norm * push)
    return replace(_at(table, best_price), bound=max(best, 0.0))


def _at(table: Table, price: Floats) -> Prices:
    """The bound and the price of every option at these prices."""
    total = table.cost + _charged(table, price)
    bound = float(np.minimum.reduceat(total, table.first).sum() - (price * table.room).sum())
    ends = np.append(table.first[1:], total.size)
    priced = {at: total[a:b] for at, a, b in zip(table.lots, table.first, ends, strict=True)}
    return Prices(bound, priced, price)


def with_prices(problem: Problem, prices: Prices, days: Mapping[tuple[str, int], float]) -> Prices:
    """The better of the prices and those given for days, `days`: (place, day number) -> price."""
    table = table_of(problem)
    if table is None or not days:
        return prices
    names = sorted(problem.room)
    price = np.zeros_like(prices.price)
    for (place, day), worth in days.items():
        price[names.index(place), day] = worth
    other = _at(table, price)
    return other if other.bound > prices.bound else prices


def _charged(table: Table, price: Floats) -> Floats:
    """What each option pays for its room."""
    sums = np.concatenate((np.zeros((price.shape[0], 1)), np.cumsum(price, axis=1)), axis=1)
    paid = sums[table.place, table.end] - sums[table.place, table.start]
    return np.asarray(table.area * paid.sum(axis=1))


def _use(table: Table, total: Floats, least: Floats) -> Floats:
    """Room taken by day where each lot takes its cheapest option, the first of equals."""
    chosen = np.full(len(table.lots), -1)
    at_least = np.flatnonzero(total <= least[table.owner] + 1e-12)[::-1]
    chosen[table.owner[at_least]] = at_least
    places, days = table.room.shape
    change = np.zeros((places, days + 1))
    for stay in range(table.place.shape[1]):
        where = table.place[chosen, stay]
        np.add.at(change, (where, table.start[chosen, stay]), table.area[chosen])
        np.add.at(change, (where, table.end[chosen, stay]), -table.area[chosen])
    return np.asarray(np.cumsum(change, axis=1)[:, :days])


def priced_start(problem: Problem, prices: Prices) -> Answer:
    """Lots placed one after another where cost and price are least, those with most to lose first."""
    usage = Usage(problem)
    order = []
    for at, candidate in enumerate(problem.candidates):
        if candidate.options:
            total = np.sort(prices.priced[at])
            second = float(total[min(4, total.size - 1)])
            regret = (second - float(total[0])) / max(candidate.area, 1e-9)
            order.append((not candidate.kept, -candidate.area, -regret, at))
    for *_, at in sorted(order):
        numbers = [int(n) for n in np.argsort(prices.priced[at], kind="stable")]
        found = list(_fitting(usage, at, numbers))
        pick = None if not found else found[-1][1] if found[-1][0] == 0.0 else found[0][1]
        if pick is None and problem.candidates[at].split:
            pick = in_two(usage, at)
        if pick is None and problem.candidates[at].kept:
            pick = _least_in_the_way(usage, at)
        if pick is not None:
            usage.put(at, pick)
    return tuple(usage.picks)


LOOK = 10  # options of a lot that are tried when another has to move aside for it
LOOK_IN_TWO = 60  # options that are tried for each part of a lot that is split
PASSES = 4


def earliest_first(problem: Problem) -> Answer:
    """Each lot in the order of its potting at its ideal cold, in its first option that fits: the plain way."""
    usage = Usage(problem)
    _place_kept(usage)
    free = [i for i, c in enumerate(problem.candidates) if c.options and not c.kept]
    for at in sorted(free, key=lambda i: (problem.candidates[i].options[0].dates.potting, i)):
        pick = _first_that_fits(usage, at)
        if pick is not None:
            usage.put(at, pick)
    return tuple(usage.picks)


def good_start(problem: Problem) -> Answer:
    """Large and long stays first, then lots moved aside for those left out, then each to its best place."""
    usage = Usage(problem)
    _place_kept(usage)
    free = [i for i, c in enumerate(problem.candidates) if c.options and not c.kept]
    for at in sorted(free, key=lambda i: (-_bulk(problem, i), i)):
        pick = whole_or_in_two(usage, at)
        if pick is not None:
            usage.put(at, pick)
    for _ in range(PASSES):
        left = [at for at in free if usage.picks[at] is None]
        made = [_make_room(usage, at) for at in left]
        if not any(made):
            break
    return improved(problem, usage.picks)


def improved(problem: Problem, answer: Sequence[Pick | None]) -> Answer:
    """Every lot in turn to the best option that fits where the others stand, until none can gain."""
    usage = usage_of(problem, answer)
    for _ in range(PASSES):
        changed = False
        for at, candidate in enumerate(problem.candidates):
            if not candidate.choice or (candidate.kept and usage.picks[at] is None):
                continue
            before = usage.drop(at)
            pick = whole_or_in_two(usage, at)
            if pick is None or (before is not None and not _better(usage, at, pick, before)):
                pick = before
            if pick is not None:
                usage.put(at, pick)
            changed |= pick != before
        if not changed:
            break
    return tuple(usage.picks)


def _better(usage: Usage, at: int, new: Pick, old: Pick) -> bool:
    """Whether a pick that fits gains on what the lot had: less overfull, fewer hours over, then nearer its ideal."""
    gain = []
    for pick in (new, old):
        if pick.second is None:
            over, (_, hours) = usage.over(at, pick.option), usage.pull(at, pick.option)
        else:
            over, hours = 0.0, usage.hours_added(at, pick)
        cost = round(usage.problem.cost(at, pick), 6)
        gain.append((round(over, 3), round(hours, 3), cost, pick.pulled))
    return gain[0] < gain[1]


def _bulk(problem: Problem, at: int) -> float:
    candidate = problem.candidates[at]
    dates = candidate.options[0].dates
    return candidate.area * (dates.bloom - dates.potting)


def _place_kept(usage: Usage) -> None:
    """Lots whose places are given stand there whatever it costs, those without a choice first."""
    problem = usage.problem
    kept = [i for i, c in enumerate(problem.candidates) if c.kept and c.options]
    for at in sorted(kept, key=lambda i: (len(problem.candidates[i].options) > 1, -_bulk(problem, i), i)):
        usage.put(at, _first_that_fits(usage, at) or _least_in_the_way(usage, at))


def _least_in_the_way(usage: Usage, at: int) -> Pick:
    """The option that adds least over capacity, for a lot that stands there whatever it costs."""
    number = usage.least_over(at)
    return Pick(number, usage.pull(at, number)[0])


def _fitting(usage: Usage, at: int, numbers: Iterable[int]) -> Iterator[tuple[float, Pick]]:
    """(hours over the limit, pick) of the options with room, up to the first that keeps within the hours."""
    for number in numbers:
        if usage.fits(at, number):
            pulled, over = usage.pull(at, number)
            yield over, Pick(number, pulled)
            if over == 0.0:
                return


def _first_that_fits(usage: Usage, at: int) -> Pick | None:
    """The cheapest option with room and hours; with room only, where none keeps within the hours."""
    best: tuple[float, Pick] | None = None
    for over, pick in _fitting(usage, at, range(len(usage.problem.candidates[at].options))):
        if best is None or over == 0.0 or over < best[0] - 1e-6:
            best = (over, pick)
    return None if best is None else best[1]


def whole_or_in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way that fits: the lot together, or in two places where it may be split and that is better."""
    whole, candidate = _first_that_fits(usage, at), usage.problem.candidates[at]
    if not candidate.split:
        return whole
    ideal = candidate.lot.pots * (candidate.options[0].cost + SPLIT)
    if whole is not None and usage.problem.cost(at, whole) <= ideal + 1e-9:
        return whole
    divided = in_two(usage, at)
    if divided is None or (whole is not None and not _better(usage, at, divided, whole)):
        return whole
    return divided


def in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way to grow a lot in two places that fits; None where there is none."""
    problem, candidate = usage.problem, usage.problem.candidates[at]
    pots, each, options = candidate.lot.pots, problem.each(at), candidate.options
    numbers = [n for n in range(min(len(options), LOOK_IN_TWO)) if usage.most(at, n) > 0]
    best: tuple[float, Pick] | None = None
    for one in numbers:
        first = min(usage.most(at, one), pots - 1)
        fixed, rest = first * options[one].cost, pots - first
        usage.shift(options[one], first * each)
        for other in numbers:
            cost = fixed + rest * options[other].cost
            if best is not None and cost >= best[0] - 1e-9:
                break  # options are in order of cost
            apart = (options[one].cooler, options[one].bench) != (options[other].cooler, options[other].bench)
            if apart and usage.most(at, other) >= rest:
                best = (cost, Pick(one, 0, Part(other, rest)))
                break
        usage.shift(options[one], -first * each)
    if best is None:
        return None
    larger = best[1].second
    assert larger is not None
    if larger.pots > pots - larger.pots:  # the larger part first, as everywhere
        return Pick(larger.option, 0, Part(best[1].option, pots - larger.pots))
    return best[1]


def _make_room(usage: Usage, at: int) -> bool:
    """Place a lot by moving one other aside to another of its options; whether that was possible."""
    problem = usage.problem
    candidate = problem.candidates[at]
    best: tuple[float, int, int, Pick] | None = None
    for number, option in enumerate(candidate.options[:LOOK]):
        for other in _blockers(usage, at, number):
            before = usage.drop(other)
            assert before is not None
            if usage.fits(at, number):
                usage.put(at, Pick(number))
                moved = _first_that_fits(usage, other)
                usage.put(at, Pick(number), -1.0)
                if moved is not None:
                    theirs = problem.candidates[other]
                    cost = candidate.lot.pots * option.cost + theirs.lot.pots * (
                        theirs.options[moved.option].cost - theirs.options[before.option].cost
                    )
                    if best is None or (cost, number, other) < best[:3]:
                        best = (cost, number, other, moved)
            usage.put(other, before)
    if best is None:
        return False
    _, number, other, moved = best
    usage.drop(other)
    usage.put(at, Pick(number, usage.pull(at, number)[0]))
    usage.put(other, moved)
    return True


def _blockers(usage: Usage, at: int, number: int) -> list[int]:
    """Lots with a choice that stand where and when the option lacks room."""
    problem = usage.problem
    candidate = problem.candidates[at]
    full: list[tuple[str, int, int]] = []
    for place, start, end in problem.stands(candidate.options[number]):
        load = usage.taken[place][start:end]
        if load.size and float(load.max()) + candidate.area > problem.room[place] + 1e-6:
            full.append((place, start, end))
    if not full:
        return []
    out = []
    for other, pick in enumerate(usage.picks):
        theirs = problem.candidates[other]
        if pick is None or other == at or not theirs.choice or theirs.area <= 0:
            continue
        stays = problem.stays(other, pick)
        if any(p == q and a < d and c < b for p, a, b in full for q, c, d, _ in stays):
            out.append(other)
    return out
