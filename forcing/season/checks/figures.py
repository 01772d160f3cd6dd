"""Lots and overrides against the recipes in force, and pots against what the containers of their displays ask for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from forcing.engine.show.pots import PotsNeeded, pots_needed
from forcing.errors import Finding, RecipeError
from forcing.model import PARAMETERS, Display, Figure, Lot, Override, Planting, Recipe, Season
from forcing.recipes.book import (
    COMPANION_PARAMETERS,
    CompanionBook,
    Contradiction,
    RecipeBook,
    reaches,
    shipped_companion_figures,
    shipped_figures,
)
from forcing.season.build import supplies_are_of_something
from forcing.season.rows import and_rows
from forcing.season.schema import did_you_mean, near, shown_figure
from forcing.text import fold, listed
from forcing.units import INCH, POT_INCH, TemperatureUnit, show_pot

CROWDED = 4  # times the bulbs of the recipe on the same area; common practice, no source; from memory
# A pot this many times as wide as the recipe's is asked about; common practice, no source; from memory.
SMALL_POT, LARGE_POT = 0.55, 5.0  # 6 for a pot of 15 cm is likely 6 inches, 150 likely millimetres


def recipe_of(lot: Lot, book: RecipeBook, known: dict[object, Recipe | None]) -> Recipe | None:
    """The recipe of a lot, None where there is none; `known` keeps those looked up before."""
    key = (lot.crop, lot.bloom_class, lot.cultivar)
    if key not in known:
        try:
            known[key] = book.recipe(*key)
        except RecipeError:
            known[key] = None
    return known[key]


def crops_are_known(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every lot is of a crop that has a recipe."""
    companions = CompanionBook.from_overrides()
    for lot in season.lots:
        if book.knows(lot.crop):
            continue
        yield Finding(
            "crop-unknown",
            "error",
            "lots",
            lot.row,
            "crop",
            "no recipe for this crop",
            _crop_hint(lot.crop, book, companions),
            lot.crop,
        )


def _crop_hint(crop: str, book: RecipeBook, companions: CompanionBook) -> str:
    if companions.knows(crop):
        return "It is grown as a companion: give it a row in companions, not in lots."
    near = book.near(crop)[:1]
    known = f"Crops are: {', '.join(book.crops)}; or state all its figures in crops."
    return f"Did you mean {near[0]}? {known}" if near else known


