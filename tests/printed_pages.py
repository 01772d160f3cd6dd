"""Where the words of a printed page stand: read with pypdf, measured with fontTools, not by the code that set them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
from fontTools.ttLib import TTFont
from pypdf import PdfReader

from forcing.reports.draw.canvas import Canvas
from forcing.reports.style import font_files

# ISO 216 A4 is 210 x 297 mm; Letter (ANSI/ASME Y14.1, A) is 8.5 x 11 in [pt]
UPRIGHT = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}

# More than 40 letters, accents, apostrophes, markup, Cyrillic, and Han letters that the sheets' font does not have.
HARD_NAMES = (
    "Grand Old Duchess of the Northern Meadow, double late", "Ørsted’s Blå Ånd – größte Gärtnerfreude & Söhne",
    "Снежная королева северного сада большая", "雪の女王", "Ñandú d’été <i>rose</i> 'L’Étoile du Nord' et cætera",
)  # fmt: skip


@dataclass(frozen=True)
class Run:
    """Words set in one go: left end and baseline from the lower left corner of the page [pt]."""

    page: int
    x: float
    y: float
    size: float
    bold: bool
    said: str

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Left, foot, right and top: from a fifth below the base line to the height of capitals."""
        wide = self.size * width(self.said, self.bold)
        return self.x, self.y - 0.2 * self.size, self.x + wide, self.y + 0.73 * self.size


@cache
def _advances(bold: bool) -> tuple[dict[int, str], dict[str, int], int]:
    with TTFont(font_files()["bold" if bold else "regular"]) as font:
        return font.getBestCmap(), {k: v[0] for k, v in font["hmtx"].metrics.items()}, font["head"].unitsPerEm


@cache
def width(said: str, bold: bool) -> float:
    """Width of words as a part of the type size; a letter the font does not have is as wide as its box."""
    names, wide, em = _advances(bold)
    return sum(wide[names.get(ord(char), ".notdef")] for char in said) / em


def runs_of(path: Path) -> list[Run]:
    """Every run of words in the order of the file, of a file made with reportlab."""
    return list(_runs_in(path.read_bytes()))


@lru_cache(maxsize=64)  # a test asks several things of a file, and reading takes long
def _runs_in(content: bytes) -> list[Run]:
    found: list[Run] = []
    started: list[tuple[int, float, float]] = []
    for number, page in enumerate(PdfReader(BytesIO(content), strict=True).pages):

        def visit(text: str, cm: Any, tm: Any, font: Any, size: float, number: int = number) -> None:
            said = text.strip("\n")
            if said.strip() and font:
                assert "\n" not in said
                x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
                if started[-1:] == [
                    (number, x, y)
                ]:  # a line that goes on in another type: the reader keeps its start
                    x = found[-1].box[2]
                else:
                    started.append((number, x, y))
                found.append(Run(number, x, y, size, "Bold" in font["/BaseFont"], said))

        page.extract_text(visitor_text=visit)
    return found


def overlaps(runs: list[Run], hair: float = 0.3) -> Iterator[tuple[Run, Run]]:
    """Runs of the same page that lie on each other by more than a hair [pt]."""
    for page in {run.page for run in runs}:
        here = sorted((run for run in runs if run.page == page), key=lambda run: run.box[1])
        for i, one in enumerate(here):
            for other in here[i + 1 :]:
                if other.box[1] >= one.box[3] - hair:
                    break
                if one.box[0] < other.box[2] - hair and other.box[0] < one.box[2] - hair:
                    yield one, other


def check_printed(path: Path, size: tuple[float, float], *, margin: float, least: float) -> list[Run]:
    """The runs of a file: at least `margin` [pt] inside pages of `size`, none on another, none below `least` [pt]."""
    for page in PdfReader(path, strict=True).pages:
        found = tuple(float(side) for side in page.mediabox[2:])
        assert all(abs(a - b) < 0.01 for a, b in zip(found, size, strict=True)), found
    runs = runs_of(path)
    for run in runs:
        left, bottom, right, top = run.box
        assert left >= margin and right <= size[0] - margin, run
        assert bottom >= margin and top <= size[1] - margin, run
        assert run.size >= least, run
    assert list(overlaps(runs)) == []
    return runs


