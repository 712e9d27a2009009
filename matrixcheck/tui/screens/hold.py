"""A hold round: some switches stay closed, the others are pressed one by one, and all that answers is typed."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import HOLD
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.round_steps import entered_since
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.text.now import left_over
from matrixcheck.tui.text.spans import Row, row, wrapped


class HoldScreen(RollScreen):
    """A roll in which every press counts anew, because what answers with others held is news."""

    NAME = "hold round"
    PLACE = HOLD
    HINT = "pressed, with + what else answers"

    def __init__(self, desk: Desk, matrix_id: str, held: Sequence[CellKey]) -> None:
        super().__init__(desk, matrix_id)
        self._held = frozenset(held)

    def more(self, width: int) -> Sequence[Row]:
        """Return what is kept closed, and what is left to press."""
        spoken = entered_since(self._desk.state, self.since)
        kept = ", ".join(short_words(cell) for cell in self.order if cell.key in self._held)
        left = [cell for cell in self.order if cell.key not in self._held and cell.key not in spoken]
        return (*wrapped(f"Keep closed: {kept}", width, "strong"), row(), *left_over(left, width, "left to press"))

    def is_news(self, cell: Cell) -> bool:
        """Return that every press is news."""
        del cell
        return True
