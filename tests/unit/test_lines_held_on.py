"""A column that something holds on works though its plug is off or its chip dead: both faults are named.

What shows is the circuit simulator's (`neospice`, PyPI, MIT). Alone neither a wire at ground nor a driver that failed
short changes what the column's own switches show.
"""

from __future__ import annotations

import random

import pytest
from msgspec import structs

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import read_readings
from tests.bench.layouts import draw_bank, layout_text
from tests.samples import some_of
from tests.spice.bank import Bank, Fault
from tests.spice.simulate import Exercise, simulate, written
from tests.spice.wiring import Board


def readings_of(bank: Bank, faults: tuple[Fault, ...], *, marks: bool) -> list[Reading]:
    """Return what the circuit shows of each switch, as lists or as marks alone."""
    plan = tuple(Exercise(place) for place in sorted(bank.fitted))
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "held")
    found = read_readings(written(simulate(bank, faults, Board(), plan)), layout, "held")
    if not marks:
        return list(found)
    return [
        structs.replace(each, answered=None, mark=Mark.WORKING if each.cell in (each.answered or ()) else Mark.DEAD)
        for each in found
    ]


@pytest.mark.parametrize("marks", some_of([False, True], 1), ids=["lists", "marks alone"])
@pytest.mark.parametrize(
    ("whole", "part", "holding"),
    [("unplugged", "X11", "grounded"), ("open", "U11", "stuck-on"), ("open", "U11", "grounded")],
)
def test_a_line_that_works_beside_its_dead_neighbours_is_held_on(
    whole: str, part: str, holding: str, marks: bool
) -> None:
    bank = draw_bank(random.Random("held on"), "switch", (8, 8))
    faults = (Fault(whole, part, bank.through(part)), Fault(holding, None, ("c2",)))
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "held")
    found = diagnose(layout, readings_of(bank, faults, marks=marks))
    best = [found.suspect(name).members for name in found.explanations[0].suspects]
    assert len(best) == 2
    named = [{(str(one.fault), one.part) for one in members} for members in best]
    assert any((whole, part) in each for each in named)
    held = next(members for members in best if holding in {str(one.fault) for one in members})
    assert {line.place for one in held for line in one.lines} == {2}


def test_nothing_holds_a_line_on_where_all_or_most_of_its_neighbours_work() -> None:
    bank = draw_bank(random.Random("held on"), "switch", (8, 8))
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "held")
    faults = (Fault("open", None, ("c1",)), Fault("open", None, ("c3",)))
    found = diagnose(layout, readings_of(bank, faults, marks=False))
    assert {str(one.fault) for each in found.suspects for one in each.members}.isdisjoint({"grounded", "stuck-on"})


def test_a_grounded_line_without_a_cell_is_no_trouble() -> None:
    """It may take a fuse all the same; alone it shows nothing, and it lies in no cell."""
    text = """
format = 1
name = "an empty column"
[[matrix]]
id = "lamps"
kind = "lamp"
cells = [["a", ""], ["b", ""]]
  [[matrix.column]]
  path = ["X1-1"]
[[matrix]]
id = "inputs"
kind = "switch"
cells = [["left"], ["right"]]
  [[matrix.column]]
  path = ["X1-3"]
"""
    layout = parse_layout(text, "empty")
    lists = [Reading(matrix="inputs", cell=cell.key, answered=()) for cell in layout.matrix("inputs").fitted]
    marks = [Reading(matrix="lamps", cell=cell.key, mark=Mark.STUCK) for cell in layout.matrix("lamps").fitted]
    assert diagnose(layout, [*lists, *marks]).explanations
