"""Plan a forced-bulb show: count back from opening day, hand out the work, steer the benches.

import forcing
season = forcing.load("season.xlsx")
plan = season.plan(on="2026-09-01")
plan.lots[["bring_in", "bloom"]]
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from forcing.api import (
        LoadedSeason,
        LotReasons,
        PlannedSeason,
        SeasonAgreement,
        SeasonOutlook,
        SeasonReview,
        SeasonSteering,
        load,
    )
    from forcing.errors import ForcingError, NothingToPlan, OutputError, SeasonUnreadable

__version__ = "0.1.0"

__all__ = [
    "ForcingError",
    "LoadedSeason",
    "LotReasons",
    "NothingToPlan",
    "OutputError",
    "PlannedSeason",
    "SeasonAgreement",
    "SeasonOutlook",
    "SeasonReview",
    "SeasonSteering",
    "SeasonUnreadable",
    "__version__",
    "load",
]

_OF_ERRORS = ("ForcingError", "NothingToPlan", "OutputError", "SeasonUnreadable")


def __getattr__(name: str) -> object:
    """A public name, from its module: the heavy libraries are imported only once a season is asked for."""
    if name not in __all__:
        raise AttributeError(f"module 'forcing' has no attribute {name!r}")
    return getattr(import_module("forcing.errors" if name in _OF_ERRORS else "forcing.api"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
