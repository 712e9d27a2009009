"""What every screen on which cells are marked does alike: an entry is kept or refused, undone and brought back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from matrixcheck.bench import Kept, Undone
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import short_words
from matrixcheck.record.validation import UndoElsewhereError
from matrixcheck.report.calling_back import kept_words, redone_words, undone_words
from matrixcheck.tui.job_session import Outcome, Refused, Said
from matrixcheck.tui.screens.refusals import RefusalsScreen
from matrixcheck.tui.text.job import preview
from matrixcheck.tui.text.number_keys import goes_on, speaks_on

FAINT = "~"


class MarkingScreen(RefusalsScreen):
    """A screen with a grid whose cells are marked."""

    def submit(self, text: str) -> None:
        """Keep what was typed, and go to the last cell of it."""
        cells = self.keep_typed(text)
        if cells:
            self.grid.move_to(cells[-1])

    def foretell(self, text: str) -> str:
        """Return what an entry would do, while it is being typed."""
        if text.startswith(FAINT):
            return f"while {short_words(self.cell)} is lit these glow faintly: type their numbers"
        return preview(self.completed(text), self.matrix) or goes_on(text, self.matrix)

    def action_undo(self) -> None:
        """Undo what was kept last."""
        self.take_back()

    def action_faint(self) -> None:
        """Begin an entry that says what glows faintly while the cell under the cursor is lit."""
        self.entry.take(FAINT, FAINT)
        self.entry.say(self.foretell(self.entry.text), "quiet")

    def action_put_off(self) -> None:
        """Put the cell under the cursor on the later list for a reason that is picked or typed."""
        # Most are put off by one key, for the reason that the layout gives.
        from matrixcheck.report.later import reasons_for  # noqa: PLC0415

        cell = self.cell

        def answered(reason: str | None) -> None:
            if reason is not None:
                self.defer(cell, reason)

        heading = f"{short_words(cell)}: why later?"
        reasons = reasons_for(cell, self._desk.layout)
        self.navigation.words(heading, "your reason, or pick one", answered, reasons)

    def keep_typed(self, text: str) -> tuple[CellKey, ...]:
        """Keep an entry as it was typed."""
        return self.keep(text if text.startswith(FAINT) else self.completed(text))

    def take_back(self, then: Callable[[tuple[CellKey, ...]], None] = lambda _: None, since: int = 0) -> None:
        """Withdraw what was kept last, after the event `since`, say so, and do `then` with the cells concerned.

        What was kept in another matrix is named, and asked about first.
        """

        def undone(gone: Undone) -> None:
            self._say_kept(undone_words(gone))
            then(gone.cells)

        def refused(error: MatrixCheckError) -> None:
            if isinstance(error, UndoElsewhereError):
                self._ask_to_undo(error, self.outcome(undone))
            else:
                self.complain(error)

        self._desk.undo(self.outcome(undone, refused), since=since, within=self._matrix_id)

    def _ask_to_undo(self, last: UndoElsewhereError, outcome: Outcome) -> None:
        def answered(yes: bool | None) -> None:
            if yes:
                self._desk.undo(outcome, last.batch)

        question = f"The last entry is in another matrix, {last.where}. Undo it?"
        self.navigation.ask(question, f"What is undone: {'; '.join(last.what)}", answered)

    def action_redo(self) -> None:
        """Bring back what was undone last."""
        self._desk.redo(self.outcome(lambda back: self._say_kept(redone_words(back))))

    def keep(self, text: str) -> tuple[CellKey, ...]:
        """Have an entry kept, and say so once it is; return the cells that it speaks of.

        A refused one that was typed is set aside, with the reason; then there are none.
        """
        outcome = self.outcome(self.kept, lambda error: self.refuse(text, error))
        try:
            if text.startswith(FAINT):
                cells = self._desk.faint(self.matrix, self.cell, text.removeprefix(FAINT), outcome)
            else:
                cells = self._desk.mark(self.matrix, text, outcome)
        except MatrixCheckError as error:
            if self.entry.text:
                self.refuse_typed(text, error)
            else:
                self.complain(error)
            return ()
        self.entry.clear()
        self.settled()
        return cells

    def kept(self, what: Sequence[Kept]) -> None:
        """Say what was kept."""
        self._say_kept(kept_words(what, self._desk.state.standings))

    def defer(self, cell: Cell, reason: str) -> None:
        """Have a cell put off, and say so once it is kept."""

        def put_off(what: Sequence[Kept]) -> None:
            self._say_kept(f"{kept_words(what, self._desk.state.standings)}: {reason}")

        self._desk.defer(cell, reason, self.outcome(put_off))

    def outcome(self, kept: Said, refused: Refused | None = None) -> Outcome:
        """Return what becomes of an entry, handed to this screen once it stands, and only while it is there."""
        refused = refused or self.complain

        def while_open(say: Callable[[Any], None], what: object) -> None:
            if self.is_open:
                say(what)

        return Outcome(
            lambda answer: self.call_later(while_open, kept, answer),
            lambda error: self.call_later(while_open, refused, error),
        )

    def _say_kept(self, words: str) -> None:
        """Say what was kept, unless the next entry is being typed, and show it."""
        if not self.entry.text:
            self.entry.say(words, "strong")
        self.after_change()

    def completed(self, text: str) -> str:
        """Return an entry that begins with a sign with the number of the cell under the cursor, of which it speaks."""
        return f"{self.cell.number}{text}" if speaks_on(text) else text

    def action_page(self, name: str) -> None:
        """Show a page of this job."""
        self.navigation.page(name, self._desk)

    def action_note(self) -> None:
        """Write a note."""
        self.navigation.note(self._desk.left.notes, "A note on this job", self.note)

    def note(self, words: str) -> None:
        """Keep a note."""
        bench, job = self._desk.bench, self._desk.job
        self._desk.queue(
            f"note: {words}", lambda: bench.note(job, words), self.outcome(lambda _: self._say_kept("kept: the note"))
        )
