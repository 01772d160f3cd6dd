"""What a pot-day in each place is worth, and a bound that no allocation can be below.

Room is given a price by day (Lagrangian relaxation; Held, Wolfe & Crowder 1974, Validation of subgradient
optimization): with the prices paid, each lot chooses alone, and the sum of these choices less the worth of the
room there is bounds the cost from below. Where room is short its price rises, where it is idle it falls.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forcing.engine.allocation.greedy import in_two
from forcing.engine.allocation.problem import Answer, Floats, Pick, Problem, Standing

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
        np.array([problem.room[n] - problem.beside[n] for n in names]),
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
    total = table.cost + _charged(table, best_price)
    ends = np.append(table.first[1:], total.size)
    priced = {at: total[a:b] for at, a, b in zip(table.lots, table.first, ends, strict=True)}
    return Prices(max(best, 0.0), priced, best_price)


def with_prices(problem: Problem, prices: Prices, days: Mapping[tuple[str, int], float]) -> Prices:
    """The better of the prices and those given for days, `days`: (place, day number) -> price."""
    table = table_of(problem)
    if table is None or not days:
        return prices
    names = sorted(problem.room)
    price = np.zeros_like(prices.price)
    for (place, day), worth in days.items():
        price[names.index(place), day] = worth
    total = table.cost + _charged(table, price)
    bound = float(np.minimum.reduceat(total, table.first).sum() - (price * table.room).sum())
    if bound <= prices.bound:
        return prices
    ends = np.append(table.first[1:], total.size)
    priced = {at: total[a:b] for at, a, b in zip(table.lots, table.first, ends, strict=True)}
    return Prices(bound, priced, price)


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
    standing = Standing(problem)
    order = []
    for at, candidate in enumerate(problem.candidates):
        if candidate.options:
            total = np.sort(prices.priced[at])
            second = float(total[min(4, total.size - 1)])
            regret = (second - float(total[0])) / max(candidate.area, 1e-9)
            order.append((not candidate.kept, -candidate.area, -regret, at))
    for *_, at in sorted(order):
        numbers = np.argsort(prices.priced[at], kind="stable")
        pick = None
        for number in (int(n) for n in numbers):
            if standing.fits(at, number):
                pulled, over = standing.pull(at, number)
                if over == 0.0 or pick is None:
                    pick = Pick(number, pulled)
                if over == 0.0:
                    break
        if pick is None and problem.candidates[at].split:
            pick = in_two(standing, at)
        if pick is None and problem.candidates[at].kept:
            options = problem.candidates[at].options
            least = min(
                range(len(options)), key=lambda n: (round(standing.over(at, n), 3), options[n].cost, n)
            )
            pick = Pick(least, standing.pull(at, least)[0])
        if pick is not None:
            standing.put(at, pick)
    return tuple(standing.picks)
