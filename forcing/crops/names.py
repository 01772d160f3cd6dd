"""Names of crops: how they compare, and which ones come near to what a person typed."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from forcing.errors import RecipeError

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


def fold(name: str) -> str:
    """A name as it is compared: capitals and extra spaces do not count."""
    return " ".join(name.split()).casefold()


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
