"""The keys of one screen, and what the signs on the grid mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.tui.text.help import key_help
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.keybar import caps_of
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.toned import TonedScreen


class HelpScreen(TonedScreen[None], ModalScreen[None]):
    """Shown over another screen until any of its keys, or a tap, takes it away."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("question_mark,escape,enter,space,q", "dismiss", "close", key_display="Esc"),
        Binding("up", "scroll(-1)", "up", show=False),
        Binding("down", "scroll(1)", "down", show=False),
    ]

    def __init__(self, title: str, bindings: Sequence[BindingType], notes: Sequence[Sequence[Row]] = ()) -> None:
        super().__init__()
        self._keys = key_help(title, caps_of(bindings, hidden=True))
        self._notes = tuple(notes)

    def compose(self) -> ComposeResult:
        """A sheet: the keys, and beside or below them what the screen adds."""
        with VerticalScroll(id="sheet", can_focus=False), Container(id="sheet-columns"):
            yield Lines(self._keys, classes="sheet-part")
            if self._notes:
                yield Lines([line for note in self._notes for line in (*note, ())], classes="sheet-part")

    def on_click(self, event: events.Click) -> None:
        """A tap anywhere closes."""
        event.stop()
        self.dismiss()

    def action_scroll(self, by: int) -> None:
        """Show what is above or below."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)
