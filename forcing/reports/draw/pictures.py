"""A canvas as one picture: an SVG, whose text stays text of the width it was laid out in, or a PNG by matplotlib."""

from __future__ import annotations

import math
import pathlib
from collections.abc import Iterator
from datetime import datetime
from html import escape
from itertools import accumulate
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.colors import to_rgb
from matplotlib.path import Path
from matplotlib.transforms import Affine2D
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import FONT, Canvas, Stroke, Style, Text

_ELSE = "Verdana, sans-serif"  # of nearly the same widths, for a viewer that does not have it
_ANCHORS = {"left": "", "center": ' text-anchor="middle"', "right": ' text-anchor="end"'}


def svg_text(canvas: Canvas, title: str, created: datetime) -> str:
    """The drawing as the text of an SVG file; `created` goes into it, with its zone."""
    wide, tall = _number(canvas.width), _number(canvas.height)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="utf-8" standalone="no"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" xml:lang="en-GB" width="{wide}pt" '
            f'height="{tall}pt" viewBox="0 0 {wide} {tall}">',
            f"<title>{escape(title)}</title>",
            *_metadata(title, created),
            f'<rect width="{wide}" height="{tall}" fill="#ffffff"/>',
            *_shapes(canvas),
            f"<g style=\"font-family:'{FONT}', {_ELSE}; white-space: pre\">",
            *_texts(canvas),
            "</g>",
            "</svg>\n",
        ]
    )


def _metadata(title: str, created: datetime) -> Iterator[str]:
    yield '<metadata><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" '
    yield 'xmlns:dc="http://purl.org/dc/elements/1.1/"><rdf:Description rdf:about="">'
    yield f"<dc:title>{escape(title)}</dc:title><dc:creator>forcing</dc:creator>"
    yield f"<dc:date>{created.isoformat()}</dc:date></rdf:Description></rdf:RDF></metadata>"


def _shapes(canvas: Canvas) -> Iterator[str]:
    for style, shapes in canvas.shapes():
        yield f"<g {_look(style)}>"
        close = "Z" if isinstance(style, Style) else ""
        for points in shapes:
            corners = "L".join(f"{_number(x)} {_number(y)}" for x, y in points)
            yield f'<path d="M{corners}{close}"/>'
        yield "</g>"


def _look(style: Style | Stroke) -> str:
    if isinstance(style, Stroke):
        dashes = f' stroke-dasharray="{",".join(map(_number, style.dashes))}"' if style.dashes else ""
        return f'fill="none" stroke="{style.colour}" stroke-width="{_number(style.thick)}"{dashes}'
    edge = f' stroke="{style.edge}" stroke-width="{_number(style.thick)}"' if style.thick else ""
    return f'fill="{style.fill or "none"}"{edge}'


def _texts(canvas: Canvas) -> Iterator[str]:
    """Each stretched or narrowed to the width that it was laid out for: the viewer's letters may be of another font."""
    for text in canvas.texts:
        bold = ' font-weight="700"' if text.bold else ""
        wide = fit.width(text.said, text.size, text.bold)
        yield (
            f'<text x="{_number(text.x)}" y="{_number(text.y)}" font-size="{_number(text.size)}" '
            f'textLength="{_number(wide)}" lengthAdjust="spacingAndGlyphs" '
            f'fill="{text.colour}"{bold}{_ANCHORS[text.side]}>{escape(text.said, quote=False)}</text>'
        )


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


# ---------------------------------------------------------------- PNG

_PIXELS, _LEAST, _LONGEST = 14e6, 90.0, 60_000  # matplotlib draws 65,535 dots at most


def write_png(canvas: Canvas, path: pathlib.Path, title: str, created: datetime, dots: float) -> None:
    """Write the drawing with `dots` an inch, or as many as keep it modest; `created` goes into the file."""
    words = PngInfo()
    for name, said in {"Software": "forcing", "Title": title, "Creation Time": created.isoformat()}.items():
        words.add_text(name, said)
    dots = dots_of(canvas, dots)
    # Packed harder, the file is no smaller and takes twice as long.
    picture = Image.fromarray(_drawn(canvas, dots)).convert("RGB")
    picture.save(path, format="png", dpi=(dots, dots), pnginfo=words, compress_level=2)


def dots_of(canvas: Canvas, most: float) -> float:
    """Dots an inch: `most`, less where the picture would grow beyond what is easily opened, or can be drawn."""
    wide, tall = canvas.width / 72, canvas.height / 72
    return min(most, max(_LEAST, math.sqrt(_PIXELS / (wide * tall))), _LONGEST / tall)


def _letters(text: Text) -> Path:
    """The outlines of the letters of a text, where it stands."""
    shapes, codes = zip(*(fit.outline(char, text.bold) for char in text.said), strict=True)
    steps = (text.size * fit.advance(char, text.bold) for char in text.said[:-1])
    lefts = np.repeat([*accumulate(steps, initial=text.left)], [len(shape) for shape in shapes])
    corners = np.concatenate(shapes) * (text.size, -text.size)
    corners += np.column_stack((lefts, np.full_like(lefts, text.y)))
    return Path(corners, np.concatenate(codes))


def _drawn(canvas: Canvas, dots: float) -> Any:
    """The page in dots: height x width x red, green, blue, opaque.

    matplotlib's own pen is led over the page: a figure and its axes would take longer to set up than to draw.
    """
    scale = dots / 72
    pen: Any = RendererAgg(canvas.width * scale, canvas.height * scale, dots)  # type: ignore[no-untyped-call]
    # Points from the top left, into dots from the foot.
    place = Affine2D().scale(scale, -scale).translate(0, canvas.height * scale)
    page = np.array([(0, 0), (canvas.width, 0), (canvas.width, canvas.height), (0, canvas.height)])
    pen.draw_path(_pen_of(pen, Style(0, "#ffffff")), _path(page, True), place, to_rgb("#ffffff"))
    for style, shapes in canvas.shapes():
        look, filled = _pen_of(pen, style), isinstance(style, Style)
        fill = to_rgb(style.fill) if isinstance(style, Style) and style.fill else None
        for points in shapes:
            pen.draw_path(look, _path(points, filled), place, fill)
    for text in canvas.texts:
        pen.draw_path(_pen_of(pen, Style(0, text.colour)), _letters(text), place, to_rgb(text.colour))
    return np.asarray(pen.buffer_rgba())


def _path(points: Any, closed: bool) -> Path:
    path = Path([*points, points[0]] if closed else points, closed=closed)
    path.should_simplify = False  # whatever the user's own settings are
    return path


def _pen_of(pen: Any, style: Style | Stroke) -> Any:
    """How matplotlib's pen goes along an edge or a line."""
    look = pen.new_gc()
    look.set_linewidth(style.thick)
    look.set_capstyle("butt")
    look.set_joinstyle("miter")
    if isinstance(style, Stroke):
        look.set_foreground(style.colour)
        look.set_dashes(0, list(style.dashes) or None)
    elif style.edge:
        look.set_foreground(style.edge)
    else:
        look.set_linewidth(0)
    return look
