"""Typed rows -> the nouns of forcing.model. What only shows when rows are put together is found here."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any, TypeVar, cast, get_args

from forcing.dates import DAY, WEEK, Span, WorkCalendar
from forcing.engine.parts import lot_of
from forcing.errors import Finding, RecipeError
from forcing.model import (
    BloomClass,
    Companion,
    Delivery,
    Display,
    Job,
    LogEntry,
    Lot,
    Minimum,
    Minutes,
    Normal,
    Override,
    Place,
    Planting,
    Reading,
    Round,
    Season,
    Setpoint,
    Shape,
    Supply,
)
from forcing.recipes.book import CompanionBook, RecipeBook
from forcing.science.containers import (
    HEADSPACE_LARGE,
    HEADSPACE_SMALL,
    Container,
    barrel,
    bowl,
    box,
    cylinder,
    frustum,
    tapered_box,
)
from forcing.season.notation import Holidays, expand_holidays, us_name
from forcing.season.rows import Items, Row
from forcing.season.schema import TABLES, Column, did_you_mean
from forcing.season.sift import LONGEST_SHOW, far_days, sifted
from forcing.text import fold, fold_word, singulars
from forcing.units import POT_INCH, Measures, TemperatureUnit, order_unit, show_pot, show_temperature

SHALLOW = 20.0  # cm: containers less deep are small ones for the room left below the rim; practice
_INCHES = re.compile(r"pots ([0-9]+(?:\.[0-9]+)?) ?(?:in\.?|inch|inches|\"|″)")
# Beside crops, cultivars and 'pots 15 cm'.
SUPPLIES = (
    "bulbs", "pots", "boxes", "labels", "trays", "mix", "seed mix", "cloth", "seed", "plug", "plant",
)  # fmt: skip
_ALL = ("length cm", "width cm", "depth cm", "base length cm", "base width cm")
# The measures that a shape needs, in the order in which its function takes them.
_SHAPES: Mapping[Shape, tuple[Callable[..., Container], tuple[str, ...]]] = {
    "box": (box, ("length cm", "width cm", "depth cm")),
    "tapered box": (tapered_box, ("length cm", "width cm", "base length cm", "base width cm", "depth cm")),
    "cylinder": (cylinder, ("length cm", "depth cm")),
    "frustum": (frustum, ("length cm", "base length cm", "depth cm")),
    "bowl": (bowl, ("length cm", "depth cm")),
    "barrel": (barrel, ("length cm", "width cm", "base length cm", "depth cm")),
}
assert set(_SHAPES) == set(get_args(Shape))


def _litres(row: Row, findings: list[Finding], measures: Measures) -> float | None:
    """Litres of one container up to the room for water below its rim; None, and a finding, where they are not said."""
    inside = {name: row.number_of(name) for name in _ALL}
    mix = "quarts" if measures == "US" else "litres"
    shape = cast("Shape | None", row.text("shape"))
    if shape is None:
        given = next((name for name, value in inside.items() if value is not None), None)
        if given:
            findings.append(
                row.finding("shape-missing", given, "a measure of a container whose shape is not stated",
                            f"Write the shape: {', '.join(_SHAPES)}; or the {mix}.", "warning")
            )  # fmt: skip
        return None
    make, needed = _SHAPES[shape]
    missing = [name for name in needed if inside[name] is None]
    names = [us_name(row.table.column(name)) if measures == "US" else name for name in missing]
    if missing:
        findings.append(
            row.finding("measure-missing", missing[0], f"the {mix} of a {shape} cannot be reckoned without "
                        f"its {' and '.join(names)}", f"Measure inside, or write the {mix}.", "warning")
        )  # fmt: skip
        return None
    depth = cast(float, inside["depth cm"])
    headspace = min(HEADSPACE_SMALL if depth < SHALLOW else HEADSPACE_LARGE, depth)
    if shape == "bowl" and depth > cast(float, inside["length cm"]) / 2:
        hint = f"Correct the measures, write another shape, or write the {mix}."
        findings.append(
            row.finding("bowl-deep", "depth cm", "a bowl is no deeper than half its rim is wide", hint, "warning")
        )  # fmt: skip
        return None
    return make(*(inside[name] for name in needed)).litres(headspace)


def pots_missing(rows: Mapping[str, Sequence[Row]]) -> Iterator[Finding]:
    """Lots and companions without pots that no display asks for, so that nothing says how many there are."""
    planted = {fold(row.text("lot or companion") or "") for row in rows.get("plantings", ())}
    for table, key in (("lots", "lot"), ("companions", "companion")):
        for row in rows.get(table, ()):
            if "pots" not in row.cells and "pots" not in row.bad and fold(row.text(key) or "") not in planted:
                hint = "It must be filled, or the plantings table must say how many stand in each container."
                yield row.finding("cell-empty", "pots", "the cell is empty", f"Number of pots. {hint}")


def days_twice(rows: Sequence[tuple[Row, Minimum]]) -> Iterator[Finding]:
    """Former minima of one place and day that stand in two rows."""
    seen: dict[tuple[str, object], Row] = {}
    for row, minimum in rows:
        first = seen.setdefault((minimum.place, minimum.date), row)
        if first is not row:
            yield row.finding("minimum-twice", "date", f"the day of {minimum.place} is in row {first.number} too",
                              "Keep one of the two.")  # fmt: skip


def supplies_are_of_something(season: Season, crops: Iterable[str]) -> Iterator[Finding]:
    """Rows of supplies that name nothing this season could order."""
    known = {fold(name): name for name in (*SUPPLIES, *crops, *(c.name for c in season.companions))}
    if season.cover_cloth:
        known[fold(season.cover_cloth)] = season.cover_cloth
    for crop in (*(lot.crop for lot in season.lots), *(c.crop for c in season.companions)):
        known.setdefault(fold(crop), crop)
    for lot in season.lots:
        if lot.cultivar:
            known.setdefault(fold(lot.cultivar), lot.cultivar)
    usual = f"pots {show_pot(15, season.measures)}"
    for supply in season.supplies:
        words = fold_word(supply.item).split()
        sized = len(words) == 3 and words[0] == "pots" and words[2] == "cm" and _is_number(words[1])
        if fold(supply.item) not in known and not sized:
            otherwise = f"Write a crop, a cultivar, or one of: {', '.join(SUPPLIES)}, {usual}."
            yield Finding("supply-unknown", "warning", "supplies", supply.row, "item",
                          "nothing of that name is ordered this season",
                          did_you_mean(supply.item, (*known.values(), usual), otherwise), supply.item)  # fmt: skip


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


Rows = Mapping[str, Sequence[Row]]
T = TypeVar("T")
_MON_FRI = frozenset(range(5))
ROUNDED = 0.05  # °C: a mean may lie this far outside low and high, each being rounded


@dataclass(frozen=True, slots=True)
class Built:
    """A season put together from its rows."""

    season: Season
    dated: bool  # False: opens or closes is not known, and the days of the show are stand-ins
    findings: tuple[Finding, ...]
    left_out: tuple[
        Finding, ...
    ]  # of rows that cannot be right and are not in the season; the others can be planned


def build_season(items: Items, rows: Rows) -> Built:
    """The season, and all that is wrong where its rows are put together."""
    findings = [*_doubled_names(rows), *pots_missing(rows)]
    span = _season_span(items, rows, findings)
    names = {table.name: spellings(rows, table.name, table.key) for table in TABLES if table.key}
    # Without its days still look at the rows, so that all that is wrong is said at once.
    builder = _Builder(rows, names, span or Span(_NEVER, _NEVER + DAY), findings, stand_in=span is None)
    season = replace(
        builder.build(items), show_stated="closes" in items.rows, opens_stated="opens" in items.rows
    )
    if span is not None:
        findings += far_days(season)
        findings += _nobody_works(items, season)
    season, astray = sifted(season, dated=span is not None)
    return Built(season, span is not None, tuple(findings), (*builder.left_out, *astray))


def spelled_out(rows: Rows) -> tuple[Rows, list[Finding]]:
    """Rows as they are meant: crops by the names of recipes, a row of lots for each time that one is repeated."""
    findings: list[Finding] = []
    rows = _crops_as_one(rows)
    lots = [lot for row in rows.get("lots", ()) for lot in _each_time(row, findings)]
    return ({**rows, "lots": lots} if "lots" in rows else rows), findings


def _each_time(row: Row, findings: list[Finding]) -> Iterator[Row]:
    """The lots of a row, one for each time that it is grown, their days as many weeks apart as it says."""
    times, name = row.count("repeat"), row.text("lot")
    if times is None or name is None:
        if "every" in row.cells and "repeat" not in row.bad:
            hint = "Write in repeat how many times it is grown, or delete the weeks."
            message = "weeks between its targets, but not how many times it is grown"
            findings.append(row.finding("repeat-missing", "every", message, hint, "warning"))
        yield row
        return
    if "target bloom" not in row.cells and "target bloom" not in row.bad:
        hint = "Write the first target; the others follow from it."
        message = "a lot that is grown several times states no target"
        findings.append(row.finding("cell-empty", "target bloom", message, hint))
    apart = WEEK * (row.count("every") or 1)
    for time in range(times):
        days = {c: day + apart * time for c in ("target bloom", "install", "leaves") if (day := row.day(c))}
        yield replace(row, cells={**row.cells, "lot": f"{name}-{time + 1}", **days})


def _crops_as_one(rows: Rows) -> Rows:
    """The rows with crops named as the recipes name them where a plural is written: pansies -> pansy."""
    shipped = {fold(name) for book in (RecipeBook, CompanionBook) for name in book.from_overrides().crops}
    own = {fold(row.text("crop") or "") for row in rows.get("crops", ())}

    def known(crop: str) -> str:
        name = fold_word(crop)
        found = (one for crops in (shipped, own) for one in (name, *singulars(name)) if one in crops)
        one_of_them = next(found, name)
        return crop if one_of_them == name else one_of_them

    columns = {"lots": "crop", "companions": "crop", "crops": "crop", "supplies": "item"}
    return {
        table: [
            replace(row, cells={**row.cells, column: known(text)}) if (text := row.text(column)) else row
            for row in each
        ] if (column := columns.get(table)) else each
        for table, each in rows.items()
    }  # fmt: skip


_NEVER = date(2000, 1, 1)
LASTS = 14  # days that a pot of a crop without a recipe is taken to bloom, until it is planned; practice


def _season_span(items: Items, rows: Rows, findings: list[Finding]) -> Span | None:
    """The days of the show as stated; what is not is taken from the targets of lots and the days of displays."""
    stated = {name: items.values.get(name) for name in ("opens", "closes")}
    if any(name in items.rows and stated[name] is None for name in stated):
        return None  # told at its cell
    opens, closes = cast(date | None, stated["opens"]), cast(date | None, stated["closes"])
    starts = [day for table, column in (("lots", "target bloom"), ("displays", "opens"))
              for row in rows.get(table, ()) if (day := row.day(column))]  # fmt: skip
    first = opens or min(starts, default=None)
    if first is None:
        if items.unstated:
            hint = "Write opens in column item and the day beside it, such as 2027-03-20; or give lots a target bloom."
            findings.append(Finding("item-missing", "error", "season", None, "opens", items.unstated, hint))
        return None
    end = closes + DAY if closes else _last_fade(rows, first)
    if end <= first:
        message = f"closes before it opens on {first}" if opens else f"before the first target, {first}"
        hint = "Correct opens or closes; closes is the last day of the show."
        row = items.rows["closes"]
        findings.append(Finding("closes-first", "error", "season", row, "closes", message, hint, str(closes)))
        return None
    if (end - first).days > LONGEST_SHOW:
        findings.append(_too_long(items, rows, first, end))
        return None
    if opens is None or closes is None:
        findings.append(_from_targets(opens, closes, first))
    return Span(first, end)


def _too_long(items: Items, rows: Rows, first: date, end: date) -> Finding:
    """That the show would last for years: at its closing day, or at the row whose date comes last."""
    message = (
        f"the show would be open for {(end - first).days} days, from {first}; {LONGEST_SHOW} is the most"
    )
    hint = "Check the years."
    if "closes" in items.rows:
        last = str(end - DAY)
        return Finding("show-long", "error", "season", items.rows["closes"], "closes", message, hint, last)
    dated = [(day, row, column) for table, columns in (("lots", ("target bloom",)), ("displays", ("opens", "closes")))
             for row in rows.get(table, ()) for column in columns if (day := row.day(column))]  # fmt: skip
    if "opens" in items.rows or not dated:
        row_number = items.rows.get("opens")
        if not dated or max(dated, key=lambda found: found[0])[0] <= first:
            return Finding("show-long", "error", "season", row_number, "opens", message, hint, str(first))
    _, row, column = max(dated, key=lambda found: found[0])
    return row.finding("show-long", column, message, hint)


def _last_fade(rows: Rows, opens: date) -> date:
    """The day after the last on which a lot or display is to be seen, as far as can be said before it is planned."""
    book = RecipeBook.from_overrides()
    ends = [day + DAY for row in rows.get("displays", ()) for c in ("opens", "closes") if (day := row.day(c))]
    for row in rows.get("lots", ()):
        try:
            kind = cast(BloomClass | None, row.text("class"))
            lasts = book.recipe(row.text("crop") or "", kind, row.text("cultivar")).display_days
        except RecipeError:
            lasts = LASTS
        ends.append((row.day("target bloom") or opens) + DAY * math.ceil(lasts))
    return max(ends, default=opens + DAY)


def _from_targets(opens: date | None, closes: date | None, first: date) -> Finding:
    column, said = "opens", f"the show opens with the first target, on {first}"
    if opens:
        column, said = "closes", "the show lasts until the last fade"
    elif closes is None:
        said += ", and lasts until the last fade"
    hint = "Nothing, where lots are forced for dates of their own; else write opens and closes."
    return Finding("show-from-targets", "note", "season", None, column, f"not stated: {said}", hint)


NOBODY = 120  # days without a working day, beyond which the dates are a slip; practice, no source


def _nobody_works(items: Items, season: Season) -> Iterator[Finding]:
    """That holidays leave no working day for months on end."""
    span = Span(season.span.start - DAY * 730, season.span.end + DAY * 365)
    run = 0
    for day in span:
        run = 0 if season.calendar.works(day) else run + 1
        if run > NOBODY:
            where = "holidays" if "holidays" in items.rows else "working days"
            yield Finding(
                "nobody-works", "error", "season", items.rows.get(where), where,
                f"nobody works from {day - DAY * (run - 1)} for more than {NOBODY} days", "Check the days and years.",
            )  # fmt: skip
            return


def spellings(rows: Rows, table: str, key: str) -> dict[str, str]:
    """Each name of a table as its own table spells it, by what counts of it."""
    spelt: dict[str, str] = {}
    for row in rows.get(table, ()):
        name = row.text(key)
        if name is not None:
            spelt.setdefault(fold(name), name)
    return spelt


def _doubled_names(rows: Rows) -> list[Finding]:
    findings = []
    seen_items: dict[str, tuple[str, int]] = {}  # lots and companions share one column of plantings
    for table in TABLES:
        if not table.key or table.name == "season":
            continue
        seen = seen_items if table.name in ("lots", "companions") else {}
        for row in rows.get(table.name, ()):
            name = row.text(table.key)
            if name is None:
                continue
            if first := seen.get(fold(name)):
                where = f"in row {first[1]}" + ("" if first[0] == table.name else f" of {first[0]}")
                hint = "Give each its own name: other tables refer to it."
                findings.append(
                    row.finding("name-twice", table.key, f"the name is used before, {where}", hint)
                )
            else:
                seen[fold(name)] = (table.name, row.number)
    return findings


# How names that are no reference to another table are spelt: as recipes and tasks spell theirs.
_FOLDED = ("crop", "companion crop", "task")
# The items that are a field of Season as they stand.
_AS_STATED = (
    "confidence", "bulbs in hand", "hours per week", "hours per day", "paper", "order weeks", "bulb order weeks",
    "trolley pots", "daily round", "wanted cover", "frost margin", "last frost", "temperature step",
    "outdoor lift", "cover cloth", "looks", "duty",
)  # fmt: skip


class _Builder:
    """Builds the records of one season; adds to `findings` what does not go together."""

    def __init__(
        self, rows: Rows, names: Mapping[str, Mapping[str, str]], span: Span, findings: list[Finding],
        stand_in: bool = False,
    ) -> None:  # fmt: skip
        self.rows, self.names, self.span, self.findings = rows, names, span, findings
        self.left_out: list[Finding] = []  # of rows that cannot be right
        self.unit: TemperatureUnit = "C"
        self.measures: Measures = "metric"
        self.stand_in = stand_in  # the span is not the season's: nothing may be compared with it
        self.cultivars = _common_spelling(
            row.text("cultivar") for name in ("lots", "crops") for row in rows.get(name, ())
        )
        logged = (*names["companions"].values(), *names["lots"].values())
        self.lot_names = {_by_commas(name): name for name in logged}

    def build(self, items: Items) -> Season:
        given = items.values
        self.cloth = given.get("cover cloth")
        self.unit, self.measures = items.how.unit, items.how.measures
        lots = tuple(self.parts_kept_apart(lot) for lot in self.all("lots", self.lot))
        holidays = expand_holidays(
            cast(Holidays, given.get("holidays", ())),
            range(self.span.start.year - 2, self.span.end.year + 2),
        )
        stated: dict[str, Any] = {n.replace(" ", "_"): given[n] for n in _AS_STATED if n in given}
        return Season(
            title=str(
                given.get(
                    "title",
                    f"{'Spring show' if self.has_show(items) else 'Forced for dates'} {self.span.start.year}",
                )
            ),
            span=self.span,
            unit=items.how.unit,
            measures=items.how.measures,
            calendar=WorkCalendar(cast(frozenset[int], given.get("working days", _MON_FRI)), holidays),
            loss=cast(float, given.get("loss %", 0.0)) / 100,
            cold_for_hours=given.get("cold for hours") == "yes",
            places=self.all("places", lambda row: self.noun(Place, row, **_day_night(row))),
            setpoints=self.all("setpoints", self.setpoint),
            normals=self.all("normals", lambda row: None if self.crossed(row) else self.noun(Normal, row)),
            lots=lots,
            displays=self.all("displays", self.display),
            plantings=self.all("plantings", self.planting),
            companions=self.all(
                "companions", lambda row: self.noun(Companion, row, pots=row.count("pots") or 0)
            ),
            log=tuple(entry for entries in self.all("log", self.entries) for entry in entries),
            readings=self.all("readings", self.reading),
            overrides=self.all("crops", self.override),
            minutes=self.all(
                "minutes",
                lambda row: self.noun(Minutes, row, per_pot=row.number_of("minutes per pot") or 0.0),
            ),
            jobs=self.all("jobs", self.job),
            rounds=self.all("rounds", self.round),
            minima=self.minima(),
            supplies=self.all("supplies", self.supply),
            deliveries=self.all("deliveries", lambda row: self.noun(Delivery, row)),
            **stated,
        )

    def has_show(self, items: Items) -> bool:
        """Whether the season states a show: its days, or displays."""
        return bool(self.rows.get("displays")) or bool({"opens", "closes"} & items.rows.keys())

    def all(self, table: str, make: Callable[[Row], T | None]) -> tuple[T, ...]:
        """The nouns of a table's rows whose every cell was understood; None is left out."""
        made = (make(row) for row in self.rows.get(table, ()) if not row.bad)
        return tuple(noun for noun in made if noun is not None)

    def noun(self, kind: Callable[..., T], row: Row, **more: object) -> T:
        """A noun with the cells of a row in the fields that the columns name; an empty cell leaves the default."""
        known = {field.name for field in fields(cast(Any, kind))}
        cells = {
            column.stored: self.value(row, column)
            for column in row.table.columns
            if column.stored in known and column.name in row.cells
        }
        return kind(**{**cells, **more}, row=row.number)

    def value(self, row: Row, column: Column) -> object:
        """The value of a cell; names as their own table spells them."""
        value = row.cells[column.name]
        if not isinstance(value, str):
            return value
        if column.names in _FOLDED:
            return fold_word(value)
        if column.name == "cultivar":
            return self.cultivars[fold(value)]
        tables = [column.names or row.table.name] if column.names or column.name == row.table.key else []
        if column.stored == "item" and column.name != row.table.key:
            tables = ["lots", "companions"]
        key = fold(value)
        return next((self.names[table][key] for table in tables if key in self.names[table]), value)

    def planting(self, row: Row) -> Planting:
        counts = row.text("counts")
        return self.noun(
            Planting,
            row,
            in_pot=row.text("in pot") == "yes",
            counts=None if counts is None else counts == "yes",
        )

    def setpoint(self, row: Row) -> Setpoint | None:
        kept = _day_night(row)
        if None in kept.values():
            hint = "Write day, night or both; one alone counts for both."
            self.findings.append(row.finding("cell-empty", "day", "no temperature is stated", hint))
            return None
        return self.noun(Setpoint, row, **kept)

    def lot(self, row: Row) -> Lot:
        lot = self.noun(Lot, row, pots=row.count("pots") or 0, split=row.text("split") == "yes")
        if not lot.box_cm:
            return lot
        if lot.bulbs_per_pot is None:
            hint = "Write how many bulbs stand in each box."
            self.findings.append(
                row.finding("cell-empty", "bulbs per pot", "the cell is empty beside a box", hint)
            )
        if lot.pot_cm is not None:
            hint = "Delete the width of the pot, or the box."
            message = "a pot and a box: the box is taken"
            self.findings.append(row.finding("box-and-pot", "box cm", message, hint, "warning"))
        return replace(
            lot, pot_cm=math.sqrt(lot.box_cm[0] * lot.box_cm[1])
        )  # the square that takes as much room

    def parts_kept_apart(self, lot: Lot) -> Lot:
        """The lot; one whose parts would have the name of another lot is not to be split."""
        taken = [name for name in lot.part_names if fold(name) in self.names["lots"]]
        if not lot.split or not taken:
            return lot
        self.findings.append(Finding(
            "part-name-taken", "error", "lots", lot.row, "split",
            f"the parts of {lot.name} would be named {' and '.join(lot.part_names)}, and there is a lot "
            f"{self.names['lots'][fold(taken[0])]}", "Give one of them another name; until then it is not split.",
            "yes", lot=lot.name,
        ))  # fmt: skip
        return replace(lot, split=False)

    def display(self, row: Row) -> Display | None:
        opens, closes = row.day("opens"), row.day("closes")
        if self.stand_in:
            opens, closes = opens or closes or self.span.start, closes or opens or self.span.start
        opens, closes = opens or self.span.start, closes or self.span.end - DAY
        if closes < opens:
            message = f"closes on {closes}, before it opens on {opens}"
            hint = "Correct opens or closes; an empty cell means the day of the season."
            column = "closes" if row.day("closes") else "opens"
            self.findings.append(row.finding("closes-first", column, message, hint))
            return None
        litres = row.number_of("litres")
        litres = _litres(row, self.findings, self.measures) if litres is None else litres
        return self.noun(Display, row, span=Span(opens, closes + DAY), litres=litres)

    def entries(self, row: Row) -> tuple[LogEntry, ...]:
        """What a row of the log says of each lot that it names, with commas between."""
        stated = self.noun(LogEntry, row, found_in=row.table.name)
        lots = self.lots_named(stated.lot)
        if len(lots) > 1 and stated.pots is not None:
            hint = "Give each lot a row of its own with its pots; where it is all of each, leave pots empty."
            found = row.finding(
                "pots-of-several", "pots", "pots of several lots: not clear of which; left out", hint
            )
            self.left_out.append(found)
            return ()
        each = None if stated.hours is None else stated.hours / len(lots)
        return tuple(replace(stated, lot=lot, hours=each) for lot in lots)

    def lots_named(self, text: str) -> list[str]:
        """The lots that a text names, as their own table spells them; a name may hold commas itself."""
        pieces = [piece.strip() for piece in text.split(",")]
        found: list[str] = []
        start = 0
        while start < len(pieces):
            ends = (n for n in range(len(pieces), start, -1) if self.lot_named(", ".join(pieces[start:n])))
            end = next(ends, start + 1)
            name = ", ".join(pieces[start:end])
            found += [self.lot_named(name) or name] if name else []
            start = end
        return list(dict.fromkeys(found)) or [text]

    def lot_named(self, text: str) -> str | None:
        """The lot, or part of a lot, that a text names, as its own table spells it; None: there is none."""
        key = _by_commas(text)
        named = lot_of(key, self.lot_names)
        return None if named is None else self.lot_names[named] + key.removeprefix(named)

    def reading(self, row: Row) -> Reading | None:
        if "mean" not in row.cells and not {"low", "high"} <= row.cells.keys():
            hint = "Write low and high, or the mean; delete the row where nothing was read."
            self.findings.append(
                row.finding("cell-empty", "mean", "neither low and high nor the mean is given", hint)
            )
            return None
        return None if self.crossed(row) else self.noun(Reading, row, found_in=row.table.name)

    def crossed(self, row: Row) -> bool:
        """Whether temperatures [°C] of one day contradict each other; then the row is told and left out."""
        low, high, mean = (row.number_of(column) for column in ("low", "high", "mean"))
        least = -math.inf if low is None else low - ROUNDED
        most = math.inf if high is None else high + ROUNDED
        if low is not None and high is not None and low > high:
            column, message = "low", "the low is above the high"
        elif mean is not None and not least <= mean <= most:
            column, message = "mean", "the mean is not between low and high"
        else:
            return False
        hint = "Correct them; delete a reading that cannot be mended. It is not used."
        found = row.finding("low-above-high", column, message, hint)
        celsius = cast(float, row.number_of(column))
        value = show_temperature(celsius, self.unit)
        self.left_out.append(
            replace(found, value=value, place=str(self.value(row, row.table.column("place"))))
        )
        return True

    def supply(self, row: Row) -> Supply:
        """How an item is sold, in metric: pots of so many inches are those of so many cm."""
        supply = self.noun(Supply, row)
        if inches := _INCHES.fullmatch(fold_word(supply.item)):
            supply = replace(supply, item=f"pots {float(inches[1]) * POT_INCH:g} cm")
        metric = {"mix": "litres", "cloth": "m²", fold(str(self.cloth)): "m²"}.get(fold(supply.item), "")
        pack = None if supply.pack is None else supply.pack * order_unit(metric, self.measures)[1]
        return replace(supply, pack=pack)

    def minima(self) -> tuple[Minimum, ...]:
        made = self.all("minima", lambda row: (row, self.noun(Minimum, row, low=row.number_of("low"))))
        self.findings += days_twice(made)
        return tuple(minimum for _, minimum in made)

    def override(self, row: Row) -> Override:
        typical = row.cells["typical"]
        figure = typical if isinstance(typical, str) else float(cast(float, typical))
        ends = {end: row.number_of(end) for end in ("low", "high")}
        return self.noun(Override, row, typical=figure, **ends)

    def round(self, row: Row) -> Round | None:
        start, until = row.day("from"), row.day("until")
        if start is not None and until is not None and until < start:
            message = f"ends on {until}, before it starts on {start}"
            hint = "Correct from or until; an empty cell means as long as something stands there."
            self.findings.append(row.finding("round-dates", "until", message, hint))
            return None
        return self.noun(Round, row)

    def job(self, row: Row) -> Job:
        """One step; what recurs without a duration lasts until the opening."""
        job = self.noun(Job, row)
        if job.every is None or "duration days" in row.cells:
            return job
        return replace(job, duration_days=max(job.days_before, 1))


def _day_night(row: Row) -> dict[str, float | None]:
    """Day and night of a row; one alone counts for both."""
    day, night = row.number_of("day"), row.number_of("night")
    return {"day": night if day is None else day, "night": day if night is None else night}


def _by_commas(name: str) -> str:
    """A name as it is compared in a list of names: blanks about its own commas do not count."""
    return ", ".join(piece.strip() for piece in fold(name).split(","))


def _common_spelling(names: Iterable[str | None]) -> dict[str, str]:
    """One spelling for names that differ in what does not count, whatever the order of the rows."""
    spelt: dict[str, str] = {}
    for name in names:
        if name is not None:
            key = fold(name)
            spelt[key] = min(spelt.get(key, name), name)
    return spelt
