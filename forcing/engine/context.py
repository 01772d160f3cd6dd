"""What every stage of the engine is given beside the season: the day it is seen from, minutes, progress."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date

from forcing.model import Minutes

Progress = Callable[[str], None]


def unwatched(text: str) -> None:
    """Progress that nobody watches."""


@dataclass(frozen=True, slots=True)
class Context:
    """How a season is worked out. `on`: the day it is seen from; the engine never asks the clock."""

    on: date
    minutes: Mapping[str, Minutes] = field(default_factory=dict)  # of staff, by task
    progress: Progress = unwatched
