"""The device at hand, called back large."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Horizontal

from matrixcheck.layout.numbering import Number
from matrixcheck.tui.text.figures import WIDTH, figures
from matrixcheck.tui.text.spans import Row, row
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widths import FIGURES


class CallOut(Horizontal):
    """A number in figures three lines high, and up to three lines beside it."""

    def __init__(self, signs: int, *, id: str | None = None) -> None:  # noqa: A002
        """`signs` is the length of the longest number."""
        super().__init__(id=id)
        self.figures_width = max(FIGURES, WIDTH * signs)

    def compose(self) -> ComposeResult:
        """Compose figures and lines."""
        number = Lines(id="call-number")
        number.styles.width = self.figures_width
        yield number
        yield Lines(id="call-lines")

    def call(self, number: Number | None, rows: Sequence[Row]) -> None:
        """Show another device; None shows none."""
        drawn = () if number is None else tuple(row(line, "strong") for line in figures(number))
        self.query_one("#call-number", Lines).show(drawn)
        self.query_one("#call-lines", Lines).show(rows)
