"""Files that are never half-written, and nothing on the terminal from a library written in C."""

from __future__ import annotations

import ctypes
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from forcing.errors import OutputError


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a temporary path in the folder of `path`; move it onto `path` when the block ends well.

    The temporary name keeps the suffix, since writers choose their format by it. When the block raises,
    or the program dies, the old file stays as it was. Raises OutputError where the folder or file cannot
    be written (for example because the workbook is open in another program).
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutputError(f"cannot write in {path.parent}: {error.strerror}") from error
    temporary = Path(name)
    try:
        yield temporary
        temporary.chmod(0o644)
        temporary.replace(path)
    except OSError as error:
        raise OutputError(f"cannot write {path}: {error.strerror or error}") from error
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text as given (no newline translation), moved into place when whole."""
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8", newline="")


@contextmanager
def silence() -> Iterator[None]:
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
