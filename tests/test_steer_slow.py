"""Long checks of steering: many random cases that can be brought to target, and the size a house has."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from datetime import timedelta

import pytest

from forcing.engine.steering.choices import set_up
from forcing.engine.steering.steer import steer
from forcing.model import Season
from tests.builders import MON_FRI
from tests.steer_cases import ON, bench, case, random_case, simulate, steered, worked


def house(seed: int, lots: int, benches: int) -> Season:
    """Lots off target by what their bench is off and a little of their own."""
    dice = random.Random(seed)
    places = [bench(f"Bench {i + 1}", dice.choice((15, 16, 17)), 8, 22, 400) for i in range(benches)]
    rows = [
        (f"L{i:02d}", dice.randint(10, 60), f"Bench {dice.randint(1, benches)}", dice.randint(1, 13), 99)
        for i in range(lots)
    ]
    stated = case(rows, places, calendar=MON_FRI)
    setup = set_up(worked(stated), ON, 7)
    assert setup is not None
    likely = {live.name: live.bloom.likely for live in setup.lots}
    wrong = {place.name: dice.randint(-4, 3) for place in places}
    moved = {
        lot.name: likely[lot.name] + timedelta(days=wrong[str(lot.bench)] + dice.randint(-2, 2)) for lot in stated.lots
    }  # fmt: skip
    return replace(stated, lots=tuple(replace(lot, target=moved[lot.name]) for lot in stated.lots))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 300))
def test_feasible_cases_land_within_a_day(seed: int) -> None:
    stated = random_case(seed)
    answer = steered(stated)
    landed = simulate(stated, answer)
    assert all(abs(off) <= 1 for off in landed.values()), landed
    assert {o.lot: o.off_after for o in answer.lots} == landed


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_thirty_lots_on_six_benches(seed: int, capsys: pytest.CaptureFixture[str]) -> None:
    stated = house(seed, 30, 6)
    made = worked(stated)
    begun = time.perf_counter()
    answer = steer(made, ON, threads=2)
    took = time.perf_counter() - begun
    with capsys.disabled():
        print(
            f"\n30 lots, 6 benches: {took:.1f} s, {answer.gap:.2f} days off per pot from the best ({answer.status})"
        )
    assert answer.gap <= 0.1
    assert simulate(stated, answer) == {o.lot: o.off_after for o in answer.lots}


def test_smoke_of_a_smaller_house() -> None:
    stated = house(1, 12, 3)
    answer = steered(stated)
    assert simulate(stated, answer) == {o.lot: o.off_after for o in answer.lots}
    assert sum(o.pots * abs(o.off_after) for o in answer.lots) < sum(
        o.pots * abs(o.off_before) for o in answer.lots
    )
