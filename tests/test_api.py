"""The Python face: what a notebook asks and gets. Expected dates and sums are reckoned by hand beside them."""

from __future__ import annotations

import subprocess
import sys
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import forcing

ROOT = Path(__file__).parent.parent
SMALL = ROOT / "examples" / "small-season"
SHOW = pd.DataFrame(
    {"item": ["opens", "closes", "working days"], "value": ["2027-03-20", "2027-04-20", "Mon-Sun"]}
)
PLACES = pd.DataFrame(
    {
        "place": ["Cold", "Bench", "Bench 2"],
        "kind": ["cooler", "bench", "bench"],
        "pots": [500, 300, 300],
        "day": [9, 18, 18],
        "night": [9, 14, 14],
    }
)
LOTS = pd.DataFrame(
    {
        "lot": ["A", "B"],
        "crop": ["tulip", "tulip"],
        "pots": [20, 30],
        "cooler": ["Cold", "Cold"],
        "bench": ["Bench", "Bench 2"],
    }
)


def loaded(**tables: pd.DataFrame) -> forcing.LoadedSeason:
    return forcing.load({"season": SHOW, "places": PLACES, "lots": LOTS} | tables)


@pytest.fixture(scope="module")
def small() -> forcing.LoadedSeason:
    return forcing.load(SMALL)


@pytest.fixture(scope="module")
def autumn(small: forcing.LoadedSeason) -> forcing.PlannedSeason:
    return small.plan(on="2026-09-01")


# ---------------------------------------------------------------- loading


def test_a_season_of_data_frames_is_the_season_of_its_files(small: forcing.LoadedSeason) -> None:
    tables = {file.stem: pd.read_csv(file) for file in SMALL.glob("*.csv")}
    season = forcing.load(tables)
    assert season.stated == small.stated
    assert season.name == "" and small.name == "small-season"


def test_a_path_may_be_text_and_anything_else_is_refused() -> None:
    assert forcing.load(str(SMALL)).stated == forcing.load(SMALL).stated
    with pytest.raises(TypeError, match="a path, or a mapping of table names to DataFrames"):
        forcing.load(7)  # type: ignore[arg-type]


def test_what_the_commands_refuse_is_an_exception_with_its_findings() -> None:
    lots = LOTS.assign(pots=["many", 30])
    with pytest.raises(forcing.SeasonUnreadable, match="lots, row 2, pots") as caught:
        loaded(lots=lots)
    assert [(f.table, f.row, f.column) for f in caught.value.findings if f.severity == "error"] == [
        ("lots", 2, "pots")
    ]
    with pytest.raises(forcing.SeasonUnreadable, match="no such file"):
        forcing.load("nowhere.xlsx")


def test_a_season_without_lots_is_not_planned() -> None:
    season = loaded(lots=LOTS.head(0))
    assert "no-lots" in set(season.findings.code)
    for what in (season.plan, season.outlook, season.steer, season.review):
        with pytest.raises(forcing.NothingToPlan, match="no lots"):
            what(on="2026-09-01")


def test_the_findings_are_a_table() -> None:
    season = loaded(lots=LOTS.assign(cultivar=["Ivory", None], pots=[20, 3000]))
    assert isinstance(season.findings, pd.DataFrame)
    assert {"code", "severity", "table", "row", "column", "message", "hint"} <= set(season.findings.columns)
    planned = season.plan(on="2026-09-01").findings
    assert "place-overfull" in set(planned.code)


# ---------------------------------------------------------------- a plan


def test_one_row_a_lot_with_days_that_can_be_reckoned_with(autumn: forcing.PlannedSeason) -> None:
    lots = autumn.lots
    assert list(lots.index) == [lot.name for lot in autumn.season.stated.lots]
    for column in ("target", "potting", "cooler_in", "bring_in", "bloom", "fade"):
        assert lots[column].dtype.kind == "M", column
    assert (lots.potting < lots.bring_in).all() and (lots.bring_in < lots.bloom).all()
    assert (lots.bloom <= lots.target).all()


def test_a_warmer_bench_is_come_to_later(small: forcing.LoadedSeason, autumn: forcing.PlannedSeason) -> None:
    warm = small.with_bench("South bench", by=2).plan(on="2026-09-01")
    later = (warm.lots.bring_in - autumn.lots.bring_in).dt.days
    on_it = [lot.name for lot in small.stated.lots if lot.bench == "South bench"]
    assert (later.drop(on_it) == 0).all()
    as_cold = [name for name in on_it if abs(warm.lots.cold_weeks[name] - autumn.lots.cold_weeks[name]) < 0.2]
    assert len(as_cold) >= 3 and (later[as_cold] > 0).all()


