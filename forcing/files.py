"""Files that are never half-written, sets of files that appear together, and a silent standard output."""

from __future__ import annotations

import csv
import ctypes
import hashlib
import io
import os
import shutil
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from forcing.errors import OutputError

# A run writes into a folder of its own inside the output; its name says which process it belongs to. The name changes
# when every file is whole: from then on the set is moved into place, by a later run if this one is killed.
WRITING, WHOLE = ".writing-", ".whole-"
MANIFEST = "files.csv"  # what each file of the last sets should be, and which run wrote it
LONGEST_NAME = 200  # bytes of a file's name, with room for what is put before it while it is written
_THIS_RUN = os.urandom(4).hex()  # tells this process from a former one of the same number


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a temporary path in the folder of `path`; move it onto `path` when the block ends well.

    The temporary name keeps the suffix, since writers choose their format by it. When the block raises,
    or the program dies, the old file stays as it was. Raises OutputError where the folder or file cannot
    be written (for example because the workbook is open in another program, or the disk is full).
    """
    _sweep_files(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _free(path)
        handle, name = tempfile.mkstemp(
            prefix=f".{_owner()}{path.stem[:40]}-", suffix=path.suffix, dir=path.parent
        )
        os.close(handle)
    except OSError as error:
        raise OutputError(f"cannot write {path}: {_words(error)}") from error
    temporary = Path(name)
    try:
        yield temporary
        temporary.chmod(0o644)
        _to_disk(temporary)
        temporary.replace(path)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"cannot write {path}: {_words(error)}") from error
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def one_set(folder: Path) -> Iterator[Path]:
    """Give an empty folder to write the files of a run into; move them all into `folder` when the block ends well.

    Until every file is whole nothing in `folder` changes; then the set is moved, and a run that is killed while it
    moves is completed by the next. Where a file cannot be put in its place the old set is put back. What killed runs
    left behind is swept. Raises OutputError, in words, with the old files as they were.
    """
    made = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        sweep(folder)
        writing = Path(tempfile.mkdtemp(prefix=WRITING + _owner(), dir=folder))
    except OSError as error:
        raise OutputError(f"cannot write in {folder}: {_words(error)}") from error
    whole = writing.with_name(writing.name.replace(WRITING, WHOLE, 1))
    try:
        yield writing
        _manifest(writing, folder)
        for file in _files(writing):
            _free(folder / file.relative_to(writing))
            _to_disk(file)
        writing.rename(whole)
        _to_disk(folder)
        _move(whole, folder)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"cannot write in {folder}: {_words(error)}") from error
    finally:
        for left in (writing, whole):
            shutil.rmtree(left, ignore_errors=True)
        if made:
            with suppress(OSError):
                folder.rmdir()  # only where it is empty


@contextmanager
def whole_folder(target: Path) -> Iterator[Path]:
    """Give an empty folder; when the block ends well it becomes `target`, whole and at once, which must not be there.

    Raises OutputError, in words, leaving nothing behind; what killed runs left beside `target` is swept.
    """
    parent, made = target.parent, not target.parent.exists()
    try:
        parent.mkdir(parents=True, exist_ok=True)
        sweep(parent)
        writing = Path(tempfile.mkdtemp(prefix=WRITING + _owner(), dir=parent))
    except OSError as error:
        if made:
            with suppress(OSError):
                parent.rmdir()
        raise OutputError(f"cannot write in {parent}: {_words(error)}") from error
    try:
        yield writing
        for file in _files(writing):
            _to_disk(file)
        writing.chmod(0o755)
        writing.rename(target)  # fails where another run was quicker: a folder with files in it is in the way
        _to_disk(parent)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"cannot write {target}: {_words(error)}") from error
    finally:
        shutil.rmtree(writing, ignore_errors=True)
        if made:
            with suppress(OSError):
                parent.rmdir()  # only where it is empty


def check_writable(folder: Path) -> None:
    """Raise OutputError where no file could be put into `folder`, be it there or still to be made."""
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    if not there.is_dir():
        raise OutputError(f"cannot write in {folder}: {there} is a file, not a folder. Name another output.")
    if not os.access(there, os.W_OK | os.X_OK):
        raise OutputError(f"cannot write in {folder}: you may not write in {there}. Name another output.")


def sweep(folder: Path) -> None:
    """Complete or clear what runs that were killed left in `folder`; what a living run is writing is left alone."""
    for left in sorted(folder.glob(f"{WRITING}*")):
        if not _alive(left.name.removeprefix(WRITING)):
            shutil.rmtree(left, ignore_errors=True)
    for left in sorted(folder.glob(f"{WHOLE}*"), key=lambda path: path.stat().st_mtime_ns):
        if not _alive(left.name.removeprefix(WHOLE)):
            with suppress(OSError):
                _move(left, folder)
            shutil.rmtree(left, ignore_errors=True)


def _move(whole: Path, folder: Path) -> None:
    """Move the files of a whole set into place, the manifest last; if one cannot be, put the old ones back."""
    kept = whole / ".old"
    kept.mkdir(exist_ok=True)
    done: list[tuple[Path, Path]] = []
    try:
        for file in _files(whole):
            target = folder / file.relative_to(whole)
            target.parent.mkdir(parents=True, exist_ok=True)
            old = kept / str(len(done))
            if target.exists():
                _copy(target, old)
            done.append((target, old))
            file.replace(target)
    except OSError:
        for target, old in reversed(done):
            with suppress(OSError):
                old.replace(target) if old.exists() else target.unlink(missing_ok=True)
        raise


def _copy(file: Path, to: Path) -> None:
    to.unlink(missing_ok=True)
    try:
        os.link(file, to)
    except OSError:
        shutil.copy2(file, to)


def _files(folder: Path) -> Sequence[Path]:
    """The files of a set in order of name, the manifest last."""
    found = (path for path in folder.rglob("*") if path.is_file() and ".old" not in path.parts)
    return sorted(found, key=lambda path: (path.name == MANIFEST, path))


def _manifest(writing: Path, folder: Path) -> None:
    """Write the list of what the files of this run are, with those of former runs that it leaves as they are."""
    new = {
        str(f.relative_to(writing).as_posix()): hashlib.sha256(f.read_bytes()).hexdigest()
        for f in _files(writing)
    }
    run = hashlib.sha256("".join(f"{name}{digest}" for name, digest in new.items()).encode()).hexdigest()[:12]
    rows = {name: (digest, run) for name, digest in new.items()}
    with suppress(OSError, ValueError, KeyError):
        for row in csv.DictReader(io.StringIO((folder / MANIFEST).read_text(encoding="utf-8"))):
            if (folder / row["file"]).is_file():
                rows.setdefault(row["file"], (row["sha256"], row["run"]))
    text = "file,sha256,run\n" + "".join(
        f'"{name}",{digest},{by}\n' for name, (digest, by) in sorted(rows.items())
    )
    (writing / MANIFEST).write_text(text, encoding="utf-8", newline="")


def _free(path: Path) -> None:
    """Raise OSError, in words, where `path` cannot be a file."""
    if len(path.name.encode()) > LONGEST_NAME:
        raise OutputError(
            f"cannot write {path.name[:40]}…: its name is too long. Shorten the name it is made from."
        )
    if path.is_dir():
        raise OutputError(
            f"cannot write {path}: there is a folder of that name. Move it away, or choose another output."
        )


def _to_disk(path: Path) -> None:
    """Wait until a file (or the names in a folder) stands on the disk; where that cannot be asked for, go on."""
    with suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _owner() -> str:
    """What names of unfinished files begin with: the machine and the process they belong to."""
    machine = hashlib.sha256(socket.gethostname().encode()).hexdigest()[:6]
    return f"{machine}-{os.getpid()}-{_THIS_RUN}-"


def _alive(name: str) -> bool:
    """Whether the process that a name begins with may still be writing; of another machine nobody knows."""
    machine, process, run = (*name.split("-"), "", "", "")[:3]
    if not process.isdecimal() or machine != _owner().partition("-")[0]:
        return True
    if int(process) == os.getpid():
        return run == _THIS_RUN
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _sweep_files(path: Path) -> None:
    """Clear the unfinished files beside `path` of processes that are gone."""
    with suppress(OSError):
        for left in path.parent.glob(f".{_owner().partition('-')[0]}-*{path.suffix}"):
            if not _alive(left.name[1:]):
                left.unlink(missing_ok=True)


def _words(error: OSError) -> str:
    return str(error.strerror or error)


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
