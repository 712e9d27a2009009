"""What SQLite and the system say when a book can't be used, put as one line with what to do about it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from matrixcheck.errors import BookError

_DAMAGED = ("is damaged", "keep the file and go on from a copy made earlier")
_BY_CODE = {
    sqlite3.SQLITE_NOTADB: ("is no bench book", "name another file, or one that isn't there yet"),
    sqlite3.SQLITE_BUSY: ("is locked by another program", "close that program or wait, then try again"),
    sqlite3.SQLITE_LOCKED: ("is locked by another program", "close that program or wait, then try again"),
    sqlite3.SQLITE_READONLY: ("can't be written", "make the file and its folder writable, or name another with --book"),
    sqlite3.SQLITE_PERM: ("may not be opened", "see to its permissions, or name another with --book"),
    sqlite3.SQLITE_AUTH: ("may not be opened", "see to its permissions, or name another with --book"),
    sqlite3.SQLITE_CANTOPEN: (
        "can't be opened",
        "see that its folder exists and is writable, or name another with --book",
    ),
    sqlite3.SQLITE_FULL: ("can't grow: the disk is full", "make room, then enter it again"),
    sqlite3.SQLITE_IOERR: ("can't be read or written", "see that its disk is there and has room, then try again"),
}


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what goes wrong with the book at `path` into a BookError."""
    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        what, advice = _BY_CODE.get(code, _DAMAGED)
        raise BookError(f"{path} {what}", advice) from error
    except OSError as error:
        raise BookError(f"{path} can't be used: {error.strerror or error}", "name another file with --book") from error