def test_the_tables_are_those_of_the_files(autumn: forcing.PlannedSeason, tmp_path: Path) -> None:
    written = {path.name for path in autumn.write(tmp_path)}
    assert {"plan.csv", "tasks.csv", "findings.csv", "season-plan.xlsx", "gantt.pdf", "board.html"} <= written
    for name, table, dated in (
        ("plan.csv", autumn.steps, ["start", "end"]),
        ("tasks.csv", autumn.tasks, ["date"]),
        ("findings.csv", autumn.findings, []),
    ):
        file = pd.read_csv(tmp_path / name, parse_dates=dated, keep_default_na=False)
        assert len(file) == len(table), name
        for column in dated:
            assert (file[column].to_numpy() == table[column].to_numpy().astype("datetime64[s]")).all(), name
        words = [column for column in file if file[column].dtype == table[column].dtype == object]
        assert (file[words] == table[words]).all(axis=None), name


def test_loads_are_the_pots_that_stand_there_each_day() -> None:
    plan = loaded().plan(on="2026-09-01")
    assert list(plan.loads.columns) == ["date", "place", "pots", "capacity"]
    days = plan.loads.pivot(index="date", columns="place", values="pots")
    bring_in = plan.lots.bring_in["A"]
    # 20 pots of 15 cm are 20 places: none the day before they are brought in, 20 from that day on.
    assert days.loc[bring_in - pd.Timedelta(days=1), "Bench"] == 0
    assert days.loc[bring_in, "Bench"] == 20
    assert (plan.loads[plan.loads.place == "Bench"].capacity == 300).all()


def test_rooms_say_what_each_place_is_set_to(autumn: forcing.PlannedSeason) -> None:
    south = autumn.rooms[autumn.rooms.place == "South bench"]
    assert (south.day == 18).all() and (south.night == 14).all()


@pytest.mark.parametrize(
    "on", [date(2026, 9, 1), "2026-09-01", pd.Timestamp("2026-09-01"), datetime(2026, 9, 1, 7, 30)]
)
def test_the_day_may_be_written_in_four_ways(on: date | str) -> None:
    assert loaded().plan(on=on).on == date(2026, 9, 1)


@pytest.mark.parametrize(
    ("on", "error", "words"),
    [
        ("1/9/2026", ValueError, "year-month-day"),
        ("2026-02-30", ValueError, "year-month-day"),
        (20260901, TypeError, "type int"),
        (None, TypeError, "type NoneType"),
        (pd.NaT, ValueError, "missing"),
    ],
)
def test_a_day_that_is_none_is_refused_in_words(on: object, error: type[Exception], words: str) -> None:
    with pytest.raises(error, match=words):
        loaded().plan(on=on)  # type: ignore[arg-type]


# ---------------------------------------------------------------- a bench made warmer


def test_a_bench_is_changed_by_a_difference_with_its_dated_setpoints() -> None:
    setpoints = pd.DataFrame({"place": ["Bench"], "from": ["2027-03-01"], "day": [16], "night": [12]})
    warm = loaded(setpoints=setpoints).with_bench("Bench", by=1.5).stated
    assert (warm.place("Bench").day, warm.place("Bench").night) == (19.5, 15.5)
    assert [(point.day, point.night) for point in warm.setpoints] == [(17.5, 13.5)]
    assert warm.place("Bench 2").day == 18


def test_in_a_season_in_fahrenheit_it_is_a_difference_too() -> None:
    unit = pd.DataFrame({"item": ["temperature unit"], "value": ["F"]})
    places = PLACES.assign(day=[48, 64, 64], night=[48, 57, 57])
    season = loaded(season=pd.concat([SHOW, unit], ignore_index=True), places=places)
    warm = season.with_bench("Bench", by=3.6)
    # 3.6 °F more are 2 °C more; as a temperature 3.6 °F would be -15.8 °C.
    assert warm.stated.place("Bench").day == pytest.approx((64 - 32) / 1.8 + 2)
    bench = warm.plan(on="2026-09-01").rooms.set_index("place").loc["Bench"]
    assert (bench.day, bench.night) == (67.6, 60.6)


def test_a_place_that_is_not_there_is_named_with_one_that_is() -> None:
    with pytest.raises(KeyError, match="no place Bensh: did you mean Bench"):
        loaded().with_bench("Bensh", by=1)
    with pytest.raises(KeyError, match="there are Cold, Bench and Bench 2"):
        loaded().with_bench("Quay", by=1)


