"""The daily round: its days and hours by a plain loop, on the week sheet and among the hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.dates import Span
from forcing.engine.climate import build_climate
from forcing.engine.companions import plan_companions
from forcing.engine.work.daily_round import USUAL, daily_rounds, round_hours, weekly
from forcing.engine.work.hours import hours_findings
from forcing.model import Companion, Display, Place, PlaceLoad, Planting, Round, Task
from forcing.recipes.book import CompanionBook
from forcing.reports import frames
from forcing.reports.week.facts import gather
from tests.builders import MON_FRI
from tests.builders import season as plain
from tests.season_text import PLACES, SHOW, reading_findings, season
from tests.test_show import lot, stage, worked

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
