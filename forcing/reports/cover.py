"""The bloom-cover sheet: cover.csv, and for each display the share of its pots in bloom on each day as a picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.show.cover import Cover
from forcing.files import replacing
from forcing.model import CLASSES, BloomClass, Plan
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
    hatch_style,
    show_swatch,
)
from forcing.reports.gantt.sheet import PAPERS
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, RULE, count, long_date, short_date

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
THIN = Style(3.3, PAPER, ALERT, 0.7, "/" * 6)
WANTED = Stroke(5, INK, 1.3, (4, 2))
OUTLINE = Stroke(4.5, INK, 0.8)
GUIDE = Stroke(1.5, RULE, 0.4)
CHANCE = Style(3, "#8c8c8c", PAPER, 0.4)
_FIGURES = (8.0, 7.5, 7.0, 6.6)  # type of a day's chance, the largest that has room [pt]

ShareOf = dict[BloomClass | None, tuple[float, ...]]


def write_cover(plan: Plan, covers: Sequence[Cover], folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write cover.csv, cover.pdf and cover.png: the bloom cover of every display.

    Raises OutputError where a file cannot be written.
    """
    csv_path, pdf_path, png_path = (folder / f"cover.{kind}" for kind in ("csv", "pdf", "png"))
    write_csv(frames.cover(covers), csv_path, frames.COVER_COLUMNS, frames.COVER_DIGITS)
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    title = fit.clean(plan.season.title) or "Forcing plan"
    with own_settings():
        facts = {"Title": f"{title}: bloom cover", "Creator": "forcing", "CreationDate": stamp}
        with replacing(pdf_path) as path, PdfPages(path, metadata=facts) as pdf:
            for page in draw_pages(plan, covers):
                pdf.savefig(page)
        width, _ = PAPERS[plan.season.paper]
        height = 2 * MARGIN + HEAD + AXIS_HEIGHT + 36 + FOOT + BLOCK * max(1, len(covers))
        picture = _draw(plan, covers, _span(plan, covers), (width, height), "")
        words = {"Title": title, "Software": "forcing", "Creation Time": stamp.isoformat()}
        # matplotlib draws pictures of at most 65,535 dots: hundreds of displays are drawn coarser.
        with replacing(png_path) as path:
            picture.savefig(path, format="png", dpi=min(150.0, 60_000 / (height / 72)), metadata=words)
    return csv_path, pdf_path, png_path


