"""The show: pots of the displays, the cover of each day, the waves and swaps, and what is thin or missing.

With it all else that a season has beside its lots: companions, the house's own jobs, frost nights.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from forcing.dates import DAY, Span
from forcing.engine.climate import Climate
from forcing.engine.companions import CompanionPlan, hardened_since, plan_companions
from forcing.engine.context import Context
from forcing.engine.frost import FrostCare, FrostNight, frost_findings, frost_nights, frost_tasks
from forcing.engine.hardening import hardening_findings
from forcing.engine.loads import Rooms, companion_stays, place_loads
from forcing.engine.night_chances import (
    Minima,
    NightChance,
    chance_findings,
    last_frost_findings,
    night_chances,
    unjudged_finding,
)
from forcing.engine.replan import Expectation, expectations
from forcing.engine.show.cover import BloomOdds, Cover, bloom_odds, companion_odds, cover_of
from forcing.engine.show.pots import PotsNeeded, cloth_over, counting, pots_findings, pots_needed
from forcing.engine.show.standing import PlacedPots, Standing, lifted, standings, swap_tasks, waiting_findings
from forcing.engine.show.sureness import offer_findings
from forcing.engine.show.waves import Wave, wave_findings, waves_of
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.house_work import plan_jobs
from forcing.engine.work.tasks import companion_tasks
from forcing.errors import Finding, RecipeError, Several, Severity, sort_findings
from forcing.model import BloomClass, LotPlan, Occupancy, Season, Task
from forcing.recipes.book import CompanionBook, RecipeBook
from forcing.science.frost import COVERS, LEAF_MARGIN
from forcing.text import listed, some

NAMED = 5  # lots named in a sentence
SOON = 4  # days: a lot that blooms this near the end of a thin stretch could be brought forward to fill it
UNSURE = (
    "Enough is expected, but it is less likely than not: more lots of fewer pots each, a higher confidence of the "
    "season, or logged stages make it surer."
)
TRIED = "The note on its chance says what would help, as it was tried."
# Of several thin stretches or displays: what is wrong, what to do.
SEVERAL_THIN = (
    "too few pots are in bloom on days from {first} to {last} in {names}, up to {most} at a time",
    "Bring late lots forward, or have more pots in bloom then: findings.csv says for each stretch which lot and how "
    "many pots, cover.pdf shows the days.",
)
SEVERAL_UNSURE = ("too few pots may be in bloom on days from {first} to {last} in {names}", UNSURE)
SURE = 0.85  # chance of being open by a day, below which a lot is named as unsure


@dataclass(frozen=True, slots=True)
class Show:
    """All that the displays ask for and give."""

    pots: tuple[PotsNeeded, ...]
    standings: tuple[Standing, ...]
    covers: tuple[Cover, ...]
    waves: Mapping[str, tuple[Wave, ...]]  # display -> the waves it needs
    tasks: tuple[Task, ...]  # the swaps
    findings: tuple[Finding, ...]


def show_of(
    season: Season,
    plans: Sequence[LotPlan],
    simulations: Sequence[LotSimulation],
    climate: Climate,
    book: RecipeBook,
    context: Context,
    companions: Sequence[CompanionPlan] = (),
    expected: Mapping[str, Expectation | None] | None = None,
) -> Show:
    """The show of a season that is worked out, as seen on the day of `context`.

    `companions`: those that are planned; they count where no bulbs are planted, or a planting says so. `expected`:
    what is expected of each lot, where that is at hand.
    Raises ValueError where the season's wanted share is not above 0 and at most 1.
    """
    stands = standings(season, plans, simulations)
    shown = {piece.lot for stand in stands for piece in stand.pieces}
    if expected is None:
        expected = expectations((t for t in simulations if t.lot.name in shown), context.on)
    known = {t.lot.name: expected[t.lot.name] for t in simulations if t.lot.name in shown}
    classes: dict[str, BloomClass | None] = {c.companion.name: None for c in companions}
    classes |= {t.lot.name: t.lot.bloom_class or t.recipe.bloom_class for t in simulations}
    stays = [stay for c in companions for stay in companion_stays(c)]
    rooms = Rooms.of(place_loads(season, lifted(plans, stands), stays))
    left = {c.companion.name: c.companion.pots for c in companions}
    covers: list[Cover] = []
    findings: list[Finding] = []
    for stand in stands:
        here = dict.fromkeys(piece.lot for piece in stand.pieces)
        odds = {
            name: found for name, lot in known.items()
            if name in here and lot and (found := bloom_odds(lot, stand.display.span, context.on))
        }  # fmt: skip
        stand, beside = _with_companions(season, stand, companions, left, climate, context.on)
        odds |= beside
        cover = cover_of(stand, odds, classes, season.wanted_cover)
        covers.append(cover)
        if here or beside or stand.unplanned:
            offers = list(offer_findings(stand, cover, odds, known, rooms, context.on))
            annuals = bool(odds) and odds.keys() == beside.keys()
            thin = _Thin(stand, cover, odds, classes, context.on, bool(offers), annuals)
            findings += [*thin.findings(), *offers]
    waves = waves_of(season, book, climate)
    findings += [
        *pots_findings(season),
        *wave_findings(season, waves),
        *waiting_findings(stands, plans),
    ]
    return Show(
        pots_needed(season),
        stands,
        tuple(covers),
        waves,
        tuple(swap_tasks(season, stands, simulations, {c.display: c.thin_spans for c in covers}, context)),
        sort_findings(findings),
    )


def _with_companions(
    season: Season,
    stand: Standing,
    companions: Sequence[CompanionPlan],
    left: dict[str, int],
    climate: Climate,
    on: date,
) -> tuple[Standing, dict[str, BloomOdds]]:
    """A display with the companions whose colour counts in it, and when these are in flower.

    left: the pots that there are of each, from which it takes its own: they fill the displays in their order.
    """
    display, counted = stand.display, counting(season, stand.display.name)
    pieces, odds = list(stand.pieces), dict[str, BloomOdds]()
    for plan in companions:
        name, shown = plan.companion.name, [step for step in plan.steps if step.display == display.name]
        taken = [PlacedPots(name, min(int(step.pots), left[name]), step.span.start) for step in shown]
        left[name] -= sum(piece.pots for piece in taken)
        found = companion_odds(climate, plan, display, on) if shown and name in counted else None
        if found is not None:
            odds[name] = found
            pieces += taken
    unplanned = (*stand.unplanned, *sorted(counted - left.keys()))
    return replace(stand, pieces=tuple(pieces), unplanned=unplanned), odds


# ---------------------------------------------------------------- thin days


@dataclass(frozen=True, slots=True)
class _Thin:
    """What there is to say of the thin days of a display."""

    stand: Standing
    cover: Cover
    odds: Mapping[str, BloomOdds]
    classes: Mapping[str, BloomClass | None]
    on: date  # days before it are over, and no longer told
    tried: bool  # whether what helps was tried, and is told in a note of its own
    annuals: bool  # whether no lot counts there

    def findings(self) -> Iterator[Finding]:
        """A warning for each run of thin days: from when to when, how thin, why, and what would mend it.

        Runs on which enough is expected, and only its chance is below one in two, share one note, where what helps was
        not tried: else the note on that tells them.
        """
        cover, name = self.cover, self.cover.display
        unsure: list[Span] = []
        for span in (Span(max(s.start, self.on), s.end) for s in cover.thin_spans if s.end > self.on):
            shares = [cover.share[self._number(day)] for day in span]
            if None in shares:
                yield self._bare(span)
            elif all(s is not None and s >= cover.wanted - 1e-9 for s in shares):
                unsure.append(span)
            else:
                worst = min(span, key=self._thinness)
                message = f"{name} is thin {_days(span)}: {self._shares(worst, span)}{self._why(worst)}"
                yield self._finding("warning", message, self._mend(span), span)
        if unsure and not self.tried:
            worst = min((day for span in unsure for day in span), key=self._thinness)
            message = f"{name} may be thin {', '.join(map(_days, unsure))}: {self._shares(worst, *unsure)}"
            yield self._finding("note", message, UNSURE, Span(unsure[0].start, unsure[-1].end))

    def _finding(self, severity: Severity, message: str, hint: str, span: Span) -> Finding:
        row, days = self.stand.display.row, (span.start, span.end - DAY)
        lacking = max(map(self._lacking, span))
        return Finding(
            "cover-thin", severity, "displays", row, "display", message, hint, days=days, number=lacking,
            several=Several(*(SEVERAL_THIN if severity == "warning" else SEVERAL_UNSURE), self.cover.display),
        )  # fmt: skip

    def _number(self, day: date) -> int:
        return (day - self.cover.span.start).days

    def _thinness(self, day: date) -> tuple[float, float]:
        share, chance = self.cover.share[self._number(day)], self.cover.chance[self._number(day)]
        return (-1.0 if share is None else round(share, 6), chance or 0.0)

    def _shares(self, day: date, *spans: Span) -> str:
        """How much is in bloom on a day of the spans, which are told before it: a day alone is not named again."""
        i, cover = self._number(day), self.cover
        on = "" if len(spans) == 1 and spans[0].days == 1 else f" on {day}"
        return (
            f"{cover.share[i] or 0.0:.0%} of its pots are expected in bloom{on}, {cover.wanted:.0%} are wanted "
            f"(a chance of {cover.chance[i] or 0.0:.0%})"
        )

    def _bare(self, span: Span) -> Finding:
        name, unknown = self.cover.display, self.cover.unknown
        left_out = f"; {listed(unknown, NAMED)} cannot be planned" if unknown else ""
        bare = [day for day in span if self.cover.share[self._number(day)] is None]
        return self._finding(
            "warning",
            f"{name} is thin {_days(span)}: nothing stands in it {_days(Span(bare[0], bare[-1] + DAY))}{left_out}",
            f"Set its first lots out by {span.start}, or open it later.",
            span,
        )

    def _here(self, day: date) -> list[BloomOdds]:
        return [odds for name, odds in self.odds.items() if self.stand.pots(name)[self._number(day)]]

    def _why(self, day: date) -> str:
        """Which of the lots that stand there are not yet in bloom, and which are over, most likely."""
        here = self._here(day)
        reasons = {
            "not yet in bloom": [o.lot for o in here if o.bloom > day],
            "faded": [o.lot for o in here if o.fade is not None and o.fade <= day],
            "not planned and not counted": self.cover.unknown,
        }
        parts = [f"; {why}: {listed(lots, NAMED)}" for why, lots in reasons.items() if lots]
        return "".join(parts)

    def _mend(self, span: Span) -> str:
        if self.tried:
            return TRIED
        coming, containers = self._coming(span), self.stand.display.containers
        short = max(1, *(self._lacking(day) for day in span))
        over = any(o.bloom <= span.start for o in self.odds.values())
        kind = self.classes[coming[0].lot] if coming else ("late" if over else "early")
        lot = f"{'an' if kind == 'early' else 'a'} {kind} lot" if kind else "a lot"
        lot = "annuals" if self.annuals else lot
        where = "in one container" if short == 1 else f"1 in each of {short} containers"
        if short >= containers > 1:
            where = f"{math.ceil(short / containers)} in each container"
        swap = f"put in {some(short, 'pot')} of {lot} then in bloom ({where}) in place of pots that are not"
        if coming:
            days = some((coming[0].bloom - span.start).days, "day")
            return f"Bring {coming[0].lot} into bloom by {span.start}, {days} sooner than its likely bloom, or {swap}."
        unsure = self._unsure(min(span, key=self._thinness))
        if unsure and span.start > self.on:
            lots = listed(unsure, NAMED)
            do = (
                f"Have {lots} ready some days sooner, or give"
                if self.annuals
                else f"Give {lots} a target some days sooner, or"
            )
            return f"{do} the season a higher confidence; or {swap}."
        return f"{swap[0].upper()}{swap[1:]}."

    def _lacking(self, day: date) -> int:
        """Pots in bloom that are lacking on a day."""
        share, i = self.cover.share[self._number(day)], self._number(day)
        return 0 if share is None else math.ceil((self.cover.wanted - share) * self.cover.standing[i] - 1e-9)

    def _coming(self, span: Span) -> list[BloomOdds]:
        """Lots that bloom as the stretch ends or soon after: bringing them forward would mend it, if it is to come."""
        if span.start <= self.on:
            return []
        first, last = max(span.start + DAY, span.end - timedelta(days=SOON)), span.end + timedelta(days=SOON)
        return sorted(
            (o for o in self.odds.values() if first <= o.bloom <= last), key=lambda o: (o.bloom, o.lot)
        )

    def _unsure(self, day: date) -> list[str]:
        """Lots standing there that should be open by then, but may well not be."""
        i = self._number(day)
        return [o.lot for o in self._here(day) if o.bloom <= day and o.opened[i] < SURE]


def _days(span: Span) -> str:
    last = span.end - DAY
    return f"on {last}" if span.start == last else f"from {span.start} to {last}"


# ---------------------------------------------------------------- all beside the lots


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
    expected: Mapping[str, Expectation | None],
    known: Known,
    book: RecipeBook,
    context: Context,
) -> SeasonExtras:
    """All that a season has beside its lots, as seen on the day; `known`: what was known of it before.

    expected: what is expected of each lot.
    """
    companions, on = known.companions, context.on
    show = show_of(season, plans, simulations, climate, book, context, companions, expected)
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
