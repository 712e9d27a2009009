"""What the pages beside the grid do alike that record something: a list to point at, and a line that says what was
kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual import events

from matrixcheck.errors import MatrixCheckError
from matrixcheck.report.calling_back import redone_words, undone_words
from matrixcheck.tui.job_session import Desk, Outcome
from matrixcheck.tui.keymap import waiting_cap
from matrixcheck.tui.messages import BookChanged, BookTrouble, StateChanged
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.job import danger_first
from matrixcheck.tui.text.spans import Row, Tone, wrapped
from matrixcheck.tui.widgets.item_list import PointedList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Picks
from matrixcheck.tui.widgets.toned import taken


class RecordPage(Page[None]):
    """A page of one job. `show` draws it anew; `record` keeps something and says so on the line `#said`."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def show(self) -> None:
        """Draw what the journal says."""

    def head(self, title: str, more: str = "") -> list[Row]:
        """Return the title, behind what is dangerous."""
        return [(*danger_first(self._desk.state), (title, "title"), (f"  {more}" if more else "", "quiet"))]

    def on_mount(self) -> None:
        """Draw what the journal says."""
        self.show()

    def on_screen_suspend(self) -> None:
        """Take note that another screen comes before this one, on which Enter may be pressed once too often.

        Which line is pointed at is kept for the way back.
        """
        self.hold_enter()
        for shown in self.query(PointedList):
            self._desk.left.lists[self.PLACE.name] = shown.place

    def return_to(self, shown: PointedList) -> None:
        """Point at the line of a list that was pointed at when the page was left."""
        shown.return_to(self._desk.left.lists.get(self.PLACE.name))

    async def on_key(self, event: events.Key) -> None:
        """Let the Enter do nothing that may still be meant for a sheet that closed just now."""
        held, self._enter_held = self._enter_held, False
        if held and event.key == "enter":
            taken(event)
            self.say("Press Enter again if it is meant for the line pointed at.", "quiet")

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote; where a coil is on at rest, the job says so."""
        message.stop()
        self.run_worker(self._read_anew(), group="read")

    def on_book_trouble(self, message: BookTrouble) -> None:
        """Say what is wrong with the book."""
        message.stop()
        self.say(f"! {message.error}", "alert")

    def on_state_changed(self, message: StateChanged) -> None:
        """Show what was kept for a screen that was left since."""
        message.stop()
        if self.is_open:
            self.show()

    async def _read_anew(self) -> None:
        try:
            await self._desk.reload()
        except MatrixCheckError as error:
            self.say(f"! {error}", "alert")
            return
        if self.is_open and self._desk.state.coils.stop:
            self.dismiss()
            return
        if self.is_open:
            self.show()

    def show_waiting(self) -> None:
        """Say what waits to be kept, and offer the key for it."""
        keeping = self._desk.keeping
        self.say(self.waiting_words(keeping), "alert")
        waiting = (waiting_cap(self.keymap),) if keeping.waiting else ()
        self.query_one(KeyBar).use((*self.bar(), *waiting))

    def say(self, words: str, tone: Tone) -> None:
        """Say something on the line for that."""
        if self.is_open:
            self.query_one("#said", Lines).show(wrapped(words, self.app.size.width - 2, tone) if words else ())

    def action_step(self, by: int) -> None:
        """Point at another line."""
        self.query_one(Picks).step(by)

    def action_undo(self) -> None:
        """Undo what was kept last."""
        self._desk.undo(self._outcome(undone_words))

    async def action_redo(self) -> None:
        """Bring back what was undone last."""
        self._desk.redo(self._outcome(redone_words))

    def action_note(self) -> None:
        """Write a note."""
        self.ask_for_note("A note on this job")

    def action_leave(self) -> None:
        """Go back to the job."""
        self.dismiss()

    def ask_for_note(self, heading: str, about: str = "") -> None:
        """Let a note be written; `about` begins it."""

        def written(words: str) -> None:
            note = f"{about}{words}"
            bench, job = self._desk.bench, self._desk.job
            self.record(f"note: {note}", lambda: bench.note(job, note), "kept: the note")

        self.navigation.note(self._desk.left.notes, heading, written)

    def record(self, words: str, keep: Callable[[], Any], says: str) -> None:
        """Queue what `keep` keeps, in `words`; once it is kept, show it and say so."""
        self._desk.queue(words, keep, self._outcome(lambda _: says))

    def _outcome(self, says: Callable[[Any], str]) -> Outcome:
        def kept(answer: Any) -> None:
            self.say(says(answer), "strong")

        return Outcome(
            lambda answer: self.call_later(kept, answer), lambda error: self.call_later(self.say, f"! {error}", "alert")
        )
