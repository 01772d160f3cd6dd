"""The pieces of the Gantt sheet: title, key, a heading of a class, bars of a lot; below them how full each place is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from forcing.model import PlaceLoad, RoomSetting, Step
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Point, Stroke, Style
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
from forcing.reports.gantt.chart import (
    Chart,
    GanttRow,
    Group,
    Over,
    capacity_words,
    fullest,
    load_on,
    over_runs,
    settings_of,
    subtitle,
)
from forcing.reports.style import ALERT, INK, PAPER, QUIET, STEP_MARKS, setting_words, short_date
from forcing.text import number, some
from forcing.units import TemperatureUnit

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


# ---------------------------------------------------------------- how full each place is


_FILL = Style(3, "#cfd8dc")
_BACKING = Style(5.5, PAPER)  # over the lines of today and the show
_EDGE = Stroke(3.1, "#5f6b70", 0.7)
_CAPACITY = Stroke(3.5, INK, 1.0)
_OVERFULL = Stroke(3.6, INK, 2.2)
_BASE = Stroke(3.4, INK, 0.5)
_LINE = 8.8  # height of a line of small type [pt]


@dataclass(frozen=True, slots=True)
class Panel:
    """One place: its load, and its labels laid out. Heights in points."""

    load: PlaceLoad
    kind: str
    overs: tuple[tuple[Over, float, int], ...]  # with the left edge of its words and their line, 0 lowest
    settings: tuple[RoomSetting, ...]
    unit: TemperatureUnit

    @property
    def lines(self) -> int:
        return max((line + 1 for _, _, line in self.overs), default=0)

    @property
    def extra(self) -> float:
        """Height around the plot itself: a gap, the words above it, temperatures below."""
        return 10 + _LINE * self.lines + (_LINE if self.settings else 0)


def panels_of(chart: Chart, frame: Frame) -> tuple[Panel, ...]:
    """A panel for each place with pots in it."""
    kinds = {place.name: place.kind for place in chart.plan.season.places}
    return tuple(
        Panel(
            load,
            kinds.get(load.place, "place"),
            _place_words(over_runs(load), frame),
            settings_of(chart.plan, load.place, chart.span),
            chart.plan.season.unit,
        )
        for load in chart.loads
    )


def _place_words(overs: tuple[Over, ...], frame: Frame) -> tuple[tuple[Over, float, int], ...]:
    """Words centred over their weeks, moved inside the page, on the lowest line that is free there."""
    placed: list[tuple[Over, float, int]] = []
    ends: list[float] = []  # right edge of each line so far
    for over in overs:
        wide = fit.width(over.words, SMALL, True)
        centre = (frame.scale.x(over.first) + frame.scale.x(over.last) + 7 * frame.scale.day) / 2
        left = min(max(centre - wide / 2, frame.scale.left + 2), frame.scale.right - wide - 2)
        line = next((i for i, end in enumerate(ends) if end + 5 < left), len(ends))
        ends[line : line + 1] = [left + wide]
        placed.append((over, left, line))
    return tuple(placed)


def draw_panel(canvas: Canvas, x: float, y: float, frame: Frame, panel: Panel, plot: float) -> None:
    """One place between y and y + panel.extra + plot."""
    top = y + 10 + _LINE * panel.lines
    base, capacity = top + plot, panel.load.capacity
    for over, left, line in panel.overs:
        at = top - 4.5 - _LINE * line
        right = canvas.text(left, at, over.words, SMALL, bold=True, colour=ALERT)
        canvas.box(left - 1, at - 6, right + 1, at + 2, _BACKING)
    peak, _ = fullest(panel.load)
    per_pot = plot / (max(peak, capacity or 0.0) * 1.02)
    _draw_area(canvas, frame, panel.load, base, per_pot, top - 1.2)
    canvas.line(((x, base), (frame.right, base)), _BASE)
    if capacity is not None:
        level = base - capacity * per_pot
        canvas.line(((frame.scale.left, level), (frame.scale.right, level)), _CAPACITY)
        canvas.text(frame.scale.right + 6, level, capacity_words(panel.load), SMALL, middle=True)
    _draw_words(canvas, frame, panel, top + 6)
    for room in panel.settings:
        _draw_setting(canvas, frame, room, base, panel.unit)


def _draw_words(canvas: Canvas, frame: Frame, panel: Panel, y: float) -> None:
    room = frame.scale.left - frame.left - 8
    peak, day = fullest(panel.load)
    capacity = panel.load.capacity
    of = " pots, capacity not stated" if capacity is None else f" of {number(capacity)} pots"
    canvas.text(frame.left, y, fit.clean(panel.load.place), 8, bold=True, room=room)
    fullest_on = f"{panel.kind}, fullest {short_date(day)} (W{day.isocalendar().week:02d}):"
    for whole in (fullest_on, number(peak) + of):
        for line in fit.wrap(whole, room, SMALL):
            y += _LINE
            canvas.text(frame.left, y, line, SMALL, colour=QUIET)


def _draw_area(
    canvas: Canvas, frame: Frame, load: PlaceLoad, base: float, per_pot: float, top: float
) -> None:
    """The pots as a stepped area; what stands above the capacity is hatched, its days lined at `top`."""
    ceiling = load.capacity if load.capacity is not None else max(load.pots)
    for outline in _outlines(frame, load, 0.0, ceiling):
        points = [(x, base - pots * per_pot) for x, pots in outline]
        canvas.area(points, _FILL)
        canvas.line(points, _EDGE)
    for outline in _outlines(frame, load, ceiling, max(load.pots)):
        canvas.area([(x, base - pots * per_pot) for x, pots in outline], OVER)
        canvas.line(((outline[0][0], top), (outline[-1][0], top)), _OVERFULL)


def _outlines(frame: Frame, load: PlaceLoad, floor: float, ceiling: float) -> list[list[Point]]:
    """Each stretch of days with more pots than `floor`, as steps (x, pots) that start and end on it."""
    outlines: list[list[Point]] = []
    inside = False
    for span, pots in load_on(load, frame.scale.span):
        left, right, top = frame.scale.x(span.start), frame.scale.x(span.end), min(pots, ceiling)
        if pots <= floor:
            inside = False
            continue
        if not inside:
            outlines.append([(left, floor)])
        else:
            outlines[-1].pop()
        outlines[-1] += [(left, top), (right, top), (right, floor)]
        inside = True
    return outlines


def _draw_setting(
    canvas: Canvas, frame: Frame, room: RoomSetting, base: float, unit: TemperatureUnit
) -> None:
    """A temperature under the days it holds for, where there is room to write it beside the lines of days."""
    scale = frame.scale
    left, right = scale.x(room.span.start), scale.x(room.span.end)
    words = setting_words(room.day, room.night, unit)
    canvas.line(((left, base), (left, base + 5)), _BASE)
    lines = (frame.on,) if frame.show is None else (frame.show.start, frame.show.end, frame.on)
    taken = [(scale.x(day) - 1.5, scale.x(day) + 1.5) for day in lines if day in scale.span]
    pieces = free_stretches(left + 3, right - 2, taken)
    write_free(canvas, [words, words.split(" °")[0]], base + 5, pieces, SMALL, QUIET)
