"""The Gantt sheet: what it says, where its bars stand, and that nothing on it touches or is cut."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from fontTools.ttLib import TTFont
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from forcing.dates import DAY, Span, iso_week, monday
from forcing.errors import OutputError
from forcing.model import BloomClass, Display, Lot, LotPlan, PlaceLoad, Plan, RoomSetting, Step
from forcing.reports.draw import days
from forcing.reports.draw import text as fit
from forcing.reports.draw.canvas import Canvas, Text
from forcing.reports.draw.paper import OVER
from forcing.reports.draw.pictures import dots_of
from forcing.reports.gantt import chart as gantt_chart
from forcing.reports.gantt import page as gantt
from forcing.reports.gantt import pieces
from forcing.reports.style import CLASS_MARKS, STEP_MARKS, font_files
from tests.printed_pages import check_drawn, check_printed, width, words_of
from tests.sample import recipe, sample_plan

CREATED = datetime(2026, 11, 3, 8, 30, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"


def day(text: str) -> date:
    return date.fromisoformat(text)


def lot_plan(
    name: str, kind: BloomClass | None, cultivar: str | None, pots: int, steps: tuple[Step, ...],
    target: str, bloom: str, fade: str | None,
) -> LotPlan:  # fmt: skip
    lot = Lot(name, "tulip", pots, kind, cultivar, target=day(target))
    start = steps[0].span.start
    return LotPlan(
        lot, replace(recipe(), bloom_class=None), steps, day(target), start, None, None, None, start,
        {"bloom": day(bloom)}, day(bloom), day(fade) if fade else None, None, 15, 15, 350, 0, 0,
    )  # fmt: skip


def step(lot: str, name: Any, place: str | None, start: str, end: str, basis: Any = "planned") -> Step:
    return Step(lot, name, place, Span(day(start), day(end)), basis)


@lru_cache(maxsize=1)
def hard_plan() -> Plan:
    """Nine months over the new year, every kind of step and basis, and text that was not meant for a sheet."""
    long = "Lot with an exceedingly long name, number 17 of the year"
    a = lot_plan(long, None, "$x^2$ and $5 & <i>", 1, (
        step(long, "pot", None, "2026-08-31", "2026-09-01", "actual"),
        step(long, "root", "Cold room North", "2026-09-01", "2026-10-12", "actual"),
        step(long, "cool", "Cold room North", "2026-10-12", "2027-01-04", "expected"),
        step(long, "bench", "Bench 1", "2027-01-04", "2027-01-25"),
        step(long, "hold", "Cold room South", "2027-01-25", "2027-02-10"),
        step(long, "harden", "Frame", "2027-02-10", "2027-02-20"),
        step(long, "show", "Terrace", "2027-02-20", "2027-03-15"),
    ), "2027-02-17", "2027-02-20", None)  # fmt: skip
    b = lot_plan("品種", "early", "チューリップ 🌷 e\u0301\u202eabc\nnew\x00", 12345, (
        step("品種", "bench", "Bench 2", "2026-11-05", "2026-12-24", "actual"),
        step("品種", "bench", "Bench 2", "2026-12-24", "2026-12-24"),
        step("品種", "show", "Terrace", "2026-12-24", "2027-05-10"),
    ), "2027-03-20", "2026-12-24", "2027-01-24")  # fmt: skip
    pots = [0.0] * 260
    pots[10:250:14] = [260 + i / 4 for i in range(10, 250, 14)]
    pots[100:125] = [301.5] * 25
    base = sample_plan(6, unit="F", paper="Letter")
    name = "Bench $1$ 長 with a very long name that goes on and on and on until it cannot"
    loads = (PlaceLoad(name, 300.0, day("2026-09-01"), tuple(pots)),
             PlaceLoad("No cap", None, day("2026-09-01"), tuple(pots)))  # fmt: skip
    hall = Display("Hall", 3, "Hall", Span(day("2027-02-01"), day("2027-02-20")))
    season = replace(base.season, title="$\\alpha$ 春 — spring & <b>show</b> " + "long " * 30,
                     displays=(*base.season.displays, hall))  # fmt: skip
    unplanned = tuple(replace(base.unplanned[0], reason="reason " * 40, earliest=None) for _ in range(3))
    return replace(
        base, season=season, lots=(*base.lots, a, b), loads=(*loads, *base.loads), on=day("2027-03-18"),
        unplanned=unplanned,
    )  # fmt: skip


def figures(plan: Plan) -> list[Canvas]:
    chart = gantt_chart.chart_of(plan)
    return [*gantt.draw_pages(chart), gantt.draw_picture(chart)]


def sized(lots: int, paper: str = "A4") -> tuple[Canvas, ...]:
    return _sized(lots, paper)


@lru_cache(maxsize=8)
def _sized(lots: int, paper: str) -> tuple[Canvas, ...]:
    return tuple(figures(sample_plan(lots, paper=paper)))


@lru_cache(maxsize=1)
def hard_figures() -> tuple[Canvas, ...]:
    return tuple(figures(hard_plan()))


def areas(figure: Canvas, colour: str) -> Iterator[np.ndarray]:
    """Corners [pt] of the areas filled in a colour."""
    for style, found in figure.areas.items():
        if style.fill == colour:
            yield from map(np.array, found)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("gantt")
    for name, plan in (("5", sample_plan(5)), ("70", sample_plan(70)), ("hard", hard_plan())):
        # Warnings are errors already; matplotlib and fontTools tell of missing fonts and letters by logging.
        with told() as records:
            paths = gantt.write_gantt(plan, folder / name, created=CREATED)
        assert records == []
        assert [path.name for path in paths] == ["gantt.pdf", "gantt.png", "gantt.svg"]
    return folder


@contextmanager
def told() -> Iterator[list[str]]:
    """What is logged at warning or worse meanwhile."""
    records: list[str] = []
    handler = logging.Handler(logging.WARNING)
    handler.emit = lambda record: records.append(record.getMessage())  # type: ignore[method-assign]
    logging.getLogger().addHandler(handler)
    try:
        yield records
    finally:
        logging.getLogger().removeHandler(handler)


def svg_texts(path: Path) -> list[str]:
    return [element.text or "" for element in ElementTree.parse(path).iter(f"{SVG}text")]


# ---------------------------------------------------------------- days and bars


def test_a_day_is_a_fixed_width_and_a_bar_ends_where_its_last_day_ends() -> None:
    # 10 weeks = 70 days on 700 pt: 10 pt a day. Mon 28 Dec 2026 + 7 days = Mon 4 Jan 2027.
    scale = days.Scale(Span(day("2026-12-28"), day("2027-03-08")), 100.0, 700.0)
    assert scale.x(day("2026-12-28")) == 100
    assert scale.x(day("2027-01-04")) == 170
    assert scale.x(day("2027-03-08")) == scale.right == 800
    # Fri 1 Jan (4 days on) to Mon 11 Jan (14 days on), a row of 20 pt centred on 50: a bar is 0.66 of it.
    bar = pieces.bar_box(scale, step("a", "bench", "B", "2027-01-01", "2027-01-11"), 50.0, 20.0)
    assert bar == pytest.approx((140, 43.4, 240, 56.6))


def date_to_x(figure: Canvas) -> tuple[float, float]:
    """Where Mon 2 Nov 2026 begins [pt], and points a day: read off the printed week numbers alone."""
    at = {text.said.lstrip("W"): text.x for text in week_labels(figure)}
    # W46 of 2026 begins on 9 Nov, W09 of 2027 on 1 Mar: 112 days later (21 + 31 + 31 + 28 + 1).
    per_day = (at["09"] - at["46"]) / 112
    return at["46"] - (3.5 + 7) * per_day, per_day


def week_labels(figure: Canvas) -> list[Text]:
    """The numbers of weeks: those on the same line as the words 'ISO week'."""
    lines = {text.y for text in figure.texts if text.said == "ISO week"}
    return [t for t in figure.texts if t.y in lines and re.fullmatch(r"W?\d\d", t.said)]


@pytest.mark.parametrize("which", [0, -1], ids=["page", "picture"])
def test_bars_stand_under_the_weeks_they_are_in(which: int) -> None:
    figure, plan = sized(30)[which], sample_plan(30)
    left, per_day = date_to_x(figure)
    for name in ("pot", "root", "cool", "bench", "harden"):
        wanted = sorted(
            (left + (s.span.start - day("2026-11-02")).days * per_day, s.span.days * per_day)
            for p in plan.lots
            for s in p.steps
            if s.step == name
        )
        found = sorted(
            (float(box[:, 0].min()), float(np.ptp(box[:, 0])))
            for box in areas(figure, STEP_MARKS[name].fill)
            if np.ptp(box[:, 0]) != pytest.approx(15)  # the swatch in the key
        )
        assert found == pytest.approx(np.array(wanted), abs=0.05), name
    # Every lot of the sample blooms on its target: 10 lots on each of 20 and 29 March, 7 April.
    marks = [box[:, 0].mean() for box in triangles(figure)]
    for shown, offset in (("2027-03-20", 138), ("2027-03-29", 147), ("2027-04-07", 156)):
        assert sum(abs(x - left - offset * per_day) < 0.05 for x in marks) == 10, shown


def triangles(figure: Canvas) -> list[np.ndarray]:
    return [box for box in areas(figure, "#1a1a1a") if len(box) == 3]


def test_the_show_is_a_band_between_two_lines_and_today_is_a_dashed_line() -> None:
    figure = sized(5)[0]
    left, per_day = date_to_x(figure)
    opens, closes, today = 138, 138 + 44, 1  # 2 Nov + 138 = 20 Mar, 44 days to 3 May; today is 3 Nov
    band = next(areas(figure, "#f2f2f2"))
    assert band[:, 0].min() == pytest.approx(left + opens * per_day, abs=0.05)
    assert band[:, 0].max() == pytest.approx(left + closes * per_day, abs=0.05)
    ((stroke, lines),) = (
        (s, lines) for s, lines in figure.lines.items() if s.colour == "#9e1c00" and s.thick == 1
    )
    assert stroke.dashes
    assert lines[0][0][0] == pytest.approx(left + today * per_day, abs=0.05)
    assert {"opens Sat 20 Mar", "last day Sun 2 May", "today, Tue 3 Nov"} <= set(words_of(figure))


def test_the_span_is_whole_weeks_around_all_that_is_shown() -> None:
    chart = gantt_chart.chart_of(hard_plan())
    # First step Mon 31 Aug 2026; last step ends on Mon 10 May 2027, so its last day is Sun 9 May.
    assert chart.span == Span(day("2026-08-31"), day("2027-05-10"))
    empty = replace(sample_plan(0), loads=(PlaceLoad("Bench 1", 5.0, day("2027-03-01"), (0.0, 2.0, 0.0)),))
    # Pots on Tue 2 March only: its week begins on 1 March; the show's last day is Sun 2 May.
    assert gantt_chart.chart_of(empty).span == Span(day("2027-03-01"), day("2027-05-03"))


@given(st.dates(date(2019, 1, 1), date(2032, 1, 1)), st.integers(1, 80))
@settings(max_examples=60, deadline=None)
def test_weeks_and_months_of_any_span(start: date, weeks: int) -> None:
    span = Span(monday(start), monday(start) + timedelta(weeks=weeks))
    for monday_, week in days.week_numbers(span):
        assert iso_week(monday_).endswith(f"-W{week:02d}") and monday_.weekday() == 0
    months = days.months_of(span)
    assert [d for month in months for d in month] == list(span)
    assert all(len({(d.year, d.month) for d in month}) == 1 for month in months)
    assert all((a.start.year, a.start.month) != (b.start.year, b.start.month) for a, b in pairwise(months))


@pytest.mark.parametrize("lots", [5, 30])
def test_week_numbers_run_on_through_week_53(lots: int) -> None:
    # ISO 8601: 2026 has 53 weeks (1 January 2026 is a Thursday); W53 begins on Mon 28 December.
    for figure in sized(lots):
        found = week_labels(figure)
        first = found[: next(i for i, t in enumerate(found) if t.said.endswith("17")) + 1]
        weeks = [int(t.said.lstrip("W")) for t in first]
        assert weeks == [*range(45, 54), *range(1, 18)]
    assert "W53" in words_of(sized(lots)[-1])


def test_week_53_keeps_its_number_where_not_every_week_has_room() -> None:
    weeks = [*range(30, 54), *range(1, 30)]
    kept = [weeks[i] for i in days.labelled_weeks(weeks, 5.0)]  # 5 pt a week: every third, 53 / 3 weeks
    assert 53 in kept and 52 not in kept and 1 not in kept and len(kept) == 17
    assert days.labelled_weeks(weeks, 20.0) == list(range(len(weeks)))


def test_the_year_is_named_at_the_start_and_in_january() -> None:
    assert {"November 2026", "December", "January 2027", "April"} <= set(words_of(sized(5)[-1]))


@given(
    st.dates(date(2019, 1, 1), date(2032, 1, 1)), st.integers(8, 160), st.sampled_from([430.0, 560.0, 840.0])
)
@example(date(2019, 8, 1), 44, 430.0)  # "Jan 2000" has room in a month, "Aug 2019" has not
@settings(max_examples=80, deadline=None)
def test_every_year_is_named_and_no_stretch_of_a_long_season_is_without_a_name(
    start: date, weeks: int, wide: float
) -> None:
    span = Span(monday(start), monday(start) + timedelta(weeks=weeks))
    scale = days.Scale(span, 0.0, wide)
    found = days.month_names(scale)
    firsts = [day for day, _ in found]
    named = {day.year for day, text in found if text.endswith(str(day.year))}
    # A year of which only the last two months or a part of January are shown may have no room: at 0.38 pt a day, the
    # least here, 61 days are 23 pt and a year asks for 25.
    assert {d.year for d in span if d.day == 1 and d.month < 11 and d + timedelta(days=60) in span} <= named
    edges = [(scale.x(day), scale.x(day) + 2 + fit.width(text, 8.0, True)) for day, text in found]
    assert all(left[1] < right[0] for left, right in pairwise(edges))
    # The longest name (23 pt for a year, from month to month) covers at most four months of 3.5 pt or more.
    assert all((b - a).days <= 31 * max(2, 1 + 27 // (28 * scale.day)) for a, b in pairwise(firsts))


@lru_cache(maxsize=1)
def long_plan() -> Plan:
    """The sample with one lot in the cooler for two years before the others."""
    base = sample_plan(12)
    first = base.lots[0]
    start = first.bring_in - timedelta(days=730)
    steps = tuple(replace(s, span=Span(start, s.span.end)) if s.step == "root" else s for s in first.steps)
    steps = tuple(replace(s, span=Span(start - DAY, start)) if s.step == "pot" else s for s in steps)
    return replace(base, lots=(replace(first, steps=steps, potting=start - DAY), *base.lots[1:]))


def test_a_season_of_two_years_keeps_its_months_and_touches_nothing() -> None:
    for figure in figures(long_plan()):
        check_drawn(figure)
        # bring in on 23 February 2027 less two years: 2025 to 2027, each named where it begins
        if "ISO week" in words_of(figure):
            assert {"2025", "2026", "2027"} <= set(words_of(figure))


# ---------------------------------------------------------------- rows


def test_headings_are_whole_beside_short_names() -> None:
    base = sample_plan(1)
    lot = replace(base.lots[0].lot, name="A", cultivar="Ivory", pots=1234)
    plan = replace(base, lots=(replace(base.lots[0], lot=lot),))
    assert all("Early: 1 lot, 1,234 pots" in words_of(figure) for figure in figures(plan))


def test_lots_are_grouped_by_class_then_target_then_number() -> None:
    base = sample_plan(30)
    lots = tuple(
        replace(p, lot=replace(p.lot, name=f"T{i + 1}", bloom_class=None if i == 3 else p.lot.bloom_class))
        for i, p in enumerate(base.lots)
    )
    chart = gantt_chart.chart_of(replace(base, lots=lots[::-1]))
    # The recipe of the sample says early, so a lot without a class of its own is early.
    assert [group.bloom_class for group in chart.groups] == ["early", "mid", "late"]
    early = [row.name for row in chart.groups[0].rows]
    assert early == [f"T{i}" for i in range(1, 31, 3)]  # T4 before T10: numbers, not letters
    assert chart.groups[0].heading.startswith("Early: 10 lots, ")
    none = gantt_chart.chart_of(hard_plan()).groups[-1]
    assert none.bloom_class is None and none.heading == "Others: 1 lot, 1 pot"


@pytest.mark.parametrize(
    ("bloom", "said"), [("2027-03-20", "on the day"), ("2027-03-17", "3 d early"), ("2027-03-21", "1 d late")]
)
def test_bloom_is_told_against_the_target(bloom: str, said: str) -> None:
    base = sample_plan(1)
    plan = replace(base, lots=(replace(base.lots[0], bloom=day(bloom)),))
    for figure in figures(plan):
        assert said in words_of(figure)
        assert "Sat 20 Mar" in words_of(figure)


def test_bars_say_their_step_first_day_and_place_where_there_is_room() -> None:
    page, picture = sized(5)[0], sized(5)[-1]
    # T001 of the sample: target 20 March, bench 25 days before (23 Feb), cooler 105 before that (10 Nov),
    # rooted 24 days later (4 Dec).
    for figure in (page, picture):
        assert {"root 10 Nov", "cool 4 Dec · Cold room North", "bench 23 Feb"} & set(words_of(figure))
    assert "cool 4 Dec · Cold room North" in words_of(page)
    assert not any(word.startswith(("show ", "harden ")) for word in words_of(page))


def test_an_unknown_fade_is_a_dashed_line_and_logged_steps_are_marked() -> None:
    page = hard_figures()[0]
    assert {"done, as logged", "as now expected", "in bloom", "hold"} <= set(words_of(page))
    # an open bloom window, expected steps, and the dots of the class that is not stated
    assert len([s for s in page.lines if s.colour == "#1a1a1a" and s.dashes]) == 3
    assert not any("logged" in word for word in words_of(sized(5)[0]))


def test_an_empty_plan_says_so() -> None:
    bare = replace(sample_plan(0), unplanned=(), loads=(), rooms=())
    for figure in (*figures(sample_plan(0)), *figures(bare)):
        assert "No lot is planned." in words_of(figure)
        assert "target" not in words_of(figure)
        assert any("no lot is planned" in word for word in words_of(figure))


def test_lots_without_a_plan_are_named_with_the_reason() -> None:
    said = "Lost cause, tulip, 10 pots: needs 13 cold-weeks, has 9; earliest bloom Fri 2 Apr 2027."
    for lots in (0, 5):
        assert all(said in words_of(figure) for figure in sized(lots))
    assert said in words_of(sized(200)[-2])
    lines = gantt_chart.unplanned_words(hard_plan())
    assert len(lines) == 3 and all(line.endswith("; earliest bloom not known.") for line in lines)


def test_displays_with_other_days_are_named() -> None:
    said = "Hall is open Mon 1 Feb 2027 to Fri 19 Feb 2027."
    assert said in words_of(hard_figures()[-1])
    assert gantt_chart.other_hours(sample_plan(1)) == ()


# ---------------------------------------------------------------- class without colour


def luminances(colours: list[str]) -> list[float]:
    return [pieces.luminance(colour) for colour in colours]


def test_luminance_of_known_colours() -> None:
    # sRGB primaries by definition (IEC 61966-2-1): red 0.2126, green 0.7152, blue 0.0722.
    assert luminances(["#000000", "#ffffff", "#ff0000", "#00ff00", "#0000ff"]) == pytest.approx(
        [0, 1, 0.2126, 0.7152, 0.0722]
    )


def test_classes_are_told_apart_by_letter_and_by_hatch() -> None:
    figure = sized(30)[0]
    letters = words_of(figure)
    assert [letters.count(letter) for letter in ("E", "M", "L")] == [10, 10, 10]
    assert len({CLASS_MARKS[kind].hatch for kind in ("early", "mid", "late", None)}) == 4
    hatched = {style.hatch: len(found) for style, found in figure.areas.items() if style.hatch}
    # A bar for each of 10 lots, one swatch in the heading, one in the key; the early class has no hatch.
    assert hatched[CLASS_MARKS["mid"].hatch] == hatched[CLASS_MARKS["late"].hatch] == 12


def test_words_in_bars_can_be_read_in_colour_and_in_a_grey_print() -> None:
    """4.5 : 1 as in WCAG 2 (1.4.3), on the fill and on the grey a printer makes of it (ITU-R BT.601)."""
    for name in ("pot", "root", "cool", "bench", "hold"):
        fill = STEP_MARKS[name].fill  # type: ignore[index]
        red, green, blue = (int(fill[i : i + 2], 16) for i in (1, 3, 5))
        grey = f"{round(0.299 * red + 0.587 * green + 0.114 * blue):02x}"
        (ink,) = luminances([pieces.ink_on(fill)])
        for ground in luminances([fill, f"#{grey * 3}"]):
            assert (max(ink, ground) + 0.05) / (min(ink, ground) + 0.05) >= 4.5, name


def test_neighbouring_steps_differ_in_grey_in_height_or_in_pattern() -> None:
    for one, other in (("root", "cool"), ("cool", "bench"), ("bench", "hold"), ("cool", "hold")):
        a, b = luminances([STEP_MARKS[one].fill, STEP_MARKS[other].fill])  # type: ignore[index]
        ratio = (max(a, b) + 0.05) / (min(a, b) + 0.05)
        assert ratio > 1.5 or STEP_MARKS[one].hatch != STEP_MARKS[other].hatch, (one, other)  # type: ignore[index]
    scale = days.Scale(Span(day("2027-01-04"), day("2027-01-11")), 0, 70)

    def height(name: str) -> float:
        box = pieces.bar_box(scale, step("a", name, None, "2027-01-04", "2027-01-06"), 0, 10)
        return box[3] - box[1]

    assert height("harden") < height("bench") < height("show")


# ---------------------------------------------------------------- loads


def test_overfull_weeks_by_hand() -> None:
    # From Sat 19 Dec 2026, capacity 10: Sun 20 Dec (W51) 12, Sun 3 Jan 2027, the last day of W53, 10.5,
    # and Mon 11 Jan (W02) 13.
    pots = [0.0] * 30
    pots[1], pots[15], pots[23] = 12, 10.5, 13
    pots[5] = 10 + 1e-9  # a rounding error is not an overfull place
    load = PlaceLoad("Bench", 10.0, day("2026-12-19"), tuple(pots))
    assert [over.words for over in gantt_chart.over_runs(load)] == [
        "W51: 2 over", "W53: 0.5 over", "W02: 3 over",
    ]  # fmt: skip
    pots[2] = 11.5  # Mon 21 Dec, W52: now three weeks in a row
    joined = gantt_chart.over_runs(replace(load, pots=tuple(pots)))
    assert [over.words for over in joined] == ["W51–W53: 2 over", "W02: 3 over"]
    assert gantt_chart.over_runs(replace(load, capacity=None)) == ()
    assert gantt_chart.fullest(load) == (13, day("2027-01-11"))


@given(
    st.dates(date(2020, 1, 1), date(2030, 1, 1)),
    st.lists(st.floats(0, 20), min_size=1, max_size=120),
    st.integers(0, 20),
)
@settings(max_examples=60, deadline=None)
def test_loads_and_overfull_weeks_of_any_place(start: date, pots: list[float], capacity: int) -> None:
    load = PlaceLoad("Bench", float(capacity), start, tuple(pots))
    span = Span(start - timedelta(days=9), start + timedelta(days=len(pots) + 9))
    flat = {d: n for run, n in gantt_chart.load_on(load, span) for d in run}
    assert list(flat.values()) == [0.0] * 9 + pots + [0.0] * 9 and list(flat) == list(span)
    worst: dict[str, float] = {}
    for i, number in enumerate(pots):
        if number > capacity + 1e-6:
            week = iso_week(start + timedelta(days=i))
            worst[week] = max(worst.get(week, 0.0), number - capacity)
    runs = gantt_chart.over_runs(load)
    named = [iso_week(run.first + timedelta(weeks=k)) for run in runs
             for k in range((run.last - run.first).days // 7 + 1)]  # fmt: skip
    assert named == list(worst)
    assert max((run.pots for run in runs), default=0.0) == max(worst.values(), default=0.0)


def test_load_areas_stand_at_their_height_against_the_capacity_line() -> None:
    # One bench, capacity 100: 50 pots for the week of 1 March, 150 for the week of 8 March.
    load = PlaceLoad("Bench 1", 100.0, day("2027-03-01"), (50.0,) * 7 + (150.0,) * 7)
    page = figures(replace(sample_plan(1), loads=(load,)))[0]
    (fill,) = areas(page, "#cfd8dc")
    over = max(map(np.array, page.areas[OVER]), key=lambda corners: float(np.ptp(corners[:, 1])))
    base, top = fill[:, 1].max(), over[:, 1].min()
    per_pot = (base - top) / 150
    assert fill[:, 1].min() == pytest.approx(base - 100 * per_pot)  # cut off at the capacity
    assert sorted({round((base - y) / per_pot) for y in fill[:, 1]}) == [0, 50, 100]
    left, per_day = date_to_x(page)
    assert fill[:, 0].min() == pytest.approx(left + 119 * per_day, abs=0.05)  # 1 March, see above
    assert (over[:, 0].min(), over[:, 0].max()) == pytest.approx(
        (left + 126 * per_day, left + 133 * per_day), abs=0.05
    )
    assert {"capacity 100", "W10: 50 over", "150 of 100 pots", "over capacity"} <= set(words_of(page))
    ((_, marked),) = ((s, lines) for s, lines in page.lines.items() if s.thick == 2.2)
    assert len(marked) == 1  # the overfull days, marked in black


def test_temperatures_of_rooms_are_in_the_seasons_unit_and_joined() -> None:
    assert {"5 °C", "1 °C", "17 / 13 °C"} <= set(words_of(sized(5)[-1]))
    assert {"48 °F", "41 °F", "34 °F", "62.6 / 55.4 °F"} <= set(words_of(hard_figures()[-1]))
    rooms = tuple(
        RoomSetting("Bench 1", Span(day(a), day(b)), 17.0, 13.0, "steered")
        for a, b in (("2027-01-04", "2027-01-11"), ("2027-01-11", "2027-01-18"), ("2027-02-01", "2027-03-01"))
    )
    span = Span(day("2026-12-28"), day("2027-02-08"))
    found = gantt_chart.settings_of(replace(sample_plan(1), rooms=rooms), "Bench 1", span)
    assert [room.span for room in found] == [
        Span(day("2027-01-04"), day("2027-01-18")), Span(day("2027-02-01"), day("2027-02-08")),
    ]  # fmt: skip


def test_a_place_without_pots_is_only_named() -> None:
    assert "No pots in the plan for Frame." in words_of(sized(5)[0])
    assert "No cap" in words_of(hard_figures()[-1])
    assert "322 pots, capacity not stated" in words_of(hard_figures()[-1])


# ---------------------------------------------------------------- nothing touches, nothing is cut


CASES = [(0, "A4"), (1, "A4"), (5, "A4"), (5, "Letter"), (30, "A4"), (30, "Letter"), (200, "A4")]


@pytest.mark.parametrize(("lots", "paper"), CASES)
def test_no_text_touches_another_or_leaves_the_sheet(lots: int, paper: str) -> None:
    for figure in sized(lots, paper):
        check_drawn(figure)


def test_no_text_touches_another_in_a_hard_season() -> None:
    for figure in hard_figures():
        check_drawn(figure)


@pytest.mark.parametrize("offset", [-200, -9, -2, -1, 0, 1, 2, 20, 43, 44, 45, 300])
def test_labels_of_today_and_the_show_keep_clear_of_each_other(offset: int) -> None:
    plan = replace(sample_plan(5), on=day("2027-03-20") + timedelta(days=offset))
    pages = gantt.draw_pages(gantt_chart.chart_of(plan))
    check_drawn(pages[0])
    assert any(word.startswith("today") for word in words_of(pages[0])) == (-140 < offset < 44)


def test_what_texts_measure_is_what_the_font_file_says() -> None:
    # fontTools reads the same file by itself: advance widths of the 'hmtx' table, 2048 units an em.
    for bold, file in ((False, "regular"), (True, "bold")):
        with TTFont(font_files()[file]) as font:
            names, advances = font.getBestCmap(), font["hmtx"]
            for text in ("Été Précoce", "W53: 12 over", "□ – · …"):
                units = sum(advances[names[ord(char)]][0] for char in text)
                assert fit.width(text, 10.0, bold) == pytest.approx(units / 2048 * 10, abs=0.05)


@given(st.text(max_size=60), st.floats(0, 200))
@settings(max_examples=80, deadline=None)
def test_any_text_is_made_fit_to_draw(text: str, room: float) -> None:
    line = fit.clean(text)
    assert "\n" not in line and fit.clean(line) == line
    assert fit.width(fit.shorten(line, room, 8.0), 8.0) <= room + 1e-9
    for part in fit.wrap(line, room, 8.0):
        assert fit.width(part, 8.0) <= room + 1e-9
    if room > fit.width(line, 8.0):
        assert fit.shorten(line, room, 8.0) == line
    assert "".join(fit.wrap(line, 1e6, 8.0)).split() == line.split()


def test_letters_that_cannot_be_drawn_are_boxes_and_the_sheet_says_so() -> None:
    assert fit.clean("a\x00b\tc\u200d e\u0301 🌷\ud800") == "a b c é □□"
    assert any(word.endswith("□ stands for a letter that this typeface does not have.")
               for word in words_of(hard_figures()[0]))  # fmt: skip
    assert not any("stands for" in word for word in words_of(sized(5)[0]))
    assert not fit.loses_letters(["□ of its own"])


# ---------------------------------------------------------------- pages


def test_pieces_fill_pages_and_headings_are_never_last() -> None:
    layout = gantt.layout_of(gantt_chart.chart_of(sample_plan(200)), 842, 11, 40)
    laid = [*layout.rows, *layout.loads, *layout.words]
    for room in (230.0, 437.0, 600.0):
        pages = layout.pages(room)
        assert all(sum(piece.tall for piece in page) <= room for page in pages)
        assert not any(page[-1].heading for page in pages)
        assert all(page[0].heading for page in pages if page[0].section)
        body = [piece for page in pages for piece in page if not piece.heading]
        assert body == [piece for piece in laid if not piece.heading]  # all, in order, once
    loads = [sum(piece.section == "loads" for piece in page) for page in layout.pages(437)]
    assert sorted(loads)[-2:] == [0, 5]  # four places and their heading on one page


def test_pages_hold_every_lot_once_with_headings_and_numbers(written: Path) -> None:
    reader = PdfReader(written / "70" / "gantt.pdf")
    pages = [page.extract_text() for page in reader.pages]
    assert len(pages) == 3  # 70 lots at about 35 a page, and the loads
    for i, page in enumerate(pages, 1):
        assert f"page {i} of 3" in page and "Spring in the Orangery" in page and "ISO week" in page
        assert "opens Sat 20 Mar" in page and "today, Tue 3 Nov" in page
    for p in sample_plan(70).lots:
        assert sum(len(re.findall(rf"\b{p.lot.name}\b", page)) for page in pages) == 1
    assert "Early: 24 lots" in pages[0]
    assert ", continued" in pages[1] and "Pots in each place" in pages[2]
    assert all(word in pages[2] for word in ("capacity 900", "Lots without a plan", "Lost cause"))


@pytest.mark.parametrize(("paper", "wide", "tall"), [("A4", 297, 210), ("Letter", 279.4, 215.9)])
def test_pages_are_landscape_on_the_seasons_paper(paper: str, wide: float, tall: float) -> None:
    page = sized(5, paper)[0]
    found = (page.width / 72 * 25.4, page.height / 72 * 25.4)
    assert found == pytest.approx((wide, tall), abs=0.1)  # ISO 216; ANSI A


def test_a_page_takes_thirty_five_lots_or_so() -> None:
    names = {p.lot.name for p in sample_plan(200).lots}
    most = max(sum(word in names for word in words_of(page)) for page in sized(200)[:-1])
    assert 33 <= most <= 40


# ---------------------------------------------------------------- files


def test_the_svg_is_text_as_wide_as_it_was_laid_out(written: Path) -> None:
    found = svg_texts(written / "70" / "gantt.svg")
    plan = sample_plan(70)
    for p in plan.lots:
        assert found.count(p.lot.name) == 1
        assert f"{p.lot.pots} pots" in found
    # Targets and cultivars of the sample go round in threes and fives: 70 = 24 + 23 + 23 = 5 x 14.
    assert [found.count(word) for word in ("Sat 20 Mar", "Mon 29 Mar", "Wed 7 Apr")] == [24, 23, 23]
    assert sum(word.startswith("Zoë & <b>Co</b>") for word in found) == 14
    assert {"W53", "W01", "today, Tue 3 Nov", "capacity 300"} <= set(found)
    (bench,) = (load for load in plan.loads if load.place == "Bench 1")
    over = [bench.start + timedelta(days=i) for i, pots in enumerate(bench.pots) if pots > 300]
    first, last = (d.isocalendar().week for d in (over[0], over[-1]))
    assert len(over) == (over[-1] - over[0]).days + 1  # one run of days
    assert f"W{first:02d}–W{last:02d}: {max(bench.pots) - 300:.0f} over" in found
    source = (written / "70" / "gantt.svg").read_text(encoding="utf-8")
    # An SVG 1.1 viewer sets each text to its textLength, whatever its own font: widths by fontTools from the font file.
    for text in ElementTree.parse(written / "70" / "gantt.svg").iter(f"{SVG}text"):
        natural = float(text.attrib["font-size"]) * width(text.text or "", "font-weight" in text.attrib)
        assert float(text.attrib["textLength"]) == pytest.approx(natural, abs=0.06)
        assert text.attrib["lengthAdjust"] == "spacingAndGlyphs"
    assert "http" not in source.split("</metadata>")[1].replace("http://www.w3.org/", "")
    assert "'DejaVu Sans', Verdana, sans-serif" in source


@pytest.mark.parametrize(("name", "size"), [("70", (841.89, 595.28)), ("hard", (792, 612))])
def test_the_printed_words_stand_as_they_were_drawn(
    written: Path, name: str, size: tuple[float, float]
) -> None:
    check_printed(written / name / "gantt.pdf", size, margin=20, least=7)


def test_pdf_fonts_are_embedded_truetype(written: Path) -> None:
    reader = PdfReader(written / "70" / "gantt.pdf")
    for page in reader.pages:
        fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
        assert fonts
        for font in fonts:
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            assert "/FontFile2" in inner["/FontDescriptor"].get_object()


def test_text_of_users_stays_as_it_was_written(written: Path) -> None:
    found = svg_texts(written / "hard" / "gantt.svg")
    assert any("$x^2$ and $5 & <i>" in word for word in found)
    assert any(word.startswith("$\\alpha$ □ — spring & <b>show</b> long") for word in found)
    assert any(word.startswith("Bench $1$ □ with") and word.endswith("…") for word in found)
    assert "<b>show</b>" in PdfReader(written / "hard" / "gantt.pdf").pages[0].extract_text()


def test_the_same_plan_gives_the_same_bytes(written: Path, tmp_path: Path) -> None:
    for path in gantt.write_gantt(sample_plan(5), tmp_path, created=CREATED):
        assert path.read_bytes() == (written / "5" / path.name).read_bytes()
    # 8:30 UTC is 10:30 at UTC+2, and a time without a zone is taken as UTC.
    assert PdfReader(tmp_path / "gantt.pdf").metadata["/CreationDate"] == "D:20261103083000+00'00'"
    naive = gantt.write_gantt(sample_plan(1), tmp_path, created=CREATED.replace(tzinfo=None))
    first = [path.read_bytes() for path in naive]
    assert first == [p.read_bytes() for p in gantt.write_gantt(sample_plan(1), tmp_path, created=CREATED)]
    later = gantt.write_gantt(sample_plan(1), tmp_path, created=CREATED + timedelta(hours=1))
    assert all(path.read_bytes() != old for path, old in zip(later, first, strict=True))


def test_the_users_own_settings_are_neither_used_nor_changed(written: Path, tmp_path: Path) -> None:
    with matplotlib.rc_context({"font.size": 30, "axes.facecolor": "red", "svg.fonttype": "path"}):
        before = dict(matplotlib.rcParams)
        for path in gantt.write_gantt(sample_plan(5), tmp_path, created=CREATED):
            assert path.read_bytes() == (written / "5" / path.name).read_bytes()
        assert dict(matplotlib.rcParams) == before


def test_no_temporary_file_is_left_and_a_bad_folder_is_told(written: Path, tmp_path: Path) -> None:
    assert sorted(p.name for p in (written / "5").iterdir()) == ["gantt.pdf", "gantt.png", "gantt.svg"]
    blocked = tmp_path / "file"
    blocked.write_text("here")
    with pytest.raises(OutputError, match="cannot write"):
        gantt.write_gantt(sample_plan(1), blocked, created=CREATED)


def test_the_png_stays_modest_and_legible(written: Path) -> None:
    from PIL import Image

    with Image.open(written / "70" / "gantt.png") as image:
        assert image.width * image.height < 15e6
        assert image.width / 1120 * 72 >= 90  # dots an inch: type of 7 pt is 8 dots tall and more
        assert image.text["Creation Time"] == "2026-11-03T08:30:00+00:00"
    # 5,000 lots at 14 pt are some 970 inches: no side may reach the 65,536 dots matplotlib refuses.
    assert dots_of(Canvas(15.5 * 72, 970 * 72), 170) * 970 < 65_536
    assert dots_of(Canvas(15.5 * 72, 6 * 72), 170) == 170
