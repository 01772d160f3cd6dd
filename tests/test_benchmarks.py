"""What our sheets cost beside plain library calls that put down the same amount, in the same run.

The bar: 200 lots, every sheet, in at most 1.5 times what bare openpyxl, reportlab and matplotlib need for the same
cells, runs of text, lines and areas. What was written is read back from the files (workbook, PDF) or noted as it is
drawn (pictures), then put down again by plain calls that know nothing of a plan. Plain calls lay nothing out,
measure nothing, wrap nothing; sheets that need none of the three libraries (CSV, calendar file, board) have no
counterpart and count on our side alone. No bar in seconds: machines differ.

`python -m pytest tests/test_benchmarks.py -m slow -s` prints the table.
"""

from __future__ import annotations

import gc
import io
import os
import pickle
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pikepdf
import pytest
from openpyxl.utils import get_column_letter
from PIL import Image, ImageChops, ImageStat
from pypdf import PdfReader

import forcing
from forcing.dates import WEEK, Span, monday
from forcing.engine.show.cover import Cover
from forcing.model import Display, Plan
from forcing.reports.board import write_board
from forcing.reports.calendar import write_calendar
from forcing.reports.cover import write_cover
from forcing.reports.draw import pictures
from forcing.reports.draw.pdf import BOLD, REGULAR, register_fonts
from forcing.reports.frames import write_tables
from forcing.reports.gantt import write_gantt
from forcing.reports.labels import write_labels
from forcing.reports.week import write_week
from forcing.reports.workbook import write_workbook
from forcing.season.starter import write_demo
from tests.plain_sheets import Plain, PlainBook, PlainFile, PlainPages, PlainPicture
from tests.sample import sample_plan
from tests.season_text import write_text_folder

CREATED = datetime(2026, 11, 3, tzinfo=UTC)
BAR = 1.5
RUN_BAR = 2.0  # of a whole run, planning and imports included
ROOT = Path(__file__).parents[1]
SMALL = """
[places]
place  | kind   | pots | day | night
Cellar | cooler | 400  | 5   | 5
South  | bench  | 200  | 18  | 14
[lots]
lot | crop  | pots
A   | tulip | 20
"""

Job = Callable[[], object]


def covers_of(plan: Plan, displays: int) -> tuple[Cover, ...]:
    """Covers of invented displays over the days of the show: only their size matters here."""
    span, days = plan.season.span, plan.season.span.days
    early = tuple(max(0.0, 0.9 - 0.05 * i) for i in range(days))
    late = tuple(min(0.5, 0.01 * i) for i in range(days))
    share = tuple(a + b for a, b in zip(early, late, strict=True))
    return tuple(
        Cover(f"Bed {i + 1}", span, 0.6, (60,) * days, share, share, {"early": early, "late": late}, ())
        for i in range(displays)
    )


def with_beds(plan: Plan, displays: int) -> Plan:
    beds = tuple(Display(f"Bed {i + 1}", 24, "Terrace", plan.season.span) for i in range(displays))
    return replace(plan, season=replace(plan.season, displays=(*plan.season.displays, *beds)))


def writers(plan: Plan, folder: Path, covers: Sequence[Cover]) -> dict[str, Job]:
    """Every sheet of `forcing plan`, from a plan that is ready."""
    start = monday(plan.on)
    return {
        "season-plan.xlsx": lambda: write_workbook(plan, folder / "season-plan.xlsx", created=CREATED),
        "gantt": lambda: write_gantt(plan, folder, created=CREATED),
        "cover": lambda: write_cover(plan, covers, folder, created=CREATED),
        "week": lambda: write_week(plan, Span(start, start + WEEK), folder, created=CREATED),
        "labels": lambda: write_labels(plan, folder, created=CREATED),
        "tables": lambda: write_tables(plan, folder),
        "tasks.ics": lambda: write_calendar(plan, folder / "tasks.ics", created=CREATED),
        "board.html": lambda: write_board(plan, (), folder / "board.html", created=CREATED),
    }


# ---------------------------------------------------------------- workbook: cells with value and style


def read_book(path: Path) -> PlainBook:
    """Every cell of a workbook that has a value or a style, with the parts of the style that are set."""
    book = openpyxl.load_workbook(path)
    known: dict[tuple[int, ...], int] = {}
    styles: list[dict[str, Any]] = []
    sheets, sizes = {}, {}
    for sheet in book:
        cells = []
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is None and not cell.has_style:
                    continue
                key = tuple(cell._style)
                if key not in known:
                    known[key] = len(styles)
                    ids = {
                        "font": "fontId",
                        "fill": "fillId",
                        "border": "borderId",
                        "alignment": "alignmentId",
                    }
                    parts = {n: copy(getattr(cell, n)) for n, i in ids.items() if getattr(cell._style, i)}
                    if cell._style.numFmtId:
                        parts["number_format"] = cell.number_format
                    styles.append(parts)
                cells.append((cell.row, cell.column, cell.value, known[key]))
        sheets[sheet.title] = cells
        letters = {get_column_letter(i) for i in range(1, sheet.max_column + 1)}
        dimensions = sheet.column_dimensions
        sizes[sheet.title] = (
            {name: dimensions[name].width for name in sorted(letters) if name in dimensions},
            {row: d.height for row, d in sheet.row_dimensions.items() if d.height},
        )
    return PlainBook(sheets, sizes, styles)


