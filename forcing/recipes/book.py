"""The shipped recipes of bulbs and companions: how crops are named, which figure holds for a lot, what contradicts.

recipes.csv and companions.csv hold one number a row, with its source in sources.toml. A season's own rows win over
the shipped ones of equal reach. Names compare folded.
"""

from __future__ import annotations

import csv
import difflib
import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from functools import lru_cache
from importlib import resources
from types import MappingProxyType
from typing import Any, cast

from forcing.errors import RecipeError
from forcing.model import PARAMETERS, BloomClass, Figure, Minutes, Override, Recipe
from forcing.recipes.sound import BOUNDS, companion_problems, recipe_problems
from forcing.recipes.sound import LEAST_HARDENING as LEAST_HARDENING
from forcing.recipes.sound import Contradiction as Contradiction
from forcing.text import fold, singulars
from forcing.units import TemperatureUnit

# Everyday names and the crops they mean; only ever offered, never taken. From memory.
EVERYDAY: Mapping[str, str] = MappingProxyType(
    {
        "daffodil": "narcissus", "jonquil": "narcissus", "dwarf daffodil": "miniature narcissus",
        "miniature daffodil": "miniature narcissus", "grape hyacinth": "muscari", "squill": "scilla",
        "siberian squill": "scilla", "dwarf iris": "iris reticulata", "reticulate iris": "iris reticulata",
        "hippeastrum": "amaryllis", "sweet alyssum": "alyssum", "pot marigold": "calendula", "pinks": "dianthus",
        "primrose": "primula", "antirrhinum": "snapdragon", "matthiola": "stock", "gillyflower": "stock",
        "african daisy": "osteospermum", "johnny jump-up": "viola", "violet": "viola",
    }
)  # fmt: skip


class CropBook:
    """A book with an entry for each of its crops: their names, each as it was first written."""

    __slots__ = ("_names", "_what")

    def __init__(self, what: str, crops: Iterable[str]) -> None:
        """`what` a crop of this book has, for messages: recipe, companion recipe."""
        self._what = what
        self._names: dict[str, str] = {}
        for crop in crops:
            self._names.setdefault(fold(crop), " ".join(crop.split()))

    @property
    def crops(self) -> tuple[str, ...]:
        """Names of all crops: the shipped ones, then the house's own."""
        return tuple(self._names.values())

    def knows(self, crop: str) -> bool:
        """Whether the book has a crop of that name."""
        return fold(crop) in self._names

    def near(self, crop: str) -> tuple[str, ...]:
        """Crops of this book that a person may have meant, the likeliest first: by everyday name, else by letters."""
        everyday = difflib.get_close_matches(fold(crop), EVERYDAY, n=1, cutoff=0.85)
        if everyday and self.knows(EVERYDAY[everyday[0]]):
            return (EVERYDAY[everyday[0]],)
        return tuple(
            self._names[key] for key in difflib.get_close_matches(fold(crop), self._names, n=3, cutoff=0.6)
        )

    def name(self, crop: str) -> str:
        """A crop's name as the book writes it. Raises RecipeError, with names that come near."""
        if self.knows(crop):
            return self._names[fold(crop)]
        near = self.near(crop)
        hint = f"near it: {', '.join(near)}" if near else f"known: {', '.join(self.crops)}"
        raise RecipeError(f"there is no {self._what} for the crop {crop!r}; {hint}")


NAMED = frozenset({"cold_curve"})  # parameters that are a name, not a number
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "cold_min": "weeks", "cold_target": "weeks", "cold_max": "weeks", "cold_curve": "name",
        "rooting": "weeks", "rooting_at": "°C", "cooled_at": "°C", "kept_at": "°C", "sprouting": "weeks",
        "precooled_max": "weeks", "store_at": "°C", "pot_by": "weeks",
        "potted_wait": "days", "earliest": "weeks", "base": "°C", "cap": "°C", "reference": "°C", "bench_days": "days",
        "bench_days_min": "days", "days_saved": "days per week", "line_from": "weeks", "line_to": "weeks",
        "shoots": "fraction of need",
        "bud": "fraction of need", "colour": "fraction of need", "bench_low": "°C", "bench_high": "°C",
        "hold": "°C", "hold_max": "days", "display_reference": "°C", "display_days": "days",
        "display_base": "°C", "display_longest": "days", "frost": "°C",
        "spread": "fraction", "bulbs_per_pot": "count", "pot": "cm",
    }
)  # fmt: skip

