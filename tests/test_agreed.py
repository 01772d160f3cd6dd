"""What was agreed stays: dates, places, rooms; what something real moves is the least, and has its cause."""

from __future__ import annotations

import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import forcing
from forcing.cli import main
from forcing.dates import Span
from forcing.engine.agreed import agreement_of, handed_out, in_force
from forcing.engine.plan import PlanResult
from forcing.model import AgreedMove, Agreement, LogEntry, Lot, Place, Reading, RoomSetting, Season, Setpoint
from tests.allocation_seasons import drawn_season
from tests.builders import MON_FRI, season, worked
from tests.test_commands import forcing as command
from tests.test_commands import rows, season_folder

SEPTEMBER, NOVEMBER, JANUARY = date(2026, 9, 1), date(2026, 11, 16), date(2027, 1, 18)
ROOMS = (Place("A room", "cooler", 300), Place("B room", "cooler", 300))
BENCHES = (Place("South", "bench", 200, day=18, night=14), Place("North", "bench", 200, day=16, night=12))


def two_rooms(lots: int = 14, seed: int = 4, **other: object) -> Season:
    """A season of lots of many crops with nothing stated, in two rooms without temperatures and on two benches."""
    drawn = drawn_season(lots, 1, 1, seed, days=25)
    places = tuple(replace(p, pots=(p.pots or 0) * lots / 10) for p in (*ROOMS, *BENCHES))
    return replace(drawn, places=places, **other)  # type: ignore[arg-type]


def agreed(stated: Season, on: date = SEPTEMBER) -> tuple[Season, PlanResult]:
    """The season with its plan of that day agreed, and that plan."""
    made = worked(stated, on)
    assert not made.plan.unplanned
    return replace(stated, agreed=(*stated.agreed, agreement_of(made.plan, made.simulations))), made


def told(made: PlanResult) -> dict[str, tuple[object, ...]]:
    """What people act on: of each lot its days until it is set out, its places and its cold-weeks."""
    routes = {t.lot.name: t.route for t in made.simulations}
    return {
        p.lot.name: (p.potting, p.cooler_in, p.bring_in, p.install, routes[p.lot.name].cooler, routes[p.lot.name].bench)
        for p in made.plan.lots
    }  # fmt: skip


def lot_rows(made: PlanResult) -> dict[str, str]:
    """The rows of plan.csv by lot, as text."""
    from forcing.reports import frames

    table = frames.steps(made.plan)
    return {str(name): frames.csv_text(part) for name, part in table.groupby("lot")}


@pytest.fixture(scope="module")
def handed() -> tuple[Season, PlanResult]:
    return agreed(two_rooms())


# ---------------------------------------------------------------- nothing real, nothing moves


def test_the_agreed_plan_is_the_plan(handed: tuple[Season, PlanResult]) -> None:
    stated, made = handed
    again = worked(stated, SEPTEMBER)
    assert lot_rows(again) == lot_rows(made) and again.changes == () and again.plan.rooms == made.plan.rooms
    later = worked(stated, JANUARY)
    assert told(later) == told(made) and later.changes == ()


def test_agreeing_twice_says_the_same(handed: tuple[Season, PlanResult]) -> None:
    stated, _ = handed
    again = worked(stated, SEPTEMBER)
    assert agreement_of(again.plan, again.simulations) == stated.agreed[-1]


