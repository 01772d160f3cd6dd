"""Bulbs before they are potted: unpacked, stored, waiting too long; what a date that cannot be honest is answered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forcing.model import LogEntry, Lot, Place, Plan
from tests.builders import MON_FRI, house_figures, plan, season

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
    assert "count, spares included: 180 tulip and 20 narcissus bulbs; potting from 2026-1" in plain.look_for
    assert "see a whole flower" in plain.look_for
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


def test_a_hyacinth_without_a_first_day_of_its_own_is_refused_by_its_cold() -> None:
    # In hand on 28 September, into the cooler on the 29th; the least 8 weeks of cold (pots, 8 to 12) end on
    # 24 November.
    # Four weeks less than the 12 of the recipe cost 1.5 days each: 20 days at 20 °C are 360 °C·d, 27.7 d at 15 °C.
    # More cold asks for more days in the cooler than it spares on the bench: 24 November and 28 days, 22 December.
    christmas = [
        Lot("H", "hyacinth", 10, target=date(2026, 12, 17)),
        Lot("P", "prepared hyacinth", 10, target=date(2026, 12, 24)),
    ]
    made = stored(*christmas, opens=date(2026, 12, 17), overrides=house_figures("hyacinth", earliest=0))
    (refused,) = made.unplanned
    assert refused.lot.name == "H" and refused.earliest == date(2026, 12, 22)
    assert [p.lot.name for p in made.lots] == ["P"]


# ---------------------------------------------------------------- potted, and warm


def busy(lots: int, pots: int, hours: float) -> Plan:
    """Equal lots of mid tulips at 3 min a pot and 20 each time; so many hours a week, and a third of them a day."""
    alike = [
        Lot(f"T{i}", "tulip", pots, "mid", target=TARGET, cooler="Cold", bench="Bench") for i in range(lots)
    ]
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench", day=16, night=16))
    return plan(season(alike, calendar=MON_FRI, places=places, hours_per_week=hours), date(2026, 9, 1))


@pytest.mark.parametrize(("lots", "pots", "hours"), [(6, 100, 12.0), (12, 60, 10.0), (3, 200, 16.0)])
def test_levelled_potting_never_stands_in_the_warm_for_longer_than_it_bears(
    lots: int, pots: int, hours: float
) -> None:
    made = busy(lots, pots, hours)
    waits = [(p.cooler_in - p.potting).days for p in made.lots if p.cooler_in is not None]
    assert len(waits) == lots and 1 < max(waits) <= 10
    assert not [f for f in made.findings if f.code == "potted-waits"]


def test_pots_that_are_logged_to_wait_too_long_are_told() -> None:
    # Potted on 1 October and to go into the cooler in November.
    log = (LogEntry(date(2026, 10, 1), "A", "potted"),)
    stated = season([Lot("A", "tulip", 10, "mid", target=TARGET)], calendar=MON_FRI, log=log)
    made = plan(stated, date(2026, 10, 5))
    (p,) = made.lots
    assert p.cooler_in is not None and (p.cooler_in - p.potting).days > 20
    (told,) = [f for f in made.findings if f.code == "potted-waits"]
    # Friday 9 October; ten days from 1 October are a Sunday
    assert told.lot == "A" and "Put it into its cooler by 2026-10-09" in told.hint
    assert told.number == (p.cooler_in - p.potting).days


# ---------------------------------------------------------------- case-cooled lilies

EASTER = date(2027, 3, 28)


@pytest.mark.parametrize("coolers", [1, 2])
def test_lilies_that_come_with_all_their_cold_go_to_the_bench_and_not_to_the_store(coolers: int) -> None:
    # Case-cooled: 6 of 6 weeks. 119 days at 17.5 °C above 1 are 1963.5 °C·d, 130.9 d at 16 °C: 131 days before Easter.
    cold = [Place(f"Cold {i}", "cooler", 20, day=5, night=5) for i in range(coolers)]
    places = (*cold, Place("Bench", "bench", 50, day=16, night=16))
    lots = [
        Lot("L", "easter lily", 10, target=EASTER, precooled_weeks=6),
        Lot("K", "easter lily", 10, target=EASTER),
    ]
    made = plan(season(lots, opens=EASTER, places=places), date(2026, 9, 1))
    lily, other = made.lots
    assert (lily.cooler_in, lily.cold_weeks, (EASTER - lily.bring_in).days) == (None, 6, 131)
    assert {step.place for step in lily.steps} == {None, "Bench"}
    assert (lily.bring_in - lily.potting).days == 1
    assert other.cooler_in is not None and other.cold_weeks == pytest.approx(6, abs=0.01)
    assert not [t for t in made.tasks if t.lot == "L" and t.task == "into cooler"]
    assert not [f for f in made.findings if f.severity != "note"]


def test_lilies_with_all_their_cold_are_followed_by_their_log_without_a_cooler() -> None:
    log = (
        LogEntry(date(2026, 11, 16), "L", "potted"),
        LogEntry(date(2026, 11, 17), "L", "brought in", place="Bench"),
    )
    lots = [Lot("L", "easter lily", 10, target=EASTER, precooled_weeks=6)]
    (p,) = plan(season(lots, opens=EASTER, log=log), date(2027, 1, 4)).lots
    assert (p.cooler_in, p.cold_weeks, p.bloom) == (None, 6, EASTER)


def test_tulips_that_come_cooled_still_root_in_the_cold() -> None:
    # All of 9 weeks before they came, and 4 to root.
    lots = [Lot("T", "tulip", 10, target=TARGET, cold_weeks=10, precooled_weeks=10)]
    (p,) = plan(season(lots, overrides=house_figures("tulip", precooled_max=10))).lots
    assert (
        p.cooler_in is not None and 28 <= (p.bring_in - p.cooler_in).days <= 29
    )  # a day more is given back in heat


@pytest.mark.parametrize(
    ("crop", "target", "precooled", "first"),
    [
        # 19 weeks from 1 September are 133 days: 12 January.
        ("hyacinth", date(2026, 12, 22), 0, date(2027, 1, 12)), ("hyacinth", date(2027, 1, 11), 0, date(2027, 1, 12)),
        ("hyacinth", date(2027, 1, 12), 0, None), ("hyacinth", date(2027, 8, 31), 0, None),
        ("hyacinth", date(2026, 12, 22), 1, None), ("prepared hyacinth", date(2026, 12, 22), 0, None),
        ("crocus", date(2027, 1, 8), 0, date(2027, 1, 12)), ("tulip", date(2026, 12, 22), 0, None),
    ],
)  # fmt: skip
def test_a_date_earlier_than_its_kind_blooms_is_refused_with_the_first_that_is_not(
    crop: str, target: date, precooled: float, first: date | None
) -> None:
    one = Lot("H", crop, 20, target=target, precooled_weeks=precooled)
    made = plan(season([one], bulbs_in_hand=date(2026, 8, 1)), date(2026, 8, 1))
    assert [lot.earliest for lot in made.unplanned if lot.too_early] == ([] if first is None else [first])
    if first is not None:
        (told,) = [f for f in made.findings if f.code == "lot-unplanned"]
        assert str(first) in told.hint and "prepared or cooled" in told.hint
