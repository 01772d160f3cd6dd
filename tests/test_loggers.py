"""Logger exports beside a season: what must be declared, what a day comes out as, what is told."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from forcing.dates import Span
from forcing.engine.climate import MEASURED, STANDING, build_climate
from forcing.errors import Finding, SeasonUnreadable
from forcing.model import Place, Reading, Season
from forcing.recipes.book import curve_nodes
from forcing.season.cells import RawSheet
from forcing.season.logger_days import Clock, Logged, join_readings
from forcing.season.loggers import StampFormat, read_loggers, read_text
from forcing.season.notation import Notation
from forcing.season.read import read_season
from forcing.season.rows import read_rows
from forcing.season.schema import table
from forcing.season.starter import write_workbook
from tests.outside import library

PLACES = {"south": "South", "cellar": "Cellar"}
KEYS = {
    "place": "South", "unit": "C", "zone": "UTC", "stamp": "instant", "delimiter": "comma", "decimal mark": "point",
    "time column": "time", "temperature column": "temp", "date order": "YYYY-MM-DD HH:MM:SS",
}  # fmt: skip
MIDNIGHT = datetime(2027, 1, 10)
HOUR = timedelta(hours=1)
Rows = Iterable[tuple[datetime, float]]


def export(folder: Path, rows: Rows, name: str = "a.csv", **keys: str) -> Path:
    """A logger file with its heading, in `folder`."""
    lines = [(m.isoformat(" ", "seconds"), f"{value!r}") for m, value in rows]
    return write(folder, ["time,temp", *(f"{m},{value}" for m, value in lines)], name, **keys)


def write(folder: Path, lines: Sequence[str], name: str = "a.csv", **keys: str) -> Path:
    folder.mkdir(exist_ok=True)
    stated = {**KEYS, **{key.replace("_", " "): value for key, value in keys.items()}}
    heading = [f"# {key}: {value}" for key, value in stated.items() if value]
    file = folder / name
    file.write_text("\n".join([*heading, *lines]) + "\n", encoding="utf-8")
    return file


def hourly(days: int = 1, start: datetime = MIDNIGHT, base: float = 10.0) -> list[tuple[datetime, float]]:
    """A swing of 5 degrees about `base`, one reading an hour, the last at the closing midnight."""
    return [
        (start + i * HOUR, base + 5 * math.sin(2 * math.pi * i / 24) + 0.01 * (i % 5))
        for i in range(24 * days + 1)
    ]


def days(logged: Logged) -> dict[date, Reading]:
    return {reading.date: reading for reading in logged.readings}


def codes(findings: Iterable[Finding]) -> list[str]:
    return sorted(f"{f.severity} {f.code}" for f in findings)


def brief(finding: Finding) -> str:
    return f"{finding.severity} {finding.code} {finding.table} {finding.row} {finding.column} {finding.value}"


def logger_rows(text: str) -> list[object]:
    """Rows of a loggers table; cells parted by strokes."""
    cells = tuple(tuple(c.strip() or None for c in line.split("|")) for line in text.strip().splitlines())
    rows, findings = read_rows(RawSheet("loggers", cells), table("loggers"), Notation())
    assert findings == []
    return list(rows)


# ---------------------------------------------------------------- days


def test_a_day_of_spot_readings(tmp_path: Path) -> None:
    # 10 at midnight, a straight line to 20 at noon, and back: mean 15; the first hour runs from 10 to
    # 10 + 10/12, so its mean is 10 + 10/24.
    rows = [(MIDNIGHT, 10.0), *((MIDNIGHT + k * HOUR, 20 - abs(12 - k) * 10 / 12) for k in range(2, 25, 2))]
    logged = read_loggers(export(tmp_path / "readings", rows).parent, (), PLACES)
    assert logged.findings == ()
    reading = days(logged)[MIDNIGHT.date()]
    assert (reading.place, reading.kind, reading.row) == ("South", "measured", None)
    assert reading.low == pytest.approx(10, abs=1e-9)
    assert reading.high == pytest.approx(20, abs=1e-9)
    assert reading.mean == pytest.approx(15, abs=1e-9)
    assert len(reading.hours) == 24
    assert reading.hours[0] == pytest.approx(10 + 10 / 24, abs=1e-9)
    assert sum(reading.hours) / 24 == pytest.approx(reading.mean, abs=1e-12)


def test_averages_count_for_the_time_they_average(tmp_path: Path) -> None:
    # 12 h at 8, 12 h at 20: as intervals a mean of 14 exactly, whichever end is stamped.
    values = [8.0] * 12 + [20.0] * 12
    for stamp, shift in (("start", 0), ("end", 1)):
        rows = [(MIDNIGHT + (i + shift) * HOUR, value) for i, value in enumerate(values)]
        folder = export(tmp_path / stamp, rows, stamp=stamp).parent
        reading = days(read_loggers(folder, (), PLACES))[MIDNIGHT.date()]
        assert reading.hours == tuple(values)
        assert (reading.low, reading.high, reading.mean) == (8.0, 20.0, 14.0)


def test_other_intervals_give_the_same_mean(tmp_path: Path) -> None:
    # T(t) = 12 + 5 sin(2πt/24 h): the mean of an interval is in closed form, and of the whole day 12.
    def average(begin: float, end: float) -> float:
        turn = 2 * math.pi / 24
        return 12 + 5 * (math.cos(turn * begin) - math.cos(turn * end)) / (turn * (end - begin))

    means = []
    for minutes in (5, 15, 60):
        step = minutes / 60
        for stamp in ("start", "instant"):
            rows = []
            for i in range(round(24 / step) + (stamp == "instant")):
                value = (
                    average(i * step, (i + 1) * step)
                    if stamp == "start"
                    else 12 + 5 * math.sin(math.pi * i * step / 12)
                )
                rows.append((MIDNIGHT + i * timedelta(minutes=minutes), value))
            folder = export(tmp_path / f"{stamp}{minutes}", rows, stamp=stamp).parent
            reading = days(read_loggers(folder, (), PLACES))[MIDNIGHT.date()]
            means.append(reading.mean)
            if stamp == "start":
                assert reading.hours == pytest.approx([average(h, h + 1) for h in range(24)], abs=1e-9)
    assert means == pytest.approx([12.0] * 6, abs=1e-9)


def test_daily_means_are_days_without_a_swing(tmp_path: Path) -> None:
    rows = [(MIDNIGHT + timedelta(days=i), 5.0 + i) for i in range(4)]
    logged = read_loggers(export(tmp_path / "readings", rows, stamp="start").parent, (), PLACES)
    assert [r.mean for r in logged.readings] == [5.0, 6.0, 7.0, 8.0]
    assert logged.readings[0].hours == (5.0,) * 24
    assert logged.findings == ()


@pytest.mark.parametrize(("day", "length"), [(date(2027, 3, 28), 23), (date(2027, 10, 31), 25)])
def test_days_on_which_the_clocks_change(tmp_path: Path, day: date, length: int) -> None:
    # Europe/London changes on the last Sundays of March and October. A steady rise of 1 °C an hour from
    # local midnight: mean of the day is half its length; the parts are equal parts of what passed.
    zone = ZoneInfo("Europe/London")
    begin = datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
    moments = [begin + i * HOUR for i in range(length + 1)]
    walls = [m.astimezone(zone).replace(tzinfo=None) for m in moments]
    local = export(tmp_path / "local", [(m, float(i)) for i, m in enumerate(walls)], zone="Europe/London")
    utc = export(tmp_path / "utc", [(m.replace(tzinfo=None), float(i)) for i, m in enumerate(moments)],
                 day_zone="Europe/London")  # fmt: skip
    mine, theirs = (read_loggers(f.parent, (), PLACES) for f in (local, utc))
    assert mine.readings == theirs.readings
    reading = days(mine)[day]
    assert reading.mean == pytest.approx(length / 2, abs=1e-9)
    assert reading.hours == pytest.approx([(k + 0.5) * length / 24 for k in range(24)], abs=1e-9)
    # 01:00 comes twice in the autumn, as an hourly logger writes it: told, never a repeated stamp
    assert codes(mine.findings) == (["note logger-clock-back"] if length == 25 else [])


@pytest.mark.parametrize("order", [1, -1])
def test_fahrenheit_in_a_zone_that_changes_equals_celsius_in_utc(tmp_path: Path, order: int) -> None:
    # The same readings: °F on the clock of New York over the spring change (2027-03-14) and the autumn one
    # (2027-11-07), and °C in UTC.
    zone = ZoneInfo("America/New_York")
    for name, start in (
        ("spring", datetime(2027, 3, 12, 5, tzinfo=UTC)),
        ("autumn", datetime(2027, 11, 5, 4, tzinfo=UTC)),
    ):
        moments = [start + i * timedelta(minutes=30) for i in range(48 * 5 + 3)]
        celsius = [9 + 6 * math.sin(i / 7) + 0.1 * (i % 3) for i in range(len(moments))]
        local = [
            (m.astimezone(zone).replace(tzinfo=None), c * 9 / 5 + 32)
            for m, c in zip(moments, celsius, strict=True)
        ]
        utc = [(m.replace(tzinfo=None), c) for m, c in zip(moments, celsius, strict=True)]
        folder = export(tmp_path / f"{name}F", local[::order], unit="F", zone="America/New_York").parent
        mine = read_loggers(folder, (), PLACES)
        folder = export(tmp_path / f"{name}C", utc, day_zone="America/New_York").parent
        theirs = read_loggers(folder, (), PLACES)
        assert [r.date for r in mine.readings] == [r.date for r in theirs.readings]
        assert len(mine.readings) == 5
        for one, other in zip(mine.readings, theirs.readings, strict=True):
            assert (one.low, one.high, one.mean) == pytest.approx(
                (other.low, other.high, other.mean), abs=1e-9
            )
            assert one.hours == pytest.approx(other.hours, abs=1e-9)


def test_the_published_sum_of_seattle(tmp_path: Path) -> None:
    # vega_datasets 0.9 seattle-temps.csv: hourly °F of 2010, 2010-03-14 03:00 missing. Heat above 5 °C by
    # the hour, recomputed here with numpy alone: 2267.68 °C·d (and 2369.11 by single sine of low and high).
    vega = library("vega_datasets")
    source = Path(vega.__file__).parent / "_data" / "seattle-temps.csv"
    lines = source.read_text(encoding="utf-8").splitlines()
    fahrenheit = np.array([float(row["temp"]) for row in csv.DictReader(lines)])
    expected = float(np.maximum((fahrenheit - 32) / 1.8 - 5, 0).sum() / 24)
    assert expected == pytest.approx(2267.68, abs=0.005)
    folder = write(tmp_path / "readings", lines, unit="F", zone="local clock without changes", stamp="start",
                   time_column="date", date_order="YYYY/MM/DD HH:MM").parent  # fmt: skip
    logged = read_loggers(folder, (), PLACES)
    assert logged.findings == ()
    assert len(logged.readings) == 365
    season = Season("x", Span(date(2010, 6, 1), date(2010, 7, 1)), places=(Place("South", "bench"),),
                    readings=logged.readings)  # fmt: skip
    climate = build_climate(season)
    total = climate.heat("South", 5.0, None).total(
        climate.index(date(2010, 1, 1)), climate.index(date(2011, 1, 1))
    )
    # The missing hour is joined by a line; it is 5.8 °C there and adds 0.8/24 = 0.03 °C·d.
    missing = (43.0 + 42.2) / 2
    assert total == pytest.approx(expected + max((missing - 32) / 1.8 - 5, 0) / 24, abs=1e-6)


# ---------------------------------------------------------------- gaps, and what the engine makes of days


def test_a_gap_longer_than_the_policy_leaves_the_day_to_what_is_stated(tmp_path: Path) -> None:
    def without(first: float, last: float) -> Logged:
        """Three days; the readings strictly between two hours of the second are missing."""
        rows = [(m, v) for m, v in hourly(3) if not first < (m - MIDNIGHT) / HOUR - 24 < last]
        return read_loggers(export(tmp_path / "readings", rows).parent, (), PLACES)

    second = MIDNIGHT.date() + timedelta(days=1)
    assert second in days(without(9, 12))  # 3 h between readings: a straight line
    logged = without(9, 13)  # 4 h
    assert second not in days(logged)
    assert logged.gaps == {"South": (second,)}
    readings, findings = join_readings((), logged, "C")
    assert [brief(f) for f in findings] == [f"warning logger-gap readings None None {second}"]
    assert "South was not logged through on 1 day" in findings[0].message
    season = Season("x", Span(date(2027, 3, 20), date(2027, 4, 1)), places=(Place("South", "bench", day=16, night=16),),
                    readings=readings)  # fmt: skip
    climate = build_climate(season)
    basis = climate.basis["South"][climate.index(MIDNIGHT.date()) :][:3].tolist()
    assert basis == [MEASURED, STANDING, MEASURED]
    # A reading typed for that day fills it, and the finding goes.
    typed = (Reading("South", second, mean=11.0),)
    assert join_readings(typed, logged, "C")[1] == []


def test_a_reading_speaks_for_an_hour_and_a_half(tmp_path: Path) -> None:
    # From 01:00 to 23:00: the ends are held. From 02:00 on: the first day is not whole, and it is no gap.
    rows = hourly()[1:24]
    assert len(read_loggers(export(tmp_path / "a", rows).parent, (), PLACES).readings) == 1
    logged = read_loggers(export(tmp_path / "b", hourly(2)[2:]).parent, (), PLACES)
    assert [r.date for r in logged.readings] == [MIDNIGHT.date() + timedelta(days=1)]
    assert join_readings((), logged, "C")[1] == []


def test_readings_too_far_apart_give_no_day(tmp_path: Path) -> None:
    logged = read_loggers(export(tmp_path / "a", hourly(5)[::6]).parent, (), PLACES)
    assert logged.readings == ()
    assert "on 4 days" in join_readings((), logged, "C")[1][0].message
    logged = read_loggers(export(tmp_path / "b", hourly()[3:9]).parent, (), PLACES)
    assert codes(logged.findings) == ["note logger-short"]


def test_hours_replace_the_sine_and_the_daily_mean(tmp_path: Path) -> None:
    # 6 h at 24, 18 h at 4, base 5, cap 21: by the hour 6/24 × (21 - 5) = 4.0. The mean of 9 would earn 4.
    # without a cap; the sine of 4 and 24 about 9 gives something else again.
    hours = (24.0,) * 6 + (4.0,) * 18
    day = date(2027, 1, 10)
    reading = Reading("South", day, 4.0, 24.0, 9.0, hours=hours)
    typed = Reading("South", day + timedelta(days=1), 4.0, 24.0, 9.0)
    season = Season("x", Span(date(2027, 3, 20), date(2027, 4, 1)), places=(Place("South", "bench", day=16, night=16),),
                    readings=(reading, typed))  # fmt: skip
    climate = build_climate(season)
    at = climate.index(day)
    assert climate.heat("South", 5.0, 21.0).total(at, at + 1) == pytest.approx(4.0, abs=1e-9)
    assert climate.heat("South", 5.0, 21.0).total(at + 1, at + 2) != pytest.approx(4.0, abs=0.1)
    curve = "tulip"
    temperatures, weights = curve_nodes(curve)
    expected = (6 * np.interp(24.0, temperatures, weights) + 18 * np.interp(4.0, temperatures, weights)) / 24
    assert climate.cold("South", curve).total(at, at + 1) == pytest.approx(float(expected), abs=1e-9)
    # A typed reading of the same day, later in the list, is the one that holds.
    twice = Season(
        "x", season.span, places=season.places, readings=(reading, Reading("South", day, mean=9.0))
    )
    climate = build_climate(twice)
    assert climate.heat("South", 5.0, 21.0).total(at, at + 1) == pytest.approx(4.0, abs=1e-9)  # 9 - 5
    assert climate.hours["South"] == {}


def test_a_typed_reading_wins_and_a_difference_is_told(tmp_path: Path) -> None:
    logged = read_loggers(export(tmp_path / "readings", hourly(3)).parent, (), PLACES)
    day, _, third = (r.date for r in logged.readings)
    mean = logged.readings[0].mean
    assert mean is not None
    typed = (Reading("South", day, mean=mean + 1.1, row=7), Reading("South", third, mean=mean + 0.9, row=8),
             Reading("South", third, mean=40.0, kind="forecast", row=9))  # fmt: skip
    readings, findings = join_readings(typed, logged, "C")
    assert [r.mean for r in readings if r.date == day] == [mean + 1.1]
    assert len(readings) == 4  # three typed, one logged
    assert [brief(f)[:43] for f in findings] == ["warning logger-differs readings 7 mean 11.1"]


# ---------------------------------------------------------------- declarations


@pytest.mark.parametrize("key", KEYS)
def test_nothing_that_is_not_declared_is_guessed(tmp_path: Path, key: str) -> None:
    folder = export(tmp_path / "readings", hourly(), **{key.replace(" ", "_"): ""}).parent
    logged = read_loggers(folder, (), PLACES)
    assert logged.readings == ()
    (finding,) = logged.findings
    assert (finding.code, finding.severity, finding.table) == ("logger-undeclared", "error", "readings/a.csv")
    assert finding.message == f"not declared: {key}"
    assert f"# {key}: " in finding.hint


def test_a_file_without_any_declaration_is_told_once_with_every_line(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text("time,temp\n2027-01-10 00:00,5\n", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("for people\n", encoding="utf-8")
    (finding,) = read_loggers(tmp_path, (), PLACES).findings
    assert finding.table == "readings/b.csv"
    assert all(f"# {key}: " in finding.hint for key in KEYS)


def test_table_and_heading_may_share_the_work(tmp_path: Path) -> None:
    folder = export(tmp_path / "readings", hourly(), "Bench 1.csv", unit="", place="").parent
    rows = logger_rows("file | place | unit\nbench*.csv | SOUTH | °F")
    logged = read_loggers(folder, rows, PLACES)
    assert logged.findings == ()
    assert logged.readings[0].mean == pytest.approx((10.02 - 32) / 1.8, abs=0.01)
    rows = logger_rows("file | place | unit | stamp\nbench 1.csv | South | C | end\nbench2.csv | South | C |")
    logged = read_loggers(folder, rows, PLACES)
    assert codes(logged.findings) == ["error logger-declared-twice", "warning logger-missing"]
    assert logged.readings == ()


def test_one_file_with_two_sensors(tmp_path: Path) -> None:
    lines = ["time;warm;cold", *(f"{m:%d.%m.%Y %H:%M};{18 + v / 10:.2f};{v:.2f}".replace(".2027", "#").replace(
        ".", ",").replace(",01#", ".01.2027") for m, v in hourly())]  # fmt: skip
    (tmp_path / "two.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    row = "two.csv | {} | C | UTC+1 | instant | semicolon | comma | time | {} | DD.MM.YYYY HH:MM"
    rows = logger_rows("\n".join([
        "file | place | unit | zone | stamp | delimiter | decimal mark | time column | temperature column | date order",
        row.format("South", "warm"), row.format("Cellar", "3"),
    ]))  # fmt: skip
    logged = read_loggers(tmp_path, rows, PLACES)
    assert logged.findings == ()
    assert {r.place: round(r.mean or 0) for r in logged.readings} == {"South": 19, "Cellar": 10}
    rows += logger_rows("\n".join([
        "file | place | unit | zone | stamp | delimiter | decimal mark | time column | temperature column | date order",
        row.format("South", "warm"),
    ]))  # fmt: skip
    assert codes(read_loggers(tmp_path, rows, PLACES).findings) == ["error logger-declared-twice"]


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        ("place", "Sout", "logger-place"), ("zone", "Europe/Lundon", "logger-zone"), ("zone", "Europe", "logger-zone"),
        ("zone", "UTC+15", "logger-zone"), ("zone", "../../etc/passwd", "logger-zone"), ("unit", "K", "cell-word"),
        ("stamp", "middle", "cell-word"), ("delimiter", "bar", "cell-word"),
        ("date order", "DD/YYYY HH:MM", "logger-date-order"), ("date order", "MM/DD/YYYY", "logger-date-order"),
        ("temperature column", "tempp", "logger-column"),
        ("delimiter", "semicolon", "logger-column"), ("date order", "DD-MM-YYYY HH:MM:SS", "logger-row"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(tmp_path: Path, key: str, value: str, code: str) -> None:
    folder = export(tmp_path / "readings", hourly(), **{key.replace(" ", "_"): value}).parent
    logged = read_loggers(folder, (), PLACES)
    assert logged.readings == ()
    (finding,) = logged.findings
    assert (finding.code, finding.severity) == (code, "error"), str(finding)
    assert finding.hint.endswith((".", "?"))


def test_hints_name_what_was_meant(tmp_path: Path) -> None:
    def hint(**keys: str) -> str:
        return read_loggers(export(tmp_path / "r", hourly(), **keys).parent, (), PLACES).findings[0].hint

    assert "Did you mean Europe/London?" in hint(zone="europe/lundon")
    assert "Did you mean South?" in hint(place="Sout")
    assert "Did you mean temp?" in hint(temperature_column="tempp")


def test_a_misspelt_key_is_told(tmp_path: Path) -> None:
    folder = write(tmp_path / "readings", ["# units: C", "# serial: 12", "time,temp"], unit="").parent
    assert codes(read_loggers(folder, (), PLACES).findings) == [
        "error logger-undeclared",
        "warning logger-key",
    ]


@pytest.mark.parametrize(
    ("order", "text", "expected"),
    [
        ("YYYY-MM-DD HH:MM", "2027-03-04 05:06", datetime(2027, 3, 4, 5, 6)),
        ("DD/MM/YYYY HH:MM:SS", "03/04/2027 05:06:07", datetime(2027, 4, 3, 5, 6, 7)),
        ("MM/DD/YYYY hh:mm AM/PM", "3/4/2027 12:06 am", datetime(2027, 3, 4, 0, 6)),
        ("MM/DD/YYYY hh:mm AM/PM", "3/4/2027 12:06PM", datetime(2027, 3, 4, 12, 6)),
        ("MM/DD/YY hh:mm:ss AM/PM", "03/04/27 01:06:30 p.m.", datetime(2027, 3, 4, 13, 6, 30)),
        ("YYYY-MM-DDTHH:MM:SS", "2027-03-04T05:06:07.5", datetime(2027, 3, 4, 5, 6, 7, 500000)),
        ("DD-MMM-YYYY HH:MM", "4-Mar-2027 5:06", datetime(2027, 3, 4, 5, 6)),
        ("YYYYMMDDHHMM", "202703040506", datetime(2027, 3, 4, 5, 6)),
        ("HH:MM DD.MM.YYYY", "5:06 04.03.2027", datetime(2027, 3, 4, 5, 6)),
        ("YYYY-MM-DD HH:MM", "2027-03-04 24:00", datetime(2027, 3, 5)),
        ("YYYY-MM-DD HH:MM", "2027-02-29 05:06", None),  # no leap year
        ("YYYY-MM-DD HH:MM", "2028-02-29 05:06", datetime(2028, 2, 29, 5, 6)),
        ("YYYY-MM-DD HH:MM", "04/03/2027 05:06", None),
        ("YYYY-MM-DD HH:MM", "2027-03-04 05:06 PM", None),
        ("YYYY-MM-DD HH:MM", "2027-03-04 24:01", None),
        ("MM/DD/YYYY hh:mm AM/PM", "3/4/2027 13:06 PM", None),
        ("DD-MMM-YYYY HH:MM", "4-Mai-2027 5:06", None),
    ],
)  # fmt: skip
def test_stamps_are_read_as_declared(order: str, text: str, expected: datetime | None) -> None:
    (read,) = StampFormat.of(order).read(pd.Series([text]))
    assert (None if pd.isna(read) else read) == expected


def test_stamps_with_their_own_offset() -> None:
    form = StampFormat.of("YYYY-MM-DDTHH:MM:SS+HH:MM")
    assert form.zoned and not StampFormat.of("YYYY-MM-DD HH:MM").zoned
    texts = [
        "2027-03-04T05:06:07-05:30",
        "2027-03-04T05:06:07Z",
        "2027-03-04T05:06:07+0100",
        "2027-03-04T05:06:07",
    ]
    in_utc = [datetime(2027, 3, 4, 10, 36, 7), datetime(2027, 3, 4, 5, 6, 7), datetime(2027, 3, 4, 4, 6, 7)]
    *read, last = form.read(pd.Series(texts))
    assert read == in_utc and pd.isna(last)
    with pytest.raises(ValueError, match="year twice"):
        StampFormat.of("YYYY-YYYY-MM-DD HH:MM")


def test_clocks() -> None:
    moment = datetime(2027, 7, 1, 12)
    noon = moment.replace(tzinfo=UTC).timestamp()
    behind = {"UTC": 0, "UTC+1": 1, "-05:30": -5.5, "Europe/London": 1, "Local clock WITHOUT changes": 0}
    for text, hours in behind.items():
        assert Clock.of(text).seconds(pd.Series([moment])).tolist() == [noon - hours * 3600]


def test_the_hour_that_a_clock_shows_twice_or_never() -> None:
    clock = Clock.of("Europe/London")
    moments = pd.Series([datetime(2027, 10, 31, 0, 59), datetime(2027, 10, 31, 1), datetime(2027, 3, 28, 1)])
    # 31 October 2027, 01:00 is 00:00 and then 01:00 in UTC; on 28 March the clock goes from 01:00 to 02:00
    first = datetime(2027, 10, 31, 0, tzinfo=UTC).timestamp()
    assert clock.twice(moments).tolist() == [False, True, False]
    assert clock.seconds(moments)[1] == first
    assert clock.seconds(moments, np.array([False, True, False]))[1] == first + 3600
    assert np.isnan(clock.seconds(moments)).tolist() == [False, False, True]


def test_a_day_begins_where_its_midnight_is_skipped() -> None:
    # in Havana the clock goes from 00:00 to 01:00 on 8 March 2026, when it is 05:00 in UTC
    (start, after) = Clock.of("America/Havana").midnights(date(2026, 3, 8), date(2026, 3, 9))
    assert start == datetime(2026, 3, 8, 5, tzinfo=UTC).timestamp() and after - start == 23 * 3600


def test_a_computer_without_time_zones_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("zoneinfo.available_timezones", set)
    with pytest.raises(ValueError, match="install the Python package tzdata"):
        Clock.of("Nowhere/Known")


def test_preambles_numbers_of_columns_and_old_code_pages(tmp_path: Path) -> None:
    rows = [f"{i};{m:%d/%m/%Y};{m:%H:%M};{v:.2f};".replace(".", ",") for i, (m, v) in enumerate(hourly())]
    lines = ["Logger 7;;", "", "No;Date;Clock;Temp °C;", *rows]
    keys = {"delimiter": ";", "decimal_mark": ",", "date_order": "DD/MM/YYYY HH:MM"}
    named = write(tmp_path / "a", lines, time_column="Date + Clock", temperature_column="Temp °C", **keys)
    numbered = write(tmp_path / "b", lines, time_column="2 + 3", temperature_column="4", **keys)
    old = write(tmp_path / "c", lines, time_column="Date + Clock", temperature_column="Temp °C", **keys)
    old.write_bytes(old.read_text(encoding="utf-8").encode("cp1252"))
    wide = write(tmp_path / "d", lines, time_column="Date + Clock", temperature_column="Temp °C", **keys)
    wide.write_bytes(wide.read_text(encoding="utf-8").encode("utf-16"))
    found = [read_loggers(f.parent, (), PLACES) for f in (named, numbered, old, wide)]
    assert [f.findings for f in found] == [()] * 4
    assert len(found[0].readings) == 1
    assert all(f.readings == found[0].readings for f in found)


# ---------------------------------------------------------------- findings, each once


def found_in(tmp_path: Path, rows: Rows, **keys: str) -> list[str]:
    logged = read_loggers(export(tmp_path / "readings", rows, **keys).parent, (), PLACES)
    return [brief(f) for f in join_readings((), logged, "C")[1]]


def test_stamps_that_come_twice(tmp_path: Path) -> None:
    rows = hourly()
    # the heading is 9 lines, the header 1: the reading at index i stands in row 11 + i
    same = [*rows[:5], rows[4], *rows[5:8], rows[7], *rows[8:]]
    assert found_in(tmp_path, same) == ["note logger-twice readings/a.csv 16 None None"]
    other = [*rows[:5], (rows[4][0], rows[4][1] + 1), *rows[5:]]
    assert found_in(tmp_path, other) == ["warning logger-twice-different readings/a.csv 16 None None"]
    mean = [*rows[:4], (rows[4][0], rows[4][1] + 0.5), *rows[5:]]
    one, two = (
        read_loggers(export(tmp_path / "m", r).parent, (), PLACES).readings[0].hours for r in (other, mean)
    )
    assert one == pytest.approx(two, abs=1e-12)


def test_stamps_out_of_order(tmp_path: Path) -> None:
    rows = hourly()
    mixed = [*rows[:5], rows[6], rows[5], *rows[7:]]
    assert found_in(tmp_path, mixed) == ["note logger-order readings/a.csv 17 time 2027-01-10 05:00"]
    assert found_in(tmp_path, rows[::-1]) == []  # newest first is an order


def test_the_hour_that_the_clocks_skip_does_not_exist(tmp_path: Path) -> None:
    rows = hourly(1, datetime(2027, 3, 28))
    rows.insert(2, (datetime(2027, 3, 28, 1, 30), 11.0))
    assert found_in(tmp_path, rows, zone="Europe/London") == [
        "warning logger-clock-forward readings/a.csv 12 time 2027-03-28 01:00"
    ]
    assert found_in(tmp_path, rows, zone="UTC+1") == []


def test_spikes_are_left_out_and_told(tmp_path: Path) -> None:
    rows = hourly()
    high = [*rows[:5], (rows[5][0], rows[5][1] + 9.5), *rows[6:]]
    assert found_in(tmp_path, high) == ["warning logger-spike readings/a.csv 16 None 14.4, 24.3, 15.0 °C"]
    logged = read_loggers(tmp_path / "readings", (), PLACES)
    gone = read_loggers(export(tmp_path / "gone", [*rows[:5], *rows[6:]]).parent, (), PLACES)
    assert logged.readings == gone.readings
    stays = [(m, v + (9.5 if i >= 5 else 0)) for i, (m, v) in enumerate(rows)]  # a warmer bench is no spike
    assert found_in(tmp_path, stays) == []


def test_a_flat_line_is_told_and_kept(tmp_path: Path) -> None:
    rows = [(m, 5.0 if i <= 25 else v) for i, (m, v) in enumerate(hourly(3))]
    assert found_in(tmp_path, rows) == ["warning logger-flat readings/a.csv 11 None 5.0 °C"]
    assert read_loggers(tmp_path / "readings", (), PLACES).readings[0].hours == (5.0,) * 24
    rows = [(m, 5.0 if i <= 24 else v) for i, (m, v) in enumerate(hourly(3))]  # 24 hours are not more
    assert found_in(tmp_path, rows) == []


def test_temperatures_that_no_logger_measures(tmp_path: Path) -> None:
    rows = hourly()
    for value, told in ((60.0, False), (60.1, True), (-40.0, False), (-40.1, True)):
        odd = [*rows[:5], (rows[5][0], value), (rows[6][0], value), *rows[7:]]
        expected = f"warning logger-range readings/a.csv 16 temp {value} °C"
        assert (expected in found_in(tmp_path, odd)) is told
    # everything outside: an error, as nothing is left; the other unit is never tried
    assert found_in(tmp_path, hourly(base=90)) == ["error logger-range readings/a.csv 11 temp 90.0 °C"]


def test_rows_that_cannot_be_read(tmp_path: Path) -> None:
    lines = ["time,temp", *(f"{m},{v:.3f}" for m, v in hourly(2))]
    lines[6], lines[7] = "2027-01-10 05:00:00,12,5", "2027-01-10 06:00:00,warm"
    lines[8] = "2027-01-10 07:00:00,"  # a logger's own event: no reading, no finding
    folder = write(tmp_path / "readings", lines).parent
    logged = read_loggers(folder, (), PLACES)
    (finding,) = logged.findings
    assert brief(finding) == "warning logger-row readings/a.csv 16 temp 12"
    assert finding.message.endswith("and so in 1 more row")
    assert len(logged.readings) == 1  # 04:00 to 08:00 is too long
    lines[7] = "10/01/2027 06:00,14"
    lines[6] = "2027-01-10 05:00:00,13"
    logged = read_loggers(write(tmp_path / "readings", lines).parent, (), PLACES)
    assert [brief(f) for f in logged.findings] == [
        "warning logger-row readings/a.csv 17 time 10/01/2027 06:00"
    ]
    assert len(logged.readings) == 2


def test_files_without_readings(tmp_path: Path) -> None:
    assert found_in(tmp_path, []) == ["warning logger-empty readings/a.csv None None None"]
    for columns in ("temp", "2"):
        folder = write(tmp_path / "b", ["time,temp", "yesterday,5"], temperature_column=columns,
                       time_column="time" if columns == "temp" else "1").parent  # fmt: skip
        (finding,) = read_loggers(folder, (), PLACES).findings
        assert (finding.code, finding.severity) == ("logger-row", "error")
    (tmp_path / "c").mkdir()
    assert read_loggers(tmp_path / "c", (), PLACES) == Logged((), {}, ())
    assert read_loggers(tmp_path / "nowhere", (), PLACES) == Logged()


def test_a_logger_with_a_lost_clock(tmp_path: Path) -> None:
    rows = [(datetime(2001, 1, 1, 0, 10), 9.0), *hourly()]
    span = Span(date(2026, 1, 1), date(2027, 12, 1))
    logged = read_loggers(export(tmp_path / "readings", rows).parent, (), PLACES, span)
    assert [brief(f) for f in logged.findings] == ["warning logger-far readings/a.csv 11 None 2001-01-01"]
    assert len(logged.readings) == 1
    assert join_readings((), logged, "C")[1] == list(logged.findings)


def test_two_loggers_of_one_place_that_disagree(tmp_path: Path) -> None:
    export(tmp_path, hourly(), "a.csv")
    export(tmp_path, hourly(base=12), "b.csv", stamp="end")
    logged = read_loggers(tmp_path, (), PLACES)
    assert codes(logged.findings) == ["warning logger-clash"]
    assert len(logged.readings) == 1


def test_a_file_that_cannot_be_opened(tmp_path: Path) -> None:
    found = read_text(tmp_path)
    assert isinstance(found, Finding)
    assert found.code == "file-missing"


# ---------------------------------------------------------------- any order, any split

VALUES = st.lists(st.floats(-5, 30, allow_nan=False).map(lambda v: round(v, 2)), min_size=60, max_size=90)


@settings(max_examples=10, deadline=None)
@given(values=VALUES, data=st.data())
def test_neither_order_nor_split_changes_a_day(
    tmp_path_factory: pytest.TempPathFactory, values: list[float], data: st.DataObject
) -> None:
    tmp_path = tmp_path_factory.mktemp("any")
    stamp = data.draw(st.sampled_from(["instant", "start", "end"]))
    zone = ZoneInfo("Europe/London")
    begin = datetime(2027, 10, 30, 12, tzinfo=UTC)  # over the night of the repeated hour
    moments = [(begin + i * HOUR).astimezone(zone).replace(tzinfo=None) for i in range(len(values))]
    rows = list(zip(moments, values, strict=True))
    whole = read_loggers(
        export(tmp_path / "whole", rows, zone="Europe/London", stamp=stamp).parent, (), PLACES
    )
    cut = data.draw(st.integers(1, len(rows) - 1))
    export(tmp_path / "split", rows[:cut], "b.csv", zone="Europe/London", stamp=stamp)
    split = export(tmp_path / "split", rows[cut:], "a.csv", zone="Europe/London", stamp=stamp).parent
    assert read_loggers(split, (), PLACES).readings == whole.readings
    plain = [(MIDNIGHT + i * HOUR, v) for i, v in enumerate(values)]
    mixed = data.draw(st.permutations(plain))
    one = read_loggers(export(tmp_path / "plain", plain, stamp=stamp).parent, (), PLACES)
    other = read_loggers(export(tmp_path / "mixed", mixed, stamp=stamp).parent, (), PLACES)
    assert one.readings == other.readings
    assert one.gaps == other.gaps


@settings(max_examples=20, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 4 * 1440), st.floats(-40, 60, allow_nan=False)), max_size=60),
    st.sampled_from(["instant", "start", "end"]),
    st.sampled_from(["UTC", "Europe/London", "local clock without changes"]),
)
@example(
    # 24 equal hours below the middle value: their mean rounded below every one of them
    points=[(0, 10.4), (1, 0.0), (1351, 1.4228198022845007), (1351, 1.4000000000000004), (2701, 7.079373744488372)],
    stamp="end", zone="UTC",
)  # fmt: skip
def test_whatever_is_logged_a_day_lies_between_its_extremes(
    tmp_path_factory: pytest.TempPathFactory, points: list[tuple[int, float]], stamp: str, zone: str
) -> None:
    rows = [(datetime(2027, 3, 26) + timedelta(minutes=m), v) for m, v in points]
    folder = export(tmp_path_factory.mktemp("any") / "r", rows, stamp=stamp, zone=zone).parent
    for reading in read_loggers(folder, (), PLACES).readings:
        assert reading.low is not None and reading.high is not None and reading.mean is not None
        assert reading.low <= min(reading.hours) <= reading.mean <= max(reading.hours)
        assert max(reading.hours) <= reading.high
        assert len(reading.hours) == 24


# ---------------------------------------------------------------- beside a season

SEASON = {
    "season": "item,value\nopens,2027-03-20\ncloses,2027-05-02\ntemperature unit,F\n",
    "places": "place,kind,pots,day,night\nSouth,bench,100,60,60\nCellar,cooler,100,41,41\n",
    "lots": "lot,crop,class,pots\nT1,tulip,early,20\n",
}


def season_folder(home: Path, **more: str) -> Path:
    home.mkdir(exist_ok=True)
    for name, text in {**SEASON, **more}.items():
        (home / f"{name}.csv").write_text(text, encoding="utf-8")
    return home


def test_a_season_takes_in_its_loggers(tmp_path: Path) -> None:
    home = season_folder(tmp_path / "season", readings="place,date,mean\nSouth,2027-01-11,60\n")
    assert len(read_season(home)[0].readings) == 1
    export(home / "readings", hourly(3))
    season, findings = read_season(home)
    assert len(season.readings) == 3
    assert codes(findings) == ["warning logger-differs"]
    # 10 °C and the 0.02 of the small steps: 50.0 °F, typed 60
    assert findings[0].message == "the logger of South says 50 °F on 2027-01-11"
    assert (findings[0].row, findings[0].value) == (2, "60 °F")
    export(home / "readings", hourly(3), zone="")
    with pytest.raises(SeasonUnreadable, match="not declared: zone"):
        read_season(home)


def test_a_workbook_takes_in_the_folder_beside_it(tmp_path: Path) -> None:
    tables = {name: list(csv.DictReader(text.splitlines())) for name, text in SEASON.items()}
    tables["loggers"] = [{"file": "a.csv", "unit": "C", "delimiter": ","}]
    book = write_workbook(tmp_path / "season.xlsx", tables)
    export(tmp_path / "readings", hourly(3), unit="", delimiter="")
    season, findings = read_season(book)
    assert findings == ()
    assert [r.place for r in season.readings] == ["South"] * 3


def test_a_season_whose_cells_fail_still_tells_of_its_loggers(tmp_path: Path) -> None:
    home = season_folder(tmp_path / "season", lots="lot,crop,pots\nT1,tulip,many\n")
    export(home / "readings", hourly(3), unit="")
    with pytest.raises(SeasonUnreadable) as caught:
        read_season(home)
    assert [f.code for f in caught.value.findings] == ["cell-number", "logger-undeclared"]
