"""The frame of the Gantt sheet - title, key, axis, days of the show, foot - and the marks that rows and key share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import permutations, product

from forcing.model import BloomClass, StepName
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Side, Stroke, Style
from forcing.reports.gantt.chart import (
    Chart,
    Scale,
    months_of,
    subtitle,
    week_numbers,
)
from forcing.reports.style import (
    ALERT,
    CLASS_MARKS,
    INK,
    PAPER,
    QUIET,
    STEP_MARKS,
    TINT,
    Mark,
    short_date,
)

SMALL = 6.6  # the smallest type on the sheet [pt]
_MONTH = 8.0  # type size of months
AXIS_HEIGHT = 31.0
FLAG_HEIGHT = 10.0

WEEK_RULE = Stroke(1.1, "#e6e6e6", 0.4)
MONTH_RULE = Stroke(1.2, "#bdbdbd", 0.5)
SHOW_RULE = Stroke(1.3, INK, 0.8)
TODAY_RULE = Stroke(5, ALERT, 1.0, (3, 2))
BAND = Style(1, TINT)
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip

CAUTION = (
    "Bulbs, lifting, cold rooms, wet floors, ladders, sprays: the task sheets carry the cautions; "
    "labels, local codes and licensed practice come first."
)


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things stand across a page [pt]: labels from `left`, days on `scale`, dates up to `right`."""

    left: float
    right: float
    scale: Scale

    @property
    def width(self) -> float:
        return self.right - self.left


def draw_axis(canvas: Canvas, frame: Frame, y: float, *, target: bool) -> None:
    """Months, ISO week numbers and the dates of Mondays in AXIS_HEIGHT; a heading over the targets."""
    scale = frame.scale
    for month in months_of(scale.span):
        canvas.line(((scale.x(month.start), y), (scale.x(month.start), y + 11)), MONTH_RULE)
    for day, text in month_names(scale):
        canvas.text(scale.x(day) + 2, y + 8.5, text, _MONTH, bold=True)
    _draw_weeks(canvas, scale, y)
    for text, drop in (("ISO week", 18.0), ("Monday", 27.0)):
        canvas.text(scale.left - 6, y + drop, text, SMALL, colour=QUIET, side="right")
    if target:
        canvas.text(scale.right + 6, y + 27, "target", SMALL, colour=QUIET)
        canvas.text(frame.right, y + 27, "bloom", SMALL, colour=QUIET, side="right")
    canvas.line(((frame.left, y + AXIS_HEIGHT), (frame.right, y + AXIS_HEIGHT)), Stroke(2, INK, 0.6))


def month_names(scale: Scale) -> list[tuple[date, str]]:
    """What is written from the first shown day of a month: its name, as long as there is room, and the year at the
    start and in January. In a long season the year stands in place of the name there, and may run on."""
    both = fit.width("Jan 2000", _MONTH, True) <= 31 * scale.day - 3
    letters = max(fit.width(name[:3], _MONTH, True) for name in _MONTHS) > 28 * scale.day - 3
    found: list[tuple[date, str]] = []
    free = scale.left
    for month in months_of(scale.span):
        day, room = month.start, month.days * scale.day - 3
        name = _MONTHS[day.month - 1]
        names = [name[:1]] if letters else [name, name[:3]]
        year = not found or day.month == 1
        if year:
            dated = [f"{name} {day.year}", f"{name[:3]} {day.year}"] if both else [str(day.year)]
            names = [*dated, *(names if found and both else [])]
        text = fit.first_that_fits(names, room, _MONTH, True)
        if text is None and year and not both and day.day == 1:
            text = names[0]
        if text is None or scale.x(day) < free:
            continue
        end = scale.x(day) + fit.width(text, _MONTH, True) + 3
        if day.month == 1 or end <= scale.x(
            date(day.year + 1, 1, 1)
        ):  # the new year is never without its name
            found.append((day, text))
            free = end
    return found


