"""What in a recipe contradicts itself: figures that each may be right but cannot all be."""

from __future__ import annotations

from collections.abc import Iterator

from forcing.model import Recipe
from forcing.units import TemperatureUnit, show_temperature


def recipe_problems(recipe: Recipe, curve_peak: float, unit: TemperatureUnit = "C") -> tuple[str, ...]:
    """Every contradiction in a recipe, in plain words with temperatures in `unit`; none if it is sound.

    `curve_peak`: the largest weight of its cold curve.
    """
    return (
        *_cold(recipe, curve_peak),
        *_heat(recipe, unit),
        *_stages(recipe),
        *_limits(recipe, unit),
        *_ranges(recipe, unit),
    )


def _cold(recipe: Recipe, curve_peak: float) -> Iterator[str]:
    weeks = (recipe.cold_min, recipe.cold_target, recipe.cold_max)
    if not 0 <= weeks[0] <= weeks[1] <= weeks[2]:
        yield (
            "cold_min, cold_target and cold_max must not fall: "
            + ", ".join(f"{w:g}" for w in weeks)
            + " weeks"
        )
    for name in ("rooting", "sprouting", "precooled_max"):
        if getattr(recipe, name) < 0:
            yield f"{name} cannot be below 0: {getattr(recipe, name):g} weeks"
    if recipe.cold_max > 0 and curve_peak <= 0:
        yield f"cold_curve {recipe.cold_curve!r} credits no cold, but {recipe.cold_target:g} weeks are wanted"


def _heat(recipe: Recipe, unit: TemperatureUnit) -> Iterator[str]:
    base, cap, reference, display = (
        show_temperature(t, unit)
        for t in (recipe.base, recipe.cap, recipe.reference, recipe.display_reference)
    )
    if recipe.base >= recipe.cap:
        yield f"base must be below cap: {base} and {cap}"
    if recipe.base >= recipe.reference:
        yield f"base must be below reference: {base} and {reference}"
    if recipe.reference > recipe.cap:
        yield f"reference must not be above cap: {reference} and {cap}"
    if recipe.base >= recipe.display_reference:
        yield f"base must be below display_reference: {base} and {display}"
    if not 0 < recipe.bench_days_min <= recipe.bench_days:
        yield (
            "bench_days_min must be above 0 and not above bench_days: "
            f"{recipe.bench_days_min:g} and {recipe.bench_days:g} days"
        )
    if not 0 <= recipe.days_saved < 7:
        # 7 days or more: waiting would always bring bloom forward, and no bring-in would be the latest.
        yield f"days_saved must be 0 or more and below 7: {recipe.days_saved:g} days per week"


def _stages(recipe: Recipe) -> Iterator[str]:
    if not 0 < recipe.shoots < recipe.bud < recipe.colour < 1:
        found = ", ".join(f"{v:g}" for v in (recipe.shoots, recipe.bud, recipe.colour))
        yield f"shoots, bud and colour must rise between 0 and 1: {found}"


def _limits(recipe: Recipe, unit: TemperatureUnit) -> Iterator[str]:
    low, high, base, roots = (
        show_temperature(t, unit)
        for t in (recipe.bench_low, recipe.bench_high, recipe.base, recipe.rooting_at)
    )
    if recipe.bench_low >= recipe.bench_high:
        yield f"bench_low must be below bench_high: {low} and {high}"
    if recipe.bench_high <= recipe.base:
        yield f"bench_high must be above base: {high} and {base}"
    if recipe.rooting_at <= 0:
        yield f"rooting_at must be above {show_temperature(0.0, unit)}, where roots stop: {roots}"
    if recipe.hold_max < 0:
        yield f"hold_max cannot be below 0: {recipe.hold_max:g} days"
    for name in ("display_days", "spread", "bulbs_per_pot", "pot"):
        if getattr(recipe, name) <= 0:
            yield f"{name} must be above 0: {getattr(recipe, name):g}"


def _ranges(recipe: Recipe, unit: TemperatureUnit) -> Iterator[str]:
    """Figures whose typical value lies outside their own range."""
    for name, figure in recipe.figures.items():
        value = figure.typical
        if isinstance(value, str):
            continue
        ends = [figure.low if figure.low is not None else value, value]
        ends.append(figure.high if figure.high is not None else value)
        if sorted(ends) != ends:
            shown = [show_temperature(v, unit) if figure.unit == "°C" else f"{v:g}" for v in ends]
            yield f"{name}: low, typical and high must not fall: {', '.join(shown)}"
