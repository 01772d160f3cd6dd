"""The outlook sheet: outlook.csv, the band of expected bloom of each lot as a picture and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.outlook import Outlook
from forcing.model import Plan
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.days import AXIS_HEIGHT, Frame, draw_dated, draw_days, frame_of, last_open
from forcing.reports.draw.paper import (
    PAPERS,
    Sign,
    draw_foot,
    draw_head,
    draw_key,
    letter_disc,
    paged,
    target_mark,
    title_of,
    write_picture,
    write_sheet,
)
from forcing.reports.frames import write_csv
from forcing.reports.style import INK, PAPER, QUIET, RULE, lateness_words, long_date, short_date

_HEAD = (
    "lot", "stage", "early", "likely", "late", "target", "against target", "chance", "a week ago", "ahead",
)  # fmt: skip


def outlook_text(outlooks: Sequence[Outlook], before: Sequence[Outlook]) -> str:
    """A table of the outlooks, the lots most pots late first; what each was a week ago beside it."""
    if not outlooks:
        return "No lot has an outlook."
    earlier = {outlook.lot: outlook for outlook in before}
    rows = [_HEAD, *(_row(o, earlier.get(o.lot)) for o in sorted(outlooks, key=_most_pressing))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_HEAD))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def _most_pressing(outlook: Outlook) -> tuple[int, str]:
    return -outlook.days_late, outlook.lot


def stage_words(outlook: Outlook) -> str:
    """The stage of a lot: the last one seen, or the one that is reckoned with."""
    return f"{outlook.seen} seen" if outlook.seen else f"{outlook.stage} (reckoned)"


def _row(outlook: Outlook, before: Outlook | None) -> tuple[str, ...]:
    return (
        outlook.lot,
        stage_words(outlook),
        outlook.early.isoformat(),
        outlook.likely.isoformat(),
        outlook.late.isoformat(),
        outlook.target.isoformat(),
        lateness_words(outlook.days_late),
        f"{outlook.chance:.0%}",
        "same" if before is None or before.likely == outlook.likely else before.likely.isoformat(),
        outlook.ahead,
    )


MARGIN, ROW, FOOT, HEAD = 28.0, 17.0, 26.0, 62.0
_NAMES, _ANSWERS = 226.0, 226.0  # room left of the days for lots, right of them for words [pt]
_TARGET, _LIKELY, _AGAINST = (
    8.0,
    70.0,
    134.0,
)  # where the words of an answer begin, from the right of the days
_BIG, _TEXT, _NOTE = 9.0, 8.5, 8.0  # type [pt]
BAND = Style(3, "#c9dcec", INK, 0.5)
_DISC = Style(4, PAPER, QUIET, 0.8)
_LIKELY_RULE = Stroke(5, INK, 2.2)
_BEFORE = Stroke(4, QUIET, 0.8, (1.2, 1.2))
_GUIDE = Stroke(1.5, RULE, 0.4)


def write_outlook(
    plan: Plan, outlooks: Sequence[Outlook], before: Sequence[Outlook], folder: Path, *, created: datetime,
    picture: bool = True,
) -> tuple[Path, ...]:  # fmt: skip
    """Write outlook.csv, outlook.pdf and, with `picture`, outlook.png; `before` are the outlooks of a week ago.

    Raises OutputError where a file cannot be written.
    """
    csv_path, pdf_path, png_path = (folder / f"outlook.{kind}" for kind in ("csv", "pdf", "png"))
    write_csv(frames.outlook(outlooks), csv_path, frames.OUTLOOK_COLUMNS, frames.OUTLOOK_DIGITS)
    title, earlier = title_of(plan), {outlook.lot: outlook for outlook in before}
    write_sheet(pdf_path, draw_pages(plan, outlooks, earlier), f"{title}: outlook", created)
    if picture:
        write_picture(png_path, draw_picture(plan, outlooks, earlier), title, created)
    return (csv_path, pdf_path, png_path) if picture else (csv_path, pdf_path)


def draw_pages(plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> list[Canvas]:
    """The sheet in pages of the season's paper."""
    size = PAPERS[plan.season.paper]
    room = size[1] - 2 * MARGIN - HEAD - AXIS_HEIGHT - 12 - FOOT
    return [_draw(plan, rows, before, size, page) for rows, page in paged(outlooks, int(room / ROW))]


