"""A short list to pick one line of, by arrows, by its digit or by a tap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from textual import events
from textual.message import Message

from matrixcheck.tui.text.spans import Row, clipped, row, wrapped
from matrixcheck.tui.widgets.lines import Lines

DIGITS = 9
LINE_AND_SAYING = 2


class Pick(NamedTuple):
    """One line to pick: its name, and what more is said of it."""

    name: str
    says: str = ""


class Picks(Lines):
    """Shows picks, one of them pointed at. `Picked` tells that one is wanted."""

    class Picked(Message):
        """The pick at this place is wanted."""

        def __init__(self, place: int) -> None:
            super().__init__()
            self.place = place

    def __init__(
        self,
        picks: Sequence[Pick],
        *,
        numbered: bool = True,
        airy: bool = True,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """`airy` puts a blank line after a pick of which more is said. Without it, where the list is higher than its
        room, what is said stands beside the name if it fits there."""
        super().__init__(id=id)
        self._numbered = numbered
        self._airy = airy
        self._picks = tuple(picks)
        self._here = 0
        self._top = 0

    @property
    def here(self) -> int:
        """The place pointed at."""
        return self._here

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self._picks)

    def offer(self, picks: Sequence[Pick]) -> None:
        """Show other picks."""
        self._picks = tuple(picks)
        self._here = min(self._here, max(len(self._picks) - 1, 0))
        self._draw()

    def step(self, by: int) -> None:
        """Point at another."""
        if self._picks:
            self._here = (self._here + by) % len(self._picks)
            self._draw()

    def point(self, place: int) -> None:
        """Point at the one at a place."""
        self._here = max(min(place, len(self._picks) - 1), 0)
        self._draw()

    def pick(self, place: int | None = None) -> None:
        """Want the one pointed at, or another by its place."""
        place = self._here if place is None else place
        if 0 <= place < len(self._picks):
            self._here = place
            self._draw()
            self.post_message(self.Picked(place))

    def on_mount(self) -> None:
        """Draw it."""
        self._draw()

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        self._draw()

    def on_click(self, event: events.Click) -> None:
        """Pick the one that was hit."""
        event.stop()
        spot = self.hit(event)
        line = spot[1] + self._top if spot else -1
        for place, rows in enumerate(self._blocks()):
            if 0 <= line < len(rows):
                self.pick(place)
                return
            line -= len(rows)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Point at the one below."""
        event.stop()
        self.step(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Point at the one above."""
        event.stop()
        self.step(-1)

    def _blocks(self) -> list[list[Row]]:
        blocks = self._stacked()
        crowded = not self._airy and 0 < self.size.height < sum(map(len, blocks)) and not self.styles.is_auto_height
        return [self._beside(block) for block in blocks] if crowded else blocks

    def _beside(self, block: list[Row]) -> list[Row]:
        if len(block) != LINE_AND_SAYING:
            return block
        head, says = block
        line: Row = (*head, ("  ", "plain"), *((text.strip(), tone) for text, tone in says))
        return [line] if sum(len(text) for text, _ in line) <= self.size.width else block

    def _stacked(self) -> list[list[Row]]:
        width = self.size.width or self.app.size.width - 8
        blocks: list[list[Row]] = []
        for place, pick in enumerate(self._picks):
            here = place == self._here
            digit = f"{place + 1} " if self._numbered and place < DIGITS else ""
            name = clipped(pick.name, width - 1 - len(digit))
            head: Row = (("▌" if here else " ", "alert"), (digit, "key"), (name, "here" if here else "title"))
            said = wrapped(pick.says, width, "quiet", indent="   ")
            blocks.append([head, *said, *([row()] if said and self._airy else [])])
        return blocks

    def _draw(self) -> None:
        blocks = self._blocks()
        height = self.size.height
        if not self.styles.is_auto_height and height:
            end = sum(len(rows) for rows in blocks[: self._here + 1])
            start = end - len(blocks[self._here]) if blocks else 0
            self._top = min(max(self._top, end - height), start)
        self.show([line for rows in blocks for line in rows][self._top :])
