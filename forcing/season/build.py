"""Typed rows -> the nouns of forcing.model. What only shows when rows are put together is found here."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, cast, get_args

from forcing.dates import DAY, Span, WorkCalendar
from forcing.errors import Finding, RecipeError
from forcing.model import (
    PARAMETERS,
    BloomClass,
    Companion,
    Display,
    Event,
    Job,
    LogEntry,
    Lot,
    Minimum,
    Minutes,
    Normal,
    Override,
    Paper,
    Place,
    PlaceKind,
    Planting,
    Reading,
    Season,
    Setpoint,
    Shape,
    Supply,
)
from forcing.recipes.book import COMPANION_PARAMETERS, RecipeBook, fold, split_overrides
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
from forcing.season.cells import RawSheet, clean, read_cell, shown
from forcing.season.hints import Problem
from forcing.season.rows import Row, cell_finding, find_layout, raw_rows, unnamed_values
from forcing.season.schema import (
    SEASON_ITEMS,
    TABLES,
    did_you_mean,
    near,
    plain,
    same_name,
    season_item,
)
from forcing.season.schema import (
    table as table_named,
)
from forcing.season.working_days import Holidays, expand_holidays
from forcing.units import TemperatureUnit, show_temperature

_TABLE = table_named("season")


@dataclass(frozen=True, slots=True)
class Items:
    """Typed values of the season's items that were given, the rows they stand in, and what was wrong."""

    values: Mapping[str, object] = field(default_factory=dict)
    rows: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    unstated: str | None = "it is not stated"  # why an item may be missing; None: told already

    @property
    def unit(self) -> TemperatureUnit:
        return cast(TemperatureUnit, self.values.get("temperature unit", "C"))


def read_items(sheet: RawSheet | None) -> Items:
    """The items of the season sheet; doubled and unknown items are findings."""
    if sheet is None:
        return Items(unstated="there is no season table")
    layout, findings = find_layout(sheet, _TABLE)
    if layout is None or "item" not in layout.at or "value" not in layout.at:
        return Items(findings=tuple(findings), unstated=None if findings else "the table is empty")
    values: dict[str, object] = {}
    rows: dict[str, int] = {}
    filled = tuple(raw_rows(sheet, layout))
    unit = _unit(raw for _, raw in filled)
    for number, raw in filled:
        findings += _item(number, raw, layout.heads, unit, values, rows)
    findings += unnamed_values(sheet, _TABLE, layout)
    return Items(values, rows, tuple(findings))


def _unit(filled: Iterable[Mapping[str, object]]) -> TemperatureUnit:
    """The temperature unit, which may stand below what is measured in it; °C where it is not understood."""
    for raw in filled:
        item = season_item(shown(raw.get("item", "")))
        if item is not None and item.name == "temperature unit" and raw.get("value") is not None:
            return "F" if read_cell(item, raw["value"], "C") == "F" else "C"
    return "C"


def _item(
    number: int, raw: Mapping[str, object], heads: Mapping[str, str], unit: TemperatureUnit,
    values: dict[str, object], rows: dict[str, int],
) -> list[Finding]:  # fmt: skip
    """Reads one row into `values` and `rows`; gives what is wrong with it."""
    value = raw.get("value")
    if "item" not in raw:
        if value is None:
            return []
        problem = Problem("item-missing", "a value without an item", "Write in column item what it is.")
        return [cell_finding(_TABLE, number, heads["value"], problem, value)]
    text = clean(raw["item"]) if isinstance(raw["item"], str) else shown(raw["item"])
    if isinstance(text, Problem):
        return [cell_finding(_TABLE, number, heads["item"], text, raw["item"])]
    item = season_item(text)
    if item is None:
        return [] if value is None else [_unknown(number, heads["item"], text)]
    typed = read_cell(item, value, unit)
    if item.name in rows:
        if typed is None:
            return []
        problem = Problem("item-twice", f"stated before in row {rows[item.name]}", "Keep one of them.")
        return [cell_finding(_TABLE, number, heads["item"], problem, text)]
    if typed is None:
        return []
    rows[item.name] = number
    if isinstance(typed, Problem):
        return [cell_finding(_TABLE, number, heads["value"], typed, value, prefix=f"{item.name}: ")]
    values[item.name] = typed
    return []


