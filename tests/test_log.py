"""The log: what its rows mean for the lots that they name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.engine.log import NOTHING, History, Stay, histories
from forcing.engine.outlook import outlooks
from forcing.engine.parts import as_logged
from forcing.engine.replan import expectation
from forcing.errors import Finding
from forcing.model import LogEntry, Lot, Place, Season
from forcing.reports.entry import expected_events
from forcing.reports.frames import rows_of, steps
from forcing.reports.week.facts import gather
from forcing.season.log_folder import merged_log
from tests.builders import MON_FRI, plan, season, worked
from tests.season_text import ONE_LOT, PLACES, brief, check_findings, read_text
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
    return replace(found.get("A", NOTHING), as_of=None), findings


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


def test_what_went_to_a_room_that_the_season_does_not_have_is_told_and_nothing_stands_in_no_room() -> None:
    log = (
        entry("2026-10-01", "potted"), entry("2026-10-05", "cooler in"), entry("2027-02-08", "held"),
        entry("2027-02-01", "brought in"),
    )  # fmt: skip
    for rooms, row, missing in ((ROOMS[:2], 5, "bench"), (ROOMS[2:], 3, "cooler"), ((), 3, "cooler")):
        lot = Lot("A", "tulip", 20, bloom_class="mid", cooler="Cold", bench="Bench")  # there or not
        made = season((lot,), places=rooms, log=stated(*log).log)
        found, findings = histories(made, TODAY)
        assert all(stay.place for stay in (*found["A"].coolers, *found["A"].moves))
        told = next(f for f in findings if f.row == row)
        assert told.code == "log-contradiction" and f"the season has no {missing}" in told.message


def test_looked_changes_nothing_but_that_somebody_looked() -> None:
    looks = (entry("2027-03-01", "looked"), entry("2027-03-05", "looked"))
    came = (entry("2026-11-11", "cooler in", "Cold"), entry("2027-02-24", "brought in", "Bench"))
    assert history(*came, *looks) == history(*came)
    assert history(*looks) == (NOTHING, ())
    made = stated(*came, *looks)
    days = [
        [(p.potting, p.cooler_in, p.bring_in) for p in plan(s, TODAY).lots] for s in (made, stated(*came))
    ]
    assert days[0] == days[1]  # its bloom may be another: that nothing was seen is evidence too
    assert worked(made, TODAY).plan.season.log == made.log  # kept for who asks when it was looked at


def test_two_coolers_without_a_potting_logged_have_the_potting_planned_for_the_first() -> None:
    """At 11 °C a day of cold counts for little: for Mild a lot would have to be potted in July."""
    places = (*ROOMS, Place("Mild", "cooler", day=11, night=11))
    log = (entry("2026-11-25", "cooler in", "Cold"), entry("2027-01-20", "moved", "Mild"))
    made = plan(stated(*log, places=places), date(2027, 2, 1))
    assert made.lots[0].potting == plan(stated(log[0], places=places), date(2027, 2, 1)).lots[0].potting
    tasks = {t.task: t for t in made.tasks}
    assert (tasks["into cooler"].to, tasks["bring in"].place) == ("Cold", "Mild")


# ---------------------------------------------------------------- parts

CAME = (entry("2026-11-10", "potted"), entry("2026-11-11", "cooler in", "Cold"))


def parts_of(*log: LogEntry) -> tuple[dict[str, tuple[int, list[str]]], tuple[Finding, ...]]:
    """Pots and events of each part of lot A, and what is said of its log."""
    made, findings = as_logged(stated(*log), TODAY)
    return {
        lot.name: (lot.pots, [e.event for e in made.log if e.lot == lot.name]) for lot in made.lots
    }, findings


def test_pots_that_are_brought_in_alone_and_the_rest_are_lots_of_their_own() -> None:
    found, findings = parts_of(
        *CAME, entry("2027-02-20", "brought in", "Bench", 8), entry("2027-02-26", "shoots"),
        entry("2027-03-01", "brought in", "Sill", 5), entry("2027-03-05", "brought in", "Bench"),
        entry("2027-03-06", "shoots"), entry("2027-03-08", "bud", lot="A b"),
    )  # fmt: skip
    assert findings == ()
    early = ["potted", "cooler in", "brought in"]
    assert found == {
        "A a": (8, [*early, "shoots"]),  # 8 of 20
        "A b": (5, [*early, "shoots", "bud"]),  # 5 of the 12 that were left
        "A c": (7, [*early, "shoots"]),  # the others
    }


def test_all_the_pots_there_are_or_more_are_the_whole_lot() -> None:
    lost = entry("2026-12-01", "lost", None, 2)
    for pots in (18, 20, 25, None):
        found, findings = parts_of(*CAME, lost, entry("2027-02-20", "brought in", "Bench", pots))
        assert found == {"A": (20, ["potted", "cooler in", "lost", "brought in"])} and findings == ()
    # 17 of the 18 that were left: one stays behind, and its part is that of which 2 were lost.
    found, _ = parts_of(*CAME, lost, entry("2027-02-20", "brought in", "Bench", 17))
    assert found == {
        "A a": (17, ["potted", "cooler in", "brought in"]),
        "A b": (3, ["potted", "cooler in", "lost"]),
    }


def test_parts_stand_where_their_pots_went_and_share_what_was_before() -> None:
    made = plan(stated(*CAME, entry("2027-02-10", "brought in", "Bench", 8)), date(2027, 2, 12))
    a, b = made.lots
    assert (a.lot.name, a.lot.pots, b.lot.name, b.lot.pots) == ("A a", 8, "A b", 12)
    assert a.bring_in == date(2027, 2, 10) and b.bring_in > date(2027, 2, 12)
    assert a.potting == b.potting == date(2026, 11, 10)
    loads = {load.place: load for load in made.loads}

    def pots(place: str, day: date) -> float:
        return loads[place].pots[(day - loads[place].start).days]

    assert pots("Cold", date(2027, 2, 9)) == 20 and pots("Cold", date(2027, 2, 10)) == 12
    assert pots("Bench", date(2027, 2, 10)) == 8
    assert [f.message for f in made.findings if f.code == "lot-split"] == [
        "A is grown in two parts, A a (8 pots) and A b (12 pots)"
    ]


def test_a_part_is_moved_or_set_out_alone() -> None:
    found, _ = parts_of(
        *CAME, entry("2027-01-05", "moved", "Colder", 5), entry("2027-02-20", "brought in"),
        entry("2027-03-10", "set out", "Court", 9),
    )  # fmt: skip
    # 5 to the colder room, 15 stay; all are brought in; of 9 set out the first 5 are part a, and 4 of part b.
    assert found == {
        "A a": (5, ["potted", "cooler in", "moved", "brought in", "set out"]),
        "A b": (4, ["potted", "cooler in", "brought in", "set out"]),
        "A c": (11, ["potted", "cooler in", "brought in"]),
    }


def test_of_which_part_pots_were_lost_must_be_said() -> None:
    came = (*CAME, entry("2027-02-20", "brought in", "Bench", 8))
    found, findings = parts_of(
        *came, entry("2027-03-01", "lost", None, 1), entry("2027-03-01", "bud", lot="A z")
    )
    assert [(f.code, f.row) for f in findings] == [("part-unknown", 6), ("part-lost-unnamed", 5)]
    assert found == parts_of(*came)[0]
    found, findings = parts_of(*came, entry("2027-03-01", "lost", None, 1, lot="A b"))
    assert found["A b"] == (12, ["potted", "cooler in", "lost"]) and findings == ()


def test_parts_are_named_in_the_log_as_their_lot_is_spelt() -> None:
    log = "[log]\ndate | lot | event | pots\n2027-02-20 | T1 | brought in | 5\n2027-02-26 | t1 A, T1  b | lost | \n"
    text = ONE_LOT + log
    assert [e.lot for e in read(text).log] == ["T1", "T1 a", "T1 b"]
    assert not [f for f in check_findings(text) if f.code == "lot-unknown"]


# ---------------------------------------------------------------- lost, sold, potted


def test_what_is_lost_from_a_day_on_was_there_before_it() -> None:
    lost = (entry("2026-12-01", "lost", None, 5), entry("2027-03-01", "lost", None, 3))
    made = plan(stated(*CAME, entry("2027-02-20", "brought in", "Bench"), *lost), date(2027, 3, 5))
    loads = {load.place: load for load in made.loads}
    cold, bench = loads["Cold"], loads["Bench"]
    assert made.lots[0].lot.pots == 12
    assert [cold.pots[(date(2026, 11, day) - cold.start).days] for day in (11, 30)] == [20, 20]
    assert [cold.pots[(day - cold.start).days] for day in (date(2026, 12, 1), date(2027, 2, 19))] == [15, 15]
    assert [bench.pots[(date(2027, *day) - bench.start).days] for day in ((2, 20), (2, 28), (3, 1))] == [
        15,
        15,
        12,
    ]
    assert {t.task: t.pots for t in made.tasks if t.task in ("pot", "into cooler", "bring in")} == {
        "pot": 20, "into cooler": 20, "bring in": 15,
    }  # fmt: skip
    # In plan.csv: as many as there are at the end of each step.
    rows = [(r["step"], r["pots"]) for r in rows_of(steps(made))]
    assert ("pot", 20) in rows and ("bench", 12) in rows
    assert {pots for step, pots in rows if step in ("root", "cool")} <= {20, 15}


def test_sold_pots_leave_their_place_and_are_not_lost() -> None:
    log = (*CAME, entry("2027-02-20", "brought in", "Bench"), entry("2027-03-10", "sold", None, 8))
    found, findings = history(*log)
    assert findings == () and (found.sold, found.lost, found.ended) == (8, 0, None)
    made = plan(stated(*log), date(2027, 3, 12))
    bench = next(load for load in made.loads if load.place == "Bench")
    assert [bench.pots[(date(2027, 3, day) - bench.start).days] for day in (9, 10)] == [20, 12]


def test_a_lot_that_is_all_sold_ends_that_day() -> None:
    log = (*CAME, entry("2027-02-20", "brought in", "Bench"), entry("2027-03-10", "sold", None, 8),
           entry("2027-03-11", "sold"))  # fmt: skip
    result = worked(stated(*log), date(2027, 3, 12))
    lot = result.plan.lots[0]
    assert result.plan.unplanned == () and lot.lot.pots == 0
    assert lot.steps[-1].span.end == date(2027, 3, 11)
    assert all(task.date < date(2027, 3, 11) for task in result.plan.tasks)
    assert outlooks(result.simulations, date(2027, 3, 12)) == ()
    assert not [f for f in result.plan.findings if f.lot == "A" and f.severity != "note"]
    _, findings = history(*log, entry("2027-03-12", "sold", None, 1))
    assert [(f.code, f.column, f.row) for f in findings] == [("log-contradiction", "pots", 7)]


def test_more_pots_wanted_than_were_potted() -> None:
    """Two lots of 20 of which 12 were potted on 1 November; the others take 20 days to bench and cold of their own."""
    potted = replace(entry("2026-11-01", "potted", None, 12), row=2)
    rooms = tuple(place for place in ROOMS if place.name != "Colder")
    fresh = plan(stated(places=rooms), date(2026, 10, 1)).lots[0]
    season_ = stated(potted, places=rooms)
    made = plan(season_, fresh.potting)
    assert made.lots[0].lot.pots == 12
    found = next(f for f in made.findings if f.code == "pots-not-potted")
    assert (found.lot, found.number, found.days) == ("A", 8, (fresh.potting,))
    # A day later their potting for the target is past: the earliest bloom is what a lot of bulbs just in hand can have.
    later = next(f for f in plan(season_, date(2026, 12, 1)).findings if f.code == "pots-not-potted")
    in_hand = plan(stated(places=rooms, bulbs_in_hand=date(2026, 12, 1)), date(2026, 12, 1))
    assert not in_hand.lots and later.days == (in_hand.unplanned[0].earliest,)
    assert not [
        f for f in plan(stated(replace(potted, pots=20)), fresh.potting).findings if f.code == found.code
    ]


# ---------------------------------------------------------------- overdue, and a log that is not kept


def test_a_move_that_is_overdue_has_one_date_everywhere() -> None:
    """By its plan it is brought in on 16 February; on Thursday the 18th it is to be done now, in every table."""
    log = (*CAME, entry("2026-12-09", "rooted"))
    due = plan(stated(*log), date(2027, 2, 1)).lots[0].bring_in
    assert due == date(2027, 2, 16)
    on = date(2027, 2, 18)
    result = worked(stated(*log), on)
    made = result.plan
    bring_in = next(t for t in made.tasks if t.task == "bring in")
    assert (bring_in.date, bring_in.state, bring_in.was_due) == (on, "overdue", due)
    assert [s.span.start for s in made.lots[0].steps if s.step == "bench"] == [on] == [made.lots[0].bring_in]
    known = expectation(result.simulations[0], on)
    assert known is not None and known.plan.bring_in == on
    cold = next(load for load in made.loads if load.place == "Cold")
    assert [cold.pots[(date(2027, 2, day) - cold.start).days] for day in (17, 18)] == [20, 0]
    # On a Saturday nobody carries pots: Monday, for all of them. Three weeks on it was done and not logged.
    saturday = plan(stated(*log, calendar=MON_FRI), date(2027, 2, 20))
    assert saturday.lots[0].bring_in == date(2027, 2, 22)
    late = worked(stated(*log), date(2027, 3, 10))
    assert late.plan.lots[0].bring_in == due and late.plan.lots[0].was_due == ()


def test_a_log_that_is_not_kept_is_one_note_a_lot() -> None:
    two = season(
        [Lot(name, "tulip", 20, bloom_class="mid", bench="Bench") for name in "AB"],
        places=ROOMS, log=(*CAME, entry("2026-12-09", "rooted", lot="B")),
    )  # fmt: skip
    made = plan(two, date(2027, 3, 17))
    week = Span(date(2027, 3, 15), date(2027, 3, 22))
    states = {(t.lot, t.task): t.state for t in made.tasks}
    # A: roots on 9 December, bring in on 16 February and shoots after it are all behind.
    assert {states["A", task] for task in ("root check", "bring in", "check shoots")} == {"not logged"}
    assert not [t for t in made.tasks if t.state == "overdue"]
    notes = {f.lot: f for f in made.findings if f.code == "log-not-kept"}
    assert notes.keys() == {"A", "B"} and all(f.severity == "note" for f in notes.values())
    assert notes["A"].message.startswith("A: nothing is logged since 2026-11-11; expected by now: root check")
    assert notes["B"].message.startswith(
        "B: nothing is logged since 2026-12-09; expected by now: bring in 2027-02-22"
    )
    lines = gather(made, week).unkept
    # nobody goes back to a root check of fourteen weeks ago
    assert lines[0].startswith("Bring in: A ") and lines[0].endswith(", B 22 Feb")
    assert not any(line.startswith("Root check") for line in lines)
    asked = [e.event for e in expected_events(made, week) if e.lot.lot.name == "A"]
    assert asked[:3] == ["rooted", "brought in", "shoots"]  # the entry workbook still takes them
    nobody = plan(replace(two, log=()), date(2027, 3, 15))
    assert not [f for f in nobody.findings if f.code == "log-not-kept"]


def test_one_thing_behind_is_a_task_and_not_a_note() -> None:
    made = plan(stated(*CAME), date(2026, 12, 20))
    assert [(t.task, t.state) for t in made.tasks if t.date < date(2026, 12, 20)][-1] == (
        "root check",
        "overdue",
    )
    assert not [f for f in made.findings if f.code == "log-not-kept"]


def test_after_closing_open_tasks_close_and_say_so() -> None:
    """The show is open from 20 March to 18 April."""
    open_ = plan(stated(*CAME), date(2027, 4, 18))
    over = plan(stated(*CAME), date(2027, 4, 19))
    assert "closed" not in {t.state for t in open_.tasks}
    assert {t.state for t in over.tasks} == {"done", "closed"}
    found = next(f for f in over.findings if f.code == "show-over")
    assert found.number == sum(t.state == "closed" for t in over.tasks) > 0
    week = Span(date(2027, 4, 19), date(2027, 4, 26))
    facts = gather(over, week)
    assert facts.overdue == () and facts.days == ()
    assert facts.unkept == (f"The show has closed: {found.number:.0f} tasks that were not logged are closed",)


# ---------------------------------------------------------------- whatever is logged

EVENTS = ("potted", "cooler in", "rooted", "brought in", "moved", "looked", "bud", "bloom", "held", "set out", "sold",
          "faded", "lost")  # fmt: skip
rows = st.builds(
    lambda day, event, lot, place, pots: LogEntry(date(2026, 11, 1) + timedelta(days=day), lot, event, place, pots),
    st.integers(0, 150), st.sampled_from(EVENTS), st.sampled_from("ABC"),
    st.sampled_from((None, "Cold", "Colder", "Bench", "Sill", "Court")), st.one_of(st.none(), st.integers(0, 25)),
)  # fmt: skip


def three(log: Iterable[LogEntry]) -> Season:
    lots = [Lot(name, "tulip", pots) for name, pots in (("A", 20), ("B", 12), ("C", 1))]
    return season(lots, places=ROOMS, log=tuple(replace(e, row=i) for i, e in enumerate(log, start=2)))


@settings(max_examples=60, deadline=None)
@given(st.lists(rows, max_size=12), rows)
def test_a_row_more_changes_the_log_of_the_lots_that_it_names(log: list[LogEntry], more: LogEntry) -> None:
    def others(stated: Season) -> tuple[object, ...]:
        made, findings = as_logged(stated, TODAY)
        found, faults = histories(made, TODAY)
        mine = {lot.name for lot in made.lots if lot.stated_name == more.lot}
        lots = [lot for lot in made.lots if lot.name not in mine]
        told = {
            f for f in (*findings, *faults) if f.lot not in (more.lot, *mine) and f.code != "log-after-today"
        }
        return lots, {lot.name: found.get(lot.name) for lot in lots}, told

    assert others(three([*log, more])) == others(three(log))


@settings(max_examples=60, deadline=None)
@given(st.lists(rows, max_size=14))
def test_no_pot_comes_or_goes_by_dividing(log: list[LogEntry]) -> None:
    """Counted row by row: the parts of a lot together have the pots that were potted, and no name twice."""
    stated_ = three(log)
    made, _ = as_logged(stated_, TODAY)
    names = [lot.name for lot in made.lots]
    assert len(set(names)) == len(names)
    for lot in stated_.lots:
        potted = next(
            (e.pots for e in sorted(stated_.log, key=lambda e: (e.date, e.row or 0))
             if e.event == "potted" and e.lot == lot.name and e.date <= TODAY and e.pots), lot.pots,
        )  # fmt: skip
        parts = [part for part in made.lots if part.stated_name == lot.name]
        assert sum(part.pots for part in parts) == min(potted, lot.pots)
        assert all(part.pots > 0 for part in parts)


@settings(max_examples=60, deadline=None)
@given(st.lists(rows, max_size=10), st.lists(rows, max_size=10))
def test_a_file_that_lies_there_twice_says_no_more(own: list[LogEntry], other: list[LogEntry]) -> None:
    theirs = [replace(e, found_in="log/anna.csv") for e in other]
    copy = [replace(e, found_in="log/copy of anna.csv") for e in other]
    once, twice = merged_log([*own, *theirs]), merged_log([*own, *theirs, *copy])
    assert twice == once
    stated_by_own = Counter((e.date, e.lot, e.event) for e in own)
    assert all(Counter((e.date, e.lot, e.event) for e in once)[key] >= n for key, n in stated_by_own.items())


@settings(max_examples=15, deadline=None)
@given(rows.filter(lambda e: e.lot == "A" and e.event != "looked"))
def test_a_row_more_leaves_the_moves_of_lots_in_other_rooms(more: LogEntry) -> None:
    """A and B share no room: what B learns of the season from A moves its bloom, not what is to be done with it."""
    lots = [
        Lot("A", "tulip", 20, bloom_class="mid", cooler="Cold", bench="Bench"),
        Lot("B", "hyacinth", 12, cooler="Colder", bench="Sill"),
    ]
    before = (entry("2026-11-02", "potted", lot="B"), entry("2026-11-03", "cooler in", "Colder", lot="B"))
    place = more.place if more.place in ("Cold", "Bench", None) else None
    given_ = {"places": ROOMS, "looks": frozenset({0, 3})}
    on = date(2027, 3, 1)
    plain_ = plan(season(lots, log=before, **given_), on)
    changed = plan(season(lots, log=(*before, replace(more, place=place, row=4)), **given_), on)
    moves = [
        [(p.potting, p.cooler_in, p.rooted, p.bring_in, p.lot.pots) for p in (made.lot("B"),)]
        for made in (plain_, changed)
    ]
    assert moves[0] == moves[1]
    work = [
        [
            (t.key, t.date, t.state)
            for t in made.tasks
            if t.lot == "B" and t.task in ("pot", "into cooler", "bring in")
        ]
        for made in (plain_, changed)
    ]
    assert work[0] == work[1]
