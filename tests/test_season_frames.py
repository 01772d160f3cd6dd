"""A season as DataFrames: the same strict cells as a sheet, and findings where a person would see them."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from forcing.dates import Span
from forcing.errors import Finding, SeasonUnreadable
from forcing.season.read import read_season
from forcing.season.starter import demo_tables, in_columns
from tests.season_text import ONE_LOT, read_text, tables_of


def frames_of(text: str) -> dict[str, pd.DataFrame]:
    """The tables of a text as frames of text cells, as `read_csv(dtype=str)` would give them."""
    return {
        name: pd.DataFrame([[cell or None for cell in row] for row in rows[1:]], columns=rows[0])
        for name, rows in tables_of(text).items()
    }


def findings_of(frames: dict[str, pd.DataFrame]) -> list[Finding]:
    try:
        return list(read_season(frames)[1])
    except SeasonUnreadable as error:
        return list(error.findings)


TYPED = {
    "season": pd.DataFrame(
        {"item": ["opens", "closes", "loss %"], "value": [date(2027, 3, 20), pd.Timestamp("2027-05-02"), 5]}
    ),
    "Places": pd.DataFrame(
        {
            "PLACE": ["Cellar", "South"],
            "kind": pd.Categorical(["cooler", "bench"]),
            "pots": np.array([400, 200], dtype=np.int64),
            "day": [np.nan, 18.0],
            "night": pd.array([None, 14], dtype="Int64"),
        }
    ),
    "lots": pd.DataFrame(
        {
            "lot": ["T1", "T2"],
            "crop": pd.array(["tulip", "tulip"], dtype="string"),
            "pots": [20.0, 30.0],
            "Target_Bloom": pd.to_datetime(["2027-03-25", None]),
        }
    ),
}


def test_typed_frames_are_a_season() -> None:
    season, findings = read_season(TYPED)
    assert findings == ()
    assert season.span == Span(date(2027, 3, 20), date(2027, 5, 3))  # closes is the last day of the show
    assert season.loss == 0.05
    assert [(p.name, p.kind, p.pots, p.day, p.night) for p in season.places] == [
        ("Cellar", "cooler", 400.0, None, None), ("South", "bench", 200.0, 18.0, 14.0),
    ]  # fmt: skip
    assert [(lot.name, lot.pots, lot.target, lot.row) for lot in season.lots] == [
        ("T1", 20, date(2027, 3, 25), 2), ("T2", 30, None, 3),
    ]  # fmt: skip


def test_frames_of_text_are_read_as_the_same_files() -> None:
    text = ONE_LOT + "[setpoints]\nplace | from | day\nsouth | 2027-01-05 | 16\n"
    assert read_season(frames_of(text)) == read_text(text)


def test_the_example_season_is_the_same_as_frames() -> None:
    tables = demo_tables()
    columns = {name: list(rows[0]) for name, rows in tables.items()}
    season, findings = read_season({name: pd.DataFrame(rows) for name, rows in tables.items()})
    rows = in_columns(tables)
    assert not [f for f in findings if f.severity == "error"]
    assert len(season.lots) == len(rows["lots"]) and len(season.readings) == len(rows["readings"])
    assert season.span.end - season.span.start > timedelta(days=7) and "item" in columns["season"]


@pytest.mark.parametrize(
    ("column", "values", "where"),
    [
        ("pots", [20, True], ("cell-number", 3, "pots", "TRUE")),
        ("pots", [20.5, 30], ("cell-whole", 2, "pots", "20.5")),
        ("pots", [20, np.inf], ("cell-number", 3, "pots", "inf")),
        ("pots", ["20", "30 pots"], ("cell-number", 3, "pots", "30 pots")),
        ("Target_Bloom", [20, None], ("cell-date", 2, "Target_Bloom", "20")),
        ("Target_Bloom", ["03/04/2027", None], ("cell-date-ambiguous", 2, "Target_Bloom", "03/04/2027")),
        ("Target_Bloom", [None, pd.Timestamp("2027-03-25 14:00")],
         ("cell-date", 3, "Target_Bloom", "2027-03-25 14:00")),
        ("Target_Bloom", [pd.Timedelta(days=3), None],
         ("cell-date", 2, "Target_Bloom", "a length of time, 3 days 00:00:00")),
        ("crop", ["tulip", pd.NA], ("cell-empty", 3, "crop", None)),
    ],
)  # fmt: skip
def test_a_cell_that_is_not_understood_is_said_where_a_sheet_would_show_it(
    column: str, values: list[object], where: tuple[str, int, str, str | None]
) -> None:
    lots = TYPED["lots"].astype(object).assign(**{column: pd.Series(values, dtype=object)})
    found = findings_of({**TYPED, "lots": lots})
    assert [(f.code, f.row, f.column, f.value) for f in found if f.severity == "error"] == [where]


def test_an_index_with_a_name_is_a_column_and_one_without_is_not() -> None:
    named = {**TYPED, "lots": TYPED["lots"].set_index("lot")}
    assert read_season(named)[0].lots == read_season(TYPED)[0].lots
    shuffled = {**TYPED, "lots": TYPED["lots"].set_axis([7, 3])}
    assert read_season(shuffled)[0].lots == read_season(TYPED)[0].lots


def test_columns_and_tables_that_are_not_known_or_doubled_are_findings() -> None:
    lots = TYPED["lots"].assign(crap=1)
    lots = pd.concat([lots, lots[["crop"]]], axis=1)
    codes = {(f.code, f.table) for f in findings_of({**TYPED, "lots": lots, "lotz": TYPED["lots"]})}
    assert {("column-twice", "lots"), ("column-unknown", "lots"), ("table-unknown", "lotz")} <= codes
    assert [f.code for f in findings_of({})] == ["file-no-tables"]


def test_what_is_no_frame_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(TypeError, match=r"the table lots must be a pandas\.DataFrame, not list"):
        read_season({**TYPED, "lots": [{"lot": "T1"}]})  # type: ignore[dict-item]