def _unknown(number: int, header: str, text: str) -> Finding:
    match = near(text, [item.name for item in SEASON_ITEMS])
    hint = f"Did you mean {match}? Correct it." if match else "Items are: " + ", ".join(
        item.name for item in SEASON_ITEMS
    ) + "."  # fmt: skip
    return Finding(
        "item-unknown", "warning", "season", number, header, "an unknown item, not read", hint, shown(text)
    )


SHALLOW = 20.0  # cm: containers less deep are small ones for the room left below the rim; practice
_SIZED = "pots 15 cm"  # how pots of one width are written
SUPPLIES = ("bulbs", "pots", "labels", "mix", "cloth", "seed")  # beside crops, cultivars and 'pots 15 cm'
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


def container_fields(row: Row, findings: list[Finding]) -> dict[str, Any]:
    """What a row of displays says of one container: litres (stated, else from its measures), cloth, measures."""
    shape = cast("Shape | None", row.text("shape"))
    measures = {name: row.number_of(name) for name in _ALL}
    litres = row.number_of("litres")
    if litres is None:
        litres = _litres(row, shape, measures, findings)
    fields = {name.replace(" ", "_"): value for name, value in measures.items()}
    return {"litres": litres, "cover_m2": row.number_of("cover m2"), "shape": shape, **fields}


def _litres(
    row: Row, shape: Shape | None, measures: Mapping[str, float | None], findings: list[Finding]
) -> float | None:
    """Litres up to the room for water below the rim; None, and a finding, where the measures do not say it."""
    if shape is None:
        given = next((name for name, value in measures.items() if value is not None), None)
        if given:
            findings.append(
                row.finding("shape-missing", given, "a measure of a container whose shape is not stated",
                            f"Write the shape: {', '.join(_SHAPES)}; or the litres.", "warning")
            )  # fmt: skip
        return None
    make, needed = _SHAPES[shape]
    missing = [name for name in needed if measures[name] is None]
    if missing:
        findings.append(
            row.finding("measure-missing", missing[0], f"the litres of a {shape} cannot be reckoned without "
                        f"its {' and '.join(missing)}", "Measure inside, or write the litres.", "warning")
        )  # fmt: skip
        return None
    depth = cast(float, measures["depth cm"])
    headspace = min(HEADSPACE_SMALL if depth < SHALLOW else HEADSPACE_LARGE, depth)
    if shape == "bowl" and depth > cast(float, measures["length cm"]) / 2:
        hint = "Correct the measures, write another shape, or write the litres."
        findings.append(
            row.finding("bowl-deep", "depth cm", "a bowl is no deeper than half its rim is wide", hint, "warning")
        )  # fmt: skip
        return None
    return make(*(measures[name] for name in needed)).litres(headspace)


def pots_missing(rows: Mapping[str, Sequence[Row]]) -> Iterator[Finding]:
    """Lots and companions without pots that no display asks for, so that nothing says how many there are."""
    planted = {same_name(row.text("lot or companion") or "") for row in rows.get("plantings", ())}
    for table, key in (("lots", "lot"), ("companions", "companion")):
        for row in rows.get(table, ()):
            if (
                "pots" not in row.cells
                and "pots" not in row.bad
                and same_name(row.text(key) or "") not in planted
            ):
                hint = "It must be filled, or the plantings table must say how many stand in each container."
                yield row.finding("cell-empty", "pots", "the cell is empty", f"Number of pots. {hint}")


def job_of(row: Row) -> Job:
    """One row of jobs."""
    days = row.count("days before")
    assert days is not None
    every = cast("tuple[int, ...] | int | None", row.cells.get("every"))
    until_opening = 1 if every is None else max(days, 1)
    return Job(
        str(row.text("job")), str(row.text("step")), days, row.count("duration days") or until_opening,
        row.number_of("hours") or 0.0, row.text("caution") or "", row.number, every,
    )  # fmt: skip


def supply_of(row: Row) -> Supply:
    """One row of supplies."""
    note = row.text("note") or ""
    return Supply(str(row.text("item")), row.number_of("pack"), row.number_of("lead weeks"), note, row.number)


def days_twice(rows: Sequence[tuple[Row, Minimum]]) -> Iterator[Finding]:
    """Former minima of one place and day that stand in two rows."""
    seen: dict[tuple[str, object], Row] = {}
    for row, minimum in rows:
        first = seen.setdefault((minimum.place, minimum.date), row)
        if first is not row:
            yield row.finding("minimum-twice", "date", f"the day of {minimum.place} is in row {first.number} too",
                              "Keep one of the two.")  # fmt: skip


