"""What the grower states: a season and its rows. None means: not stated, use the default."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from forcing.dates import Span, WorkCalendar
from forcing.model.words import BloomClass, Event, Paper, PlaceKind
from forcing.units import TemperatureUnit


@dataclass(frozen=True, slots=True)
class Place:
    """A cooler, bench, frame or outdoor site. Temperatures [°C]; capacity in 15 cm-pot equivalents."""

    name: str
    kind: PlaceKind
    pots: float | None = None  # None: capacity not stated, never overfull
    day: float | None = None  # None: not stated (a cooler gets a programme, a site has normals)
    night: float | None = None
    lowest: float | None = None  # None: no limit stated
    highest: float | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Setpoint:
    """A place's day and night temperature [°C] from a date until its next setpoint."""

    place: str
    start: date
    day: float
    night: float
    row: int | None = None

    @property
    def mean(self) -> float:
        return (self.day + self.night) / 2


@dataclass(frozen=True, slots=True)
class Normal:
    """Usual low and high [°C] of an outdoor site in a calendar month (1-12)."""

    place: str
    month: int
    low: float
    high: float
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """Recorded (or forecast) temperatures [°C] of a place on a day. At least low and high, or mean."""

    place: str
    date: date
    low: float | None = None
    high: float | None = None
    mean: float | None = None
    kind: Literal["measured", "forecast"] = "measured"
    row: int | None = None
    hours: tuple[float, ...] = ()  # of equal parts of the day, in order; empty: only the above is known


@dataclass(frozen=True, slots=True)
class Lot:
    """Pots of one cultivar potted and moved together. None means: not stated, use the default."""

    name: str
    crop: str
    pots: int
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    pot_cm: float | None = None
    bulbs_per_pot: int | None = None
    target: date | None = None
    cold_weeks: float | None = None
    precooled_weeks: float = 0.0
    cooler: str | None = None
    bench: str | None = None
    display: str | None = None
    install: date | None = None
    hold_days: int = 0  # planned cold hold once colour shows
    harden_at: str | None = None
    harden_days: int = 0
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Display:
    """Like containers at one site, open to the public on the days of `span`."""

    name: str
    containers: int
    site: str
    span: Span
    litres: float | None = None  # of mix, per container
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Planting:
    """How many pots of a lot or companion stand in each container of a display."""

    display: str
    item: str
    per_container: int
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Companion:
    """Cool-season annuals grown beside the bulbs, ready to set out on a date."""

    name: str
    crop: str
    pots: int
    ready: date | None = None
    place: str | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class LogEntry:
    """What happened to a lot."""

    date: date
    lot: str
    event: Event
    place: str | None = None
    pots: int | None = None
    note: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Override:
    """The house's own figure for one parameter of a recipe, temperatures already in °C."""

    crop: str
    parameter: str
    typical: float | str
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    low: float | None = None
    high: float | None = None
    source: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Minutes:
    """Staff time of one kind of task: minutes per pot, and once for each time it is done."""

    task: str
    per_pot: float
    each_time: float = 0.0
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Season:
    """Everything the grower stated, read and checked."""

    title: str
    span: Span  # the show: first day open to the day after the last
    unit: TemperatureUnit = "C"
    calendar: WorkCalendar = field(default_factory=WorkCalendar)
    confidence: float = 0.5
    bulbs_in_hand: date | None = None  # None: bulbs are there whenever wanted
    hours_per_week: float | None = None  # None: no limit stated
    loss: float = 0.0  # fraction of pots expected to be lost
    paper: Paper = "A4"
    order_weeks: int = 12  # orders go out this long before potting
    places: tuple[Place, ...] = ()
    setpoints: tuple[Setpoint, ...] = ()
    normals: tuple[Normal, ...] = ()
    lots: tuple[Lot, ...] = ()
    displays: tuple[Display, ...] = ()
    plantings: tuple[Planting, ...] = ()
    companions: tuple[Companion, ...] = ()
    log: tuple[LogEntry, ...] = ()
    readings: tuple[Reading, ...] = ()
    overrides: tuple[Override, ...] = ()
    minutes: tuple[Minutes, ...] = ()

    def place(self, name: str) -> Place:
        """The place of that name. Raises KeyError."""
        return {place.name: place for place in self.places}[name]

    def display(self, name: str) -> Display:
        """The display of that name. Raises KeyError."""
        return {display.name: display for display in self.displays}[name]
