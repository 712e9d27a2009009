"""A job as a file: JSON Lines, an event a line, linked by hashes of their own, so that it can go on elsewhere.

The first line says what the file is: `{"matrixcheck": "job", "format": 1, "job": ID, "events": COUNT}`. Each further
line is one event: `seq` (its number within the job, from 1), `batch` (the first number of what was recorded together),
`at`, `kind`, `body`, `id`, `client`, `initials`, and `hash`: as in a book the SHA-256, in hexadecimal, of the hash
before it and of the event. Where a body names other events, it does so by their number within the job. Undone events
are there as well. The same job gives the same text in any book.

After the events come the photos that they name, a line each, in their order: `{"photo": NAME, "jpeg": BASE64}`. NAME is
the SHA-256 of the file; `jpeg` is null for one that was lost. A job without photos is written as it always was, and one
with photos is refused by earlier programs at its first event of them.
"""

from __future__ import annotations

import binascii
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from msgspec import DecodeError, ValidationError
from msgspec.json import decode

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.frozen import Frozen
from matrixcheck.layout.problems import shown, visible
from matrixcheck.record.copying import photos_named, renumbered, under
from matrixcheck.record.event_checks import EventRefusedError, check_events
from matrixcheck.record.events import PhotoTaken, Recorded, body_of, event_from
from matrixcheck.record.photos import check_kept
from matrixcheck.record.schema import FIRST_HASH, SEPARATOR, link

KIND = "job"
LONGEST_TEXT = 2_000
_ADVICE = "name a file that `job export` wrote"
_JOB = re.compile(r"[0-9a-z]{1,16}")


class _Head(Frozen, frozen=True, kw_only=True):
    matrixcheck: str
    format: int
    job: str
    events: int


class _Line(Frozen, frozen=True, kw_only=True):
    seq: int
    batch: int
    at: datetime
    kind: str
    body: dict[str, Any]
    id: str
    client: str
    initials: str
    hash: str


class _PhotoLine(Frozen, frozen=True, kw_only=True):
    photo: str
    jpeg: str | None


class JobFile(NamedTuple):
    """What a job's file holds: all events, numbered from 1, and their photos by name, None for a lost one."""

    events: tuple[Recorded, ...]
    photos: Mapping[str, bytes | None]


def job_text(events: Sequence[Recorded], photos: Mapping[str, bytes | None]) -> str:
    """Return all events of one job, oldest first, and their photos by name, as the text of a file."""
    numbered = renumbered(events, 1)
    head = {"matrixcheck": KIND, "format": 1, "job": events[0].job, "events": len(events)}
    lines = [json.dumps(head, ensure_ascii=False)]
    for one, own in zip(numbered, _hashes(numbered), strict=True):
        line = {
            "seq": one.seq,
            "batch": one.batch,
            "at": one.at.isoformat(),
            "kind": one.event.kind,
            "body": json.loads(body_of(one.event)),
            "id": one.id,
            "client": one.client,
            "initials": one.initials,
            "hash": own.hex(),
        }
        lines.append(json.dumps(line, ensure_ascii=False))
    for name in photos_named(numbered):
        jpeg = photos.get(name)
        coded = None if jpeg is None else binascii.b2a_base64(jpeg, newline=False).decode()
        lines.append(json.dumps({"photo": name, "jpeg": coded}))
    return "\n".join(lines) + "\n"


def read_job(text: str, source: str) -> JobFile:
    """Return what stands in the text of a job's file; `source` names it in errors.

    Raises InputError, naming the first line that is wrong, for anything but a whole job that no one altered.
    """
    lines = [(number, line) for number, line in enumerate(text.split("\n"), 1) if line.strip()]
    if not lines:
        raise InputError(f"{source} is empty", _ADVICE)
    head = _head(lines[0][1], source)
    events: list[Recorded] = []
    before = FIRST_HASH
    for number, line in lines[1 : 1 + head.events]:
        where = f"{source}:{number}"
        one, own = _event(line, where, head.job)
        before = link(before, _row(one))
        if one.seq != len(events) + 1:
            raise InputError(f"{where}: event {one.seq} stands where {len(events) + 1} is due", _ADVICE)
        if own != before.hex():
            raise InputError(f"{where}: event {one.seq} was altered or is damaged", "export the job again")
        events.append(one)
    if len(events) != head.events:
        raise InputError(f"{source}: {len(events)} events are there, {head.events} are due", "export the job again")
    try:
        check_events(events)
    except EventRefusedError as refused:
        number = lines[refused.seq][0]
        raise InputError(f"{source}:{number}: event {refused.seq}: {refused}", _ADVICE) from None
    return JobFile(tuple(events), _photos(lines[1 + head.events :], events, source))