UNRELATED = {
    "a lot more": lambda s: replace(s, lots=(*s.lots, Lot("New", "crocus", 10, target=date(2027, 3, 20)))),
    "a bench more": lambda s: replace(s, places=(*s.places, Place("Third", "bench", 500, day=18, night=14))),
    "a cooler more": lambda s: replace(s, places=(*s.places, Place("C room", "cooler", 500))),
    "more room": lambda s: replace(s, places=tuple(replace(p, pots=900) for p in s.places)),
    "rows in another order": lambda s: replace(s, lots=tuple(reversed(s.lots))),
    "a lot less": lambda s: replace(s, lots=s.lots[1:]),
    "fewer hours": lambda s: replace(s, hours_per_week=20.0),
    "a reading as set": lambda s: replace(s, readings=(Reading("South", date(2027, 1, 4), 14, 18),)),
    "another target": lambda s: replace(
        s, lots=(replace(s.lots[0], target=s.lots[0].target + timedelta(days=7)), *s.lots[1:])
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", UNRELATED)
def test_a_row_that_has_nothing_to_do_with_a_lot_changes_nothing_of_it(
    handed: tuple[Season, PlanResult], what: str
) -> None:
    stated, made = handed
    own = stated.lots[0].name if what in ("another target", "a lot less") else "New"
    other = worked(UNRELATED[what](stated), SEPTEMBER)
    before, after = lot_rows(made), lot_rows(other)
    assert {n: r for n, r in after.items() if n != own} == {n: r for n, r in before.items() if n != own}
    assert {change.subject for change in other.changes} <= {own}


def test_lots_that_are_alike_never_swap(handed: tuple[Season, PlanResult]) -> None:
    """Six equal lots, one of them logged late: the others keep their days, whatever week it is."""
    lots = [Lot(f"T{i}", "tulip", 40, "mid", target=date(2027, 3, 20)) for i in range(6)]
    stated, made = agreed(season(lots, places=(*ROOMS, *BENCHES), calendar=MON_FRI, hours_per_week=12.0))
    late = made.plan.lot("T3").potting + timedelta(days=4)
    logged = replace(stated, log=(LogEntry(late, "T3", "potted"),))
    for week in range(0, 20, 3):
        now = told(worked(logged, late + timedelta(weeks=week)))
        assert {n: t for n, t in now.items() if n != "T3"} == {
            n: t for n, t in told(made).items() if n != "T3"
        }


# ---------------------------------------------------------------- something real


def test_what_is_logged_and_stated_stands_above_what_was_agreed(handed: tuple[Season, PlanResult]) -> None:
    stated, made = handed
    first = made.plan.lots[0]
    day = first.potting + timedelta(days=1)
    logged = worked(replace(stated, log=(LogEntry(day, first.lot.name, "potted"),)), day)
    assert logged.plan.lot(first.lot.name).potting == day
    assert ("potting", first.potting, day, "logged") in {
        (c.what, c.was, c.now, c.why) for c in logged.changes
    }
    other = {"South": "North", "North": "South"}[made.choices[first.lot.name].bench]
    lots = tuple(replace(lot, bench=other) if lot.name == first.lot.name else lot for lot in stated.lots)
    moved = worked(replace(stated, lots=lots), SEPTEMBER)
    assert [(c.what, c.subject, c.now, c.why) for c in moved.changes if c.what == "bench"] == [
        ("bench", first.lot.name, other, "stated")
    ]
    assert {c.subject for c in moved.changes} == {first.lot.name}


def test_dates_that_would_fail_a_lot_are_moved_and_say_by_how_much() -> None:
    """The cooler at 9 °C counts in full for the tulip, at 20 °C not at all: 12 warm days cost 12 days of cold.

    The lot that was to come out with 16 weeks has 12 days less then, and blooms later; it is brought in sooner or
    later to mend that, and the change says what the agreed day would have come to.
    """
    lot = Lot("T", "tulip", 20, "mid", target=date(2027, 3, 20))
    stated, made = agreed(season([lot]))
    start = made.plan.lots[0].cooler_in
    assert start is not None
    days = [start + timedelta(days=30 + i) for i in range(12)]
    warm = replace(stated, readings=tuple(Reading("Cold", day, 20, 20) for day in days))
    other = worked(warm, JANUARY)
    assert other.plan.lots[0].potting == made.plan.lots[0].potting
    assert [(c.what, c.why) for c in other.changes] == [("bring in", "dates")]
    fault = other.changes[0].failing
    assert fault is not None and fault.kind == "late" and fault.number > 1
    # Without its cause the change is gone.
    assert worked(stated, JANUARY).changes == ()


def test_less_room_moves_the_fewest_lots_and_names_the_room() -> None:
    """Three lots of 50 in a room of 160 and an empty one of 300; the room shrinks to 120: one lot goes, not three."""
    lots = [Lot(f"T{i}", "tulip", 50, "mid", target=date(2027, 3, 20), bench="South") for i in range(3)]
    places = (Place("A", "cooler", 160, day=9, night=9), Place("B", "cooler", 20, day=9, night=9), BENCHES[0])
    stated, made = agreed(season(lots, places=places))
    assert {choice.cooler for choice in made.choices.values()} == {"A"}
    small = (replace(places[0], pots=120), replace(places[1], pots=300), places[2])
    other = worked(replace(stated, places=small), SEPTEMBER)
    moved = [c for c in other.changes if c.what == "cooler"]
    assert [(c.was, c.now, c.why) for c in moved] == [("A", "B", "room")]
    assert moved[0].crowd is not None and moved[0].crowd.place == "A" and moved[0].crowd.capacity == 120
    assert not [f for f in other.plan.findings if f.code == "place-overfull"]
    assert {c.subject for c in other.changes} == {moved[0].subject}


def test_a_room_that_shrinks_in_january_moves_nothing_and_offers_what_would_mend_it() -> None:
    """The same three lots stand in A, which shrinks to 120: one of 50 has to be carried to B, and nothing else."""
    lots = [Lot(f"T{i}", "tulip", 50, "mid", target=date(2027, 3, 20), bench="South") for i in range(3)]
    places = (Place("A", "cooler", 160, day=9, night=9), Place("B", "cooler", 20, day=9, night=9), BENCHES[0])
    stated, made = agreed(season(lots, places=places))
    log = tuple(
        LogEntry(day, p.lot.name, event, place)  # type: ignore[arg-type]
        for p in made.plan.lots
        for event, day, place in (("potted", p.potting, None), ("cooler in", p.cooler_in, "A"))
        if day is not None
    )
    small = (replace(places[0], pots=120), replace(places[1], pots=300), places[2])
    shrunk = replace(stated, places=small, log=log)
    other = worked(shrunk, JANUARY)
    assert told(other) == told(made)
    (found,) = [f for f in other.plan.findings if f.code == "place-overfull"]
    assert found.place == "A" and found.week == "2027-W03"  # what stood too close before is over
    assert "carry T0 (50 pots) to B on 2027-01-18" in found.hint
    # It was tried: done so, nothing is over any more.
    carried = worked(replace(shrunk, log=(*log, LogEntry(JANUARY, "T0", "moved", "B"))), JANUARY)
    assert not [f for f in carried.plan.findings if f.code == "place-overfull"]


def test_a_holiday_on_an_agreed_day_moves_the_work_to_the_working_day_before(
    handed: tuple[Season, PlanResult],
) -> None:
    stated, made = handed
    plan = made.plan.lots[0]
    off = replace(stated.calendar, holidays=frozenset({plan.potting}))
    other = worked(replace(stated, calendar=off), SEPTEMBER)
    assert other.plan.lot(plan.lot.name).potting == off.on_or_before(plan.potting)
    assert {(c.why, c.failing) for c in other.changes if c.what == "potting"} == {("dates", None)}


def test_a_lot_whose_agreed_place_is_gone_gets_another(handed: tuple[Season, PlanResult]) -> None:
    stated, made = handed
    places = tuple(p for p in stated.places if p.name != "North")
    other = worked(
        replace(stated, places=(*places, Place("East", "bench", 300, day=16, night=12))), SEPTEMBER
    )
    gone = {name for name, choice in made.choices.items() if choice.bench == "North"}
    assert gone and not other.plan.unplanned
    assert {c.subject for c in other.changes if c.what == "bench"} == gone
    kept = {n: t for n, t in told(made).items() if n not in gone}
    assert {n: t for n, t in told(other).items() if n not in gone} == kept


def test_lots_new_gone_and_refused_are_told(handed: tuple[Season, PlanResult]) -> None:
    stated, _ = handed
    lots = (*stated.lots[2:], Lot("New", "crocus", 10, target=date(2027, 3, 20)))
    lots = (replace(lots[0], cold_weeks=1.0), *lots[1:])
    found = worked(replace(stated, lots=lots), SEPTEMBER).changes
    named = {(c.subject, c.why) for c in found if c.what == "plan"}
    names = [lot.name for lot in stated.lots]
    assert named == {("New", "new"), (names[0], "gone"), (names[1], "gone"), (names[2], "refused")}


def test_the_two_parts_of_a_lot_that_was_agreed_in_parts_stay(handed: tuple[Season, PlanResult]) -> None:
    places = (Place("A", "cooler", 60, day=9, night=9), Place("B", "cooler", 60, day=9, night=9), *BENCHES)
    lots = [Lot("T", "tulip", 100, "mid", target=date(2027, 3, 20), split=True)]
    stated, made = agreed(season(lots, places=places))
    assert len(made.plan.lots) == 2
    wide = replace(stated, places=tuple(replace(p, pots=500) for p in places))
    assert told(worked(wide, SEPTEMBER)) == told(made)


# ---------------------------------------------------------------- a log and nothing agreed


def test_a_log_alone_keeps_the_places_and_a_monday_makes_no_search() -> None:
    stated = two_rooms()
    before = worked(stated, SEPTEMBER)
    first = min(before.plan.lots, key=lambda p: p.potting)
    logged = replace(stated, log=(LogEntry(first.potting, first.lot.name, "potted"),))
    now = worked(logged, first.potting)
    assert dict(now.choices) == dict(before.choices)


# ---------------------------------------------------------------- steering that was agreed


def steered_season() -> tuple[Season, PlanResult]:
    lot = Lot("T", "tulip", 20, "mid", target=date(2027, 3, 20))
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16),
              Place("Warm", "bench", day=20, night=20))  # fmt: skip
    return agreed(season([replace(lot, cooler="Cold", bench="Bench")], places=places))


