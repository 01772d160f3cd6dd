"""The label sheet: one label a lot (and a companion), to cut out for its crate or bench.

Read at arm's length on a black-and-white print: the lot is the largest word, the class a boxed letter with its word
beside it. Names shrink and wrap until they fit and are never cut. Plain PDF with its fonts embedded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm

from forcing.engine.companions import CompanionPlan
from forcing.files import replacing
from forcing.model import BloomClass, LotPlan, Plan
from forcing.reports.draw import text as fit
from forcing.reports.style import CLASS_MARKS, INK, PAPER, QUIET, count, long_date
from forcing.reports.task_words import plain
from forcing.reports.week.parts import BOLD, PAGES, REGULAR, new_canvas

ACROSS, DOWN = 2, 5  # labels on a page
MARGIN = 10 * mm  # what most printers leave white
FOOT = 7 * mm  # below the labels, for the foot line
PAD = 4 * mm
_LEADING = 1.16  # of the type size
_BADGE = 26.0  # points


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
    path = folder / "labels.pdf"
    content = _print(plan, tuple(labels_of(plan, companions)), created)
    with replacing(path) as temporary:
        temporary.write_bytes(content)
    return path


def labels_of(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> Iterator[Label]:
    """The labels in the order in which the season lists its lots, then its companions."""
    listed = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    for planned in sorted(plan.lots, key=lambda p: listed.get(p.lot.name, len(listed))):
        yield _lot_label(plan, planned)
    for grown in companions:
        yield _companion_label(grown)


def _lot_label(plan: Plan, planned: LotPlan) -> Label:
    lot = planned.lot
    width = lot.pot_cm or planned.recipe.pot
    bulbs = planned.recipe.bulbs_per_pot if lot.bulbs_per_pot is None else lot.bulbs_per_pot
    cooler = next((s.place for s in planned.steps if s.step in ("root", "cool")), None)
    bench = next((s.place for s in planned.steps if planned.bring_in in s.span), None)
    out = None if planned.install is None else _standing(plan, planned, planned.install)
    return Label(
        lot.name, lot.crop, lot.cultivar, lot.bloom_class or planned.recipe.bloom_class, True,
        f"{_pots(lot.pots, width)}, {bulbs:g} bulb{'' if bulbs == 1 else 's'} each",
        (
            ("Pot", long_date(planned.potting), ""),
            ("Cooler in", "no cold" if planned.cooler_in is None else long_date(planned.cooler_in), cooler or ""),
            ("Bring in", long_date(planned.bring_in), bench or ""),
            ("Set out", "not set out" if planned.install is None else long_date(planned.install), out or ""),
        ),
    )  # fmt: skip


def _standing(plan: Plan, planned: LotPlan, day: date) -> str | None:
    """The display the lot goes to with its site, or where it stands on that day."""
    site = next((s.place for s in planned.steps if day in s.span), None)
    for display in plan.season.displays:
        if display.name == planned.lot.display:
            return f"{display.name}, {display.site}"
    return site


def _companion_label(grown: CompanionPlan) -> Label:
    shows = " and ".join(dict.fromkeys(s.place for s in grown.steps if s.step == "show" and s.place))
    return Label(
        grown.companion.name, grown.companion.crop, None, None, False,
        _pots(grown.companion.pots, grown.recipe.pot),
        (
            ("Sow", long_date(grown.sow), ""),
            ("Transplant", long_date(grown.transplant), grown.place),
            ("Harden off", long_date(grown.harden), grown.harden_at),
            ("Set out", long_date(grown.set_out), shows),
        ),
    )  # fmt: skip


def _pots(number: int, width: float) -> str:
    return f"{count(number)} pot{'' if number == 1 else 's'} of {width:g} cm"


# ---------------------------------------------------------------- drawing


def fitted(
    text: str, room: float, height: float, largest: float, bold: bool = False
) -> tuple[float, list[str]]:
    """(type size, lines) at the largest size up to `largest` at which all of the text fits [pt]. Nothing is cut."""
    size = largest
    while True:
        lines = _broken(text, room, size, bold)
        if len(lines) * size * _LEADING <= height + 1e-6:
            return size, lines
        size *= 0.94


def _broken(text: str, room: float, size: float, bold: bool) -> list[str]:
    """The text in lines no wider than `room`, broken between words; a longer word within itself."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if fit.width(longer, size, bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        line = ""
        for char in word:
            if line and fit.width(line + char, size, bold) > room:
                lines.append(line)
                line = ""
            line += char
    return [*lines, line] if line else lines


