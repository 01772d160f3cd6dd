"""The label sheet read back with pypdf (text, positions) and pikepdf (fonts), never by the library that wrote it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from forcing.dates import DAY
from forcing.errors import OutputError
from forcing.model import Plan
from forcing.reports.draw import text as fit
from forcing.reports.labels import labels_of, write_labels
from tests.printed_pages import HARD_NAMES, UPRIGHT, check_fonts, check_printed, contrast, inks_of
from tests.sample import sample_plan
from tests.test_orders import grown

CREATED = datetime(2026, 11, 3, 9, 30, tzinfo=UTC)


def text_of(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path, strict=True).pages)


def renamed(plan: Plan, i: int, **fields: object) -> Plan:
    lots = list(plan.lots)
    lots[i] = replace(lots[i], lot=replace(lots[i].lot, **fields))  # type: ignore[arg-type]
    return replace(plan, lots=tuple(lots))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("lots", "pages"), [(0, 1), (1, 1), (10, 1), (11, 2), (45, 5)])
def test_every_lot_has_one_label(tmp_path: Path, paper: str, lots: int, pages: int) -> None:
    plan = sample_plan(lots, paper=paper)
    path = write_labels(plan, tmp_path, created=CREATED)
    assert path == tmp_path / "labels.pdf" and list(tmp_path.iterdir()) == [path]
    reader = PdfReader(path, strict=True)
    assert len(reader.pages) == pages
    # ISO 216 A4 is 210 x 297 mm; Letter 8.5 x 11 in
    size = {"A4": (595.28, 841.89), "Letter": (612, 792)}[paper]
    assert all(tuple(map(float, page.mediabox[2:])) == pytest.approx(size, abs=0.01) for page in reader.pages)
    names = re.findall(r"^T\d{3}$", text_of(path), re.MULTILINE)
    assert sorted(names) == [p.lot.name for p in plan.lots]
    assert f"page {pages} of {pages}" in text_of(path)
    assert ("No lot is planned" in text_of(path)) == (lots == 0)


def test_a_label_says_what_staff_look_for(tmp_path: Path) -> None:
    plan = sample_plan(1)
    said = text_of(write_labels(plan, tmp_path, created=CREATED)).split("\n")
    planned = plan.lots[0]
    # by the sample's own arithmetic: target Sat 20 March 2027, bring in 25 days before, cooler in 105 days before
    assert (planned.bring_in, planned.cooler_in) == (date(2027, 2, 23), date(2026, 11, 10))
    for words in (
        "T001", "E", "early", "Été Précoce, hyacinth", "12 pots of 15 cm, 6 bulbs each", "Mon 9 Nov", "Tue 10 Nov",
        "Cold room North", "Tue 23 Feb", "Bench 1", "In bloom by", "Sat 20 Mar 2027", "Set out", "Fri 19 Mar",
        "Terrace troughs, Terrace",
    ):  # fmt: skip
        assert words in said, words


def test_what_a_lot_does_not_have_is_said(tmp_path: Path) -> None:
    plan = sample_plan(1)
    lot = replace(plan.lots[0].lot, bloom_class=None, cultivar=None, pots=1, bulbs_per_pot=1)
    warm = replace(
        plan.lots[0], lot=lot, recipe=replace(plan.lots[0].recipe, bloom_class=None), cooler_in=None, install=None,
        steps=plan.lots[0].steps[3:4],
    )  # fmt: skip
    said = text_of(write_labels(replace(plan, lots=(warm,)), tmp_path, created=CREATED)).split("\n")
    for words in ("hyacinth", "1 pot of 15 cm, 1 bulb each", "no cold", "In bloom by", "Sat 20 Mar 2027"):
        assert words in said, words
    assert "-" not in said and "Cold room North" not in said and "early" not in said


def test_companions_have_labels_after_the_lots(tmp_path: Path) -> None:
    _, viola = grown()
    plan = sample_plan(2)
    assert [label.name for label in labels_of(plan, (viola,))] == ["T001", "T002", "Edging"]
    said = text_of(write_labels(plan, tmp_path, created=CREATED, companions=(viola,)))
    for words in ("Edging", "viola", "45 pots of", "Sow", "Transplant", "Harden off"):
        assert words in said


def test_labels_stand_in_the_order_of_the_lots_table() -> None:
    plan = sample_plan(3)
    season = replace(plan.season, lots=tuple(p.lot for p in reversed(plan.lots)))
    assert [label.name for label in labels_of(replace(plan, season=season))] == ["T003", "T002", "T001"]


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    plan = sample_plan(12)
    one = write_labels(plan, tmp_path / "a", created=CREATED).read_bytes()
    two = write_labels(plan, tmp_path / "b", created=CREATED).read_bytes()
    other = write_labels(plan, tmp_path / "c", created=CREATED.replace(day=4)).read_bytes()
    assert one == two != other and b"D:20261103093000" in one


def test_fonts_are_embedded(tmp_path: Path) -> None:
    check_fonts(write_labels(sample_plan(3), tmp_path, created=CREATED))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("lots", [5, 30, 200])
def test_nothing_leaves_the_page_or_lies_on_other_words(tmp_path: Path, paper: str, lots: int) -> None:
    path = write_labels(sample_plan(lots, paper=paper), tmp_path, created=CREATED)
    check_printed(path, UPRIGHT[paper], margin=25, least=7)


def hard(plan: Plan) -> Plan:
    """Every name of a lot is long: its own, its cultivar's, the places' and the season's."""
    lots = []
    for i, p in enumerate(plan.lots):
        name, kind, place = (HARD_NAMES[(i + n) % len(HARD_NAMES)] for n in range(3))
        steps = tuple(replace(s, place=place) if s.place else s for s in p.steps)
        lots.append(replace(p, lot=replace(p.lot, name=name, cultivar=kind, display=None), steps=steps))
    return replace(plan, lots=tuple(lots), season=replace(plan.season, title=HARD_NAMES[0]))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_long_names_of_every_script_are_whole_and_7_pt_or_more(tmp_path: Path, paper: str) -> None:
    path = write_labels(hard(sample_plan(5, paper=paper)), tmp_path, created=CREATED)
    check_printed(path, UPRIGHT[paper], margin=25, least=7)
    said = " ".join(text_of(path).split())
    assert "…" not in said
    for name in HARD_NAMES:
        times = 5 if "雪" not in name else 0  # its letters are boxes: a lot, a cultivar and three places
        assert all(said.count(word) >= times for word in name.split()), name


