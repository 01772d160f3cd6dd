"""The review: one lot by hand, what is not logged, next year's table read back, and coverage of simulated truths."""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from openpyxl import load_workbook

from forcing.engine.plan import work_out
from forcing.engine.review import EVENTS, Review, last_day, review_season
from forcing.model import BloomClass, LogEntry, Lot, Override, Place, Reading, Season
from forcing.recipes.book import RecipeBook
from forcing.reports import frames
from forcing.reports.review import review_text, write_review
from forcing.science.pooling import SPLITS
from forcing.season.checks import check_season
from forcing.season.read import read_season
from tests.builders import house_figures, season, seen_on
from tests.season_text import write_text_folder

DAY = timedelta(days=1)
DAILY = frozenset(range(7))  # somebody looks every day
CROPS = ["crop", "class", "cultivar", "parameter", "typical", "low", "high", "source"]
TARGET = date(2027, 3, 20)
POTTING, COOLER_IN, BRING_IN = date(2026, 11, 17), date(2026, 11, 18), date(2027, 2, 24)
# 24 days at 16 - 2 = 14 °C·d a day: 336 °C·d after 14 weeks at 9 °C; spread 10 %; no cold buys heat.
FIGURES = house_figures(
    "tulip", cold_min=8, cold_target=14, cold_max=18, base=2, cap=25, reference=16, bench_days=24,
    bench_days_min=12, days_saved=0, rooting=3, rooting_at=9, spread=0.1, shoots=0.2, bud=0.5, colour=0.85,
    display_reference=10, display_days=10,
)  # fmt: skip
MEASURED = tuple(Reading("Bench", TARGET + n * DAY, mean=16) for n in range(-60, 60))


def entry(day: date, event: str, lot: str = "A", **other: object) -> LogEntry:
    return LogEntry(day, lot, event, **other)  # type: ignore[arg-type]


POTTED, COOLED, BROUGHT = (
    entry(POTTING, "potted"), entry(COOLER_IN, "cooler in"), entry(BRING_IN, "brought in", place="Bench"),
)  # fmt: skip


def one(*log: LogEntry, **other: object) -> Season:
    given: dict[str, object] = {"overrides": FIGURES, "log": log, "looks": DAILY} | other
    return season([Lot("A", "tulip", 10, cultivar="Plain Jane", target=TARGET)], **given)


def looked_back(stated: Season, on: date | None = None) -> Review:
    return review_season(stated, RecipeBook.from_overrides(stated.overrides), seen_on(on or last_day(stated)))


def figures(review: Review) -> dict[tuple[str | None, str | None, str], Override]:
    return {(row.bloom_class, row.cultivar, row.parameter): row for row in review.figures}


# ---------------------------------------------------------------- one lot by hand


def by_hand() -> Season:
    """Two days late onto a bench at 15 °C instead of 16, and three days slower than that explains."""
    cool = tuple(replace(reading, mean=15.0) for reading in MEASURED)
    return one(
        entry(POTTING + DAY, "potted", pots=12), entry(COOLER_IN, "cooler in"),
        entry(BRING_IN + 2 * DAY, "brought in", place="Bench"), entry(date(2027, 3, 27), "bloom"),
        entry(date(2027, 3, 30), "lost", pots=3), readings=cool,
    )  # fmt: skip


def test_dates_beside_each_other() -> None:
    (lot,) = looked_back(by_hand()).lots
    assert [lot.planned[e] for e in ("potted", "cooler in", "brought in", "bloom")] == [
        POTTING, COOLER_IN, BRING_IN, TARGET,
    ]  # fmt: skip
    assert {e: lot.days_late(e) for e in EVENTS} == {
        "potted": 1, "cooler in": 0, "rooted": None, "brought in": 2, "shoots": None, "bud": None,
        "colour": None, "bloom": 7, "set out": None, "faded": None,
    }  # fmt: skip
    assert (lot.potted, lot.lost) == (12, 3)
    # 18 November to 24 February is 98 days = 14 weeks, all at 9 °C: full credit; two days more were had.
    assert lot.cold_planned == pytest.approx(14)
    assert lot.cold_credited == pytest.approx(100 / 7)


