"""The house's own jobs: days counted back across weekends and holidays, hours kept, cautions, findings."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.dates import Span, WorkCalendar
from forcing.engine.climate import build_climate
from forcing.engine.context import Context
from forcing.engine.work.house_work import ALLOWED, CEMENT, job_steps, plan_jobs, recurring
from forcing.engine.work.tasks import CAUTIONS
from forcing.model import Display, Job, Place, Reading, Task
from tests.builders import MON_FRI, season
from tests.season_text import ONE_LOT, brief, check_findings, reading_findings
from tests.season_text import season as read

DAY = timedelta(days=1)
ON = Context(date(2026, 11, 2))
OPENS = date(2027, 3, 20)  # a Saturday
# Cast troughs, by the garden craft pages: 3 to 4 weeks of slow curing, 7 to 10 days of leaching; 38 d in all
# after casting at the longest, so that casting starts 40 days before the opening at the latest.
CAST = Job("Troughs", "cast", 40, 1, 6, "cement, lifting", 2)
CURE = Job("Troughs", "cure", 39, 28, 0, "", 3)
LEACH = Job("Troughs", "leach", 11, 10, 2, "wet floor", 4)
TROUGHS = (CAST, CURE, LEACH)


def tasks_of(*jobs: Job, on: date = ON.on, **other: Any) -> tuple[Task, ...]:
    tasks, findings = plan_jobs(season(**other), jobs, Context(on))
    assert {f.code for f in findings} <= {"cast-not-washed"}  # of a part of the chain
    return tasks


def spans(*jobs: Job, **other: Any) -> list[Span]:
    return [step.span for step in job_steps(season(**other), jobs)[0]]


# ---------------------------------------------------------------- days


def test_a_chain_by_hand_with_every_day_worked() -> None:
    # 40, 39 and 11 days before Saturday 20 March 2027: 8 February, 9 February, 9 March
    assert spans(*TROUGHS) == [
        Span(date(2027, 2, 8), date(2027, 2, 9)),
        Span(date(2027, 2, 9), date(2027, 3, 9)),
        Span(date(2027, 3, 9), date(2027, 3, 19)),
    ]
    tasks = tasks_of(*TROUGHS)
    assert [(t.date, t.task) for t in tasks[:2]] == [
        (date(2027, 2, 8), "Troughs: cast"), (date(2027, 2, 9), "Troughs: cure"),
    ]  # fmt: skip
    assert [t.date for t in tasks[2:]] == list(Span(date(2027, 3, 9), date(2027, 3, 19)))
    assert {t.hours for t in tasks[2:]} == {0.2}  # 2 h over 10 days
    assert tasks[1].look_for == "until 2027-03-08" and tasks[1].hours == 0
    assert tasks[4].look_for == "day 3 of 10; until 2027-03-18"
    assert all(t.lot is None and t.place is None for t in tasks)


def test_a_chain_across_a_closed_week_moves_as_one() -> None:
    # Closed from 5 to 9 March, Mon-Fri otherwise. Leaching: Tuesday 9 March -> Thursday 4 March, 5 days earlier.
    # Curing must then be over by 4 March: 28 d before is Thursday 4 February. Casting by the 3rd, a Wednesday.
    calendar = WorkCalendar(frozenset(range(5)), frozenset(date(2027, 3, 5) + DAY * i for i in range(5)))
    assert [s.start for s in spans(*TROUGHS, calendar=calendar)] == [
        date(2027, 2, 3), date(2027, 2, 4), date(2027, 3, 4),
    ]  # fmt: skip
    leach = [t for t in tasks_of(*TROUGHS, calendar=calendar) if "leach" in t.task]
    # it still ends on the 18th: worked on the 4th, from Wednesday the 10th to Friday the 12th, Monday to Thursday
    assert [t.date.day for t in leach] == [4, 10, 11, 12, 15, 16, 17, 18] and {t.hours for t in leach} == {
        0.25
    }


def test_a_day_off_moves_a_step_earlier_never_later() -> None:
    # 8 February 2027 is a Monday; one day less before is Sunday the 7th -> Friday the 5th
    assert spans(Job("Signs", "paint", 41), calendar=MON_FRI)[0].start == date(2027, 2, 5)
    assert spans(Job("Signs", "paint", 40), calendar=MON_FRI)[0].start == date(2027, 2, 8)
    # over the turn of the year: 80 d before is 30 December; closed from the 24th to 1 January -> the 23rd
    closed = WorkCalendar(frozenset(range(5)), frozenset(date(2026, 12, 24) + DAY * i for i in range(9)))
    assert spans(Job("Signs", "paint", 80), calendar=closed)[0].start == date(2026, 12, 23)


def test_a_step_that_moved_to_friday_keeps_the_days_after_the_weekend() -> None:
    # three days of casting, 41 d before: Sunday 7 February -> Friday the 5th; then Monday the 8th and Tuesday the 9th
    tasks = tasks_of(Job("Troughs", "cast", 41, 3, 12, "cement"), calendar=MON_FRI)
    assert [(t.date.day, t.hours) for t in tasks] == [(5, 4.0), (8, 4.0), (9, 4.0)]


TUBS = (Display("Tubs", 4, "Cold", Span(date(2027, 4, 3), date(2027, 4, 20))),)


def test_days_are_counted_to_the_opening_of_a_display_or_to_a_day() -> None:
    # 10 days before 3 April, 1 March and the show's own 20 March.
    jobs = [Job("Signs", "hang", 10, counted_to=to) for to in ("Tubs", date(2027, 3, 1), None)]
    starts = [spans(replace(job, name=f"Signs {n}"), displays=TUBS)[0].start for n, job in enumerate(jobs)]
    assert starts == [date(2027, 3, 24), date(2027, 2, 19), date(2027, 3, 10)]
    # What recurs without a duration goes on until then; told of a step that lasts longer.
    (found,) = plan_jobs(season(displays=TUBS), (replace(jobs[0], duration_days=11, row=2),), ON)[1]
    assert found.code == "job-late" and "starts 10 days before Tubs opens but lasts 11" in found.message
    (found,) = plan_jobs(season(), (replace(jobs[1], duration_days=11, row=2),), ON)[1]
    assert "starts 10 days before 2027-03-01 but lasts 11" in found.message


def test_steps_that_say_nothing_go_by_the_one_of_their_job_that_does() -> None:
    # Leaching to 3 April instead of 20 March: a fortnight later, and casting and curing with it.
    later = [s.start + 14 * DAY for s in spans(*TROUGHS)]
    told = (CAST, CURE, replace(LEACH, counted_to="Tubs"))
    assert [s.start for s in spans(*told, displays=TUBS)] == later
    # Where two are said, each goes by its own and the third by the show: 39 days before it, 9 February.
    mixed = (replace(CAST, counted_to=date(2027, 2, 20)), CURE, replace(LEACH, counted_to="Tubs"))
    assert [s.start for s in spans(*mixed, displays=TUBS)] == [
        date(2027, 1, 11), date(2027, 2, 9), later[2],
    ]  # fmt: skip


def test_a_step_pushes_those_before_it_whatever_they_are_counted_to() -> None:
    # Paint from 1 March for 9 days, then hang on 10 March: closed that day, so hung on the 9th and painted from
    # 28 February.
    jobs = (
        Job("Signs", "paint", 9, 9, counted_to=date(2027, 3, 10)),
        Job("Signs", "hang", 24, counted_to="Tubs"),
    )
    assert [s.start for s in spans(*jobs, displays=TUBS)] == [date(2027, 3, 1), date(2027, 3, 10)]
    closed = WorkCalendar(holidays=frozenset({date(2027, 3, 10)}))
    starts = [s.start for s in spans(*jobs, displays=TUBS, calendar=closed)]
    assert starts == [date(2027, 2, 28), date(2027, 3, 9)]


TEXT = """
[displays]
display | containers | site
Tubs    | 4          | Terrace

