"""Which plugs can be in each other's place or one pin off, and which lines then meet which wires."""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import format_fault, parse_fault
from matrixcheck.diagnosis.machine.plugs import displacement, like_plugs, shiftable_plugs
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark, Reading
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()


def machine(*matrices: tuple[str, str, list[str], list[str]]) -> Layout:
    """Return a layout of matrices, each of an id, a kind, and the contacts of its rows and columns."""
    text = 'format = 1\nname = "plugs"\n'
    for name, kind, rows, columns in matrices:
        cells = [[f"{r} {c}" for c in columns] for r in rows]
        text += f'[[matrix]]\nid = "{name}"\nkind = "{kind}"\ncells = {cells}\n'
        for side, contacts in (("row", rows), ("column", columns)):
            text += "".join(f'[[matrix.{side}]]\npath = ["{contact}"]\n' for contact in contacts)
    return parse_layout(text.replace("'", '"'), "plugs.toml")


def row(place: int, matrix: str = "m") -> LineKey:
    return LineKey(matrix, "row", place)


def column(place: int, matrix: str = "m") -> LineKey:
    return LineKey(matrix, "column", place)


def test_like_plugs_have_the_same_contacts_with_the_same_kind_of_line_at_each() -> None:
    assert like_plugs(machine(("m", "lamp", ["X1-1", "X2-1"], ["X3-1", "X4-1"]))) == (("X3", "X4"), ("X1", "X2"))
    assert like_plugs(machine(("m", "lamp", ["X1-1", "X1-2"], ["X2-1", "X2-2"]))) == ()  # rows and columns
    assert like_plugs(machine(("m", "lamp", ["X1-1", "X2-2"], ["X3-1"]))) == ()  # other contacts
    assert like_plugs(machine(("m", "lamp", ["X1-1"], ["X3-1"]), ("n", "switch", ["X2-1"], ["X4-1"]))) == ()


def test_two_plugs_of_one_loom_are_not_in_each_others_place() -> None:
    assert ("X13", "X17") not in like_plugs(TRAM)


def test_a_plug_with_contacts_that_are_not_numbered_is_not_shifted() -> None:
    assert shiftable_plugs(machine(("m", "lamp", ["X1-A", "X1-B"], ["X2-1", "X2-2"]))) == ("X2",)


def test_swapped_plugs_lead_each_line_to_the_wire_at_the_same_contact_of_the_other() -> None:
    matrix = machine(("m", "switch", ["X1-2", "X1-1", "X2-1", "X2-2"], ["X3-1"])).matrix("m")
    found = displacement(matrix, FaultClass.PLUGS_SWAPPED, "X1", "X2")
    assert found == {row(1): row(4), row(2): row(3), row(3): row(2), row(4): row(1)}


@pytest.mark.parametrize(("step", "wires"), [(1, [None, row(1), row(2)]), (-1, [row(2), row(3), None])])
def test_a_shifted_plug_leads_each_pin_to_the_contact_beside_its_own(step: int, wires: list[LineKey | None]) -> None:
    """One pin too high, contact k sits on pin k + 1: the first pin is free, and the last contact is on none."""
    matrix = machine(("m", "switch", ["X1-1", "X1-2", "X1-3"], ["X3-1"])).matrix("m")
    found = displacement(matrix, FaultClass.PLUG_SHIFTED, "X1", after=step)
    assert [found[row(at)] for at in (1, 2, 3)] == wires


def test_a_wire_on_a_pin_of_the_other_side_or_of_no_line_is_silent_and_so_is_the_pins_line() -> None:
    matrix = machine(("m", "lamp", ["X1-1", "X1-2"], ["X1-3", "X1-5"])).matrix("m")
    found = displacement(matrix, FaultClass.PLUG_SHIFTED, "X1", after=1)
    assert found == {row(1): None, row(2): row(1), column(1): None, column(2): None}


