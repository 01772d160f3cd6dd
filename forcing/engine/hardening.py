"""Lots that go from a heated bench to the open while nights may freeze."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise

from forcing.engine.climate import unheated
from forcing.engine.frost import FEW, FREEZING
from forcing.engine.night_chances import NORMAL_SPREAD
from forcing.errors import Finding
from forcing.model import LotPlan, Season
from forcing.recipes.book import LEAST_HARDENING
from forcing.text import listed


def hardening_findings(season: Season, plan_lots: Sequence[LotPlan], on: date) -> Iterator[Finding]:
    """One note that names the lots which go from a heated bench straight out while nights may freeze."""
    free = unheated(season)
    straight = [
        now for plan in plan_lots for before, now in pairwise(plan.steps)
        if before.step == "bench" and before.place not in free and now.place in free and now.step != "pot"
        and now.place in {display.site for display in season.displays} and now.span.start >= on
        and _may_freeze(season, now.place, now.span.start)
    ]  # fmt: skip
    if straight:
        frames = [p.name for p in season.places if p.kind == "frame" and p.name in free]
        where = f"such as {listed(frames, FEW)}" if frames else "once the season has a frame"
        yield Finding(
            "not-hardened", "note", "lots", None, "harden at",
            f"{listed(list(dict.fromkeys(step.lot for step in straight)), 2 * FEW)} go straight from a heated bench to "
            f"the open while nights may freeze: they count as less "
            f"hardy until they have stood out {LEAST_HARDENING:g} days",
            f"State harden at, {where}, and harden days: up to {LEAST_HARDENING:g}.",
        )  # fmt: skip


def _may_freeze(season: Season, place: str, day: date) -> bool:
    """Whether nights at a place may freeze then: up to the last frost where it is stated, else by the normals."""
    if season.last_frost is not None:
        return day <= season.last_frost.day
    usual = {(n.place, n.month): n.low for n in season.normals}
    return usual.get((place, day.month), FREEZING) - NORMAL_SPREAD <= FREEZING
