"""The files of a bench book on the disk: made for their owner alone, and known again by device and inode.

SQLite goes on writing to an open file that was removed, moved or replaced, and calls that a success. So what a journal
opened is compared with what stands at the book's path before anything is called kept.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from matrixcheck.errors import BookError

_BESIDE = ("", "-wal", "-shm")
_ADVICE = "put the file back, or name another file with --book"


class Identity(NamedTuple):
    """Which file this is: the numbers of its device and its inode."""

    device: int
    inode: int


def make_private(path: Path) -> None:
    """Make an empty file that only its owner may read, mode 0600, in folders of mode 0700 where these are missing.

    What is there already stays as it is. SQLite gives the files beside a book the book's own mode.
    """
    for folder in reversed([one for one in path.parents if not one.exists()]):
        folder.mkdir(mode=0o700, exist_ok=True)
    if not path.exists():
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))


def identities(path: Path) -> tuple[Identity | None, ...]:
    """Return the files of the book at `path`: itself, its log and the log's index; None for one that isn't there."""
    return tuple(_identity(Path(f"{path}{ending}")) for ending in _BESIDE)


def gone(path: Path) -> BookError:
    """Return the error that says that a book is no longer at its place."""
    return BookError(f"{path} is gone: it was removed or moved, or its disk was taken out", _ADVICE)


def check_unchanged(path: Path, opened: tuple[Identity | None, ...]) -> None:
    """Raise BookError where the files at `path` are no longer those that were opened."""
    found = identities(path)
    if found == opened:
        return
    if found[0] is None:
        raise gone(path)
    what = "file" if found[0] != opened[0] else "file's log beside it"
    raise BookError(f"{path}: the {what} was replaced while it was open", _ADVICE)


def _identity(path: Path) -> Identity | None:
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    return Identity(found.st_dev, found.st_ino) if found.st_nlink else None
