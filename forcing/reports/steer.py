"""The steering sheet: its tables, and pages of what to set and carry, day by day, beside the options there are.

A small picture shows what each option brings for how many things to do, so that a person can choose otherwise.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby, zip_longest
from pathlib import Path
from typing import Literal, NamedTuple

from forcing.engine.steering.advice import LotOutcome, Move, Steering
from forcing.model import Plan, RoomSetting
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.paper import (
    PAPERS,
    Piece,
    Stretch,
    draw_head,
    draw_pieces,
    flow,
    height_of,
    title_of,
    write_picture,
    write_sheet,
)
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
from forcing.text import natural, number, some
from forcing.units import TemperatureUnit, show_temperature

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
_SLACK = 60.0  # by which columns of about one height differ, as headings are said again and lines stay together [pt]
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
    """Write options.csv, steer.csv, moves.csv, steer.pdf and, with `picture`, steer.png; give their paths.

    Temperatures are in the season's unit, days half-open and ISO 8601. `created` goes into the files, so that
    the same answer gives the same bytes. Raises OutputError where a file cannot be written.
    """
    names = ("options.csv", "steer.csv", "moves.csv", "steer.pdf", "steer.png")
    options_path, steer_path, moves_path, pdf_path, png_path = (folder / name for name in names)
    write_csv(frames.options(steering), options_path, digits=frames.OPTION_DIGITS)
    write_csv(frames.steer(steering, plan.season.unit), steer_path)
    write_csv(frames.moves(steering), moves_path, frames.MOVE_COLUMNS)
    title = title_of(plan)
    write_sheet(pdf_path, draw_pages(steering, plan), f"{title}: bench temperatures", created)
    if picture:
        write_picture(png_path, draw_picture(steering, plan), title, created)
    return (options_path, steer_path, moves_path, pdf_path, *((png_path,) if picture else ()))


# ---------------------------------------------------------------- pages

Columns = tuple[list[Piece], list[Piece]]


def draw_pages(steering: Steering, plan: Plan) -> list[Canvas]:
    """The sheet in pages of the season's paper: what to do on the left, what it brings on the right.

    What is left of either after the first page takes the columns that follow, so that none stays empty; so do notes
    for which neither column of the first page has room.
    """
    size = PAPERS[plan.season.paper]
    room = size[1] - 2 * MARGIN - HEAD - FOOT
    todo, notes, brings = _lists(steering, plan)
    left, right = _spread(todo, room), flow([Stretch(brings)], lambda n: room)
    first: Columns = (left[0], right[0])
    over = [note for note in notes if not _put(note, first if len(left) == 1 else first[1:], room)]
    rest = [*left[1:], *right[1:], *(flow([Stretch(over)], lambda n: room) if over else ())]
    parts: list[Columns] = [first, *zip_longest(rest[::2], rest[1::2], fillvalue=[])]
    return [
        _draw(steering, plan, size, words, f"page {n} of {len(parts)}")
        for n, words in enumerate(parts, start=1)
    ]


def _spread(todo: Sequence[Piece], room: float) -> list[list[Piece]]:
    """The list in columns, one on the first page and two on each that follows; a last page that would be two thirds
    empty shares with the page before it."""
    columns = flow([Stretch(todo)], lambda n: room)
    if len(columns) % 2 or height_of(columns[-1]) > 2 / 3 * room:
        return columns
    last = columns[-3:]
    tall = sum(map(height_of, last)) / (len(last) + 1) + _SLACK
    shared = flow([Stretch(todo)], lambda n: room if n < len(columns) - len(last) else min(tall, room))
    return shared if len(shared) == len(columns) + 1 else columns


def _put(note: Piece, columns: Sequence[list[Piece]], room: float) -> bool:
    """Whether one of the columns has room for a note, which is then in the first that has."""
    column = next((pieces for pieces in columns if height_of(pieces) + note.tall <= room), None)
    if column is not None:
        column.append(note)
    return column is not None


def draw_picture(steering: Steering, plan: Plan) -> Canvas:
    """The sheet as one picture, as tall as it needs."""
    width, _ = PAPERS[plan.season.paper]
    todo, notes, brings = _lists(steering, plan)
    left, right = (flow([Stretch(pieces)], lambda n: math.inf)[0] for pieces in ([*todo, *notes], brings))
    height = 2 * MARGIN + HEAD + FOOT + max(height_of(left), height_of(right))
    return _draw(steering, plan, (width, height), (left, right), "")


def _lists(steering: Steering, plan: Plan) -> tuple[list[Piece], list[Piece], list[Piece]]:
    """What to do, what to know with it, what it brings: lots on target only where the first page has room for them."""
    size = PAPERS[plan.season.paper]
    column, room = _column(size[0]), size[1] - 2 * MARGIN - HEAD - FOOT
    brings = bringing(
        steering, column, [o for o in steering.lots if not o.on_target or o.off_after != o.off_before]
    )
    if height_of(brings) > room:
        brings = bringing(steering, column, [o for o in steering.lots if not o.on_target])
    return doing(steering, plan, column), notes_of(steering, column), brings


def _column(width: float) -> float:
    return (width - 2 * MARGIN - COLUMN_GAP) / 2


def _draw(steering: Steering, plan: Plan, size: tuple[float, float], words: Columns, page: str) -> Canvas:
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
    """Settings, moves and holds as a list to tick off, day by day."""
    items: list[Piece] = []
    days = {s.span.start for s in steering.settings} | {m.on for m in carried(steering)}
    for day in sorted(days):
        settings = [s for s in steering.settings if s.span.start == day]
        moves = [m for m in carried(steering) if m.on == day]
        count = [some(len(settings), "setting")] if settings else []
        count += [f"{some(len(moves), 'lot')}, {some(sum(m.pots for m in moves), 'pot')}"] if moves else []
        items += _day(steering, plan, day, " · ".join(count), settings, moves, column)
    for lot, place in steering.left_out:
        said = _wrapped(f"Leave {lot} on {place}", _INDENT, column - _FREE, TASK, bold=True)
        note = _wrapped("not to be carried as was agreed", _INDENT, column - _FREE, NOTE)
        items.append(_piece([*said, *note], column, tick=True))
    if not items:
        items.append(_paragraph("Nothing to set, move or hold.", column, TASK, bold=True))
    return items


def notes_of(steering: Steering, column: float) -> list[Piece]:
    """What steering cannot bring back."""
    return [_paragraph(_with_days(said), column, TEXT, above=2) for said in steering.beyond]


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
        lines = [*_setting(setting, plan.season.unit, column), *_warnings(steering, setting, column)]
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


def _warnings(steering: Steering, setting: RoomSetting, column: float) -> Iterator[Line]:
    """What to beware of with the first setting of a place; what to do about it where that is said first."""
    order = sorted(steering.settings, key=lambda s: (s.span.start, natural(s.place)))
    first = {s.place: s for s in reversed(order)}
    if first[setting.place] != setting:
        return
    before = [s.place for s in order[: order.index(setting)]]
    for finding in steering.findings:
        if finding.place == setting.place:
            told = any(f.code == finding.code and f.place in before for f in steering.findings)
            said = f"Warning: {finding.message}.{'' if told else f' {finding.hint}'}"
            yield from _wrapped(said, _INDENT, column - _FREE, NOTE, colour=ALERT)


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


def bringing(steering: Steering, column: float, lots: Sequence[LotOutcome]) -> list[Piece]:
    """What it comes to, the options beside each other, and some of the lots, those farthest off first."""
    items = [_paragraph(_with_days(steering.headline), column, TEXT, bold=True)]
    if steering.options:
        items += [_picture(steering, column), *_legend(steering, column)]
    edges = [share * column for share in (0.0, 0.17, 0.245, 0.365, 0.515, 0.785)]
    names = ("lot", "pots", "target", "as set now", "steered to", "8 chances in 10")
    line = [Words(x, name, NOTE, colour=QUIET) for x, name in zip(edges, names, strict=True)]
    head = _piece([line], column, rule="below", space=5, above=6, heading=True)
    order = sorted(lots, key=lambda o: (-abs(o.off_after), o.target, natural(o.lot)))
    rest = len(steering.lots) - len(order)
    if rest:
        items.append(_paragraph(f"{some(rest, 'lot')} on target, not listed.", column, NOTE, above=3))
    if order:
        items += [head, *(_piece(_outcome(o, edges), column, space=1.0, again=head) for o in order)]
    return items


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


# ---------------------------------------------------------------- the options

PICTURE, _LEFT, _AXIS = 118.0, 34.0, 30.0  # height of the picture, room left of it and below it [pt]
CURVE, FRAME, GUIDE = Stroke(4, QUIET, 1.0), Stroke(2, QUIET, 0.6), Stroke(1, RULE, 0.4)


def _picture(steering: Steering, column: float) -> Piece:
    """Days off target against the number of things to do; each option a letter, the recommended one filled."""

    def draw(canvas: Canvas, x: float, y: float) -> None:
        _draw_options(canvas, steering, (x, y, x + column, y + PICTURE))

    return Piece(PICTURE, draw, above=4)


def _draw_options(canvas: Canvas, steering: Steering, frame: tuple[float, float, float, float]) -> None:
    left, top, right, bottom = frame
    x0, x1, y0, y1 = left + _LEFT, right - 12, top + 24, bottom - _AXIS
    canvas.text(left, top + 9, "Days off target (mean of pots) by number of things to do", NOTE, bold=True)
    points = [
        *((p.actions, p.days_off) for p in steering.front),
        *((o.actions, o.days_off) for o in steering.options),
    ]
    wide, tall = max(1, *(n for n, _ in points)), _nice(max(days for _, days in points))

    def at(actions: float, days: float) -> tuple[float, float]:
        return x0 + actions / wide * (x1 - x0), y1 - days / tall * (y1 - y0)

    for share in (0.0, 0.5, 1.0):
        y = at(0, share * tall)[1]
        canvas.line(((x0, y), (x1, y)), FRAME if share == 0 else GUIDE)
        canvas.text(x0 - 8, y, f"{share * tall:g} d", _SMALL, colour=QUIET, side="right", middle=True)
    step = next(n for n in (1, 2, 5, 10, 20, 50) if wide / n <= 12)
    for actions in range(0, wide + 1, step):
        x = at(actions, 0)[0]
        canvas.text(x, y1 + 14, str(actions), _SMALL, colour=QUIET, side="center", middle=True)
    if len(steering.front) > 1:
        canvas.line([at(p.actions, p.days_off) for p in steering.front], CURVE)
    spots: dict[tuple[int, float], str] = {}
    for letter, option in zip(LETTERS, steering.options, strict=False):
        spot = option.actions, round(option.days_off, 2)
        spots[spot] = spots.get(spot, "") + letter
    chosen = steering.recommended
    for (actions, days), letters in spots.items():
        x, y = at(actions, days)
        filled = chosen is not None and (actions, days) == (chosen.actions, round(chosen.days_off, 2))
        canvas.disc(x, y, 3.2, Style(6, INK if filled else PAPER, INK, 1.0))
        canvas.text(x, y - 9, letters, NOTE, bold=filled, side="center", middle=True)


LETTERS = "ABCDEFGH"


def _nice(most: float) -> float:
    """Top of the scale of days: the next round number."""
    return float(
        next((n for n in (0.5, 1, 2, 4, 6, 8, 10, 15, 20, 30, 40) if n >= most - 1e-9), math.ceil(most))
    )


def _legend(steering: Steering, column: float) -> Iterator[Piece]:
    """A line for each option: its letter, what there is to do, what it costs and brings."""
    edges = [share * column for share in (0.0, 0.06, 0.37, 0.53, 0.66, 0.83)]
    names = ("", "option", "to do", "hours", "in a day", "days off")
    head = [Words(x, name, NOTE, colour=QUIET) for x, name in zip(edges, names, strict=True)]
    yield _piece([head], column, rule="below", space=5, heading=True)
    for letter, o in zip(LETTERS, steering.options, strict=False):
        within = f"{o.within} of {len(steering.lots)}"
        cells = (letter, o.name, str(o.actions), number(o.hours), within, f"{o.days_off:.1f}")
        yield _piece(
            [[Words(x, said, NOTE, o.recommended) for x, said in zip(edges, cells, strict=True)]],
            column,
            space=1.0,
        )
    if steering.recommended is not None:
        yield _paragraph(f"Recommended: {steering.recommended.name}.", column, NOTE, above=3)
