"""The looks of the workbook's cells, and columns as wide and rows as high as what they hold."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import date
from functools import lru_cache

from reportlab.pdfbase.pdfmetrics import stringWidth

from forcing.reports.style import INK, PAPER, QUIET, TINT, long_date, short_date
from forcing.xlsx import PLAIN as PLAIN
from forcing.xlsx import SIZE as SIZE
from forcing.xlsx import Look as Look
from forcing.xlsx import Pen as Pen
from forcing.xlsx import Value as Value
from forcing.xlsx import span as span

# The language is fixed: days and months are the same words on every machine, and never too wide.
DATE = "[$-809]ddd d mmm yyyy"
DONE_DATE = DATE + '" ✓"'
# One unit of column width [points]: the width of a digit, which programs round to whole pixels or do not.
_DIGIT, _DIGIT_AT_MOST = 5.25, 5.6
_LINE = 1.28  # height of a line of text, in font sizes


# No '#' behind a decimal point in any number format: a whole number would be shown as '33.'
TEXT = Look(wrap=True, edge="under")
DAY_LOOK = Look(number=DATE, align="left", edge="under")
NUMBER = Look(number="#,##0", align="right", edge="under")
TENTH = Look(number="#,##0.0", align="right", edge="under")
HEAD = Look(bold=True, fill=TINT, wrap=True, edge="box")
HEAD_RIGHT = HEAD.but(align="right", indent=1)
TITLE = Look(bold=True, size=16)
SECTION = Look(bold=True, size=12)
NOTE = Look(ink=QUIET)
NONE = Look(ink=QUIET, italic=True, wrap=True, edge="under")  # 'not known' and the like


@lru_cache(maxsize=64)
def readable(fill: str) -> tuple[str, str]:
    """A fill and the ink, black or white, that can be read on it in colour and in a grey print.

    The fill is mixed with the paper where neither ink reaches a contrast of 4.5 : 1 (WCAG 2.1, 1.4.3).
    """
    channels = [int(fill[i : i + 2], 16) for i in (1, 3, 5)]
    for tenths in range(10):
        mixed = [round(c + (255 - c) * tenths / 10) for c in channels]
        grey = round(0.299 * mixed[0] + 0.587 * mixed[1] + 0.114 * mixed[2])  # as printers do: ITU-R BT.601
        worst = {ink: min(_contrast(ink, mixed), _contrast(ink, [grey] * 3)) for ink in (INK, PAPER)}
        ink = max(worst, key=lambda name: worst[name])
        if worst[ink] >= 4.5:
            return "#" + "".join(f"{c:02x}" for c in mixed), ink
    return PAPER, INK


def _contrast(ink: str, ground: Sequence[int]) -> float:
    """Contrast ratio by WCAG 2.1 relative luminance."""
    lights = []
    for colour in ([int(ink[i : i + 2], 16) for i in (1, 3, 5)], ground):
        parts = [c / 255 for c in colour]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        lights.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    return (max(lights) + 0.05) / (min(lights) + 0.05)


# ---------------------------------------------------------------- how wide, how high


@lru_cache(maxsize=20_000)
def text_width(text: str, size: float = SIZE, bold: bool = False) -> float:
    """Width of a line of text [points], by the metrics of Helvetica, which Arial shares."""
    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)  # not in Helvetica: a square each
    narrow = "".join(c for c in text if unicodedata.east_asian_width(c) not in "WF") if wide else text
    return wide * size + float(stringWidth(narrow, "Helvetica-Bold" if bold else "Helvetica", size))


def shown(value: Value, look: Look) -> str:
    """A value as the spreadsheet will show it, near enough to measure."""
    if value is None:
        return ""
    if isinstance(value, date):
        text = long_date(value) if "yyyy" in look.number else short_date(value)
        return text + (" ✓✓" if look.number == DONE_DATE else "")
    if isinstance(value, str):
        return value
    return f"{value:,.1f}" if "0.0" in look.number else f"{value:,.10g}"


def units(points: float, padding: float = 1.6) -> float:
    """Column width for a text of so many points, with the room the cell's own padding takes."""
    return round(points / _DIGIT + padding, 1)


def points(width: float) -> float:
    """The most that a column of a width takes on paper [points]."""
    return width * _DIGIT_AT_MOST + 0.5


@lru_cache(maxsize=20_000)
def lines(text: str, width: float, size: float = SIZE, bold: bool = False) -> int:
    """Lines that text takes when wrapped by words in a column of `width` units."""
    room = width * _DIGIT - 4.5
    total = 0
    for paragraph in text.split("\n"):
        total += 1
        used = 0.0
        for word in paragraph.split(" "):
            long = text_width(word, size, bold)
            step = long if used == 0 else text_width(" ", size, bold) + long
            if used + step <= room:
                used += step
                continue
            total += (1 if used else 0) + int(long // room)
            used = long % room
    return total


def height(count: int, size: float = SIZE) -> float:
    """Height of a row of so many lines [points]."""
    return round(count * size * _LINE + 2.2, 1)


def shorten(text: str, room: float, size: float = SIZE) -> str:
    """Text cut at a word (a very long word inside it) to fit so many points, with '…' where it was cut."""
    if text_width(text, size) <= room:
        return text
    words = text.split(" ")
    for n in range(len(words) - 1, 0, -1):
        cut = " ".join(words[:n]).rstrip(",;:(-") + "…"
        if text_width(cut, size) <= room:
            return cut
    keep = len(text)
    while keep > 1 and text_width(text[:keep] + "…", size) > room:
        keep -= 1
    return text[:keep] + "…"