@pytest.mark.parametrize(("by", "error"), [("2", TypeError), (True, TypeError), (float("nan"), ValueError)])
def test_a_difference_is_a_number(by: float, error: type[Exception]) -> None:
    with pytest.raises(error, match="number of degrees"):
        loaded().with_bench("Bench", by=by)


def test_a_place_without_stated_temperatures_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="Yard states no temperatures"):
        forcing.load(SMALL).with_bench("Yard", by=1)


# ---------------------------------------------------------------- on the way


def test_outlook_steering_and_review_are_tables_words_and_files(
    small: forcing.LoadedSeason, tmp_path: Path
) -> None:
    seen = small.outlook(on="2027-03-01")
    assert list(seen.table.columns[:4]) == ["lot", "on", "stage", "heat"]
    assert seen.table.likely.dtype.kind == "M"
    assert "Early tulips" in seen.words
    assert {path.name for path in seen.write(tmp_path)} == {"outlook.csv", "outlook.pdf", "outlook.png"}
    review = small.review()
    assert len(review.table) == 7 and "Early narcissus" in review.words
    assert set(review.crops.columns) >= {"crop", "parameter", "typical", "source"}
    assert {p.name for p in review.write(tmp_path)} == {"review.csv", "next-crops.csv", "review.xlsx"}


def test_next_years_figures_are_a_table_of_next_years_season(small: forcing.LoadedSeason) -> None:
    tables = {file.stem: pd.read_csv(file) for file in SMALL.glob("*.csv")}
    again = forcing.load(tables | {"crops": small.review().crops})
    # Early narcissus was slower than its recipe, so next year it is brought in sooner or on the same day.
    before, after = (season.plan(on="2026-09-01").lots.need for season in (small, again))
    assert (before != after).any()


def test_steering_says_what_it_changes(tmp_path: Path) -> None:
    log = pd.DataFrame(
        {
            "date": ["2026-11-01", "2026-11-02", "2027-02-27"],
            "lot": ["A", "A", "A"],
            "event": ["potted", "cooler in", "brought in"],
        }
    )
    steering = loaded(lots=LOTS.head(1), log=log).steer(on="2027-03-01")
    assert list(steering.table.columns) == ["place", "from", "to", "mean", "day", "night"]
    assert list(steering.moves.columns[:4]) == ["lot", "from", "to", "on"]
    assert list(steering.lots.index) == ["A"] and steering.words
    off = steering.lots.loc["A"]
    assert (off.after - off.target).days == off.days_off_after
    assert abs(off.days_off_after) <= abs(off.days_off_before)
    assert steering.options.loc[steering.options.recommended == "yes", "option"].size == 1
    written = {path.name for path in steering.write(tmp_path)}
    assert written == {"options.csv", "steer.csv", "moves.csv", "steer.pdf", "steer.png"}


# ---------------------------------------------------------------- why


def test_the_weeks_of_a_lot_add_up_to_its_cold_and_its_need(autumn: forcing.PlannedSeason) -> None:
    for name in autumn.lots.index:
        lot, why = autumn.lots.loc[name], autumn.why(name)
        assert why.table.cold.sum() == pytest.approx(lot.cold_weeks)
        assert (why.table.cold.cumsum() - why.table.cold_so_far).abs().max() < 1e-9
        # On the morning of bloom the need is met, and on the morning before it was not.
        before = why.table[why.table.end < lot.bloom].heat.sum()
        assert before < lot.need <= why.table.heat.sum() + 1e-3
        assert why.table.left.iloc[-1] == pytest.approx(0.0, abs=1e-3)
        assert (why.table.end.max(), why.table.start.min()) == (lot.bloom, lot.cooler_in)


def test_a_week_of_cold_and_of_heat_as_reckoned_by_hand() -> None:
    places = PLACES.assign(day=[5, 16, 16], night=[5, 16, 16])
    season = loaded(places=places, lots=LOTS.head(1))
    why = season.why("A", on="2026-09-01")
    weeks = why.table.assign(days=(why.table.end - why.table.start).dt.days)
    cold = weeks[weeks.step.isin(["root", "cool"])]
    # Tulips get full credit at 5 °C: a week of cold for each seven days.
    np.testing.assert_allclose(cold.cold, cold.days / 7)
    # At an even 16 °C a day gives 16 - base.
    base = why.figures.set_index("parameter").typical["base"]
    warm = weeks[weeks.step == "bench"]
    np.testing.assert_allclose(warm.heat, warm.days * (16 - float(base)))
    assert (weeks["mean"] == weeks.step.map({"root": 5, "cool": 5, "bench": 16})).all()
    assert (weeks.measured == 0).all()
    assert why.figures.basis.isin(["published", "derived", "practice", "house"]).all()


