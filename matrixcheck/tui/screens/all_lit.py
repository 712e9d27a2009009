"""All at once: the machine lights everything, the dark ones are marked, then one question settles the rest."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.actions import ALL_LIT
from matrixcheck.tui.round_steps import entry_for, untested
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.text.now import left_over
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.grid import MatrixGrid


class AllLitScreen(RoundScreen):
    """A tap marks a lamp dead, another tap working. Enter asks about all that have no mark yet."""

    NAME = "all at once"
    HINT = "number of a dark one, and Enter"

    PLACE = ALL_LIT

    def more(self, width: int) -> Sequence[Row]:
        """Return what has no mark yet."""
        return left_over(untested(self.order, self._desk.state), width, "not marked yet")

    def completed(self, text: str) -> str:
        """Return the entry with the sign for a dark one, which a number alone is here."""
        words = super().completed(text).split()
        return " ".join(f"{word}-" if parse_number(word) is not None else word for word in words)

    def on_matrix_grid_hit(self, message: MatrixGrid.Hit) -> None:
        """Turn the lamp that was tapped."""
        message.stop()
        self.action_turn()

    def action_turn(self) -> None:
        """Mark it dead, or working where it was marked dead by mistake."""
        dead = self._desk.state.standings[self.cell.key].mark is Mark.DEAD
        self.keep(f"{self.cell.key.address}{'' if dead else '-'}")

    def action_rest(self) -> None:
        """Ask about all that have no mark yet."""
        left = untested(self.order, self._desk.state)
        if not left:
            self.action_leave()
            return

        def answered(yes: bool | None) -> None:
            if yes and self.keep(entry_for(left)):
                self.action_leave()

        question = f"{len(left)} have no mark. Are they all lit? Then they are marked as working."
        self.navigation.ask(question, "No goes back to marking.", answered)