# What may be left out, and what is taken in its place: so many times another figure, or where none is named that number
# itself. Those numbers are practice, no source; a limit at the end of what a figure can be is none.
_STAND_INS: Mapping[str, tuple[str | None, float]] = MappingProxyType(
    {
        "cooled_at": ("rooting_at", 1),
        "kept_at": ("rooting_at", 1),
        "sprouting": ("cold_max", 1),
        "precooled_max": ("cold_max", 1),
        "store_at": (None, 17),
        "pot_by": (None, 60),
        "potted_wait": (None, 10),
        "earliest": (None, 0),
        "line_from": (None, 0),
        "line_to": (None, 60),
        "display_base": ("base", 1),
        "display_longest": ("display_days", 2),
    }
)
# Shipped figures that hold for another one as shipped, and not for the house's own.
_TOGETHER: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"display_reference": ("display_base", "display_longest"), "days_saved": ("line_from", "line_to")}
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
def shipped_look_for() -> Mapping[tuple[str, str], str]:
    """What to look for in a task on a crop, by crop and task; a crop or task that is not in it has the usual words."""
    rows = _rows("look_for.csv")
    return MappingProxyType({(crop, r["task"]): r["words"] for r in rows for crop in r["crops"].split("; ")})


def minutes_in_force(own: Iterable[Minutes]) -> dict[str, Minutes]:
    """Staff time by task: the season's own before the shipped."""
    return {row.task: row for row in (*shipped_minutes(), *own)}


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
        wrong = {p: fault for p, figure in figures.items() if (fault := _fault(figure)) is not None}
        faults += wrong.values()
        if faults:
            raise RecipeError(f"recipe of {who}: {'; '.join(faults)}", (*missing, *wrong))
        values = {p: figures[p].typical for p in PARAMETERS}
        values["cold_curve"] = fold(str(values["cold_curve"]))
        in_order = {p: figures[p] for p in PARAMETERS}
        return Recipe(
            crop=name, bloom_class=bloom_class, cultivar=cultivar, figures=in_order, **cast(Any, values)
        )

    def sound_recipe(
        self, crop: str, bloom_class: BloomClass | None = None, cultivar: str | None = None,
        unit: TemperatureUnit = "C",
    ) -> Recipe:  # fmt: skip
        """As `recipe`; raises RecipeError also for one that contradicts itself, with temperatures in `unit`."""
        recipe = self.recipe(crop, bloom_class, cultivar)
        if problems := self.check(recipe, unit):
            raise RecipeError(f"its recipe contradicts itself: {'; '.join(problems)}")
        return recipe

    def check(self, recipe: Recipe, unit: TemperatureUnit = "C") -> tuple[str, ...]:
        """What in a recipe contradicts itself, in plain words; none if it is sound."""
        return tuple(problem.message for problem in self.contradictions(recipe, unit))

    def contradictions(self, recipe: Recipe, unit: TemperatureUnit = "C") -> tuple[Contradiction, ...]:
        """What in a recipe contradicts itself, with the parameters it is about; none if it is sound."""
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
        _keep_together(figures)
        for parameter, (other, times) in _STAND_INS.items():
            if parameter not in figures and (other is None or other in figures):
                figures[parameter] = _stand_in(name, parameter, figures.get(other or ""), times)
        return figures


def _stand_in(crop: str, parameter: str, other: Figure | None, times: float) -> Figure:
    """The figure taken for one that is not given: so many times another, or the number itself."""
    taken, value = f"{times:g} taken", times if other is None else other.typical
    if other is not None:
        taken = f"taken from {other.parameter}" if times == 1 else f"{times:g} times {other.parameter}"
        if times != 1 and not isinstance(value, str):
            value = min(value * times, BOUNDS[UNITS[parameter]][1])
    return Figure(crop, parameter, value, UNITS[parameter], "practice", "practice", f"not given: {taken}")


def _keep_together(figures: dict[str, Figure]) -> None:
    """Leaves out shipped figures that belong to another one than the house's own."""
    for stated, others in _TOGETHER.items():
        if stated in figures and figures[stated].basis == "house":
            for name in others:
                if name in figures and figures[name].basis != "house":
                    del figures[name]


