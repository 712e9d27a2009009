"""What the pages beside the grid do alike that record something: a list to point at, and a line that says what was
kept."""

from __future__ import annotations

from collections.abc import Callable

from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.messages import BookChanged
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.screens.words import WordsScreen
from matrixcheck.tui.text.job import undone_words
from matrixcheck.tui.text.spans import wrapped
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Picks


class RecordPage(Page[None]):
    """A page of one job. `show` draws it anew; `record` keeps something and says so on the line `#said`."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def show(self) -> None:
        """Draw what the journal says."""

    def on_mount(self) -> None:
        """Draw what the journal says."""
        self.show()

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote; where a coil is on at rest, the job says so."""
        message.stop()
        self._desk.reload()
        if self._desk.state.coils.stop:
            self.dismiss()
            return
        self.show()

    def action_step(self, by: int) -> None:
        """Point at another line."""
        self.query_one(Picks).step(by)

    def action_undo(self) -> None:
        """Take back what was kept last."""
        self.record(lambda: undone_words(self._desk.undo()))

    def action_note(self) -> None:
        """Write a note."""
        self.ask_for_note("A note on this job")

    def action_leave(self) -> None:
        """Back to the job."""
        self.dismiss()

    def ask_for_note(self, heading: str, about: str = "") -> None:
        """Let a note be written; `about` begins it."""

        def written(words: str | None) -> None:
            if words is not None:
                self.record(lambda: self._keep_note(f"{about}{words}"))

        self.app.push_screen(WordsScreen(heading, "your words, then Enter"), written)

    def record(self, keep: Callable[[], str]) -> None:
        """Do what keeps something, and say what it answers; or what was refused."""
        said, width = self.query_one("#said", Lines), self.app.size.width - 2
        try:
            words = keep()
        except MatrixCheckError as error:
            said.show(wrapped(f"! {error}", width, "alert"))
            return
        self._desk.reload()
        self.show()
        said.show(wrapped(words, width, "strong"))

    def _keep_note(self, text: str) -> str:
        self._desk.bench.note(self._desk.job, text)
        return "kept: the note"
