"""Programs and libraries that judge from outside. One that is missing is said, and where it is required that fails.

`.ci/run` installs them all and sets FORCING_OUTSIDE_CHECKS=required; elsewhere the test is skipped with the reason.
"""

from __future__ import annotations

import importlib
import os
import shutil
from typing import Any, NoReturn

import pytest

VARIABLE = "FORCING_OUTSIDE_CHECKS"


def program(name: str) -> str:
    """The path of a program on this machine."""
    return shutil.which(name) or _missing(f"the program {name} is not installed")


def library(name: str) -> Any:
    """A module of the test extra, imported where it is used: some take seconds."""
    try:
        return importlib.import_module(name)
    except ImportError as error:
        _missing(f"the library {name} cannot be imported: {error}")


def _missing(reason: str) -> NoReturn:
    if os.environ.get(VARIABLE) == "required":
        pytest.fail(f"outside check: {reason}", pytrace=False)
    pytest.skip(f"outside check: {reason}")