def draw_picture(plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> Canvas:
    """The sheet as one picture, as tall as it needs."""
    tall = 2 * MARGIN + HEAD + AXIS_HEIGHT + 12 + FOOT + ROW * max(1, len(outlooks))
    return _draw(plan, outlooks, before, (PAPERS[plan.season.paper][0], tall), "")


def _span(plan: Plan, outlooks: Sequence[Outlook]) -> Span:
    """The ISO weeks of the show and of every band, and today where it is near."""
    show = plan.season.span
    days = [
        show.start,
        last_open(show),
        *(d for o in outlooks for d in (o.early, o.late, o.target)),
    ]
    first, last = min(days), max(days)
    if first - WEEK * 3 <= plan.on <= last:
        first = min(first, plan.on)
    return Span(monday(first - 3 * DAY), monday(last + 3 * DAY) + WEEK)


def _draw(
    plan: Plan,
    outlooks: Sequence[Outlook],
    before: Mapping[str, Outlook],
    size: tuple[float, float],
    page: str,
) -> Canvas:
    canvas = Canvas(*size)
    right, top = size[0] - MARGIN, MARGIN + HEAD
    frame = frame_of(plan, _span(plan, outlooks), (MARGIN, right), _NAMES, _ANSWERS)
    words = f"Bloom now expected, as of {long_date(plan.on)}, from the log, the readings and the temperatures ahead."
    draw_head(canvas, MARGIN, f"Outlook: {title_of(plan)}", words)
    draw_key(canvas, MARGIN, right, MARGIN + 43, _SIGNS, _NOTE, 14)
    y = draw_dated(canvas, frame, top)
    for words, x in (("target", _TARGET), ("likely bloom", _LIKELY)):
        canvas.text(frame.scale.right + x, top + 27, words, _NOTE, colour=QUIET)
    canvas.text(right, top + 27, "chance on time", _NOTE, colour=QUIET, side="right")
    draw_days(canvas, frame, y, y + ROW * max(1, len(outlooks)))
    if not outlooks:
        canvas.text(MARGIN, y + ROW / 2, "No lot has an outlook.", 9, middle=True)
    for i, outlook in enumerate(outlooks):
        _draw_row(canvas, plan, frame, outlook, before.get(outlook.lot), y + ROW * (i + 0.5))
    draw_foot(canvas, MARGIN, page, _missing_letters(plan, outlooks))
    return canvas


def _missing_letters(plan: Plan, outlooks: Sequence[Outlook]) -> str:
    lots = [plan.lot(outlook.lot).lot for outlook in outlooks]
    return fit.letters_note(
        [plan.season.title, *(word or "" for lot in lots for word in (lot.name, lot.cultivar))]
    )


def _draw_before(canvas: Canvas, x: float, y: float, to: float) -> None:
    """What was likely at x before it moved on `to` there."""
    canvas.line(((x, y), (to, y)), _BEFORE)
    canvas.disc(x, y, 2.4, _DISC)


_SIGNS: tuple[Sign, ...] = (
    (
        lambda canvas, x, y: canvas.box(x, y - 4, x + 26, y + 4, BAND), 28,
        "8 chances in 10 that bloom falls in the band (1 in 10 before, 1 in 10 after)",
    ),
    (
        lambda canvas, x, y: canvas.line(((x + 4, y - 5), (x + 4, y + 5)), _LIKELY_RULE), 8,
        "likely: half the chances before, half after",
    ),
    (lambda canvas, x, y: _draw_before(canvas, x, y, x + 16), 18, "likely a week ago"),
    (lambda canvas, x, y: target_mark(canvas, x + 4, y + 4, 7), 9, "target"),
)  # fmt: skip


def _draw_row(
    canvas: Canvas, plan: Plan, frame: Frame, outlook: Outlook, before: Outlook | None, y: float
) -> None:
    scale, lot = frame.scale, plan.lot(outlook.lot).lot
    letter_disc(canvas, frame.left + 6, y, lot.bloom_class, 5.5)
    canvas.text(frame.left + 16, y, fit.clean(lot.name), _BIG, bold=True, middle=True, room=52)
    stage = stage_words(outlook)
    room = _NAMES - 72 - fit.width(stage, _NOTE) - 14
    canvas.text(frame.left + 72, y, fit.clean(lot.cultivar or lot.crop), _TEXT, middle=True, room=room)
    canvas.text(scale.left - 6, y, stage, _NOTE, colour=QUIET, side="right", middle=True)
    canvas.line(((frame.left, y + ROW / 2), (frame.right, y + ROW / 2)), _GUIDE)
    canvas.box(scale.x(outlook.early), y - 4, scale.x(outlook.late + DAY), y + 4, BAND)
    middle = scale.x(outlook.likely) + scale.day / 2
    if before is not None and before.likely in scale.span and before.likely != outlook.likely:
        _draw_before(canvas, scale.x(before.likely) + scale.day / 2, y, middle)
    canvas.line(((middle, y - 5.5), (middle, y + 5.5)), _LIKELY_RULE)
    target_mark(canvas, scale.x(outlook.target) + scale.day / 2, y - 1, 6)
    late = outlook.days_late > 0
    x = scale.right
    canvas.text(x + _TARGET, y, short_date(outlook.target), _TEXT, middle=True)
    canvas.text(x + _LIKELY, y, short_date(outlook.likely), _TEXT, bold=True, middle=True)
    canvas.text(x + _AGAINST, y, lateness_words(outlook.days_late), _TEXT, bold=late, middle=True)
    canvas.text(x + _ANSWERS, y, f"{outlook.chance:.0%}", _TEXT, bold=late, side="right", middle=True)
