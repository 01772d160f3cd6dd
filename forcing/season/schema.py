"""The tables and columns of a season: the one place that knows their names, types, units and words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from forcing.dates import DateOrder
from forcing.engine.work.tasks import CAUTIONS
from forcing.model import (
    CLASSES,
    PARAMETERS,
    CompanionStart,
    Event,
    Habit,
    PlaceKind,
    Position,
    Shape,
    TargetStage,
)
from forcing.recipes.book import COMPANION_ONLY, COMPANION_PARAMETERS, NAMED
from forcing.recipes.book import COMPANION_UNITS as COMPANION_UNITS
from forcing.recipes.book import UNITS as BULB_UNITS
from forcing.science.frost import COVERS
from forcing.season.notation import ROOM_UNIT, SEASON_UNIT, NumberStyle, measured
from forcing.text import fold_word
from forcing.units import Measures, TemperatureUnit, show_temperature, told

Kind = Literal[
    "name",  # a short text that other tables may refer to
    "note",  # free text for people
    "date",
    "box",  # length x width, or length x width x depth
    "target",  # a date, or an ISO week whose Monday is meant
    "number",
    "count",  # a whole number
    "fraction",  # 0.8, or a cell shown as 80 %
    "percent",  # 5 means 5 %
    "temperature",  # in the season's unit
    "difference",  # of temperatures, in the season's unit: 9 °F is 5 °C
    "word",  # one of `words`
    "figure",  # a number or a name: which one depends on the parameter beside it
    "weekdays",  # Mon-Fri
    "holidays",  # dates and country codes
    "repeat",  # weekdays, or an interval: Mon, Thu; 3 days; 2 weeks
    "duty",  # weekdays and who: Mon-Fri AB; Sat CD
    "day and chance",  # 2027-05-10, or 2027-05-10, 10 %
    "day or name",  # a date, or a short text that another table may define
    "value",  # of a season item: its kind is the item's
]

NEAR_LIMIT = 1000  # candidates beyond which near matches are not searched for: it would take minutes


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table, or one item of the season table. Limits are inclusive."""

    name: str
    kind: Kind
    help: str  # one or two plain sentences
    unit: str = ""
    words: tuple[str, ...] = ()  # allowed words; for kind "name" words that are offered, not required
    also: tuple[tuple[str, str], ...] = ()  # (other spelling, word)
    heads: tuple[str, ...] = ()  # other header words that mean this column
    names: str = ""  # the table whose names are offered
    required: bool = False
    default: str = ""  # what an empty cell means, in words
    lowest: float | None = None
    highest: float | None = None
    width: int = 12  # of the sheet's column, in characters
    field: str = ""  # of the noun in forcing.model, where it is not the name with underscores

    @property
    def stored(self) -> str:
        """The field of the noun that holds it."""
        return self.field or self.name.replace(" ", "_")

    def prompt(self) -> str:
        """Help, unit and what empty means, in a few plain sentences (under 255 characters)."""
        parts = [self.help]
        if self.unit:
            parts.append(f"Unit: {self.unit}.")
        if self.required:
            parts.append("Must be filled.")
        elif self.default:
            parts.append(f"Empty: {self.default}.")
        return " ".join(parts)


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the season. `key` names the column whose entries must all differ, if there is one."""

    name: str
    help: str
    columns: tuple[Column, ...]
    key: str = ""

    def column(self, name: str) -> Column:
        """The column of that name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"{self.name} has no column {name!r}")


def near(text: str, candidates: Iterable[str]) -> str | None:
    """The candidate that `text` was most likely meant to be, or None where nothing is close."""
    by_plain: dict[str, str] = {}
    for candidate in candidates:
        by_plain.setdefault(fold_word(candidate), candidate)
        if len(by_plain) > NEAR_LIMIT:
            return None
    close = difflib.get_close_matches(fold_word(text), by_plain, n=1, cutoff=0.7)
    return by_plain[close[0]] if close else None


def did_you_mean(text: str, candidates: Iterable[str], otherwise: str) -> str:
    """A hint: the near match as a question, or what else to do."""
    match = near(text, candidates)
    return f"Did you mean {match}? {otherwise}" if match else otherwise


_C = Column


def _cm(name: str, help: str) -> Column:
    return measured(Column(
        name, "number", f"{help} Inside measure.", unit="cm", default="not stated", lowest=1, highest=10_000
    ))  # fmt: skip


MOST_REPEATS = 60  # of one row of lots: more than a week's lot for a year
_NOTE = _C("note", "note", "For people; the plan does not use it.", heads=("notes", "comment"), width=26)
_AMERICAN = (("color", "colour"),)
_AT_TOP = "it must be stated at the top of the file"

