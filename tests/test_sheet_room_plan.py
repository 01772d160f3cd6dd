"""The room plan read back with pypdf: its words against a count of every lot on every day, and where they stand."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.errors import OutputError
from forcing.model import Place, PlaceLoad, Plan, RoomSetting, Step, Task
from forcing.reports.hours_strip import hours_of
from forcing.reports.room_plan import write_room_plan
from forcing.reports.room_weeks import place_weeks
from tests.printed_pages import Run, check_fonts, check_printed, runs_of
from tests.sample import sample_plan
from tests.test_orders import grown

CREATED = datetime(2026, 11, 3, 9, 30, tzinfo=UTC)
SIZES = {"A4": (841.89, 595.28), "Letter": (792.0, 612.0)}  # landscape: ISO 216, and 11 x 8.5 in
WEEK = re.compile(r"W(\d\d)")


@dataclass
class Printed:
    """What is printed of the weeks of the places, by place and Monday."""

    ins: dict[tuple[str, date], Counter[tuple[str, float]]]
    outs: dict[tuple[str, date], Counter[tuple[str, float, str]]]
    pots: dict[tuple[str, date], float]
    over: dict[tuple[str, date], float]
    said: dict[tuple[str, date], str]


def number(text: str) -> float:
    return float(text.replace(",", ""))


def monday_of(week: str, day: str) -> date:
    """'W53', '28 Dec' -> the Monday of that name in the years of the tests."""
    mondays = (
        date.fromisocalendar(year, int(week[1:]), 1) for year in (2026, 2027) if week != "W53" or year == 2026
    )
    (found,) = (m for m in mondays if f"{m.day} {m:%b}" == day)
    return found


def read_back(path: Path, plan: Plan) -> Printed:
    """The weeks of the places, from the words in the order of the file."""
    made = Printed(defaultdict(Counter), defaultdict(Counter), {}, {}, {})
    names = {place.name for place in plan.season.places}
    entry = re.compile(r"(\S+) \(([\d,.]+)\)")
    said: dict[tuple[str, date, str], str] = defaultdict(str)
    place, week, way, heads, cut = "", None, "", True, False
    runs = runs_of(path)
    for run, after in pairwise([*runs, runs[-1]]):
        if run.said == "Staff hours a week" or run.said.startswith(("Room plan:", "Nothing goes into")):
            heads = True  # until the next place
        elif run.bold and run.said in names:
            heads, cut = False, run.said == place
            if not cut:
                place, week, way = run.said, None, ""
        elif heads or ", room " in run.said or run.said == "Week of":
            continue
        elif run.bold and WEEK.fullmatch(run.said):
            monday = monday_of(run.said, after.said)
            cut = cut and monday == week
            week, way = monday, ""
            if not cut:
                made.said[place, week] = ""
        elif week is None:
            continue
        elif run.bold and run.said in ("in", "out"):
            way = run.said
        elif re.fullmatch(r"[\d,.]+", run.said):
            made.pots[place, week] = number(run.said)
        elif over := re.fullmatch(r"▲ ([\d,.]+) \+([\d,.]+)", run.said):
            assert run.bold
            made.pots[place, week], made.over[place, week] = number(over[1]), number(over[2])
        else:
            made.said[place, week] += f" {run.said}"
            if cut or (place, week) not in made.pots:
                said[place, week, way] += f" {run.said}"
    for (at, monday, kind), text in said.items():
        for part in filter(
            None, re.split(r";|(?=→ [^:;→]+:)", text) if kind == "out" else [text] if kind else []
        ):
            entries, _, to = part.partition("→")
            if ":" in to:  # many lots stand in columns below where they go to
                to, _, entries = to.partition(":")
            for lot, pots in entry.findall(entries):
                if kind == "in":
                    made.ins[at, monday][lot, number(pots)] += 1
                else:
                    made.outs[at, monday][lot, number(pots), to.split(" set to ")[0].strip()] += 1
    return made


def counted(plan: Plan) -> Printed:
    """The same by walking through every day of every lot, and no other way."""
    made = Printed(defaultdict(Counter), defaultdict(Counter), {}, {}, {})
    daily: dict[tuple[str, date], float] = defaultdict(float)
    for planned in plan.lots:
        lot, where = planned.lot, {}
        for step in planned.steps:
            day = step.span.start
            while day < step.span.end:
                where[day] = step.place
                day += timedelta(days=1)
        days = sorted(where)
        for day in [*days, days[-1] + timedelta(days=1)]:
            before, now = where.get(day - timedelta(days=1)), where.get(day)
            week = day - timedelta(days=day.weekday())
            if now is not None:
                daily[now, day] += lot.pots * (lot.pot_cm / 15) ** 2
            if before != now and now is not None:
                made.ins[now, week][lot.name, lot.pots] += 1
            if before != now and before is not None:
                made.outs[before, week][lot.name, lot.pots, now or "faded"] += 1
    for (place, day), pots in daily.items():
        week = day - timedelta(days=day.weekday())
        made.pots[place, week] = max(made.pots.get((place, week), 0.0), pots)
    return made


def check_against_count(path: Path, plan: Plan) -> Printed:
    printed, count = read_back(path, plan), counted(plan)
    assert {key: c for key, c in printed.ins.items() if c} == dict(count.ins)
    assert {key: c for key, c in printed.outs.items() if c} == dict(count.outs)
    for (place, week), pots in printed.pots.items():
        assert pots == pytest.approx(count.pots.get((place, week), 0.0), abs=0.06), (place, week)
        room = plan.season.place(place).pots
        over = 0.0 if room is None else max(0.0, count.pots.get((place, week), 0.0) - room)
        assert printed.over.get((place, week), 0.0) == pytest.approx(over, abs=0.06)
    return printed


# ---------------------------------------------------------------- content


@pytest.mark.parametrize(
    ("lots", "unit", "paper"), [(1, "C", "A4"), (5, "F", "Letter"), (30, "C", "A4"), (200, "C", "Letter")]
)
def test_moves_and_pots_are_those_of_the_steps(tmp_path: Path, lots: int, unit: Any, paper: str) -> None:
    plan = sample_plan(lots, unit, paper)
    path = write_room_plan(plan, tmp_path, created=CREATED)
    assert path == tmp_path / "room-plan.pdf" and list(tmp_path.iterdir()) == [path]
    printed = check_against_count(path, plan)
    assert bool(printed.over) == (lots >= 30)


def test_quiet_weeks_in_a_row_are_one_line_with_what_is_set(tmp_path: Path) -> None:
    plan = sample_plan(5)
    printed = read_back(write_room_plan(plan, tmp_path, created=CREATED), plan)
    # The sample's North room: T003 in on Fri 27 November, T001 out on Tue 23 February; set to 1 °C on Mon 4 January.
    quiet = printed.said["Cold room North", date(2026, 11, 30)]
    assert "to 21 Feb: nothing in or out; set to 1 °C on Mon 4 Jan" in quiet
    assert quiet.split()[-2:] == ["5", "°C"]  # as the weeks begin
    weeks = sorted(week for place, week in printed.said if place == "Cold room North")
    assert [w for w in weeks if date(2026, 11, 30) <= w < date(2027, 2, 22)] == [date(2026, 11, 30)]


def test_week_53_and_the_new_year(tmp_path: Path) -> None:
    plan = sample_plan(1)
    (lot,) = plan.lots
    # Thu 31 December 2026 is in week 53 of 2026, and Mon 4 January 2027 begins week 1.
    days = (date(2026, 12, 24), date(2026, 12, 31), date(2027, 1, 4), date(2027, 1, 12))
    spans = [Span(a, b) for a, b in pairwise(days)]
    steps = tuple(
        Step("T001", "bench", place, span)
        for place, span in zip(("Bench 1", "Bench 2", "Bench 1"), spans, strict=True)
    )
    plan = replace(plan, lots=(replace(lot, steps=steps, fade=None),), loads=(), unplanned=(), tasks=())
    printed = read_back(write_room_plan(plan, tmp_path, created=CREATED), plan)
    assert {(p, w.isocalendar()[:2]) for p, w in printed.said} == {
        ("Bench 1", (2026, 52)), ("Bench 1", (2026, 53)), ("Bench 1", (2027, 1)), ("Bench 1", (2027, 2)),
        ("Bench 2", (2026, 53)), ("Bench 2", (2027, 1)),
    }  # fmt: skip
    assert printed.outs["Bench 1", date(2026, 12, 28)] == {("T001", 12.0, "Bench 2"): 1}
    assert printed.outs["Bench 1", date(2027, 1, 11)] == {("T001", 12.0, "elsewhere"): 1}


def test_settings_in_the_seasons_unit(tmp_path: Path) -> None:
    plan = sample_plan(5, "F")
    printed = read_back(write_room_plan(plan, tmp_path, created=CREATED), plan)
    # 5 °C = 41 °F, 1 °C = 33.8 °F; 17 and 13 °C = 62.6 and 55.4 °F; each may be shown in whole degrees
    quiet = printed.said["Cold room North", date(2026, 11, 30)]
    (change,) = re.findall(r"set to ([\d.]+) °F on Mon 4 Jan", quiet)
    assert float(change) == pytest.approx(33.8, abs=0.5) and quiet.endswith(" 41 °F")
    (both,) = re.findall(r"([\d.]+)/([\d.]+) °F$", printed.said["Bench 1", date(2027, 2, 22)])
    assert [float(part) for part in both] == pytest.approx([62.6, 55.4], abs=0.5)
    assert printed.said["Bench 2", date(2027, 3, 1)].endswith("not set")  # the sample sets nothing there
    assert "°C" not in " ".join(run.said for run in runs_of(tmp_path / "room-plan.pdf"))


def test_a_change_within_a_busy_week_is_told(tmp_path: Path) -> None:
    plan = sample_plan(1)
    room = "Cold room North"
    rooms = (
        RoomSetting(room, Span(date(2026, 9, 1), date(2026, 11, 12)), 9, 9, "planned"),
        RoomSetting(room, Span(date(2026, 11, 12), date(2027, 5, 1)), 5, 5, "planned"),
    )
    plan = replace(plan, rooms=rooms)  # T001 goes in on Tue 10 November
    said = read_back(write_room_plan(plan, tmp_path, created=CREATED), plan).said[room, date(2026, 11, 9)]
    assert "T001 (12)" in said and "set to 5 °C on Thu 12 Nov" in said and said.endswith("9 °C")


def test_companions_go_in_and_out_too(tmp_path: Path) -> None:
    plan, viola = grown()
    path = write_room_plan(plan, tmp_path, created=CREATED, companions=(viola,))
    printed = read_back(path, plan)
    first = viola.sow - timedelta(days=viola.sow.weekday())
    last = viola.set_out - timedelta(days=viola.set_out.weekday())
    assert "Edging (1 tray)" in printed.said["Bench", first]  # 53 cells in one of 72
    assert printed.outs["Bench", last] == {("Edging", 45.0, "elsewhere"): 1}  # it is of no display
    assert sum(map(len, printed.ins.values())) == 0 and sum(map(len, printed.outs.values())) == 1


def test_pots_that_part_go_to_each_place_and_the_rest_nowhere() -> None:
    _, viola = grown()
    plan = sample_plan(0)
    show = Span(viola.set_out, viola.set_out + timedelta(days=20))
    grow = next(step for step in viola.steps if step.step == "grow")
    steps = (
        grow,
        replace(grow, step="harden", span=Span(grow.span.end, viola.set_out)),
        *(
            replace(grow, step="show", place=p, span=show, pots=n)
            for p, n in (("Terrace", 30.0), ("Frame", 10.0))
        ),
    )
    places = (*plan.season.places, Place("Bench", "bench"))
    plan = replace(plan, season=replace(plan.season, places=places))
    blocks = {b.place.name: b for b in place_weeks(plan, (replace(viola, steps=steps),))}
    outs = [(m.item, m.pots, m.to, m.end) for row in blocks["Bench"].rows for m in row.outs]
    # 45 pots: 30 and 10 are shown, 5 are left over
    assert sorted(outs, key=str) == [
        ("Edging", 10.0, "Frame", None), ("Edging", 30.0, "Terrace", None), ("Edging", 5.0, None, "away"),
    ]  # fmt: skip
    assert [(m.pots, m.end) for row in blocks["Frame"].rows for m in row.outs] == [(10.0, "cleared")]


def test_a_season_without_lots_says_so(tmp_path: Path) -> None:
    plan = sample_plan(0)
    words = " ".join(r.said for r in runs_of(write_room_plan(plan, tmp_path, created=CREATED)))
    assert "No lot is planned, so nothing goes in or out of any place." in words
    assert "Nothing goes into Cold room North, Cold room South" in words
    assert "Not counted, as not planned: Lost cause." in words
    bare = replace(plan, season=replace(plan.season, places=()), loads=(), tasks=(), rooms=(), unplanned=())
    words = " ".join(r.said for r in runs_of(write_room_plan(bare, tmp_path, created=CREATED)))
    assert "No lot is planned" in words and "There is no work" in words


# ---------------------------------------------------------------- hours


def task(day: date, name: str, hours: float) -> Task:
    return Task(f"{name}/{day}", day, None, name, 1, hours, None)


def test_hours_by_kind_and_week() -> None:
    tasks = (
        task(date(2026, 12, 27), "pot", 3), task(date(2026, 12, 28), "pot", 4), task(date(2027, 1, 3), "swap", 2),
        *(task(date(2027, 1, 11), name, 1) for name in "abcdef"), task(date(2027, 1, 11), "idle", 0),
    )  # fmt: skip
    plan = replace(sample_plan(0), tasks=tasks)
    hours = hours_of(replace(plan, season=replace(plan.season, hours_per_week=6.0)))
    # Sun 27 December is still week 52; Mon 28 to Sun 3 January are week 53.
    assert hours.weeks == tuple(date(2026, 12, 21) + timedelta(weeks=i) for i in range(4))
    assert [hours.total(week) for week in hours.weeks] == [3, 6, 0, 6]
    assert not any(map(hours.over, hours.weeks))  # six hours are all there are, and no more
    assert list(hours.kinds) == ["pot", "swap", "a", "b", "c", "d", "all other"]
    assert hours.kinds["all other"] == {date(2027, 1, 11): 2}


@pytest.mark.parametrize(("limit", "over"), [(None, False), (2.0, False), (1.99, True)])
def test_weeks_with_too_much_work_are_named(tmp_path: Path, limit: float | None, over: bool) -> None:
    plan = replace(sample_plan(0), tasks=(task(date(2027, 1, 3), "pot", 2.0),))
    plan = replace(plan, season=replace(plan.season, hours_per_week=limit))
    words = " ".join(r.said for r in runs_of(write_room_plan(plan, tmp_path, created=CREATED)))
    assert ("more work than that in W53" in words) == over
    assert ("no limit is stated" in words) == (limit is None)


# ---------------------------------------------------------------- the page


def check_page(path: Path, paper: str) -> list[Run]:
    return check_printed(path, SIZES[paper], margin=17, least=7)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("lots", "unit"), [(0, "C"), (1, "F"), (5, "C"), (30, "F"), (200, "C")])
def test_nothing_leaves_the_page_or_lies_on_other_words(
    tmp_path: Path, paper: str, lots: int, unit: Any
) -> None:
    path = write_room_plan(sample_plan(lots, unit, paper), tmp_path, created=CREATED)
    runs = check_page(path, paper)
    pages = 1 + max(run.page for run in runs)
    assert pages == 1 if lots <= 30 else 1 < pages <= 6
    for page in range(pages):  # each page has its title, labels and number
        words = [run.said for run in runs if run.page == page]
        assert f"page {page + 1} of {pages}" in words and "What goes in and out" in words
        assert any(said.startswith("Room plan: ") for said in words)
    # no heading of a place is the last thing in its column
    names = {p.name for p in sample_plan(0).season.places}
    for run, after in pairwise(runs):
        if run.bold and run.said in names:
            assert re.match(r"(cooler|bench|frame|site), ro", after.said)
            following = runs[runs.index(after) + 1]
            assert following.page == run.page and following.y < run.y and abs(following.x - run.x) < 5


@pytest.mark.parametrize(
    ("lots", "paper"), [(30, "A4"), (30, "Letter"), (40, "A4"), (45, "Letter"), (60, "A4")]
)
def test_the_weeks_of_the_places_are_in_type_that_is_read_on_a_wall(
    tmp_path: Path, lots: int, paper: str
) -> None:
    runs = check_page(write_room_plan(sample_plan(lots, paper=paper), tmp_path, created=CREATED), paper)
    weeks = [run for run in runs if run.bold and WEEK.fullmatch(run.said)]
    assert weeks and min(run.size for run in weeks) >= 7.6
    # the places on one page and the hours behind them, before the places take a second page
    if lots in (40, 45):
        assert {run.page for run in weeks} == {0}
        assert [run.page for run in runs if run.said == "Staff hours a week"] == [1]
        assert "What goes in and out" not in [run.said for run in runs if run.page == 1]


def test_a_place_that_goes_on_is_named_again(tmp_path: Path) -> None:
    runs = runs_of(write_room_plan(sample_plan(200), tmp_path, created=CREATED))
    assert sum(run.said.endswith("goes on") for run in runs) >= 2


names = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=200)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    names | st.just("W" * 300), names | st.just("Wide " * 60), names | st.just("M" * 300), names | st.just("@" * 99),
    st.sampled_from(["A4", "Letter"]), st.sampled_from(["C", "F"]), st.integers(1, 99_999),
)  # fmt: skip
def test_names_of_any_length_and_script(
    tmp_path: Path, name: str, place: str, title: str, work: str, paper: str, unit: Any, pots: int
) -> None:
    plan = sample_plan(6, unit, paper)
    lots = tuple(
        replace(
            p,
            lot=replace(p.lot, name=f"{i}{name}", pots=pots),
            steps=tuple(replace(s, place=place) if s.place == "Bench 1" else s for s in p.steps),
        )
        for i, p in enumerate(plan.lots)
    )
    places = (Place(place, "bench", 3.0), *(p for p in plan.season.places if p.name != "Bench 1"))
    tasks = tuple(replace(t, task=work if t.task == "bring in" else t.task) for t in plan.tasks)
    season = replace(plan.season, title=title, places=places)
    plan = replace(plan, lots=lots, season=season, loads=(), tasks=tasks)
    runs = check_page(write_room_plan(plan, tmp_path, created=CREATED), paper)
    # Names may be shortened, the number of pots never: six lots go in and out of cooler, bench and terrace.
    # After a letter of a script written from the right the brackets are read the other way round.
    text = " ".join(run.said for run in runs)
    assert text.count(f"({pots:,})") + text.count(f"){pots:,}(") >= 36


def test_a_week_longer_than_a_page(tmp_path: Path) -> None:
    """Hundreds of lots on one day: the week is cut between lines, and nothing is lost."""
    plan = sample_plan(1)
    (lot,) = plan.lots
    lots = tuple(
        replace(lot, lot=replace(lot.lot, name=name), steps=tuple(replace(s, lot=name) for s in lot.steps))
        for name in (f"Lot{i:04d}" for i in range(900))
    )
    plan = replace(plan, lots=lots, loads=())
    path = write_room_plan(plan, tmp_path, created=CREATED)
    check_page(path, "A4")
    text = " ".join(run.said for run in runs_of(path))
    found = Counter(re.findall(r"Lot\d{4}", text))
    assert len(found) == 900 and set(found.values()) == {6}  # in and out of cooler, bench and terrace


def test_a_room_for_no_pots_and_one_exactly_full(tmp_path: Path) -> None:
    plan = sample_plan(1)  # 12 pots
    for room, over in ((0.0, True), (11.9, True), (12.0, False)):
        places = tuple(replace(p, pots=room) for p in plan.season.places)
        changed = replace(plan, season=replace(plan.season, places=places), loads=())
        printed = read_back(write_room_plan(changed, tmp_path, created=CREATED), changed)
        assert bool(printed.over) == over


def test_loads_of_the_plan_are_shown_where_there_are_any(tmp_path: Path) -> None:
    plan = sample_plan(1)
    load = PlaceLoad("Frame", 200.0, date(2027, 1, 4), (0.0, 210.0, 5.0))
    plan = replace(plan, loads=(load,))
    printed = read_back(write_room_plan(plan, tmp_path, created=CREATED), plan)
    assert printed.over["Frame", date(2027, 1, 4)] == 10 and printed.pots["Frame", date(2027, 1, 4)] == 210


# ---------------------------------------------------------------- the file


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    plan = sample_plan(12)
    one = write_room_plan(plan, tmp_path / "a", created=CREATED).read_bytes()
    two = write_room_plan(plan, tmp_path / "b", created=CREATED).read_bytes()
    other = write_room_plan(plan, tmp_path / "c", created=CREATED.replace(day=4)).read_bytes()
    assert one == two != other and b"D:20261103093000" in one


def test_fonts_are_embedded_and_the_file_says_what_it_is(tmp_path: Path) -> None:
    path = write_room_plan(sample_plan(5), tmp_path, created=CREATED)
    with pikepdf.open(path) as pdf:
        assert str(pdf.docinfo["/Title"]) == "Spring in the Orangery – fenêtre sur cour: room plan"
        assert str(pdf.Root.Lang) == "en-GB"
    check_fonts(path)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError):
        write_room_plan(sample_plan(1), tmp_path / "file", created=CREATED)
