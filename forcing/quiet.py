"""Nothing on the terminal from a library written in C: it writes past Python, on file descriptor 1."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def quiet() -> Iterator[None]:
    """Send standard output nowhere while the block runs, C's own buffer included, and back again."""
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # there is no standard output to keep clean
        yield
        return
    _flush()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        _flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _flush() -> None:
    """Empty the buffers of C's streams, where the C library can be reached by this name."""
    with suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).fflush(None)
