"""One tab a matrix, with how far it is tested."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message

from matrixcheck.tui.text.spans import row
from matrixcheck.tui.text.tabs import Tally, tab_texts
from matrixcheck.tui.widgets.lines import Lines


class MatrixTab(Lines):
    """The tab of one matrix."""

    def __init__(self, tabs: MatrixTabs, matrix_id: str) -> None:
        super().__init__(id=f"tab-{matrix_id}", classes="matrix-tab")
        self._tabs = tabs
        self.matrix_id = matrix_id

    def on_click(self, event: events.Click) -> None:
        """Choose this matrix."""
        event.stop()
        self._tabs.post_message(MatrixTabs.Chosen(self.matrix_id))


class MatrixTabs(Horizontal):
    """The tabs side by side. `show` gives their counts and the current one; a click posts `Chosen`."""

    class Chosen(Message):
        """A tab was clicked or tapped."""

        def __init__(self, matrix_id: str) -> None:
            super().__init__()
            self.matrix_id = matrix_id

    def __init__(self, matrix_ids: Sequence[str], *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._matrix_ids = tuple(matrix_ids)
        self._tallies: tuple[Tally, ...] = ()
        self._current = ""

    def compose(self) -> ComposeResult:
        """One tab a matrix."""
        yield from (MatrixTab(self, matrix_id) for matrix_id in self._matrix_ids)

    def show(self, tallies: Sequence[Tally], current: str) -> None:
        """Show these counts from now on."""
        self._tallies, self._current = tuple(tallies), current
        self._draw()

    def on_resize(self) -> None:
        """Fit the texts to the room."""
        self._draw()

    def _draw(self) -> None:
        texts = tab_texts(self._tallies, self._current, self.size.width)
        for tally, text in zip(self._tallies, texts, strict=True):
            tab = self.query_one(f"#tab-{tally.matrix_id}", MatrixTab)
            tab.show([row(text, "here" if tally.matrix_id == self._current else "quiet")])
