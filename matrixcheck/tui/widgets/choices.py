"""A few words to choose from by tapping one."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.message import Message

from matrixcheck.tui.text.spans import row
from matrixcheck.tui.widgets.lines import Lines


class Choices(Lines):
    """One word a line; a click or tap posts `Chosen`."""

    class Chosen(Message):
        """This one is wanted."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def __init__(self, texts: Sequence[str], *, id: str | None = None) -> None:  # noqa: A002
        super().__init__([row(f"  {text}", "key") for text in texts], id=id)
        self._texts = tuple(texts)

    def on_click(self, event: events.Click) -> None:
        """Take the word that was hit."""
        event.stop()
        spot = self.hit(event)
        if spot and spot[1] < len(self._texts):
            self.post_message(self.Chosen(self._texts[spot[1]]))
