"""Events as the rows of a book: written with their link in the chain, and read with that link proven."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from matrixcheck.errors import BookError
from matrixcheck.record.events import Event, JobOpened, Recorded, body_of, event_from
from matrixcheck.record.schema import FIRST_HASH, fresh_schema, link, schema_of

_ROWS = """SELECT e.seq, e.job, e.batch, e.at, e.kind, e.body, e.hash, p.hash
    FROM event e LEFT JOIN event p ON p.seq = e.seq - 1"""
_ADVICE = "keep the file and go on from a copy made earlier"


def job_ids(connection: sqlite3.Connection, path: Path) -> tuple[str, ...]:
    """Every job, oldest first. Raises BookError naming the first bad row."""
    found = connection.execute("SELECT seq, job FROM event WHERE kind = 'job-opened' ORDER BY seq").fetchall()
    for seq, job in found:
        if not isinstance(job, str):
            raise _bad(path, seq, "is damaged")
    return tuple(job for _, job in found)


def head(connection: sqlite3.Connection) -> int:
    """The seq of the last event, 0 when there is none."""
    found: int | None = connection.execute("SELECT max(seq) FROM event").fetchone()[0]
    return found or 0


def events(connection: sqlite3.Connection, path: Path, job: str, after: int) -> tuple[Recorded, ...]:
    """The events of one job later than `after`, oldest first. Raises BookError naming the first bad row, or where the
    job's opening should be among them and isn't."""
    rows = connection.execute(f"{_ROWS} WHERE e.job = ? AND e.seq > ? ORDER BY e.seq", (job, after))
    found = tuple(_recorded(path, row, own, before or FIRST_HASH) for *row, own, before in rows)
    if after == 0 and not (found and isinstance(found[0].event, JobOpened)):
        raise BookError(f"{path}: the opening of job {job} is missing", _ADVICE)
    return found


def append(
    connection: sqlite3.Connection, path: Path, job: str, at: datetime, added: Sequence[Event]
) -> tuple[Recorded, ...]:
    """Add events as one batch, all at the same time `at`, UTC. Raises BookError where the last row is bad."""
    seq, before = 0, FIRST_HASH
    for *row, own, ahead in connection.execute(f"{_ROWS} ORDER BY e.seq DESC LIMIT 1"):
        _check_link(path, row, own, ahead or FIRST_HASH)
        seq, before = row[0], own
    kept = tuple(Recorded(seq + count, job, seq + 1, at, event) for count, event in enumerate(added, 1))
    for one in kept:
        row = (one.seq, one.job, one.batch, at.isoformat(), one.event.kind, body_of(one.event))
        before = link(before, row)
        connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", (*row, before))
    return kept


def prove(connection: sqlite3.Connection, path: Path) -> int:
    """Prove the whole chain; the count of rows. Raises BookError naming the first bad row."""
    count, before = 0, FIRST_HASH
    for *row, own, _ in connection.execute(f"{_ROWS} ORDER BY e.seq"):
        count += 1
        if row[0] != count:
            raise _bad(path, count, "is missing")
        _recorded(path, row, own, before)
        before = own
    if schema_of(connection) != fresh_schema():
        raise BookError(f"{path} has lost its guards against change", _ADVICE)
    if connection.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
        raise BookError(f"{path} is damaged", _ADVICE)
    return count


def _recorded(path: Path, row: Sequence[Any], own: bytes, before: bytes) -> Recorded:
    _check_link(path, row, own, before)
    seq, job, batch, at, kind, body = row
    try:
        return Recorded(seq, job, batch, datetime.fromisoformat(at), event_from(kind, body))
    except (KeyError, ValueError, ValidationError) as error:
        raise _bad(path, seq, f"holds a '{kind}' that can't be read") from error


def _check_link(path: Path, row: Sequence[Any], own: bytes, before: bytes) -> None:
    try:
        proven = own == link(before, row)
    except TypeError:
        proven = False
    if not proven:
        raise _bad(path, row[0], "was altered or is damaged")


def _bad(path: Path, seq: int, what: str) -> BookError:
    return BookError(f"{path}: row {seq} {what}", _ADVICE)