PARAMETER_HELP: Mapping[str, str] = MappingProxyType({
    "cold_min": "cold-weeks below which the plan warns of short stems; below its low the lot is refused",
    "cold_target": "cold-weeks to plan on",
    "cold_max": "cold-weeks above which the plan warns; 0 for a crop without cold",
    "cold_curve": "which curve turns a temperature into cold credit",
    "rooting": "to root at rooting_at",
    "rooting_at": "of the cooler while the lot roots",
    "cooled_at": "of the cooler once it has rooted",
    "kept_at": "of the cooler once shoots show",
    "sprouting": "of cold until shoots are about 2.5 cm",
    "precooled_max": "of dry cold before potting that count; those above it earn nothing",
    "store_at": "of the dry bulbs until they are potted",
    "pot_by": "that the bulbs bear dry once they are in hand",
    "potted_wait": "that potted bulbs bear in the warm before the cold",
    "earliest": "from 1 September to the first bloom that can be had without bulbs cooled before; 0: no limit",
    "base": "below which the bench heat is nothing",
    "cap": "above which more warmth adds no heat",
    "reference": "at which bench_days was found",
    "bench_days": "bring in to bloom at reference, after cold_target",
    "bench_days_min": "floor of bench_days, however long the cold",
    "days_saved": "off bench_days for each cold-week above cold_target",
    "line_from": "least cold-weeks that days_saved is known for: with fewer it costs no more days",
    "line_to": "most cold-weeks that days_saved is known for: with more it saves no more days",
    "shoots": "of the heat needed when shoots are up",
    "bud": "of the heat needed when buds show",
    "colour": "of the heat needed when buds colour",
    "bench_low": "lowest safe on the bench",
    "bench_high": "highest safe on the bench",
    "hold": "of a cold hold once buds colour",
    "hold_max": "longest cold hold",
    "display_reference": "at which display_days was found",
    "display_days": "bloom to fade at display_reference",
    "display_base": "below which warmth does not age a flower",
    "display_longest": "longest on show, however cold",
    "frost": "lowest it stands, hardened and uncovered",
    "spread": "coefficient of variation of the heat needed",
    "bulbs_per_pot": "bulbs in one pot",
    "pot": "width of the pot",
})  # fmt: skip

# Parameters of companions that no bulb has; a companion's base, cap, frost, spread and pot mean the same as a bulb's.
COMPANION_HELP: Mapping[str, str] = MappingProxyType({
    "sow_to_transplant": "companions: sowing to transplanting, raised warm",
    "transplant_to_finish": "companions: transplanting to finish at finish_reference",
    "finish_reference": "companions: at which transplant_to_finish was found",
    "pinch": "companions: after transplanting; 0 is not pinched",
    "harden_days": "companions: of hardening off, 14 or more",
    "germinate_at": "companions: at which seed comes up",
    "germination": "companions: of the seed that comes up",
    "comes_up": "companions: sowing to the day on which gaps are counted",
    "seeds_per_cell": "companions: seeds sown in one cell of a tray",
    "cells_per_tray": "companions: cells of one of the trays it is raised in",
    "prick_out": "companions: sowing in an open tray to pricking out into cells; 0 is sown in cells",
    "feed": "companions: between two feeds, from transplanting to hardening off; 0 is not fed",
    "deadhead": "companions: between two times of taking off what has faded; 0 is not done",
    "cool_below": "companions: mean of a day that counts as cool",
    "cool_days": "companions: cool days its flowers need",
    "warm_above": "companions: mean of a day that counts as too warm for its flowers",
    "warm_days": "companions: days so warm after which it flowers no more",
})  # fmt: skip
PARAMETER_WORDS: tuple[str, ...] = (
    *PARAMETERS, *(name for name in COMPANION_PARAMETERS if name in COMPANION_ONLY),
)  # fmt: skip
_UNITS: Mapping[str, str] = MappingProxyType({**COMPANION_UNITS, **BULB_UNITS})

