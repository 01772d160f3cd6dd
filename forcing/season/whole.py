"""Season files that are never half-written: a temporary name beside the file, moved into place when whole."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from forcing.errors import OutputError


def write_whole(path: Path, write: Callable[[Path], None]) -> Path:
    """Let `write` fill a temporary file in the folder of `path`, then move it onto `path`; gives `path`.

    Raises OutputError where folder or file cannot be written; the old file is untouched then.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutputError(f"cannot write in {path.parent}: {error.strerror or error}") from error
    temporary = Path(name)
    try:
        write(temporary)
        temporary.chmod(0o644)
        temporary.replace(path)
    except OSError as error:
        raise OutputError(f"cannot write {path}: {error.strerror or error}") from error
    finally:
        temporary.unlink(missing_ok=True)
    return path
