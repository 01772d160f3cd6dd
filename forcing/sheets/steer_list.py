"""The words of the steering sheet as items to set one below the other: what to do, day by day, and what it brings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from forcing.engine.steering.answer import Move, Outcome, Steering
from forcing.model import Plan, RoomSetting
from forcing.sheets.drawing import text as fit
from forcing.sheets.drawing.canvas import Canvas, Stroke, Style
from forcing.sheets.style import ALERT, INK, PAPER, QUIET, RULE, short_date
from forcing.sheets.task_words import ARROW, natural, some
from forcing.units import TemperatureUnit, show_temperature

BIG, TASK, TEXT, NOTE = 12.5, 10.5, 9.0, 8.5  # type [pt]: days, what is carried, words, what explains them
TICK, SIGN = 11.0, 58.0  # side of a tick box, length of the line to sign on [pt]
_INDENT = TICK + 6
_FREE = SIGN + 10  # right of the words, where a line is to be signed
_BETWEEN = 1.3  # lines apart, of the type size
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True, slots=True)
class Words:
    """One run of text at `x` points from the left of its column."""

    x: float
    said: str
    size: float
    bold: bool = False
    colour: str = INK


@dataclass(frozen=True, slots=True)
class Item:
    """Lines that stay together, `height` [pt] high; `first`: the heading said again where a column goes on."""

    lines: tuple[tuple[Words, ...], ...]
    tick: bool = False
    rule: str = ""  # 'above' or 'below'
    above: float = 0.0  # free above the first line [pt]
    space: float = 4.0  # below the last line [pt]
    holds_next: bool = False  # a heading does not stand alone at the foot of a column
    again: Item | None = None  # the headings this one stands under

    @property
    def height(self) -> float:
        return self.above + sum(_line_height(line) for line in self.lines) + self.space


def _line_height(line: Sequence[Words]) -> float:
    return _BETWEEN * max((words.size for words in line), default=TEXT)


def draw_item(canvas: Canvas, item: Item, x: float, column: float, y: float) -> None:
    """Set an item with its top at `y`, `column` wide."""
    base = y + item.above
    if item.rule == "above":
        canvas.line(((x, base), (x + column, base)), Stroke(1, INK, 1.2))
    if item.tick:
        canvas.box(x + 0.6, base + 1.5, x + 0.6 + TICK, base + 1.5 + TICK, Style(3, PAPER, INK, 1.1))
        canvas.line(((x + column - SIGN, base + 12), (x + column, base + 12)), Stroke(1, INK, 0.6))
    for line in item.lines:
        base += _line_height(line)
        for words in line:
            canvas.text(
                x + words.x, base - 0.28 * _line_height(line), words.said, words.size,
                bold=words.bold, colour=words.colour,
            )  # fmt: skip
    if item.rule == "below":
        canvas.line(((x, base + 1.5), (x + column, base + 1.5)), Stroke(1, RULE, 0.6))


def columned(items: Iterable[Item], rooms: Iterator[float]) -> list[list[Item]]:
    """Items in columns as high as `rooms` says one after the other; a list that goes on names its heading again."""
    left = next(rooms)
    columns: list[list[Item]] = [[]]
    listed = list(items)
    for i, item in enumerate(listed):
        last = next((n for n in range(i, len(listed)) if not listed[n].holds_next), len(listed) - 1)
        if sum(one.height for one in listed[i : last + 1]) > left and columns[-1]:
            columns.append([])
            left = next(rooms)
            if item.again is not None:
                columns[-1].append(replace(item.again, above=0.0))
                left -= columns[-1][0].height
        shown = item if columns[-1] else replace(item, above=0.0)
        columns[-1].append(shown)
        left -= shown.height
    return columns


# ---------------------------------------------------------------- what to do


def doing(steering: Steering, plan: Plan, column: float) -> list[Item]:
    """Settings, moves and holds as a list to tick off, day by day, then what to beware of."""
    items: list[Item] = []
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
) -> Iterator[Item]:  # fmt: skip
    name = short_date(day)
    wide = fit.width(name, BIG, True) + 10
    sign = Words(column - SIGN, "done by", NOTE, colour=QUIET)
    head, again = (
        Item(((Words(0, name, BIG, True), Words(wide, said, NOTE, colour=QUIET), sign),), rule="above",
             above=7, space=2, holds_next=True)
        for said in (count, "continued")
    )  # fmt: skip
    yield head
    for setting in sorted(settings, key=lambda s: natural(s.place)):
        yield _setting(setting, plan.season.unit, column, again)
    for (what, note, way), group in groupby(moves, key=lambda m: (*_errand(steering, plan, m), _way(m))):
        yield from _trip(plan, f"{what}: {way}", note, list(group), column, again)


def _setting(setting: RoomSetting, unit: TemperatureUnit, column: float, again: Item) -> Item:
    day, night, mean = (show_temperature(t, unit) for t in (setting.day, setting.night, setting.mean))
    both = day if day == night else f"{day} by day, {night} by night"
    lines = _wrapped(f"Set {setting.place} to {both}", _INDENT, column - _FREE, TASK, bold=True)
    until = f"until {short_date(setting.span.end)}{'' if day == night else f'; mean {mean}'}"
    lines += _wrapped(until, _INDENT, column - _FREE, NOTE)
    return Item(tuple(lines), tick=True, again=again)


def _trip(
    plan: Plan, what: str, note: str, moves: Sequence[Move], column: float, again: Item
) -> Iterator[Item]:
    """The lots that go the same way on a day: the way once, then a box to tick for each lot."""
    lines = _wrapped(what, 0, column, TEXT, bold=True)
    lines += _wrapped(note, 0, column, TEXT, bold=True, colour=ALERT)
    yield Item(tuple(lines), space=1.5, holds_next=True, again=again)
    again = replace(again, lines=(*again.lines, *lines))
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
        yield Item(tuple(tuple(row) for row in rows), tick=True, again=again)


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


def bringing(steering: Steering, column: float) -> list[Item]:
    """What it comes to in words, then each lot's bloom before and after, those off target first."""
    done = len(steering.settings) + len(steering.moves) + len(steering.holds)  # sentences the list says
    items = [_paragraph(_with_days(said), column, TEXT) for said in steering.words[done:]]
    if not steering.lots:
        return items
    edges = [share * column for share in (0.0, 0.17, 0.245, 0.365, 0.515, 0.785)]
    names = ("lot", "pots", "target", "as set now", "steered to", "8 chances in 10")
    head = Item((tuple(Words(x, name, NOTE, colour=QUIET) for x, name in zip(edges, names, strict=True)),),
                rule="below", space=5, holds_next=True)  # fmt: skip
    items.append(head)
    order = sorted(steering.lots, key=lambda o: (-abs(o.off_after), o.target, natural(o.lot)))
    return [*items, *(_outcome(outcome, edges, head) for outcome in order)]


