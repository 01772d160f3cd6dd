"""A fault of the program in one lot, companion, display or place is told, and the rest is planned."""

from __future__ import annotations

import os
import pkgutil
from pathlib import Path

import pytest
from click.testing import CliRunner

import forcing
from forcing.cli import main
from forcing.engine import plan as planning
from forcing.errors import NothingToPlan
from forcing.model import Plan, Season
from tests.season_text import write_text_folder

TEXT = """
[places]
place   | kind   | pots | day | night
Cellar  | cooler | 400  | 5   | 5
South   | bench  | 200  | 18  | 14
North   | bench  | 200  | 18  | 14
Terrace | site   |      |     |
[lots]
lot | crop     | pots | display | bench
A   | tulip    | 20   | Tubs    | South
B   | tulip    | 20   | Tubs    | North
C   | hyacinth | 20   | Troughs | North
D   | crocus   | 20   | Troughs |
[displays]
display | containers | site
Tubs    | 20         | Terrace
Troughs | 20         | Terrace
[companions]
companion | crop  | pots | ready      | place
Violas    | viola | 20   | 2027-03-20 | North
"""


def failing(monkeypatch: pytest.MonkeyPatch, table: str, *names: str) -> None:
    """From now on whatever is worked out with one of these rows in it ends in a ZeroDivisionError."""
    work = planning.known_before

    def known_before(season: Season, *more: object) -> object:
        if {row.name for row in getattr(season, table)} & set(names):
            raise ZeroDivisionError("division by zero")
        return work(season, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(planning, "known_before", known_before)


@pytest.mark.parametrize(
    ("table", "names", "code", "planned"),
    [
        ("lots", ("B",), "fault-in-lot", "ACD"),
        ("lots", ("A", "D"), "fault-in-lot", "BC"),
        ("companions", ("Violas",), "fault-in-companion", "ABCD"),
        ("displays", ("Tubs",), "fault-in-display", "ABCD"),
        ("places", ("South",), "fault-in-place", "ABCD"),
    ],
)
def test_the_row_that_fails_is_named_and_the_rest_is_planned_and_written(
    table: str, names: tuple[str, ...], code: str, planned: str,
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
) -> None:  # fmt: skip
    season = forcing.load(write_text_folder(tmp_path / "s", TEXT))
    failing(monkeypatch, table, *names)
    made = season.plan(on="2026-10-01")
    assert "".join(sorted(made.lots.index)) == planned
    told = made.findings[made.findings.code == code]
    assert list(told.severity) == ["error"] * len(names) and set(told.table) == {table}
    for name, message in zip(names, told.message, strict=True):
        assert f"could not work out {name}" in message and "ZeroDivisionError" in message
    assert made.write(tmp_path / "out")


def test_a_fault_that_no_row_is_to_blame_for_is_raised(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    season = forcing.load(write_text_folder(tmp_path / "s", TEXT))
    monkeypatch.setattr(planning, "known_before", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        season.plan(on="2026-10-01")


def test_what_is_said_in_words_is_no_fault(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def nothing(*_: object) -> None:
        raise NothingToPlan([])

    season = forcing.load(write_text_folder(tmp_path / "s", TEXT))
    monkeypatch.setattr(planning, "known_before", nothing)
    with pytest.raises(NothingToPlan):
        season.plan(on="2026-10-01")


LOGGED = """
[log]
date       | lot | event      | place
2026-09-20 | A   | cooler in  | Cellar
2026-09-20 | B   | cooler in  | Cellar
2027-02-10 | A   | brought in | South
2027-02-10 | B   | brought in | North
"""


@pytest.mark.parametrize(
    ("command", "broken", "sheet"),
    [
        pytest.param("plan", "forcing.reports.labels.write_labels", "findings.csv", marks=pytest.mark.slow),
        ("outlook", "forcing.reports.outlook.write_outlook", "outlook.csv"),
        ("week", "forcing.reports.week.write_week", "week-2027-W08.pdf"),
        ("review", "forcing.reports.review.write_review", "review.csv"),
    ],
)
def test_a_lot_that_a_sheet_fails_on_is_named_and_the_sheets_are_written_without_it(
    command: str, broken: str, sheet: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    season, out = write_text_folder(tmp_path / "s", TEXT + LOGGED), tmp_path / "out"
    work = pkgutil.resolve_name(broken.replace(".write", ":write"))

    def failing_on_b(of: object, *more: object, **named: object) -> object:
        if "name='B'" in repr(of):
            raise ZeroDivisionError("division by zero")
        return work(of, *more, **named)

    monkeypatch.setattr(broken, failing_on_b)
    result = CliRunner().invoke(main, [command, str(season), "--on", "2027-02-22", "-o", str(out)])
    assert result.exit_code == 1, result.output
    assert "could not work out B, by a fault of its own: ZeroDivisionError" in result.output
    assert "Traceback" not in result.output and "could not work out A" not in result.output
    assert (out / sheet).is_file()
    if command == "plan":
        assert "could not work out B" in (out / sheet).read_text(encoding="utf-8")
        assert {row.split(",")[0] for row in (out / "plan.csv").read_text().splitlines()[1:]} >= {"A", "C"}


@pytest.mark.parametrize("into", ["the season", "its log", "below a file", "a closed folder"])
def test_where_nothing_can_be_written_nothing_is_planned(
    into: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    season, file = write_text_folder(tmp_path / "s", TEXT), tmp_path / "file"
    file.touch()
    out = {"the season": season, "its log": season / "log", "below a file": file / "out"}
    monkeypatch.setattr("forcing.api.work_out", lambda *_: pytest.fail("planned all the same"))
    if into == "a closed folder":  # also where the tests run as one who may write anywhere
        monkeypatch.setattr("os.access", lambda path, mode: not mode & os.W_OK)
    result = CliRunner().invoke(
        main, ["plan", str(season), "-o", str(out.get(into, tmp_path / "new" / "out"))]
    )
    assert result.exit_code == 2 and "cannot write in" in result.output, result.output
    assert not (tmp_path / "new").exists()


def test_a_lot_that_agreeing_fails_on_is_told_and_the_rest_is_agreed(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    season = write_text_folder(tmp_path / "s", TEXT)
    record = pkgutil.resolve_name("forcing.api:agreement_of")

    def failing_on_b(plan: Plan, *more: object, **named: object) -> object:
        if any(planned.lot.name == "B" for planned in plan.lots):
            raise ZeroDivisionError("division by zero")
        return record(plan, *more, **named)

    monkeypatch.setattr("forcing.api.agreement_of", failing_on_b)
    result = CliRunner().invoke(main, ["agree", str(season), "--on", "2026-09-01"])
    assert result.exit_code == 1, result.output
    assert "could not work out B, by a fault of its own: ZeroDivisionError" in result.output
    # One record, of the lots that are left; what was tried on the way is not among the records.
    (kept,) = (season / "agreed").iterdir()
    rows = (kept / "plan.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert {row.split(",")[0] for row in rows} == {"A", "C", "D"}
