"""A rest scan: which switches show with nothing pressed, or with only the held ones closed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.places import CellKey
from matrixcheck.record.entry import parse_places
from matrixcheck.record.validation import guard_fitted
from matrixcheck.tui.actions import REST
from matrixcheck.tui.job_session import NOTHING, Desk
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.text.now import left_over
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.text.tile import Light
from matrixcheck.tui.widgets.grid import MatrixGrid


class RestScreen(RoundScreen):
    """Switches that show are ticked; Enter keeps the scan. Nothing is ticked beforehand."""

    NAME = "rest scan"
    HINT = "numbers that show, and Enter"

    PLACE = REST

    def __init__(self, desk: Desk, matrix_id: str, held: Sequence[CellKey] = ()) -> None:
        super().__init__(desk, matrix_id)
        self.held = tuple(held)
        self._ticked: set[CellKey] = set()

    def lit(self) -> Mapping[CellKey, Light]:
        """Return what is ticked."""
        return dict.fromkeys(self._ticked, Light.TICKED)

    def more(self, width: int) -> Sequence[Row]:
        """Return what is ticked, and what is meant to show."""
        meant = [cell for cell in self.matrix.fitted if cell.key in self._meant]
        ticked = [cell for cell in self.matrix.fitted if cell.key in self._ticked]
        which = "held, or closed at rest" if self.held else "should be closed at rest"
        asked = "Tick all that show with only the held switches closed." if self.held else "Tick all that show."
        return (
            *wrapped(asked, width),
            row(),
            *left_over(ticked, width, "ticked"),
            row(),
            *left_over(meant, width, which),
        )

    @property
    def _meant(self) -> frozenset[CellKey]:
        closed = {cell.key for cell in self.matrix.fitted if cell.notes.rest == "closed"}
        return frozenset({*closed, *self.held})

    def foretell(self, text: str) -> str:
        """Return what an entry would do: numbers are ticked here, not marked."""
        return "Enter ticks them" if text.strip() else ""

    def submit(self, text: str) -> None:
        """Tick what was typed."""
        try:
            cells = parse_places(text, self.matrix)
            guard_fitted(self.matrix, cells)
        except MatrixCheckError as error:
            self.refuse_typed(text, error)
            return
        self.entry.clear()
        self.entry.say("")
        self.settled()
        self._turn(*cells)

    def on_matrix_grid_hit(self, message: MatrixGrid.Hit) -> None:
        """Tick the switch that was tapped."""
        message.stop()
        self._turn(message.cell)

    def action_tick(self) -> None:
        """Tick the switch under the cursor, or take the tick away."""
        self._turn(self.cell.key)

    def action_due(self) -> None:
        """Tick what is meant to show, once it was seen that it does."""
        self._ticked |= self._meant
        self.draw()

    def action_keep(self) -> None:
        """Keep the scan. With nothing ticked it isn't kept by a bare Enter, which may be a slip."""
        if self._ticked:
            self._keep()
        else:
            key = key_named("nothing", REST, self.keymap)
            self.entry.say(f"Nothing is ticked. If nothing shows, {key} keeps that.")

    def action_nothing(self) -> None:
        """Keep that nothing shows; where something is ticked that is no scan with nothing."""
        if self._ticked:
            self.entry.say(f"! {len(self._ticked)} are ticked: Enter keeps those", "alert")
        else:
            self._keep()

    def _keep(self) -> None:
        """Keep what is ticked. A rest scan ends with it; a hold round goes on."""
        self._desk.rest_scan(self.matrix, " ".join(key.address for key in sorted(self._ticked)), NOTHING)
        if self.held:
            self.go_on()
        else:
            super().action_leave()

    def action_leave(self) -> None:
        """End the round; ask first where something is ticked and not kept. A second Esc leads back to the ticks."""
        if not self._ticked:
            super().action_leave()
            return

        def answered(yes: bool | None) -> None:
            if yes:
                super(RestScreen, self).action_leave()

        numbers = " ".join(str(cell.number) for cell in self.matrix.fitted if cell.key in self._ticked)
        question = f"{len(self._ticked)} ticked and not kept. End the scan without them?"
        self.navigation.ask(question, f"No goes back to them: {numbers}", answered)

    def go_on(self) -> None:
        """Press one switch after the other, after the scan of a hold round."""
        self.navigation.hold_on(self._desk, self.matrix.id, self.held, self.left)

    def _turn(self, *cells: CellKey) -> None:
        self._ticked ^= set(cells)
        self.draw()
