"""The bloom-cover sheet: cover.csv, and for each display the share of its pots in bloom on each day as a picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import groupby
from pathlib import Path

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.show.cover import Cover
from forcing.model import CLASSES, Plan
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Point, Stroke, Style
from forcing.reports.draw.days import AXIS_HEIGHT, Frame, Scale, draw_dated, draw_days, frame_of
from forcing.reports.draw.paper import (
    OVER,
    PAPERS,
    SMALL,
    Sign,
    draw_foot,
    draw_head,
    draw_key,
    hatch_style,
    paged,
    swatch_of,
    title_of,
    write_picture,
    write_sheet,
)
from forcing.reports.frames import write_csv
from forcing.reports.style import (
    ALERT,
    CLASS_MARKS,
    INK,
    PAPER,
    QUIET,
    RULE,
    chance_words,
    long_date,
    short_date,
)
from forcing.text import number

MARGIN, FOOT, HEAD = 28.0, 26.0, 58.0
_LEFT, _RIGHT = 84.0, 58.0  # room left of the days for scales, right of them for words [pt]
_WORDS, _MARK, _PLOT, _CHANCE, _GAP = (
    25.0,
    6.0,
    64.0,
    17.0,
    15.0,
)  # heights within the block of a display [pt]
BLOCK = _WORDS + _MARK + _PLOT + 3 + _CHANCE + _GAP
_AROUND = 2 * MARGIN + HEAD + AXIS_HEIGHT + 36 + FOOT  # height of all but the displays [pt]
_WANTED = Stroke(5, INK, 1.3, (5.2, 2.6))
_OUTLINE = Stroke(4.5, INK, 0.8)
_GUIDE = Stroke(1.5, RULE, 0.4)
_CHANCE_BAR = Style(3, "#8c8c8c", PAPER, 0.4)
_FIGURES = (8.0, 7.5, SMALL)  # type of a day's chance, the largest that has room [pt]
_NOTE = 7.5  # type of scales [pt]


def write_cover(plan: Plan, covers: Sequence[Cover], folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write cover.csv, cover.pdf and cover.png: the bloom cover of every display.

    Raises OutputError where a file cannot be written.
    """
    csv_path, pdf_path, png_path = (folder / f"cover.{kind}" for kind in ("csv", "pdf", "png"))
    write_csv(frames.cover(covers), csv_path, frames.COVER_COLUMNS, frames.COVER_DIGITS)
    title = title_of(plan)
    write_sheet(pdf_path, draw_pages(plan, covers), f"{title}: bloom cover", created)
    size = PAPERS[plan.season.paper][0], _AROUND + BLOCK * max(1, len(covers))
    write_picture(png_path, _draw(plan, covers, _span(plan, covers), size, ""), title, created)
    return csv_path, pdf_path, png_path


def draw_pages(plan: Plan, covers: Sequence[Cover]) -> list[Canvas]:
    """The sheet in pages of the season's paper."""
    size, span = PAPERS[plan.season.paper], _span(plan, covers)
    most = int((size[1] - _AROUND + _GAP) / BLOCK)
    return [_draw(plan, shown, span, size, page) for shown, page in paged(covers, most)]


def _span(plan: Plan, covers: Sequence[Cover]) -> Span:
    """The ISO weeks in which the show or a display is open."""
    spans = [plan.season.span, *(cover.span for cover in covers)]
    last = max(max(s.start, s.end - DAY) for s in spans)
    return Span(monday(min(s.start for s in spans)), monday(last) + WEEK)


def _draw(plan: Plan, covers: Sequence[Cover], span: Span, size: tuple[float, float], page: str) -> Canvas:
    canvas = Canvas(*size)
    right = size[0] - MARGIN
    frame = frame_of(plan, span, (MARGIN, right), _LEFT, _RIGHT)
    words = (
        f"Share of the pots standing in each display that is expected in bloom, as of {long_date(plan.on)}."
    )
    draw_head(canvas, MARGIN, f"Bloom cover: {title_of(plan)}", words)
    draw_key(canvas, MARGIN, right, MARGIN + 43, _signs(covers), 8, 12)
    y = draw_dated(canvas, frame, MARGIN + HEAD)
    if not covers:
        canvas.text(MARGIN, y + 16, "There is no display.", 9, middle=True)
    for cover in covers:
        draw_days(canvas, frame, y + _WORDS, y + BLOCK - _GAP)
        _draw_cover(canvas, plan, frame, cover, y)
        y += BLOCK
    draw_foot(
        canvas, MARGIN, page, fit.letters_note([plan.season.title, *(cover.display for cover in covers)])
    )
    return canvas


def _signs(covers: Sequence[Cover]) -> list[Sign]:
    used = {kind for cover in covers for kind in cover.by_class}
    signs: list[Sign] = [
        (swatch_of("show", kind), 16, f"{CLASS_MARKS[kind].letter} {kind}" if kind else "others")
        for kind in (*CLASSES, None)
        if kind in used
    ]
    thin = "thin: less expected than wanted, or less than an even chance of enough"
    return [
        *signs,
        (lambda canvas, x, y: canvas.line(((x, y), (x + 18, y)), _WANTED), 19, "wanted"),
        (lambda canvas, x, y: canvas.box(x, y - 3, x + 15, y + 3, OVER), 16, thin),
        (lambda canvas, x, y: canvas.box(x, y - 1, x + 9, y + 4, _CHANCE_BAR), 10, "chance of enough, %"),
    ]


# ---------------------------------------------------------------- one display


