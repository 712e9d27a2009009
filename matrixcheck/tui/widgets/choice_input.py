"""A line of a form that takes one of a few values."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.widgets import Input

from matrixcheck.tui.widgets.toned import taken

UNKNOWN = "-"
"""What stands there where nothing is chosen."""


class ChoiceInput(Input):
    """Space, the arrows beside it and taps go on to the next value, a letter goes to one that begins with it."""

    def __init__(self, value: str, options: Sequence[str]) -> None:
        super().__init__(value or UNKNOWN, select_on_focus=False)
        self._options = [option or UNKNOWN for option in options]
        if self.value not in self._options:
            self._options.append(self.value)

    @property
    def chosen(self) -> str:
        """Return the value, "" where nothing is chosen."""
        return "" if self.value == UNKNOWN else self.value

    async def _on_key(self, event: events.Key) -> None:
        if event.key in {"space", "right", "left"}:
            taken(event)
            self._go(-1 if event.key == "left" else 1)
        elif event.character and event.character.isprintable():
            taken(event)
            begin = [one for one in self._options if one.startswith(event.character.casefold())]
            self.value = begin[0] if begin else self.value
        elif event.key in {"backspace", "delete"}:
            taken(event)

    async def _on_click(self, event: events.Click) -> None:
        event.stop()
        self._go(1)

    def _on_paste(self, event: events.Paste) -> None:
        event.stop()
        event.prevent_default()

    def _go(self, by: int) -> None:
        self.value = self._options[(self._options.index(self.value) + by) % len(self._options)]