def test_agreed_settings_are_the_temperatures_ahead_and_stated_ones_of_a_later_day_stand_above_them() -> None:
    stated, _ = steered_season()
    setting = RoomSetting("Bench", Span(date(2027, 3, 1), date(2027, 3, 10)), 19, 17, "steered")
    with_it = replace(stated, agreed=(replace(stated.agreed[-1], on=date(2027, 2, 28), settings=(setting,)),))
    climate = worked(with_it, date(2027, 3, 1)).climate
    mean = climate.mean("Bench")

    def on(day: date) -> float:
        return float(mean[climate.index(day)])

    assert [on(date(2027, 3, d)) for d in (1, 9)] == [18, 18]
    assert [on(date(2027, 2, 28)), on(date(2027, 3, 10))] == [16, 16]  # then what is stated holds again
    typed = replace(with_it, setpoints=(Setpoint("Bench", date(2027, 3, 5), 15, 15),))
    climate = worked(typed, date(2027, 3, 1)).climate
    mean = climate.mean("Bench")
    assert [on(date(2027, 3, d)) for d in (4, 5, 9, 10, 20)] == [18, 15, 15, 15, 15]
    # A setpoint that was stated when this was agreed stands below it, and holds again after it.
    known = (setting, RoomSetting("Bench", Span(date(2027, 3, 5), date(2027, 3, 6)), 15, 15, "stated"))
    climate = worked(
        replace(typed, agreed=(replace(typed.agreed[-1], settings=known),)), date(2027, 3, 1)
    ).climate
    mean = climate.mean("Bench")
    assert [on(date(2027, 3, d)) for d in (4, 5, 9, 10, 20)] == [18, 18, 18, 15, 15]