[jobs]
job   | step  | days before | counted to
Signs | paint | 9           | {}
"""


@pytest.mark.parametrize(
    ("cell", "stated"),
    [("", None), ("tubs", "Tubs"), ("2027-03-01", date(2027, 3, 1)), ("Lawn", "Lawn")],
)
def test_a_job_is_read_as_a_person_writes_it(cell: str, stated: str | date | None) -> None:
    text = ONE_LOT + TEXT.format(cell)
    assert read(text).jobs[0].counted_to == stated
    unknown = ["error display-unknown jobs 2 counted to"] if cell == "Lawn" else []
    assert [line for line in brief(check_findings(text)) if " jobs " in line] == unknown
    # A step that cannot be placed is left out, and nothing else is lost with it.
    assert len(plan_jobs(read(text), read(text).jobs, ON)[0]) == (0 if unknown else 1)


@pytest.mark.parametrize(
    ("cell", "code"),
    [("2027-02-30", "cell-date"), ("3/4/2027", "cell-date-ambiguous"), ("1999-03-01", "day-impossible")],
)
def test_a_day_that_is_none_is_refused(cell: str, code: str) -> None:
    (found,) = [f for f in reading_findings(ONE_LOT + TEXT.format(cell)) if f.table == "jobs"]
    assert (found.code, found.row, found.column) == (code, 2, "counted to")


def test_a_leap_day_counts_as_a_day() -> None:
    # 1 March 2028 less one day is 29 February; 2027 has none
    assert spans(Job("Signs", "hang", 1), opens=date(2028, 3, 1))[0].start == date(2028, 2, 29)
    assert spans(Job("Signs", "hang", 1), opens=date(2027, 3, 1))[0].start == date(2027, 2, 28)


def test_steps_side_by_side_do_not_push_each_other() -> None:
    jobs = (
        Job("Signs", "paint frames", 20, 10),
        Job("Signs", "print boards", 20, 5),
        Job("Signs", "hang", 2),
    )
    assert [s.start.day for s in spans(*jobs)] == [28, 28, 18]  # 20 d before 20 March is 28 February
    assert job_steps(season(), jobs)[1] == ()


def test_chains_of_other_names_go_their_own_ways() -> None:
    calendar = WorkCalendar(holidays=frozenset({date(2027, 3, 9)}))
    other = Job(
        "Boxes", "oil", 20, 9
    )  # 28 February to 9 March: not pushed by leaching, which moves to the 8th
    assert spans(*TROUGHS, other, calendar=calendar)[3].start == date(2027, 2, 28)


def test_no_jobs_no_tasks() -> None:
    assert plan_jobs(season(), (), ON) == ((), ())


def test_a_few_minutes_over_many_days_are_never_less_than_none() -> None:
    # 0.01 h over 20 days is 0.0005 h a day: rounded up each day would leave -0.009 h for the last
    hours = [t.hours for t in tasks_of(Job("Signs", "look at", 20, 20, 0.01))]
    assert len(hours) == 20 and min(hours) == 0 and sum(hours) == pytest.approx(0.01)


# ---------------------------------------------------------------- work that recurs


def test_a_round_on_two_weekdays_by_hand() -> None:
    # 14 days before Saturday 20 March is Saturday 6 March; Mondays the 8th and 15th, Thursdays the 11th and 18th.
    tasks = tasks_of(Job("House", "air", 14, 14, 0.5, every=(0, 3)))
    assert [(t.date.day, t.hours) for t in tasks] == [(8, 0.5), (11, 0.5), (15, 0.5), (18, 0.5)]
    assert [t.key for t in tasks][::3] == ["job/House/air/1", "job/House/air/4"]
    assert tasks[1].look_for == "day 2 of 4; until 2027-03-19" and tasks[1].task == "House: air"


def test_an_interval_counts_from_the_first_day() -> None:
    # from Saturday 6 March every 5 days: 6, 11, 16; the 21st is past the end (20 March, not included)
    assert [t.date.day for t in tasks_of(Job("House", "water", 14, 14, every=5))] == [6, 11, 16]
    assert [t.date.day for t in tasks_of(Job("House", "water", 14, 15, every=5))] == [6, 11, 16]
    assert [t.date.day for t in tasks_of(Job("House", "water", 14, 16, every=5))] == [6, 11, 16, 21]


def test_what_recurs_on_a_day_off_is_done_the_working_day_before_and_once() -> None:
    # Mon-Fri, closed on Monday the 15th. From Friday the 5th (the 6th is a Saturday) daily: Saturdays, Sundays and the
    # 15th fall on the Friday before, which has its own round already.
    closed = WorkCalendar(frozenset(range(5)), frozenset({date(2027, 3, 15)}))
    daily = tasks_of(Job("House", "round", 14, 14, 1.0, every=1), calendar=closed)
    assert [t.date.day for t in daily] == [5, 8, 9, 10, 11, 12, 16, 17, 18, 19]
    # on Mondays: the 8th; for the 15th Friday the 12th
    mondays = tasks_of(Job("House", "round", 14, 14, 1.0, every=(0,)), calendar=closed)
    assert [t.date.day for t in mondays] == [8, 12]


def test_a_round_may_go_on_into_the_show_and_beside_other_steps() -> None:
    jobs = (Job("House", "round", 10, 40, 0.5, every=1), Job("House", "hang signs", 2))
    tasks, findings = plan_jobs(season(), jobs, ON)
    assert findings == () and sum("round" in t.task for t in tasks) == 40


def test_a_round_without_a_day_is_told() -> None:
    # Saturday 6 to Sunday 7 March: no Wednesday
    (found,) = plan_jobs(season(), (Job("House", "air", 14, 2, every=(2,), row=4),), ON)[1]
    assert (found.code, found.severity, found.row, found.column) == ("job-no-day", "warning", 4, "every")
    assert "from 2027-03-06 to 2027-03-07" in found.message


@pytest.mark.parametrize("every", [0, -3, (), (7,), (-1, 2)])
def test_a_repeat_that_is_none_is_an_error(every: Any) -> None:
    tasks, findings = plan_jobs(season(), (Job("House", "air", 14, 9, every=every, row=4),), ON)
    assert tasks == () and [(f.code, f.row, f.column) for f in findings] == [("job-every", 4, "every")]


@settings(max_examples=150, deadline=None)
@given(
    start=st.dates(date(2026, 8, 1), date(2027, 6, 1)),
    days=st.integers(0, 60),
    every=st.one_of(st.integers(1, 40), st.frozensets(st.integers(0, 6), min_size=1)),
)
def test_recurring_days_are_those_of_a_plain_loop(start: date, days: int, every: Any) -> None:
    by_hand = [
        start + DAY * i
        for i in range(days)
        if (i % every == 0 if isinstance(every, int) else (start + DAY * i).weekday() in every)
    ]
    assert recurring(Span(start, start + DAY * days), every) == by_hand


# ---------------------------------------------------------------- properties

JOBS = st.lists(
    st.builds(
        Job,
        name=st.sampled_from(["Troughs", "signs", "Signs "]),
        step=st.sampled_from(["cast", "paint", "hang"]),
        days_before=st.integers(0, 200),
        duration_days=st.integers(1, 40),
        hours=st.floats(0, 300),
    ),
    max_size=7,
)
CALENDARS = st.builds(
    WorkCalendar,
    st.frozensets(st.integers(0, 6), min_size=1),
    st.frozensets(st.dates(date(2026, 8, 1), OPENS), max_size=30),
)


@settings(max_examples=120, deadline=None)
@given(jobs=JOBS, calendar=CALENDARS)
def test_hours_and_lead_times_are_kept_and_keys_differ(jobs: list[Job], calendar: WorkCalendar) -> None:
    stated = season(calendar=calendar)
    tasks, _ = plan_jobs(stated, jobs, ON)
    steps, _ = job_steps(stated, jobs)
    assert len({t.key for t in tasks}) == len(tasks)
    assert all(calendar.works(t.date) and t.hours >= 0 for t in tasks)
    # hours are shown to a thousandth
    assert math.isclose(
        sum(t.hours for t in tasks), sum(j.hours for j in jobs), abs_tol=0.001 * len(jobs) + 1e-9
    )
    for step in steps:
        assert calendar.works(step.span.start) and step.span.days >= step.job.duration_days
        assert step.span.start <= OPENS - DAY * step.job.days_before
    for one in steps:
        for other in steps:
            same = one.job.name.strip().casefold() == other.job.name.strip().casefold()
            if same and one.job.days_before - one.job.duration_days >= other.job.days_before:
                assert one.span.end <= other.span.start


# ---------------------------------------------------------------- cautions and states


def test_cautions_pass_through_and_unknown_ones_are_told() -> None:
    assert set(ALLOWED) == {*CAUTIONS, "cement"}
    jobs = (Job("Roof", "wash glass", 9, caution=" Ladder ; WET  floor,ladder", row=7),
            Job("Roof", "clear gutter", 8, caution="height, ladder", row=8))  # fmt: skip
    tasks, findings = plan_jobs(season(), jobs, ON)
    assert [t.cautions for t in tasks] == [("ladder", "wet floor"), ("ladder",)]
    (found,) = findings
    assert (found.code, found.severity, found.table, found.row, found.column, found.value) == (
        "job-caution-unknown", "warning", "jobs", 8, "caution", "height",
    )  # fmt: skip
    assert "cement" in found.hint and "ladder" in found.hint


@pytest.mark.parametrize(
    ("name", "step", "warned"),
    [
        ("Troughs", "cast", True), ("Troughs", "Casting the lids", True), ("Hypertufa bowls", "mix", True),
        ("Path", "mix concrete", True), ("Troughs", "demould", True), ("Troughs", "cure", True),
        ("Signs", "put up the forecast", False),
        ("Signs", "paint", False),
    ],
)  # fmt: skip
def test_work_with_cement_carries_its_caution_unasked(name: str, step: str, warned: bool) -> None:
    # NIOSH and OSHA on wet cement: caustic, burns come late
    for hours in (0, 5):
        (task, *_) = tasks_of(Job(name, step, 60, 30, hours))
        assert (CEMENT in task.cautions) is warned
    assert tasks_of(CAST)[0].cautions == ("cement", "lifting")  # once only


def test_states_as_seen_on_a_day() -> None:
    tasks = tasks_of(*TROUGHS, on=date(2027, 2, 9))
    assert [t.state for t in tasks[:3]] == ["not logged", "due", "planned"]


def test_keys_stay_when_the_opening_moves() -> None:
    keys = [t.key for t in tasks_of(*TROUGHS)]
    assert keys[:3] == ["job/Troughs/cast/1", "job/Troughs/cure/1", "job/Troughs/leach/1"]
    assert keys == [t.key for t in tasks_of(*TROUGHS, opens=date(2027, 3, 27))]
    twice = tasks_of(Job("Signs", "paint", 30), Job("Signs", "paint", 20))
    assert [t.key for t in twice] == ["job/Signs/paint/1", "job/Signs/paint 2/1"]


# ---------------------------------------------------------------- findings


def test_steps_that_cannot_be_understood_are_all_told_and_the_others_go_on() -> None:
    jobs = (
        Job(" ", "paint", 3, row=2),
        Job("Signs", "", 3, row=3),
        Job("Signs", "paint", -1, row=4),
        Job("Signs", "paint", 3661, row=5),
        Job("Signs", "paint", 3, 0, row=6),
        Job("Signs", "paint", 3, 1, -1.0, row=7),
        Job("Signs", "paint", 3, 1, math.nan, row=8),
        Job("Signs", "paint", -1, 0, math.inf, "height", 9),
        Job("Signs", "hang", 0, row=10),
    )
    tasks, findings = plan_jobs(season(), jobs, ON)
    assert [t.task for t in tasks] == ["Signs: hang"]
    assert [(f.code, f.row, f.column) for f in findings if f.severity == "error"] == [
        ("job-unnamed", 2, "job"),
        ("job-unnamed", 3, "step"),
        ("job-days", 4, "days before"),
        ("job-days", 5, "days before"),
        ("job-duration", 6, "duration days"),
        ("job-hours", 7, "hours"),
        ("job-hours", 8, "hours"),
        ("job-days", 9, "days before"),
        ("job-duration", 9, "duration days"),
        ("job-hours", 9, "hours"),
    ]
    assert [f.row for f in findings if f.code == "job-caution-unknown"] == [9]
    assert str(findings[0]) == "jobs, row 2, job: (no job): paint lacks a name. Fill in the job."


def test_a_step_that_lasts_past_the_opening_is_told() -> None:
    _, findings = plan_jobs(season(), (Job("Signs", "dry", 5, 6, row=2),), ON)
    assert [f.code for f in findings] == ["job-late"]
    assert "starts 5 days before the opening but lasts 6" in findings[0].message
    assert plan_jobs(season(), (Job("Signs", "dry", 6, 6),), ON)[1] == ()  # over on the eve


def test_a_step_that_overlaps_the_next_is_noted() -> None:
    jobs = (Job("Signs", "paint", 10, 6, row=2), Job("Signs", "hang", 5, 1, row=3))
    (found,) = plan_jobs(season(), jobs, ON)[1]
    assert (found.code, found.severity, found.row) == ("job-overlap", "note", 2)
    assert "is not over when hang starts 5 days before the opening" in found.message
    assert plan_jobs(season(), (Job("Signs", "paint", 10, 5), jobs[1]), ON)[1] == ()


@pytest.mark.parametrize(
    ("step", "least"), [("cure", 21), ("slow curing", 21), ("leach", 7), ("leaching", 7)]
)
def test_curing_and_leaching_shorter_than_print_is_told(step: str, least: int) -> None:
    # garden craft pages on hypertufa: cure 21 to 28 d, fill and drain 7 to 10 d
    short = plan_jobs(season(), (Job("Troughs", step, 60, least - 1),), ON)[1]
    assert [(f.code, f.value) for f in short] == [("job-short", str(least - 1))]
    assert plan_jobs(season(), (Job("Troughs", step, 60, least),), ON)[1] == ()


def test_work_up_high_and_with_sprays_carries_its_caution_unasked() -> None:
    assert tasks_of(Job("Entrance", "hang the baskets", 20, 1, 3))[0].cautions == ("ladder",)
    assert tasks_of(Job("Benches", "spray against aphids", 20, 1, 1))[0].cautions == ("chemicals",)
    assert tasks_of(Job("Entrance", "sweep the steps", 20, 1, 1))[0].cautions == ()


@pytest.mark.parametrize(
    ("steps", "lacking"),
    [
        ("cast cure leach", None), ("cast", "curing or leaching"), ("cast cure", "leaching"), ("cast leach", "curing"),
        ("paint", None), ("mix concrete", None),
    ],
)  # fmt: skip
def test_what_is_cast_is_cured_and_washed_before_it_is_planted(steps: str, lacking: str | None) -> None:
    parts = [steps] if steps == "mix concrete" else steps.split()
    chain = [Job("Tubs", step, 90 - 30 * i, 28) for i, step in enumerate(parts)]
    _, found = plan_jobs(season(), chain, ON)
    told = [f.message for f in found if f.code == "cast-not-washed"]
    assert told == (
        []
        if lacking is None
        else [f"Tubs: {parts[-1]} is of a job that casts, and none of its steps is {lacking}"]
    )


@pytest.mark.parametrize(
    ("low", "kind", "severity"),
    [
        (-0.1, "site", "warning"),
        (0, "site", "note"),
        (4.9, "frame", "note"),
        (5, "site", None),
        (-5, "bench", None),
    ],
)
def test_concrete_does_not_cure_where_nights_are_too_cold(
    low: float, kind: str, severity: str | None
) -> None:
    """From 9 February on nights are that cold; up to 31 January they are at 6 °C: 28 mild days begin on 4 January."""
    days = [date(2026, 11, 1) + i * DAY for i in range(150)]
    made = season(
        places=(Place("Yard", kind),),  # type: ignore[arg-type]
        readings=tuple(Reading("Yard", day, 6.0 if day < date(2027, 2, 1) else low, 12.0) for day in days),
    )
    _, found = plan_jobs(made, [CAST, replace(CURE, place="Yard"), LEACH], ON, build_climate(made))
    assert [f.severity for f in found] == ([] if severity is None else [severity])
    if severity is not None:
        assert "28 nights are colder than 5 °C from 2027-02-09 to 2027-03-08" in found[0].message
        assert "have it begin by 2027-01-04" in found[0].hint
