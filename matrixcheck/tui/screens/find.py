"""Finding one of many names by a few letters."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen

from matrixcheck.tui.actions import FIND
from matrixcheck.tui.screens.pick_page import PickPage
from matrixcheck.tui.text.search import alike
from matrixcheck.tui.text.spans import row
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widgets.toned import taken

MOST = 8


class FindScreen(PickPage[int | None], ModalScreen[int | None]):
    """Hands back the place of a name among those given, or None. With nothing typed the first names are offered."""

    DEFAULT_CLASSES = "over"
    DIGITS_PICK = False

    PLACE = FIND

    def __init__(self, heading: str, names: Sequence[str]) -> None:
        super().__init__()
        self._heading = heading
        self._choices = tuple(names)
        self._places = tuple(range(min(len(names), MOST)))

    def compose(self) -> ComposeResult:
        """Compose what is typed, what is like it, keys."""
        with Vertical(id="sheet"):
            yield Lines([row(self._heading, "title")], classes="sheet-line")
            yield EntryLine("a few letters")
            yield Picks(self._offered(), numbered=False, id="found")
            yield KeyBar(self.bar())

    async def on_key(self, event: events.Key) -> None:
        """Look for a name with everything that can be typed."""
        entry = self.query_one(EntryLine)
        if event.key not in {"escape", "enter"} and entry.take(event.key, event.character):
            taken(event)
            everything = tuple(range(min(len(self._choices), MOST)))
            self._places = alike(entry.text, self._choices, MOST) if entry.text.strip() else everything
            self.query_one(Picks).offer(self._offered())

    def action_actions(self) -> None:
        """Offer none: this sheet may be where one is being looked for."""

    def picked(self, place: int) -> None:
        """Hand back that place."""
        self.dismiss(self._places[place])

    def _offered(self) -> list[Pick]:
        return [Pick(self._choices[place]) for place in self._places]
