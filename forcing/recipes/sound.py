"""What contradicts itself in a recipe, or cannot be: in plain words, with the parameters that it is about."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from forcing.model import Figure, Recipe
from forcing.units import TemperatureUnit, c_to_f_difference, show_temperature

if TYPE_CHECKING:
    from forcing.recipes.book import CompanionRecipe

LEAST_HARDENING = 14  # days: at least two weeks, California Master Gardener Handbook, 2nd ed. (UC ANR)


@dataclass(frozen=True, slots=True)
class Contradiction:
    """What in a recipe contradicts itself, in plain words, and the parameters that it is about."""

    message: str
    parameters: tuple[str, ...]


def recipe_problems(
    recipe: Recipe, curve_peak: float, unit: TemperatureUnit = "C"
) -> tuple[Contradiction, ...]:
    """Every contradiction in a recipe, in plain words with temperatures in `unit`; none if it is sound.

    `curve_peak`: the largest weight of its cold curve.
    """
    return (
        *_out_of_bounds(recipe, recipe.figures, unit),
        *_cold(recipe, curve_peak),
        *_heat(recipe, unit),
        *_stages(recipe),
        *_limits(recipe, unit),
        *_ranges(recipe, unit),
    )


# What figures can be at all, by their unit; wide, so that only slips are caught. Practice, no source; from memory.
BOUNDS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "weeks": (0, 60), "days": (0, 400), "days per week": (0, 7), "°C": (-60, 130), "fraction": (0, 1),
        "fraction of need": (0, 1), "count": (1, 500), "cells": (1, 1000), "cm": (2, 200),
    }
)  # fmt: skip
# A reference less far above the base leaves next to no heat to count by.
LEAST_RISE = 1.0  # °C; practice, no source


def _out_of_bounds(
    recipe: Recipe | CompanionRecipe, figures: Mapping[str, Figure], unit: TemperatureUnit
) -> Iterator[Contradiction]:
    """Figures that nothing grows by."""
    for name, figure in figures.items():
        value, (low, high) = getattr(recipe, name), BOUNDS.get(figure.unit, (-math.inf, math.inf))
        if isinstance(value, str) or value is None:
            continue
        if not low <= value <= high:
            ends = [show_temperature(t, unit) if figure.unit == "°C" else f"{t:g}" for t in (low, high)]
            yield Contradiction(f"{name} must be from {ends[0]} to {ends[1]}", (name,))
        elif figure.unit in ("count", "cells") and value != int(value):
            yield Contradiction(f"{name} must be a whole number: {value:g}", (name,))


def _cold(recipe: Recipe, curve_peak: float) -> Iterator[Contradiction]:
    weeks = (recipe.cold_min, recipe.cold_target, recipe.cold_max)
    if not 0 <= weeks[0] <= weeks[1] <= weeks[2]:
        found = ", ".join(f"{w:g}" for w in weeks)
        yield Contradiction(
            f"cold_min, cold_target and cold_max must not fall: {found} weeks",
            ("cold_min", "cold_target", "cold_max"),
        )
    if recipe.cold_max > 0 and curve_peak <= 0:
        wanted = f"but {recipe.cold_target:g} weeks are wanted"
        yield Contradiction(f"cold_curve {recipe.cold_curve!r} credits no cold, {wanted}", ("cold_curve",))


def _heat(recipe: Recipe, unit: TemperatureUnit) -> Iterator[Contradiction]:
    if recipe.base >= recipe.cap:
        yield _order(recipe, "base", "must be below", "cap", unit)
    for base, name in (("base", "reference"), ("display_base", "display_reference")):
        if getattr(recipe, base) > getattr(recipe, name) - LEAST_RISE:
            # a base that is not given is the bench's
            wrong = "base" if getattr(recipe, base) == recipe.base else base
            yield _order(recipe, wrong, f"must be {_degrees(LEAST_RISE, unit)} or more below", name, unit)
    if recipe.reference > recipe.cap:
        yield _order(recipe, "reference", "must not be above", "cap", unit)
    if not 0 < recipe.bench_days_min <= recipe.bench_days:
        yield Contradiction(
            "bench_days_min must be above 0 and not above bench_days: "
            f"{recipe.bench_days_min:g} and {recipe.bench_days:g} days",
            ("bench_days_min", "bench_days"),
        )
    if not 0 <= recipe.days_saved < 7:
        # 7 days or more: waiting would always bring bloom forward, and no bring-in would be the latest.
        found = f"{recipe.days_saved:g} days per week"
        yield Contradiction(f"days_saved must be 0 or more and below 7: {found}", ("days_saved",))

    if recipe.line_from > recipe.line_to:
        found = f"{recipe.line_from:g} and {recipe.line_to:g} weeks"
        yield Contradiction(f"line_from must not be above line_to: {found}", ("line_from", "line_to"))


def _degrees(difference: float, unit: TemperatureUnit) -> str:
    return f"{c_to_f_difference(difference) if unit == 'F' else difference:g} °{unit}"


def _order(recipe: Recipe, one: str, rule: str, other: str, unit: TemperatureUnit) -> Contradiction:
    """That one temperature of a recipe does not stand to another as it must."""
    found = " and ".join(show_temperature(getattr(recipe, name), unit) for name in (one, other))
    return Contradiction(f"{one} {rule} {other}: {found}", (one, other))


def _stages(recipe: Recipe) -> Iterator[Contradiction]:
    if not 0 < recipe.shoots < recipe.bud < recipe.colour < 1:
        found = ", ".join(f"{v:g}" for v in (recipe.shoots, recipe.bud, recipe.colour))
        yield Contradiction(
            f"shoots, bud and colour must rise between 0 and 1: {found}", ("shoots", "bud", "colour")
        )


def _limits(recipe: Recipe, unit: TemperatureUnit) -> Iterator[Contradiction]:
    if recipe.bench_low >= recipe.bench_high:
        yield _order(recipe, "bench_low", "must be below", "bench_high", unit)
    if recipe.bench_high <= recipe.base:
        yield _order(recipe, "bench_high", "must be above", "base", unit)
    if recipe.rooting_at <= 0:
        zero, found = (show_temperature(t, unit) for t in (0.0, recipe.rooting_at))
        yield Contradiction(f"rooting_at must be above {zero}, where roots stop: {found}", ("rooting_at",))
    for name in ("display_days", "display_longest", "spread"):
        if getattr(recipe, name) <= 0:
            yield Contradiction(f"{name} must be above 0: {getattr(recipe, name):g}", (name,))


def _ranges(recipe: Recipe | CompanionRecipe, unit: TemperatureUnit) -> Iterator[Contradiction]:
    """Figures whose typical value lies outside their own range."""
    for name, figure in recipe.figures.items():
        value = figure.typical
        if isinstance(value, str):
            continue
        ends = [figure.low if figure.low is not None else value, value]
        ends.append(figure.high if figure.high is not None else value)
        if sorted(ends) != ends:
            shown = [show_temperature(v, unit) if figure.unit == "°C" else f"{v:g}" for v in ends]
            yield Contradiction(f"{name}: low, typical and high must not fall: {', '.join(shown)}", (name,))


def companion_problems(recipe: CompanionRecipe, unit: TemperatureUnit = "C") -> tuple[Contradiction, ...]:
    """Every contradiction in a companion's recipe, in plain words with temperatures in `unit`; none if it is sound."""
    return tuple(_companion(recipe, unit))


