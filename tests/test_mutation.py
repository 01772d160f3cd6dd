"""Mutants: small faults put into the code one at a time, to see whether the tests notice them.

The whole run is a command (see DEVELOPERS.md) and takes hours; here it is tried on one module, in a copy.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from tests.outside import library

ROOT = Path(__file__).parent.parent
BAR = 0.85  # of the mutants that any module has


def mutmut(folder: Path, *words: str) -> str:
    environment = {**os.environ, "PYTHONPATH": ""}  # the copy is tested, not what is installed or pointed at
    command = [sys.executable, "-m", "mutmut", *words]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done.stdout


def verdicts(folder: Path, module: str) -> Counter[str]:
    """How many mutants of a module were killed, survived, or met no test."""
    mutmut(folder, "run", "--max-children", "2", f"{module}.*")
    found = re.findall(
        rf"^ *{re.escape(module)}\.\S+: (.+)$", mutmut(folder, "results", "--all", "true"), re.M
    )
    return Counter(found)


@pytest.mark.slow
def test_the_tests_of_units_notice_most_mutants(tmp_path: Path) -> None:
    library("mutmut")
    copy = tmp_path / "copy"
    left_out = shutil.ignore_patterns(".*", "venv", "mutants", "build", "dist", "__pycache__")
    shutil.copytree(ROOT, copy, ignore=left_out)
    found = verdicts(copy, "forcing.units")
    print(found)
    assert found.total() > 50 and found["not checked"] == 0
    assert (found["killed"] + found["timeout"]) / found.total() >= BAR
