"""The review: review.csv, next-crops.csv and review.xlsx, and the same in plain words for the terminal."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from textwrap import wrap
from typing import Any

from openpyxl import Workbook

from forcing.engine.review import EVENTS, PARTS, HoursSpent, LotReview, Posterior, Review
from forcing.model import Event
from forcing.recipes.book import COMPANION_UNITS as COMPANION_UNITS
from forcing.reports import frames
from forcing.reports.frames import rows_of, write_csv
from forcing.reports.style import ALERT, QUIET, long_date
from forcing.reports.workbook.cells import NUMBER, PLAIN, SECTION, TENTH, TEXT, Pen, Value, height, lines
from forcing.reports.workbook.lists import SHORT, TOP, Row, write_list
from forcing.reports.workbook.table import ListColumn, Marked, set_up_page, to_print, widen
from forcing.text import listed, some
from forcing.units import c_to_f_difference
from forcing.xlsx import write_xlsx

# Days off plan that are worth a line: a stage is seen on the day somebody looks. Practice, no source.
WORTH_TELLING = 2
_WIDTH = 110

Section = tuple[str, tuple[str, ...]]


def review_text(review: Review) -> str:
    """The review as lines of text: what was late and why, what differs from the recipes, what was not logged."""
    out: list[str] = []
    for head, section in review_sections(review):
        out += _wrapped(head, "", "")
        for line in section:
            out += _wrapped(line, "  ", "    ")
        out.append("")
    return "\n".join(out[:-1])


def _wrapped(line: str, first: str, rest: str) -> list[str]:
    """Lines that break at blanks only, and never between a figure and its per cent sign."""
    kept = line.replace(" %", "\u00a0%")
    made = wrap(kept, _WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in made]


def review_sections(review: Review) -> tuple[Section, ...]:
    """The same in parts: a head, and the lines under it; parts with nothing to say are left out."""
    head = f"Review of {review.season.title}, with what was logged and read up to {long_date(review.on)}."
    if not any(lot.started for lot in review.lots):
        return (
            (head, ()),
            (
                "Nothing is logged, so there is nothing to set beside the plan, and nothing to learn from.",
                (
                    "Next year's figures are those of this year. Write into the log, lot by lot, the day of potted, "
                    "cooler in, brought in and bloom at least, and review again.",
                ),
            ),
        )
    sections: list[Section] = [(head, (_count(review),))]
    sections += [
        ("Later than planned, and why", _off_plan(review, late=True)),
        ("Earlier than planned, and why", _off_plan(review, late=False)),
        ("Unlike the recipe by more than the uncertainty", tuple(_unlike(review))),
        ("Hours, planned and logged", tuple(map(_hours_line, review.hours))),
        ("Not logged", tuple(_not_logged(review))),
        ("Next year's figures", (_next_year(review),)),
    ]
    return tuple(section for section in sections if section[1])


def _hours_line(spent: HoursSpent) -> str:
    """Hours of one kind of work, and what to state next year where they differ by more than a tenth."""
    line = f"{spent.event}, {some(spent.lots, 'lot')}: {spent.planned:.1f} h planned, {spent.logged:.1f} h logged"
    if spent.planned <= 0 or abs(spent.logged - spent.planned) <= 0.1 * spent.planned:
        return f"{line}."
    return f"{line}: write {spent.logged / spent.planned:.1f} times the minutes of that work for next year."


def _count(review: Review) -> str:
    known = [late for lot in review.lots if (late := lot.days_late("bloom")) is not None]
    if not known:
        return f"{some(len(review.lots), 'lot')}, none with both a planned and a logged bloom."
    text = f"{some(len(review.lots), 'lot')}, {len(known)} with bloom logged and planned"
    late = sum(days >= WORTH_TELLING for days in known)
    early = sum(days <= -WORTH_TELLING for days in known)
    near = len(known) - late - early
    return (
        f"{text}: {near} within a day of plan, {late} later, {early} earlier by {WORTH_TELLING} days or more."
    )


# ---------------------------------------------------------------- off plan


def _off_plan(review: Review, *, late: bool) -> tuple[str, ...]:
    found = [
        (days, lot)
        for lot in review.lots
        if (days := lot.days_late("bloom")) is not None and (days if late else -days) >= WORTH_TELLING
    ]
    found.sort(key=lambda pair: -abs(pair[0]))  # equals stay in the order of the season
    return tuple(_why_line(lot, days) for days, lot in found)


def _why_line(lot: LotReview, days: int) -> str:
    aimed = lot.target is not None and lot.lot.target_stage == "bloom"
    after = (lot.actual["bloom"] - lot.target).days if aimed and lot.target is not None else 0
    target = f" ({some(after, 'day')} after its target)" if after > 0 and after != days else ""
    return f"{name_of(lot)}: {some(abs(days), 'day')} {'late' if days > 0 else 'early'}{target}, {why(lot)}."


def why(lot: LotReview) -> str:
    """What made the bloom of a lot late or early, in words; what worked the other way comes after."""
    days = lot.days_late("bloom")
    if days is None:
        return "bloom is not logged" if lot.planned else "it was not planned"
    if not lot.parts:
        missing = [
            event for event in ("brought in", "cooler in") if event in lot.planned and event not in lot.actual
        ]
        reasons = [f"{event} is not logged" for event in missing] or list(lot.notes)
        return "why is not known" + (f": {'; '.join(reasons)}" if reasons else "")
    towards = [_part(lot, name) for name in _largest(lot) if lot.parts[name] * days > 0]
    against = [_part(lot, name) for name in _largest(lot) if lot.parts[name] * days < 0]
    if days == 0:
        return "on the day" + (
            f", by {listed([_part(lot, n) for n in _largest(lot)])}" if _largest(lot) else ""
        )
    return f"by {listed(towards)}" + (f"; against that {listed(against)}" if against else "")


def _largest(lot: LotReview) -> list[str]:
    return sorted((name for name in PARTS if lot.parts[name]), key=lambda name: -abs(lot.parts[name]))


def _part(lot: LotReview, name: str) -> str:
    days = lot.parts[name]
    size = f"({days:+d} d)"
    if name == "brought in":
        potted = lot.days_late("potted") or 0
        cause = f" after potting {some(potted, 'day')} late" if days > 0 and potted > 0 else ""
        return f"coming {'late' if days > 0 else 'early'} onto the bench{cause} {size}"
    if name == "cold":
        weeks = ""
        if lot.cold_credited is not None and lot.cold_planned is not None:
            weeks = f", {lot.cold_credited:.1f} cold-weeks for {lot.cold_planned:.1f}"
        return f"{'less' if days > 0 else 'more'} cold than planned{weeks} {size}"
    if name == "warmth":
        return f"standing {'cooler' if days > 0 else 'warmer'} than planned {size}"
    share = "" if lot.factor is None else f", {_percent(lot.factor)} heat than foretold"
    return f"{'slow' if days > 0 else 'quick'} growth{share} {size}"


# ---------------------------------------------------------------- unlike the recipe


def _unlike(review: Review) -> Iterator[str]:
    found = [(p, "heat to bloom") for p in review.need] + [(p, "life on display") for p in review.life]
    for p, what in found:
        if p.effect.differs:
            e = p.effect
            yield (
                f"{_who(p)}: {_percent(e.factor)} {what} than its recipe (8 chances in 10: "
                f"{_signed(e.low)} to {_signed(e.high)} %), from {some(p.lots + p.stages, 'lot')}."
            )


def _who(p: Posterior) -> str:
    whole = "" if p.cultivar else " as a whole" if p.bloom_class else " without a class"
    return ", ".join(part for part in (p.crop, p.bloom_class, p.cultivar) if part) + whole


def _percent(factor: float) -> str:
    share = round(100 * abs(factor - 1))
    return f"{share} % {'more' if factor >= 1 else 'less'}"


def _signed(factor: float) -> str:
    return f"{100 * (factor - 1):+.0f}"


# ---------------------------------------------------------------- not logged


def _not_logged(review: Review) -> Iterator[str]:
    silent = [lot.lot.name for lot in review.lots if not lot.started and _was_due(lot, "potted", review)]
    if silent:
        yield f"anything at all: {listed(silent, 12)}."
    missing: dict[str, list[str]] = defaultdict(list)
    for lot in review.lots:
        for event in lot.missing:
            missing[event].append(lot.lot.name)
        unseen = "bloom" not in lot.actual and "bloom" not in lot.missing
        if lot.started and unseen and _was_due(lot, "bloom", review):
            missing["bloom"].append(lot.lot.name)
    for event in EVENTS:
        if missing[event]:
            yield f"{event}: {listed(missing[event], 12)}."
    unmeasured = [lot.lot.name for lot in review.lots if lot.unmeasured]
    if unmeasured:
        yield (
            "temperatures of every day on the bench: "
            f"{listed(unmeasured, 12)}; what was stated, planned or usual was taken."
        )


def _was_due(lot: LotReview, event: Event, review: Review) -> bool:
    """Whether the plan had it before the day of looking back; a lot without a plan counts as due."""
    return event not in lot.planned or lot.planned[event] < review.on


def _next_year(review: Review) -> str:
    if not review.figures:
        return "None: no lot is logged as far as a stage on the bench, so this year's stand."
    kept = len(review.crops) - len(review.figures)
    unit = review.season.unit
    carried = (
        f", and {kept} of this year's own rows that still hold (temperatures in °{unit})" if kept else ""
    )
    return (
        f"{len(review.figures)} rows from this season{carried} are in next-crops.csv: it takes the place of the crops "
        "table in next year's season."
    )


# ---------------------------------------------------------------- small words


def name_of(lot: LotReview) -> str:
    """The lot with its cultivar."""
    return f"{lot.lot.name} {lot.lot.cultivar}" if lot.lot.cultivar else lot.lot.name


def write_review(review: Review, folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write review.csv, next-crops.csv and review.xlsx; `created` is stamped on the workbook.

    Raises OutputError where a file cannot be written; what was there before is then untouched.
    """
    table, crops, book = (folder / name for name in ("review.csv", "next-crops.csv", "review.xlsx"))
    write_csv(frames.review(review), table, digits=frames.REVIEW_DIGITS)
    write_csv(frames.crops(review.crops, review.season.unit), crops)
    write_xlsx(_workbook(review), book, title=f"{review.season.title}: review", created=created)
    return table, crops, book


