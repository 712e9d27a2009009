"""The bench book: one SQLite file that keeps the events of every job, and only ever grows.

Written through a write-ahead log with `synchronous=FULL`: what `append` kept is on the disk when its transaction ends.
Opening to read never writes. While no other program has the book open, SQLite would set up its log's files beside the
book just to read it; so the book is then read as it lies (`immutable`), and once more should it have changed meanwhile.
Nothing is called kept unless the files at the book's path are still those that were opened.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple, Self, TypeVar
from urllib.parse import quote

from matrixcheck.errors import BookError, UsageError
from matrixcheck.record import book_files, photo_rows, rows
from matrixcheck.record.book_files import Identity
from matrixcheck.record.errors import Explained
from matrixcheck.record.events import NOBODY, Client, Event, Recorded
from matrixcheck.record.schema import ForeignBookError, NewerBookError, bring_up_to_date, log_ahead, version_of

Clock = Callable[[], datetime]
Answer = TypeVar("Answer")

_READ_TRIES = 50
# One page of SQLite's smallest size: it would take any shorter file for an empty book, and write over it.
_SMALLEST_BOOK = 512


def utc_now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


class _Lie(NamedTuple):
    """How the book's file lies on the disk: whether a log lies beside it, its inode, bytes and time of last change."""

    logged: bool
    inode: int
    size: int
    changed_ns: int


