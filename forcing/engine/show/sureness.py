"""How surely each lot that opens a display is planned, so that the display as a whole has its wanted cover that day.

A lot alone that is nine times in ten in bloom gives a display that is; of three that are all wanted, and late for
reasons of their own, each must be surer. What is stated stands: for the lot, its display or the season.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from forcing.dates import DAY, Span
from forcing.engine.replan import expectation
from forcing.engine.show.cover import BloomOdds, bloom_odds, chances_of_enough, in_bloom, planned_odds
from forcing.engine.show.standing import Standing, standings
from forcing.engine.simulate import LotSimulation
from forcing.model import OPENING, LotPlan, Season
from forcing.science.pooling import late_together

STEPS = (0.92, 0.94, 0.96, 0.98, 0.99)  # confidences that are tried; common practice, no source
GAIN = 0.01  # of a chance for which a lot is brought in sooner


def surer_openings(
    season: Season, plans: Sequence[LotPlan], simulations: Sequence[LotSimulation], on: date
) -> dict[str, float]:
    """Confidences, by lot as stated, of lots that must be surer than OPENING for their display to be sure enough.

    None for lots that are begun or agreed, nor for those whose confidence is stated.
    """
    of = {t.lot.name: t for t in simulations}
    surer: dict[str, float] = {}
    for stand in standings(season, plans, simulations):
        if stand.display.span.start >= on and stand.display.span.days:
            surer |= _surer(season, stand, of, on)
    return surer


def _surer(season: Season, stand: Standing, of: Mapping[str, LotSimulation], on: date) -> dict[str, float]:
    """The confidences that make one display sure enough, one lot at a time, the one that gains most first."""
    opening = Span(stand.display.span.start, stand.display.span.start + DAY)
    there = [name for name in dict.fromkeys(p.lot for p in stand.pieces) if stand.pots(name)[0]]
    known = {name: expected for name in there if (expected := expectation(of[name], on)) is not None}
    sure = {name: odds for name, e in known.items() if (odds := bloom_odds(e, opening, on)) is not None}
    late = dict(zip(sure, late_together([found.tie for found in sure.values()]), strict=True))

    def chance(tried: Mapping[str, BloomOdds]) -> float:
        lots = [(stand.pots(name)[:1], in_bloom(late[name], {**sure, **tried}[name])) for name in sure]
        return chances_of_enough(lots, season.wanted_cover, 1)[0] or 0.0

    now, taken, ways = chance({}), dict[str, tuple[float, BloomOdds]](), None
    while now < OPENING:
        if ways is None:
            ways = _ways(season, [of[name] for name in sure], opening, on)
        so_far = {name: found for name, (_, found) in taken.items()}
        tried = [(chance({**so_far, name: found}), name, step, found) for name, step, found in ways]
        best = max(tried, key=lambda way: (way[0], -way[2]), default=None)
        if best is None or best[0] < now + GAIN:
            break
        now = best[0]
        taken[best[1]] = best[2:]
    return {of[name].lot.stated_name: step for name, (step, _) in taken.items()}


def _ways(
    season: Season, simulations: Sequence[LotSimulation], opening: Span, on: date
) -> list[tuple[str, float, BloomOdds]]:
    """Each lot that may be surer, at each step."""
    ways = []
    for t in simulations:
        if t.history.started or t.history.agreed is not None or season.stated_confidence(t.lot) is not None:
            continue
        if season.opened_by(t.lot):
            for step in STEPS:
                found = planned_odds(replace(t, lot=replace(t.lot, confidence=step)), opening, on)
                if found is not None:
                    ways.append((t.lot.name, step, found[1]))
    return ways
