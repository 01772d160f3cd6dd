"""Planting day: for each display what to pick, how to plant it, and what goes where in each container.

Lots are named once, in the pick list, with a letter that stands for them in the pictures and the list of containers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from forcing.engine.show.planting import PlantingDay, PlantingItem, Rows, row_words
from forcing.model import Plan
from forcing.reports import frames
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Stroke, Style
from forcing.reports.draw.paper import UPRIGHT, draw_foot, draw_head, title_of, write_sheet
from forcing.reports.frames import write_csv
from forcing.reports.style import INK, PAPER, QUIET, RULE, TINT, long_date, short_date
from forcing.text import number, one_line, some
from forcing.units import Measures, show_length, show_mix, show_pot, told

MARGIN, FOOT = 28.0, 24.0
_LINE = 13.0  # between lines of text [pt]
_CLOSE = 11.0  # and of small text
_SIZE = 9.0
_ROW = 17.0  # of the pick list
_PICTURES = 4  # containers drawn
_RADIUS = 11.0
_BESIDE = 80.0  # left of the letters of a container: box, number, word
_POT = Style(3, PAPER, INK, 0.9)
_BED = Style(1, TINT, RULE, 0.8)
_TICK = Style(3, PAPER, INK, 1.1)
_THIN = Stroke(2, RULE, 0.5)


def write_planting(
    plan: Plan, days: Sequence[PlantingDay], folder: Path, *, created: datetime
) -> tuple[Path, ...]:
    """Write planting.csv and planting.pdf. Raises OutputError where a file cannot be written."""
    csv_path, pdf_path = folder / "planting.csv", folder / "planting.pdf"
    table = frames.planting(days)
    write_csv(table, csv_path, tuple(table.columns), {})
    pages = draw_pages(plan, days)
    return csv_path, write_sheet(pdf_path, pages, f"{title_of(plan)}: planting day", created)


def draw_pages(plan: Plan, days: Sequence[PlantingDay]) -> list[Canvas]:
    """The pages of every display; one that says so where nothing is planted."""
    pages: list[Canvas] = []
    for day in days:
        mine = _Pages(plan, day)
        mine.draw()
        pages += mine.numbered()
    if not pages:
        pages = [Canvas(*UPRIGHT[plan.season.paper])]
        draw_head(pages[0], MARGIN, f"Planting day: {title_of(plan)}", "Nothing is planted in a display.")
    return pages


def key_of(i: int) -> str:
    """A, B ... Z, then AA, AB ..."""
    return (chr(64 + i // 26) if i >= 26 else "") + chr(65 + i % 26)


class _Pages:
    """The pages of one display, filled from the top."""

    def __init__(self, plan: Plan, day: PlantingDay) -> None:
        self.plan, self.day = plan, day
        self.size = UPRIGHT[plan.season.paper]
        self.keys = {item.name: key_of(i) for i, item in enumerate(day.items)}
        self.canvases: list[Canvas] = []
        self.right = self.size[0] - MARGIN
        self.turn()

    def turn(self) -> None:
        """A new page with its head."""
        display, items = self.day.display, self.day.items
        self.canvas = Canvas(*self.size)
        self.canvases.append(self.canvas)
        days = sorted({item.day for item in items})
        when = long_date(days[0]) if len(days) == 1 else f"{short_date(days[0])} to {long_date(days[-1])}"
        words = (
            f"{title_of(self.plan)} · {some(display.containers, 'container')} at {display.site} · plan of "
        )
        draw_head(
            self.canvas,
            MARGIN,
            f"Planting day, {when}: {_said(display.name)}",
            _said(words + long_date(self.plan.on)),
        )
        self.y = MARGIN + 46
        if len(self.canvases) > 1:
            self.legend()

    def legend(self) -> None:
        """What the letters stand for."""
        said = "; ".join(f"{key} = {_said(name)}" for name, key in self.keys.items())
        for line in fit.wrap(said, self.right - MARGIN, 8.5):
            self.canvas.text(MARGIN, self.y, line, 8.5)
            self.y += _CLOSE

    def room(self, height: float) -> None:
        """On to the next page where less than `height` is left on this one."""
        if self.y + height > self.size[1] - MARGIN - FOOT:
            self.turn()

    def numbered(self) -> list[Canvas]:
        """The pages with their foot."""
        note = fit.letters_note(word or "" for item in self.day.items for word in (item.name, item.cultivar))
        for i, canvas in enumerate(self.canvases, 1):
            draw_foot(canvas, MARGIN, f"page {i} of {len(self.canvases)}", note)
        return self.canvases

    def draw(self) -> None:
        """Pick list, how to plant, pictures, every container, what comes later."""
        self.heading("Pick list: tick when it is on the trolley")
        self.pick_head()
        for item in self.day.items:
            self.pick(item)
        self.heading("How to plant")
        for words in _how(self.plan, self.day):
            self.words(told(words, self.plan.season.unit, self.plan.season.measures))
        self.heading("The first containers, seen from the front")
        self.pictures()
        self.heading("Every container, each row from the left")
        self.containers()
        if self.day.later:
            self.heading("Later in these containers")
            for words in _later(self.day):
                self.words(words)

    def heading(self, words: str) -> None:
        self.room(60)
        self.y += 10
        self.canvas.text(MARGIN, self.y + 9, words, 11, bold=True)
        self.y += 17

    def words(self, said: str) -> None:
        """A paragraph with a mark before it."""
        lines = fit.wrap(said, self.right - MARGIN - 10, _SIZE)
        self.room(_LINE * len(lines))
        self.canvas.text(MARGIN, self.y + 9, "·", _SIZE, bold=True)
        for line in lines:
            self.canvas.text(MARGIN + 10, self.y + 9, line, _SIZE)
            self.y += _LINE
        self.y += 1

    # ------------------------------------------------------------ pick list

    def columns(self) -> tuple[float, ...]:
        """Left ends: key, lot, from, each, in all, spares, loads, where."""
        wide = self.right - MARGIN
        return tuple(MARGIN + wide * part for part in (0.04, 0.085, 0.39, 0.535, 0.60, 0.665, 0.725, 0.79))

    def pick_head(self) -> None:
        titles = ("", "lot", "from", "in each", "in all", "spares", "loads", "where, height")
        for x, words in zip(self.columns(), titles, strict=True):
            self.canvas.text(x, self.y + 8, words, 7.5, colour=QUIET)
        self.y += 11

    def pick(self, item: PlantingItem) -> None:
        at = self.columns()
        where = fit.wrap(_said(_where(item, self.plan.season.measures)), self.right - at[7], 8.5)
        tall = max(_ROW, _CLOSE * len(where) + 6)
        self.room(tall)
        top = self.y
        middle, each = top + _ROW / 2, item.pots / self.day.display.containers
        self.canvas.box(MARGIN, top + 2.5, MARGIN + 12, top + 14.5, _TICK)
        self.canvas.text(at[0], middle, self.keys[item.name], 11, bold=True, middle=True)
        x = self.canvas.text(
            at[1], middle, _said(item.name), 10, bold=True, middle=True, room=(at[2] - at[1]) * 0.5
        )
        self.canvas.text(
            x + 5, middle, _said(item.cultivar or item.crop), 8.5, middle=True, room=at[2] - x - 9
        )
        self.canvas.text(
            at[2], middle, _said(item.source or "not known"), 8.5, middle=True, room=at[3] - at[2] - 4
        )
        loads = self.day.trolleys[item.name]
        for x, words in zip(
            at[3:7], (number(each), str(item.pots), str(item.spares or "–"), str(loads)), strict=True
        ):
            self.canvas.text(x, middle, words, 10, bold=x == at[4], middle=True)
        for n, words in enumerate(where):
            self.canvas.text(at[7], middle + _CLOSE * n, words, 8.5, middle=True)
        self.canvas.line(((MARGIN, top + tall), (self.right, top + tall)), _THIN)
        self.y += tall

    # ------------------------------------------------------------ containers

    def pictures(self) -> None:
        """Some containers as plans: back above, front below; a square stands for a pot that is left in its pot."""
        shown = self.day.containers[:_PICTURES]
        tall = 2 * _RADIUS * max(len(rows) for rows in shown) + 36
        wide = (self.right - MARGIN) / 2
        for i, rows in enumerate(shown):
            if i % 2 == 0:
                self.room(tall)
            self.picture(i + 1, rows, MARGIN + (i % 2) * wide, wide - 12)
            if i % 2 or i == len(shown) - 1:
                self.y += tall

    def picture(self, i: int, rows: Rows, left: float, wide: float) -> None:
        top, step = self.y + 13, 2 * _RADIUS + 2
        in_pot = {item.name for item in self.day.items if item.in_pot}
        self.canvas.text(left, self.y + 9, f"Container {i}", 8.5, bold=True)
        self.canvas.box(left, top, left + wide, top + step * len(rows) + 4, _BED)
        radius = min(_RADIUS, wide / (2 * max(map(len, rows)) + 1))
        for r, row in enumerate(rows):
            y = top + 2 + step * (r + 0.5)
            for p, name in enumerate(row):
                x = left + wide * (p + 0.5) / len(row)
                if name in in_pot:
                    self.canvas.box(x - radius, y - radius, x + radius, y + radius, _POT)
                else:
                    self.canvas.disc(x, y, radius, _POT)
                size = 11.0 if radius > 8 else 8.0
                self.canvas.text(x, y, self.keys[name], size, bold=True, side="center", middle=True)
        self.canvas.text(left + wide, self.y + 9, "back", 7.5, colour=QUIET, side="right")
        self.canvas.text(left + wide, top + step * len(rows) + 13, "front", 7.5, colour=QUIET, side="right")

    def containers(self) -> None:
        """Every container in columns, a line for each row of it."""
        lines = {
            i: [
                (word, "  ".join(self.keys[name] for name in row))
                for word, row in zip(row_words(len(rows)), rows, strict=True)
            ]
            for i, rows in enumerate(self.day.containers, 1)
        }
        longest = max(fit.width(line, 10) for rows in lines.values() for _, line in rows)
        across = max(1, int((self.right - MARGIN) // (longest + _BESIDE + 14)))
        wide = (self.right - MARGIN) / across
        for first in range(1, len(lines) + 1, across):
            strip = [i for i in range(first, first + across) if i in lines]
            tall = _LINE * max(len(lines[i]) for i in strip)
            self.room(tall + 4)
            for n, i in enumerate(strip):
                self.container(i, lines[i], MARGIN + n * wide, wide)
            self.y += tall + 4
            self.canvas.line(((MARGIN, self.y - 2), (self.right, self.y - 2)), _THIN)

    def container(self, i: int, lines: Sequence[tuple[str, str]], left: float, wide: float) -> None:
        self.canvas.box(left, self.y + 1, left + 10, self.y + 11, _TICK)
        self.canvas.text(left + 15, self.y + 10, str(i), 10, bold=True)
        for n, (word, line) in enumerate(lines):
            y = self.y + 10 + _LINE * n
            self.canvas.text(left + 42, y, word, 8, colour=QUIET)
            room = wide - _BESIDE - 4
            size = min(10.0, 10.0 * room / max(fit.width(line, 10), 1.0))
            self.canvas.text(left + _BESIDE, y, line, size)


def _said(words: str) -> str:
    return fit.clean(one_line(words))


def _where(item: PlantingItem, measures: Measures) -> str:
    """Where in a container it goes, and how tall it is: 'by height, 30 cm, in its pot, white'."""
    words: list[str] = [item.position if item.position != "anywhere" else item.habit or "by height"]
    words += [show_length(item.height, measures)] if item.height is not None else []
    words += ["in its pot"] if item.in_pot else []
    return ", ".join([*words, *([item.colour] if item.colour else [])])


def _how(plan: Plan, day: PlantingDay) -> Iterator[str]:
    display, items, measures = day.display, day.items, plan.season.measures
    pots = sum(item.pots for item in items) / display.containers
    loads, minutes = sum(day.trolleys.values()), round(day.hours * 60)
    pace = f"{some(day.a_day, 'container')} a day" if day.a_day else "less than one container a day"
    yield (
        f"{number(pots)} pots in each container; {some(loads, 'trolley load')} in all; about {minutes} minutes for "
        f"each container with the filling, so the staff of a day do {pace}: {_days(day)}."
    )
    litres = "" if display.litres is None else f", {show_mix(display.litres, measures)} of mix in each"
    yield (
        f"Holes in the base open, a crock or mesh over each{litres}; water must run out within minutes. Fill so that "
        "the mix ends 2 to 3 cm below the rim."
    )
    widest = max(item.width for item in items)
    yield (
        f"Make each hole as deep as the pot is tall (the widest are {show_pot(widest, measures)}) and set the ball "
        "level with the mix; firm it, no deeper than it stood. Stake or ring what leans. Water in once."
    )
    if any(item.in_pot for item in items):
        names = ", ".join(item.name for item in items if item.in_pot)
        yield (
            f"Left in their pots: {names}. Dig the hole a finger wider than the pot, its base on loose mix so that it "
            "drains, its rim a finger above the mix. Water these by hand and less than the annuals around them: lift "
            "one to feel its weight first."
        )
    yield (
        "Back is away from visitors; for a container seen from all round, back is its middle and front its rim. Keep "
        "the spares together, watered, for what is broken or fails in the first week."
    )
    yield "Lifting: two people for a full trolley or container; gloves for bulbs; clear hoses and mop up."


def _days(day: PlantingDay) -> str:
    if not day.a_day:
        return "get more hands"
    return some(-(-day.display.containers // day.a_day), "day")


def _later(day: PlantingDay) -> Iterator[str]:
    for swap in day.later:
        each = swap.pots / day.display.containers
        yield (
            f"{long_date(swap.date)}: {swap.into} takes the places of {swap.pots} of {swap.out}, {number(each)} in "
            "each container."
        )