def test_a_label_bears_the_target_and_no_date_that_steering_moves(tmp_path: Path) -> None:
    """What is now expected (bloom, fade, stages) moves with the benches; the label is printed once."""
    plan = sample_plan(1)
    later = [replace(p, bloom=p.bloom + DAY * 3, fade=date(2027, 4, 9), stages={}) for p in plan.lots]
    one, two = (
        write_labels(p, tmp_path / name, created=CREATED).read_bytes()
        for p, name in ((plan, "a"), (replace(plan, lots=tuple(later)), "b"))
    )
    assert one == two


def test_words_stand_out_from_what_they_are_on(tmp_path: Path) -> None:
    # WCAG 2.2, 1.4.6: 7:1; the letters of the three classes stand on colours
    found = list(inks_of(write_labels(sample_plan(5), tmp_path, created=CREATED)))
    assert len({tuple(back) for _, back in found}) == 4
    assert min(contrast(ink, back) for ink, back in found) >= 7


def test_letters_that_cannot_be_printed_are_told(tmp_path: Path) -> None:
    note = "□ stands for a letter that this typeface does not have."
    plan = renamed(sample_plan(2), 1, cultivar="Снежная")
    assert note not in " ".join(text_of(write_labels(plan, tmp_path, created=CREATED)).split())
    plan = renamed(plan, 0, cultivar="雪の女王")
    assert note in " ".join(text_of(write_labels(plan, tmp_path, created=CREATED)).split())


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError):
        write_labels(sample_plan(1), tmp_path / "file", created=CREATED)


names = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=300)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    names | st.just("W" * 300), names | st.just("Wide " * 60), names | st.just("M" * 300),
    names | st.just("Q" * 300), st.sampled_from(["A4", "Letter"]),
)  # fmt: skip
def test_nothing_leaves_its_label(
    tmp_path: Path, name: str, cultivar: str, place: str, title: str, paper: str
) -> None:
    """Whatever the names: every run of words lies inside its label."""
    plan = renamed(sample_plan(10, paper=paper), 3, name=name, cultivar=cultivar, display=None)
    steps = tuple(replace(s, place=place) if s.place else s for s in plan.lots[3].steps)
    lots = (*plan.lots[:3], replace(plan.lots[3], steps=steps), *plan.lots[4:])
    plan = replace(plan, lots=lots, season=replace(plan.season, title=title))
    (page,) = PdfReader(write_labels(plan, tmp_path, created=CREATED)).pages
    width, height = UPRIGHT[plan.season.paper]
    margin, middle = 28.3, width / 2  # 10 mm; the labels meet in the middle
    runs: list[tuple[float, float, float, str]] = []

    def visit(text, cm, tm, font, size):  # type: ignore[no-untyped-def]
        for line in text.split("\n"):
            if line.strip() and font:
                runs.append(
                    (tm[4], tm[5], size * fit.width(line.strip(), 1, "Bold" in font["/BaseFont"]), line)
                )

    page.extract_text(visitor_text=visit)
    assert runs
    for x, y, wide, line in runs:
        assert margin - 1 <= x and x + wide <= width - margin + 1, line
        assert margin - 3 <= y <= height - margin, line
        if y > margin + 20:  # above the foot line
            assert x + wide <= middle + 1 or x >= middle - 1, line


def test_what_does_not_fit_in_the_smallest_type_ends_with_dots() -> None:
    words = "one two three four five six seven eight nine ten"
    size, lines = fit.fitted(words, 60, 2 * 7 * fit.LEADING, 25, least=7)
    assert size == 7 and len(lines) == 2 and lines[0].startswith("one") and lines[1].endswith("…")
    assert fit.fitted(words, 60, 400, 25, least=7)[1][-1].endswith("ten")


@given(names, st.floats(20, 300), st.floats(3, 40), st.booleans())
@settings(max_examples=60, deadline=None)
def test_type_shrinks_until_all_of_it_fits(text: str, room: float, height: float, bold: bool) -> None:
    text = fit.clean(text)
    size, lines = fit.fitted(text, room, height, 25, bold)
    assert "".join("".join(lines).split()) == "".join(text.split())  # not a letter is lost
    assert len(lines) * size <= height + 1e-6 and size <= 25
    assert all(fit.width(line, size, bold) <= room or len(line) == 1 for line in lines)
