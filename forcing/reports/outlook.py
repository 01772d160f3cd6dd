"""The outlook sheet: outlook.csv, the band of expected bloom of each lot as a picture and in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.outlook import Outlook
from forcing.files import replacing
from forcing.model import Plan
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style, own_settings
from forcing.reports.frames import write_csv
from forcing.reports.gantt.chart import Chart, Scale
from forcing.reports.gantt.frame import (
    AXIS_HEIGHT,
    Frame,
    draw_axis,
    draw_days,
    draw_flags,
    draw_foot,
    flags_of,
    letter_disc,
    target_mark,
)
from forcing.reports.gantt.sheet import PAPERS
from forcing.reports.style import INK, PAPER, QUIET, RULE, long_date, short_date

_HEAD = (
    "lot",
    "stage",
    "early",
    "likely",
    "late",
    "target",
    "against target",
    "chance",
    "a week ago",
    "ahead",
)


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


def lateness_words(days: int) -> str:
    """Days late in words."""
    if days == 0:
        return "on the day"
    return f"{days} d late" if days > 0 else f"{-days} d early"


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
LIKELY = Stroke(5, INK, 2.2)
BEFORE = Stroke(4, QUIET, 0.8, (1.5, 1.5))
GUIDE = Stroke(1.5, RULE, 0.4)


def write_outlook(
    plan: Plan,
    outlooks: Sequence[Outlook],
    before: Sequence[Outlook],
    folder: Path,
    *,
    created: datetime,
) -> tuple[Path, ...]:
    """Write outlook.csv, outlook.pdf and outlook.png; `before` are the outlooks of a week ago.

    Raises OutputError where a file cannot be written.
    """
    csv_path, pdf_path, png_path = (folder / f"outlook.{kind}" for kind in ("csv", "pdf", "png"))
    write_csv(frames.outlook(outlooks), csv_path, frames.OUTLOOK_COLUMNS, frames.OUTLOOK_DIGITS)
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    title = fit.clean(plan.season.title) or "Forcing plan"
    earlier = {outlook.lot: outlook for outlook in before}
    with own_settings():
        facts = {"Title": f"{title}: outlook", "Creator": "forcing", "CreationDate": stamp}
        with replacing(pdf_path) as path, PdfPages(path, metadata=facts) as pdf:
            for page in draw_pages(plan, outlooks, earlier):
                pdf.savefig(page)
        width, _ = PAPERS[plan.season.paper]
        picture = _draw(plan, outlooks, earlier, (width, _height(len(outlooks))), "")
        words = {"Title": title, "Software": "forcing", "Creation Time": stamp.isoformat()}
        with replacing(png_path) as path:
            picture.savefig(path, format="png", dpi=150, metadata=words)
    return csv_path, pdf_path, png_path


def draw_pages(plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> list[Figure]:
    """The picture in pages of the season's paper."""
    size = PAPERS[plan.season.paper]
    rows = max(1, int((size[1] - 2 * MARGIN - HEAD - AXIS_HEIGHT - 12 - FOOT) / ROW))
    count = max(1, math.ceil(len(outlooks) / rows))
    return [
        _draw(plan, outlooks[i * rows : (i + 1) * rows], before, size, f"page {i + 1} of {count}")
        for i in range(count)
    ]


def _height(rows: int) -> float:
    return 2 * MARGIN + HEAD + AXIS_HEIGHT + 12 + FOOT + ROW * max(1, rows)


def _span(plan: Plan, outlooks: Sequence[Outlook]) -> Span:
    """The ISO weeks of the show and of every band, and today where it is near."""
    show = plan.season.span
    days = [
        show.start,
        max(show.start, show.end - DAY),
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
) -> Figure:
    canvas = Canvas(*size)
    left, right = MARGIN, size[0] - MARGIN
    span = _span(plan, outlooks)
    scale = Scale(span, left + _NAMES, right - _ANSWERS - left - _NAMES)
    frame = Frame(left, right, scale)
    chart = Chart(plan, span, (), (), ())
    _draw_head(canvas, plan, frame)
    top = MARGIN + HEAD
    draw_axis(canvas, frame, top, target=False)
    for words, x in (("target", _TARGET), ("likely bloom", _LIKELY)):
        canvas.text(scale.right + x, top + 27, words, _NOTE, colour=QUIET)
    canvas.text(right, top + 27, "chance on time", _NOTE, colour=QUIET, side="right")
    flags = flags_of(chart, frame)
    strip = 12.0 * (1 + max((flag.level for flag in flags), default=0))
    draw_flags(canvas, flags, top + AXIS_HEIGHT, strip)
    y = top + AXIS_HEIGHT + strip
    draw_days(canvas, frame, chart, y, y + ROW * max(1, len(outlooks)))
    if not outlooks:
        canvas.text(left, y + ROW / 2, "No lot has an outlook.", 9, middle=True)
    for i, outlook in enumerate(outlooks):
        _draw_row(canvas, plan, frame, outlook, before.get(outlook.lot), y + ROW * (i + 0.5))
    draw_foot(canvas, frame, size[1] - MARGIN, page, _missing_letters(plan, outlooks))
    return canvas.figure()


