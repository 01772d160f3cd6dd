"""Files that are never half-written: a temporary name beside the file, moved into place when whole."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
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
