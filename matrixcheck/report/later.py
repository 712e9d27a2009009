"""The later list in working order: grouped by how the cells are reached, least work first."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.numbering import natural_order
from matrixcheck.record.summary import LaterItem

# How much must be done to get at a cell; common practice, no source. Words of a layout's own come after these.
SET_UPS = ("hand", "ball", "door open", "glass off", "playfield up", "back box open")
UNKNOWN_REACH = "reach not given"
AGAIN = "test again"
RETEST = "retest due"


class ReachGroup(NamedTuple):
    """Cells that one set-up gets at."""

    reach: str
    items: tuple[LaterItem, ...]


def by_reach(items: Iterable[LaterItem]) -> tuple[ReachGroup, ...]:
    """Group the items by reach. The least set-up first, among equals the larger group first, unknown reach last."""
    ordered = sorted(items, key=lambda item: (item.reach, item.cell.matrix, natural_order(item.number)))
    groups = [ReachGroup(reach, tuple(group)) for reach, group in groupby(ordered, key=lambda item: item.reach)]
    return tuple(
        ReachGroup(group.reach or UNKNOWN_REACH, group.items)
        for group in sorted(groups, key=lambda group: (_effort(group.reach), -len(group.items), group.reach))
    )


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
    return tuple(dict.fromkeys(filter(None, (cell.notes.reach, *set_ups(layout)))))


def set_ups(layout: Layout) -> tuple[str, ...]:
    """Return every set-up that a layout knows, as it comes to them."""
    every = dict.fromkeys(cell.notes.reach for matrix in layout.matrices for cell in matrix.fitted)
    return tuple(filter(None, every))


def _effort(reach: str) -> int:
    if not reach:
        return len(SET_UPS) + 1
    return SET_UPS.index(reach) if reach in SET_UPS else len(SET_UPS)


def _reason(item: LaterItem) -> str:
    why = item.reason.partition(": ")[2]
    if _kind(item) == RETEST:
        return f" ({', '.join(filter(None, [why, item.reach]))})"
    return f" (put off: {why})" if why and why != item.reach else ""


def _kind(item: LaterItem) -> str:
    return item.reason.partition(": ")[0]
