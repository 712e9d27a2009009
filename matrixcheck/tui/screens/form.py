"""What all forms do alike: lines to fill in, arrows between them, and Enter that keeps or goes on."""

from __future__ import annotations

from typing import TypeVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import Input

from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.spans import row
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.toned import taken

Result = TypeVar("Result")


class FormLine(Horizontal):
    """A line to fill in with its name before it."""

    def __init__(self, name: str, field: Input) -> None:
        super().__init__(classes="form-line")
        self._label = name
        self._field = field

    def compose(self) -> ComposeResult:
        """Compose name and line."""
        yield Lines([row(self._label, "quiet")], classes="form-name")
        yield self._field


class FormPage(Page[Result]):
    """A page with lines to fill in. `submitted` is what Enter does in any of them."""

    def on_mount(self) -> None:
        """Keep the cursor steady: that keeps the screen calm."""
        for field in self.query(Input):
            field.cursor_blink = False

    async def on_key(self, event: events.Key) -> None:
        """Move between the lines by arrows, even while one is being typed in."""
        if event.key in {"up", "down"}:
            taken(event)
            self.action_onward(1 if event.key == "down" else -1)

    def on_input_submitted(self) -> None:
        """Do what Enter is for."""
        self.submitted()

    def submitted(self) -> None:
        """Keep what is filled in, or go on to what is missing. Textual leaves no room for abstract methods."""
        raise NotImplementedError

    def action_onward(self, by: int) -> None:
        """Go to another line."""
        (self.focus_next if by > 0 else self.focus_previous)(Input)

    def value(self, field: str) -> str:
        """Return what stands in a line."""
        return self.query_one(f"#{field}", Input).value.strip()