def test_agreed_moves_and_holds_are_steps_of_the_lot_and_tasks_until_the_log_has_them() -> None:
    stated, made = steered_season()
    out = made.plan.lots[0].bring_in
    there, cold, back = (out + timedelta(days=n) for n in (4, 9, 14))
    moves = (AgreedMove("T", "bench", "Warm", there), AgreedMove("T", "hold", "Cold", cold), AgreedMove("T", "bench", "Warm", back))  # fmt: skip  # noqa: E501
    with_them = replace(stated, agreed=(replace(stated.agreed[-1], moves=moves),))
    plan = worked(with_them, SEPTEMBER).plan
    stands = [(s.step, s.place, s.span.start) for s in plan.lots[0].steps if s.step in ("bench", "hold")]
    assert stands[:4] == [
        ("bench", "Bench", out),
        ("bench", "Warm", there),
        ("hold", "Cold", cold),
        ("bench", "Warm", back),
    ]
    days = {task.date for task in plan.tasks if task.to in ("Warm", "Cold")}
    assert {there, cold, back} <= days
    # Once the lot is logged on the way the log has it, the rest is still to come.
    log = (
        LogEntry(out, "T", "brought in", "Bench"),
        LogEntry(there + timedelta(days=1), "T", "brought in", "Warm"),
    )
    later = worked(replace(with_them, log=log), there + timedelta(days=1)).plan
    stands = [(s.step, s.place, s.span.start) for s in later.lots[0].steps if s.step in ("bench", "hold")]
    assert stands == [
        ("bench", "Bench", out), ("bench", "Warm", there + timedelta(days=1)), ("hold", "Cold", cold), ("bench", "Warm", back),  # noqa: E501
    ]  # fmt: skip


