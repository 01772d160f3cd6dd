"""What the displays ask for: pots, like containers × pots per container of every lot and companion, seed and cloth.

To what is planted come the pots expected to be lost, so that as many are left as are planted: reckoned per lot and
rounded up, as each lot loses its own. Companions that are raised from seed ask for seed and trays in turn.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import MappingProxyType
from typing import Literal

from forcing.dates import Span
from forcing.errors import Finding
from forcing.model import Companion, Display, Lot, LotPlan, Season
from forcing.recipes.book import CompanionRecipe
from forcing.science.containers import cloth_area
from forcing.text import fold, some

# Room of a tray of 0.15 m² in pots of 15 cm, litres that fill it whatever its cells, and seeds sown in an open one:
# common practice, no source; from memory; trays differ.
TRAY_ROOM, TRAY_LITRES, SEEDS_A_TRAY = 0.15 / 0.15**2, 3.0, 300


@dataclass(frozen=True, slots=True)
class PotsNeeded:
    """Pots of one lot or companion: those its displays hold, those to add for losses, and those stated."""

    item: str
    kind: Literal["lot", "companion"]
    displays: Mapping[str, int]  # pots in each display, in the order of the plantings
    losses: int
    stated: int | None  # None: not stated, to come from the displays

    @property
    def planted(self) -> int:
        return sum(self.displays.values())

    @property
    def total(self) -> int:
        """Pots to start with."""
        return self.planted + self.losses


def pots_needed(season: Season) -> tuple[PotsNeeded, ...]:
    """What the displays ask of each lot and companion, in the season's order.

    A lot of 0 pots states none. Plantings of displays or items that there are not are left out: the checks name
    them.
    """
    asked = planted_in(season)
    stated: dict[str, int] = {}  # the parts of a split lot together
    for lot in season.lots:
        stated[lot.stated_name] = stated.get(lot.stated_name, 0) + lot.pots
    items: list[tuple[str, Literal["lot", "companion"], int | None]] = [
        *((name, "lot", pots or None) for name, pots in stated.items()),
        *((c.name, "companion", c.pots or None) for c in season.companions),
    ]
    return tuple(
        PotsNeeded(name, kind, shown := asked.get(name, {}), _losses(sum(shown.values()), season.loss), pots)
        for name, kind, pots in items
    )


def allow_for(number: float, loss: float) -> int:
    """How many to start with so that `number` are left after the fraction `loss` is lost, rounded up."""
    # Division leaves dust: 21 / 0.7 must be 30, not 31.
    return math.ceil(number / (1.0 - loss) - 1e-9) if loss < 1.0 else math.ceil(number)


def _losses(planted: int, loss: float) -> int:
    """Pots to add so that `planted` are left."""
    # The reader refuses a season of another loss; nothing can be started that would be left.
    return allow_for(planted, loss) - planted if 0.0 <= loss < 1.0 else 0


def pots_to_start(season: Season, item: str, pots: int) -> int:
    """Pots of one lot or companion to start with, so that its displays, or else the pots it states, are left.

    Where its own pots hold the reserve for what its displays ask already, no more is added.
    """
    wanted = planted_pots(season).get(item)
    return max(pots, allow_for(wanted, season.loss)) if wanted else allow_for(pots, season.loss)


def planted_pots(season: Season) -> dict[str, int]:
    """Pots of each lot or companion that all displays hold together."""
    return {item: sum(pots.values()) for item, pots in planted_in(season).items()}


def planted_in(season: Season) -> dict[str, dict[str, int]]:
    """Lot as it is stated, or companion -> display -> pots of it that its containers hold; of displays there are."""
    containers = {display.name: display.containers for display in season.displays}
    found: dict[str, dict[str, int]] = {}
    for planting in season.plantings:
        mine = found.setdefault(planting.item, {})
        if planting.display in containers:
            pots = containers[planting.display] * planting.per_container
            mine[planting.display] = mine.get(planting.display, 0) + pots
    return found


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


def with_pots(season: Season) -> Season:
    """The season with the pots of lots and companions that state none (0) taken from the displays."""
    needed = {(row.kind, row.item): row for row in pots_needed(season)}
    lots = tuple(lot if lot.pots else replace(lot, pots=needed["lot", lot.name].total) for lot in season.lots)
    companions = tuple(
        c if c.pots else replace(c, pots=needed["companion", c.name].total) for c in season.companions
    )
    return replace(season, lots=lots, companions=companions)


def pots_findings(season: Season) -> Iterator[Finding]:
    """Lots and companions of which nothing says how many there are, and those whose pots leave too little reserve.

    One that does not even fill its containers is found where the season is checked (planting-short).
    """
    rows = {("lot", lot.stated_name): lot.row for lot in season.lots}
    rows |= {("companion", c.name): c.row for c in season.companions}
    needed = pots_needed(season)
    for need in needed:
        if need.stated is None and need.planted == 0:
            yield Finding(
                "pots-not-known", "error", f"{need.kind}s", rows[need.kind, need.item], "pots",
                f"{need.item} states no pots and is planted in no display",
                "State its pots, or give it a row in plantings.",
            )  # fmt: skip
    for kind in ("lot", "companion"):
        short = [
            n for n in needed if n.kind == kind and n.stated is not None and n.planted <= n.stated < n.total
        ]
        if short:  # one finding for all: a house that keeps no reserve keeps none for any
            asked = ", ".join(f"{n.item} {n.total}" for n in short)
            yield Finding(
                "pots-no-reserve", "note", f"{kind}s", rows[kind, short[0].item] if len(short) == 1 else None,
                "pots",
                f"{len(short)} {kind}{'' if len(short) == 1 else 's'} would fill the displays, but not with the "
                f"expected losses taken off: {sum(n.total - (n.stated or 0) for n in short)} pots too few in all",
                f"Start with as many as this: {asked}; or leave pots empty to have them counted from the displays.",
            )  # fmt: skip


STAND_INS = 3  # lots named that could stand in for one


def stand_ins(
    season: Season, plans: Sequence[LotPlan], lot: Lot, day: date, blooms: Mapping[str, date] | None = None
) -> list[str]:
    """Lots of its crop, class or colour with pots to spare that are in bloom on a day, in words, the likest first.

    blooms: of lots whose bloom is not that of their plan.
    """
    planted = {need.item: need.planted for need in pots_needed(season)}
    colours: dict[str, set[str]] = {}
    for planting in season.plantings:
        if planting.colour:
            colours.setdefault(planting.item, set()).add(fold(planting.colour))
    found: list[tuple[bool, bool, bool, str]] = []
    for other in plans:
        # Of one that is part of a lot nothing is known.
        spare = 0 if other.lot.part_of else other.lot.pots - planted.get(other.lot.name, 0)
        bloom = (blooms or {}).get(other.lot.name, other.bloom)
        shown = bloom <= day and (other.fade is None or day < other.fade)
        crop, kind = other.lot.crop == lot.crop, other.lot.bloom_class == lot.bloom_class
        colour = bool(colours.get(other.lot.name, set()) & colours.get(lot.name, set()))
        if other.lot.name != lot.name and spare > 0 and shown and (crop or kind or colour):
            what = " ".join(part for part in (other.lot.bloom_class, other.lot.crop) if part)
            said = (
                f"{other.lot.name} ({what}, {some(spare, 'pot')} to spare{', same colour' if colour else ''})"
            )
            found.append((not crop, not kind, not colour, said))
    return [said for *_, said in sorted(found)[:STAND_INS]]


# ---------------------------------------------------------------- companions


def counting(season: Season, display: str) -> set[str]:
    """The companions whose colour counts in a display: as stated, else where no bulbs are planted."""
    lots = {lot.stated_name for lot in season.lots}
    mine = [p for p in season.plantings if p.display == display]
    bulbs = any(p.item in lots for p in mine) or any(lot.display == display for lot in season.lots)
    return {p.item for p in mine if p.item not in lots and (not bulbs if p.counts is None else p.counts)}


# ---------------------------------------------------------------- cloth

# Height in flower above the mix [cm]; common practice, no source; from memory. A planting may state its own.
HEIGHTS: Mapping[str, float] = MappingProxyType({
    "tulip": 35, "narcissus": 35, "miniature narcissus": 18, "paperwhite": 40, "hyacinth": 25, "prepared hyacinth": 25,
    "crocus": 12, "muscari": 16, "iris reticulata": 13, "scilla": 15, "lily": 60, "amaryllis": 50, "pansy": 15,
    "viola": 13,
})  # fmt: skip
USUAL_HEIGHT = (
    40.0  # cm, of a mixed container where nothing is known of its plants; common practice, no source
)


def cloth_over(season: Season, display: Display) -> float | None:
    """Cloth over one container on a frost night [m²]: as stated, else over its measures and its tallest plants.

    None: neither is known.
    """
    if display.cover_m2 is not None or display.length_cm is None or display.depth_cm is None:
        return display.cover_m2
    crops = {lot.name: lot.crop for lot in season.lots} | {c.name: c.crop for c in season.companions}
    heights = [
        HEIGHTS.get(crops.get(p.item, "")) if p.height_cm is None else p.height_cm
        for p in season.plantings if p.display == display.name
    ]  # fmt: skip
    tallest = max((height for height in heights if height is not None), default=USUAL_HEIGHT)
    round_ = display.shape not in ("box", "tapered box")
    width = display.length_cm if round_ or display.width_cm is None else display.width_cm
    return cloth_area(display.length_cm, width, display.depth_cm + tallest)
