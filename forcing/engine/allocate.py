"""A cooler and a bench for every lot that does not name its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from forcing.dates import Span
from forcing.engine.backward import plan_lot
from forcing.engine.climate import Climate, build_climate
from forcing.engine.rooms import pot_area, programmes
from forcing.engine.timeline import traveller_of
from forcing.model import Lot, LotPlan, Place, Recipe, Season, Unplanned

Places = tuple[str | None, str]  # cooler (None: no cold needed) and bench


def choose_places(
    season: Season, recipes: Mapping[str, Recipe], progress: Callable[[str], None]
) -> tuple[dict[str, Places], list[Unplanned]]:
    """Cooler and bench of each lot, and the lots that have nowhere to go.

    What a lot names is kept. The others are placed one after another in the order of their targets, each
    where it makes the places least overfull, and then where the bench is nearest its reference.
    """
    options: dict[str, list[Places]] = {}
    homeless: list[Unplanned] = []
    for lot in season.lots:
        if lot.name in recipes:
            fault = _fault(season, lot)
            options[lot.name] = [] if fault else _options(season, lot, recipes[lot.name])
            if not options[lot.name]:
                homeless.append(Unplanned(lot, fault or _nowhere(season, recipes[lot.name]), None))
    placed = {name: choice[0] for name, choice in options.items() if len(choice) == 1}
    free = [lot for lot in season.lots if len(options.get(lot.name, ())) > 1]
    if free:
        progress(f"finding places for {len(free)} lots")
        placed |= _one_by_one(season, recipes, options, placed, free)
    return placed, homeless


def _fault(season: Season, lot: Lot) -> str | None:
    """What the lot names that is not there; None if all of it is."""
    names = {place.name for place in season.places}
    sites = {display.name: display.site for display in season.displays}
    if lot.display and lot.display not in sites:
        return f"there is no display {lot.display}"
    named = [lot.cooler, lot.bench, lot.harden_at, sites.get(lot.display or "")]
    strange = [place for place in named if place and place not in names]
    return f"there is no place {', '.join(strange)}" if strange else None


def _options(season: Season, lot: Lot, recipe: Recipe) -> list[Places]:
    benches = [lot.bench] if lot.bench else [p.name for p in season.places if p.kind == "bench"]
    coolers: list[str | None] = [None]
    if recipe.needs_cold:
        coolers = [lot.cooler] if lot.cooler else [p.name for p in season.places if p.kind == "cooler"]
    return list(product(coolers, benches))


def _nowhere(season: Season, recipe: Recipe) -> str:
    kinds = {place.kind for place in season.places}
    missing = [
        kind for kind in ("cooler", "bench") if kind not in kinds and (recipe.needs_cold or kind == "bench")
    ]
    return f"it names no {' and no '.join(missing)}, and the table places has none"


def _one_by_one(
    season: Season,
    recipes: Mapping[str, Recipe],
    options: Mapping[str, Sequence[Places]],
    placed: Mapping[str, Places],
    free: Sequence[Lot],
) -> dict[str, Places]:
    climate = build_climate(season, programmes(season, ()))
    places = {place.name: place for place in season.places}
    standing = {name: np.zeros(climate.days) for name in places}

    def planned(lot: Lot, choice: Places) -> LotPlan | Unplanned:
        return plan_lot(traveller_of(season, climate, lot, recipes[lot.name], *choice))

    for lot in season.lots:
        if lot.name in placed:
            _stand(climate, standing, planned(lot, placed[lot.name]))
    chosen: dict[str, Places] = {}
    for lot in sorted(free, key=lambda lot: (lot.target or season.span.start, lot.name)):
        best: tuple[tuple[float, float, int], Places, LotPlan | Unplanned] | None = None
        for number, choice in enumerate(options[lot.name]):
            answer = planned(lot, choice)
            score = (*_cost(climate, places, standing, recipes[lot.name], choice, answer), number)
            if best is None or score < best[0]:
                best = (score, choice, answer)
        assert best is not None  # a free lot has two options or more
        chosen[lot.name] = best[1]
        _stand(climate, standing, best[2])
    return chosen


def _days(climate: Climate, span: Span) -> slice:
    return slice(climate.index(span.start), climate.index(span.end))


def _stand(
    climate: Climate, standing: Mapping[str, NDArray[np.float64]], answer: LotPlan | Unplanned
) -> None:
    if isinstance(answer, LotPlan):
        for step in answer.steps:
            if step.place is not None:
                standing[step.place][_days(climate, step.span)] += pot_area(answer)


def _cost(
    climate: Climate,
    places: Mapping[str, Place],
    standing: Mapping[str, NDArray[np.float64]],
    recipe: Recipe,
    choice: Places,
    answer: LotPlan | Unplanned,
) -> tuple[float, float]:
    """Pot-days over capacity that the choice adds, then degrees between the bench and the reference."""
    if isinstance(answer, Unplanned):
        return float("inf"), float("inf")
    over, area = 0.0, pot_area(answer)
    for step in answer.steps:
        capacity = places[step.place].pots if step.place is not None else None
        if step.place is not None and capacity is not None:
            load = standing[step.place][_days(climate, step.span)]
            over += float(np.clip(load + area - capacity, 0.0, area).sum())
    bench = climate.mean(choice[1])[_days(climate, Span(answer.bring_in, answer.bloom))]
    return over, abs(float(bench.mean()) - recipe.reference)