# ---------------------------------------------------------------- PDF of reportlab: runs of text, lines, boxes


def read_pages(path: Path) -> PlainPages:
    """The runs of text (same letters, face and size), lines and boxes of a PDF, page by page."""
    pages = []
    letters = [page.extract_text().replace("\n", "") or "x" for page in PdfReader(path).pages]
    with pikepdf.open(path) as pdf:
        size = tuple(float(v) for v in pdf.pages[0].mediabox[2:])
        for page, text in zip(pdf.pages, letters, strict=True):
            pages.append(list(_calls(page, text)))
    return PlainPages(size, pages)  # type: ignore[arg-type]


def _calls(page: pikepdf.Page, text: str) -> Iterator[tuple[str, tuple[Any, ...]]]:
    fonts = page.resources.get("/Font", {})
    at, used, down, face = (0.0, 0.0), 0, 800.0, (REGULAR, 9.0)
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "Tf":
                bold = "Bold" in str(fonts[str(operands[0])].get("/BaseFont", ""))
                face = (BOLD if bold else REGULAR, float(operands[1]))
            case "Tj":
                count = len(bytes(operands[0]))
                run = (text[used : used + count] or text[:count]).ljust(count, "x")
                used, down = used + count, (down - 10) % 800
                yield "setFont", face
                yield "drawString", (40.0, down, run)
            case "m":
                at = (float(operands[0]), float(operands[1]))
            case "l":
                to = (float(operands[0]), float(operands[1]))
                yield "line", (*at, *to)
                at = to
            case "re":
                yield "rect", tuple(float(v) for v in operands)


# ---------------------------------------------------------------- pictures: texts, areas and lines


@contextmanager
def noted() -> Iterator[list[PlainPicture]]:
    """Every PNG drawn inside the block."""
    found: list[PlainPicture] = []
    write = pictures.write_png

    def noting(canvas: pictures.Canvas, path: Path, title: str, created: datetime, dots: float) -> None:
        found.append(PlainPicture(canvas, pictures.dots_of(canvas, dots)))
        write(canvas, path, title, created, dots)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pictures, "write_png", noting)
        yield found


# ---------------------------------------------------------------- beside each other


@dataclass(frozen=True, slots=True)
class Took:
    """What one sheet took, and what plain calls took for the same amount [s]; None: no plain counterpart."""

    amount: str
    ours: float
    plain: float | None


def seconds(job: Job) -> float:
    gc.collect()
    start = time.process_time()  # of this process alone: what else the machine does is not counted
    job()
    return time.process_time() - start


def compare(lots: int, folder: Path, rounds: int) -> Mapping[str, Took]:
    """Every sheet of a plan of `lots` lots, ours and plain in turn, the middle of `rounds` rounds."""
    plan = with_beds(sample_plan(lots), 3)
    jobs = writers(plan, folder, covers_of(plan, 3))
    register_fonts()
    drawn: dict[str, list[PlainPicture]] = {}
    for name, job in jobs.items():  # once to have the files, and to have every import and font behind us
        with noted() as drawn[name]:
            job()
    book = read_book(folder / "season-plan.xlsx")
    plain: dict[str, tuple[str, Job]] = {
        "season-plan.xlsx": (book.amount, lambda: book.write(folder / "plain.xlsx"))
    }
    for name in ("week", "labels", "gantt", "cover"):
        pages = read_pages(next(folder.glob(f"{name}*.pdf")))
        plain[name] = _plain_sheet(folder, name, pages, drawn[name])
    table = {}
    for name, job in jobs.items():
        amount, other = plain.get(name, ("", None))
        ours, theirs = [], []
        for _ in range(rounds):
            ours.append(seconds(job))
            if other:
                theirs.append(seconds(other))
        table[name] = Took(amount, statistics.median(ours), statistics.median(theirs) if theirs else None)
    return table


def _plain_sheet(
    folder: Path, name: str, pages: PlainPages, drawn: Sequence[PlainPicture]
) -> tuple[str, Job]:
    """What a sheet holds, and the same by plain calls: its pages, and its picture where it has one."""

    def write() -> None:
        pages.write(folder / f"plain-{name}.pdf")
        for picture in drawn:
            picture.write(folder / f"plain-{name}.png")

    return "; ".join([pages.amount, *(picture.amount for picture in drawn)]), write