# ---------------------------------------------------------------- the workbook

_DATE = TEXT.but(wrap=False, number="[$-809]ddd d mmm")  # the year is in the cell, and in the title
_SIGNED = NUMBER.but(number="+0;-0;0")
_RATIO = NUMBER.but(number="0.00")
_AFTER = TEXT.but(wrap=False, indent=1)  # clear of figures that end at the right of the column before
_LOT = ListColumn("Lot", TEXT.but(bold=True), most=80)
_CULTIVAR = ListColumn("Cultivar", most=110)
_NO_LOT = "No lot is stated."


def _workbook(review: Review) -> Workbook:
    book = Workbook()
    pen = Pen(book)
    sheets: tuple[tuple[str, Callable[[Pen, Any, Review], None], str | None], ...] = (
        ("In words", _in_words, None),
        ("Dates", _dates, "D4"),
        ("Why", _why, "C4"),
        ("Next year", _next_year_sheet, "D4"),
    )
    for i, (name, write, frozen) in enumerate(sheets):
        sheet = book.active if i == 0 else book.create_sheet()
        sheet.title = name
        write(pen, sheet, review)
        to_print(sheet)
        set_up_page(sheet, review.season.paper, review.season.title, landscape=i > 0)
        sheet.freeze_panes = frozen
        sheet.print_title_rows = f"{TOP}:{TOP}" if frozen else None
    book.active = 0
    return book