def test_why_it_was_late_by_hand() -> None:
    # Brought in on 26 February. As planned 24 days of 14: 22 March, +2. Its cold changes nothing. At 15 °C 13 a day:
    # 336/13 = 25.8, so 26 days: 24 March, +2. It bloomed on the 27th, +3. Together the 7 days.
    (lot,) = looked_back(by_hand()).lots
    assert lot.parts == {"brought in": 2, "cold": 0, "warmth": 2, "need": 3}
    # 29 days of 13 are 377; in the course of the last day it came, so half a day's heat less: 370.5.
    assert lot.need_seen == pytest.approx(370.5)
    assert lot.factor == pytest.approx(370.5 / 336)
    # Even within that day, but for the recipe: between ln(364/336) = 0.0800427 and ln(377/336) = 0.1151340 its density
    # falls by the factor e^(-0.0975884/0.00995033) for each 1. The middle 0.0975884 and half of it, a = 0.0175457:
    # the mean is 9.80756 a²/3 = 0.0010064 lower, the variance a²/3 = 0.000102617. Without the recipe, whose precision
    # is 100.499 of 9744.98: mean 0.0965820 * 9744.98/9644.48 = 0.0975884, error 1/sqrt(9644.48) = 0.0101826.
    assert lot.need is not None
    assert lot.need.log_ratio == pytest.approx(0.0975884, abs=1e-5)
    assert lot.need.error == pytest.approx(0.0101826, rel=1e-2)
    assert lot.notes == ()


def test_next_years_days_by_hand() -> None:
    # The lot was 0.0975884 above its recipe, seen with the error 0.0101826. For one way to split the recipe's variance
    # (ln 1.01) between season, class, cultivar and lot each gets its part of the whole; the ways count as well as each
    # foretells that one lot.
    laws, total = [], math.log(1.01)
    for split in SPLITS:
        variance = total * (split.season + split.whole + split.cultivar + split.lot) + 0.0101826**2
        weight = split.weight * math.exp(-(0.0975884**2) / variance / 2) / math.sqrt(variance)
        parts = [total * split.whole, total * (split.whole + split.cultivar)]
        laws.append((weight, [(p * 0.0975884 / variance, p - p * p / variance) for p in parts]))
    sure = sum(weight for weight, _ in laws)
    means = [sum(weight * own[k][0] for weight, own in laws) / sure for k in (0, 1)]
    spread = sum(weight * (own[1][1] + own[1][0] ** 2) for weight, own in laws) / sure - means[1] ** 2
    review = looked_back(by_hand())
    whole, cultivar = review.need
    assert (whole.cultivar, cultivar.cultivar) == (None, "Plain Jane")
    assert whole.effect.mean == pytest.approx(means[0], rel=1e-3)
    assert cultivar.effect.mean == pytest.approx(means[1], rel=1e-3)
    assert cultivar.effect.sigma == pytest.approx(math.sqrt(spread), rel=1e-3)
    assert 0 < means[0] < means[1] < 0.4 * 0.0975884, "most is the lot's own or the season's"
    assert cultivar.seen == pytest.approx(math.exp(0.0975884), rel=1e-4)
    rows = figures(review)
    assert rows[None, None, "bench_days"].typical == round(24 * math.exp(means[0]), 1)
    mine, reach = rows[None, "Plain Jane", "bench_days"], 1.2815516 * math.sqrt(spread)
    wanted = [round(24 * math.exp(means[1] + way * reach), 1) for way in (0, -1, 1)]
    assert [mine.typical, mine.low, mine.high] == wanted
    assert mine.source == "house, season 2026/27, 1 lot seen to bloom"
    assert rows[None, "Plain Jane", "bench_days_min"].typical == round(12 * math.exp(means[1]), 1)
    assert (None, None, "spread") not in rows, "one lot says nothing of the spread between lots"
    assert (None, None, "display_days") not in rows, "no fade is logged"


def test_life_on_display_by_hand() -> None:
    # 10 days at 10 - 2 = 8: 80 °C·d foretold. In bloom on the 16 °C bench from 20 March, faded on the 28th: 8 days
    # of 14 less half a day: 105.
    log = (POTTED, COOLED, BROUGHT, entry(TARGET, "bloom"), entry(TARGET + 8 * DAY, "faded"))
    review = looked_back(one(*log, readings=MEASURED))
    (lot,) = review.lots
    assert (lot.life_predicted, lot.life_seen) == pytest.approx((80, 105))
    rows = figures(review)
    days = rows[None, "Plain Jane", "display_days"]
    assert isinstance(days.typical, float)
    assert 10 < days.typical < 10 * 105 / 80
    assert days.source.endswith("1 lot seen to fade")


