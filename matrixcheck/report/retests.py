"""What the retest of a repair came to, in words: closed by that repair, open again, or how much is left to test."""

from __future__ import annotations

from collections.abc import Collection

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import JobState, RepairMade


def repairs_of(state: JobState, cells: Collection[CellKey]) -> tuple[RepairMade, ...]:
    """Return the repairs that these cells were last tested for, oldest first."""
    last = {key: repair for repair in state.repairs for key in repair.due.intersection(cells)}
    return tuple(repair for repair in state.repairs if any(one is repair for one in last.values()))


def closing_words(state: JobState, repair: RepairMade) -> str:
    """Return what the retest of a repair says of the fault that it was for; of one with nothing to retest, nothing."""
    place = repair.place if repair.outside else place_words(state.layout, repair.place)
    count = len(repair.due)
    match repair.outcome:
        case "passed":
            return f"{place}: {_cells(count)} tested again, all pass. Closed by that repair."
        case "failed":
            return f"{place}: {len(repair.failed)} of {_cells(count)} still fail. Open again."
        case "retest due":
            return f"{place}: {count - len(repair.passed)} of {_cells(count)} left to test again."
    return ""


def _cells(count: int) -> str:
    return f"{count} {'cell' if count == 1 else 'cells'}"
