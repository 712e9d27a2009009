"""The keys of the screen, each of which can be tapped."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive

from matrixcheck.tui.text.keys import Cap, key_rows, placed
from matrixcheck.tui.widgets.lines import Lines


class KeyBar(Lines):
    """A bar of keys with what each does; a click or tap on one posts `Pressed`. `tall` makes buttons of them."""

    tall: reactive[bool] = reactive(False, layout=True)

    class Pressed(Message):
        """A key of the bar was clicked or tapped."""

        def __init__(self, cap: Cap) -> None:
            super().__init__()
            self.cap = cap

    def __init__(self, caps: Sequence[Cap], *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._caps = tuple(caps)

    def use(self, caps: Sequence[Cap]) -> None:
        """Show these keys from now on."""
        self._caps = tuple(caps)
        if self.size.width:
            self._place(self.size.width)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the height of the keys at that width; they are laid out for it at once, for the first paint."""
        del container, viewport
        self._rows = key_rows(placed(self._caps, width, self.tall))
        return len(self._rows)

    def on_resize(self) -> None:
        """Lay the keys out anew."""
        self._place(self.size.width)

    def on_click(self, event: events.Click) -> None:
        """Find the key that was hit."""
        event.stop()
        spot = self.hit(event)
        for place in placed(self._caps, self.size.width, self.tall):
            if spot and place.holds(*spot):
                self.post_message(self.Pressed(place.cap))

    def watch_tall(self) -> None:
        """Lay the keys out anew."""
        self._place(self.size.width)

    def _place(self, width: int) -> None:
        self.show(key_rows(placed(self._caps, width, self.tall)))
