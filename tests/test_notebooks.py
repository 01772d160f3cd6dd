"""The notebooks run: their code cells, in order, in one namespace; and what they show is what they say."""

from __future__ import annotations

import ast
import contextlib
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib
import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(autouse=True)
def without_a_screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    matplotlib.use("Agg")
    from matplotlib import pyplot

    monkeypatch.chdir(ROOT)
    yield
    pyplot.close("all")


def cells(name: str) -> list[dict[str, Any]]:
    text = (ROOT / "notebooks" / f"{name}.ipynb").read_text(encoding="utf-8")
    found: list[dict[str, Any]] = json.loads(text)["cells"]
    return found


def run(name: str) -> tuple[dict[str, Any], str]:
    """The names a notebook leaves behind and what it prints; a last expression is shown, as a notebook does."""
    names: dict[str, Any] = {}
    with contextlib.redirect_stdout(io.StringIO()) as out:
        for cell in cells(name):
            if cell["cell_type"] == "code":
                exec("".join(cell["source"]), names)
    return names, out.getvalue()


@pytest.mark.parametrize("name", ["after", "autumn", "late-bloom"])
def test_it_is_kept_without_outputs_and_uses_the_public_face_only(name: str) -> None:
    assert {path.stem for path in (ROOT / "notebooks").glob("*.ipynb")} == {"after", "autumn", "late-bloom"}
    for cell in cells(name):
        if cell["cell_type"] == "code":
            assert cell["outputs"] == [] and cell["execution_count"] is None
            for node in ast.walk(ast.parse("".join(cell["source"]))):
                if isinstance(node, ast.ImportFrom):
                    assert not (node.module or "").startswith("forcing")
                if isinstance(node, ast.Import):
                    assert all(alias.name in ("forcing", "pandas") for alias in node.names)


def test_autumn() -> None:
    names, _ = run("autumn")
    season, days = names["season"], names["days"]
    on_it = [lot.name for lot in season.stated.lots if lot.bench == "South bench"]
    # Of a narcissus the cold buys so much heat that on a warmer bench it may take less of it, and an earlier day.
    south = [lot.name for lot in season.stated.lots if lot.name in on_it and lot.crop == "tulip"]
    # A warmer bench is come to later and a cooler one sooner, but for working days; lots of the other bench stay.
    assert (days.loc[south, "+2 °C"] > 0).all() and (days.loc[south, "-1 °C"] <= 0).all()
    assert (days.loc[south, "+1 °C"] <= days.loc[south, "+2 °C"] + 1).all()
    assert (days.drop(on_it) == 0).all(axis=None)
    stay = names["stay"].loc[south]
    assert (stay["+2 °C"] < stay["+0 °C"]).all() and (stay["+0 °C"] <= stay["-1 °C"]).all()
    # The hours of all weeks are those of all tasks.
    assert names["hours"].sum().sum() == pytest.approx(names["plan"].tasks.hours.sum())


def test_late_bloom() -> None:
    names, printed = run("late-bloom")
    off, pots = names["off"], names["pots"]
    assert (off["nothing"] > 0).all(), "every lot is late"
    per_pot = off.abs().mul(pots, axis=0).sum() / pots.sum()
    assert per_pot["steering"] < per_pot["nothing"]
    assert "cannot be saved" in printed and "Early narcissus" in printed


def test_after() -> None:
    names, printed = run("after")
    table, parts = names["table"], names["parts"]
    assert (parts.sum(axis=1) == table["bloom days late"]).all()
    assert "Later than planned" in printed and "with this season's weight" in printed
    days = names["days"]
    assert (days.low < days.typical).all() and (days.typical < days.high).all()
