"""Lay blocks out on paper: side by side on shelves, shelves on pages, with as little white left as goes in order."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from matrixcheck.report.drawing.grid_blocks import GAP, GridBlock

AHEAD = 4
"""How many of the next shelves a page may choose from: grids stay nearly in their order."""
SPILL = 1.25
"""How much higher than its shelf a block may be that joins it; the shelf then grows."""


class Shelf(Struct, frozen=True):
    """Blocks side by side, their captions on one line and their grids on another."""

    blocks: tuple[GridBlock, ...]

    @property
    def width(self) -> float:
        """Return the width, gaps included."""
        return sum(block.width for block in self.blocks) + GAP * (len(self.blocks) - 1)

    @property
    def caption_height(self) -> float:
        """Return the height of the highest caption."""
        return max(block.caption_height for block in self.blocks)

    @property
    def height(self) -> float:
        """Return the height of the highest caption and the highest grid."""
        return self.caption_height + max(block.grid_height for block in self.blocks)


def shelves_of(groups: Iterable[tuple[GridBlock, ...]], width: float) -> tuple[Shelf, ...]:
    """Return the blocks on shelves no wider than the paper, nearly in their order: small ones fill up earlier shelves.

    Blocks of one group stay beside each other where they fit.
    """
    shelves: list[Shelf] = []
    for group in groups:
        for bunch in _bunches(group, width):
            needs, high = Shelf(bunch).width, Shelf(bunch).height
            for place, shelf in enumerate(shelves):
                if shelf.width + GAP + needs <= width and high <= SPILL * shelf.height:
                    shelves[place] = Shelf((*shelf.blocks, *bunch))
                    break
            else:
                shelves.append(Shelf(bunch))
    return tuple(shelves)


def pages_of(shelves: Iterable[Shelf], height: float, first: float) -> tuple[tuple[Shelf, ...], ...]:
    """Return the shelves by pages of that height, of which the first has only `first` left.

    A page takes the next shelf that still fits, so that a low one fills what a high one would leave white.
    """
    left = list(shelves)
    pages: list[tuple[Shelf, ...]] = []
    room = first
    while left:
        page: list[Shelf] = []
        while (fits := next((shelf for shelf in left[:AHEAD] if shelf.height + GAP <= room), None)) is not None:
            left.remove(fits)
            page.append(fits)
            room -= fits.height + GAP
        if not page and room >= height:
            page.append(left.pop(0))
        pages.append(tuple(page))
        room = height
    return tuple(pages)


def _bunches(group: tuple[GridBlock, ...], width: float) -> Iterable[tuple[GridBlock, ...]]:
    bunch: tuple[GridBlock, ...] = ()
    for block in group:
        if bunch and Shelf((*bunch, block)).width > width:
            yield bunch
            bunch = ()
        bunch = (*bunch, block)
    if bunch:
        yield bunch
