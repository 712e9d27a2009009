"""A job: how far each matrix is tested, its grids, the answer in short, and the ways on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.bench import Coverage, JobSummary
from matrixcheck.record.function_lists import function_counts, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import checklist, counts
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.functions import counted as functions_counted
from matrixcheck.report.safety import counted
from matrixcheck.report.visits import state_words
from matrixcheck.report.words import coverage_words
from matrixcheck.web.page.answers import Found
from matrixcheck.web.page.screens.answer import Brief, brief_of
from matrixcheck.web.page.screens.grid import Grid, grid_of
from matrixcheck.web.page.screens.head import JobHead, head_of

VERDICTS = ("works", "works, but for what is listed", "goes back as it came")
"""How a machine mostly leaves the bench."""


@dataclass(frozen=True)
class MatrixShown:
    """A matrix with how far it is tested; `round` is this phone's open round of it, "" where there is none."""

    grid: Grid
    coverage: str
    failing: str
    round: str
    round_words: str


@dataclass(frozen=True)
class Way:
    """A way on from the job, and what waits there."""

    href: str
    name: str
    says: str
    urgent: bool = False


@dataclass(frozen=True)
class JobScreen:
    """A job; `about` says whose machine it is and how it stands. `name`, `serial` and `owner` may be put right."""

    head: JobHead
    about: Sequence[str]
    serial: str
    owner: str
    verdict: str | None
    archived: bool
    verdicts: Sequence[str]
    brief: Brief
    matrices: Sequence[MatrixShown]
    ways: Sequence[Way]


def job_screen(state: JobState, found: Found, jobs: Sequence[JobSummary]) -> JobScreen:
    """Return what a job's page shows; `jobs` are all of the bench, for the machine's other visits."""
    mine = next((one for one in jobs if one.id == state.id), None)
    whose = " · ".join(filter(None, [state.layout.name, state.serial and f"serial {state.serial}", state.owner]))
    coverage = coverage_of(state)
    return JobScreen(
        head_of(state),
        (whose, *(state_words(mine, jobs) if mine else ())),
        state.serial,
        state.owner,
        state.verdict,
        state.archived,
        VERDICTS,
        brief_of(found),
        [_matrix(state, name, coverage[name]) for name in state.layout.matrix_ids],
        _ways(state),
    )


def _matrix(state: JobState, name: str, coverage: Coverage) -> MatrixShown:
    failing = [(coverage.dead, "dead"), (coverage.stuck, "stuck"), (coverage.retest_due, "to test again")]
    one = state.round if state.round is not None and state.round.matrix == name else None
    sort = {"paced": "timed", "all-lit": "all"}.get(one.manner, str(one.kind)) if one else ""
    return MatrixShown(
        grid_of(state.id, state.layout.matrix(name), state.standings),
        coverage_words(coverage),
        ", ".join(f"{count} {what}" for count, what in failing if count),
        sort,
        f"Go on with the {ROUND_WORDS[sort]}" if sort else "",
    )


ROUND_WORDS = {
    "roll": "roll",
    "walk": "walk",
    "timed": "timed walk",
    "all": "all-at-once walk",
    "rest": "rest scan",
    "hold": "hold round",
}


def _ways(state: JobState) -> tuple[Way, ...]:
    """Return the ways on, in the order of the work."""
    checks, lines, home = counts(checklist(state)), function_counts(function_lists(state)), f"/job/{state.id}"
    later, due = len(later_list(state)), len(state.due)
    waits = ", ".join(filter(None, [f"{later} to test" if later else "nothing left", f"{due} again" if due else ""]))
    return (
        Way(f"{home}/safety", "Before power", counted(checks), urgent=bool(checks.failed)),
        Way(f"{home}/later", "The later list", waits),
        Way(f"{home}/functions", "The rest of the test mode", functions_counted(lines)),
        Way(f"{home}/repair", "Repair", f"{len(state.repairs)} kept" if state.repairs else "none kept"),
        Way(f"{home}/notes", "Notes", f"{len(state.notes)} kept" if state.notes else "none kept"),
        Way(f"{home}/photos", "Photos", f"{len(state.photos)} kept" if state.photos else "none kept"),
        Way(f"{home}/history", "History", f"{len(state.everything)} entries"),
        Way(f"{home}/report", "Report", "to read or print"),
    )
