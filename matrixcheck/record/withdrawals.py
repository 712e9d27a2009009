"""Which events count: an undo withdraws a batch or one event of it, and a redo takes an undo back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from matrixcheck.record.events import Recorded, Restored, Withdrawn


def struck_out(events: Iterable[Recorded]) -> frozenset[int]:
    """Return the seqs of the events that no longer count. `events` are a job's, or the last of them, oldest first."""
    batches: dict[int, list[int]] = {}
    gone: dict[int, frozenset[int]] = {}
    for one in events:
        batches.setdefault(one.batch, []).append(one.seq)
        if isinstance(one.event, Withdrawn):
            gone[one.seq] = frozenset(one.event.only or batches.get(one.event.batch, ()))
        elif isinstance(one.event, Restored):
            gone.pop(one.event.withdrawal, None)
    return frozenset().union(*gone.values())


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
    for one in events:
        batches.setdefault(one.batch, []).append(one.seq)
        if isinstance(one.event, Withdrawn):
            if one.seq == seq or seq in (one.event.only or batches.get(one.event.batch, ())):
                found[one.seq] = one
        elif isinstance(one.event, Restored):
            found.pop(one.event.withdrawal, None)
    return next(reversed(found.values()), None)
