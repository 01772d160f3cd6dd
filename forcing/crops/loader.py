"""The shipped recipes, and which figure of them holds for a lot.

recipes.csv, cold_curves.csv and minutes.csv hold one number a row; sources.toml says where each comes from.
The most specific row wins: crop + class + cultivar, crop + cultivar, crop + class, crop alone; the season's own
rows win over shipped rows of equal reach. Names compare without regard to capitals and extra spaces.
"""

from __future__ import annotations

import csv
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any, cast

from forcing.crops.names import CropBook, fold
from forcing.crops.problems import recipe_problems
from forcing.errors import RecipeError
from forcing.model import PARAMETERS, BloomClass, Figure, Minutes, Override, Recipe
from forcing.units import TemperatureUnit

NAMED = frozenset({"cold_curve"})  # parameters that are a name, not a number
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "cold_min": "weeks", "cold_target": "weeks", "cold_max": "weeks", "cold_curve": "name",
        "rooting": "weeks", "rooting_at": "°C", "cooled_at": "°C", "kept_at": "°C", "sprouting": "weeks",
        "precooled_max": "weeks", "base": "°C", "cap": "°C", "reference": "°C", "bench_days": "days",
        "bench_days_min": "days", "days_saved": "days per week", "shoots": "fraction of need",
        "bud": "fraction of need", "colour": "fraction of need", "bench_low": "°C", "bench_high": "°C",
        "hold": "°C", "hold_max": "days", "display_reference": "°C", "display_days": "days", "frost": "°C",
        "spread": "fraction", "bulbs_per_pot": "count", "pot": "cm",
    }
)  # fmt: skip

# What a crop of the house's own may leave out, and the figure taken in its place.
_STAND_INS: Mapping[str, str] = MappingProxyType(
    {
        "cooled_at": "rooting_at",
        "kept_at": "rooting_at",
        "sprouting": "cold_max",
        "precooled_max": "cold_max",
    }
)

Reach = tuple[str, str | None, str | None]  # crop, class, cultivar as compared; None: any


@dataclass(frozen=True, slots=True)
class Source:
    """A work that figures come from. `confidence` is high, medium or low."""

    key: str
    author: str
    title: str
    where: str
    kind: str
    confidence: str
    year: int | None = None  # None: the work bears no year that is known


@lru_cache(maxsize=1)
def shipped_figures() -> tuple[Figure, ...]:
    """Every figure of the shipped recipes, in the order of recipes.csv. Temperatures in °C."""
    return tuple(
        Figure(
            crop=row["crop"],
            parameter=row["parameter"],
            typical=row["typical"] if row["parameter"] in NAMED else float(row["typical"]),
            unit=row["unit"],
            basis=cast(Any, row["basis"]),
            source=row["source"],
            locator=row["locator"],
            bloom_class=cast("BloomClass | None", row["class"] or None),
            cultivar=row["cultivar"] or None,
            low=float(row["low"]) if row["low"] else None,
            high=float(row["high"]) if row["high"] else None,
        )
        for row in _rows("recipes.csv")
    )


@lru_cache(maxsize=1)
def shipped_minutes() -> tuple[Minutes, ...]:
    """Staff time of every kind of task [minutes]."""
    return tuple(
        Minutes(row["task"], float(row["per_pot"]), float(row["each_time"])) for row in _rows("minutes.csv")
    )


@lru_cache(maxsize=1)
def shipped_sources() -> Mapping[str, Source]:
    """Every source by its key."""
    table = tomllib.loads(_text("sources.toml"))
    return MappingProxyType({key: Source(key=key, **entry) for key, entry in table.items()})