def _draw_cover(canvas: Canvas, plan: Plan, frame: Frame, cover: Cover, y: float) -> None:
    scale = frame.scale
    _draw_words(canvas, plan, frame, cover, y)
    top = y + _WORDS + _MARK
    bottom = top + _PLOT
    for part, words in ((0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")):
        level = bottom - part * _PLOT
        canvas.line(((scale.left, level), (scale.right, level)), _GUIDE)
        canvas.text(scale.left - 4, level, words, _NOTE, colour=QUIET, side="right", middle=True)
    canvas.text(frame.left, (top + bottom) / 2, "in bloom", _NOTE, colour=QUIET, middle=True)
    for span in cover.thin_spans:
        canvas.box(scale.x(span.start), top - _MARK + 1, scale.x(span.end), top - 1, OVER)
    _draw_shares(canvas, scale, cover, bottom)
    level = bottom - cover.wanted * _PLOT
    if cover.span.days:
        canvas.line(((scale.x(cover.span.start), level), (scale.x(cover.span.end), level)), _WANTED)
        canvas.text(scale.right + 4, level, f"wanted {cover.wanted:.0%}", _NOTE, middle=True)
    _draw_chances(canvas, frame, cover, bottom + 3)


def _draw_words(canvas: Canvas, plan: Plan, frame: Frame, cover: Cover, y: float) -> None:
    """Name and facts over the days, and the thin days in words."""
    display = plan.season.display(cover.display)
    name = fit.clean(cover.display)
    x = canvas.text(frame.left, y + 10, name, 10.5, bold=True, room=frame.width * 0.5) + 10
    pots = max(cover.standing, default=0)
    facts = [f"{number(display.containers)} containers", f"at most {number(pots)} pots at a time"]
    if cover.span != plan.season.span and cover.span.days:
        facts.append(f"open {short_date(cover.span.start)} to {short_date(cover.span.end - DAY)}")
    if cover.unknown:
        facts.append(f"not counted, as not planned: {', '.join(map(fit.clean, cover.unknown))}")
    canvas.text(x, y + 10, "  ·  ".join(facts), 8.5, colour=QUIET, room=frame.right - x)
    thin = cover.thin_spans
    sure = fit.clean(chance_words(cover, plan.on).removeprefix(f"{cover.display}: "))
    if sure:
        x = (
            canvas.text(frame.left, y + 21, f"Chance of enough: {sure}", 9, bold=True, room=frame.width * 0.6)
            + 10
        )
    else:
        x = frame.left
    words = f"Thin: {', '.join(map(_span_words, thin))}" if thin else "No thin days."
    canvas.text(x, y + 21, words, 9, bold=bool(thin), colour=ALERT if thin else INK, room=frame.right - x)


def _span_words(span: Span) -> str:
    last = span.end - DAY
    return short_date(last) if span.start == last else f"{short_date(span.start)} to {short_date(last)}"


def _draw_shares(canvas: Canvas, scale: Scale, cover: Cover, bottom: float) -> None:
    """The share of each class on the others, day by day, early at the bottom; the total outlined."""

    def stairs(run: range, levels: Sequence[float]) -> list[Point]:
        days = ((scale.x(cover.span.start + i * DAY), bottom - min(1.0, levels[i]) * _PLOT) for i in run)
        return [point for x, y in days for point in ((x, y), (x + scale.day, y))]

    floor = [0.0] * cover.span.days
    for kind in (*CLASSES, None):
        if kind not in cover.by_class:
            continue
        parts, mark = cover.by_class[kind], CLASS_MARKS[kind]
        upper = [below + part for below, part in zip(floor, parts, strict=True)]
        for run in _runs([part > 5e-4 for part in parts]):
            area = (*stairs(run, upper), *reversed(stairs(run, floor)))
            canvas.area(area, Style(3, mark.fill, INK, 0.4))
            if mark.hatch:
                canvas.area(area, hatch_style(mark.hatch))
        best = max(range(len(parts)), key=lambda i: parts[i], default=None)
        if kind is not None and best is not None and parts[best] * _PLOT >= 13:
            middle = bottom - (floor[best] + parts[best] / 2) * _PLOT
            x = scale.x(cover.span.start + best * DAY) + scale.day / 2
            canvas.disc(x, middle, 5.0, Style(4, PAPER, INK, 0.5))
            canvas.text(x, middle, mark.letter, _NOTE, bold=True, side="center", middle=True)
        floor = upper
    for run in _runs([share is not None for share in cover.share]):
        canvas.line(stairs(run, floor), _OUTLINE)


def _runs(flags: Sequence[bool]) -> Iterator[range]:
    """Stretches of days on which a flag is set."""
    for flag, days in groupby(range(len(flags)), key=lambda i: flags[i]):
        listed = list(days)
        if flag:
            yield range(listed[0], listed[-1] + 1)


def _draw_chances(canvas: Canvas, frame: Frame, cover: Cover, top: float) -> None:
    """Beneath: the chance of enough on each day, as a bar and, where there is room, in figures."""
    scale, room = frame.scale, _CHANCE - 8.5
    base = top + _CHANCE - 8.5
    canvas.text(frame.left, top + _CHANCE / 2, "chance, %", _NOTE, colour=QUIET, middle=True)
    canvas.line(((scale.left, base), (scale.right, base)), _GUIDE)
    size = next((size for size in _FIGURES if fit.width("100", size, True) + 2 <= scale.day), None)
    for day, chance, thin in zip(cover.span, cover.chance, cover.thin, strict=True):
        x = scale.x(day)
        if chance is not None:
            canvas.box(x, base - room * chance, x + scale.day, base, _CHANCE_BAR)
        if size is not None:
            text = "–" if chance is None else f"{100 * chance:.0f}"
            canvas.text(x + scale.day / 2, base + 7.5, text, size, bold=thin, side="center")