def figures_fit(overrides: Sequence[Override]) -> Iterator[Finding]:
    """Rows of crops whose parameter belongs to bulbs though the crop is a companion, or the other way round."""
    bulbs, companions = split_overrides(overrides)
    for rows, known, kind in ((bulbs, PARAMETERS, "bulb"), (companions, COMPANION_PARAMETERS, "companion")):
        for row in rows:
            if row.parameter not in known:
                yield Finding(
                    "parameter-unknown", "error", "crops", row.row, "parameter",
                    f"{row.crop} is planned as a {kind}, which has no such figure",
                    did_you_mean(row.parameter, known, f"Figures of a {kind} are: {', '.join(known)}."),
                    row.parameter,
                )  # fmt: skip


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
    for supply in season.supplies:
        words = plain(supply.item).split()
        sized = len(words) == 3 and words[0] == "pots" and words[2] == "cm" and _is_number(words[1])
        if fold(supply.item) not in known and not sized:
            otherwise = f"Write a crop, a cultivar, or one of: {', '.join(SUPPLIES)}, {_SIZED}."
            yield Finding("supply-unknown", "warning", "supplies", supply.row, "item",
                          "nothing of that name is ordered this season",
                          did_you_mean(supply.item, (*known.values(), _SIZED), otherwise), supply.item)  # fmt: skip


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


Rows = Mapping[str, Sequence[Row]]
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
    season = replace(builder.build(items), show_stated="closes" in items.rows)
    return Built(season, span is not None, tuple(findings), tuple(builder.left_out))


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
    if opens is None or closes is None:
        findings.append(_from_targets(opens, closes, first))
    return Span(first, end)


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
    said = [] if opens else [f"the show opens with the first target, {first}"]
    said += [] if closes else ["the show lasts until the last fade" if opens else "lasts until the last fade"]
    hint = "Nothing, where lots are forced for dates of their own; else write opens and closes."
    column = "closes" if opens else "opens"
    return Finding(
        "show-from-targets", "note", "season", None, column, f"not stated: {' and '.join(said)}", hint
    )


def spellings(rows: Rows, table: str, key: str) -> dict[str, str]:
    """Each name of a table as its own table spells it, by what counts of it."""
    spelt: dict[str, str] = {}
    for row in rows.get(table, ()):
        name = row.text(key)
        if name is not None:
            spelt.setdefault(same_name(name), name)
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
            if first := seen.get(same_name(name)):
                where = f"in row {first[1]}" + ("" if first[0] == table.name else f" of {first[0]}")
                hint = "Give each its own name: other tables refer to it."
                findings.append(
                    row.finding("name-twice", table.key, f"the name is used before, {where}", hint)
                )
            else:
                seen[same_name(name)] = (table.name, row.number)
    return findings


