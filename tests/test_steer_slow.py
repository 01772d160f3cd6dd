"""Long checks of steering: many random cases in plain loops, and the sizes a house has."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from datetime import timedelta

import pytest

from forcing.engine.plan import PlanResult
from forcing.engine.steering.situation import set_up
from forcing.engine.steering.steer import steer
from forcing.model import Season
from tests.builders import MON_FRI
from tests.steer_cases import ON, bench, case, random_case, simulate, steered, worked


def house(seed: int, lots: int, benches: int) -> PlanResult:
    """Lots off target by what their bench is off and a little of their own."""
    dice = random.Random(seed)
    places = [bench(f"Bench {i + 1}", dice.choice((15, 16, 17)), 8, 22, 400) for i in range(benches)]
    rows = [
        (f"L{i:02d}", dice.randint(10, 60), f"Bench {dice.randint(1, benches)}", dice.randint(1, 13), 99)
        for i in range(lots)
    ]
    stated: Season = case(rows, places, calendar=MON_FRI)
    found = set_up(worked(stated), ON)
    assert found is not None
    likely = {live.name: live.bloom.likely for live in found.lots}
    wrong = {place.name: dice.randint(-4, 3) for place in places}
    moved = {
        lot.name: likely[lot.name] + timedelta(days=wrong[str(lot.bench)] + dice.randint(-2, 2)) for lot in stated.lots
    }  # fmt: skip
    return worked(replace(stated, lots=tuple(replace(lot, target=moved[lot.name]) for lot in stated.lots)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 300))
def test_what_is_promised_is_what_comes_in_plain_loops(seed: int) -> None:
    stated = random_case(seed)
    answer = steered(stated)
    assert simulate(stated, answer) == {o.lot: o.off_after for o in answer.lots}


@pytest.mark.slow
@pytest.mark.parametrize(("lots", "benches", "most"), [(30, 6, 5.0), (60, 9, 15.0)])
@pytest.mark.parametrize("seed", range(3))
def test_all_options_of_a_house_in_seconds(
    seed: int, lots: int, benches: int, most: float, capsys: pytest.CaptureFixture[str]
) -> None:
    made = house(seed, lots, benches)
    begun = time.process_time()
    answer = steer(made, ON)
    took = time.process_time() - begun
    with capsys.disabled():
        print(f"\n{lots} lots, {benches} benches: {took:.1f} s")
    assert took < most
    assert simulate(made.plan.season, answer) == {o.lot: o.off_after for o in answer.lots}


def test_smoke_of_a_smaller_house() -> None:
    made = house(1, 12, 3)
    answer = steer(made, ON)
    assert simulate(made.plan.season, answer) == {o.lot: o.off_after for o in answer.lots}
    assert sum(o.pots * abs(o.off_after) for o in answer.lots) < sum(
        o.pots * abs(o.off_before) for o in answer.lots
    )
