"""The sheets that are lists: key dates, tasks, hours, rooms, notices and sources, each written from its frame."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from forcing.dates import DAY, Span, iso_week, monday, weeks_of
from forcing.engine.why import BENCH, Leeway
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import merged
from forcing.model import Event, Plan, Season
from forcing.recipes.book import Source, shipped_sources
from forcing.reports import frames
from forcing.reports.frames import rows_of
from forcing.reports.matters import in_words
from forcing.reports.style import ALERT, CLASS_MARKS, QUIET, TINT
from forcing.reports.workbook.cells import (
    DAY_LOOK,
    DONE_DATE,
    HEAD,
    NONE,
    NOTE,
    NUMBER,
    SECTION,
    TENTH,
    TEXT,
    Look,
    Pen,
    height,
    lines,
    span,
)
from forcing.reports.workbook.table import (
    ListColumn,
    Marked,
    as_needed,
    filtered,
    headed,
    set_up_page,
    table_room,
    write_table,
)
from forcing.text import number
from forcing.units import POT_INCH, Measures, show_difference, told

TOP = 3  # the row of a list's header
ALARM = TEXT.but(bold=True, ink=ALERT)
SHORT = TEXT.but(wrap=False)
NAME = TEXT.but(bold=True)
HATCHED: dict[str, Any] = {
    "bold": True,
    "fill": QUIET,
    "pattern": "lightUp",
    "ground": TINT,
}  # seen in a grey print

Row = dict[str, Any]  # column of a frame -> value, Marked where it looks different
Columns = Mapping[str, ListColumn]  # column of a frame -> column of the sheet


def write_list(
    pen: Pen, sheet: Any, season: Season, words: tuple[str, str], columns: Columns, rows: Iterable[Row], none: str,
    *, fitted: bool = True, head: int = 1, pages_wide: int = 1, arrows: int | None = None, landscape: bool = True,
) -> int:  # fmt: skip
    """A sheet that is one table: `words` are its title and how to read it, `none` is said where it has no rows.

    `fitted`: narrow enough to be read on one page. `head`: the first column that is not repeated on every page.
    `arrows`: columns with filter arrows, None: all. Without columns only `none` is said. Gives the row after the last.
    """
    headed(pen, sheet, *words, column=head)
    cells = [[row[name] for name in columns] for row in rows]
    room = table_room(season.paper, landscape=landscape) if fitted else None
    after = write_table(pen, sheet, TOP, tuple(columns.values()), cells, room) if columns else TOP
    if cells:
        filtered(sheet, TOP, len(columns) if arrows is None else arrows, after)
    else:
        pen.put(sheet, after, head, none, NOTE)
    sheet.freeze_panes = sheet.cell(TOP + 1, head).coordinate
    sheet.print_title_rows = f"1:{TOP}"
    set_up_page(sheet, season.paper, season.title, landscape=landscape, pages_wide=pages_wide)
    return after


def known(row: Row, /, **missing: str) -> dict[str, Any]:
    """A row in which these columns say so in words where nothing is known."""
    values = {name: cell.value if isinstance(cell := row[name], Marked) else cell for name in missing}
    return row | {name: Marked(said, NONE) for name, said in missing.items() if values[name] in (None, "")}


def section(pen: Pen, sheet: Any, row: int, title: str, column: int = 1, look: Look = SECTION) -> None:
    """The heading of a part further down."""
    pen.put(sheet, row, column, title, look)
    sheet.row_dimensions[row].height = height(1, SECTION.size) + 3


def class_text(name: Any) -> str:
    """Letter and word of a class, like 'E early'; nothing for a crop that has none."""
    return f"{CLASS_MARKS[name].letter} {name}" if name else ""


# ---------------------------------------------------------------- key dates

_KEY = DAY_LOOK.but(bold=True)
_EARLY = NUMBER.but(number="0;▲ -0;0")
_DATES: Columns = {
    "lot": ListColumn("Lot", NAME, most=90),
    "crop": ListColumn("Crop", most=110),
    "class": ListColumn("Class", SHORT),
    "cultivar": ListColumn("Cultivar", most=120),
    "pots": ListColumn("Pots", NUMBER),
    "potting": ListColumn("Potting", _KEY),
    "cooler_in": ListColumn("Cooler in", _KEY),
    "rooted": ListColumn("Rooted", DAY_LOOK),
    "bring_in": ListColumn("Out of cold, bring in", _KEY),
    "shoots": ListColumn("Shoots", DAY_LOOK),
    "bud": ListColumn("Bud", DAY_LOOK),
    "colour": ListColumn("Colour", DAY_LOOK),
    "bloom": ListColumn("Bloom", _KEY),
    "target": ListColumn("Target", DAY_LOOK),
    "days_early": ListColumn("Days early", _EARLY),
    "install": ListColumn("Set out", DAY_LOOK),
    "fade": ListColumn("Fade", DAY_LOOK),
    "cold_wanted": ListColumn("Cold-weeks chosen", TENTH),
    "cold_weeks": ListColumn("Cold-weeks credited", TENTH),
    "cooler": ListColumn("Cooler", most=90),
    "bench": ListColumn("Bench", most=90),
    "assumed_days": ListColumn("Days with assumed temperature", NUMBER),
    "slack": ListColumn("Slack, working days", NUMBER),
    "cooler_bloom": ListColumn("Bloom, bench cooler", DAY_LOOK),
    "warmer_bloom": ListColumn("Bloom, bench warmer", DAY_LOOK),
}
_EVENTS: Mapping[str, Event] = {
    "potting": "potted", "cooler_in": "cooler in", "rooted": "rooted", "bring_in": "brought in", "shoots": "shoots",
    "bud": "bud", "colour": "colour", "bloom": "bloom", "install": "set out", "fade": "faded",
}  # fmt: skip
_LOST: Columns = {
    name: ListColumn(
        name.capitalize() if name != "earliest" else "Earliest bloom", NUMBER if name == "pots" else TEXT
    )
    for name in ("lot", "crop", "class", "cultivar", "pots", "target", "earliest")
}
_REASON, _REASON_WIDE = 8, 3  # the reason takes three columns of dates, still on the first page of two
_HALF_A_PAGE = 16  # rows


def write_dates(pen: Pen, sheet: Any, plan: Plan, leeways: Mapping[str, Leeway]) -> None:
    """The sheet `Key dates`: planned lots in season order, then those that cannot be planned.

    `leeways`: what the dates of a lot bear, by its name; a lot that it does not have has those cells empty.
    """
    logged: dict[
        tuple[str, Event], date
    ] = {}  # the first time each event was, as known on the day of the plan
    for entry in sorted((e for e in plan.season.log if e.date <= plan.on), key=lambda e: e.date):
        logged.setdefault((entry.lot, entry.event), entry.date)
    words = (
        "Key dates",
        "Each date is the first day of its step. ✓: logged, it has happened. Days early: target less bloom; "
        "▲ later than its target. Slack: how much later it may be brought in and still be in time. "
        f"Bench cooler, warmer: by {show_difference(BENCH, plan.season.unit)}.",
    )
    rows = [
        _dated(row | _borne(leeways.get(row["lot"])), logged)
        for row in rows_of(frames.lots(plan).reset_index())
    ]
    # On one page the print would be half size; over two, with the lot repeated, it can be read at a bench.
    after = write_list(
        pen, sheet, plan.season, words, _DATES, rows, "No lot is planned.", fitted=False, head=2, pages_wide=2
    )
    sheet.print_title_cols = "A:A"
    _unplanned(pen, sheet, plan, after + (1 if rows else 2))


def _borne(leeway: Leeway | None) -> Row:
    """The cells of what its dates bear."""
    slack, cooler, warmer = (None,) * 3 if leeway is None else (leeway.slack, leeway.cooler, leeway.warmer)
    return {"slack": slack, "cooler_bloom": cooler, "warmer_bloom": warmer}


def _dated(row: Row, logged: Mapping[tuple[str, Event], date]) -> Row:
    no_cold = row["cooler_in"] is None
    marked = known(
        row, cultivar="not stated", cooler_in="needs no cold", rooted="needs no cold" if no_cold else "not in time",
        shoots="not known", bud="not known", colour="not known", install="stays in place", fade="not known",
        cooler="none", bench="none",
    )  # fmt: skip
    for name, event in _EVENTS.items():
        if row[name] is not None and logged.get((row["lot"], event)) == row[name]:
            marked[name] = Marked(row[name], _DATES[name].look.but(number=DONE_DATE))
    if row["days_early"] < 0:
        marked["days_early"] = Marked(row["days_early"], _EARLY.but(bold=True, ink=ALERT))
    return marked | {"class": class_text(row["class"])}


def _unplanned(pen: Pen, sheet: Any, plan: Plan, row: int) -> None:
    if not plan.unplanned:
        return
    if row > _HALF_A_PAGE:
        sheet.row_breaks.append(Break(id=row - 1))  # or the heading may be the last line of a page
    section(pen, sheet, row, "Lots that cannot be planned", 2, SECTION.but(ink=ALERT))
    rows = [lost_cells(lost) for lost in rows_of(frames.unplanned(plan))]
    cells = [[lost[name] for name in _LOST] for lost in rows]
    write_table(pen, sheet, row + 1, tuple(_LOST.values()), cells)
    room = sum(sheet.column_dimensions[get_column_letter(_REASON + i)].width for i in range(_REASON_WIDE))
    for i, reason in enumerate(["Why", *(lost.reason for lost in plan.unplanned)], row + 1):
        pen.put(sheet, i, _REASON, reason, HEAD if i == row + 1 else ALARM)
        span(sheet, i, _REASON, _REASON + _REASON_WIDE - 1)
        needed = height(lines(reason, room, bold=True))
        sheet.row_dimensions[i].height = max(needed, sheet.row_dimensions[i].height)


def lost_cells(lost: Row) -> Row:
    """A lot that cannot be planned, as it stands in a table."""
    looks = {"lot": NAME, "pots": NUMBER, "target": DAY_LOOK, "earliest": DAY_LOOK}
    marked = (
        lost | {"class": class_text(lost["class"])} | {n: Marked(lost[n], look) for n, look in looks.items()}
    )
    return known(marked, cultivar="not stated", target="not stated", earliest="not known")


# ---------------------------------------------------------------- tasks

_TASKS: Columns = {
    "date": ListColumn("Date", DAY_LOOK),
    "week": ListColumn("Week", SHORT),
    "from": ListColumn("Place", most=90),
    "to": ListColumn("To", most=90),
    "lot": ListColumn("Lot", NAME, most=80),
    "cultivar": ListColumn("Cultivar", most=130),
    "task": ListColumn("Task", NAME, most=80),
    "pots": ListColumn("Pots", NUMBER),
    "hours": ListColumn("Hours", TENTH),
    "look for": ListColumn("Look for", most=235),
    "caution": ListColumn("Cautions", most=105),
    "state": ListColumn("State", most=70),
}
_CAUTION_WIDTH = 100.0  # units of column: the first columns of the table together


def write_tasks(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Tasks`, in the order of tasks.csv."""
    words = "Tasks", "All work in order of date. The cautions are written out below the last task."
    rows = [_task_cells(row) for row in rows_of(frames.tasks(plan))]
    none = "There is nothing to do: no lot is planned."
    after = write_list(pen, sheet, plan.season, words, _TASKS, rows, none)
    _cautions(pen, sheet, plan, after + 1)


