"""Which sort of round, with the caution that stands before it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.report.rounds import UNCHECKED, Sort, caution_for, sorts_for
from matrixcheck.tui.actions import CHOOSE_ROUND
from matrixcheck.tui.screens.page import PickPage
from matrixcheck.tui.text.spans import row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widths import PHONE, SHEET

AIRY = 30
"""Lines from which there is room for blank ones between the sorts."""


class ChooseRoundScreen(PickPage[Sort | None], ModalScreen[Sort | None]):
    """Hands back the sort of round that is wanted, or None."""

    DEFAULT_CLASSES = "over"

    PLACE = CHOOSE_ROUND

    def __init__(
        self, matrix: Matrix, cells: Collection[Cell] = (), *, checked: bool, danger: Sequence[str] = ()
    ) -> None:
        """`checked`: whether a check before power is in the journal. `danger` is what must be said first."""
        super().__init__()
        self._danger = danger
        self._checked = checked
        self._sorts = sorts_for(matrix, bool(cells))
        self._caution = caution_for(matrix, cells or matrix.fitted)
        self._heading = _heading(matrix, len(cells))

    def compose(self) -> ComposeResult:
        """Compose title, sorts, caution, keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            phone = self.app.size.width < PHONE
            width = min(self.app.size.width - (6 if phone else 8), SHEET)
            danger = [line for words in self._danger for line in wrapped(words, width, "alert")]
            yield Lines([*danger, row(self._heading, "title"), row()], classes="sheet-line")
            airy = not phone and self.app.size.height >= AIRY
            yield Picks([Pick(sort.name, sort.says) for sort in self._sorts], airy=airy)
            unchecked = () if self._checked else wrapped(UNCHECKED, width, "alert")
            yield Lines(
                [row(), row("Before you start", "alert"), *wrapped(self._caution, width), *unchecked, row()],
                classes="sheet-line",
            )
            yield KeyBar(self.bar())

    def picked(self, place: int) -> None:
        """Hand back that sort."""
        self.dismiss(self._sorts[place])


def _heading(matrix: Matrix, some: int) -> str:
    if not some:
        return f"A round through {matrix.id}"
    return f"A round through {some} {'cell' if some == 1 else 'cells'} of {matrix.id}"
