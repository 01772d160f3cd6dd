"""On which days lots were looked at: stated, logged, or seen from the days with stages in the log."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from forcing.engine.log import histories, inferred_looks, with_looks
from forcing.model import LogEntry, Lot, Place, Season
from tests.builders import MON_FRI, season
from tests.season_text import read_text

DAY = timedelta(days=1)
MONDAY = date(2027, 3, 1)


def logged(day: date, event: str, lot: str = "A", **other: object) -> LogEntry:
    return LogEntry(day, lot, event, **other)  # type: ignore[arg-type]


def one(*log: LogEntry, **other: object) -> Season:
    begun = (logged(MONDAY - 100 * DAY, "potted"), logged(MONDAY, "brought in", place="Bench"))
    return season([Lot(name, "tulip", 10) for name in "AB"], log=(*begun, *log), **other)


def looks_of(stated: Season, on: date, lot: str = "A") -> list[int]:
    """Days since Monday 1 March on which the lot was looked at."""
    found, _ = with_looks(stated, histories(stated, on)[0], on)
    return [(day - MONDAY).days for day in found[lot].looks]


def test_stated_weekdays_up_to_yesterday_and_today_where_something_is_written() -> None:
    stated = one(looks=frozenset({0, 3}))
    assert looks_of(stated, MONDAY + 13 * DAY) == [3, 7, 10]
    # On Monday the 15th nobody has written anything yet: whether the round is done is not known.
    assert looks_of(stated, MONDAY + 14 * DAY) == [3, 7, 10]
    written = one(logged(MONDAY + 14 * DAY, "potted", "B"), looks=frozenset({0, 3}))
    assert looks_of(written, MONDAY + 14 * DAY) == [3, 7, 10, 14]


def test_nobody_looks_on_a_holiday() -> None:
    closed = MON_FRI.__class__(MON_FRI.weekdays, frozenset({MONDAY + 7 * DAY}))
    assert looks_of(one(looks=frozenset({0, 3}), calendar=closed), MONDAY + 11 * DAY) == [3, 10]


def test_rows_about_the_lot_its_bench_and_what_stands_there_are_looks() -> None:
    rows = (
        logged(MONDAY + 2 * DAY, "lost", pots=1),
        logged(MONDAY + 4 * DAY, "brought in", "B", place="Bench"),
        logged(MONDAY + 9 * DAY, "shoots", "B"),  # beside it
        logged(MONDAY + 10 * DAY, "potted", "B"),  # in the shed
    )
    stated = one(*rows[:3], looks=frozenset({6}))
    assert looks_of(stated, MONDAY + 12 * DAY) == [2, 4, 6, 9]


def test_a_look_may_be_logged_of_a_lot_or_of_a_whole_bench() -> None:
    rows = (logged(MONDAY + 2 * DAY, "looked"), logged(MONDAY + 4 * DAY, "looked", "", place="Bench"))
    assert looks_of(one(*rows, looks=frozenset({6})), MONDAY + 6 * DAY) == [2, 4]


def test_what_stands_elsewhere_says_nothing_of_this_bench() -> None:
    places = (*season().places, Place("Far", "bench", day=16, night=16))
    rows = (
        logged(MONDAY, "potted", "B"), logged(MONDAY + 1 * DAY, "brought in", "B", place="Far"),
        logged(MONDAY + 8 * DAY, "bud", "B"),
    )  # fmt: skip
    assert looks_of(one(*rows, places=places, looks=frozenset({6})), MONDAY + 12 * DAY) == [6]


def test_where_nobody_says_that_anybody_looks_silence_says_nothing() -> None:
    stated = one(logged(MONDAY + 5 * DAY, "lost", pots=1))
    found, notes = with_looks(stated, histories(stated, MONDAY + 9 * DAY)[0], MONDAY + 9 * DAY)
    assert found["A"].looks == () and found["A"].missed == {} and notes == ()


@pytest.mark.parametrize(
    ("days", "weekdays"),
    [
        ([0], {0}),  # one Monday: once a week is likeliest
        ([0, 7, 14, 21], {0}),
        ([0, 3, 7, 10, 14], {0, 3}),
        ([0, 1, 2, 3, 4, 7, 9, 11], {0, 1, 2, 3, 4}),
        # Twelve Mondays and one Wednesday: the Wednesday was by chance.
        ([*range(0, 84, 7), 9], {0}),
        # Mondays and a Saturday off: every fourth look is more than chance.
        ([0, 5, 7, 12, 14, 21, 19, 26], {0, 5}),
    ],
)  # fmt: skip
def test_the_days_of_the_stages_tell_the_days_of_the_looks(days: list[int], weekdays: set[int]) -> None:
    log = [logged(MONDAY + n * DAY, "shoots", f"L{n}") for n in days]
    assert inferred_looks(season(calendar=MON_FRI), log) == weekdays


def test_many_lots_on_one_round_are_one_round() -> None:
    log = [logged(MONDAY + day * DAY, "shoots", f"L{n}") for day in (0, 7) for n in range(30)]
    log.append(logged(MONDAY + 3 * DAY, "bud", "L1"))
    assert inferred_looks(season(calendar=MON_FRI), log) == {0, 3}


def test_it_says_that_the_days_are_inferred_in_one_line_and_not_where_they_are_stated() -> None:
    seen = [logged(MONDAY + n * DAY, stage) for n, stage in ((7, "shoots"), (14, "bud"))]
    stated = one(*seen)
    _, (note,) = with_looks(stated, histories(stated, MONDAY + 20 * DAY)[0], MONDAY + 20 * DAY)
    assert (note.code, note.severity, note.table, note.column) == (
        "looks-inferred",
        "note",
        "season",
        "looks",
    )
    assert note.value == "Mon"
    assert looks_of(stated, MONDAY + 20 * DAY) == [7, 14]
    stated = one(*seen, looks=frozenset({0}))
    assert with_looks(stated, histories(stated, MONDAY + 20 * DAY)[0], MONDAY + 20 * DAY)[1] == ()


def test_how_often_a_stage_is_passed_over_is_learned_from_the_lots_that_are_past_it() -> None:
    # A shows bud without shoots having been written, B both: of two past shoots one was written, of two past bud both.
    rows = [
        logged(MONDAY + 8 * DAY, "bud"), logged(MONDAY, "potted", "B"), logged(MONDAY + 1 * DAY, "brought in", "B"),
        logged(MONDAY + 7 * DAY, "shoots", "B"), logged(MONDAY + 9 * DAY, "bud", "B"),
    ]  # fmt: skip
    stated = one(*rows)
    found, _ = with_looks(stated, histories(stated, MONDAY + 20 * DAY)[0], MONDAY + 20 * DAY)
    assert found["A"].missed == pytest.approx({"shoots": 1 - 1 / 3, "bud": 1 - 2 / 3, "colour": 1.0})


def test_looks_are_written_as_working_days_are() -> None:
    stated, findings = read_text("""
        [season]
        item   | value
        opens  | 2027-03-20
        closes | 2027-04-18
        looks  | Mon, Thu
    """)
    assert stated.looks == frozenset({0, 3})
    assert not [f for f in findings if f.column == "looks"]
