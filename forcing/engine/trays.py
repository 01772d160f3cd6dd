"""Seed and trays: how much is sown of a companion, in how many cells and trays, and the room these take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import Span
from forcing.engine.show.pots import pots_to_start
from forcing.model import Companion, Season
from forcing.recipes.book import CompanionRecipe

# Room of a tray of 0.15 m² in pots of 15 cm, litres that fill it whatever its cells, and seeds sown in an open one:
# common practice, no source; from memory; trays differ.
TRAY_ROOM, TRAY_LITRES, SEEDS_A_TRAY = 0.15 / 0.15**2, 3.0, 300


@dataclass(frozen=True, slots=True)
class Sowing:
    """The seed of a companion and the trays it is raised in, with what does not come up and what is lost."""

    seeds: int
    each: int  # in a cell, or one for each of those pricked out
    cells: int
    trays: int  # of cells
    open_trays: int  # in which it stands until it is pricked out; 0: it is sown in its cells
    prick_out: date | None  # None: it is sown in its cells


def sowing_of(season: Season, companion: Companion, recipe: CompanionRecipe, span: Span) -> Sowing:
    """What is sown of a companion; span: from sowing to transplanting. No tray holds two companions.

    A cell is empty where none of its seeds comes up; one of those pricked out takes a whole cell.
    """
    plants = pots_to_start(season, companion.name, companion.pots)
    pricked = season.calendar.on_or_after(span.start + timedelta(days=math.ceil(recipe.prick_out)))
    if recipe.prick_out > 0 and pricked < span.end:
        seeds = _whole(plants / recipe.germination)
        return Sowing(
            seeds, 1, plants, _whole(plants / recipe.cells_per_tray), _whole(seeds / SEEDS_A_TRAY), pricked
        )
    each = int(recipe.seeds_per_cell)
    cells = _whole(plants / (1.0 - (1.0 - recipe.germination) ** each))
    return Sowing(cells * each, each, cells, _whole(cells / recipe.cells_per_tray), 0, None)


def _whole(number: float) -> int:
    """Rounded up; division leaves dust."""
    return math.ceil(number - 1e-9)