SEASON_ITEMS: tuple[Column, ...] = (
    _C("title", "name", "Name of the show, printed on every sheet.", default="Spring show and the year"),
    _C("opens", "date", "First day the show is open: everything is counted back from it.",
       default="the first target bloom of the lots"),
    _C("closes", "date", "Last day the show is open. That day is part of the show.", default="the last fade"),
    _C("temperature unit", "word", "Unit of every temperature in this file: C or F.", words=("C", "F"),
       also=(("°C", "C"), ("°F", "F"), ("Celsius", "C"), ("Fahrenheit", "F")), default="C",
       heads=("unit",)),
    _C("measures", "word", "Measures of this file and of every sheet: metric, or US for inches, quarts, cubic and "
       "square feet. A header that names a unit, such as pot in or length cm, is taken at its word.",
       words=get_args(Measures), also=(("American", "US"), ("USA", "US")), default="metric"),
    _C("date order", "word", "How dates are typed in figures, such as 4/3/2027: day first, month first or year first. "
       "Cells with a date format, and 2027-03-04, are read whatever it says.", words=get_args(DateOrder),
       also=(("DMY", "day first"), ("DD/MM/YYYY", "day first"), ("MDY", "month first"), ("MM/DD/YYYY", "month first"),
             ("YMD", "year first"), ("YYYY/MM/DD", "year first")),
       default="dates are written year-month-day, such as 2027-03-04"),
    _C("number style", "word", "What a comma between digits means: with comma for thousands 1,200 is twelve hundred; "
       "with comma for decimals 12,5 is twelve and a half, and 1.200 twelve hundred.", words=get_args(NumberStyle),
       default="numbers are written without a mark between thousands, with a point before decimals"),
    _C("working days", "weekdays", "Days on which staff move pots, such as Mon-Fri, Mon-Sat, Mon Wed Fri, "
       "Sun-Thu, every day.", default="Mon-Fri"),
    _C("holidays", "holidays", "Days without staff: dates such as 2026-12-25, stretches such as "
       "2026-12-24 to 2027-01-01, country codes such as GB or US-CT; several with commas between.",
       default="none"),
    _C("looks", "weekdays", "Days on which the lots are walked past and new stages written down, such as Mon, Thu: a "
       "stage seen on one of them came after the one before.", default="as the days of logged stages show"),
    _C("confidence", "fraction", "Chance, such as 0.8, with which a lot is to be in bloom on its target; a lot or a "
       "display may state its own. 0.5 plans on the typical pot.", default="0.9 for lots that open a display, 0.5 for "
       "others", lowest=0.01, highest=0.99),
    _C("bulbs in hand", "date", "First day on which potting is possible.", default="any day"),
    _C("hours per week", "number", "Staff hours there are for this work.", unit="hours", default="no limit",
       lowest=0.5, highest=100_000),
    _C("cold for hours", "word", "Whether a lot may get more than half a week less cold, or more, than is best for it, "
       "to keep a busy week within the staff hours.", words=("yes", "no"), default="no"),
    _C("hours per day", "number", "Staff hours of one day: potting and setting out are spread so that none takes more.",
       unit="hours", default="a third of the hours per week", lowest=0.5, highest=100_000),
    _C("loss %", "percent", "Pots expected to be lost of every hundred potted.", unit="%", default="0",
       lowest=0, highest=90, heads=("loss", "loss percent")),
    _C("paper", "word", "Paper of the printed sheets.", words=("A4", "Letter"),
       also=(("US Letter", "Letter"),), default="A4"),
    _C("order weeks", "count", "Weeks before sowing that orders of seed and plugs go out; bulbs are never ordered "
       "later than so long before they are potted.", unit="weeks", default="12", lowest=0, highest=104),
    _C("daily round", "word", "Whether places without rows in rounds are walked in the usual way of their kind: "
       "watering, airing, readings, pests, deadheading. Its hours count.", words=("usual", "none"), default="none"),
    _C("trolley pots", "number", "Pots 15 cm wide that one trolley carries.", unit="15 cm pots", default="40",
       lowest=1, highest=10_000),
    _C("bulb order weeks", "count", "Weeks before the bulbs are in hand, or before the first potting, by which all "
       "bulbs are ordered.", unit="weeks", default="16", lowest=0, highest=104),
    _C("wanted cover", "fraction", "Share of its pots, such as 0.6, that a display is to have in bloom on every day.",
       default="0.6", lowest=0.01, highest=1),
    _C("frost margin", "difference", "How much colder than the forecast leaves may become on a clear calm night: a "
       "difference, not a temperature.", unit=SEASON_UNIT, default="that of the frost guides, 2.2 °C or 4 °F",
       lowest=0, highest=36),
    _C("last frost", "day and chance", "Last day with a frost in spring as you reckon it, such as 2027-05-10; with the "
       "chance of a later one behind it: 2027-05-10, 10 %.", default="nights are judged by minima or normals"),
    _C("temperature step", "difference", "By how much, or by how many times that, a bench is set warmer or cooler: a "
       "difference, not a temperature.", unit=SEASON_UNIT, default="1 °C or 2 °F", lowest=0.1, highest=10),
    _C("outdoor lift", "difference", "How much warmer than outdoors an aired house stays: no bench can be kept cooler "
       "than that. A difference, not a temperature.", unit=SEASON_UNIT, default="2 °C or 4 °F", lowest=0,
       highest=36),
    _C("duty", "duty", "Who sees to covers on frost nights, by days of the week: names or initials behind the days, "
       "such as Mon-Fri AB; Sat, Sun CD.", default="not stated: the sheet leaves room to write it"),
    _C("cover cloth", "word", "What displays are covered with on frost nights.",
       words=tuple(cover.kind for cover in COVERS),
       also=tuple((told(cover.kind, "C", "US"), cover.kind) for cover in COVERS),
       default="not stated: whether it is enough is not judged"),
)  # fmt: skip

_CROP = _C("crop", "name", "Crop as the recipes name it: tulip, hyacinth, narcissus, crocus ...",
           required=True, names="crop", width=20)  # fmt: skip
_CLASS = _C("class", "word", "Early, mid or late bloom.", words=CLASSES,
            also=(("middle", "mid"),), default="the crop's own figures", width=9, field="bloom_class")  # fmt: skip
_CULTIVAR = _C("cultivar", "name", "Name of the cultivar.", default="not stated", width=24)

