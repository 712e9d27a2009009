"""The jobs on the bench, one of them pointed at."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import JobSummary
from matrixcheck.tui.text.jobs import job_rows, no_jobs
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.item_list import Blocks, PointedList


class JobList(PointedList):
    """A list of jobs."""

    def __init__(self, new_key: str, *, id: str | None = None) -> None:  # noqa: A002
        """`new_key` begins a job."""
        super().__init__(id=id)
        self._new_key = new_key
        self._jobs: tuple[JobSummary, ...] = ()

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self._jobs)

    def job_at(self, place: int) -> str:
        """Return the id of the job at a place."""
        return self._jobs[place].id

    def show_jobs(self, jobs: Sequence[JobSummary]) -> None:
        """Show these jobs; the one pointed at stays so where it is still among them."""
        here = self.job_at(self.here) if self._jobs else None
        self._jobs = tuple(jobs)
        ids = [job.id for job in self._jobs]
        self.point(ids.index(here) if here in ids else 0)

    def blocks(self) -> Blocks:
        """Return the lines of each job."""
        return job_rows(self._jobs, self.here, self.size.width)

    def above(self) -> Sequence[Row]:
        """Return what stands on an empty bench."""
        return () if self._jobs else no_jobs(self._new_key)