class _Builder:
    """Builds the records of one season; adds to `findings` what does not go together."""

    def __init__(
        self, rows: Rows, names: Mapping[str, Mapping[str, str]], span: Span, findings: list[Finding],
        stand_in: bool = False,
    ) -> None:  # fmt: skip
        self.rows, self.names, self.span, self.findings = rows, names, span, findings
        self.left_out: list[Finding] = []  # of rows that cannot be right
        self.unit: TemperatureUnit = "C"
        self.stand_in = stand_in  # the span is not the season's: nothing may be compared with it
        self.cultivars = _common_spelling(
            row.text("cultivar") for name in ("lots", "crops") for row in rows.get(name, ())
        )
        self.spans: dict[str, Span] = {}  # of displays
        self.parts: dict[str, str] = {}  # of lots that may be split

    def build(self, items: Items) -> Season:
        given = items.values
        self.unit = items.unit
        displays = tuple(d for row in self.good("displays") if (d := self.display(row)))
        self.spans = {d.name: d.span for d in displays}
        lots = tuple(self.parts_kept_apart(self.lot(row)) for row in self.good("lots"))
        self.parts = {same_name(name): name for lot in lots if lot.split for name in lot.part_names}
        holidays = expand_holidays(
            cast(Holidays, given.get("holidays", ())),
            range(self.span.start.year - 2, self.span.end.year + 2),
        )
        overrides = tuple(self.override(row) for row in self.good("crops"))
        self.findings += figures_fit(overrides)
        return Season(
            title=str(given.get("title", f"Spring show {self.span.start.year}")),
            span=self.span,
            unit=items.unit,
            calendar=WorkCalendar(cast(frozenset[int], given.get("working days", _MON_FRI)), holidays),
            confidence=cast(float, given.get("confidence", 0.5)),
            bulbs_in_hand=cast(date | None, given.get("bulbs in hand")),
            hours_per_week=cast(float | None, given.get("hours per week")),
            loss=cast(float, given.get("loss %", 0.0)) / 100,
            paper=cast(Paper, given.get("paper", "A4")),
            order_weeks=cast(int, given.get("order weeks", 12)),
            places=tuple(self.place(row) for row in self.good("places")),
            setpoints=tuple(s for row in self.good("setpoints") if (s := self.setpoint(row))),
            normals=tuple(n for row in self.good("normals") if (n := self.normal(row))),
            lots=lots,
            displays=displays,
            plantings=tuple(self.planting(row) for row in self.good("plantings")),
            companions=tuple(self.companion(row) for row in self.good("companions")),
            log=tuple(self.entry(row) for row in self.good("log")),
            readings=tuple(r for row in self.good("readings") if (r := self.reading(row))),
            overrides=overrides,
            minutes=tuple(self.minutes(row) for row in self.good("minutes")),
            wanted_cover=cast(float, given.get("wanted cover", 0.6)),
            frost_margin=cast(float | None, given.get("frost margin")),
            cover_cloth=cast(str | None, given.get("cover cloth")),
            jobs=tuple(job_of(row) for row in self.good("jobs")),
            minima=self.minima(),
            supplies=tuple(supply_of(row) for row in self.good("supplies")),
        )

    def good(self, table: str) -> Iterable[Row]:
        """Rows whose every cell was understood."""
        return (row for row in self.rows.get(table, ()) if not row.bad)

    def name(self, row: Row, column: str, *tables: str) -> str | None:
        """The name in a cell as one of `tables` spells it; as typed where none knows it."""
        text = row.text(column)
        if text is None:
            return None
        for table in tables:
            if same_name(text) in self.names[table]:
                return self.names[table][same_name(text)]
        return text

    def named(self, row: Row, column: str, *tables: str) -> str:
        name = self.name(row, column, *tables)
        assert name is not None  # a required column: rows without it are not good
        return name

    def place(self, row: Row) -> Place:
        day, night = _day_night(row)
        return Place(
            self.named(row, "place", "places"), cast(PlaceKind, row.text("kind")), row.number_of("pots"),
            day, night, row.number_of("lowest"), row.number_of("highest"), row.number,
        )  # fmt: skip

    def setpoint(self, row: Row) -> Setpoint | None:
        day, night = _day_night(row)
        start = row.day("from")
        if day is None or night is None:
            hint = "Write day, night or both; one alone counts for both."
            self.findings.append(row.finding("cell-empty", "day", "no temperature is stated", hint))
            return None
        assert start is not None
        return Setpoint(self.named(row, "place", "places"), start, day, night, row.number)

    def normal(self, row: Row) -> Normal | None:
        month, low, high = row.count("month"), row.number_of("low"), row.number_of("high")
        assert month is not None and low is not None and high is not None
        if self.crossed(row):
            return None
        return Normal(self.named(row, "place", "places"), month, low, high, row.number)

    def lot(self, row: Row) -> Lot:
        display = self.name(row, "display", "displays")
        return Lot(
            name=self.named(row, "lot", "lots"),
            crop=plain(self.named(row, "crop")),
            pots=row.count("pots") or 0,
            bloom_class=cast(BloomClass | None, row.text("class")),
            cultivar=self.cultivar(row),
            pot_cm=row.number_of("pot cm"),
            bulbs_per_pot=row.count("bulbs per pot"),
            target=row.day("target bloom"),
            cold_weeks=row.number_of("cold weeks"),
            precooled_weeks=row.number_of("precooled weeks") or 0.0,
            cooler=self.name(row, "cooler", "places"),
            bench=self.name(row, "bench", "places"),
            display=display,
            install=row.day("install"),
            hold_days=row.count("hold days") or 0,
            harden_at=self.name(row, "harden at", "places"),
            harden_days=row.count("harden days") or 0,
            split=row.text("split") == "yes",
            row=row.number,
        )

    def parts_kept_apart(self, lot: Lot) -> Lot:
        """The lot; one whose parts would have the name of another lot is not to be split."""
        taken = [name for name in lot.part_names if same_name(name) in self.names["lots"]]
        if not lot.split or not taken:
            return lot
        self.findings.append(Finding(
            "part-name-taken", "error", "lots", lot.row, "split",
            f"the parts of {lot.name} would be named {' and '.join(lot.part_names)}, and there is a lot "
            f"{self.names['lots'][same_name(taken[0])]}", "Give one of them another name; until then it is not split.",
            "yes",
        ))  # fmt: skip
        return replace(lot, split=False)

    def cultivar(self, row: Row) -> str | None:
        text = row.text("cultivar")
        return None if text is None else self.cultivars[same_name(text)]

    def display(self, row: Row) -> Display | None:
        opens, closes = row.day("opens"), row.day("closes")
        containers = row.count("containers")
        assert containers is not None
        if self.stand_in:
            opens, closes = opens or closes or self.span.start, closes or opens or self.span.start
        opens, closes = opens or self.span.start, closes or self.span.end - DAY
        if closes < opens:
            message = f"closes on {closes}, before it opens on {opens}"
            hint = "Correct opens or closes; an empty cell means the day of the season."
            column = "closes" if row.day("closes") else "opens"
            self.findings.append(row.finding("closes-first", column, message, hint))
            return None
        return Display(
            self.named(row, "display", "displays"), containers, self.named(row, "site", "places"),
            Span(opens, closes + DAY), row=row.number, **container_fields(row, self.findings),
        )  # fmt: skip

    def planting(self, row: Row) -> Planting:
        count = row.count("pots per container")
        assert count is not None
        item = self.named(row, "lot or companion", "lots", "companions")
        return Planting(self.named(row, "display", "displays"), item, count, row.number)

    def companion(self, row: Row) -> Companion:
        return Companion(
            self.named(row, "companion", "companions"), plain(self.named(row, "crop")), row.count("pots") or 0,
            row.day("ready"), self.name(row, "place", "places"), row.number,
        )  # fmt: skip

    def entry(self, row: Row) -> LogEntry:
        day = row.day("date")
        assert day is not None
        name = self.named(row, "lot", "lots")
        return LogEntry(
            day, self.parts.get(same_name(name), name), cast(Event, row.text("event")),
            self.name(row, "place", "places"), row.count("pots"), row.text("note") or "", row.number,
        )  # fmt: skip

    def reading(self, row: Row) -> Reading | None:
        day, low, high, mean = row.day("date"), *(row.number_of(c) for c in ("low", "high", "mean"))
        assert day is not None
        if mean is None and (low is None or high is None):
            hint = "Write low and high, or the mean; delete the row where nothing was read."
            self.findings.append(
                row.finding("cell-empty", "mean", "neither low and high nor the mean is given", hint)
            )
            return None
        if self.crossed(row):
            return None
        kind = "forecast" if row.text("kind") == "forecast" else "measured"
        return Reading(self.named(row, "place", "places"), day, low, high, mean, kind, row.number)  # type: ignore[arg-type]

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
        self.left_out.append(replace(found, value=value, place=self.name(row, "place", "places")))
        return True

    def minima(self) -> tuple[Minimum, ...]:
        made = []
        for row in self.good("minima"):
            day = row.day("date")
            assert day is not None
            low = row.number_of("low")
            made.append((row, Minimum(self.named(row, "place", "places"), day, low, row.number)))
        self.findings += days_twice(made)
        return tuple(minimum for _, minimum in made)

    def override(self, row: Row) -> Override:
        typical = row.cells["typical"]
        assert isinstance(typical, str | float | int)
        return Override(
            crop=plain(self.named(row, "crop")),
            parameter=self.named(row, "parameter"),
            typical=typical if isinstance(typical, str) else float(typical),
            bloom_class=cast(BloomClass | None, row.text("class")),
            cultivar=self.cultivar(row),
            low=row.number_of("low"),
            high=row.number_of("high"),
            source=row.text("source") or "",
            row=row.number,
        )

    def minutes(self, row: Row) -> Minutes:
        return Minutes(
            plain(self.named(row, "task")), row.number_of("minutes per pot") or 0.0,
            row.number_of("minutes each time") or 0.0, row.number,
        )  # fmt: skip


def _day_night(row: Row) -> tuple[float | None, float | None]:
    """Day and night of a row; one alone counts for both."""
    day, night = row.number_of("day"), row.number_of("night")
    return (night if day is None else day), (day if night is None else night)


def _common_spelling(names: Iterable[str | None]) -> dict[str, str]:
    """One spelling for names that differ in what does not count, whatever the order of the rows."""
    spelt: dict[str, str] = {}
    for name in names:
        if name is not None:
            key = same_name(name)
            spelt[key] = min(spelt.get(key, name), name)
    return spelt