def _in_words(pen: Pen, sheet: Any, review: Review) -> None:
    width = widen(sheet, 1, 96.0)
    row = 1
    for head, text in review_sections(review):
        look = SECTION.but(wrap=True)
        pen.put(sheet, row, 1, head, look)
        sheet.row_dimensions[row].height = height(lines(head, width, look.size, look.bold), look.size)
        for line in text:
            row += 1
            pen.put(sheet, row, 1, line, PLAIN.but(wrap=True, indent=1))
            sheet.row_dimensions[row].height = height(lines(line, width - 2))
        row += 2


def _dates(pen: Pen, sheet: Any, review: Review) -> None:
    words = "Planned and logged", "Three rows a lot. What is not logged is empty."
    columns = {"lot": _LOT, "cultivar": _CULTIVAR, "what": ListColumn("", SHORT)}
    columns |= {event: ListColumn(event.capitalize(), _DATE) for event in EVENTS}
    rows = [row for lot in review.lots for row in _three_rows(lot)]
    write_list(pen, sheet, review.season, words, columns, rows, _NO_LOT, fitted=False)


def _three_rows(lot: LotReview) -> Iterator[Row]:
    """Planned, logged, days late. The name is in each, so that no page and no filter parts a row from its lot."""
    first, faint, dated = TEXT.but(edge=""), TEXT.but(edge="", ink=QUIET), _DATE.but(edge="")
    name, cultivar = lot.lot.name, lot.lot.cultivar
    yield {
        "lot": Marked(name, first.but(bold=True)), "cultivar": Marked(cultivar, first),
        "what": Marked("planned", first), **{e: Marked(lot.planned.get(e), dated) for e in EVENTS},
    }  # fmt: skip
    yield {
        "lot": Marked(name, faint), "cultivar": Marked(cultivar, faint), "what": Marked("logged", first),
        **{e: Marked(lot.actual.get(e), dated.but(bold=True)) for e in EVENTS},
    }  # fmt: skip
    last = faint.but(edge="under")
    yield {
        "lot": Marked(name, last), "cultivar": Marked(cultivar, last), "what": "days late",
        **{e: _late(lot.days_late(e)) for e in EVENTS},
    }  # fmt: skip


