"""Use cases on jobs as a whole: one is opened, all are listed."""

from __future__ import annotations

from matrixcheck.bench.book import Book
from matrixcheck.layout.model import Layout
from matrixcheck.record.answers import JobSummary, summary
from matrixcheck.record.events import JobOpened
from matrixcheck.record.ids import short_ids
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
