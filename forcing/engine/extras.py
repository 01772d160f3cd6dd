"""What goes on beside the lots: companions, the house's own jobs, the displays, frost nights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from forcing.engine import Context
from forcing.engine.climate import Climate
from forcing.engine.companions import CompanionPlan, hardened_since, plan_companions
from forcing.engine.frost import FrostCare, FrostNight, frost_findings, frost_nights, frost_tasks
from forcing.engine.hardening import hardening_findings
from forcing.engine.loads import companion_stays
from forcing.engine.night_chances import (
    Minima,
    NightChance,
    chance_findings,
    last_frost_findings,
    night_chances,
    unjudged_finding,
)
from forcing.engine.show.pots import cloth_over
from forcing.engine.show.show import Show, show_of
from forcing.engine.show.standing import lifted
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.house_work import plan_jobs
from forcing.engine.work.tasks import companion_tasks
from forcing.errors import Finding, RecipeError
from forcing.model import LotPlan, Occupancy, Season, Task
from forcing.recipes.book import CompanionBook, RecipeBook
from forcing.science.frost import COVERS, LEAF_MARGIN


@dataclass(frozen=True, slots=True)
class SeasonExtras:
    """Companions, displays and frost nights of a season, with the tasks and findings of them all."""

    companions: tuple[CompanionPlan, ...]
    show: Show
    nights: tuple[FrostNight, ...]
    chances: tuple[NightChance, ...]
    tasks: tuple[Task, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What a season has beside its lots that is known before these are given their places."""

    companions: tuple[CompanionPlan, ...]
    book: CompanionBook
    tasks: tuple[Task, ...]  # of companions and of the house's own jobs
    findings: tuple[Finding, ...]

    @property
    def occupancy(self) -> list[Occupancy]:
        """Room that the companions take."""
        return [stay for plan in self.companions for stay in companion_stays(plan)]


def known_before(season: Season, climate: Climate, context: Context) -> Known:
    """Companions, in the climate of the benches, frames and sites, and own jobs."""
    book = CompanionBook.from_overrides(season.overrides)
    companions, findings = plan_companions(season, climate, book, context.on)
    jobs, job_findings = plan_jobs(season, season.jobs, context, climate)
    tasks = (*companion_tasks(season, companions, context), *jobs)
    return Known(companions, book, tasks, (*findings, *job_findings))


def beside(
    season: Season,
    plans: Sequence[LotPlan],
    simulations: Sequence[LotSimulation],
    climate: Climate,
    known: Known,
    book: RecipeBook,
    context: Context,
) -> SeasonExtras:
    """All that a season has beside its lots, as seen on the day; `known`: what was known of it before."""
    companions, on = known.companions, context.on
    show = show_of(season, plans, simulations, climate, book, context, companions)
    care, plans = _care(season, companions, known.book), lifted(plans, show.standings)
    nights = frost_nights(season, plans, on, care)
    minima = _minima(season)
    chances = night_chances(season, plans, on, minima, care)
    return SeasonExtras(
        companions, show, nights, chances,
        (*known.tasks, *show.tasks, *frost_tasks(season, nights, context, plans, care)),
        (*known.findings, *show.findings, *frost_findings(season, nights, on), *last_frost_findings(season),
         *hardening_findings(season, plans, simulations, known.occupancy, climate, on),
         *unjudged_finding(season, plans, on, minima, care), *chance_findings(season, chances)),
    )  # fmt: skip


def _care(season: Season, companions: Sequence[CompanionPlan], book: CompanionBook) -> FrostCare:
    limits: dict[str, float | None] = {}
    for companion in season.companions:
        try:
            limits[companion.name] = book.recipe(companion.crop, companion.like).frost
        except RecipeError:
            limits[companion.name] = None
    return FrostCare(
        companion_limits=limits,
        companion_steps={plan.companion.name: plan.steps for plan in companions},
        companion_hardened={
            plan.companion.name: (hardened_since(season, plan), plan.recipe.harden_days)
            for plan in companions
        },
        cloth={display.name: cloth_over(season, display) for display in season.displays},
        cover=next((cover for cover in COVERS if cover.kind == season.cover_cloth), None),
        margin=LEAF_MARGIN if season.frost_margin is None else season.frost_margin,
    )


def _minima(season: Season) -> dict[str, Minima]:
    places = dict.fromkeys(minimum.place for minimum in season.minima)
    return {
        place: Minima(
            [m.date for m in season.minima if m.place == place],
            [m.low for m in season.minima if m.place == place],
        )
        for place in places
    }
