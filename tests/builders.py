"""Small seasons made in a line or two, for tests of the engine."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from forcing.dates import Span, WorkCalendar
from forcing.engine.context import Context
from forcing.engine.plan import PlanResult, work_out
from forcing.model import Lot, LotPlan, Override, Place, Plan, Season
from forcing.recipes.book import RecipeBook, shipped_minutes, split_overrides

EVERY_DAY = WorkCalendar()
MON_FRI = WorkCalendar(frozenset(range(5)))


def season(lots: Iterable[Lot] = (), **other: Any) -> Season:
    """A season with one cooler at 9 °C, one bench at 16 °C, working every day, planned on the typical pot.

    Unless said otherwise.
    """
    opens = other.pop("opens", date(2027, 3, 20))
    given: dict[str, Any] = {
        "title": "test",
        "span": Span(opens, opens + timedelta(days=30)),
        "places": (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16)),
        "lots": tuple(lots),
        "confidence": 0.5,
    }
    return Season(**(given | other))


def house_figures(crop: str, **figures: float) -> tuple[Override, ...]:
    """The house's own figures for a crop."""
    return tuple(Override(crop, name, value) for name, value in figures.items())


def seen_on(on: date) -> Context:
    """A run on that day with the shipped minutes of work."""
    return Context(on, {row.task: row for row in shipped_minutes()})


def worked(stated: Season, on: date) -> PlanResult:
    """A season worked out with its own overrides and the shipped recipes."""
    return work_out(stated, RecipeBook.from_overrides(split_overrides(stated.overrides)[0]), seen_on(on))


def plan(stated: Season, on: date = date(2026, 11, 2)) -> Plan:
    """The plan of a season with its own overrides and the shipped recipes."""
    return worked(stated, on).plan


def only(stated: Season) -> LotPlan:
    """The plan of the one lot of a season."""
    made = plan(stated)
    assert not made.unplanned, made.unplanned
    return made.lots[0]
