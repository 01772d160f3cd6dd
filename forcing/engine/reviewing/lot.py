"""One lot of a season looked back on: dates, cold, heat and life as planned and as they were."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from forcing.model import Event, Lot, Recipe
from forcing.science.pooling import Measured

EVENTS: tuple[Event, ...] = (
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom", "set out", "faded",
)  # fmt: skip
# What moved the day of bloom: the day it was brought in, its cold, where it stood and how warm, its own need.
PARTS = ("brought in", "cold", "warmth", "need")


@dataclass(frozen=True, slots=True)
class LotReview:
    """A lot, planned and real. None and missing dates: not logged, or not known (a note says why)."""

    lot: Lot
    recipe: Recipe
    target: date | None = None
    planned: Mapping[str, date] = field(default_factory=dict)
    actual: Mapping[str, date] = field(default_factory=dict)  # logged days only
    started: bool = False  # whether anything is logged of it
    potted: int | None = None  # pots, as logged
    lost: int | None = None  # pots, as logged
    cold_planned: float | None = None  # weeks
    cold_credited: float | None = None  # weeks, from what the cooler really was
    need_planned: float | None = None  # °C·d after the cold planned
    need_predicted: float | None = None  # °C·d after the cold it really had
    need_seen: float | None = None  # °C·d from bring in to bloom
    life_predicted: float | None = None  # °C·d from bloom to fade
    life_seen: float | None = None
    need: Measured | None = None  # what it says of the need, against need_predicted
    life: Measured | None = None
    basis: Literal["bloom", "stages"] | None = None  # what `need` rests on
    parts: Mapping[str, int] = field(
        default_factory=dict
    )  # of PARTS: days, their sum is the lateness of bloom
    notes: tuple[str, ...] = ()

    def days_late(self, event: str) -> int | None:
        """Days from planned to logged, negative when early; None where one of them is missing."""
        planned, actual = self.planned.get(event), self.actual.get(event)
        return None if planned is None or actual is None else (actual - planned).days

    @property
    def factor(self) -> float | None:
        """The need seen over the need foretold."""
        if self.need_seen is None or self.need_predicted is None:
            return None
        return self.need_seen / self.need_predicted

    @property
    def missing(self) -> tuple[str, ...]:
        """Events that must have been, for a later one is logged, but are not logged themselves."""
        done = [i for i, event in enumerate(EVENTS) if event in self.actual and event != "set out"]
        last = max(done, default=0)  # of a lot without a log nothing must have been
        cold = self.recipe.needs_cold
        return tuple(
            event
            for event in EVENTS[:last]
            if event not in self.actual
            and (cold or event not in ("cooler in", "rooted"))
            and (event != "set out" or event in self.planned)
        )
