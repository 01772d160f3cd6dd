"""The nouns. What a grower states (Season and its rows), what the trade knows (Recipe), and what the engine answers
(Plan and its parts). Frozen records; every temperature is °C, every span half-open.

A field that may be unknown is None and its comment says what None means; nothing is ever 0 for unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from typing import Literal, NamedTuple

from forcing.dates import Span, WorkCalendar
from forcing.errors import Finding
from forcing.units import Measures, TemperatureUnit

PlaceKind = Literal["cooler", "bench", "frame", "site"]
BloomClass = Literal["early", "mid", "late"]
Event = Literal[
    "potted", "cooler in", "rooted", "brought in", "moved", "looked", "shoots", "bud", "colour", "bloom",
    "held", "set out", "sold", "faded", "lost", "ordered", "received", "sown", "germinated", "transplanted", "pinched",
]  # fmt: skip
CompanionStart = Literal["seed", "plug", "plant"]  # what a companion is raised from here
StepName = Literal["pot", "root", "cool", "bench", "hold", "harden", "show", "on show"]
Basis = Literal["planned", "actual", "expected"]
Day = date  # where a field is called date
TaskState = Literal["planned", "due", "overdue", "done", "not logged", "closed"]
Paper = Literal["A4", "Letter"]
Shape = Literal["box", "tapered box", "cylinder", "frustum", "bowl", "barrel"]  # of a container

# In the order of life. `show` starts on the day of bloom; what is shown in another place later is `on show` there.
STEPS: tuple[StepName, ...] = ("pot", "root", "cool", "bench", "hold", "harden", "show")
CLASSES: tuple[BloomClass, ...] = ("early", "mid", "late")
TargetStage = Literal["bud", "colour", "bloom"]  # that a lot is to have reached on its target
# What the log can say of a companion, in the order of life; the first six it says of nothing else.
COMPANION_EVENTS: tuple[Event, ...] = (
    "ordered", "received", "sown", "germinated", "transplanted", "pinched", "set out", "faded", "lost",
)  # fmt: skip
COMPANION_ONLY: frozenset[Event] = frozenset(COMPANION_EVENTS[:6])
STAGE_EVENTS: tuple[Event, ...] = ("shoots", "bud", "colour", "bloom")


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
    shifted: float = 0.0  # °C by which a what-if has changed day and night from what is stated
    row: int | None = None
    zone: str | None = None  # the heating it shares with other benches; None: it is set by itself


@dataclass(frozen=True, slots=True)
class Setpoint:
    """A place's day and night temperature [°C] from a date until its next setpoint."""

    place: str
    start: date
    day: float
    night: float
    row: int | None = None
    agreed: bool = False  # of steering that was agreed to, and not of the season's own table

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
    found_in: str = "readings"  # the table or file in which the row stands


@dataclass(frozen=True, slots=True)
class Lot:
    """Pots of one cultivar potted and moved together. None means: not stated, use the default."""

    name: str
    crop: str
    pots: int  # 0: not stated, to come from the display it is planted in
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    pot_cm: float | None = None
    bulbs_per_pot: int | None = None
    target: date | None = None
    cold_weeks: float | None = None
    precooled_weeks: float = 0.0
    in_hand: date | None = None  # first day its bulbs can be potted; None: the season's
    cooler: str | None = None
    cooler_after_rooting: str | None = None  # that it is moved to once rooted; None: it stays
    bench: str | None = None
    display: str | None = None
    install: date | None = None
    install_chosen: bool = False  # by the plan, from its wave or for its places; False: as stated
    hold_days: int | None = None  # cold, once colour shows; None: as many as its confidence leaves over
    hold_at: str | None = None  # where it is held; None: in the cooler that it was cold in last
    confidence: float | None = None  # None: that of its display, of the season, or the usual one
    harden_at: str | None = None
    harden_days: int | None = None  # None: not stated, and the plan may propose some; 0: none are wanted
    split: bool = False  # whether the plan may grow it in two places
    part_of: str | None = None  # the stated lot of which it is a part; None: it is whole
    row: int | None = None
    target_stage: TargetStage = "bloom"  # that it is to have reached on its target
    leaves: date | None = None  # the day it leaves the house; None: it stays until it fades
    box_cm: tuple[float, ...] = ()  # length, width, maybe depth; `pots` are boxes; empty: no boxes

    @property
    def install_open(self) -> bool:
        """Whether the day on which it is set out is the plan's to choose."""
        return self.install is None or self.install_chosen

    @property
    def stated_name(self) -> str:
        """The name in the lots table: its own, or that of the lot of which it is a part."""
        return self.part_of or self.name

    @property
    def part_names(self) -> tuple[str, str]:
        """The names of its parts where it is split."""
        return f"{self.name} a", f"{self.name} b"


