"""What the trade knows: one number with its source, and all the numbers that a lot needs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Literal

from forcing.model.words import BloomClass


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a recipe with where it comes from. `typical` is text for named choices only."""

    crop: str
    parameter: str
    typical: float | str
    unit: str
    basis: Literal["published", "derived", "practice", "house"]
    source: str
    locator: str = ""
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Recipe:
    """All requirements of a lot's crop, class and cultivar. Units stand beside each field."""

    crop: str
    bloom_class: BloomClass | None
    cultivar: str | None
    cold_min: float  # weeks
    cold_target: float  # weeks
    cold_max: float  # weeks
    cold_curve: str  # name of the nodes of the cold credit
    rooting: float  # weeks at rooting_at
    rooting_at: float  # °C
    cooled_at: float  # °C, once rooted
    kept_at: float  # °C, once shoots show in the cooler
    sprouting: float  # weeks of cold until shoots are about 2.5 cm
    precooled_max: float  # weeks
    base: float  # °C
    cap: float  # °C
    reference: float  # °C
    bench_days: float  # days at reference after cold_target
    bench_days_min: float  # days at reference
    days_saved: float  # days at reference per extra week of cold
    shoots: float  # fraction of need
    bud: float  # fraction of need
    colour: float  # fraction of need
    bench_low: float  # °C
    bench_high: float  # °C
    hold: float  # °C
    hold_max: float  # days
    display_reference: float  # °C
    display_days: float  # days at display_reference
    frost: float  # °C
    spread: float  # coefficient of variation of the need
    bulbs_per_pot: float
    pot: float  # cm
    figures: Mapping[str, Figure] = field(default_factory=dict, compare=False, repr=False)

    @property
    def needs_cold(self) -> bool:
        return self.cold_max > 0

    def precooled(self, weeks: float) -> float:
        """Weeks of cold that count, of those that bulbs came with."""
        return min(weeks, self.precooled_max)


PARAMETERS: tuple[str, ...] = tuple(
    f.name for f in fields(Recipe) if f.name not in ("crop", "bloom_class", "cultivar", "figures")
)
