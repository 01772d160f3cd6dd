"""A canvas as an SVG: text stays text, and the letters it uses are in the file (nothing is fetched)."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from datetime import datetime
from functools import lru_cache
from html import escape
from pathlib import Path

from forcing.reports.draw.canvas import FONT, Canvas, Stroke, Style
from forcing.reports.style import font_files

_ELSE = "Verdana, sans-serif"  # as wide, for a viewer that takes no fonts from a drawing
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
            f'<style type="text/css">\n{_font_faces(canvas)}\n</style>',
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
    for text in canvas.texts:
        bold = ' font-weight="700"' if text.bold else ""
        yield (
            f'<text x="{_number(text.x)}" y="{_number(text.y)}" font-size="{_number(text.size)}" '
            f'fill="{text.colour}"{bold}{_ANCHORS[text.side]}>{escape(text.said, quote=False)}</text>'
        )


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


# ---------------------------------------------------------------- letters


def _font_faces(canvas: Canvas) -> str:
    """A style sheet with the letters in use as WOFF in data addresses."""
    letters = {
        bold: {char for t in canvas.texts if t.bold == bold for char in t.said} for bold in (False, True)
    }
    return "\n".join(
        f'@font-face{{font-family:"{FONT}";font-weight:{700 if bold else 400};'
        f'src:url("data:font/woff;base64,{_subset(bold, "".join(sorted(used)))}") format("woff")}}'
        for bold, used in letters.items()
        if used
    )


@lru_cache(maxsize=4)
def _subset(bold: bool, letters: str) -> str:
    from fontTools import subset  # type: ignore[import-untyped]  # comes with matplotlib

    font: Path = font_files()["bold" if bold else "regular"]
    options = subset.Options()
    options.flavor = "woff"
    options.with_zopfli = False
    options.hinting = False
    options.layout_features = []
    options.recalc_timestamp = False
    options.drop_tables += ["FFTM"]  # the font editor's own time stamps
    options.name_IDs = [0, 1, 2, 13, 14]  # copyright, names, licence
    out = io.BytesIO()
    with subset.load_font(str(font), options) as face:
        tool = subset.Subsetter(options)
        tool.populate(text=letters)
        tool.subset(face)
        subset.save_font(face, out, options)
    return base64.b64encode(out.getvalue()).decode("ascii")
