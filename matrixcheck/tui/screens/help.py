"""The keys of one screen, and what the signs on the grid mean."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.tui.actions import HELP_PAGE
from matrixcheck.tui.text.help import key_help
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.toned import TonedScreen
from matrixcheck.tui.widths import HELP_LINE, PHONE

HOW = "A tap on a line does it; Esc or a tap beside them closes."


class HelpScreen(TonedScreen[Cap | None], ModalScreen[Cap | None]):
    """Shown over another screen. A tap on a key hands that key back; Esc or a tap elsewhere hands back None."""

    PLACE = HELP_PAGE

    def __init__(self, heading: str, caps: Sequence[Cap], notes: Sequence[Sequence[Row]] = ()) -> None:
        super().__init__()
        self._heading = heading
        self._caps = tuple(caps)
        self._notes = tuple(notes)

    def compose(self) -> ComposeResult:
        """Compose a sheet: the keys, and beside or below them what the screen adds."""
        keys = ItemList(
            key_help(self._caps, self._width),
            above=(row(self._heading, "title"), *wrapped(HOW, self._width, "quiet")),
            classes="sheet-part",
        )
        with VerticalScroll(id="sheet", can_focus=False), Container(id="sheet-columns"):
            yield keys
            if self._notes:
                yield Lines([line for note in self._notes for line in (*note, ())], classes="sheet-part")

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Hand back the key that was tapped."""
        message.stop()
        self.dismiss(self._caps[message.place])

    def on_click(self, event: events.Click) -> None:
        """Close at a tap beside the keys."""
        event.stop()
        self.dismiss(None)

    @property
    def _width(self) -> int:
        width = self.app.size.width
        return width - 8 if width < PHONE else min(width - 12, HELP_LINE)

    def action_scroll(self, by: int) -> None:
        """Show what is above or below."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)
