"""What a command did, as JSON values (format 1): what was recorded, undone or found to be due."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from matrixcheck.bench import Changed, Kept, Undone
from matrixcheck.layout.places import CellKey
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.differences import Difference
from matrixcheck.record.function_lists import FunctionLine
from matrixcheck.record.job_state import FindingMade, FunctionCheckMade, JobState, RepairMade, SafetyCheckMade
from matrixcheck.report.data_parts import (
    Data,
    danger,
    finding_made,
    formatted,
    head,
    repair_made,
    safety_made,
    time_text,
)


def act_data(state: JobState, **body: object) -> Data:
    """Return what was done with a job as a whole, and the job after it."""
    return formatted(**danger(state), job=head(state), **body)


def kept_data(kept: Iterable[Kept], state: JobState) -> Data:
    """Return what was recorded just now, and the state after it; a rest scan has no cell."""
    return formatted(
        **danger(state),
        kept=[
            {
                "seq": state.number_of(one.seq),
                "cell": str(one.cell) if one.cell else None,
                "number": one.number,
                "name": one.name,
                "mark": str(one.mark),
                "before": str(one.before),
                "deferred": one.deferred,
            }
            for one in kept
        ],
    )


def undone_data(gone: Undone, state: JobState) -> Data:
    """Return what no longer counts after an undo, and what counts again as its correction is undone."""
    return _turned(state, gone.cells, undone=gone.what, counts_again=gone.back)


def redone_data(back: Undone, state: JobState) -> Data:
    """Return what counts again after a redo, and what no longer counts as its correction is renewed."""
    return _turned(state, back.cells, redone=back.what, undone=back.back)


def _turned(state: JobState, cells: Sequence[CellKey], **words: Sequence[str]) -> Data:
    said = {name: list(lines) for name, lines in words.items()}
    return formatted(**danger(state), **said, cells=[str(key) for key in cells])


def found_data(made: FindingMade | RepairMade, follows: str, state: JobState) -> Data:
    """Return what a bench check said of a place, and what follows; the verdict `replaced` is a repair."""
    finding, repair = (None, repair_made(made)) if isinstance(made, RepairMade) else (finding_made(made), None)
    return formatted(**danger(state), finding=finding, repair=repair, follows=follows)


def repaired_data(made: RepairMade, state: JobState) -> Data:
    """Return a repair with the cells that are due for a retest."""
    return formatted(**danger(state), repair=repair_made(made))


def retest_data(state: JobState, matrix_id: str, cells: Sequence[CellKey]) -> Data:
    """Return the round over what is due for a retest in a matrix, and how many cells are due in others."""
    due = [state.standings[key] for key in cells]
    return formatted(
        **danger(state),
        matrix=matrix_id,
        cells=[
            {
                "cell": str(one.cell.key),
                "number": one.cell.number,
                "name": one.cell.name,
                "repaired": one.retest_due,
                "passes_left": one.passes_left,
            }
            for one in due
        ],
        others=len(state.due) - len(cells),
    )


def safety_kept(made: Iterable[SafetyCheckMade], state: JobState) -> Data:
    """Return how checks before power came out just now."""
    return formatted(**danger(state), kept=list(map(safety_made, made)))


def functions_kept(made: Iterable[FunctionCheckMade], state: JobState) -> Data:
    """Return what came of lines of the rest of the test mode just now."""
    kept = [
        {"list": one.section, "line": one.item, "outcome": one.verdict, "note": one.note, "at": time_text(one.at)}
        for one in made
    ]
    return formatted(**danger(state), kept=kept)


def changes_data(
    now: JobState,
    then: JobState,
    changes: Iterable[Changed],
    functions: Iterable[tuple[FunctionLine | None, FunctionLine | None]],
) -> Data:
    """Return what stands otherwise than at another visit: cells, and lines of the rest of the test mode."""
    cells = [
        {
            "cell": str(one.now.cell.key),
            "number": one.now.cell.number,
            "name": one.now.cell.name,
            "then": _standing(one.then),
            "now": _standing(one.now),
        }
        for one in changes
    ]
    lines = [
        {
            "list": either.section,
            "line": either.item,
            "then": before.outcome if before else None,
            "now": after.outcome if after else None,
        }
        for before, after in functions
        if (either := after or before) is not None
    ]
    return formatted(job=head(now), then=head(then), cells=cells, lines=lines)


def relaid_data(found: Iterable[Difference], state: JobState) -> Data:
    """Return what differs for a job that goes on with another layout."""
    return act_data(state, differences=list(map(difference_data, found)))


def difference_data(one: Difference) -> Data:
    """Return one thing that differs, with how it was and how it is now; "" where it isn't there."""
    return {"what": one.what, "was": one.before, "now": one.now}


def _standing(standing: Standing) -> Data:
    return {"mark": str(standing.mark), "intermittent": standing.intermittent, "normal": standing.normal}
