"""The bench: the jobs on it, and the way to put another machine there."""

from __future__ import annotations

from textual.app import ComposeResult

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.actions import BENCH
from matrixcheck.tui.keeping import Keeping
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.messages import BookChanged, BookTrouble, StateChanged
from matrixcheck.tui.page_address import show_address
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.spans import Row, wrapped
from matrixcheck.tui.text.waiting import now_in
from matrixcheck.tui.widgets.job_list import JobList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines


class BenchScreen(Page[None]):
    """All jobs with how far they are tested."""

    PLACE = BENCH

    def __init__(self, bench: Bench, keeping: Keeping) -> None:
        super().__init__()
        self._keeping = keeping
        self._bench = bench

    def compose(self) -> ComposeResult:
        """Compose head, jobs, what went wrong, keys."""
        yield Lines(self._head(), id="head")
        yield JobList(key_named("new_job", BENCH, self.keymap), id="jobs")
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def on_screen_resume(self) -> None:
        """Read the jobs anew whenever the bench comes back into sight."""
        self._show()
        show_address(self.app, None, None)

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote."""
        message.stop()
        self._show()

    def on_item_list_picked(self, message: JobList.Picked) -> None:
        """Open the job that was tapped."""
        message.stop()
        self._open(self.query_one(JobList).job_at(message.place))

    def action_open(self) -> None:
        """Open the job pointed at."""
        jobs = self.query_one(JobList)
        if jobs.count:
            self._open(jobs.job_at(jobs.here))

    def action_step(self, by: int) -> None:
        """Point at another job."""
        self.query_one(JobList).step(by)

    def action_new(self) -> None:
        """Put a machine on the bench."""
        self.navigation.new_job(self._open)

    def on_state_changed(self, message: StateChanged) -> None:
        """Show what was kept for a screen that was left since."""
        message.stop()
        self._show()

    def on_book_trouble(self, message: BookTrouble) -> None:
        """Say what is wrong with the book."""
        message.stop()
        self._complain(message.error)

    def show_waiting(self) -> None:
        """Say what waits to be kept."""
        words = self.waiting_words(self._keeping)
        self.query_one("#trouble", Lines).show(wrapped(words, self.app.size.width - 2, "alert") if words else ())

    def _head(self) -> list[Row]:
        about = ["every job, how far tested", now_in(self._bench.path.name if self._bench.moved else "")]
        return [(("The bench", "title"), (f"  {' · '.join(filter(None, about))}", "quiet"))]

    def _show(self) -> None:
        self.show_waiting()
        self.query_one("#head", Lines).show(self._head())
        self.run_worker(self._read_jobs(), group="read", exclusive=True)

    async def _read_jobs(self) -> None:
        try:
            jobs = await self._keeping.ask(lambda: self._bench.jobs(archived=False))
        except MatrixCheckError as error:
            self._complain(error)
            return
        self.query_one(JobList).show_jobs(jobs)

    def _open(self, job: str | None) -> None:
        if job is None or not self.is_top:
            return
        try:
            self.navigation.job(job)
        except MatrixCheckError as error:
            self._complain(error)

    def _complain(self, error: MatrixCheckError) -> None:
        self.query_one("#trouble", Lines).show(wrapped(f"! {error}", self.app.size.width - 2, "alert"))