class Journal:
    """The events in the book at `path`. A book that isn't there yet reads as empty, and is made by the first event.

    `patience` is how long, in seconds, to wait for another process that is writing. Every method raises BookError when
    the book is damaged, locked, no book at all, or can't be written. Threads may share a journal.
    """

    def __init__(self, path: Path, clock: Clock = utc_now, patience: float = 5.0) -> None:
        self.path = path
        self._clock = clock
        self._patience = patience
        self._lock = threading.RLock()
        self._writer: sqlite3.Connection | None = None
        self._opened: tuple[Identity | None, ...] = ()
        self._was_there = False

    def now(self) -> datetime:
        """Return the journal's time, UTC."""
        return self._clock().astimezone(UTC)

    def close(self) -> None:
        """Let go of the book. Its file alone then holds all that was kept, also while other programs have it open."""
        with self._lock, Explained(self.path):
            if self._writer is not None:
                # What can't be copied into the book now stays in its log, from where the next to open it copies it.
                with suppress(sqlite3.Error):
                    self._writer.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
                self._writer.close()
            self._writer = None
            self._was_there = False

    def job_ids(self) -> tuple[str, ...]:
        """List every job, oldest first."""
        return self._read(lambda connection: rows.job_ids(connection, self.path), ())

    def events(self, job: str | None = None, after: int = 0) -> tuple[Recorded, ...]:
        """Return the events later than `after`, oldest first, of one job or of all."""
        return self._read(lambda connection: rows.events(connection, self.path, job, after), ())

    def head(self) -> int:
        """Return the seq of the last event in the book, 0 when it is empty."""
        return self._read(rows.head, 0)

    def last_initials(self, client: str) -> str | None:
        """Return the initials under which a client recorded last, None where it recorded nothing."""
        none: str | None = None
        return self._read(lambda connection: rows.last_initials(connection, client), none)

    def summaries(self) -> tuple[bytes, ...] | None:
        """Return what lists show of all jobs, the one worked on last first; None where the events have to be read."""
        none: tuple[bytes, ...] | None = ()
        return self._read(lambda connection: rows.summaries(connection, self.path), none)

    def photos(self, names: Iterable[str]) -> dict[str, bytes | None]:
        """Return photos by name, as far as the book has them; None for one whose file was lost.

        Raises BookError for one that was altered or is damaged.
        """
        wanted = tuple(names)
        return self._read(lambda connection: photo_rows.photos(connection, self.path, wanted), {})

    def rescued_photos(self, names: Iterable[str]) -> dict[str, bytes | None]:
        """Return the same of a book that may be damaged, or gone: None for each that can't be read any more."""
        found: dict[str, bytes | None] = {}
        for name in names:
            try:
                with self._lock, Explained(self.path):
                    # What was removed can be read for as long as it is open.
                    open_book = self._writer
                    got = self.photos([name]) if open_book is None else photo_rows.photos(open_book, self.path, [name])
            except BookError:
                got = {}
            found[name] = got.get(name)
        return found

    def count_photos(self) -> int:
        """Return how many photos the book has."""
        return self._read(photo_rows.count, 0)

    def verify(self) -> int:
        """Prove the chain from the first row to the last, and every photo; return the count of rows.

        Raises BookError naming the first bad row, or where there is none, and UsageError where there is no file.

        A chain can't tell that its newest rows were cut off: compare the count with one noted elsewhere.
        """
        count = self._read(lambda connection: rows.prove(connection, self.path), 0)
        with Explained(self.path):
            if not self.path.exists():
                raise UsageError(f"there is no bench book {self.path}", "name one with --book")
        if count == 0:
            raise BookError(
                f"{self.path} is empty: nothing was ever recorded in it, or all of it is lost",
                "if it has held a job, go on from a copy made earlier",
            )
        return count

    def back_up(self, target: Path) -> int:
        """Copy the book, as of one moment and also while others write, to a file; return the count of rows.

        The copy is proven before it is left. Raises UsageError where there is no book, or no file can be made there.
        """
        self.verify()

        def copy(connection: sqlite3.Connection) -> None:
            other = sqlite3.connect(target, isolation_level=None)
            try:
                connection.backup(other)
            finally:
                other.close()

        with Explained(target):
            self._read(copy, None)
        return Journal(target).verify()

    def writing(self) -> Writing:
        """Begin one transaction, for a `with`.

        What is read in it is the newest there is, what is appended is kept at its end, all or none. Nothing is kept
        when the block raises.
        """
        return Writing(self.path, self.now, self._lock, self._open_to_write, self._check_unchanged)

    def is_at(self, path: Path) -> bool:
        """Return whether `path` is this book's own, or leads to the file that it has open."""
        with self._lock, Explained(path):
            if os.path.realpath(path) == os.path.realpath(self.path):
                return True
            return self._writer is not None and book_files.identities(path)[0] == self._opened[0]

    def _check_unchanged(self) -> None:
        book_files.check_unchanged(self.path, self._opened)

    def _open_to_write(self) -> sqlite3.Connection:
        if self._writer is None:
            self._refuse_what_is_no_book()
            book_files.make_private(self.path)
            book = book_files.identities(self.path)[0]
            effective = os.access in os.supports_effective_ids
            if self.path.exists() and not os.access(self.path, os.W_OK, effective_ids=effective):
                raise BookError(f"{self.path} can't be written", "make it writable, or name another with --book")
            connection = sqlite3.connect(
                self.path, timeout=self._patience, isolation_level=None, check_same_thread=False
            )
            try:
                self._prepare(connection)
                opened = book_files.identities(self.path)
                book_files.check_unchanged(self.path, (book, *opened[1:]))
            except BaseException:
                connection.close()
                raise
            self._writer, self._opened, self._was_there = connection, opened, True
        return self._writer

    def _refuse_what_is_no_book(self) -> None:
        if self._was_there and not self.path.exists():
            raise book_files.gone(self.path)
        if self.path.exists() and not self.path.is_file():
            kind = "a folder" if self.path.is_dir() else "no plain file"
            raise BookError(f"{self.path} is {kind}", "name a file for the bench book")
        if self.path.exists() and 0 < self.path.stat().st_size < _SMALLEST_BOOK:
            raise BookError(f"{self.path} is not a bench book", "name another file, or a new one")

    def _prepare(self, connection: sqlite3.Connection) -> None:
        with _identified(self.path):
            version_of(connection)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA fullfsync = ON")
            if not log_ahead(connection, self._patience):
                raise BookError(f"the place of {self.path} can't hold a bench book", "choose a folder on a local disk")
            bring_up_to_date(connection)

    def _read(self, ask: Callable[[sqlite3.Connection], Answer], nothing: Answer) -> Answer:
        with self._lock, Explained(self.path):
            if self._writer is not None:
                self._check_unchanged()
                return ask(self._writer)
            self._refuse_what_is_no_book()
            for _ in range(_READ_TRIES):
                before = self._lie()
                if before is None:
                    return nothing
                self._was_there = True
                answer = self._ask_once(ask, nothing, before)
                if before.logged or before == self._lie():
                    return answer
        raise BookError(f"{self.path} keeps changing while it is read", "try again")

    def _ask_once(self, ask: Callable[[sqlite3.Connection], Answer], nothing: Answer, lie: _Lie) -> Answer:
        as_it_lies = "" if lie.logged else "&immutable=1"
        uri = f"file:{quote(str(self.path.absolute()))}?mode=ro{as_it_lies}"
        connection = sqlite3.connect(uri, uri=True, timeout=self._patience, isolation_level=None)
        try:
            with _identified(self.path):
                if version_of(connection) == 0:
                    return nothing
            return ask(connection)
        finally:
            connection.close()

    def _lie(self) -> _Lie | None:
        """Return the state of the book's file, None when the book isn't there."""
        try:
            logged = Path(f"{self.path}-wal").exists()
            found = self.path.stat()
        except FileNotFoundError:
            return None
        return _Lie(logged, found.st_ino, found.st_size, found.st_mtime_ns)


