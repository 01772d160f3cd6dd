"""How full each place is, below the rows of the Gantt sheet: its load against its capacity, and its temperatures."""

from __future__ import annotations

from dataclasses import dataclass

from forcing.model import PlaceLoad, RoomSetting
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Point, Stroke, Style
from forcing.reports.draw.days import Frame, free_stretches, write_free
from forcing.reports.draw.paper import OVER, SMALL
from forcing.reports.gantt.chart import Chart, Over, capacity_words, fullest, load_on, over_runs, settings_of
from forcing.reports.style import ALERT, INK, PAPER, QUIET, setting_words, short_date
from forcing.text import number
from forcing.units import TemperatureUnit

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