def _outcome(o: Outcome, edges: Sequence[float], again: Item) -> Item:
    off = abs(o.off_after) > 1
    cells = (
        str(o.pots), _day_month(o.target), off_words(o.off_before),
        f"{_day_month(o.after.likely)}, {off_words(o.off_after)}",
        f"{_day_month(o.after.early)} – {_day_month(o.after.late)}",
    )  # fmt: skip
    named = fit.wrap(fit.clean(o.lot), edges[1] - 4, NOTE, off)
    rows = [[Words(0, part, NOTE, off)] for part in named] or [[]]
    for i, (x, said) in enumerate(zip(edges[1:], cells, strict=True)):
        rows[0].append(Words(x, said, NOTE, off and i == 3))
    return Item(tuple(tuple(row) for row in rows), space=1.0, again=again)


def off_words(days: int) -> str:
    """Days from target in words."""
    if days == 0:
        return "on the day"
    return f"{days} d late" if days > 0 else f"{-days} d early"


def _day_month(day: date) -> str:
    return short_date(day).split(maxsplit=1)[1]


# ---------------------------------------------------------------- text


def _paragraph(
    said: str, column: float, size: float, *, bold: bool = False, colour: str = INK, above: float = 0.0
) -> Item:
    return Item(tuple(_wrapped(said, 0, column, size, bold=bold, colour=colour)), above=above, space=6)


def _wrapped(
    said: str, x: float, column: float, size: float, *, bold: bool = False, colour: str = INK
) -> list[tuple[Words, ...]]:
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