# ---------------------------------------------------------------- which agreement


def test_the_newest_agreement_by_the_day_holds_and_each_day_is_as_it_was_told_last_before_it_came() -> None:
    one, two = Agreement(date(2026, 9, 1)), Agreement(date(2026, 11, 1))
    stated = season(agreed=(one, two))
    assert [in_force(stated, date(2026, m, d)) for m, d in ((8, 31), (9, 1), (10, 31), (11, 1))] == [
        None,
        one,
        one,
        two,
    ]

    season_one, _ = agreed(season([Lot("T", "tulip", 20, "mid", target=date(2027, 3, 20))]))
    lot = season_one.agreed[-1].lots[0]
    later = replace(lot, days={**lot.days, "potted": date(2026, 10, 1), "bloom": date(2027, 4, 1)})
    both = replace(season_one, agreed=(season_one.agreed[-1], Agreement(JANUARY, (later,))))
    found = handed_out(both, {})
    # Nothing is logged: what was said last stands.
    assert found is not None and found.lots[0].days["bloom"] == date(2027, 4, 1)
    from forcing.engine.log import History

    potted = lot.days["potted"]
    found = handed_out(both, {"T": History(potted=potted, last=potted, brought_in=date(2027, 1, 10))})
    assert found is not None
    assert found.lots[0].days["potted"] == potted and found.lots[0].days["bloom"] == lot.days["bloom"]


@pytest.mark.parametrize("steered", [False, True])
def test_a_plan_followed_to_the_day_is_not_late_anywhere_in_the_review(tmp_path: Path, steered: bool) -> None:
    loaded = forcing.load({
        "season": pd.DataFrame({"item": ["opens", "closes"], "value": ["2027-03-20", "2027-04-30"]}),
        "places": pd.DataFrame({
            "place": ["Cold", "Bench", "Bench 2"], "kind": ["cooler", "bench", "bench"], "pots": [500, 300, 300],
            "day": [9, 18, 16], "night": [9, 14, 12],
        }),
        "lots": pd.DataFrame({
            "lot": list("ABCD"), "crop": ["tulip", "tulip", "hyacinth", "narcissus"], "pots": [20, 30, 25, 40],
            "class": ["early", "late", None, "mid"],
        }),
    })  # fmt: skip
    done = loaded.agree(on=SEPTEMBER)
    log = []
    for lot in done.agreement.lots:
        events = {"potted": None, "cooler in": lot.cooler, "brought in": lot.bench}
        log += [LogEntry(lot.days[event], lot.name, event, place) for event, place in events.items()]  # type: ignore[index,arg-type]
    now = replace(done.season, stated=replace(done.season.stated, log=tuple(log)))
    on = max(lot.bring_in for lot in done.agreement.lots)
    if steered:
        now = now.agree(on=on, steering=True).season
    table = now.review(on=on).table
    for column in ("potted days late", "cooler in days late", "brought in days late"):
        names = [c for c in table.columns if column.split(" days")[0] in c and "late" in c]
        assert names, table.columns
        assert set(table[names[0]].dropna()) == {0}


# ---------------------------------------------------------------- winters