class Writing:
    """A transaction of a journal, open while its `with` block runs."""

    def __init__(
        self,
        path: Path,
        now: Clock,
        lock: threading.RLock,
        open_to_write: Callable[[], sqlite3.Connection],
        check_unchanged: Callable[[], None],
    ) -> None:
        self.path = path
        self._now = now
        self._lock = lock
        self._open_to_write = open_to_write
        self._check_unchanged = check_unchanged

    def __enter__(self) -> Self:
        self._lock.acquire()
        try:
            with Explained(self.path):
                self._connection = self._open_to_write()
                self._check_unchanged()
                self._connection.execute("BEGIN IMMEDIATE")
        except BaseException:
            self._lock.release()
            raise
        return self

    def __exit__(self, kind: object, error: object, _trace: object) -> None:
        try:
            with Explained(self.path):
                try:
                    if kind is None:
                        self._check_unchanged()
                        self._connection.execute("COMMIT")
                        self._check_unchanged()
                finally:
                    if self._connection.in_transaction:
                        self._connection.execute("ROLLBACK")
        finally:
            self._lock.release()

    def job_ids(self) -> tuple[str, ...]:
        """List every job, oldest first."""
        with Explained(self.path):
            return rows.job_ids(self._connection, self.path)

    def events(self, job: str, after: int = 0) -> tuple[Recorded, ...]:
        """Return the events of one job later than `after`, oldest first."""
        with Explained(self.path):
            return rows.events(self._connection, self.path, job, after)

    def head(self) -> int:
        """Return the seq of the last event in the book, 0 when it is empty."""
        with Explained(self.path):
            return rows.head(self._connection)

    def sent(self, job: str, send: str) -> tuple[Recorded, ...]:
        """Return the events that a send of that name has kept before, none for a new one."""
        with Explained(self.path):
            return rows.sent(self._connection, self.path, job, send)

    def job_of(self, send: str) -> str | None:
        """Return the job that a send of that name has kept something of before, None for a new one."""
        with Explained(self.path):
            return rows.job_of(self._connection, send)

    def append(self, job: str, events: Sequence[Event], by: Client = NOBODY, send: str = "") -> tuple[Recorded, ...]:
        """Add events as one batch, at the journal's time now. What is sent again under the same `send` is kept once."""
        with Explained(self.path):
            return rows.append(self._connection, self.path, job, self._now(), events, by=by, send=send)

    def keep_photos(self, photos: Mapping[str, bytes | None]) -> None:
        """Keep photos by name, None for one whose file was lost; those that are there already stay as they are."""
        with Explained(self.path):
            photo_rows.keep(self._connection, photos)

    def summarise(self, job: str, seq: int, body: bytes) -> None:
        """Keep what a list shows of a job as of its last event `seq`."""
        with Explained(self.path):
            rows.summarise(self._connection, self.path, job, seq, body)

    def insert(self, numbered: Sequence[Recorded]) -> None:
        """Add events of another book as they are; their numbers go on where this one ends."""
        with Explained(self.path):
            rows.insert(self._connection, self.path, numbered)


@contextmanager
def _identified(path: Path) -> Iterator[None]:
    try:
        yield
    except ForeignBookError:
        raise BookError(f"{path} is a database of another program", "name another file for the bench book") from None
    except NewerBookError:
        raise BookError(f"{path} was written by a newer matrixcheck", "bring this matrixcheck up to date") from None
