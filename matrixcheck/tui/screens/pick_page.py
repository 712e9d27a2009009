"""A page with a list to pick from."""

from __future__ import annotations

from typing import ClassVar

from textual import events

from matrixcheck.tui.screens.page import Page, Result
from matrixcheck.tui.widgets.picks import Picks
from matrixcheck.tui.widgets.toned import taken


class PickPage(Page[Result]):
    """A page with a list to pick from: arrows point, Enter or a digit or a tap picks."""

    DIGITS_PICK: ClassVar[bool] = True

    def picked(self, place: int) -> None:
        """Do what the line at this place is for."""

    def on_item_list_picked(self, message: Picks.Picked) -> None:
        """Pick the line that was tapped."""
        message.stop()
        self.picked(message.place)

    async def on_key(self, event: events.Key) -> None:
        """Pick a line by its digit, where digits are not typed for anything else."""
        if self.DIGITS_PICK and event.character and event.character.isdecimal():
            taken(event)
            self._pick(int(event.character) - 1)

    def action_pick(self) -> None:
        """Pick the line pointed at."""
        self._pick(self.query_one(Picks).here)

    def _pick(self, place: int) -> None:
        """Pick a line at once, and by no message that a quick key could overtake."""
        picks = self.query_one(Picks)
        if 0 <= place < picks.count:
            picks.point(place)
            self.picked(place)

    def action_step(self, by: int) -> None:
        """Point at another line."""
        self.query_one(Picks).step(by)

    def action_leave(self) -> None:
        """Pick none."""
        self.dismiss(None)
