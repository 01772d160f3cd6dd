"""Winters lived through week by week, under three policies on the same truths: the plan as it is, a rule of thumb, and
the advice that is recommended. Nature is that of tests/winter.py.
"""

from __future__ import annotations

import pytest

from tests.winter import (
    House,
    Policy,
    as_planned,
    drawn,
    in_colour,
    lived,
    pot_days,
    recommended,
    rule_of_thumb,
    weekly,
)  # fmt: skip

WINTERS = 100
SHARE = 0.6  # of the pot-days off target of doing nothing, at most
A_WEEK, IN_ANY_WEEK = 3.0, 8  # actions


@pytest.mark.parametrize("looks", [(0,), (0, 3)])
def test_a_winter_on_schedule_asks_nothing_of_anyone(looks: tuple[int, ...]) -> None:
    house = lived(drawn(3, count=12, even=True, looks=looks), recommended)
    assert sum(house.actions.values()) == 0
    assert pot_days(house) == 0


def test_smoke_of_a_small_winter() -> None:
    winter = drawn(7, count=12)
    nothing, house = lived(winter, as_planned), lived(winter, recommended)
    assert pot_days(house) < pot_days(nothing)
    assert max(house.actions.values()) <= IN_ANY_WEEK


def openings(winters: range, policy: Policy) -> list[bool]:
    """Of each display of each winter, whether its wanted cover was there on opening day."""
    return [shown for seed in winters for shown in in_colour(lived(drawn(seed, show=True), policy))]


def test_smoke_of_opening_days() -> None:
    assert sum(openings(range(3), as_planned)) >= 5


@pytest.mark.slow
def test_displays_are_in_colour_on_opening_day() -> None:
    """Nothing stated, nobody steering: in 90 of 100; following what is recommended: in 95 of 100."""
    shown = openings(range(WINTERS), as_planned)
    assert sum(shown) >= 0.9 * len(shown)
    steered = openings(range(WINTERS // 10), recommended)  # each takes half a minute
    assert sum(steered) >= 0.95 * len(steered)


@pytest.mark.slow
@pytest.mark.parametrize("looks", [(0, 3)])
def test_winters_are_steered_nearer_to_their_targets(
    looks: tuple[int, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    off = {policy.__name__: 0 for policy in (as_planned, rule_of_thumb, recommended)}
    houses: list[House] = []
    for seed in range(WINTERS):
        winter = drawn(seed, looks=looks)
        for policy in (as_planned, rule_of_thumb, recommended):
            house = lived(winter, policy)
            off[policy.__name__] += pot_days(house)
        houses.append(house)
    mean, most = weekly(houses)
    with capsys.disabled():
        print(f"\n{WINTERS} winters: {off}; {mean:.2f} actions a week, {most} at most")
    assert off["recommended"] <= SHARE * off["as_planned"]
    assert off["recommended"] < off["rule_of_thumb"]
    assert mean <= A_WEEK and most <= IN_ANY_WEEK
