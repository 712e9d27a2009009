"""Events as the rows of a book: written with their link in the chain, and read with that link proven."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from matrixcheck.errors import BookError, UsageError
from matrixcheck.record import photo_rows
from matrixcheck.record.events import Client, Event, Recorded, body_of, event_from
from matrixcheck.record.schema import (
    FIRST_HASH,
    SEPARATOR,
    at_one_time,
    fresh_schema,
    link,
    schema_of,
    seal,
    version_of,
)

_NO_MAKER = "NULL, NULL, NULL"
_MAKER = "id, client, initials"
"""Where the three fields stand, from version 2 on: a book that is only read is not brought up to date."""
_INSERT = (
    "INSERT INTO event (seq, job, batch, at, kind, body, id, client, initials, hash) "
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_MAKER_FROM = 2
_SUMMARIES_FROM = 4
_ADVICE = "keep the file and go on from a copy made earlier"


def job_ids(connection: sqlite3.Connection, path: Path) -> tuple[str, ...]:
    """List every job, oldest first. Raises BookError naming the first bad row."""
    found = connection.execute("SELECT seq, job FROM event WHERE kind = 'job-opened' ORDER BY seq").fetchall()
    for seq, job in found:
        if not isinstance(job, str):
            raise _bad(path, seq, "is damaged")
    return tuple(job for _, job in found)


def head(connection: sqlite3.Connection) -> int:
    """Return the seq of the last event, 0 when there is none."""
    found: int | None = connection.execute("SELECT max(seq) FROM event").fetchone()[0]
    return found or 0


def events(connection: sqlite3.Connection, path: Path, job: str | None, after: int) -> tuple[Recorded, ...]:
    """Return the events later than `after`, oldest first, of one job or of all.

    The chain is proven along the way, so that a damaged row of another job can't be one of this job's gone astray.
    Raises BookError naming the first bad row.
    """
    with at_one_time(connection):
        return tuple(_recorded(path, row) for row in _proven(connection, path, after) if job is None or row[1] == job)


def last_initials(connection: sqlite3.Connection, client: str) -> str | None:
    """Return the initials under which a client recorded last, None where it recorded nothing."""
    if version_of(connection) < _MAKER_FROM:
        return None
    found = connection.execute("SELECT initials FROM event WHERE client = ? ORDER BY seq DESC LIMIT 1", (client,))
    (initials,) = found.fetchone() or (None,)
    return initials if isinstance(initials, str) else None


def sent(connection: sqlite3.Connection, path: Path, job: str, send: str) -> tuple[Recorded, ...]:
    """Return the events that a send of that name has kept before, none for a new one.

    Raises UsageError where they are of another job.
    """
    found = connection.execute("SELECT batch, job FROM event WHERE id = ?", (_id_of(send, 1),)).fetchone()
    if found is None:
        return ()
    batch, of = found
    if of != job:
        raise UsageError(f"what is sent as {send} was kept for job {of}", "send it under an id of its own")
    return tuple(one for one in events(connection, path, job, batch - 1) if one.batch == batch)


def job_of(connection: sqlite3.Connection, send: str) -> str | None:
    """Return the job that a send of that name has kept something of before, None for a new one."""
    found = connection.execute("SELECT job FROM event WHERE id = ?", (_id_of(send, 1),)).fetchone()
    return None if found is None else str(found[0])


def append(
    connection: sqlite3.Connection,
    path: Path,
    job: str,
    at: datetime,
    added: Sequence[Event],
    *,
    by: Client,
    send: str = "",
) -> tuple[Recorded, ...]:
    """Add events as one batch, all at the same time `at`, UTC.

    What is sent again under the same `send` is kept once: the events kept the first time come back. Raises BookError
    where the last row has no hash.
    """
    if send and (kept_before := sent(connection, path, job, send)):
        return kept_before
    name = send or uuid4().hex
    batch = head(connection) + 1
    kept = tuple(
        Recorded(batch + place, job, batch, at, event, _id_of(name, place + 1), *by)
        for place, event in enumerate(added)
    )
    insert(connection, path, kept)
    return kept


def insert(connection: sqlite3.Connection, path: Path, numbered: Sequence[Recorded]) -> None:
    """Add events as they are, numbers, times and makers included; their numbers go on where the book ends.

    Raises BookError where the last row has no hash.
    """
    last = connection.execute("SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1").fetchone()
    seq, before = last or (0, FIRST_HASH)
    if not isinstance(before, bytes):
        raise _bad(path, seq, "is damaged")
    written = []
    for one in numbered:
        maker = (one.id, one.client, one.initials)
        if any(SEPARATOR in field for field in maker):
            raise ValueError(f"{maker!r} holds a separator")
        row = (one.seq, one.job, one.batch, one.at.isoformat(), one.event.kind, body_of(one.event), *maker)
        before = link(before, row)
        written.append((*row, before))
    connection.executemany(_INSERT, written)


def summarise(connection: sqlite3.Connection, path: Path, job: str, seq: int, body: bytes) -> None:
    """Keep what a list shows of a job as of its last event, in the place of what was kept before."""
    connection.execute(
        "INSERT INTO summary (job, seq, body, hash) VALUES (?, ?, ?, ?) "
        "ON CONFLICT (job) DO UPDATE SET seq = excluded.seq, body = excluded.body, hash = excluded.hash",
        (job, seq, body, seal(_hash_of(connection, path, seq), body)),
    )


def summaries(connection: sqlite3.Connection, path: Path) -> tuple[bytes, ...] | None:
    """Return the summaries of all jobs, the one that was worked on last first.

    None where one is missing or is not as of its job's last event: then the events have to be read.
    """
    if version_of(connection) < _SUMMARIES_FROM:
        return None
    with at_one_time(connection):
        last: dict[str, int] = dict(connection.execute("SELECT job, max(seq) FROM event GROUP BY job"))
        kept = connection.execute("SELECT seq, job, body, hash FROM summary ORDER BY seq DESC").fetchall()
        whole = {job: seq for seq, job, _, _ in kept} == last and all(
            isinstance(body, bytes) and own == seal(_hash_of(connection, path, seq), body) for seq, _, body, own in kept
        )
    return tuple(body for _, _, body, _ in kept) if whole else None


def prove(connection: sqlite3.Connection, path: Path) -> int:
    """Prove the whole chain; the count of rows. Raises BookError naming the first bad row."""
    found = events(connection, path, None, 0)
    ids: dict[str, int] = {}
    for one in found:
        if one.id and ids.setdefault(one.id, one.seq) != one.seq:
            raise _bad(path, one.seq, f"repeats the id of row {ids[one.id]}")
    if schema_of(connection) != fresh_schema(version_of(connection)):
        raise BookError(f"{path} has lost its guards against change", _ADVICE)
    photo_rows.prove(connection, path, found)
    if not _whole(connection, path) or connection.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
        raise BookError(f"{path} is damaged", _ADVICE)
    return len(found)


def _whole(connection: sqlite3.Connection, path: Path) -> bool:
    """Return whether the file ends with a whole page: SQLite itself reads the missing end of a cut page as zeros."""
    return bool(path.stat().st_size % connection.execute("PRAGMA page_size").fetchone()[0] == 0)


def _id_of(send: str, place: int) -> str:
    """Return the id of the event at that place of a send, from 1."""
    return f"{send}/{place}"


def _proven(connection: sqlite3.Connection, path: Path, after: int) -> Iterator[Sequence[Any]]:
    """Yield every row later than `after`, each once its link is proven.

    A row is (seq, job, batch, at, kind, body, id, client, initials).
    """
    seq, before = after, _hash_of(connection, path, after)
    fields = f"seq, job, batch, at, kind, body, {_NO_MAKER if version_of(connection) == 1 else _MAKER}, hash"
    for *row, own in connection.execute(f"SELECT {fields} FROM event WHERE seq > ? ORDER BY seq", (after,)):
        seq += 1
        if row[0] != seq:
            raise _bad(path, seq, "is missing")
        if not _follows(own, before, row):
            raise _bad(path, seq, "was altered or is damaged")
        before = own
        yield row


def _hash_of(connection: sqlite3.Connection, path: Path, seq: int) -> bytes:
    if seq == 0:
        return FIRST_HASH
    found = connection.execute("SELECT hash FROM event WHERE seq = ?", (seq,)).fetchone()
    if found is None or not isinstance(found[0], bytes):
        raise _bad(path, seq, "is missing or damaged")
    return found[0]


def _follows(own: bytes, before: bytes, row: Sequence[Any]) -> bool:
    try:
        return own == link(before, row)
    except TypeError:
        return False


def _recorded(path: Path, row: Sequence[Any]) -> Recorded:
    seq, job, batch, at, kind, body, *maker = row
    try:
        event = event_from(kind, body)
        return Recorded(seq, job, batch, datetime.fromisoformat(at), event, *(field or "" for field in maker))
    except (KeyError, ValueError) as error:
        raise _bad(path, seq, f"holds a '{kind}' that can't be read") from error


def _bad(path: Path, seq: int, what: str) -> BookError:
    return BookError(f"{path}: row {seq} {what}", _ADVICE)
