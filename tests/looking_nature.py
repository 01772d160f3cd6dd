"""Lots that bloom, and people who look at them on some days and write some of it down: plain loops, own arithmetic."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from forcing.model import LogEntry, Lot, Season
from tests.builders import house_figures, season

DAY = timedelta(days=1)
OPENS = date(2027, 3, 20)
# 24 days of 16 - 2 = 14 °C·d after 14 weeks at 9 °C, whatever the cold: 336 °C·d.
_FIGURES = house_figures(
    "tulip", cold_min=8, cold_target=14, cold_max=20, base=2, cap=25, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
)  # fmt: skip
FIGURES = tuple(replace(row, bloom_class=kind) for row in _FIGURES for kind in ("early", "mid", "late"))
SHARES = {"shoots": 0.2, "bud": 0.5, "colour": 0.85}
SIGMA = math.sqrt(math.log(1.01))
LOOKS: dict[str, Callable[[date], bool]] = {
    "daily": lambda day: True,
    "Mon+Thu": lambda day: day.weekday() in (0, 3),
    "Monday": lambda day: day.weekday() == 0,
}
WEEKDAYS = {"daily": frozenset(range(7)), "Mon+Thu": frozenset({0, 3}), "Monday": frozenset({0})}


@dataclass(frozen=True)
class GrownLot:
    """A lot as it really was."""

    lot: Lot
    brought_in: date
    bloom: date
    seen: tuple[tuple[str, date], ...]  # what was written down, bloom included


def grown(
    seed: int, lots: int, looks: str, *, missed: float = 0.4, season_effect: float | None = None,
    spread: float = SIGMA, shares: Sequence[float] = (1 / 4, 1 / 8, 1 / 4, 3 / 8),
) -> list[GrownLot]:  # fmt: skip
    """Lots whose logarithm of the need is off by season, class, cultivar and their own part.

    shares: of the variance `spread`², in this order. season_effect: None draws it, else it is this.
    """
    rng = random.Random(f"{seed} {looks}")
    season_sd, class_sd, cultivar_sd, own_sd = (spread * math.sqrt(share) for share in shares)
    effect = rng.gauss(0, season_sd) if season_effect is None else season_effect
    classes = {c: rng.gauss(0, class_sd) for c in ("early", "mid", "late")}
    kinds = {(c, k): rng.gauss(0, cultivar_sd) for c in classes for k in range(4)}
    out = []
    for n in range(lots):
        kind, number = ("early", "mid", "late")[n % 3], n // 3 % 4
        pace = effect + classes[kind] + kinds[kind, number] + rng.gauss(0, own_sd)
        target = OPENS - 14 * DAY + timedelta(days=round(40 * n / max(1, lots)))
        lot = Lot(f"L{n}", "tulip", 10, kind, f"{kind} {number}", target=target)  # type: ignore[arg-type]
        out.append(_one(rng, lot, target - 24 * DAY, 336 * math.exp(pace), LOOKS[looks], missed))
    return out


def _one(
    rng: random.Random, lot: Lot, start: date, need: float, looks: Callable[[date], bool], missed: float
) -> GrownLot:
    at = {stage: share * need * math.exp(rng.gauss(0, 0.15)) for stage, share in SHARES.items()}
    at["bloom"] = need
    day, heat, bloom = start, 0.0, None
    seen: dict[str, date] = {}
    written = {stage: stage == "bloom" or rng.random() >= missed for stage in at}
    while "bloom" not in seen:
        day, heat = day + DAY, heat + 14.0
        if bloom is None and heat >= need:
            bloom = day
        if looks(day):
            # Somebody stands before the lot and writes down the stage it is in, if it is a new one.
            stages = list(at)
            latest = max((i for i, stage in enumerate(stages) if heat >= at[stage]), default=-1)
            if latest >= 0 and written[stages[latest]] and not seen.keys() & set(stages[latest:]):
                seen[stages[latest]] = day
    assert bloom is not None
    return GrownLot(lot, start, bloom, tuple(seen.items()))


def as_logged(lots: list[GrownLot], stated: frozenset[int] | None, on: date) -> Season:
    """The season with what was written down of the lots by a day; all potted and in the cooler in time."""
    log = []
    for one in lots:
        into = one.brought_in - 98 * DAY
        rows = [(into - DAY, "potted"), (into, "cooler in"), (one.brought_in, "brought in")]
        rows += [(day, stage) for stage, day in one.seen]
        log += [LogEntry(day, one.lot.name, event) for day, event in rows if day <= on]  # type: ignore[arg-type]
    return season([one.lot for one in lots], opens=OPENS, overrides=FIGURES, log=tuple(log), looks=stated)
