"""The later list by what must be done to get at the cells; a round goes through any of its groups."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from matrixcheck.layout.places import CellKey
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import later_list
from matrixcheck.report.later import waiting
from matrixcheck.web.page.screens.head import JobHead, head_of

LONGEST_QUERY = 6000
"""Characters of an address: a server takes no longer ones."""


@dataclass(frozen=True)
class Group:
    """Cells of one matrix that one set-up gets at: how it is called, the cells, and the way into a round."""

    name: str
    says: str
    href: str


@dataclass(frozen=True)
class LaterScreen:
    """What still has to be tested."""

    head: JobHead
    says: str
    groups: Sequence[Group]


def later_screen(state: JobState) -> LaterScreen:
    """Return what the page of the later list shows."""
    items = later_list(state)
    groups = [
        Group(one.name, one.says, round_address(state, one.matrix_id, [item.cell for item in one.items]))
        for one in waiting(items)
    ]
    says = f"{len(items)} to test, least work first" if items else "Nothing is left to test."
    return LaterScreen(head_of(state), says, groups)


def round_address(state: JobState, matrix_id: str, cells: Iterable[CellKey]) -> str:
    """Return where a round through some cells of a matrix is chosen; as many of them as an address takes."""
    named, keys = "", list(cells)
    if len(keys) < len(state.layout.matrix(matrix_id).fitted):
        for key in keys:
            if len(named) > LONGEST_QUERY:
                break
            named += f"{'+' if named else '?cells='}{key.address}"
    return f"/job/{state.id}/{matrix_id}/rounds{named}"