def test_cold_is_credited_from_what_the_cooler_really_was() -> None:
    # A week of readings at 25 °C, where nothing is credited, inside the 14 weeks: 13 are left, 1 day saved a week lost.
    warm = tuple(Reading("Cold", date(2026, 12, 1) + n * DAY, mean=25) for n in range(7))
    own = (*FIGURES[:-1], *house_figures("tulip", days_saved=2, display_days=10))
    log = (POTTED, COOLED, BROUGHT, entry(TARGET + 2 * DAY, "bloom"))
    (lot,) = looked_back(one(*log, readings=(*warm, *MEASURED), overrides=own)).lots
    assert lot.cold_planned == pytest.approx(14)
    assert lot.cold_credited == pytest.approx(13)
    # 24 + 2*1 = 26 days foretold after that: it bloomed just then, so all the lateness is the cold's.
    assert lot.need_predicted == pytest.approx(26 * 14)
    assert lot.parts == {"brought in": 0, "cold": 2, "warmth": 0, "need": 0}


def test_the_parts_always_sum_to_the_lateness() -> None:
    rng = random.Random(3)
    for _ in range(15):
        moved = [rng.randint(-3, 6) * DAY for _ in range(3)]
        readings = tuple(replace(r, mean=rng.uniform(12, 20)) for r in MEASURED)
        stated = one(
            entry(POTTING + moved[0], "potted"), entry(COOLER_IN + moved[0], "cooler in"),
            entry(BRING_IN + moved[1], "brought in"), entry(TARGET + moved[1] + moved[2], "bloom"), readings=readings,
        )  # fmt: skip
        (lot,) = looked_back(stated).lots
        assert sum(lot.parts.values()) == lot.days_late("bloom")


# ---------------------------------------------------------------- what is not logged


def test_an_empty_log_changes_nothing_and_says_so() -> None:
    review = looked_back(one())
    (lot,) = review.lots
    assert (review.need, review.life, review.figures) == ((), (), ())
    assert review.crops == FIGURES, "the house's own rows are handed on"
    assert lot.planned["bloom"] == TARGET
    assert (lot.actual, lot.lost, lot.potted, lot.cold_credited, lot.need_seen) == (
        {},
        None,
        None,
        None,
        None,
    )
    assert "Nothing is logged" in review_text(review)
    assert looked_back(one(overrides=())).crops == ()


def test_what_is_not_logged_is_empty_in_the_table_never_0() -> None:
    (row,) = frames.rows_of(frames.review(looked_back(one(POTTED))))
    assert row["potted days late"] == 0
    empty = [name for name, cell in row.items() if cell in (None, "")]
    assert {"potted pots", "lost pots", "bloom actual", "bloom days late", "cold credited", "need seen",
            "days late by need", "basis"} <= set(empty)  # fmt: skip
    assert 0 not in [cell for name, cell in row.items() if name != "potted days late"]


def test_cooler_in_not_logged_is_told_and_its_cold_left_empty() -> None:
    (lot,) = looked_back(one(POTTED, BROUGHT, entry(TARGET, "bloom"), readings=MEASURED)).lots
    assert lot.cold_credited is None
    assert lot.need_seen is not None
    assert any("cooler in is not logged" in note for note in lot.notes)
    assert lot.missing == ("cooler in", "rooted", "shoots", "bud", "colour")


def test_bring_in_not_logged_leaves_the_need_unknown() -> None:
    review = looked_back(one(POTTED, COOLED, entry(TARGET + 4 * DAY, "bloom")))
    assert review.lots[0].days_late("bloom") == 4
    assert review.lots[0].parts == {}
    assert review.figures == ()
    assert "why is not known: brought in is not logged" in review_text(review)


