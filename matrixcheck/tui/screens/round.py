"""What all rounds do alike: they begin and end in the journal, and call the device at hand back large."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from textual.widget import Widget

from matrixcheck.bench import Kept
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.report.calling_back import differed_words
from matrixcheck.report.retests import closing_words, repairs_of
from matrixcheck.report.safety import failed_lines
from matrixcheck.tui.job_session import NOTHING, Desk, RoundLeft
from matrixcheck.tui.keymap import often_of
from matrixcheck.tui.round_steps import awaiting_retest, entered_since, order_of
from matrixcheck.tui.screens.marking import MarkingScreen
from matrixcheck.tui.text.job import danger_first
from matrixcheck.tui.text.keys import Cap, filled
from matrixcheck.tui.text.now import called
from matrixcheck.tui.text.round_over import marks_of, round_words
from matrixcheck.tui.text.spans import Row, row
from matrixcheck.tui.widgets.call_out import CallOut
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widths import PANE_TEXT, PHONE, WIDE


def unsaid(closing: Callable[[], Sequence[str]]) -> None:
    """Say nothing of a round that was left."""
    del closing


class RoundScreen(MarkingScreen):
    """A round that the journal holds open, or soon will. It goes through `order`."""

    NAME = "round"
    caution = ""
    """What must be said at the start, where no sheet before the round has said it."""

    def __init__(self, desk: Desk, matrix_id: str, cells: Collection[CellKey] = ()) -> None:
        super().__init__(desk, matrix_id)
        self.order = order_of(self.matrix, cells)
        self.left: RoundLeft = unsaid
        """Gets what the round came to once it was left, to say it on the screen below."""
        self._opened_at = desk.state.seq
        self._corrected: CellKey | None = None
        self._before = marks_of(self.order, desk.state.standings)
        self._awaited = awaiting_retest(self.order, desk.state, self.since)

    @property
    def since(self) -> int:
        """Return the event that began the round; while its start waits to be kept, the last one before it."""
        began = self._desk.round_began
        return self._opened_at if began is None else began

    def header(self) -> Sequence[Widget]:
        """Return what is under way."""
        return (Lines(self.head_rows(), id="head"),)

    def pane(self, grid: MatrixGrid) -> Sequence[Widget]:
        """Return the device at hand, and what else there is to say."""
        del grid
        return CallOut(self.matrix.longest_number, id="call"), Lines(id="more")

    def caps(self) -> Sequence[Cap]:
        """Return the keys that there is room for; help has them all."""
        caps, width = super().caps(), self.app.size.width
        return filled(caps, often_of(self.PLACE, self.keymap), width - 2) if PHONE <= width < WIDE else caps

    def head_rows(self) -> Sequence[Row]:
        """Return the round in one line."""
        state, about = self._desk.state, f"{self.NAME} · {self.matrix.id}"
        return [(*danger_first(state), (about, "title"), (f"  {state.name}", "quiet"))]

    def more(self, width: int) -> Sequence[Row]:
        """Return what stands below the device at hand."""
        del width
        return ()

    def hand(self) -> Cell | None:
        """Return the device at hand."""
        return self.cell

    @property
    def width(self) -> int:
        """Return the width of the pane's text."""
        return PANE_TEXT if self.app.size.width >= WIDE else self.app.size.width - 2

    def draw_pane(self) -> None:
        """Call the device at hand back."""
        cell, call_out = self.hand(), self.query_one(CallOut)
        rows: Sequence[Row] = ()
        if cell is not None:
            rows = called(cell, self._desk.state.standings[cell.key], self.width - call_out.figures_width)
        call_out.call(cell.number if cell else None, rows)
        self.query_one("#more", Lines).show([row(), *self.more(self.width)])

    @property
    def is_over(self) -> bool:
        """Return whether the journal says that the round was ended."""
        open_round, began = self._desk.state.round, self._desk.round_began
        return began is not None and (open_round is None or open_round.seq != began)

    def closing(self) -> tuple[str, ...]:
        """Return what the retests made in this round say of the repairs that they were due for."""
        state = self._desk.state
        repairs = repairs_of(state, self._awaited | awaiting_retest(self.order, state, self.since))
        return tuple(filter(None, (closing_words(state, repair) for repair in repairs)))

    def summary(self) -> tuple[str, ...]:
        """Return what this round came to: its retests, then what was tested, put off and found changed."""
        state = self._desk.state
        said = round_words(self.matrix.in_walk_order, entered_since(state, self.since), self._before, state.standings)
        return (*self.closing(), *filter(None, [said]))

    def draw(self) -> None:
        """Bring everything up to date, dangers at the head as well."""
        super().draw()
        self.query_one("#head", Lines).show(self.head_rows())

    def on_mount(self) -> None:
        """Say first which checks before power failed, and what else must be known before the power is on.

        Close at once where the round was ended while the screen was being made.
        """
        first = " ".join(filter(None, [*failed_lines(self._desk.state.safety), self.caution]))
        if first:
            self.entry.say(first, "alert")
        if self.is_over:
            self.call_later(self.after_change)

    def after_change(self) -> None:
        """Show it; a round that was ended on another screen ends here too, and any where a coil is on at rest."""
        if self.relaid and not self._goes_on():
            self.app.notify("The layout was changed: begin the round anew.")
            self.end()
        elif self.relaid:
            self.call_later(self.relay)
        elif not self._desk.state.coils.allows(self._matrix_id, rest_scan=self.NAME == "rest scan"):
            self.end()
        elif self.is_over:
            self.leave()
        else:
            self.draw()

    def _goes_on(self) -> bool:
        """Take the cells as another layout has them; whether all of them are there under their numbers."""
        if self._matrix_id not in self._desk.layout.matrix_ids:
            return False
        fitted = self.matrix.by_key
        if any(cell.key not in fitted or fitted[cell.key].number != cell.number for cell in self.order):
            return False
        self.order = tuple(fitted[cell.key] for cell in self.order)
        return True

    def not_begun(self, error: MatrixCheckError | None = None) -> None:
        """Close, as the start of the round was refused or dropped by hand."""
        self.leave()
        if error is not None:
            self.app.notify(str(error), severity="error")

    def action_differed(self) -> None:
        """Let both of the last two outcomes of a cell count, the one that was corrected as well."""
        if self._corrected is None:
            self.entry.say("nothing was corrected: type a number again, with what it did now", "quiet")
            return
        self._desk.differed(self._corrected, self.outcome(lambda kept: self._say_kept(differed_words(kept))))
        self._corrected = None

    def kept(self, what: Sequence[Kept]) -> None:
        """Say what was kept, and remember which cell was corrected last."""
        super().kept(what)
        corrected = [one.cell for one in what if one.corrected]
        self._corrected = corrected[-1] if corrected else None

    def take_back(self, then: Callable[[tuple[CellKey, ...]], None] = lambda _: None, since: int = 0) -> None:
        """Withdraw what this round kept last. It stops at the round's start, however long the key is held."""
        super().take_back(then, since or self.since)

    def action_leave(self) -> None:
        """End the round."""
        self.end()

    def end(self) -> None:
        """End the round, whatever else leaving asks of a screen. One that has ended elsewhere is over all the same."""
        self._desk.end_round(NOTHING)
        self.leave()

    def leave(self) -> None:
        """Close, and let the screen below say what the round came to."""
        self.dismiss()
        self.left(self.summary)
