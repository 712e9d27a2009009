"""The state of a job as a pure fold over its events.

A withdrawal takes out what it names, as if it had never been: the state after it is the state of the remaining events.
A redo takes the withdrawal back.

A job may go on with another layout of its machine. Then its state is as if it had been opened with that, and all that
was recorded before in its terms.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from matrixcheck.record.cell_state import AtRest, Standing
from matrixcheck.record.events import JobOpened, Recorded, Relaid
from matrixcheck.record.folding import Folding, steers
from matrixcheck.record.job_state import JobState, WithoutCell
from matrixcheck.record.withdrawals import struck_out


def replay(events: Iterable[Recorded], client: str = "") -> JobState:
    """Return the state after all events of one job, as a client sees it.

    Raises ValueError unless the first of them opened it.
    """
    ordered = tuple(events)
    if not ordered or not isinstance(ordered[0].event, JobOpened):
        raise ValueError("the events of a job begin with its opening")
    if any(isinstance(one.event, Relaid) for one in ordered):
        return _in_present_terms(ordered, client)
    return advance(_opened(ordered[0], ordered[0].event, client), ordered[1:])


def advance(state: JobState, events: Iterable[Recorded]) -> JobState:
    """Return the state after further events, of the same job and later than all that the state holds.

    What is withdrawn among them is never folded in. Only where they withdraw something that the state holds already, or
    take such a withdrawal back, all that still counts is folded anew, once.
    """
    added = tuple(events)
    if any(isinstance(one.event, Relaid) for one in added) or (state.recorded and any(map(steers, added))):
        return _in_present_terms((*state.everything, *added), state.client)
    if not any(map(steers, added)):
        after = _folded(state, added)
        return replace(after, recorded=(*state.recorded, *added)) if state.recorded else after
    everything = (*state.everything, *added)
    gone = struck_out(everything)
    before = frozenset(one.seq for one in state.history)
    if before.isdisjoint(gone) and all(one.seq in gone or steers(one) for one in state.struck):
        return _folded(state, added, gone)
    return _folded(replay(everything[:1], state.client), everything[1:], gone)


def _in_present_terms(everything: tuple[Recorded, ...], client: str) -> JobState:
    """Return the state of a job that had other layouts before: as if it had been opened with the one it has now."""
    from matrixcheck.record.versions import told_now  # noqa: PLC0415 - few jobs had another layout before

    present, told = told_now(everything)
    gone = struck_out(everything)
    opening = everything[0].event
    assert isinstance(opening, JobOpened)
    opened = replace(opening, layout=present.layout, source=present.source)
    folding = Folding(_opened(everything[0]._replace(event=opened), opened, client))
    apart = []
    for one in told[1:]:
        if one.fits or one.recorded.seq in gone:
            folding.take(one.recorded, counts=one.recorded.seq not in gone)
        else:
            apart.append(WithoutCell(one.recorded, one.layout))
    return replace(folding.state(), seq=everything[-1].seq, recorded=everything, without_cell=tuple(apart))


def _folded(state: JobState, events: Iterable[Recorded], gone: frozenset[int] = frozenset()) -> JobState:
    folding = Folding(state)
    for one in events:
        folding.take(one, counts=one.seq not in gone)
    return folding.state()


def _opened(recorded: Recorded, event: JobOpened, client: str) -> JobState:
    fitted = [cell for matrix in event.layout.matrices for cell in matrix.fitted]
    return JobState(
        id=recorded.job,
        name=event.name,
        serial=event.serial,
        owner=event.owner,
        layout=event.layout,
        opened_at=recorded.at,
        standings={cell.key: Standing(cell) for cell in fitted},
        at_rest={matrix.id: AtRest() for matrix in event.layout.matrices},
        history=(recorded,),
        seq=recorded.seq,
        client=client,
        previous=event.previous,
        source=event.source,
    )
