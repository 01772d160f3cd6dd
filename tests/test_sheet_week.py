"""The printed task sheet, read back with pypdf (text, positions) and pikepdf (structure), never by reportlab.

ISO 32000-1 (2008) for the file: 7.7.2 Lang, 9.9 embedded font programs, 14.3.3 the information dictionary.
ISO 8601 for the weeks. Widths of letters are measured with fontTools from the font file itself.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader

from forcing.dates import DAY, Span, WorkCalendar, iso_week, monday, week_span
from forcing.engine.frost import FrostNight
from forcing.engine.work.tasks import CAUTIONS
from forcing.errors import Finding, OutputError, Several
from forcing.model import Companion, Lot, Place, PlaceLoad, Plan, RoomSetting, Task
from forcing.reports.calendar import summary
from forcing.reports.matters import matters
from forcing.reports.task_words import Whose, owners, stages_look
from forcing.reports.week import write_week
from forcing.reports.week.facts import gather, hours_words, opening_words, room_weeks, week_words
from forcing.reports.week.parts import safe
from tests.printed_pages import HARD_NAMES, UPRIGHT, Run, check_printed, contrast, inks_of, runs_of
from tests.sample import sample_plan

CREATED = datetime(2026, 11, 3, 12, 0, tzinfo=UTC)
MM = 72 / 25.4
SIDE = 12 * MM  # the sheet's side margin


def pieces(path: Path) -> list[Run]:
    """Every run of text in the order of reading: page by page, from the top, from the left; pages count from 1."""
    found = (replace(run, page=run.page + 1, said=run.said.strip()) for run in runs_of(path))
    return sorted(found, key=lambda p: (p.page, -round(p.y), p.x))


def pages_of(path: Path) -> list[str]:
    """What is said on each page, as a reader of the file copies it."""
    return _texts_in(path.read_bytes())


@cache
def _texts_in(content: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(content), strict=True).pages]


def text_of(path: Path) -> str:
    return "\n".join(pages_of(path))


def flat(text: str) -> str:
    return " ".join(text.split())


def week(plan: Plan, name: str, folder: Path) -> Path:
    return write_week(plan, week_span(name), folder, created=CREATED)


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """Sheets of the sample plan, each written once for all tests that read it."""

    @cache
    def sheet(lots: int, name: str, paper: str = "A4", unit: str = "C") -> Path:
        return week(sample_plan(lots, unit, paper), name, tmp_path_factory.mktemp("week"))

    return sheet


def with_tasks(plan: Plan, *tasks: Task) -> Plan:
    return replace(plan, tasks=tasks)


def capital(task: str) -> str:
    return task[0].upper() + task[1:]


DATE = re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d{1,2} [A-Z][a-z]{2}")


def rows(path: Path, titles: set[str]) -> list[tuple[str, str, str]]:
    """(day heading, task, lot) of every full row and every lot of a block; the lot is '' for work on a place."""
    listed = pieces(path)
    found, day = [], ""
    for piece in listed:
        near = [p for p in listed if p.page == piece.page and abs(p.y - piece.y) < 5 and p is not piece]
        if piece.bold and piece.x < SIDE + 6 and (piece.said == "OVERDUE" or DATE.fullmatch(piece.said)):
            day = piece.said
        elif piece.bold and re.fullmatch(r"T\d{3}", piece.said):
            (name,) = {p.said for p in near if p.said in titles and p.x < SIDE + 40}
            found.append((day, name, piece.said))
        elif (
            piece.bold
            and piece.said in titles
            and SIDE + 20 < piece.x < SIDE + 40
            and not any(re.fullmatch(r"T\d{3}|\d+ lots", p.said) for p in near)
        ):
            found.append((day, piece.said, ""))
    return found


def test_words_stand_out_from_what_they_are_on(printed) -> None:
    # WCAG 2.2, 1.4.6: 7:1. In W45 there is work overdue, in white on its band.
    found = list(inks_of(printed(30, "2026-W45")))
    assert (1, 1, 1) in {tuple(map(round, ink)) for ink, _ in found}
    assert len(found) > 100 and min(contrast(ink, back) for ink, back in found) >= 7


BUSY = [(5, "2026-W46"), (30, "2027-W11"), (200, "2027-W11"), (200, "2026-W48"), (200, "2026-W45")]


@pytest.mark.parametrize(("paper", "unit"), [("A4", "C"), ("Letter", "F")])
@pytest.mark.parametrize(("lots", "name"), BUSY)
def test_every_task_of_the_week_stands_once_under_its_day(lots, name, paper, unit, printed):
    plan = sample_plan(lots, unit, paper)
    span = week_span(name)
    mine = [t for t in plan.tasks if t.date in span]
    late = [t for t in plan.tasks if t.state == "overdue" and t.date < span.start]
    days = {d: d.strftime("%a ") + str(d.day) + d.strftime(" %b") for d in span}
    # Several looks at a place on a day are one walk, which names the lots itself; where a place is walked on several
    # days, every look stands in the block of the week, and each day says once that there are walks.
    looked = Counter(
        (t.place, t.date) for t in mine if t.task.startswith("check") and t.state in ("planned", "due")
    )
    block = max(Counter(place for place, _ in looked).values(), default=0) > 1
    walked = {at for at, count in looked.items() if count > 1 or block}
    expected = [
        (days[t.date], capital(t.task), t.lot or "")
        for t in mine
        if (t.place, t.date) not in walked or not t.task.startswith("check")
    ]
    walks = [(days[day], "Walk", "") for _, day in walked]
    expected += set(walks) if block else walks
    expected += [("OVERDUE", capital(t.task), t.lot or "") for t in late]
    titles = {capital(t.task) for t in plan.tasks} | {"Walk"}
    found = rows(printed(lots, name, paper, unit), titles)
    assert Counter(found) == Counter(expected)
    # overdue first, then the days in order
    order = list(dict.fromkeys(day for day, _, _ in found))
    wanted = (["OVERDUE"] if late else []) + [
        words for d, words in days.items() if any(t.date == d for t in mine)
    ]
    assert order == wanted


@pytest.mark.parametrize(
    ("paper", "unit", "size"), [("A4", "C", (595.28, 841.89)), ("Letter", "F", (612, 792))]
)
@pytest.mark.parametrize(("lots", "name"), BUSY)
def test_nothing_is_printed_outside_the_margins(lots, name, paper, unit, size, printed):
    path = printed(lots, name, paper, unit)
    for page in PdfReader(path).pages:
        # ISO 216 A4 is 210 x 297 mm; Letter (ANSI/ASME Y14.1 A) is 8.5 x 11 inches
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)
    for piece in pieces(path):
        assert piece.x >= SIDE - 0.1
        assert piece.box[2] <= size[0] - SIDE + 0.5, piece
        assert 6 * MM < piece.y < size[1] - 9 * MM, piece


@pytest.mark.parametrize(("paper", "unit"), [("A4", "C"), ("Letter", "F")])
@pytest.mark.parametrize(("lots", "name"), [*BUSY, (30, "2027-W02"), (5, "2027-W11")])
def test_no_words_lie_on_others(lots, name, paper, unit, printed):
    check_printed(printed(lots, name, paper, unit), UPRIGHT[paper], margin=6 * MM, least=7.5)


def test_no_words_lie_on_others_with_long_names_of_every_script(tmp_path):
    for paper in ("A4", "Letter"):
        plan = sample_plan(5, "F", paper)
        lots = tuple(
            replace(p, lot=replace(p.lot, name=f"{p.lot.name} {word}", cultivar=word))
            for p, word in zip(plan.lots, HARD_NAMES, strict=True)
        )
        named = dict(zip((p.lot.name for p in plan.lots), (p.lot.name for p in lots), strict=True))
        tasks = tuple(replace(t, lot=named.get(t.lot or "")) for t in plan.tasks)
        plan = replace(plan, lots=lots, tasks=tasks, season=replace(plan.season, title=" ".join(HARD_NAMES)))
        for name in ("2026-W46", "2027-W08"):
            path = week(plan, name, tmp_path)
            check_printed(path, UPRIGHT[paper], margin=6 * MM, least=7.5)
            assert "□ stands for a letter that this typeface does not have." in flat(text_of(path))


@pytest.mark.parametrize("name", ["2026-W46", "2027-W08"])
def test_what_is_read_standing_is_at_least_eleven_points(name, printed):
    # 11 pt is 3.9 mm; the sheets of five lots are set closer, to one page
    path = printed(5, name)
    listed = pieces(path)
    assert listed[-1].page == 1
    pots = {str(p.lot.pots) for p in sample_plan(5).lots}
    numbers = [p for p in listed if p.bold and p.said in pots and p.x > 150 * MM]
    lots = [p for p in listed if re.fullmatch(r"T\d{3}", p.said) and p.bold]
    days = [p for p in listed if p.bold and p.x < SIDE + 6 and DATE.fullmatch(p.said)]
    degrees = [p for p in listed if re.fullmatch(r"\d+( / \d+)?\xa0?.*°C", p.said) and "▲" not in p.said]
    for found in (numbers, lots, days, degrees):
        assert found and min(p.size for p in found) >= 11 - 1e-6, found


@pytest.mark.parametrize(("paper", "unit"), [("A4", "C"), ("Letter", "F")])
@pytest.mark.parametrize(("lots", "name"), [*BUSY, (60, "2027-W10"), (90, "2027-W11"), (45, "2026-W46")])
def test_no_heading_is_left_alone_at_the_foot_of_a_page(lots, name, paper, unit, printed):
    plan, path = sample_plan(lots, unit, paper), printed(lots, name, paper, unit)
    titles = {capital(t.task) for t in plan.tasks} | {"Walk"}
    places = {p.name for p in plan.season.places} | {"Elsewhere"}
    listed = [p for p in pieces(path) if p.y > 13 * MM]  # without the footer
    for page in range(1, listed[-1].page + 1):
        on_page = [p for p in listed if p.page == page]
        headings = [
            p
            for p in on_page
            if p.bold and p.x < SIDE + 6 and (DATE.fullmatch(p.said) or p.said in places | {"OVERDUE"})
        ]
        works = [p.y for p in on_page if p.bold and (p.said in titles or re.fullmatch(r"T\d{3}", p.said))]
        readings = [p.y for p in on_page if p.said == "Temperatures"]
        for heading in headings:
            if readings and heading.y < readings[0]:
                continue  # the places of the temperature table are rows, not headings
            if heading.said in places and heading.size > 10:
                continue  # so are those of the week's walks
            assert any(y < heading.y and heading.y - y < 50 for y in works), (page, heading)


def test_a_day_that_runs_on_says_so_and_the_columns_are_named_again(tmp_path):
    plan = with_tasks(
        sample_plan(200), *looks(*((f"T{n:03}", "Bench 1", "white roots") for n in range(1, 201)))
    )
    pages = [flat(text) for text in pages_of(week(plan, "2027-W09", tmp_path))]
    work_pages = [text for text in pages if re.search("T[0-9]{3}", text)]
    assert len(work_pages) > 2
    assert all("cultivar, what to look for" in t and "done by" in t for t in work_pages)
    assert sum("Tue 2 Mar" in t and "continued" in t for t in work_pages) >= 2


def test_every_page_has_its_number_the_season_and_the_week(printed):
    path = printed(200, "2026-W48")
    pages = [flat(text) for text in pages_of(path)]
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text
        assert "fenêtre sur cour · 2026-W48" in text
    # the first page sends the reader to the page that has the cautions
    (where,) = re.findall(r"read the cautions on page (\d+)", pages[0])
    assert "Labels, local codes and the house's own rules come first." in pages[int(where) - 1]


def test_an_ordinary_week_is_one_page(tmp_path):
    plan = sample_plan(5)
    for name in ("2026-W46", "2026-W50", "2027-W08", "2027-W02"):
        assert len(PdfReader(week(plan, name, tmp_path)).pages) == 1, name
    letter = sample_plan(5, "F", "Letter")
    for name in ("2026-W50", "2027-W08", "2027-W02"):
        assert len(PdfReader(week(letter, name, tmp_path)).pages) == 1, name


def test_header_totals_and_days_by_hand(tmp_path):
    # T001 is 12 pots, T005 is 12 + 28 = 40; each task takes 0.03 h a pot: 0.36 and 1.2 h; the step down 0.5 h.
    # Mon: pot T001 + step down = 12 pots, 0.86 h; Tue: 12 pots, 0.36 h; Sat and Sun: 40 pots, 1.2 h each.
    # Sum 52 pots, each counted once, and 3.62 h;
    # overdue order of T001 adds 0.36 h. Nov 9 to Mar 20: 21 + 31 + 31 + 28 + 20 = 131 days.
    text = flat(text_of(week(sample_plan(5), "2026-W46", tmp_path)))
    for words in (
        "Spring in the Orangery – fenêtre sur cour",
        "Week 46 Mon 9 Nov – Sun 15 Nov 2026",
        "131 days from Monday to opening Sat 20 Mar 2027",
        "This week: 5 tasks · 52 pots · 3.6 h – into cooler 2, pot 2, step down 1",
        "overdue: 1 task · 0.4 h",
        "staff hours: 4.0 of 60.0",
        "2 tasks · 12 pots · 0.9 h",
        "Tue 10 Nov Cold room North 1 task · 12 pots · 0.4 h",
        "Nothing planned: Wed 11 Nov, Thu 12 Nov, Fri 13 Nov. Not working days: Sat 14 Nov, Sun 15 Nov.",
        "Mon 17 Aug, 78 days late",  # 17 Aug to 3 Nov: 14 + 30 + 31 + 3 = 78
    ):
        assert words in text, words


def test_row_says_what_how_many_from_where_to_where_and_what_to_look_for(tmp_path):
    task = Task("bring in/T003/1", date(2027, 3, 2), "T003", "bring in", 26, 0.8, "Cold room North", "Bench 1",
                "shoots 2-5 cm", ("lifting", "wet floor"))  # fmt: skip
    path = week(with_tasks(sample_plan(5), task), "2027-W09", tmp_path)
    text = flat(text_of(path))
    assert (
        "Tue 2 Mar Cold room North 1 task · 26 pots · 0.8 h "
        "Bring in ⚠ 1 2 → Bench 1 T003 L Zoë & <b>Co</b>, tulip shoots 2-5 cm 26" in text
    )  # user text as typed, and the class letter L: the third lot is late
    assert "⚠ 1 lifting · 2 wet floor – read the cautions below before you start." in text


def looks(*rows: tuple[str, str, str], states: tuple[str, ...] = ()) -> list[Task]:
    """Root checks on Tue 2 Mar 2027: lot, place and what to look for; `states` of the first of them."""
    day = date(2027, 3, 2)
    tasks = [
        Task(f"root check/{lot}", day, lot, "root check", 5, 0.1, bench, look_for=look)
        for lot, bench, look in rows
    ]
    return [replace(t, state=states[i]) if i < len(states) else t for i, t in enumerate(tasks)]


def test_the_same_work_of_several_lots_is_one_block(tmp_path):
    alike = [(f"T00{i}", "Bench 1", "green buds") for i in (1, 2, 3, 5)]
    tasks = looks(*alike, ("T004", "Bench 1", "no buds"), states=("done", "overdue"))
    plan = replace(with_tasks(sample_plan(5), *tasks), on=date(2027, 3, 4))
    path = week(plan, "2027-W09", tmp_path)
    text = flat(text_of(path))
    assert text.count("green buds") == 1 and text.count("no buds") == 1
    # T001 is done; T002 is two days late (2 to 4 March), each on a line that says what to do
    assert "3 lots" in text and text.count("2 days late") == 1 and "Root check done T001" in text
    assert Counter(rows(path, {"Root check"})) == Counter(
        ("Tue 2 Mar", "Root check", lot) for lot in ("T002", "T003", "T004", "T005")
    )


def test_what_many_places_would_say_is_said_once_before_the_first_task(tmp_path):
    # three places of the sheet: two would say it themselves
    three = looks(
        *((f"T00{i}", f"Bench {i}", "green buds") for i in (1, 2, 3)), ("T004", "Bench 4", "no buds")
    )
    text = flat(text_of(week(with_tasks(sample_plan(4), *three), "2027-W09", tmp_path)))
    assert text.count("green buds") == 1 and text.count("no buds") == 1
    assert text.index("wherever it is not said") < text.index("green buds") < text.index("Tue 2 Mar")
    text = flat(text_of(week(with_tasks(sample_plan(4), *three[:2]), "2027-W09", tmp_path)))
    assert text.count("green buds") == 2 and "wherever it is not said" not in text


def test_what_all_rows_of_a_work_end_with_is_said_once_before_the_first_task(tmp_path):
    def text_for(*said: str) -> str:
        tasks = looks(*((f"T00{i}", "Bench 1", words) for i, words in enumerate(said, start=1)))
        return flat(text_of(week(with_tasks(sample_plan(4), *tasks), "2027-W09", tmp_path)))

    text = text_for("lift A; mop up", "lift B; mop up", "lift C; mop up")
    assert text.count("mop up") == 1 and text.index("Root check: mop up") < text.index("lift A")
    # what only some end with would be said of all, and two rows say it themselves
    assert text_for("lift A; mop up", "lift B; mop up", "lift C", "lift D; mop up").count("mop up") == 3
    assert text_for("lift A; mop up", "lift B; mop up").count("mop up") == 2


def test_a_round_of_a_bench_is_one_task_that_names_its_lots(tmp_path):
    tasks = [
        replace(t, task="turn and space") for t in looks(*((f"T00{i}", "Bench 1", "turn") for i in (3, 1)))
    ]
    text = flat(text_of(week(with_tasks(sample_plan(3), *tasks), "2027-W09", tmp_path)))
    assert "Turn and space T001, T003 turn 10" in text and "1 task · 0.2 h" in text


def stage(name: str, lot: str, look_for: str, state: str = "planned", place: str = "Bench 1") -> Task:
    """A look at a stage on Tue 2 Mar 2027."""
    key = f"check {name}/{lot}/1"
    return Task(key, date(2027, 3, 2), lot, f"check {name}", 5, 0.1, place, None, look_for, (), state)


def test_the_looks_of_a_place_on_a_day_are_one_walk_with_a_box_for_each_lot(tmp_path):
    tasks = (
        stage("bud", "T010", "bud clear of the leaves: log the stage"),
        stage("colour", "T002", "lowest bells coloured: log the stage; stake spikes that lean"),
        stage("bud", "T003", "bud clear of the leaves: log the stage"),
        stage("shoots", "T004", "leaves up: log the stage", "done"),
        stage("bud", "T005", "bud clear of the leaves: log the stage", "done"),
        stage("bud", "T001", "bud clear of the leaves: log the stage", place="Bench 2"),
    )
    plan = with_tasks(sample_plan(10), *tasks)
    text = flat(text_of(week(plan, "2027-W09", tmp_path)))
    # what is done is one line too; a look alone is told as it is; three walks or rows and the two that are done
    assert (
        "Walk bud: ☐ T003 ☐ T010; colour: ☐ T002 bud clear of the leaves; lowest bells coloured; stake spikes that "
        "lean; log the stage" in text
    )
    assert "Stage checks done T004, T005" in text and "Check bud T001" in text
    assert "This week: 4 tasks · 0.6 h – stage checks 4" in text
    # on a screen each lot keeps its own, to be logged by itself
    (day,) = gather(plan, week_span("2027-W09"), on_paper=False).days
    assert sorted(t.key for _, listed in day.places for t in listed) == sorted(t.key for t in tasks)


def test_the_walks_of_a_week_are_one_block_with_a_box_a_lot_under_its_day(tmp_path):
    # Bench 1 is walked on Tue 2 and Thu 4 March, Bench 2 on Thursday alone; T001, T002 early, T003 mid, all tulips.
    look, thursday = "log the stage", date(2027, 3, 4)
    tasks = (
        stage("bud", "T003", f"bud clear: {look}"),
        stage("bud", "T001", f"bud clear: {look}"),
        replace(stage("colour", "T001", f"first colour: {look}; stake"), date=thursday, key="x"),
        replace(stage("colour", "T002", f"first colour: {look}; stake", place="Bench 2"), date=thursday),
        stage("shoots", "T004", f"leaves up: {look}", "done"),
    )
    path = week(with_tasks(sample_plan(10), *tasks), "2027-W09", tmp_path)
    text = flat(text_of(path))
    assert "Walks of the week 4 looks: tick, and log the stage Tue 2 Mar Thu 4 Mar" in text
    assert "Bud: bud clear Colour: first colour; stake task lot class" in text
    listed = pieces(path)
    boxes = {p.said.replace("\xa0", " "): p for p in listed if "☐" in p.said and p.bold}
    assert set(boxes) == {"☐ T001 ☐ T003", "☐ T001", "☐ T002"}
    across = {said: p.x for said, p in boxes.items()}
    first = {p.said: p for p in reversed(listed)}  # where each stands first
    assert first["Tue 2 Mar"].x <= across["☐ T001 ☐ T003"] < first["Thu 4 Mar"].x
    assert min(across["☐ T001"], across["☐ T002"]) > first["Thu 4 Mar"].x
    assert abs(boxes["☐ T002"].y - first["Bench 2"].y) < 3 and min(p.size for p in boxes.values()) >= 11
    # each day says where the walk goes, and counts it: two walks on Thursday; what is done has its own line
    assert "Tue 2 Mar 2 tasks · 0.3 h Walk Bench 1 see above" in text
    assert "Thu 4 Mar 2 tasks · 0.2 h Walk Bench 1, Bench 2 see above" in text
    assert "Stage checks done T004" in text
    assert "This week: 4 tasks · 0.5 h – stage checks 4" in text


def test_an_overdue_look_is_told_by_the_walk_at_a_later_stage_of_its_lot(tmp_path):
    # On Mon 1 March: the bud of T001 is 6 days late (23 February), T002's 3 (26 February) and has no later look.
    plan = replace(sample_plan(3), on=date(2027, 3, 1))
    late = [
        replace(stage("bud", lot, "bud clear: log the stage", "overdue"), date=date(2027, 2, day))
        for lot, day in (("T001", 23), ("T002", 26))
    ]
    plan = with_tasks(plan, *late, stage("colour", "T001", "first colour: log the stage"))
    text = flat(text_of(week(plan, "2027-W09", tmp_path)))
    assert (
        "Walks of the week 1 look: tick, and log the stage Tue 2 Mar Bench 1 colour ☐ T001 (bud 6 days late)"
        in text
    )
    assert "Bud: bud clear Colour: first colour" in text
    assert (
        "overdue: 1 task · 0.1 h" in text and "One task is overdue since Fri 26 Feb: check bud T002." in text
    )
    # the walk does not tell a stage by one that comes before it, and on a screen each is logged by itself
    facts = gather(with_tasks(plan, late[0], stage("shoots", "T001", "leaves up")), week_span("2027-W09"))
    assert (len(facts.overdue), facts.overtaken) == (1, {})
    assert len(gather(plan, week_span("2027-W09"), on_paper=False).overdue) == 2


def test_what_a_stage_looks_like_is_said_by_crop_where_it_differs():
    looks_ = [stage("bud", "A", "upright: log the stage"), stage("bud", "B", "firm: log the stage"),
              stage("bud", "C", "firm: log the stage"), stage("shoots", "D", "up: log the stage; stake")]  # fmt: skip
    whose = {
        name: Whose(None, None, crop) for name, crop in (("A", "narcissus"), ("B", "tulip"), ("C", "tulip"))
    }
    assert stages_look(looks_, whose) == [("shoots", "up; stake"), ("bud", "narcissus: upright; tulip: firm")]


def test_a_walk_of_very_many_lots_with_very_long_names_still_prints(tmp_path):
    plan = sample_plan(60)
    tasks = [
        replace(stage("bud", f"T{i:03d} {'long' * (i % 20)} name of a lot", "bud clear"),
                key=f"{i}", date=date(2027, 3, 2 + i % 2))
        for i in range(120)
    ]  # fmt: skip
    path = week(with_tasks(plan, *tasks), "2027-W09", tmp_path)
    check_printed(path, UPRIGHT["A4"], margin=6 * MM, least=7.5)
    assert text_of(path).count("☐") == 120


def test_what_comes_in_at_a_swap_is_set_out_and_swapped_in_one_row(tmp_path):
    day, words = date(2027, 3, 30), "Tubs: lift 24 of T002 (faded). T001 takes their places; water in"
    tasks = (
        Task("set out/T001/1", day, "T001", "set out", 12, 0.5, "Bench 1", "Terrace",
             "necks firm; spread the bloom evenly over the containers", ("lifting",)),
        Task("swap/T001/1", day, "T001", "swap", 10, 1.0, "Terrace", None, words, ("bulbs", "lifting")),
        Task("set out/T003/1", day, "T003", "set out", 28, 0.5, "Bench 1", "Terrace", "stems firm"),
        Task("swap/T004/1", day, "T004", "swap", 5, 1.0, "Terrace", None, "T004 has faded: lift its 5 pots"),
    )  # fmt: skip
    facts = gather(with_tasks(sample_plan(5), *tasks), week_span("2027-W13"))
    ((day_work),) = facts.days
    found = {
        place: [(t.lot, t.task, t.pots, t.hours, t.look_for) for t in listed]
        for place, listed in day_work.places
    }
    assert found == {
        "Bench 1": [
            ("T003", "set out", 28, 0.5, "stems firm"), ("T001", "set out and swap", 12, 1.5, f"necks firm. {words}"),
        ],
        "Terrace": [("T004", "swap", 5, 1.0, "T004 has faded: lift its 5 pots")],
    }  # fmt: skip
    # 12 + 28 + 5 pots; 1.5 + 0.5 + 1 hours
    assert (facts.work.tasks, facts.work.pots, facts.work.hours) == (3, 45, 3.0)


def test_boxes_are_not_called_pots(tmp_path):
    base = sample_plan(2)
    boxed, other = base.lots
    boxed = replace(boxed, lot=replace(boxed.lot, box_cm=(60.0, 40.0)))
    tasks = [
        Task(f"pot/{p.lot.name}/1", date(2026, 11, 11), p.lot.name, "pot", 20, 1.0, None) for p in base.lots
    ]
    plan = replace(with_tasks(base, *tasks), lots=(boxed, other))
    text = flat(text_of(week(plan, "2026-W46", tmp_path)))
    assert "This week: 2 tasks · 20 pots · 20 boxes · 2.0 h" in text and text.count("20 boxes") == 3
    assert summary(tasks[0], owners(plan)).endswith("(20 boxes)")


def test_every_page_of_work_has_its_day(printed):
    for lots, name in ((200, "2027-W11"), (200, "2026-W48"), (60, "2027-W10"), (30, "2027-W11")):
        path = printed(lots, name)
        for page in PdfReader(path).pages:
            words = flat(page.extract_text())
            if "done by" in words and re.search("Check|Walk|Pot|Into", words):
                before = words.split("done by")[1][:60]
                assert DATE.search(before) or "OVERDUE" in before or "Walks of the week" in before, before


def test_a_hundred_and_sixty_tasks_take_four_pages(tmp_path):
    # 200 lots: of 160 one task each in this week, over five days and three rooms
    plan = sample_plan(200)
    kinds = (("into cooler", "Cold room North"), ("root check", "Cold room South"), ("pot", None))
    tasks = [
        Task(f"{i}", date(2026, 11, 9) + DAY * (i % 5), f"T{i + 1:03d}", kinds[i % 3][0], 20, 0.3, kinds[i % 3][1],
             look_for=f"what to look for when it is time to {kinds[i % 3][0]}: labels readable, pots moist")
        for i in range(160)
    ]  # fmt: skip
    path = week(with_tasks(plan, *tasks), "2026-W46", tmp_path)
    assert len(PdfReader(path).pages) <= 4
    check_printed(path, UPRIGHT["A4"], margin=6 * MM, least=7.5)


def test_no_unit_and_no_short_word_stands_alone_on_a_line():
    assert (
        safe("lights shut; low of -2 °C forecast tonight")
        == "lights shut; low of -2\xa0°C forecast\xa0tonight"
    )
    assert safe("18 / 14 °C") == "18\xa0/\xa014\xa0°C" and safe("a <b") == "a &lt;b"


def test_cautions_once_each_and_only_those_of_the_week(printed):
    text = flat(text_of(printed(200, "2026-W45")))
    plan = sample_plan(200)
    used = {c for t in plan.tasks if t.date in week_span("2026-W45") for c in t.cautions}
    assert used == {"bulbs", "lifting", "cold room"}
    for key, caution in CAUTIONS.items():
        lead = caution.split(":")[0] + ":"
        assert text.count(lead) == (1 if key in used else 0), key


def test_cautions_print_their_whole_text(tmp_path):
    everything = tuple(CAUTIONS)
    for keys in (everything[:1], everything[:2], everything[:4], everything, (*everything, "bees")):
        task = Task("x", date(2027, 1, 5), "T001", "turn and space", 5, 0.1, "Bench 1", cautions=keys)
        path = week(with_tasks(sample_plan(1), task), "2027-W01", tmp_path)
        # columns stand beside each other: compare words, not their order on the page
        words = Counter(text_of(path).split())
        for key in keys:
            for word, times in Counter(CAUTIONS.get(key, key).split()).items():
                assert words[word] >= times, (key, word)


def test_many_overdue_are_all_listed_on_a_line_each(tmp_path):
    plan = replace(sample_plan(60), on=date(2027, 1, 6))
    late = tuple(replace(t, state="overdue") for t in plan.tasks if t.date < date(2026, 11, 20))
    plan = replace(plan, tasks=late + tuple(t for t in plan.tasks if t.date >= date(2026, 11, 20)))
    path = week(plan, "2027-W01", tmp_path)
    listed = pieces(path)
    lots = Counter(p.said for p in listed if re.fullmatch(r"T\d{3}", p.said))
    assert lots == Counter(t.lot for t in late if t.lot)
    # 11 Aug 2026 to 6 Jan 2027: 20 + 30 + 31 + 30 + 31 + 6 = 148 days
    assert "11 Aug, 148 days late" in flat(text_of(path))
    assert len(late) > 100
    assert listed[-1].page <= 2 + len(late) / 25  # compactly: at least 25 to a page


def test_overdue_of_this_week_stays_under_its_day_and_done_work_is_ticked(tmp_path):
    base = sample_plan(3)
    days = [date(2027, 1, 4 + i) for i in range(3)]
    tasks = [Task(f"turn/{i}", days[i], f"T00{i + 1}", "turn and space", 9, 0.1, "Bench 1") for i in range(3)]
    states = ("overdue", "done", "not logged")
    tasks = [replace(t, state=s) for t, s in zip(tasks, states, strict=True)]
    path = week(replace(base, on=date(2027, 1, 7), tasks=tuple(tasks)), "2027-W01", tmp_path)
    assert [day for day, _, _ in rows(path, {"Turn and space"})] == ["Mon 4 Jan", "Wed 6 Jan"]
    text = flat(text_of(path))
    assert "OVERDUE" not in text
    for words in ("3 days late", "not logged"):  # 4 to 7 January
        assert words in text
    # what is done has one short line under its day: no caution, nothing to look for, nothing to sign
    assert "Tue 5 Jan Bench 1 1 task · 0.1 h Turn and space done T002 9" in text


def test_empty_week_says_so_and_keeps_room_to_write(tmp_path):
    plan = with_tasks(sample_plan(5))
    path = week(plan, "2027-W02", tmp_path)
    text = flat(text_of(path))
    assert text.count("This week: nothing planned") == 1 and "No tasks" not in text
    assert "W03, 18–24 Jan: nothing planned" in text
    assert "Counts and notes" in text and "Temperatures" in text
    assert len(PdfReader(path).pages) == 1


def test_no_lots_no_places_no_show_yet(tmp_path):
    empty = sample_plan(0)
    season = replace(empty.season, places=(), displays=())
    path = week(
        replace(empty, season=season, tasks=(), rooms=(), loads=(), findings=()), "2027-W02", tmp_path
    )
    assert "This week: nothing planned" in flat(text_of(path))
    assert "Temperatures" not in text_of(path)


def test_week_53_and_the_turn_of_the_year(tmp_path):
    # ISO 8601: 2026 has 53 weeks (1 January 2026 is a Thursday); W53 is 28 Dec 2026 to 3 Jan 2027.
    days = (date(2026, 12, 27), date(2026, 12, 28), date(2027, 1, 1), date(2027, 1, 3), date(2027, 1, 4))
    tasks = [Task(f"hold/{d}", d, "T001", "hold", 5, 0.1, "Bench 1", "Cold room North") for d in days]
    path = week(with_tasks(sample_plan(1), *tasks), "2026-W53", tmp_path)
    assert path.name == "week-2026-W53.pdf"
    assert [day for day, _, _ in rows(path, {"Hold"})] == ["Mon 28 Dec", "Fri 1 Jan", "Sun 3 Jan"]
    text = flat(text_of(path))
    assert "Week 53 Mon 28 Dec – Sun 3 Jan 2027" not in text  # both years are named
    assert "Week 53 Mon 28 Dec 2026 – Sun 3 Jan 2027" in text
    assert "W01, 4–10 Jan: 1 task" in text


def test_year_of_the_file_name_is_the_iso_year(tmp_path):
    # ISO 8601: Mon 30 Dec 2024 belongs to 2025-W01
    span = Span(date(2024, 12, 30), date(2025, 1, 6))
    assert write_week(sample_plan(1), span, tmp_path, created=CREATED).name == "week-2025-W01.pdf"


@pytest.mark.parametrize("start", [date(2026, 11, 3), date(2026, 11, 1)])
def test_a_span_that_is_not_an_iso_week_is_refused(start, tmp_path):
    with pytest.raises(ValueError, match="Monday to Monday"):
        write_week(sample_plan(1), Span(start, start + timedelta(days=7)), tmp_path, created=CREATED)
    with pytest.raises(ValueError, match="Monday to Monday"):
        write_week(sample_plan(1), Span(monday(start), monday(start) + DAY), tmp_path, created=CREATED)
    assert list(tmp_path.iterdir()) == []


# ---------------------------------------------------------------- the file


@pytest.mark.parametrize(("lots", "name", "paper"), [(5, "2026-W46", "A4"), (200, "2027-W11", "Letter")])
def test_file_is_whole_and_its_fonts_are_inside(lots, name, paper, printed):
    path = printed(lots, name, paper, "F" if paper == "Letter" else "C")
    with pikepdf.open(path) as pdf:
        check = getattr(pdf, "check_pdf_syntax", None) or pdf.check  # the name before pikepdf 10
        assert check() == []
        assert str(pdf.Root.Lang) == "en-GB"
        fonts = [font for page in pdf.pages for font in page.Resources.Font.values()]
        assert fonts
        for font in fonts:
            assert "DejaVuSans" in str(font.BaseFont)
            assert "/FontFile2" in font.FontDescriptor
            assert "/ToUnicode" in font  # so that text can be copied


def test_metadata_and_dates(tmp_path):
    reader = PdfReader(week(sample_plan(5), "2026-W46", tmp_path), strict=True)
    assert reader.metadata.title == "Task sheet 2026-W46: Spring in the Orangery – fenêtre sur cour"
    assert reader.metadata.author == "forcing"
    assert reader.metadata.subject == "Tasks for Mon 9 Nov – Sun 15 Nov 2026"
    assert reader.metadata.creation_date == CREATED


def test_same_plan_gives_the_same_bytes(tmp_path):
    first = week(sample_plan(30), "2027-W11", tmp_path / "a").read_bytes()
    week(sample_plan(7), "2026-W46", tmp_path / "c")  # another sheet between must not leave traces
    plan = sample_plan(30)
    shuffled = replace(plan, tasks=tuple(reversed(plan.tasks)))
    assert week(shuffled, "2027-W11", tmp_path / "b").read_bytes() == first


def test_a_folder_that_cannot_be_written_is_an_output_error(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("here already")
    with pytest.raises(OutputError):
        week(sample_plan(1), "2026-W46", blocked)
    assert blocked.read_text() == "here already"


def test_an_old_sheet_is_replaced_whole(tmp_path):
    old = tmp_path / "week-2026-W46.pdf"
    old.write_text("old")
    assert week(sample_plan(1), "2026-W46", tmp_path) == old
    assert old.read_bytes().startswith(b"%PDF-")
    assert [p.name for p in tmp_path.iterdir()] == [old.name]


# ---------------------------------------------------------------- hostile and long text


def test_long_names_wrap_and_are_never_cut(tmp_path):
    lot = Lot("Lot of the upper terrace, second potting, row 12", "tulip", 10, "mid",
              "Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichen " * 3, row=2)  # fmt: skip
    base = sample_plan(0)
    season = replace(base.season, lots=(lot,), title="Long title " * 20)
    look = "check " * 40
    tasks = (
        Task(
            "a",
            date(2027, 1, 5),
            lot.name,
            "turn and space",
            10,
            0.2,
            "A place of many words " * 4,
            "Bench 1",
            look,
        ),
    )
    path = week(replace(base, season=season, tasks=tasks), "2027-W01", tmp_path)
    squeezed = re.sub(r"\s+", "", text_of(path))
    for words in (lot.name, lot.cultivar, look, "A place of many words " * 4, "Long title " * 20):
        assert re.sub(r"\s+", "", words) in squeezed, words
    for piece in pieces(path):
        assert piece.box[2] <= 595.28 - SIDE + 0.5, piece


def test_control_characters_and_giant_cells_still_print(tmp_path):
    lot = Lot("T\x00001\x1b", "tulip", 10, None, "x" * 40_000 + "\ud800", row=2)
    base = sample_plan(0)
    season = replace(base.season, lots=(lot,), title="<font color='red'>&amp;\x07</font>")
    task = Task("a", date(2027, 1, 5), lot.name, "hold", 10, 0.2, "B\n1", "C\u2028 2", "y" * 40_000)
    text = text_of(week(replace(base, season=season, tasks=(task,)), "2027-W01", tmp_path))
    assert "<font color='red'>&amp; </font>" in text
    assert "…" in text  # 40,000 letters in one cell are shortened, and show it


def test_companions_and_unknown_lots_have_a_row_too(tmp_path):
    base = sample_plan(1)
    mine = (Companion("V1", "viola", 30, row=2), Companion("Violas", "viola", 20, row=3))
    season = replace(base.season, companions=mine)
    tasks = (
        Task("a", date(2027, 1, 5), "V1", "set out", 30, 0.2, "Frame", "Terrace"),
        Task("b", date(2027, 1, 6), "Lost cause", "pot", 10, 0.2, None),
        Task("c", date(2027, 1, 7), "nobody knows", "pot", 10, 0.2, None),
        Task("d", date(2027, 1, 8), "Violas", "set out", 20, 0.2, "Frame", "Terrace"),
    )
    text = flat(text_of(week(replace(base, season=season, tasks=tasks), "2027-W01", tmp_path)))
    assert "V1 viola 30" in text
    assert "Violas 20" in text  # its name says what it is
    assert "Lost cause tulip 10" in text
    assert "nobody knows 10" in text


# ---------------------------------------------------------------- set temperatures


def rooms(plan: Plan, name: str) -> dict[str, tuple[str, ...]]:
    return {room.place: room.settings for room in room_weeks(plan, week_span(name))}


def test_set_temperatures_and_changes_in_both_units():
    # 9 °C = 48.2 °F, 5 °C = 41 °F, 17/13 °C = 62.6/55.4 °F (NIST SP 811: t/°F = 1.8 t/°C + 32)
    celsius, fahrenheit = rooms(sample_plan(1), "2026-W46"), rooms(sample_plan(1, "F"), "2026-W46")
    assert celsius["Cold room North"] == ("5 °C from Mon 9 Nov, was 9 °C (all lots rooted)",)
    assert fahrenheit["Cold room North"] == ("41 °F from Mon 9 Nov, was 48 °F (all lots rooted)",)
    assert celsius["Bench 1"] == ("17 / 13 °C",)
    assert fahrenheit["Bench 1"] == ("62.6 / 55.4 °F",)
    assert celsius["Cold room South"] == ("5 °C",)  # the place's own standing setting
    assert celsius["Terrace"] == ("outdoors",)


def test_changes_on_the_first_and_last_day_and_none_the_week_after():
    span = week_span("2026-W46")
    for day in (span.start, span.start + timedelta(days=3), span.end - DAY):
        settings = (
            RoomSetting("Cold room North", Span(date(2026, 9, 1), day), 9, 9, "planned"),
            RoomSetting("Cold room North", Span(day, date(2027, 3, 1)), 5, 5, "planned"),
        )
        plan = replace(sample_plan(1), rooms=settings)
        (room,) = (r for r in room_weeks(plan, span) if r.place == "Cold room North")
        assert room.changes == (day,)
        assert len(room.settings) == (1 if day == span.start else 2)
        (after,) = (r for r in room_weeks(plan, week_span("2026-W47")) if r.place == "Cold room North")
        assert after.changes == () and after.settings == ("5 °C",)


def test_a_setting_that_ends_or_starts_is_a_change_and_places_without_one_say_so():
    span = week_span("2026-W46")
    settings = (
        RoomSetting("Store", Span(date(2026, 11, 11), date(2026, 11, 13)), 4, 4, "planned", "bulbs in"),
    )
    season = replace(sample_plan(1).season, places=(Place("Frame", "frame"),))
    found = {r.place: r for r in room_weeks(replace(sample_plan(1), rooms=settings, season=season), span)}
    assert found["Store"].settings == (
        "not set",
        "4 °C from Wed 11 Nov (bulbs in)",
        "not set from Fri 13 Nov, was 4 °C",
    )
    assert found["Frame"].settings == ("outdoors",)


def test_two_settings_alike_end_to_end_are_no_change():
    settings = tuple(RoomSetting("Frame", Span(a, b), 8, 8, "planned") for a, b in
                     ((date(2026, 9, 1), date(2026, 11, 11)), (date(2026, 11, 11), date(2027, 1, 1))))  # fmt: skip
    (room,) = (r for r in room_weeks(replace(sample_plan(1), rooms=settings), week_span("2026-W46"))
               if r.place == "Frame")  # fmt: skip
    assert room.settings == ("8 °C",) and room.changes == ()


def test_temperature_table_has_a_row_a_place_and_two_columns_a_day(tmp_path):
    plan = sample_plan(5)
    path = week(plan, "2026-W46", tmp_path)
    listed = pieces(path)
    top = next(p for p in listed if p.said == "Temperatures")
    below = [p for p in listed if p.y < top.y]
    # Pots stand in the cold rooms by then; nobody reads an empty bench.
    assert {p.said for p in below} & {p.name for p in plan.season.places} == {
        "Cold room North",
        "Cold room South",
    }
    assert sum(p.said == "low" for p in listed) == sum(p.said == "high" for p in listed) == 7
    # the change is marked in the column of its own day, the first
    marks = [p for p in below if p.said == "▲"]
    assert len(marks) == 1 and abs(marks[0].x - next(p.x for p in listed if p.said == "low")) < 20


def test_forty_places_go_on_over_pages(tmp_path):
    base = sample_plan(1)
    places = tuple(Place(f"Bench {i:02d} – north aisle", "bench", 10, day=17, night=13) for i in range(80))
    loads = tuple(PlaceLoad(place.name, 10, date(2027, 1, 13), (1.0,)) for place in places)
    season = replace(base.season, places=places)
    path = week(replace(base, season=season, rooms=(), loads=loads), "2027-W02", tmp_path)
    text = flat(text_of(path))
    assert all(text.count(f"Bench {i:02d} – north aisle") == 1 for i in range(80))
    assert len(PdfReader(path).pages) > 1


# ---------------------------------------------------------------- findings and words


def finding(severity, table="lots", row=2, message="cold too short", value=None):
    return Finding("x", severity, table, row, "pots", message, "do something", value)


def test_findings_of_this_week_only():
    # T001 (row 2) has work in W46, T002 (row 3) has none
    plan = sample_plan(5)
    sunday, monday = date(2026, 11, 15), date(2026, 11, 16)
    wanted = (
        finding("error"),
        replace(finding("error", "places", None), days=(sunday,)),
        replace(finding("warning", "places", 4), week="2026-W46"),
        replace(finding("warning", "places", 5), days=(date(2026, 11, 1), monday)),
    )
    other = (
        finding("warning"),
        finding("error", row=3),
        finding("error", "readings"),
        finding("error", "lots", None),
        finding("warning", "places", 4, "its words alone name 2026-W46 and 2026-11-15"),
        replace(finding("warning", "places", 4), week="2026-W47"),
        replace(finding("warning", "places", 4), days=(monday,)),
        replace(finding("warning", "places", 4), days=(date(2026, 10, 1), date(2026, 11, 8))),
        replace(finding("note", "places", 4), week="2026-W46"),
    )
    facts = gather(replace(plan, findings=other + wanted), week_span("2026-W46"))
    assert set(facts.findings) == set(wanted)


def test_what_to_do_about_a_long_finding_is_not_cut_off(tmp_path):
    words = "a share of its pots is in bloom and the chance that there are enough is small; " * 6
    long = Finding("thin", "error", "lots", 2, "pots", words.strip(), "bring in four days sooner", "v")
    assert len(str(long)) > 450
    text = flat(text_of(week(replace(sample_plan(5), findings=(long,)), "2026-W46", tmp_path)))
    assert "bring in four days sooner" in text


def test_findings_are_printed_and_a_flood_is_counted(tmp_path):
    flood = tuple(finding("error", value=f"v{i}") for i in range(9))
    text = flat(text_of(week(replace(sample_plan(5), findings=flood), "2026-W46", tmp_path)))
    assert text.count("error cold too short (v") == 6 and "row 2" not in text
    assert "… and 3 more in findings.csv" in text


def test_what_matters_first_stands_above_the_work_and_is_not_told_again(tmp_path):
    # seen on Tue 3 Nov; the sheet of another week does not tell what matters on that day
    plan = replace(sample_plan(5), findings=(replace(finding("error"), days=(date(2026, 11, 4),)),))
    text = flat(text_of(week(plan, "2026-W45", tmp_path)))
    assert text.index("Week 45") < text.index("This week:") < text.index("What matters first")
    assert text.count("cold too short. do something") == 1
    assert "What matters first" not in flat(text_of(week(plan, "2026-W46", tmp_path)))


def test_what_stands_first_is_not_told_again_for_fewer_lots(tmp_path):
    # of three late lots two are late in this week: one event, told once
    late = [
        replace(finding("warning"), code="lot-late", message=f"{lot} is late", lot=lot, days=(day,), several=Several(
            "{count} lots are late: {names}", "Warm them."))
        for lot, day in (("T001", date(2026, 11, 4)), ("T002", date(2026, 11, 5)), ("T003", date(2026, 12, 5)))
    ]  # fmt: skip
    text = flat(text_of(week(replace(sample_plan(5), findings=tuple(late)), "2026-W45", tmp_path)))
    assert "2. 3 lots are late: T001, T002 and T003" in text
    assert "1. One task is overdue" in text
    assert "2 lots are late" not in text and "To be put right" not in text


def test_work_without_a_place_is_headed_by_what_it_is(tmp_path):
    day = date(2026, 11, 11)
    tasks = [Task(kind, day, "T001", kind, 12, 0.5, None) for kind in ("pot", "unpack")]
    tasks.append(Task("move", day, "T001", "move", 12, 0.5, "Bench 1"))
    text = flat(text_of(week(with_tasks(sample_plan(1), *tasks), "2026-W46", tmp_path)))
    assert "Bulb store, Potting" in text and "Elsewhere" not in text


@pytest.mark.parametrize(
    ("monday_", "big", "words"),
    [
        (date(2027, 3, 8), "12", "days from Monday to opening: Sat 20 Mar 2027"),
        (date(2027, 3, 15), "5", "days from Monday to opening: Sat 20 Mar 2027"),
        (date(2027, 3, 22), "Open", "until Sun 2 May 2027: since Sat 20 Mar"),
        (date(2027, 4, 26), "Open", "until Sun 2 May 2027: since Sat 20 Mar"),
        (date(2027, 5, 3), "Closed", "since Mon 3 May 2027"),
    ],
)
def test_days_to_opening(monday_, big, words):
    assert opening_words(Span(date(2027, 3, 20), date(2027, 5, 3)), monday_) == (big, words)


def test_one_day_to_opening_and_opening_on_a_monday():
    assert opening_words(Span(date(2027, 3, 23), date(2027, 5, 3)), date(2027, 3, 22)) == (
        "1", "day from Monday to opening: Tue 23 Mar 2027")  # fmt: skip
    assert opening_words(Span(date(2027, 3, 22), date(2027, 5, 3)), date(2027, 3, 22))[0] == "Open"


def test_hours_are_never_a_nought_that_hides_work():
    assert [hours_words(h) for h in (0, 0.02, 0.05, 3.62, 1234.5)] == [
        "0.0 h", "under 0.1 h", "0.1 h", "3.6 h", "1,234.5 h"]  # fmt: skip


def test_week_words_name_both_years_only_where_they_differ():
    assert week_words(week_span("2026-W45")) == "Mon 2 Nov – Sun 8 Nov 2026"
    assert week_words(week_span("2026-W53")) == "Mon 28 Dec 2026 – Sun 3 Jan 2027"


def test_work_is_grouped_by_place_in_the_seasons_order_and_lots_count_up():
    day = date(2027, 1, 5)
    tasks = tuple(
        Task(f"{lot}/{place}", day, lot, task, 1, 0.1, place, to)
        for lot, task, place, to in (
            ("T10", "bring in", "Bench 1", None),
            ("T9", "bring in", "Bench 1", None),
            ("T1", "pot", None, None),
            ("T2", "into cooler", None, "Cold room South"),
            ("T3", "root check", "Cold room North", None),
            ("T4", "root check", "Attic", None),
        )
    )
    (work,) = gather(with_tasks(sample_plan(1), *tasks), week_span("2027-W01")).days
    assert [(place, [t.lot for t in listed]) for place, listed in work.places] == [
        ("Cold room North", ["T3"]),
        ("Cold room South", ["T2"]),
        ("Bench 1", ["T9", "T10"]),
        ("Attic", ["T4"]),
        (None, ["T1"]),
    ]


def test_holidays_count_as_days_without_work(tmp_path):
    base = sample_plan(1)
    season = replace(
        base.season,
        calendar=WorkCalendar(frozenset(range(5)), frozenset({date(2026, 12, 24), date(2026, 12, 25)})),
    )
    task = Task("a", date(2026, 12, 22), "T001", "hold", 1, 0.1, "Bench 1")
    text = flat(text_of(week(replace(base, season=season, tasks=(task,)), "2026-W52", tmp_path)))
    assert "Not working days: Thu 24 Dec, Fri 25 Dec, Sat 26 Dec, Sun 27 Dec." in text
    # a working weekday on which the house is closed stands before the work; a weekend is nothing new
    assert "house closed: Thu 24 Dec – Fri 25 Dec |" in text.split("Tue 22 Dec")[0]
    assert iso_week(task.date) == "2026-W52"


def test_the_next_two_weeks_take_three_lines():
    # 30 Nov to 6 Dec and 7 to 13 Dec 2026; three checks of stages are one kind of work.
    rows = (
        (date(2026, 11, 30), "T001", "check shoots", 10, 0.5), (date(2026, 12, 1), "T001", "check bud", 10, 0.5),
        (date(2026, 12, 6), "T002", "check colour", 10, 0.5), (date(2026, 12, 2), "T002", "bring in", 20, 1.0),
        (date(2026, 12, 13), "T003", "wash crates", 0, 2.0),
    )  # fmt: skip
    tasks = [Task(f"{task}/{day}", day, lot, task, pots, hours, None) for day, lot, task, pots, hours in rows]
    facts = gather(with_tasks(sample_plan(3), *tasks), week_span("2026-W48"))
    assert facts.ahead == (
        "W49, 30 Nov – 6 Dec: 4 tasks · 20 pots · 2.5 h – bring in 1, stage checks 3",
        "W50, 7–13 Dec: 1 task · 2.0 h – wash crates 1",
    )


def test_counts_are_written_in_the_columns_of_the_log(printed):
    # season/tables: the log has date, lot, event, place, pots and note
    text = flat(text_of(printed(5, "2027-W08")))
    assert (
        "Counts and notes What is written here goes into the log. day lot or place event, stage or count pots note who"
        in text
    )


def test_work_that_has_moved_is_told_and_moved_looks_are_not():
    old = with_tasks(
        sample_plan(2), Task("x", date(2027, 1, 6), "T001", "check bud", 5, 0.1, None),
        Task("y", date(2027, 1, 8), "T002", "bring in", 5, 0.1, None),
    )  # fmt: skip
    new = with_tasks(old, *(replace(t, date=t.date + DAY) for t in old.tasks))
    assert gather(new, week_span("2027-W01"), before=old).changed == (
        "bring in T002: Sat 9 Jan instead of Fri 8 Jan",
    )


def test_what_has_changed_since_last_week_is_said(tmp_path: Path) -> None:
    plan = sample_plan(30)
    week = Span(date(2026, 11, 2), date(2026, 11, 9))
    mine = [t for t in plan.tasks if t.date in week and t.lot is not None]
    moved, gone, new = mine[0], mine[1], mine[2]
    # Last week's plan, by hand: one task a day later, one that is no longer wanted, one not yet there.
    before = replace(
        plan,
        tasks=tuple(replace(t, date=t.date + DAY) if t is moved else t for t in plan.tasks if t is not new),
    )
    now = replace(plan, tasks=tuple(t for t in plan.tasks if t is not gone))
    lines = gather(now, week, (), before).changed
    name = f"{moved.task.capitalize()} {moved.lot}"
    assert len(lines) == 3
    assert any(line.lower().startswith(name.lower()) and " instead of " in line for line in lines)
    assert sum("no longer on" in line for line in lines) == sum("new on" in line for line in lines) == 1
    path = write_week(now, week, tmp_path, created=CREATED, before=before)
    text = "".join(page.extract_text() for page in PdfReader(path).pages)
    assert "Changed since a week ago" in text
    assert gather(now, week, (), now).changed == ()


def test_the_frost_call_stands_under_the_title(tmp_path):
    # 2026-11-05 is a Thursday: on and off on working days; the 6th to the 7th goes off on a Saturday.
    plan = sample_plan(3)
    plan = replace(
        plan, on=date(2026, 11, 2),
        season=replace(plan.season, duty=((3, "AB"),), calendar=WorkCalendar(frozenset(range(5)))),
    )  # fmt: skip
    thursday = FrostNight(date(2026, 11, 5), "Troughs", "Court", 6, -3.0, "A", -1.0, 18.0, 2)
    friday = FrostNight(
        date(2026, 11, 6), "Frame", "Frame", 0, -7.0, "B", -2.2, None, 0, inside=("B", "C"), kind="frame"
    )
    path = write_week(plan, week_span("2026-W45"), tmp_path, created=CREATED, nights=(friday, thursday))
    words = flat(text_of(path))
    for said in (
        "Thu 5 Nov, -3 °C: Troughs (6 containers, 18 m² of cloth), two layers, one is not sure to be enough; "
        "on: AB; off Fri 6 Nov: ________",
        "on: ________; off Sat 7 Nov: ________ – NOBODY IS IN: ARRANGE",
        "two layers are not sure to be enough: bring in B and C",
    ):
        assert said in words
    assert words.count("by three in the afternoon") == 1
    assert words.index("Week 45") < words.index("FROST CALL") < words.index("This week:")
    assert "FROST CALL" not in flat(text_of(week(plan, "2026-W46", tmp_path)))


def test_what_the_frost_call_says_has_no_row_and_its_hours_count_once(tmp_path):
    # Frame shut on the evenings of Tue 3 and Sun 8 November; opened on Monday 2nd (the call of the week before), on
    # Wednesday, and on the Monday after; bring-in is not in the call's lines of work. 0.1 h each.
    plan = replace(sample_plan(3), on=date(2026, 11, 2))
    nights = [
        FrostNight(date(2026, 11, day), "Frame", "Frame", 0, -1.0, "Basil", limit, None, 1, kind="frame")
        for day, limit in ((3, 0.0), (8, -0.5))
    ]
    evenings = (date(2026, 11, 1), date(2026, 11, 3), date(2026, 11, 8))
    tasks = [
        Task(f"{kind}/Frame/{evening}", evening + DAY * later, None, name, 0, 0.1, "Frame", look_for="as always",
             cautions=("wet floor",))
        for evening in evenings
        for kind, name, later in (("cover", "close and mat", 0), ("uncover", "open", 1))
    ]  # fmt: skip
    plan = with_tasks(plan, *tasks[1:], Task("pot/T001/1", date(2026, 11, 3), "T001", "pot", 12, 1.0, None))
    path = write_week(plan, week_span("2026-W45"), tmp_path, created=CREATED, nights=nights)
    text = flat(text_of(path))
    assert "This week: 2 tasks · 12 pots · 1.1 h – pot 1, open 1" in text
    # closed on Tuesday and Sunday, opened on Wednesday: 0.3 h; with the rows 1.4 h
    assert "frost call: 0.3 h | staff hours: 1.4 of 60.0" in text
    assert "FROST CALL ⚠ 1" in text and "1 wet floor" in text and "Close and mat" not in text
    assert "Frames: lights shut by mid-afternoon while it is warm, mats on before sunset." in text
    assert "Tenderest in Frame: Basil, to 0 °C." in text
    # on a screen each is logged by itself
    assert len(gather(plan, week_span("2026-W45"), nights=nights, on_paper=False).tasks) == 5


def test_a_round_says_what_most_lots_ask_for_and_what_the_others_do(tmp_path):
    day, usual, other = date(2027, 1, 5), "turn the pots", "turn them a half"
    tasks = [
        Task(f"turn/{lot}", day, lot, "turn and space", 9, 0.1, "Bench 1", look_for=words)
        for lot, words in (
            ("T003", other),
            ("T001", usual),
            ("T002", usual),
            ("T010", other),
            ("T004", usual),
        )
    ]
    text = flat(text_of(week(with_tasks(sample_plan(10), *tasks), "2027-W01", tmp_path)))
    assert "T001, T002, T003, T004, T010" in text
    assert f"{usual}. T003, T010: {other}" in text


def test_a_week_without_work_says_when_the_next_comes(tmp_path):
    later = Task("pot", date(2026, 11, 24), "T001", "pot", 12, 0.5, None)
    text = flat(text_of(week(with_tasks(sample_plan(1), later), "2026-W45", tmp_path)))
    # seen on Tue 3 Nov; Tue 24 Nov is in week 48
    assert (
        "This week: nothing planned Next potting Tue 24 Nov; busiest is the week of Mon 23 Nov (0 h)." in text
    )
    assert "staff hours" not in text
    assert "Next potting" not in flat(text_of(week(with_tasks(sample_plan(1), later), "2026-W48", tmp_path)))


def test_a_single_frost_night_takes_one_line_and_one_above_freezing_is_not_called_a_frost(tmp_path):
    plan = replace(sample_plan(3), on=date(2026, 11, 2))
    # leaves may be 2.2 °C (4 °F) colder than the air: at 1 °C there may be ground frost, at 3 °C there is none
    nights = [
        FrostNight(date(2026, 11, day), "Frame", "Frame", 0, low, "Basil", 0.0, None, 1, kind="frame")
        for day, low in ((3, -1.0), (4, 1.0), (5, 3.0))
    ]
    path = write_week(plan, week_span("2026-W45"), tmp_path, created=CREATED, nights=nights)
    lines = [
        p.said.replace("\xa0", " ")
        for p in pieces(path)
        if p.said.startswith(("Tue 3 Nov,", "Wed 4", "Thu 5"))
    ]
    assert lines == [
        "Tue 3 Nov, -1 °C: Frame; on: ________; off Wed 4 Nov: ________",
        "Wed 4 Nov, 1 °C, ground frost possible: Frame; on: ________; off Thu 5 Nov: ________",
        "Thu 5 Nov, 3 °C, too cold for Basil: Frame; on: ________; off Fri 6 Nov: ________",
    ]
    (told,) = (p for p in matters(plan, nights[1:]).problems if p.kind == "frost")
    assert told.what.startswith("ground frost possible in the night of Wed 4 Nov: 1 °C is forecast")


def test_a_place_is_read_while_pots_stand_there_and_no_longer(tmp_path):
    # set to 9 °C on 28 September, pots from Mon 23 November on; cleared on Mon 19 April
    store, court = Place("Store", "cooler", 100), Place("Court", "site")
    base = sample_plan(1)
    loads = (
        PlaceLoad("Store", 100, date(2026, 11, 23), (10.0,) * 30),
        PlaceLoad("Court", None, date(2027, 4, 1), (10.0,) * 60),
    )
    rooms = tuple(
        RoomSetting("Store", Span(date(2026, *start), date(2026, *end)), degrees, degrees, "stated")
        for start, end, degrees in (((9, 28), (11, 18), 9), ((11, 18), (12, 30), 5))
    )
    clear = Task("clear/D/1", date(2027, 4, 19), None, "clear", 10, 1.0, "Court")
    plan = replace(
        base, season=replace(base.season, places=(store, court)), rooms=rooms, loads=loads, tasks=(clear,)
    )

    def read(name: str) -> list[str]:
        return [room.place for room in gather(plan, week_span(name)).rooms]

    # W40 begins on 28 September; in W47 the room is set for the pots of W48
    assert [read(name) for name in ("2026-W40", "2026-W46", "2026-W47", "2026-W48")] == [
        [],
        [],
        ["Store"],
        ["Store"],
    ]
    assert read("2027-W16") == ["Court"] and read("2027-W17") == []
