"""Temperatures that contradict each other, or that look like the other unit. Nothing is ever converted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from forcing.errors import Finding, RecipeError, Severity
from forcing.model import Override, Place, PlaceKind, Season
from forcing.recipes.book import RecipeBook
from forcing.season.rows import and_more
from forcing.season.schema import is_temperature
from forcing.text import fold
from forcing.units import TemperatureUnit, from_celsius, show_temperature, to_celsius

# What can be believed, °C: common practice, no source; from memory. Wide, so that only slips are caught.
KEPT: Mapping[PlaceKind, tuple[float, float]] = {
    "cooler": (-5.0, 25.0), "bench": (0.0, 45.0), "frame": (-10.0, 45.0), "site": (-45.0, 50.0),
}  # fmt: skip
MEASURED: Mapping[PlaceKind, tuple[float, float]] = {
    "cooler": (-12.0, 32.0), "bench": (-6.0, 55.0), "frame": (-30.0, 58.0), "site": (-60.0, 60.0),
}  # fmt: skip
FIGURE_SLIP = 12.0  # °C that a house's own figure may differ from the shipped one without a question
OWN_CROP = (-25.0, 45.0)  # °C, figures of a crop with no shipped recipe
COLD_SUMMER = 5.0  # °C: a year whose warmest month has a high below this was typed in the other unit


@dataclass(frozen=True, slots=True)
class Typed:
    """One temperature [°C] as a table holds it, and what it belongs to."""

    table: str
    row: int | None
    column: str
    place: str
    celsius: float


def _typed(table: str, row: int | None, place: str, **temperatures: float | None) -> Iterator[Typed]:
    for column, celsius in temperatures.items():
        if celsius is not None:
            yield Typed(table, row, column, place, celsius)


def _kept(season: Season) -> Iterator[Typed]:
    for place in season.places:
        yield from _typed("places", place.row, place.name, day=place.day, night=place.night)
    for setpoint in season.setpoints:
        yield from _typed("setpoints", setpoint.row, setpoint.place, day=setpoint.day, night=setpoint.night)


def limits_hold(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Lowest is below highest, and no stated temperature is beyond them."""
    places = {place.name: place for place in season.places}
    for place in season.places:
        if place.lowest is not None and place.highest is not None and place.lowest > place.highest:
            yield Finding(
                "limits-crossed", "error", "places", place.row, "lowest", "lowest is above highest",
                "Correct one of them.", show_temperature(place.lowest, season.unit),
            )  # fmt: skip
    for typed in _kept(season):
        owner = places.get(typed.place)
        if owner is None:
            continue
        for limit, name, beyond in (
            (owner.lowest, "lowest", owner.lowest is not None and typed.celsius < owner.lowest - 1e-9),
            (owner.highest, "highest", owner.highest is not None and typed.celsius > owner.highest + 1e-9),
        ):
            if beyond and limit is not None:
                yield Finding(
                    "limits-broken", "warning", typed.table, typed.row, typed.column,
                    f"beyond the {name} of {owner.name}, {show_temperature(limit, season.unit)}",
                    "Correct the temperature or the limit: the plan keeps what is stated, whether the place can "
                    "or not.", show_temperature(typed.celsius, season.unit),
                )  # fmt: skip


