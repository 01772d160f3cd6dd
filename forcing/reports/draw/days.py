"""Days across a page: the scale, the axis of months and ISO weeks, the show as a band, and the flags over them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise, permutations, product

from forcing.dates import DAY, Span, weeks_of
from forcing.model import Plan
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Side, Stroke, Style
from forcing.reports.draw.paper import SMALL
from forcing.reports.style import ALERT, INK, QUIET, RULE, TINT, long_date, short_date
from forcing.text import listed

AXIS_HEIGHT, FLAG_HEIGHT = 31.0, 10.0
_MONTH = 8.0  # type size of months
_WEEK_RULE = Stroke(1.1, "#e6e6e6", 0.4)
_MONTH_RULE = Stroke(1.2, RULE, 0.5)
_SHOW_RULE = Stroke(1.3, INK, 0.8)
_TODAY_RULE = Stroke(5, ALERT, 1.0, (3, 2))
_BAND = Style(1, TINT)
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scale:
    """Days across a width: the day `span.start` begins at `left` [pt]."""

    span: Span
    left: float
    width: float

    @property
    def day(self) -> float:
        """Width of a day [pt]."""
        return self.width / self.span.days

    @property
    def right(self) -> float:
        return self.left + self.width

    def x(self, day: date) -> float:
        """Where a day begins [pt], which is where the day before it ends."""
        return self.left + (day - self.span.start).days * self.day


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things stand across a page [pt]: labels from `left`, days on `scale`, dates up to `right`."""

    left: float
    right: float
    scale: Scale
    show: Span | None  # None: there is none
    on: date

    @property
    def width(self) -> float:
        return self.right - self.left


def last_open(show: Span) -> date:
    """The last day the show is open."""
    return show.end - DAY if show.days else show.start


def frame_of(plan: Plan, span: Span, page: tuple[float, float], before: float, after: float) -> Frame:
    """Days of `span` between `left` and `right` of a `page` [pt] but for `before` and `after` them."""
    left, right = page
    scale = Scale(span, left + before, right - after - left - before)
    return Frame(left, right, scale, plan.season.span if plan.season.has_show else None, plan.on)


def shown_words(plan: Plan) -> str:
    """When the show is open; of a house that forces for dates alone, its first and last target."""
    show = plan.season.span
    if plan.season.has_show:
        return f"show open {long_date(show.start)} to {long_date(last_open(show))}"
    targets = [lot.target for lot in plan.lots] or [show.start]
    return f"targets from {long_date(min(targets))} to {long_date(max(targets))}"


def target_words(plan: Plan, day: date) -> tuple[str, str]:
    """How far the next target is from a day, where there is no show: a number, and what it means."""
    ahead = sorted((lot.target, lot.lot.name) for lot in plan.lots if lot.target >= day)
    if not ahead:
        return "–", "no target is to come"
    following = ahead[0][0]
    names = listed([name for target, name in ahead if target == following], 3)
    days = (following - day).days
    return (
        f"{days:,}",
        f"{'day' if days == 1 else 'days'} to the next target: {long_date(following)}, {names}",
    )


def months_of(span: Span) -> tuple[Span, ...]:
    """The calendar months of a span, the first and last cut to it."""
    edges = [span.start, *(day for day in span if day.day == 1 and day != span.start), span.end]
    return tuple(Span(a, b) for a, b in pairwise(edges))


def week_numbers(span: Span) -> tuple[tuple[date, int], ...]:
    """Each Monday of a span with its ISO week number."""
    return tuple((day, day.isocalendar().week) for day in weeks_of(span))


def draw_axis(canvas: Canvas, frame: Frame, y: float) -> None:
    """Months, ISO week numbers and the dates of Mondays in AXIS_HEIGHT."""
    scale = frame.scale
    for month in months_of(scale.span):
        canvas.line(((scale.x(month.start), y), (scale.x(month.start), y + 11)), _MONTH_RULE)
    for day, text in month_names(scale):
        canvas.text(scale.x(day) + 2, y + 8.5, text, _MONTH, bold=True)
    _draw_weeks(canvas, scale, y)
    for text, drop in (("ISO week", 18.0), ("Monday", 27.0)):
        canvas.text(scale.left - 6, y + drop, text, SMALL, colour=QUIET, side="right")
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
            if not found and day.day == 1:  # a whole month that is too narrow for both
                names.append(str(day.year))
        text = fit.first_that_fits(names, room, _MONTH, True)
        if text is None and year and not both and day.day == 1:
            text = names[0]
        if text is None or scale.x(day) < free:
            continue
        end = scale.x(day) + fit.width(text, _MONTH, True) + 3
        # the new year is never without its name
        if day.month == 1 or end <= scale.x(date(day.year + 1, 1, 1)):
            found.append((day, text))
            free = end
    return found


