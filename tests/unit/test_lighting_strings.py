"""Lighting strings: a fed string lights as a whole; what lists of lamps say of it, and what they leave out."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from msgspec.structs import replace

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Reading

TEXT = """
format = 1
name = "three strings"
[[matrix]]
id = "strings"
kind = "lamp"
rows_shared = false
numbering = "column-then-row"
cells = [["a1", "b1", "c1"], ["a2", "b2", "c2"], ["a3", "b3", "c3"], ["a4", "b4", ""]]
  [[matrix.column]]
  path = ["K2", "X1-1"]
  supply = ["F1"]
  [[matrix.column]]
  path = ["K2", "X2-1"]
  supply = ["F2"]
  [[matrix.column]]
  path = ["K3", "X3-1"]
  supply = ["F3"]
"""


@pytest.fixture(scope="module")
def layout() -> Layout:
    return parse_layout(TEXT, "strings.toml")


def asked(layout: Layout) -> list[Reading]:
    cells = [None, *(cell.key for cell in layout.matrix("strings").fitted)]
    return [Reading(matrix="strings", cell=key) for key in cells]


def listed(layout: Layout, *faults: str) -> list[Reading]:
    return list(predict(layout, [parse_fault(fault, layout) for fault in faults], asked(layout)))


def first(layout: Layout, readings: Sequence[Reading]) -> set[str]:
    """The classes and places of the best explanation's members."""
    found = diagnose(layout, readings)
    members = [fault for name in found.explanations[0].suspects for fault in found.suspect(name).members]
    return {f"{fault.fault} {fault.part or ' '.join(map(str, fault.lines or fault.cells))}" for fault in members}


def test_a_fed_string_lights_as_a_whole_and_the_others_stay_dark(layout: Layout) -> None:
    rest, *lit = listed(layout)
    assert rest.answered == ()
    for reading in lit:
        assert reading.cell is not None
        assert {cell.column for cell in reading.answered or ()} == {reading.cell.column}
        assert len(reading.answered or ()) == len(layout.matrix("strings").cells_of(_column(layout, reading)))


def _column(layout: Layout, reading: Reading) -> LineKey:
    assert reading.cell is not None
    return next(line for line in layout.matrix("strings").lines if line.place == reading.cell.column)


@pytest.mark.parametrize(
    ("fault", "named"),
    [
        ("stuck-on:strings.c3", "stuck-on strings.c3"),
        ("shorted-together:strings.c1:strings.c3", "shorted-together strings.c1 strings.c3"),
        ("crossed:strings.c1:strings.c2", "crossed strings.c1 strings.c2"),
        ("device-stuck:strings.r2c1", "device-stuck strings.r2c1"),
        ("relay-stuck:K2:rest", "relay-stuck K2"),
        ("relay-stuck:K2:pulled", "relay-stuck K2"),
        ("fuse-blown:F3", "fuse-blown F3"),
    ],
)
def test_a_fault_of_a_string_is_named(layout: Layout, fault: str, named: str) -> None:
    assert named in first(layout, listed(layout, fault))


def test_lamps_that_nobody_lists_beside_the_judged_one_are_not_taken_for_dark(layout: Layout) -> None:
    own = [
        replace(reading, answered=tuple(cell for cell in reading.answered or () if cell == reading.cell))
        for reading in listed(layout)
    ]
    assert first(layout, own) == set()


def test_lighting_that_nothing_switches_off_is_no_fault(layout: Layout) -> None:
    everything = tuple(cell.key for cell in layout.matrix("strings").fitted)
    always = [replace(reading, answered=everything) for reading in asked(layout)]
    assert first(layout, always) == set()


def test_a_dark_lamp_is_seen_where_the_other_lamps_of_its_string_are_listed(layout: Layout) -> None:
    """Even if nobody asked for it by its own number."""
    readings = [each for each in listed(layout, "device-dead:strings.r4c2") if str(each.cell) != "strings.r4c2"]
    assert "device-dead strings.r4c2" in first(layout, readings)
