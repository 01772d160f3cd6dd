"""Files are written whole, sets of files appear together, and what killed runs leave behind is cleared."""

from __future__ import annotations

import csv
import hashlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from forcing.errors import OutputError
from forcing.files import MANIFEST, WHOLE, WRITING, one_set, replacing, write_text


def contents(folder: Path) -> dict[str, str]:
    return {p.name: p.read_text() for p in folder.iterdir() if p.is_file() and p.name != MANIFEST}


def manifest(folder: Path) -> dict[str, tuple[str, str]]:
    with (folder / MANIFEST).open(newline="") as file:
        return {row["file"]: (row["sha256"], row["run"]) for row in csv.DictReader(file)}


def leftovers(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if path.name.startswith(".")]


def write(folder: Path, **files: str) -> None:
    with one_set(folder) as new:
        for name, text in files.items():
            (new / name).write_text(text)


def a_dead_process() -> int:
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


# ---------------------------------------------------------------- single files


def test_a_file_is_replaced_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    write_text(path, "old")
    with pytest.raises(ValueError, match="half way"), replacing(path) as temporary:
        temporary.write_text("half")
        raise ValueError("half way")
    assert path.read_text() == "old" and leftovers(tmp_path) == []


def test_a_folder_in_the_way_and_an_over_long_name_are_said_in_words(tmp_path: Path) -> None:
    (tmp_path / "a.csv").mkdir()
    with pytest.raises(OutputError, match="a folder of that name"):
        write_text(tmp_path / "a.csv", "x")
    with pytest.raises(OutputError, match="too long"):
        write_text(tmp_path / ("n" * 300), "x")
    assert leftovers(tmp_path) == []


# ---------------------------------------------------------------- sets


def test_a_set_appears_together_and_says_what_each_file_should_be(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with one_set(out) as new:
        (new / "a.csv").write_text("a")
        (new / "b.csv").write_text("b")
        assert contents(out) == {}
    assert contents(out) == {"a.csv": "a", "b.csv": "b"}
    rows = manifest(out)
    assert rows["a.csv"][0] == hashlib.sha256(b"a").hexdigest()
    assert rows["a.csv"][1] == rows["b.csv"][1], "both are of one run"
    assert leftovers(out) == []


def test_files_of_other_runs_and_of_the_grower_stay(tmp_path: Path) -> None:
    write(tmp_path, **{"a.csv": "a", "b.csv": "b"})
    (tmp_path / "notes.txt").write_text("mine")
    first = manifest(tmp_path)
    write(tmp_path, **{"b.csv": "B", "c.csv": "c"})
    assert contents(tmp_path) == {"a.csv": "a", "b.csv": "B", "c.csv": "c", "notes.txt": "mine"}
    second = manifest(tmp_path)
    assert second["a.csv"] == first["a.csv"] and second["b.csv"][1] == second["c.csv"][1] != first["b.csv"][1]


def test_the_same_files_make_the_same_manifest(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write(tmp_path / name, **{"a.csv": "a"})
    assert (tmp_path / "one" / MANIFEST).read_bytes() == (tmp_path / "two" / MANIFEST).read_bytes()


def test_a_run_that_fails_leaves_the_old_set_and_nothing_new(tmp_path: Path) -> None:
    write(tmp_path / "out", **{"a.csv": "old"})
    for failure in (ValueError, KeyboardInterrupt):
        with pytest.raises(failure), one_set(tmp_path / "out") as new:
            (new / "a.csv").write_text("new")
            raise failure
    assert contents(tmp_path / "out") == {"a.csv": "old"} and leftovers(tmp_path / "out") == []
    with pytest.raises(ValueError), one_set(tmp_path / "never"):
        raise ValueError
    assert not (tmp_path / "never").exists()


def test_a_folder_where_a_file_should_be_stops_the_whole_set(tmp_path: Path) -> None:
    write(tmp_path, **{"a.csv": "old"})
    (tmp_path / "b.csv").mkdir()
    with pytest.raises(OutputError, match="a folder of that name"):
        write(tmp_path, **{"a.csv": "new", "b.csv": "new"})
    assert contents(tmp_path) == {"a.csv": "old"} and leftovers(tmp_path) == []


def test_a_file_that_cannot_be_moved_puts_the_old_set_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, **{"a.csv": "old", "b.csv": "old"})
    move = Path.replace

    def locked(self: Path, target: Path) -> Path:
        if Path(target).name == "b.csv" and self.read_text() == "new":
            raise PermissionError(13, "it is open in another program")
        return move(self, target)

    monkeypatch.setattr(Path, "replace", locked)
    with pytest.raises(OutputError, match="open in another program"):
        write(tmp_path, **{"a.csv": "new", "b.csv": "new", "c.csv": "new"})
    assert contents(tmp_path) == {"a.csv": "old", "b.csv": "old"} and leftovers(tmp_path) == []


# ---------------------------------------------------------------- killed runs


def left_by(folder: Path, kind: str, process: int, **files: str) -> Path:
    """A folder as a killed run leaves it: named by this machine, its process and its run."""
    with one_set(folder.parent / "probe") as probe:
        machine = probe.name.removeprefix(WRITING).split("-")[0]
        (probe / "x").write_text("")
    left = folder / f"{kind}{machine}-{process}-0123abcd-xyz"
    left.mkdir(parents=True)
    for name, text in files.items():
        (left / name).write_text(text)
    return left


def test_what_a_killed_run_was_writing_is_cleared_by_the_next(tmp_path: Path) -> None:
    out = tmp_path / "out"
    left_by(out, WRITING, a_dead_process(), **{"a.csv": "half"})
    write(out, **{"b.csv": "b"})
    assert contents(out) == {"b.csv": "b"} and leftovers(out) == []


def test_a_whole_set_of_a_killed_run_is_moved_by_the_next(tmp_path: Path) -> None:
    out = tmp_path / "out"
    left_by(out, WHOLE, a_dead_process(), **{"a.csv": "whole", "b.csv": "whole"})
    write(out, **{"b.csv": "newer"})
    assert contents(out) == {"a.csv": "whole", "b.csv": "newer"} and leftovers(out) == []


def test_a_former_process_of_the_same_number_is_gone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    left_by(out, WRITING, os.getpid())
    write(out, **{"b.csv": "b"})
    assert leftovers(out) == []


def test_what_a_living_run_is_writing_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    other = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:
        left = left_by(out, WRITING, other.pid, **{"a.csv": "half"})
        write(out, **{"b.csv": "b"})
        assert (left / "a.csv").read_text() == "half"
    finally:
        other.kill()
        other.wait()


WRITER = """
import sys
from pathlib import Path
from forcing.files import one_set
out, text = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
while True:
    with one_set(out) as new:
        for i in range(12):
            (new / f"{i}.txt").write_text(text * 4000)
"""


def killed_while_writing(out: Path, text: str, after: float) -> None:
    """A fresh process that writes sets as fast as it can, killed outright after some seconds."""
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(out), text], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    time.sleep(after)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    process.stdout.close()