def curve_nodes(name: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Temperatures [°C, rising] and weights [0 to 1] of a cold-credit curve. Raises RecipeError if unknown."""
    nodes = _curves().get(fold(name))
    if nodes is None:
        raise RecipeError(f"there is no cold curve {name!r}; there are: {', '.join(curve_names())}")
    return nodes


def curve_names() -> tuple[str, ...]:
    """Names of the cold-credit curves."""
    return tuple(_curves())


class RecipeBook(CropBook):
    """The recipes in force: the shipped figures with the house's own over them."""

    __slots__ = ("_index",)

    def __init__(self, figures: Iterable[Figure]) -> None:
        """From figures in rising order of standing: of two with equal reach the later one wins."""
        self._index: dict[Reach, dict[str, Figure]] = {}
        for figure in (stated := tuple(figures)):
            reach = _reach(figure.crop, figure.bloom_class, figure.cultivar)
            self._index.setdefault(reach, {})[figure.parameter] = figure
        super().__init__("recipe", (figure.crop for figure in stated))

    @classmethod
    def from_overrides(cls, overrides: Iterable[Override] = ()) -> RecipeBook:
        """The shipped figures with the season's own rows; of two rows for one figure the later one wins.

        Raises RecipeError for a parameter that no recipe has.
        """
        own = tuple(overrides)
        unknown = sorted({row.parameter for row in own} - set(PARAMETERS))
        if unknown:
            raise RecipeError(f"no recipe has: {', '.join(unknown)}")
        return cls((*shipped_figures(), *(house_figure(row, UNITS) for row in own)))

    def kinds(self, crop: str) -> tuple[tuple[BloomClass | None, str | None], ...]:
        """(class, cultivar) that have figures of their own in a crop, the widest first. Raises RecipeError."""
        key = fold(self.name(crop))
        found: dict[Reach, tuple[BloomClass | None, str | None]] = {}
        for reach, rows in self._index.items():
            if reach[0] == key:
                row = next(iter(rows.values()))
                found[reach] = (row.bloom_class, row.cultivar)
        return tuple(
            found[r] for r in sorted(found, key=lambda r: (r[2] or "", r[1] is not None, _rank(r[1])))
        )

    def own_figures(
        self, crop: str, bloom_class: BloomClass | None = None, cultivar: str | None = None
    ) -> Mapping[str, Figure]:
        """Figures stated for exactly that reach, by parameter. Raises RecipeError for an unknown crop."""
        return MappingProxyType(self._index.get(_reach(self.name(crop), bloom_class, cultivar), {}))

    def recipe(self, crop: str, bloom_class: BloomClass | None = None, cultivar: str | None = None) -> Recipe:
        """The recipe of a lot, with the figure that won for each parameter.

        Raises RecipeError for an unknown crop (naming those near it), and for all figures that are missing
        or not usable at once. Whether the figures agree with each other is asked with `check`.
        """
        name = self.name(crop)
        figures = self._winners(name, bloom_class, cultivar)
        who = ", ".join(part for part in (name, bloom_class, cultivar) if part)
        missing = [p for p in PARAMETERS if p not in figures and p not in _STAND_INS]
        faults = [f"no figure for {', '.join(missing)}"] if missing else []
        faults += [fault for figure in figures.values() if (fault := _fault(figure)) is not None]
        if faults:
            raise RecipeError(f"recipe of {who}: {'; '.join(faults)}")
        values = {p: figures[p].typical for p in PARAMETERS}
        values["cold_curve"] = fold(str(values["cold_curve"]))
        in_order = {p: figures[p] for p in PARAMETERS}
        return Recipe(
            crop=name, bloom_class=bloom_class, cultivar=cultivar, figures=in_order, **cast(Any, values)
        )

    def check(self, recipe: Recipe, unit: TemperatureUnit = "C") -> tuple[str, ...]:
        """What in a recipe contradicts itself, in plain words; none if it is sound."""
        return recipe_problems(recipe, max(curve_nodes(recipe.cold_curve)[1]), unit)

    def _winners(self, name: str, bloom_class: BloomClass | None, cultivar: str | None) -> dict[str, Figure]:
        """The winning figure of each parameter, stand-ins last."""
        figures: dict[str, Figure] = {}
        reaches = (
            _reach(name, None, None),
            _reach(name, bloom_class, None),
            _reach(name, None, cultivar),
            _reach(name, bloom_class, cultivar),
        )
        for reach in reaches:  # rising reach: the last one to speak wins
            figures.update(self._index.get(reach, {}))
        for parameter, other in _STAND_INS.items():
            if parameter not in figures and other in figures:
                figures[parameter] = replace(
                    figures[other], parameter=parameter, basis="practice", source="practice",
                    locator=f"not given: taken from {other}", low=None, high=None,
                )  # fmt: skip
        return figures


def _reach(crop: str, bloom_class: str | None, cultivar: str | None) -> Reach:
    return fold(crop), fold(bloom_class or "") or None, fold(cultivar or "") or None


def _rank(bloom_class: str | None) -> int:
    return ("early", "mid", "late").index(bloom_class) if bloom_class in ("early", "mid", "late") else 3


def house_figure(row: Override, units: Mapping[str, str]) -> Figure:
    """A row of the season's crops table as a figure; `units` are those of its parameters."""
    return Figure(
        crop=row.crop,
        parameter=row.parameter,
        typical=row.typical,
        unit=units[row.parameter],
        basis="house",
        source=row.source,
        locator="crops table" if row.row is None else f"crops table, row {row.row}",
        bloom_class=row.bloom_class or None,
        cultivar=row.cultivar or None,
        low=row.low,
        high=row.high,
    )


def _fault(figure: Figure) -> str | None:
    """Why a figure cannot be used at all; None if it can."""
    value = figure.typical
    if figure.parameter in NAMED:
        if isinstance(value, str) and fold(value) in _curves():
            return None
        return f"{figure.parameter} is none of {', '.join(curve_names())} ({value})"
    if isinstance(value, str) or not math.isfinite(value):
        return f"{figure.parameter} is not a number ({value})"
    return None


@lru_cache(maxsize=1)
def _curves() -> Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]]:
    nodes: dict[str, list[tuple[float, float]]] = {}
    for row in _rows("cold_curves.csv"):
        nodes.setdefault(row["curve"], []).append((float(row["temperature"]), float(row["weight"])))
    return MappingProxyType(
        {name: (tuple(t for t, _ in pairs), tuple(w for _, w in pairs)) for name, pairs in nodes.items()}
    )


def _rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(_text(name).splitlines()))


def _text(name: str) -> str:
    return resources.files("forcing.crops").joinpath(name).read_text(encoding="utf-8")
