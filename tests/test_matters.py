"""What matters first: findings of one cause as one, the order of problems, dates as on the sheets."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forcing.dates import DAY, WorkCalendar
from forcing.engine.frost import FrostNight
from forcing.errors import Finding, Several, merged
from forcing.model import LogEntry, Lot, RoundWork, Task
from forcing.reports.matters import above_freezing, in_words, matters, problem_of, problems_of
from tests.builders import house_figures, season, worked

FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=25, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
)  # fmt: skip


def off(lot: str, row: int, day: date, number: float = 1) -> Finding:
    many = Several("{count} lots are set out on {days}: {names} ({least} to {most})", "Set them out before.")
    return Finding(
        "install-day-off", "warning", "lots", row, "install", f"{lot} on a day off", f"Set {lot} out before.",
        str(day), lot=lot, days=(day,), number=number, several=many,
    )  # fmt: skip


def test_findings_of_one_cause_are_one_with_all_its_lots_rows_and_days() -> None:
    found = [
        off("C9", 11, date(2027, 3, 29), 2),
        Finding("other", "note", "lots", 3, None, "something else", "Do it."),
        off("M10", 7, date(2027, 3, 26), 5),
        off("A1", 2, date(2027, 3, 29)),
    ]
    one, other = merged(found)
    assert other == found[1]
    # the largest number first; days in order, each once; rows in order
    assert one.message == "3 lots are set out on 2027-03-26 and 2027-03-29: M10, C9 and A1 (1 to 5)"
    assert one.lots == one.about == ("M10", "C9", "A1") and one.lot is None
    assert one.days == (date(2027, 3, 26), date(2027, 3, 29)) and one.number == 5
    assert str(one).startswith("lots, rows 2, 7 and 11, install: 3 lots are set out on")
    assert str(one).endswith("Set them out before.") and one.value is None


def test_rows_that_say_the_same_are_one_and_a_finding_alone_stays_as_it_is() -> None:
    slip = [
        Finding("crop-unknown", "error", "lots", n, "crop", "unknown crop", "Mend it.", "tullip")
        for n in (4, 2)
    ]
    assert [str(f) for f in merged(slip)] == ["lots, rows 2 and 4, crop: unknown crop (tullip). Mend it."]
    assert merged([slip[0], off("C9", 3, date(2027, 3, 29))]) == (slip[0], off("C9", 3, date(2027, 3, 29)))


def test_dates_in_a_text_are_shown_as_on_the_sheets() -> None:
    on = date(2026, 11, 9)
    # 20 March 2027 is a Saturday; 2028 is too far from November 2026 to go without its year
    assert in_words("from 2027-03-20 to 2028-03-20", on) == "from Sat 20 Mar to Mon 20 Mar 2028"
    assert (
        in_words("Sat 2027-03-20, in 2027-W11, 2027-02-30, 2027-W60", on)
        == "Sat 20 Mar, in the week of Mon 15 Mar, 2027-02-30, 2027-W60"
    )


def late_by(on: str) -> list[Finding]:
    """A lot on a bench at 16 °C that needs more days than its target leaves, as seen on some day."""
    made = worked(
        season(
            [Lot("A", "tulip", 10, target=date(2027, 3, 1))], overrides=FIGURES,
            log=tuple(
                LogEntry(date.fromisoformat(day), "A", event)  # type: ignore[arg-type]
                for day, event in (("2026-11-17", "potted"), ("2026-11-18", "cooler in"), ("2027-02-24", "brought in"),
                                   ("2027-03-20", "bloom"))
                if day <= on
            ),
        ),
        on=date.fromisoformat(on),
    )  # fmt: skip
    return [f for f in made.plan.findings if f.code == "lot-late"]


@pytest.mark.parametrize(
    ("on", "severity", "words"),
    [("2027-02-01", "warning", "Bring it in sooner"), ("2027-03-01", "warning", "Warm its bench"),
     ("2027-03-22", "note", "Nothing brings those days back")],
)  # fmt: skip
def test_a_late_lot_is_told_only_what_can_still_be_done(on: str, severity: str, words: str) -> None:
    (late,) = late_by(on)
    assert late.severity == severity and late.hint.startswith(words)


def test_one_day_late_is_no_matter_unless_others_are_later() -> None:
    many = Several("{count} lots are {least_to_most} late: {names}", "Warm them.")
    late = [
        Finding("lot-late", "warning", "lots", row, None, f"{lot} is late", "Warm it.", lot=lot, number=days,
                days=(date(2027, 3, 20),), several=many)
        for row, (lot, days) in enumerate((("A", 1), ("B", 2), ("C", 5), ("D", 1)), start=2)
    ]  # fmt: skip
    made = worked(season([Lot("A", "tulip", 10)], overrides=FIGURES), on=date(2027, 3, 10)).plan
    # the count is that of the outlook: all that are late
    (told,) = problems_of(made, late)
    assert (told.kind, told.what) == ("late", "4 lots are 1 to 5 days late: C, B, A and D")
    (told,) = problems_of(made, [late[0], late[3]])
    assert (told.kind, told.what) == ("note", "2 lots are 1 day late: A and D")


def test_what_is_overdue_waits_for_the_first_day_on_which_somebody_works() -> None:
    # Mon 28 December 2026; closed until Sun 3 January
    closed = WorkCalendar(frozenset(range(5)), frozenset(date(2026, 12, 28) + n * DAY for n in range(5)))
    plan = worked(season([Lot("A", "tulip", 10)], overrides=FIGURES), on=date(2026, 12, 28)).plan
    late = Task("a", date(2026, 12, 21), "A", "root check", 1, 0.1, None, state="overdue")
    for calendar, words in ((closed, "first thing on Mon 4 Jan"), (WorkCalendar(), "before anything else")):
        shown = replace(plan, tasks=(late,), season=replace(plan.season, calendar=calendar))
        (told,) = (p for p in matters(shown, ()).problems if p.what.startswith("One task is overdue"))
        assert told.do == f"Do it {words}; where it is done, write it into the log."


def test_the_daily_round_counts_in_the_busiest_week() -> None:
    # one task of 3 h on Tue 10 Nov, and from Wed 18 Nov on an hour of round a day: 5 h in that week, 7 in the next
    plan = replace(
        worked(season([Lot("A", "tulip", 10)], overrides=FIGURES), on=date(2026, 11, 9)).plan,
        tasks=(Task("a", date(2026, 11, 10), None, "pot", 1, 3.0, None),),
        rounds=(
            RoundWork("Bench", "water", (0,), tuple((date(2026, 11, 18) + n * DAY, 1.0) for n in range(12))),
        ),
    )
    assert matters(plan, ()).busiest == ("2026-W48", 7.0)
    # those before the day of the plan are done: from Mon 23 Nov on a week of 7 h, and on Sat 28 Nov 2 h are left of it
    assert matters(replace(plan, on=date(2026, 11, 28)), ()).busiest == ("2026-W48", 2.0)


def test_what_is_over_matters_no_more() -> None:
    made = worked(season([Lot("A", "tulip", 10)], overrides=FIGURES), on=date(2027, 3, 10)).plan
    over = Finding(
        "bloom-outdoors",
        "warning",
        "lots",
        2,
        None,
        "A is set out in bud",
        "Later.",
        days=(date(2027, 3, 9),),
    )
    today = replace(over, days=(date(2027, 3, 10),))
    far = replace(
        over, code="frost-day-off", days=(date(2027, 4, 1),)
    )  # 22 days off: three weeks are time enough
    assert [problem_of(f, made).kind for f in (over, today, far)] == ["note", "risk", "note"]
    assert problem_of(replace(far, days=(date(2027, 3, 31),)), made).kind == "risk"


def test_days_that_are_all_the_same_are_told_once() -> None:
    def late(lot: str, days: float) -> Finding:
        many = Several("{count} lots are {least_to_most} late", "Warm them.")
        return Finding(
            "lot-late", "warning", "lots", None, None, lot, "Warm it.", lot=lot, number=days, several=many
        )

    for days, words in (((1, 1), "1 day"), ((3, 3), "3 days"), ((2, 1), "1 to 2 days")):
        (one,) = merged(late(lot, each) for lot, each in zip("AB", days, strict=True))
        assert one.message == f"2 lots are {words} late"


def test_a_warning_that_is_far_off_stands_before_notes_however_much_they_weigh() -> None:
    # As seen on 9 November: nobody is in on Sun 7 March, four months off; a note weighs 100 pots for one day.
    made = worked(season([Lot("A", "tulip", 100)], overrides=FIGURES), on=date(2026, 11, 9)).plan
    note = Finding("half-degree", "note", "lots", 2, None, "A is close", "Read.", lot="A")
    far = Finding("frost-day-off", "warning", "season", None, None, "no working day", "Find someone.",
                  days=(date(2027, 3, 7),))  # fmt: skip
    found = problems_of(made, [note, far])
    assert [(p.code, p.kind) for p in found] == [("frost-day-off", "note"), ("half-degree", "note")]
    assert found[1].weight == 100 > found[0].weight


def test_what_a_night_above_freezing_threatens_goes_by_the_margin_that_is_stated() -> None:
    # Leaves that may be 4 °C colder than air of 3 °C may freeze; 2 °C colder they do not, and it is cold alone.
    night = FrostNight(
        date(2026, 11, 3), "Frame", "Frame", 0, 3.0, "Basil", 0.0, None, 1, kind="frame", margin=4.0
    )
    assert above_freezing([night]) == "ground frost possible"
    assert above_freezing([replace(night, margin=2.0)]) == "too cold for Basil"
