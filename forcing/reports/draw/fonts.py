"""The letters an SVG uses, put into it, so that its text stays text and looks the same everywhere."""

from __future__ import annotations

import base64
import io
import re
from pathlib import Path
from xml.etree import ElementTree

from forcing.reports.draw.canvas import FONT
from forcing.reports.style import font_files

_ELSE = "Verdana, sans-serif"  # as wide, for a viewer that takes no fonts from a drawing
_STYLE = re.compile(rf"""(<text style="[^"]*'{FONT}')""")
_TEXT = "{http://www.w3.org/2000/svg}text"


def embed_fonts(path: Path) -> None:
    """Add to an SVG file the letters it uses, as a style sheet (WOFF in a data address; nothing is fetched)."""
    source = path.read_text(encoding="utf-8")
    letters: dict[str, set[str]] = {"regular": set(), "bold": set()}
    for element in ElementTree.fromstring(source).iter(_TEXT):
        face = "bold" if re.search(r"\b700\b", element.get("style", "")) else "regular"
        letters[face].update(element.text or "")
    faces = [
        f'@font-face{{font-family:"{FONT}";font-weight:{weight};'
        f'src:url("data:font/woff;base64,{_subset(font_files()[face], letters[face])}") format("woff")}}'
        for face, weight in (("regular", 400), ("bold", 700))
        if letters[face]
    ]
    sheet = '<style type="text/css">\n' + "\n".join(faces) + "\n</style>\n"
    start = re.search(r"<svg\b[^>]*>\n?", source)
    if start is None:
        raise ValueError("not an SVG drawing")
    body = _STYLE.sub(rf"\1, {_ELSE}", source[start.end() :])
    path.write_text(source[: start.end()] + sheet + body, encoding="utf-8", newline="")


def _subset(font: Path, letters: set[str]) -> str:
    from fontTools import subset  # type: ignore[import-untyped]  # comes with matplotlib

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
        tool.populate(text="".join(sorted(letters)))
        tool.subset(face)
        subset.save_font(face, out, options)
    return base64.b64encode(out.getvalue()).decode("ascii")
