"""Which events count: an undo withdraws a batch or one event of it, and a redo takes an undo back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from matrixcheck.record.events import Recorded, Restored, Withdrawn


def struck_out(events: Iterable[Recorded]) -> frozenset[int]:
    """Return the seqs of the events that no longer count. `events` are a job's, or the last of them, oldest first.

    The newest speaks first: a withdrawal that was withdrawn or taken back itself takes nothing out.
    """
    ordered = tuple(events)
    together: dict[int, list[int]] = {}
    for one in ordered:
        together.setdefault(one.batch, []).append(one.seq)
    gone: set[int] = set()
    taken_back: set[int] = set()
    for one in reversed(ordered):
        if one.seq in gone or one.seq in taken_back:
            continue
        if isinstance(one.event, Withdrawn):
            named = one.event.only or together.get(one.event.batch, ())
            gone.update(seq for seq in named if seq < one.seq)
        elif isinstance(one.event, Restored):
            taken_back.add(one.event.withdrawal)
    return frozenset(gone)


def withdrawal(counting: Iterable[Recorded], one: Recorded) -> Withdrawn:
    """Return what strikes out one event, given all that count: its whole batch where nothing else of that counts."""
    others = any(each.batch == one.batch and each.seq != one.seq for each in counting)
    return Withdrawn(batch=one.batch, only=(one.seq,) if others else ())


def redoable(events: Sequence[Recorded], client: str) -> Recorded | None:
    """Return the undo that a client's redo would take back, None where there is none.

    That is its last one, until it records something anew.
    """
    undone: dict[int, Recorded] = {}
    for one in events:
        if one.client != client:
            continue
        if isinstance(one.event, Withdrawn):
            undone[one.seq] = one
        elif isinstance(one.event, Restored):
            undone.pop(one.event.withdrawal, None)
        elif one.event.undoable:
            undone.clear()
    return next(reversed(undone.values()), None)


def undo_of(events: Iterable[Recorded], seq: int) -> Recorded | None:
    """Return the undo that withdrew the event `seq`, or is that event; None where neither is so."""
    found: dict[int, Recorded] = {}
    batches: dict[int, list[int]] = {}
    ordered = tuple(events)
    gone = struck_out(ordered)
    for one in (each for each in ordered if each.seq not in gone or not isinstance(each.event, Withdrawn)):
        batches.setdefault(one.batch, []).append(one.seq)
        if isinstance(one.event, Withdrawn):
            if one.seq == seq or seq in (one.event.only or batches.get(one.event.batch, ())):
                found[one.seq] = one
        elif isinstance(one.event, Restored):
            found.pop(one.event.withdrawal, None)
    return next(reversed(found.values()), None)
