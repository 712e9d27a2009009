"""Say what a coil's resistance should be, and whether what was measured is right."""

from __future__ import annotations

from matrixcheck.diagnosis.forward.coil_resistance import USUAL_TOLERANCE, is_outside
from matrixcheck.layout.model import Cell


def due_ohms(cell: Cell) -> str:
    """Return the resistance that is due, with its tolerance; nothing where the layout doesn't say."""
    if cell.notes.ohms is None:
        return ""
    return f"{cell.notes.ohms:g} Ω ± {(cell.notes.tolerance or USUAL_TOLERANCE) * 100:g} %"


def judged(cell: Cell, ohms: float) -> str:
    """Return how a measured resistance compares with what is due."""
    if cell.notes.ohms is None:
        return "not known what is due"
    if not is_outside(cell, ohms):
        return "right"
    return "TOO LOW" if ohms < cell.notes.ohms else "TOO HIGH"