@dataclass(frozen=True, slots=True)
class Display:
    """Like containers at one site, open to the public on the days of `span`."""

    name: str
    containers: int
    site: str
    span: Span
    litres: float | None = None  # of mix, per container, stated or from its shape; None: not counted
    row: int | None = None
    cover_m2: float | None = None  # of cloth over one container on a frost night; None: not known
    shape: Shape | None = None  # with inside measures [cm]; None: not stated
    length_cm: float | None = None  # along the rim; of a round one its diameter
    width_cm: float | None = None  # across the rim; of a barrel the diameter half way up
    depth_cm: float | None = None
    base_length_cm: float | None = None  # along the base; of a round one its diameter
    base_width_cm: float | None = None
    confidence: float | None = None  # of its lots, where they state none; None: as the season
    swap_at: float | None = (
        None  # share of its days in bloom that a pot lifted may have left; None: the usual
    )


Position = Literal["front", "middle", "back", "edge", "anywhere"]  # within a container, as visitors see it
Habit = Literal["upright", "bushy", "trailing"]


@dataclass(frozen=True, slots=True)
class Planting:
    """How many pots of a lot or companion stand in each container of a display, and where in it."""

    display: str
    item: str
    per_container: int
    position: Position = "anywhere"
    height_cm: float | None = None  # in flower; None: as usual for the crop, where that is known
    habit: Habit | None = None
    colour: str | None = None
    in_pot: bool = False  # whether it stays in its pot within the container
    counts: bool | None = None  # whether a companion counts in the cover; None: where no bulbs are planted
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Companion:
    """Cool-season annuals grown beside the bulbs, ready to set out on a date."""

    name: str
    crop: str
    pots: int  # 0: not stated, to come from the display it is planted in
    ready: date | None = None
    place: str | None = None
    row: int | None = None
    start: CompanionStart = "seed"
    like: str | None = None  # the kind whose figures stand in for those that nobody knows of it
    trays_at: str | None = (
        None  # where it is raised; None: where it grows if that has heat, else apart from the places
    )


@dataclass(frozen=True, slots=True)
class LogEntry:
    """What happened to a lot or a companion."""

    date: date
    lot: str
    event: Event
    place: str | None = None
    pots: int | None = None
    note: str = ""
    hours: float | None = None  # staff hours that it took; None: not logged
    row: int | None = None
    found_in: str = "log"  # the table or file in which the row stands


@dataclass(frozen=True, slots=True)
class Delivery:
    """What has come of something ordered."""

    date: date
    item: str  # as the order names it, or a lot, cultivar or crop
    quantity: float  # in the unit of the order
    rest: Literal["coming", "not coming"] = "coming"
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
    per_box: float | None = None  # of lots in boxes; None: as for a pot

    def for_each(self, lot: Lot | None) -> float:
        """Minutes for each pot of a lot, or for each box where it grows in boxes; None: work on no lot."""
        return self.per_box if lot is not None and lot.box_cm and self.per_box is not None else self.per_pot


class LastFrost(NamedTuple):
    """The day that is taken as the last with a frost, and the share of springs that have one after it."""

    day: date
    chance: float | None = None  # None: not stated


