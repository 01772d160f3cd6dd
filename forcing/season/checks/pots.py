"""Pots that lots and companions state, beside the pots that the containers of their displays ask for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from forcing.engine.show.pots import PotsNeeded, pots_needed
from forcing.errors import Finding
from forcing.model import Display, Planting, Season
from forcing.recipes.book import RecipeBook
from forcing.text import listed

# Beyond these a person is asked; common practice, no source; from memory.
FAR = 2.0  # times too few or too many in all of a display: the containers are the likelier slip
SPARE, LEAST_SPARE = 1.5, 5  # times, and pots, of one lot that no display takes


def containers_are_believable(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """The containers of a display do not ask for far more pots, or far fewer, than all its lots state."""
    far_off = _far_off(season)
    for display in season.displays:
        if off := far_off.get(display.name):
            yield _doubtful(season, display, off)
        elif not any(planting.display == display.name for planting in season.plantings):
            pots = [lot.pots for lot in season.lots if lot.display == display.name]
            if pots and all(pots) and sum(pots) < display.containers:
                yield Finding(
                    "containers-doubtful", "warning", "displays", display.row, "containers",
                    f"the lots for {display.name} have {sum(pots)} pots in all, not one for each container",
                    "Correct the containers or the pots; plantings says how many stand in each.",
                    str(display.containers),
                )  # fmt: skip


def _far_off(season: Season) -> Mapping[str, Sequence[PotsNeeded]]:
    """Display -> what is planted there alone, where all of it states far too few pots, or all far too many."""
    alone: dict[str, list[PotsNeeded]] = {}
    for need in pots_needed(season):
        if need.stated is not None and len(need.displays) == 1:
            alone.setdefault(next(iter(need.displays)), []).append(need)
    return {
        display: needs
        for display, needs in alone.items()
        if len(needs) > 1
        and (
            all((n.stated or 0) * FAR < n.planted for n in needs)
            or all((n.stated or 0) > n.total * FAR for n in needs)
        )
    }


def _doubtful(season: Season, display: Display, needs: Sequence[PotsNeeded]) -> Finding:
    each = {p.item: p.per_container for p in season.plantings if p.display == display.name}
    fill = sorted(round((need.stated or 0) * (1 - season.loss) / each[need.item]) for need in needs)
    few = (needs[0].stated or 0) < needs[0].planted
    shown = [f"{need.planted} of {need.item} ({need.stated} stated)" for need in needs]
    enough = f"{fill[0]}" if fill[0] == fill[-1] else f"{fill[0]} to {fill[-1]}"
    return Finding(
        "containers-doubtful", "warning", "displays", display.row, "containers",
        f"the containers take far {'more' if few else 'fewer'} pots than are stated: {listed(shown, 3)}",
        f"Correct the containers (those pots fill about {enough}), the pots per container, or the pots of the lots.",
        str(display.containers),
    )  # fmt: skip


def pots_fit_the_plantings(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Each lot or companion has the pots that its plantings ask for, and not half as many again that none takes."""
    told = {need.item for needs in _far_off(season).values() for need in needs}
    rows = {("lot", lot.name): lot.row for lot in season.lots}
    rows |= {("companion", companion.name): companion.row for companion in season.companions}
    for need in pots_needed(season):
        if need.stated is None or not need.planted or need.item in told:
            continue
        if need.stated < need.planted:
            planting = _first_short(season, need)
            yield Finding(
                "planting-short", "warning", "plantings", planting.row, "pots per container",
                f"the containers take {need.planted} pots of {need.item}, and there are {need.stated}",
                "Pot more, plant fewer in each container, or correct the containers of the display.",
                str(planting.per_container),
            )  # fmt: skip
        elif need.stated > need.total * SPARE and need.stated - need.total >= LEAST_SPARE:
            losses = f", {need.total} with the expected losses" if need.losses else ""
            yield Finding(
                "pots-spare", "note", f"{need.kind}s", rows[need.kind, need.item], "pots",
                f"the displays take only {need.planted} pots of {need.item}{losses}",
                "Nothing, if the others are for elsewhere; else correct the pots, the containers or the pots per "
                "container.", str(need.stated),
            )  # fmt: skip


def _first_short(season: Season, need: PotsNeeded) -> Planting:
    """The planting with which the pots of an item run out."""
    containers = {display.name: display.containers for display in season.displays}
    left = need.stated or 0
    mine = [p for p in season.plantings if p.item == need.item and p.display in containers]
    for planting in mine:
        left -= planting.per_container * containers[planting.display]
        if left < 0:
            return planting
    return mine[-1]


def displays_say_how_many(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A lot that names a display has a planting, where the display has any: else all its pots stand there."""
    planted = {planting.display for planting in season.plantings} & {d.name for d in season.displays}
    items = {planting.item for planting in season.plantings}
    for lot in season.lots:
        if lot.display in planted and lot.name not in items and lot.pots:
            yield Finding(
                "planting-missing", "note", "lots", lot.row, "display",
                f"no row of plantings says how many pots of {lot.name} stand in each container: all {lot.pots} are "
                "taken to stand there", "Give it a row in plantings, unless that is meant.", lot.display,
            )  # fmt: skip