TABLES: tuple[Table, ...] = (
    Table("season", "What holds for the whole season: one item in each row.", (
        _C("item", "name", "What is stated.", required=True, width=20),
        _C("value", "value", "The answer. Leave it empty to take the default.", width=30),
        _C("note", "note", "For people; the plan does not use it.", heads=("notes", "comment"), width=84),
    ), key="item"),
    Table("places", "Every cooler, bench, frame and outdoor site, with its room and its temperatures.", (
        _C("place", "name", "Your name for the place; other sheets use it.", required=True, field="name", width=24),
        _C("kind", "word", "What the place is. A site is outdoors, or the hall of the show.",
           words=get_args(PlaceKind), required=True),
        _C("pots", "number", "Room, counted in pots 15 cm wide; a pot twice as wide takes four times the room.",
           unit=ROOM_UNIT, default="no limit", lowest=0, highest=10_000_000),
        _C("day", "temperature", "Temperature kept by day. It is kept as stated.", unit=SEASON_UNIT,
           default="same as night; a cooler with neither is given a programme by the plan"),
        _C("night", "temperature", "Temperature kept by night.", unit=SEASON_UNIT, default="same as day"),
        _C("lowest", "temperature", "Lowest temperature it can be kept at.", unit=SEASON_UNIT,
           default="no limit"),
        _C("highest", "temperature", "Highest temperature it can be kept at.", unit=SEASON_UNIT,
           default="no limit"),
        _C("zone", "name", "Name of the heating that it shares with other benches: they can only be set together.",
           default="it is set by itself", width=16),
        _NOTE,
    ), key="place"),
    Table("setpoints", "Dated temperatures of a place: each holds until the next one.", (
        _C("place", "name", "A place of the places sheet.", required=True, names="places", width=24),
        _C("from", "date", "First day of these temperatures.", required=True, field="start"),
        _C("day", "temperature", "Temperature by day.", unit=SEASON_UNIT, default="same as night"),
        _C("night", "temperature", "Temperature by night.", unit=SEASON_UNIT, default="same as day"),
        _NOTE,
    )),
    Table("normals", "Usual weather of an outdoor site, month by month: used where nothing is measured.", (
        _C("place", "name", "An outdoor site of the places sheet.", required=True, names="places", width=24),
        _C("month", "count", "Month by its number: 1 is January.", required=True, lowest=1, highest=12),
        _C("low", "temperature", "Usual daily low of that month.", unit=SEASON_UNIT, required=True),
        _C("high", "temperature", "Usual daily high of that month.", unit=SEASON_UNIT, required=True),
        _NOTE,
    )),
    Table("lots", "One row for each lot: pots of one cultivar, potted and moved together.", (
        _C("lot", "name", "Your name for the lot, such as T1; it is printed on labels and sheets.", field="name",
           required=True, width=10),
        _CROP, _CLASS, _CULTIVAR,
        _C("pots", "count", "Number of pots.", unit="pots", lowest=1, highest=10_000_000, width=9,
           default="as many as plantings and the loss ask for; must be filled for a lot that is not planted"),
        measured(_C("pot cm", "number", "Width of the pot at its rim.", unit="cm", default="as the recipe",
                     lowest=3, highest=200, width=9)),
        measured(_C("box cm", "box", "Where it grows in boxes: length x width, such as 60x40, or with the depth, "
                    "60x40x18. Its pots are boxes then, and bulbs per pot those of a box.", unit="cm",
                    default="it grows in pots", lowest=3, highest=300)),
        _C("bulbs per pot", "count", "Bulbs in each pot.", unit="bulbs", default="as the recipe", lowest=1,
           highest=10_000, width=9),
        _C("target bloom", "target", "Day on which the lot is to be in bloom; or the week, such as 2027-W03: then by "
           "its Monday.", field="target",
           default="opening day of its display, or of the show"),
        _C("target stage", "word", "Stage that it is to have reached on its target: bud and colour are before bloom.",
           words=get_args(TargetStage), also=_AMERICAN, default="bloom"),
        _C("repeat", "count", "How many times it is grown, for targets one after the other: lots of their own, named "
           "-1, -2 and so on after it, of so many pots each.", unit="times", default="once", lowest=1,
           highest=MOST_REPEATS, width=9),
        _C("every", "count", "Weeks between those targets, the first being the one stated.", unit="weeks", default="1",
           lowest=1, highest=52, width=9),
        _C("cold weeks", "number", "Weeks of cold you want it to have.", unit="weeks",
           default="chosen by the plan", lowest=0, highest=60, width=11),
        _C("precooled weeks", "number", "Weeks of cold the bulbs have had before you pot them; those above the "
           "crop's precooled_max earn nothing.", unit="weeks",
           default="0", lowest=0, highest=60, width=11),
        _C("in hand", "date", "First day on which its bulbs can be potted.", default="the season's bulbs in hand"),
        _C("cooler", "name", "Place for the cold.", default="chosen by the plan", names="places", width=16),
        _C("cooler after rooting", "name", "A colder place that it is moved to once it has roots.",
           default="chosen by the plan where the cooler is, and where it pays its hours; else it stays in its cooler",
           names="places", width=16),
        _C("bench", "name", "Place for forcing.", default="chosen by the plan", names="places", width=16),
        _C("display", "name", "Display it is for.", default="none", names="displays", width=18),
        _C("install", "date", "Day on which it is set out.", default="chosen by the plan"),
        _C("leaves", "target", "Day on which it leaves the house, sold or sent away; or the week, such as 2027-W03: "
           "then on its Monday. From then on it takes no room.",
           heads=("dispatch",), default="it stays until it fades"),
        _C("hold days", "count", "Days it is to be held cold once its buds colour.", unit="days",
           default="as many as it is brought in sooner for sureness, within the crop's hold_max; none at a confidence "
           "of 0.5", lowest=0, highest=365, width=9),
        _C("hold at", "name", "Cool place where it is held once its buds colour.",
           default="where it was cold last, or another cooler as cold as the crop is held", names="places",
           width=16),
        _C("confidence", "fraction", "Chance, such as 0.9, with which it is to be in bloom on its target.",
           default="as its display, or the season", lowest=0.01, highest=0.99, width=11),
        _C("harden at", "name", "Place where it is hardened off.", default="not hardened off",
           names="places", width=16),
        _C("harden days", "count", "Days it is hardened off; 0 where it is not to be.", unit="days",
           default="0; the plan says what some would cost, where nights may freeze", lowest=0, highest=365,
           width=9),
        _C("split", "word", "Whether the plan may grow it in two places, as lots of their own named a and b after it.",
           words=("yes", "no"), default="no", width=9),
        _NOTE,
    ), key="lot"),
    Table("displays", "Like containers at one site that must be in colour together.", (
        _C("display", "name", "Your name for the display.", required=True, field="name", width=24),
        _C("containers", "count", "Number of like containers.", unit="containers", required=True, lowest=1,
           highest=1_000_000),
        _C("site", "name", "A place of the places sheet: where the containers stand.", required=True,
           names="places", width=24),
        _C("opens", "date", "First day on show.", default="as the season"),
        _C("closes", "date", "Last day on show. That day is part of the show.", default="as the season"),
        _C("confidence", "fraction", "Chance, such as 0.9, with which its lots are to be in bloom on their targets.",
           default="as the season", lowest=0.01, highest=0.99),
        _C("swap at", "fraction", "Share of its days in bloom that a pot may have left when another takes its place. "
           "More, such as 0.5: colour is renewed sooner, and what is lifted still in bloom is moved elsewhere.",
           default="0.2", lowest=0, highest=1),
        measured(_C("litres", "number", "Potting mix in each container.", unit="litres",
                     default="from shape and measures, else not counted", lowest=0, highest=100_000)),
        measured(_C("cover m2", "number", "Cloth over one container on a frost night, down to the ground all round.",
                     unit="m²", default="from measures and heights, else not known", lowest=0.01, highest=10_000)),
        _C("shape", "word", "Shape of the container; its inside measures stand beside.", words=get_args(Shape),
           default="not stated"),
        _cm("length cm", "Along the rim; of a round one its diameter."),
        _cm("width cm", "Across the rim of a box; of a barrel its diameter half way up."),
        _cm("depth cm", "From rim to base."),
        _cm("base length cm", "Along the base; of a round one its diameter there."),
        _cm("base width cm", "Across the base of a tapered box."),
        _NOTE,
    ), key="display"),
    Table("plantings", "What stands in each container of a display.", (
        _C("display", "name", "A display of the displays sheet.", required=True, names="displays", width=24),
        _C("lot or companion", "name", "A lot of the lots sheet or a companion of the companions sheet.",
           required=True, heads=("lot", "companion"), width=24, field="item"),
        _C("pots per container", "count", "Pots in each container.", field="per_container", unit="pots", required=True,
           lowest=1, highest=100_000),
        _C("position", "word", "Where in the container, as visitors see it; seen from all round, back is its middle "
           "and edge its rim.", words=get_args(Position), default="anywhere: by height", width=11),
        measured(_C("height cm", "number", "Height in flower, above the mix.", unit="cm",
           default="as usual for the crop, where that is known", lowest=1, highest=500, width=10)),
        _C("habit", "word", "How it grows; trailing ones are planted at the edge.", words=get_args(Habit),
           default="not stated", width=11),
        _C("colour", "name", "Its colour in your own word, such as white: neighbours are mixed by it.",
           heads=("color",), default="by name", width=14),
        _C("in pot", "word", "Whether it stays in its pot within the container.", words=("yes", "no"), default="no",
           width=9),
        _C("counts", "word", "Whether the colour of a companion counts toward the wanted cover.", words=("yes", "no"),
           default="yes where no bulbs are planted", width=9),
        _NOTE,
    )),
    Table("companions", "Cool-season annuals that stand beside the bulbs.", (
        _C("companion", "name", "Your name for it.", required=True, field="name", width=24),
        _C("crop", "name", "What is grown, such as viola.", required=True, names="companion crop", width=20),
        _C("from", "word", "What it is raised from here: seed, or plugs or plants that are bought.", field="start",
           words=get_args(CompanionStart), also=(("seeds", "seed"), ("plugs", "plug"), ("plants", "plant")),
           default="seed", width=10),
        _C("as", "name", "A kind that it is like: its figures stand in for those that are not known of the crop.",
           field="like", names="companion crop", default="viola, where figures are missing", width=16),
        _C("pots", "count", "Number of pots.", unit="pots", lowest=1, highest=10_000_000,
           default="as many as plantings and the loss ask for; must be filled for one that is not planted"),
        _C("ready", "date", "Day it must be ready to set out.", default="not stated"),
        _C("place", "name", "Place where it grows on.", default="not stated", names="places", width=24),
        _C("trays at", "name", "Place where its trays take room, from sowing to transplanting.", names="places",
           default="where it grows on, if that has heat; else apart, and in no place's room", width=24),
        _NOTE,
    ), key="companion"),
    Table("log", "What has happened: one row for each lot and event.", (
        _C("date", "date", "Day it happened.", required=True),
        _C("lot", "name", "A lot of the lots sheet, or a companion; several with commas between.", required=True,
           names="lots", width=14),
        _C("event", "word", "What happened; moved is to another place of the same kind, looked is seen without a new "
           "stage.", words=get_args(Event), also=_AMERICAN, required=True, width=14),
        _C("place", "name", "Where the lot went, or is.", default="not stated", names="places", width=24),
        _C("pots", "count", "Pots this is about; of several lots leave it empty.", unit="pots",
           default="all pots of the lot", lowest=0,
           highest=10_000_000),
        _C("hours", "number", "Staff hours that it took; of several lots, of them all together.", unit="hours",
           default="not logged", lowest=0, highest=10_000),
        _C("note", "note", "Anything worth keeping; it is printed with the review.",
           heads=("notes", "comment"), width=40),
    )),
    Table("readings", "Temperatures of a place, one row for each day: low and high, or the mean.", (
        _C("place", "name", "A place of the places sheet.", required=True, names="places", width=24),
        _C("date", "date", "Day of the reading.", required=True),
        _C("low", "temperature", "Lowest of the day.", unit=SEASON_UNIT, default="mean must be given"),
        _C("high", "temperature", "Highest of the day.", unit=SEASON_UNIT, default="mean must be given"),
        _C("mean", "temperature", "Mean of the day.", unit=SEASON_UNIT, default="middle of low and high"),
        _C("kind", "word", "A reading, or a forecast.", words=("measured", "forecast"), default="measured"),
        _NOTE,
    )),
    Table("loggers", "What the files of the readings folder mean: exports of temperature loggers.", (
        _C("file", "name", "Name of the file in the folder readings; * stands for any letters.", required=True,
           width=28),
        _C("place", "name", "A place of the places sheet: where the logger hangs.", names="places",
           default=_AT_TOP, width=24),
        _C("unit", "word", "Unit of the temperatures in the file: C or F.", words=("C", "F"),
           also=(("°C", "C"), ("°F", "F"), ("Celsius", "C"), ("Fahrenheit", "F")), default=_AT_TOP, width=9),
        _C("zone", "name", "Clock of the stamps: a zone such as Europe/London, an offset such as UTC+1, or: "
           "local clock without changes.", default=_AT_TOP, width=26),
        _C("stamp", "word", "What a stamp means: instant, a reading at that moment; start or end, of the time "
           "it averages.", words=("instant", "start", "end"), default=_AT_TOP),
        _C("delimiter", "word", "What parts the values of a line.", words=("comma", "semicolon", "tab"),
           also=((",", "comma"), (";", "semicolon")), default=_AT_TOP),
        _C("decimal mark", "word", "What stands before the decimals.", words=("point", "comma"),
           also=((".", "point"), (",", "comma")), default=_AT_TOP),
        _C("time column", "name", "Header of the column with the stamp, or its number; two columns with + "
           "between: Date + Time.", default=_AT_TOP, width=20),
        _C("temperature column", "name", "Header of the column with the temperature, or its number.",
           default=_AT_TOP, width=20),
        _C("date order", "name", "How stamps are written, such as YYYY-MM-DD HH:MM, DD/MM/YYYY HH:MM:SS or "
           "MM/DD/YYYY hh:mm AM/PM.", default=_AT_TOP, width=26),
        _C("day zone", "name", "Clock whose midnights part the days, where it is not that of the stamps.",
           default="as zone", width=20),
        _NOTE,
    )),
    Table("crops", "Your own figures: they win over the recipes that come with the program.", (
        _CROP, _CLASS, _CULTIVAR,
        _C("parameter", "word", "Which figure of the recipe; the words sheet says what each one means.",
           words=PARAMETER_WORDS, also=_AMERICAN, required=True, width=18),
        _C("typical", "figure", "The figure to plan on. Temperatures are in the season's unit.",
           required=True),
        _C("low", "figure", "Lowest likely.", default="not stated"),
        _C("high", "figure", "Highest likely.", default="not stated"),
        _C("source", "name", "Where the figure comes from.", default="not stated", width=30),
        _NOTE,
    )),
    Table("minutes", "Staff time of each kind of task.", (
        _C("task", "name", "Name of the task, as the task sheets print it.", required=True, names="task",
           width=20),
        _C("minutes per pot", "number", "Minutes for each pot.", field="per_pot", unit="minutes", default="0",
           lowest=0, highest=1440, heads=("per pot",)),
        _C("minutes per box", "number", "Minutes for each box of lots that grow in boxes.", field="per_box",
           unit="minutes", default="as for a pot", lowest=0, highest=1440),
        _C("minutes each time", "number", "Minutes each time it is done, whatever the number of pots.",
           field="each_time", unit="minutes", default="0", lowest=0, highest=10_080, heads=("each time",)),
        _NOTE,
    ), key="task"),
    Table("jobs", "Other work with a lead time, such as casting containers: one row for each step of a job.", (
        _C("job", "name", "Name of the job; its steps make a chain.", required=True, field="name", width=20),
        _C("step", "name", "What is done. Curing and leaching of cast containers are steps of their own.",
           required=True, width=20),
        _C("days before", "count", "Calendar days from the start of the step to the opening, or to what it is counted "
           "to.", unit="days", required=True, lowest=0, highest=3660),
        _C("counted to", "day or name", "Display to whose opening the days before are counted, or a date such as "
           "2027-03-01.", default="as the other steps of its job; where none of them says, the first day of the show",
           names="displays", width=20),
        _C("duration days", "count", "Calendar days it lasts.", unit="days", lowest=1, highest=3660,
           default="1; of a step with every, until the opening", heads=("duration",)),
        _C("every", "repeat", "When the step is done again while it lasts: weekdays such as Mon, Thu, or an interval "
           "such as 3 days or 2 weeks.", default="it is done once"),
        _C("hours", "number", "Staff hours of the whole step; of a step with every, of each time.", unit="hours",
           default="0: only waiting", lowest=0, highest=100_000),
        _C("caution", "name", f"Cautions to print with it: {', '.join(CAUTIONS)}; several with commas between.",
           default="none; work with cement always has its own", width=24),
        _C("place", "name", "Where it is done, of the places sheet: what cures outdoors is judged by its nights.",
           default="not stated", names="places", width=24),
        _NOTE,
    )),
    Table("rounds", "The daily round: what is done again and again in a place as long as something stands there.", (
        _C("place", "name", "A place of the places sheet.", required=True, names="places", width=24),
        _C("work", "name", "What is done there, such as water and vent.", required=True, width=32),
        _C("every", "repeat", "When: weekdays such as Mon, Thu, or an interval such as 2 days.",
           default="every day, weekends and holidays too"),
        _C("minutes", "number", "Minutes each time.", unit="minutes", default="0", lowest=0, highest=1440),
        _C("minutes per 100 pots", "number", "Minutes more for each hundred 15 cm pots that stand there.",
           field="per_hundred", unit="minutes", default="0", lowest=0, highest=1440),
        _C("from", "date", "First day.", field="start", default="as soon as something stands there"),
        _C("until", "date", "Last day.", default="as long as something stands there"),
        _NOTE,
    )),
    Table("minima", "Lowest temperature of each day in former years: from them come the chances of frost.", (
        _C("place", "name", "An outdoor site of the places sheet.", required=True, names="places", width=24),
        _C("date", "date", "Day of a former year.", required=True),
        _C("low", "temperature", "Lowest of that day.", unit=SEASON_UNIT, default="not read on that day"),
        _NOTE,
    )),
    Table("supplies", "How things to order are sold, and how long they take to come.", (
        _C("item", "name", "A crop, a cultivar, or one of: bulbs, pots, pots 15 cm, trays, labels, mix, seed mix, "
           "cloth, seed, plug, plant.",
           required=True, width=24),
        _C("pack", "number", "How many bulbs, pots, labels, plants, litres or m² are sold together.",
           default="sold singly", lowest=0.001, highest=10_000_000),
        _C("lead weeks", "number", "Weeks from order to delivery.", unit="weeks", lowest=0, highest=200,
           default="the longest stated for its supplier; else bulb order weeks, order weeks or the usual time"),
        _C("supplier", "name", "Who it is ordered from: each has a sheet for each day of ordering.",
           default="not stated", width=24),
        _C("price", "number", "Price of one pack, or of one piece where it is sold singly, in your own money.",
           default="not known", lowest=0, highest=10_000_000),
        _C("size", "name", "Size grade to ask for, such as 12/+ of bulbs.", default="not stated",
           width=10),
        _C("substitute", "name", "What may be sent where it cannot be had.", default="none", width=24),
        _NOTE,
    ), key="item"),
    Table("deliveries", "What has come of what was ordered: one row for each part delivered.", (
        _C("date", "date", "Day it came.", required=True),
        _C("item", "name", "A lot, cultivar or crop, or an item as the orders name it, such as pots 15 cm.",
           required=True, width=24),
        _C("quantity", "number", "How much came that is fit to use, in the unit of the order: bulbs, pots, labels "
           "or litres.", required=True, lowest=0, highest=10_000_000),
        _C("rest", "word", "Whether what is lacking is still coming.", words=("coming", "not coming"), default="coming",
           width=11),
        _NOTE,
    )),
)  # fmt: skip

