"""A grounded line of lamps or coils takes its fuse: all matrices on that fuse go dark, and one cause is named for all.

What shows is the circuit simulator's (`neospice`, PyPI, MIT), matrix after matrix, the fuse gone in those that follow.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from msgspec import structs

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.fault_effects import Fuse, Setting
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import fuse_mates
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.machine_draw import Machine, Planted, draw_machine
from tests.bench.machines import ask
from tests.bench.score import worth_of
from tests.samples import some_of
from tests.spice.bank import Fault

TEXT = """
format = 1
name = "one fuse for lamps and strings"
[[matrix]]
id = "lamps"
kind = "lamp"
volts = 18
numbering = "column-then-row"
supply = ["F1"]
cells = [["a1", "b1"], ["a2", "b2"], ["a3", "b3"]]
  [[matrix.column]]
  path = ["Q1", "X1-1"]
  [[matrix.column]]
  path = ["Q2", "X1-2"]
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


def one_fuse() -> Layout:
    """Return lamps and a lighting string on one fuse, and a string on another."""
    return parse_layout(TEXT, "one fuse")


def rounds(layout: Layout, *names: str) -> list[Reading]:
    """Return a rest scan and each cell of these matrices, in this order."""
    return [
        Reading(matrix=name, cell=key)
        for name in names
        for key in (None, *(cell.key for cell in layout.matrix(name).fitted))
    ]


def with_shared_fuse(name: str) -> tuple[Machine, str]:
    """Draw the first machine of a name whose lamps or coils share a fuse with strings, and its matrix of these."""
    for at in range(40):
        machine = draw_machine(f"{name} {at}", 0)
        mates = fuse_mates(parse_layout(machine.layout, "a drawn machine"))
        found = next((one for one in ("lamps", "coils") if "strings" in mates[one]), None)
        if found:
            return machine, found
    raise AssertionError("no machine shares a fuse")


@pytest.mark.parametrize("name", some_of(["one", "another"], 1))
def test_what_the_circuit_shows_of_a_grounded_line_is_explained_by_it_alone(name: str) -> None:
    machine, matrix = with_shared_fuse(f"shared fuse {name}")
    strong = tuple(replace(each, board=replace(each.board, strong=True), silent=False) for each in machine.rounds)
    planted = Planted({matrix: Fault("grounded", None, ("c1",))})
    broken = Machine(strong, (planted,), (True,))
    broken = replace(broken, readings=broken.observed((planted,)))
    dark = {a["matrix"] for a, b in zip(machine.readings, broken.readings, strict=True) if a != b}
    assert {matrix, "strings"} <= dark
    answer, result, _ = ask(broken)
    assert result.top, answer["explanations"]
    assert broken.differing(result.best) == 0
    assert len(result.best) == 1


@pytest.mark.parametrize("seed", some_of(["fresh2 3 6", "1 3 8"], 1))
def test_a_drawn_machine_with_a_shared_fuse_is_explained_by_no_more_than_shows(seed: str) -> None:
    machine = draw_machine(seed, 3)
    _, result, _ = ask(machine)
    assert worth_of(result, sum(machine.visible), machine.differing).as_good


def test_the_prediction_darkens_every_matrix_on_the_fuse() -> None:
    layout = one_fuse()
    grounded = [parse_fault("grounded:lamps.c1", layout)]
    shown = {
        fuse: {
            cell
            for each in predict(layout, grounded, rounds(layout, "strings"), Setting(fuse))
            for cell in each.answered or ()
        }
        for fuse in (Fuse.HOLDS, Fuse.GONE)
    }
    lit = {fuse: {cell.column for cell in cells} for fuse, cells in shown.items()}
    assert lit == {Fuse.HOLDS: {1, 2}, Fuse.GONE: {2}}


@pytest.mark.parametrize("marks", [False, True], ids=["lists", "marks alone"])
@pytest.mark.parametrize("first", ["lamps", "strings"])
def test_a_fuse_that_went_meanwhile_left_what_was_read_before_as_it_was(first: str, marks: bool) -> None:
    """Strings that were lit before the lamps were fed speak for no other cause of the dark lamps; after it they do."""
    layout = one_fuse()
    order = ("lamps", "strings") if first == "lamps" else ("strings", "lamps")
    asked = [each for each in rounds(layout, *order) if each.cell or not marks]
    gone = predict(layout, [parse_fault("fuse-blown:F1", layout)], asked)
    whole = predict(layout, [], asked)
    read = [dark if dark.matrix == "lamps" else lit for dark, lit in zip(gone, whole, strict=True)]
    if marks:
        read = [
            structs.replace(each, answered=None, mark=Mark.WORKING if each.cell in (each.answered or ()) else Mark.DEAD)
            for each in read
        ]
    found = diagnose(layout, read)
    grounded = sum(
        each.probability
        for each in found.suspects
        if any(one.fault is FaultClass.GROUNDED and one.lines[0].matrix == "lamps" for one in each.members)
    )
    assert grounded > 0.05 if first == "strings" else grounded < 0.05
