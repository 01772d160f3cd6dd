"""The title, the key and the rows of the Gantt sheet: a class's heading, a lot's bars, target and bloom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from forcing.model import Step
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.days import Frame, Scale, free_stretches, write_free
from forcing.reports.draw.paper import (
    OVER,
    SMALL,
    Sign,
    Swatch,
    basis_mark,
    box_swatch,
    draw_key,
    letter_disc,
    step_bar,
    step_swatch,
    swatch_of,
    target_mark,
    title_of,
    window_mark,
)
from forcing.reports.gantt.chart import Chart, GanttRow, Group, capacity_words, subtitle
from forcing.reports.style import ALERT, INK, QUIET, STEP_MARKS, short_date
from forcing.text import some

HEADING_HEIGHT = 17.0
_HEADINGS, _AROUND_HEADING = (9.0, 8.0, 7.2), 26.0  # type sizes, the largest that fits; swatch and gap [pt]
_RULE = Stroke(1.05, "#e6e6e6", 0.4)
_TALL = {"show": 0.84, "harden": 0.44}  # share of the row; the others _BAR: shape tells where grey cannot
_BAR = 0.66


# ---------------------------------------------------------------- title and key


def draw_title(canvas: Canvas, frame: Frame, chart: Chart, y: float) -> float:
    """Title, one line of facts and the key. Gives the y below."""
    canvas.text(frame.left, y + 13, title_of(chart.plan), 15, bold=True, room=frame.width)
    y += 26
    for line in fit.wrap(fit.clean(subtitle(chart)), frame.width, 8):
        canvas.text(frame.left, y, line, 8, colour=QUIET)
        y += 10
    return draw_key(canvas, frame.left, frame.right, y + 3, _signs(chart), SMALL, 10) + 9


def title_height(frame: Frame, chart: Chart) -> float:
    """Height of what `draw_title` draws, found by drawing it where nobody sees."""
    return draw_title(Canvas(10, 10), frame, chart, 0.0)


def _signs(chart: Chart) -> list[Sign]:
    rows = tuple(chart.rows)
    used = {step.step for row in rows for step in row.steps}
    bases = {step.basis for row in rows for step in row.steps}
    full = any(load.capacity is not None and max(load.pots) > load.capacity for load in chart.loads)
    items: list[tuple[Swatch, str]] = [
        (swatch_of(name), name) for name in STEP_MARKS if name in used and name != "show"
    ]
    items += [
        (swatch_of("show", group.bloom_class), f"show, {group.bloom_class}" if group.bloom_class else "show")
        for group in chart.groups
    ]
    more = (
        (rows, lambda c, x, y: target_mark(c, x + 7.5, y + 2.5, 5), "target"),
        (rows, lambda c, x, y: window_mark(c, x, x + 15, y, closed=True), "in bloom"),
        ("actual" in bases, lambda c, x, y: basis_mark(c, x, x + 15, y, "actual"), "done, as logged"),
        ("expected" in bases, lambda c, x, y: basis_mark(c, x, x + 15, y, "expected"), "as now expected"),
        (full, box_swatch(OVER), "over capacity"),
    )
    items += [(swatch, words) for wanted, swatch, words in more if wanted]
    return [(swatch, 15.0, words) for swatch, words in items]


# ---------------------------------------------------------------- columns


@dataclass(frozen=True, slots=True)
class LabelColumns:
    """Widths of the label's parts, and type size of rows [pt]."""

    disc: float
    name: float
    called: float
    pots: float
    size: float

    @property
    def in_bars(self) -> float:
        """Type size of the words in the bars [pt]."""
        return max(SMALL, self.size * 0.88)

    @property
    def total(self) -> float:
        return self.disc + self.name + self.called + self.pots + 18


def type_size(row_height: float) -> float:
    return min(8.0, max(SMALL, row_height * 0.52))


def columns_of(chart: Chart, row_height: float, room: float) -> LabelColumns:
    """Label columns as wide as their texts need, within `room` [pt]."""
    size = type_size(row_height)
    disc = min(row_height * 0.76, 11.0) + 3

    def widest(texts: Iterable[str], *, bold: bool = False) -> float:
        return max((fit.width(fit.clean(text), size, bold) for text in texts), default=0.0) + 0.1

    rows = tuple(chart.rows)
    pots = widest(_pots(row) for row in rows)
    name = min(widest((row.name for row in rows), bold=True), room * 0.32)
    left = room - disc - pots - name - 18
    called = max(0.0, min(widest(_called(row)[0] for row in rows), left))
    return LabelColumns(disc, name, called, pots, size)


def target_room(chart: Chart, row_height: float) -> float:
    """Width [pt] of the target dates and the words beside them."""
    size = type_size(row_height)
    words = [fit.width("no target", size)]
    words += [
        fit.width(short_date(r.target), size, True) + fit.width(r.lateness, size, True) for r in chart.rows
    ]
    load = max((fit.width(capacity_words(load), SMALL) for load in chart.loads), default=0.0)
    return max(max(words) + 16, load + 8)


def _pots(row: GanttRow) -> str:
    return some(row.plan.lot.pots, "pot")