def test_a_gap_in_the_temperatures_is_a_note_not_a_need() -> None:
    # The bench states nothing and was read until 5 March only.
    places = (Place("Cold", "cooler", day=9, night=9), Place("Bench", "bench"))
    read = tuple(r for r in MEASURED if r.date < date(2027, 3, 5))
    review = looked_back(one(POTTED, COOLED, BROUGHT, entry(TARGET, "bloom"), places=places, readings=read))
    (lot,) = review.lots
    assert lot.need_seen is None
    assert lot.actual["bloom"] == TARGET
    assert review.need == ()
    assert any("not known" in note for note in lot.notes)


def test_days_that_were_not_measured_make_the_need_less_sure() -> None:
    log = (POTTED, COOLED, BROUGHT, entry(TARGET + 3 * DAY, "bloom"))
    read, unread = (looked_back(one(*log, readings=r)).lots[0] for r in (MEASURED, ()))
    assert read.need is not None
    assert unread.need is not None
    assert unread.need.error > read.need.error
    assert unread.notes == ("27 of 27 days on the way to bloom were not measured",)


def test_stages_alone_count_but_for_less() -> None:
    # Bud between 14 and 15 days of 14, 196 and 210 °C·d of 0.5, says about 406, give or take 0.15; bloom between 27 and
    # 28 days says 378 to 392 of 336.
    bud = looked_back(one(POTTED, COOLED, BROUGHT, entry(BRING_IN + 15 * DAY, "bud"), readings=MEASURED))
    bloom = looked_back(one(POTTED, COOLED, BROUGHT, entry(BRING_IN + 28 * DAY, "bloom"), readings=MEASURED))
    assert bud.lots[0].need is not None
    assert bud.lots[0].need.log_ratio == pytest.approx(math.log(406 / 336), abs=0.01)
    assert bud.lots[0].need.error == pytest.approx(0.15, abs=0.01)
    assert bloom.lots[0].need is not None
    assert bloom.lots[0].need.log_ratio == pytest.approx(math.log(385 / 336), abs=0.002)
    assert 1 < bud.need[1].effect.factor < bloom.need[1].effect.factor
    assert (bud.need[1].lots, bud.need[1].stages, bud.need[1].seen) == (0, 1, None)
    assert bud.figures[0].source == "house, season 2026/27, 1 by its stages"


def test_lots_all_lost_and_lots_that_cannot_be_planned_are_still_reviewed() -> None:
    lost = looked_back(one(POTTED, COOLED, BROUGHT, entry(BRING_IN + 5 * DAY, "lost", pots=10)))
    assert (lost.lots[0].lost, lost.lots[0].lot.pots) == (10, 10)
    early = Lot("B", "tulip", 4, target=date(2026, 9, 1))
    none = looked_back(replace(one(), lots=(early,), bulbs_in_hand=date(2026, 8, 15)))
    assert none.lots[0].planned == {}
    assert none.lots[0].notes == ("it could not be planned",)


def test_what_came_after_the_day_of_looking_back_is_left_out() -> None:
    stated = one(POTTED, COOLED, BROUGHT, entry(TARGET, "bloom"), readings=MEASURED)
    assert last_day(stated) == MEASURED[-1].date
    assert last_day(one(POTTED)) == POTTING
    assert last_day(one()) == date(2027, 4, 19), "the show of 30 days has closed"
    assert "bloom" not in looked_back(stated, TARGET - DAY).lots[0].actual
    assert looked_back(stated, TARGET).lots[0].actual["bloom"] == TARGET


def test_lots_without_a_cultivar_say_something_of_their_class_only() -> None:
    lots = [Lot(name, "tulip", 10, target=TARGET) for name in "AB"]
    log = [
        replace(e, lot=lot.name) for lot in lots for e in (POTTED, COOLED, BROUGHT, entry(TARGET, "bloom"))
    ]
    review = looked_back(season(lots, overrides=FIGURES, log=tuple(log), readings=MEASURED))
    assert [(p.cultivar, p.lots) for p in review.need] == [(None, 2)]
    assert {row.parameter for row in review.figures} == {
        "bench_days",
        "bench_days_min",
        "days_saved",
        "spread",
    }


# ---------------------------------------------------------------- words


