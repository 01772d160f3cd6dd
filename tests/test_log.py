"""The log: what its rows mean for the lots that they name."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from forcing.engine.log import NOTHING, History, Stay, histories
from forcing.errors import Finding
from forcing.model import LogEntry, Lot, Place, Season
from tests.builders import plan, season, worked
from tests.season_text import PLACES, brief, check_findings, read_text
from tests.season_text import season as read

ROOMS = (
    Place("Cold", "cooler", day=9, night=9), Place("Colder", "cooler", day=3, night=3),
    Place("Bench", "bench", day=16, night=16), Place("Sill", "bench", day=14, night=14),
    Place("Court", "site", day=8, night=8),
)  # fmt: skip
TODAY = date(2027, 3, 15)


def entry(
    day: str, event: str, place: str | None = None, pots: int | None = None, lot: str = "A"
) -> LogEntry:
    return LogEntry(date.fromisoformat(day), lot, event, place, pots)  # type: ignore[arg-type]


def stated(*log: LogEntry, **other: object) -> Season:
    """Lot A of 20 tulips and its log, a row each from row 2 on."""
    rows = tuple(replace(e, row=i) for i, e in enumerate(log, start=2))
    given = {"places": ROOMS, "log": rows} | other
    return season((Lot("A", "tulip", 20, bloom_class="mid", bench="Bench"),), **given)


def history(*log: LogEntry) -> tuple[History, tuple[Finding, ...]]:
    found, findings = histories(stated(*log), TODAY)
    return found.get("A", NOTHING), findings


# ---------------------------------------------------------------- rows of several lots

THREE = PLACES + "[lots]\nlot | crop | pots\nT1 | tulip | 20\nT2 | tulip | 30\nRed,  white | tulip | 10\n"


def test_a_row_may_name_several_lots_and_is_a_row_of_each() -> None:
    text = THREE + "[log]\ndate | lot | event | place\n2026-10-05 | t2 , T1,T2 | cooler in | cellar\n"
    assert read(text).log == (
        LogEntry(date(2026, 10, 5), "T2", "cooler in", "Cellar", row=2),
        LogEntry(date(2026, 10, 5), "T1", "cooler in", "Cellar", row=2),
    )


def test_a_lot_with_a_comma_in_its_name_is_one_lot() -> None:
    rows = ("red, white", "T1, Red,white, T2", "Red ,White,")
    log = "".join(f"2026-10-05 | {lots} | potted\n" for lots in rows)
    named = [e.lot for e in read(THREE + "[log]\ndate | lot | event\n" + log).log]
    assert named == ["Red, white", "T1", "Red, white", "T2", "Red, white"]


def test_a_name_among_several_that_is_no_lot_is_told_by_itself() -> None:
    found = check_findings(THREE + "[log]\ndate | lot | event\n2026-10-05 | T1, T7, T2 | potted\n")
    assert [(f.code, f.row, f.value) for f in found if f.table == "log"] == [("lot-unknown", 2, "T7")]


def test_pots_of_several_lots_are_not_guessed() -> None:
    log = "[log]\ndate | lot | event | pots\n2026-10-05 | T1, T2 | lost | 3\n2026-10-06 | T1 | lost | 1\n"
    made, findings = read_text(THREE + log)
    assert "error pots-of-several log 2 pots" in brief(list(findings))
    assert [(e.lot, e.pots) for e in made.log] == [("T1", 1)]


# ---------------------------------------------------------------- moved, looked


def test_from_one_cooler_to_another_once_rooted_is_everyday_work() -> None:
    for event in ("moved", "cooler in"):
        found, findings = history(
            entry("2026-11-10", "potted"), entry("2026-11-11", "cooler in", "Cold"), entry("2026-12-08", "rooted"),
            entry("2026-12-09", event, "Colder"),
        )  # fmt: skip
        assert findings == ()
        assert found.coolers == (
            Stay("cool", "Cold", date(2026, 11, 11)),
            Stay("cool", "Colder", date(2026, 12, 9)),
        )


def test_moved_keeps_the_phase_that_a_lot_is_in() -> None:
    found, findings = history(
        entry("2026-11-11", "cooler in", "Cold"), entry("2027-02-24", "brought in", "Bench"),
        entry("2027-03-01", "moved", "Sill"), entry("2027-03-05", "held", "Cold"),
        entry("2027-03-06", "moved", "Colder"),
        entry("2027-03-08", "set out", "Court"), entry("2027-03-10", "moved", "Sill"),
    )  # fmt: skip
    assert findings == ()
    assert found.brought_in == date(2027, 2, 24)
    assert [(s.step, s.place) for s in found.moves] == [
        ("bench", "Bench"), ("bench", "Sill"), ("hold", "Cold"), ("hold", "Colder"), ("harden", "Court"),
        ("harden", "Sill"),
    ]  # fmt: skip


def test_moves_that_cannot_be_are_told() -> None:
    came = (entry("2026-11-11", "cooler in", "Cold"), entry("2027-02-24", "brought in", "Bench"))
    cases = [
        ((entry("2026-11-12", "moved", "Colder"),), "event"),  # from where?
        ((*came, entry("2027-03-01", "moved")), "place"),  # to where?
        ((*came, entry("2027-03-01", "moved", "Bench")), "place"),  # it stands there
        ((*came, entry("2027-03-01", "moved", "Cold")), "event"),  # that is a hold
        ((came[0], entry("2027-03-01", "moved", "Sill")), "event"),  # that is bringing in
    ]
    for log, column in cases:
        found, findings = history(*log)
        assert [(f.code, f.row, f.column) for f in findings] == [("log-contradiction", len(log) + 1, column)]
        assert found == history(*log[:-1])[0]


def test_looked_changes_nothing_but_that_somebody_looked() -> None:
    looks = (entry("2027-03-01", "looked"), entry("2027-03-05", "looked"))
    came = (entry("2026-11-11", "cooler in", "Cold"), entry("2027-02-24", "brought in", "Bench"))
    assert history(*came, *looks) == history(*came)
    assert history(*looks) == (NOTHING, ())
    made = stated(*came, *looks)
    assert plan(made, TODAY).lots == plan(stated(*came), TODAY).lots
    assert worked(made, TODAY).plan.season.log == made.log  # kept for who asks when it was looked at


def test_two_coolers_without_a_potting_logged_have_the_potting_planned_for_the_first() -> None:
    """At 11 °C a day of cold counts for little: for Mild a lot would have to be potted in July."""
    places = (*ROOMS, Place("Mild", "cooler", day=11, night=11))
    log = (entry("2026-11-25", "cooler in", "Cold"), entry("2027-01-20", "moved", "Mild"))
    made = plan(stated(*log, places=places), date(2027, 2, 1))
    assert made.lots[0].potting == plan(stated(log[0], places=places), date(2027, 2, 1)).lots[0].potting
    tasks = {t.task: t for t in made.tasks}
    assert (tasks["into cooler"].to, tasks["bring in"].place) == ("Cold", "Mild")
