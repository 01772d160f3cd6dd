"""Every workbook that is handed out, as a file: checked by a validator, by ElementTree and by reopening it.

The validator (openxml-audit) goes by the schemas of ECMA-376 part 1 in the stricter form that spreadsheet programs
keep, and by rules of its own for references, content types and cells. Its word is taken whole: no error, no warning.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font
from openxml_audit import FileFormat, OpenXmlValidator

from forcing.errors import OutputError
from forcing.reports.review import write_review
from forcing.reports.workbook import write_workbook
from forcing.season.starter import demo_tables, write_starter
from forcing.season.starter import write_workbook as write_season
from forcing.xlsx import Look, Pen, span, write_xlsx
from tests.sample import sample_plan
from tests.test_review import grown, looked_back, one
from tests.test_sheet_workbook import NASTY, renamed
from tests.test_sheet_workbook_show import TROUGHS, beside, frost, with_viola

CREATED = datetime(2026, 11, 3, 8, 30)
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
Write = Callable[[Path], object]


def a_plan(lots: int, path: Path, unit: str = "C", paper: str = "A4") -> None:
    plan = sample_plan(lots, "F" if unit == "F" else "C", paper)
    write_workbook(plan, path, created=CREATED, beside=beside(TROUGHS))


def an_empty_plan(path: Path) -> None:
    plan = sample_plan(0)
    season = replace(plan.season, places=(), displays=())
    bare = replace(plan, season=season, unplanned=(), rooms=(), loads=(), tasks=(), findings=())
    write_workbook(bare, path, created=CREATED)


def a_plan_of_awkward_names(path: Path) -> None:
    long = "Große Señora d’Été av Ångermanland's Øvre Älvdal " * 4
    names = [*NASTY, long.strip(), "]]>", "&amp;", "<is><t>x</t></is></c>", "_x0041_", "a\nb", " led "]
    plan = renamed(sample_plan(len(names)), names)
    write_workbook(replace(plan, season=replace(plan.season, title="Été\x07 & <b>")), path, created=CREATED)


def a_plan_with_companions_and_frost(path: Path) -> None:
    plan, viola = with_viola(sample_plan(3))
    _, nights = frost()
    both = replace(viola, nights=nights.nights, chances=nights.chances, show=beside(TROUGHS).show)
    write_workbook(plan, path, created=CREATED, beside=both)


def a_review(path: Path, filled: bool = True) -> None:
    review = looked_back(grown() if filled else one())
    write_review(review, path.parent, created=CREATED)[2].rename(path)


BOOKS: Mapping[str, Write] = {
    "plan of 5": lambda path: a_plan(5, path),
    "plan of 60, °F, Letter": lambda path: a_plan(60, path, "F", "Letter"),
    "empty plan": an_empty_plan,
    "awkward names": a_plan_of_awkward_names,
    "companions and frost": a_plan_with_companions_and_frost,
    "review": a_review,
    "review of nothing": lambda path: a_review(path, filled=False),
    "starter, °C": lambda path: write_starter(path),
    "starter, °F": lambda path: write_starter(path, unit="F", paper="Letter"),
    "example season, °C": lambda path: write_season(path, demo_tables("C")),
    "example season, °F": lambda path: write_season(path, demo_tables("F")),
}


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("books")
    paths = {name: folder / f"{i}.xlsx" for i, name in enumerate(BOOKS)}
    for name, path in paths.items():
        BOOKS[name](path)
    return paths


@pytest.mark.parametrize("name", BOOKS)
@pytest.mark.parametrize("version", [FileFormat.OFFICE_2007, FileFormat.MICROSOFT_365])
def test_the_validator_finds_nothing(books: dict[str, Path], name: str, version: FileFormat) -> None:
    result = OpenXmlValidator(version, max_errors=0).validate(books[name])
    assert [str(error) for error in result.errors] == []
    assert result.is_valid


@pytest.mark.parametrize("name", BOOKS)
def test_openpyxl_opens_it_and_writes_it_again_the_same(books: dict[str, Path], name: str) -> None:
    book = load_workbook(books[name])
    again = io.BytesIO()
    book.save(again)
    for left, right in zip(book, load_workbook(again), strict=True):
        assert [[c.value for c in row] for row in left] == [[c.value for c in row] for row in right]


@pytest.mark.parametrize("name", BOOKS)
def test_the_same_content_gives_the_same_bytes(books: dict[str, Path], name: str, tmp_path: Path) -> None:
    BOOKS[name](tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == books[name].read_bytes()


def parts(path: Path) -> dict[str, ElementTree.Element]:
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {
            n: ElementTree.fromstring(archive.read(n))
            for n in archive.namelist()
            if n.endswith((".xml", ".rels"))
        }


@pytest.mark.parametrize("name", BOOKS)
def test_texts_names_and_rules_keep_within_what_programs_take(books: dict[str, Path], name: str) -> None:
    """Limits of ISO/IEC 29500 as spreadsheet programs keep them, from their published lists of limits."""
    found = parts(books[name])
    assert next(iter(found)) == "[Content_Types].xml"
    texts = found["xl/sharedStrings.xml"]
    shared = ["".join(item.itertext()) for item in texts]
    assert len(shared) == len(set(shared)) == int(texts.attrib["uniqueCount"])
    used = 0
    for part, tree in found.items():
        if not part.startswith("xl/worksheets/sheet"):
            continue
        for cell in tree.iter(f"{MAIN}c"):
            assert cell.get("t") in (None, "n", "s"), part
            if cell.get("t") == "s":
                used += 1
                assert 0 <= int(cell.findtext(f"{MAIN}v", "")) < len(shared)
        assert not list(tree.iter(f"{MAIN}f"))  # no formula: nothing to reckon when the file is opened
        for rule in tree.iter(f"{MAIN}dataValidation"):
            most = {"prompt": 255, "error": 255, "promptTitle": 32, "errorTitle": 32}
            assert all(len(rule.get(key, "")) <= limit for key, limit in most.items()), rule.attrib
            assert all(len(formula.text or "") <= 257 for formula in rule)  # 255 and the quotes
        for link in tree.iter(f"{MAIN}hyperlink"):
            assert link.get("location"), "a link inside the file is a place in it, not an address"
    assert used == int(texts.attrib["count"])
    book = found["xl/workbook.xml"]
    titles = [sheet.attrib["name"] for sheet in book.iter(f"{MAIN}sheet")]
    assert len({t.casefold() for t in titles}) == len(titles)
    assert all(len(t) <= 31 and not re.search(r"[\[\]:*?/\\]", t) for t in titles)
    defined = [(d.attrib["name"], d.get("localSheetId")) for d in book.iter(f"{MAIN}definedName")]
    assert len(defined) == len(set(defined))
    links = [link.attrib["location"] for t in found.values() for link in t.iter(f"{MAIN}hyperlink")]
    assert {re.sub(r"^'(.*)'!A1$", r"\1", link) for link in links} <= set(titles)


@pytest.mark.parametrize("name", BOOKS)
def test_every_font_states_its_face_and_size(books: dict[str, Path], name: str) -> None:
    """What a font leaves out, each program fills in its own way: text that fitted may then not fit."""
    for font in parts(books[name])["xl/styles.xml"].iter(f"{MAIN}font"):
        assert {"sz", "name"} <= {child.tag.removeprefix(MAIN) for child in font}


def test_every_sheet_of_the_plan_and_the_review_prints_what_it_holds(books: dict[str, Path]) -> None:
    for name in ("plan of 5", "companions and frost", "review"):
        for sheet in load_workbook(books[name]):
            area = sheet.print_area.replace("$", "").split("!")[1]
            if sheet.title in ("Tasks", "Bloom cover", "Frost nights", "Sources"):
                # To look up: an empty cell. A program that prints a page for it says at its head why it is empty
                # (ECMA-376 part 1, 18.3.1.46 headerFooter: '&L' begins the left part, '&12' is a size).
                assert ":" not in area or len(set(area.split(":"))) == 1
                assert sheet[area.split(":")[0]].value is None
                assert f"{sheet.title} is looked up on a screen." in sheet.oddHeader.left.text
            else:
                assert area == sheet.dimensions, sheet.title


def test_awkward_names_come_back_letter_for_letter(books: dict[str, Path]) -> None:
    cells = {cell.value for cell in next(load_workbook(books["awkward names"])["Key dates"].iter_cols(1, 1))}
    assert {"]]>", "&amp;", "<is><t>x</t></is></c>", "_x0041_", "a\nb", " led ", "=1+1", "a b"} <= cells


def test_every_part_of_a_font_stands_in_the_order_of_the_schema(tmp_path: Path) -> None:
    """ECMA-376 part 1, 18.8.22: b, i, strike, ..., u, vertAlign, sz, color, name, family, charset, scheme."""
    book = Workbook()
    book.active["A1"] = "x"
    book.active["A1"].font = Font(
        name="Arial", sz=12, b=True, i=True, strike=True, u="single", color="FF0000", family=2, charset=1,
        scheme="minor", vertAlign="superscript", outline=True, shadow=True, condense=True, extend=True,
    )  # fmt: skip
    write_xlsx(book, tmp_path / "a.xlsx")
    fonts = [
        [child.tag.removeprefix(MAIN) for child in font]
        for font in parts(tmp_path / "a.xlsx")["xl/styles.xml"].iter(f"{MAIN}font")
    ]
    whole = [
        "b", "i", "strike", "condense", "extend", "outline", "shadow", "u", "vertAlign", "sz", "color", "name",
        "family", "charset", "scheme",
    ]  # fmt: skip
    assert whole in fonts
    assert all([name for name in whole if name in font] == font for font in fonts)


def test_the_time_is_the_one_given_or_none_at_all(tmp_path: Path) -> None:
    zoned = datetime(2026, 11, 3, 8, 30, 1, 999, tzinfo=UTC)
    write_xlsx(Workbook(), tmp_path / "timed.xlsx", title="A", created=zoned)
    properties = load_workbook(tmp_path / "timed.xlsx").properties
    assert (properties.title, properties.created, properties.modified) == (
        "A", datetime(2026, 11, 3, 8, 30, 1), datetime(2026, 11, 3, 8, 30, 1),
    )  # fmt: skip
    write_xlsx(Workbook(), tmp_path / "untimed.xlsx")
    with zipfile.ZipFile(tmp_path / "untimed.xlsx") as archive:
        assert b"dcterms:" not in archive.read("docProps/core.xml").replace(b"xmlns:dcterms:", b"")
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    write_xlsx(Workbook(), tmp_path / "old.xlsx", created=datetime(1970, 1, 1))  # before any archive
    assert load_workbook(tmp_path / "old.xlsx").properties.created.date() == date(1970, 1, 1)


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        write_xlsx(Workbook(), tmp_path / "file" / "a.xlsx")


def test_a_cell_written_again_in_another_look_leaves_the_others_as_they_were() -> None:
    pen = Pen(Workbook())
    sheet = pen.book.active
    bold, link = Look(bold=True), Look(link=True)
    first, second = (pen.put(sheet, row, 1, "x", bold) for row in (1, 2))
    pen.put(sheet, 1, 1, "x", link)
    assert second.font.bold and second.font.underline is None
    assert not first.font.bold and first.font.underline == "single"
    span(sheet, 2, 1, 3)
    assert sheet["C2"].font.bold and "C2" in sheet.merged_cells
