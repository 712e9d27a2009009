"""One question that must be answered before anything is kept."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.tui.actions import ASK
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Wrapped
from matrixcheck.tui.widths import QUESTION, sheet_width


class AskScreen(Page[bool], ModalScreen[bool]):
    """Hands back whether the answer was yes."""

    DEFAULT_CLASSES = "over"

    PLACE = ASK

    def __init__(self, question: str, more: str = "") -> None:
        super().__init__()
        self._question = question
        self._more = more

    def compose(self) -> ComposeResult:
        """Compose question and keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            yield Wrapped(self._asked, classes="sheet-line")
            yield KeyBar(self.bar())

    def _asked(self) -> list[Row]:
        width = sheet_width(self.app.size.width, QUESTION)
        return [*wrapped(self._question, width, "title"), *wrapped(self._more, width, "quiet"), row()]

    def action_answer(self, yes: bool) -> None:
        """Hand back that answer."""
        self.dismiss(yes)
