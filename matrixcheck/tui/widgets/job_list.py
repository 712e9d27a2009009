"""The jobs on the bench, one of them pointed at."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import JobSummary
from matrixcheck.tui.text.jobs import heads, job_rows, no_jobs, none_found
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.item_list import Blocks, PointedList


class JobList(PointedList):
    """A list of jobs."""

    def __init__(self, new_key: str, *, id: str | None = None) -> None:  # noqa: A002
        """`new_key` begins a job."""
        super().__init__(id=id)
        self._new_key = new_key
        self._jobs: tuple[JobSummary, ...] = ()
        self._typed = ""
        self._wanted: str | None = None

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self._jobs)

    @property
    def pointed(self) -> JobSummary | None:
        """Return the job pointed at, None where there is none."""
        return self._jobs[self.here] if self._jobs else None

    def job_at(self, place: int) -> str:
        """Return the id of the job at a place."""
        return self._jobs[place].id

    def want(self, job: str) -> None:
        """Point at a job from the next time on that it is among those shown."""
        self._wanted = job

    def show_jobs(self, jobs: Sequence[JobSummary], typed: str = "") -> None:
        """Show these jobs, those found by what was `typed`; the one pointed at stays so if it is still among them."""
        here = self._wanted or (self.job_at(self.here) if self._jobs else None)
        self._jobs, self._typed = tuple(jobs), typed
        ids = [job.id for job in self._jobs]
        if here in ids:
            self._wanted = None
        self.point(ids.index(here) if here in ids else 0)

    def blocks(self) -> Blocks:
        """Return the lines of each job."""
        return job_rows(self._jobs, self.here, self.size.width)

    def above(self) -> Sequence[Row]:
        """Return the heads of the columns, or what stands where there is no job."""
        if self._jobs:
            return heads(self.size.width)
        return none_found(self._typed) if self._typed else no_jobs(self._new_key)
