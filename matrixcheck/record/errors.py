"""What SQLite and the system say when a book can't be used, put as one line with what to do about it."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import TracebackType

from matrixcheck.errors import BookError

_DAMAGED = ("is damaged", "keep the file and go on from a copy made earlier")
_BY_CODE = {
    sqlite3.SQLITE_NOTADB: ("is not a bench book", "name another file, or a new one"),
    sqlite3.SQLITE_BUSY: ("is locked by another program", "close that program or wait, then try again"),
    sqlite3.SQLITE_LOCKED: ("is locked by another program", "close that program or wait, then try again"),
    sqlite3.SQLITE_READONLY: ("can't be written", "make the file and its folder writable, or name another with --book"),
    sqlite3.SQLITE_PERM: ("may not be opened", "check its permissions, or name another with --book"),
    sqlite3.SQLITE_AUTH: ("may not be opened", "check its permissions, or name another with --book"),
    sqlite3.SQLITE_CANTOPEN: (
        "can't be opened",
        "check that its folder exists and is writable, or name another with --book",
    ),
    sqlite3.SQLITE_FULL: ("can't grow: the disk is full", "make room, then enter it again"),
    sqlite3.SQLITE_IOERR: ("can't be read or written", "check that its disk is there and has room, then try again"),
}


class Explained:
    """A block in which what goes wrong with the book at `path` becomes a BookError."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        if isinstance(error, sqlite3.Error | UnicodeDecodeError):
            code = getattr(error, "sqlite_errorcode", 0) & 0xFF
            what, advice = _BY_CODE.get(code, _DAMAGED)
            raise BookError(f"{self._path} {what}", advice) from error
        if isinstance(error, OSError):
            reason = error.strerror or str(error)
            raise BookError(f"{self._path} can't be used: {reason}", "name another file with --book") from error