# The rows of an entry workbook, which is filled in and dropped into the log folder: no table of a season.
ENTRY = Table("entry", "What is expected in a week: one row for each lot and event.", (
    _C("done", "note", "Any mark: it was done on the day expected."),
    _C("done on", "date", "Day it was done, where it was another.", default="the day expected, if it is ticked"),
    _C("lot", "name", "A lot of the lots sheet.", required=True, names="lots"),
    _C("cultivar", "note", "For people."),
    _C("event", "word", "What is expected.", words=get_args(Event), also=_AMERICAN, required=True),
    _C("expected", "date", "Day it is expected."),
    _C("place", "name", "Where the lot goes.", names="places"),
    _C("pots", "count", "Pots this is about.", lowest=0, highest=10_000_000),
    _C("pots lost", "count", "Pots found lost.", lowest=0, highest=10_000_000),
    _C("stage seen", "word", "The stage that was seen, where it is another than the one expected; looked: no new one.",
       words=("shoots", "bud", "colour", "bloom", "looked"), also=_AMERICAN),
    _C("note", "note", "Anything worth keeping.", heads=("notes", "comment")),
))  # fmt: skip

TABLE_NAMES: tuple[str, ...] = tuple(table.name for table in TABLES)
PEOPLE_SHEETS: frozenset[str] = frozenset({"read me", "words"})  # sheets for people: never read
_BY_NAME = {table.name: table for table in TABLES}
_BY_ITEM = {fold_word(word): item for item in SEASON_ITEMS for word in (item.name, *item.heads)}