def _print(plan: Plan, labels: Sequence[Label], created: datetime) -> bytes:
    file, size = BytesIO(), PAGES[plan.season.paper]
    title = fit.clean(plain(plan.season.title))
    canvas = new_canvas(file, size, f"{title}: labels", created)
    per_page = ACROSS * DOWN
    pages = max(1, -(-len(labels) // per_page))
    for page in range(pages):
        _page(canvas, plan, title, labels[page * per_page : (page + 1) * per_page], size, (page + 1, pages))
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def _page(
    canvas: Any,
    plan: Plan,
    title: str,
    labels: Sequence[Label],
    size: tuple[float, float],
    page: tuple[int, int],
) -> None:
    wide, tall = (size[0] - 2 * MARGIN) / ACROSS, (size[1] - 2 * MARGIN - FOOT) / DOWN
    for i, label in enumerate(labels):
        left, top = MARGIN + (i % ACROSS) * wide, size[1] - MARGIN - (i // ACROSS) * tall
        sides = (i % ACROSS == 0, i < ACROSS)  # each line once: two dashed ones would make a whole one
        _cut_lines(canvas, left, top, wide, tall, sides)
        _label(canvas, label, title, left + PAD, top - PAD, wide - 2 * PAD, tall - 2 * PAD)
    if not labels:
        _line(canvas, MARGIN, size[1] - MARGIN - 14, "No lot is planned, so there are no labels.", 11)
    number = f"page {page[0]} of {page[1]}"
    words = "Cut along the dashed lines. " if labels else ""
    note = fit.letters_note(word or "" for label in labels for word in (label.name, label.cultivar))
    said = f"{words}{title} · plan of {long_date(plan.on)} {note}".strip()
    room = size[0] - 2 * MARGIN - fit.width(number, 8) - 12
    points, lines = fitted(said, room, 10.5, 8)
    for n, line in enumerate(lines):
        _line(
            canvas, MARGIN, MARGIN - 1 + (len(lines) - 1 - n) * points * _LEADING, line, points, colour=QUIET
        )
    _line(canvas, size[0] - MARGIN - fit.width(number, 8), MARGIN - 1, number, 8, colour=QUIET)


def _cut_lines(
    canvas: Any, left: float, top: float, wide: float, tall: float, sides: tuple[bool, bool]
) -> None:
    """Right and lower edge of a label; the left and upper one (`sides`) where no label stands before it."""
    canvas.saveState()
    canvas.setStrokeColor(HexColor(QUIET))
    canvas.setLineWidth(0.5)
    canvas.setDash(4, 3)
    right, bottom = left + wide, top - tall
    canvas.lines([(right, top, right, bottom), (left, bottom, right, bottom)])
    if sides[0]:
        canvas.line(left, top, left, bottom)
    if sides[1]:
        canvas.line(left, top, right, top)
    canvas.restoreState()


def _label(canvas: Any, label: Label, title: str, left: float, top: float, wide: float, tall: float) -> None:
    """One label in its padded box, from the top left [pt]: name and badge, what it is, dates, the show."""
    badge = _BADGE + 8 if label.has_class else 0.0
    y = _block(canvas, label.name, left, top, wide - badge, 30, 25, bold=True)
    if label.has_class:
        _badge(canvas, label.bloom_class, left + wide - _BADGE, top)
    what = ", ".join(filter(None, (label.cultivar, label.crop)))
    y = _block(canvas, what, left, y - 3, wide - badge, 30, 12.5, bold=True)
    y = _block(canvas, label.pots, left, y - 1, wide - badge, 12, 9.5)
    foot = top - tall
    step = (y - 4 - (foot + 9)) / len(label.dates)
    step = min(step, 15.0)
    size = min(9.8, 0.86 * step)
    at = 8 + max(fit.width(word, min(8.5, size)) for word, _, _ in label.dates)
    for i, (word, when, where) in enumerate(label.dates):
        base = y - 4 - step * (i + 1) + 0.3 * step
        _line(canvas, left, base, word, min(8.5, size), colour=QUIET)
        _line(canvas, left + at, base, when, size, bold=True)
        taken = at + fit.width(when, size, True) + 7
        points, lines = fitted(fit.clean(plain(where)), wide - taken, step * 0.97, min(9, size))
        up = base + (len(lines) - 1) * points * _LEADING / 2
        for n, line in enumerate(lines):
            _line(canvas, left + taken, up - n * points * _LEADING, line, points)
    points, lines = fitted(title, wide, 7.5, 6)
    for n, line in enumerate(lines):
        _line(canvas, left, foot + (len(lines) - 1 - n) * points * _LEADING, line, points, colour=QUIET)


def _block(
    canvas: Any, text: str, left: float, top: float, room: float, height: float, largest: float, *,
    bold: bool = False,
) -> float:  # fmt: skip
    """Text below `top`; gives the height where it ends."""
    points, lines = fitted(fit.clean(plain(text)), room, height, largest, bold)
    for n, line in enumerate(lines):
        _line(canvas, left, top - n * points * _LEADING - 0.88 * points, line, points, bold=bold)
    return top - len(lines) * points * _LEADING


def _badge(canvas: Any, bloom_class: BloomClass | None, left: float, top: float) -> None:
    mark = CLASS_MARKS[bloom_class]
    canvas.setStrokeColor(HexColor(INK))
    canvas.setFillColor(HexColor(mark.fill if bloom_class else PAPER))
    canvas.setLineWidth(1)
    canvas.roundRect(left, top - _BADGE, _BADGE, _BADGE, 3, stroke=1, fill=1)
    canvas.setFillColor(HexColor(INK))
    canvas.setFont(BOLD, _BADGE * 0.66)
    canvas.drawCentredString(left + _BADGE / 2, top - _BADGE * 0.74, mark.letter)
    if bloom_class:
        canvas.setFont(REGULAR, 7.5)
        canvas.drawCentredString(left + _BADGE / 2, top - _BADGE - 8.5, bloom_class)


def _line(
    canvas: Any, x: float, y: float, text: str, points: float, *, bold: bool = False, colour: str = INK
) -> None:
    canvas.setFillColor(HexColor(colour))
    canvas.setFont(BOLD if bold else REGULAR, points)
    canvas.drawString(x, y, text)
