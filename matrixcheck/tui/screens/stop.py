"""A coil is on at rest: switch off. Nothing else is offered until it is recorded that the coil fuse is out."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.errors import MatrixCheckError
from matrixcheck.record.coil_lock import COIL_FUSE_OUT, SWITCH_OFF_NOW
from matrixcheck.tui.actions import STOP
from matrixcheck.tui.job_session import Desk, Outcome
from matrixcheck.tui.messages import BookChanged, StateChanged
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.figures import large_words
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widths import QUESTION, sheet_width


class StopScreen(Page[None], ModalScreen[None]):
    """Says it in the largest letters and takes one key. Enter does nothing: haste must not record what wasn't done."""

    DEFAULT_CLASSES = "over"

    PLACE = STOP

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def compose(self) -> ComposeResult:
        """Compose what to do, and keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            yield Wrapped(self._what_to_do, classes="sheet-line")
            yield Lines(id="said", classes="sheet-line")
            yield KeyBar(self.bar())

    def _what_to_do(self) -> list[Row]:
        width = sheet_width(self.app.size.width, QUESTION)
        large = large_words(SWITCH_OFF_NOW.partition(".")[0], width)
        return [*large, row(), *wrapped(SWITCH_OFF_NOW, width, "alert"), row()]

    def on_book_changed(self, message: BookChanged) -> None:
        """Look whether another screen has recorded the fuse."""
        message.stop()
        self.run_worker(self._read_anew(), group="read")

    def on_state_changed(self, message: StateChanged) -> None:
        """Look whether what was kept has lifted the stop."""
        message.stop()
        self._go_on()

    def show_waiting(self) -> None:
        """Say that the record waits to be kept; the stop holds until it is."""
        self._say(self.waiting_words(self._desk.keeping))

    def action_fuse_out(self) -> None:
        """Record that the coil fuse is out."""
        bench, job = self._desk.bench, self._desk.job
        self._desk.queue(COIL_FUSE_OUT, lambda: bench.safety(job, COIL_FUSE_OUT, passed=True), self._outcome())

    def action_undo(self) -> None:
        """Undo what was recorded last."""
        self._desk.undo(self._outcome())

    def action_redo(self) -> None:
        """Bring back what was undone last."""
        self._desk.redo(self._outcome())

    def action_leave(self) -> None:
        """Go back to the grid, to look or to mark; steps with the power on stay closed."""
        self.dismiss()

    def _outcome(self) -> Outcome:
        return Outcome(lambda _: self.call_later(self._go_on), lambda error: self.call_later(self._say, f"! {error}"))

    async def _read_anew(self) -> None:
        try:
            await self._desk.reload()
        except MatrixCheckError as error:
            self._say(f"! {error}")
            return
        self._go_on()

    def _say(self, words: str) -> None:
        if self.is_open:
            self.query_one("#said", Lines).show(wrapped(words, 50, "alert") if words else ())

    def _go_on(self) -> None:
        if self.is_open and not self._desk.state.coils.stop:
            self.dismiss()