def _draw_weeks(canvas: Canvas, scale: Scale, y: float) -> None:
    wide, weeks = 7 * scale.day, week_numbers(scale.span)
    named = wide >= fit.width("W00", SMALL) + 3
    for day, _ in weeks:
        canvas.line(((scale.x(day), y + AXIS_HEIGHT - 3), (scale.x(day), y + AXIS_HEIGHT)), MONTH_RULE)
    for i in _labelled([week for _, week in weeks], wide):
        day, week = weeks[i]
        middle = scale.x(day) + wide / 2
        canvas.text(middle, y + 18, f"W{week:02d}" if named else f"{week:02d}", SMALL, side="center")
        canvas.text(middle, y + 27, str(day.day), SMALL, colour=QUIET, side="center")


def _labelled(weeks: Sequence[int], wide: float) -> list[int]:
    """Which weeks have room for their number: all, or every so many, and week 53 always."""
    apart = 1
    while apart * wide < fit.width("00", SMALL) + 2:
        apart += 1
    kept = [i for i, week in enumerate(weeks) if week == 53]
    for i in range(0, len(weeks), apart):
        if all(abs(i - other) >= apart for other in kept):
            kept.append(i)
    return sorted(kept)


def draw_days(canvas: Canvas, frame: Frame, chart: Chart, top: float, bottom: float) -> None:
    """Behind the rows from top to bottom: weeks, months, the show as a band; over them, today."""
    if bottom <= top:
        return
    scale, show = frame.scale, chart.plan.season.span
    canvas.box(scale.x(show.start), top, scale.x(show.end), bottom, BAND)
    months = {month.start for month in months_of(scale.span)}
    for day, _ in week_numbers(scale.span):
        if day not in months:
            canvas.line(((scale.x(day), top), (scale.x(day), bottom)), WEEK_RULE)
    for day in sorted(months):
        canvas.line(((scale.x(day), top), (scale.x(day), bottom)), MONTH_RULE)
    for day in (show.start, show.end):
        canvas.line(((scale.x(day), top), (scale.x(day), bottom)), SHOW_RULE)
    if chart.plan.on in scale.span:
        canvas.line(((scale.x(chart.plan.on), top), (scale.x(chart.plan.on), bottom)), TODAY_RULE)


@dataclass(frozen=True, slots=True)
class Flag:
    """A label over the rows beside a line at x, `level` lines up from them."""

    text: str
    colour: str
    x: float
    side: Side
    level: int

    @property
    def left(self) -> float:
        return self.x + 3 if self.side == "left" else self.x - 3 - fit.width(self.text, 7, True)

    @property
    def right(self) -> float:
        return self.x - 3 if self.side == "right" else self.x + 3 + fit.width(self.text, 7, True)


def flags_of(chart: Chart, frame: Frame) -> tuple[Flag, ...]:
    """Today, opening and closing, each beside its line and none on another."""
    show, on, scale = chart.plan.season.span, chart.plan.on, frame.scale
    wanted = [
        (show.start, f"opens {short_date(show.start)}", INK, True),
        (show.end, f"last day {short_date(chart.last_day)}", INK, False),
    ]
    if on in scale.span:
        wanted.append((on, f"today, {short_date(on)}", ALERT, False))
    choices = [
        _places(scale.x(day), text, colour, frame, before=before) for day, text, colour, before in wanted
    ]
    # Three flags at most: try all ways and keep the lowest in which none is on another or crossed by a line.
    ways = sorted(product(*choices), key=lambda way: sum(cost for cost, _ in way))
    flags = [tuple(flag for _, flag in way) for way in ways]
    return next((way for way in flags if not any(_clash(a, b) for a, b in permutations(way, 2))), flags[-1])


def _places(x: float, text: str, colour: str, frame: Frame, *, before: bool) -> list[tuple[float, Flag]]:
    """Where a flag may stand on the page, each with what is against it."""
    found = []
    for level, to_left in product(range(3), (before, not before)):
        flag = Flag(text, colour, x, "right" if to_left else "left", level)
        if flag.left >= frame.left and flag.right <= frame.right:
            found.append((level + (0.5 if to_left != before else 0.0), flag))
    return found or [(0.0, Flag(text, colour, x, "left", 0))]


def _clash(one: Flag, other: Flag) -> bool:
    """Whether the words of one touch those of the other, or its line on the way down."""
    if one.level == other.level and one.left < other.right + 4 and other.left < one.right + 4:
        return True
    return other.level >= one.level and one.left - 2 < other.x < one.right + 2


