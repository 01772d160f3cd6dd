"""The label sheet: one label a lot (and a companion), to cut out for its crate or bench.

Read at arm's length on a black-and-white print: the lot is the largest word, the class a boxed letter with its word
beside it. Names shrink and wrap until they fit and are never cut. Plain PDF with its fonts embedded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from forcing.engine.companions import CompanionPlan
from forcing.model import BloomClass, Lot, LotPlan, Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.paper import UPRIGHT, paged, title_of, write_sheet
from forcing.reports.style import CLASS_MARKS, INK, QUIET, long_date
from forcing.text import one_line, some
from forcing.units import Measures, show_box, show_pot

ACROSS, DOWN = 2, 5  # labels on a page
_MM = 72 / 25.4  # points
MARGIN = 10 * _MM  # what most printers leave white
FOOT = 7 * _MM  # below the labels, for the foot line
PAD = 4 * _MM
_BADGE = 26.0  # points
_CUT = Stroke(1, QUIET, 0.5, (4, 3))


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label. `dates`: what, when, where; when is words where there is no date."""

    name: str
    crop: str
    cultivar: str | None
    bloom_class: BloomClass | None
    has_class: bool  # a companion has none, which is not the same as one not stated
    pots: str
    dates: tuple[tuple[str, str, str], ...]


def write_labels(
    plan: Plan, folder: Path, *, created: datetime, companions: Sequence[CompanionPlan] = ()
) -> Path:
    """Write `labels.pdf` into `folder` and return its path: a label for each planned lot, then each companion.

    `created` goes into the file's own dates, so that the same plan gives the same bytes. Raises OutputError
    where the file cannot be written.
    """
    pages = draw_pages(plan, tuple(labels_of(plan, companions)))
    return write_sheet(folder / "labels.pdf", pages, f"{title_of(plan)}: labels", created)


