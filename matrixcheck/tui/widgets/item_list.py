"""The one list of items: some lines for each, which can be tapped; and the same with one of them pointed at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual import events
from textual.message import Message

from matrixcheck.tui.left_off import Scrolled
from matrixcheck.tui.text.spans import Row, in_part
from matrixcheck.tui.widgets.lines import Lines

Blocks = Sequence[Sequence[Row]]


class ItemList(Lines):
    """Shows items as blocks of lines, below what stands `above` them. A tap on a block posts `Picked`.

    A list whose lines depend on its room, or on what it knows, gives them in `blocks` and `above`; these are asked
    anew by `draw`.
    """

    class Picked(Message):
        """The item at this place is wanted."""

        def __init__(self, place: int) -> None:
            super().__init__()
            self.place = place

    def __init__(
        self,
        blocks: Iterable[Sequence[Row]] = (),
        *,
        above: Iterable[Row] = (),
        id: str | None = None,  # noqa: A002
        classes: str | None = None,
    ) -> None:
        self._given: Blocks = tuple(map(tuple, blocks))
        self._head = tuple(above)
        super().__init__([*self._head, *(line for rows in self._given for line in rows)], id=id, classes=classes)
        self._top = 0
        self._height_wanted = 0

    @property
    def height_wanted(self) -> int:
        """Return how many lines there are, also of those that are out of sight."""
        return self._height_wanted or super().height_wanted

    def blocks(self) -> Blocks:
        """Return the lines of each item."""
        return self._given

    def above(self) -> Sequence[Row]:
        """Return what stands before the first item."""
        return self._head

    def picked(self, place: int) -> None:
        """Do what the tapped item at this place is for."""
        self.post_message(self.Picked(place))

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        self.draw()

    def on_click(self, event: events.Click) -> None:
        """Pick the item that was hit; a tap beside the items is somebody else's."""
        spot = self.hit(event)
        line = spot[1] + self._top - len(self.above()) if spot else -1
        for place, rows in enumerate(self.blocks()):
            if 0 <= line < len(rows):
                event.stop()
                self.picked(place)
                return
            line -= len(rows)

    def draw(self) -> None:
        """Show the lines from the first that is in sight, with arrows where there are more."""
        lines = [*self.above(), *(line for rows in self.blocks() for line in rows)]
        self._height_wanted = len(lines)
        scrolls = self.size.height and self.is_limited
        self.show(in_part(lines, self._top, self.size) if scrolls else lines[self._top :])


class PointedList(ItemList):
    """A list with one item pointed at, which stays in sight where there is less room than lines."""

    _here = 0

    @property
    def here(self) -> int:
        """Return the place pointed at."""
        return self._here

    @property
    def place(self) -> Scrolled:
        """Return the item pointed at, by its name, and the first line in sight."""
        return Scrolled(self.name_at(self._here), self._top)

    def name_at(self, place: int) -> str:
        """Return by what an item is found again, in a list that may have changed meanwhile."""
        return str(place)

    def return_to(self, left: Scrolled | None) -> None:
        """Point at an item again where it is still there, with the same lines in sight."""
        names = [self.name_at(place) for place in range(self.count)]
        if left is not None and left.pointed in names:
            self._top = left.top
            self.point(names.index(left.pointed))

    @property
    def count(self) -> int:
        """Return how many items there are."""
        return len(self._given)

    def step(self, by: int) -> None:
        """Point at another, round the ends."""
        if self.count:
            self.point((self._here + by) % self.count)

    def point(self, place: int) -> None:
        """Point at the one at a place."""
        self._here = max(min(place, self.count - 1), 0)
        self.draw()

    def picked(self, place: int) -> None:
        """Point at what was tapped, and want it."""
        self.point(place)
        super().picked(place)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Point at the one below."""
        event.stop()
        self.step(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Point at the one above."""
        event.stop()
        self.step(-1)

    def draw(self) -> None:
        """Show the lines from the first that is in sight, the item pointed at among them."""
        blocks, height = self.blocks(), self.size.height
        if blocks and height and self.is_limited:
            end = len(self.above()) + sum(len(rows) for rows in blocks[: self._here + 1])
            # Where more follows, an arrow stands on the last line: it must not cut what is pointed at.
            follows = self._here + 1 < len(blocks) and len(blocks[self._here]) < height
            self._top = min(max(self._top, end + follows - height), end - len(blocks[self._here]))
        super().draw()
