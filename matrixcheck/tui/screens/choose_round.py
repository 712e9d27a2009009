"""Which sort of round, with the caution that stands before it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.report.rounds import UNCHECKED, Sort, caution_for, sorts_for
from matrixcheck.tui.actions import CHOOSE_ROUND
from matrixcheck.tui.screens.pick_page import PickPage
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Wrapped
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
            yield Wrapped(self._head, classes="sheet-line")
            yield Picks([Pick(sort.name, sort.says) for sort in self._sorts], airy=self._is_airy)
            yield Wrapped(self._cautions, classes="sheet-line")
            yield KeyBar(self.bar())

    def on_resize(self) -> None:
        """Leave blank lines between the sorts where there is room for them."""
        super().on_resize()
        for picks in self.query(Picks):
            picks.space(self._is_airy)

    @property
    def _is_airy(self) -> bool:
        width, height = self.app.size
        return width >= PHONE and height >= AIRY

    def _head(self) -> list[Row]:
        danger = [line for words in self._danger for line in wrapped(words, self._width, "alert")]
        return [*danger, row(self._heading, "title"), row()]

    def _cautions(self) -> list[Row]:
        unchecked = () if self._checked else wrapped(UNCHECKED, self._width, "alert")
        return [row(), row("Before you start", "alert"), *wrapped(self._caution, self._width), *unchecked, row()]

    @property
    def _width(self) -> int:
        width = self.app.size.width
        return min(width - (6 if width < PHONE else 8), SHEET)

    def picked(self, place: int) -> None:
        """Hand back that sort."""
        self.dismiss(self._sorts[place])


def _heading(matrix: Matrix, some: int) -> str:
    if not some:
        return f"A round through {matrix.id}"
    return f"A round through {some} {'cell' if some == 1 else 'cells'} of {matrix.id}"
