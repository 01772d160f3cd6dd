"""Small steering cases, and a simulator in plain loops that knows nothing of the engine's own sums.

Heat of a day is mean - BASE, since every temperature used lies between BASE and the cap; a lot is in bloom on the
first day by whose start it has gathered NEED = 20 d · (17 - 2) °C = 300 °C·d, whatever its cold (days_saved 0).
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from itertools import pairwise, product
from statistics import NormalDist
from typing import Any

from forcing.dates import WorkCalendar
from forcing.engine.plan import PlanResult
from forcing.engine.steering.advice import Steering
from forcing.engine.steering.choices import DISTURBED, FUSS, HOUR, LATE
from forcing.engine.steering.steer import steer
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
    """A house of one to three benches with lots off target by what their bench is off, and a little of their own."""
    dice = random.Random(seed)
    count = dice.randint(1, 3)
    benches = [
        bench(f"Bench {i + 1}", dice.choice((14.0, 15.5, 17.0)), dice.choice((8, 10)), dice.choice((19, 21)))
        for i in range(count)
    ]
    wrong = [dice.randint(-4, 5) for _ in benches]
    lots = []
    for i in range(dice.randint(1, 6)):
        number, since = dice.randrange(count), dice.randint(0, 9)
        rate = float(benches[number].day or 0) - BASE
        blooms = math.ceil(NEED / rate) - since  # days from ON, where nothing is changed
        target = blooms - wrong[number] - dice.randint(-1, 1)
        lots.append((f"L{i}", dice.randint(5, 60), f"Bench {number + 1}", since, target))
    return case(lots, benches, calendar=dice.choice((EVERY_DAY, MON_FRI)))


# ---------------------------------------------------------------- every answer there is


def cost(off: int, sd: float) -> float:
    """Expected cost of likely being so many days off, by hand: seven equally likely errors, a day late as 1.1 days
    early; the first day half, then each further one dearer, until the eighth costs twice the second.
    """
    total = 0.0
    for i in range(7):
        days = off + sd * NormalDist().inv_cdf((i + 0.5) / 7)
        near, far = min(abs(days), 8.0), max(0.0, abs(days) - 8.0)
        bent = near**2 / 2 if near <= 1 else near - 0.5 + (near**2 - 1) / 16 + 2 * far
        total += bent * (LATE if days > 0 else 1.0) / 7
    return total


def brute_force(stated: Season, days: int, sd: Mapping[str, float]) -> float:
    """The least of pot-days lost and of what is asked of the work, over every row of whole degrees of every bench and
    every single move at the start of a week.

    Everyday calendar, ON a Monday; steered are `days` days, bench settings change by 3 °C at most, no bench is full.
    """
    benches = [p for p in stated.places if p.kind == "bench"]
    weeks = -(-days // 7)
    best = math.inf
    for rows in product(*(_rows(place, weeks) for place in benches)):
        price = sum(
            FUSS + HOUR * 0.25 + DISTURBED * _pots_later(stated, place.name, k)
            for place, row in zip(benches, rows, strict=True)
            for k, (before, now) in enumerate(pairwise((place.day, *row))) if now != before
        )  # fmt: skip
        value = price
        for lot in stated.lots:
            value += min(
                lot.pots * cost(_off(stated, lot, benches, rows, to, k, days), sd[lot.name])
                + (0.0 if to == lot.bench else FUSS + HOUR * (0.6 * lot.pots + 10) / 60)
                for to in (b.name for b in benches) for k in range(weeks) if to != lot.bench or k == 0
            )  # fmt: skip
        best = min(best, value)
    return best


def _rows(place: Place, weeks: int) -> list[tuple[float, ...]]:
    assert place.lowest is not None and place.highest is not None and place.day is not None
    means = [place.day + by for by in range(-8, 9) if place.lowest <= place.day + by <= place.highest]
    rows = product(means, repeat=weeks)
    return [
        row for row in rows
        if all(abs(b - a) <= 3 for a, b in pairwise((place.day, *row))) and abs(row[-1] - place.day) <= 3
    ]  # fmt: skip


def _pots_later(stated: Season, name: str, week: int) -> int:
    """Every lot of these cases stands on its bench until long after the last week."""
    return sum(lot.pots for lot in stated.lots if lot.bench == name)


def _off(
    stated: Season, lot: Lot, benches: Sequence[Place], rows: Sequence[Sequence[float]], to: str, k: int, days: int
) -> int:  # fmt: skip
    assert lot.target is not None
    brought = next(e.date for e in stated.log if e.lot == lot.name and e.event == "brought in")
    at = {place.name: number for number, place in enumerate(benches)}
    heat = (ON - brought).days * (float(benches[at[str(lot.bench)]].day or 0) - BASE)
    day = 0
    while heat < NEED - 1e-3:
        number = at[to if day >= 7 * k else str(lot.bench)]
        heat += (rows[number][day // 7] if day < days else float(benches[number].day or 0)) - BASE
        day += 1
    return day - (lot.target - ON).days


def work(answer: Steering) -> tuple[object, ...]:
    """Everything that an answer asks of the staff."""
    return (*answer.settings, *answer.moves, *answer.holds)
