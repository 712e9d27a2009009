"""Use cases that look at a job: how it stands, what is left, its history, and what would explain its readings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from matrixcheck.bench.book import Book
from matrixcheck.record.summary import Coverage, LaterItem, LogLine, coverage_of, later_list, log_lines

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis
    from matrixcheck.record.strikes import Strike


class Looking(Book):
    """What can be asked of a job."""

    def status(self, job: str) -> dict[str, Coverage]:
        """Return coverage by matrix id, in the layout's order."""
        return coverage_of(self.state(job))

    def later(self, job: str) -> tuple[LaterItem, ...]:
        """List what is untested, deferred or due for a retest: by matrix, those of one reach together, by number."""
        return later_list(self.state(job))

    def log(self, job: str) -> tuple[LogLine, ...]:
        """List the job's whole history in words, oldest first, withdrawn events included."""
        return log_lines(self._journal.events(self._find(job, self._journal.job_ids)))

    def strike(self, job: str, event: int) -> Strike:
        """Return what striking out an event would change, by its number within the job, or its coming back.

        Raises UsageError for one that can't be struck out.
        """
        from matrixcheck.record.strikes import strike_of  # noqa: PLC0415 - a paint can't wait

        return strike_of(self.state(job), event)

    def diagnosis(self, job: str, seconds: float | None = None) -> Diagnosis:
        """Return what would explain the readings that still speak: the last of what `refine` gives."""
        (last,) = self._analyses.refine(self.state(job), seconds, only_last=True)
        return last

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """Yield better and better diagnoses of the readings that still speak, until one is finished; no lock is held.

        `seconds` is a limit that somebody asks for; once `dropped` says that nobody waits any more, the search ends
        without another diagnosis. What one analysis worked out serves the next one of the same job.
        Raises AnalysisError when the analyser breaks down.
        """
        yield from self._analyses.refine(self.state(job), seconds, dropped)
