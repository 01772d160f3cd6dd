"""Plain library calls that put down what our sheets hold, and know nothing of a plan.

`python -m tests.plain_sheets WHAT DIR` is a whole run of them: it imports what a plan imports, reads what is to be put
down from the pickle WHAT, and writes it into DIR.
"""

from __future__ import annotations

import importlib
import pickle
import sys
from copy import copy
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from forcing.reports.draw.canvas import Canvas as Drawn

LIBRARIES = (
    "click", "dateutil.rrule", "dateutil.parser", "highspy", "holidays", "icalendar", "jinja2",
    "matplotlib.backends.backend_agg", "numpy", "openpyxl", "pandas", "reportlab.platypus",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class PlainFile:
    """A file that none of the libraries below writes: its bytes as they are."""

    content: bytes

    def write(self, path: Path) -> None:
        path.write_bytes(self.content)


@dataclass(frozen=True, slots=True)
class PlainBook:
    """Cells by sheet, each with the number of its style; each style is set part by part once, then copied.

    Copying the whole style is three times as fast as setting the parts of every cell: the harder bar.
    """

    sheets: dict[str, list[tuple[int, int, object, int]]]
    sizes: dict[str, tuple[dict[str, float], dict[int, float]]]
    styles: list[dict[str, Any]]

    @property
    def amount(self) -> str:
        return f"{sum(map(len, self.sheets.values()))} cells in {len(self.styles)} styles"

    def write(self, path: Path) -> None:
        import openpyxl

        book = openpyxl.Workbook()
        models = [book.active.cell(i + 1, 1) for i in range(len(self.styles))]
        for model, parts in zip(models, self.styles, strict=True):
            for name, part in parts.items():
                setattr(model, name, part)
        book.remove(book.active)
        for title, cells in self.sheets.items():
            sheet = book.create_sheet(title)
            for row, column, value, style in cells:
                cell = sheet.cell(row, column, value)
                cell._style = copy(models[style]._style)
            widths, heights = self.sizes[title]
            for letter, width in widths.items():
                sheet.column_dimensions[letter].width = width
            for row, height in heights.items():
                sheet.row_dimensions[row].height = height
        book.save(path)


@dataclass(frozen=True, slots=True)
class PlainPages:
    """For each page what is put down in order: a plain call's name and what it takes."""

    size: tuple[float, float]
    pages: list[list[tuple[str, tuple[Any, ...]]]]

    @property
    def amount(self) -> str:
        names = [name for page in self.pages for name, _ in page]
        texts = names.count("drawString")
        return f"{len(self.pages)} pages, {texts} runs of text, {names.count('line') + names.count('rect')} marks"

    def write(self, path: Path) -> None:
        from reportlab.pdfgen.canvas import Canvas

        from forcing.reports.draw.pdf import register_fonts

        register_fonts()
        canvas = Canvas(str(path), pagesize=self.size)
        for page in self.pages:
            for name, given in page:
                getattr(canvas, name)(*given)
            canvas.showPage()
        canvas.save()


@dataclass(frozen=True, slots=True)
class PlainPicture:
    """The texts, areas and lines of a picture that was saved as a PNG."""

    drawn: Drawn
    dots: float

    @property
    def amount(self) -> str:
        marks = sum(map(len, (*self.drawn.areas.values(), *self.drawn.lines.values())))
        return f"a picture of {len(self.drawn.texts)} texts, {marks} areas and lines"

    def write(self, path: Path) -> None:
        """The same by plain calls."""
        import matplotlib
        from matplotlib.collections import LineCollection, PolyCollection
        from matplotlib.figure import Figure
        from matplotlib.font_manager import FontProperties

        from forcing.reports.style import font_files

        wide, tall, files = self.drawn.width, self.drawn.height, font_files()
        figure = Figure(figsize=(wide / 72, tall / 72), facecolor="white")
        axes: Any = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(0, wide)
        axes.set_ylim(tall, 0)
        for style, areas in self.drawn.areas.items():
            looks = {"facecolors": style.fill or "none", "edgecolors": style.edge or "none"}
            shapes = PolyCollection(areas, **looks, linewidths=style.thick, zorder=style.layer)
            axes.add_collection(shapes, autolim=False)
        for stroke, lines in self.drawn.lines.items():
            dashes = [(0, [dash / stroke.thick for dash in stroke.dashes])] if stroke.dashes else "solid"
            looks = {"colors": stroke.colour, "linestyles": dashes}
            shapes = LineCollection(lines, **looks, linewidths=stroke.thick, zorder=stroke.layer)
            axes.add_collection(shapes, autolim=False)
        faces = {
            (text.bold, text.size): FontProperties(
                fname=str(files["bold" if text.bold else "regular"]), size=text.size
            )
            for text in self.drawn.texts
        }
        for text in self.drawn.texts:
            face = faces[text.bold, text.size]
            axes.text(
                text.x, text.y, text.said, fontproperties=face, color=text.colour, ha=text.side, zorder=10
            )
        with matplotlib.rc_context({"text.hinting": "none"}):
            figure.savefig(path, format="png", dpi=self.dots)


Plain = PlainFile | PlainBook | PlainPages | PlainPicture


def main(what: Path, folder: Path) -> None:
    for name in LIBRARIES:
        importlib.import_module(name)
    sheets: list[tuple[str, Plain]] = pickle.loads(what.read_bytes())
    for name, sheet in sheets:
        sheet.write(folder / name)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