def recipes_are_sound(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """The recipe of every lot is complete and does not contradict itself, the season's own figures in it."""
    told: set[tuple[object, ...]] = set()
    for lot in season.lots:
        key = (lot.crop, lot.bloom_class, lot.cultivar)
        if key in told or not book.knows(lot.crop):
            continue
        told.add(key)
        try:
            problems = book.contradictions(book.recipe(*key), season.unit)
        except RecipeError as error:
            problems = (Contradiction(str(error), error.parameters),)
        own = [row for row in season.overrides if _reaches(row, lot)]
        by_place: dict[tuple[str, int | None], Finding] = {}
        for problem in problems:
            found = _unsound(lot, problem, own)
            first = by_place.get((found.table, found.row))
            if first is not None:  # one slip of the finger breaks many rules: say them in one breath
                found = replace(first, message=f"{first.message}; {found.message}")
            by_place[found.table, found.row] = found
        yield from by_place.values()


def _reaches(row: Override, lot: Lot) -> bool:
    """Whether an override is for the lot's crop, and for its class and cultivar if it names them."""
    return reaches(row, lot.crop, lot.bloom_class, lot.cultivar)


def _unsound(lot: Lot, problem: Contradiction, own: Sequence[Override]) -> Finding:
    """At the override that the problem is about, if one of them is; else at the lot."""
    table, row, column, value = "lots", lot.row, "crop", lot.crop
    about = next((override for override in own if override.parameter in problem.parameters), None)
    if about is not None:
        table, row, column, value = "crops", about.row, "typical", f"{about.parameter} {about.typical}"
    elif own:
        table, row, value = "crops", own[0].row, own[0].crop
    hint = "Correct the figure, or leave it to the recipe that comes with the program."
    return Finding("recipe-unsound", "error", table, row, column, problem.message, hint, value, lot=lot.name)


def cold_is_within_the_recipe(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Cold-weeks that are stated are enough and not too many; precooling is no longer than bulbs bear."""
    recipes: dict[object, Recipe | None] = {}
    for lot in season.lots:
        recipe = recipe_of(lot, book, recipes)
        if recipe is None:
            continue
        yield from _stated_cold(lot, recipe)
        if lot.precooled_weeks > recipe.precooled_max:
            yield Finding(
                "precooled-above-max", "warning", "lots", lot.row, "precooled weeks",
                f"more than the {recipe.precooled_max:g} weeks of dry cold that count for {recipe.crop}: the weeks "
                "above them earn nothing",
                "Check the figure with the supplier; where it is right the lot has the weeks it lacks in the cooler.",
                f"{lot.precooled_weeks:g}", lot=lot.name, number=lot.precooled_weeks - recipe.precooled_max,
            )  # fmt: skip


def _stated_cold(lot: Lot, recipe: Recipe) -> Iterator[Finding]:
    weeks = lot.cold_weeks
    if weeks is None:
        return
    if not recipe.needs_cold:
        if weeks > 0:
            yield Finding(
                "cold-unused", "warning", "lots", lot.row, "cold weeks",
                f"{recipe.crop} is forced without cold: these weeks are not used", "Leave the cell empty.",
                f"{weeks:g}",
            )  # fmt: skip
    elif weeks < recipe.cold_least:
        yield Finding(
            "cold-below-min", "error", "lots", lot.row, "cold weeks",
            f"{recipe.crop} needs {recipe.cold_least:g} cold-weeks or more to flower",
            f"Write {recipe.cold_least:g} or more, or leave the cell empty to plan on {recipe.cold_target:g}.",
            f"{weeks:g}",
        )  # fmt: skip
    elif weeks > recipe.cold_max:
        yield Finding(
            "cold-above-max", "warning", "lots", lot.row, "cold weeks",
            f"more than the {recipe.cold_max:g} cold-weeks that suit {recipe.crop}",
            "Expect tall weak stems; write fewer weeks.", f"{weeks:g}",
        )  # fmt: skip


def overrides_say_one_thing(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """No figure is stated twice with different values; no parameter is unknown."""
    seen: dict[tuple[object, ...], Override] = {}
    known = tuple(dict.fromkeys((*PARAMETERS, *COMPANION_PARAMETERS)))
    for row in season.overrides:
        if row.parameter not in known:
            hint = did_you_mean(row.parameter, known, f"Parameters are: {', '.join(known)}.")
            yield Finding("parameter-unknown", "error", "crops", row.row, "parameter",
                          "no recipe has this parameter", hint, row.parameter)  # fmt: skip
            continue
        key = (fold(row.crop), row.bloom_class, fold(row.cultivar or ""), row.parameter)
        first = seen.setdefault(key, row)
        if first.typical != row.typical:
            yield Finding("figure-twice", "error", "crops", row.row, "typical",
                          f"{row.parameter} of the same crop, class and cultivar is another figure in row {first.row}",
                          "Keep one of the two.", str(row.typical))  # fmt: skip


def overrides_are_used(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """An override whose crop or cultivar no lot or companion has, though one has a name that is close."""
    lots_of: dict[str, set[str]] = {}
    for lot in season.lots:
        lots_of.setdefault(fold(lot.crop), set()).add(lot.cultivar or "")
    for companion in season.companions:
        lots_of.setdefault(fold(companion.crop), set())
    shipped = {fold(figure.crop) for figure in (*shipped_figures(), *shipped_companion_figures())}
    for row in season.overrides:
        cultivars = lots_of.get(fold(row.crop))
        if cultivars is None and fold(row.crop) not in shipped:
            hint = did_you_mean(
                row.crop, (*lots_of, *sorted(shipped)), "Nothing, if it is for another season."
            )
            yield Finding("figure-unused", "warning", "crops", row.row, "crop",
                          "no lot or companion is of this crop",
                          hint, row.crop)  # fmt: skip
        elif cultivars and row.cultivar and fold(row.cultivar) not in map(fold, cultivars):
            match = near(row.cultivar, sorted(cultivars - {""}))
            if match:
                yield Finding("figure-unused", "warning", "crops", row.row, "cultivar", "no lot is of this cultivar",
                              f"Did you mean {match}? Correct it, or leave it for another season.",
                              row.cultivar)  # fmt: skip


def overrides_reach_their_lots(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A row for a crop or cultivar holds for all its lots, or it is said which ones a narrower shipped row keeps."""
    recipes: dict[object, Recipe | None] = {}
    for row in season.overrides:
        outdone: dict[str, tuple[Figure, list[str]]] = {}
        for lot in season.lots:
            recipe = recipe_of(lot, book, recipes) if _reaches(row, lot) else None
            figure = recipe.figures.get(row.parameter) if recipe else None
            if (
                figure is not None and figure.basis != "house"
            ):  # the season's own narrower rows are no surprise
                kind = ", ".join(part for part in (figure.bloom_class, figure.cultivar) if part)
                outdone.setdefault(kind, (figure, []))[1].append(lot.name)
        if outdone:
            yield _outdone(row, outdone, season.unit)


def _outdone(
    row: Override, outdone: Mapping[str, tuple[Figure, list[str]]], unit: TemperatureUnit
) -> Finding:
    kept = "; ".join(
        f"{listed(lots, 5)} ({kind}) {'keeps' if len(lots) == 1 else 'keep'} "
        f"{shown_figure(row.parameter, figure.typical, unit)}"
        for kind, (figure, lots) in outdone.items()
    )
    rows = " and ".join(f"{row.crop}, {kind}" for kind in outdone)
    return Finding(
        "figure-outdone", "note", "crops", row.row, "class" if row.bloom_class is None else "cultivar",
        f"this row does not reach every lot of {row.crop}: {kept}, the program's own figure, as the narrower row wins",
        f"To change {'it' if len(outdone) == 1 else 'them'} too, add {row.parameter} in a row for {rows}.",
        f"{row.parameter} {shown_figure(row.parameter, row.typical, unit)}",
    )  # fmt: skip


def pots_are_in_centimetres(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """The width of a pot is near the recipe's, or it is asked whether it was typed in inches or millimetres."""
    recipes: dict[object, Recipe | None] = {}
    doubtful: dict[
        str, list[tuple[Lot, float, Recipe]]
    ] = {}  # unit that may be meant -> lots, widths, recipes
    for lot in season.lots:
        recipe = recipe_of(lot, book, recipes)
        if recipe is None or lot.pot_cm is None or lot.box_cm:
            continue
        if lot.pot_cm < recipe.pot * SMALL_POT:
            doubtful.setdefault("inches", []).append((lot, lot.pot_cm, recipe))
        elif lot.pot_cm > recipe.pot * LARGE_POT > 0:
            doubtful.setdefault("mm", []).append((lot, lot.pot_cm, recipe))
    for unit, lots in doubtful.items():
        lot, width, recipe = lots[0]
        more, usual = and_rows([other.row for other, _, _ in lots[1:]]), show_pot(recipe.pot, season.measures)
        message, hint = f"hard to believe of {recipe.crop}, which is potted {usual} wide{more}", "Correct it."
        if season.measures == "metric":
            message += f": is this in {unit}?"
            meant = width * (INCH if unit == "inches" else 0.1)
            hint = f"Write {meant:.0f} if {width:g} {unit} are meant: the column is in cm."
        column, value = (
            ("pot cm", f"{width:g}") if season.measures == "metric" else ("pot in", f"{width / POT_INCH:g}")
        )
        yield Finding("pot-doubtful", "warning", "lots", lot.row, column, message, hint, value)


def bulbs_fit_their_pots(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A pot holds no more than some times the bulbs of the recipe, the wider pot the more."""
    recipes: dict[object, Recipe | None] = {}
    for lot in season.lots:
        recipe = recipe_of(lot, book, recipes)
        if (
            recipe is None
            or lot.box_cm
            or lot.bulbs_per_pot is None
            or min(recipe.pot, recipe.bulbs_per_pot) <= 0
        ):
            continue
        width = lot.pot_cm or recipe.pot
        wide = show_pot(width, season.measures)
        usual = max(1, round(recipe.bulbs_per_pot * (width / recipe.pot) ** 2))
        if lot.bulbs_per_pot > usual * CROWDED:
            yield Finding(
                "bulbs-doubtful", "warning", "lots", lot.row, "bulbs per pot",
                f"hard to believe of {recipe.crop} in a pot {wide} wide, which takes about {usual}",
                "Correct the bulbs or the width: the order is made from them.", f"{lot.bulbs_per_pot:g}", lot=lot.name,
            )  # fmt: skip


def supplies_are_used(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every row of supplies is of something that can be ordered."""
    return supplies_are_of_something(season, (*book.crops, *CompanionBook.from_overrides().crops))


# ---------------------------------------------------------------- pots and their containers


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
