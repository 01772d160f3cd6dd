"""Volumes of containers, mix to order for them, and cloth to cover them.

The area of a level section of every shape here is a square function of its height, so three areas (base,
half way, rim) say all, and the volume up to any level is exact by Simpson's rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

LITRE = 1000.0  # cm³
INCH = 2.54  # cm
CM2_IN_M2 = 10_000.0
HEM = 15.0  # cm that lie on the ground, to be weighed down; common practice, no source; from memory
CUBIC_FOOT = 28.317  # litres

# Loose mix pressed and watered in loses 15 to 20 % (trade page on pot volumes, undated); planned on the middle.
SETTLING = 0.175
# Left free below the rim for water [cm] (same page): small and large containers.
HEADSPACE_SMALL, HEADSPACE_LARGE = 1.0, 2.0
# Nominal litres of round pots by rim [cm] (trade pages on pot volumes, undated); makers differ by 15 % each way.
POT_LITRES: tuple[tuple[float, float], ...] = (
    (10.0, 0.5),
    (15.0, 1.9),
    (20.0, 4.5),
    (25.0, 8.0),
    (30.0, 13.5),
)


@dataclass(frozen=True, slots=True)
class Container:
    """A container by its inside areas [cm²] at the base, half way up and at the rim, and its depth [cm]."""

    base: float
    middle: float
    rim: float
    depth: float

    def litres(self, headspace: float = 0.0) -> float:
        """Volume [litres] up to `headspace` [cm] below the rim. Raises ValueError outside 0 to the depth."""
        if not 0.0 <= headspace <= self.depth:
            raise ValueError(f"headspace must lie between 0 and the depth, {self.depth:g} cm: {headspace!r}")
        filled = self.depth - headspace
        half, full = self._area(filled / 2), self._area(filled)
        return max(0.0, filled / 6 * (self.base + 4 * half + full) / LITRE)

    def _area(self, height: float) -> float:
        """Area [cm²] of the level section at a height [cm], the parabola through the three that are known."""
        t = height / self.depth
        return self.base * (1 - t) * (1 - 2 * t) + self.middle * 4 * t * (1 - t) + self.rim * t * (2 * t - 1)


def box(length: float, width: float, depth: float) -> Container:
    """A box, straight sided. Inside measures [cm]. Raises ValueError unless all are above 0; so do all below."""
    return tapered_box(length, width, length, width, depth)


def tapered_box(
    rim_length: float, rim_width: float, base_length: float, base_width: float, depth: float
) -> Container:
    """A box that narrows both ways, each by its own slope. Inside measures [cm]."""
    _above_zero(rim_length, rim_width, base_length, base_width, depth)
    middle = (rim_length + base_length) * (rim_width + base_width) / 4
    return Container(base_length * base_width, middle, rim_length * rim_width, depth)


def cylinder(diameter: float, depth: float) -> Container:
    """A round container with upright sides. Inside measures [cm]."""
    return frustum(diameter, diameter, depth)


def frustum(rim: float, base: float, depth: float) -> Container:
    """A round pot that narrows evenly, by its diameters. Inside measures [cm]."""
    return barrel(rim, (rim + base) / 2, base, depth)


def bowl(rim: float, depth: float) -> Container:
    """A bowl, part of a sphere, by its rim diameter. Inside measures [cm]."""
    _above_zero(rim, depth)
    radius = ((rim / 2) ** 2 + depth**2) / (2 * depth)  # of the sphere
    half = depth / 2
    return Container(0.0, math.pi * half * (2 * radius - half), math.pi * (rim / 2) ** 2, depth)


def barrel(rim: float, middle: float, base: float, depth: float) -> Container:
    """A half barrel with bowed sides, by three diameters: rim, half way, base. Inside measures [cm]."""
    _above_zero(rim, middle, base, depth)
    return Container(_disc(base), _disc(middle), _disc(rim), depth)


def mix_to_order(
    litres: float, containers: int, settling: float = SETTLING, taken: float = 0.0, spare: float = 0.0
) -> float:
    """Loose mix [litres] for so many containers, each of `litres` filled.

    settling: fraction lost when pressed and watered in (more is ordered by this fraction). taken [litres]:
    of each container filled by the root balls set into it. spare: fraction ordered beyond that.
    Raises ValueError for a negative number, or more taken than there is.
    """
    if min(litres, containers, settling, taken, spare) < 0:
        raise ValueError("litres, containers, settling, taken and spare cannot be below 0")
    if taken > litres:
        raise ValueError(f"{taken:g} litres of root balls do not fit into {litres:g} litres")
    return (litres - taken) * containers * (1 + settling) * (1 + spare)


def cloth_area(length: float, width: float, height: float, hem: float = HEM) -> float:
    """Cloth [m²] that lies over something of these measures [cm], down to the ground and `hem` [cm] out all round.

    One rectangular piece: both ways the measure, twice the height and twice the hem. Raises ValueError unless the
    measures are above 0, and for a hem below 0.
    """
    _above_zero(length, width, height)
    if hem < 0:
        raise ValueError(f"a hem cannot be below 0: {hem!r}")
    return (length + 2 * (height + hem)) * (width + 2 * (height + hem)) / CM2_IN_M2


def pot_litres(rim: float) -> float:
    """Nominal litres of a round pot by its rim [cm]; makers differ by 15 % each way.

    Printed sizes give their printed litres; between and beyond them litres follow a power of the rim
    through the two nearest sizes (10 to 30 cm), or its cube beyond the ends.
    """
    _above_zero(rim)
    sizes = POT_LITRES
    if rim <= sizes[0][0] or rim >= sizes[-1][0]:
        end, litres = sizes[0] if rim <= sizes[0][0] else sizes[-1]
        return litres * math.pow(rim / end, 3)
    upper = next(i for i, (size, _) in enumerate(sizes) if size >= rim)
    (a, v), (b, w) = sizes[upper - 1], sizes[upper]
    return v * math.pow(w / v, math.log(rim / a) / math.log(b / a))


def _disc(diameter: float) -> float:
    return math.pi * diameter**2 / 4


def _above_zero(*measures: float) -> None:
    for measure in measures:
        if not (measure > 0 and math.isfinite(measure)):
            raise ValueError(f"a measure must be above 0: {measure!r}")
