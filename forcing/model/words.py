"""The words that fields of the nouns may hold."""

from __future__ import annotations

from typing import Literal

PlaceKind = Literal["cooler", "bench", "frame", "site"]
BloomClass = Literal["early", "mid", "late"]
Event = Literal[
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom",
    "held", "set out", "faded", "lost",
]  # fmt: skip
StepName = Literal["pot", "root", "cool", "bench", "hold", "harden", "show", "on show"]
Basis = Literal["planned", "actual", "expected"]
TaskState = Literal["planned", "due", "overdue", "done", "not logged"]
Paper = Literal["A4", "Letter"]
Shape = Literal["box", "tapered box", "cylinder", "frustum", "bowl", "barrel"]  # of a container

# In the order of life. `show` starts on the day of bloom; what is shown in another place later is `on show` there.
STEPS: tuple[StepName, ...] = ("pot", "root", "cool", "bench", "hold", "harden", "show")
CLASSES: tuple[BloomClass, ...] = ("early", "mid", "late")
