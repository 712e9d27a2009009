"""A small invented machine with every kind of matrix, for the tests of what the analyser says and proposes."""

from __future__ import annotations

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout

TOML = """
format = 1
name = "Invented Ferry"

[[part]]
ref = "X5"
name = "9-way plug"
place = "lower left of the driver board"

[[part]]
ref = "F2"
rating = "5 A T"

[[matrix]]
id = "switches"
kind = "switch"
volts = 5
cells = [
  ["left outlane", "quay 1", "buoy"],
  ["right outlane", "quay 2", "ferry bell"],
  ["coin door", "", "lock"],
  ["start", "quay 3", "trough"],
]

  [[matrix.column]]
  label = "1"
  wire = "GN/BN"
  path = ["U4-1", "Q1", "X5-1"]
  chain = [3, 1, 2, 4]

  [[matrix.column]]
  label = "2"
  wire = "GN/RD"
  path = ["U4-2", "Q2", "X5-2"]

  [[matrix.column]]
  label = "3"

  [[matrix.row]]
  label = "1"
  wire = "WH/BN"
  path = ["U7-2", "X6-1"]

  [[matrix.row]]
  label = "2"
  wire = "WH/RD"
  path = ["U7-3", "X6-2"]

  [matrix.cell.1]
  reach = "hand"

  [matrix.cell.12]
  reach = "ball"

[[matrix]]
id = "lamps"
kind = "lamp"
volts = 18
supply = ["F2"]
cells = [["shoot again", "extra"], ["ferry 1", "ferry 2"], ["ferry 3", "ferry 4"]]

  [[matrix.column]]
  label = "1"
  wire = "YE"
  path = ["U5-1", "Q11", "X5-8"]
  chain = [1, 3, 2]

  [matrix.cell.2]
  fitted = "led"

[[matrix]]
id = "coils"
kind = "coil"
volts = 24
cells = [["kicker", "left flasher"], ["popper", "right flasher"], ["bell", "top flasher"]]

  [[matrix.column]]
  label = "A"
  path = ["X11-1"]
  select = "K1"
  when = "rest"
  supply = ["F3"]

  [[matrix.column]]
  label = "B"
  path = ["X11-2"]
  select = "K1"
  when = "pulled"

  [[matrix.row]]
  label = "1"
  path = ["U6-1", "Q21", "X9-1"]

  [[matrix.row]]
  label = "2"
  path = ["U6-2", "Q22", "X10-1"]

  [matrix.cell]
  1 = {ohms = 4.2, tolerance = 0.1}
  2 = {ohms = 11.5}
  4 = {device = "flash lamp", fitted = "led", keep_warm = {ohms = 330, volts = 24}}
  5 = {device = "flash lamp", fitted = "led", keep_warm = {ohms = 330, volts = 24}}
  6 = {device = "flash lamp", fitted = "filament", keep_warm = {ohms = 330, volts = 24}}

[[matrix]]
id = "inputs"
kind = "switch"
rows_shared = false
cells = [["left button"], ["right button"], ["tilt"]]

  [[matrix.row]]
  label = "1"
  path = ["U8-1", "X13-1"]

[[matrix]]
id = "lighting"
kind = "lamp"
rows_shared = false
cells = [["quay side", "hull"], ["sea", "mast"]]

  [[matrix.column]]
  label = "1"
  path = ["F7", "X14-1"]
"""


def machine() -> Layout:
    """The invented machine's layout."""
    return parse_layout(TOML, "diagnosis_case")
