"""Strike out one event of a job's history, or have it count again: what that would take along, before it is done."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.events import Accepted, Deferred, Event, Found, Read, Recorded, Repaired, Restored, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.outdated import cells_touched
from matrixcheck.record.replay import advance
from matrixcheck.record.validation import event_numbered, restorable, strikable
from matrixcheck.record.withdrawals import withdrawal


class Strike(NamedTuple):
    """What striking an event out would change, or having it count again (`back`).

    `cells` stand otherwise then; `beyond` are those of them outside the matrix that the event tells of. `stop` is
    whether a coil would count as on at rest from then on.
    """

    back: bool
    cells: tuple[CellKey, ...]
    beyond: tuple[CellKey, ...]
    stop: bool


def strike_of(state: JobState, number: int) -> Strike:
    """Return what striking out the event of that number within the job would change, or its coming back.

    Raises UsageError for one that can't be struck out, and for none.
    """
    one = event_numbered(state, number)
    back = any(each.seq == one.seq for each in state.struck) and not isinstance(one.event, Restored)
    steers: Event
    if back:
        undone = restorable(state, number)
        steers = Restored(withdrawal=undone.seq)
        told = _told_by(undone, state)
    else:
        steers = withdrawal(state.counting, strikable(state, number))
        told = (one,)
    after = advance(state, [Recorded(state.seq + 1, state.id, state.seq + 1, one.at, steers)])
    before = {key: _outcome(standing) for key, standing in state.standings.items()}
    # Another layout, where that is what comes or goes, may have other cells.
    cells = tuple(key for key, now in after.standings.items() if _outcome(now) != before.get(key))
    own = {matrix for each in told for matrix in _matrices(each.event, state)}
    beyond = cells if len(own) > 1 else tuple(key for key in cells if key.matrix not in own)
    return Strike(back, cells, beyond, after.coils.stop and not state.coils.stop)


def _told_by(undo: Recorded, state: JobState) -> tuple[Recorded, ...]:
    """Return the events that an undo took out."""
    assert isinstance(undo.event, Withdrawn)
    only = undo.event.only
    return tuple(one for one in state.struck if (one.seq in only if only else one.batch == undo.event.batch))


def _matrices(event: Event, state: JobState) -> frozenset[str]:
    """Return the matrices that an event tells of."""
    place = ""
    match event:
        case Read(reading=reading):
            return frozenset({reading.matrix})
        case Deferred(cell=cell) | Accepted(cell=cell):
            return frozenset({cell.matrix})
        case Repaired(outside=False):
            place = event.place
        case Found(finding=finding):
            place = finding.place
    return frozenset(cell.matrix for cell in cells_touched(state.layout, place)) if place else frozenset()


def _outcome(standing: Standing) -> tuple[object, ...]:
    return standing.mark, standing.intermittent, standing.retest_due, standing.deferred