def test_the_words_name_the_late_the_unlike_and_the_missing() -> None:
    text = " ".join(review_text(looked_back(by_hand())).split())
    assert (
        "A Plain Jane: 7 days late, by slow growth, 10 % more heat than foretold (+3 d), coming late onto the "
        in text
    )
    assert "bench after potting 1 day late (+2 d) and standing cooler than planned (+2 d)." in text
    assert "Not logged rooted: A. shoots: A. bud: A. colour: A." in text
    assert "next-crops.csv" in text
    assert "Unlike the recipe" not in text, "one lot is not enough to be sure"


def test_what_was_not_yet_due_is_not_missing() -> None:
    early = review_text(looked_back(one(POTTED, COOLED, BROUGHT), BRING_IN + DAY))
    after = review_text(looked_back(one(POTTED, COOLED, BROUGHT), TARGET + DAY))
    assert "bloom: A." not in early
    assert "bloom: A." in after


def test_a_cultivar_far_from_its_recipe_is_named() -> None:
    lots = [Lot(f"L{n}", "tulip", 10, cultivar="Slow Coach", target=TARGET) for n in range(6)]
    log = [
        replace(e, lot=lot.name)
        for lot in lots
        for e in (POTTED, COOLED, BROUGHT, entry(TARGET + 6 * DAY, "bloom"))
    ]
    review = looked_back(season(lots, overrides=FIGURES, log=tuple(log), readings=MEASURED, looks=DAILY))
    assert "tulip, Slow Coach: " in review_text(review)
    assert review.need[1].effect.differs


# ---------------------------------------------------------------- files


def grown() -> Season:
    """Two classes of tulip, three cultivars, every bloom some days off; figures per class."""
    own: list[Override] = []
    for name, days in (("early", 22.0), ("late", 26.0)):
        rows = (*FIGURES, *house_figures("tulip", bench_days=days, days_saved=1.5))
        latest = {row.parameter: replace(row, bloom_class=name) for row in rows}  # type: ignore[arg-type]
        own += latest.values()
    kinds: list[tuple[str, BloomClass, str]] = [
        ("E1", "early", "Tin Drum"), ("E2", "early", "Tin Drum"), ("L1", "late", 'Old "Soot", the 2nd'),
    ]  # fmt: skip
    lots = [Lot(name, "tulip", 10, c, cultivar, target=TARGET) for name, c, cultivar in kinds]
    stated = season(lots, overrides=tuple(own), readings=MEASURED)
    book = RecipeBook.from_overrides(own)
    plan = work_out(stated, book, seen_on(date(2026, 9, 1))).plan
    log: list[LogEntry] = []
    for late, lot in zip((2, 4, 6), plan.lots, strict=True):
        assert lot.cooler_in is not None
        dates = (lot.potting, lot.cooler_in, lot.bring_in, lot.bloom + late * DAY)
        events = ("potted", "cooler in", "brought in", "bloom")
        log += [entry(day, event, lot.lot.name) for day, event in zip(dates, events, strict=True)]
    return replace(stated, log=tuple(log))


def test_next_crops_is_read_back_and_planned_with(tmp_path: Path) -> None:
    review = looked_back(grown())
    paths = write_review(review, tmp_path, created=datetime(2027, 5, 3))
    assert [p.name for p in paths] == ["review.csv", "next-crops.csv", "review.xlsx"]
    text = """
        [places]
        place | kind   | pots | day | night
        Cold  | cooler | 100  | 9   | 9
        Bench | bench  | 100  | 16  | 16
        [lots]
        lot | crop  | class | cultivar            | pots | target bloom
        N1  | tulip | early | Tin Drum            | 10   | 2027-03-20
        N2  | tulip | early |                     | 10   | 2027-03-20
        N3  | tulip | late  | Old "Soot", the 2nd | 10   | 2027-03-20
    """
    folder = write_text_folder(tmp_path / "next", text)
    (folder / "crops.csv").write_bytes((tmp_path / "next-crops.csv").read_bytes())
    read, findings = read_season(folder)
    book = RecipeBook.from_overrides(read.overrides)
    assert not [f for f in (*findings, *check_season(read, book)) if f.severity == "error"]
    effects = {(p.bloom_class, p.cultivar): p.effect.factor for p in review.need}
    assert len(effects) == 4
    for (bloom_class, cultivar), factor in effects.items():
        days = {"early": 22.0, "late": 26.0}[str(bloom_class)]
        recipe = book.recipe("tulip", bloom_class, cultivar)
        assert recipe.bench_days == pytest.approx(days * factor, abs=0.05)
        assert recipe.days_saved == pytest.approx(1.5 * factor, abs=0.005)
        assert recipe.cold_target == 14, "the house's own figures are handed on"
    plan = work_out(read, book, seen_on(date(2026, 9, 1))).plan
    for lot in plan.lots:
        # The whole need is the old one, days - 1.5 (cold - 14), times the factor; rounding is under 0.1 d of 14.
        old = ({"early": 22.0, "late": 26.0}[str(lot.lot.bloom_class)] - 1.5 * (lot.cold_weeks - 14)) * 14
        factor = effects[lot.lot.bloom_class, lot.lot.cultivar]
        assert lot.need == pytest.approx(old * factor, abs=1.4)
    assert plan.lot("N1").bring_in < plan.lot("N1").target - 22 * DAY


