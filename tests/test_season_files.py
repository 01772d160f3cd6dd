"""Seasons as files: workbooks and folders, whole, damaged, foreign; and large ones."""

from __future__ import annotations

import zipfile
from datetime import date, datetime
from datetime import time as clock
from pathlib import Path
from time import process_time

import pytest
from openpyxl import Workbook, load_workbook

from forcing.dates import Span
from forcing.season.read import read_season
from tests.season_text import (
    ONE_LOT,
    brief,
    file_findings,
    read_text,
    tables_of,
    write_text_folder,
)

# ---------------------------------------------------------------- files


def test_the_same_text_from_a_folder(tmp_path: Path) -> None:
    folder = write_text_folder(tmp_path / "season", ONE_LOT)
    assert read_season(folder) == read_text(ONE_LOT)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_delimiters_byte_order_marks_and_line_ends(
    tmp_path: Path, delimiter: str, mark: str, newline: str
) -> None:
    for name, rows in tables_of(ONE_LOT).items():
        text = newline.join(delimiter.join(row) for row in rows)
        (tmp_path / f"{name.upper()}.CSV").write_text(mark + text, encoding="utf-8", newline="")
    assert read_season(tmp_path) == read_text(ONE_LOT)


def test_folders_that_cannot_be_understood(tmp_path: Path) -> None:
    write_text_folder(tmp_path, ONE_LOT)
    (tmp_path / "log.csv").write_bytes(b"date,lot,event,note\n" + b"2027-01-01,T1,potted,\xe9t\xe9\n")
    (tmp_path / "setpoints.csv").write_text("place,from;day\nSouth,2027-01-01,5\n")
    (tmp_path / "readings.csv").write_text('place,date,mean\nSouth,2027-01-01,"5\nSouth,2027-01-02,6\n')
    (tmp_path / "crops.csv").write_text('crop,parameter,typical\ntulip,"base"x,5\n')
    (tmp_path / "minutes.csv").write_bytes("task,minutes per pot\npot,1\n".encode("utf-16"))
    (tmp_path / ".~lock.lots.csv#").write_text("x")
    (tmp_path / "._lots.csv").write_bytes(b"\x00\x05")
    assert brief(file_findings(tmp_path)) == [
        "error file-quotes crops.csv 2 -",
        "error file-not-utf8 log.csv 2 -",
        "error file-not-utf8 minutes.csv - -",
        "error file-quotes readings.csv 2 -",
        "error file-delimiter setpoints.csv - -",
    ]


def test_a_folder_with_no_table(tmp_path: Path) -> None:
    assert brief(file_findings(tmp_path)) == [f"error file-no-tables {tmp_path.name} - -"]
    (tmp_path / "lots.csv").write_text("")
    assert brief(file_findings(tmp_path)) == [
        "error no-lots lots - -",
        "error item-missing season - opens",
        "warning table-empty places - -",
    ]


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("season.xlsx", b"", "file-not-workbook"),
        ("season.xlsx", b"lot,crop\n", "file-not-workbook"),
        ("season.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "file-not-workbook"),
        ("lots.csv", b"lot,crop\n", "file-not-workbook"),
        ("season.xlsx", None, "file-missing"),
    ],
)
def test_files_that_are_no_season(tmp_path: Path, name: str, content: bytes | None, code: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    assert brief(file_findings(path)) == [f"error {code} {name} - -"]


def save_book(path: Path, tables: dict[str, list[list[object]]]) -> Path:
    book = Workbook()
    book.remove(book.active)
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def book_tables(**changed: list[list[object]]) -> dict[str, list[list[object]]]:
    tables: dict[str, list[list[object]]] = {
        "season": [["item", "value"], ["opens", date(2027, 3, 20)], ["closes", datetime(2027, 5, 2)]],
        "places": [["place", "kind", "day"], ["Cellar", "cooler", 5], ["South", "bench", 16.5]],
        "lots": [["lot", "crop", "pots"], ["T1", "tulip", 20]],
    }
    return tables | changed


@pytest.mark.parametrize("kept", [0.2, 0.5, 0.9, 0.99])
def test_workbooks_cut_short_at_any_place(tmp_path: Path, kept: float) -> None:
    path = save_book(tmp_path / "season.xlsx", book_tables())
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * kept)])
    assert brief(file_findings(path)) == ["error file-not-workbook season.xlsx - -"]


