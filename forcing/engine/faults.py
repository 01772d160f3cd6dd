"""A fault of the program inside one lot, companion, display or place: that one is told and left out, the rest planned.

Nothing of this runs unless something has failed; then the season is worked out again in parts, to find which row it is
that cannot be worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from forcing.engine.parts import lot_of
from forcing.errors import Finding, ForcingError
from forcing.model import Companion, Display, Lot, Minimum, Normal, Place, Reading, Season, Setpoint

Culprit = Lot | Companion | Display | Place
_Works = Callable[[Season], Exception | None]


def without_culprits(
    season: Season, work: Callable[[Season], object], first: Exception
) -> tuple[Season, tuple[Finding, ...], tuple[Lot, ...]]:
    """The season without what cannot be worked out, a finding for each of it, and the lots among it.

    work: works a season out, or raises, as it did of this one with `first`, which is raised again where no single row
    is to blame.
    """

    def failure(part: Season) -> Exception | None:
        try:
            work(part)
        except ForcingError:
            return None  # said in words: no fault of the program
        except Exception as error:
            return error
        return None

    for culprits in _suspects(season, failure, first):
        rest = _without(season, [culprit for culprit, _ in culprits])
        if culprits and failure(rest) is None:
            found = tuple(_finding(culprit, error) for culprit, error in culprits)
            return rest, found, tuple(culprit for culprit, _ in culprits if isinstance(culprit, Lot))
    raise first


def _suspects(season: Season, failure: _Works, first: Exception) -> Iterator[list[tuple[Culprit, Exception]]]:
    """Rows that fail by themselves; then each companion, display and place without which all is well."""
    companions = _alone(
        season.companions, lambda part: failure(replace(season, companions=tuple(part), lots=()))
    )
    bare = replace(season, companions=())
    lots = _alone(season.lots, lambda part: failure(_of_lots(bare, part)))
    yield lots + companions
    others: tuple[Culprit, ...] = (*season.companions, *season.displays, *season.places)
    for one in others:
        yield [(one, first)]


def _alone(
    rows: Sequence[Any], failure: Callable[[Sequence[Any]], Exception | None]
) -> list[tuple[Culprit, Exception]]:
    """The rows that fail also without the others, found by halving."""
    error = failure(rows) if rows else None
    if error is None:
        return []
    if len(rows) == 1:
        return [(rows[0], error)]
    first, second = rows[: len(rows) // 2], rows[len(rows) // 2 :]
    return [*_alone(first, failure), *_alone(second, failure)]


def _of_lots(season: Season, lots: Sequence[Lot]) -> Season:
    return _without(season, [lot for lot in season.lots if lot not in lots])


def _without(season: Season, culprits: Sequence[Culprit]) -> Season:
    """The season without some rows, and without what other tables say of them."""
    gone = {(type(culprit), culprit.name) for culprit in culprits}

    def stays(kind: type, name: str | None) -> bool:
        return (kind, name) not in gone

    items = {name for kind, name in gone if kind in (Lot, Companion)}
    places = {name for kind, name in gone if kind is Place}
    displays = tuple(d for d in season.displays if stays(Display, d.name) and d.site not in places)
    shown = {display.name for display in season.displays} - {display.name for display in displays}
    lots = (lot for lot in season.lots if stays(Lot, lot.name))
    companions = (companion for companion in season.companions if stays(Companion, companion.name))
    return replace(
        season,
        lots=tuple(_elsewhere(lot, places, shown) for lot in lots),
        companions=tuple(replace(c, place=None) if c.place in places else c for c in companions),
        displays=displays,
        places=tuple(p for p in season.places if p.name not in places),
        plantings=tuple(p for p in season.plantings if p.item not in items and p.display not in shown),
        log=tuple(e for e in season.log if lot_of(e.lot, items) is None and e.place not in places),
        setpoints=_not_of(places, season.setpoints),
        normals=_not_of(places, season.normals),
        readings=_not_of(places, season.readings),
        minima=_not_of(places, season.minima),
    )


_Row = TypeVar("_Row", Setpoint, Normal, Reading, Minimum)


def _not_of(places: set[str], rows: tuple[_Row, ...]) -> tuple[_Row, ...]:
    return tuple(row for row in rows if row.place not in places)


def _elsewhere(lot: Lot, places: set[str], displays: set[str]) -> Lot:
    """A lot that names none of some places and displays."""
    named = {
        column: None
        for column in ("cooler", "bench", "harden_at")
        if getattr(lot, column) in places
    }  # fmt: skip
    if lot.display in displays:
        named["display"] = None
    return replace(lot, **named) if named else lot  # type: ignore[arg-type]


def _finding(culprit: Culprit, error: Exception) -> Finding:
    kind = type(culprit).__name__.lower()
    return Finding(
        f"fault-in-{kind}", "error", f"{kind}s", culprit.row, kind,
        f"forcing could not work out {culprit.name}, by a fault of its own: {type(error).__name__}: {error}",
        "Please report it with the season; the rest is planned without it.",
        culprit.name, lot=culprit.name if kind == "lot" else None, place=culprit.name if kind == "place" else None,
    )  # fmt: skip
