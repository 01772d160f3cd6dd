"""Small seasons made in a line or two, for tests of the engine."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from forcing.dates import Span, WorkCalendar
from forcing.engine.context import Context
from forcing.engine.plan import work_out
from forcing.model import Lot, LotPlan, Override, Place, Plan, Season
from forcing.recipes.book import RecipeBook, shipped_minutes

EVERY_DAY = WorkCalendar()
MON_FRI = WorkCalendar(frozenset(range(5)))


def season(lots: Iterable[Lot] = (), **other: Any) -> Season:
    """A season with one cooler at 9 °C, one bench at 16 °C, working every day unless said otherwise."""
    opens = other.pop("opens", date(2027, 3, 20))
    given: dict[str, Any] = {
        "title": "test",
        "span": Span(opens, opens + timedelta(days=30)),
        "places": (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16)),
        "lots": tuple(lots),
    }
    return Season(**(given | other))


def house_figures(crop: str, **figures: float) -> tuple[Override, ...]:
    """The house's own figures for a crop."""
    return tuple(Override(crop, name, value) for name, value in figures.items())


def plan(stated: Season, on: date = date(2026, 11, 2)) -> Plan:
    """The plan of a season with its own overrides and the shipped recipes."""
    book = RecipeBook.from_overrides(stated.overrides)
    return work_out(stated, book, Context(on, {row.task: row for row in shipped_minutes()})).plan


def only(stated: Season) -> LotPlan:
    """The plan of the one lot of a season."""
    made = plan(stated)
    assert not made.unplanned, made.unplanned
    return made.lots[0]