def table(name: str) -> Table:
    """The table of that name. Raises KeyError."""
    return _BY_NAME[name]


def season_item(text: str) -> Column | None:
    """The season item that a person meant by `text`, or None."""
    return _BY_ITEM.get(fold_word(text))


def is_temperature(parameter: str) -> bool:
    """Whether a recipe parameter is a temperature, and so written in the season's unit."""
    return _UNITS[parameter] == "°C"


def shown_figure(parameter: str, value: float | str, unit: TemperatureUnit) -> str:
    """A figure of a recipe as a person writes it, temperatures in the season's unit."""
    if isinstance(value, str):
        return value
    return show_temperature(value, unit) if is_temperature(parameter) else f"{value:g}"


def is_fraction(parameter: str) -> bool:
    """Whether a recipe parameter is a fraction, so that a cell shown as 20 % means 0.2."""
    return _UNITS[parameter].startswith("fraction")


def is_named(parameter: str) -> bool:
    """Whether a recipe parameter is a name and not a number."""
    return parameter in NAMED


def parameter_unit(parameter: str, measures: Measures = "metric") -> str:
    """The unit in which a season states a recipe parameter."""
    if _UNITS[parameter] == "cm" and measures == "US":
        return "in"
    return SEASON_UNIT if is_temperature(parameter) else _UNITS[parameter]


