"""The cloth over a container on a frost night: as stated, or from its measures and how high its plants grow."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from forcing.model import Display, Season
from forcing.science.containers import cloth_area

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
