"""Entries that the book doesn't take: all of them, and what can be done about it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.actions import WAITING
from matrixcheck.tui.job_session import Refused
from matrixcheck.tui.keeping import Keeping
from matrixcheck.tui.screens.page import Page, at_home
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.text.waiting import why
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Wrapped
from matrixcheck.tui.widths import sheet_width


class WaitingScreen(Page[None], ModalScreen[None]):
    """Shows what waits until it is closed, or nothing waits any more."""

    DEFAULT_CLASSES = "over"

    PLACE = WAITING

    def __init__(self, keeping: Keeping, elsewhere: Callable[[Path, Refused], object] | None = None) -> None:
        """`elsewhere` goes on in another book, where that can be chosen."""
        super().__init__()
        self._keeping = keeping
        self._elsewhere = elsewhere
        self._refused = ""

    def compose(self) -> ComposeResult:
        """Compose why, what, keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            yield Wrapped(self._rows, classes="sheet-line")
            yield KeyBar(self._allowed(self.bar()))

    def listed(self) -> tuple[Cap, ...]:
        """Return every key of the sheet that does something here."""
        return self._allowed(super().listed())

    def _allowed(self, caps: Sequence[Cap]) -> tuple[Cap, ...]:
        return tuple(cap for cap in caps if self._elsewhere or cap.action != "elsewhere")

    def on_screen_resume(self) -> None:
        """Show what waits after another screen stood before this one."""
        self.show_waiting()

    def show_waiting(self) -> None:
        """Show what waits now; leave when nothing does."""
        if self._keeping.waiting:
            self.query_one(Wrapped).wrap_anew()
        else:
            self.action_leave()

    def action_again(self) -> None:
        """Try at once, and not only in a moment."""
        self._keeping.try_again()

    def action_drop(self) -> None:
        """Drop the entry made last."""
        self._keeping.drop_last()

    def action_elsewhere(self) -> None:
        """Let another book be named, and go on there."""
        elsewhere = self._elsewhere
        if elsewhere is None:
            return

        def named(words: str | None) -> None:
            if words is not None:
                elsewhere(Path(at_home(words)), self._say_refused)

        self.navigation.words("Keep all this in which book file?", "a file name, then Enter", named)

    def action_leave(self) -> None:
        """Go back; what waits goes on waiting."""
        self.dismiss()

    def _say_refused(self, error: MatrixCheckError) -> None:
        self._refused = f"! {error}"
        if self.is_open:
            self.show_waiting()

    def _rows(self) -> list[Row]:
        width = sheet_width(self.app.size.width)
        trouble = self._keeping.trouble
        hint = trouble.hint if trouble else ""
        return [
            row("Not kept yet, in this order", "title"),
            *(line for words in self._keeping.waiting for line in wrapped(words, width, "strong", indent="  ")),
            row(),
            *wrapped(f"{why(trouble)}: {hint}" if hint else why(trouble), width, "alert"),
            *wrapped("They are tried again all the time, and stay until they are kept or you drop them.", width),
            *(wrapped(self._refused, width, "alert") if self._refused else ()),
            row(),
        ]
