"""Walking: the machine waits at each device, one key judges it and goes on."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import WALK
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.round_steps import resumed_at, untested
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.text.now import coming, left_over, where
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.call_out import CallOut
from matrixcheck.tui.widgets.grid import MatrixGrid

AHEAD = 4


class WalkScreen(RoundScreen):
    """The cells of the round one after the other. A mark goes on to the next; the arrows go without one."""

    NAME = "walk"
    HINT = "Enter: works; +31: 31 answered too"

    PLACE = WALK

    def __init__(self, desk: Desk, matrix_id: str, cells: Collection[CellKey] = ()) -> None:
        super().__init__(desk, matrix_id, cells)
        self.place = resumed_at(self.order, desk.state, self.since)

    def on_mount(self) -> None:
        """Begin at the first device, or where the round was left."""
        self.arrive(self.place)

    def hand(self) -> Cell | None:
        """Return the device that the machine shows; none once the walk is through."""
        return self.order[self.place] if self.place < len(self.order) else None

    def more(self, width: int) -> Sequence[Row]:
        """Return how far it is, where the device sits, and what comes next."""
        cell = self.hand()
        left = len(untested(self.order, self._desk.state))
        if cell is None:
            closing = [line for words in self.closing() for line in wrapped(words, width, "strong")]
            skipped = self.skipped()
            what = "Enter walks through what was skipped. " if skipped else f"{left} untested. "
            said = wrapped(f"{what}Esc ends the round.", width)
            passed = (row(), *left_over(skipped, width, "skipped")) if skipped else ()
            return (*closing, row("The walk is through.", "strong"), *said, *passed)
        ahead = self.order[self.place + 1 : self.place + 1 + AHEAD]
        return (
            ((f"{self.place + 1} of {len(self.order)}", "strong"), (f"  {left} untested", "quiet")),
            *where(cell, self._desk.layout, width),
            row(),
            *coming(ahead, width),
        )

    def draw_pane(self) -> None:
        """Call the device at hand back; past the last one its room is for what the walk came to."""
        self.query_one(CallOut).display = self.hand() is not None
        super().draw_pane()

    def enter_words(self) -> str:
        """Return which device Enter would mark."""
        cell = self.hand()
        return f"it marks {short_words(cell)} as working" if cell is not None else ""

    def arrive(self, place: int) -> None:
        """Go to a place of the order, or past its end."""
        self.place = max(min(place, len(self.order)), 0)
        cell = self.hand()
        if cell is not None:
            self.grid.move_to(cell.key)
        self.draw_pane()

    def submit(self, text: str) -> None:
        """Keep what was typed. Only what speaks of the device at hand goes on: else the machine still shows that."""
        self.go_on_after(self.keep_typed(text))

    def go_on_after(self, keys: Collection[CellKey]) -> None:
        """Go on if the device at hand is among these."""
        cell = self.hand()
        if cell is not None and cell.key in keys:
            self.arrive(self.place + 1)

    def skipped(self) -> tuple[Cell, ...]:
        """Return the devices that were passed over: they have no mark, and are not put off."""
        standings = self._desk.state.standings
        return tuple(cell for cell in untested(self.order, self._desk.state) if standings[cell.key].deferred is None)

    def defer(self, cell: Cell, reason: str) -> None:
        """Put a cell off, and go on if it is at hand."""
        super().defer(cell, reason)
        self.go_on_after([cell.key])

    def on_matrix_grid_hit(self, message: MatrixGrid.Hit) -> None:
        """Go on from the device that was tapped: the machine was stepped elsewhere."""
        places = [place for place, cell in enumerate(self.order) if cell.key == message.cell]
        if places:
            self.arrive(places[0])

    def action_judge(self, sign: str) -> None:
        """Mark the device at hand and go on; once the walk is through, Enter takes up what was skipped."""
        cell = self.hand()
        if cell is None and not sign and self.skipped():
            self.order = self.skipped()
            self.arrive(0)
        elif cell is not None and self.keep(f"{cell.key.address}{sign}"):
            self.arrive(self.place + 1)

    def action_go(self, by: int) -> None:
        """Go back, or on without a mark."""
        self.arrive(self.place + by)

    def action_undo(self) -> None:
        """Undo what was kept last, and go to its cell."""

        def go_to(cells: tuple[CellKey, ...]) -> None:
            places = [place for place, cell in enumerate(self.order) if cell.key in cells]
            if places:
                self.arrive(places[0])

        self.take_back(go_to)
