"""Canvases as the pages of a PDF in the sheets' own type, which is in the file; the same pages give the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from io import BytesIO
from typing import Any, BinaryIO

from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas as Pdf

from forcing.reports.draw.canvas import Canvas, Point, Stroke, Style
from forcing.reports.style import font_files

REGULAR, BOLD = "Sheet", "Sheet-Bold"


def register_fonts() -> None:
    """Make DejaVu Sans known to reportlab once; only the letters in use are embedded in each file."""
    if BOLD in pdfmetrics.getRegisteredFontNames():
        return
    files = font_files()
    pdfmetrics.registerFont(TTFont(REGULAR, str(files["regular"])))
    pdfmetrics.registerFont(TTFont(BOLD, str(files["bold"])))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


def new_pdf(file: BinaryIO, size: tuple[float, float], title: str, created: datetime) -> Any:
    """An empty file of pages of `size` [pt]; `created` goes into its dates."""
    register_fonts()
    # Without a first font of its own the file would name Helvetica, which is not embedded.
    pdf = Pdf(file, pagesize=size, invariant=1, initialFontName=REGULAR, lang="en-GB")
    date_file(pdf, created)
    pdf.setTitle(title)
    pdf.setAuthor("forcing")
    pdf.setCreator("forcing")
    pdf.setViewerPreference("DisplayDocTitle", "true")
    return pdf


def date_file(pdf: Any, created: datetime) -> None:
    """Put `created`, taken as UTC where it names no zone, into the file's own dates instead of the clock's."""
    moment = created.replace(tzinfo=UTC) if created.tzinfo is None else created.astimezone(UTC)
    stamp = moment.strftime("D:%Y%m%d%H%M%S+00'00'")
    pdf.setDateFormatter(lambda *parts: stamp)


def pdf_bytes(pages: Sequence[Canvas], title: str, created: datetime) -> bytes:
    """A file of one page or more, each of its own size."""
    file = BytesIO()
    pdf = new_pdf(file, (pages[0].width, pages[0].height), title, created)
    for page in pages:
        pdf.setPageSize((page.width, page.height))
        _draw(pdf, page)
        pdf.showPage()
    pdf.save()
    return file.getvalue()


def _draw(pdf: Any, canvas: Canvas) -> None:
    pdf.saveState()
    pdf.transform(1, 0, 0, -1, 0, canvas.height)  # from the top left
    for style, shapes in canvas.shapes():
        if isinstance(style, Stroke):
            _draw_lines(pdf, style, shapes)
        else:
            _draw_areas(pdf, style, shapes)
    pdf.restoreState()
    colour = ""
    for text in canvas.texts:
        if text.colour != colour:
            pdf.setFillColor(HexColor(text.colour))
            colour = text.colour
        pdf.setFont(BOLD if text.bold else REGULAR, text.size)
        pdf.drawString(text.left, canvas.height - text.y, text.said)


def _draw_lines(pdf: Any, stroke: Stroke, lines: Sequence[Sequence[Point]]) -> None:
    pdf.setStrokeColor(HexColor(stroke.colour))
    pdf.setLineWidth(stroke.thick)
    pdf.setDash(list(stroke.dashes))
    pdf.addLiteral(" ".join([*map(_traced, lines), "S"]))


def _draw_areas(pdf: Any, style: Style, areas: Sequence[Sequence[Point]]) -> None:
    """One after the other, so that of two that overlap the later one is whole."""
    if style.fill:
        pdf.setFillColor(HexColor(style.fill))
    if style.thick:
        pdf.setStrokeColor(HexColor(style.edge))
        pdf.setLineWidth(style.thick)
        pdf.setDash([])
    if not style.fill and not style.thick:
        return
    painted = ("h B*" if style.thick else "h f*") if style.fill else "h S"
    for points in areas:
        pdf.addLiteral(f"{_traced(points)} {painted}")


def _traced(points: Sequence[Point]) -> str:
    """A path in the words of a PDF, to a thousandth of a point: reportlab's own pen takes ten times as long."""
    first, *rest = (f"{x:.3f} {y:.3f}" for x, y in points)
    return " ".join([f"{first} m", *(f"{point} l" for point in rest)])