def _draw_weeks(canvas: Canvas, scale: Scale, y: float) -> None:
    wide, weeks = 7 * scale.day, week_numbers(scale.span)
    named = wide >= fit.width("W00", SMALL) + 3
    for day, _ in weeks:
        canvas.line(((scale.x(day), y + AXIS_HEIGHT - 3), (scale.x(day), y + AXIS_HEIGHT)), _MONTH_RULE)
    for i in labelled_weeks([week for _, week in weeks], wide):
        day, week = weeks[i]
        middle = scale.x(day) + wide / 2
        canvas.text(middle, y + 18, f"W{week:02d}" if named else f"{week:02d}", SMALL, side="center")
        canvas.text(middle, y + 27, str(day.day), SMALL, colour=QUIET, side="center")


def labelled_weeks(weeks: Sequence[int], wide: float) -> list[int]:
    """Which weeks, each `wide` [pt], have room for their number: all, or every so many, and week 53 always."""
    apart = 1
    while apart * wide < fit.width("00", SMALL) + 2:
        apart += 1
    kept = [i for i, week in enumerate(weeks) if week == 53]
    for i in range(0, len(weeks), apart):
        if all(abs(i - other) >= apart for other in kept):
            kept.append(i)
    return sorted(kept)


def draw_days(canvas: Canvas, frame: Frame, top: float, bottom: float) -> None:
    """Behind the rows from top to bottom: weeks, months, the show as a band; over them, today."""
    if bottom <= top:
        return
    scale, show = frame.scale, frame.show
    ends = {} if show is None else {show.start: _SHOW_RULE, show.end: _SHOW_RULE}
    if show is not None:
        canvas.box(scale.x(show.start), top, scale.x(show.end), bottom, _BAND)
    months = {month.start: _MONTH_RULE for month in months_of(scale.span)}
    weeks = {day: _WEEK_RULE for day, _ in week_numbers(scale.span)}
    for day, rule in (*{**weeks, **months}.items(), *ends.items()):
        canvas.line(((scale.x(day), top), (scale.x(day), bottom)), rule)
    if frame.on in scale.span:
        canvas.line(((scale.x(frame.on), top), (scale.x(frame.on), bottom)), _TODAY_RULE)


# ---------------------------------------------------------------- flags


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


def flags_of(frame: Frame) -> tuple[Flag, ...]:
    """Today, opening and closing, each beside its line and none on another."""
    show, on, scale = frame.show, frame.on, frame.scale
    wanted = (
        []
        if show is None
        else [
            (show.start, f"opens {short_date(show.start)}", INK, True),
            (show.end, f"last day {short_date(last_open(show))}", INK, False),
        ]
    )
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


def flag_levels(frame: Frame) -> int:
    """Lines that the flags take."""
    return 1 + max((flag.level for flag in flags_of(frame)), default=-1)


def draw_flags(canvas: Canvas, frame: Frame, y: float, strip: float) -> None:
    """The labels in a strip between axis and rows, each beside the top of its line."""
    for flag in flags_of(frame):
        base = y + strip - FLAG_HEIGHT * flag.level - 2.5
        rule = _TODAY_RULE if flag.colour == ALERT else _SHOW_RULE
        canvas.line(((flag.x, base - 6), (flag.x, y + strip)), rule)
        shift = -3 if flag.side == "right" else 3
        canvas.text(flag.x + shift, base, flag.text, 7, bold=True, colour=flag.colour, side=flag.side)


def draw_dated(canvas: Canvas, frame: Frame, top: float) -> float:
    """Axis and flags from `top` [pt] down, as on a page of its own. Gives where the rows begin."""
    draw_axis(canvas, frame, top)
    strip = 12.0 * flag_levels(frame)
    draw_flags(canvas, frame, top + AXIS_HEIGHT, strip)
    return top + AXIS_HEIGHT + strip


# ---------------------------------------------------------------- words in what is free


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
            if fit.width(text, size) <= right - left:
                return left, canvas.text(left, y, text, size, colour=colour, middle=True)
    return None