def reaches(
    row: Override, crop: str, bloom_class: BloomClass | None = None, cultivar: str | None = None
) -> bool:
    """Whether a row is for that crop, and for that class and cultivar if it names them."""
    return all(own in (None, asked) for own, asked in zip(
        _reach(row.crop, row.bloom_class, row.cultivar), _reach(crop, bloom_class, cultivar), strict=True
    ))  # fmt: skip


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
    return resources.files("forcing.recipes").joinpath(name).read_text(encoding="utf-8")


MODEL_KIND = "viola"  # hardy, cool and usual: what a kind is taken to be like where nothing else is known
# Figures of its care, which decide no date that it is ready by: taken from the model kind without a word.
CARE = frozenset({
    "germination", "comes_up", "seeds_per_cell", "cells_per_tray", "prick_out", "feed", "deadhead",
})  # fmt: skip
# Only crops that begin their flowers in the cool, and those that flower no more once it was warm for some days.
OPTIONAL = ("cool_below", "cool_days", "warm_above", "warm_days")
COMPANION_UNITS: Mapping[str, str] = MappingProxyType(
    {
        "sow_to_transplant": "days", "transplant_to_finish": "days", "finish_reference": "°C", "base": "°C",
        "cap": "°C", "pinch": "days", "harden_days": "days", "frost": "°C", "spread": "fraction", "pot": "cm",
        "germinate_at": "°C", "germination": "fraction", "comes_up": "days", "seeds_per_cell": "count",
        "cells_per_tray": "cells", "prick_out": "days", "feed": "days", "deadhead": "days", "cool_below": "°C",
        "cool_days": "days", "warm_above": "°C", "warm_days": "days",
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
    germination: float  # share of the seed that comes up
    comes_up: float  # days after sowing on which gaps are counted
    seeds_per_cell: float
    cells_per_tray: float
    prick_out: float  # days after sowing in an open tray; 0: sown in its cells
    feed: float  # days between two feeds, from transplanting until it is hardened off; 0: not fed
    deadhead: float  # days between two rounds of taking off what has faded; 0: not deadheaded
    cool_below: float | None = None  # °C; None: flowers need no cool days
    cool_days: float | None = None  # days with a mean below cool_below before it is finished
    warm_above: float | None = None  # °C; None: warmth does not end its flowers
    warm_days: float | None = (
        None  # days with a mean above warm_above, once it flowers, until it flowers no more
    )
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
    text = resources.files("forcing.recipes").joinpath("companions.csv").read_text(encoding="utf-8")
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
        return cls((*shipped_companion_figures(), *(house_figure(row, COMPANION_UNITS) for row in own)))

    def knows(self, crop: str) -> bool:
        """Whether the book has a crop of that name, or of which it is the plural."""
        return super().knows(self._one_of(crop))

    def name(self, crop: str) -> str:
        """A crop's name as the book writes it, of the plural too. Raises RecipeError, with names that come near."""
        return super().name(self._one_of(crop))

    def _one_of(self, crop: str) -> str:
        """`crop`, or its singular where only that is in the book."""
        ways = (crop, *singulars(fold(crop)))
        return next((way for way in ways if CropBook.knows(self, way)), crop)

    def recipe(self, crop: str, like: str | None = None) -> CompanionRecipe:
        """The recipe of a companion crop, with the figure that won for each parameter.

        like: a kind whose figures stand in for those that are not known of the crop; of a crop that has some figures
        and names none, those of MODEL_KIND. Raises RecipeError for an unknown crop, and for all figures missing or
        not usable at once. Whether the figures agree with each other is asked with `check`.
        """
        name = self.name(crop) if like is None or self.knows(crop) else crop
        model = self._index[fold(self.name(like or MODEL_KIND))]
        figures = model | self._index.get(fold(name), {})
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
        return tuple(problem.message for problem in self.contradictions(recipe, unit))

    def contradictions(
        self, recipe: CompanionRecipe, unit: TemperatureUnit = "C"
    ) -> tuple[Contradiction, ...]:
        """What in a companion recipe contradicts itself, with the parameters it is about; none if it is sound."""
        return companion_problems(recipe, unit)


def _is_number(value: float | str) -> bool:
    return not isinstance(value, str) and math.isfinite(value)
