"""The later list by what must be done to get at the cells, one line for each matrix of a group."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from matrixcheck.bench import LaterItem
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.report.later import by_reach

AGAIN = "test again"
RETEST = "retest due"


class Waiting(NamedTuple):
    """Cells of one matrix that one set-up gets at, or that wait for their retest."""

    reach: str
    matrix_id: str
    items: tuple[LaterItem, ...]

    @property
    def name(self) -> str:
        """Return the set-up or the retest, and how many cells of which matrix it serves."""
        return f"{self.reach} · {self.matrix_id} · {len(self.items)}"

    @property
    def says(self) -> str:
        """Return the cells, each with its reason where that is more than that it is untested."""
        return ", ".join(f"{item.number} {item.name}{_reason(item)}" for item in self.items)


def waiting(items: Iterable[LaterItem]) -> tuple[Waiting, ...]:
    """Return the list in working order: first what a repair makes due, then least work first."""
    listed = list(items)
    again = [item for item in listed if _kind(item) == RETEST]
    others = [item for item in listed if _kind(item) != RETEST]
    return tuple(
        Waiting(name, matrix_id, tuple(cells))
        for name, group in ((AGAIN, again), *by_reach(others))
        for matrix_id, cells in groupby(group, key=lambda item: item.cell.matrix)
    )


def reasons_for(cell: Cell, layout: Layout) -> tuple[str, ...]:
    """Return reasons to put a cell off: how it is got at, then every other set-up that the layout knows."""
    cells = (other for matrix in layout.matrices for other in matrix.fitted)
    every = dict.fromkeys(other.notes.reach for other in (cell, *cells))
    return tuple(reach for reach in every if reach)


def _reason(item: LaterItem) -> str:
    why = item.reason.partition(": ")[2]
    if _kind(item) == RETEST:
        return f" ({', '.join(filter(None, [why, item.reach]))})"
    return f" (put off: {why})" if why and why != item.reach else ""


def _kind(item: LaterItem) -> str:
    return item.reason.partition(": ")[0]
