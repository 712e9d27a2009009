"""What was recorded of a job, newest first."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.actions import LOG
from matrixcheck.tui.screens.page import read_on
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.log import log_rows
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widths import PHONE


class LogScreen(RecordPage):
    """The job's history; a note can be added to it, and the last thing undone."""

    PLACE = LOG

    def compose(self) -> ComposeResult:
        """Compose head, lines, what was kept, keys."""
        yield Lines(self.head("History", "newest first"), id="head")
        with VerticalScroll(id="log", can_focus=False):
            yield Lines(id="log-lines")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def show(self) -> None:
        """Show the history as the journal has it."""
        self.run_worker(self._read_log(), group="log", exclusive=True)

    async def _read_log(self) -> None:
        bench, job = self._desk.bench, self._desk.job
        try:
            lines = await self._desk.keeping.ask(lambda: bench.log(job))
        except MatrixCheckError as error:
            self.say(f"! {error}", "alert")
            return
        width = self.app.size.width
        self.query_one("#log-lines", Lines).show(log_rows(lines, width - (5 if width < PHONE else 8)))

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        super().on_resize()
        self.show()

    def action_scroll(self, by: int) -> None:
        """Show what is above or below."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)

    def action_read_on(self) -> None:
        """Show the next page; after the last, the first again."""
        read_on(self.query_one(VerticalScroll))
