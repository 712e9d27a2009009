"""A few words in a line: a note, a reason, what is wrong. Some may be offered to pick instead of typing."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.tui.actions import WORDS
from matrixcheck.tui.screens.pick_page import PickPage
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.tui.widths import sheet_width


class WordsScreen(PickPage[str | None], ModalScreen[str | None]):
    """Hands back what was typed, else the words pointed at, else "" where `may_be_empty`; None when it was left."""

    DEFAULT_CLASSES = "over"
    DIGITS_PICK = False

    PLACE = WORDS

    def __init__(
        self,
        heading: str,
        hint: str,
        offered: Sequence[str] = (),
        *,
        may_be_empty: bool = False,
        begun: str = "",
        left: Callable[[str], object] = lambda _: None,
    ) -> None:
        """`begun` is what was typed already; `left` gets what is typed when it is left."""
        super().__init__()
        self._left = left
        self._begun = begun
        self._heading = heading
        self._hint = hint
        self._offered = tuple(offered)
        self._may_be_empty = may_be_empty

    def compose(self) -> ComposeResult:
        """Compose what is asked, what is typed, what is offered, keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            yield Wrapped(self._asked, classes="sheet-line")
            yield EntryLine(self._hint)
            if self._offered:
                yield Picks([Pick(words) for words in self._offered], numbered=False)
                yield Lines([row()], classes="sheet-line")
            yield KeyBar([cap for cap in self.bar() if self._offered or cap.key not in "↑↓"])

    def _asked(self) -> tuple[Row, ...]:
        return wrapped(self._heading, sheet_width(self.app.size.width), "title")

    def on_mount(self) -> None:
        """Go on with what was typed already."""
        if self._begun:
            self.query_one(EntryLine).paste(self._begun)

    async def on_key(self, event: events.Key) -> None:
        """Type everything that can be typed."""
        entry = self.query_one(EntryLine)
        if event.key not in {"escape", "enter"} and entry.take(event.key, event.character):
            taken(event)

    def on_paste(self, event: events.Paste) -> None:
        """Type what is pasted."""
        event.stop()
        self.query_one(EntryLine).paste(event.text)

    def picked(self, place: int) -> None:
        """Hand back these words."""
        self.dismiss(self._offered[place])

    def action_leave(self) -> None:
        """Leave it, with what is typed."""
        self._left(self.query_one(EntryLine).text)
        super().action_leave()

    def action_keep(self) -> None:
        """Hand the words back."""
        typed = self.query_one(EntryLine).text.strip()
        if typed or (self._may_be_empty and not self._offered):
            self.dismiss(typed)
        elif self._offered:
            self.action_pick()
        else:
            self.query_one(EntryLine).say("a few words are needed, or Esc", "alert")
