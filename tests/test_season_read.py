"""Reading a season: small tables as people write them in, seasons and findings out."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.errors import SeasonUnreadable
from forcing.model import PARAMETERS, Season
from forcing.recipes.book import RecipeBook
from forcing.season.cells import ErrorValue, Percent, RawSeason, RawSheet, Uncomputed
from forcing.season.checks import check_season
from forcing.season.read import read_season, season_of
from forcing.season.schema import PARAMETER_HELP, TABLES, is_temperature, near, table, tables_markdown
from forcing.season.sheets import sheet_of_text
from forcing.text import fold_word
from forcing.units import c_to_f
from tests.effort import growth
from tests.season_text import (
    ONE_LOT,
    PLACES,
    SHOW,
    brief,
    csv_texts,
    read_text,
    reading_findings,
    season,
    write_text_folder,
)

# ---------------------------------------------------------------- a whole season


def test_a_season_becomes_the_nouns() -> None:
    stated, findings = read_text(
        """
        [season]
        item             | value
        Title            | Spring in the court
        opens            | 2027-03-20
        closes           | 2027-05-02
        working_days     | Mon-Sat
        holidays         | 2026-12-24 to 2026-12-26; 2027-01-01
        Confidence       | 80 %
        bulbs in hand    | 2026-09-20
        hours per week   | 37.5
        loss %           | 5
        paper            | letter
        order weeks      | 10
        [places]
        place   | kind   | pots | day | night | lowest | highest
        Cellar  | Cooler | 400  |     |       | 0      | 12
        South   | bench  | 200  | 18  | 14    |        |
        Terrace | site   |      |     |       |        |
        [setpoints]
        place | from       | day | night
        South | 2027-02-01 | 16  |
        [normals]
        place   | month | low | high
        Terrace | 3     | 1   | 10
        [displays]
        display | containers | site    | opens      | closes | litres
        Troughs | 24         | Terrace | 2027-03-27 |        | 55
        [lots]
        lot | crop  | class | cultivar | pots | pot cm | bulbs per pot | precooled weeks | display | install
        T1  | Tulip | early | Ivory    | 48   | 15     | 6             | 4               | Troughs | 2027-03-26
        T2  | tulip |       |          | 20   |        |               |                 |         |
        [plantings]
        display | lot or companion | pots per container
        Troughs | T1               | 2
        Troughs | Viola            | 1
        [companions]
        companion | crop  | pots | ready      | place
        Viola     | Viola | 24   | 2027-03-20 | South
        [log]
        date       | lot | event      | place  | pots | note
        2026-10-01 | T1  | Cooler In  | Cellar | 48   | labels on, all well
        [readings]
        place | date       | low | high | mean | kind
        South | 2027-02-01 | 13  | 19   |      |
        South | 2027-02-02 |     |      | 16.5 | forecast
        [crops]
        crop  | class | cultivar | parameter  | typical | low | high | source
        tulip | early | Ivory    | bench days | 24      | 22  | 27   | our log 2026
        [minutes]
        task | minutes per pot | minutes each time
        Pot  | 2.5             | 15
        """
    )
    assert findings == ()
    assert stated.title == "Spring in the court"
    # closes is the last day open; spans are half-open
    assert stated.span == Span(date(2027, 3, 20), date(2027, 5, 3))
    assert stated.calendar.weekdays == frozenset(range(6))
    assert stated.calendar.holidays == {date(2026, 12, d) for d in (24, 25, 26)} | {date(2027, 1, 1)}
    assert (stated.confidence, stated.hours_per_week, stated.paper, stated.order_weeks) == (
        0.8,
        37.5,
        "Letter",
        10,
    )
    assert stated.loss == pytest.approx(0.05)
    assert stated.bulbs_in_hand == date(2026, 9, 20)
    cellar, south, terrace = stated.places
    assert (cellar.kind, cellar.pots, cellar.day, cellar.lowest, cellar.highest) == (
        "cooler",
        400,
        None,
        0,
        12,
    )
    assert (south.day, south.night, south.row) == (18, 14, 3)
    assert terrace.pots is None
    setpoint = stated.setpoints[0]
    assert (setpoint.start, setpoint.day, setpoint.night) == (date(2027, 2, 1), 16, 16)  # one counts for both
    assert (stated.normals[0].month, stated.normals[0].low, stated.normals[0].high) == (3, 1, 10)
    first, second = stated.lots
    assert (first.name, first.crop, first.bloom_class, first.cultivar) == ("T1", "tulip", "early", "Ivory")
    assert (first.pots, first.pot_cm, first.bulbs_per_pot, first.precooled_weeks) == (48, 15, 6, 4)
    assert first.target is None  # comes from its display when the season is planned
    assert (first.install, first.row) == (date(2027, 3, 26), 2)
    assert (second.target, second.pot_cm, second.cold_weeks, second.hold_days) == (
        None,
        None,
        None,
        None,
    )
    # the display opens on its own day and closes with the season
    assert stated.displays[0].span == Span(date(2027, 3, 27), date(2027, 5, 3))
    assert [(p.item, p.per_container) for p in stated.plantings] == [("T1", 2), ("Viola", 1)]
    assert (stated.companions[0].crop, stated.companions[0].ready) == ("viola", date(2027, 3, 20))
    assert (stated.log[0].event, stated.log[0].note) == ("cooler in", "labels on, all well")
    assert [(r.low, r.high, r.mean, r.kind) for r in stated.readings] == [
        (13, 19, None, "measured"),
        (None, None, 16.5, "forecast"),
    ]
    override = stated.overrides[0]
    assert (override.parameter, override.typical, override.low, override.high) == ("bench_days", 24, 22, 27)
    assert (override.bloom_class, override.cultivar, override.source) == ("early", "Ivory", "our log 2026")
    assert (stated.minutes[0].task, stated.minutes[0].per_pot, stated.minutes[0].each_time) == (
        "pot",
        2.5,
        15,
    )


def test_what_is_empty_takes_the_default() -> None:
    stated, findings = read_text(ONE_LOT)
    assert findings == ()
    assert (stated.title, stated.unit, stated.confidence, stated.loss) == ("Spring show 2027", "C", None, 0)
    assert (stated.paper, stated.order_weeks, stated.hours_per_week) == ("A4", 12, None)
    assert stated.calendar.weekdays == frozenset(range(5)) and not stated.calendar.holidays
    assert stated.bulbs_in_hand is None


def test_headers_do_not_mind_case_blanks_and_underscores() -> None:
    stated = season(
        PLACES + "[Lots]\n LOT | Crop | POTS | Target_Bloom | pot_CM\nT1 | tulip | 20 | 2027-03-21 | 12\n"
    )
    assert (stated.lots[0].target, stated.lots[0].pot_cm) == (date(2027, 3, 21), 12)


def test_names_are_matched_without_regard_to_case_and_take_the_spelling_of_their_own_table() -> None:
    stated = season(
        PLACES
        + """[displays]
        display | containers | site
        Troughs | 2 | TERRACE
        [lots]
        lot | crop | cultivar | pots | cooler | bench | display
        T1 | Prepared_Hyacinth | Ivory | 20 | cellar | south | troughs
        t2 | PREPARED  hyacinth | IVORY | 20 | Cellar | SOUTH | nowhere
        [log]
        date | lot | event
        2027-01-01 | T2 | potted
        """
    )
    first, second = stated.lots
    assert (first.cooler, first.bench, first.display) == ("Cellar", "South", "Troughs")
    assert (second.cooler, second.bench, second.display) == ("Cellar", "South", "nowhere")
    assert first.crop == second.crop == "prepared hyacinth"
    assert first.cultivar == second.cultivar == "IVORY"
    assert stated.log[0].lot == "t2"
    assert stated.displays[0].site == "Terrace"


def test_rows_keep_the_numbers_that_are_seen() -> None:
    stated = season(PLACES + "[lots]\nlot | crop | pots\n|\nT1 | tulip | 20\n|\n|\nT2 | tulip | 5\n")
    assert [lot.row for lot in stated.lots] == [3, 6]


def test_leap_days_and_week_53() -> None:
    # 2028-02-29 is a leap day; 2026-12-28 to 2027-01-03 is ISO week 53 of 2026 (ISO 8601)
    stated = season(
        "[season]\nitem | value\nopens | 2028-02-29\ncloses | 2028-02-29\n"
        + PLACES
        + "[lots]\nlot | crop | pots | target bloom\nT1 | tulip | 1 | 2027-01-03\n"
    )
    assert stated.span == Span(date(2028, 2, 29), date(2028, 3, 1)) and stated.span.days == 1
    assert stated.lots[0].target is not None and stated.lots[0].target.isocalendar()[:2] == (2026, 53)
    assert brief(
        reading_findings("[season]\nitem | value\nopens | 2027-02-29\ncloses | 2027-03-29\n" + ONE_LOT)
    ) == ["error cell-date season 2 value"]


# ---------------------------------------------------------------- temperatures


def test_fahrenheit_is_converted_once_and_differences_never() -> None:
    stated = season(
        "[season]\nitem | value\nopens | 2027-03-20\ncloses | 2027-05-02\ntemperature unit | °F\n"
        "[places]\nplace | kind | day | night | lowest | highest\nB | bench | 68 | 59 | 41 | 86\n"
        "[crops]\ncrop | parameter | typical\ntulip | base | 35.6\ntulip | days saved | 2.5\ntulip | bench days | 25\n"
        "[lots]\nlot | crop | pots\nT | tulip | 1\n"
    )
    place = stated.places[0]
    # NIST SP 811: (F - 32) / 1.8
    assert [place.day, place.night, place.lowest, place.highest] == pytest.approx([20, 15, 5, 30], abs=1e-12)
    assert [o.typical for o in stated.overrides] == pytest.approx([2.0, 2.5, 25], abs=1e-12)


def test_which_parameters_are_temperatures() -> None:
    # DESIGN section 6: those whose unit is "temperature", and the cooler's three steps
    assert {p for p in PARAMETERS if is_temperature(p)} == {
        "rooting_at", "cooled_at", "kept_at", "base", "cap", "reference", "bench_low", "bench_high", "hold",
        "display_reference", "display_base", "store_at", "frost",
    }  # fmt: skip
    assert tuple(PARAMETER_HELP) == PARAMETERS


celsius = st.integers(-300, 600).map(lambda tenths: tenths / 10)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(celsius, celsius), min_size=1, max_size=6), celsius)
def test_a_season_in_fahrenheit_is_the_season_in_celsius(
    pairs: list[tuple[float, float]], base: float
) -> None:
    def written(unit: str) -> Season:
        show = (lambda t: t) if unit == "C" else c_to_f
        places = "".join(f"P{i} | bench | {show(d)!r} | {show(n)!r}\n" for i, (d, n) in enumerate(pairs))
        readings = "".join(
            f"P{i} | 2027-01-0{i + 1} | {show(d)!r} | {show(n)!r}\n" for i, (d, n) in enumerate(pairs)
        )
        return season(
            f"{SHOW}temperature unit | {unit}\n[places]\nplace | kind | day | night\n{places}"
            f"[readings]\nplace | date | low | high\n{readings}"
            f"[crops]\ncrop | parameter | typical | low\ntulip | base | {show(base)!r} | {show(base - 1)!r}\n"
            "tulip | days_saved | 2.5 | 2\n[lots]\nlot | crop | pots\nT | tulip | 1\n"
        )

    one, other = written("C"), written("F")
    for a, b in zip(one.places, other.places, strict=True):
        assert (a.day, a.night) == pytest.approx((b.day, b.night), abs=1e-9)
    for r, s in zip(one.readings, other.readings, strict=True):
        assert (r.low, r.high) == pytest.approx((s.low, s.high), abs=1e-9)
    for o, p in zip(one.overrides, other.overrides, strict=True):
        assert (o.typical, o.low) == pytest.approx((p.typical, p.low), abs=1e-9)


# ---------------------------------------------------------------- findings of tables


def test_all_faults_of_all_tables_come_at_once_where_a_person_sees_them() -> None:
    found = reading_findings(
        """
        [season]
        item | value
        opens | 20/03/2027
        closes | 2027-05-02
        paper | A5
        [places]
        place | Kind | pots
        Cellar | coler | 400
        South | bench | many
        [lots]
        lot | crop | Number | POTS | Target Bloom
        T1 | tulip | | 12 pots | 2027-03-20
        | tulip | | 12 |
        T3 | | | | 03/04/2027
        """
    )
    assert brief(found) == [  # worst first, then by table, row and column
        "error cell-number lots 2 POTS",
        "error cell-empty lots 3 lot",
        "error cell-empty lots 4 POTS",
        "error cell-date-ambiguous lots 4 Target Bloom",
        "error cell-empty lots 4 crop",
        "error cell-word places 2 Kind",
        "error cell-number places 3 pots",
        "error cell-date season 2 value",
        "error cell-word season 4 value",
        "note column-unknown lots 1 Number",
    ]
    texts = [str(f) for f in found]
    assert any(t.startswith("lots, row 2, POTS: more than a number (12 pots). Write 12 alone") for t in texts)
    assert any(t.startswith("season, row 2, value: opens: not a date") for t in texts)
    assert "places, row 2, Kind: not a word that kind can take (coler). Did you mean cooler?" in "\n".join(
        texts
    )


def test_dates_of_the_show_are_needed() -> None:
    assert brief(reading_findings("[season]\nitem | value\ntitle | x\n" + ONE_LOT)) == [
        "error item-missing season - opens",
    ]
    # a date that was not understood is reported once, not also as missing
    assert brief(reading_findings("[season]\nitem | value\nopens | x\ncloses | 2027-05-02\n" + ONE_LOT)) == [
        "error cell-date season 2 value"
    ]
    assert brief(reading_findings("[season]\n" + ONE_LOT)) == ["error item-missing season - opens"]


def targets(items: str, *days: str, more: str = "") -> str:
    """Two tulips and more, with targets, in a season of these items only."""
    lots = "".join(f"T{i} | tulip | 20 | {day}\n" for i, day in enumerate(days))
    return (
        f"[season]\nitem | value\n{items}"
        + PLACES
        + "[lots]\nlot | crop | pots | target bloom\n"
        + lots
        + more
    )


def test_without_a_show_its_days_come_from_the_targets() -> None:
    stated, findings = read_text(targets("", "2027-02-20", "2027-02-14", ""))
    # 'display_days' of tulip, counted from the last target, stand in until the last fade is planned
    lasts = math.ceil(RecipeBook.from_overrides().recipe("tulip").display_days)
    assert stated.span == Span(date(2027, 2, 14), date(2027, 2, 20) + timedelta(days=lasts))
    assert not stated.show_stated and stated.title == "Forced for dates 2027"
    assert brief(list(findings)) == ["note show-from-targets season - opens"]
    assert "opens with the first target, on 2027-02-14, and lasts until the last fade" in findings[0].message


def test_one_of_opens_and_closes_may_be_stated_alone() -> None:
    stated, findings = read_text(targets("opens | 2027-02-10\n", "2027-02-20"))
    assert (stated.span.start, stated.show_stated) == (date(2027, 2, 10), False)
    assert brief(list(findings)) == ["note show-from-targets season - closes"]
    stated, findings = read_text(targets("closes | 2027-03-01\n", "2027-02-20"))
    assert (stated.span, stated.show_stated) == (Span(date(2027, 2, 20), date(2027, 3, 2)), True)
    assert brief(list(findings)) == ["note show-from-targets season - opens"]
    (found,) = reading_findings(targets("closes | 2027-02-19\n", "2027-02-20"))
    assert (found.code, found.row, found.message) == (
        "closes-first",
        2,
        "before the first target, 2027-02-20",
    )


def test_displays_with_days_of_their_own_say_when_the_show_opens() -> None:
    shows = "[displays]\ndisplay | containers | site | opens | closes\nA | 2 | Terrace | 2027-02-12 | 2027-04-30\n"
    shows += "B | 2 | Terrace | |\n"
    stated = season(targets("", "2027-02-20", more=shows))
    assert stated.span == Span(date(2027, 2, 12), date(2027, 5, 1))
    assert [d.span for d in stated.displays] == [stated.span, stated.span]  # B: as the season


def test_shows_and_displays_that_close_before_they_open() -> None:
    found = reading_findings(
        "[season]\nitem | value\nopens | 2027-05-02\ncloses | 2027-03-20\n"
        + PLACES
        + "[lots]\nlot | crop | pots\n"
        "T1 | tulip | x\n[displays]\ndisplay | containers | site | opens | closes\n"
        "D | 1 | Terrace | 2027-04-02 | 2027-04-01\nE | 1 | Terrace | | 2027-04-01\n"
    )
    assert brief(found) == [
        "error closes-first displays 2 closes",
        "error cell-number lots 2 pots",
        "error closes-first season 3 closes",
    ]
    found = reading_findings(
        ONE_LOT + "[displays]\ndisplay | containers | site | opens | closes\nD | 1 | Terrace | 2027-06-01 |\n"
    )
    assert brief(found) == ["error closes-first displays 2 opens"]


def test_one_day_shows_are_allowed() -> None:
    assert (
        season("[season]\nitem | value\nopens | 2027-03-20\ncloses | 2027-03-20\n" + ONE_LOT).span.days == 1
    )


def test_items_unknown_doubled_and_without_a_name() -> None:
    found = reading_findings(
        SHOW + "opens | 2027-03-21\npapr | A4\nfavourite colour | blue\n | lost\nhours per week |\n" + ONE_LOT
    )
    assert brief(found) == [
        "error item-twice season 4 item",
        "error item-missing season 7 value",
        "warning item-unknown season 5 item",
        "warning item-unknown season 6 item",
    ]
    assert "Did you mean paper?" in next(f.hint for f in found if f.row == 5)


def test_names_used_twice() -> None:
    found = reading_findings(
        "[places]\nplace | kind\nCellar | cooler\ncellar | bench\n"
        "[lots]\nlot | crop | pots\nT1 | tulip | 1\nT2 | tulip | 1\nT1 | tulip | 1\n"
        "[companions]\ncompanion | crop | pots\nt2 | viola | 3\n"
        "[displays]\ndisplay | containers | site\nD | 1 | Cellar\nD | 2 | Cellar\n"
        "[minutes]\ntask | minutes per pot\npot | 1\nPot | 2\n"
    )
    assert brief(found) == [
        "error name-twice companions 2 companion",
        "error name-twice displays 3 display",
        "error name-twice lots 4 lot",
        "error name-twice minutes 3 task",
        "error name-twice places 3 place",
    ]
    assert "row 3 of lots" in found[0].message


def test_readings_and_setpoints_without_a_temperature() -> None:
    found = reading_findings(
        ONE_LOT + "[readings]\nplace | date | low | high | mean\nSouth | 2027-01-01 | 5 | |\n"
        "South | 2027-01-02 | | | 5\n[setpoints]\nplace | from | day | night\nSouth | 2027-01-01 | |\n"
    )
    assert brief(found) == ["error cell-empty readings 2 mean", "error cell-empty setpoints 2 day"]


def test_headers_missing_doubled_unknown_and_elsewhere() -> None:
    rows = "T1 | tulip | 5\n"
    assert brief(reading_findings(PLACES + "[lots]\nlot | crop\nT1 | tulip\n")) == [
        "error cell-empty lots 2 pots"
    ]
    assert brief(reading_findings(PLACES + "[lots]\nlot | crop | pots | LOT\nT1 | tulip | 5 | T9\n")) == [
        "error column-twice lots 1 LOT"
    ]
    headed = PLACES + "[lots]\nOur lots\n|\nlot | crop | pots\n" + rows
    assert brief(reading_findings(headed)) == ["note header-not-first lots 3 -"]
    assert season(headed).lots[0].row == 4
    assert brief(reading_findings(PLACES + "[lots]\n" + rows)) == ["error header-missing lots 1 -"]
    found = reading_findings(
        PLACES + "[lots]\nlot | crop | pots | cold weks | supplier\nT1 | tulip | 5 | 15 | x\n"
    )
    assert brief(found) == ["warning column-unknown lots 1 cold weks", "note column-unknown lots 1 supplier"]
    assert "Did you mean cold weeks?" in found[0].hint


def test_a_value_too_many_in_a_line_of_csv_is_not_swallowed() -> None:
    # holidays,2026-12-25,2026-12-26 without quotes would lose a day
    found = reading_findings("[season]\nitem | value\nopens | 2027-03-20\ncloses | 2027-05-02\n"
                             "holidays | 2026-12-25 | 2026-12-26\n" + ONE_LOT)  # fmt: skip
    assert brief(found) == ["error column-unnamed season 4 -"]


def test_empty_tables_and_unknown_tables() -> None:
    assert brief(reading_findings(SHOW)) == ["error no-lots lots - -", "warning table-empty places - -"]
    empty = "".join(
        f"[{each.name}]\n" + " | ".join(c.name for c in each.columns) + "\n" for each in TABLES[1:]
    )
    stated, findings = read_text(SHOW + empty)
    assert brief(list(findings)) == ["error no-lots lots - -", "warning table-empty places - -"]
    annuals = "[companions]\ncompanion | crop | pots\nV | viola | 20\n"  # they are planned without any lot
    assert brief(reading_findings(SHOW + PLACES + annuals)) == ["warning no-lots lots - -"]
    assert stated.lots == stated.places == stated.log == ()
    found = reading_findings(ONE_LOT + "[lotz]\nlot\nx\n[shopping list]\nwhat\nstring\n")
    assert brief(found) == ["warning table-unknown lotz - -", "note table-unknown shopping list - -"]


def test_overrides_are_read_by_their_parameter() -> None:
    found = reading_findings(
        ONE_LOT
        + "[crops]\ncrop | parameter | typical | low\ntulip | bench_day | 25 |\ntulip | base | warm |\n"
        "tulip | colour | 85 % |\ntulip | cold curve | tulip | 3\ntulip | bulbs_per_pot | |\n"
    )
    assert brief(found) == [
        "error cell-word crops 2 parameter",
        "error cell-number crops 3 typical",
        "error cell-empty crops 6 typical",
    ]
    stated = season(
        ONE_LOT + "[crops]\ncrop | parameter | typical\ntulip | color | 85 %\ntulip | cold curve | tulip\n"
    )
    assert [(o.parameter, o.typical) for o in stated.overrides] == [("colour", 0.85), ("cold_curve", "tulip")]


# ---------------------------------------------------------------- properties and size


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.permutations(range(8)), st.permutations(range(3)))
def test_the_order_of_rows_changes_nothing_but_row_numbers(order: list[int], places: list[int]) -> None:
    lots = [
        f"T{i} | {'Tulip' if i % 2 else 'tulip'} | {'Ivory' if i % 3 else 'IVORY'} | {i + 1} | south"
        for i in range(8)
    ]
    rooms = ["Cellar | cooler | 5", "South | bench | 16", "North | bench | 15"]

    def written(lot_order: list[int], place_order: list[int]) -> dict[str, object]:
        text = "[places]\nplace | kind | day\n" + "\n".join(rooms[i] for i in place_order)
        text += "\n[lots]\nlot | crop | cultivar | pots | bench\n" + "\n".join(lots[i] for i in lot_order)
        stated = season(text)
        rows = {lot.name: lot for lot in stated.lots}
        assert [rows[f"T{i}"].row for i in lot_order] == list(range(2, 10))
        return {
            name: (lot.crop, lot.cultivar, lot.pots, lot.bench, lot.target) for name, lot in rows.items()
        } | {place.name: (place.kind, place.day) for place in stated.places}

    assert written(order, places) == written(list(range(8)), list(range(3)))


def test_reading_grows_with_the_number_of_lots_and_no_faster(tmp_path: Path) -> None:
    def reading(count: int) -> Callable[[], object]:
        rows = "".join(
            f"T{i} | tulip | early | Cultivar {i % 90} | {i % 50 + 1} | Cellar | South\n"
            for i in range(count)
        )
        folder = write_text_folder(
            tmp_path / str(count),
            PLACES + "[lots]\nlot | crop | class | cultivar | pots | cooler | bench\n" + rows,
        )

        def read() -> None:
            stated, findings = read_season(folder)
            assert len(stated.lots) == count and findings == ()

        return read

    assert growth(reading, 300) < 5


def test_a_wrong_name_is_not_held_against_more_than_a_thousand() -> None:
    names = [f"Kind {i:04d}" for i in range(1001)]
    assert near("Kynd 0007", names[:1000]) == "Kind 0007"
    assert near("Kynd 0007", names) is None


# ---------------------------------------------------------------- the table of columns


def test_the_columns_of_the_contract_are_there() -> None:
    # DESIGN section 6, restated
    contract = {
        "places": "place kind pots day night lowest highest",
        "setpoints": "place from day night",
        "lots": "lot crop class cultivar pots pot_cm bulbs_per_pot target_bloom cold_weeks precooled_weeks cooler "
        "bench display install",
        "displays": "display containers site opens closes litres",
        "plantings": "display lot_or_companion pots_per_container",
        "companions": "companion crop pots ready place",
        "log": "date lot event place pots note",
        "readings": "place date low high mean kind",
        "crops": "crop class cultivar parameter typical low high source",
        "normals": "place month low high",
        "minutes": "task minutes_per_pot minutes_each_time",
    }
    for name, columns in contract.items():
        have = {fold_word(column.name) for column in table(name).columns}
        assert {fold_word(column) for column in columns.split()} <= have, name
    assert table("log").column("event").words == (
        "potted", "cooler in", "rooted", "brought in", "moved", "looked", "shoots", "bud", "colour", "bloom", "held",
        "set out", "sold", "faded", "lost", "ordered", "received", "sown", "germinated", "transplanted", "pinched",
    )  # fmt: skip


def test_every_header_word_means_one_column() -> None:
    for each in TABLES:
        words = [fold_word(word) for column in each.columns for word in (column.name, *column.heads)]
        assert len(words) == len(set(words)), each.name


def test_the_documentation_names_every_table_column_and_word() -> None:
    text = tables_markdown()
    for each in TABLES:
        assert f"### `{each.name}`" in text
        for column in each.columns:
            if each.name != "season":
                assert f"| {column.name} | {column.help} |" in text
    assert all(f"`{parameter}`" in text for parameter in PARAMETERS)
    rows = [line for line in text.splitlines() if line.startswith("|")]
    assert {line.count("|") for line in rows} == {4, 6}  # no stroke inside a cell


def test_near_matches() -> None:
    assert near("Celler", ["Cellar", "South"]) == "Cellar"
    assert near("xyz", ["Cellar", "South"]) is None
    assert near("", ["Cellar"]) is None
    assert near("T1", [f"T{i}" for i in range(5000)]) is None  # too many to search


def test_the_text_helper_writes_csv_that_holds_what_was_typed() -> None:
    assert csv_texts("[lots]\nlot | note\nT1 | a, b\n")["lots"] == 'lot,note\nT1,"a, b"\n'
    with pytest.raises(SeasonUnreadable):
        season("[season]\nitem | value\n")


# ---------------------------------------------------------------- anything at all

RAW = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.datetimes(), st.dates(), st.times(),
    st.timedeltas(), st.floats().map(Percent), st.just(ErrorValue("#REF!")), st.just(Uncomputed("=A1")),
    st.sampled_from(["opens", "closes", "holidays", "GB", "JAN", "Mon-Fri", "tulip", "base", "cold_curve", "potted",
                     "2199-12-31", "1980-01-01", "T1", "bench"]),
)  # fmt: skip


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_whatever_the_cells_hold_there_is_a_season_or_findings_and_no_other_exception(
    data: st.DataObject,
) -> None:
    each = data.draw(st.sampled_from(TABLES))
    width = len(each.columns)
    cells = data.draw(st.lists(st.tuples(*[RAW] * width), max_size=3))
    show = ("opens", date(2027, 3, 20)), ("closes", date(2027, 5, 2))
    sheets = {"season": RawSheet("season", (("item", "value"), *show))}
    sheets[each.name] = RawSheet(each.name, (tuple(c.name for c in each.columns), *cells))
    try:
        stated, findings = season_of(RawSeason(tuple(sheets.values())), "season")
        findings += check_season(stated, RecipeBook.from_overrides(stated.overrides))
    except SeasonUnreadable as error:
        findings = error.findings
        assert any(f.severity == "error" for f in findings)
    assert all(str(f) and f.hint for f in findings)


def test_crops_may_be_named_as_many() -> None:
    stated = season(
        PLACES
        + """
        [lots]
        lot | crop            | pots
        T1  | Tulips          | 20
        N1  | narcissi        | 20
        L1  | Easter lilies   | 20
        H1  | house specials  | 20
        [companions]
        companion | crop    | pots
        Faces     | Pansies | 40
        [crops]
        crop          | parameter  | typical
        tulips        | bench_days | 21
        house special | bench_days | 21
        """
    )
    assert [lot.crop for lot in stated.lots] == ["tulip", "narcissus", "easter lily", "house special"]
    assert stated.companions[0].crop == "pansy"
    assert [row.crop for row in stated.overrides] == ["tulip", "house special"]


def test_a_heading_above_the_header_of_a_file_with_semicolons() -> None:
    sheet = sheet_of_text("lots", "Lots for spring\n\nlot;crop;pots\nT1;tulip;20\n", "lots.csv")
    assert isinstance(sheet, RawSheet)
    rest = [sheet_of_text(name, text, name) for name, text in csv_texts(SHOW + PLACES).items()]
    stated, _ = season_of(RawSeason((sheet, *rest)), "season")  # type: ignore[arg-type]
    assert [(lot.name, lot.pots, lot.row) for lot in stated.lots] == [("T1", 20, 4)]


# ---------------------------------------------------------------- a house that forces for dates


def test_one_row_for_a_succession() -> None:
    stated, findings = read_text(
        PLACES
        + """
        [lots]
        lot | crop  | pots | target bloom | install    | repeat | every
        V1  | tulip | 40   | 2027-W03     | 2027-01-20 | 3      | 2
        V2  | tulip | 20   | 2027-02-14   |            |        |
        [log]
        date       | lot        | event
        2026-10-01 | V1-1, v1-3 | potted
        """
    )
    # ISO 8601: the Monday of 2027-W03 is 18 January 2027; then two and four weeks on.
    assert [(lot.name, lot.pots, str(lot.target), lot.row) for lot in stated.lots] == [
        ("V1-1", 40, "2027-01-18", 2), ("V1-2", 40, "2027-02-01", 2), ("V1-3", 40, "2027-02-15", 2),
        ("V2", 20, "2027-02-14", 3),
    ]  # fmt: skip
    assert [str(lot.install) for lot in stated.lots] == ["2027-01-20", "2027-02-03", "2027-02-17", "None"]
    assert [entry.lot for entry in stated.log] == ["V1-1", "V1-3"]
    assert not [f for f in findings if f.severity == "error"]


def test_a_succession_that_is_half_stated() -> None:
    rows = "[lots]\nlot | crop | pots | target bloom | repeat | every\n"
    assert brief(reading_findings(PLACES + rows + "V1 | tulip | 40 | | 3 | 2")) == [
        "error cell-empty lots 2 target bloom"
    ]
    assert brief(reading_findings(PLACES + rows + "V1 | tulip | 40 | 2027-W03 | | 2")) == [
        "warning repeat-missing lots 2 every"
    ]
    taken = "V1 | tulip | 40 | 2027-W03 | 2 |\nV1-2 | tulip | 40 | 2027-W09 | |"
    assert brief(reading_findings(PLACES + rows + taken)) == ["error name-twice lots 3 lot"]
    # 2027 has 52 weeks (31 December 2027 is a Friday)
    (found,) = reading_findings(PLACES + rows + "V1 | tulip | 40 | 2027W53 | 2 |")
    assert (found.code, found.row, found.column) == ("cell-date", 2, "target bloom")