def draw_flags(canvas: Canvas, flags: tuple[Flag, ...], y: float, strip: float) -> None:
    """The labels in a strip between axis and rows, each beside the top of its line."""
    for flag in flags:
        base = y + strip - FLAG_HEIGHT * flag.level - 2.5
        rule = TODAY_RULE if flag.colour == ALERT else SHOW_RULE
        canvas.line(((flag.x, base - 6), (flag.x, y + strip)), rule)
        shift = -3 if flag.side == "right" else 3
        canvas.text(flag.x + shift, base, flag.text, 7, bold=True, colour=flag.colour, side=flag.side)


def free_stretches(
    left: float, right: float, taken: Iterable[tuple[float, float]]
) -> list[tuple[float, float]]:
    """What is left of a stretch of the page without the taken ones, in order [pt]."""
    pieces, at = [], left
    for start, end in sorted(taken):
        if start > at:
            pieces.append((at, min(start, right)))
        at = max(at, end)
    return [*pieces, (at, right)]


def write_free(
    canvas: Canvas, texts: Sequence[str], y: float, pieces: Sequence[tuple[float, float]], size: float,
    colour: str,
) -> tuple[float, float] | None:  # fmt: skip
    """Write the first text that fits into a piece, centred on y. Gives its left and right; None: no room."""
    for text in dict.fromkeys(texts):
        for left, right in pieces:
            wide = fit.width(text, size)
            if wide <= right - left:
                canvas.text(left, y, text, size, colour=colour, middle=True)
                return left, left + wide
    return None


def draw_foot(canvas: Canvas, frame: Frame, y: float, page: str, note: str) -> None:
    """One line at the foot of a page, on the baseline y."""
    canvas.line(((frame.left, y - 9), (frame.right, y - 9)), Stroke(1, "#bdbdbd", 0.4))
    words = f"{CAUTION} {note}".strip()
    room = frame.width - fit.width(page, SMALL) - 12
    canvas.text(frame.left, y, fit.shorten(words, room, SMALL), SMALL, colour=QUIET)
    canvas.text(frame.right, y, page, SMALL, colour=QUIET, side="right")


GAP = 0.6  # white between neighbouring bars [pt]
OVER = Style(3.3, PAPER, ALERT, 0.7, "/" * 6)  # pots over a capacity
_WINDOW, _OPEN_WINDOW = Stroke(4, INK, 2.0), Stroke(4, INK, 2.0, (1.2, 0.8))
_LOGGED, _EXPECTED = Stroke(4, INK, 1.2), Stroke(4, INK, 1.2, (0.8, 1.2))


def step_style(step: StepName, mark: Mark | None = None) -> Style:
    """The area of a step; a show is drawn in the mark of its class and outlined."""
    if step == "show":
        return Style(3.1, (mark or STEP_MARKS["show"]).fill, INK, 0.7)
    return Style(3, STEP_MARKS[step].fill, PAPER, GAP)


def hatch_style(hatch: str) -> Style:
    """The pattern laid over an area, close enough to show in a small bar."""
    return Style(3.2, "none", INK, 0.0, hatch * 2)


def letter_disc(canvas: Canvas, x: float, y: float, kind: BloomClass | None, radius: float) -> None:
    """The letter of a class in a disc of its colour, centred on (x, y)."""
    mark = CLASS_MARKS[kind]
    canvas.disc(x, y, radius, Style(3, mark.fill, INK, 0.5))
    letter = "–" if mark.letter == "-" else mark.letter
    canvas.text(x, y, letter, max(SMALL, radius * 1.5), bold=True, side="center", middle=True)


def target_mark(canvas: Canvas, x: float, tip: float, size: float) -> None:
    """A black triangle pointing down at the day that begins at x."""
    canvas.area(
        ((x - size * 0.55, tip - size), (x + size * 0.55, tip - size), (x, tip)), Style(6, INK, PAPER, 0.5)
    )


def window_mark(canvas: Canvas, left: float, right: float, y: float, *, closed: bool) -> None:
    """A heavy line from bloom to fade; dashed where the fade is not known."""
    canvas.line(((left, y), (right, y)), _WINDOW if closed else _OPEN_WINDOW)


