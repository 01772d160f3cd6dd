"""Outside checks: one that is missing is skipped with its reason, and fails where it is required."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests import outside


def test_what_is_there_is_given() -> None:
    assert outside.library("math").pi == pytest.approx(3.14159, abs=5e-6)
    name = Path(sys.executable).name
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PATH", str(Path(sys.executable).parent))
        assert Path(outside.program(name)).name == name


@pytest.mark.parametrize("ask", [outside.program, outside.library])
def test_what_is_missing_is_skipped_or_fails(ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(outside.VARIABLE, raising=False)
    with pytest.raises(pytest.skip.Exception, match="no_such_thing"):
        ask("no_such_thing")
    monkeypatch.setenv(outside.VARIABLE, "required")
    with pytest.raises(pytest.fail.Exception, match="no_such_thing"):
        ask("no_such_thing")
