"""The review: review.csv, next-crops.csv and review.xlsx, and the same in plain words for the terminal."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from textwrap import wrap
from typing import Any

from openpyxl import Workbook

from forcing.engine.review import EVENTS, PARTS, LotReview, Posterior, Review
from forcing.recipes.book import COMPANION_UNITS as COMPANION_UNITS
from forcing.reports import frames
from forcing.reports.frames import write_csv
from forcing.reports.style import ALERT, QUIET, long_date
from forcing.reports.workbook.cells import NUMBER, PLAIN, SECTION, TENTH, TEXT, Pen, Value, height, lines
from forcing.reports.workbook.table import (
    Column,
    Marked,
    filtered,
    headed,
    set_up_page,
    table_room,
    to_print,
    widen,
    write_table,
)
from forcing.units import TemperatureUnit, c_to_f_difference
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
        ("Not logged", tuple(_not_logged(review))),
        ("Next year's figures", (_next_year(review),)),
    ]
    return tuple(section for section in sections if section[1])


def _count(review: Review) -> str:
    known = [late for lot in review.lots if (late := lot.days_late("bloom")) is not None]
    if not known:
        return f"{_lots(len(review.lots))}, none with both a planned and a logged bloom."
    text = f"{_lots(len(review.lots))}, {len(known)} with bloom logged and planned"
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
    after = (lot.actual["bloom"] - lot.target).days if lot.target is not None else 0
    target = f" ({_days(after)} after its target)" if after > 0 and after != days else ""
    return f"{name_of(lot)}: {_days(abs(days))} {'late' if days > 0 else 'early'}{target}, {why(lot)}."


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
            f", by {_and([_part(lot, n) for n in _largest(lot)])}" if _largest(lot) else ""
        )
    return f"by {_and(towards)}" + (f"; against that {_and(against)}" if against else "")


def _largest(lot: LotReview) -> list[str]:
    return sorted((name for name in PARTS if lot.parts[name]), key=lambda name: -abs(lot.parts[name]))


def _part(lot: LotReview, name: str) -> str:
    days = lot.parts[name]
    size = f"({days:+d} d)"
    if name == "brought in":
        potted = lot.days_late("potted") or 0
        cause = f" after potting {_days(potted)} late" if days > 0 and potted > 0 else ""
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
                f"{_signed(e.low)} to {_signed(e.high)} %), from {_lots(p.lots + p.stages)}."
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
        yield f"anything at all: {_names(silent)}."
    missing: dict[str, list[str]] = defaultdict(list)
    for lot in review.lots:
        for event in lot.missing:
            missing[event].append(lot.lot.name)
        unseen = "bloom" not in lot.actual and "bloom" not in lot.missing
        if lot.started and unseen and _was_due(lot, "bloom", review):
            missing["bloom"].append(lot.lot.name)
    for event in EVENTS:
        if missing[event]:
            yield f"{event}: {_names(missing[event])}."
    measured = [lot for lot in review.lots if any("were not measured" in note for note in lot.notes)]
    if measured:
        yield (
            "temperatures of every day on the bench: "
            f"{_names([lot.lot.name for lot in measured])}; what was stated, planned or usual was taken."
        )


def _was_due(lot: LotReview, event: str, review: Review) -> bool:
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


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _lots(number: int) -> str:
    return "1 lot" if number == 1 else f"{number} lots"


def _and(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _names(names: Sequence[str], most: int = 12) -> str:
    """Names with commas; of very many the first, and how many more."""
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


_TOP = 3


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
_LOT = Column("Lot", TEXT.but(bold=True), most=80)
_CULTIVAR = Column("Cultivar", most=110)


def _workbook(review: Review) -> Workbook:
    book = Workbook()
    pen = Pen(book)
    sheets: tuple[tuple[str, Callable[[Pen, Any, Review], None]], ...] = (
        ("In words", _in_words),
        ("Dates", _dates),
        ("Why", _why),
        ("Next year", _next_year_sheet),
    )
    for i, (name, write) in enumerate(sheets):
        sheet = book.active if i == 0 else book.create_sheet()
        sheet.title = name
        write(pen, sheet, review)
        to_print(sheet)
        set_up_page(sheet, review.season.paper, review.season.title, landscape=i > 0)
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
    headed(pen, sheet, "Planned and logged", "Three rows a lot. What is not logged is empty.")
    kind = Column("", TEXT.but(wrap=False))
    columns = (_LOT, _CULTIVAR, kind, *(Column(event.capitalize(), _DATE) for event in EVENTS))
    rows: list[Sequence[Value | Marked]] = []
    for lot in review.lots:
        first, faint = TEXT.but(edge=""), TEXT.but(edge="", ink=QUIET)
        # The name is in each of its rows, so that no page and no filter parts a row from its lot.
        again: list[Marked] = [Marked(lot.lot.name, faint), Marked(lot.lot.cultivar, faint)]
        dated = _DATE.but(edge="")
        plans = [Marked(lot.planned.get(event), dated) for event in EVENTS]
        logged = [Marked(lot.actual.get(event), dated.but(bold=True)) for event in EVENTS]
        rows.append([Marked(lot.lot.name, first.but(bold=True)), Marked(lot.lot.cultivar, first),
                     Marked("planned", first), *plans])  # fmt: skip
        rows.append([*again, Marked("logged", first), *logged])
        last = [Marked(cell.value, faint.but(edge="under")) for cell in again]
        rows.append([*last, "days late", *(_late(lot.days_late(event)) for event in EVENTS)])
    after = write_table(pen, sheet, _TOP, columns, rows)
    filtered(sheet, _TOP, len(columns), after)
    _frozen(sheet, f"D{_TOP + 1}")


def _late(days: int | None) -> Marked:
    if days is None:
        return Marked("", TEXT)
    look = _SIGNED.but(align="left")
    return Marked(days, look.but(bold=True, ink=ALERT) if days > 0 else look)


def _why(pen: Pen, sheet: Any, review: Review) -> None:
    heat = f"°{review.season.unit}·d"
    note = f"Days late of bloom (minus: early), and the parts that sum to it. Cold in weeks, heat in {heat}."
    headed(pen, sheet, "Why bloom was late or early", note)
    columns = (
        _LOT, _CULTIVAR, Column("Target", _DATE), Column("Bloom", _DATE), Column("Pots", NUMBER),
        Column("Lost", NUMBER), Column("Days late", _SIGNED), Column("by bring in", _SIGNED),
        Column("by cold", _SIGNED), Column("by warmth", _SIGNED), Column("by need", _SIGNED),
        Column("Cold planned", TENTH), Column("Cold credited", TENTH), Column("Heat foretold", NUMBER),
        Column("Heat seen", NUMBER), Column("Seen over foretold", _RATIO),
        Column("Notes", _AFTER.but(wrap=True), most=130),
    )  # fmt: skip
    rows = [_why_row(lot, review.season.unit) for lot in review.lots]
    after = write_table(pen, sheet, _TOP, columns, rows, table_room(review.season.paper))
    filtered(sheet, _TOP, len(columns), after)
    _frozen(sheet, f"C{_TOP + 1}")


def _why_row(lot: LotReview, unit: TemperatureUnit) -> tuple[Value | Marked, ...]:
    days = lot.days_late("bloom")
    return (
        lot.lot.name, lot.lot.cultivar, lot.target, lot.actual.get("bloom"),
        lot.lot.pots or None, lot.lost,
        Marked(days, _SIGNED.but(bold=True)), *(lot.parts.get(part) for part in PARTS),
        lot.cold_planned, lot.cold_credited, _heat(lot.need_predicted, unit), _heat(lot.need_seen, unit),
        lot.factor, "; ".join(lot.notes),
    )  # fmt: skip


def _heat(heat: float | None, unit: TemperatureUnit) -> float | None:
    return c_to_f_difference(heat) if heat is not None and unit == "F" else heat


def _next_year_sheet(pen: Pen, sheet: Any, review: Review) -> None:
    note = "The same rows for the program are in next-crops.csv. Range: 8 chances in 10."
    headed(pen, sheet, "What this season says of the recipes", note)
    columns = (
        Column("Crop", most=110), Column("Class"), _CULTIVAR, Column("Figure"), Column("Lots", NUMBER),
        Column("Mean seen", _RATIO), Column("Factor", _RATIO), Column("from", _RATIO), Column("to", _RATIO),
        Column("Days now", TENTH), Column("Days next year", TENTH), Column("low", TENTH), Column("high", TENTH),
        Column("Unlike the recipe", _AFTER, most=110),
    )  # fmt: skip
    rows = [_posterior_row(p, "bench days") for p in review.need]
    rows += [_posterior_row(p, "display days") for p in review.life]
    after = write_table(pen, sheet, _TOP, columns, rows)
    if not rows:
        pen.put(sheet, after, 1, "No lot is logged far enough to say anything.", PLAIN)
    filtered(sheet, _TOP, len(columns), after)
    _frozen(sheet, f"D{_TOP + 1}")


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
        p.lots + p.stages, p.seen, Marked(effect.factor, _RATIO.but(bold=True)), effect.low, effect.high,
        *days, unlike,
    )  # fmt: skip


def _frozen(sheet: Any, at: str) -> None:
    sheet.freeze_panes = at
    sheet.print_title_rows = f"{_TOP}:{_TOP}"
