"""The steering sheet: steer.csv, moves.csv, and pages of what to set and carry, day by day, and what it brings.

Below the words each bench has a small chart of days off target against its temperature, so that a person can
choose otherwise.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby, zip_longest
from pathlib import Path
from typing import Literal, NamedTuple

from forcing.engine.steering.advice import Curve, LotOutcome, Move, Steering
from forcing.model import Plan, RoomSetting
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.flow import Piece, Stretch, draw_pieces, flow, height_of
from forcing.reports.draw.paper import PAPERS, draw_head, title_of, write_picture, write_sheet
from forcing.reports.frames import write_csv
from forcing.reports.style import (
    ALERT,
    INK,
    PAPER,
    QUIET,
    RULE,
    day_month,
    lateness_words,
    long_date,
    short_date,
)
from forcing.reports.task_words import ARROW
from forcing.text import natural, some
from forcing.units import TemperatureUnit, from_celsius, show_temperature

MARGIN, HEAD, FOOT, COLUMN_GAP = 28.0, 38.0, 32.0, 24.0
BIG, TASK, TEXT, NOTE, _SMALL = (
    12.5,
    10.5,
    9.0,
    8.5,
    7.5,
)  # type [pt]: days, what is carried, words, notes, the foot
TICK, SIGN = 11.0, 58.0  # side of a tick box, length of the line to sign on [pt]
_INDENT = TICK + 6
_FREE = SIGN + 10  # right of the words, where a line is to be signed
_BETWEEN = 1.3  # lines apart, of the type size
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
CAUTION = (
    "Lifting and wet floors: trolley, two people for heavy crates, dry feet. Cold room: tell someone, check that the "
    "door opens from inside. Sap and bulbs: gloves. House rules, labels and local codes come first."
)


def write_steer(
    steering: Steering, plan: Plan, folder: Path, *, created: datetime, picture: bool = True
) -> tuple[Path, ...]:
    """Write steer.csv, moves.csv, steer.pdf and, with `picture`, steer.png into `folder`; give their paths.

    Temperatures are in the season's unit, days half-open and ISO 8601. `created` goes into the files, so that
    the same answer gives the same bytes. Raises OutputError where a file cannot be written.
    """
    names = ("steer.csv", "moves.csv", "steer.pdf", "steer.png")
    steer_path, moves_path, pdf_path, png_path = (folder / name for name in names)
    write_csv(frames.steer(steering, plan.season.unit), steer_path)
    write_csv(frames.moves(steering), moves_path, frames.MOVE_COLUMNS)
    title = title_of(plan)
    write_sheet(pdf_path, draw_pages(steering, plan), f"{title}: bench temperatures", created)
    if picture:
        write_picture(png_path, draw_picture(steering, plan), title, created)
    return (steer_path, moves_path, pdf_path, *((png_path,) if picture else ()))


# ---------------------------------------------------------------- pages

Columns = tuple[Sequence[Piece], Sequence[Piece]]


def draw_pages(steering: Steering, plan: Plan) -> list[Canvas]:
    """The sheet in pages of the season's paper; the charts stand below the last words, or on a page of their own."""
    size = PAPERS[plan.season.paper]
    room = size[1] - 2 * MARGIN - HEAD - FOOT
    left, right = (flow([Stretch(pieces)], lambda n: room) for pieces in _lists(steering, plan))
    parts: list[Columns] = list(zip_longest(left, right, fillvalue=()))
    charts = charts_height(steering, size[0] - 2 * MARGIN)
    if charts > room - _height(parts[-1]):
        parts.append(((), ()))
    return [
        _draw(steering, plan, size, words, n == len(parts), f"page {n} of {len(parts)}")
        for n, words in enumerate(parts, start=1)
    ]


def draw_picture(steering: Steering, plan: Plan) -> Canvas:
    """The sheet as one picture, as tall as it needs."""
    width, _ = PAPERS[plan.season.paper]
    left, right = (flow([Stretch(pieces)], lambda n: math.inf)[0] for pieces in _lists(steering, plan))
    words = left, right
    height = 2 * MARGIN + HEAD + FOOT + _height(words) + charts_height(steering, width - 2 * MARGIN)
    return _draw(steering, plan, (width, height), words, True, "")


def _lists(steering: Steering, plan: Plan) -> Columns:
    column = _column(PAPERS[plan.season.paper][0])
    return doing(steering, plan, column), bringing(steering, column)