def one_winter(seed: int, lots: int = 8) -> tuple[set[str], int]:
    """A winter in weeks: work is done on the days that the Monday's plan prints, stages come as the truth draws them.

    Gives every cause that was listed, and how many dates or places changed that no cause was listed for.
    """
    rng = random.Random(seed)
    stated = two_rooms(lots, seed=seed, hours_per_week=30.0)
    stated, made = agreed(stated)
    first = told(made)
    pace = {lot.name: rng.lognormvariate(0, 0.1) for lot in stated.lots}
    log: list[LogEntry] = []
    done: set[tuple[str, str]] = set()
    causes: set[str] = set()
    unlisted = 0
    day = min(p.potting for p in made.plan.lots) - timedelta(days=3)
    day -= timedelta(days=day.weekday())
    last = max(p.bloom for p in made.plan.lots)
    while day < last:
        now = worked(replace(stated, log=tuple(log)), day)
        listed = {(c.what, c.subject) for c in now.changes}
        causes |= {c.why for c in now.changes}
        names = ("potting", "cooler in", "bring in", "set out", "cooler", "bench")
        for name, was in first.items():
            is_now = told(now)[name]
            unlisted += sum(
                a != b and (what, name) not in listed for what, a, b in zip(names, was, is_now, strict=True)
            )
        for plan in now.plan.lots:
            name = plan.lot.name
            bloom = plan.bring_in + (plan.bloom - plan.bring_in) * pace[name]
            dated = {
                "potted": plan.potting,
                "cooler in": plan.cooler_in,
                "brought in": plan.bring_in,
                "bloom": bloom,
            }
            for event, when in dated.items():
                if when is not None and day <= when < day + timedelta(days=7) and (name, event) not in done:
                    done.add((name, event))
                    place = {
                        "cooler in": now.choices[name].cooler,
                        "brought in": now.choices[name].bench,
                    }.get(event)
                    log.append(LogEntry(when, name, event, place))  # type: ignore[arg-type]
        day += timedelta(days=7)
    return causes, unlisted


def test_over_a_winter_no_date_or_place_changes_without_a_listed_cause() -> None:
    causes, unlisted = one_winter(1)
    assert unlisted == 0 and causes <= {"logged", "dates"}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 12))
def test_over_ten_winters_no_date_or_place_changes_without_a_listed_cause(seed: int) -> None:
    causes, unlisted = one_winter(seed, 16)
    assert unlisted == 0 and causes <= {"logged", "dates"}


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_row_of_the_log_moves_only_the_lot_that_it_names(
    handed: tuple[Season, PlanResult], data: st.DataObject
) -> None:
    stated, made = handed
    plan = data.draw(st.sampled_from(made.plan.lots))
    event, day = data.draw(
        st.sampled_from([("potted", plan.potting), ("cooler in", plan.cooler_in), ("lost", plan.potting)])
    )
    day = (day or plan.bring_in) + timedelta(days=data.draw(st.integers(-3, 5)))
    log = (LogEntry(day, plan.lot.name, event, pots=3 if event == "lost" else None),)  # type: ignore[arg-type]
    other = told(worked(replace(stated, log=log), day + timedelta(days=data.draw(st.integers(0, 60)))))
    same = {n: t for n, t in told(made).items() if n != plan.lot.name}
    assert {n: t for n, t in other.items() if n != plan.lot.name} == same


# ---------------------------------------------------------------- records


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return season_folder(tmp_path / "s")


def test_a_record_is_read_as_it_was_written_in_both_units(tmp_path: Path) -> None:
    for unit, day in (("C", 9), ("F", 48)):
        place = season_folder(
            tmp_path / unit,
            season=f"item,value\nopens,2027-03-20\ncloses,2027-04-20\ntemperature unit,{unit}\n",
            places=f"place,kind,pots,day,night\nCold,cooler,500,{day},{day}\nOpen,cooler,500,,\n"
            f"Bench,bench,300,{'16,16' if unit == 'C' else '61,61'}\n",
        )
        done = forcing.load(place).agree(on=SEPTEMBER)
        assert done.folder == place / "agreed" / "2026-09-01"
        read = forcing.load(place).stated.agreed
        assert len(read) == 1
        for was, now in zip(done.agreement.settings, read[0].settings, strict=True):
            assert (was.place, was.span, was.reason) == (now.place, now.span, now.reason)
            assert abs(was.day - now.day) < 1e-9 and abs(was.night - now.night) < 1e-9
        assert read[0].lots == done.agreement.lots and read[0].moves == done.agreement.moves