def words_of(*pages: Canvas) -> list[str]:
    """The words of drawn pages, in the order in which they were drawn."""
    return [text.said for page in pages for text in page.texts]


def check_drawn(page: Canvas) -> None:
    """No words lie on others, all are well inside the page and none below 7 pt; no shape leaves the page."""
    runs = []
    for text in page.texts:
        part = {"left": 0.0, "center": 0.5, "right": 1.0}[text.side]
        x = text.x - part * text.size * width(text.said, text.bold)
        runs.append(Run(0, x, page.height - text.y, text.size, text.bold, text.said))
    for run in runs:
        left, bottom, right, top = run.box
        assert left > 10 and bottom > 5 and right < page.width - 10 and top < page.height - 5, run
        assert run.size >= 7, run
    assert list(overlaps(runs)) == []
    for shapes in (*page.areas.values(), *page.lines.values()):
        x, y = np.array([point for points in shapes for point in points]).T
        assert x.min() >= 0 and x.max() <= page.width and y.min() >= 0 and y.max() <= page.height


def contrast(*colours: Sequence[float]) -> float:
    """Contrast ratio of two sRGB colours, each three parts from 0 to 1: WCAG 2.2, relative luminance."""
    light = []
    for colour in colours:
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in colour)
        light.append(0.2126 * red + 0.7152 * green + 0.0722 * blue)
    return (max(light) + 0.05) / (min(light) + 0.05)


class Inks:
    """Watches a page being read: the colour of each run of words, and that of the last shape filled below its start."""

    def __init__(self) -> None:
        self.found: list[tuple[Sequence[float], Sequence[float]]] = []
        self.ink: list[float] = [0, 0, 0]
        self.corners: list[tuple[float, float]] = []  # of the path that is being drawn
        self.shapes: list[tuple[float, float, float, float, list[float]]] = []

    def before(self, operator: bytes, values: Any, cm: Any, tm: Any) -> None:
        if operator in (b"rg", b"g"):
            self.ink = [float(value) for value in (values if operator == b"rg" else [*values] * 3)]
        elif operator in (b"re", b"m", b"l", b"c"):
            ends = np.array([float(value) for value in values]).reshape(-1, 2)
            ends = np.cumsum(ends, axis=0) if operator == b"re" else ends
            self.corners += [(a * cm[0] + cm[4], b * cm[3] + cm[5]) for a, b in ends]
        elif operator in (b"f", b"f*", b"B", b"B*"):
            xs, ys = zip(*self.corners, strict=True)
            self.shapes.append((min(xs), min(ys), max(xs), max(ys), self.ink))
            self.corners.clear()
        elif operator in (b"n", b"S"):
            self.corners.clear()
        elif operator in (b"Tj", b"TJ"):
            x, y = tm[4] * cm[0] + cm[4] + 1, tm[5] * cm[3] + cm[5] + 1
            under = [c for left, low, right, top, c in self.shapes if left <= x <= right and low <= y <= top]
            self.found.append((self.ink, under[-1] if under else [1, 1, 1]))


def inks_of(path: Path) -> Iterator[tuple[Sequence[float], Sequence[float]]]:
    """Colours of the runs of words of a file and of what they stand on: a filled shape, or white paper."""
    for page in PdfReader(path, strict=True).pages:
        watch = Inks()
        page.extract_text(visitor_operand_before=watch.before)
        yield from watch.found


def check_fonts(path: Path) -> None:
    """Every font that a page names is in the file, with what it takes to copy its words."""
    with pikepdf.open(path) as pdf:
        fonts = [font for page in pdf.pages for font in page.Resources.Font.values()]
        assert fonts
        for font in fonts:
            below = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            assert "DejaVuSans" in str(font.BaseFont)
            assert "/FontFile2" in below.FontDescriptor
            assert "/ToUnicode" in font
