"""The log folder beside a season: lists of colleagues, saved ticks and filled-in entry workbooks as one log."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from openpyxl import Workbook

from forcing.engine.parts import log_findings
from forcing.errors import Finding
from forcing.model import LogEntry, Reading, Season
from forcing.recipes.book import RecipeBook
from forcing.season.checks import check_season
from forcing.season.read import read_season
from tests.season_text import ONE_LOT, PLACES, brief, write_text_folder

TWO = PLACES + "[lots]\nlot | crop | pots\nT1 | tulip | 20\nT2 | tulip | 30\n"
OWN = TWO + "[log]\ndate | lot | event | place\n2026-10-05 | T1 | potted |\n"


def kept(folder: Path, text: str, **files: str) -> Path:
    """A season folder with files in its log folder; their names with a point for the last line."""
    season = write_text_folder(folder / "season", text)
    (season / "log").mkdir()
    for name, content in files.items():
        (season / "log" / f"{name}.csv").write_text(content, encoding="utf-8")
    return season


def events(season: Season) -> list[tuple[str, str, str, str | None, int | None]]:
    return [(str(e.date), e.lot, e.event, e.place, e.pots) for e in season.log]


def told(season: Season, on: date = date(2027, 4, 1)) -> list[Finding]:
    return [*check_season(season, RecipeBook.from_overrides()), *log_findings(season, on)]


def test_further_files_of_the_log_are_read_as_the_log(tmp_path: Path) -> None:
    path = kept(
        tmp_path, OWN,
        anna="Date;LOT;event;place;pots;note\n2026-10-06;t1, T2;cooler in;cellar;;\n2026-10-20;T2;lost;;3;mould\n",
        meter="place,date,low,high\nSouth,2027-02-01,13,18.5\n",
    )  # fmt: skip
    season, findings = read_season(path)
    assert findings == ()
    assert events(season) == [
        ("2026-10-05", "T1", "potted", None, None), ("2026-10-06", "T1", "cooler in", "Cellar", None),
        ("2026-10-06", "T2", "cooler in", "Cellar", None), ("2026-10-20", "T2", "lost", None, 3),
    ]  # fmt: skip
    assert season.log[3].note == "mould" and season.log[3].found_in == "log/anna.csv"
    assert season.readings == (Reading("South", date(2027, 2, 1), 13, 18.5, row=2, found_in="log/meter.csv"),)


def test_a_log_folder_beside_a_workbook(tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book.active)
    for name, rows in {
        "season": [("item", "value"), ("opens", date(2027, 3, 20)), ("closes", date(2027, 5, 2))],
        "places": [("place", "kind", "day", "night"), ("Cellar", "cooler", 5, 5), ("South", "bench", 18, 14)],
        "lots": [("lot", "crop", "pots"), ("T1", "tulip", 20)],
    }.items():  # fmt: skip
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(tmp_path / "show.xlsx")
    (tmp_path / "log").mkdir()
    (tmp_path / "log" / "a.csv").write_text("date,lot,event\n2026-10-05,T1,potted\n")
    season, _ = read_season(tmp_path / "show.xlsx")
    assert season.log == (LogEntry(date(2026, 10, 5), "T1", "potted", row=2, found_in="log/a.csv"),)


def test_equal_rows_count_once_and_each_file_adds_what_it_knows(tmp_path: Path) -> None:
    # T1 was potted once, by three lists; T2 lost 2 pots twice on one day by Anna's list, and once by Ben's.
    path = kept(
        tmp_path, OWN,
        anna="date,lot,event,place,pots,note\n2026-10-05,T1,potted,,20,\n2026-10-09,T2,lost,,2,\n2026-10-09,T2,lost,,2,\n",
        ben="date,lot,event,place,pots,note\n2026-10-05,T1,potted,,,in the shed\n2026-10-09,T2,lost,,2,\n",
        copy="date,lot,event,place,pots,note\n2026-10-05,T1,potted,,20,\n",
    )  # fmt: skip
    season, findings = read_season(path)
    assert findings == ()
    assert events(season) == [
        ("2026-10-05", "T1", "potted", None, 20), ("2026-10-09", "T2", "lost", None, 2),
        ("2026-10-09", "T2", "lost", None, 2),
    ]  # fmt: skip
    assert season.log[0].note == "in the shed"


def test_contradictions_name_both_places(tmp_path: Path) -> None:
    path = kept(
        tmp_path, OWN,
        anna="date,lot,event\n2026-10-06,T1,potted\n",
        ben="place,date,low,high\nSouth,2027-02-01,12,17\n",
        cleo="place,date,low,high\nSouth,2027-02-01,12,17\nSouth,2027-02-01,12,18\n",
    )  # fmt: skip
    season, findings = read_season(path)
    assert findings == ()
    assert [(str(f.where()), f.message) for f in told(season)] == [
        ("log/cleo.csv, row 3, date", "stated before in row 2 of log/ben.csv, with other values"),
        ("log/anna.csv, row 2, event", "T1: potted is logged twice, first on 2026-10-05 (row 2 of log)"),
    ]


def test_what_is_wrong_in_the_folder_is_told_and_all_else_is_read(tmp_path: Path) -> None:
    path = kept(
        tmp_path, OWN,
        bad="date,lot,event\n2026-10-05,T2,poted\n2026-10-06,T2,cooler in\n",
        cut='date,lot,event\n2026-10-05,T2,"pot',
        other="who,when\nAnna,Monday\n",
        half="place,date,low,high\nSouth,2027-02-01,12,\n",
    )  # fmt: skip
    (path / "log" / "week.xlsx").write_bytes(b"PK\x03\x04 cut short")
    (path / "log" / "scan.pdf").write_bytes(b"%PDF")
    (path / "log" / "~$week.xlsx").write_bytes(b"x")
    season, findings = read_season(path)
    assert events(season) == [
        ("2026-10-05", "T1", "potted", None, None), ("2026-10-06", "T2", "cooler in", None, None),
    ]  # fmt: skip
    assert season.readings == ()
    assert brief(list(findings)) == [
        "error cell-word log/bad.csv 2 event",
        "error file-quotes log/cut.csv 2 -",
        "error cell-empty log/half.csv 2 mean",
        "error file-foreign log/other.csv - -",
        "error file-not-workbook log/week.xlsx - -",
        "warning file-foreign log/scan.pdf - -",
    ]


def test_a_locked_file_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = kept(tmp_path, OWN, anna="date,lot,event\n2026-10-06,T2,potted\n")
    read = Path.read_bytes

    def locked(self: Path) -> bytes:
        if self.name == "anna.csv":
            raise PermissionError(13, "Permission denied")
        return read(self)

    monkeypatch.setattr(Path, "read_bytes", locked)
    season, findings = read_season(path)
    assert len(season.log) == 1
    assert [str(f) for f in findings] == [
        "log/anna.csv: cannot be opened: Permission denied. Check who may read it, and close other programs that hold "
        "it."
    ]


def test_a_file_of_both_tables_as_a_board_saves_it(tmp_path: Path) -> None:
    path = kept(
        tmp_path, OWN,
        board="date,lot,event,place,pots,low,high,note\n2026-10-06,T1,cooler in,Cellar,20,,,\n"
        "2026-10-06,,,Cellar,,3.5,5,\n2026-10-07,,,South,,13,17,\n",
    )  # fmt: skip
    season, findings = read_season(path)
    assert findings == ()
    assert events(season)[1:] == [("2026-10-06", "T1", "cooler in", "Cellar", 20)]
    assert [(r.place, str(r.date), r.low, r.high, r.row) for r in season.readings] == [
        ("Cellar", "2026-10-06", 3.5, 5.0, 3), ("South", "2026-10-07", 13.0, 17.0, 4),
    ]  # fmt: skip


def test_rows_of_another_season_are_left_out_and_told_where_they_stand(tmp_path: Path) -> None:
    season, findings = read_season(kept(tmp_path, ONE_LOT, old="date,lot,event\n2021-10-06,T1,potted\n"))
    assert season.log == ()
    assert brief(list(findings)) == ["error day-astray log/old.csv 2 date"]