def test_agreeing_writes_once_and_never_over_a_record(folder: Path) -> None:
    first = command("agree", folder, "--on", "2026-09-01")
    assert first.exit_code == 0 and "Agreed for 1 lot" in first.output
    files = {path: path.read_bytes() for path in (folder / "agreed").rglob("*.csv")}
    assert {path.name for path in files} == {
        "agreement.csv",
        "lots.csv",
        "plan.csv",
        "settings.csv",
        "moves.csv",
    }
    again = command("agree", folder, "--on", "2026-09-01")
    assert (
        "Nothing new" in again.output
        and {p: p.read_bytes() for p in (folder / "agreed").rglob("*.csv")} == files
    )
    (folder / "lots.csv").write_text("lot,crop,pots\nA,tulip,20\nB,tulip,20\n", encoding="utf-8")
    third = command("agree", folder, "--on", "2026-09-01")
    assert "2026-09-01-2" in third.output and all(path.read_bytes() == text for path, text in files.items())
    assert [len(a.lots) for a in forcing.load(folder).stated.agreed] == [1, 2]


def test_beside_a_workbook_the_records_have_its_name(tmp_path: Path) -> None:
    assert command("start", tmp_path / "house.xlsx").exit_code == 0
    from forcing.season.agreed import record_folder

    assert record_folder(tmp_path / "house.xlsx") == tmp_path / "house-agreed"


def rewritten(file: Path, old: str, new: str) -> None:
    file.write_text(file.read_text().replace(old, new))


DAMAGES = {
    "a row is gone": lambda r: (r / "lots.csv").write_text((r / "lots.csv").read_text().split("B,")[0]),
    "a file is gone": lambda r: (r / "plan.csv").unlink(),
    "a date is none": lambda r: rewritten(r / "lots.csv", "2027-03-", "2027-33-"),
    "it is not text": lambda r: (r / "settings.csv").write_bytes(b"\xff\xfe\x00\x01"),
    "it is empty": lambda r: (r / "agreement.csv").write_text(""),
    "a step is strange": lambda r: rewritten(r / "plan.csv", ",pot,", ",put,"),
}  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_record_is_a_finding_and_the_one_before_holds(folder: Path, damage: str) -> None:
    assert command("agree", folder, "--on", "2026-09-01").exit_code == 0
    (folder / "lots.csv").write_text("lot,crop,pots\nA,tulip,20\nB,tulip,20\n", encoding="utf-8")
    assert command("agree", folder, "--on", "2026-09-02").exit_code == 0
    DAMAGES[damage](folder / "agreed" / "2026-09-02")
    loaded = forcing.load(folder)
    assert [len(a.lots) for a in loaded.stated.agreed] == [1]
    found = [f for f in loaded.all_findings if f.code == "record-damaged"]
    assert found and all(f.severity == "error" and f.table.startswith("agreed/2026-09-02/") for f in found)
    done = command("plan", folder, "-o", folder.parent / "out", "--on", "2026-09-03")
    assert done.exit_code == 1 and "the one before it holds" in done.output


def test_what_is_no_record_is_told_and_left_alone(folder: Path) -> None:
    assert command("agree", folder, "--on", "2026-09-01").exit_code == 0
    (folder / "agreed" / "notes").mkdir()
    (folder / "agreed" / "2026-13-45").mkdir()
    (folder / "agreed" / "list.txt").write_text("x")
    loaded = forcing.load(folder)
    strange = {f.table for f in loaded.all_findings if f.code == "record-foreign"}
    assert (
        strange == {"agreed/notes", "agreed/2026-13-45", "agreed/list.txt"} and len(loaded.stated.agreed) == 1
    )


