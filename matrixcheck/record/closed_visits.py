"""What a closed job says of how often things fail: what it tested, and what its repairs cured.

A repair cured what it was made for only where its retest passed, something on its path had failed before, and no other
repair of the same cells came before the retest: two repairs under one retest say nothing of either.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.visits import Cured, Visit
from matrixcheck.record.cell_state import Standings, has_outcome
from matrixcheck.record.events import JobClosed, JobOpened, JobReopened, Read, Recorded, Relaid, Repaired
from matrixcheck.record.job_state import JobState, RepairMade
from matrixcheck.record.outdated import cells_touched
from matrixcheck.record.repair_stages import Before, before_each_repair
from matrixcheck.record.replay import replay
from matrixcheck.record.withdrawals import struck_out


def visit_of(events: Sequence[Recorded]) -> Visit | None:
    """Return what the events of a job say, all of them and oldest first; None unless it is closed.

    What was struck out says nothing. Only a job with repairs, or with several layouts, is replayed.
    """
    gone = struck_out(events)
    counting = [one for one in events if one.seq not in gone]
    opening = counting[0].event
    ends = [one.event for one in counting if isinstance(one.event, JobClosed | JobReopened)]
    if not isinstance(opening, JobOpened) or not ends or isinstance(ends[-1], JobReopened):
        return None
    if not any(isinstance(one.event, Repaired | Relaid) for one in counting):
        return Visit(opening.layout, _tested(counting))
    state = replay(events)
    return Visit(state.layout, _tested(state.history), tuple(_cured(state)))


def _tested(events: Iterable[Recorded]) -> frozenset[CellKey]:
    readings = (one.event.reading for one in events if isinstance(one.event, Read))
    return frozenset(reading.cell for reading in readings if reading.cell and has_outcome(reading))


def _cured(state: JobState) -> Iterator[Cured]:
    """Yield what each repair cured; a place that was repaired several times counts once."""
    stages = list(before_each_repair(state))
    seen: set[str] = set()
    for at, (repair, before) in enumerate(stages):
        if repair.outside or repair.outcome != "passed" or repair.place in seen:
            continue
        touched = cells_touched(state.layout, repair.place)
        dead = frozenset(key for key in touched if before.standings[key].mark is Mark.DEAD)
        on = touched & _on(before.standings)
        if (dead or on) and not _shared(dead | on, repair, stages[at + 1 :]):
            seen.add(repair.place)
            yield Cured(repair.place, dead, on)


def _on(standings: Standings) -> frozenset[CellKey]:
    """Return the cells that showed without being called: stuck, or as an echo of others."""
    stuck = (key for key, one in standings.items() if one.mark is Mark.STUCK and not one.normal)
    return frozenset(stuck).union(*(one.echoed for one in standings.values()))


def _shared(failed: frozenset[CellKey], repair: RepairMade, later: Sequence[tuple[RepairMade, Before]]) -> bool:
    """Return whether another repair of cells that had failed was made while they waited for this one's retest."""
    return any(
        repair.seq in before.standings[key].repaired_by and before.standings[key].retest_due is not None
        for other, before in later
        for key in failed & other.due
    )
