"""What the start, the pace and the end of a client's round record, given the state of the job."""

from __future__ import annotations

from matrixcheck.errors import UsageError
from matrixcheck.record.events import RoundEnded, RoundPaced, RoundStarted
from matrixcheck.record.job_state import JobState
from matrixcheck.record.validation import guard_held, guard_pace, guard_power, guard_round


def started(begun: RoundStarted, state: JobState) -> list[RoundEnded | RoundStarted]:
    """Return the events of a round's start: those that end open rounds, then `begun`.

    Raises UsageError where a coil on at rest forbids it, or such a round can't be.
    """
    matrix = state.layout.matrix(begun.matrix)
    guard_power(state.coils, matrix, begun.round)
    guard_held(matrix, begun.round, begun.held)
    guard_round(matrix, begun.round, begun.cells, begun.manner)
    # One that nobody in particular left open, in an old book, ends as well: nobody else could end it.
    open_ones = [state.rounds[name] for name in dict.fromkeys([state.client, ""]) if name in state.rounds]
    return [*(RoundEnded(round=one.seq) for one in open_ones), begun]


def paced(state: JobState, seconds: float, place: int, paused: bool) -> RoundPaced:
    """Return the event of a timed walk's timing. Raises UsageError when none is open or no walk goes so."""
    if state.round is None or state.round.manner != "paced":
        raise UsageError("no timed walk is open", "start one first")
    guard_pace(seconds, place)
    return RoundPaced(seconds=seconds, place=place, paused=paused, round=state.round.seq)


def ended(state: JobState) -> RoundEnded:
    """Return the event that ends the open round. Raises UsageError when there is none."""
    if state.round is None:
        raise UsageError("no round is open", "start one first")
    return RoundEnded(round=state.round.seq)