def test_own_rows_are_handed_on_unless_replaced_with_temperatures_in_the_seasons_unit() -> None:
    review = looked_back(grown())
    rows = [tuple(row) for row in frames.crops(review.crops, "F").itertuples(index=False)]
    assert len({row[:4] for row in rows}) == len(rows), "no figure is stated twice"
    found = {row[:4]: row[4:] for row in rows}
    assert found["tulip", "early", "", "base"][0] == pytest.approx(35.6)  # 2 °C
    assert found["tulip", "early", "", "cold_target"][0] == 14
    assert found["tulip", "early", "", "bench_days"][3].startswith("house, season 2026/27, 2 lots")


def test_the_files_hold_what_was_found(tmp_path: Path) -> None:
    review = looked_back(grown())
    write_review(review, tmp_path, created=datetime(2027, 5, 3))
    with (tmp_path / "review.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["lot"] for row in rows] == ["E1", "E2", "L1"]
    assert [row["bloom days late"] for row in rows] == ["2", "4", "6"]
    with (tmp_path / "next-crops.csv").open(newline="", encoding="utf-8") as file:
        assert next(csv.reader(file)) == CROPS
    book = load_workbook(tmp_path / "review.xlsx")
    assert book.sheetnames == ["In words", "Dates", "Why", "Next year"]
    assert [book[name].freeze_panes for name in book.sheetnames] == [None, "D4", "C4", "D4"]
    why = book["Why"]
    heads = [cell.value for cell in why[3]]
    assert [why.cell(row, heads.index("Days late") + 1).value for row in (4, 5, 6)] == [2, 4, 6]
    assert why.cell(4, heads.index("Lost") + 1).value is None
    words = [cell.value for cell in book["In words"]["A"] if cell.value]
    assert words[0] in review_text(review)


def test_the_same_season_gives_the_same_bytes(tmp_path: Path) -> None:
    made = []
    for name in "ab":
        paths = write_review(looked_back(grown()), tmp_path / name, created=datetime(2027, 5, 3))
        made.append([path.read_bytes() for path in paths])
    assert made[0] == made[1]


def test_an_empty_log_writes_headers_only(tmp_path: Path) -> None:
    review = looked_back(one(overrides=()))
    write_review(review, tmp_path, created=datetime(2027, 5, 3))
    text = (tmp_path / "next-crops.csv").read_text(encoding="utf-8")
    assert text.strip() == ",".join(CROPS)
    assert "Nothing is logged" in str(
        [c.value for c in load_workbook(tmp_path / "review.xlsx")["In words"]["A"]]
    )


def test_a_huge_season_of_text_that_looks_like_formulas(tmp_path: Path) -> None:
    lots = [Lot(f"=A{n}", "tulip", 10, cultivar=f"+C{n % 40}", target=TARGET) for n in range(150)]
    log = [
        replace(e, lot=lot.name) for lot in lots for e in (POTTED, COOLED, BROUGHT, entry(TARGET, "bloom"))
    ]
    review = looked_back(season(lots, overrides=FIGURES, log=tuple(log)))
    assert len(review.lots) == 150
    assert len(review.need) == 41
    path = write_review(review, tmp_path, created=datetime(2027, 5, 3))[2]
    assert load_workbook(path)["Why"]["A4"].value == "=A0"
    assert load_workbook(path)["Why"]["A4"].data_type == "s"


# ---------------------------------------------------------------- coverage


def share_inside(seasons: Iterable[int], looks: frozenset[int]) -> tuple[float, float]:
    """Share of simulated true factors inside the 10 to 90 % range that the review gives their cultivar, and the bias of
    next year's bench_days [days], where people look on these weekdays only.

    The truth is made in plain loops: season, class, cultivar and lot each off by a part of the recipe's spread, parts
    that are drawn as the pooling says; the lot is in bloom on the first day by whose start days of 14 °C·d have reached
    its own need, and seen at the next look.
    """
    inside, errors = 0, []
    sigma = math.sqrt(math.log(1.01))
    for seed in seasons:
        rng = random.Random(seed)
        own: list[Override] = []
        lots: list[Lot] = []
        log: list[LogEntry] = []
        truth: dict[tuple[str, str], float] = {}
        split = rng.choices(SPLITS, [split.weight for split in SPLITS])[0]
        season_effect = rng.gauss(0, sigma * math.sqrt(split.season))
        for name in ("early", "mid", "late"):
            own += [replace(row, bloom_class=name) for row in FIGURES]
            whole = rng.gauss(0, sigma * math.sqrt(split.whole))
            for k in range(4):
                cultivar = f"{name} {k}"
                truth[name, cultivar] = whole + rng.gauss(0, sigma * math.sqrt(split.cultivar))
                for n in range(rng.choice((1, 1, 2, 3))):
                    lot = Lot(f"{cultivar}.{n}", "tulip", 5, name, cultivar, target=TARGET)
                    part = season_effect + truth[name, cultivar] + rng.gauss(0, sigma * math.sqrt(split.lot))
                    day = BRING_IN + math.ceil(336 * math.exp(part) / 14) * DAY
                    while day.weekday() not in looks:
                        day += DAY
                    bloom = entry(day, "bloom")
                    log += [replace(e, lot=lot.name) for e in (POTTED, COOLED, BROUGHT, bloom)]
                    lots.append(lot)
        stated = season(lots, overrides=tuple(own), log=tuple(log), readings=MEASURED, looks=looks)
        for p in looked_back(stated).need:
            if p.cultivar:
                true = truth[str(p.bloom_class), p.cultivar]
                inside += p.effect.low <= math.exp(true) <= p.effect.high
                errors.append(24 * (p.effect.factor - math.exp(true)))
    return inside / len(errors), sum(errors) / len(errors)


MONDAY = frozenset({0})


def test_the_range_covers_smoke() -> None:
    share, _ = share_inside(range(4), MONDAY)
    assert share >= 0.6


@pytest.mark.slow
@pytest.mark.parametrize("looks", [DAILY, MONDAY])
def test_the_range_covers_what_it_says(looks: frozenset[int]) -> None:
    share, bias = share_inside(range(100, 200), looks)
    print(f"review, looks {sorted(looks)}: {share:.3f} inside 10-90 %, bias of bench_days {bias:+.2f} d")
    assert 0.75 <= share <= 0.88
    assert abs(bias) < 0.4


def test_bloom_seen_on_mondays_does_not_lengthen_next_years_days() -> None:
    # Twelve lots of one cultivar that bloom after 24 days, as the recipe says, brought in on twelve days in a row and
    # seen in bloom on the Mondays after: on average three days later. Nothing is stated of the looks.
    lots = [Lot(f"L{n}", "tulip", 10, cultivar="Plain Jane", target=TARGET) for n in range(12)]
    log = []
    for n, lot in enumerate(lots):
        bloom = BRING_IN + (n + 24) * DAY
        monday = bloom + (-bloom.weekday() % 7) * DAY
        rows = (POTTED, COOLED, replace(BROUGHT, date=BRING_IN + n * DAY), entry(monday, "bloom"))
        log += [replace(row, lot=lot.name) for row in rows]
    review = looked_back(season(lots, overrides=FIGURES, log=tuple(log), readings=MEASURED))
    rows = figures(review)[None, "Plain Jane", "bench_days"]
    assert isinstance(rows.typical, float) and abs(rows.typical - 24) < 0.4
    assert rows.low is not None and rows.high is not None and rows.low < 24 < rows.high
    assert [f.value for f in review.findings if f.code == "looks-inferred"] == ["Mon"]
