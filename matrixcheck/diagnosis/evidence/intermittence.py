"""What readings say of each exercised cell, and where they contradict each other: a fault there is intermittent."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


def intermittent_cells(readings: Sequence[Reading]) -> frozenset[CellKey]:
    """Find the cells that answered their own command in one reading and stayed dead in another."""
    both = {Mark.WORKING, Mark.DEAD}
    return frozenset(cell for cell, marks in marks_of(readings).items() if both <= set(marks))


def marks_of(readings: Sequence[Reading]) -> dict[CellKey, list[Mark]]:
    """List for each exercised cell the marks that its readings give, in order.

    A cell that answers at a rest scan without being held is stuck, unless some exercise of it found it silent.
    """
    found: dict[CellKey, list[Mark]] = {}
    for reading in readings:
        if reading.cell is not None:
            mark = mark_of(reading)
            if mark is not Mark.UNTESTED:
                found.setdefault(reading.cell, []).append(mark)
    for reading in readings:
        if reading.cell is None and reading.answered:
            for cell in reading.answered:
                if cell not in reading.held and set(found.get(cell, ())) <= {Mark.WORKING, Mark.STUCK}:
                    found[cell] = [Mark.STUCK]
    return found


def mark_of(reading: Reading) -> Mark:
    """Return what a reading says of its exercised cell."""
    if reading.mark is not None:
        return reading.mark
    if reading.answered is None:
        return Mark.UNTESTED
    return Mark.WORKING if reading.cell in reading.answered else Mark.DEAD