def _column(width: float) -> float:
    return (width - 2 * MARGIN - COLUMN_GAP) / 2


def _height(words: Columns) -> float:
    return max(map(height_of, words))


def _draw(
    steering: Steering, plan: Plan, size: tuple[float, float], words: Columns, charts: bool, page: str
) -> Canvas:
    canvas = Canvas(*size)
    right, top = size[0] - MARGIN, MARGIN + HEAD
    said = (
        f"What to set, move and hold so that bloom comes back to target, as seen on {long_date(steering.on)}."
    )
    if steering.span is not None:
        said += f" Steered from {short_date(steering.span.start)} until {short_date(steering.span.end)}."
    draw_head(canvas, MARGIN, f"Steering the benches: {title_of(plan)}", said, TEXT)
    for pieces, x in zip(words, (MARGIN, MARGIN + _column(size[0]) + COLUMN_GAP), strict=True):
        draw_pieces(canvas, pieces, x, top)
    if charts:
        draw_charts(canvas, steering, plan.season.unit, MARGIN, right, top + _height(words))
    names = [plan.season.title, *(o.lot for o in steering.lots), *(p.lot.cultivar or "" for p in plan.lots)]
    _draw_foot(canvas, f"{CAUTION} {fit.letters_note(names)}".strip(), right, size[1] - MARGIN, page)
    return canvas


def _draw_foot(canvas: Canvas, words: str, right: float, y: float, page: str) -> None:
    room = right - MARGIN - fit.width("page 99 of 99", _SMALL) - 12
    lines = fit.wrap(words, room, _SMALL)
    top = y - 10 * (len(lines) - 1)
    canvas.line(((MARGIN, top - 11), (right, top - 11)), Stroke(1, RULE, 0.4))
    for i, line in enumerate(lines):
        canvas.text(MARGIN, top + 10 * i, line, _SMALL, colour=QUIET)
    canvas.text(right, y, page, _SMALL, colour=QUIET, side="right")


# ---------------------------------------------------------------- lines of words


class Words(NamedTuple):
    """One run of text at `x` points from the left of its column."""

    x: float
    said: str
    size: float
    bold: bool = False
    colour: str = INK


Line = Sequence[Words]


def _piece(
    lines: Sequence[Line], column: float, *, tick: bool = False, space: float = 4.0, above: float = 0.0,
    heading: bool = False, again: Piece | None = None, rule: Literal["", "above", "below"] = "",
) -> Piece:  # fmt: skip
    """Lines that stay together, `space` [pt] free below them; with `tick`, a box before and a line to sign on."""
    tall = sum(map(_line_height, lines))

    def draw(canvas: Canvas, x: float, y: float) -> None:
        if rule == "above":
            canvas.line(((x, y), (x + column, y)), Stroke(1, INK, 1.2))
        if tick:
            canvas.box(x + 0.6, y + 1.5, x + 0.6 + TICK, y + 1.5 + TICK, Style(3, PAPER, INK, 1.1))
            canvas.line(((x + column - SIGN, y + 12), (x + column, y + 12)), Stroke(1, INK, 0.6))
        for line in lines:
            y += _line_height(line)
            for words in line:
                canvas.text(
                    x + words.x, y - 0.28 * _line_height(line), words.said, words.size,
                    bold=words.bold, colour=words.colour,
                )  # fmt: skip
        if rule == "below":
            canvas.line(((x, y + 1.5), (x + column, y + 1.5)), Stroke(1, RULE, 0.6))

    return Piece(tall + space, draw, heading=heading, again=again, above=above)


def _line_height(line: Line) -> float:
    return _BETWEEN * max((words.size for words in line), default=TEXT)


# ---------------------------------------------------------------- what to do


def doing(steering: Steering, plan: Plan, column: float) -> list[Piece]:
    """Settings, moves and holds as a list to tick off, day by day, then what to beware of."""
    items: list[Piece] = []
    days = {s.span.start for s in steering.settings} | {m.on for m in carried(steering)}
    for day in sorted(days):
        settings = [s for s in steering.settings if s.span.start == day]
        moves = [m for m in carried(steering) if m.on == day]
        count = [some(len(settings), "setting")] if settings else []
        count += [f"{some(len(moves), 'lot')}, {some(sum(m.pots for m in moves), 'pot')}"] if moves else []
        items += _day(steering, plan, day, " · ".join(count), settings, moves, column)
    if not items:
        items.append(_paragraph("Nothing to set, move or hold.", column, TASK, bold=True))
    for finding in steering.findings:
        items.append(
            _paragraph(f"Warning: {finding.message}. {finding.hint}", column, TEXT, colour=ALERT, above=6)
        )
    return items