def labels_of(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> Iterator[Label]:
    """The labels in the order in which the season lists its lots, then its companions."""
    listed = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    for planned in sorted(plan.lots, key=lambda p: listed.get(p.lot.name, len(listed))):
        yield _lot_label(plan, planned)
    for grown in companions:
        yield _companion_label(grown, plan.season.measures)


def _lot_label(plan: Plan, planned: LotPlan) -> Label:
    lot = planned.lot
    width, measures = lot.pot_cm or planned.recipe.pot, plan.season.measures
    bulbs = planned.recipe.bulbs_per_pot if lot.bulbs_per_pot is None else lot.bulbs_per_pot
    cooler = next((s.place for s in planned.steps if s.step in ("root", "cool")), None)
    bench = next((s.place for s in planned.steps if planned.bring_in in s.span), None)
    out = None if planned.install is None else _standing(plan, planned, planned.install)
    return Label(
        lot.name, lot.crop, lot.cultivar, lot.bloom_class or planned.recipe.bloom_class, True,
        f"{_boxes(lot, measures) if lot.box_cm else _pots(lot.pots, width, measures)}, {some(bulbs, 'bulb')} each",
        (
            ("Pot", long_date(planned.potting), ""),
            ("Cooler in", "no cold" if planned.cooler_in is None else long_date(planned.cooler_in), cooler or ""),
            ("Bring in", long_date(planned.bring_in), bench or ""),
            _last_line(planned, out or ""),
        ),
    )  # fmt: skip


def _last_line(planned: LotPlan, out: str) -> tuple[str, str, str]:
    """Where the pots end: set out, or sent away; of others the day they are wanted for."""
    if planned.install is not None:
        return "Set out", long_date(planned.install), out
    if planned.leaves is not None:
        return "Leaves", long_date(planned.leaves), ""
    wanted = planned.lot.target_stage
    return "Target", long_date(planned.target), "" if wanted == "bloom" else f"in {wanted}"


def _standing(plan: Plan, planned: LotPlan, day: date) -> str | None:
    """The display the lot goes to with its site, or where it stands on that day."""
    site = next((s.place for s in planned.steps if day in s.span), None)
    for display in plan.season.displays:
        if display.name == planned.lot.display:
            return f"{display.name}, {display.site}"
    return site


def _companion_label(grown: CompanionPlan, measures: Measures) -> Label:
    shows = " and ".join(dict.fromkeys(s.place for s in grown.steps if s.step == "show" and s.place))
    grows = (("Sow", grown.sow, ""), ("Transplant", grown.transplant, grown.place))
    return Label(
        grown.companion.name, grown.companion.crop, None, None, False,
        _pots(grown.companion.pots, grown.recipe.pot, measures),
        (
            *((word, long_date(day), place) for word, day, place in grows if day is not None),
            ("Harden off", long_date(grown.harden), grown.harden_at),
            ("Set out", long_date(grown.set_out), shows),
        ),
    )  # fmt: skip


def _boxes(lot: Lot, measures: Measures) -> str:
    return f"{some(lot.pots, 'box', 'boxes')} of {show_box(lot.box_cm, measures)}"


def _pots(number: int, width: float, measures: Measures) -> str:
    return f"{some(number, 'pot')} of {show_pot(width, measures)}"


# ---------------------------------------------------------------- drawing


def draw_pages(plan: Plan, labels: Sequence[Label]) -> list[Canvas]:
    """The labels in pages of the season's paper, to cut along the lines."""
    size = UPRIGHT[plan.season.paper]
    return [_page(plan, shown, size, page) for shown, page in paged(labels, ACROSS * DOWN)]


def _page(plan: Plan, labels: Sequence[Label], size: tuple[float, float], page: str) -> Canvas:
    canvas, title = Canvas(*size), title_of(plan)
    wide, tall = (size[0] - 2 * MARGIN) / ACROSS, (size[1] - 2 * MARGIN - FOOT) / DOWN
    for i, label in enumerate(labels):
        down, across = divmod(i, ACROSS)
        left, top = MARGIN + across * wide, MARGIN + down * tall
        _cut_lines(canvas, left, top, wide, tall, first=(across == 0, down == 0))
        _label(canvas, label, title, left + PAD, top + PAD, wide - 2 * PAD, tall - 2 * PAD)
    if not labels:
        canvas.text(MARGIN, MARGIN + 14, "No lot is planned, so there are no labels.", 11)
    _foot(canvas, plan, labels, page)
    return canvas


def _foot(canvas: Canvas, plan: Plan, labels: Sequence[Label], page: str) -> None:
    lead = "Cut along the dashed lines. " if labels else ""
    note = fit.letters_note(word or "" for label in labels for word in (label.name, label.cultivar))
    said = f"{lead}{title_of(plan)} · plan of {long_date(plan.on)} {note}".strip()
    base, right = canvas.height - MARGIN + 1, canvas.width - MARGIN
    points, lines = fit.fitted(said, right - MARGIN - fit.width(page, 8) - 12, 10.5, 8)
    up = (len(lines) - 1) * points * fit.LEADING
    _lines(canvas, lines, MARGIN, base - up, points, colour=QUIET)
    canvas.text(right, base, page, 8, colour=QUIET, side="right")


def _cut_lines(
    canvas: Canvas, left: float, top: float, wide: float, tall: float, *, first: tuple[bool, bool]
) -> None:
    """Right and lower edge of a label; the left and upper one where it is the `first` of its row and column."""
    right, bottom = left + wide, top + tall
    edges = [((right, top), (right, bottom)), ((left, bottom), (right, bottom))]
    edges += [((left, top), (left, bottom))] if first[0] else []
    edges += [((left, top), (right, top))] if first[1] else []
    for edge in edges:  # each line once: two dashed ones would make a whole one
        canvas.line(edge, _CUT)


def _label(
    canvas: Canvas, label: Label, title: str, left: float, top: float, wide: float, tall: float
) -> None:
    """One label in its padded box, from the top left [pt]: name and badge, what it is, dates, the show."""
    room = wide - (_BADGE + 8 if label.has_class else 0.0)
    y = _block(canvas, label.name, left, top, room, 30, 25, bold=True)
    if label.has_class:
        _badge(canvas, label.bloom_class, left + wide - _BADGE, top)
    what = ", ".join(filter(None, (label.cultivar, label.crop)))
    y = _block(canvas, what, left, y + 3, room, 30, 12.5, bold=True)
    y = _block(canvas, label.pots, left, y + 1, room, 12, 9.5)
    foot = top + tall
    _dates(canvas, label, left, wide, y + 4, min((foot - 9 - y - 4) / len(label.dates), 15.0))
    points, lines = fit.fitted(title, wide, 7.5, 6)
    _lines(canvas, lines, left, foot - (len(lines) - 1) * points * fit.LEADING, points, colour=QUIET)


def _dates(canvas: Canvas, label: Label, left: float, wide: float, top: float, step: float) -> None:
    """What is done when and where, a line each."""
    size = min(9.8, 0.86 * step)
    at = 8 + max(fit.width(word, min(8.5, size)) for word, _, _ in label.dates)
    for i, (word, when, where) in enumerate(label.dates):
        base = top + step * (i + 1) - 0.3 * step
        canvas.text(left, base, word, min(8.5, size), colour=QUIET)
        x = canvas.text(left + at, base, when, size, bold=True) + 7
        points, lines = fit.fitted(_printed(where), left + wide - x, step * 0.97, min(9, size))
        _lines(canvas, lines, x, base - (len(lines) - 1) * points * fit.LEADING / 2, points)


def _block(
    canvas: Canvas, text: str, left: float, top: float, room: float, height: float, largest: float, *,
    bold: bool = False,
) -> float:  # fmt: skip
    """Text below `top`; gives the height where it ends."""
    points, lines = fit.fitted(_printed(text), room, height, largest, bold)
    _lines(canvas, lines, left, top + 0.88 * points, points, bold=bold)
    return top + len(lines) * points * fit.LEADING


def _printed(text: str) -> str:
    return fit.clean(one_line(text))


def _lines(
    canvas: Canvas, lines: Sequence[str], x: float, base: float, points: float, *, bold: bool = False,
    colour: str = INK,
) -> None:  # fmt: skip
    for n, line in enumerate(lines):
        canvas.text(x, base + n * points * fit.LEADING, line, points, bold=bold, colour=colour)


def _badge(canvas: Canvas, bloom_class: BloomClass | None, left: float, top: float) -> None:
    """The letter of a class; nothing for a crop that has none."""
    if bloom_class is None:
        return
    mark, middle = CLASS_MARKS[bloom_class], left + _BADGE / 2
    canvas.badge(left, top, _BADGE, 3, Style(3, mark.fill, INK, 1))
    canvas.text(middle, top + _BADGE * 0.74, mark.letter, _BADGE * 0.66, bold=True, side="center")
    canvas.text(middle, top + _BADGE + 8.5, bloom_class, 7.5, side="center")
