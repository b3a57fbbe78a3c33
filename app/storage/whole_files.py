"""Files that are there whole or not at all, also when the power fails."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PART = ".part"  # how the name of a file that is not whole yet ends, and of a folder that is there for a moment


@contextmanager
def written_aside(path: Path) -> Iterator[Path]:
    """Give a path to write at, and put what was written there in place of `path` if there was no error.

    The file can be read by its owner alone, and is on the disk before it gets its name; so is its name afterwards.

    Args:
        path: Where the file is to stand in the end; a file that is there is replaced.

    Raises:
        OSError: It cannot be written; `path` is as it was.
    """
    path = path.absolute()
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=PART, dir=path.parent)  # owner-only (0600)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    os.close(handle)
    aside = Path(name)
    try:
        yield aside
        sync_file(aside)
        aside.replace(path)
    except BaseException:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_file(path: Path) -> None:
    """Wait until a file's contents are on the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system lets a program wait for it."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def passing_folder(where: Path) -> Iterator[Path]:
    """Give a folder that its owner alone can open, and that is gone afterwards with what is in it."""
    with tempfile.TemporaryDirectory(prefix=".", suffix=PART, dir=where) as name:
        yield Path(name)


def clear_parts(folder: Path, *, before: float) -> None:
    """Remove what was left when a program was killed: files half written, and folders for a moment.

    Args:
        folder: The folder.
        before: Only what was last written before this instant; what is younger may still be in work. [s since 1970]
    """
    for part in folder.glob(f".*{PART}"):
        with suppress(OSError):
            if part.stat().st_mtime >= before:
                continue
            if part.is_dir():
                shutil.rmtree(part)
            else:
                part.unlink()
