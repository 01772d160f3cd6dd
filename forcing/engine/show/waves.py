"""Waves: how many lots must follow each other for the show to stay in colour, and when each must be ready.

The rule, for each display.
1. The classes planted there are the waves, early, mid, late; lots without a class belong to the first of them.
2. The first wave is in bloom at the opening, less a margin; each wave after it when the one before fades.
3. A wave has faded on the first day on which less than the wanted share of its pots is typically in bloom. Life is
   thermal time at the display's site (its readings, setpoints or normals); where those are not known, the days of
   the recipe. The typical pot of a lot that is planned on a higher confidence is in bloom before its target, by what
   of that it does not wait out in the cold, and fades so much sooner.
4. Waves overlap. The swap is a working day some days before the old wave fades, so that pots that fade early are
   seldom missed; the new wave's target lies some days before the swap, so that it is open by then. Both margins are
   the heat by which a lot is in bloom with a chance a little above the wanted share: in days at the reference
   temperature before the swap, at most a quarter of the life, and in days at the site after it, at most the share of
   the life that pots may have left when they are lifted (standing.py); a display that states that share is swapped so
   much before the fade. A lot's confidence is margin already and is taken off. The new wave waits on its bench,
   where it ages.
5. The last wave is the one that fades after the display closes. Classes that are left over then join the first wave.
A lot's stated target or install always stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist

from forcing.dates import DAY, WEEK
from forcing.engine.climate import Climate, build_climate
from forcing.engine.need import ROOM_OFFSET_SD
from forcing.engine.show.pots import with_pots
from forcing.engine.show.standing import LEFT, OVERLAP, planted
from forcing.engine.simulate import SHORTEST_WAIT
from forcing.errors import Finding, RecipeError, Several
from forcing.model import CLASSES, BloomClass, Display, Lot, Recipe, Season
from forcing.recipes.book import RecipeBook
from forcing.science.flowering import lognormal_sigma, need_at_confidence

SUREST = 0.95  # no margin makes a lot surer than this
ABOVE = 0.1  # added to the wanted share, for benches cooler than the reference and weather off its normals; practice
BEFORE = timedelta(days=28)  # a target farther ahead of the opening is none of a wave; practice, no source
QUARTER = 4  # margins of more than this part of the life would leave more overlap than show


@dataclass(frozen=True, slots=True)
class Wave:
    """Lots that fill the places of a display together."""

    display: str
    number: int
    bloom_class: BloomClass | None
    lots: tuple[str, ...]  # empty: the display needs this wave and nothing planted there makes it
    ready: date  # target bloom
    swap: date | None  # the working day it comes in; None: the first wave is there at the opening
    fade: date  # first day less than the wanted share of it is typically in bloom


@dataclass(frozen=True, slots=True)
class _Member:
    lot: Lot
    recipe: Recipe
    pots: int


Groups = list[tuple[BloomClass | None, list[_Member]]]


def waves_of(season: Season, book: RecipeBook, climate: Climate) -> dict[str, tuple[Wave, ...]]:
    """The waves that each display needs from opening to close, in order; none where no lot is planted."""
    groups = _groups(season, book)
    return {d.name: tuple(_waves(season, climate, d, groups[d.name])) for d in season.displays}


def _waves(season: Season, climate: Climate, display: Display, groups: Groups) -> list[Wave]:
    waves: list[Wave] = []
    if not groups:
        return waves
    before, fade = groups[0][1], display.span.start
    while fade < display.span.end:
        planned = len(waves) < len(groups)
        kind, members = groups[len(waves)] if planned else groups[-1]
        ready, swap = _ready(season, climate, display, waves, before, members)
        if planned:
            ready, swap = _as_stated(season, display, members, ready, swap)
        else:  # a wave like the last one planted, with no date of its own
            members = [replace(m, lot=replace(m.lot, target=None)) for m in members]
        fade = max(fade, _fade(season, climate, display, members, ready, swap), ready + DAY)
        names = tuple(m.lot.name for m in members) if planned else ()
        waves.append(Wave(display.name, len(waves) + 1, kind, names, ready, swap, fade))
        before = members
    return waves


def lots_from_displays(season: Season, book: RecipeBook) -> Season:
    """The season with pots, displays and targets of its lots filled in from its displays, where not stated.

    Pots 0, display None and target None mean not stated. The rule for the targets stands at the top of this module.
    """
    season = _with_displays(with_pots(season))
    climate, groups = build_climate(season), _groups(season, book)
    filled: dict[str, Lot] = {}
    for display in season.displays:
        waves = _waves(season, climate, display, groups[display.name])
        opening = season.calendar.on_or_before(display.span.start)
        dates = {name: wave for wave in waves for name in wave.lots}
        for lot in (member.lot for _, members in groups[display.name] for member in members):
            if lot.target is None and lot.display == display.name and waves:
                wave = dates.get(lot.name, waves[0])
                filled[lot.name] = replace(
                    lot, target=wave.ready, install=lot.install or wave.swap or opening,
                    install_chosen=lot.install is None,
                )  # fmt: skip
    return replace(season, lots=tuple(filled.get(lot.name, lot) for lot in season.lots))


def _with_displays(season: Season) -> Season:
    """Lots that name no display stand in the first that plants them."""
    known = {display.name for display in season.displays}
    first: dict[str, str] = {}
    for planting in season.plantings:
        if planting.display in known:
            first.setdefault(planting.item, planting.display)
    lots = (replace(lot, display=lot.display or first.get(lot.name)) for lot in season.lots)
    return replace(season, lots=tuple(lots))


def wave_findings(season: Season, waves: Mapping[str, Sequence[Wave]]) -> Iterator[Finding]:
    """Displays in which nothing is planted, and those that are open longer than their waves last."""
    pots = planted(season)
    for display in season.displays:
        mine = waves.get(display.name, ())
        missing = [wave for wave in mine if not wave.lots]
        empty = not pots[display.name] and not any(p.display == display.name for p in season.plantings)
        if not mine and display.span.days and empty:
            yield Finding(
                "display-empty", "note", "displays", display.row, "display",
                f"no lot is planted in {display.name}", "Give it rows in plantings, or delete it.",
            )  # fmt: skip
        elif missing:
            dates = " and ".join(str(wave.ready) for wave in missing[:3])
            more = f", and {len(missing) - 3} more" if len(missing) > 3 else ""
            lots = "one more lot" if len(missing) == 1 else f"{len(missing)} more lots"
            yield Finding(
                "waves-short", "warning", "displays", display.row, "closes",
                f"{display.name} needs {len(mine)} waves of bloom to last until it closes; its plantings make "
                f"{len(mine) - len(missing)}, the last typically fading on {mine[missing[0].number - 2].fade}",
                f"Plant {lots} there with target bloom {dates}{more}, as many pots in each container, "
                "or close sooner.", days=(mine[missing[0].number - 2].fade,), several=Several(
                    "the last wave fades before the display closes, on days from {first} to {last}, in {names}",
                    "Plant one more lot in each with the target bloom that findings.csv names, or close them sooner.",
                    display.name,
                ),
            )  # fmt: skip


# ---------------------------------------------------------------- one display


def _groups(season: Season, book: RecipeBook) -> dict[str, Groups]:
    """The lots planted in each display by class; those without a class, or alone, in the first group."""
    members = dict(_members(season, book))
    out: dict[str, Groups] = {}
    for display, pots in planted(season).items():
        groups: dict[BloomClass | None, list[_Member]] = {}
        for name in pots:
            if name in members:
                lot, recipe = members[name]
                kind = lot.bloom_class or recipe.bloom_class
                groups.setdefault(kind, []).append(_Member(lot, recipe, pots[name]))
        unclassed = groups.pop(None, [])
        order: list[BloomClass | None] = [kind for kind in CLASSES if kind in groups] or [None]
        rows = [(kind, groups.get(kind, []) + (unclassed if i == 0 else [])) for i, kind in enumerate(order)]
        out[display] = rows if rows[0][1] else []
    return out


def _members(season: Season, book: RecipeBook) -> Iterator[tuple[str, tuple[Lot, Recipe]]]:
    for lot in season.lots:
        with suppress(RecipeError):  # told where lots are planned
            yield lot.name, (lot, book.sound_recipe(lot.crop, lot.bloom_class, lot.cultivar))


def _ready(
    season: Season,
    climate: Climate,
    display: Display,
    waves: Sequence[Wave],
    before: Sequence[_Member],
    members: Sequence[_Member],
) -> tuple[date, date | None]:
    """Target and swap of the next wave."""
    wanted = season.wanted_cover
    lots = [m.lot if m.lot.target or not waves else replace(m.lot, target=waves[-1].fade) for m in members]
    sure = [season.confidence_of(lot) for lot in lots]
    lead = timedelta(days=max(_bench_margin(m.recipe, wanted, c) for m, c in zip(members, sure, strict=True)))
    if not waves:
        return display.span.start - lead, None
    last = waves[-1]
    tail = max(_site_margin(climate, display, m, wanted, last.fade) for m in before)
    soonest = min(last.fade - timedelta(days=_spared(climate, display, m, last.fade)) for m in before)
    swap = season.calendar.on_or_before(last.fade - timedelta(days=tail))
    if swap < soonest:  # over days off it would lift too many that are still in bloom
        swap = season.calendar.on_or_after(soonest)
    # A life shorter than the margins: the next wave comes in as soon as staff can, or the waves never end.
    swap = max(swap, season.calendar.after(last.swap or max(last.ready, display.span.start)))
    return swap - lead, swap


def _as_stated(
    season: Season, display: Display, members: Sequence[_Member], ready: date, swap: date | None
) -> tuple[date, date | None]:
    # A target outside the show is a slip, told where it is read; it dates its own lot and no other.
    first, end = display.span.start - BEFORE, display.span.end
    targets = [m.lot.target for m in members if m.lot.target is not None and first <= m.lot.target < end]
    if not targets:
        return ready, swap
    stated = min(targets)
    installs = [m.lot.install for m in members if m.lot.install is not None]
    came = min(installs) if installs else season.calendar.on_or_before(stated)
    return stated, None if swap is None else came


def _fade(
    season: Season,
    climate: Climate,
    display: Display,
    members: Sequence[_Member],
    ready: date,
    swap: date | None,
) -> date:
    """First day on which less than the wanted share of the pots is typically in bloom."""
    typical = [(m.lot.target or ready) - _sooner(season, m, ready) for m in members]
    fades = sorted(
        (
            (_faded(climate, display, m, bloom, swap), m.pots)
            for m, bloom in zip(members, typical, strict=True)
        ),
        reverse=True,
    )
    needed, shown = season.wanted_cover * sum(pots for _, pots in fades), 0
    for fade, pots in fades:
        shown += pots
        if shown >= needed - 1e-9:
            return fade
    return fades[-1][0]


def _sooner(season: Season, member: _Member, ready: date) -> timedelta:
    """How much before its target the typical pot of a lot is in bloom: what its confidence asks, and no wait takes up.

    At the reference temperature: it waits in the cold from its colour until a slow pot with colour on must go back.
    """
    lot, recipe = member.lot, member.recipe
    sure = season.confidence_of(lot if lot.target else replace(lot, target=ready))
    ahead = recipe.bench_days * (float(need_at_confidence(1.0, recipe.spread, sure)) - 1.0)
    waits = min(ahead * recipe.colour, recipe.hold_max)
    if lot.hold_days is not None or waits < SHORTEST_WAIT:
        waits = 0.0
    return timedelta(days=max(0, int(ahead - waits + 1e-9)))


def _faded(climate: Climate, display: Display, member: _Member, bloom: date, swap: date | None) -> date:
    """Fade of a lot in bloom on a day that comes to the site at the swap, or at the opening."""
    recipe, come = member.recipe, max(bloom, swap or display.span.start)
    base, least = recipe.ageing
    left = max(0.0, recipe.display_life - (come - bloom).days * max(recipe.reference - base, least))
    if display.site in climate.low:
        series = climate.ageing(display.site, base, least)
        day = series.reach(climate.index(come), left, climate.days)
        if day is not None:
            return climate.day(day)
    return come + timedelta(days=round(left / (recipe.display_reference - base)))


# ---------------------------------------------------------------- margins


def margin_heat(recipe: Recipe, chance: float, confidence: float) -> float:
    """Heat [°C·d] by which a lot is brought forward to be in bloom with that chance, beyond the confidence of the lot.

    The error is that of the need, for which a confidence makes up, and that of a room off its temperature for the
    days on the bench. 0 where the confidence is enough.
    """
    score = NormalDist().inv_cdf
    need = recipe.bench_days * (recipe.reference - recipe.base)
    spread = float(lognormal_sigma(recipe.spread)) * need
    error = math.hypot(spread, ROOM_OFFSET_SD * recipe.bench_days)
    had = score(min(max(confidence, 1.0 - SUREST), SUREST)) * spread
    return max(0.0, score(min(chance, SUREST)) * error - had)


def _bench_margin(recipe: Recipe, wanted: float, confidence: float) -> int:
    """Days on the bench, in bloom, before the swap or the opening."""
    days = margin_heat(recipe, wanted + ABOVE, confidence) / (recipe.reference - recipe.base)
    return min(math.ceil(days - 1e-9), int(recipe.display_days / QUARTER))


def _site_margin(climate: Climate, display: Display, member: _Member, wanted: float, fade: date) -> int:
    """Days before the typical fade by which the old wave is swapped; at most OVERLAP, where no share is stated."""
    spared = _spared(climate, display, member, fade)
    if display.swap_at is not None:
        return spared
    recipe, daily = member.recipe, member.recipe.display_reference - member.recipe.base
    if display.site in climate.low:
        first, last = climate.index(fade - WEEK), climate.index(fade)
        week = climate.heat(display.site, recipe.base, None).total(first, last)
        daily = daily if week is None else max(week / 7, 0.1)
    return min(OVERLAP, math.ceil(margin_heat(recipe, wanted + ABOVE, 0.5) / daily - 1e-9), spared)


def _spared(climate: Climate, display: Display, member: _Member, fade: date) -> int:
    """Days in bloom that a pot may have left when it is lifted, at the temperatures of the week before the fade."""
    share = LEFT if display.swap_at is None else display.swap_at
    recipe = member.recipe
    daily = recipe.display_reference - recipe.display_base
    if display.site in climate.low:
        week = climate.ageing(display.site, *recipe.ageing).total(
            climate.index(fade - WEEK), climate.index(fade)
        )
        daily = daily if week is None else week / 7
    return int(share * recipe.display_life / daily + 1e-9)
