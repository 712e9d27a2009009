"""A job copied into another book: its events in their order, under the numbers that they get there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec.structs import replace

from matrixcheck.errors import UsageError
from matrixcheck.record.events import Event, PhotoTaken, Read, Recorded, Restored, RoundEnded, RoundPaced, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.journal import Writing
from matrixcheck.record.replay import replay


def copy_job(state: JobState, book: Writing, photos: Mapping[str, bytes | None]) -> tuple[Recorded, ...]:
    """Copy the events that count of one job into a book, with their `photos`; gives all events of that job there.

    Ids, times and makers stay. A book that holds these events already, and perhaps went on from there, stays as it is.
    Where the job had other layouts before, all its events are copied, as they speak of these. Raises UsageError where
    the book holds the job with other events.
    """
    job, copies = state.id, state.recorded or state.history
    book.keep_photos({name: photos.get(name) for name in photos_named(copies)})
    there = book.events(job)
    if not there:
        copied = renumbered(copies, book.head() + 1)
        book.insert(copied)
        return copied
    known = replay(there)
    if renumbered(known.recorded or known.history, 1)[: len(copies)] != renumbered(copies, 1):
        raise UsageError(f"{book.path} holds other events of job {job}", "name another file")
    return there


def photos_named(events: Iterable[Recorded]) -> tuple[str, ...]:
    """Return the names of the photos of which events tell, each once."""
    return tuple(dict.fromkeys(one.event.photo for one in events if isinstance(one.event, PhotoTaken)))


def renumbered(history: Sequence[Recorded], first: int) -> tuple[Recorded, ...]:
    """Return the same events numbered from `first` on without a gap, also where they name each other by number."""
    return under(history, {one.seq: number for number, one in enumerate(history, first)})


def under(events: Sequence[Recorded], numbers: Mapping[int, int]) -> tuple[Recorded, ...]:
    """Return events under other numbers, also where they name each other, or earlier ones, by number.

    A batch whose first events are not there is named by the first that is.
    """
    batches: dict[int, int] = {}
    for one in events:
        batches.setdefault(one.batch, numbers[one.seq])
    return tuple(
        one._replace(
            seq=numbers[one.seq],
            batch=batches[one.batch],
            event=_pointed(one.event, numbers, batches),
        )
        for one in events
    )


def _pointed(event: Event, numbers: Mapping[int, int], batches: Mapping[int, int]) -> Event:
    """Return the event with the numbers of other events replaced, where these are known.

    The start of a round always is, as it always counts.
    """
    match event:
        case Read(round=seq) | RoundPaced(round=seq) | RoundEnded(round=seq) if seq in numbers:
            return replace(event, round=numbers[seq])
        case PhotoTaken(note=seq) if seq:
            # A note that was undone may stay behind: the photo is then of the machine.
            return replace(event, note=numbers.get(seq, 0))
        case Withdrawn(batch=batch, only=only):
            named = batches.get(batch, numbers.get(batch, batch))
            return replace(event, batch=named, only=tuple(numbers.get(seq, seq) for seq in only))
        case Restored(withdrawal=seq):
            return replace(event, withdrawal=numbers.get(seq, seq))
    return event
