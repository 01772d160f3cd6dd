"""How work grows with its size, by counting calls: the same on a busy machine as on an idle one."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType

TIMES = 4


def calls(job: Callable[[], object]) -> int:
    """Calls of Python and C functions that a job makes."""
    count = 0

    def note(frame: FrameType, event: str, arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        job()
    finally:
        sys.setprofile(before)
    return count


def growth(job_of: Callable[[int], Callable[[], object]], size: int) -> float:
    """How many times the calls a job of four times the size makes: about 4 in step with its size, 16 with its square.

    `job_of(n)` prepares a job of size n; what it does before it returns is not counted. One run goes before, so that
    imports and caches count for neither.
    """
    job_of(size)()
    return calls(job_of(TIMES * size)) / calls(job_of(size))