@dataclass(frozen=True, slots=True)
class Job:
    """One step of a job of the house's own. Steps of one name are a chain."""

    name: str
    step: str
    days_before: int  # calendar days from the start of the step to the opening, or what it is counted to
    duration_days: int = 1  # calendar days it lasts
    hours: float = 0.0  # staff hours over the whole step, or of each time; 0: nothing to do but wait
    caution: str = ""  # keys of forcing.engine.work.tasks.CAUTIONS, with commas between them
    row: int | None = None
    # Recurring work: the weekdays (0 = Monday), or every how many days from its start, on which it is done; None: once.
    every: tuple[int, ...] | int | None = None
    place: str | None = None  # where it is done; None: not stated
    counted_to: str | date | None = (
        None  # a display, for its opening, or a day; None: as its chain, or the show
    )


@dataclass(frozen=True, slots=True)
class Round:
    """What is done again and again in a place as long as something stands there."""

    place: str
    work: str
    every: tuple[int, ...] | int | None = (
        None  # weekdays (0 = Monday), or every how many days; None: every day
    )
    minutes: float = 0.0  # each time
    per_hundred: float = 0.0  # minutes more for each hundred 15 cm pots there
    start: date | None = None  # None: as soon as something stands there
    until: date | None = None  # the last day; None: as long as something stands there
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Minimum:
    """Lowest temperature [°C] of a site on a day of a former year."""

    place: str
    date: date
    low: float | None  # None: the day is listed, but was not read
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Supply:
    """How an item is sold: a crop, a cultivar, 'pots', 'pots 15 cm', 'labels', 'mix', 'cloth' or 'seed'."""

    item: str
    pack: float | None = None  # bulbs, pots, labels, litres or m² in one; None: sold singly
    lead_weeks: float | None = None  # from order to delivery; None: the supplier's, or the usual one
    note: str = ""
    supplier: str | None = None
    price: float | None = None  # of one pack, in the house's money; None: not known
    size: str | None = None  # grade, such as 12/+
    substitute: str | None = None  # taken where it cannot be had
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A lot in a place for a span of days. `place` is None only while it is being potted."""

    lot: str
    step: StepName
    place: str | None
    span: Span
    basis: Basis = "planned"


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
class AgreedLot:
    """A lot as it was handed out: where it goes, on how much cold, on which days, and where it is when."""

    name: str
    pots: int
    target: date
    cooler: str | None  # None: no cold
    bench: str
    cold_weeks: float  # the chosen ones; 0: no cold
    days: Mapping[Event, date]  # of its life; one that does not come is missing
    steps: tuple[Step, ...] = ()
    confidence: float | None = (
        None  # of the lot itself, stated or chosen; None: that of its display or season
    )

    @property
    def cooler_after_rooting(self) -> str | None:
        """The cooler that it is moved to once rooted, by its steps; None: it stays."""
        later = (s.place for s in self.steps if s.step == "cool" and s.place != self.cooler)
        return next(later, None)

    @property
    def potting(self) -> date:
        return self.days["potted"]

    @property
    def cooler_in(self) -> date | None:
        return self.days.get("cooler in")

    @property
    def bring_in(self) -> date:
        return self.days["brought in"]

    @property
    def bloom(self) -> date:
        return self.days["bloom"]

    @property
    def install(self) -> date | None:
        """The day it is set out; None: it stays where it blooms."""
        return self.days.get("set out")


@dataclass(frozen=True, slots=True)
class AgreedMove:
    """Steering that was agreed to: on day `start` a lot goes to `place`, to its heat (bench) or to be kept (hold)."""

    lot: str
    step: Literal["bench", "hold"]
    place: str
    start: date


@dataclass(frozen=True, slots=True)
class Agreement:
    """What was decided and handed out on a day. A later one takes the place of an earlier."""

    on: date
    lots: tuple[AgreedLot, ...] = ()
    settings: tuple[RoomSetting, ...] = ()  # room programmes (planned) and bench settings (steered)
    moves: tuple[AgreedMove, ...] = ()  # of steering, in order of day


OPENING, LATER = 0.9, 0.5  # chance of bloom on its target, where none is stated; common practice, no source


@dataclass(frozen=True, slots=True)
class Season:
    """Everything the grower stated, read and checked."""

    title: str
    span: Span  # the show: first day open to the day after the last
    unit: TemperatureUnit = "C"
    measures: Measures = "metric"  # of what is read and shown; inside all is metric
    calendar: WorkCalendar = field(default_factory=WorkCalendar)
    confidence: float | None = None  # None: OPENING for lots that open a display, LATER for others
    bulbs_in_hand: date | None = None  # None: bulbs are there whenever wanted
    hours_per_week: float | None = None  # None: no limit stated
    cold_for_hours: bool = False  # whether hours may take more than half a week from a lot's chosen cold
    hours_per_day: float | None = None  # None: a third of those of the week
    loss: float = 0.0  # fraction of pots expected to be lost
    paper: Paper = "A4"
    order_weeks: int = 12  # orders of seed and plugs go out this long before they are used
    trolley_pots: float | None = None  # 15 cm pots on one trolley; None: as usual
    bulb_order_weeks: int | None = (
        None  # all bulbs are ordered this long before the first is wanted; None: as usual
    )
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
    wanted_cover: float = 0.6  # share of its pots that a display is to have in bloom
    frost_margin: float | None = None  # °C that leaves may be colder than the forecast; None: the usual one
    last_frost: LastFrost | None = None  # None: not stated
    temperature_step: float | None = None  # °C, of a bench's setting; None: the usual one of the unit
    outdoor_lift: float | None = None  # °C that an aired house stays above outdoors; None: the usual one
    cover_cloth: str | None = None  # name of one of forcing.science.frost.COVERS; None: not stated
    duty: tuple[
        tuple[int, str], ...
    ] = ()  # weekday (0 = Monday), who sees to frost covers; empty: not stated
    jobs: tuple[Job, ...] = ()
    rounds: tuple[Round, ...] = ()
    daily_round: Literal["none", "usual"] = "none"  # of places without rows in rounds
    minima: tuple[Minimum, ...] = ()
    supplies: tuple[Supply, ...] = ()
    deliveries: tuple[Delivery, ...] = ()
    looks: frozenset[int] | None = None  # weekdays (0 = Monday) of looks at stages; None: not stated
    agreed: tuple[Agreement, ...] = ()  # the records of what was handed out, oldest first
    show_stated: bool = True  # False: no last day is stated: the end of `span` is the last fade
    opens_stated: bool = True  # False: no first day is stated: the start of `span` is the first target

    @property
    def has_show(self) -> bool:
        """Whether there is a show to open; else the house forces for the dates of its lots alone."""
        return bool(self.displays) or self.show_stated or self.opens_stated

    def place(self, name: str) -> Place:
        """The place of that name. Raises KeyError."""
        return {place.name: place for place in self.places}[name]

    def display(self, name: str) -> Display:
        """The display of that name. Raises KeyError."""
        return {display.name: display for display in self.displays}[name]

    def goes_round(self, place: str) -> bool:
        """Whether somebody goes round a place, by the usual daily round or one of its own."""
        return self.daily_round == "usual" or any(row.place == place for row in self.rounds)

    def in_hand(self, lot: Lot) -> date | None:
        """First day on which the bulbs of a lot can be potted: its own, or the season's; None: any day."""
        return lot.in_hand or self.bulbs_in_hand

    def confidence_of(self, lot: Lot) -> float:
        """The chance with which a lot is to be in bloom on its target: its own, its display's, or the season's.

        Where none is stated, a lot that opens a display is surer (OPENING) than one of a later wave (LATER).
        """
        stated = self.stated_confidence(lot)
        return stated if stated is not None else OPENING if self.opened_by(lot) else LATER

    def stated_confidence(self, lot: Lot) -> float | None:
        """The confidence of a lot: its own, its display's, or the season's; None: none is stated."""
        display = next((d.confidence for d in self.displays if d.name == lot.display), None)
        return next((c for c in (lot.confidence, display, self.confidence) if c is not None), None)

    def opened_by(self, lot: Lot) -> bool:
        """Whether a lot is in a display from the day on which that opens."""
        opens = next((d.span.start for d in self.displays if d.name == lot.display), None)
        return opens is not None and (lot.target or self.span.start) <= opens


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a recipe with where it comes from. `typical` is text for named choices only."""

    crop: str
    parameter: str
    typical: float | str
    unit: str
    basis: Literal["published", "derived", "practice", "house"]
    source: str
    locator: str = ""
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Recipe:
    """All requirements of a lot's crop, class and cultivar. Units stand beside each field."""

    crop: str
    bloom_class: BloomClass | None
    cultivar: str | None
    cold_min: float  # weeks
    cold_target: float  # weeks
    cold_max: float  # weeks
    cold_curve: str  # name of the nodes of the cold credit
    rooting: float  # weeks at rooting_at
    rooting_at: float  # °C
    cooled_at: float  # °C, once rooted
    kept_at: float  # °C, once shoots show in the cooler
    sprouting: float  # weeks of cold until shoots are about 2.5 cm
    precooled_max: float  # weeks
    store_at: float  # °C, of the dry bulbs until potting
    pot_by: float  # weeks that they bear dry once they are in hand
    potted_wait: float  # days that they bear potted and warm before the cold
    earliest: float  # weeks from 1 September until it blooms at the earliest, without cold before it came; 0: no limit
    base: float  # °C
    cap: float  # °C
    reference: float  # °C
    bench_days: float  # days at reference after cold_target
    bench_days_min: float  # days at reference
    days_saved: float  # days at reference per extra week of cold
    line_from: (
        float  # weeks of cold between which days_saved is known: outside them it neither saves nor costs more
    )
    line_to: float  # weeks
    shoots: float  # fraction of need
    bud: float  # fraction of need
    colour: float  # fraction of need
    bench_low: float  # °C
    bench_high: float  # °C
    hold: float  # °C
    hold_max: float  # days
    display_reference: float  # °C
    display_days: float  # days at display_reference
    display_base: float  # °C, of the heat that a flower ages by
    display_longest: float  # days on show, however cold
    frost: float  # °C
    spread: float  # coefficient of variation of the need
    bulbs_per_pot: float
    pot: float  # cm
    figures: Mapping[str, Figure] = field(default_factory=dict, compare=False, repr=False)

    @property
    def needs_cold(self) -> bool:
        return self.cold_max > 0

    @property
    def cold_least(self) -> float:
        """Weeks of cold below which it does not flower: the low of cold_min; cold_min where no low is given."""
        figure = self.figures.get("cold_min")
        return self.cold_min if figure is None or figure.low is None else min(figure.low, self.cold_min)

    @property
    def line(self) -> tuple[float, float]:
        """Weeks of cold between which more of it saves days on the bench; cold_target is always among them."""
        return min(self.line_from, self.cold_target), max(self.line_to, self.cold_target)

    def beyond_line(self, cold_weeks: float) -> float:
        """Weeks by which that much cold lies outside what days_saved is known for; 0 inside."""
        low, high = self.line
        return max(low - cold_weeks, cold_weeks - high, 0.0)

    @property
    def display_life(self) -> float:
        """Heat [°C·d] above `display_base` from bloom to fade."""
        return self.display_days * (self.display_reference - self.display_base)

    @property
    def ageing(self) -> tuple[float, float]:
        """Base [°C] of the heat a flower in bloom ages by, and the least it ages a day [°C·d]: none lasts for ever."""
        return self.display_base, self.display_life / max(self.display_longest, self.display_days)

    def cold_before(self, lot: Lot) -> bool:
        """Whether the bulbs of a lot bring all their cold, and root on the bench: no cooler is asked of the house."""
        wanted = self.cold_target if lot.cold_weeks is None else lot.cold_weeks
        return self.rooting == 0 and 0 < wanted <= self.precooled(lot.precooled_weeks)

    def precooled(self, weeks: float) -> float:
        """Weeks of cold that count, of those that bulbs came with."""
        return min(weeks, self.precooled_max)


