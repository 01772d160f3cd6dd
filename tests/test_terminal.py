"""What the terminal says: few lines however many findings, severities in word and colour, JSON that a program reads."""

from __future__ import annotations

import json
import textwrap
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from forcing.api import PlannedSeason, SeasonOutlook, load
from forcing.cli import main
from forcing.engine.outlook import outlooks
from forcing.errors import Finding, Severity
from forcing.terminal import plan_data, say_json, say_outlook, say_plan

SMALL = Path(__file__).parents[1] / "examples" / "small-season"


def forcing(*words: str | Path, **named: object) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words], **named)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def planned() -> PlannedSeason:
    return load(SMALL).plan(on="2026-11-09")


def with_findings(planned: PlannedSeason, *findings: Finding) -> PlannedSeason:
    plan = replace(planned.result.plan, findings=findings)
    return replace(planned, result=replace(planned.result, plan=plan))


def many(count: int, severity: Severity) -> list[Finding]:
    return [
        Finding(f"made-up-{n}", severity, "lots", n, "lot", f"lot {n} has a fault of its own", "Mend it." * 9)
        for n in range(2, count + 2)
    ]


def test_a_plan_ends_in_25_lines_of_80_letters_however_much_is_wrong(
    planned: PlannedSeason, capsys: pytest.CaptureFixture[str]
) -> None:
    say_plan(with_findings(planned, *many(300, "warning"), *many(2, "error")), [Path("out/plan.csv")])
    said = capsys.readouterr().out
    lines = [part for line in said.splitlines() for part in textwrap.wrap(line, 80) or [""]]
    assert len(lines) <= 25
    # Each of the findings is told or counted, the errors before the warnings
    told = sum(line.startswith("warning: lots, row") for line in said.splitlines())
    assert f"{300 - told} warnings more: see findings.csv." in said
    assert said.count("error: lots, row") == 2
    *_, dates, written = said.splitlines()
    assert written == "Written: 1 file in out" and dates.startswith("Next ")


def test_an_outlook_ends_in_25_lines_and_does_not_tell_twice_who_is_late(
    planned: PlannedSeason, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two hundred lots, three long problems, one of which is what the outlook itself tells."""
    late = Finding(
        "lot-late", "warning", "lots", 3, "target bloom", "lot L1 is 9 days late", "Warm it.", lot="L1"
    )
    made = with_findings(planned, *many(300, "warning"), late)
    first = outlooks(made.result.simulations, made.on)[0]
    two_hundred = (
        replace(first, lot=f"L{n}", likely=first.target + timedelta(days=n % 9)) for n in range(200)
    )
    seen = SeasonOutlook(made, tuple(two_hundred))
    say_outlook(made, seen, [Path("out/outlook.csv")])
    said = capsys.readouterr().out
    assert sum(max(1, len(textwrap.wrap(line, 80))) for line in said.splitlines()) <= 25
    assert "9 days late" not in said and "lots, row" not in said and "has a fault of its own" in said
    assert "see outlook.csv" in said


def test_frost_goes_before_what_cannot_wait_and_that_before_what_is_late_and_full(
    planned: PlannedSeason,
) -> None:
    on, far = date(2026, 11, 9), date(2027, 3, 20)

    def of(code: str, severity: Severity = "warning", **fields: object) -> Finding:
        return Finding(code, severity, "lots", None, None, f"{code} {fields}", "Do it.", **fields)  # type: ignore[arg-type]

    made = with_findings(
        planned, of("place-overfull", number=500.0), of("lot-late", number=9.0), of("log-after-today", "note"),
        of("lot-unplanned", "error"), of("frost-day-off", days=(far,)), of("cover-too-thin", days=(on,)),
        of("lot-late", number=20.0),
    )  # fmt: skip
    codes = [problem.code for problem in made.matters.problems if problem.code]
    # a frost night of next March is nothing to see to yet, but goes before notes; of two late lots the later goes first
    assert codes == [
        "cover-too-thin", "lot-unplanned", "lot-late", "lot-late", "place-overfull", "frost-day-off", "log-after-today",
    ]  # fmt: skip
    assert [p.weight for p in made.matters.problems if p.code == "lot-late"] == [20.0, 9.0]
    assert [p.kind for p in made.matters.problems if p.code == "frost-day-off"] == ["note"]
    assert len(made.matters.first) == 3 and "log-after-today" not in {p.code for p in made.matters.first}


def test_severity_stands_in_words_and_colour_unless_colour_is_not_wanted(tmp_path: Path) -> None:
    (tmp_path / "season.csv").write_text("item,value\nopens,2027-03-20\ncloses,2027-05-02\n")
    (tmp_path / "lots.csv").write_text("lot,crop,pots\nA,tullip,10\n")
    coloured = forcing("check", tmp_path, color=True).output
    assert "\x1b[31m\x1b[1merror:\x1b[0m " in coloured
    plain = forcing("check", tmp_path, color=True, env={"NO_COLOR": "1"}).output
    assert "\x1b" not in plain and "\nerror: lots, row 2, crop" in f"\n{plain}"
    assert "\x1b" not in forcing("check", tmp_path).output, "nor in a pipe"
    found = json.loads(forcing("check", tmp_path, "--json", "--on", "2026-11-09").stdout)
    assert found["on"] == "2026-11-09" and found["findings"][0]["severity"] == "error"
    assert (found["findings"][0]["row"], found["findings"][0]["value"]) == (2, "tullip")
    unread = json.loads(forcing("plan", tmp_path / "none", "--json").stdout or "null")
    assert unread is None or unread["findings"]


def test_a_plan_as_json_has_its_dates_in_iso_and_its_files(
    planned: PlannedSeason, capsys: pytest.CaptureFixture[str]
) -> None:
    say_json(**plan_data(planned, [Path("out/plan.csv")]))
    said = json.loads(capsys.readouterr().out)
    assert said["on"] == "2026-11-09" and said["files"] == ["out/plan.csv"]
    # of its tasks the first bringing in from that day on
    coming = [
        t.date for t in planned.result.plan.tasks if t.task == "bring in" and t.date >= date(2026, 11, 9)
    ]
    assert said["next"]["bring in"] == min(coming).isoformat()
    assert set(said["planned"]) == {lot.name for lot in load(SMALL).stated.lots} and said["unplanned"] == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_is_told_how_to_complete_words(shell: str) -> None:
    words = forcing(env={"_FORCING_COMPLETE": f"{shell}_source"}, prog_name="forcing").stdout
    assert "_FORCING_COMPLETE" in words and "forcing" in words
