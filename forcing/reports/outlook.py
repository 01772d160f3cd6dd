"""The outlook sheet: outlook.csv, the band of expected bloom of each lot as a picture and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
    target_mark,
    title_of,
    write_picture,
    write_sheet,
)
from forcing.reports.frames import write_csv
from forcing.reports.style import INK, PAPER, QUIET, RULE, day_month, lateness_words, long_date, short_date
from forcing.text import later, listed, natural, some

_HEAD = ("lot", "stage", "early", "likely", "late", "target", "against", "chance")
MOST_ROWS = 12  # lots in the text; all of them are in outlook.csv
WIDE = 80  # columns of a terminal


MOVED = 3  # days since a week ago, or off target, that are worth a name at the top; practice
NAMED = 4  # lots named together there


def outlook_text(outlooks: Sequence[Outlook], before: Sequence[Outlook], most: int = MOST_ROWS) -> str:
    """What matters, then a table of the lots off their day, the latest first, no wider than a terminal.

    most: rows of the table.
    """
    if not outlooks:
        return "No lot has an outlook."
    earlier = {outlook.lot: outlook for outlook in before}
    off, on_the_day = by_trouble(outlooks)
    table = _table([_HEAD, *map(_row, off[:most])]) if off else []
    if len(off) > most:
        table.append(f"{len(off) - most} more are off their day: see outlook.csv.")
    return "\n".join([*headline(outlooks, earlier), *table, *folded(on_the_day, 2 * WIDE)])


def _table(rows: list[tuple[str, ...]]) -> list[str]:
    """Rows in columns; where they are wider than a terminal without the stage, and then with names cut."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    if sum(widths) + 2 * (len(widths) - 1) > WIDE and "stage" in rows[0]:
        return _table([(name, *rest) for name, _, *rest in rows])
    widths[0] = min(widths[0], WIDE - sum(widths[1:]) - 2 * (len(widths) - 1))
    cut = [(name if len(name) <= widths[0] else f"{name[: widths[0] - 1]}…", *rest) for name, *rest in rows]
    return ["  ".join(map(str.ljust, row, widths)).rstrip() for row in cut]


def by_trouble(outlooks: Sequence[Outlook]) -> tuple[list[Outlook], list[Outlook]]:
    """The lots off their day, the latest first and then the earliest, and those on it."""
    off = [o for o in outlooks if not o.as_planned]
    off.sort(key=lambda o: (o.days_late < 0, -abs(o.days_late), natural(o.lot)))
    return off, [o for o in outlooks if o.as_planned]


def folded(on_the_day: Sequence[Outlook], room: int | None = None) -> tuple[str, ...]:
    """The lots on their day, or as early as they are to be, as a line; how many, where names take more than `room`."""
    if not on_the_day:
        return ()
    names = ", ".join(f"{o.lot} ({day_month(o.likely)})" for o in on_the_day)
    if room is not None and len(names) > room:
        days = [o.likely for o in on_the_day]
        names = f"{some(len(days), 'lot')}, from {day_month(min(days))} to {day_month(max(days))}: see outlook.csv"
    said = _in_time(on_the_day)
    return (f"{said[:1].upper()}{said[1:]}: {names}.",)


def _in_time(outlooks: Sequence[Outlook]) -> str:
    return "in time, as early as is sure" if any(o.days_late for o in outlooks) else "on the day"