def test_a_wire_on_a_pin_of_another_matrix_is_silent() -> None:
    layout = machine(("m", "lamp", ["X1-1", "X1-2"], ["X9-1"]), ("n", "lamp", ["X1-3", "X1-4"], ["X9-2"]))
    assert displacement(layout.matrix("m"), FaultClass.PLUG_SHIFTED, "X1", after=-1) == {row(1): row(2), row(2): None}


def test_a_plug_of_two_matrices_shifts_in_both() -> None:
    """X5 carries switch rows 5 to 8 at 1 to 4, lamp columns 1 to 4 at 6 to 9, and nothing at 5."""
    exercises = [
        Reading(matrix="switches", cell=CellKey("switches", 6, 3)),
        Reading(matrix="switches", cell=CellKey("switches", 8, 3)),
        Reading(matrix="lamps", cell=CellKey("lamps", 2, 3)),
        Reading(matrix="lamps", cell=CellKey("lamps", 2, 1)),
    ]
    shown = [found.answered or () for found in predict(TRAM, [parse_fault("plug-shifted:X5:1", TRAM)], exercises)]
    column_3 = [[cell.row for cell in answered if cell.matrix == "switches" and cell.column == 3] for answered in shown]
    assert column_3[:2] == [[7], []]
    assert shown[2:] == [(CellKey("lamps", 2, 2),), ()]


@pytest.mark.parametrize("text", ["plugs-swapped:X1:X2", "plug-shifted:X6:1", "plug-shifted:X6:-1"])
def test_misplaced_plugs_are_typed_and_written_alike(text: str) -> None:
    assert format_fault(parse_fault(text, TRAM), TRAM) == text


def test_either_plug_may_be_typed_first_and_a_plus_sign_is_taken() -> None:
    assert parse_fault("plugs-swapped:X2:X1", TRAM) == parse_fault("plugs-swapped:X1:X2", TRAM)
    assert parse_fault("plug-shifted:X6:+1", TRAM) == parse_fault("plug-shifted:X6:1", TRAM)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("plugs-swapped", "doesn't say where: give two like plugs"),
        ("plugs-swapped:X1", "names no two like plugs"),
        ("plugs-swapped:X1:X1", "names no two like plugs"),
        ("plugs-swapped:X1:X6", "the like plugs are X1 and X2"),
        ("plugs-swapped:X1:X99", "no line runs through 'X99'"),
        ("plug-shifted:X6", "doesn't say where: give a plug, and 1 or -1"),
        ("plug-shifted:X6:2", "doesn't say which way: write plug-shifted:X6:1 or :-1"),
        ("plug-shifted:Q1:1", "Q1 is not a plug with numbered contacts"),
    ],
)
def test_a_slip_gives_one_line_with_what_to_write(text: str, problem: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_fault(text, TRAM)
    assert problem in str(refused.value)
    assert "\n" not in str(refused.value)


LAMPS = machine(("m", "lamp", ["X1-1", "X1-2", "X1-3", "X2-1", "X2-2", "X2-3"], ["X3-1", "X3-2", "X3-3", "X3-4"]))


def marks(layout: Layout, fault: str) -> list[Reading]:
    """Return a mark of every lamp as a machine with that fault earns it."""
    cells = [Reading(matrix="m", cell=cell.key) for cell in layout.matrix("m").fitted]
    shown = predict(layout, [parse_fault(fault, layout)], cells)
    return [
        Reading(matrix="m", cell=one.cell, mark=Mark.WORKING if one.cell in (one.answered or ()) else Mark.DEAD)
        for one in shown
    ]


@pytest.mark.parametrize("fault", ["plug-shifted:X1:1", "plug-shifted:X2:-1", "plugs-swapped:X1:X2"])
def test_marks_alone_name_a_misplaced_plug_among_what_looks_the_same(fault: str) -> None:
    found = diagnose(LAMPS, marks(LAMPS, fault))
    (name,) = found.explanations[0].suspects
    assert parse_fault(fault, LAMPS) in found.suspect(name).members
