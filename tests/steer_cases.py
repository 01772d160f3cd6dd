"""Small steering cases, and a simulator in plain loops that knows nothing of the engine's own sums.

Heat of a day is mean - BASE, since every temperature used lies between BASE and the cap; a lot is in bloom on the
first day by whose start it has gathered NEED = 20 d · (17 - 2) °C = 300 °C·d, whatever its cold (days_saved 0).
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import product
from typing import Any

from forcing.dates import WorkCalendar
from forcing.engine.plan import PlanResult
from forcing.engine.steering.steer import Steering, steer
from forcing.model import LogEntry, Lot, Place, Season
from tests import builders
from tests.builders import EVERY_DAY, MON_FRI, house_figures, season

BASE, NEED = 2.0, 300.0
ON = date(2027, 3, 1)  # a Monday
DAY = timedelta(days=1)
FIGURES = {
    "base": 2, "cap": 30, "reference": 17, "bench_days": 20, "bench_days_min": 10, "days_saved": 0,
    "spread": 0.01, "bench_low": 8, "bench_high": 22, "hold": 1.5, "hold_max": 10,
}  # fmt: skip


def worked(stated: Season, on: date = ON) -> PlanResult:
    return builders.worked(stated, on)


def steered(stated: Season, on: date = ON, **how: Any) -> Steering:
    return steer(worked(stated, on), on, **how)


def case(
    lots: Sequence[tuple[str, int, str, int, int]], benches: Sequence[Place], *, on: date = ON,
    calendar: WorkCalendar = EVERY_DAY, figures: Mapping[str, float] | None = None, **other: Any,
) -> Season:  # fmt: skip
    """Lots as (name, pots, bench, days since brought in, days until target), all logged up to bring in."""
    rows, log = [], []
    for name, pots, bench, since, until in lots:
        brought = on - timedelta(days=since)
        cooler_in = brought - timedelta(days=7 * 16)
        rows.append(
            Lot(
                name,
                "tulip",
                pots,
                "mid",
                pot_cm=15.0,
                target=on + timedelta(days=until),
                cooler="Cold",
                bench=bench,
            )
        )
        log += [
            LogEntry(cooler_in - DAY, name, "potted"),
            LogEntry(cooler_in, name, "cooler in", place="Cold"),
            LogEntry(brought, name, "brought in", place=bench),
        ]
    given: dict[str, Any] = {
        "calendar": calendar,
        "places": (Place("Cold", "cooler", day=5, night=5), *benches),
        "overrides": house_figures("tulip", **(FIGURES | dict(figures or {}))),
        "log": tuple(log),
    }
    return season(rows, **(given | other))


def bench(
    name: str, mean: float, lowest: float | None = 10, highest: float | None = 20, pots: float | None = None
) -> Place:
    return Place(name, "bench", pots, day=mean, night=mean, lowest=lowest, highest=highest)


# ---------------------------------------------------------------- the simulator


def simulate(stated: Season, answer: Steering, on: date = ON) -> dict[str, int]:
    """Days from target to bloom of each lot when the answer is carried out, day by day."""
    means = {
        place.name: (place.day + place.night) / 2
        for place in stated.places
        if place.day is not None and place.night is not None
    }
    out = {}
    for lot in stated.lots:
        assert lot.target is not None
        entry = next(e for e in stated.log if e.lot == lot.name and e.event == "brought in")
        day, heat, place = entry.date, 0.0, entry.place
        carried = {m.on: m.to for m in (*answer.moves, *answer.holds) if m.lot == lot.name}
        while heat < NEED - 1e-6:
            place = carried.get(day, place)
            mean = means[str(place)]
            for setting in answer.settings:
                if setting.place == place and setting.span.start <= day < setting.span.end:
                    mean = (setting.day + setting.night) / 2
            heat += max(0.0, mean - BASE)
            day += DAY
        out[lot.name] = (day - lot.target).days
    return out


def random_case(seed: int) -> Season:
    """A season that can be brought exactly to target: its targets are the blooms of a hidden answer."""
    dice = random.Random(seed)
    count = dice.randint(1, 3)
    benches = [
        bench(f"Bench {i + 1}", dice.choice((14.0, 15.5, 17.0)), dice.choice((8, 10)), dice.choice((19, 21)))
        for i in range(count)
    ]
    lots = [
        (f"L{i}", dice.randint(5, 60), f"Bench {dice.randint(1, count)}", dice.randint(0, 9), 99)
        for i in range(dice.randint(1, 6))
    ]  # fmt: skip
    stated = case(lots, benches, calendar=dice.choice((EVERY_DAY, MON_FRI)))
    weeks = {place.name: [dice.randrange(22, 38) / 2 for _ in range(9)] for place in benches}
    targets = {}
    for name, _, where, since, _ in lots:
        day, heat = ON - timedelta(days=since), 0.0
        mean = next(p.day for p in benches if p.name == where)
        while heat < NEED - 1e-6:
            heat += (weeks[where][min(8, (day - ON).days // 7)] if day >= ON else float(mean or 0)) - BASE
            day += DAY
        targets[name] = day
    return replace(stated, lots=tuple(replace(lot, target=targets[lot.name]) for lot in stated.lots))


# ---------------------------------------------------------------- every answer there is


def brute_force(
    stated: Season, end: date, capacity: Mapping[str, float], step: float = 0.5
) -> tuple[int, int, int]:
    """The best (pots × days off, changes, moves) over every mean of every bench and week, and every single move.

    Everyday calendar, ON a Monday, so that blocks are whole weeks from ON to `end`, the last one cut off there.
    """
    benches = [p for p in stated.places if p.kind == "bench"]
    starts = [ON + timedelta(days=7 * k) for k in range(-(-(end - ON).days // 7))]
    days = (end - ON).days
    grids = []
    for place in benches:
        assert place.lowest is not None and place.highest is not None
        means = [place.lowest + step * i for i in range(int((place.highest - place.lowest) / step) + 1)]
        grids.append(list(product(means, repeat=len(starts))))
    paths = {
        lot.name: [
            (b, k) for b in range(len(benches)) for k in range(len(starts)) if benches[b].name != lot.bench or k == 0
        ]
        for lot in stated.lots
    }  # fmt: skip
    best = (10**9, 0, 0)
    for rows in product(*grids):
        changes = sum(
            now != before
            for place, row in zip(benches, rows, strict=True)
            for before, now in zip((place.day, *row), row, strict=False)
        )
        costs = []
        for lot in stated.lots:
            here = next(i for i, p in enumerate(benches) if p.name == lot.bench)
            costs.append([
                (lot.pots * abs(_off(stated, lot, benches, rows, here, to, k, days)), to != here, to, k)
                for to, k in paths[lot.name]
            ])  # fmt: skip
        best = min(best, _cheapest(stated, costs, benches, capacity, len(starts), changes, best))
    return best


def _off(
    stated: Season, lot: Lot, benches: Sequence[Place], rows: Sequence[Sequence[float]], here: int, to: int, k: int,
    days: int,
) -> int:  # fmt: skip
    assert lot.target is not None
    brought = next(e.date for e in stated.log if e.lot == lot.name and e.event == "brought in")
    heat = (ON - brought).days * (float(benches[here].day or 0) - BASE)
    day = 0
    while heat < NEED - 1e-6:
        at = to if day >= 7 * k else here
        mean = rows[at][day // 7] if day < days else float(benches[at].day or 0)
        heat += mean - BASE
        day += 1
    return day - (lot.target - ON).days


def _cheapest(
    stated: Season, costs: Sequence[Sequence[tuple[int, bool, int, int]]], benches: Sequence[Place],
    capacity: Mapping[str, float], weeks: int, changes: int, best: tuple[int, int, int],
) -> tuple[int, int, int]:  # fmt: skip
    if sum(min(c[0] for c in options) for options in costs) > best[0]:
        return best
    for chosen in product(*costs):
        score = (sum(c[0] for c in chosen), changes, sum(c[1] for c in chosen))
        if score < best and _fits(stated, chosen, benches, capacity, weeks):
            best = score
    return best


def _fits(
    stated: Season, chosen: Sequence[tuple[int, bool, int, int]], benches: Sequence[Place],
    capacity: Mapping[str, float], weeks: int,
) -> bool:  # fmt: skip
    for week in range(weeks):
        load = dict.fromkeys(capacity, 0)
        for lot, (_, _, to, k) in zip(stated.lots, chosen, strict=True):
            where = benches[to].name if week >= k else str(lot.bench)
            if where in load:
                load[where] += lot.pots
        if any(load[name] > capacity[name] for name in capacity):
            return False
    return True


def work(answer: Steering) -> tuple[object, ...]:
    """Everything that an answer asks of the staff."""
    return (*answer.settings, *answer.moves, *answer.holds)
