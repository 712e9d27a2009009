"""Name a cell for people: the one way in which history, answers and reports write it."""

from __future__ import annotations

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey

_APART = {"switch": "direct input", "lamp": "lighting lamp"}
"""What devices are called in matrices whose rows are wires of their own."""


def cell_words(layout: Layout, key: CellKey) -> str:
    """Word a cell by device, number and name: "lamp 21 (step 2 lit)"; by its address where nothing is fitted."""
    matrix = layout.matrix(key.matrix)
    cell = matrix.by_key.get(key)
    if cell is None:
        return f"the empty place {key.address}"
    device = cell.device if matrix.rows_shared else _APART.get(cell.device, cell.device)
    return f"{device} {cell.number} ({cell.name})"
