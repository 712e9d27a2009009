"""Typing a number again in one round, with another outcome, corrects what was typed first: that no longer counts."""

from __future__ import annotations

from matrixcheck.errors import UsageError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.layout.wording import short_words
from matrixcheck.record.cell_state import has_outcome
from matrixcheck.record.entry_events import COMES_AND_GOES
from matrixcheck.record.events import Deferred, Read, Recorded, Withdrawn
from matrixcheck.record.job_state import JobState


def corrected_by(event: Read | Deferred, state: JobState) -> tuple[Withdrawn, ...]:
    """Return what strikes out the readings that the event corrects.

    They are of the same cell under the same switches held, from the client's own open round, and say otherwise of it.
    """
    open_round = state.round
    if not isinstance(event, Read) or not event.round or open_round is None or not has_outcome(event.reading):
        return ()
    slips = [
        one for one in state.history if one.seq > open_round.seq and one.client == state.client and _differs(one, event)
    ]
    # By themselves, not with their batch: that holds what they corrected in turn, which stays struck out.
    return tuple(Withdrawn(batch=one.batch, only=(one.seq,)) for one in slips)


def correction_of(state: JobState, cell: CellKey) -> Recorded:
    """Return the withdrawal with which this client's open round corrected a cell last. Raises UsageError for none."""
    began = state.round.seq if state.round is not None else state.seq
    own = [one for one in state.history if one.seq > began and one.client == state.client and _reads(one, cell)]
    slips = {one.seq for one in state.struck if _reads(one, cell)}
    together: dict[int, list[int]] = {}
    for one in state.struck:
        together.setdefault(one.batch, []).append(one.seq)
    found = [
        one
        for one in state.struck
        if isinstance(one.event, Withdrawn)
        and own
        and one.batch == own[-1].batch
        and not slips.isdisjoint(one.event.only or together.get(one.event.batch, ()))
    ]
    if not found:
        raise UsageError(
            f"this round corrected nothing of {short_words(state.layout.cell(cell))}", "type its number first"
        )
    return found[-1]


def _reads(recorded: Recorded, cell: CellKey) -> bool:
    return isinstance(recorded.event, Read) and recorded.event.reading.cell == cell


def _differs(earlier: Recorded, event: Read) -> bool:
    if not isinstance(earlier.event, Read):
        return False
    first, second = earlier.event.reading, event.reading
    same_test = (first.matrix, first.cell, set(first.held)) == (second.matrix, second.cell, set(second.held))
    return same_test and has_outcome(first) and _outcome(first) != _outcome(second)


def _outcome(reading: Reading) -> tuple[Mark | None, tuple[CellKey, ...] | None, bool]:
    """Return what a reading says of its cell; one half of an entry that says both is another thing than it alone."""
    return reading.mark, reading.answered, reading.note == COMES_AND_GOES