def draw_pages(plan: Plan, covers: Sequence[Cover]) -> list[Figure]:
    """The picture in pages of the season's paper."""
    size = PAPERS[plan.season.paper]
    rows = max(1, int((size[1] - 2 * MARGIN - HEAD - AXIS_HEIGHT - 36 - FOOT + _GAP) / BLOCK))
    pages = max(1, -(-len(covers) // rows))
    return [
        _draw(plan, covers[i * rows : (i + 1) * rows], _span(plan, covers), size, f"page {i + 1} of {pages}")
        for i in range(pages)
    ]


def _span(plan: Plan, covers: Sequence[Cover]) -> Span:
    """The ISO weeks in which the show or a display is open."""
    spans = [plan.season.span, *(cover.span for cover in covers)]
    last = max(max(s.start, s.end - DAY) for s in spans)
    return Span(monday(min(s.start for s in spans)), monday(last) + WEEK)


def _draw(plan: Plan, covers: Sequence[Cover], span: Span, size: tuple[float, float], page: str) -> Figure:
    canvas = Canvas(*size)
    left, right = MARGIN, size[0] - MARGIN
    frame = Frame(left, right, Scale(span, left + _LEFT, right - _RIGHT - left - _LEFT))
    chart = Chart(plan, span, (), (), ())
    _draw_head(canvas, plan, covers, frame)
    top = MARGIN + HEAD
    draw_axis(canvas, frame, top, target=False)
    flags = flags_of(chart, frame)
    strip = 12.0 * (1 + max((flag.level for flag in flags), default=0))
    draw_flags(canvas, flags, top + AXIS_HEIGHT, strip)
    y = top + AXIS_HEIGHT + strip
    if not covers:
        canvas.text(left, y + 16, "There is no display.", 9, middle=True)
    for cover in covers:
        draw_days(canvas, frame, chart, y + _WORDS, y + BLOCK - _GAP)
        _draw_cover(canvas, plan, frame, cover, y)
        y += BLOCK
    note = fit.letters_note([plan.season.title, *(cover.display for cover in covers)])
    draw_foot(canvas, frame, size[1] - MARGIN, page, note)
    return canvas.figure()


def _draw_head(canvas: Canvas, plan: Plan, covers: Sequence[Cover], frame: Frame) -> None:
    title = fit.clean(plan.season.title) or "Forcing plan"
    canvas.text(
        frame.left, MARGIN + 13, fit.shorten(f"Bloom cover: {title}", frame.width, 15, True), 15, bold=True
    )
    words = (
        f"Share of the pots standing in each display that is expected in bloom, as of {long_date(plan.on)}."
    )
    canvas.text(frame.left, MARGIN + 27, fit.shorten(words, frame.width, 8.5), 8.5, colour=QUIET)
    x, y = frame.left, MARGIN + 43
    used = {kind for cover in covers for kind in cover.by_class}
    for kind in (*CLASSES, None):
        if kind in used:
            show_swatch(canvas, x, y, kind)
            x = _key(canvas, x + 19, y, f"{CLASS_MARKS[kind].letter} {kind}" if kind else "class not stated")
    canvas.line(((x, y), (x + 18, y)), WANTED)
    x = _key(canvas, x + 22, y, "wanted")
    canvas.box(x, y - 3, x + 15, y + 3, THIN)
    x = _key(canvas, x + 19, y, "thin: less expected than wanted, or less than an even chance of enough")
    canvas.box(x, y - 1, x + 9, y + 4, CHANCE)
    _key(canvas, x + 13, y, "chance of enough, %")


def _key(canvas: Canvas, x: float, y: float, words: str) -> float:
    canvas.text(x, y, words, 8, middle=True)
    return x + fit.width(words, 8) + 12


# ---------------------------------------------------------------- one display


def _draw_cover(canvas: Canvas, plan: Plan, frame: Frame, cover: Cover, y: float) -> None:
    scale = frame.scale
    _draw_words(canvas, plan, frame, cover, y)
    top = y + _WORDS + _MARK
    bottom = top + _PLOT
    for part, words in ((0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")):
        level = bottom - part * _PLOT
        canvas.line(((scale.left, level), (scale.right, level)), GUIDE)
        canvas.text(scale.left - 4, level, words, 7.5, colour=QUIET, side="right", middle=True)
    canvas.text(frame.left, (top + bottom) / 2, "in bloom", 7.5, colour=QUIET, middle=True)
    for span in cover.thin_spans:
        canvas.box(scale.x(span.start), top - _MARK + 1, scale.x(span.end), top - 1, THIN)
    _draw_shares(canvas, scale, cover, bottom)
    level = bottom - cover.wanted * _PLOT
    if cover.span.days:
        canvas.line(((scale.x(cover.span.start), level), (scale.x(cover.span.end), level)), WANTED)
        canvas.text(scale.right + 4, level, f"wanted {cover.wanted:.0%}", 7.5, middle=True)
    _draw_chances(canvas, frame, cover, bottom + 3)


def _draw_words(canvas: Canvas, plan: Plan, frame: Frame, cover: Cover, y: float) -> None:
    """Name and facts over the days, and the thin days in words."""
    display = plan.season.display(cover.display)
    name = fit.shorten(fit.clean(cover.display), frame.width * 0.5, 10.5, True)
    canvas.text(frame.left, y + 10, name, 10.5, bold=True)
    pots = max(cover.standing, default=0)
    facts = [f"{count(display.containers)} containers", f"at most {count(pots)} pots of bulbs at a time"]
    if cover.span != plan.season.span and cover.span.days:
        facts.append(f"open {short_date(cover.span.start)} to {short_date(cover.span.end - DAY)}")
    if cover.unknown:
        facts.append(f"not counted, as not planned: {', '.join(map(fit.clean, cover.unknown))}")
    x = frame.left + fit.width(name, 10.5, True) + 10
    canvas.text(x, y + 10, fit.shorten("  ·  ".join(facts), frame.right - x, 8.5), 8.5, colour=QUIET)
    thin = cover.thin_spans
    words = f"Thin: {', '.join(map(_span_words, thin))}" if thin else "No thin days."
    canvas.text(
        frame.left, y + 21, fit.shorten(words, frame.width, 9, bool(thin)), 9, bold=bool(thin),
        colour=ALERT if thin else INK,
    )  # fmt: skip


def _span_words(span: Span) -> str:
    last = span.end - DAY
    return short_date(last) if span.start == last else f"{short_date(span.start)} to {short_date(last)}"


def _draw_shares(canvas: Canvas, scale: Scale, cover: Cover, bottom: float) -> None:
    """The share of each class on the others, day by day, early at the bottom; the total outlined."""
    floor = [0.0] * cover.span.days
    for kind in (*CLASSES, None):
        if kind not in cover.by_class:
            continue
        parts, mark = cover.by_class[kind], CLASS_MARKS[kind]
        for run in _runs([part > 5e-4 for part in parts]):
            upper = _stairs(
                scale, cover.span.start, run, [f + p for f, p in zip(floor, parts, strict=True)], bottom
            )
            lower = _stairs(scale, cover.span.start, run, floor, bottom)
            area = (*upper, *reversed(lower))
            canvas.area(area, Style(3, mark.fill, INK, 0.4))
            if mark.hatch:
                canvas.area(area, hatch_style(mark.hatch))
        best = max(range(len(parts)), key=lambda i: parts[i], default=None)
        if kind is not None and best is not None and parts[best] * _PLOT >= 13:
            middle = bottom - (floor[best] + parts[best] / 2) * _PLOT
            x = scale.x(cover.span.start + best * DAY) + scale.day / 2
            canvas.disc(x, middle, 5.0, Style(4, PAPER, INK, 0.5))
            canvas.text(x, middle, mark.letter, 7.5, bold=True, side="center", middle=True)
        floor = [f + p for f, p in zip(floor, parts, strict=True)]
    for run in _runs([share is not None for share in cover.share]):
        canvas.line(_stairs(scale, cover.span.start, run, floor, bottom), OUTLINE)


def _stairs(
    scale: Scale, start: date, run: range, levels: Sequence[float], bottom: float
) -> list[tuple[float, float]]:
    points = []
    for i in run:
        y = bottom - min(1.0, levels[i]) * _PLOT
        points += [(scale.x(start + i * DAY), y), (scale.x(start + (i + 1) * DAY), y)]
    return points


def _runs(flags: Sequence[bool]) -> Iterator[range]:
    """Stretches of days on which a flag is set."""
    start = None
    for i, flag in enumerate([*flags, False]):
        if flag and start is None:
            start = i
        elif not flag and start is not None:
            yield range(start, i)
            start = None


def _draw_chances(canvas: Canvas, frame: Frame, cover: Cover, top: float) -> None:
    """Beneath: the chance of enough on each day, as a bar and, where there is room, in figures."""
    scale, room = frame.scale, _CHANCE - 8.5
    base = top + _CHANCE - 8.5
    canvas.text(frame.left, top + _CHANCE / 2, "chance, %", 7.5, colour=QUIET, middle=True)
    canvas.line(((scale.left, base), (scale.right, base)), GUIDE)
    size = next((size for size in _FIGURES if fit.width("100", size, True) + 2 <= scale.day), None)
    for day, chance, thin in zip(cover.span, cover.chance, cover.thin, strict=True):
        x = scale.x(day)
        if chance is not None:
            canvas.box(x, base - room * chance, x + scale.day, base, CHANCE)
        if size is not None:
            text = "–" if chance is None else f"{100 * chance:.0f}"
            canvas.text(x + scale.day / 2, base + 7.5, text, size, bold=thin, side="center")
