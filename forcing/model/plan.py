"""What the engine answers: a plan and its parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal, NamedTuple

from forcing.dates import Span
from forcing.errors import Finding
from forcing.model.recipe import Recipe
from forcing.model.stated import Lot, Season
from forcing.model.words import Basis, StepName, TaskState


@dataclass(frozen=True, slots=True)
class Step:
    """A lot in a place for a span of days. `place` is None only while it is being potted."""

    lot: str
    step: StepName
    place: str | None
    span: Span
    basis: Basis = "planned"


@dataclass(frozen=True, slots=True)
class LotPlan:
    """The dates of one lot, each proven by running them forward."""

    lot: Lot
    recipe: Recipe
    steps: tuple[Step, ...]
    target: date
    potting: date
    cooler_in: date | None  # None: a crop without cold
    rooted: date | None  # None: a crop without cold, or it will not root in time (a finding says so)
    sprouted: date | None  # shoots about 2.5 cm in the cooler; None: not before it is brought in
    bring_in: date
    stages: Mapping[str, date]  # shoots, bud, colour, bloom -> first day of the stage
    bloom: date
    fade: date | None  # None: the temperatures of its place are not known that far
    install: date | None  # the day it is set out; None: it stays where it blooms
    cold_weeks: float  # credited in the cooler and before it came
    cold_wanted: float  # the chosen cold-weeks
    need: float  # °C·d, of the typical pot
    days_early: int  # target - bloom of the typical pot
    assumed_days: int  # days of its life whose temperature is not measured

    @property
    def phases(self) -> tuple[Step, ...]:
        """The steps as they are drawn and counted, where it does not matter which show was first."""
        return tuple(replace(step, step="show") if step.step == "on show" else step for step in self.steps)

    @property
    def cold_extra(self) -> float:
        """Weeks of cold above those chosen: the cost of working days only."""
        return self.cold_weeks - self.cold_wanted


@dataclass(frozen=True, slots=True)
class Unplanned:
    """A lot that cannot be planned, why, and the earliest bloom that is possible for it."""

    lot: Lot
    reason: str
    earliest: date | None  # None: not known, the reason says what is missing


@dataclass(frozen=True, slots=True)
class RoomSetting:
    """The temperature [°C] of a place over a span, and where it comes from."""

    place: str
    span: Span
    day: float
    night: float
    basis: Literal["stated", "planned", "steered"]
    reason: str = ""

    @property
    def mean(self) -> float:
        return (self.day + self.night) / 2


@dataclass(frozen=True, slots=True)
class PlaceLoad:
    """Pots (15 cm-pot equivalents) standing in a place, one number a day from `start`."""

    place: str
    capacity: float | None
    start: date
    pots: tuple[float, ...]


class Occupancy(NamedTuple):
    """Room that something takes in a place beside the lots."""

    place: str
    span: Span
    pots: float  # 15 cm-pot equivalents


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work on one day. `key` is stable from plan to plan: it names lot, step and turn."""

    key: str
    date: date
    lot: str | None  # None: work on a place, not on a lot
    task: str
    pots: float
    hours: float
    place: str | None  # where it is done, or where the pots come from
    to: str | None = None  # where the pots go
    look_for: str = ""
    cautions: tuple[str, ...] = ()  # keys of forcing.engine.cautions.CAUTIONS
    state: TaskState = "planned"


@dataclass(frozen=True, slots=True)
class Plan:
    """A season worked out: what everything else is printed from."""

    season: Season
    on: date
    lots: tuple[LotPlan, ...]
    unplanned: tuple[Unplanned, ...]
    rooms: tuple[RoomSetting, ...]
    loads: tuple[PlaceLoad, ...]
    tasks: tuple[Task, ...]
    findings: tuple[Finding, ...]

    def lot(self, name: str) -> LotPlan:
        """The plan of the lot of that name. Raises KeyError where it is not planned."""
        return {planned.lot.name: planned for planned in self.lots}[name]