def basis_mark(canvas: Canvas, left: float, right: float, y: float, basis: str) -> None:
    """A line along a bar: solid where logged, dotted where expected, none where only planned."""
    if basis == "actual":
        canvas.line(((left, y), (right, y)), _LOGGED)
    elif basis == "expected":
        canvas.line(((left, y), (right, y)), _EXPECTED)


def draw_title(canvas: Canvas, frame: Frame, chart: Chart, y: float) -> float:
    """Title, one line of facts and the key. Gives the y below."""
    title = fit.clean(chart.plan.season.title) or "Forcing plan"
    canvas.text(frame.left, y + 13, fit.shorten(title, frame.width, 15, True), 15, bold=True)
    facts = fit.clean(subtitle(chart))
    lines = fit.wrap(facts, frame.width, 8)
    for i, line in enumerate(lines):
        canvas.text(frame.left, y + 26 + 10 * i, line, 8, colour=QUIET)
    return _draw_key(canvas, frame, chart, y + 26 + 10 * len(lines))


def title_height(frame: Frame, chart: Chart) -> float:
    """Height of what `draw_title` draws, found by drawing it where nobody sees."""
    return draw_title(Canvas(10, 10), frame, chart, 0.0)


_Swatch = Callable[[Canvas, float, float], None]  # draws at (left, middle) in a box 15 by 7


def _draw_key(canvas: Canvas, frame: Frame, chart: Chart, y: float) -> float:
    x, line = frame.left, 12.0
    for swatch, words in _key(chart):
        wide = 18 + fit.width(words, SMALL)
        if x > frame.left and x + wide > frame.right:
            x, y = frame.left, y + line
        swatch(canvas, x, y + 3)
        canvas.text(x + 18, y + 3, words, SMALL, middle=True)
        x += wide + 10
    return y + line


def _key(chart: Chart) -> list[tuple[_Swatch, str]]:
    rows = tuple(chart.rows)
    used = {step.step for row in rows for step in row.steps}
    items: list[tuple[_Swatch, str]] = [
        (_step_swatch(name), name) for name in STEP_MARKS if name in used and name != "show"
    ]
    for group in chart.groups:
        name = f"show, {group.bloom_class}" if group.bloom_class else "show, class not stated"
        items.append((partial(show_swatch, kind=group.bloom_class), name))
    if rows:
        items.append((lambda c, x, y: target_mark(c, x + 7.5, y + 2.5, 5), "target"))
        items.append((lambda c, x, y: window_mark(c, x, x + 15, y, closed=True), "in bloom"))
    bases = {step.basis for row in rows for step in row.steps}
    if "actual" in bases:
        items.append((lambda c, x, y: basis_mark(c, x, x + 15, y, "actual"), "done, as logged"))
    if "expected" in bases:
        items.append((lambda c, x, y: basis_mark(c, x, x + 15, y, "expected"), "as now expected"))
    if any(load.capacity is not None and max(load.pots) > load.capacity for load in chart.loads):
        items.append((over_swatch, "over capacity"))
    return items


def _step_swatch(name: StepName) -> _Swatch:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.box(x, y - 3.5, x + 15, y + 3.5, step_style(name))
        if STEP_MARKS[name].hatch:
            canvas.box(x, y - 3.5, x + 15, y + 3.5, hatch_style(STEP_MARKS[name].hatch))

    return draw


def show_swatch(canvas: Canvas, x: float, y: float, kind: BloomClass | None) -> None:
    """A show bar of a class, 15 by 7, from x and centred on y."""
    mark = CLASS_MARKS[kind]
    canvas.box(x, y - 3.5, x + 15, y + 3.5, step_style("show", mark))
    if mark.hatch:
        canvas.box(x, y - 3.5, x + 15, y + 3.5, hatch_style(mark.hatch))


def over_swatch(canvas: Canvas, x: float, y: float) -> None:
    canvas.box(x, y - 3.5, x + 15, y + 3.5, OVER)


HEADING_HEIGHT = 17.0
_HEADINGS, _AROUND_HEADING = (9.0, 8.0, 7.2), 26.0  # type sizes, the largest that fits; swatch and gap [pt]
_RULE = Stroke(1.05, "#e6e6e6", 0.4)
_TALL = {"show": 0.84, "harden": 0.44}  # share of the row; the others _BAR: shape tells where grey cannot
_BAR = 0.66
