"""The bench book: one SQLite file that keeps the events of every job, and only ever grows.

Written through a write-ahead log with `synchronous=FULL`: what `append` returned is on the disk. Opening to read never
writes. While no other program has the book open, SQLite would still set up its log's files beside the book in order to
read; so the book is then read as it lies (`immutable`), and read again should it have changed meanwhile.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote

from pydantic import ValidationError

from matrixcheck.errors import BookError
from matrixcheck.record.events import Event, Recorded, body_of, event_from
from matrixcheck.record.schema import FIRST_HASH, ForeignBookError, NewerBookError, bring_up_to_date, link, version_of
from matrixcheck.record.trouble import explained

Clock = Callable[[], datetime]
Answer = TypeVar("Answer")

_READ_TRIES = 50
_ROW = """SELECT e.seq, e.job, e.batch, e.at, e.kind, e.body, e.hash, p.hash
    FROM event e LEFT JOIN event p ON p.seq = e.seq - 1"""


def utc_now() -> datetime:
    """The time, UTC."""
    return datetime.now(UTC)


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

    def close(self) -> None:
        """Let go of the book."""
        with self._lock, explained(self.path):
            if self._writer is not None:
                self._writer.close()
                self._writer = None

    def now(self) -> datetime:
        """The journal's time, UTC."""
        return self._clock().astimezone(UTC)

    def job_ids(self) -> tuple[str, ...]:
        """Every job, oldest first."""
        return self._read(_job_ids, ())

    def events(self, job: str, after: int = 0) -> tuple[Recorded, ...]:
        """The events of one job later than `after`, oldest first."""
        return self._read(lambda connection: self._events(connection, job, after), ())

    def head(self) -> int:
        """The seq of the last event in the book, 0 when it is empty."""
        return self._read(_head, 0)

    def verify(self) -> int:
        """Prove the chain from the first row to the last; the count of rows. Raises BookError naming the first bad row.

        A chain can't tell that its newest rows were cut off: compare the count with one noted elsewhere.
        """
        return self._read(self._verify, 0)

    @contextmanager
    def writing(self) -> Iterator[Writing]:
        """One transaction: what is read in it is the newest there is, what is appended is kept at its end, all or none.

        Nothing is kept when the block raises.
        """
        with self._lock:
            with explained(self.path):
                connection = self._open_to_write()
                connection.execute("BEGIN IMMEDIATE")
            try:
                yield Writing(self, connection)
                with explained(self.path):
                    connection.execute("COMMIT")
            except BaseException:
                with explained(self.path):
                    if connection.in_transaction:
                        connection.execute("ROLLBACK")
                raise

    def _open_to_write(self) -> sqlite3.Connection:
        if self._writer is None:
            if self.path.is_dir():
                raise BookError(f"{self.path} is a folder", "name a file for the bench book")
            self.path.parent.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(
                self.path, timeout=self._patience, isolation_level=None, check_same_thread=False
            )
            try:
                self._prepare(connection)
            except BaseException:
                connection.close()
                raise
            self._writer = connection
        return self._writer

    def _prepare(self, connection: sqlite3.Connection) -> None:
        with _identified(self.path):
            version_of(connection)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA fullfsync = ON")
            if connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] != "wal":
                raise BookError(f"the place of {self.path} can't hold a bench book", "choose a folder on a local disk")
            bring_up_to_date(connection)

    def _read(self, ask: Callable[[sqlite3.Connection], Answer], nothing: Answer) -> Answer:
        with self._lock, explained(self.path):
            if self._writer is not None:
                return ask(self._writer)
            if self.path.is_dir():
                raise BookError(f"{self.path} is a folder", "name a file for the bench book")
            for _ in range(_READ_TRIES):
                before = self._stamp()
                if before is None:
                    return nothing
                answer = self._ask(ask, nothing, as_it_lies=not before[0])
                if before[0] or before == self._stamp():
                    return answer
        raise BookError(f"{self.path} keeps changing while it is read", "try again")

    def _ask(self, ask: Callable[[sqlite3.Connection], Answer], nothing: Answer, as_it_lies: bool) -> Answer:
        uri = f"file:{quote(str(self.path.absolute()))}?mode=ro{'&immutable=1' if as_it_lies else ''}"
        connection = sqlite3.connect(uri, uri=True, timeout=self._patience, isolation_level=None)
        try:
            with _identified(self.path):
                if version_of(connection) == 0:
                    return nothing
            return ask(connection)
        finally:
            connection.close()

    def _stamp(self) -> tuple[bool, int, int, int] | None:
        """(whether a log lies beside it, inode, bytes, time of last change) of the book; None when it isn't there."""
        try:
            log = Path(f"{self.path}-wal").exists()
            found = self.path.stat()
        except FileNotFoundError:
            return None
        return log, found.st_ino, found.st_size, found.st_mtime_ns

    def _events(self, connection: sqlite3.Connection, job: str, after: int) -> tuple[Recorded, ...]:
        rows = connection.execute(f"{_ROW} WHERE e.job = ? AND e.seq > ? ORDER BY e.seq", (job, after))
        return tuple(self._recorded(row) for row in rows)

    def _recorded(self, row: Sequence[Any]) -> Recorded:
        *content, own, before = row
        seq, job, batch, at, kind, body = content
        if own != link(before or FIRST_HASH, content):
            raise self._bad_row(seq, "was altered or is damaged")
        try:
            return Recorded(seq, job, batch, datetime.fromisoformat(at), event_from(kind, body))
        except (KeyError, ValueError, ValidationError) as error:
            raise self._bad_row(seq, f"holds a '{kind}' that can't be read") from error

    def _verify(self, connection: sqlite3.Connection) -> int:
        count, at_rest = 0, FIRST_HASH
        for *content, own, _ in connection.execute(f"{_ROW} ORDER BY e.seq"):
            count += 1
            if content[0] != count:
                raise self._bad_row(count, "is missing")
            if own != link(at_rest, content):
                raise self._bad_row(count, "was altered or is damaged")
            self._recorded((*content, own, at_rest))
            at_rest = own
        if connection.execute("PRAGMA quick_check").fetchone()[0] != "ok":
            raise BookError(f"{self.path} is damaged", "keep the file and go on from a copy made earlier")
        return count

    def _bad_row(self, seq: int, what: str) -> BookError:
        return BookError(f"{self.path}: row {seq} {what}", "keep the file and go on from a copy made earlier")


