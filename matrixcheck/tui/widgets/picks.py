"""A short list to pick one line of, by arrows, by its digit or by a tap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.tui.text.spans import Row, clipped, row, wrapped
from matrixcheck.tui.widgets.item_list import PointedList

DIGITS = 9
LINE_AND_SAYING = 2


class Pick(NamedTuple):
    """One line to pick: its name, and what more is said of it."""

    name: str
    says: str = ""


def stacked(
    picks: Sequence[Pick], pointed: int, width: int, *, numbered: bool = True, airy: bool = True
) -> list[list[Row]]:
    """Return the lines of each pick, its name above what is said of it; `airy` puts a blank line after that."""
    blocks: list[list[Row]] = []
    for place, pick in enumerate(picks):
        here = place == pointed
        digit = f"{place + 1} " if numbered and place < DIGITS else ""
        name = clipped(pick.name, width - 1 - len(digit))
        head: Row = (("▌" if here else " ", "alert"), (digit, "key"), (name, "here" if here else "title"))
        said = wrapped(pick.says, width, "quiet", indent="   ")
        blocks.append([head, *said, *([row()] if said and airy else [])])
    return blocks


class Picks(PointedList):
    """A list of picks."""

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

    def on_mount(self) -> None:
        """Draw it."""
        self.draw()

    def name_at(self, place: int) -> str:
        """Return the name of a pick."""
        return self._picks[place].name if self._picks else ""

    @property
    def count(self) -> int:
        """Return how many there are."""
        return len(self._picks)

    def offer(self, picks: Sequence[Pick]) -> None:
        """Show other picks."""
        self._picks = tuple(picks)
        self.point(self.here)

    def space(self, airy: bool) -> None:
        """Put a blank line after a pick of which more is said, or none."""
        self._airy = airy
        self.draw()

    def blocks(self) -> list[list[Row]]:
        """Return the lines of each pick."""
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
        return stacked(self._picks, self.here, width, numbered=self._numbered, airy=self._airy)