def _photos(lines: Sequence[tuple[int, str]], events: Sequence[Recorded], source: str) -> Mapping[str, bytes | None]:
    """Return the photos that the lines after the events hold: just those that the events name, in their order."""
    sizes = {one.event.photo: one.event.size for one in events if isinstance(one.event, PhotoTaken)}
    due = photos_named(events)
    found: dict[str, bytes | None] = {}
    for place, (number, line) in enumerate(lines):
        where = f"{source}:{number}"
        try:
            given = decode(line, type=_PhotoLine)
            jpeg = None if given.jpeg is None else binascii.a2b_base64(given.jpeg, strict_mode=True)
        except (DecodeError, ValidationError, RecursionError, ValueError):
            raise InputError(f"{where}: no photo, and all events are read", _ADVICE) from None
        if place >= len(due) or given.photo != due[place]:
            raise InputError(f"{where}: not the photo that is due", "export the job again")
        if jpeg is not None:
            check_kept(given.photo, jpeg, where)
            if len(jpeg) != sizes[given.photo]:
                raise InputError(f"{where}: the photo is not as its event says", "export the job again")
        found[given.photo] = jpeg
    if len(found) != len(due):
        raise InputError(f"{source}: {len(found)} photos are there, {len(due)} are due", "export the job again")
    return found


def _head(line: str, source: str) -> _Head:
    try:
        head = decode(line, type=_Head)
    except (DecodeError, ValidationError, RecursionError):
        raise InputError(f"{source} is not a job's file", _ADVICE) from None
    if head.matrixcheck != KIND or not _JOB.fullmatch(head.job) or head.events < 1:
        raise InputError(f"{source} is not a job's file", _ADVICE)
    if head.format != 1:
        raise InputError(f"{source} has format {head.format}", "bring this matrixcheck up to date")
    return head


def _event(line: str, where: str, job: str) -> tuple[Recorded, str]:
    try:
        given = decode(line, type=_Line)
        event = event_from(given.kind, json.dumps(given.body, ensure_ascii=False))
    except KeyError:
        raise InputError(
            f"{where}: no event is called {shown(given.kind)}", "bring this matrixcheck up to date"
        ) from None
    except (DecodeError, ValidationError, RecursionError, ValueError) as error:
        raise InputError(f"{where}: no event: {str(error) or 'not JSON'}", _ADVICE) from None
    if given.at.tzinfo is None:
        raise InputError(f"{where}: the time {given.at} has no offset", _ADVICE)
    for field in (given.id, given.client, given.initials):
        if SEPARATOR in field or visible(field) != field or len(field) > LONGEST_TEXT:
            raise InputError(f"{where}: {shown(field)} names nobody", _ADVICE)
    maker = given.id, given.client, given.initials
    return Recorded(given.seq, job, given.batch, given.at, event, *maker), given.hash


def _hashes(numbered: Sequence[Recorded]) -> Iterator[bytes]:
    before = FIRST_HASH
    for one in numbered:
        before = link(before, _row(one))
        yield before


def _row(one: Recorded) -> tuple[Any, ...]:
    maker = one.id, one.client, one.initials
    return (one.seq, one.job, one.batch, one.at.isoformat(), one.event.kind, body_of(one.event), *maker)


def what_is_new(there: Sequence[Recorded], given: Sequence[Recorded]) -> int:
    """Return from which place on the given events are new to a book that holds those `there`.

    Both are numbered from 1. Raises UsageError, saying what collides, where both went on from a common beginning.
    """
    same = next((place for place, (one, other) in enumerate(zip(there, given, strict=False)) if one != other), None)
    if same is None:
        return min(len(there), len(given))
    here, elsewhere = len(there) - same, len(given) - same
    if same == 0:
        raise UsageError(f"this book has another job {given[0].job}", "import it into a book of its own: --book FILE")
    raise UsageError(
        f"job {given[0].job} went on in both places after event {same}: {_several(here)} here, from "
        f"{there[same].at:%Y-%m-%d %H:%M}, and {_several(elsewhere)} in the file, from {given[same].at:%Y-%m-%d %H:%M}",
        "nothing was imported; import it into a book of its own, or enter here what is missing",
    )


def placed(given: Sequence[Recorded], there: Sequence[Recorded], head: int) -> tuple[Recorded, ...]:
    """Return the events that are new to a book, under the numbers that they get after its `head`.

    `there` are the job's events that the book holds, under the numbers that they have in it.
    """
    numbers = {number: one.seq for number, one in enumerate(there, 1)}
    fresh = given[len(there) :]
    numbers |= {one.seq: head + place for place, one in enumerate(fresh, 1)}
    return under(fresh, numbers)


def _several(count: int) -> str:
    return f"{count} event{'' if count == 1 else 's'}"
