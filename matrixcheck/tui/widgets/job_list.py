"""The jobs on the bench, one of them pointed at."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.message import Message

from matrixcheck.bench import JobSummary
from matrixcheck.tui.text.jobs import job_rows, no_jobs
from matrixcheck.tui.widgets.lines import Lines


class JobList(Lines):
    """Shows jobs; `step` points at another; a tap opens the one that was hit."""

    class Opened(Message):
        """This job is wanted."""

        def __init__(self, job: str) -> None:
            super().__init__()
            self.job = job

    def __init__(self, new_key: str, *, id: str | None = None) -> None:  # noqa: A002
        """`new_key` begins a job."""
        super().__init__(id=id)
        self._new_key = new_key
        self._jobs: tuple[JobSummary, ...] = ()
        self._here = 0

    def show_jobs(self, jobs: Sequence[JobSummary]) -> None:
        """Show these jobs; the one pointed at stays so where it is still among them."""
        here = self._jobs[self._here].id if self._jobs else None
        self._jobs = tuple(jobs)
        ids = [job.id for job in self._jobs]
        self._here = ids.index(here) if here in ids else 0
        self._draw()

    def step(self, by: int) -> None:
        """Point at another job."""
        if self._jobs:
            self._here = (self._here + by) % len(self._jobs)
            self._draw()

    def open(self) -> None:
        """Ask for the job pointed at."""
        if self._jobs:
            self.post_message(self.Opened(self._jobs[self._here].id))

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        self._draw()

    def on_click(self, event: events.Click) -> None:
        """Open the job that was hit."""
        event.stop()
        spot = self.hit(event)
        line = spot[1] + self._first if spot else -1
        for index, rows in enumerate(job_rows(self._jobs, self._here, self.size.width)):
            if 0 <= line < len(rows):
                self._here = index
                self._draw()
                self.open()
                return
            line -= len(rows)

    @property
    def _first(self) -> int:
        """The first line shown, so that the job pointed at is in sight."""
        blocks = job_rows(self._jobs, self._here, self.size.width)
        end = sum(len(rows) for rows in blocks[: self._here + 1])
        return max(end - self.size.height, 0)

    def _draw(self) -> None:
        lines = [line for rows in job_rows(self._jobs, self._here, self.size.width) for line in rows]
        self.show(lines[self._first :] if lines else no_jobs(self._new_key))