class Writing:
    """The open transaction of a journal."""

    def __init__(self, journal: Journal, connection: sqlite3.Connection) -> None:
        self._journal = journal
        self._connection = connection

    def job_ids(self) -> tuple[str, ...]:
        """Every job, oldest first."""
        with explained(self._journal.path):
            return _job_ids(self._connection)

    def events(self, job: str, after: int = 0) -> tuple[Recorded, ...]:
        """The events of one job later than `after`, oldest first."""
        with explained(self._journal.path):
            return self._journal._events(self._connection, job, after)

    def append(self, job: str, events: Sequence[Event]) -> tuple[Recorded, ...]:
        """Add events as one batch, at the journal's time now."""
        with explained(self._journal.path):
            seq, before = self._connection.execute(
                "SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1"
            ).fetchone() or (0, FIRST_HASH)
            at = self._journal.now()
            kept = [Recorded(seq + 1 + count, job, seq + 1, at, event) for count, event in enumerate(events)]
            for one in kept:
                row = (one.seq, job, one.batch, at.isoformat(), one.event.kind, body_of(one.event))
                before = link(before, row)
                self._connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", (*row, before))
            return tuple(kept)


def _job_ids(connection: sqlite3.Connection) -> tuple[str, ...]:
    rows = connection.execute("SELECT job FROM event WHERE kind = 'job-opened' ORDER BY seq")
    return tuple(job for (job,) in rows)


def _head(connection: sqlite3.Connection) -> int:
    found: int | None = connection.execute("SELECT max(seq) FROM event").fetchone()[0]
    return found or 0


@contextmanager
def _identified(path: Path) -> Iterator[None]:
    try:
        yield
    except ForeignBookError:
        raise BookError(f"{path} is a database of another program", "name another file for the bench book") from None
    except NewerBookError:
        raise BookError(f"{path} was written by a newer matrixcheck", "bring this matrixcheck up to date") from None