def _late(days: int | None) -> Marked:
    if days is None:
        return Marked("", TEXT)
    look = _SIGNED.but(align="left")
    return Marked(days, look.but(bold=True, ink=ALERT) if days > 0 else look)


_WHY = {
    "lot": _LOT,
    "cultivar": _CULTIVAR,
    "target": ListColumn("Target", _DATE),
    "bloom actual": ListColumn("Bloom", _DATE),
    "pots": ListColumn("Pots", NUMBER),
    "lost pots": ListColumn("Lost", NUMBER),
    "bloom days late": ListColumn("Days late", _SIGNED.but(bold=True)),
    "days late by brought in": ListColumn("by bring in", _SIGNED),
    **{f"days late by {part}": ListColumn(f"by {part}", _SIGNED) for part in PARTS[1:]},
    "cold planned": ListColumn("Cold planned", TENTH),
    "cold credited": ListColumn("Cold credited", TENTH),
    "need predicted": ListColumn("Heat foretold", NUMBER),
    "need seen": ListColumn("Heat seen", NUMBER),
    "need ratio": ListColumn("Seen over foretold", _RATIO),
    "notes": ListColumn("Notes", _AFTER.but(wrap=True), most=200),
}


def _why(pen: Pen, sheet: Any, review: Review) -> None:
    unit = review.season.unit
    note = (
        f"Days late of bloom (minus: early), and the parts that sum to it. Cold in weeks, heat in °{unit}·d."
    )
    made = frames.review(review)
    if unit == "F":
        heats = ["need predicted", "need seen"]
        made[heats] = made[heats].map(c_to_f_difference)
    words = "Why bloom was late or early", note
    write_list(pen, sheet, review.season, words, _WHY, rows_of(made), _NO_LOT)


def _next_year_sheet(pen: Pen, sheet: Any, review: Review) -> None:
    words = (
        "What this season says of the recipes",
        "The same rows for the program are in next-crops.csv. Range: 8 chances in 10.",
    )
    columns = (
        ListColumn("Crop", most=110), ListColumn("Class"), _CULTIVAR, ListColumn("Figure"), ListColumn("Lots", NUMBER),
        ListColumn("Mean seen", _RATIO), ListColumn("Factor", _RATIO.but(bold=True)), ListColumn("from", _RATIO),
        ListColumn("to", _RATIO), ListColumn("Days now", TENTH), ListColumn("Days next year", TENTH),
        ListColumn("low", TENTH), ListColumn("high", TENTH), ListColumn("Unlike the recipe", _AFTER, most=110),
    )  # fmt: skip
    made = [(p, "bench days") for p in review.need] + [(p, "display days") for p in review.life]
    titles = [column.title for column in columns]
    rows = [dict(zip(titles, _posterior_row(*each), strict=True)) for each in made]
    none = "No lot is logged far enough to say anything."
    write_list(
        pen, sheet, review.season, words, dict(zip(titles, columns, strict=True)), rows, none, fitted=False
    )


def _posterior_row(p: Posterior, figure: str) -> tuple[Value | Marked, ...]:
    now = None
    if p.recipe is not None:
        now = p.recipe.bench_days if figure == "bench days" else p.recipe.display_days
    effect = p.effect
    days = tuple(None if now is None else now * f for f in (1.0, effect.factor, effect.low, effect.high))
    words = {"bench days": ("slower", "quicker"), "display days": ("lasts longer", "lasts less long")}[figure]
    unlike = (words[0] if effect.factor > 1 else words[1]) if effect.differs else ""
    bold = TEXT.but(bold=p.cultivar is None)
    whole = "whole class" if p.bloom_class else "all without a class"
    return (
        Marked(p.crop, bold), Marked(p.bloom_class, bold), p.cultivar or Marked(whole, bold), figure,
        p.lots + p.stages, p.seen, effect.factor, effect.low, effect.high,
        *days, unlike,
    )  # fmt: skip
