"""What the README shows in Python is what it gives; and every part of the face that it lists is there."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

import pandas as pd
import pytest

import forcing

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block_after(opening: str) -> str:
    return README.split(f"```{opening}\n", 1)[1].split("```", 1)[0]


def test_the_eight_lines_of_python_print_what_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = block_after("python")
    assert len([line for line in code.splitlines() if line]) == 8
    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    with contextlib.redirect_stdout(io.StringIO()) as out, pd.option_context("display.width", 80):
        exec(code, {})
    shown = README.split(code)[1].split("```\n")[2]
    assert out.getvalue() == shown
    assert {"plan.csv", "season-plan.xlsx", "gantt.pdf"} <= {p.name for p in (tmp_path / "sheets").iterdir()}


def test_every_name_of_the_face_that_it_lists_is_there_and_the_other_way_round() -> None:
    table = README.split("| of a season | gives |")[1].split("\n\n")[0]
    season = set(re.findall(r"^\| `\.(\w+)", table, re.M))
    assert season == {"findings", "plan", "outlook", "steer", "agree", "review", "why", "with_bench"}
    faces = (
        forcing.LoadedSeason, forcing.PlannedSeason, forcing.SeasonOutlook, forcing.SeasonSteering,
        forcing.SeasonReview, forcing.LotReasons, forcing.SeasonAgreement,
    )  # fmt: skip
    public = {name for face in faces for name in dir(face) if not name.startswith("_")}
    assert set(re.findall(r"`\.(\w+)", table)) <= public
    for face in faces:
        assert not [
            name
            for name, one in vars(face).items()
            if not name.startswith("_") and one is not None and not getattr(face, name).__doc__
        ]


def test_what_it_names_is_in_the_repository() -> None:
    for name in re.findall(r"`((?:notebooks|examples)/[\w./-]+)`", README):
        assert (ROOT / name).exists(), name
