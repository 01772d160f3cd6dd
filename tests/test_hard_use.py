"""Hard use: whatever a season holds, a command answers in words, soon, and every plan it makes is sound.

The slips are those of tests/mutated_seasons.py. Each season is read, checked and planned in this process through the
command line; a refusal or a finding names its table, and what is planned passes the independent count.
"""

from __future__ import annotations

import random
import resource
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from forcing.cli import main
from tests.mutated_seasons import mutated, write_folder, write_workbook

CPU_SECONDS, MEGABYTES = 20.0, 1024.0
COMMANDS = (
    ("check",), ("check",), ("plan",), ("plan",), ("week", "--on", "2027-02-01"), ("outlook", "--on", "2027-03-01"),
    ("steer", "--on", "2027-03-01"), ("review",),
)  # fmt: skip
ODD_DAYS = ("1900-01-01", "2199-12-31", "0001-01-01", "9999-12-31", "2035-06-01")


def faults(seed: int, folder: Path) -> list[str]:
    """What went wrong with the season of a seed: nothing, if all is well."""
    rng = random.Random(seed)
    tables, slips = mutated(seed)
    season = folder / f"s{seed}"
    if seed % 5 == 0:
        season = write_workbook(season / "season.xlsx", tables, rng)
    else:
        write_folder(season, tables, rng)
    words = list(rng.choice(COMMANDS))
    if rng.random() < 0.05 and words[0] != "check":
        words = [words[0], "--on", rng.choice(ODD_DAYS)]
    if words[0] != "check":
        words += ["-o", str(folder / f"out{seed}")]
    begun = time.process_time()
    result = CliRunner().invoke(main, [words[0], str(season), *words[1:]])
    took = time.process_time() - begun
    found = []
    if result.exit_code not in (0, 1, 2):
        found.append(f"exit code {result.exit_code}")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        found.append(f"{type(result.exception).__name__}: {result.exception}")
    for word in ("Traceback", "fault of forcing", "plan-broken", "breaks a rule of its own"):
        if word in result.output:
            found.append(f"{word!r} is said: {result.output[-600:]}")
    if result.exit_code == 2 and ": " not in result.output:
        found.append(f"a refusal without a place: {result.output[:300]}")
    if took > CPU_SECONDS:
        found.append(f"{took:.0f} s of CPU")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    if memory > MEGABYTES:
        found.append(f"{memory:.0f} MB")
    return [f"seed {seed}, {' '.join(words)}, {'; '.join(slips)}: {fault}" for fault in found]


def run(seeds: range, folder: Path) -> list[str]:
    return [fault for seed in seeds for fault in faults(seed, folder)]


def test_a_few_mutated_seasons_are_answered_in_words(tmp_path: Path) -> None:
    assert run(range(25), tmp_path) == []


@pytest.mark.slow
@pytest.mark.parametrize("block", range(50))
def test_five_thousand_mutated_seasons_are_answered_in_words(block: int, tmp_path: Path) -> None:
    assert run(range(1000 + block * 100, 1100 + block * 100), tmp_path) == []