def headline(outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> tuple[str, ...]:
    """What matters, in up to three lines: who is late, who is early, what has moved in a week."""
    off, on_the_day = by_trouble(outlooks)
    late, early = [o for o in off if o.still_late], [o for o in off if o.days_late < 0]
    came = [o for o in off if o.days_late > 0 and not o.still_late]
    count = some(len(outlooks), "lot")
    are = "is" if len(late) == 1 else "are"
    none = f"None of {count} is expected late." if len(outlooks) > 1 else "It is not expected late."
    lines = [f"{len(late)} of {count} {are} expected late: {_by_days(late)}." if late else none]
    if on_the_day or early or came:
        parts = [f"{len(on_the_day)} {_in_time(on_the_day)}"] if on_the_day else []
        parts += [f"{len(early)} early: {_by_days(early)}"] if early else []
        parts += [f"{len(came)} came late: {_by_days(came)}"] if came else []
        lines.append(f"{', '.join(parts)}.")
    moved = {o.lot: (o.likely - before[o.lot].likely).days for o in outlooks if o.lot in before}
    far = [name for name, days in moved.items() if abs(days) >= MOVED]
    if far:
        far.sort(key=lambda name: (-abs(moved[name]), natural(name)))
        words = [f"{name} {later(moved[name])}" for name in far]
        lines.append(f"Moved since a week ago: {listed(words, NAMED)}.")
    return tuple(lines)


def _by_days(off: Sequence[Outlook]) -> str:
    """'N1 by 11 days, C1 and TM2 by 4, 10 more by 1 or 2'."""
    groups: dict[int, list[str]] = {}
    for outlook in off:
        groups.setdefault(abs(outlook.days_late), []).append(outlook.lot)
    far = [days for days in groups if days >= MOVED] or [max(groups)]
    words = [
        f"{listed(groups[days], NAMED)} by {days if i else some(days, 'day')}" for i, days in enumerate(far)
    ]
    near = sorted(days for days in groups if days not in far)
    if near:
        more = sum(len(groups[days]) for days in near)
        words.append(f"{more} more by {' or '.join(map(str, near))}")
    return ", ".join(words)


def stage_words(outlook: Outlook) -> str:
    """The stage of a lot: the last one seen, or the one that is reckoned with."""
    return f"{outlook.seen} seen" if outlook.seen else f"{outlook.stage} (reckoned)"


def _row(outlook: Outlook) -> tuple[str, ...]:
    days = (outlook.early, outlook.likely, outlook.late, outlook.target)
    against = lateness_words(outlook.days_late)
    return (outlook.lot, stage_words(outlook), *map(day_month, days), against, f"{outlook.chance:.0%}")


MARGIN, ROW, FOOT, HEAD = 28.0, 17.5, 26.0, 62.0
_NAMES, _ANSWERS = 250.0, 226.0  # room left of the days for lots, right of them for words [pt]
_TARGET, _LIKELY, _AGAINST = (
    8.0,
    70.0,
    134.0,
)  # where the words of an answer begin, from the right of the days
_BIG, _TEXT, _NOTE, _LEAD, _LEAST = 9.0, 8.5, 8.0, 9.5, 7.0  # type [pt]
_LINE = 12.5  # from line to line of words [pt]
BAND = Style(3, "#c9dcec", INK, 0.5)
_DISC = Style(4, PAPER, QUIET, 0.8)
_LIKELY_RULE = Stroke(5, INK, 2.2)
_BEFORE = Stroke(4, QUIET, 0.8, (1.2, 1.2))
_GUIDE = Stroke(1.5, RULE, 0.4)
Block = tuple[float, list[str]]  # type size [pt], lines


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


@dataclass(frozen=True, slots=True)
class Sheet:
    """What every page of the sheet says: its lines at the top and below the rows, and how high they are [pt]."""

    top: tuple[str, ...]
    below: tuple[str, ...]

    @classmethod
    def of(cls, plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> Sheet:
        room = PAPERS[plan.season.paper][0] - 2 * MARGIN
        top = headline(outlooks, before) if outlooks else ("No lot has an outlook.",)
        below = folded(by_trouble(outlooks)[1])
        return cls(
            tuple(line for words in top for line in fit.wrap(fit.clean(words), room, _LEAD, bold=True)),
            tuple(line for words in below for line in fit.wrap(fit.clean(words), room, _TEXT)),
        )

    @property
    def head(self) -> float:
        return HEAD + _LINE * len(self.top)

    @property
    def taken(self) -> float:
        """Height of all but the rows."""
        return 2 * MARGIN + self.head + AXIS_HEIGHT + 12 + FOOT + _LINE * (len(self.below) + 1)


@dataclass(frozen=True, slots=True)
class Row:
    """A lot of the sheet: its name and what it is as they are set, type size and lines, and how high it is [pt]."""

    outlook: Outlook
    name: Block
    kind: Block
    indent: float  # of what it is, from where the name begins

    @property
    def tall(self) -> float:
        return max(ROW, *(len(lines) * size * fit.LEADING + 1 for size, lines in (self.name, self.kind)))

    @classmethod
    def of(cls, plan: Plan, outlook: Outlook) -> Row:
        lot = plan.lot(outlook.lot).lot
        room = _NAMES - 16 - fit.width(stage_words(outlook), _NOTE) - 14
        name, kind = fit.clean(lot.name), fit.clean(lot.cultivar or lot.crop)
        kind += "" if outlook.wanted == "bloom" else f", wanted in {outlook.wanted}"
        own = max(52.0, min(fit.width(name, _BIG, True), 0.5 * room))
        return cls(outlook, _whole(name, own, _BIG, True), _whole(kind, room - own - 4, _TEXT), own + 4)


def _whole(said: str, room: float, size: float, bold: bool = False) -> Block:
    """Words in a row of the usual height, smaller where they need it; never cut, but in as many lines as it takes."""
    size, lines = fit.fitted(said, room, ROW - 1, size, bold, _LEAST)
    return size, lines if size > _LEAST else fit.broken(said, room, _LEAST, bold)


def draw_pages(plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> list[Canvas]:
    """The sheet in pages of the season's paper."""
    size, sheet = PAPERS[plan.season.paper], Sheet.of(plan, outlooks, before)
    pages: list[list[Row]] = [[]]
    for row in (Row.of(plan, outlook) for outlook in by_trouble(outlooks)[0]):
        if pages[-1] and sum(r.tall for r in pages[-1]) + row.tall > size[1] - sheet.taken:
            pages.append([])
        pages[-1].append(row)
    return [
        _draw(
            plan,
            sheet if n == len(pages) else replace(sheet, below=()),
            rows,
            before,
            size,
            f"page {n} of {len(pages)}",
        )
        for n, rows in enumerate(pages, start=1)
    ]


def draw_picture(plan: Plan, outlooks: Sequence[Outlook], before: Mapping[str, Outlook]) -> Canvas:
    """The sheet as one picture, as tall as it needs."""
    sheet, rows = Sheet.of(plan, outlooks, before), [Row.of(plan, o) for o in by_trouble(outlooks)[0]]
    tall = sheet.taken + max(ROW, sum(row.tall for row in rows))
    return _draw(plan, sheet, rows, before, (PAPERS[plan.season.paper][0], tall), "")


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
    sheet: Sheet,
    rows: Sequence[Row],
    before: Mapping[str, Outlook],
    size: tuple[float, float],
    page: str,
) -> Canvas:
    canvas = Canvas(*size)
    outlooks = [row.outlook for row in rows]
    right, top = size[0] - MARGIN, MARGIN + sheet.head
    frame = frame_of(plan, _span(plan, outlooks), (MARGIN, right), _NAMES, _ANSWERS)
    words = f"Bloom now expected, as of {long_date(plan.on)}, from the log, the readings and the temperatures ahead."
    draw_head(canvas, MARGIN, f"Outlook: {title_of(plan)}", words)
    for i, line in enumerate(sheet.top):
        canvas.text(MARGIN, MARGIN + 43 + _LINE * i, line, _LEAD, bold=True)
    draw_key(canvas, MARGIN, right, top - 19, _SIGNS, _NOTE, 14)
    y = draw_dated(canvas, frame, top)
    for words, x in (("target", _TARGET), ("likely bloom", _LIKELY)):
        canvas.text(frame.scale.right + x, top + 27, words, _NOTE, colour=QUIET)
    canvas.text(right, top + 27, "chance on time", _NOTE, colour=QUIET, side="right")
    draw_days(canvas, frame, y, y + max(ROW, sum(row.tall for row in rows)))
    for row in rows:
        _draw_row(canvas, plan, frame, row, before.get(row.outlook.lot), y + row.tall / 2)
        y += row.tall
    y += 0 if rows else ROW
    for i, line in enumerate(sheet.below):
        canvas.text(MARGIN, y + _LINE * (i + 1), line, _TEXT)
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


def _set_block(canvas: Canvas, x: float, y: float, block: Block, bold: bool = False) -> None:
    """Lines about the middle of a row."""
    size, lines = block
    for i, line in enumerate(lines):
        at = y + (i - (len(lines) - 1) / 2) * size * fit.LEADING
        canvas.text(x, at, line, size, bold=bold, middle=True)


def _draw_row(canvas: Canvas, plan: Plan, frame: Frame, row: Row, before: Outlook | None, y: float) -> None:
    scale, outlook = frame.scale, row.outlook
    letter_disc(canvas, frame.left + 6, y, plan.lot(outlook.lot).lot.bloom_class, 5.5)
    _set_block(canvas, frame.left + 16, y, row.name, bold=True)
    _set_block(canvas, frame.left + 16 + row.indent, y, row.kind)
    canvas.text(scale.left - 6, y, stage_words(outlook), _NOTE, colour=QUIET, side="right", middle=True)
    canvas.line(((frame.left, y + row.tall / 2), (frame.right, y + row.tall / 2)), _GUIDE)
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