def _called(row: GanttRow) -> tuple[str, str]:
    """Cultivar with its crop, and without for where there is no room; the crop alone where that is all."""
    cultivar, crop = fit.clean(row.plan.lot.cultivar or ""), fit.clean(row.plan.lot.crop)
    return (f"{cultivar}, {crop}", cultivar) if cultivar else (crop, crop)


# ---------------------------------------------------------------- rows


def heading_room(chart: Chart) -> float:
    """Width [pt] of the widest heading of a class."""
    widest = max((fit.width(group.heading, _HEADINGS[0], True) for group in chart.groups), default=0.0)
    return widest + _AROUND_HEADING + 0.1


def draw_heading(canvas: Canvas, x: float, y: float, frame: Frame, group: Group, *, again: bool) -> None:
    """The class and its bar, how many lots and pots; `again` where it runs on from the page before."""
    words = f"{group.heading}, continued" if again else group.heading
    base, room = y + HEADING_HEIGHT - 4, frame.scale.left - x - _AROUND_HEADING
    step_swatch(canvas, x, base - 3.2, "show", group.bloom_class)
    size = next((size for size in _HEADINGS if fit.width(words, size, True) <= room), _HEADINGS[-1])
    canvas.text(x + 20, base, words, size, bold=True, room=room)


def draw_row(
    canvas: Canvas, x: float, y: float, frame: Frame, columns: LabelColumns, row: GanttRow, height: float
) -> None:
    """One lot between y and y + height."""
    middle, scale = y + height / 2, frame.scale
    canvas.line(((x, y + height), (frame.right, y + height)), _RULE)
    _draw_label(canvas, frame, columns, row, middle)
    bloom, fade = row.window
    end = fade or max((step.span.end for step in row.steps), default=bloom)
    taken = [(scale.x(row.target) - 4, scale.x(row.target) + 4), (scale.x(bloom) - 2, scale.x(end) + 2)]
    if frame.on in scale.span:
        taken.append((scale.x(frame.on) - 1.5, scale.x(frame.on) + 1.5))
    for step in row.steps:
        left, top, right, bottom = bar_box(scale, step, middle, height)
        step_bar(canvas, step.step, row.bloom_class, (left, top, right, bottom))
        if step.step != "show":
            basis_mark(canvas, left, right, top, step.basis)
        _name_step(canvas, scale, step, middle, taken, columns.in_bars)
    if end > bloom:
        base = middle + height * _TALL["show"] / 2 - 1
        window_mark(canvas, scale.x(bloom), scale.x(end), base, closed=fade is not None)
    size = min(6.5, max(4.4, height * 0.36))
    target_mark(canvas, scale.x(row.target), y + height * 0.08 + size * 0.55, size)


def _draw_label(canvas: Canvas, frame: Frame, columns: LabelColumns, row: GanttRow, middle: float) -> None:
    size, x = columns.size, frame.left
    letter_disc(canvas, x + columns.disc / 2 - 1.5, middle, row.bloom_class, columns.disc / 2 - 1.5)
    x += columns.disc
    canvas.text(x, middle, fit.clean(row.name), size, bold=True, middle=True, room=columns.name)
    x += columns.name + 6
    full, short = _called(row)
    called = full if fit.width(full, size) <= columns.called else short
    canvas.text(x, middle, called, size, middle=True, room=columns.called)
    canvas.text(frame.scale.left - 6, middle, _pots(row), size, side="right", middle=True)
    canvas.text(frame.scale.right + 6, middle, short_date(row.target), size, bold=True, middle=True)
    late = row.plan.ready > row.target
    canvas.text(
        frame.right, middle, row.lateness, size, side="right", middle=True, bold=late,
        colour=ALERT if late else QUIET,
    )  # fmt: skip


def bar_box(scale: Scale, step: Step, middle: float, height: float) -> tuple[float, float, float, float]:
    """Left, top, right, bottom [pt] of the bar of a step in a row of that height."""
    half = height * _TALL.get(step.step, _BAR) / 2
    return scale.x(step.span.start), middle - half, scale.x(step.span.end), middle + half


def _name_step(
    canvas: Canvas, scale: Scale, step: Step, middle: float, taken: list[tuple[float, float]], size: float
) -> None:
    """Name, first day and place written in the bar, as much as there is room for beside the marks."""
    if step.step in ("show", "harden"):  # one is full of its marks, the other too low for type
        return
    start = step.span.start
    day = f"{step.step} {start.day} {short_date(start).split()[-1]}"
    place = f"{day} · {fit.clean(step.place)}" if step.place else day
    pieces = free_stretches(scale.x(start) + 2.5, scale.x(step.span.end) - 2.5, taken)
    fill = STEP_MARKS[step.step].fill
    written = write_free(canvas, (place, day, step.step), middle, pieces, size, ink_on(fill))
    if written and STEP_MARKS[step.step].hatch:  # no pattern behind type
        left, right = written
        canvas.box(left - 1.5, middle - size * 0.5, right + 1.5, middle + size * 0.5, Style(3.3, fill))


def ink_on(fill: str) -> str:
    """White on dark fills, ink on light ones: whichever has more contrast (WCAG 2 relative luminance)."""
    return "#ffffff" if luminance(fill) < 0.18 else INK


def luminance(colour: str) -> float:
    """Relative luminance of '#rrggbb', 0 to 1 (IEC 61966-2-1 sRGB, as in WCAG 2)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
