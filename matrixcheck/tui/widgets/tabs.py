"""One tab a matrix, with how far it is tested."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message

from matrixcheck.tui.text.spans import Row, row
from matrixcheck.tui.text.tabs import Tally, tab_texts
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.rooms import Room


class MatrixTab(Lines):
    """The tab of one matrix."""

    def __init__(self, tabs: MatrixTabs, matrix_id: str, line: Row) -> None:
        super().__init__([line])
        self._tabs = tabs
        self.matrix_id = matrix_id

    def on_click(self, event: events.Click) -> None:
        """Choose this matrix."""
        event.stop()
        self._tabs.post_message(MatrixTabs.Chosen(self.matrix_id))


class MatrixTabs(Horizontal, Room):
    """The tabs side by side. `show` gives their counts and the current one; a click posts `Chosen`."""

    class Chosen(Message):
        """A tab was clicked or tapped."""

        def __init__(self, matrix_id: str) -> None:
            super().__init__()
            self.matrix_id = matrix_id

    def __init__(self, tallies: Sequence[Tally], current: str, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._tallies = tuple(tallies)
        self._current = current

    def compose(self) -> ComposeResult:
        """Compose one tab a matrix."""
        for tally, line in zip(self._tallies, self._lines(self.app.size.width), strict=True):
            yield MatrixTab(self, tally.matrix_id, line)

    def show(self, tallies: Sequence[Tally], current: str) -> None:
        """Show these counts from now on."""
        before = [tally.matrix_id for tally in self._tallies]
        self._tallies, self._current = tuple(tallies), current
        if [tally.matrix_id for tally in self._tallies] != before:
            self.refresh(recompose=True)
        else:
            self._draw()

    def on_resize(self) -> None:
        """Fit the texts to the room."""
        self._draw()

    def _draw(self) -> None:
        for tab, line in zip(self.query(MatrixTab), self._lines(self.size.width), strict=True):
            tab.show([line])

    def _lines(self, width: int) -> list[Row]:
        texts = tab_texts(self._tallies, self._current, width)
        return [
            row(text, "here" if tally.matrix_id == self._current else "quiet")
            for tally, text in zip(self._tallies, texts, strict=True)
        ]
