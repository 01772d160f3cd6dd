"""The label sheet: one label a lot (and a companion), to cut out for its crate or bench.

Read at arm's length on a black-and-white print: the lot is the largest word, the class a boxed letter with its word
beside it. It is printed once, so it bears the day the lot is to be in bloom, and none that steering moves. Names wrap
and then shrink, to 7 pt at the least. Plain PDF with its fonts embedded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import NamedTuple

from forcing.engine.companions import CompanionPlan
from forcing.model import BloomClass, Lot, LotPlan, Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.paper import UPRIGHT, paged, title_of, write_sheet
from forcing.reports.style import CLASS_MARKS, INK, QUIET, long_date, short_date
from forcing.text import one_line, some
from forcing.units import Measures, show_box, show_pot

ACROSS, DOWN = 2, 5  # labels on a page
_MM = 72 / 25.4  # points
MARGIN = 10 * _MM  # what most printers leave white
FOOT = 7 * _MM  # below the labels, for the foot line
PAD, PAD_ABOVE = 4 * _MM, 3 * _MM
_NAME, _LARGEST = 30.0, 25.0  # height of the name, and its type at most [pt]
_LARGEST_BELOW, LEAST = 12.5, 7.0  # the largest type below it, and the smallest of all [pt]
_BADGE = 26.0  # points
_CUT = Stroke(1, QUIET, 0.5, (4, 3))


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label. `dates`: what, when, where; when is words where there is no date."""

    name: str
    crop: str
    cultivar: str | None
    bloom_class: BloomClass | None
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
    measures = plan.season.measures
    cooler = None if planned.cooler_in is None else planned.place_on(planned.cooler_in)
    bench = planned.place_on(planned.bring_in)
    out = None if planned.install is None else _standing(plan, planned, planned.install)
    return Label(
        lot.name, lot.crop, lot.cultivar, planned.bloom_class,
        f"{_boxes(lot, measures) if lot.box_cm else _pots(lot.pots, planned.pot_cm, measures)}, "
        f"{some(planned.bulbs_per_pot, 'bulb')} each",
        (
            ("Pot", short_date(planned.potting), ""),
            ("Cooler in", "no cold" if planned.cooler_in is None else short_date(planned.cooler_in), cooler or ""),
            ("Bring in", short_date(planned.bring_in), bench or ""),
            (f"In {lot.target_stage} by", long_date(planned.target), ""),
            *_last_line(planned, out or ""),
        ),
    )  # fmt: skip


def _last_line(planned: LotPlan, out: str) -> Iterator[tuple[str, str, str]]:
    """Where the pots end: set out, or sent away."""
    if planned.install is not None:
        yield "Set out", short_date(planned.install), out
    elif planned.leaves is not None:
        yield "Leaves", short_date(planned.leaves), ""


def _standing(plan: Plan, planned: LotPlan, day: date) -> str | None:
    """The display the lot goes to with its site, or where it stands on that day."""
    for display in plan.season.displays:
        if display.name == planned.lot.display:
            return f"{display.name}, {display.site}"
    return planned.place_on(day)