def show(table: Mapping[str, Took]) -> float:
    """Print the table; gives the ratio of all sheets together."""
    lines = io.StringIO()
    for name, row in table.items():
        ratio = "" if not row.plain else f"{row.ours / row.plain:5.2f}"
        beside = "" if row.plain is None else f"{row.plain:7.3f}"
        print(f"{name:18}{row.ours:7.3f} s {beside:>8} {ratio:>6}  {row.amount}", file=lines)
    ours, plain = sum(r.ours for r in table.values()), sum(r.plain or 0.0 for r in table.values())
    print(f"{'all':18}{ours:7.3f} s {plain:8.3f} {ours / plain:6.2f}", file=lines)
    print("\n" + lines.getvalue())
    return ours / plain


def test_the_plain_calls_put_down_what_our_sheets_hold(tmp_path: Path) -> None:
    """A smoke of the benchmark: the same cells and pages come out of both, so that the ratio means something."""
    table = compare(3, tmp_path, 1)
    assert show(table) > 0
    assert {name for name, row in table.items() if row.plain} == {
        "season-plan.xlsx", "gantt", "cover", "week", "labels"
    }  # fmt: skip
    ours, plain = read_book(tmp_path / "season-plan.xlsx"), read_book(tmp_path / "plain.xlsx")
    assert plain.sheets.keys() == ours.sheets.keys()
    for title, cells in ours.sheets.items():
        assert [cell[:3] for cell in plain.sheets[title]] == [cell[:3] for cell in cells]
    for name in ("week", "labels"):
        written = read_pages(next(p for p in tmp_path.glob(f"{name}*.pdf")))
        assert read_pages(tmp_path / f"plain-{name}.pdf").amount == written.amount
    for name in ("gantt", "cover"):
        _same_picture(tmp_path, name)


def _same_picture(folder: Path, name: str) -> None:
    """The picture that plain calls drew is, to the eye, the one that was noted."""
    with Image.open(folder / f"{name}.png") as ours, Image.open(folder / f"plain-{name}.png") as plain:
        assert ours.size == plain.size
        apart = ImageChops.difference(ours.convert("L"), plain.convert("L"))
        assert ImageStat.Stat(apart).mean[0] < 1.5  # of 255: the edges of small letters differ


@pytest.mark.slow
def test_two_hundred_lots_cost_little_more_than_plain_calls(tmp_path: Path) -> None:
    assert show(compare(200, tmp_path, 3)) <= BAR


# ---------------------------------------------------------------- a whole run


def held(out: Path, pictures_: Sequence[PlainPicture]) -> list[tuple[str, Plain]]:
    """What the sheets of a run hold, in plain shapes; pictures in the order in which they were drawn."""
    drawn = iter(pictures_)
    found: list[tuple[str, Plain]] = []
    for path in sorted(out.iterdir()):
        match path.suffix:
            case ".xlsx":
                found.append((path.name, read_book(path)))
            case ".pdf":
                found.append((path.name, read_pages(path)))
            case ".png":
                continue
            case _:
                found.append((path.name, PlainFile(path.read_bytes())))
    return [*found, *((f"{i}.png", picture) for i, picture in enumerate(drawn))]


def processes(season: Path, folder: Path, rounds: int) -> tuple[float, float]:
    """CPU [s] of a fresh process that plans a season and of one that writes the same plainly: the least of each."""
    noting, out = folder / "noting", folder / "out"
    with noted() as pictures_:
        forcing.load(season).plan(on="2026-11-09").write(noting)
    what = folder / "what.pickle"
    what.write_bytes(pickle.dumps(held(noting, pictures_)))
    (folder / "plain").mkdir()
    ours = [sys.executable, "-m", "forcing", "plan", str(season), "-o", str(out), "--on", "2026-11-09"]
    plain = [sys.executable, "-m", "tests.plain_sheets", str(what), str(folder / "plain")]
    took = [(cpu_of(ours), cpu_of(plain)) for _ in range(rounds)]
    assert {p.name for p in out.iterdir()} == {p.name for p in noting.iterdir()}
    return min(a for a, _ in took), min(b for _, b in took)


def cpu_of(command: Sequence[str]) -> float:
    """CPU [s] of a process and nothing else, its start and imports included."""
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, command
    return used.ru_utime + used.ru_stime


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="the time of one process cannot be asked for here")
def test_a_whole_run_and_its_plain_counterpart_write_the_same_files(tmp_path: Path) -> None:
    """A smoke of the next."""
    season = write_text_folder(tmp_path / "season", SMALL)
    ours, plain = processes(season, tmp_path, 1)
    print(f"\nplan of one lot {ours:.2f} s, plain calls {plain:.2f} s: {ours / plain:.2f}")
    assert (
        read_book(tmp_path / "out" / "season-plan.xlsx").sheets.keys()
        == read_book(tmp_path / "plain" / "season-plan.xlsx").sheets.keys()
    )


@pytest.mark.slow
def test_planning_the_example_costs_at_most_twice_as_much_as_writing_it(tmp_path: Path) -> None:
    ours, plain = processes(write_demo(tmp_path / "demo"), tmp_path, 5)
    print(f"\nplan of the example {ours:.2f} s, plain calls {plain:.2f} s: {ours / plain:.2f}")
    assert ours / plain <= RUN_BAR
