"""The later list by what must be done to get at the cells, one line for each matrix of a group."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from matrixcheck.bench import LaterItem
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.report.later import by_reach


class Waiting(NamedTuple):
    """Cells of one matrix that one set-up gets at."""

    reach: str
    matrix_id: str
    items: tuple[LaterItem, ...]

    @property
    def name(self) -> str:
        """The set-up, and how many cells of which matrix it serves."""
        return f"{self.reach} · {self.matrix_id} · {len(self.items)}"

    @property
    def says(self) -> str:
        """The cells, each with its reason where that is more than that it is untested."""
        return ", ".join(f"{item.number} {item.name}{_reason(item)}" for item in self.items)


def waiting(items: Iterable[LaterItem]) -> tuple[Waiting, ...]:
    """The list in working order: fewest set-ups first."""
    return tuple(
        Waiting(group.reach, matrix_id, tuple(cells))
        for group in by_reach(items)
        for matrix_id, cells in groupby(group.items, key=lambda item: item.cell.matrix)
    )


def reasons_for(cell: Cell, layout: Layout) -> tuple[str, ...]:
    """Reasons to put a cell off: how it is got at, then every other set-up that the layout knows."""
    cells = (other for matrix in layout.matrices for other in matrix.fitted)
    every = dict.fromkeys(other.notes.reach for other in (cell, *cells))
    return tuple(reach for reach in every if reach)


def _reason(item: LaterItem) -> str:
    kind, _, why = item.reason.partition(": ")
    if kind == "retest due":
        return f" (again: {why})"
    return f" (put off: {why})" if why and why != item.reach else ""