PARAMETERS: tuple[str, ...] = tuple(
    f.name for f in fields(Recipe) if f.name not in ("crop", "bloom_class", "cultivar", "figures")
)


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
    days_early: int  # target - the day the typical pot is as it is wanted then
    assumed_days: int  # days of its life whose temperature is not measured
    leaves: date | None = None  # the day it leaves the house; None: it stays until it fades, or is all sold
    gone: tuple[tuple[date, int], ...] = ()  # pots lost and sold by day; `lot.pots` are those that are left
    lifted: tuple[tuple[date, int], ...] = ()  # pots by the day on which others take their places on show
    was_due: tuple[tuple[Event, date], ...] = ()  # moves still to do that were due before, and when

    def pots_on(self, day: date) -> int:
        """The pots that stand somewhere on a day: those left, and those that went only later, less those lifted."""
        away = sum(pots for day_lifted, pots in self.lifted if day_lifted <= day)
        return max(0, self.lot.pots + sum(pots for went, pots in self.gone if day < went) - away)

    def place_on(self, day: date) -> str | None:
        """Where it stands on a day; None: nowhere, or where it is potted."""
        return next((step.place for step in self.steps if day in step.span), None)

    @property
    def ready(self) -> date:
        """The day on which the typical pot reaches the stage that is wanted on the target."""
        return self.bloom if self.lot.target_stage == "bloom" else self.stages[self.lot.target_stage]

    @property
    def bloom_class(self) -> BloomClass | None:
        """The class that the lot states, or else its recipe's."""
        return self.lot.bloom_class or self.recipe.bloom_class

    @property
    def pot_cm(self) -> float:
        """Width of its pots [cm], as stated or else its recipe's."""
        return self.lot.pot_cm or self.recipe.pot

    @property
    def bulbs_per_pot(self) -> float:
        """As stated, or else its recipe's."""
        return self.recipe.bulbs_per_pot if self.lot.bulbs_per_pot is None else self.lot.bulbs_per_pot

    @property
    def bench_days(self) -> int:
        """Days on a bench before its bloom."""
        return sum(step.span.days for step in self.steps if step.step == "bench")

    @property
    def days(self) -> dict[Event, date]:
        """The days of its life by what happens on them, in order; one that does not come is missing."""
        of: dict[Event, date | None] = {
            "potted": self.potting, "cooler in": self.cooler_in, "rooted": self.rooted, "brought in": self.bring_in,
            **{event: self.stages.get(event) for event in STAGE_EVENTS}, "set out": self.install, "faded": self.fade,
        }  # fmt: skip
        return {event: day for event, day in of.items() if day is not None}

    @property
    def phases(self) -> tuple[Step, ...]:
        """The steps as they are drawn and counted, where it does not matter which show was first."""
        return tuple(replace(step, step="show") if step.step == "on show" else step for step in self.steps)


@dataclass(frozen=True, slots=True)
class Unplanned:
    """A lot that cannot be planned, why, and the earliest bloom that is possible for it."""

    lot: Lot
    reason: str
    earliest: date | None  # None: not known, the reason says what is missing
    lost: date | None = None  # the day by which all its pots were lost; None: they are not
    too_early: bool = False  # whether its kind does not bloom as early as that, whenever it is started


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
    cautions: tuple[str, ...] = ()  # keys of forcing.engine.work.tasks.CAUTIONS
    state: TaskState = "planned"
    was_due: Day | None = None  # the day on which it should have been done; None: no other than `date`


@dataclass(frozen=True, slots=True)
class RoundWork:
    """One thing of the daily round in a place."""

    place: str
    work: str
    every: tuple[int, ...] | int  # weekdays (0 = Monday), or every how many days
    visits: tuple[tuple[date, float], ...]  # days, and the hours of each


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
    rounds: tuple[RoundWork, ...] = ()

    def lot(self, name: str) -> LotPlan:
        """The plan of the lot of that name. Raises KeyError where it is not planned."""
        return {planned.lot.name: planned for planned in self.lots}[name]
