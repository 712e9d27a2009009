"""What a round says beside its grid: the device at hand, what is left, what comes next."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import whereabouts
from matrixcheck.record.cell_state import Standing
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.tui.text.spans import Row, clipped, row, shortened, wrapped

LEAST_SIGNS = 4
"""Room for a number before a name, however short the numbers are."""


def called(cell: Cell, standing: Standing, width: int) -> tuple[Row, ...]:
    """Return a cell called back in three lines, to stand beside its number."""
    name = shortened(wrapped(cell.name, width, "title"), 2)
    mark = standing.mark
    state: Row = ((f" {GLYPHS[mark]} {mark} ", mark.value),)
    if standing.deferred is not None:
        state = (*state, ("  later", "quiet"))
    return (*name, state)


def left_over(cells: Sequence[Cell], width: int, what: str) -> tuple[Row, ...]:
    """Return how many are left, and their numbers."""
    if not cells:
        return (row(f"None {what}.", "strong"),)
    numbers = " ".join(str(cell.number) for cell in cells)
    return (row(f"{len(cells)} {what}", "strong"), *wrapped(numbers, width, "quiet"))


def coming(cells: Sequence[Cell], width: int) -> tuple[Row, ...]:
    """Return what follows."""
    signs = max([LEAST_SIGNS, *(len(str(cell.number)) for cell in cells)])
    return tuple(row(clipped(f"{cell.number:>{signs}}  {cell.name}", width), "quiet") for cell in cells)


def where(cell: Cell, layout: Layout, width: int) -> tuple[Row, ...]:
    """Return how to find the device, in lines."""
    return wrapped(" · ".join(whereabouts(cell, layout)), width, "quiet")


def counted(mark: Mark, count: int) -> str:
    """Return a count of a mark in words."""
    return f"{count} {mark}"