def nights_are_cooler(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Day is not below night."""
    stated = [("places", place.row, place.day, place.night) for place in season.places]
    stated += [("setpoints", setpoint.row, setpoint.day, setpoint.night) for setpoint in season.setpoints]
    for table, row, day, night in stated:
        if day is not None and night is not None and night > day:
            yield Finding(
                "night-warmer", "warning", table, row, "night",
                f"warmer than the day, {show_temperature(day, season.unit)}",
                "Exchange them, unless cool days are meant.", show_temperature(night, season.unit),
            )  # fmt: skip


def zones_agree(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Benches of one zone state the same temperatures: one heating cannot keep two."""
    zones: dict[str, list[Place]] = {}
    for place in season.places:
        if place.zone is not None:
            zones.setdefault(fold(place.zone), []).append(place)
    for members in zones.values():
        for place in members[1:]:
            if (place.day, place.night) != (members[0].day, members[0].night):
                yield Finding(
                    "zone-differs", "warning", "places", place.row, "zone",
                    f"{place.name} and {members[0].name} share a heating but state different temperatures",
                    "State the temperatures of the zone for both, or give them zones of their own.", place.zone,
                    place=place.name,
                )  # fmt: skip


def indoors_is_stated(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A bench has a temperature: the plan cannot count heat without one."""
    told = {typed.place for typed in _kept(season)}
    told |= {reading.place for reading in season.readings} | {normal.place for normal in season.normals}
    for place in season.places:
        if place.kind == "bench" and place.name not in told:
            yield Finding(
                "bench-no-temperature", "error", "places", place.row, "day",
                "the temperature of this bench is not stated", "Write day and night, or add rows to setpoints.",
                place.name,
            )  # fmt: skip


# ---------------------------------------------------------------- the other unit


def unit_is_right(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Temperatures that cannot be in the season's unit: one finding for each place, table and column."""
    kinds = {place.name: place.kind for place in season.places}
    yield from _doubtful(_kept(season), kinds, KEPT, season.unit, "error")
    limits = (
        typed
        for place in season.places
        for typed in _typed("places", place.row, place.name, lowest=place.lowest, highest=place.highest)
    )
    yield from _doubtful(limits, kinds, MEASURED, season.unit, "error")
    normals = [
        typed
        for row in season.normals
        for typed in _typed("normals", row.row, row.place, low=row.low, high=row.high)
    ]
    yield from _doubtful(normals, kinds, KEPT, season.unit, "error")
    yield from _cold_summers(season, kinds)
    readings = (
        typed
        for row in season.readings
        for typed in _typed(row.found_in, row.row, row.place, low=row.low, high=row.high, mean=row.mean)
    )
    yield from _doubtful(readings, kinds, MEASURED, season.unit, "warning")


def _doubtful(
    rows: Iterable[Typed], kinds: Mapping[str, PlaceKind],
    believed: Mapping[PlaceKind, tuple[float, float]], unit: TemperatureUnit, severity: Severity,
) -> Iterator[Finding]:  # fmt: skip
    groups: dict[tuple[str, str], list[Typed]] = {}
    for typed in rows:
        if typed.place in kinds:
            low, high = believed[kinds[typed.place]]
            if not low <= typed.celsius <= high:
                groups.setdefault((typed.place, typed.column), []).append(typed)
    for (place, _), group in groups.items():
        kind = kinds[place]
        yield _question(group[0], f"of a {kind}", believed[kind], unit, severity, len(group) - 1)


def _question(
    typed: Typed, whose: str, believed: tuple[float, float], unit: TemperatureUnit, severity: Severity,
    more: int = 0,
) -> Finding:  # fmt: skip
    """Is it the other unit? Only asked where it could be believed in that."""
    other: TemperatureUnit = "C" if unit == "F" else "F"
    written = from_celsius(typed.celsius, unit)
    meant = to_celsius(written, other)
    like = and_more(more)
    if believed[0] <= meant <= believed[1]:
        code, message = "unit-doubtful", f"hard to believe {whose} in °{unit}{like}: is this °{other}?"
        hint = (
            f"Write it in °{unit}, {show_temperature(meant, unit)} if °{other} was meant, or change the temperature "
            "unit in season. Nothing is converted."
        )
    else:
        code, message = "temperature-doubtful", f"hard to believe {whose}{like}"
        hint = "Correct it, or delete a reading that cannot be mended."
    return Finding(
        code,
        severity,
        typed.table,
        typed.row,
        typed.column,
        message,
        hint,
        show_temperature(typed.celsius, unit),
    )


def _cold_summers(season: Season, kinds: Mapping[str, PlaceKind]) -> Iterator[Finding]:
    """°C typed in a season of °F gives a year that is believable day by day, but without a summer."""
    warmest: dict[str, Typed] = {}
    months: dict[str, int] = {}
    for row in season.normals:
        typed = Typed("normals", row.row, "high", row.place, row.high)
        months[row.place] = months.get(row.place, 0) + 1
        if row.place not in warmest or warmest[row.place].celsius < row.high:
            warmest[row.place] = typed
    for place, typed in warmest.items():
        if months[place] >= 8 and typed.celsius < COLD_SUMMER and place in kinds:
            yield _question(typed, "of the warmest month", (COLD_SUMMER, 50.0), season.unit, "error")


def figures_are_in_the_unit(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """The season's own recipe temperatures are near the shipped ones, or the unit is asked about."""
    shipped = RecipeBook.from_overrides(())
    for row in season.overrides:
        if not isinstance(row.typical, float | int) or not is_temperature(row.parameter):
            continue
        believed = _believed(row, shipped)
        if not believed[0] <= row.typical <= believed[1]:
            typed = Typed("crops", row.row, "typical", row.crop, float(row.typical))
            yield _question(typed, f"as {row.parameter} of {row.crop}", believed, season.unit, "error")


def _believed(row: Override, shipped: RecipeBook) -> tuple[float, float]:
    if not shipped.knows(row.crop):
        return OWN_CROP
    try:
        usual = getattr(shipped.recipe(fold(row.crop), row.bloom_class, row.cultivar), row.parameter)
    except RecipeError:
        return OWN_CROP
    return usual - FIGURE_SLIP, usual + FIGURE_SLIP
