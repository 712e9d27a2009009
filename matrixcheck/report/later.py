"""The later list in working order: grouped by how the cells are reached, least work first."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from matrixcheck.layout.numbering import natural_order
from matrixcheck.record.summary import LaterItem

# How much must be done to get at a cell; common practice, no source. Words of a layout's own come after these.
SET_UPS = ("hand", "ball", "door open", "glass off", "playfield up", "back box open")
UNKNOWN_REACH = "reach not given"


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


def _effort(reach: str) -> int:
    if not reach:
        return len(SET_UPS) + 1
    return SET_UPS.index(reach) if reach in SET_UPS else len(SET_UPS)
