"""What each repair was for, and what became of it: the failures before it, and how the same cells stand after."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.events import Found
from matrixcheck.record.job_state import FindingMade, JobState, RepairMade
from matrixcheck.record.outdated import cells_touched
from matrixcheck.record.repair_stages import Before, before_each_repair


class RepairResult(NamedTuple):
    """A repair with the cells on its path that had failed before it.

    `cured` work now, `failing` still fail, `waiting` are not tested again. `found` is what a check had said of the
    place, None where none had.
    """

    repair: RepairMade
    found: FindingMade | None
    cured: tuple[CellKey, ...]
    failing: tuple[CellKey, ...]
    waiting: tuple[CellKey, ...]

    @property
    def done(self) -> str:
        """Return what was done, as far as it was given."""
        return self.repair.said or "repaired"

    @property
    def failed(self) -> int:
        """Return how many cells had failed before."""
        return len(self.cured) + len(self.failing) + len(self.waiting)


def repair_results(state: JobState) -> tuple[RepairResult, ...]:
    """Return the result of every repair of a job, oldest first.

    A cell that a later repair touches is judged as it stood just before that.
    """
    stages = list(before_each_repair(state))
    results = []
    for place, (repair, before) in enumerate(stages):
        touched = frozenset() if repair.outside else cells_touched(state.layout, repair.place)
        failed = sorted(key for key in touched if _fails(before.standings[key]))
        after = {key: _after(key, stages[place + 1 :], state) for key in failed}
        results.append(
            RepairResult(
                repair,
                next(
                    (one for one in before.findings if one.finding.blames == repair.place and one.verdict == "faulty"),
                    None,
                ),
                tuple(key for key in failed if _works(after[key])),
                tuple(key for key in failed if _fails(after[key])),
                tuple(key for key in failed if not _works(after[key]) and not _fails(after[key])),
            )
        )
    return tuple(results)


def findings_made(state: JobState) -> tuple[FindingMade, ...]:
    """Return every bench check of a job that was not undone, oldest first, also those that a repair outdates."""
    return tuple(
        FindingMade(one.event.finding, one.event.note, one.at) for one in state.history if isinstance(one.event, Found)
    )


def _after(key: CellKey, later: list[tuple[RepairMade, Before]], state: JobState) -> Standing:
    for repair, before in later:
        if not repair.outside and key in cells_touched(state.layout, repair.place):
            return before.standings[key]
    return state.standings[key]


def _fails(standing: Standing) -> bool:
    return standing.fails


def _works(standing: Standing) -> bool:
    return standing.mark is Mark.WORKING and not standing.intermittent
