"""What goes on beside the lots: companions, the house's own jobs, the displays, frost nights."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from forcing.engine.climate import Climate
from forcing.engine.companions import CompanionPlan, companion_stays, hardened_since, plan_companions
from forcing.engine.context import Context
from forcing.engine.frost import (
    FrostCare,
    FrostNight,
    Minima,
    NightChance,
    frost_findings,
    frost_nights,
    frost_tasks,
    hardening_findings,
    night_chances,
    unjudged_finding,
)
from forcing.engine.show.show import Show, show_of
from forcing.engine.show.standing import lifted
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.rounds import plan_jobs
from forcing.engine.work.tasks import companion_tasks
from forcing.errors import Finding, RecipeError, Several
from forcing.model import LotPlan, Occupancy, Season, Task
from forcing.recipes.book import CompanionBook, RecipeBook
from forcing.science.frost import COVERS, LEAF_MARGIN

KEEP_CLOTH = "Keep the cloth at hand until then, and enter the forecast lows in readings."
LIKELY_FROST = 0.1  # chance of a night at which the season is told to keep cloth ready: one night in ten


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
    jobs, job_findings = plan_jobs(season, season.jobs, context)
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
    show = show_of(season, plans, simulations, climate, book, context, known.occupancy)
    care, plans = _care(season, companions, known.book), lifted(plans, show.standings)
    nights = frost_nights(season, plans, on, care)
    minima = _minima(season)
    chances = night_chances(season, plans, on, minima, care)
    return SeasonExtras(
        companions, show, nights, chances,
        (*known.tasks, *show.tasks, *frost_tasks(season, nights, context, plans, care)),
        (*known.findings, *show.findings, *frost_findings(season, nights, on),
         *hardening_findings(season, plans, on), *unjudged_finding(season, plans, on, minima, care),
         *_chance_findings(season, chances)),
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
        companion_out={plan.companion.name: plan.set_out for plan in companions},
        companion_stays={
            plan.companion.name: [(s.place, s.span) for s in plan.steps if s.place and s.step != "show"]
            for plan in companions
        },
        companion_hardened={
            plan.companion.name: (hardened_since(season, plan), plan.recipe.harden_days)
            for plan in companions
        },
        cloth={display.name: display.cover_m2 for display in season.displays},
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


def _chance_findings(season: Season, chances: Sequence[NightChance]) -> Iterator[Finding]:
    """For each display: until when a night that asks for the cover comes once in ten or oftener."""
    for display in dict.fromkeys(chance.display for chance in chances):
        mine = [c for c in chances if c.display == display]
        risky = [c for c in mine if c.chance is not None and c.chance >= LIKELY_FROST]
        watched = [c for c in mine if c.chance is None and c.last is not None and not c.years]
        if watched:
            yield _watched(display, watched)
        if not risky:
            continue
        worst = max(risky, key=lambda c: c.chance or 0.0)
        yield Finding(
            "frost-likely", "note", "minima", None, None,
            f"by {_rests_on(worst)}, nights that ask for the cover come to {display} once in "
            f"ten or oftener from {risky[0].evening} to {risky[-1].evening}; the likeliest is {worst.evening}, "
            f"{worst.chance:.0%} ({worst.tenderest} is the tenderest there)"
            + _last_words(season, worst),
            KEEP_CLOTH, days=(risky[0].evening, risky[-1].evening), several=Several(
                "nights that ask for the cover come to {names} once in ten or oftener from {first} to {last}",
                KEEP_CLOTH, display,
            ),
        )  # fmt: skip


def _watched(display: str, nights: Sequence[NightChance]) -> Finding:
    """Nights that nothing tells of but the last frost that is stated."""
    first, last = nights[0], nights[-1]
    return Finding(
        "frost-watch", "note", "season", None, "last frost",
        f"by the last frost, {last.last}, nights from {first.evening} to {last.evening} may ask for the cover in "
        f"{display} ({last.tenderest} is the tenderest there)",
        KEEP_CLOTH, days=(first.evening, last.evening), several=Several(
            "by the last frost, nights from {first} to {last} may ask for the cover in {names}", KEEP_CLOTH, display,
        ),
    )  # fmt: skip


def _last_words(season: Season, worst: NightChance) -> str:
    if worst.last is None:
        return ""
    if worst.years:
        return f"; one spring in ten had such a night after {worst.last}"
    chance = season.last_frost.chance if season.last_frost else None
    later = "" if chance is None else f", and a later one comes in {chance:.0%} of springs"
    return f"; the last frost is stated as {worst.last}{later}"


def _rests_on(chance: NightChance) -> str:
    return (
        f"the minima of {chance.years} former springs"
        if chance.years
        else "the normals with a spread about them"
    )
