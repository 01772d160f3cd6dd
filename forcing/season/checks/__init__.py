"""Checks of a season that was read: names that lead nowhere, figures that cannot be meant.

`CHECKS` is a tuple of small pure functions, each giving findings. An error leaves lots unplanned or the
answer wrong; a warning is a risk; a note is worth knowing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from forcing.errors import Finding, sort_findings
from forcing.model import Season
from forcing.recipes.book import RecipeBook
from forcing.season.checks import days, figures, names, temperatures

Check = Callable[[Season, RecipeBook], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    names.places_are_known,
    names.places_are_of_the_right_kind,
    names.logged_places_suit_their_events,
    names.displays_are_known,
    names.plantings_are_known,
    names.plantings_fit,
    figures.containers_are_believable,
    figures.pots_fit_the_plantings,
    figures.displays_say_how_many,
    names.log_is_of_known_lots,
    names.tasks_are_known,
    figures.crops_are_known,
    figures.recipes_are_sound,
    figures.cold_is_within_the_recipe,
    figures.overrides_say_one_thing,
    figures.overrides_are_used,
    figures.overrides_reach_their_lots,
    figures.pots_are_in_centimetres,
    figures.bulbs_fit_their_pots,
    figures.supplies_are_used,
    temperatures.limits_hold,
    temperatures.zones_agree,
    temperatures.nights_are_cooler,
    temperatures.indoors_is_stated,
    temperatures.unit_is_right,
    temperatures.figures_are_in_the_unit,
    days.show_is_possible,
    days.displays_are_within_the_show,
    days.targets_are_within_the_show,
    days.installs_are_possible,
    days.lots_leave_after_their_target,
    days.hardening_is_whole,
    days.days_are_stated_once,
    days.normals_are_whole,
    days.days_are_of_this_season,
)

OF_THE_SHOW: frozenset[Check] = frozenset(
    {
        days.show_is_possible,
        days.displays_are_within_the_show,
        days.targets_are_within_the_show,
        days.installs_are_possible,
        days.normals_are_whole,
        days.days_are_of_this_season,
    }
)


def check_season(season: Season, book: RecipeBook, *, dated: bool = True) -> tuple[Finding, ...]:
    """All findings of all checks, worst first; not `dated`: of those that do not look at the days of the show."""
    checks = CHECKS if dated else tuple(check for check in CHECKS if check not in OF_THE_SHOW)
    return sort_findings(finding for check in checks for finding in check(season, book))
