"""A hold round: some switches stay closed, the others are pressed one by one, and all that answers is typed."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.model import Cell
from matrixcheck.tui.rounds import spoken_of
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.text.now import left_over
from matrixcheck.tui.text.spans import Row, row, wrapped


class HoldScreen(RollScreen):
    """A roll in which every press counts anew, because what answers with others held is news."""

    NAME = "hold round"
    TITLE_OF_HELP = "Hold round"
    HINT = "pressed, with + what else answers"

    def more(self, width: int) -> Sequence[Row]:
        """What is kept closed, and what is left to press."""
        open_round = self._desk.state.round
        held = frozenset(open_round.held if open_round else ())
        spoken = spoken_of(self._desk.state, self.since)
        kept = ", ".join(f"{cell.number} {cell.name}" for cell in self.order if cell.key in held)
        left = [cell for cell in self.order if cell.key not in held and cell.key not in spoken]
        return (*wrapped(f"Keep closed: {kept}", width, "strong"), row(), *left_over(left, width, "left to press"))

    def is_news(self, cell: Cell) -> bool:
        """Every press is."""
        del cell
        return True
