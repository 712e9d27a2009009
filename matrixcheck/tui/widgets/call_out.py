"""The device at hand, called back large."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Digits

from matrixcheck.layout.numbering import Number
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.lines import Lines


class CallOut(Horizontal):
    """A number in figures three lines high, and up to three lines beside it."""

    def compose(self) -> ComposeResult:
        """Figures and lines."""
        yield Digits("", id="call-number")
        yield Lines(id="call-lines")

    def call(self, number: Number | None, rows: Sequence[Row]) -> None:
        """Show another device; None shows none."""
        text = "" if number is None else str(number)
        digits = self.query_one("#call-number", Digits)
        if digits.value != text:
            digits.update(text)
        self.query_one("#call-lines", Lines).show(rows)
