"""What was recorded of a job, newest first; any of it can be struck out, and have it count again."""

from __future__ import annotations

from textual import work
from textual.app import ComposeResult

from matrixcheck.bench import LogLine
from matrixcheck.errors import MatrixCheckError
from matrixcheck.record.strikes import Strike
from matrixcheck.report.calling_back import redone_words, undone_words
from matrixcheck.report.striking import strike_words
from matrixcheck.tui.actions import LOG
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.widgets.history import History
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines


class LogScreen(RecordPage):
    """The job's history. What a strike takes along is asked first where it reaches another matrix."""

    PLACE = LOG

    def compose(self) -> ComposeResult:
        """Compose head, lines, what was kept, keys."""
        yield Lines(self.head("History", "newest first"), id="head")
        yield History(id="log")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    @property
    def _history(self) -> History:
        return self.query_one(History)

    def show(self) -> None:
        """Show the history as the journal has it."""
        self.query_one("#head", Lines).show(self.head("History", "newest first"))
        self._read_log()

    @work(exclusive=True, group="log")
    async def _read_log(self) -> None:
        bench, job = self._desk.bench, self._desk.job
        try:
            lines = await self._desk.keeping.ask(lambda: bench.log(job))
        except MatrixCheckError as error:
            self.say(f"! {error}", "alert")
            return
        if self.is_open:
            first = not self._history.count
            self._history.show_lines(lines)
            if first:
                self.return_to(self._history)

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Only point at what was tapped: nothing is struck out by mistake."""
        message.stop()

    def action_step(self, by: int) -> None:
        """Point at another line."""
        self._history.step(by)

    def action_read_on(self) -> None:
        """Point a page further on; after the last line, at the newest."""
        self._history.page()

    async def action_strike(self) -> None:
        """Strike out the line that is pointed at."""
        line = self._history.pointed
        if line is not None and line.withdrawn:
            key = key_named("redo", LOG, self.keymap)
            self.say(f"that line is struck out: {key} has it count again", "quiet")
        elif line is not None:
            await self._change(line)

    async def action_redo(self) -> None:
        """Have the line count again that is pointed at and struck out; else bring back what was undone last."""
        line = self._history.pointed
        if line is not None and line.withdrawn:
            await self._change(line)
        else:
            await super().action_redo()

    async def _change(self, line: LogLine) -> None:
        """Strike a line out, or have it count again; ask first what reaches further."""
        bench, job = self._desk.bench, self._desk.job
        try:
            strike = await self._desk.keeping.ask(lambda: bench.strike(job, line.seq))
        except MatrixCheckError as error:
            self.say(f"! {error}", "alert")
            return
        if not (strike.beyond or strike.stop):
            self._strike(line, strike)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self._strike(line, strike)

        self.navigation.ask(*strike_words(line.text, strike), answered)

    def _strike(self, line: LogLine, strike: Strike) -> None:
        bench, job = self._desk.bench, self._desk.job
        if strike.back:
            self._desk.queue(
                f"counts again: {line.text}", lambda: bench.redo(job, event=line.seq), self._outcome(redone_words)
            )
        else:
            self._desk.queue(
                f"undone: {line.text}", lambda: bench.undo(job, event=line.seq), self._outcome(undone_words)
            )
