"""The common hand of the sheets: told apart without colour, and read against its ground, on any printer."""

from __future__ import annotations

from datetime import datetime
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from forcing.reports.draw.canvas import Canvas, Style
from forcing.reports.draw.paper import hatch_style, write_picture
from forcing.reports.style import ALERT, CLASS_MARKS, INK, PAPER, QUIET, TINT
from tests.printed_pages import contrast as of_parts


def grey(rgb: Any) -> Any:
    """What a black-and-white printer makes of a colour, 0 to 255 (ITU-R BT.601, section 2.5.1)."""
    return 255 * (np.asarray(rgb)[..., :3] @ np.array([0.299, 0.587, 0.114]))


def contrast(one: str, other: str, *, printed_grey: bool = False) -> float:
    pair = [to_rgb(colour) for colour in (one, other)]
    return of_parts(*([(grey(rgb) / 255,) * 3 for rgb in pair] if printed_grey else pair))


def test_contrast_of_known_colours() -> None:
    # WCAG 2.2: black on white is 21:1; #777777 on white is 4.48:1 (the well-known grey that just fails)
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize(("printed_grey", "least"), [(False, 7), (True, 6.5)])
def test_words_can_be_read_on_every_ground(printed_grey: bool, least: float) -> None:
    """WCAG 2.2 asks for 7 (AAA) or 4.5 (AA); what is read standing has 7 in colour, badges close to it in grey."""
    for mark in CLASS_MARKS.values():  # the letter in its badge
        assert contrast(INK, mark.fill, printed_grey=printed_grey) >= least
    for words in (INK, QUIET, ALERT):
        for ground in (PAPER, TINT):
            assert contrast(words, ground, printed_grey=printed_grey) >= 7
    assert contrast(PAPER, ALERT, printed_grey=printed_grey) >= 7  # the band of what is overdue


def test_every_class_has_its_own_letter() -> None:
    letters = [mark.letter for mark in CLASS_MARKS.values()]
    assert len(set(letters)) == len(letters) and all(len(letter) == 1 for letter in letters)


def test_areas_of_the_classes_differ_in_grey(tmp_path: Path) -> None:
    """As they are drawn: each pair differs by a shade that is seen (a tenth of black) or by its texture."""
    canvas, side = Canvas(400, 100), 80
    for i, mark in enumerate(CLASS_MARKS.values()):
        box = (10 + 98 * i, 10, 10 + 98 * i + side, 10 + side)
        canvas.box(*box, Style(3, mark.fill, INK, 0.4))
        if mark.hatch:
            canvas.box(*box, hatch_style(mark.hatch))
    path = write_picture(tmp_path / "classes.png", canvas, "Classes", datetime(2026, 11, 3), dots=144)
    with Image.open(path) as picture:
        shades = grey(np.asarray(picture.convert("RGB")) / 255.0)
    seen = {}
    for i, kind in enumerate(CLASS_MARKS):
        inner = shades[40:160, 2 * (20 + 98 * i) : 2 * (20 + 98 * i) + 120]
        seen[kind] = (float(inner.mean()), float(inner.std()))
    for one, other in combinations(seen, 2):
        shade, texture = (abs(a - b) for a, b in zip(seen[one], seen[other], strict=True))
        assert shade >= 25.5 or texture >= 15, (one, other, seen)