def _companion_label(grown: CompanionPlan, measures: Measures) -> Label:
    shows = " and ".join(dict.fromkeys(s.place for s in grown.steps if s.step == "show" and s.place))
    grows = (("Sow", grown.sow, ""), ("Transplant", grown.transplant, grown.place))
    return Label(
        grown.companion.name, grown.companion.crop, None, None,
        _pots(grown.companion.pots, grown.recipe.pot, measures),
        (
            *((word, short_date(day), place) for word, day, place in grows if day is not None),
            ("Harden off", short_date(grown.harden), grown.harden_at),
            ("Set out", short_date(grown.set_out), shows),
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
        _label(canvas, label, title, left + PAD, top + PAD_ABOVE, wide - 2 * PAD, tall - 2 * PAD_ABOVE)
    if not labels:
        canvas.text(MARGIN, MARGIN + 14, "No lot is planned, so there are no labels.", 11)
    _foot(canvas, plan, labels, page)
    return canvas


def _foot(canvas: Canvas, plan: Plan, labels: Sequence[Label], page: str) -> None:
    lead = "Cut along the dashed lines. " if labels else ""
    note = fit.letters_note(word or "" for label in labels for word in (label.name, label.cultivar))
    said = f"{lead}{title_of(plan)} · plan of {long_date(plan.on)} {note}".strip()
    base, right = canvas.height - MARGIN + 1, canvas.width - MARGIN
    room = right - MARGIN - fit.width(page, 8) - 12
    points, lines = fit.fitted(said, room, 2 * LEAST * fit.LEADING, 8, least=LEAST)
    _draw(
        canvas, (foot := _lines_of(lines, points, colour=QUIET)), MARGIN, base + 0.28 * points - _height(foot)
    )
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


class Line(NamedTuple):
    """A line of a label: words, each with where it begins, its type size, whether bold, and its colour [pt]."""

    runs: tuple[tuple[float, str, float, bool, str], ...]
    above: float = 0.0  # free

    @property
    def tall(self) -> float:
        return self.above + fit.LEADING * max(size for _, _, size, _, _ in self.runs)


def _label(
    canvas: Canvas, label: Label, title: str, left: float, top: float, wide: float, tall: float
) -> None:
    """One label in its padded box, from the top left [pt]: name and badge, what it is, dates, the show at its foot."""
    room = wide
    if label.bloom_class is not None:
        _badge(canvas, label.bloom_class, left + wide - _BADGE, top)
        room -= _BADGE + 8
    for scale, titled, name_tall, most in _ways():
        points, name = fit.fitted(_printed(label.name), room, name_tall, _LARGEST, True, LEAST)
        head = _lines_of(name, points, bold=True)
        below = _rest(label, wide, room, scale, most)
        foot = _lines_of(_wrapped(title if titled else "", wide, LEAST, most), LEAST, colour=QUIET)
        if _height(head + below + foot) <= tall:
            break
    _draw(canvas, head + below, left, top)
    _draw(canvas, foot, left, top + tall - _height(foot))


def _ways() -> Iterator[tuple[float, bool, float, int]]:
    """Smaller and smaller type; then without the show, which the foot of the page tells; then with names cut.

    The share of the usual type sizes, whether the show is named, height of the name [pt], lines of one thing at most.
    """
    scale = 1.0
    while scale * _LARGEST_BELOW > LEAST:
        yield scale, True, _NAME, 99
        scale *= 0.94
    yield scale, True, _NAME, 99
    yield from ((scale, False, tall, most) for tall, most in ((_NAME, 99), (20, 99), (20, 2), (20, 1)))


def _rest(label: Label, wide: float, room: float, scale: float, most: int) -> list[Line]:
    """What stands below the name: what it is, how many pots, what is done when and where."""
    what = ", ".join(filter(None, (label.cultivar, label.crop)))
    kind, pots, words, dates, places = (
        max(LEAST, scale * points) for points in (_LARGEST_BELOW, 9.5, 8.5, 9.8, 9)
    )
    lines = _lines_of(_wrapped(what, room, kind, most, bold=True), kind, bold=True, above=2)
    lines += _lines_of(_wrapped(label.pots, wide, pots, most), pots, above=1)
    at = 8 + max(fit.width(word, words) for word, _, _ in label.dates)
    for i, (word, when, where) in enumerate(label.dates):
        x = at + fit.width(when, dates, True) + 7
        first, *more = _wrapped(where, wide - x, places, most) or [""]
        runs = (0.0, word, words, False, QUIET), (at, when, dates, True, INK), (x, first, places, False, INK)
        lines.append(Line(runs, above=1.5 + 2.5 * (i == 0)))
        lines += [Line(((x, line, places, False, INK),)) for line in more]
    return lines


def _wrapped(text: str, room: float, points: float, most: int, *, bold: bool = False) -> list[str]:
    return fit.at_most(fit.broken(_printed(text), room, points, bold), most, room, points, bold)


def _lines_of(
    lines: Sequence[str], points: float, *, bold: bool = False, colour: str = INK, above: float = 0.0
) -> list[Line]:
    return [Line(((0.0, line, points, bold, colour),), 0.0 if i else above) for i, line in enumerate(lines)]


def _height(lines: Sequence[Line]) -> float:
    return sum(line.tall for line in lines)


def _draw(canvas: Canvas, lines: Sequence[Line], left: float, top: float) -> None:
    for line in lines:
        top += line.tall
        for x, said, points, bold, colour in line.runs:
            canvas.text(left + x, top - 0.28 * points, said, points, bold=bold, colour=colour)


def _printed(text: str) -> str:
    return fit.clean(one_line(text))


def _badge(canvas: Canvas, bloom_class: BloomClass, left: float, top: float) -> None:
    """The letter of a class, with its word below."""
    mark, middle = CLASS_MARKS[bloom_class], left + _BADGE / 2
    canvas.badge(left, top, _BADGE, 3, Style(3, mark.fill, INK, 1))
    canvas.text(middle, top + _BADGE * 0.74, mark.letter, _BADGE * 0.66, bold=True, side="center")
    canvas.text(middle, top + _BADGE + 8.5, bloom_class, 7.5, side="center")
