"""The shipped recipes of companion annuals, and which figure of them holds.

companions.csv holds one number a row, with its source in sources.toml. A season's own rows win over the shipped
ones. Names compare as in the recipes.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from functools import lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any, cast

from forcing.crops.loader import house_figure, shipped_figures, shipped_minutes
from forcing.crops.names import CropBook, fold
from forcing.errors import RecipeError
from forcing.model import Figure, Minutes, Override
from forcing.units import TemperatureUnit, show_temperature

COMPANION_WORKS = ("sow", "transplant", "pinch")
LEAST_HARDENING = 14  # days: at least two weeks, California Master Gardener Handbook, 2nd ed. (UC ANR)
OPTIONAL = ("cool_below", "cool_days")  # only crops that begin their flowers in the cool have them
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "sow_to_transplant": "days", "transplant_to_finish": "days", "finish_reference": "°C", "base": "°C",
        "cap": "°C", "pinch": "days", "harden_days": "days", "frost": "°C", "spread": "fraction", "pot": "cm",
        "germinate_at": "°C", "cool_below": "°C", "cool_days": "days",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CompanionRecipe:
    """All requirements of a companion crop. Units stand beside each field."""

    crop: str
    sow_to_transplant: float  # days, raised warm
    transplant_to_finish: float  # days at finish_reference
    finish_reference: float  # °C, mean of the day
    base: float  # °C
    cap: float  # °C
    pinch: float  # days after transplanting; 0: not pinched
    harden_days: float  # days, at least LEAST_HARDENING
    frost: float  # °C, lowest it stands hardened and uncovered
    spread: float  # coefficient of variation of the need
    pot: float  # cm
    germinate_at: float  # °C
    cool_below: float | None = None  # °C; None: flowers need no cool days
    cool_days: float | None = None  # days with a mean below cool_below before it is finished
    figures: Mapping[str, Figure] = field(default_factory=dict, compare=False, repr=False)

    @property
    def need(self) -> float:
        """Heat from transplanting to finish [°C·d] of the typical pot."""
        return self.transplant_to_finish * (self.finish_reference - self.base)


COMPANION_PARAMETERS: tuple[str, ...] = tuple(
    f.name for f in fields(CompanionRecipe) if f.name not in ("crop", "figures")
)
# Parameters that no bulb has: a row with one of these makes its crop a companion.
COMPANION_ONLY = frozenset(COMPANION_PARAMETERS) - {"base", "cap", "frost", "spread", "pot"}


@lru_cache(maxsize=1)
def shipped_companion_figures() -> tuple[Figure, ...]:
    """Every figure of the shipped companions, in the order of companions.csv. Temperatures in °C."""
    text = resources.files("forcing.crops").joinpath("companions.csv").read_text(encoding="utf-8")
    return tuple(
        Figure(
            crop=row["crop"],
            parameter=row["parameter"],
            typical=float(row["typical"]),
            unit=row["unit"],
            basis=cast(Any, row["basis"]),
            source=row["source"],
            locator=row["locator"],
            low=float(row["low"]),
            high=float(row["high"]),
        )
        for row in csv.DictReader(text.splitlines())
    )


def companion_minutes() -> tuple[Minutes, ...]:
    """Staff time of the works that no bulb has [minutes]: rows of the shipped minutes."""
    return tuple(row for row in shipped_minutes() if row.task in COMPANION_WORKS)


def split_overrides(overrides: Iterable[Override]) -> tuple[tuple[Override, ...], tuple[Override, ...]]:
    """The season's own figures as (rows of bulbs, rows of companions).

    A crop is a companion if it is shipped as one; or, where it is not shipped as a bulb, if one of its rows has a
    parameter that only companions have.
    """
    rows = tuple(overrides)
    bulbs = {fold(figure.crop) for figure in shipped_figures()}
    crops = {fold(row.crop) for row in rows if row.parameter in COMPANION_ONLY} - bulbs
    crops |= {fold(figure.crop) for figure in shipped_companion_figures()}
    return (
        tuple(row for row in rows if fold(row.crop) not in crops),
        tuple(row for row in rows if fold(row.crop) in crops),
    )


class CompanionBook(CropBook):
    """The companions' recipes in force: the shipped figures with the house's own over them."""

    __slots__ = ("_index",)

    def __init__(self, figures: Iterable[Figure]) -> None:
        """From figures in rising order of standing: of two for the same parameter the later one wins."""
        self._index: dict[str, dict[str, Figure]] = {}
        for figure in (stated := tuple(figures)):
            self._index.setdefault(fold(figure.crop), {})[figure.parameter] = figure
        super().__init__("companion recipe", (figure.crop for figure in stated))

    @classmethod
    def from_overrides(cls, overrides: Iterable[Override] = ()) -> CompanionBook:
        """The shipped figures with the season's own rows of companions; rows of bulbs are passed over.

        Raises RecipeError for a parameter that no companion has.
        """
        own = split_overrides(overrides)[1]
        unknown = sorted({row.parameter for row in own} - set(COMPANION_PARAMETERS))
        if unknown:
            raise RecipeError(f"no companion has: {', '.join(unknown)}")
        return cls((*shipped_companion_figures(), *(house_figure(row, UNITS) for row in own)))

    def recipe(self, crop: str) -> CompanionRecipe:
        """The recipe of a companion crop, with the figure that won for each parameter.

        Raises RecipeError for an unknown crop, and for all figures missing or not usable at once. Whether the
        figures agree with each other is asked with `check`.
        """
        name = self.name(crop)
        figures = self._index[fold(name)]
        missing = [p for p in COMPANION_PARAMETERS if p not in figures and p not in OPTIONAL]
        faults = [f"no figure for {', '.join(missing)}"] if missing else []
        faults += [
            f"{p} is not a number ({f.typical})" for p, f in figures.items() if not _is_number(f.typical)
        ]
        if faults:
            raise RecipeError(f"recipe of {name}: {'; '.join(faults)}")
        given = {p: figures[p] for p in COMPANION_PARAMETERS if p in figures}
        values = {p: f.typical for p, f in given.items()}
        return CompanionRecipe(crop=name, figures=given, **cast(Any, values))

    def check(self, recipe: CompanionRecipe, unit: TemperatureUnit = "C") -> tuple[str, ...]:
        """What in a companion recipe contradicts itself, in plain words; none if it is sound."""
        return tuple(_problems(recipe, unit))


def _problems(recipe: CompanionRecipe, unit: TemperatureUnit) -> Iterator[str]:
    base, cap, reference = (
        show_temperature(t, unit) for t in (recipe.base, recipe.cap, recipe.finish_reference)
    )
    if recipe.base >= recipe.finish_reference:
        yield f"base must be below finish_reference: {base} and {reference}"
    if recipe.finish_reference > recipe.cap:
        yield f"finish_reference must not be above cap: {reference} and {cap}"
    for name in ("sow_to_transplant", "transplant_to_finish", "spread", "pot"):
        if getattr(recipe, name) <= 0:
            yield f"{name} must be above 0: {getattr(recipe, name):g}"
    if recipe.pinch < 0:
        yield f"pinch cannot be below 0: {recipe.pinch:g} days"
    if recipe.harden_days < LEAST_HARDENING:
        yield f"harden_days must be {LEAST_HARDENING} or more: {recipe.harden_days:g}"
    if (recipe.cool_below is None) != (recipe.cool_days is None):
        yield "cool_below and cool_days are given together or not at all"
    if recipe.cool_days is not None and recipe.cool_days < 0:
        yield f"cool_days cannot be below 0: {recipe.cool_days:g}"
    for name, figure in recipe.figures.items():
        ends = [float(v) for v in (figure.low, figure.typical, figure.high) if v is not None]
        if sorted(ends) != ends:
            shown = [show_temperature(v, unit) if figure.unit == "°C" else f"{v:g}" for v in ends]
            yield f"{name}: low, typical and high must not fall: {', '.join(shown)}"


def _is_number(value: float | str) -> bool:
    return not isinstance(value, str) and math.isfinite(value)
