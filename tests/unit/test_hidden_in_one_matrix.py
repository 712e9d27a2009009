"""Faults of which one hides the other in a matrix: both are found by what else they do."""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Reading
from tests.bench.machine_draw import draw_machine
from tests.bench.machines import ask

TEXT = """
format = 1
name = "one fuse, two matrices"
[[matrix]]
id = "switches"
kind = "switch"
volts = 12
numbering = "column-then-row"
supply = ["F1"]
cells = [["a1", "b1", "c1"], ["a2", "b2", "c2"], ["a3", "b3", "c3"]]
  [[matrix.row]]
  path = ["U1-1"]
  [[matrix.row]]
  path = ["U1-2"]
  [[matrix.row]]
  path = ["U1-3"]
[[matrix]]
id = "strings"
kind = "lamp"
rows_shared = false
numbering = "column-then-row"
cells = [["d1", "e1"], ["d2", "e2"], ["d3", "e3"]]
  [[matrix.column]]
  path = ["X2-1"]
  supply = ["F1"]
  [[matrix.column]]
  path = ["X3-1"]
  supply = ["F2"]
"""


def suspected(*faults: str) -> set[str]:
    """Return the parts of all members of the best explanation, for lists of what these faults show."""
    layout = parse_layout(TEXT, "tied.toml")
    asked = [
        Reading(matrix=matrix.id, cell=key)
        for matrix in layout.matrices
        for key in (None, *(cell.key for cell in matrix.fitted))
    ]
    found = diagnose(layout, predict(layout, [parse_fault(fault, layout) for fault in faults], asked))
    members = [one for name in found.explanations[0].suspects for one in found.suspect(name).members]
    return {one.part for one in members if one.part}


@pytest.mark.parametrize("other", [(), ("open:X2-1",)], ids=["the fuse", "a contact"])
def test_a_fuse_is_suspected_whose_open_inputs_nobody_hears(other: tuple[str, ...]) -> None:
    """Without it all inputs of 12 V read closed; a dead chip hears none, so that only the string speaks of the fuse."""
    assert {"U1", "F1", "X2-1"} <= suspected("open:U1", *(other or ("fuse-blown:F1",)))


def test_a_fuse_is_not_suspected_where_one_input_is_heard() -> None:
    assert "F1" not in suspected("open:U1-1", "open:U1-2", "open:X2-1")


def test_a_chip_is_suspected_whose_dead_drivers_a_blown_fuse_hides() -> None:
    """Every input reads closed without the fuse, whatever the chip drives: its coils alone speak of the chip."""
    machine = draw_machine("fig 3 10", 3)
    visible = {fault["part"] for fault in machine.injected() if fault["visible"]}
    assert visible == {"F29", "U211"}
    _, result, _ = ask(machine)
    assert result.top
