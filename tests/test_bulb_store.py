"""Bulbs before they are potted: unpacked, stored, waiting too long; what a date that cannot be honest is answered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forcing.model import LogEntry, Lot, Place
from tests.builders import MON_FRI, plan, season

TARGET = date(2027, 3, 20)
IN_HAND = date(2026, 9, 27)  # a Sunday
BOTH = (Place("Cold", "cooler", 60, day=9, night=9), Place("Bench", "bench", day=15, night=15))


def stored(*lots: Lot, **other: object):  # type: ignore[no-untyped-def]
    return plan(season(lots, calendar=MON_FRI, places=BOTH, bulbs_in_hand=IN_HAND, **other), date(2026, 9, 1))


def test_bulbs_are_unpacked_once_a_store_on_the_working_day_on_which_they_are_in_hand() -> None:
    made = stored(
        Lot("A", "tulip", 10, "mid", target=TARGET), Lot("B", "tulip", 20, "late", target=TARGET),
        Lot("N", "narcissus", 5, target=TARGET, bulbs_per_pot=4),
        Lot("P", "tulip", 5, "mid", target=TARGET, precooled_weeks=5),
        Lot("H", "hyacinth", 4, target=TARGET, in_hand=date(2026, 11, 3)),
    )  # fmt: skip
    plain, cooled, later = (t for t in made.tasks if t.task == "unpack")
    assert (plain.date, plain.lot, plain.pots) == (date(2026, 9, 28), None, 35)
    assert (cooled.date, cooled.lot, cooled.pots) == (date(2026, 9, 28), "P", 5)
    assert (later.date, later.lot, later.pots) == (date(2026, 11, 3), "H", 4)
    # 30 pots of 6 and 5 of 4; those that came cooled at the 5 °C of a rooted tulip
    assert "count with the spare: 180 tulip and 20 narcissus; potted from 2026-W4" in plain.look_for
    assert (
        "trays at 17 °C, air" in plain.look_for and "not into the warm" not in plain.look_for + later.look_for
    )
    assert "trays at 5 °C (they were cooled: not into the warm), air" in cooled.look_for
    assert all(set(t.cautions) == {"bulbs", "lifting"} for t in (plain, cooled, later))
    # 15 minutes each time and 0.1 a pot
    assert plain.hours == pytest.approx((15 + 3.5) / 60, abs=1e-3)


def test_nothing_is_unpacked_where_no_day_in_hand_is_stated() -> None:
    made = plan(season([Lot("A", "tulip", 10, target=TARGET)]), date(2026, 9, 1))
    assert not [t for t in made.tasks if t.task == "unpack"]
    assert not [f for f in made.findings if f.code == "potted-late"]


def test_bulbs_that_wait_dry_too_long_are_one_warning_a_crop_with_what_to_do() -> None:
    # Crocus: 12 weeks of cold and 22 days at 12 °C or 17 at 15 °C for 20 March: into the cooler at the beginning of
    # December, 9 weeks after 27 September; 4 weeks are what it bears. More cold than its 15 weeks would be the price.
    made = stored(
        *(Lot(name, "crocus", 10, target=TARGET) for name in "AB"),
        Lot("T", "tulip", 10, "mid", target=TARGET),
    )
    (told,) = [f for f in made.findings if f.code == "potted-late"]
    crocus = [p for p in made.lots if p.recipe.crop == "crocus"]
    assert told.lots == ("A", "B")
    assert told.number == round(max((p.potting - IN_HAND).days for p in crocus) / 7, 1) > 9
    come = min(p.potting for p in crocus).toordinal() - 28
    assert f"ask for them to come about {date.fromordinal(come)}, 4 weeks before potting" in told.hint.lower()
    log = tuple(LogEntry(date(2026, 10, 1), name, "potted") for name in "AB")
    potted = season(
        [Lot(name, "crocus", 10, target=TARGET) for name in "AB"], places=BOTH, bulbs_in_hand=IN_HAND, log=log
    )
    assert not [f for f in plan(potted, date(2026, 11, 1)).findings if f.code == "potted-late"]


@pytest.mark.parametrize(("room", "sooner"), [(60, True), (25, False)])
def test_potting_sooner_is_offered_where_cold_and_room_allow_it(room: int, sooner: bool) -> None:
    # Muscari in hand on Thursday 29 October bear 4 weeks: by 26 November, in the cooler on the 27th. They are planned
    # for the beginning of December, and a week more cold is within their 15. Of 60 pots 20 are the tulips'.
    lots = [
        Lot("M", "muscari", 20, target=TARGET, in_hand=date(2026, 10, 29)), Lot("T", "tulip", 20, "mid", target=TARGET),
    ]  # fmt: skip
    places = (replace(BOTH[0], pots=room), Place("Other", "cooler", 20, day=9, night=9), BOTH[1])
    stated = [replace(lots[0], cooler="Cold"), replace(lots[1], cooler="Cold" if sooner else "Other")]
    other = () if sooner else (Lot("N", "narcissus", 10, target=date(2027, 2, 8), cooler="Cold"),)
    made = plan(
        season([*stated, *other], calendar=MON_FRI, places=places, bulbs_in_hand=IN_HAND), date(2026, 9, 1)
    )
    (told,) = [f for f in made.findings if f.code == "potted-late" and "M" in f.lots]
    assert ("M may be potted by 2026-11-26: their cooler has room" in told.hint) is sooner


def test_a_hyacinth_that_is_not_prepared_is_refused_for_christmas_with_the_day_that_is_honest() -> None:
    # In hand on 28 September, into the cooler on the 29th; the least 8 weeks of cold (pots, 8 to 12) end on
    # 24 November.
    # Four weeks less than the 12 of the recipe cost 1.5 days each: 20 days at 20 °C are 360 °C·d, 27.7 d at 15 °C.
    # More cold asks for more days in the cooler than it spares on the bench: 24 November and 28 days, 22 December.
    christmas = [
        Lot("H", "hyacinth", 10, target=date(2026, 12, 17)),
        Lot("P", "prepared hyacinth", 10, target=date(2026, 12, 24)),
    ]
    made = stored(*christmas, opens=date(2026, 12, 17))
    (refused,) = made.unplanned
    assert refused.lot.name == "H" and refused.earliest == date(2026, 12, 22)
    assert [p.lot.name for p in made.lots] == ["P"]