def tables_markdown() -> str:
    """Every table and column as Markdown, for the documentation."""
    parts = []
    for each in TABLES:
        columns = SEASON_ITEMS if each.name == "season" else each.columns
        first = "item" if each.name == "season" else "column"
        lines = [f"### `{each.name}`", "", each.help, ""]
        lines += [f"| {first} | what it is | kind | unit | empty means |", "|---|---|---|---|---|"]
        lines += [_markdown_row(column) for column in columns]
        parts.append("\n".join(lines))
    lines = ["### Words of `crops.parameter`", "", "| parameter | unit | meaning |", "|---|---|---|"]
    lines += [
        f"| `{name}` | {parameter_unit(name)} | {text} |"
        for name, text in {**PARAMETER_HELP, **COMPANION_HELP}.items()
    ]
    parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


_KIND_WORDS = {
    "box": "length x width",
    "target": "date, or a week",
    "name": "text", "note": "text", "figure": "number or name", "weekdays": "days of the week",
    "repeat": "days of the week, or an interval", "duty": "days of the week and who",
    "holidays": "dates and country codes", "day and chance": "date, or date and %", "count": "whole number",
    "percent": "number", "day or name": "date or text",
    "fraction": "number from 0 to 1", "difference": "difference of temperatures",
}  # fmt: skip


def _markdown_row(column: Column) -> str:
    kind = _KIND_WORDS.get(column.kind, column.kind)
    if column.kind == "word" and column.words != PARAMETER_WORDS:
        kind = ", ".join(column.words)
    empty = "must be filled" if column.required else column.default
    return f"| {column.name} | {column.help} | {kind} | {column.unit} | {empty} |"
