"""The starter workbook and the writers of a season: what a person sees, and that it reads back."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.worksheet.datavalidation import DataValidation

from forcing.errors import OutputError
from forcing.model import Season
from forcing.recipes.book import CompanionBook, RecipeBook, shipped_minutes
from forcing.season.cells import ERROR_WORDS
from forcing.season.read import read_season
from forcing.season.schema import PARAMETER_WORDS, SEASON_ITEMS, TABLE_NAMES, TABLES, table
from forcing.season.starter import ROOM, demo_tables, write_folder, write_starter, write_workbook
from tests.effort import growth
from tests.season_text import brief, file_findings

# ---------------------------------------------------------------- the starter


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    path = tmp_path_factory.mktemp("starter") / "season.xlsx"
    write_starter(path)
    return load_workbook(path)


def rule_of(sheet, cell: str) -> DataValidation:  # type: ignore[no-untyped-def]
    rules = [rule for rule in sheet.data_validations.dataValidation if cell in rule.sqref]
    assert len(rules) == 1, cell
    return rules[0]


@pytest.mark.parametrize("unit", ["C", "F"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_starter_wants_nothing_but_to_be_filled(tmp_path: Path, unit: str, paper: str) -> None:
    path = tmp_path / "season.xlsx"
    write_starter(path, unit=unit, paper=paper)  # type: ignore[arg-type]
    assert brief(file_findings(path)) == [
        "error no-lots lots - -",
        "error item-missing season - opens",
        "warning table-empty places - -",
    ]
    book = load_workbook(path)
    items = {row[0].value: row[1].value for row in book["season"].iter_rows(min_row=2)}
    assert items["temperature unit"] == unit and items["paper"] == paper
    assert book["lots"].page_setup.paperSize == {"A4": 9, "Letter": 1}[paper]
    assert f"Unit: °{unit}" in book["places"]["D1"].comment.text


def test_filling_in_the_two_days_makes_it_a_season(tmp_path: Path) -> None:
    path = tmp_path / "season.xlsx"
    write_starter(path, unit="F", paper="Letter")
    book = load_workbook(path)
    book["season"]["B3"], book["season"]["B4"] = date(2027, 3, 20), date(2027, 5, 2)
    book.save(path)
    stated, findings = read_season(path)
    assert (stated.unit, stated.paper, stated.span.days) == ("F", "Letter", 44)
    assert brief(list(findings)) == ["error no-lots lots - -", "warning table-empty places - -"]


def test_sheets_stand_in_order_with_words_to_read_first(starter) -> None:  # type: ignore[no-untyped-def]
    assert starter.sheetnames == ["Read me", *TABLE_NAMES, "words"]
    words = " ".join(str(cell.value) for row in starter["Read me"].iter_rows() for cell in row if cell.value)
    for needed in ("2027-03-20", "forcing check", "°C or °F", "empty", "Last days count"):
        assert needed.casefold() in words.casefold()
    assert all(name in words for name in TABLE_NAMES)
    assert starter["Read me"].page_setup.orientation == "portrait"


@pytest.mark.parametrize("name", TABLE_NAMES)
def test_every_sheet_has_its_header_notes_filter_and_print_titles(starter, name: str) -> None:  # type: ignore[no-untyped-def]
    sheet, columns = starter[name], table(name).columns
    assert [cell.value for cell in sheet[1]] == [column.name for column in columns]
    assert all(cell.font.bold for cell in sheet[1])
    assert sheet.freeze_panes == ("B2" if table(name).key else "A2")
    assert sheet.print_title_rows == "$1:$1"
    assert all(sheet.column_dimensions[cell.column_letter].width >= 9 for cell in sheet[1])
    # required headers are told from others in black and white: white on dark
    for cell, column in zip(sheet[1], columns, strict=True):
        assert (cell.font.color.rgb == "FFFFFFFF") == column.required
    if name != "season":
        assert sheet.auto_filter.ref == f"A1:{sheet.cell(1, len(columns)).column_letter}{ROOM + 1}"
        assert sheet.max_row == 1  # no example rows: they would be read
        for cell, column in zip(sheet[1], columns, strict=True):
            assert cell.comment.text.startswith(column.help)
            assert column.required == ("Must be filled." in cell.comment.text)


def test_every_item_is_listed_with_what_it_means(starter) -> None:  # type: ignore[no-untyped-def]
    rows = list(starter["season"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in rows] == [item.name for item in SEASON_ITEMS]
    assert all(row[2].startswith(item.help) for row, item in zip(rows, SEASON_ITEMS, strict=True))
    assert rows[[item.name for item in SEASON_ITEMS].index("temperature step")][2].endswith(
        "Unit: °C, as the season sheet states. Empty: 1 °C."
    )
    assert [row[1] for row in rows if row[1] is not None] == ["C", "A4"]


def test_words_are_chosen_from_lists(starter) -> None:  # type: ignore[no-untyped-def]
    assert rule_of(starter["places"], "B2").formula1 == '"cooler,bench,frame,site"'
    assert rule_of(starter["lots"], f"C{ROOM}").formula1 == '"early,mid,late"'
    assert "brought in" in rule_of(starter["log"], "C2").formula1
    assert rule_of(starter["season"], "B5").formula1 == '"C,F"'
    for sheet in starter:
        for rule in sheet.data_validations.dataValidation:
            if rule.formula1 and rule.formula1.startswith('"'):
                assert len(rule.formula1) <= 257  # 255 characters and the quotes, ISO/IEC 29500


def test_names_are_chosen_from_the_tables_that_define_them(starter) -> None:  # type: ignore[no-untyped-def]
    for sheet, column, home in (
        ("lots", "cooler", "places"), ("lots", "bench", "places"), ("lots", "harden at", "places"),
        ("lots", "display", "displays"), ("displays", "site", "places"), ("plantings", "display", "displays"),
        ("companions", "place", "places"), ("log", "lot", "lots"), ("log", "place", "places"),
        ("setpoints", "place", "places"), ("normals", "place", "places"), ("readings", "place", "places"),
    ):  # fmt: skip
        header = next(cell for cell in starter[sheet][1] if cell.value == column)
        rule = rule_of(starter[sheet], f"{header.column_letter}2")
        assert rule.formula1 == f"='{home}'!$A$2:$A${ROOM + 1}" and rule.type == "list"
        assert rule.errorStyle == "warning"  # a name may be typed before it is defined
    parameters = rule_of(starter["crops"], "D2")
    assert parameters.formula1 == f"='words'!$A$2:$A${len(PARAMETER_WORDS) + 1}"
    assert [
        row[0].value for row in starter["words"].iter_rows(min_row=2, max_row=len(PARAMETER_WORDS) + 1)
    ] == [*PARAMETER_WORDS]
    crops = rule_of(starter["lots"], "B2").formula1
    listed = [cell.value for (cell,) in starter["words"][crops.split("!")[1].replace("$", "")]]
    assert listed == [*RecipeBook.from_overrides(()).crops]
    companions = rule_of(starter["companions"], "B2").formula1
    listed = [cell.value for (cell,) in starter["words"][companions.split("!")[1].replace("$", "")]]
    assert listed == [*CompanionBook.from_overrides().crops]
    tasks = rule_of(starter["minutes"], "A2").formula1
    listed = [cell.value for (cell,) in starter["words"][tasks.split("!")[1].replace("$", "")]]
    assert listed == [row.task for row in shipped_minutes()]


def test_dates_and_numbers_have_rules_and_formats(starter) -> None:  # type: ignore[no-untyped-def]
    lots = starter["lots"]
    letters = {cell.value: cell.column_letter for cell in lots[1]}
    assert rule_of(lots, f"{letters['pots']}2").type == "whole"
    assert rule_of(lots, f"{letters['cold weeks']}2").type == "decimal"
    assert rule_of(lots, f"{letters['install']}2").type == "date"
    assert lots.column_dimensions[letters["install"]].number_format == "yyyy-mm-dd"
    assert lots.column_dimensions[letters["lot"]].number_format == "@"  # or 'Mar 4' becomes a date
    assert starter["season"]["B3"].number_format == "yyyy-mm-dd"
    assert rule_of(starter["normals"], "B2").formula2 == "12"


def test_help_fits_the_boxes_of_a_spreadsheet() -> None:
    # ISO/IEC 29500 (ST_Xstring limits as spreadsheet programs keep them): title 32, text 255 characters
    for column in [column for each in TABLES for column in each.columns] + [*SEASON_ITEMS]:
        assert (
            len(column.name) <= 32
            and len(column.prompt().replace("°C or °F", "°C, as the season sheet states")) <= 255
        )
        assert column.required or column.kind == "note" or column.default or column.name == "value"


# ---------------------------------------------------------------- the writers


def both(folder: Path, tables: dict[str, list[dict[str, object]]]) -> tuple[Season, Season]:
    one, warnings = read_season(write_workbook(folder / "season.xlsx", tables))
    other, more = read_season(write_folder(folder / "season", tables))
    assert warnings == more
    return one, other


@pytest.mark.parametrize("unit", ["C", "F"])
def test_the_example_means_the_same_in_both_forms(tmp_path: Path, unit: str) -> None:
    one, other = both(tmp_path, demo_tables(unit))  # type: ignore[arg-type]
    assert one == other and len(one.lots) > 10


def test_the_example_in_us_measures_is_the_same_season(tmp_path: Path) -> None:
    """Its workbook has quarts and inches: 55 litres of mix are 55 / 0.946353 = 58.12 US quarts, a 10 cm pot 4 in."""
    tables = demo_tables("F", "Letter", "US")
    read, found = read_season(write_workbook(tmp_path / "us.xlsx", tables))
    book = load_workbook(tmp_path / "us.xlsx")
    cells = {
        name: [[c.value for c in row] for row in book[name].iter_rows()] for name in ("displays", "lots")
    }
    assert cells["displays"][1][cells["displays"][0].index("quarts")] == 58.12
    assert {row[cells["lots"][0].index("pot in")] for row in cells["lots"][1:]} >= {4}
    metric, _ = read_season(write_folder(tmp_path / "metric", demo_tables("F", "Letter")))
    assert found == () and (read.measures, metric.measures) == ("US", "metric")
    assert [d.litres for d in read.displays] == pytest.approx([d.litres for d in metric.displays], abs=0.01)
    assert [lot.pot_cm for lot in read.lots] == [lot.pot_cm for lot in metric.lots]


SHOW: list[dict[str, object]] = [
    {"item": "opens", "value": date(2027, 3, 20)},
    {"item": "Closes", "value": date(2027, 5, 2)},
]


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    names = [
        "=T1",
        "+T2",
        "-T3",
        "@T4",
        "#REF",
        '"quoted"',
        "a,b",
        "a;b",
        "Été",
        "007",
        "1e5",
        "TRUE",
        "2027-03-20",
    ]
    tables = {"season": SHOW, "lots": [{"lot": name, "crop": "tulip", "pots": 3} for name in names]}
    one, other = both(tmp_path, tables)
    assert one == other
    assert [lot.name for lot in one.lots] == names
    book = load_workbook(tmp_path / "season.xlsx")
    cells = [cell for (cell,) in book["lots"]["A2:A14"]]
    assert {cell.data_type for cell in cells} == {"s"}
    assert [cell.quotePrefix for cell in cells[:5]] == [True, True, True, True, False]


def test_csv_is_as_the_standard_has_it(tmp_path: Path) -> None:
    tables = {
        "season": SHOW,
        "lots": [{"lot": 'a "b", c', "Crop": "tulip", "pots": 3, "pot_cm": 12.5, "note": "x\ny"}],
    }
    folder = write_folder(tmp_path, tables)
    data = (folder / "lots.csv").read_bytes()
    assert not data.startswith(b"\xef\xbb\xbf") and b"\r" not in data
    assert b'"a ""b"", c",tulip' in data  # RFC 4180, 2.7
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))
    assert (rows[0]["lot"], rows[0]["pot cm"], rows[0]["note"], rows[0]["install"]) == (
        'a "b", c',
        "12.5",
        "x\ny",
        "",
    )
    assert sorted(p.name for p in folder.iterdir()) == sorted(f"{name}.csv" for name in TABLE_NAMES)


@pytest.mark.parametrize(
    "tables",
    [
        {"lotz": []},
        {"lots": [{"lott": "T1"}]},
        {"lots": [{"pot cm": 1, "Pot_cm": 2}]},
        {"season": [{"item": "opns", "value": 1}]},
        {"season": [*SHOW, SHOW[0]]},
        {"lots": [{"lot": "a\x00b"}]},
        {"lots": [{"pots": float("nan")}]},
        {"lots": [{"pots": True}]},
        {"lots": [{"pots": object()}]},
    ],
)
def test_what_no_season_can_hold_is_the_callers_mistake_and_writes_nothing(tmp_path: Path, tables) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError):
        write_workbook(tmp_path / "season.xlsx", tables)
    with pytest.raises(ValueError):
        write_folder(tmp_path / "season", tables)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "season.xlsx"
    path.write_text("old")

    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(13, "in use")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputError, match="in use"):
        write_starter(path)
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError):
        write_starter(tmp_path / "file" / "season.xlsx")


days = st.dates(date(2026, 9, 1), date(2027, 6, 30))
tenths = st.integers(-200, 400).map(lambda n: n / 10)
texts = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co")), min_size=1, max_size=20
).filter(
    lambda text: (
        text.isprintable() and any(c.isalnum() for c in text) and text.strip().upper() not in ERROR_WORDS
    )
)
optional = st.none()


@st.composite
def seasons(draw: st.DrawFn) -> dict[str, list[dict[str, object]]]:
    opens = draw(days)
    places = draw(st.lists(texts, min_size=1, max_size=3))
    return {
        "season": [
            {"item": "opens", "value": opens},
            {"item": "closes", "value": opens + timedelta(days=draw(st.integers(0, 60)))},
            {"item": "temperature unit", "value": draw(st.sampled_from(["C", "F"]))},
            {"item": "title", "value": draw(texts | optional)},
            {"item": "confidence", "value": draw(st.sampled_from([None, 0.5, 0.85, "90 %"]))},
            {"item": "loss %", "value": draw(st.none() | st.integers(0, 90))},
            {"item": "holidays", "value": draw(st.none() | days | days.map(str))},
        ],
        "places": [
            {
                "place": f"{i} {name}",
                "kind": "bench",
                "pots": draw(st.none() | st.integers(0, 999)),
                "day": draw(tenths),
            }
            for i, name in enumerate(places)
        ],
        "lots": [
            {
                "lot": i if draw(st.booleans()) else f"T{i}",
                "crop": draw(st.sampled_from(["tulip", "Tulip ", "iris_reticulata"])),
                "class": draw(st.sampled_from([None, "early", "MID"])),
                "cultivar": draw(texts | optional),
                "pots": draw(st.integers(1, 500)),
                "target bloom": draw(days | optional),
                "cold weeks": draw(st.none() | st.integers(0, 60)),
                "bench": draw(texts | optional),
                "note": draw(texts | optional),
            }
            for i in range(draw(st.integers(0, 4)))
        ],
        "readings": [
            {"place": "0", "date": day, "low": draw(tenths), "mean": draw(tenths)}
            for day in draw(st.lists(days, max_size=3))
        ],
        "crops": [
            {"crop": "tulip", "parameter": p, "typical": draw(tenths)}
            for p in draw(st.lists(st.sampled_from(["base", "days_saved", "bench days"]), max_size=2))
        ],
    }


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(seasons())
def test_any_season_means_the_same_in_both_forms(
    tmp_path_factory: pytest.TempPathFactory, tables: dict[str, list[dict[str, object]]]
) -> None:
    one, other = both(tmp_path_factory.mktemp("both"), tables)
    assert one == other
    assert len(one.lots) == len(tables["lots"])


def test_writing_and_reading_grow_with_the_number_of_lots_and_no_faster(tmp_path: Path) -> None:
    def writing(count: int) -> Callable[[], object]:
        lots: list[dict[str, object]] = [
            {"lot": f"T{i}", "crop": "tulip", "pots": 5, "cultivar": f"Kind {i % 50}",
             "target bloom": date(2027, 3, 20), "pot cm": 12.5, "cooler": "Cellar", "bench": "South"}
            for i in range(count)
        ]  # fmt: skip

        def write() -> None:
            one, other = both(tmp_path, {"season": SHOW, "lots": lots})
            assert one == other and len(one.lots) == count

        return write

    assert growth(writing, 75) < 5