def carried(steering: Steering) -> list[Move]:
    """Moves and holds by day, from place to place, lots as a person counts them."""
    everything = (*steering.moves, *steering.holds)
    return sorted(everything, key=lambda m: (m.on, m.place, m.to, m in steering.holds, natural(m.lot)))


def _day(
    steering: Steering, plan: Plan, day: date, count: str, settings: Sequence[RoomSetting],
    moves: Sequence[Move], column: float,
) -> Iterator[Piece]:  # fmt: skip
    name = short_date(day)
    wide = fit.width(name, BIG, True) + 10
    sign = Words(column - SIGN, "done by", NOTE, colour=QUIET)
    head, again = (
        (Words(0, name, BIG, True), Words(wide, said, NOTE, colour=QUIET), sign)
        for said in (count, "continued")
    )
    yield _day_heading([head], column)
    for setting in sorted(settings, key=lambda s: natural(s.place)):
        lines = _setting(setting, plan.season.unit, column)
        yield _piece(lines, column, tick=True, again=_day_heading([again], column))
    for (what, note, way), group in groupby(moves, key=lambda m: (*_errand(steering, plan, m), _way(m))):
        yield from _trip(plan, f"{what}: {way}", note, list(group), column, again)


def _day_heading(lines: Sequence[Line], column: float) -> Piece:
    return _piece(lines, column, rule="above", above=7, space=2, heading=True)


def _setting(setting: RoomSetting, unit: TemperatureUnit, column: float) -> list[Line]:
    day, night, mean = (show_temperature(t, unit) for t in (setting.day, setting.night, setting.mean))
    both = day if day == night else f"{day} by day, {night} by night"
    until = f"until {short_date(setting.span.end)}{'' if day == night else f'; mean {mean}'}"
    return [
        *_wrapped(f"Set {setting.place} to {both}", _INDENT, column - _FREE, TASK, bold=True),
        *_wrapped(until, _INDENT, column - _FREE, NOTE),
    ]


def _trip(
    plan: Plan, what: str, note: str, moves: Sequence[Move], column: float, day: Line
) -> Iterator[Piece]:
    """The lots that go the same way on a day: the way once, then a box to tick for each lot."""
    lines = _wrapped(what, 0, column, TEXT, bold=True)
    lines += _wrapped(note, 0, column, TEXT, bold=True, colour=ALERT)
    yield _piece(lines, column, space=1.5, heading=True, again=_day_heading([day], column))
    again = _day_heading([day, *lines], column)
    about = {planned.lot.name: planned.lot.cultivar or planned.lot.crop for planned in plan.lots}
    names = [fit.wrap(fit.clean(move.lot), 0.4 * column, TASK, True) or ("",) for move in moves]
    pots_at = _INDENT + max(40.0, *(fit.width(part, TASK, True) for parts in names for part in parts)) + 10
    about_at = pots_at + max(fit.width(some(move.pots, "pot"), TASK, True) for move in moves) + 10
    for move, parts in zip(moves, names, strict=True):
        rows = [[Words(_INDENT, part, TASK, True)] for part in parts]
        rows[0].append(Words(pots_at, some(move.pots, "pot"), TASK, True))
        called = fit.wrap(fit.clean(about.get(move.lot, "")), column - _FREE - about_at, TEXT)
        rows += [[] for _ in range(len(called) - len(rows))]
        for row, part in zip(rows, called, strict=False):
            row.append(Words(about_at, part, TEXT))
        yield _piece(rows, column, tick=True, again=again)


def _way(move: Move) -> str:
    return f"{move.place} {ARROW} {move.to}" if move.place else move.to


def _errand(steering: Steering, plan: Plan, move: Move) -> tuple[str, str]:
    """What the trip is, and what has to be true before it is made."""
    cold = {place.name for place in plan.season.places if place.kind == "cooler"}
    if move in steering.holds:
        if move.to in cold:
            return "Hold", "Only once the lot shows colour; not before."
        return "Bring back", ""
    return ("Bring in", "") if move.place in cold else ("Move", "")


# ---------------------------------------------------------------- what it brings