def test_a_folder_that_may_not_be_written_is_said_in_words(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkdtemp", refuse)
    done = command("agree", folder, "--on", "2026-09-01")
    assert done.exit_code == 2 and "cannot write" in done.output and "Permission denied" in done.output
    assert not (folder / "agreed").exists() and not list(folder.glob(".*"))


def test_a_file_in_the_way_of_the_records_is_said_in_words(folder: Path) -> None:
    (folder / "agreed").write_text("in the way")
    done = command("agree", folder, "--on", "2026-09-01")
    assert done.exit_code == 2 and "cannot write" in done.output and not list(folder.glob(".*"))


def test_two_people_who_agree_at_once_leave_two_whole_records_or_one(folder: Path) -> None:
    words = [sys.executable, "-m", "forcing", "agree", str(folder), "--on", "2026-09-01"]
    both = [subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(2)]
    codes = {process.wait(timeout=120) for process in both}
    for process in both:
        process.communicate()
    assert codes <= {0, 2} and 0 in codes
    loaded = forcing.load(folder)
    assert loaded.stated.agreed and not [f for f in loaded.all_findings if f.code.startswith("record")]


def killed_while_agreeing(folder: Path, after: float) -> None:
    words = [sys.executable, "-m", "forcing", "agree", str(folder), "--on", "2026-09-01"]
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    process.wait(timeout=60)
    loaded = forcing.load(folder)
    assert not [f for f in loaded.all_findings if f.code.startswith("record")]
    assert len(loaded.stated.agreed) in (0, 1)


def test_killed_while_agreeing_leaves_a_whole_record_or_none(folder: Path) -> None:
    killed_while_agreeing(folder, 0.8)
    assert command("agree", folder, "--on", "2026-09-01").exit_code == 0
    left = [path for path in (folder / "agreed").iterdir() if path.name.startswith(".")]
    assert left == [] and len(forcing.load(folder).stated.agreed) == 1


@pytest.mark.slow
@pytest.mark.parametrize("turn", range(40))
def test_killed_at_any_moment_while_agreeing_leaves_a_whole_record_or_none(folder: Path, turn: int) -> None:
    killed_while_agreeing(folder, 0.3 + turn * 0.05)


# ---------------------------------------------------------------- as people see it


def test_plan_writes_the_changes_and_says_them(folder: Path) -> None:
    out = folder.parent / "out"
    first = command("plan", folder, "-o", out, "--on", "2026-09-01")
    assert "Nothing is agreed yet" in first.output and rows(out / "changes.csv") == []
    assert command("agree", folder, "--on", "2026-09-01").exit_code == 0
    as_agreed = command("plan", folder, "-o", out, "--on", "2026-09-01")
    assert "As agreed on" in as_agreed.output and "changed:" not in as_agreed.output
    (folder / "lots.csv").write_text("lot,crop,pots,target bloom\nA,tulip,20,2027-04-05\n", encoding="utf-8")
    moved = command("plan", folder, "-o", out, "--on", "2026-09-01")
    assert "changed: A: " in moved.output and "its target has changed" in moved.output
    found = rows(out / "changes.csv")
    assert {row["lot or place"] for row in found} == {"A"} and {row["why"] for row in found} == {
        "its target has changed"
    }
    assert {"potting", "bring in"} <= {row["what"] for row in found}
    shutil.rmtree(folder / "agreed")
    assert "Nothing is agreed yet" in command("plan", folder, "-o", out, "--on", "2026-09-01").output


def test_a_monday_makes_no_search_and_has_everything_from_one_working_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lots = "lot,crop,class,pots\n" + "".join(
        f"T{i},tulip,{k},40\n" for i, k in enumerate(["early", "mid", "late"] * 2)
    )
    place = season_folder(tmp_path / "s", lots=lots)
    assert command("agree", place, "--on", "2026-09-01").exit_code == 0
    first = forcing.load(place).stated.agreed[-1].lots[0]
    (place / "log.csv").write_text(f"date,lot,event\n{first.potting},{first.name},potted\n", encoding="utf-8")

    def no_search(*_: object) -> None:
        raise AssertionError("a Monday searches")

    monkeypatch.setattr("forcing.engine.allocation.allocate.search_keeping_cold", no_search)
    done = command("week", place, "--on", "2026-12-07", "-o", tmp_path / "out")
    assert done.exit_code in (0, 1) and "searches" not in done.output, done.output
    assert {"week-2026-W50.pdf", "outlook.csv", "steer.csv", "changes.csv", "board.html"} <= {
        path.name for path in (tmp_path / "out").iterdir()
    }


def test_the_command_is_there() -> None:
    assert "agree" in main.commands
