"""The tables of a bench book, and the numbered steps that bring a book up to date.

Rows only ever get added: triggers refuse every UPDATE and DELETE, and an INSERT that would replace a row. Each row's
`hash` is the SHA-256 of the hash before it and of the row, so that a row altered by other means is noticed. There is no
index: a damaged one could hide rows, and the whole of a well-filled book is scanned in some hundredths of a second.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from time import monotonic, sleep
from typing import Any

APPLICATION_ID = 0x4D584342
FIRST_HASH = bytes(32)
SEPARATOR = "\x1f"

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE event (
            seq INTEGER PRIMARY KEY,
            job TEXT NOT NULL,
            batch INTEGER NOT NULL,
            at TEXT NOT NULL,
            kind TEXT NOT NULL,
            body TEXT NOT NULL,
            hash BLOB NOT NULL
        ) STRICT""",
        """CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
        """CREATE TRIGGER event_is_never_deleted BEFORE DELETE ON event
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
        """CREATE TRIGGER event_is_never_replaced BEFORE INSERT ON event
            WHEN NEW.seq <= (SELECT max(seq) FROM event)
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
    ),
    # Several programs and pages work on one job: each event says whose it is, and a repeated send can be known by its
    # id. Rows from before have none of this, and keep their hash.
    (
        "ALTER TABLE event ADD COLUMN id TEXT",
        "ALTER TABLE event ADD COLUMN client TEXT",
        "ALTER TABLE event ADD COLUMN initials TEXT",
        """CREATE TRIGGER event_always_has_a_maker BEFORE INSERT ON event
            WHEN NEW.id IS NULL OR NEW.client IS NULL OR NEW.initials IS NULL
            BEGIN SELECT RAISE(ABORT, 'an event has an id, a client and initials'); END""",
    ),
    # Events that earlier programs can't read: an undo is taken back, one event of a batch is struck out, a repair says
    # what was done. They refuse the book by its version, where they would call it damaged. The tables stay.
    (),
    # A list of some hundred jobs needs no replay: beside the events stands what a list shows of each job, as of its
    # last event. It is written with that event, and can be made anew from the events at any time.
    (
        """CREATE TABLE summary (
            job TEXT PRIMARY KEY,
            seq INTEGER NOT NULL,
            body BLOB NOT NULL,
            hash BLOB NOT NULL
        ) STRICT""",
    ),
    # Events that earlier programs can't read: a job goes on with another layout, and knows where that was read. They
    # refuse the book by its version. The tables stay.
    (),
    # Photos: each under the SHA-256 of its file, kept in the transaction of the event that names it first. One that was
    # lost, as its job had to go on in another book and the first could no longer be read, stands without its file; that
    # may be put in later.
    (
        """CREATE TABLE photo (
            name TEXT PRIMARY KEY,
            jpeg BLOB
        ) STRICT, WITHOUT ROWID""",
        """CREATE TRIGGER photo_is_never_changed BEFORE UPDATE ON photo
            WHEN OLD.jpeg IS NOT NULL OR NEW.name <> OLD.name
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
        """CREATE TRIGGER photo_is_never_deleted BEFORE DELETE ON photo
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
        """CREATE TRIGGER photo_is_never_replaced BEFORE INSERT ON photo
            WHEN EXISTS (SELECT 1 FROM photo WHERE name = NEW.name)
            BEGIN SELECT RAISE(ABORT, 'the book only ever grows'); END""",
    ),
)


class ForeignBookError(Exception):
    """The file is a database of some other program."""


class NewerBookError(Exception):
    """The book was written by a newer version of this program."""


def version_of(connection: sqlite3.Connection, migrations: Sequence[Sequence[str]] = MIGRATIONS) -> int:
    """Return the book's version, 0 for an empty file. Raises ForeignBookError, NewerBookError or sqlite3.Error."""
    with at_one_time(connection):
        application, version, things = (
            connection.execute(question).fetchone()[0]
            for question in ("PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_schema")
        )
    if application == 0 == version == things:
        return 0
    if application != APPLICATION_ID or version < 1:
        raise ForeignBookError
    if version > len(migrations):
        raise NewerBookError
    return int(version)


@contextmanager
def at_one_time(connection: sqlite3.Connection) -> Iterator[None]:
    """Answer what is asked meanwhile as of one moment, though another process may be making the book."""
    if connection.in_transaction:
        yield
        return
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def bring_up_to_date(connection: sqlite3.Connection, migrations: Sequence[Sequence[str]] = MIGRATIONS) -> None:
    """Take the steps that the book lacks, each in one transaction. Safe while another process does the same."""
    while version_of(connection, migrations) < len(migrations):
        connection.execute("BEGIN IMMEDIATE")
        try:
            version = version_of(connection, migrations)
            for statement in migrations[version] if version < len(migrations) else ():
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {min(version + 1, len(migrations))}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise


def log_ahead(connection: sqlite3.Connection, patience: float) -> bool:
    """Set the book to its write-ahead log; False where its place allows none.

    SQLite doesn't wait for another process at this, so it is tried for up to `patience` seconds here.
    """
    until = monotonic() + patience
    while True:
        try:
            return bool(connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] == "wal")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or monotonic() > until:
                raise
            sleep(0.01)


def link(before: bytes, row: Sequence[Any]) -> bytes:
    """Return the hash, 32 bytes, of a row that follows the row hashed `before`.

    A row is (seq, job, batch, at, kind, body, id, client, initials). One from before version 2 has None for the last
    three, which are then no part of its hash.

    Raises TypeError for a row that no book holds. No field holds the separator: JSON escapes it in the body.
    """
    seq, job, batch, at, kind, body, *maker = row
    fields = (str(seq), job, str(batch), at, kind, body, *(() if maker == [None, None, None] else maker))
    return hashlib.sha256(before + SEPARATOR.join(fields).encode()).digest()


def seal(event_hash: bytes, body: bytes) -> bytes:
    """Return the hash, 32 bytes, of a job's summary as of the event hashed `event_hash`."""
    return hashlib.sha256(event_hash + SEPARATOR.encode() + body).digest()


def schema_of(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    """Return (type, name, statement) of every table, index and trigger that a book holds."""
    return frozenset(connection.execute("SELECT type, name, sql FROM sqlite_schema"))


def fresh_schema(version: int) -> frozenset[tuple[str, str, str]]:
    """Return the same of a new book of a version."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        bring_up_to_date(connection, MIGRATIONS[:version])
        return schema_of(connection)
    finally:
        connection.close()