def bringing(steering: Steering, column: float) -> list[Piece]:
    """What it comes to in words, then each lot's bloom before and after, those off target first."""
    done = len(steering.settings) + len(steering.moves) + len(steering.holds)  # sentences the list says
    items = [_paragraph(_with_days(said), column, TEXT) for said in steering.words[done:]]
    if not steering.lots:
        return items
    edges = [share * column for share in (0.0, 0.17, 0.245, 0.365, 0.515, 0.785)]
    names = ("lot", "pots", "target", "as set now", "steered to", "8 chances in 10")
    line = [Words(x, name, NOTE, colour=QUIET) for x, name in zip(edges, names, strict=True)]
    head = _piece([line], column, rule="below", space=5, heading=True)
    order = sorted(steering.lots, key=lambda o: (-abs(o.off_after), o.target, natural(o.lot)))
    rows = (_piece(_outcome(outcome, edges), column, space=1.0, again=head) for outcome in order)
    return [*items, head, *rows]


def _outcome(o: LotOutcome, edges: Sequence[float]) -> list[list[Words]]:
    off = abs(o.off_after) > 1
    cells = (
        str(o.pots), day_month(o.target), lateness_words(o.off_before),
        f"{day_month(o.after.likely)}, {lateness_words(o.off_after)}",
        f"{day_month(o.after.early)} – {day_month(o.after.late)}",
    )  # fmt: skip
    named = fit.wrap(fit.clean(o.lot), edges[1] - 4, NOTE, off)
    rows = [[Words(0, part, NOTE, off)] for part in named] or [[]]
    for i, (x, said) in enumerate(zip(edges[1:], cells, strict=True)):
        rows[0].append(Words(x, said, NOTE, off and i == 3))
    return rows


# ---------------------------------------------------------------- text


def _paragraph(
    said: str, column: float, size: float, *, bold: bool = False, colour: str = INK, above: float = 0.0
) -> Piece:
    return _piece(_wrapped(said, 0, column, size, bold=bold, colour=colour), column, above=above, space=6)


def _wrapped(
    said: str, x: float, column: float, size: float, *, bold: bool = False, colour: str = INK
) -> list[Line]:
    parts = fit.wrap(fit.clean(said), column - x, size, bold)
    return [(Words(x, part, size, bold, colour),) for part in parts]


def _with_days(said: str) -> str:
    """A sentence with its ISO dates as people say them: 'Fri 19 Mar'."""

    def spoken(found: re.Match[str]) -> str:
        try:
            return short_date(date.fromisoformat(found[0]))
        except ValueError:
            return found[0]

    return _DATE.sub(spoken, said)


# ---------------------------------------------------------------- charts

CHART_HEIGHT, GAP, TITLE = 128.0, 16.0, 22.0
_NARROWEST, _WIDEST = 150.0, 250.0
_AXIS, _HEAD, _LEFT = 31.0, 29.0, 30.0
_SIZE = 8.0
CURVE = Stroke(4, INK, 1.3)
FRAME = Stroke(2, QUIET, 0.6)
GUIDE = Stroke(1, RULE, 0.4)
NOW = Stroke(3, INK, 0.7, (1.4, 1.4))


