"""The frame around the rows: months and ISO weeks, the days of the show, today, the foot of the page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import permutations, product

from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Side, Stroke, Style
from forcing.sheets.gantt.chart import Chart, Scale, months_of, week_numbers
from forcing.sheets.style import ALERT, INK, QUIET, TINT, short_date

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
