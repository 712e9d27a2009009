"""Photos as the rows of a book: the file of each under its SHA-256, by which it is proven whenever it is read."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from matrixcheck.errors import BookError
from matrixcheck.record.events import PhotoTaken, Recorded
from matrixcheck.record.schema import version_of

_PHOTOS_FROM = 6
_ADVICE = "keep the file and go on from a copy made earlier"


def keep(connection: sqlite3.Connection, photos: Mapping[str, bytes | None]) -> None:
    """Keep photos by name. Of one that is there already only a lost file is put in."""
    for name, jpeg in photos.items():
        there = connection.execute("SELECT jpeg IS NULL FROM photo WHERE name = ?", (name,)).fetchone()
        if there is None:
            connection.execute("INSERT INTO photo (name, jpeg) VALUES (?, ?)", (name, jpeg))
        elif there[0] and jpeg is not None:
            connection.execute("UPDATE photo SET jpeg = ? WHERE name = ?", (jpeg, name))


def photos(connection: sqlite3.Connection, path: Path, names: Iterable[str]) -> dict[str, bytes | None]:
    """Return photos by name, as far as they are there; None for a lost one. Raises BookError for a damaged one."""
    if version_of(connection) < _PHOTOS_FROM:
        return {}
    found: dict[str, bytes | None] = {}
    for name in names:
        row = connection.execute("SELECT jpeg FROM photo WHERE name = ?", (name,)).fetchone()
        if row is not None:
            found[name] = _proven(path, name, row[0])
    return found


def count(connection: sqlite3.Connection) -> int:
    """Return how many photos there are."""
    if version_of(connection) < _PHOTOS_FROM:
        return 0
    found: int = connection.execute("SELECT count(*) FROM photo").fetchone()[0]
    return found


def prove(connection: sqlite3.Connection, path: Path, events: Sequence[Recorded]) -> None:
    """Prove that a book holds the photos that its events name, each as it was, and no other.

    They come and go with their event in one transaction, so that no crash parts them. Raises BookError for the first
    that is wrong.
    """
    taken = {one.event.photo: one.event for one in events if isinstance(one.event, PhotoTaken)}
    there: set[str] = set()
    if version_of(connection) >= _PHOTOS_FROM:
        for name, jpeg in connection.execute("SELECT name, jpeg FROM photo ORDER BY name"):
            if name not in taken:
                raise _bad(path, name, "belongs to no event")
            if _proven(path, name, jpeg) is not None and len(jpeg) != taken[name].size:
                raise _bad(path, name, "is not as its event says")
            there.add(name)
    for name in taken.keys() - there:
        raise _bad(path, name, "is missing")


def _proven(path: Path, name: str, jpeg: object) -> bytes | None:
    from matrixcheck.record.photos import name_of  # noqa: PLC0415 - what reads pictures is slow to import

    if jpeg is None:
        return None
    if not isinstance(jpeg, bytes) or name_of(jpeg) != name:
        raise _bad(path, name, "was altered or is damaged")
    return jpeg


def _bad(path: Path, name: str, what: str) -> BookError:
    return BookError(f"{path}: photo {name[:12]} {what}", _ADVICE)