def test_zips_that_are_no_workbook_or_damaged_inside(tmp_path: Path) -> None:
    path = tmp_path / "season.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    assert brief(file_findings(path)) == ["error file-not-workbook season.xlsx - -"]
    whole = save_book(tmp_path / "whole.xlsx", book_tables())
    with zipfile.ZipFile(whole) as source, zipfile.ZipFile(path, "w") as archive:
        for entry in source.namelist():
            data = source.read(entry)
            archive.writestr(entry, data[: len(data) // 2] if "sheet2" in entry else data)
    assert brief(file_findings(path)) == ["error file-not-workbook season.xlsx - -"]


def test_workbook_cells_of_every_bad_type(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["lot", "crop", "pots", "install", "cold weeks"],
        ["T1", "tulip", True, None, None],
        ["T2", "tulip", 12.5, None, None],
        ["T3", "tulip", "12 pots", None, None],
        ["T4", "tulip", date(2027, 3, 4), None, None],
        ["T5", "tulip", 5, 86400, None],
        ["T6", "tulip", 5, datetime(2027, 3, 20, 9, 30), None],
        ["T7", "tulip", 5, "03/04/2026", None],
        ["T8", "tulip", 5, clock(9, 30), None],
        ["T9", "tulip", 5, None, "14,5"],
        ["T10", "tulip", "#REF!", None, None],
        ["T11", "tulip", "=2+3", None, None],
        [datetime(2027, 3, 4), "tulip", 5, None, None],
        ["T13", False, 5, None, None],
        ["T14", "tulip", "  20\u00a0", "2027-03-19", "14.5"],  # pasted text that is plain enough
    ]
    found = file_findings(save_book(tmp_path / "s.xlsx", book_tables(lots=rows)))
    assert sorted(brief(found), key=lambda line: int(line.split()[3])) == [
        "error cell-number lots 2 pots",
        "error cell-whole lots 3 pots",
        "error cell-number lots 4 pots",
        "error cell-number lots 5 pots",
        "error cell-date lots 6 install",
        "error cell-date lots 7 install",
        "error cell-date-ambiguous lots 8 install",
        "error cell-date lots 9 install",
        "error cell-number lots 10 cold weeks",
        "error cell-error lots 11 pots",
        "error cell-formula lots 12 pots",
        "error cell-text lots 13 lot",
        "error cell-text lots 14 crop",
    ]
    formula = next(f for f in found if f.code == "cell-formula")
    assert "spreadsheet program" in formula.hint and formula.value == "=2+3"


def with_saved_values(path: Path, replacements: dict[str, str]) -> Path:
    """The workbook as a spreadsheet program saves it: values beside its formulas."""
    out = path.with_name("saved.xlsx")
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(out, "w") as archive:
        for entry in source.namelist():
            data = source.read(entry).decode("utf-8", "surrogateescape")
            for old, new in replacements.items():
                data = data.replace(old, new)
            archive.writestr(entry, data.encode("utf-8", "surrogateescape"))
    return out


def test_formulas_give_the_values_they_were_saved_with(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["lot", "crop", "pots", "cultivar"],
        ["T1", "tulip", "=4*5", '=""'],
        ["T2", "tulip", 7],
    ]
    path = save_book(tmp_path / "s.xlsx", book_tables(lots=rows))
    saved = with_saved_values(
        path,
        {
            '<c r="C2"><f>4*5</f><v></v></c>': '<c r="C2"><f>4*5</f><v>20</v></c>',
            '<c r="C2"><f>4*5</f><v /></c>': '<c r="C2"><f>4*5</f><v>20</v></c>',
            '<c r="D2"><f>""</f><v></v></c>': '<c r="D2" t="str"><f>""</f><v></v></c>',
            '<c r="D2"><f>""</f><v /></c>': '<c r="D2" t="str"><f>""</f><v></v></c>',
        },
    )
    stated, _ = read_season(saved)
    assert [(lot.pots, lot.cultivar) for lot in stated.lots] == [(20, None), (7, None)]


def test_formulas_that_failed(tmp_path: Path) -> None:
    rows: list[list[object]] = [["lot", "crop", "pots"], ["T1", "tulip", "=A9/0"]]
    path = save_book(tmp_path / "s.xlsx", book_tables(lots=rows))
    new = '<c r="C2" t="e"><f>A9/0</f><v>#DIV/0!</v></c>'
    saved = with_saved_values(
        path, {'<c r="C2"><f>A9/0</f><v></v></c>': new, '<c r="C2"><f>A9/0</f><v /></c>': new}
    )
    found = file_findings(saved)
    assert brief(found) == ["error cell-error lots 2 pots"] and found[0].value == "#DIV/0!"


def test_percent_formats_and_the_date_system_of_1904(tmp_path: Path) -> None:
    path = save_book(
        tmp_path / "s.xlsx",
        book_tables(
            season=[
                ["item", "value"], ["opens", date(2027, 3, 20)], ["closes", date(2027, 5, 2)], ["loss %", 0.05],
                ["confidence", 0.8],
            ]
        ),
    )  # fmt: skip
    book = load_workbook(path)
    for cell in ("B4", "B5"):
        book["season"][cell].number_format = "0%"
    book.epoch = datetime(1904, 1, 1)
    for sheet in book:  # dates are written anew as days since 1904
        for row in sheet.iter_rows():
            for cell in row:
                cell.value = cell.value
    book.save(path)
    stated, _ = read_season(path)
    assert stated.loss == pytest.approx(0.05) and stated.confidence == pytest.approx(0.8)
    assert stated.span == Span(date(2027, 3, 20), date(2027, 5, 3))


def test_sheets_of_the_same_table_and_sheets_for_people(tmp_path: Path) -> None:
    tables = book_tables() | {"LOTS ": [["lot"]], "Read me": [["hello"]], "Sheet1": [], "Lot": [["x"]]}
    assert brief(file_findings(save_book(tmp_path / "s.xlsx", tables))) == [
        "error table-twice lots - -",
        "warning table-unknown Lot - -",
    ]


def test_stray_values_beside_a_table_of_a_workbook_are_only_a_warning(tmp_path: Path) -> None:
    lots: list[list[object]] = [["lot", "crop", "pots"], ["T1", "tulip", 20, None, "ask about these"]]
    assert brief(file_findings(save_book(tmp_path / "s.xlsx", book_tables(lots=lots)))) == [
        "warning column-unnamed lots 2 -"
    ]


# ---------------------------------------------------------------- cells and files without end


def sheets_of(text: str) -> Workbook:
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tables_of(text).items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


def test_a_stray_cell_in_the_last_corner_of_a_sheet_is_told_soon_and_not_read(tmp_path: Path) -> None:
    book = sheets_of(ONE_LOT)
    book["lots"].cell(1_048_576, 16_384).value = "x"
    book["places"].cell(2, 16_384).value = "y"
    book.save(tmp_path / "season.xlsx")
    begun = process_time()
    season, findings = read_season(tmp_path / "season.xlsx")
    assert process_time() - begun < 5
    assert season == read_text(ONE_LOT)[0]
    assert brief(list(findings)) == ["warning cell-stray lots 1048576 -", "warning cell-stray places 2 -"]
    assert [f.value for f in findings] == ["x", "y"]


def test_a_value_below_a_thousand_empty_rows_is_no_part_of_a_table(tmp_path: Path) -> None:
    folder = write_text_folder(tmp_path / "season", ONE_LOT)
    last = len((folder / "lots.csv").read_text().splitlines())  # the row of its last lot
    for gap in (1000, 1001):
        write_text_folder(folder, ONE_LOT)
        with (folder / "lots.csv").open("a") as file:
            file.write("\n" * gap + "T2,tulip,5\n")
        found = [f.row for f in file_findings(folder) if f.code == "cell-stray"]
        assert found == ([last + gap + 1] if gap > 1000 else [])


def test_more_rows_than_a_table_may_have_are_refused(tmp_path: Path) -> None:
    folder = write_text_folder(tmp_path / "season", ONE_LOT)
    rows = "".join(
        f"Terrace,{2000 + i // 300}-{1 + i // 28 % 10:02d}-{1 + i % 28:02d},1\n" for i in range(20_000)
    )
    (folder / "minima.csv").write_text("place,date,low\n" + rows)
    assert "error table-long minima 20001 -" in brief(file_findings(folder))


def test_a_workbook_that_unpacks_to_gigabytes_is_refused_unread(tmp_path: Path) -> None:
    sheets_of(ONE_LOT).save(tmp_path / "season.xlsx")
    with zipfile.ZipFile(tmp_path / "season.xlsx", "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/zeros.bin", bytes(201_000_000))
    assert (tmp_path / "season.xlsx").stat().st_size < 1_000_000
    (found,) = file_findings(tmp_path / "season.xlsx")
    assert found.code == "file-large" and "200 MB is the most" in found.message


def test_a_csv_file_of_a_hundred_megabytes_is_refused_unread(tmp_path: Path) -> None:
    folder = write_text_folder(tmp_path / "season", ONE_LOT)
    with (folder / "readings.csv").open("wb") as file:
        file.truncate(100_000_000)
    assert "error file-large readings.csv - -" in brief(file_findings(folder))
