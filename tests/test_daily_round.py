"""The daily round: its days and hours by a plain loop, on the week sheet and among the hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.dates import Span
from forcing.engine.allocation.problem import Pick
from forcing.engine.climate import build_climate
from forcing.engine.companions import plan_companions
from forcing.engine.work.hours import hours_by_week, hours_findings
from forcing.engine.work.house_work import USUAL, as_tasks, daily_rounds, round_hours, weekly
from forcing.model import Companion, Display, Lot, Place, PlaceLoad, Planting, Round, RoundWork, Task
from forcing.recipes.book import CompanionBook
from forcing.reports import frames
from forcing.reports.week.facts import gather
from tests.allocation_seasons import problem_of
from tests.builders import MON_FRI
from tests.builders import season as plain
from tests.season_text import PLACES, SHOW, reading_findings, season
from tests.test_show import OPENS, lot, stage, worked

DAY = timedelta(days=1)
MONDAY = date(2027, 3, 1)
# 100 pots on Monday to Wednesday, 200 on Thursday to Sunday of the next week.
LOADS = (PlaceLoad("Bench", 400, MONDAY, (100.0,) * 3 + (200.0,) * 11 + (0.0,) * 4),)


def test_the_days_and_hours_of_a_round_by_hand() -> None:
    stated = replace(stage((), ()), rounds=(
        Round("Bench", "water", None, 10, 6), Round("Bench", "pests", (0, 3), 30),
        Round("Bench", "feed", 5, 20, start=MONDAY + DAY, until=MONDAY + 7 * DAY),
    ))  # fmt: skip
    water, pests, feed = daily_rounds(stated, LOADS)
    # 10 minutes and 6 for each hundred: 16 minutes on three days, 22 on the eleven others.
    assert [day for day, _ in water.visits] == [MONDAY + i * DAY for i in range(14)]
    assert [round(60 * hours) for _, hours in water.visits] == [16] * 3 + [22] * 11
    assert [day.day for day, _ in pests.visits] == [1, 4, 8, 11]
    assert [day.day for day, _ in feed.visits] == [2, 7]  # every five days from the 2nd up to the 8th
    hours = round_hours((water, pests, feed))
    assert hours[date(2027, 3, 4)] == pytest.approx((22 + 30) / 60)
    # First week: 3 x 16 + 4 x 22 + 2 x 30 + 2 x 20 = 236 minutes; second: 7 x 22 + 2 x 30 = 214.
    assert weekly(hours) == {MONDAY: pytest.approx(236 / 60), MONDAY + 7 * DAY: pytest.approx(214 / 60)}


def test_the_usual_round_only_where_it_is_wanted_and_nothing_is_stated() -> None:
    nothing = stage((), ())
    assert daily_rounds(nothing, LOADS) == ()
    usual = replace(nothing, daily_round="usual")
    assert [work.work for work in daily_rounds(usual, LOADS)] == [row[0] for row in USUAL["bench"]]
    # On a site it names the companions there that are deadheaded: of these stock is not.
    companions = tuple(Companion(name, name, 10, place="Bench") for name in ("viola", "stock"))
    shown = tuple(Planting("Steps", c.name, 1) for c in companions)
    site = replace(plain(
        companions=companions, plantings=shown,
        displays=(Display("Steps", 5, "Court", Span(date(2027, 3, 20), date(2027, 4, 20))),),
        places=(Place("Bench", "bench", day=14, night=14), Place("Court", "site", day=8, night=8)),
    ), daily_round="usual")  # fmt: skip
    grown, _ = plan_companions(site, build_climate(site), CompanionBook.from_overrides())
    court = (replace(LOADS[0], place="Court"),)
    assert [work.work for work in daily_rounds(site, court, grown)][1:] == ["deadhead and tidy: viola"]
    assert [work.work for work in daily_rounds(site, court)][1:] == ["deadhead and tidy"]
    own = replace(usual, rounds=(Round("Bench", "water", None, 5),))
    assert [work.work for work in daily_rounds(own, LOADS)] == ["water"]
    assert daily_rounds(own, (replace(LOADS[0], pots=(0.0,) * 9),)) == ()


def test_its_hours_count_against_those_there_are() -> None:
    stated = replace(stage((), ()), hours_per_week=10.0)
    task = Task("job/a", MONDAY, None, "a", 0, 8.0, None, None, "", (), "planned")
    assert list(hours_findings(stated, [task])) == []
    (found,) = hours_findings(stated, [task], {MONDAY: 2.5})
    assert (found.number, found.week) == (pytest.approx(0.5), "2027-W09")
    assert "2.5 of the daily round" in found.message


def test_the_week_sheet_has_it_as_a_panel_and_says_who_is_there_on_days_off() -> None:
    stated = stage(
        [lot("A", 30)], [Planting("D", "A", 3)], rounds=(Round("Bench", "water", None, 12),), calendar=MON_FRI,
        duty=((5, "AB"),),
    )  # fmt: skip
    plan = worked(stated).plan
    week = Span(MONDAY, MONDAY + 7 * DAY)
    facts = gather(plan, week)
    # A stands on its bench all this week: seven visits of 12 minutes are 1.4 hours; no task says so.
    assert facts.round[0] == "Bench: water (every day, 12 min)"
    assert facts.round[1].startswith("Sat 6 Mar, a day off: 12 min in all; on duty: AB")
    assert "NOBODY IS IN: ARRANGE" in facts.round[2]
    assert facts.round_hours == pytest.approx(1.4)
    assert not [task for task in plan.tasks if "water" in task.task]
    hours = frames.hours(plan)
    mine = hours[(hours.task == "daily round") & (hours.week == str(MONDAY))]
    assert list(mine.hours) == [pytest.approx(1.4)]


def test_a_round_is_read_as_a_person_writes_it() -> None:
    rows = "[rounds]\nplace | work | every | minutes | from | until\n"
    stated = season(PLACES + rows + "South | vent | Mon, Thu | 15 | |\n" + SHOW)
    (row,) = stated.rounds
    assert (row.place, row.work, row.every, row.minutes) == ("South", "vent", (0, 3), 15)
    text = PLACES + rows + "South | vent | | 15 | 2027-02-02 | 2027-02-01\n" + SHOW
    assert ("round-dates", "until") in [(f.code, f.column) for f in reading_findings(text)]


def test_the_search_for_places_reckons_with_the_round_as_the_plan_walks_it() -> None:
    # One lot of 20 pots of 15 cm in one store and on one bench, with a round in both: what it adds to the weeks of an
    # option is the round of the days on which the pots stand there: 6 minutes for each hundred on the bench.
    rows = (Round("Bench", "water", None, 12, 6), Round("Cold", "look", (0, 3), 30))
    pots = Lot("A", "tulip", 20, target=OPENS, pot_cm=15.0)
    bare = replace(stage([pots], ()), hours_per_week=40.0, displays=())
    without, with_round = (problem_of(stated) for stated in (bare, replace(bare, rounds=rows)))
    (candidate,) = with_round.candidates
    for number, option in enumerate(candidate.options[:3]):
        hours = [dict.fromkeys(range(with_round.weeks), 0.0) for _ in range(2)]
        for problem, weeks in zip((without, with_round), hours, strict=True):
            for week, each in problem.work_of(0, Pick(number)):
                weeks[week] += each
        expected = dict.fromkeys(range(with_round.weeks), 0.0)
        for place, start, end in option.dates.stands:
            for day in range(start, end):
                expected[with_round.week(day)] += 20 * 6 / 100 / 60 if place == "Bench" else 0.0
        assert [hours[1][week] - hours[0][week] for week in expected] == pytest.approx(
            list(expected.values())
        )
    # What it takes anyhow is there before any lot is chosen, on the days of the usual option: no other place is open.
    once = [0.0] * with_round.weeks
    for place, start, end in candidate.options[0].dates.stands:
        for day in range(start, end):
            date_ = with_round.climate_sums.climate.day(day)
            once[with_round.week(day)] += (
                12 / 60 if place == "Bench" else 0.5 if place == "Cold" and date_.weekday() in (0, 3) else 0.0
            )
    assert (with_round.busy - without.busy).tolist() == pytest.approx(once)


def test_potting_goes_to_a_day_that_the_round_leaves_free() -> None:
    # B is in the store four weeks before A is potted. An hour a day is little for A's potting and a round of 2 h.
    lots = [Lot("A", "tulip", 20, target=OPENS), Lot("B", "tulip", 20, target=OPENS - 28 * DAY)]
    stated = replace(stage(lots, ()), displays=(), hours_per_day=2.5, hours_per_week=100.0)
    free = worked(stated).plan.lot("A").potting
    round_ = Round("Cold", "look", (free.weekday(),), 120)
    assert worked(replace(stated, rounds=(round_,))).plan.lot("A").potting != free
    assert worked(replace(stated, rounds=(replace(round_, minutes=1),))).plan.lot("A").potting == free


def test_the_visits_of_a_round_are_reckoned_as_work_of_no_lot() -> None:
    # seven visits of 20 minutes
    visits = tuple((MONDAY + n * DAY, 1 / 3) for n in range(7))
    tasks = as_tasks((RoundWork("Store", "look", (0,), visits),))
    assert [(t.date, t.hours, t.lot) for t in tasks] == [(day, hours, None) for day, hours in visits]
    assert hours_by_week(tasks) == {MONDAY: pytest.approx(7 / 3)}
