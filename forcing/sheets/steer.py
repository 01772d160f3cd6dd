"""The steering sheet: steer.csv, moves.csv, and one page of what to set, what to carry and what it brings.

Below the words each bench has a small chart of days off target against its temperature, so that a person can
choose otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from forcing.engine.steering.answer import Move, Outcome, Steering
from forcing.files import replacing, write_text
from forcing.model import Plan, RoomSetting
from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Stroke, own_settings
from forcing.sheets.gantt.sheet import PAPERS
from forcing.sheets.steer_chart import CHART_HEIGHT, GAP, charts_height, draw_charts, draw_key
from forcing.sheets.style import ALERT, INK, QUIET, RULE, long_date, short_date
from forcing.sheets.tables import csv_text
from forcing.units import TemperatureUnit, from_celsius, show_temperature

STEER_COLUMNS = ("place", "from", "to", "mean", "day", "night")
MOVE_COLUMNS = ("lot", "from", "to", "on")
CAUTION = (
    "Lifting and wet floors: trolley, two people for heavy crates, dry feet. Cold room: tell someone, check that the "
    "door opens from inside. Sap and bulbs: gloves. House rules, labels and local codes come first."
)
MARGIN, HEAD, FOOT, LINE, COLUMN_GAP = 28.0, 52.0, 20.0, 11.5, 24.0
_TEXT, _SMALL = 8.0, 7.0


@dataclass(frozen=True, slots=True)
class Line:
    """One printed line: cells as (left edge as a share of the column, text), heading or body."""

    cells: tuple[tuple[float, str], ...]
    bold: bool = False
    colour: str = INK
    rule: bool = False  # a rule below it


def write_steer(steering: Steering, plan: Plan, folder: Path, *, created: datetime) -> tuple[Path, ...]:
    """Write steer.csv, moves.csv, steer.pdf and steer.png into `folder`; give their paths.

    Temperatures are in the season's unit, days half-open and ISO 8601. `created` goes into the files, so that
    the same answer gives the same bytes. Raises OutputError where a file cannot be written.
    """
    names = ("steer.csv", "moves.csv", "steer.pdf", "steer.png")
    steer_path, moves_path, pdf_path, png_path = (folder / name for name in names)
    write_text(steer_path, csv_text(STEER_COLUMNS, steer_rows(steering, plan.season.unit)))
    write_text(moves_path, csv_text(MOVE_COLUMNS, move_rows(steering)))
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    title = fit.clean(plan.season.title) or "Forcing plan"
    with own_settings():
        facts = {"Title": f"{title}: bench temperatures", "Creator": "forcing", "CreationDate": stamp}
        with replacing(pdf_path) as path, PdfPages(path, metadata=facts) as pdf:
            for page in draw_pages(steering, plan):
                pdf.savefig(page)
        picture = draw_picture(steering, plan)
        words = {"Title": title, "Software": "forcing", "Creation Time": stamp.isoformat()}
        with replacing(png_path) as path:
            picture.savefig(path, format="png", dpi=150, metadata=words)
    return steer_path, moves_path, pdf_path, png_path


def steer_rows(steering: Steering, unit: TemperatureUnit) -> tuple[tuple[str, ...], ...]:
    """Rows of steer.csv, by place and day."""
    return tuple(
        (
            s.place,
            s.span.start.isoformat(),
            s.span.end.isoformat(),
            *(f"{from_celsius(t, unit):.2f}".rstrip("0").rstrip(".") for t in (s.mean, s.day, s.night)),
        )
        for s in sorted(steering.settings, key=lambda s: (s.place, s.span.start))
    )


def move_rows(steering: Steering) -> tuple[tuple[str, ...], ...]:
    """Rows of moves.csv, by day and lot: moves between benches, and into a cooler and out of it again."""
    return tuple((m.lot, m.place, m.to, m.on.isoformat()) for m in _carried(steering))


def _carried(steering: Steering) -> list[Move]:
    return sorted((*steering.moves, *steering.holds), key=lambda m: (m.on, m.lot, m.to))


# ---------------------------------------------------------------- pages


def draw_pages(steering: Steering, plan: Plan) -> list[Figure]:
    """The sheet in pages of the season's paper: the charts stand below the first page's words."""
    size = PAPERS[plan.season.paper]
    column = (size[0] - 2 * MARGIN - COLUMN_GAP) / 2
    left, right = _doing(steering, plan, column), _bringing(steering, column)
    charts = charts_height(steering, size[0] - 2 * MARGIN)
    room = size[1] - 2 * MARGIN - HEAD - FOOT
    # Charts that leave too little room for words go on a page of their own at the end.
    apart = room - charts < 12 * LINE
    first = int((room - (0 if apart else charts)) / LINE)
    rest = int(room / LINE)
    parts = [(left[:first], right[:first])]
    done = first
    while done < max(len(left), len(right)):
        parts.append((left[done : done + rest], right[done : done + rest]))
        done += rest
    count = len(parts) + (1 if apart and charts else 0)
    pages = []
    for number in range(count):
        words = parts[number] if number < len(parts) else ((), ())
        with_charts = number == (count - 1 if apart else 0)
        pages.append(_draw(steering, plan, size, words, with_charts, f"page {number + 1} of {count}"))
    return pages


def draw_picture(steering: Steering, plan: Plan) -> Figure:
    """The sheet as one picture, as tall as it needs."""
    width, _ = PAPERS[plan.season.paper]
    column = (width - 2 * MARGIN - COLUMN_GAP) / 2
    left, right = _doing(steering, plan, column), _bringing(steering, column)
    lines = max(len(left), len(right))
    height = 2 * MARGIN + HEAD + FOOT + lines * LINE + charts_height(steering, width - 2 * MARGIN)
    return _draw(steering, plan, (width, height), (left, right), True, "")


def _draw(
    steering: Steering, plan: Plan, size: tuple[float, float], words: tuple[Sequence[Line], Sequence[Line]],
    charts: bool, page: str,
) -> Figure:  # fmt: skip
    canvas = Canvas(*size)
    left, right = MARGIN, size[0] - MARGIN
    _draw_head(canvas, steering, plan, left, right)
    if charts and steering.curves:
        draw_key(canvas, left, MARGIN + 41)
    column = (right - left - COLUMN_GAP) / 2
    top = MARGIN + HEAD
    for lines, x in zip(words, (left, left + column + COLUMN_GAP), strict=True):
        for i, line in enumerate(lines):
            _draw_line(canvas, line, x, column, top + LINE * (i + 0.5))
    if charts:
        deep = top + LINE * max(len(lines) for lines in words)
        draw_charts(canvas, steering, plan.season.unit, left, right, deep + GAP)
    _draw_foot(canvas, left, right, size[1] - MARGIN, page)
    return canvas.figure()


def _draw_head(canvas: Canvas, steering: Steering, plan: Plan, left: float, right: float) -> None:
    title = fit.clean(plan.season.title) or "Forcing plan"
    big = f"Bench temperatures: {title}"
    canvas.text(left, MARGIN + 13, fit.shorten(big, right - left, 15, True), 15, bold=True)
    words = (
        f"What to set, move and hold so that bloom comes back to target, as seen on {long_date(steering.on)}."
    )
    if steering.span is not None:
        words += f" Steered from {short_date(steering.span.start)} until {short_date(steering.span.end)}."
    canvas.text(left, MARGIN + 27, fit.shorten(words, right - left, _TEXT), _TEXT, colour=QUIET)


def _draw_line(canvas: Canvas, line: Line, x: float, column: float, y: float) -> None:
    edges = [share for share, _ in line.cells] + [1.0]
    for i, (share, text) in enumerate(line.cells):
        room = (edges[i + 1] - share) * column - (4 if i + 1 < len(line.cells) else 0)
        shown = fit.shorten(fit.clean(text), room, _TEXT, line.bold)
        canvas.text(x + share * column, y, shown, _TEXT, bold=line.bold, colour=line.colour, middle=True)
    if line.rule:
        canvas.line(((x, y + LINE / 2), (x + column, y + LINE / 2)), Stroke(1, RULE, 0.6))


def _draw_foot(canvas: Canvas, left: float, right: float, y: float, page: str) -> None:
    canvas.line(((left, y - 9), (right, y - 9)), Stroke(1, RULE, 0.4))
    room = right - left - fit.width(page, _SMALL) - 12
    canvas.text(left, y, fit.shorten(CAUTION, room, _SMALL), _SMALL, colour=QUIET)
    canvas.text(right, y, page, _SMALL, colour=QUIET, side="right")


# ---------------------------------------------------------------- words


def _heading(*cells: tuple[float, str]) -> Line:
    return Line(cells, bold=True, rule=True)


_EMPTY = Line(())


def _doing(steering: Steering, plan: Plan, column: float) -> list[Line]:
    """What to do: settings, moves and holds, and what to beware of."""
    unit = plan.season.unit
    lines: list[Line] = []
    if steering.settings:
        lines.append(
            _heading(
                (0, "Set"), (0.25, "from"), (0.42, "until"), (0.59, "day"), (0.73, "night"), (0.87, "mean")
            )
        )
        before = ""
        for s in steering.settings:
            lines.append(_setting(s, unit, "" if s.place == before else s.place))
            before = s.place
        lines.append(_EMPTY)
    if carried := _carried(steering):
        lines.append(_heading((0, "Carry"), (0.25, "on"), (0.42, "pots"), (0.52, "from → to")))
        lines += [
            Line(((0, m.lot), (0.25, short_date(m.on)), (0.42, str(m.pots)), (0.52, _way(m))))
            for m in carried
        ]  # fmt: skip
        lines.append(_EMPTY)
    for finding in steering.findings:
        words = fit.clean(f"Warning: {finding.message}. {finding.hint}")
        lines += [Line(((0, part),), colour=ALERT) for part in fit.wrap(words, column, _TEXT)]
        lines.append(_EMPTY)
    return lines[:-1] if lines and lines[-1] == _EMPTY else lines


def _way(move: Move) -> str:
    return f"{move.place} → {move.to}" if move.place else move.to


def _setting(setting: RoomSetting, unit: TemperatureUnit, name: str) -> Line:
    return Line(
        (
            (0, name),
            (0.25, short_date(setting.span.start)),
            (0.42, short_date(setting.span.end)),
            (0.59, show_temperature(setting.day, unit)),
            (0.73, show_temperature(setting.night, unit)),
            (0.87, show_temperature(setting.mean, unit)),
        )
    )


def _bringing(steering: Steering, column: float) -> list[Line]:
    """What it brings: each lot's bloom before and after, those off target first, and the rest in words."""
    lines: list[Line] = []
    if steering.lots:
        lines.append(
            _heading(
                (0, "Lot"),
                (0.2, "pots"),
                (0.29, "target"),
                (0.46, "as set now"),
                (0.64, "steered to"),
                (0.84, ""),
            )
        )
        order = sorted(steering.lots, key=lambda o: (-abs(o.off_after), o.target, o.lot))
        lines += [_outcome(outcome) for outcome in order]
        lines.append(_EMPTY)
    done = len(steering.settings) + len(steering.moves) + len(steering.holds)  # sentences that the tables say
    for sentence in steering.words[done:]:
        lines += [Line(((0, part),)) for part in fit.wrap(fit.clean(sentence), column, _TEXT)]
    return lines


def _outcome(o: Outcome) -> Line:
    off = abs(o.off_after) > 1
    return Line(
        (
            (0, o.lot),
            (0.2, str(o.pots)),
            (0.29, short_date(o.target)),
            (0.46, off_words(o.off_before)),
            (0.64, short_date(o.after.likely)),
            (0.84, off_words(o.off_after)),
        ),
        bold=off,
    )


def off_words(days: int) -> str:
    """Days from target in words."""
    if days == 0:
        return "on the day"
    return f"{days} d late" if days > 0 else f"{-days} d early"


__all__ = [
    "CHART_HEIGHT",
    "draw_pages",
    "draw_picture",
    "move_rows",
    "off_words",
    "steer_rows",
    "write_steer",
]
