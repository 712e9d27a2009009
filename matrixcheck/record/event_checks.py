"""What must hold of the events of one job that come from outside, so that no program has to fear them."""

from __future__ import annotations

import json
from collections.abc import Sequence

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.files import layout_from
from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.limits import MOST_PHOTOS
from matrixcheck.layout.model import Layout
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Event,
    Found,
    JobOpened,
    Noted,
    PhotoTaken,
    Read,
    Recorded,
    Relaid,
    Repaired,
    Restored,
    RoundEnded,
    RoundPaced,
    RoundStarted,
    Withdrawn,
)
from matrixcheck.record.photos import check_event
from matrixcheck.record.readings import check_reading
from matrixcheck.record.validation import guard_held, guard_pace, guard_place, guard_round
from matrixcheck.record.versions import Layouts, guard_places


class EventRefusedError(Exception):
    """The event of number `seq` can't have happened so."""

    def __init__(self, seq: int, reason: str) -> None:
        super().__init__(reason)
        self.seq = seq


def check_events(events: Sequence[Recorded]) -> None:
    """Raise EventRefusedError, for the first event that is wrong. They are all of a job's, numbered from 1."""
    first = events[0].event
    if not isinstance(first, JobOpened):
        raise EventRefusedError(1, "a job begins with its opening")
    layouts = Layouts(events[0])
    photos = [one.seq for one in events if isinstance(one.event, PhotoTaken)]
    if len(photos) > MOST_PHOTOS:
        raise EventRefusedError(photos[MOST_PHOTOS], f"a job has at most {MOST_PHOTOS} photos")
    for one in events:
        try:
            if isinstance(one.event, Relaid) or one.event is first:
                layout_from(json.loads(to_json(one.event.layout)), "layout")
            if isinstance(one.event, Relaid):
                guard_places(one.event, layouts)
            elif one.event is not first:
                _check(one.event, layouts.now.layout)
            _check_references(one, events)
            layouts.take(one)
        except (InputError, UsageError, ValueError) as error:
            raise EventRefusedError(one.seq, str(error)) from None


def _check(event: Event, layout: Layout) -> None:
    match event:
        case JobOpened():
            raise ValueError("a job is opened once")
        case RoundStarted(matrix=name, round=kind, held=held, cells=cells, manner=manner):
            matrix = layout.matrix(name)
            guard_held(matrix, kind, held)
            guard_round(matrix, kind, cells, manner)
        case RoundPaced(seconds=seconds, place=place):
            guard_pace(seconds, place)
        case Read(reading=reading):
            check_reading(reading, layout)
        case Deferred(cell=cell):
            layout.cell(cell)
        case Accepted(cell=cell):
            if not layout.cell(cell).lights:
                raise ValueError(f"{cell} is no lamp")
        case Found(finding=finding):
            guard_place(finding.place, layout)
        case Repaired(place=place, outside=False):
            guard_place(place, layout)
        case PhotoTaken(place=place):
            check_event(event)
            if place:
                guard_place(place, layout)


def _check_references(one: Recorded, events: Sequence[Recorded]) -> None:
    """Raise ValueError where an event names others that it can't mean. All of them come before it."""
    follows = one.seq > 1 and events[one.seq - 2].batch == one.batch
    if one.batch != one.seq and not follows:
        raise ValueError(f"batch {one.batch} is none that it can belong to")
    match one.event:
        case Read(round=number) | RoundPaced(round=number) | RoundEnded(round=number) if number:
            _named(number, one, events, RoundStarted)
        case PhotoTaken(note=number) if number:
            _named(number, one, events, Noted)
        case Withdrawn(batch=batch, only=only):
            members = _undoable_of(batch, one.seq, events)
            if not members or not members.issuperset(only):
                raise ValueError(f"batch {batch} holds nothing that it undoes")
        case Restored(withdrawal=number):
            _named(number, one, events, Withdrawn)


def _undoable_of(batch: int, before: int, events: Sequence[Recorded]) -> set[int]:
    """Return what of a batch an event of the number `before` may undo. The events of a batch stand together."""
    found = set()
    number = batch
    while 1 <= number < before and events[number - 1].batch == batch:
        if events[number - 1].event.undoable:
            found.add(number)
        number += 1
    return found


def _named(number: int, one: Recorded, events: Sequence[Recorded], kind: type[Event]) -> None:
    if not 1 <= number < one.seq or not isinstance(events[number - 1].event, kind):
        raise ValueError(f"event {number} is not what it should be")
