"""Typed rows -> the nouns of forcing.model. What only shows when rows are put together is found here.

Names are matched without regard to case and doubled blanks, and take the spelling of the table that
defines them, so that later floors may compare them as they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import cast

from forcing.dates import DAY, Span, WorkCalendar
from forcing.errors import Finding
from forcing.model import (
    BloomClass,
    Companion,
    Display,
    Event,
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
)
from forcing.season.columns import plain, same_name
from forcing.season.daysoff import Holidays, expand_holidays
from forcing.season.items import Items
from forcing.season.rows import Row
from forcing.season.showrows import (
    container_fields,
    days_twice,
    figures_fit,
    job_of,
    pots_missing,
    supply_of,
)
from forcing.season.tables import TABLES

Rows = Mapping[str, Sequence[Row]]
_MON_FRI = frozenset(range(5))


def build_season(items: Items, rows: Rows) -> tuple[Season, bool, list[Finding]]:
    """The season, whether its opens and closes are known (else its days are stand-ins), and what is wrong."""
    findings = [*_doubled_names(rows), *pots_missing(rows)]
    span = _season_span(items, findings)
    names = {table.name: spellings(rows, table.name, table.key) for table in TABLES if table.key}
    if span is None:
        # Still look at the rows, so that all that is wrong is said at once.
        stand_in = date(2000, 1, 1)
        season = _Builder(rows, names, Span(stand_in, stand_in + DAY), findings, stand_in=True).build(items)
        return season, False, findings
    return _Builder(rows, names, span, findings).build(items), True, findings


def _season_span(items: Items, findings: list[Finding]) -> Span | None:
    opens, closes = items.values.get("opens"), items.values.get("closes")
    if not isinstance(opens, date) or not isinstance(closes, date):
        return None
    if closes < opens:
        message = f"closes before it opens on {opens}"
        hint = "Correct opens or closes; closes is the last day of the show."
        row = items.rows["closes"]
        findings.append(Finding("closes-first", "error", "season", row, "closes", message, hint, str(closes)))
        return None
    return Span(opens, closes + DAY)


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
        self.stand_in = stand_in  # the span is not the season's: nothing may be compared with it
        self.cultivars = _common_spelling(
            row.text("cultivar") for name in ("lots", "crops") for row in rows.get(name, ())
        )
        self.spans: dict[str, Span] = {}  # of displays
        self.parts: dict[str, str] = {}  # of lots that may be split

    def build(self, items: Items) -> Season:
        given = items.values
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
            normals=tuple(self.normal(row) for row in self.good("normals")),
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

    def normal(self, row: Row) -> Normal:
        month, low, high = row.count("month"), row.number_of("low"), row.number_of("high")
        assert month is not None and low is not None and high is not None
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
        kind = "forecast" if row.text("kind") == "forecast" else "measured"
        return Reading(self.named(row, "place", "places"), day, low, high, mean, kind, row.number)  # type: ignore[arg-type]

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
