"""The notebooks run: their code cells, in order, in one namespace."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.stem)
def test_the_notebook_runs(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    names: dict[str, Any] = {}
    with contextlib.redirect_stdout(io.StringIO()) as out:
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "code":
                assert cell["outputs"] == [], "notebooks are kept without outputs"
                exec("".join(cell["source"]), names)
    assert "TE1" in out.getvalue()
    # Tulips are brought in to a warmer bench later, never sooner.
    tulips = [name for name in names["stated"] if name.startswith("T")]
    assert all(names["cooler"][k] <= names["stated"][k] <= names["warmer"][k] for k in tulips)
