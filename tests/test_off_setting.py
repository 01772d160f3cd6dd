"""Rooms that run off their setting: what is learned of them, who is told, and what it costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

import forcing
from forcing.dates import Span
from forcing.engine.climate import FORECAST, MEASURED, STANDING, build_climate
from forcing.engine.outlook import outlooks
from forcing.engine.plan import PlanResult
from forcing.model import Display, LogEntry, Lot, Normal, Override, Place, Reading, Season, Setpoint
from tests.builders import house_figures, season, worked
from tests.season_text import write_text_folder

DAY = timedelta(days=1)
TARGET, COOLED, BROUGHT = date(2027, 3, 20), date(2026, 11, 18), date(2027, 2, 24)
FIGURES = house_figures(
    "tulip", cold_min=12, cold_target=14, cold_max=18, base=2, cap=25, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
)  # fmt: skip
LOG = (
    LogEntry(COOLED - DAY, "A", "potted"),
    LogEntry(COOLED, "A", "cooler in"),
    LogEntry(BROUGHT, "A", "brought in"),
)


def read(place: str, first: date, *means: float, **other: object) -> tuple[Reading, ...]:
    return tuple(Reading(place, first + i * DAY, mean=m, **other) for i, m in enumerate(means))  # type: ignore[arg-type]


def one(*readings: Reading, **other: object) -> Season:
    """A lot brought in on 24 February onto a bench set to 16 °C, with these readings."""
    given = {"overrides": FIGURES, "log": LOG, "readings": readings} | other
    return season([Lot("A", "tulip", 10, target=TARGET)], **given)


def means(stated: Season, place: str, first: date, days: int) -> list[float]:
    climate = build_climate(stated)
    at = climate.index(first)
    return climate.mean(place)[at : at + days].tolist()


# ---------------------------------------------------------------- what is learned


def test_days_to_come_are_as_far_off_as_the_readings_pulled_toward_the_setting() -> None:
    # Twelve days at 13 °C where 16 is set: 3 off, of which 12/(12 + 4) is believed, 2.25. So is a day that was missed.
    stated = one(*read("Bench", BROUGHT, *[13.0] * 6), *read("Bench", BROUGHT + 7 * DAY, *[13.0] * 6))
    assert means(stated, "Bench", BROUGHT - DAY, 16) == pytest.approx(
        [16.0, *[13.0] * 6, 13.75, *[13.0] * 6, 13.75, 13.75]
    )
    climate = build_climate(stated)
    basis = climate.basis["Bench"][climate.index(BROUGHT) :][[0, 6, 13]]
    assert basis.tolist() == [MEASURED, STANDING, STANDING], "it is told apart from what was measured"


def test_the_last_week_tells_and_one_bad_day_in_it_does_not() -> None:
    # Seven weeks right, then one off by 1 °C but for one day off by 3: the middle one of seven; 56 of 60 is believed.
    off = [17.0] * 6 + [19.0]
    stated = one(*read("Bench", BROUGHT - 49 * DAY, *[16.0] * 49), *read("Bench", BROUGHT, *off))
    assert means(stated, "Bench", BROUGHT + 20 * DAY, 1) == pytest.approx([16 + 56 / 60])
    # Four days after it was put right it is taken to be right.
    mended = one(*read("Bench", BROUGHT, *[13.0] * 20, *[16.0] * 4))
    assert means(mended, "Bench", BROUGHT + 30 * DAY, 1) == [16.0]


def test_a_setting_that_changes_is_followed_and_so_is_its_offset() -> None:
    stated = one(
        *read("Bench", BROUGHT, *[14.0] * 4, *[17.0] * 4),
        setpoints=(Setpoint("Bench", BROUGHT + 4 * DAY, 19, 19),),
    )
    # 2 °C under 16 and then 2 °C under 19: 8/(8 + 4) of 2 under 19 from now on.
    assert means(stated, "Bench", BROUGHT + 9 * DAY, 1) == pytest.approx([19 - 4 / 3])


def test_coolers_learn_too_outdoor_sites_and_forecasts_do_not() -> None:
    places = (*season().places, Place("Court", "site"), Place("Yard", "site", day=8, night=8))
    normals = tuple(Normal("Court", month, 6, 10) for month in range(1, 13))
    rows = (
        *read("Cold", COOLED, *[10.0] * 4), *read("Court", COOLED, *[3.0] * 9), *read("Yard", COOLED, *[3.0] * 9),
        *read("Bench", COOLED, *[12.0] * 9, kind="forecast"),
    )  # fmt: skip
    stated = one(*rows, places=places, normals=normals)
    later = COOLED + 30 * DAY
    assert means(stated, "Cold", later, 1) == pytest.approx([9.5])
    assert means(stated, "Court", later, 1) == means(stated, "Yard", later, 1) == pytest.approx([8.0])
    assert means(stated, "Bench", later, 1) == [16.0]
    climate = build_climate(stated)
    assert climate.basis["Bench"][climate.index(COOLED)] == FORECAST


def test_a_room_that_is_broken_is_not_taken_to_stay_so() -> None:
    stated = one(*read("Cold", COOLED, *[19.0] * 30))
    assert means(stated, "Cold", COOLED + 40 * DAY, 1) == [9.0]


def test_a_what_if_is_not_learned_away(tmp_path: Path) -> None:
    rows = "\n".join(f"        Bench | {BROUGHT + i * DAY} | 15" for i in range(4))
    text = f"""
        [season]
        item  | value
        opens | 2027-03-20
        [places]
        place | kind   | pots | day | night
        Cold  | cooler | 100  | 9   | 9
        Bench | bench  | 100  | 16  | 16
        [lots]
        lot | crop  | pots | target bloom
        A   | tulip | 10   | 2027-03-20
        [readings]
        place | date | mean
{rows}
    """
    loaded = forcing.load(write_text_folder(tmp_path / "s", text))
    day = BROUGHT + 9 * DAY
    # 1 °C under its setting, of which 4/8 is believed: 15.5, and with the bench 2 °C warmer 17.5. What was read stays.
    assert means(loaded.stated, "Bench", day, 1) == pytest.approx([15.5])
    warmer = loaded.with_bench("Bench", by=2)
    assert means(warmer.stated, "Bench", day, 1) == pytest.approx([17.5])
    assert means(warmer.stated, "Bench", BROUGHT, 1) == [15.0]
    assert means(warmer.with_bench("Bench", by=-2).stated, "Bench", day, 1) == pytest.approx([15.5])


# ---------------------------------------------------------------- who is told


def told(made: PlanResult) -> list[forcing.Finding]:
    return [f for f in made.plan.findings if f.code == "place-off-setting"]


def test_a_bench_three_degrees_under_its_setting_is_named_once_with_what_it_costs() -> None:
    # Ten days at 13 °C: 11 °C·d a day, 110; then 16 - 3 * 10/14 = 13.857 °C, 11.857 a day: (336 - 110)/11.857 = 19.06,
    # so day 30 instead of day 24: six days later.
    on = BROUGHT + 10 * DAY
    made = worked(one(*read("Bench", BROUGHT, *[13.0] * 10)), on)
    (finding,) = told(made)
    assert (finding.severity, finding.place, finding.days) == ("warning", "Bench", (BROUGHT, on - DAY))
    assert finding.number == pytest.approx(-3.0)
    assert (
        "Bench ran 3 °C colder than it is set to from 2027-02-24 to 2027-03-05 (10 days read)"
        in finding.message
    )
    assert "bloom comes 6 days later of A" in finding.message
    assert "thermostat" in finding.hint and "2.1 °C colder than set" in finding.hint
    (outlook,) = outlooks(made.simulations, on)
    assert outlook.likely == made.plan.lots[0].bloom == BROUGHT + 30 * DAY
    assert "Bench 2.1 °C colder than set, as read" in outlook.ahead


@pytest.mark.parametrize(
    ("off", "named"),
    [
        ([-1.5] * 5, True),
        ([-1.45] * 5, False),
        ([-3.0] * 4, False),  # not for five days
        ([2.0, 1.0, 2.0, 1.0, 1.5], True),  # 1.5 on average, warmer
        ([-3.0] * 5 + [0.0] * 14, False),  # long put right
    ],
)
def test_five_days_of_a_degree_and_a_half_are_the_line(off: list[float], named: bool) -> None:
    made = worked(one(*read("Bench", BROUGHT, *[16 + d for d in off])), BROUGHT + len(off) * DAY)
    assert len(told(made)) == named


def test_readings_that_ended_weeks_ago_are_not_news() -> None:
    stated = one(*read("Bench", BROUGHT, *[13.0] * 6))
    assert told(worked(stated, BROUGHT + 19 * DAY)) and not told(worked(stated, BROUGHT + 21 * DAY))


def test_a_cooler_is_named_by_what_it_costs_at_bloom() -> None:
    # A week at 14 °C, and a day of bench less for each week of cold more: what it costs is counted by running on.
    figures = (*FIGURES[:8], *house_figures("tulip", days_saved=2), *FIGURES[9:])
    cold = one(*read("Cold", BROUGHT - 7 * DAY, *[14.0] * 7), overrides=figures)
    (finding,) = told(worked(cold, BROUGHT))
    assert finding.place == "Cold" and finding.number == pytest.approx(5.0)
    assert "ran 5 °C warmer" in finding.message
    assert "reckoned as set" in finding.hint, "it must be broken, and will be mended"


# ---------------------------------------------------------------- the choice after a store failure

BUYS = tuple(
    replace(row, typical={"days_saved": 2.0, "cold_min": 10.0}.get(row.parameter, row.typical))
    for row in FIGURES
)
FAILED = date(2027, 1, 4)


def failed(
    cold_room: float = 500,
    overrides: tuple[Override, ...] = BUYS,
    *more: LogEntry,
    display: str | None = None,
) -> str:
    """What is told after eleven days at 16 °C, which give no cold, of two lots of ten 15 cm pots in a store at 9 °C.

    They came in on 18 November, to be brought in on 24 February on 14 weeks, 24 days before the 20th of March. A
    `display` stands at 16 °C too.
    """
    places = (
        Place("Cold", "cooler", cold_room, day=9, night=9),
        Place("Bench", "bench", 20, day=16, night=16),
        Place("Hall", "bench", day=16, night=16),
    )
    names = dict.fromkeys(["A", "B", *(entry.lot for entry in more)])
    lots = [
        Lot(
            name,
            "tulip",
            10,
            target=TARGET + (30 * DAY if name == "C" else 0 * DAY),
            pot_cm=15.0,
            display=display,
        )
        for name in names
    ]
    displays = (Display("Beds", 5, "Hall", Span(TARGET, TARGET + 30 * DAY)),)
    log = (*LOG[:2], *(replace(entry, lot="B") for entry in LOG[:2]), *more)
    stated = season(
        lots,
        places=places,
        displays=displays,
        overrides=overrides,
        log=log,
        readings=read("Cold", FAILED, *[16.0] * 11),
    )
    (finding,) = told(worked(stated, FAILED + 11 * DAY))
    assert finding.lots == ("A", "B") or more
    return finding.hint.partition(" Check its thermostat")[0]


def test_after_a_store_failure_the_ways_that_are_left_are_told_with_what_each_takes_in_room() -> None:
    # On 24 February 87 days are 12.43 weeks: 24 + 2 x 1.57 = 27.1 days at 14 °C·d, 380 °C·d, so 28: four days late, and
    # 4 x 20 pot-days of bench. Five days sooner 82 days, 11.71 weeks, ask for 28.6 days of the 29 there are; four days
    # sooner for 28.3 of 28. At 18 °C 380/16 are 23.75 of 24 days, at 17 °C 25.3. Eleven days later the cold is whole,
    # and bloom eleven days late, with 11 x 20 pot-days of store.
    assert failed() == (
        "Choose for A and B. "
        "(1) as planned: bring in on the day that was planned, 12.4 cold-weeks, stems shorter: 4 days late; 80 "
        "pot-days more of Bench, which has room. "
        "(2) earlier: bring in 5 days sooner, 11.7 cold-weeks, stems shorter: in time; 100 pot-days more of Bench, "
        "which has room. "
        "(3) warmer: bring in on the day that was planned, Bench 2 °C warmer, 12.4 cold-weeks, stems shorter: in "
        "time; no more room. "
        "(4) later: bring in 11 days later, 14.0 cold-weeks: 11 days late; 220 pot-days more of Cold, which has room. "
        "Now planned: A and B in on 2027-02-19; log or state another choice."
    )


def test_a_lot_that_leaves_its_bench_for_a_display_takes_no_more_of_the_bench_by_being_late() -> None:
    # As above, but all stand in the hall from the 20th of March on, in bloom or not: only days on the bench before it
    # are more, none as planned, five of each of 20 pots where they come in sooner, and none where they come in later.
    words = failed(display="Beds")
    assert (
        "as planned: bring in on the day that was planned, 12.4 cold-weeks, stems shorter: 4 days late; no more room."
        in words
    )
    assert (
        "earlier: bring in 5 days sooner, 11.7 cold-weeks, stems shorter: in time; 100 pot-days more of Bench"
        in words
    )
    assert "later: bring in 11 days later, 14.0 cold-weeks: 11 days late; 220 pot-days more of Cold" in words


def test_a_way_on_without_enough_cold_is_not_open_and_a_full_store_is_told() -> None:
    # Twelve weeks are the least: they are there on 21 February, and bloom in time asks for the 19th.
    least = tuple(replace(row, typical=12.0) if row.parameter == "cold_min" else row for row in BUYS)
    words = failed(500, least)
    assert "(1) as planned: " in words and "(2) warmer: " in words and "(3) later: " in words
    assert "Not open any more: earlier." in words
    # C's ten pots stand in the store from 1 December into March: with A and B 30 pots, where 25 have room
    more = tuple(replace(entry, lot="C", date=entry.date + 13 * DAY) for entry in LOG[:2])
    assert "220 pot-days more of Cold, which is 5 pots short then" in failed(25, BUYS, *more)


def test_in_fahrenheit_it_is_a_difference_of_fahrenheit() -> None:
    (finding,) = told(worked(one(*read("Bench", BROUGHT, *[13.0] * 10), unit="F"), BROUGHT + 10 * DAY))
    assert "ran 5.4 °F colder" in finding.message


def test_the_days_as_read_and_as_set_are_told_apart_by_the_climate() -> None:
    stated = one(*read("Bench", BROUGHT, *[13.0] * 6))
    climate = build_climate(stated)
    days = np.flatnonzero(climate.as_it_is("Bench"))
    assert climate.day(int(days[0])) == BROUGHT + 6 * DAY
    assert not climate.as_it_is("Cold").any()
