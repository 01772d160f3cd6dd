"""Dates and room programmes that agree: lots planned in the rooms, rooms set by the lots."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from forcing.engine.climate import Climate, build_climate
from forcing.engine.history import NOTHING, History
from forcing.engine.replan import replan_lot
from forcing.engine.rooms import programmes
from forcing.engine.timeline import Traveller, traveller_of
from forcing.model import Lot, LotPlan, Recipe, RoomSetting, Season, Unplanned

Places = tuple[str | None, str]  # cooler (None: no cold needed) and bench
ROUNDS = 8  # dates move rooms and rooms move dates; a handful of rounds settles every season seen


@dataclass(frozen=True, slots=True)
class Settled:
    """Lots planned and refused in the rooms of `programme`. `agreed`: planning again would change nothing."""

    lots: tuple[LotPlan, ...]
    refused: tuple[Unplanned, ...]
    programme: tuple[RoomSetting, ...]
    climate: Climate
    agreed: bool


def settle(
    season: Season,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    lived: Mapping[str, History],
    progress: Callable[[str], None],
    start: tuple[RoomSetting, ...] | None = None,
) -> Settled:
    """Plan the placed lots, set the rooms by them, and again until both agree. `start`: rooms to begin with."""
    programme = programmes(season, ()) if start is None else start
    for turn in range(ROUNDS):
        progress(f"counting back {len(placed)} lots, round {turn + 1}")
        settled = planned_in(season, lots, recipes, placed, lived, programme)
        agreed = programmes(season, settled.lots)
        if agreed == programme:
            break
        if turn < ROUNDS - 1:
            programme = agreed
    return Settled(settled.lots, settled.refused, programme, settled.climate, agreed == programme)


def planned_in(
    season: Season,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    lived: Mapping[str, History],
    programme: tuple[RoomSetting, ...],
) -> Settled:
    """The placed lots planned once, in the rooms of a programme that stays as it is."""
    climate = build_climate(season, programme)
    planned: list[LotPlan] = []
    refused: list[Unplanned] = []
    for traveller in travellers_of(season, climate, lots, recipes, placed, lived):
        answer = replan_lot(traveller)
        if isinstance(answer, LotPlan):
            planned.append(answer)
        else:
            refused.append(answer)
    return Settled(tuple(planned), tuple(refused), programme, climate, True)


def travellers_of(
    season: Season,
    climate: Climate,
    lots: Sequence[Lot],
    recipes: Mapping[str, Recipe],
    placed: Mapping[str, Places],
    lived: Mapping[str, History],
) -> tuple[Traveller, ...]:
    """Every placed lot ready to be run forward, in the order of `lots`."""
    return tuple(
        traveller_of(season, climate, lot, recipes[lot.name], *placed[lot.name], lived.get(lot.name, NOTHING))
        for lot in lots
        if lot.name in placed
    )