def _task_cells(row: dict[str, Any]) -> Row:
    pressing = row["state"] in ("due", "overdue")
    return row | {
        "pots": as_needed(row["pots"], NUMBER) if row["pots"] else None,
        "caution": row["caution"].replace("; ", ", "),
        "state": Marked(row["state"], ALARM) if pressing else row["state"],
    }


def _cautions(pen: Pen, sheet: Any, plan: Plan, row: int) -> None:
    """Each caution that a task names, once, in full."""
    named = dict.fromkeys(frames.tasks(plan).caution.str.split("; ").explode().loc[lambda text: text != ""])
    if named:
        section(pen, sheet, row, "Cautions")
        note = "Reminders only: labels, local codes, the house's own rules and licensed practice come first."
        pen.put(sheet, row + 1, 1, note, NOTE)
        texts = {
            key: told(
                CAUTIONS.get(key, "No text for this caution: ask before starting."),
                plan.season.unit,
                plan.season.measures,
            )
            for key in named
        }
        _explained(pen, sheet, row + 2, texts, 2, len(_TASKS), _CAUTION_WIDTH)


def _explained(
    pen: Pen, sheet: Any, row: int, texts: Mapping[str, str], first: int, last: int, room: float
) -> None:
    """A key in bold and its text, over the columns from `first` to `last`, on a row each; `room` in units of column."""
    for i, (key, text) in enumerate(texts.items(), row):
        pen.put(sheet, i, 1, key, Look(bold=True))
        pen.put(sheet, i, first, text, Look(wrap=True))
        span(sheet, i, first, last)
        sheet.row_dimensions[i].height = height(lines(text, room))