def test_in_a_season_in_fahrenheit_the_weeks_say_fahrenheit_and_add_up_all_the_same() -> None:
    unit = pd.DataFrame({"item": ["temperature unit"], "value": ["F"]})
    places = PLACES.assign(day=[41, 61, 61], night=[41, 61, 61])
    season = loaded(season=pd.concat([SHOW, unit], ignore_index=True), places=places)
    plan = season.plan(on="2026-09-01")
    why = plan.why("A")
    assert set(why.table["mean"]) == {41.0, 61.0}
    assert why.table.cold.sum() == pytest.approx(plan.lots.cold_weeks["A"])
    # Cap of tulip, 20 °C, is 68 °F; the base, 2 °C, is 35.6 °F.
    shown = why.figures.set_index("parameter")
    assert (shown.typical["base"], shown.unit["base"]) == (pytest.approx(35.6), "°F")
    assert shown.typical["cap"] == pytest.approx(68.0)


def test_bulbs_that_came_precooled_bring_their_weeks(small: forcing.LoadedSeason) -> None:
    season = loaded(lots=LOTS.assign(**{"precooled weeks": [5, None]}))
    plan = season.plan(on="2026-09-01")
    first = plan.why("A").table.iloc[0]
    assert (first.step, first.cold, first.start) == ("precooled", 5.0, first.end)
    assert plan.why("A").table.cold.sum() == pytest.approx(plan.lots.cold_weeks["A"])
    assert "precooled" not in set(plan.why("B").table.step)


def test_a_logged_lot_shows_what_was_measured(small: forcing.LoadedSeason) -> None:
    plan = small.plan(on="2027-03-01")
    why = plan.why("Early narcissus").table
    assert why.measured.sum() > 100
    assert why.cold.sum() == pytest.approx(plan.lots.cold_weeks["Early narcissus"])


def test_why_of_a_lot_that_is_not_there_or_not_planned() -> None:
    season = loaded(lots=LOTS.assign(crop=["tulip", "moonflower"]))
    with pytest.raises(KeyError, match="no lot Z"):
        season.why("Z", on="2026-09-01")
    with pytest.raises(KeyError, match="B is not planned"):
        season.why("B", on="2026-09-01")


# ---------------------------------------------------------------- quiet, and light


def test_progress_is_a_callback_and_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    said: list[str] = []
    season = forcing.load(SMALL, progress=said.append)
    season.plan(on="2026-09-01")
    assert any("reading" in words for words in said) and len(said) > 1
    assert capfd.readouterr() == ("", "")


def test_a_plan_that_is_searched_for_prints_nothing_either() -> None:
    # A process of its own: the solver writes to the standard output of C, past whatever Python has put there.
    code = (
        "import sys, forcing, pandas as pd\n"
        "lots = pd.DataFrame({'lot': list('ABCD'), 'crop': 'tulip', 'pots': [90, 80, 70, 60]})\n"
        "places = pd.DataFrame({'place': ['Cold', 'Cold 2', 'Bench', 'Bench 2'],\n"
        "    'kind': ['cooler', 'cooler', 'bench', 'bench'], 'pots': [170, 140, 160, 150],\n"
        "    'day': [9, 7, 18, 16], 'night': [9, 7, 14, 12]})\n"
        "show = pd.DataFrame({'item': ['opens', 'closes', 'hours per week'],\n"
        "    'value': ['2027-03-20', '2027-04-20', 6]})\n"
        "plan = forcing.load({'season': show, 'places': places, 'lots': lots}).plan(on='2026-09-01')\n"
        "print(len(plan.lots), plan.lots.bench.nunique())\n"
        "sys.stdout.flush()\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == "4 2\n"


def test_import_is_light() -> None:
    code = "import sys, forcing\nprint(sorted({m.split('.')[0] for m in sys.modules}))\n"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for name in ("numpy", "pandas", "matplotlib", "openpyxl", "highspy", "reportlab", "pydantic"):
        assert f"'{name}'" not in done.stdout, name


def test_the_public_names() -> None:
    assert sorted(forcing.__all__) == [
        "ForcingError", "LoadedSeason", "LotReasons", "NothingToPlan", "OutputError", "PlannedSeason",
        "SeasonAgreement", "SeasonOutlook", "SeasonReview", "SeasonSteering", "SeasonUnreadable", "__version__", "load",
    ]  # fmt: skip
    for name in forcing.__all__:
        assert hasattr(forcing, name) and name in dir(forcing)
    with pytest.raises(AttributeError, match="no attribute 'plan'"):
        forcing.plan  # type: ignore[attr-defined]  # noqa: B018
