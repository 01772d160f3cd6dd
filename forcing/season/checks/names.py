"""Names that one table uses and another must define, and whether what they name will do."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import get_args

from forcing.engine.parts import lot_of
from forcing.errors import Finding
from forcing.model import COMPANION_EVENTS, COMPANION_ONLY, Event, PlaceKind, Season
from forcing.recipes.book import RecipeBook, shipped_minutes
from forcing.season.schema import did_you_mean
from forcing.text import fold_word

Use = tuple[str, int | None, str, str]  # table, row, column, the name used there


def unknown(code: str, use: Use, known: Collection[str], what: str, otherwise: str) -> Finding:
    """An error for a name that is not among those known."""
    table, row, column, name = use
    return Finding(code, "error", table, row, column, f"there is no {what} of that name",
                   did_you_mean(name, known, otherwise), name)  # fmt: skip


def _place_uses(season: Season) -> Iterator[Use]:
    for setpoint in season.setpoints:
        yield "setpoints", setpoint.row, "place", setpoint.place
    for normal in season.normals:
        yield "normals", normal.row, "place", normal.place
    for reading in season.readings:
        yield reading.found_in, reading.row, "place", reading.place
    for lot in season.lots:
        for column, name in (
            ("cooler", lot.cooler), ("cooler after rooting", lot.cooler_after_rooting), ("bench", lot.bench),
            ("hold at", lot.hold_at), ("harden at", lot.harden_at),
        ):  # fmt: skip
            if name is not None:
                yield "lots", lot.row, column, name
    for display in season.displays:
        yield "displays", display.row, "site", display.site
    for companion in season.companions:
        for column, name in (("place", companion.place), ("trays at", companion.trays_at)):
            if name is not None:
                yield "companions", companion.row, column, name
    for minimum in season.minima:
        yield "minima", minimum.row, "place", minimum.place
    for job in season.jobs:
        if job.place is not None:
            yield "jobs", job.row, "place", job.place
    for entry in season.log:
        if entry.place is not None:
            yield entry.found_in, entry.row, "place", entry.place


def places_are_known(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every place that is named is in the places table."""
    known = {place.name for place in season.places}
    for use in _place_uses(season):
        if use[3] not in known:
            yield unknown("place-unknown", use, known, "place", "Correct the name, or add it to places.")


_KINDS: dict[tuple[str, str], tuple[tuple[PlaceKind, ...], str]] = {
    ("lots", "cooler"): (("cooler", "frame", "site"), "cold is given in a cooler, a frame or outdoors"),
    ("lots", "cooler after rooting"): (
        ("cooler", "frame", "site"),
        "cold is given in a cooler, a frame or outdoors",
    ),
    ("lots", "bench"): (("bench", "frame"), "pots are forced on a bench or in a frame"),
    ("lots", "hold at"): (("cooler", "frame", "site"), "pots in colour are held where it is cold"),
    ("lots", "harden at"): (("frame", "site", "bench"), "pots are hardened off in a frame or outdoors"),
    ("displays", "site"): (("site", "frame", "bench"), "a display does not stand in a cooler"),
    ("companions", "place"): (("bench", "frame", "site"), "companions need light"),
    ("companions", "trays at"): (("bench", "frame", "site"), "seedlings need light"),
    ("minima", "place"): (("site", "frame"), "former minima are weather: they are of outdoor sites"),
    ("normals", "place"): (("site", "frame"), "normals are weather: they are used outdoors and in frames"),
}


