"""The commands as a user meets them: exit codes, words, files; and the demo that shows it all."""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from forcing.api import load
from forcing.cli import main
from forcing.reports.frames import write_tables
from forcing.season.starter import DEMO_AUTUMN, write_demo
from tests.outside import program

ROOT = Path(__file__).parent.parent
SEASON_HEAD = "item,value\nopens,2027-03-20\ncloses,2027-04-20\nworking days,Mon-Sun\n"
PLACES = "place,kind,pots,day,night\nCold,cooler,500,9,9\nBench,bench,300,16,16\n"


def forcing(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def season_folder(folder: Path, **tables: str) -> Path:
    """A season as a folder of .csv files; what is not given is the small season above."""
    given = {"season": SEASON_HEAD, "places": PLACES, "lots": "lot,crop,pots\nA,tulip,20\n"} | tables
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in given.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, forcing("demo", folder)


# ---------------------------------------------------------------- demo


def test_the_demo_writes_every_sheet(demo: tuple[Path, Result]) -> None:
    folder, result = demo
    assert result.exit_code == 0, result.output
    names = {p.name for p in (folder / "sheets").iterdir()}
    assert {
        "plan.csv", "tasks.csv", "findings.csv", "season-plan.xlsx", "gantt.pdf", "gantt.png", "gantt.svg",
        "week-2026-W46.pdf", "tasks.ics", "cover.csv", "cover.pdf", "cover.png", "labels.pdf", "board.html",
        "planting.csv", "planting.pdf", "room-plan.pdf",
    } <= names  # fmt: skip
    winter = {p.name for p in (folder / "winter").iterdir()}
    assert {
        "week-2027-W10.pdf", "outlook.csv", "outlook.pdf", "outlook.png", "options.csv", "steer.csv", "moves.csv",
        "steer.pdf", "steer.png",
    } <= winter  # fmt: skip
    assert {p.name for p in (folder / "after").iterdir()} == {
        "review.csv", "next-crops.csv", "review.xlsx", "files.csv",
    }  # fmt: skip
    assert (folder / "season.xlsx").is_file() and (folder / "season" / "lots.csv").is_file()
    assert not [name for name in names if name.startswith(".")], "a temporary file was left behind"


def test_the_demo_is_a_season_of_the_size_promised(demo: tuple[Path, Result]) -> None:
    folder, _ = demo
    lots = rows(folder / "season" / "lots.csv")
    places = [row["kind"] for row in rows(folder / "season" / "places.csv")]
    assert len(lots) == 30
    assert {row["class"] for row in lots if row["crop"] == "tulip"} == {"early", "mid", "late"}
    assert len({row["crop"] for row in lots} - {"tulip"}) >= 4
    assert [places.count(kind) for kind in ("cooler", "bench", "frame", "site")] == [2, 4, 1, 1]


def test_the_demo_blooms_on_or_before_its_targets(demo: tuple[Path, Result]) -> None:
    folder, _ = demo
    targets = {row["lot"]: row["target bloom"] for row in rows(folder / "season" / "lots.csv")}
    shows: dict[str, str] = {}
    for row in rows(folder / "sheets" / "plan.csv"):
        if row["step"] == "show":
            shows.setdefault(row["lot"], row["start"])
    assert set(shows) == set(targets)
    late = {lot: day for lot, day in shows.items() if day > targets[lot]}
    assert late == {}


def test_what_opens_the_demo_bears_a_bench_a_degree_cooler(demo: tuple[Path, Result]) -> None:
    folder, _ = demo
    opens = {"Terrace tubs": "2027-03-20", "Stair urns": "2027-03-20", "Well beds": "2027-03-27"}
    first = [row for row in rows(folder / "sheets" / "lots.csv") if row["target"] <= opens[row["display"]]]
    assert len(first) == 13
    assert all(row["cooler"] <= opens[row["display"]] for row in first)


def test_the_demo_is_a_good_season_with_a_warning_or_two(demo: tuple[Path, Result]) -> None:
    folder, _ = demo
    severities = [row["severity"] for row in rows(folder / "sheets" / "findings.csv")]
    assert 1 <= severities.count("warning") <= 2 and "error" not in severities
    cover = rows(folder / "sheets" / "cover.csv")
    thin = [row for row in cover if float(row["share"]) < float(row["wanted"])]
    assert len(cover) == 30 + 30 + 23 and len(thin) <= 3  # 20 March to 18 April; the barrels open on the 27th


def test_the_demo_s_winter_has_late_lots_one_beyond_saving_and_steering_that_helps(
    demo: tuple[Path, Result],
) -> None:
    folder, result = demo
    late = [row["lot"] for row in rows(folder / "winter" / "outlook.csv") if int(row["days late"]) > 1]
    assert 3 <= len(late) <= 16  # its benches run 0.8 °C under what they are set to
    assert 1 <= result.output.count("cannot be saved") <= 3
    within = re.search(r"(\d+) of 30 lots within a day of target instead of (\d+)", result.output)
    assert within is not None and int(within[1]) > int(within[2])
    options = rows(folder / "winter" / "options.csv")
    (chosen,) = [row for row in options if row["recommended"] == "yes"]
    assert 1 <= int(chosen["actions"]) <= 6
    # At least 26 of 30, or the table shows what more would cost.
    more = max(options, key=lambda row: int(row["actions"]))
    assert int(chosen["within a day"]) >= 26 or int(more["within a day"]) > int(chosen["within a day"])


def test_the_workbook_opens_in_a_spreadsheet_program_and_prints_on_twelve_pages(
    demo: tuple[Path, Result], tmp_path: Path
) -> None:
    soffice = program("soffice")
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    book = demo[0] / "sheets" / "season-plan.xlsx"
    done = subprocess.run(
        [soffice, profile, "--headless", "--convert-to", "pdf", "--outdir", str(tmp_path), str(book)],
        capture_output=True, text=True, timeout=180, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    pages = [page.extract_text() for page in PdfReader(tmp_path / "season-plan.pdf").pages]
    assert len(pages) <= 12
    first, words = pages[0], "\n".join(pages)
    for said in ("What to do next", "Hours of work", "Hours there are", "Fullest cooler", "of its room"):
        assert said in first, said  # the chart and its key
    assert first.index("What to do next") < first.index("In numbers")
    for said in ("Companions", "Cooler calendar", "Orders", "Notices", "page 1 of"):
        assert said in words, said
    assert "Where in it, or how derived" not in words  # a head of the sheet Sources


def test_the_demo_in_fahrenheit_is_the_same_season(demo: tuple[Path, Result], tmp_path: Path) -> None:
    """All that `forcing demo --unit F` does more is done once by .ci/run, with the installed wheel."""
    folder, _ = demo
    made = load(write_demo(tmp_path, "F")).plan(on=DEMO_AUTUMN)
    for path in write_tables(made.result.plan, tmp_path):
        if path.name in ("plan.csv", "tasks.csv"):
            ours, theirs = rows(folder / "sheets" / path.name), rows(path)
            for row in (*ours, *theirs):
                row.pop("caution", None)
            assert ours == theirs


def test_workbook_and_folder_give_the_same_plan(demo: tuple[Path, Result], tmp_path: Path) -> None:
    folder, _ = demo
    made = load(folder / "season").plan(on=DEMO_AUTUMN)
    written = write_tables(made.result.plan, tmp_path)
    assert {path.name for path in written} >= {"plan.csv", "tasks.csv", "findings.csv"}
    for path in written:
        assert path.read_bytes() == (folder / "sheets" / path.name).read_bytes()


def test_the_same_season_gives_the_same_files_and_is_never_written(
    demo: tuple[Path, Result], tmp_path: Path
) -> None:
    folder, _ = demo
    before = (folder / "season.xlsx").read_bytes(), (folder / "season.xlsx").stat().st_mtime_ns
    forcing("plan", folder / "season.xlsx", "-o", tmp_path, "--on", "2026-11-09")
    for name in ("gantt.svg", "gantt.pdf", "week-2026-W46.pdf", "tasks.ics", "plan.csv"):
        assert (tmp_path / name).read_bytes() == (folder / "sheets" / name).read_bytes(), name
    assert before == ((folder / "season.xlsx").read_bytes(), (folder / "season.xlsx").stat().st_mtime_ns)


def test_the_examples_are_what_the_demo_writes(demo: tuple[Path, Result]) -> None:
    from forcing.season.read import read_season

    folder, _ = demo
    for file in sorted((folder / "season").iterdir()):
        assert (ROOT / "examples" / "season" / file.name).read_bytes() == file.read_bytes(), file.name
    season, findings = read_season(folder / "season.xlsx")
    assert len(season.agreed) == 2  # the examples have none
    made = replace(season, agreed=()), findings
    assert read_season(ROOT / "examples" / "season.xlsx") == read_season(ROOT / "examples" / "season") == made


# ---------------------------------------------------------------- plan, check, week, start, crops


def test_a_small_season_plans(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s")
    result = forcing("plan", season, "-o", tmp_path / "out", "--on", "2026-11-02")
    assert result.exit_code == 0, result.output
    steps = [(row["step"], row["place"]) for row in rows(tmp_path / "out" / "plan.csv")]
    assert steps == [("pot", ""), ("root", "Cold"), ("cool", "Cold"), ("bench", "Bench"), ("show", "Bench")]


def test_unplanned_lots_exit_1_and_the_rest_is_written(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s", lots="lot,crop,pots\nA,tulip,20\nB,moonflower,5\n")
    result = forcing("plan", season, "-o", tmp_path / "out", "--on", "2026-11-02")
    assert result.exit_code == 1
    assert {row["lot"] for row in rows(tmp_path / "out" / "plan.csv")} == {"A"}
    assert "lots, row 3, crop:" in result.output and "moonflower" in result.output
    checked = forcing("check", season)
    assert checked.exit_code == 1 and "\n1 error. Errors leave lots" in checked.output


def test_what_cannot_be_understood_exits_2_and_writes_nothing(tmp_path: Path) -> None:
    season = season_folder(
        tmp_path / "s",
        lots="lot,crop,pots,target bloom\nA,tulip,many,2027-03-20\nB,tulip,20,20/03/2027\n",
    )
    result = forcing("plan", season, "-o", tmp_path / "out", "--on", "2026-11-02")
    assert result.exit_code == 2
    assert "lots, row 2, pots:" in result.output and "lots, row 3, target bloom:" in result.output
    assert not (tmp_path / "out").exists()
    assert "Traceback" not in result.output


def test_all_that_is_wrong_is_told_at_once_also_behind_a_cell_that_cannot_be_read(tmp_path: Path) -> None:
    lots = "lot,crop,pots,bench\nA,tulip,many,Bench\nB,tullip,20,Bench\nC,tulip,20,Bnech\n"
    output = forcing("check", season_folder(tmp_path / "s", lots=lots)).output
    assert (
        "lots, row 2, pots:" in output and "lots, row 3, crop:" in output and "lots, row 4, bench:" in output
    )
    assert output.count("lots, row") == 3


def test_names_of_rows_that_cannot_be_read_are_known_and_others_are_not(tmp_path: Path) -> None:
    lots = "lot,crop,pots,split\nA,tulip,many,yes\nB,tulip,20,\n"
    log = "date,lot,event\n2026-11-09,A,potted\n2026-11-09,A b,potted\n2026-11-09,Z,potted\n"
    output = forcing("check", season_folder(tmp_path / "s", lots=lots, log=log)).output
    assert "lots, row 2, pots:" in output and "log, row 4, lot:" in output
    assert "log, row 2" not in output and "log, row 3" not in output
    # Of a table that cannot be read at all nothing is known, so no name of it is called unknown.
    unread = forcing("check", season_folder(tmp_path / "t", lots="a,b\n1,2\n", log=log)).output
    assert "log, row" not in unread


def told(folder: Path, **tables: str) -> list[str]:
    """Table, row and column of each finding of a season that cannot be read."""
    result = forcing("check", season_folder(folder, **tables))
    assert result.exit_code == 2, result.output
    return [
        line.split(": ")[1] for line in result.output.splitlines() if line.startswith(("error", "warning"))
    ]


def test_days_of_the_show_that_are_not_understood_hide_no_other_fault(tmp_path: Path) -> None:
    season = "item,value\nopens,20/03/2027\ncloses,2027-04-20\n"
    lots = "lot,crop,pots,bench,target bloom\nA,tullip,20,Bench,2027-03-20\nB,tulip,20,Bnech,\n"
    found = told(tmp_path / "s", season=season, lots=lots)
    assert found == ["lots, row 2, crop", "lots, row 3, bench", "season, row 2, value"]


def test_names_of_rows_that_are_left_out_are_known_and_others_are_not(tmp_path: Path) -> None:
    found = told(
        tmp_path / "s", lots="lot,crop,pots\nA,tulip,many\nB,tulip,20\n",
        places=PLACES + "Loft,bench,20,,\nHall,bench,20,16 C,\n",
        setpoints="place,from,day\nLoft,2027-01-01,61 F\n",
        log="date,lot,event,place\n2026-11-02,A,potted,\n2026-11-02,Q,potted,\n2026-11-03,B,cooler in,Hall\n"
        "2026-11-03,A,cooler in,Cld\n",
    )  # fmt: skip
    assert found == [
        "log, row 3, lot", "log, row 5, place", "lots, row 2, pots", "places, row 5, day", "setpoints, row 2, day",
    ]  # fmt: skip


def test_a_planting_that_is_left_out_is_not_called_missing(tmp_path: Path) -> None:
    found = told(
        tmp_path / "s", lots="lot,crop,pots,display\nA,tulip,20,Bowls\nB,tulip,20,Bowls\n",
        displays="display,containers,site\nBowls,10,Bench\n",
        plantings="display,lot or companion,pots per container\nBowls,A,2\nBowls,B,two\n",
    )  # fmt: skip
    assert found == ["plantings, row 3, pots per container"]


def test_a_table_that_cannot_be_opened_is_one_finding_and_not_one_for_each_of_its_names(
    tmp_path: Path,
) -> None:
    log = "date,lot,event\n2026-11-02,A,potted\n2026-11-03,A,cooler in\n"
    folder = season_folder(tmp_path / "s", log=log)
    (folder / "lots.csv").write_bytes("lot,crop,pots,cultivar\nA,tulip,20,Été\n".encode("cp1252"))
    result = forcing("check", folder)
    assert result.exit_code == 2 and result.output.count("error:") == 1 and "warning:" not in result.output
    assert "lots.csv, row 2: a letter or sign that is not UTF-8" in result.output


def test_a_delimiter_too_many_is_told_once_for_its_row_and_names_the_others(tmp_path: Path) -> None:
    lots = "lot,crop,pots,bench\nA,tulip,1,200,Bench\nB,tulip,20,Bnech\nC,tulip,1,300,Bench\n"
    folder = season_folder(tmp_path / "s", lots=lots)
    assert told(tmp_path / "s", lots=lots) == ["lots, row 2", "lots, row 3, bench"]
    assert "and so in row 4 (Bench). Put text that holds a comma" in forcing("check", folder).output


def test_the_same_fault_all_down_a_column_is_told_once_with_its_rows(tmp_path: Path) -> None:
    def readings(count: int) -> str:
        return "place;date;mean\n" + "".join(f"Cold;2026-12-{day:02d};8,5\n" for day in range(1, count + 1))

    assert told(tmp_path / "few", readings=readings(10)) == [
        "readings, rows 2, 3, 4, 5, 6, 7, 8, 9, 10 and 11, mean"
    ]
    assert told(tmp_path / "many", readings=readings(11)) == ["readings, row 2, mean"]
    output = forcing("check", tmp_path / "many").output
    assert (
        "a comma in a number, and so in rows 3, 4, 5, 6, 7 and 5 more (8,5). Write 8.5 with a point."
        in output
    )


def test_a_fault_of_the_program_itself_is_words_and_not_a_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("out of order")

    monkeypatch.setattr("forcing.api.work_out", fails)
    season = season_folder(tmp_path / "s")
    result = forcing("week", season, "-o", tmp_path / "out")
    assert result.exit_code == 2 and "Traceback" not in result.output
    assert "a fault of forcing itself, not of your season: RuntimeError: out of order." in result.output
    monkeypatch.setenv("FORCING_TRACEBACK", "1")
    assert isinstance(forcing("week", season, "-o", tmp_path / "out").exception, RuntimeError)


@pytest.mark.parametrize("command", ["check", "plan", "week", "outlook", "steer", "review"])
def test_a_season_without_lots_is_told_so_and_nothing_is_pretended(command: str, tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s", lots="lot,crop,pots\n")
    out = [] if command == "check" else ["-o", tmp_path / "out"]
    result = forcing(command, season, "--on", "2026-11-02", *out)
    assert result.exit_code == 1, result.output
    assert "error: lots: the season has no lots" in result.output
    assert "planned" not in result.output and not (tmp_path / "out").exists()


def test_a_place_whose_name_begins_another_s_is_told_to_be_overfull_too(tmp_path: Path) -> None:
    places = "place,kind,pots,day,night\nCold,cooler,500,9,9\nBench,bench,10,16,16\nBench 2,bench,10,16,16\n"
    lots = "lot,crop,pots,cooler,bench\nA,tulip,20,Cold,Bench\nB,tulip,20,Cold,Bench 2\n"
    season = season_folder(tmp_path / "s", places=places, lots=lots)
    result = forcing("plan", season, "--on", "2026-11-02", "-o", tmp_path / "out")
    over = re.findall(r"^warning: places, row (\d), pots: (Bench(?: 2)?) is", result.output, re.M)
    assert sorted(over) == [("3", "Bench"), ("4", "Bench 2")], result.output


def test_a_notebook_and_the_command_give_the_same_dates_to_lots_counted_from_their_displays(
    tmp_path: Path,
) -> None:
    import forcing as package

    season = season_folder(
        tmp_path / "s", lots="lot,crop,class,pots,display\nA,tulip,early,,Bowls\nB,tulip,mid,,Bowls\n",
        displays="display,containers,site\nBowls,10,Bench\n",
        plantings="display,lot or companion,pots per container\nBowls,A,2\nBowls,B,3\n",
    )  # fmt: skip
    assert forcing("plan", season, "-o", tmp_path / "out", "--on", "2026-09-01").exit_code == 0
    lots = package.load(season).plan(on="2026-09-01").lots
    # 10 bowls take 2 and 3 pots each.
    assert list(lots.pots) == [20, 30]
    written: dict[tuple[str, str], dict[str, str]] = {}
    for row in rows(tmp_path / "out" / "plan.csv"):
        written.setdefault((row["lot"], row["step"]), row)
    for name in ("A", "B"):
        assert written[name, "show"]["start"] == lots.bloom[name].date().isoformat()
        assert written[name, "bench"]["start"] == lots.bring_in[name].date().isoformat()
        assert written[name, "show"]["pots"] == str(lots.pots[name])


@pytest.mark.parametrize("words", [("check",), ("plan",), ("week",)])
def test_a_season_that_is_not_there(words: tuple[str, ...], tmp_path: Path) -> None:
    result = forcing(*words, tmp_path / "nowhere.xlsx")
    assert result.exit_code == 2 and "no such file" in result.output


def test_the_earliest_bloom_is_said_when_the_target_is_too_soon(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s", season=SEASON_HEAD + "bulbs in hand,2027-01-15\n")
    result = forcing("plan", season, "--on", "2026-11-02", "-o", tmp_path / "out")
    assert result.exit_code == 1 and re.search(r"earliest bloom possible is \w{3} \d+ \w{3};", result.output)


def test_week_writes_the_sheet_of_the_week_of_on(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s")
    result = forcing("week", season, "--on", "2027-01-02", "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    written = sorted(p.name for p in (tmp_path / "out").iterdir())
    assert written == [
        "board.html", "changes.csv", "entry-2026-W53.xlsx", "files.csv", "moves.csv", "options.csv", "outlook.csv",
        "outlook.pdf", "steer.csv", "steer.pdf", "week-2026-W53.pdf",  # ISO 8601
    ]  # fmt: skip


def test_a_date_in_another_order_is_refused(tmp_path: Path) -> None:
    result = forcing("week", season_folder(tmp_path / "s"), "--on", "02/11/2026")
    assert result.exit_code == 2 and "year-month-day" in result.output


def test_start_writes_a_workbook_and_never_over_one(tmp_path: Path) -> None:
    file = tmp_path / "mine.xlsx"
    assert forcing("start", file).exit_code == 0
    before = file.read_bytes()
    again = forcing("start", file)
    assert again.exit_code == 2 and "yours" in again.output
    assert file.read_bytes() == before
    assert forcing("start", tmp_path / "mine.ods").exit_code == 2


def test_crops_in_short_in_full_and_unknown() -> None:
    assert "hyacinth" in forcing("crops").output
    full = forcing("crops", "tulip", "--unit", "F").output
    assert "62.6" in full and "Cornell" in full  # 17 °C, the reference of the Cornell pot trials
    unknown = forcing("crops", "tulp")
    assert unknown.exit_code == 2 and "tulip" in unknown.output


@pytest.mark.slow
def test_two_hundred_lots_stay_under_400_megabytes(tmp_path: Path) -> None:
    lots = "lot,crop,class,pots,target bloom\n" + "".join(
        f"L{i},{('tulip', 'narcissus', 'hyacinth')[i % 3]},{('early', 'mid', 'late')[i // 3 % 3]},"
        f"{5 + i % 30},2027-0{3 + i % 2}-{10 + i % 18}\n"
        for i in range(200)
    )
    places = "place,kind,pots,day,night\nCold 1,cooler,2000,9,9\nCold 2,cooler,2000,7,7\n" + "".join(
        f"Bench {i},bench,900,{15 + i},{12 + i}\n" for i in range(4)
    )
    lots = lots.replace("\n", ",cooler,bench\n", 1)
    head, *body = lots.splitlines()
    body = [f"{line},Cold {1 + i % 2},Bench {i % 4}" for i, line in enumerate(body)]
    season = season_folder(tmp_path / "s", lots="\n".join([head, *body]) + "\n", places=places)
    # The peak of the process itself: ru_maxrss of a child would start from the size of the one that made it.
    code = (
        "import sys\nfrom pathlib import Path\nfrom forcing.cli import main\n"
        "try:\n    main(sys.argv[1:])\n"
        "finally:\n    print([x for x in Path('/proc/self/status').read_text().splitlines() if 'VmHWM' in x][0])\n"
    )
    words = ["plan", str(season), "-o", str(tmp_path / "out"), "--on", "2026-11-02"]
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)
    assert done.returncode in (0, 1), done.stderr
    assert len({row["lot"] for row in rows(tmp_path / "out" / "plan.csv")}) == 200
    peak = int(re.findall(r"VmHWM:\s+(\d+) kB", done.stdout)[0]) / 1024
    print(f"peak {peak:.0f} MB")
    assert peak < 400


# ---------------------------------------------------------------- hard use


@pytest.mark.parametrize("day", ["0001-01-01", "1979-12-31", "2200-01-01", "9999-12-31"])
def test_a_day_of_no_season_is_refused(day: str, tmp_path: Path) -> None:
    import forcing as package

    season = season_folder(tmp_path / "s")
    result = forcing("week", season, "--on", day, "-o", tmp_path / "out")
    assert result.exit_code == 2 and "cannot be right" in result.output and not (tmp_path / "out").exists()
    with pytest.raises(ValueError, match="on: the year"):
        package.load(season).plan(on=day)


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("2027-08-18", ""),  # 119 days after the last, 20 April; 120 are of the season
        ("2027-08-19", "long after the show has closed"),
        ("2035-06-01", "long after the show has closed"),
        ("1990-01-01", "years before the show opens"),
    ],
)
def test_a_day_far_from_the_show_is_told(day: str, words: str, tmp_path: Path) -> None:
    output = forcing("check", season_folder(tmp_path / "s"), "--on", day).output
    assert ("is seen from" in output) == bool(words) and words in output


def test_check_makes_no_search(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def searched(*_: object) -> None:
        raise AssertionError("it plans")

    monkeypatch.setattr("forcing.api.work_out", searched)
    log = "date,lot,event\n2026-11-09,A,rooted\n2026-11-08,A,potted\n2026-11-10,A,rooted\n"
    result = forcing("check", season_folder(tmp_path / "s", log=log), "--on", "2026-11-12")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "log, row 4" in result.output  # rooted twice: what the log shows is found without a plan


@pytest.mark.parametrize("inside", ["", "readings"])
def test_sheets_are_never_written_into_the_season_itself(inside: str, tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s")
    before = {p.name for p in season.iterdir()}
    result = forcing("week", season, "--on", "2027-01-02", "-o", season / inside)
    assert result.exit_code == 2 and "never written into" in result.output
    assert {p.name for p in season.iterdir()} == before


@pytest.mark.parametrize("stopped_in", ["forcing.api.read_season", "forcing.reports.week.write_week"])
def test_ctrl_c_is_130_and_leaves_the_old_set(
    stopped_in: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season = season_folder(tmp_path / "s")
    words = ("week", season, "--on", "2027-01-02", "-o", tmp_path / "out")
    assert forcing(*words).exit_code == 0
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(stopped_in, stopped)
    result = forcing(*words)
    assert result.exit_code == 130 and "Traceback" not in result.output
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before


def test_a_full_disk_is_said_in_words_with_nothing_new_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    season = season_folder(tmp_path / "s")
    words = ("outlook", season, "--on", "2027-01-02", "-o", tmp_path / "out")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")  # ENOSPC

    monkeypatch.setattr(Path, "write_text", full)
    result = forcing(*words)
    assert result.exit_code == 2 and "No space left on device" in result.output
    assert "Traceback" not in result.output and not (tmp_path / "out").exists()


def test_a_folder_in_the_way_of_a_sheet_is_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "out" / "week-2026-W53.pdf").mkdir(parents=True)
    words = ("week", season_folder(tmp_path / "s"), "--on", "2027-01-02", "-o", tmp_path / "out")
    result = forcing(*words)
    assert result.exit_code == 2 and "there is a folder of that name" in result.output
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["week-2026-W53.pdf"]
    (tmp_path / "file").write_text("")
    blocked = forcing(*words[:-1], tmp_path / "file" / "out")
    assert blocked.exit_code == 2 and "cannot write in" in blocked.output
    too_long = forcing(*words[:-1], tmp_path / ("n" * 300))
    assert too_long.exit_code == 2 and "Traceback" not in too_long.output


def in_a_terminal(words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """A command line run by a shell of its own."""
    return subprocess.run(
        ["bash", "-c", words], capture_output=True, check=False,
        env={**os.environ, "F": f"{sys.executable} -m forcing", **environment},
    )  # fmt: skip


def test_a_closed_pipe_is_silent(tmp_path: Path) -> None:
    lots = "lot,crop,pots\n" + "".join(f"L{i},moonflower {i},5\n" for i in range(2000))
    season = season_folder(tmp_path / "s", lots=lots)
    done = in_a_terminal(f"$F check {season} --on 2026-11-02 | head -1; exit ${{PIPESTATUS[0]}}")
    assert done.stdout.count(b"\n") == 1 and done.stderr == b""
    assert done.returncode == 141  # 128 and SIGPIPE


def test_a_terminal_that_has_no_letter_for_a_name_prints_a_substitute(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s", lots="lot,crop,pots\nA,tulip,20\n雪,moonflower,5\n")
    done = in_a_terminal(f"$F check {season} --on 2026-11-02", PYTHONIOENCODING="cp1252")
    assert done.returncode == 1 and b"lots, row 3, crop" in done.stdout and done.stderr == b""


def test_cells_that_would_be_run_as_formulas_are_written_safe_where_asked_for(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s", lots='lot,crop,pots\n"=1+1",tulip,20\n-B,tulip,20\n')
    words = ("outlook", season, "--on", "2027-03-02", "-o")
    assert forcing(*words, tmp_path / "plain").exit_code == 0
    assert forcing(*words, tmp_path / "safe", "--safe-csv").exit_code == 0
    plain, safe = rows(tmp_path / "plain" / "outlook.csv"), rows(tmp_path / "safe" / "outlook.csv")
    assert [row["lot"] for row in plain] == ["=1+1", "-B"]
    assert [row["lot"] for row in safe] == ["'=1+1", "'-B"]
    for row in (*plain, *safe):
        del row["lot"]
    assert plain == safe, "numbers below 0 stay numbers"


# ---------------------------------------------------------------- what the README says


def test_every_command_is_in_the_readme_and_the_other_way_round() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in main.commands:
        assert f"forcing {name}" in text, f"forcing {name} is not in the README"
    for name in re.findall(r"`forcing (\w+)", text):
        assert name in main.commands, f"the README names forcing {name}"


def test_the_help_is_whole_and_in_the_order_of_use() -> None:
    text = forcing("--help").output
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    order = re.findall(r"^\| `forcing (\w+)", readme, re.M)
    assert re.findall(r"^  (\w+) {2,}\S", text, re.M) == order == list(main.commands)
    assert "..." not in text.partition("Commands:")[2], "a line of the help is cut short"
    for name in main.commands:
        assert "..." not in forcing(name, "--help").output, name


def test_the_readme_shows_what_the_demo_prints(demo: tuple[Path, Result]) -> None:
    folder, result = demo
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = next(block for block in text.split("```") if "lots planned" in block).strip()
    printed = result.output.replace(str(folder), "forcing-demo")
    for line in shown.splitlines():
        for part in filter(None, (piece.strip() for piece in line.split("..."))):
            assert part in printed, part


def test_the_readme_names_every_file_that_is_written_and_no_other(demo: tuple[Path, Result]) -> None:
    folder, _ = demo
    written = {path.name for part in ("sheets", "winter", "after") for path in (folder / part).iterdir()}
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    named: set[str] = set()
    for cell in re.findall(r"^\| (`[^|]*)\|", readme.split("| file | what |")[1].split("\n\n")[0], re.M):
        stem = ""
        for name in re.findall(r"`([^`]+)`", cell):  # `gantt.pdf` `.png`: the second is gantt.png
            stem = stem if name.startswith(".") else name.partition(".")[0]
            named.add(stem + name if name.startswith(".") else name)
    assert {re.sub(r"-\d{4}-W\d\d", "", n) for n in written} == {
        re.sub(r"-\d{4}-W\d\d", "", n) for n in named
    }


def test_today_is_asked_of_the_clock_only_here(tmp_path: Path) -> None:
    season = season_folder(tmp_path / "s")
    assert forcing("week", season, "-o", tmp_path / "out").exit_code == 0
    year, number, _ = date.today().isocalendar()
    assert (tmp_path / "out" / f"week-{year}-W{number:02d}.pdf").is_file()


def test_every_table_and_column_can_be_printed() -> None:
    result = forcing("start", "--columns")
    assert result.exit_code == 0
    assert all(f"### `{name}`" in result.output for name in ("season", "places", "lots", "jobs", "log"))
    assert "| every |" in result.output and "| target bloom |" in result.output
    assert forcing("start").exit_code == 2


def test_a_plan_ends_with_what_comes_next_and_its_folder_on_one_line(tmp_path: Path) -> None:
    # Of the tasks in tasks.csv the first of each kind from that day on, and the week with the most hours.
    out = tmp_path / "out"
    done = forcing("plan", ROOT / "examples" / "small-season", "--on", "2026-11-09", "-o", out)
    ahead = [row for row in rows(out / "tasks.csv") if row["date"] >= "2026-11-09"]
    first = min(date.fromisoformat(row["date"]) for row in ahead if row["task"] == "bring in")
    hours: dict[str, float] = {}
    for row in ahead:
        hours[row["week"]] = hours.get(row["week"], 0.0) + float(row["hours"])
    busiest = max(hours, key=lambda week: hours[week])
    *_, dates, written = done.output.splitlines()
    assert f"bring in {first:%a} {first.day} {first:%b}" in dates
    first = date.fromisocalendar(int(busiest[:4]), int(busiest[6:]), 1)
    assert dates.endswith(f"busiest is the week of Mon {first.day} {first:%b} ({hours[busiest]:.0f} h).")
    assert (
        written == f"Written: {len(list(out.iterdir())) - 1} files in {out}"
    )  # beside the list of files itself
