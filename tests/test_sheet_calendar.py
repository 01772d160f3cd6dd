"""tasks.ics against RFC 5545 (2009), read back with two parsers that share no code: icalendar and vobject.

Sections of RFC 5545: 3.1 lines end in CRLF and fold at 75 octets; 3.3.11 escapes in text; 3.6.1 all-day events, whose
DTEND is the day after; 3.8.2.7 TRANSP; 3.8.4.7 UID; 3.8.7.4 SEQUENCE; 3.8.1.11 STATUS. RFC 9562 (2024) 5.5 and
Python's uuid module for the name-based identifiers.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import icalendar
import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from forcing.errors import OutputError
from forcing.model import Plan, Task
from forcing.reports.calendar import NAMESPACE, read_earlier, summary, write_calendar
from forcing.reports.task_words import Whose
from tests.sample import sample_plan

CREATED = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
LATER = datetime(2026, 11, 10, 9, 30, tzinfo=UTC)


def write(plan: Plan, folder: Path, created: datetime = CREATED) -> Path:
    return write_calendar(plan, folder / "tasks.ics", created=created)


def events(path: Path) -> dict[str, icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(path.read_bytes())
    assert not calendar.errors
    found = calendar.walk("VEVENT")
    assert all(not event.errors for event in found)
    assert len({str(e["uid"]) for e in found}) == len(found)
    return {str(event["uid"]): event for event in found}


def uid(task: Task, year: int = 2027) -> str:
    return str(uuid.uuid5(NAMESPACE, f"{year}/{task.key}"))


def moved(plan: Plan, task: Task, days: int) -> Plan:
    shifted = replace(task, date=task.date + timedelta(days=days))
    return replace(plan, tasks=tuple(shifted if t.key == task.key else t for t in plan.tasks))


def without(plan: Plan, task: Task) -> Plan:
    return replace(plan, tasks=tuple(t for t in plan.tasks if t.key != task.key))


def next_task(plan: Plan) -> Task:
    return next(t for t in plan.tasks if t.date >= plan.on)


def only(*tasks: Task, **changes: object) -> Plan:
    return replace(sample_plan(5), tasks=tasks, **changes)  # type: ignore[arg-type]


TASK = Task("bring in/T004/1", date(2027, 2, 28), "T004", "bring in", 24, 0.7, "Cold room North", "Bench 1",
            "shoots 2-5 cm; even", ("lifting", "cold room"))  # fmt: skip


@pytest.mark.parametrize("lots", [0, 1, 5, 200])
def test_one_event_a_task_and_two_parsers_agree(lots, tmp_path):
    plan = sample_plan(lots)
    path = write(plan, tmp_path)
    ours = events(path)
    assert ours.keys() == {uid(t) for t in plan.tasks}
    other = vobject.readOne(path.read_text(encoding="utf-8"))
    assert other.validate(raiseException=True)
    theirs = {e.uid.value: e for e in getattr(other, "vevent_list", [])}
    assert theirs.keys() == ours.keys()
    for task in plan.tasks:
        event = theirs[uid(task)]
        assert event.dtstart.value == task.date
        assert event.dtend.value == task.date + timedelta(days=1)
        assert event.summary.value == str(ours[uid(task)]["summary"])


def test_an_event_says_all_of_its_task(tmp_path):
    event = events(write(only(TASK), tmp_path))[uid(TASK)]
    assert str(event["summary"]) == "Bring in T004 Ivory (24 pots)"
    assert str(event["location"]) == "Cold room North → Bench 1"
    assert event["categories"].to_ical() == b"bring in"
    assert str(event["transp"]) == "TRANSPARENT"
    assert str(event["status"]) == "CONFIRMED"
    assert event["sequence"] == 0
    about = str(event["description"])
    assert about.startswith("Look for: shoots 2-5 cm; even\n\nCautions of the day. Labels, local codes")
    assert about.count("\n\nLifting: ") == 1 and "\n\nCold room: " in about


def test_the_cautions_of_a_day_stand_in_full_once(tmp_path):
    # a calendar lists a day by its summaries: 'Bring in T004 ...' comes before 'Move T001 ...'
    move = replace(
        TASK, key="move/T001/1", lot="T001", task="move", look_for="", cautions=("wet floor", "lifting")
    )
    look = replace(TASK, key="check bud/T002/1", lot="T002", task="check bud", cautions=())
    later = replace(move, key="move/T001/2", date=TASK.date + timedelta(days=1))
    found = events(write(only(move, TASK, look, later), tmp_path))
    about = {task.key: str(found[uid(task)].get("description", "")) for task in (TASK, move, look, later)}
    first = about[TASK.key]
    assert all(first.count(f"\n\n{lead}: ") == 1 for lead in ("Lifting", "Cold room", "Wet floors"))
    assert about[move.key] == (
        "Cautions: wet floor, lifting; in full with the first task of the day, Bring in T004 Ivory (24 pots)."
    )
    assert about[look.key] == "Look for: shoots 2-5 cm; even"
    assert about[later.key].startswith("Cautions of the day.") and "Cold room" not in about[later.key]


def test_the_lines_of_one_file_by_hand(tmp_path):
    task = Task(
        "step down/Cold room North/1", date(2026, 12, 31), None, "step down", 0, 0.5, "Cold room North"
    )
    lines = write(only(task), tmp_path).read_bytes().split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""]
    for line in (
        b"VERSION:2.0",
        b"PRODID:-//forcing//task calendar 1//EN",
        b"CALSCALE:GREGORIAN",
        "NAME:Spring in the Orangery – fenêtre sur cour".encode(),
        b"SUMMARY:Step down Cold room North",
        b"LOCATION:Cold room North",
        b"DTSTART;VALUE=DATE:20261231",
        b"DTEND;VALUE=DATE:20270101",  # the day after, over the new year
        b"DTSTAMP:20261103T120000Z",
        b"SEQUENCE:0",
        b"TRANSP:TRANSPARENT",
        b"CATEGORIES:step down",
    ):
        assert lines.count(line) == 1, line
    # no METHOD (a PUBLISH would need an ORGANIZER, RFC 5546 3.2.1), and nothing empty
    assert not [line for line in lines if line.startswith((b"METHOD", b"DESCRIPTION", b"LOCATION:\r"))]


@pytest.mark.parametrize(
    ("day", "after"),
    [
        (date(2028, 2, 28), date(2028, 2, 29)),
        (date(2028, 2, 29), date(2028, 3, 1)),
        (date(2027, 2, 28), date(2027, 3, 1)),
        (date(2026, 3, 29), date(2026, 3, 30)),
    ],
)
def test_dtend_is_the_next_day_also_in_leap_years_and_at_clock_changes(day, after, tmp_path):
    event = events(write(only(replace(TASK, date=day)), tmp_path))[uid(TASK)]
    assert (event.decoded("dtstart"), event.decoded("dtend")) == (day, after)
    assert type(event.decoded("dtstart")) is date


def test_summary_of_odd_tasks():
    whose = {"T1": Whose("mid", None, "tulip"), "T2": Whose(None, "Ivory", "tulip")}
    assert summary(replace(TASK, lot="T1", pots=1), whose) == "Bring in T1 tulip (1 pot)"
    assert summary(replace(TASK, lot="T2", pots=1234.5), whose) == "Bring in T2 Ivory (1,234.5 pots)"
    assert summary(replace(TASK, lot="T2", pots=0), whose) == "Bring in T2 Ivory"
    assert summary(replace(TASK, lot="T3"), whose) == "Bring in T3 (24 pots)"
    assert summary(replace(TASK, lot=None, place=None, to=None), whose) == "Bring in"


NASTY = (
    'Zoë, "Åsa"; back\\slash: colon', "é" * 200, "日本の桜" * 30, "a" * 74 + "é" * 80, "emoji 🌷🌷" * 20,
    "tab\there\r\nnew\x07\x1bline", "BEGIN:VEVENT\r\nUID:x", "x" * 74, "x" * 75, "x" * 76,
)  # fmt: skip


@pytest.mark.parametrize("name", NASTY)
def test_lines_fold_within_75_octets_and_text_comes_back(name, tmp_path):
    task = replace(TASK, look_for=name, place=name, task=name)
    plan = only(task)
    plan = replace(plan, season=replace(plan.season, title=name))
    raw = write(plan, tmp_path).read_bytes()
    check_lines(raw)
    event = events(tmp_path / "tasks.ics")[uid(task)]
    kept = " ".join("".join(c if c.isprintable() else " " for c in name).split())
    assert str(event["description"]).splitlines()[0] == f"Look for: {kept}"
    assert str(event["location"]) == f"{kept} → Bench 1"
    assert [str(c) for c in event["categories"].cats] == [kept]
    assert vobject.readOne(raw.decode()).validate(raiseException=True)


def check_lines(raw: bytes) -> None:
    assert raw.endswith(b"\r\n")
    for line in raw.split(b"\r\n"):
        assert len(line) <= 75, line
        assert b"\n" not in line and b"\r" not in line
        line.decode("utf-8")  # a fold never splits a character


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=120), st.text(min_size=1, max_size=60), st.integers(0, 400))
def test_any_text_gives_a_valid_file(tmp_path_factory, words, name, days):
    task = replace(TASK, look_for=words, lot=name, task=name, date=date(2027, 1, 1) + timedelta(days=days))
    plan = only(task)
    plan = replace(plan, season=replace(plan.season, title=words))
    path = write(plan, tmp_path_factory.mktemp("any"))
    check_lines(path.read_bytes())
    (event,) = events(path).values()
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1)
    assert vobject.readOne(path.read_bytes().decode()).validate(raiseException=True)


# ---------------------------------------------------------------- the same event from plan to plan


def test_same_bytes_in_any_row_order_and_when_written_again(tmp_path):
    plan = sample_plan(30)
    first = write(plan, tmp_path / "a").read_bytes()
    assert write(plan, tmp_path / "a").read_bytes() == first
    season = replace(plan.season, lots=tuple(reversed(plan.season.lots)))
    turned = replace(plan, season=season, lots=tuple(reversed(plan.lots)), tasks=tuple(reversed(plan.tasks)))
    assert write(turned, tmp_path / "b").read_bytes() == first


def test_a_moved_task_keeps_its_uid_and_raises_its_sequence_once_a_move(tmp_path):
    plan = sample_plan(5)
    task = next_task(plan)
    write(plan, tmp_path)
    for turn, days in enumerate((3, -2, 10), start=1):
        plan = moved(plan, next(t for t in plan.tasks if t.key == task.key), days)
        found = events(write(plan, tmp_path, LATER))
        assert found[uid(task)]["sequence"] == turn
        assert found[uid(task)].decoded("dtstart") == next(t.date for t in plan.tasks if t.key == task.key)
        assert {e["sequence"] for u, e in found.items() if u != uid(task)} == {0}
        assert events(write(plan, tmp_path, LATER))[uid(task)]["sequence"] == turn  # written again: no change
    assert len(found) == len(plan.tasks)


def test_other_words_on_the_same_day_keep_the_sequence(tmp_path):
    plan = sample_plan(5)
    task = next_task(plan)
    write(plan, tmp_path)
    other = replace(plan, tasks=tuple(replace(t, pots=99.0) if t.key == task.key else t for t in plan.tasks))
    event = events(write(other, tmp_path, LATER))[uid(task)]
    assert event["sequence"] == 0 and "(99 pots)" in str(event["summary"])
    assert event.decoded("dtstamp") == LATER


def test_a_task_that_is_gone_is_cancelled_and_comes_back_confirmed(tmp_path):
    plan = sample_plan(5)
    task = next_task(plan)
    before = str(events(write(plan, tmp_path))[uid(task)]["summary"])
    for _ in range(2):  # the second time changes nothing more
        event = events(write(without(plan, task), tmp_path, LATER))[uid(task)]
        assert (str(event["status"]), event["sequence"]) == ("CANCELLED", 1)
        assert event.decoded("dtstart") == task.date and str(event["summary"]) == before
    event = events(write(plan, tmp_path, LATER))[uid(task)]
    assert (str(event["status"]), event["sequence"]) == ("CONFIRMED", 2)
    vobject.readOne((tmp_path / "tasks.ics").read_text(encoding="utf-8")).validate(raiseException=True)


@pytest.mark.parametrize(("offset", "kept"), [(-1, False), (0, True), (1, True)])
def test_what_is_past_and_gone_is_left_alone(offset, kept, tmp_path):
    plan = only(TASK)
    write(plan, tmp_path)
    later = only(on=TASK.date - timedelta(days=offset))
    assert (uid(TASK) in events(write(later, tmp_path, LATER))) is kept


def test_uids_are_those_of_the_show_year_so_that_next_season_moves_nothing(tmp_path):
    plan = only(TASK)
    assert list(events(write(plan, tmp_path))) == [uid(TASK)]
    span = plan.season.span
    late = replace(plan.season, span=replace(span, start=span.start + timedelta(days=7)), title="Renamed")
    assert list(events(write(replace(plan, season=late), tmp_path))) == [uid(TASK)]
    year = timedelta(days=364)
    following = replace(plan.season, span=replace(span, start=span.start + year, end=span.end + year))
    next_plan = only(replace(TASK, date=TASK.date + year), season=following, on=date(2027, 11, 3))
    assert list(events(write(next_plan, tmp_path))) == [uid(TASK, 2028)]


def test_the_namespace_never_changes():
    # changing it would double every event that people have imported
    assert uuid.UUID("df971492-ff0d-4d92-b656-4ec10720c54d") == NAMESPACE


# ---------------------------------------------------------------- what may lie at the path already


@pytest.mark.parametrize(
    "old",
    [
        b"",
        b"\x00\xff\xfe nonsense",
        b"BEGIN:VCALENDAR\r\n",
        b"BEGIN:VEVENT\r\nUID:1\r\nEND:VEVENT\r\n",
        b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nBEGIN:VEVENT\r\nUID:00000000-0000-0000-0000-000000000000"
        b"\r\nDTSTART;VALUE=DATE:20280101\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
    ],
)
def test_a_file_that_is_broken_or_not_ours_is_ignored(old, tmp_path):
    fresh = write(sample_plan(5), tmp_path / "fresh").read_bytes()
    (tmp_path / "tasks.ics").write_bytes(old)
    assert write(sample_plan(5), tmp_path).read_bytes() == fresh


@pytest.mark.parametrize(
    ("line", "instead"),
    [
        (b"DTSTART;VALUE=DATE:20270228", b"DTSTART:20270228T080000Z"),
        (b"DTSTART;VALUE=DATE:20270228", b"DTSTART;VALUE=DATE:20271399"),
        (b"DTSTART;VALUE=DATE:20270228\r\n", b""),
        (b"SEQUENCE:0", b"SEQUENCE:often"),
        (b"SEQUENCE:0", b"SEQUENCE:-4"),
        (b"UID:", b"UID:not-one-of-ours-"),
        (b"UID:", b"X-UID:"),
    ],
)
def test_one_broken_event_in_an_earlier_file_is_ignored(line, instead, tmp_path):
    path = write(only(TASK), tmp_path)
    raw = path.read_bytes()
    assert line in raw
    path.write_bytes(raw.replace(line, instead))
    found = events(write(only(TASK), tmp_path))
    assert list(found) == [uid(TASK)] and found[uid(TASK)]["sequence"] == 0


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_earlier_file_never_stops_the_writing(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("damaged")
    path = write(only(TASK), folder)
    raw = path.read_bytes()
    start = data.draw(st.integers(0, len(raw)))
    end = data.draw(st.integers(start, min(len(raw), start + 40)))
    path.write_bytes(raw[:start] + data.draw(st.binary(max_size=12)) + raw[end:])
    for old in read_earlier(path).values():
        assert type(old.day) is date and old.sequence >= 0
    assert uid(TASK) in events(write(only(TASK), folder))


def test_dtstamp_is_utc_whatever_zone_the_moment_is_told_in(tmp_path):
    for moment in (
        datetime(2026, 11, 3, 7, 0, 0, 999, tzinfo=timezone(timedelta(hours=-5))),  # 07:00-05:00 is 12:00 UTC
        datetime(2026, 11, 3, 12, 0),  # without a zone: taken as UTC
    ):
        assert b"DTSTAMP:20261103T120000Z\r\n" in write(only(TASK), tmp_path, moment).read_bytes()


def test_a_path_that_cannot_be_written_is_an_output_error(tmp_path):
    (tmp_path / "tasks.ics").mkdir()
    with pytest.raises(OutputError):
        write(only(TASK), tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["tasks.ics"]