# ---------------------------------------------------------------- hours


ALL, LIMIT = "All", "There are"  # headers of the sheet Hours that its chart is drawn from
FULLEST = {"cooler": "Fullest cooler", "bench": "Fullest bench or frame"}


def write_hours(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Hours`: week × kind of task, the total against the hours there are, and how full the places are."""
    limit, made = plan.season.hours_per_week, frames.hours(plan)
    stated = "no limit is stated" if limit is None else f"there are {number(limit)} hours a week"
    words = (
        "Hours",
        f"Staff hours a week by kind of task; {stated}. ▲: more than there are. Fullest: the place with the least room "
        "left in it, on its fullest day, of what it can hold.",
    )
    kinds = list(dict.fromkeys(made.task))
    share = NUMBER.but(number="0%")
    columns = {
        "week": ListColumn("Week", SHORT.but(bold=True)),
        "monday": ListColumn("Monday", DAY_LOOK),
        **{f"hours: {kind}": ListColumn(kind, TENTH, arrow=False) for kind in kinds},
        "all": ListColumn(ALL, TENTH.but(bold=True), arrow=False),
        **({} if limit is None else {"limit": ListColumn(LIMIT, TENTH, arrow=False)}),
        "left": ListColumn(
            "Hours left" if limit is not None else "Hours left: not known", TENTH, arrow=False
        ),
        **{kind: ListColumn(title, share, arrow=False) for kind, title in FULLEST.items()},
    }
    weeks = made.pivot(index="week", columns="task", values="hours").fillna(0.0)[kinds]
    spent, full = {week.date(): row.to_dict() for week, row in weeks.iterrows()}, _fullest(plan)
    # Without a gap, quiet weeks too: its chart has a time line.
    days = weeks_of(Span(min(spent | full), max(spent | full) + DAY)) if spent else ()
    rows = [_week_cells(day, spent.get(day, {}), limit, kinds) | full.get(day, {}) for day in days]
    # Arrows by week only: on every kind they would take the room of its figures.
    after = write_list(
        pen, sheet, plan.season, words, columns if rows else {}, rows, "There is no work: no lot is planned.",
        fitted=False, arrows=2,
    )  # fmt: skip
    if rows:
        pen.put(sheet, after, 1, "Season", SHORT.but(bold=True))
        pen.put(sheet, after, 2, None, TEXT)
        for column, total in enumerate([*weeks.sum(), weeks.sum(axis=None)], 3):
            pen.put(sheet, after, column, round(float(total), 2), TENTH.but(bold=True))


def _fullest(plan: Plan) -> dict[date, dict[str, float]]:
    """By Monday: of the coolers and of the benches the share of its room that the fullest takes on its fullest day."""
    kinds = {place.name: "cooler" if place.kind == "cooler" else "bench" for place in plan.season.places}
    full: dict[date, dict[str, float]] = {}
    for load in plan.loads:
        for i, pots in enumerate(load.pots):
            if pots and load.capacity:
                week, kind = full.setdefault(monday(load.start + i * DAY), {}), kinds.get(load.place, "bench")
                week[kind] = max(week.get(kind, 0.0), round(pots / load.capacity, 4))
    return full


def _week_cells(week: date, hours: Mapping[str, float], limit: float | None, kinds: Sequence[str]) -> Row:
    total = round(sum(hours.values()), 2)
    row: Row = {"week": iso_week(week), "monday": week, "all": total, "limit": limit, "left": None}
    row |= dict.fromkeys(FULLEST) | {
        f"hours: {kind}": round(hours.get(kind, 0.0), 2) or None for kind in kinds
    }
    if limit is None:
        return row
    left, look = round(limit - total, 2), TENTH.but(bold=True)
    if left < 0:
        over = Marked(f"▲ +{max(-left, 0.1):,.1f}", look.but(ink=ALERT))
        return row | {"all": Marked(total, look.but(**HATCHED)), "left": over}
    return row | {"all": Marked(total, look.but(fill=TINT if total > 0.75 * limit else None)), "left": left}


# ---------------------------------------------------------------- rooms


def write_rooms(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Rooms`: the settings of each place, in the season's unit."""
    unit = plan.season.unit
    words = (
        "Rooms",
        f"What each place is set to, in °{unit}. Stated: the season says so. Planned: the plan's own programme. "
        "From the start: before the first lot is potted. To the end: until the last one has gone.",
    )
    degrees = TENTH.but(number="0.0")
    columns = {
        "place": ListColumn("Place", NAME, most=140),
        "kind": ListColumn("Kind"),
        "from": ListColumn("First day", DAY_LOOK),
        "to": ListColumn("Last day", DAY_LOOK),
        "day": ListColumn(f"Day °{unit}", degrees),
        "night": ListColumn(f"Night °{unit}", degrees),
        "mean": ListColumn(f"Mean °{unit}", degrees.but(bold=True)),
        "basis": ListColumn("Basis"),
        "reason": ListColumn("Reason", most=220),
    }
    rows: list[Row] = list(rows_of(frames.rooms(plan)))
    lived = [day for lot in plan.lots for step in lot.steps for day in (step.span.start, step.span.end)]
    first, last = min((r["from"] for r in rows), default=None), max((r["to"] for r in rows), default=None)
    for i, row in enumerate(rows):
        # Beyond the lots no one has stated a day, or acts on it.
        always = row["from"] == first and first < min(lived, default=date.max)
        ever = row["to"] == last and last > max(lived, default=date.min)
        rows[i] = row | {
            "from": "from the start" if always else row["from"],
            "to": "to the end" if ever else max(row["from"], row["to"] - DAY),
        }
    stated = {row["place"] for row in rows}
    for place in plan.season.places:
        if place.name not in stated:
            why = "outdoors: the weather decides" if place.kind == "site" else "no temperature is stated"
            bare = dict.fromkeys(columns) | {
                "place": place.name,
                "kind": place.kind,
                "basis": "",
                "reason": why,
            }
            rows.append(known(bare, **{"from": "not set", "to": "not set"}))
    none = "No place is stated in this season."
    write_list(pen, sheet, plan.season, words, columns, rows, none, fitted=False)


# ---------------------------------------------------------------- notices

_NOTICES: Columns = {
    "severity": ListColumn("Severity", NAME, most=70),
    "table": ListColumn("Table", most=80),
    "row": ListColumn("Row", NUMBER),
    "column": ListColumn("Column", most=90),
    "message": ListColumn("What is wrong", most=260),
    "hint": ListColumn("What to do", most=260),
    "code": ListColumn("Code", TEXT.but(ink=NOTE.ink), most=110),
}


def write_notices(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Notices`: all findings, worst first."""
    words = (
        "Notices",
        "Everything found wrong or risky, worst first. Table, row and column are those of the season file.",
    )
    rows = [
        row | {name: in_words(row[name], plan.on) for name in ("message", "hint")}
        | ({"severity": Marked("▲ error", ALARM)} if row["severity"] == "error" else {})
        for row in rows_of(frames.findings(merged(plan.findings)))
    ]  # fmt: skip
    write_list(pen, sheet, plan.season, words, _NOTICES, rows, "Nothing was found wrong or risky.")


# ---------------------------------------------------------------- sources

_MEANING = {
    "cold_min": "least cold for good stems; below its low a lot is refused",
    "cold_target": "cold to plan on",
    "cold_max": "most cold: above it stems grow tall and weak",
    "cold_curve": "which days of cold count how much",
    "rooting": "time to root",
    "rooting_at": "temperature for rooting",
    "cooled_at": "temperature once rooted",
    "kept_at": "temperature once shoots show in the cooler",
    "sprouting": "cold until shoots are about 2.5 cm",
    "precooled_max": "most cold that counts from before the bulbs came",
    "store_at": "temperature of the dry bulbs until potting",
    "pot_by": "longest dry once the bulbs are in hand",
    "potted_wait": "longest potted and warm before the cold",
    "earliest": "first bloom from 1 September on; 0: no limit",
    "base": "bench heat counts above this",
    "cap": "bench heat counts up to this",
    "reference": "bench temperature the days below are for",
    "bench_days": "bring in to bloom at that temperature",
    "bench_days_min": "least days from bring in to bloom",
    "days_saved": "bench days saved by a week more of cold",
    "line_from": "least cold that the days saved are known for",
    "line_to": "most cold that the days saved are known for",
    "shoots": "shoots up, share of the way to bloom",
    "bud": "bud seen, share of the way to bloom",
    "colour": "colour seen, share of the way to bloom",
    "bench_low": "coldest safe bench",
    "bench_high": "warmest safe bench",
    "hold": "temperature of a cold hold",
    "hold_max": "longest cold hold",
    "display_reference": "display temperature the days below are for",
    "display_days": "bloom to fade at that temperature",
    "display_base": "a flower ages by the warmth above this",
    "display_longest": "longest in bloom, however cold",
    "frost": "coldest it stands, hardened, uncovered",
    "spread": "how much pots and seasons differ",
    "bulbs_per_pot": "bulbs in a pot",
    "pot": "width of the pot",
}
_CITED = re.compile(r"\[([a-z0-9_]+)\]")
_FIGURE = TEXT.but(align="right")  # as many decimals as the figure has
_SOURCES: Columns = {
    "crop": ListColumn("Crop", NAME, most=90),
    "class": ListColumn("Class"),
    "cultivar": ListColumn("Cultivar", most=90),
    "parameter": ListColumn("Figure", most=90),
    "meaning": ListColumn("Meaning", most=150),
    "low": ListColumn("Low", _FIGURE),
    "typical": ListColumn("Used", _FIGURE.but(bold=True)),
    "high": ListColumn("High", _FIGURE),
    "unit": ListColumn("Unit", most=80),
    "basis": ListColumn("Basis"),
    "source": ListColumn("Source", most=120),
    "locator": ListColumn("Where in it, or how derived", most=230),
}


def write_sources(pen: Pen, sheet: Any, plan: Plan) -> None:
    """The sheet `Sources`: figures of every crop used, crops in season order, each figure once."""
    words = (
        "Sources",
        "Published: in print. Derived: worked out from print. Practice: common practice, no source. "
        "House: this house's own figure.",
    )
    made = frames.used_figures(plan)
    unsourced = Marked(frames.NOT_RECORDED, NONE)
    unit, measures = plan.season.unit, plan.season.measures
    rows = [
        _in_measures(row, measures)
        | {
            name: told(text, unit, measures)
            for name, text in (("meaning", _MEANING.get(row["parameter"], "")), ("locator", row["locator"]))
        }
        | ({"basis": unsourced, "source": unsourced} if row["source"] == frames.NOT_RECORDED else {})
        for row in rows_of(made)
    ]
    none = "No lot is planned, so no figures were used."
    after = write_list(pen, sheet, plan.season, words, _SOURCES, rows, none)
    _works(pen, sheet, [*made.source, *made.locator.str.findall(_CITED).explode()], after + 1)


def _in_measures(row: Row, measures: Measures) -> Row:
    """A figure with the width of a pot in inches where the season's measures have them."""
    if row["unit"] != "cm" or measures != "US":
        return row
    return row | {"unit": "in"} | {k: _quarter(row[k]) for k in ("low", "typical", "high")}


def _quarter(width: float | None) -> float | None:
    return None if width is None else round(width / POT_INCH * 4) / 4


def _works(pen: Pen, sheet: Any, keys: Sequence[str], row: int) -> None:
    """The works behind the keys, each once: those the figures name, and those their notes name in brackets."""
    known_works = shipped_sources()
    texts = {key: _work(known_works[key]) for key in sorted({key for key in keys if key in known_works})}
    if texts:
        section(pen, sheet, row, "Works")
        last = len(_SOURCES)
        room = sum(sheet.column_dimensions[get_column_letter(c)].width for c in range(4, last + 1))
        _explained(pen, sheet, row + 1, texts, 4, last, room)


def _work(source: Source) -> str:
    parts = (source.author, "" if source.year is None else str(source.year), source.title, source.where)
    work = " ".join(f"{part.rstrip('.')}." for part in parts if part)
    return f"{work} Confidence: {source.confidence}."
