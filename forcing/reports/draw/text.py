"""Text that fits: what the sheet's font can draw, how wide it is, shortened with … or broken into lines.

Widths come from the font file itself and are in points, so a drawing is laid out before it is drawn.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

from forcing.reports.style import font_files

MISSING = "□"  # stands for a letter that the font does not have
ELLIPSIS = "…"
LEADING = 1.16  # from line to line of fitted type, of its size
_EM = 1000  # letters are measured at this size and scaled down


@lru_cache(maxsize=2)
def _font(bold: bool) -> Any:
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_files()["bold" if bold else "regular"]))
    font.set_size(_EM, 72)
    return font


@lru_cache(maxsize=4096)
def advance(char: str, bold: bool) -> float:
    """Width of one letter as a fraction of the type size."""
    return float(_font(bold).load_char(ord(char)).linearHoriAdvance) / 65536 / _EM


@lru_cache(maxsize=4096)
def outline(char: str, bold: bool) -> tuple[Any, Any]:
    """The shape of one letter, as the corners and codes of a matplotlib path; type size 1, upwards from its base."""
    font = _font(bold)
    font.load_char(ord(char))
    corners, codes = font.get_path()
    return corners / _EM, codes


@lru_cache(maxsize=4096)
def _drawn(char: str) -> str:
    """What is drawn for one letter: itself, a space, □, or nothing."""
    kind = unicodedata.category(char)
    if kind in ("Cc", "Zl", "Zp", "Zs"):
        return " "
    if kind == "Cf":  # joiners and marks of direction have no shape of their own
        return ""
    if all(_font(bold).get_char_index(ord(char)) for bold in (False, True)):
        return char
    return "" if kind.startswith("M") else MISSING


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Text as this sheet can draw it, on one line: controls gone, unknown letters as □, accents composed."""
    return " ".join("".join(_drawn(char) for char in unicodedata.normalize("NFC", text)).split())


def loses_letters(texts: Iterable[str]) -> bool:
    """Whether any of the texts has letters that the font cannot draw."""
    return any(clean(text).count(MISSING) > text.count(MISSING) for text in texts)


def letters_note(texts: Iterable[str]) -> str:
    """What a sheet says where it has to print □ for letters of these texts; else nothing."""
    return f"{MISSING} stands for a letter that this typeface does not have." if loses_letters(texts) else ""


@lru_cache(maxsize=8192)
def width(text: str, size: float, bold: bool = False) -> float:
    """Width [pt] of cleaned text at a type size [pt]."""
    return size * sum(advance(char, bold) for char in text)


@lru_cache(maxsize=8192)
def shorten(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text if it fits in `room` [pt], else as much of it as fits with …, else nothing."""
    if width(text, size, bold) <= room:
        return text
    left = room - width(ELLIPSIS, size, bold)
    if left < 0:
        return ""
    used, kept = 0.0, 0
    for char in text:
        used += size * advance(char, bold)
        if used > left:
            break
        kept += 1
    return text[:kept].rstrip() + ELLIPSIS


def first_that_fits(texts: Sequence[str], room: float, size: float, bold: bool = False) -> str | None:
    """The first of the texts that fits in `room` [pt]; None if none does."""
    return next((text for text in texts if width(text, size, bold) <= room), None)


def wrap(text: str, room: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than `room` [pt], broken between words; a longer word is shortened."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width(longer, size, bold) > room:
            lines.append(line)
            longer = word
        line = longer if width(longer, size, bold) <= room else shorten(longer, room, size, bold)
    return (*lines, line) if line else tuple(lines)


def fitted(
    text: str, room: float, height: float, largest: float, bold: bool = False, least: float = 0.0
) -> tuple[float, list[str]]:
    """(type size, lines) at the largest size up to `largest` at which all of the text fits [pt].

    Nothing is cut, but for what does not fit at `least`.
    """
    size = largest
    while True:
        lines = broken(text, room, size, bold)
        most = int(height / (size * LEADING) + 1e-6)
        if len(lines) <= most:
            return size, lines
        if size <= least:
            return size, at_most(lines, max(1, most), room, size, bold)
        size = max(0.94 * size, least)


def at_most(lines: list[str], most: int, room: float, size: float, bold: bool = False) -> list[str]:
    """The first `most` lines; where there are more, the last of them ends with …."""
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], shorten(" ".join(lines[most - 1 :]), room, size, bold)]


def broken(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `room`, broken between words; a longer word within itself."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if width(longer, size, bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        line = ""
        for char in word:
            if line and width(line + char, size, bold) > room:
                lines.append(line)
                line = ""
            line += char
    return [*lines, line] if line else lines