def kills(out: Path, times: int) -> None:
    write(out, **{f"{i}.txt": "0" for i in range(12)})
    for turn in range(times):
        killed_while_writing(out, str(turn % 10), 0.003 + 0.0013 * (turn % 23))
        halves = [name for name, text in contents(out).items() if len(text) not in (1, 4000)]
        assert halves == [], "a file is half written"
        if not list(out.glob(f"{WHOLE}*")):
            for name, (digest, _) in manifest(out).items():
                assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest, "a mixed set"
        write(out, **{f"{i}.txt": "0" for i in range(12)})
        assert leftovers(out) == [] and set(contents(out).values()) == {"0"}


def test_a_few_kills_leave_no_half_file_no_mixed_set_no_leftover(tmp_path: Path) -> None:
    kills(tmp_path / "out", 6)


@pytest.mark.slow
def test_three_hundred_kills_leave_no_half_file_no_mixed_set_no_leftover(tmp_path: Path) -> None:
    kills(tmp_path / "out", 300)


# ---------------------------------------------------------------- a plan, killed

SEASON = {
    "season": "item,value\nopens,2027-03-20\ncloses,2027-04-20\nworking days,Mon-Sun\n",
    "places": "place,kind,pots,day,night\nCold,cooler,500,9,9\nBench,bench,300,16,16\n",
    "lots": "lot,crop,pots\nA,tulip,20\n",
}


def plan_killed(season: Path, out: Path, after: float) -> None:
    """`forcing plan` in a fresh process, killed outright some seconds after it has begun to write."""
    process = subprocess.Popen(
        [sys.executable, "-m", "forcing", "plan", str(season), "-o", str(out), "--on", "2026-11-02"],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stderr is not None
    for line in process.stderr:
        if "writing" in line:
            break
    time.sleep(after)
    process.kill()
    process.wait()
    process.stderr.close()


def plans_killed(folder: Path, times: int) -> None:
    season, out = folder / "season", folder / "out"
    season.mkdir()
    for name, text in SEASON.items():
        (season / f"{name}.csv").write_text(text)
    for turn in range(times):
        plan_killed(season, out, 0.02 + 0.11 * (turn % 37))
        if not list(out.glob(f"{WHOLE}*")):
            for name, (digest, _) in manifest(out).items() if (out / MANIFEST).exists() else ():
                assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest, "a mixed set"
    write(out, **{"last.csv": ""})
    assert leftovers(out) == []


def test_two_plans_killed_leave_no_mixed_set_and_no_leftover(tmp_path: Path) -> None:
    plans_killed(tmp_path, 2)


@pytest.mark.slow
def test_plans_killed_leave_no_mixed_set_and_no_leftover(tmp_path: Path) -> None:
    plans_killed(tmp_path, 74)
