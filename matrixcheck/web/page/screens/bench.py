"""The bench: the jobs on it, the one worked on last first, and those that were put away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.bench import JobSummary
from matrixcheck.report.words import moment


@dataclass(frozen=True)
class JobLine:
    """A job in a list: its name, whose machine it is, and how far it is."""

    id: str
    name: str
    about: str
    says: str


@dataclass(frozen=True)
class BenchScreen:
    """The jobs of a bench. `onward` is where an address of old leads, "" for none."""

    jobs: Sequence[JobLine]
    archived: Sequence[JobLine]
    onward: str


def bench_screen(jobs: Sequence[JobSummary], onward: str) -> BenchScreen:
    """Return what the bench's page shows."""
    return BenchScreen(
        [_line(one) for one in jobs if not one.archived],
        [_line(one) for one in jobs if one.archived],
        onward,
    )


def _line(job: JobSummary) -> JobLine:
    about = " · ".join(filter(None, [job.machine, job.serial and f"serial {job.serial}", job.owner]))
    said = [
        f"{job.tested} of {job.cells} tested",
        f"{job.failing} failing" if job.failing else "",
        f"{job.retest_due} to test again" if job.retest_due else "",
        f"closed: {job.verdict}" if job.verdict is not None else ", ".join(job.rounds),
        moment(job.worked_at),
    ]
    return JobLine(job.id, job.name, about, " · ".join(filter(None, said)))
