"""Cooler programmes, room findings, loads, tasks and their states, places chosen by the tool."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.dates import WEEK, WorkCalendar, monday
from forcing.engine.allocation.allocate import Request, problem_in
from forcing.engine.context import Context
from forcing.engine.log import histories
from forcing.engine.work.rules import RULES, LotDays, Stand, moments
from forcing.engine.work.tasks import CAUTIONS, all_tasks
from forcing.model import Companion, Display, LogEntry, Lot, Minutes, Place, Plan, Reading, Season, Setpoint
from forcing.recipes.book import shipped_minutes
from tests.builders import MON_FRI, house_figures, plan, season

TARGET = date(2027, 3, 20)
ROOMS = (Place("Cold", "cooler", 500), Place("Bench", "bench", 100, day=16, night=16))
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=20, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, cooled_at=5, kept_at=1, sprouting=10,
)  # fmt: skip


def tulips(name: str = "A", pots: int = 10, **other: object) -> Lot:
    return Lot(name, "tulip", pots, **({"target": TARGET} | other))  # type: ignore[arg-type]


def programme(made: Plan, place: str = "Cold") -> list[tuple[date, float]]:
    return [(r.span.start, r.mean) for r in made.rooms if r.place == place]


# ---------------------------------------------------------------- rooms


def test_a_cooler_without_temperatures_is_given_nine_five_one() -> None:
    # Cornell: 9 °C until rooted (3 weeks), 5 °C until shoots of 2.5 cm (10 weeks), then 1 °C.
    made = plan(season([tulips()], places=ROOMS, overrides=FIGURES))
    into = made.lots[0].cooler_in
    assert into == date(2026, 11, 18)
    assert programme(made)[1:] == [(into + timedelta(days=21), 5.0), (into + timedelta(days=70), 1.0)]
    assert programme(made)[0][1] == 9.0


def test_a_room_whose_lots_have_shoots_by_the_time_all_are_rooted_goes_down_in_two_steps() -> None:
    # A's shoots are out ten weeks after it came in, long before B of 60 days later is rooted: 5 °C then, 1 °C after
    # four days, or on the first working day after these.
    two = [tulips("A"), tulips("B", target=TARGET + timedelta(days=60))]
    made = plan(season(two, places=ROOMS, overrides=FIGURES))
    last = max(p.rooted for p in made.lots if p.rooted)
    calendar = made.season.calendar
    down = calendar.on_or_after(last)
    assert programme(made)[1:] == [(down, 5.0), (calendar.on_or_after(down + timedelta(days=4)), 1.0)]


def test_the_room_waits_for_the_last_lot_to_root() -> None:
    two = [tulips("A"), tulips("B", target=TARGET + timedelta(days=14))]
    made = plan(season(two, places=ROOMS, overrides=FIGURES))
    last = max(p.rooted for p in made.lots if p.rooted)
    assert programme(made)[1][0] == last
    codes = {f.code for f in made.findings}
    assert "stepped-before-rooted" not in codes


def test_two_places_that_are_both_too_full_are_both_told_whatever_their_names() -> None:
    # 20 pots of 15 cm on Bench 2, which holds 10; on Bench only 40 violas, which take the room of more than 10.
    places = (Place("Cold", "cooler", 500), Place("Bench", "bench", 10, 16, 16), Place("Bench 2", "bench", 10, 16, 16),
              Place("Frame", "frame", day=8, night=6))  # fmt: skip
    violas = Companion("V", "viola", 40, TARGET, "Bench")
    stated = season(
        [tulips("A", 20, bench="Bench 2", pot_cm=15)], places=places, overrides=FIGURES, companions=(violas,)
    )
    full = [f for f in plan(stated).findings if f.code == "place-overfull"]
    assert {f.place for f in full} == {"Bench", "Bench 2"}
    assert {f.place: f.number for f in full}["Bench 2"] == pytest.approx(10)


def test_shoots_before_the_room_can_step_down_are_told() -> None:
    two = [tulips("A"), tulips("B", target=TARGET + timedelta(days=60))]
    made = plan(season(two, places=ROOMS, overrides=FIGURES))
    finding = next(f for f in made.findings if f.code == "shoots-before-step-down")
    assert "A will have shoots" in finding.message and "B" in finding.hint


def late_few(free: float, **stated: object) -> Plan:
    """Two lots of five pots nine weeks after eight of ten, in a house with another cooler with room for so many."""
    late = TARGET + timedelta(days=63)
    lots = [tulips(name, **stated) for name in "ACEFGHIJ"]
    lots += [tulips(name, 5, target=late, **stated) for name in "BD"]
    return plan(season(lots, places=(*ROOMS, Place("Other", "cooler", free)), overrides=FIGURES))


def test_few_late_pots_stand_where_they_keep_no_room_from_its_step_down() -> None:
    made = late_few(500)
    rooms = {p.lot.name: next(s.place for s in p.steps if s.step == "root") for p in made.lots}
    assert rooms["B"] == rooms["D"] != rooms["A"] and {rooms[name] for name in "ACEFGHIJ"} == {rooms["A"]}
    assert "shoots-before-step-down" not in {f.code for f in made.findings}


def test_few_late_pots_that_keep_a_room_are_named_with_how_long_and_where_they_could_stand() -> None:
    """Their targets, and so the days on which they are rooted, are nine weeks after those of the others."""
    for made, words in (
        (late_few(5), "in another cooler"),
        (late_few(500, cooler="Cold"), "in Other, which has room for them"),
    ):
        [finding] = [f for f in made.findings if f.code == "shoots-before-step-down"]
        assert finding.lots == ("B", "D") and (finding.number, finding.place) == (9, "Cold")
        assert (
            "B and D (10 pots) keep Cold" in finding.message
            and "A, C, E, F, G, H and 2 more will" in finding.message
        )
        assert words in finding.hint


def test_stated_setpoints_are_kept_and_an_early_step_down_is_told() -> None:
    points = (Setpoint("Cold", date(2026, 10, 1), 9, 9), Setpoint("Cold", date(2026, 12, 1), 2, 2, row=3))
    made = plan(season([tulips()], places=ROOMS, setpoints=points, overrides=FIGURES))
    assert programme(made) == [(date(2026, 10, 1), 9.0), (date(2026, 12, 1), 2.0)]
    finding = next(f for f in made.findings if f.code == "stepped-before-rooted")
    assert (finding.table, finding.row, finding.value) == ("setpoints", 3, "2026-12-01")
    late = (points[0], replace(points[1], start=date(2026, 12, 9)))  # rooted on 9 December, by hand
    codes = {
        f.code for f in plan(season([tulips()], places=ROOMS, setpoints=late, overrides=FIGURES)).findings
    }
    assert "stepped-before-rooted" not in codes


def test_hyacinths_in_a_tulip_room_lose_cold_and_it_is_told() -> None:
    lots = [tulips("T", 100), Lot("H", "hyacinth", 10, target=TARGET + timedelta(days=10))]
    made = plan(season(lots, places=ROOMS, overrides=FIGURES))
    finding = next(f for f in made.findings if f.code == "room-credits-less")
    assert "H (hyacinth)" in finding.message
    h = made.lot("H")
    assert h.cooler_in is not None and (h.bring_in - h.cooler_in).days / 7 > h.cold_weeks + 0.5


def test_the_limits_of_a_room_bound_its_programme() -> None:
    cramped = (Place("Cold", "cooler", 500, lowest=3, highest=8), ROOMS[1])
    made = plan(season([tulips()], places=cramped, overrides=FIGURES))
    assert [t for _, t in programme(made)] == [8.0, 5.0, 3.0]


def test_a_reading_wins_over_a_setpoint_and_a_warm_break_earns_nothing() -> None:
    warm = tuple(Reading("Cold", date(2026, 12, 1) + timedelta(days=i), 19, 21) for i in range(7))
    places = (Place("Cold", "cooler", day=9, night=9), ROOMS[1])
    stated = season([tulips()], places=places, overrides=FIGURES, readings=warm)
    (p,) = plan(stated, date(2026, 12, 8)).lots
    assert p.cooler_in == date(2026, 11, 18) - timedelta(days=7)
    assert p.cold_weeks == pytest.approx(14)


# ---------------------------------------------------------------- loads


def count_by_hand(made: Plan, place: str, day: date) -> float:
    """Pots in a place on a day, weighed by the square of their width in 15 cm pots."""
    total = 0.0
    for p in made.lots:
        wide = p.lot.pot_cm or p.recipe.pot
        for step in p.steps:
            if step.place == place and step.span.start <= day < step.span.end:
                total += p.lot.pots * wide * wide / 225
    return total


def test_loads_are_the_pots_that_stand_there() -> None:
    lots = [
        tulips("A", 60),
        tulips("B", 50, pot_cm=12.0),
        tulips("C", 40, target=TARGET + timedelta(days=12)),
    ]
    made = plan(season(lots, places=ROOMS, overrides=FIGURES))
    for load in made.loads:
        for i in range(0, len(load.pots), 5):
            day = load.start + timedelta(days=i)
            assert load.pots[i] == pytest.approx(count_by_hand(made, load.place, day), abs=1e-5)


def test_exactly_full_is_not_overfull_and_one_pot_more_is() -> None:
    for pots, over in ((100, False), (101, True)):
        made = plan(season([tulips(pots=pots)], places=ROOMS, overrides=FIGURES))
        found = [f for f in made.findings if f.code == "place-overfull"]
        assert bool(found) is over
        if found:
            assert "2027-W08" in found[0].message and "by 1" in found[0].message


# ---------------------------------------------------------------- places chosen by the tool


def test_a_lot_without_a_bench_gets_the_one_nearest_its_reference() -> None:
    places = (*ROOMS, Place("Cool bench", "bench", 100, day=10, night=10))
    made = plan(season([tulips()], places=places, overrides=FIGURES))
    assert {s.place for s in made.lots[0].steps if s.step == "bench"} == {"Bench"}


def test_lots_without_benches_spread_over_the_room_there_is() -> None:
    places = (*ROOMS, Place("Other", "bench", 100, day=15, night=15))
    made = plan(season([tulips("A", 70), tulips("B", 70)], places=places, overrides=FIGURES))
    benches = Counter(s.place for p in made.lots for s in p.steps if s.step == "bench")
    assert benches == {"Bench": 1, "Other": 1}
    assert not [f for f in made.findings if f.code == "place-overfull"]


@pytest.mark.parametrize(
    ("lot", "word"),
    [
        (tulips(bench="Nowhere"), "no place Nowhere"),
        (tulips(cooler="Nowhere"), "no place Nowhere"),
        (tulips(display="Gone"), "no display Gone"),
        (Lot("X", "moonflower", 3), "moonflower"),
        (Lot("Y", "narcissus", 3), "contradicts"),
    ],
)
def test_a_lot_that_names_what_is_not_there_is_unplanned_with_the_reason(lot: Lot, word: str) -> None:
    nonsense = house_figures("narcissus", base=18, reference=16)  # no heat at all at its own reference
    made = plan(season([lot, tulips("Z")], places=ROOMS, overrides=(*FIGURES, *nonsense)))
    assert word in made.unplanned[0].reason
    assert [p.lot.name for p in made.lots] == ["Z"]
    assert [f.severity for f in made.findings if f.code == "lot-unplanned"] == ["error"]


def test_no_places_at_all() -> None:
    made = plan(season([tulips()], places=(), overrides=FIGURES))
    assert "no cooler and no bench" in made.unplanned[0].reason


def test_an_empty_season_plans_to_nothing() -> None:
    made = plan(season([]))
    assert made.lots == () and made.tasks == () and made.findings == ()


# ---------------------------------------------------------------- tasks


def full_season(**other: object) -> Season:
    places = (*ROOMS, Place("Frame", "frame", day=6, night=6), Place("Court", "site", day=7, night=7))
    lot = tulips(display="D", install=date(2027, 3, 17), harden_at="Frame", harden_days=4, hold_days=3)
    show = Display("D", 4, "Court", season().span)
    given = {"places": places, "displays": (show,), "overrides": FIGURES, "calendar": MON_FRI} | other
    return season([lot], **given)


def test_every_kind_of_task_is_made_on_a_working_day_with_hours_and_cautions() -> None:
    stated = full_season()
    made = plan(stated)
    assert {t.task for t in made.tasks} == {
        "order", "pot", "into cooler", "root check", "step down", "bring in", "check shoots", "check bud",
        "check colour", "turn and space", "hold", "harden off", "set out", "clear", "clean", "look back",
    }  # fmt: skip
    assert all(t.look_for for t in made.tasks)
    for task in made.tasks:
        assert stated.calendar.works(task.date), task
        assert task.hours > 0
        assert set(task.cautions) <= set(CAUTIONS)
    assert len({t.key for t in made.tasks}) == len(made.tasks)
    assert {c for t in made.tasks for c in t.cautions} >= {"bulbs", "lifting", "cold room", "wet floor"}


def test_work_with_bulbs_lifting_and_cold_rooms_always_carries_its_caution() -> None:
    assert "bulbs" in RULES["pot"].cautions
    for task in ("pot", "into cooler", "bring in", "hold", "harden off", "set out"):
        assert "lifting" in RULES[task].cautions
    for task in ("into cooler", "root check", "step down", "bring in", "hold"):
        assert "cold room" in RULES[task].cautions


def test_hours_come_from_the_table_of_minutes() -> None:
    from forcing.engine.plan import work_out
    from forcing.recipes.book import RecipeBook

    stated = season([tulips(pots=30)], places=ROOMS, overrides=FIGURES)
    rows = {row.task: row for row in shipped_minutes()} | {"pot": Minutes("pot", 4.0, 15.0)}
    made = work_out(stated, RecipeBook.from_overrides(FIGURES), Context(date(2026, 9, 1), rows)).plan
    assert next(t.hours for t in made.tasks if t.task == "pot") == pytest.approx((30 * 4 + 15) / 60)


def test_moves_say_from_where_to_where() -> None:
    made = plan(full_season())
    moves = {(t.task, t.place, t.to) for t in made.tasks if t.to}
    assert {
        ("into cooler", None, "Cold"), ("bring in", "Cold", "Bench"), ("hold", "Bench", "Cold"),
        ("harden off", "Bench", "Frame"), ("set out", "Frame", "Court"),
    } <= moves  # fmt: skip


def states(on: date, log: tuple[LogEntry, ...]) -> dict[str, str]:
    made = plan(season([tulips()], places=ROOMS, overrides=FIGURES, log=log), on)
    return {t.task: t.state for t in made.tasks if t.lot == "A"}


def test_states_follow_the_log() -> None:
    # by hand: potted 17 November, cooler 18 November, rooted 9 December, bring in 24 February
    on = date(2026, 12, 10)
    other = (LogEntry(date(2026, 11, 1), "someone else", "potted"),)
    assert states(on, ())["pot"] == "not logged"  # nobody keeps a log: nothing is called overdue
    assert states(date(2026, 11, 18), other)["pot"] == "overdue"
    # Three things behind each other are a log that is not kept.
    seen = states(on, other)
    assert {seen[task] for task in ("pot", "into cooler", "root check")} == {"not logged"}
    assert seen["bring in"] == "planned"
    seen = states(on, (LogEntry(date(2026, 11, 18), "A", "cooler in"),))
    assert (seen["pot"], seen["into cooler"], seen["root check"]) == ("done", "done", "overdue")
    assert states(date(2026, 11, 17), ())["pot"] == "due"
    assert states(date(2026, 11, 16), other)["pot"] == "planned"


def test_only_the_first_of_a_kind_can_be_overdue() -> None:
    # The log has one word for being brought in: it cannot tell the second time, back from the hold, from the first.
    made = plan(full_season())
    back = [t for t in made.tasks if t.task == "bring in"]
    assert [t.key for t in back] == ["bring in/A/1", "bring in/A/2"]
    rows = {row.task: row for row in shipped_minutes()}
    on = date(
        2027, 3, 24
    )  # in the days of the show; brought in on 15 February, back from the hold on 11 March
    late = all_tasks(made.season, made.lots, made.rooms, Context(on, rows))
    assert {t.state for t in late if t.date < on} == {"not logged"}  # nobody keeps a log
    log = (LogEntry(date(2026, 12, 9), "A", "rooted"),)
    kept = all_tasks(replace(made.season, log=log), made.lots, made.rooms, Context(date(2027, 2, 17), rows))
    assert {t.key: t.state for t in kept}["bring in/A/1"] == "overdue"
    log = (LogEntry(date(2027, 3, 18), "A", "held"),)
    kept = all_tasks(replace(made.season, log=log), made.lots, made.rooms, Context(on, rows))
    seen = {t.key: t.state for t in kept}
    assert seen["order/A/1"] == seen["bring in/A/2"] == seen["turn and space/A/1"] == "not logged"


def test_held_and_set_out_on_one_day_are_taken_in_the_order_of_life() -> None:
    # Whatever the order of the rows, it goes from the hold to the court and stays there.
    day = date(2027, 3, 15)
    before = (
        LogEntry(date(2026, 11, 17), "A", "potted"), LogEntry(date(2026, 11, 18), "A", "cooler in", "Cold"),
        LogEntry(date(2027, 2, 24), "A", "brought in", "Bench"),
    )  # fmt: skip
    held, out = LogEntry(day, "A", "held", "Cold", row=9), LogEntry(day, "A", "set out", row=8)
    for rows in ((held, out), (out, held), (replace(held, row=8), replace(out, row=9))):
        stated = full_season(log=(*before, *rows))
        found, _ = histories(stated, day)
        assert [move.step for move in found["A"].moves][-1] != "hold"
        made = plan(stated, day)
        assert [s.place for s in made.lots[0].steps if day in s.span] == ["Court"]


def life(**other: object) -> LotDays:
    """Potted on day 0, in the cooler from 1, rooted on 20, on the bench from 100, in bloom on 130."""
    stands = [Stand("pot", None, 0, 1), Stand("cool", "Cold", 1, 100), Stand("bench", "Bench", 100, 130)]
    given = {
        "potting": 0, "cooler_in": 1, "rooted": 20, "bring_in": 100, "stages": (110, 115, 120), "bloom": 130,
        "install": None, "site": None, "stands": stands,
    }  # fmt: skip
    return LotDays(**(given | other))  # type: ignore[arg-type]


def days_of(task: str, lot: LotDays, late: int = 0) -> list[int]:
    """Days of a task where each falls `late` days after the day asked for."""
    return [m.day for m in moments(lot, lambda day: day, lambda day: day + late) if m.task == task]


def test_each_rule_of_a_lots_work_from_both_sides_of_its_edge() -> None:
    assert days_of("root check", life()) == [20]
    assert days_of("root check", life(rooted=2)) == [2] and days_of("root check", life(rooted=1)) == []
    assert days_of("root check", life(rooted=99)) == [99] and days_of("root check", life(rooted=100)) == []
    assert days_of("root check", life(rooted=99), 5) == [100]  # not after it has left the cooler
    for stage, seen in (("check shoots", (101, 115, 120)), ("check colour", (105, 110, 129))):
        assert len(days_of(stage, life(stages=seen))) == 1
    assert (
        days_of("check shoots", life(stages=(100, 115, 120))) == []
    )  # the day it is brought in it is looked at
    assert days_of("check colour", life(stages=(105, 110, 130))) == []  # in bloom
    assert (
        days_of("check colour", life(stages=(105, 110, 128)), 2) == []
    )  # by the next working day it is in bloom
    assert days_of("bring in", life(install=101, site="Court")) == [100]
    assert days_of("bring in", life(install=100, site="Court")) == []  # straight from the cooler to the court
    assert days_of("into cooler", life(cooler_in=None, rooted=None)) == []


def test_nobody_is_sent_to_look_at_a_lot_on_the_day_it_is_hardened_off_or_set_out() -> None:
    # seen on 121: shoots; on 122, the day it goes to the frame: buds; on 126, that on which it is set out: colour
    stands = [
        Stand("cool", "Cold", 1, 100), Stand("bench", "Bench", 100, 122), Stand("harden", "Frame", 122, 126),
        Stand("show", "Court", 126, 150),
    ]  # fmt: skip
    out = life(stages=(121, 122, 126), install=126, site="Court", stands=stands)
    assert [days_of(f"check {stage}", out) for stage in ("shoots", "bud", "colour")] == [[121], [], []]
    # in bloom where it stands, nobody carries it: it is looked at the day before
    stays = [
        Stand("cool", "Cold", 1, 100),
        Stand("bench", "Bench", 100, 130),
        Stand("show", "Bench", 130, 150),
    ]
    made = moments(life(stages=(110, 115, 129), stands=stays), lambda day: day - 1, lambda day: day)
    assert [m.day for m in made if m.task == "check colour"] == [129]


def test_pots_are_turned_each_week_that_they_stand_on_a_bench_before_bloom() -> None:
    bench = [Stand("pot", None, 0, 1), Stand("cool", "Cold", 1, 100), Stand("bench", "Bench", 100, 121)]
    assert days_of("turn and space", life(stands=bench)) == [107, 114]  # 121 is the day it leaves
    bench[-1] = Stand("bench", "Bench", 100, 122)
    assert days_of("turn and space", life(stands=bench)) == [107, 114, 121]
    assert days_of("turn and space", life(stands=bench), 1) == [108, 115]  # the 122nd is too late


def test_holding_hardening_and_setting_out_are_moves_from_place_to_place() -> None:
    stands = [
        Stand("pot", None, 0, 1), Stand("cool", "Cold", 1, 100), Stand("bench", "Bench", 100, 120),
        Stand("hold", "Cold", 120, 125), Stand("bench", "Bench", 125, 127), Stand("harden", "Frame", 127, 129),
        Stand("harden", "Court", 129, 130), Stand("show", "Court", 130, 150),
    ]  # fmt: skip
    made = list(moments(life(install=129, site="Court", stands=stands), lambda d: d, lambda d: d))
    moves = [(m.task, m.turn, m.day, m.place, m.to) for m in made if m.to is not None]
    assert moves == [
        ("into cooler", 1, 1, None, "Cold"), ("bring in", 1, 100, "Cold", "Bench"),
        ("hold", 1, 120, "Bench", "Cold"), ("bring in", 2, 125, "Cold", "Bench"),
        ("harden off", 1, 127, "Bench", "Frame"), ("set out", 1, 129, "Frame", "Court"),
    ]  # fmt: skip


def test_work_reckoned_for_an_option_is_the_work_of_its_plan() -> None:
    # Tasks of the finished plan but ordering and potting, which the search counts apart, and the rooms'.
    stated = replace(full_season(), hours_per_week=100.0)
    made = plan(stated)
    context = Context(date(2026, 9, 1), {row.task: row for row in shipped_minutes()})
    recipe = made.lots[0].recipe
    request = Request(stated, {"A": recipe}, {}, context)
    (candidate,) = problem_in(request, list(stated.lots), made.rooms, rooms_set=False).candidates
    climate = problem_in(request, list(stated.lots), made.rooms, rooms_set=False).climate_sums.climate
    chosen = next(o for o in candidate.options if o.dates.wanted == made.lots[0].cold_wanted)
    reckoned = sorted((climate.day(day), task) for day, task in chosen.work)
    done = sorted((t.date, t.task) for t in made.tasks if t.lot and t.task not in ("order", "pot"))
    assert reckoned == done and len(done) > 8


def test_weeks_short_of_hands_are_told() -> None:
    made = plan(season([tulips(pots=90)], places=ROOMS, overrides=FIGURES, hours_per_week=1.0))
    found = [f for f in made.findings if f.code == "hours-short"]
    assert found and all(f.table == "season" and f.value == "1" for f in found)
    assert any("2026-W47" in f.message for f in found)  # the potting week: 17 November 2026 is in W47


def test_work_is_told_by_crop_and_a_crop_without_cold_hears_of_no_cold_room() -> None:
    lots = [
        Lot("L", "easter lily", 5, target=date(2027, 5, 9)), Lot("H", "hyacinth", 5, target=TARGET),
        Lot("A", "amaryllis", 5, target=TARGET), Lot("P", "paperwhite", 5, target=TARGET),
    ]  # fmt: skip
    places = (Place("Cold", "cooler", 500), Place("Bench", "bench", 100, day=18, night=16))
    made = plan(season(lots, places=places))
    said = {(t.lot, t.task): t for t in made.tasks}
    assert "deep" in said["L", "pot"].look_for and "neck" in said["A", "pot"].look_for
    assert "greened" in said["H", "bring in"].look_for
    assert "count leaves" in said["L", "check bud"].look_for
    for lot in "AP":
        mine = [t for t in made.tasks if t.lot == lot]
        assert {t.task for t in mine} >= {"pot", "bring in", "check bud"}
        for task in mine:
            assert not {"cold room", "ethylene"} & set(task.cautions), task
            assert "dim" not in task.look_for and "roots at the holes" not in task.look_for, task
    assert "cold room" in said["H", "bring in"].cautions
    assert {"mould"} <= set(said["H", "pot"].cautions) and "ethylene" in said["H", "root check"].cautions


def test_a_task_of_which_nothing_is_said_by_crop_has_the_usual_words() -> None:
    made = plan(season([tulips()], places=ROOMS, overrides=FIGURES))
    turn = next(t for t in made.tasks if t.task == "turn and space")
    assert turn.look_for == RULES["turn and space"].look_for  # none of its own for tulips


def test_a_bench_is_turned_on_one_day_of_a_week_that_on_which_most_pots_are_due() -> None:
    # Out of the cooler on different weekdays, each would be turned a week after its own.
    lots = [
        tulips(name, pots, target=TARGET + timedelta(days=days))
        for name, pots, days in (("A", 10, 0), ("B", 40, 2), ("C", 10, 4))
    ]
    made = plan(season(lots, places=ROOMS, overrides=FIGURES))
    steps = {p.lot.name: p.steps for p in made.lots}
    assert len({p.bring_in.weekday() for p in made.lots}) == 3
    weeks: dict[date, set[date]] = {}
    for task in made.tasks:
        if task.task == "turn and space":
            weeks.setdefault(monday(task.date), set()).add(task.date)
            assert any(s.place == task.place and task.date in s.span for s in steps[task.lot or ""])
    both = [days for week, days in weeks.items() if all(p.bring_in + 2 * WEEK < week for p in made.lots)]
    assert both and all(len(days) == 1 for days in both)
    bring_in = made.lot("B").bring_in
    assert {day.weekday() for days in both for day in days} == {bring_in.weekday()}  # B has most of the pots


def test_a_lot_is_not_turned_twice_in_one_walk() -> None:
    # On the bench from Wednesday 24 February: due on 3 and 10 March. Closed from the 3rd to Sunday the 7th, the first
    # turn is made good on Monday the 8th, in the week of the second.
    one = [tulips("A", 10)]
    usual = plan(season(one, places=ROOMS, overrides=FIGURES))
    turns = [t.date for t in usual.tasks if t.task == "turn and space"]
    assert len(turns) >= 2
    shut = frozenset(turns[0] + timedelta(days=n) for n in range(5))
    closed = WorkCalendar(frozenset(range(7)), shut)
    made = plan(season(one, places=ROOMS, overrides=FIGURES, calendar=closed))
    days = [t.date for t in made.tasks if t.task == "turn and space"]
    assert len(days) == len(set(days)) and not shut & set(days)
