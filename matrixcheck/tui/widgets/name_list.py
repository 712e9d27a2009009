"""Names beside a line to type in: which of them begin as typed, and which one Enter takes."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.tui.text.spans import Row, Tone
from matrixcheck.tui.widgets.item_list import Blocks, ItemList


class NameList(ItemList):
    """All the names; those that don't begin as typed are faded, and the one that is meant is marked."""

    def __init__(self, names: Sequence[str], *, id: str | None = None) -> None:  # noqa: A002
        self._names = tuple(names)
        self._typed = ""
        self._meant: str | None = None
        self._pointed = False
        super().__init__(self.blocks(), id=id)

    @property
    def names(self) -> tuple[str, ...]:
        """Return all names."""
        return self._names

    @property
    def pointed(self) -> str | None:
        """Return the name that the arrows point at, None where they point at none."""
        return self._meant if self._pointed else None

    def complete(self, typed: str, meant: str | None) -> None:
        """Show what begins as typed, and which name that stands for, if any; the arrows point at none any more."""
        self._typed, self._meant, self._pointed = typed, meant, False
        self.draw()

    def step(self, by: int) -> bool:
        """Point at another of the names that begin as typed. Answers whether there is one in that direction."""
        begin = [name for name in self._names if name.startswith(self._typed)]
        place = begin.index(self._meant) + by if self._pointed and self._meant in begin else min(by, 0)
        if not 0 <= place < len(begin):
            self.complete(self._typed, begin[0] if self._typed and len(begin) == 1 else None)
            return False
        self._meant, self._pointed = begin[place], True
        self.draw()
        return True

    def blocks(self) -> Blocks:
        """Return a line for each name."""
        return [[self._row(name)] for name in self._names]

    def _row(self, name: str) -> Row:
        here = name == self._meant
        tone: Tone = "key" if name.startswith(self._typed) else "quiet"
        return (("▌ " if here else "  ", "alert"), (name, "here" if here else tone))
