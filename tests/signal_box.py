"""An invented machine whose charts print numbers such as "9L", "D1" and "A-3" beside plain ones."""

from __future__ import annotations

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.places import CellKey

SIGNAL_BOX = """\
format = 1
name = "Signal Box"

[[matrix]]
id = "switches"
kind = "switch"
numbering = "listed"
numbers = [["10", "d1", "A-3"], ["9L", 2, "D10"], ["9R", "A", ""]]
walk = ["9l", "9R"]
cells = [["left arch", "upper door", "siding"], ["left rail", "gate", "lower door"], ["right rail", "apron", ""]]

  [[matrix.column]]
  path = ["U4-1", "Q1", "X5-1"]
  chain = ["9r", 10, "9L"]

  [[matrix.column]]
  path = ["U4-2", "Q2", "X5-2"]

  [[matrix.row]]
  path = ["U7-1", "X6-1"]

  [matrix.cell.9l]
  reach = "ball"

  [matrix.cell.A-3]
  rest = "closed"

[[matrix]]
id = "lamps"
kind = "lamp"
numbering = "listed"
numbers = [["U1", "G2"], [0, "7B"]]
cells = [["red", "amber"], ["", "white"]]

[[matrix]]
id = "coils"
kind = "coil"
cells = [["kicker"], ["knocker"]]
"""
LAYOUT = parse_layout(SIGNAL_BOX, "signal-box")
SWITCHES, LAMPS, COILS = LAYOUT.matrices


def at(row: int, column: int, matrix: str = "switches") -> CellKey:
    """Name a place."""
    return CellKey(matrix, row, column)
