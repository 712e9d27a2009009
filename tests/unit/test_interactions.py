"""Faults that show what they are only beside others: each is named, though alone it looks like another or like nothing.

The readings are what the forward model gives, which `tests/outside/test_matrix_physics.py` holds against a circuit
simulator.
"""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Fault
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading

SWITCHES = """
format = 1
name = "six by six"
[[matrix]]
id = "m"
kind = "switch"
volts = 5
cells = [
  ["a1", "a2", "a3", "a4", "a5", "a6"],
  ["b1", "b2", "b3", "b4", "b5", "b6"],
  ["c1", "c2", "c3", "c4", "c5", "c6"],
  ["d1", "d2", "d3", "d4", "d5", "d6"],
  ["e1", "e2", "e3", "e4", "e5", "e6"],
  ["f1", "f2", "f3", "f4", "f5", "f6"],
]
"""

COILS = """
format = 1
name = "a bank of two sides"
[[matrix]]
id = "m"
kind = "coil"
volts = 35
cells = [["kick", "lamp 1"], ["trip", "lamp 2"], ["lamp 3", "knock"], ["lamp 4", "lamp 5"], ["post", "gate"]]
  [[matrix.column]]
  select = "K1"
  when = "rest"
  [[matrix.column]]
  select = "K1"
  when = "pulled"
  [matrix.cell.6]
  device = "flash lamp"
  fitted = "filament"
  [matrix.cell.7]
  device = "flash lamp"
  fitted = "filament"
  [matrix.cell.3]
  device = "flash lamp"
  fitted = "filament"
  [matrix.cell.4]
  device = "flash lamp"
  fitted = "filament"
  [matrix.cell.9]
  device = "flash lamp"
  fitted = "filament"
"""


def seen(layout: Layout, faults: list[Fault], untested: set[str], held: tuple[str, ...] = ()) -> tuple[Reading, ...]:
    """A rest scan and every cell but those, with what a machine with the faults shows; `held` in a second round."""
    (matrix,) = layout.matrices
    keys = {cell.key.address: cell.key for cell in matrix.fitted}
    asked = [Reading(matrix="m")]
    asked += [Reading(matrix="m", cell=key) for name, key in keys.items() if name not in untested]
    if held:
        kept = tuple(keys[name] for name in held)
        asked += [Reading(matrix="m", cell=key, held=kept) for key in keys.values() if key not in kept]
    return predict(layout, faults, asked)


@pytest.mark.parametrize(
    ("text", "put_in", "untested", "held"),
    [
        pytest.param(
            COILS, ["crossed:m.c1:m.c2", "diode-reversed:m.r4c1"], set(), (), id="a reversed diode behind crossed lines"
        ),
        pytest.param(
            SWITCHES,
            ["device-stuck:m.r4c6", "diode-shorted:m.r4c2"],
            set(),
            ("r2c2", "r3c2"),
            id="a stuck switch holds",
        ),
        pytest.param(
            SWITCHES,
            ["crossed:m.c1:m.c3", "device-stuck:m.r2c1"],
            set(),
            (),
            id="a stuck switch shows where its line is crossed to",
        ),
        pytest.param(
            SWITCHES,
            ["shorted-together:m.c1:m.c2", "break:m.c1:3"],
            {"r4c1"},
            (),
            id="a short feeds what lies beyond a break",
        ),
    ],
)
def test_what_shows_only_beside_others_is_named(
    text: str, put_in: list[str], untested: set[str], held: tuple[str, ...]
) -> None:
    layout = parse_layout(text, "a test's own")
    faults = [parse_fault(each, layout) for each in put_in]
    found = diagnose(layout, seen(layout, faults, untested, held))
    named = [found.suspect(name).members for name in found.explanations[0].suspects]
    for fault in faults:
        assert any(_same(fault, member) for members in named for member in members), (fault, named)


def _same(fault: Fault, member: Fault) -> bool:
    return (fault.fault, fault.part, fault.lines) == (member.fault, member.part, member.lines) and (
        bool(fault.lines) or fault.cells == member.cells
    )
