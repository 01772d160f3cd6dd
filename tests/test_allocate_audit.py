"""The independent count of finished plans, hours of a week and their levelling: each rule from both sides of its edge.

Plans here are written by hand, day by day; nothing is planned, so that no rule is tested against the search it checks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from forcing.dates import Span
from forcing.engine.allocation import audit
from forcing.engine.work.hours import hours_by_week, hours_findings, hours_short, levelled, potted_on
from forcing.model import LogEntry, Lot, LotPlan, Occupancy, Place, Season, Step, Task
from forcing.recipes.book import RecipeBook
from tests.builders import MON_FRI, season

DAY = timedelta(days=1)
RECIPE = replace(RecipeBook.from_overrides(()).recipe("tulip"), cold_min=12.0, pot=15.0)
POTTED, INTO, BROUGHT, BLOOM = date(2026, 11, 17), date(2026, 11, 18), date(2027, 2, 24), date(2027, 3, 20)


def grown(name: str = "A", pots: int = 40, **other: Any) -> LotPlan:
    """A tulip potted on Tuesday 17 November, in Cold from the 18th, on Bench from 24 February, in bloom on 20 March."""
    pot_cm = other.pop("pot_cm", None)
    potting, into, brought = (
        other.get("potting", POTTED), other.get("cooler_in", INTO), other.get("bring_in", BROUGHT)
    )  # fmt: skip
    steps = (
        Step(name, "pot", None, Span(potting, into or brought)),
        *([Step(name, "cool", "Cold", Span(into, brought))] if into else []),
        Step(name, "bench", "Bench", Span(brought, BLOOM)),
    )
    given: dict[str, Any] = {
        "lot": Lot(name, "tulip", pots, pot_cm=pot_cm), "recipe": RECIPE, "steps": steps, "target": BLOOM,
        "potting": potting, "cooler_in": into, "rooted": None, "sprouted": None, "bring_in": brought,
        "stages": {}, "bloom": BLOOM, "fade": None, "install": None, "cold_weeks": 14.0, "cold_wanted": 14.0,
        "need": 336.0, "days_early": 0, "assumed_days": 0,
    }  # fmt: skip
    return LotPlan(**(given | other))


# ---------------------------------------------------------------- room


def held(pots: float, bench: float = 500.0) -> Season:
    return season(
        places=(Place("Cold", "cooler", pots), Place("Bench", "bench", bench), Place("Open", "site"))
    )


def test_a_place_is_over_from_the_first_pot_too_many_and_not_before() -> None:
    two = [grown("A", 40), grown("B", 30)]
    assert audit.overfull(held(70), two) == ()
    assert audit.overfull(held(70 - 0.0009), two) == ()  # a thousandth of a pot is rounding
    over = audit.overfull(held(70 - 0.0011), two)
    # 18 November to 23 February: 12 of November, 31 of December, 31 of January, 23 of February without the 24th
    assert len(over) == 13 + 31 + 31 + 23
    assert (over[0].place, over[0].day, over[-1].day) == ("Cold", INTO, BROUGHT - DAY)
    assert over[0].lots == ("A", "B") and over[0].pots == pytest.approx(70)
    assert over[0].capacity == 70 - 0.0011


def test_the_day_a_lot_leaves_belongs_to_the_next_place() -> None:
    # B comes on the day A goes: never both.
    later = grown("B", 40, cooler_in=BROUGHT, bring_in=BLOOM - DAY)
    assert audit.overfull(held(40), [grown(), later]) == ()
    sooner = grown("B", 40, cooler_in=BROUGHT - DAY, bring_in=BLOOM - DAY)
    assert [(o.day, o.pots) for o in audit.overfull(held(40), [grown(), sooner])] == [(BROUGHT - DAY, 80)]


def test_room_is_pots_by_the_square_of_their_width() -> None:
    # 40 pots of 30 cm are 160 of 15 cm; of 7.5 cm they are 10; without a stated width it is the recipe's, 15 cm.
    for width, room in ((30.0, 160), (7.5, 10), (None, 40)):
        counted = audit.count([grown(pot_cm=width)])
        assert counted["Cold", INTO] == pytest.approx(room)
        assert ("Cold", INTO - DAY) not in counted and ("Cold", BROUGHT) not in counted


def test_what_stands_there_beside_the_lots_counts_but_is_not_told_of_alone() -> None:
    days = Span(BLOOM - 2 * DAY, BLOOM + DAY)
    beside = (Occupancy("Bench", days, 45.0), Occupancy("Bench", days, 25.0))
    assert audit.overfull(held(500, 110), [grown()], beside) == ()
    over = audit.overfull(held(500, 109), [grown()], beside)
    assert [(o.day, o.pots) for o in over] == [(BLOOM - 2 * DAY, 110), (BLOOM - DAY, 110)]
    assert audit.overfull(held(500, 60), [], beside) == ()  # overfull, but no lot of this plan is there
    # 20 March: the lot has left, what is left there is not its doing
    assert {o.day for o in audit.overfull(held(500, 60), [grown()], beside)} == {
        BLOOM - 2 * DAY, BLOOM - DAY,
    }  # fmt: skip


def test_a_place_of_no_stated_size_is_never_overfull() -> None:
    steps = (Step("A", "harden", "Open", Span(BROUGHT, BLOOM)),)
    assert audit.overfull(held(1, 1), [grown(pots=10_000, steps=steps)]) == ()


# ---------------------------------------------------------------- rules that hold for every plan


@pytest.mark.parametrize(
    ("changed", "stated", "word"),
    [
        ({}, {}, None),
        ({"bloom": BLOOM}, {}, None),
        ({"bloom": BLOOM + DAY}, {}, "is ready after its target"),
        ({"cold_weeks": 10.0}, {}, None),
        ({"cold_weeks": 10.0 - 0.0009}, {}, None),  # rounding
        ({"cold_weeks": 10.0 - 0.0011}, {}, "10.00 cold-weeks, fewer than it needs"),
        ({"cold_weeks": 9.9}, {}, "9.90 cold-weeks, fewer than it needs"),
        ({}, {"bulbs_in_hand": POTTED}, None),
        ({}, {"bulbs_in_hand": POTTED + DAY}, "potted before its bulbs are there"),
        ({"potting": date(2026, 11, 15)}, {}, "moved on 2026-11-15, when nobody works"),  # a Sunday
        ({"cooler_in": date(2026, 11, 21)}, {}, "moved on 2026-11-21, when nobody works"),  # a Saturday
        ({"bring_in": date(2027, 2, 27)}, {}, "moved on 2027-02-27, when nobody works"),  # a Saturday
    ],
)
def test_each_rule_from_both_sides_of_its_edge(
    changed: dict[str, Any], stated: dict[str, Any], word: str | None
) -> None:
    found = audit.broken(season(calendar=MON_FRI, **stated), [grown(**changed)])
    assert len(found) == (word is not None)
    assert word is None or (word in found[0] and found[0].startswith("A "))


def test_a_crop_without_cold_has_no_cold_rule_and_no_day_in_a_cooler() -> None:
    annual = grown(cooler_in=None, cold_weeks=0.0, recipe=replace(RECIPE, cold_max=0.0))
    assert not annual.recipe.needs_cold
    assert audit.broken(season(calendar=MON_FRI), [annual]) == ()


def test_every_rule_broken_is_told_and_lots_that_have_begun_are_not_judged() -> None:
    bad = grown("B", bloom=BLOOM + DAY, cold_weeks=3.0, potting=date(2026, 11, 15))
    stated = season(calendar=MON_FRI, bulbs_in_hand=POTTED)
    assert len(audit.broken(stated, [grown(), bad])) == 4
    assert len(audit.broken(stated, [bad, grown()])) == 4
    begun = replace(stated, log=(LogEntry(POTTED, "B", "potted"),))
    assert audit.broken(begun, [grown(), bad]) == ()
    other = replace(stated, log=(LogEntry(POTTED, "A", "potted"),))
    assert len(audit.broken(other, [grown(), bad])) == 4


# ---------------------------------------------------------------- hours of a week


def work(day: date, hours: float, task: str = "sow", lot: str | None = None) -> Task:
    return Task(f"{task}/{lot or 'x'}/1", day, lot, task, 0.0, hours, None)


def test_hours_are_counted_from_monday_to_sunday() -> None:
    # 16 November 2026 is a Monday, the 22nd its Sunday; 2026 has a week 53, from 28 December to 3 January.
    tasks = [work(date(2026, 11, d), 1.5) for d in (15, 16, 22, 23)] + [work(date(2027, 1, 3), 2.0)]
    assert hours_by_week(tasks) == {
        date(2026, 11, 9): 1.5, date(2026, 11, 16): 3.0, date(2026, 11, 23): 1.5, date(2026, 12, 28): 2.0,
    }  # fmt: skip


def test_a_week_is_short_above_its_hours_and_not_at_them() -> None:
    tasks = [work(POTTED, 3.0), work(POTTED + 7 * DAY, 3.5)]
    hours = hours_by_week(tasks)
    assert hours_short(season(), hours) == {}  # no limit is stated
    assert hours_short(season(hours_per_week=3.5), hours) == {}
    assert hours_short(season(hours_per_week=3.0), hours) == {date(2026, 11, 23): 0.5}
    (found,) = hours_findings(season(hours_per_week=3.0), tasks)
    assert (found.code, found.week, found.number) == ("hours-short", "2026-W48", 0.5)
    assert found.message == "2026-W48 needs 3.5 staff hours, 0.5 more than there are"


def test_potting_is_offered_a_week_sooner_only_where_that_week_has_the_hours() -> None:
    # 4 h of potting on 17 November and 1 h besides, of 4 h: 1 h over. Moving A takes 4 h to the week before.
    def hint(there: float, **stated: Any) -> str:
        tasks = [work(POTTED, 4.0, "pot", "A"), work(INTO, 1.0), work(POTTED - 7 * DAY, there)]
        short = [
            f for f in hours_findings(season(hours_per_week=4.0, **stated), tasks) if f.week == "2026-W47"
        ]
        return short[0].hint

    assert "pot A 7 days sooner, in 2026-W46" in hint(0.0)
    assert "pot A 14 days sooner, in 2026-W45" in hint(0.1)
    in_hand = date(2026, 11, 16)  # the Sunday before is a day too early
    assert "the bulbs in hand sooner, to move 4.0 hours of potting (A)" in hint(0.0, bulbs_in_hand=in_hand)
    assert "pot A 7 days sooner" in hint(0.0, bulbs_in_hand=date(2026, 11, 15))


# ---------------------------------------------------------------- levelling
#
# Lots of one potting on Tuesday 17 November (W47) each; the week before ends on Friday 13 November for Mon-Fri.

FRIDAY = date(2026, 11, 13)


def level(
    potting: Sequence[float],
    besides: float = 0.0,
    before: float = 0.0,
    on: date = date(2026, 9, 1),
    **stated: Any,
) -> list[date]:
    """Days on which lots of so many hours are potted, with other work in their week and in the week before."""
    plans = [grown(chr(65 + i)) for i in range(len(potting))]
    tasks = [work(POTTED, hours, "pot", plan.lot.name) for plan, hours in zip(plans, potting, strict=True)]
    tasks += [work(INTO, besides), work(FRIDAY - DAY, before)]
    done = levelled(season(calendar=MON_FRI, **stated), plans, tasks, (), on)
    for plan, old in zip(done, plans, strict=True):
        assert plan == potted_on(old, plan.potting)
    return [plan.potting for plan in done]


@pytest.mark.parametrize(
    ("besides", "before", "moves"),
    [
        # 3 h of potting: the busier of the two weeks falls from 3 + besides to besides or before + 3.
        (2.0, 0.0, True),  # from 5 to 3: 2 h gained
        (1.99, 0.0, False),  # from 4.99 to 3: 1.99 h
        (5.0, 3.0, True),  # from 8 to 6
        (5.0, 3.01, False),  # from 8 to 6.01
        (9.0, 0.0, True),  # from 12 to 9: the week itself stays the busier
    ],
)
def test_potting_comes_a_week_sooner_from_two_hours_gained(
    besides: float, before: float, moves: bool
) -> None:
    assert level([3.0], besides, before) == [FRIDAY if moves else POTTED]


def test_a_lot_whose_own_potting_is_less_than_two_hours_gains_too_little() -> None:
    assert level([1.99], 9.0) == [POTTED] and level([2.0], 9.0) == [FRIDAY]


def test_only_a_week_above_three_quarters_of_its_hours_is_spared() -> None:
    # 3 h and 6 h besides are 9 h: three quarters of 12 h are 9 h, of 11.9 h 8.925 h.
    assert level([3.0], 6.0, hours_per_week=12.0) == [POTTED]
    assert level([3.0], 6.0, hours_per_week=11.9) == [FRIDAY]


def test_the_lot_that_gains_most_goes_first_and_no_more_than_gain() -> None:
    # 3 + 4 + 1 h: A sooner leaves 5 and 3, a peak of 5; B sooner leaves 4 and 4. B goes; then A would leave 1 and 7.
    assert level([3.0, 4.0], 1.0) == [POTTED, FRIDAY]
    # Of equals the first by name: of 3 + 3 + 3 h one sooner leaves 6 and 3; a second would leave 3 and 6, no gain.
    assert level([3.0, 3.0, 3.0]) == [FRIDAY, POTTED, POTTED]


def test_potting_is_not_moved_before_the_day_or_the_bulbs() -> None:
    assert level([3.0], 9.0, on=FRIDAY) == [FRIDAY] and level([3.0], 9.0, on=FRIDAY + DAY) == [POTTED]
    assert level([3.0], 9.0, bulbs_in_hand=FRIDAY) == [FRIDAY]
    assert level([3.0], 9.0, bulbs_in_hand=FRIDAY + DAY) == [POTTED]


def test_lots_that_have_begun_or_are_ahead_or_have_no_cold_stay() -> None:
    stated, tasks = season(calendar=MON_FRI), [work(POTTED, 3.0, "pot", "A"), work(INTO, 9.0)]
    on = date(2026, 9, 1)
    assert levelled(stated, [grown()], tasks, ("A",), on)[0].potting == POTTED
    assert levelled(stated, [grown(cooler_in=None)], tasks, (), on)[0].potting == POTTED
    # Potted on the working day before it goes into the cooler it may move; a day before that it is ahead already.
    ahead = grown(cooler_in=INTO + DAY)
    assert levelled(stated, [ahead], tasks, (), on)[0].potting == POTTED
    assert levelled(stated, [grown()], tasks, (), on)[0].potting == FRIDAY


def test_a_week_without_a_working_day_takes_no_potting() -> None:
    closed = replace(MON_FRI, holidays=frozenset(date(2026, 11, 9) + i * DAY for i in range(5)))
    tasks = [work(POTTED, 3.0, "pot", "A"), work(INTO, 9.0)]
    assert levelled(season(calendar=closed), [grown()], tasks, (), date(2026, 9, 1))[0].potting == POTTED