def places_are_of_the_right_kind(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A place is used for what its kind can do."""
    kinds = {place.name: place.kind for place in season.places}
    told: set[tuple[str, str]] = set()
    for table, row, column, name in _place_uses(season):
        if name not in kinds or (table, column) not in _KINDS:
            continue
        allowed, why = _KINDS[table, column]
        if kinds[name] in allowed or (table in ("normals", "minima") and (table, name) in told):
            continue
        told.add((table, name))
        severe = table in ("lots", "displays") and column != "harden at"
        yield Finding(
            "place-kind", "error" if severe else "warning", table, row, column,
            f"{name} is a {kinds[name]}, but {why}",
            "Name another place, or correct its kind in places.", name,
        )  # fmt: skip


_EVENTS: dict[Event, tuple[tuple[PlaceKind, ...], str]] = {
    "cooler in": (("cooler", "frame", "site"), "cold is given in a cooler, a frame or outdoors"),
    "brought in": (("bench", "frame"), "pots are brought in to a bench or a frame"),
    "set out": (("site", "frame", "bench"), "pots are set out where they are seen"),
}


def logged_places_suit_their_events(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """What is logged took lots to places that the event can mean."""
    kinds = {place.name: place.kind for place in season.places}
    for entry in season.log:
        kind = kinds.get(entry.place or "")
        allowed, why = _EVENTS.get(entry.event, (None, ""))
        if kind is not None and allowed is not None and kind not in allowed:
            yield Finding(
                "place-kind", "warning", entry.found_in, entry.row, "place", f"{entry.place} is a {kind}, but {why}",
                "Correct the place or the event.", entry.place,
            )  # fmt: skip


def displays_are_known(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every display that is named is in the displays table."""
    known = {display.name for display in season.displays}
    uses: list[Use] = [
        ("lots", lot.row, "display", lot.display) for lot in season.lots if lot.display is not None
    ]
    uses += [("plantings", planting.row, "display", planting.display) for planting in season.plantings]
    uses += [
        ("jobs", job.row, "counted to", job.counted_to)
        for job in season.jobs
        if isinstance(job.counted_to, str)
    ]
    for use in uses:
        if use[3] not in known:
            yield unknown(
                "display-unknown", use, known, "display", "Correct the name, or add it to displays."
            )


def plantings_are_known(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every planting is of a lot or companion that there is."""
    known = {lot.name for lot in season.lots} | {companion.name for companion in season.companions}
    for planting in season.plantings:
        if planting.item not in known:
            use = ("plantings", planting.row, "lot or companion", planting.item)
            hint = "Correct the name, or add it to lots or companions."
            yield unknown("item-unknown", use, known, "lot or companion", hint)


def plantings_fit(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A lot or companion is planted once in each display, and a lot where it goes."""
    displays = {display.name for display in season.displays}
    items = {lot.name for lot in season.lots} | {companion.name for companion in season.companions}
    goes_to = {lot.name: lot.display for lot in season.lots}
    seen: set[tuple[str, str]] = set()
    for planting in season.plantings:
        if planting.display not in displays or planting.item not in items:
            continue
        item, display = planting.item, planting.display
        if (display, item) in seen:
            yield Finding("planting-twice", "warning", "plantings", planting.row, "lot or companion",
                          f"{item} is planted in {display} by a row above too",
                          "Keep one row, or be sure that both are meant: their pots add up.", item)  # fmt: skip
        seen.add((display, item))
        elsewhere = goes_to.get(item)
        if elsewhere in displays and elsewhere != display:
            yield Finding("planting-elsewhere", "warning", "plantings", planting.row, "display",
                          f"{item} is for {elsewhere} in the lots table",
                          "Correct one of the two.", display)  # fmt: skip


def log_is_of_known_lots(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Every entry of the log is about a lot or a companion that there is, and of what happens to one."""
    companions = {companion.name for companion in season.companions}
    known = {lot.name for lot in season.lots} | companions
    for entry in season.log:
        grown = entry.lot in companions
        if entry.event in COMPANION_ONLY if not grown else entry.event not in COMPANION_EVENTS:
            words = ", ".join(
                COMPANION_EVENTS if grown else (e for e in get_args(Event) if e not in COMPANION_ONLY)
            )
            yield Finding(
                "event-of-others", "warning", entry.found_in, entry.row, "event",
                f"{entry.lot} is a {'companion' if grown else 'lot of bulbs'}: that does not happen to it, and is not "
                "used",
                f"Write one of: {words}.", entry.event, lot=entry.lot,
            )  # fmt: skip
        elif lot_of(entry.lot, known) is None:
            use = (entry.found_in, entry.row, "lot", entry.lot)
            yield unknown("lot-unknown", use, known, "lot", "Correct the name, or add it to lots.")


def tasks_are_known(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Minutes are of tasks that a plan can hold."""
    known = {fold_word(row.task): row.task for row in shipped_minutes()}
    for row in season.minutes:
        if fold_word(row.task) not in known:
            hint = did_you_mean(row.task, known.values(), f"Tasks are: {', '.join(known.values())}.")
            yield Finding("task-unknown", "warning", "minutes", row.row, "task",
                          "no plan holds a task of that name: its minutes are not used", hint, row.task)  # fmt: skip
