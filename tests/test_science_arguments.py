"""Every number that a science function takes: one that is infinite is refused by its own name, a missing one too."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from forcing.science import cold, flowering, frost, heat

NODES = {"node_temperatures": [0.0, 9.0], "node_weights": [1.0, 0.0]}
NEED = {
    "cold_weeks": 15.0, "cold_target": 15.0, "bench_days": 24.0, "bench_days_min": 18.0, "days_saved": 2.5,
    "reference": 16.0, "base": 2.0,
}  # fmt: skip
SOUND: list[tuple[Callable[..., Any], dict[str, Any]]] = [
    (cold.cold_credit, {"mean": 5.0, **NODES}),
    (cold.narcissus_cold_sum, {"mean": [9.0]}),
    (cold.narcissus_days_at_16, {"cold_units": 2100.0}),
    (cold.rooting_rate, {"mean": 5.0, "best": 9.0}),
    (flowering.bench_need, NEED),
    (flowering.lognormal_sigma, {"spread": 0.1}),
    (flowering.need_at_confidence, {"need": 300.0, "spread": 0.1, "confidence": 0.5}),
    (heat.degree_days, {"low": 5.0, "high": 15.0, "base": 2.0, "cap": 30.0, "next_low": 6.0}),
    (heat.clipped_mean_degree_days, {"low": 5.0, "high": 15.0, "base": 2.0, "cap": 30.0}),
    (heat.hourly_degree_days, {"temperatures": [5.0, 15.0], "base": 2.0, "cap": 30.0}),
]
SAID = {  # what is said is the argument, but for these
    "node_temperatures": "node temperatures", "node_weights": "node weights", "means": "mean",
}  # fmt: skip
EVERY = [(call, given, name) for call, given in SOUND for name in given if name != "confidence"]


@pytest.mark.parametrize(("call", "given", "name"), EVERY, ids=[f"{c.__name__}-{n}" for c, _, n in EVERY])
def test_an_infinite_number_is_refused_by_name(
    call: Callable[..., Any], given: dict[str, Any], name: str
) -> None:
    assert math.isfinite(call(**given))
    for infinite in (math.inf, -math.inf):
        worse = [infinite, infinite] if isinstance(given[name], list) else infinite
        with pytest.raises(ValueError, match=rf"^{SAID.get(name, name)} must be finite \(a gap is NaN\)$"):
            call(**given | {name: worse})


def test_infinite_minima_are_refused_by_name() -> None:
    for call in (frost.last_freezes, frost.pooled_nights):
        with pytest.raises(ValueError, match=r"^minima must be finite"):
            call([date(2027, 3, 1)], [math.inf])


@pytest.mark.parametrize("call", [call for call, _ in SOUND], ids=lambda call: call.__name__)
def test_every_argument_is_tried(call: Callable[..., Any]) -> None:
    """A new argument of a science function is to stand in the table above."""
    given = next(given for other, given in SOUND if other is call)
    assert set(inspect.signature(call).parameters) - set(given) <= {"curve", "cutoff", "axis"}
