"""Checks of a season that was read: names that lead nowhere, figures that cannot be meant.

`CHECKS` is a tuple of small pure functions, each giving findings. An error leaves lots unplanned or the
answer wrong; a warning is a risk; a note is worth knowing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from forcing.crops.loader import RecipeBook
from forcing.errors import Finding, sort_findings
from forcing.model import Season
from forcing.season import checks_dates, checks_names, checks_recipes, checks_temperatures

Check = Callable[[Season, RecipeBook], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    checks_names.places_are_known,
    checks_names.places_are_of_the_right_kind,
    checks_names.displays_are_known,
    checks_names.plantings_are_known,
    checks_names.plantings_fit,
    checks_names.log_is_of_known_lots,
    checks_names.tasks_are_known,
    checks_recipes.crops_are_known,
    checks_recipes.recipes_are_sound,
    checks_recipes.cold_is_within_the_recipe,
    checks_recipes.overrides_say_one_thing,
    checks_recipes.overrides_are_used,
    checks_temperatures.limits_hold,
    checks_temperatures.nights_are_cooler,
    checks_temperatures.lows_are_below_highs,
    checks_temperatures.indoors_is_stated,
    checks_temperatures.unit_is_right,
    checks_temperatures.figures_are_in_the_unit,
    checks_dates.show_is_possible,
    checks_dates.displays_are_within_the_show,
    checks_dates.targets_are_within_the_show,
    checks_dates.installs_are_possible,
    checks_dates.hardening_is_whole,
    checks_dates.days_are_stated_once,
    checks_dates.normals_are_whole,
    checks_dates.days_are_of_this_season,
)


def check_season(season: Season, book: RecipeBook) -> tuple[Finding, ...]:
    """All findings of all checks, worst first."""
    return sort_findings(finding for check in CHECKS for finding in check(season, book))
