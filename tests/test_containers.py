"""Volumes against closed forms, slices and printed pots; mix to order against counts by hand."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.science.containers import (
    CUBIC_FOOT,
    INCH,
    POT_LITRES,
    SETTLING,
    Container,
    barrel,
    bowl,
    box,
    cylinder,
    frustum,
    mix_to_order,
    pot_litres,
    tapered_box,
)
from tests.published import pot_volumes

CM = st.floats(1.0, 300.0)
PART = st.floats(0.0, 1.0)


@pytest.mark.parametrize(
    ("container", "litres"),
    [
        # Closed forms of solid geometry:
        (box(60, 30, 20), 36.000),  # 60·30·20
        (cylinder(40, 40), 50.265),  # π·20²·40
        (frustum(15.2, 10.8, 14), 1.876),  # π·14/12·(15.2² + 15.2·10.8 + 10.8²)
        (frustum(15.2, 11.4, 11.1), 1.553),
        (frustum(10, 7, 9), 0.516),
        (tapered_box(60, 30, 50, 22, 20), 28.733),  # 20/6·((2·60 + 50)·30 + (2·50 + 60)·22)
        (bowl(40, 12), 8.445),  # π·12·(3·20² + 12²)/6
        (bowl(40, 20), 16.755),  # half a ball: 2/3·π·20³
        (barrel(56, 51, 46, 40), 81.975),  # straight staves: π·40/12·(56² + 56·46 + 46²)
        (barrel(60, 58, 50, 40), 102.395),  # Kepler's rule: π·40/24·(60² + 4·58² + 50²)
    ],
)
def test_closed_forms(container: Container, litres: float) -> None:
    assert container.litres() == pytest.approx(litres, abs=0.0005)


def test_printed_cylinder_in_inches() -> None:
    size = pot_volumes.CYLINDER_INCHES * INCH
    litres = cylinder(size, size).litres()
    assert litres * 1000 / INCH**3 == pytest.approx(pot_volumes.CYLINDER_CUBIC_INCHES, abs=0.5)
    assert litres / CUBIC_FOOT == pytest.approx(pot_volumes.CYLINDER_CUBIC_FEET, abs=0.005)


@pytest.mark.parametrize(
    ("rim", "pot"), [(10, frustum(10, 7, 9)), (15, frustum(15.2, 10.8, 14))], ids=["10 cm", "15 cm"]
)
def test_ordinary_pots_are_near_their_printed_litres(rim: int, pot: Container) -> None:
    printed = {size: litres for size, litres, _ in pot_volumes.POTS}[rim]
    assert pot.litres() == pytest.approx(printed, rel=pot_volumes.MAKERS_DIFFER)


@pytest.mark.parametrize(("rim", "litres", "per_cubic_metre"), pot_volumes.POTS)
def test_printed_pots(rim: int, litres: float, per_cubic_metre: int) -> None:
    assert pot_litres(rim) == pytest.approx(litres)
    assert round(1000 / pot_litres(rim)) == per_cubic_metre


def test_pots_between_and_beyond_the_printed_sizes() -> None:
    # As the cube of the rim: 20 cm is the cube of two 10 cm beyond the printed sizes, below and above.
    assert pot_litres(5) == pytest.approx(0.5 / 8)
    assert pot_litres(60) == pytest.approx(13.5 * 8)
    assert pot_litres(0.8) == pytest.approx(0.5 * 0.08**3)  # however small
    # Just within the printed sizes the power is that of the two nearest: 9 and 31 cm are beyond, 12 and 29 between.
    assert pot_litres(12) == pytest.approx(0.5 * (12 / 10) ** (math.log(1.9 / 0.5) / math.log(15 / 10)))
    assert pot_litres(29) == pytest.approx(8.0 * (29 / 25) ** (math.log(13.5 / 8) / math.log(30 / 25)))
    # Between two sizes the geometric middle of the rims holds the geometric middle of the litres.
    assert pot_litres(math.sqrt(10 * 15)) == pytest.approx(math.sqrt(0.5 * 1.9))


@given(st.floats(2.0, 100.0), st.floats(1.0, 1.5))
def test_wider_pots_hold_more(rim: float, wider: float) -> None:
    assert pot_litres(rim * wider) >= pot_litres(rim) * (1 - 1e-12)


def test_printed_litres_are_those_shipped() -> None:
    assert [(float(r), v) for r, v, _ in pot_volumes.POTS] == list(POT_LITRES)
    assert pytest.approx(sum(pot_volumes.COMPRESSION) / 2) == SETTLING


# ---------------------------------------------------------------- headspace


def test_headspace_of_straight_sides_is_its_slice() -> None:
    assert box(60, 30, 20).litres(headspace=2) == pytest.approx(32.4)  # 60·30·18
    assert box(60, 30, 20).litres(headspace=20) == 0.0


@settings(max_examples=60)
@given(rim=CM, base=CM, depth=CM, free=PART)
def test_a_part_filled_frustum_is_a_smaller_frustum(
    rim: float, base: float, depth: float, free: float
) -> None:
    level = rim + (base - rim) * free
    smaller = math.pi * depth * (1 - free) / 12 * (level**2 + level * base + base**2) / 1000
    assert frustum(rim, base, depth).litres(depth * free) == pytest.approx(smaller, rel=1e-9, abs=1e-9)


@settings(max_examples=60)
@given(rim=CM, depth=CM, free=PART)
def test_a_part_filled_bowl_is_a_smaller_cap(rim: float, depth: float, free: float) -> None:
    radius = (rim**2 / 4 + depth**2) / (2 * depth)
    filled = depth * (1 - free)
    smaller = math.pi * filled**2 * (3 * radius - filled) / 3 / 1000  # cap of a ball, by its height
    assert bowl(rim, depth).litres(depth * free) == pytest.approx(smaller, rel=1e-6, abs=1e-6)


def test_a_part_filled_tapered_box_by_slices() -> None:
    # 60 × 30 at the rim, 50 × 22 at the base, 20 deep, filled to 18: 20,000 thin slices.
    n, filled = 20_000, 18.0
    heights = [(i + 0.5) * filled / n for i in range(n)]
    brute = sum((50 + 10 * z / 20) * (22 + 8 * z / 20) * filled / n for z in heights) / 1000
    assert tapered_box(60, 30, 50, 22, 20).litres(2) == pytest.approx(brute, rel=1e-7)


@settings(max_examples=60)
@given(
    shape=st.one_of(
        st.builds(tapered_box, CM, CM, CM, CM, CM), st.builds(frustum, CM, CM, CM), st.builds(bowl, CM, CM)
    ),
    some=PART,
    more=PART,
)
def test_more_headspace_never_holds_more(shape: Container, some: float, more: float) -> None:
    low, high = sorted((some, more))
    assert shape.litres(shape.depth * high) <= shape.litres(shape.depth * low) * (1 + 1e-9) + 1e-9


@pytest.mark.parametrize("headspace", [-0.1, 20.1, math.nan])
def test_headspace_outside_the_container_is_refused(headspace: float) -> None:
    with pytest.raises(ValueError, match="headspace"):
        box(60, 30, 20).litres(headspace)


@pytest.mark.parametrize("measure", [0, -1, math.nan, math.inf])
def test_measures_must_be_above_zero(measure: float) -> None:
    for make in (
        lambda: box(measure, 30, 20),
        lambda: tapered_box(60, 30, 50, measure, 20),
        lambda: cylinder(30, measure),
        lambda: frustum(30, measure, 20),
        lambda: bowl(measure, 20),
        lambda: barrel(30, measure, 20, 20),
        lambda: pot_litres(measure),
    ):
        with pytest.raises(ValueError, match="above 0"):
            make()


# ---------------------------------------------------------------- what to order


def test_settling_adds_to_the_order() -> None:
    # The pots that 1 m³ fills at 15 %: 1000 / (1.9 · 1.15) = 457.7.
    assert int(1000 / mix_to_order(1.9, 1, settling=0.15)) == 457
    # 24 troughs of 32.4 litres at 20 %: 24 · 32.4 · 1.2.
    assert mix_to_order(32.4, 24, settling=0.20) == pytest.approx(933.12)


def test_root_balls_and_spares() -> None:
    # (36 - 12 pots of 1.5) · 10 · 1.15 · 1.1
    assert mix_to_order(36, 10, settling=0.15, taken=18, spare=0.1) == pytest.approx(227.7)
    assert mix_to_order(36, 0) == 0
    assert mix_to_order(36, 3, taken=36) == 0


def test_impossible_orders_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        mix_to_order(36, 10, taken=37)
    for wrong in ({"settling": -0.1}, {"taken": -1}, {"spare": -0.1}):
        with pytest.raises(ValueError, match="below 0"):
            mix_to_order(36, 10, **wrong)


@pytest.mark.parametrize("name", ["litres", "containers", "settling", "taken", "spare"])
def test_no_part_of_an_order_is_below_nothing(name: str) -> None:
    sound = {"litres": 10.0, "containers": 2, "settling": 0.1, "taken": 1.0, "spare": 0.1}
    for call in (sound, sound | {name: 0}):
        assert mix_to_order(**call | ({"taken": 0.0} if name == "litres" else {})) >= 0
    with pytest.raises(ValueError, match="below 0"):
        mix_to_order(**sound | {name: -1})


def test_a_bowl_is_a_cap_of_a_sphere() -> None:
    # Volume of a cap by its rim radius a and depth h: pi h (3 a² + h²) / 6. 30 cm across, 9 cm deep:
    # pi · 9 · (675 + 81) / 6 = 3562.57 cm³; half a sphere of 20 cm: 2/3 pi 10³ = 2094.40 cm³.
    assert bowl(30.0, 9.0).litres() == pytest.approx(3.56257, abs=5e-6)
    assert bowl(20.0, 10.0).litres() == pytest.approx(2.09440, abs=5e-6)


@pytest.mark.parametrize(("shape", "measures"), [(bowl, 2), (barrel, 4), (frustum, 3), (tapered_box, 5)])
def test_every_measure_of_every_shape_is_above_zero(shape: Callable[..., Container], measures: int) -> None:
    for at in range(measures):
        with pytest.raises(ValueError, match="above 0"):
            shape(*[0.0 if i == at else 10.0 for i in range(measures)])