def _companion(recipe: CompanionRecipe, unit: TemperatureUnit) -> Iterator[Contradiction]:
    yield from _out_of_bounds(recipe, recipe.figures, unit)
    base, cap, reference = (
        show_temperature(t, unit) for t in (recipe.base, recipe.cap, recipe.finish_reference)
    )
    if recipe.base > recipe.finish_reference - LEAST_RISE:
        rule = f"base must be {_degrees(LEAST_RISE, unit)} or more below finish_reference"
        yield Contradiction(f"{rule}: {base} and {reference}", ("base", "finish_reference"))
    if recipe.finish_reference > recipe.cap:
        rule = f"finish_reference must not be above cap: {reference} and {cap}"
        yield Contradiction(rule, ("finish_reference", "cap"))
    if recipe.sow_to_transplant < 0:  # 0: it is bought as plugs
        rule = f"sow_to_transplant must not be below 0: {recipe.sow_to_transplant:g}"
        yield Contradiction(rule, ("sow_to_transplant",))
    for name in ("transplant_to_finish", "spread", "germination"):
        if getattr(recipe, name) <= 0:
            yield Contradiction(f"{name} must be above 0: {getattr(recipe, name):g}", (name,))
    if recipe.harden_days < LEAST_HARDENING:
        rule = f"harden_days must be {LEAST_HARDENING} or more: {recipe.harden_days:g}"
        yield Contradiction(rule, ("harden_days",))
    for pair in (("cool_below", "cool_days"), ("warm_above", "warm_days")):
        if sum(getattr(recipe, name) is None for name in pair) == 1:
            yield Contradiction(f"{pair[0]} and {pair[1]} are given together or not at all", pair)
    yield from _ranges(recipe, unit)
