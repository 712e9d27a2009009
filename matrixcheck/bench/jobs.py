"""Use cases on jobs as a whole: one is opened, all are listed, some go on in another book."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from matrixcheck.bench.book import Book
from matrixcheck.errors import BookError, UsageError
from matrixcheck.layout.model import Layout
from matrixcheck.record.answers import JobSummary, summary
from matrixcheck.record.copying import copy_job
from matrixcheck.record.events import JobOpened
from matrixcheck.record.ids import short_ids
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay
from matrixcheck.record.validation import one_line


class Jobs(Book):
    """What can be done with jobs."""

    def new_job(self, layout: Layout, name: str, serial: str = "", owner: str = "") -> str:
        """Open a job for a machine and return its short id. The layout is kept with the job."""
        opened = JobOpened(
            name=one_line(name, "the job's name"),
            serial=one_line(serial, "the serial number", empty=True),
            owner=one_line(owner, "the owner", empty=True),
            layout=layout,
        )
        with self._lock:
            with self._journal.writing() as book:
                self._first_seen()
                taken = book.job_ids()
                fresh = short_ids(f"{opened.name}/{len(taken)}/{self._journal.now().isoformat()}")
                job = next(one for one in fresh if one not in taken)
                recorded = book.append(job, [opened], self.by)
            self._own(recorded)
            return job

    def jobs(self) -> tuple[JobSummary, ...]:
        """List every job in the book, oldest first."""
        with self._lock:
            self._first_seen()
            for recorded in self._journal.events(after=self._listed):
                self._listed = recorded.seq
                if recorded.seq > self._seq(recorded.job):
                    self._caught_up(recorded.job, [recorded])
            return tuple(summary(state) for state in sorted(self._states.values(), key=lambda one: one.history[0].seq))

    def move_to(self, path: Path, jobs: Iterable[str]) -> dict[str, JobState]:
        """Go on in the book at `path`: copy these jobs there as this bench last read them.

        Returns their states by id there. The old book is left alone, and needn't be there any more. Raises, changing
        nothing, UsageError for the old book's own file or where the other holds such a job with other events, BookError
        where it takes none.
        """
        with self._lock:
            if self._journal.is_at(path):
                raise UsageError(f"{path} is the book itself", "name another file")
            known = [self._states[self._find(job, lambda: tuple(self._states))] for job in jobs]
            other = self._journal_at(path)
            try:
                with other.writing() as book:
                    states = {one.id: replay(copy_job(one.history, book), self.by.id) for one in known}
            except BaseException:
                other.close()
                raise
            old, self._journal, self.path, self.moved = self._journal, other, path, True
            self._states, self._seen, self._listed = states, None, 0
            with suppress(BookError):
                old.close()
            return dict(states)
