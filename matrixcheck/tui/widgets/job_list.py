"""The jobs on the bench, one of them pointed at."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import JobSummary
from matrixcheck.tui.text.first_steps import first_words
from matrixcheck.tui.text.jobs import ALL_ARCHIVED, heads, job_rows, none_found
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.item_list import Blocks, PointedList
from matrixcheck.tui.widgets.picks import Pick, stacked
from matrixcheck.tui.widths import PHONE


class JobList(PointedList):
    """A list of jobs."""

    def __init__(self, first: Sequence[Pick], *, id: str | None = None) -> None:  # noqa: A002
        """`first` is what can be picked where the book has no job."""
        super().__init__(id=id)
        self._first = tuple(first)
        self._is_empty = False
        self._jobs: tuple[JobSummary, ...] = ()
        self._typed = ""
        self._wanted: str | None = None

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self._first) if self.offers_first else len(self._jobs)

    @property
    def offers_first(self) -> bool:
        """Return whether the book has no job, so that what can be done first is shown."""
        return self._is_empty and not self._jobs

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

    def show_jobs(self, jobs: Sequence[JobSummary], typed: str = "", *, is_empty: bool = False) -> None:
        """Show these jobs, those found by what was `typed`; the one pointed at stays so if it is still among them.

        `is_empty`: the book has none at all.
        """
        was_first, self._is_empty = self.offers_first, is_empty
        here = self._wanted or (self.job_at(self.here) if self._jobs else None)
        self._jobs, self._typed = tuple(jobs), typed
        ids = [job.id for job in self._jobs]
        if here in ids:
            self._wanted = None
        stays = self.here if was_first and self.offers_first else 0
        self.point(ids.index(here) if here in ids else stays)

    def blocks(self) -> Blocks:
        """Return the lines of each job, or of what can be done first."""
        if self.offers_first:
            return stacked(self._first, self.here, self.size.width, airy=self.size.width >= PHONE)
        return job_rows(self._jobs, self.here, self.size.width)

    def above(self) -> Sequence[Row]:
        """Return the heads of the columns, or what stands where there is no job."""
        if self._jobs:
            return heads(self.size.width)
        if self.offers_first:
            return first_words(self.size.width)
        return none_found(self._typed) if self._typed else ALL_ARCHIVED
