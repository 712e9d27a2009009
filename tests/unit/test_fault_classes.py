"""The table of fault classes: every class has its row, its sets have these members, and predictions agree with it."""

import pytest

from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine import fault_classes
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.fault_classes import (
    DARKENING,
    LIGHTING,
    PART_KIND,
    SILENCING,
    TRAITS,
    FaultClasses,
    classes,
    private_classes,
)
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.reading import Reading
from tests.machines import saltmarsh_tram

LAYOUT = saltmarsh_tram()
WARM = {cell.key for matrix in LAYOUT.matrices for cell in matrix.fitted if cell.notes.keep_warm is not None}
CLOSED_BY_HAND = [cell for matrix in LAYOUT.matrices for cell in matrix.fitted if cell.notes.rest != "closed"]
ALONE = [Reading(matrix=cell.key.matrix, cell=cell.key) for cell in CLOSED_BY_HAND]

MEMBERS = {
    "OF_CELLS": "device-dead device-stuck diode-open diode-shorted diode-reversed wrong-device",
    "OF_BANKS": "keep-warm-glow",
    "PRIVATE": "device-dead device-stuck diode-open diode-shorted diode-reversed",
    "IN_DEVICES": "device-dead device-stuck",
    "ODD_DIODE": "diode-shorted diode-reversed",
    "SILENCING": "open unplugged break device-dead diode-open diode-reversed fuse-blown",
    "DARKENING": "open unplugged break device-dead diode-open fuse-blown",
    "SILENCING_LINES": "open unplugged break fuse-blown",
    "DEAD_CELL": "device-dead diode-open diode-reversed",
    "SILENCED_CELLS": "break device-dead diode-open",
    "PARTING": "open unplugged fuse-blown",
    "KILLING": "break device-dead diode-open diode-reversed",
    "SILENT_UNFED": "open unplugged break device-dead diode-open",
    "LIGHTING": "stuck-on device-stuck diode-shorted",
    "LASTING": "stuck-on grounded",
    "AT_ENDS": "open unplugged stuck-on plugs-swapped plug-shifted relay-stuck fuse-blown",
    "OF_WIRES": "grounded shorted-together crossed",
    "BETWEEN_TWO": "shorted-together crossed",
    "MISPLACED_PLUGS": "plugs-swapped plug-shifted",
    "DISPLACING": "shorted-together crossed plugs-swapped plug-shifted relay-stuck",
    "COMES_AND_GOES": "unplugged break device-dead",
}


def test_every_fault_class_has_its_row() -> None:
    assert set(TRAITS) == set(FaultClass)


@pytest.mark.parametrize("name", MEMBERS)
def test_the_sets_that_follow_from_the_table_have_these_members_in_the_order_of_the_classes(name: str) -> None:
    found: FaultClasses = getattr(fault_classes, name)
    assert [str(one) for one in found] == MEMBERS[name].split()


def test_every_set_of_the_table_is_named_here() -> None:
    named = {name for name, value in vars(fault_classes).items() if name.isupper() and isinstance(value, tuple)}
    assert named == set(MEMBERS)


def test_some_classes_are_of_one_kind_of_part() -> None:
    assert {str(one): kind for one, kind in PART_KIND.items()} == {
        "unplugged": "connector",
        "fuse-blown": "fuse",
        "relay-stuck": "relay",
    }


def test_a_cell_without_a_diode_has_none_of_the_faults_of_diodes() -> None:
    assert [str(one) for one in private_classes(has_diodes=False)] == ["device-dead", "device-stuck"]
    assert private_classes(has_diodes=True) == fault_classes.PRIVATE


def test_a_query_lists_nothing_where_no_class_passes() -> None:
    assert classes(lambda _: False) == ()


def one_of_each(among: FaultClasses) -> list[Fault]:
    """Return for each class, and each matrix that it takes hold of first, one fault of the machine."""
    found: dict[tuple[FaultClass, str], Fault] = {}
    for fault, _ in faults_of(LAYOUT):
        if fault.fault in among and fault.cells:
            found.setdefault((fault.fault, fault.cells[0].matrix), fault)
    return list(found.values())


def label(fault: Fault) -> str:
    return f"{fault.fault} in {fault.cells[0].matrix}"


def answers(*faults: Fault) -> list[set[object]]:
    """Return what answers to each cell of the machine exercised alone, keep-warm LEDs left out."""
    return [set(reading.answered or ()) - WARM for reading in predict(LAYOUT, faults, ALONE)]


@pytest.mark.parametrize("fault", one_of_each(SILENCING), ids=label)
def test_cells_of_what_silences_dont_answer_when_they_are_exercised(fault: Fault) -> None:
    own = [(reading.cell, found) for reading, found in zip(ALONE, answers(fault), strict=True)]
    assert not [cell for cell, found in own if cell in fault.cells and cell in found]


@pytest.mark.parametrize("fault", one_of_each(DARKENING), ids=label)
def test_what_darkens_never_makes_more_show(fault: Fault) -> None:
    assert all(after <= before for before, after in zip(answers(), answers(fault), strict=True))


@pytest.mark.parametrize("fault", one_of_each(LIGHTING), ids=label)
def test_what_lights_never_makes_less_show(fault: Fault) -> None:
    assert all(after >= before for before, after in zip(answers(), answers(fault), strict=True))