def _columns(count: int, width: float) -> tuple[int, float]:
    """Charts in a row, and the width of each."""
    fitting = max(1, int((width + GAP) // (_NARROWEST + GAP)))
    rows = math.ceil(count / fitting)
    columns = math.ceil(count / rows)
    return columns, min(_WIDEST, (width - GAP * (columns - 1)) / columns)


def charts_height(steering: Steering, width: float) -> float:
    """Height [pt] that the charts take with their title; 0 without any."""
    if not steering.curves:
        return 0.0
    columns, _ = _columns(len(steering.curves), width)
    return math.ceil(len(steering.curves) / columns) * (CHART_HEIGHT + GAP) + TITLE


def _now(canvas: Canvas, x: float, y: float) -> None:
    canvas.disc(x, y, 3.0, Style(6, PAPER, INK, 1.0))


def _chosen(canvas: Canvas, x: float, y: float) -> None:
    canvas.area(((x - 3.8, y), (x, y - 3.8), (x + 3.8, y), (x, y + 3.8)), Style(7, INK, PAPER, 0.6))


def draw_charts(
    canvas: Canvas, steering: Steering, unit: TemperatureUnit, left: float, right: float, top: float
) -> None:
    """The charts in rows from `top` [pt] down, all on the same scale of days."""
    if not steering.curves:
        return
    title = "Days off target (mean of pots) at each mean temperature that a bench could be kept at"
    x = canvas.text(left, top + 13, title, 9.5, bold=True, room=right - left) + 10
    note = "A setting that changes counts as the mean of its weeks."
    canvas.text(x, top + 13, note, _SIZE, colour=QUIET, room=right - x)
    top += TITLE
    columns, width = _columns(len(steering.curves), right - left)
    most = max(max((*c.days_off, c.now[1], c.chosen[1])) for c in steering.curves)
    for number, curve in enumerate(steering.curves):
        x = left + (number % columns) * (width + GAP)
        y = top + (number // columns) * (CHART_HEIGHT + GAP)
        _draw_chart(canvas, curve, unit, (x, y, x + width), _nice(most))


def _nice(most: float) -> float:
    """Top of the scale of days: the next round number."""
    return float(next((n for n in (1, 2, 4, 6, 8, 10, 15, 20, 30, 40) if n >= most - 1e-9), math.ceil(most)))


def _draw_chart(
    canvas: Canvas, curve: Curve, unit: TemperatureUnit, place: tuple[float, float, float], days: float
) -> None:
    left, top, right = place
    x0, x1, y0, y1 = left + _LEFT, right - 6, top + _HEAD, top + CHART_HEIGHT - _AXIS
    canvas.text(left, top + 6, fit.clean(curve.bench), 9.5, bold=True, middle=True, room=right - left)
    words = fit.clean(f"{some(len(curve.lots), 'lot')}: {', '.join(curve.lots)}")
    canvas.text(left, top + 18, words, _SIZE, colour=QUIET, middle=True, room=right - left)
    temperatures = [from_celsius(t, unit) for t in (*curve.means, curve.now[0], curve.chosen[0])]
    low, high = math.floor(min(temperatures)), math.ceil(max(temperatures))
    low, high = (low - 1, high + 1) if low == high else (low, high)

    def at(mean: float, off: float) -> tuple[float, float]:
        across = (from_celsius(mean, unit) - low) / (high - low)
        return x0 + across * (x1 - x0), y1 - off / days * (y1 - y0)

    for share in (0.0, 0.5, 1.0):
        y = y1 - share * (y1 - y0)
        canvas.line(((x0, y), (x1, y)), FRAME if share == 0 else GUIDE)
        canvas.text(x0 - 4, y, f"{share * days:g} d", _SIZE, colour=QUIET, side="right", middle=True)
    _ticks(canvas, low, high, x0, x1, y1, unit)
    points = [at(mean, off) for mean, off in zip(curve.means, curve.days_off, strict=True)]
    if len(points) > 1:
        canvas.line(points, CURVE)
    x, y = at(*curve.now)
    canvas.line(((x, y), (x, y1)), NOW)
    _now(canvas, x, y)
    if curve.chosen != curve.now:
        _chosen(canvas, *at(*curve.chosen))
    _draw_caption(canvas, curve, unit, left, right, top + CHART_HEIGHT - 5)


def _draw_caption(
    canvas: Canvas, curve: Curve, unit: TemperatureUnit, left: float, right: float, y: float
) -> None:
    """What the marks of a chart are, each beside its mark."""
    kept = curve.chosen == curve.now
    said = [(_now, "kept" if kept else "now", curve.now)]
    said += [] if kept else [(_chosen, "advised", curve.chosen)]
    x = left
    for mark, name, (mean, off) in said:
        mark(canvas, x + 4, y)
        words = f"{name} {show_temperature(mean, unit)}: {off:.1f} d"
        x = canvas.text(x + 11, y, words, _SIZE, middle=True, room=right - x - 11) + 8


def _ticks(
    canvas: Canvas, low: int, high: int, x0: float, x1: float, y: float, unit: TemperatureUnit
) -> None:
    """Whole degrees along the foot, as many as can be read."""
    room = fit.width(f"{high} °{unit}", _SIZE) + 9
    step = next(n for n in (1, 2, 5, 10, 20, 50) if (x1 - x0) / max(1, (high - low) / n) >= room)
    for degree in range(low, high + 1):
        if degree % step == 0:
            x = x0 + (degree - low) / (high - low) * (x1 - x0)
            canvas.line(((x, y), (x, y + 2.5)), FRAME)
            canvas.text(x, y + 8, f"{degree} °{unit}", _SIZE, colour=QUIET, side="center", middle=True)
