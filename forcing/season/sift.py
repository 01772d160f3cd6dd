"""Rows that were understood but cannot be right: each is told, and left out before anything is worked out from them.

What only a person can judge is left to the checks. Days of lots and displays that are years away are refused: without
them the rest of the season would mean something else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import TypeVar

from forcing.dates import DAY
from forcing.errors import Finding, RecipeError
from forcing.model import PARAMETERS, LogEntry, Minimum, Normal, Override, Reading, Season
from forcing.recipes.book import (
    COMPANION_PARAMETERS,
    CompanionBook,
    Contradiction,
    RecipeBook,
    reaches,
    shipped_companion_figures,
    shipped_figures,
    split_overrides,
)
from forcing.season.rows import and_more
from forcing.season.schema import did_you_mean, shown_figure
from forcing.text import fold
from forcing.units import TemperatureUnit, show_temperature

# Of the show, in days. No lot is potted so long before it opens: a log from before is last year's. Practice, no source.
LOG_BEFORE = timedelta(days=300)
READ_BEFORE, AFTER = timedelta(days=450), timedelta(days=120)
# °C: no air that plants stand in is like that, whichever unit was meant. Practice, no source.
ON_EARTH = (-70.0, 130.0)

LONGEST_SHOW = 400  # days; practice, no source
# From the show: a target, a day to set out or to be ready, or a display. Practice, no source.
FAR = timedelta(days=450)

_Row = TypeVar("_Row", LogEntry, Reading, Normal, Minimum)


def sifted(season: Season, *, dated: bool = True) -> tuple[Season, list[Finding]]:
    """The season without rows that cannot be right, and a finding for each; not `dated`: its show has no days."""
    found: list[Finding] = []
    overrides = _sound(season, found)
    log, readings = season.log, season.readings
    if dated:
        log = _of_this_season(log, season, LOG_BEFORE, found)
        readings = _of_this_season(readings, season, READ_BEFORE, found)
    season = replace(
        season,
        overrides=overrides,
        log=log,
        readings=_on_earth(readings, "readings", season.unit, found),
        normals=_on_earth(season.normals, "normals", season.unit, found),
        minima=_on_earth(season.minima, "minima", season.unit, found),
    )
    return season, found


# ---------------------------------------------------------------- days and temperatures

_Dated = TypeVar("_Dated", LogEntry, Reading)


def _of_this_season(
    rows: tuple[_Dated, ...], season: Season, before: timedelta, found: list[Finding]
) -> tuple[_Dated, ...]:
    """The rows dated near enough to the show; of the others one finding, at the first."""
    first, last = season.span.start - before, season.span.end + AFTER
    astray = [row for row in rows if not first <= row.date < last]
    if astray:
        found.append(Finding(
            "day-astray", "error", astray[0].found_in, astray[0].row, "date",
            f"far from the show, which opens on {season.span.start}{and_more(len(astray) - 1)}: not of this "
            "season, and left out", "Check the year; delete what is left of another season.", str(astray[0].date),
        ))  # fmt: skip
    return tuple(row for row in rows if first <= row.date < last)


def _on_earth(
    rows: tuple[_Row, ...], table: str, unit: TemperatureUnit, found: list[Finding]
) -> tuple[_Row, ...]:
    """The rows whose temperatures there are on earth; one finding for each place and column of the others."""
    beyond: dict[tuple[str, str], list[_Row]] = {}
    kept = []
    for row in rows:
        column = next((c for c in ("low", "high", "mean") if not _believable(getattr(row, c, None))), None)
        if column is None:
            kept.append(row)
        else:
            beyond.setdefault((str(row.place), column), []).append(row)
    for (place, column), astray in beyond.items():
        found.append(Finding(
            "temperature-impossible", "error", getattr(astray[0], "found_in", table), astray[0].row, column,
            f"no air that plants stand in is like that{and_more(len(astray) - 1)}: left out",
            "Correct it; a logger that fails writes such figures.",
            show_temperature(getattr(astray[0], column), unit), place=place,
        ))  # fmt: skip
    return tuple(kept)


def _believable(celsius: float | None) -> bool:
    return celsius is None or ON_EARTH[0] <= celsius <= ON_EARTH[1]


def far_days(season: Season) -> Iterator[Finding]:
    """Days of lots, displays, companions and jobs that lie years away from the show."""
    first, last = season.span.start - FAR, season.span.end + FAR
    days: list[tuple[str, str, int | None, date | None]] = [
        *(("lots", "target bloom", lot.row, lot.target) for lot in season.lots),
        *(("lots", "install", lot.row, lot.install) for lot in season.lots),
        *(("lots", "leaves", lot.row, lot.leaves) for lot in season.lots),
        *(("lots", "in hand", lot.row, lot.in_hand) for lot in season.lots),
        *(("displays", "opens", display.row, display.span.start) for display in season.displays),
        *(("displays", "closes", display.row, display.span.end - DAY) for display in season.displays),
        *(("companions", "ready", companion.row, companion.ready) for companion in season.companions),
        *(("jobs", "counted to", j.row, j.counted_to) for j in season.jobs if isinstance(j.counted_to, date)),
        ("season", "bulbs in hand", None, season.bulbs_in_hand),
    ]
    for table, column, row, day in days:
        if day is not None and not first <= day < last:
            yield Finding(
                "day-impossible", "error", table, row, column,
                f"years from the show, which opens on {season.span.start}", "Check the year.", str(day),
            )  # fmt: skip


# ---------------------------------------------------------------- figures of the house


def _sound(season: Season, found: list[Finding]) -> tuple[Override, ...]:
    """The figures of the house without those that belong to another kind of plant, or break their recipe."""
    bulbs, companions = split_overrides(season.overrides)
    kept = [
        *_without_breakers(
            _of_the_kind(bulbs, PARAMETERS, "bulb", found), _bulb_faults(season), season.unit, found
        ),
        *_without_breakers(
            _of_the_kind(companions, COMPANION_PARAMETERS, "companion", found), _companion_faults(season),
            season.unit, found,
        ),
    ]  # fmt: skip
    left = {id(row) for row in kept}
    return tuple(row for row in season.overrides if id(row) in left)


def _of_the_kind(
    rows: Sequence[Override], known: tuple[str, ...], kind: str, found: list[Finding]
) -> list[Override]:
    """Rows whose parameter the kind of plant has."""
    for row in rows:
        if row.parameter not in known:
            found.append(Finding(
                "parameter-unknown", "error", "crops", row.row, "parameter",
                f"{row.crop} is planned as a {kind}, which has no such figure: the row is left out",
                did_you_mean(row.parameter, known, f"Figures of a {kind} are: {', '.join(known)}."),
                row.parameter,
            ))  # fmt: skip
    return [row for row in rows if row.parameter in known]


_Faults = Callable[[Sequence[Override]], Iterator[tuple[Sequence[Override], Contradiction]]]


def _without_breakers(
    rows: list[Override], faults: _Faults, unit: TemperatureUnit, found: list[Finding]
) -> list[Override]:
    """The rows without those that make the recipe of a shipped crop contradict itself, left out one by one."""
    while True:
        blamed = [
            (row, problem.message)
            for reaching, problem in faults(rows)
            if (row := next((r for r in reversed(reaching) if r.parameter in problem.parameters), None))
        ]
        if not blamed:
            return rows
        worst = blamed[0][0]
        messages = dict.fromkeys(message for row, message in blamed if row is worst)
        rows = [row for row in rows if row is not worst]
        found.append(Finding(
            "figure-impossible", "error", "crops", worst.row, "typical",
            f"{'; '.join(messages)}. The row is left out, and the program's own figure holds",
            f"Correct the figure (temperatures are in °{unit}), or delete the row.",
            f"{worst.parameter} {shown_figure(worst.parameter, worst.typical, unit)}",
        ))  # fmt: skip


def _bulb_faults(season: Season) -> _Faults:
    shipped = {fold(figure.crop) for figure in shipped_figures()}

    def faults(rows: Sequence[Override]) -> Iterator[tuple[Sequence[Override], Contradiction]]:
        book = RecipeBook.from_overrides(rows)
        for crop in dict.fromkeys(fold(row.crop) for row in rows):
            if crop not in shipped:
                continue  # with a row left out it would have no recipe: told where its lots are
            mine = [row for row in rows if fold(row.crop) == crop]
            kinds = [(lot.bloom_class, lot.cultivar) for lot in season.lots if fold(lot.crop) == crop]
            for kind in dict.fromkeys((*book.kinds(crop), *kinds)):
                reaching = [row for row in mine if reaches(row, crop, *kind)]
                for problem in _contradictions(book, (crop, *kind), season.unit) if reaching else ():
                    yield reaching, problem

    return faults


def _contradictions(
    book: RecipeBook, key: tuple[str, object, str | None], unit: TemperatureUnit
) -> Sequence[Contradiction]:
    try:
        return book.contradictions(book.recipe(*key), unit)  # type: ignore[arg-type]
    except RecipeError as error:
        return (Contradiction(str(error), error.parameters),)


def _companion_faults(season: Season) -> _Faults:
    shipped = {fold(figure.crop) for figure in shipped_companion_figures()}

    def faults(rows: Sequence[Override]) -> Iterator[tuple[Sequence[Override], Contradiction]]:
        book = CompanionBook.from_overrides(rows)
        for crop in dict.fromkeys(fold(row.crop) for row in rows):
            if crop in shipped:
                mine = [row for row in rows if fold(row.crop) == crop]
                for problem in book.contradictions(book.recipe(crop), season.unit):
                    yield mine, problem

    return faults