def _missing_letters(plan: Plan, outlooks: Sequence[Outlook]) -> str:
    lots = [plan.lot(outlook.lot).lot for outlook in outlooks]
    return fit.letters_note(
        [plan.season.title, *(word or "" for lot in lots for word in (lot.name, lot.cultivar))]
    )


def _draw_head(canvas: Canvas, plan: Plan, frame: Frame) -> None:
    title = fit.clean(plan.season.title) or "Forcing plan"
    canvas.text(
        frame.left, MARGIN + 13, fit.shorten(f"Outlook: {title}", frame.width, 15, True), 15, bold=True
    )
    words = f"Bloom now expected, as of {long_date(plan.on)}, from the log, the readings and the temperatures ahead."
    canvas.text(frame.left, MARGIN + 27, fit.shorten(words, frame.width, _TEXT), _TEXT, colour=QUIET)
    x, y = frame.left, MARGIN + 43
    canvas.box(x, y - 4, x + 26, y + 4, BAND)
    x = _key(
        canvas, x + 31, y, "8 chances in 10 that bloom falls in the band (1 in 10 before, 1 in 10 after)"
    )
    canvas.line(((x + 4, y - 5), (x + 4, y + 5)), LIKELY)
    x = _key(canvas, x + 11, y, "likely: half the chances before, half after")
    canvas.line(((x, y), (x + 16, y)), BEFORE)
    canvas.disc(x, y, 2.4, Style(4, PAPER, QUIET, 0.8))
    x = _key(canvas, x + 21, y, "likely a week ago")
    target_mark(canvas, x + 4, y + 4, 7)
    _key(canvas, x + 12, y, "target")


def _key(canvas: Canvas, x: float, y: float, words: str) -> float:
    canvas.text(x, y, words, _NOTE, middle=True)
    return x + fit.width(words, _NOTE) + 14


def _draw_row(
    canvas: Canvas, plan: Plan, frame: Frame, outlook: Outlook, before: Outlook | None, y: float
) -> None:
    scale, lot = frame.scale, plan.lot(outlook.lot).lot
    letter_disc(canvas, frame.left + 6, y, lot.bloom_class, 5.5)
    name = fit.shorten(fit.clean(lot.name), 52, _BIG, True)
    canvas.text(frame.left + 16, y, name, _BIG, bold=True, middle=True)
    stage = stage_words(outlook)
    room = _NAMES - 72 - fit.width(stage, _NOTE) - 14
    called = fit.shorten(fit.clean(lot.cultivar or lot.crop), room, _TEXT)
    canvas.text(frame.left + 72, y, called, _TEXT, middle=True)
    canvas.text(scale.left - 6, y, stage, _NOTE, colour=QUIET, side="right", middle=True)
    canvas.line(((frame.left, y + ROW / 2), (frame.right, y + ROW / 2)), GUIDE)
    canvas.box(scale.x(outlook.early), y - 4, scale.x(outlook.late + DAY), y + 4, BAND)
    middle = scale.x(outlook.likely) + scale.day / 2
    if before is not None and before.likely in scale.span and before.likely != outlook.likely:
        was = scale.x(before.likely) + scale.day / 2
        canvas.line(((was, y), (middle, y)), BEFORE)
        canvas.disc(was, y, 2.4, Style(4, PAPER, QUIET, 0.8))
    canvas.line(((middle, y - 5.5), (middle, y + 5.5)), LIKELY)
    target_mark(canvas, scale.x(outlook.target) + scale.day / 2, y - 1, 6)
    late = outlook.days_late > 0
    x = scale.right
    canvas.text(x + _TARGET, y, short_date(outlook.target), _TEXT, middle=True)
    canvas.text(x + _LIKELY, y, short_date(outlook.likely), _TEXT, bold=True, middle=True)
    canvas.text(x + _AGAINST, y, lateness_words(outlook.days_late), _TEXT, bold=late, middle=True)
    canvas.text(x + _ANSWERS, y, f"{outlook.chance:.0%}", _TEXT, bold=late, side="right", middle=True)
