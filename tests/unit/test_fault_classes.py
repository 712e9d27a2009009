"""The table of fault classes: every class stands in it, and the sets that follow from it have these members."""

import pytest

from matrixcheck.diagnosis.machine import fault_classes
from matrixcheck.diagnosis.machine.fault_classes import PART_KIND, TRAITS, FaultClasses, classes, private_classes
from matrixcheck.diagnosis.result import FaultClass

MEMBERS = {
    "OF_CELLS": "device-dead device-stuck diode-open diode-shorted diode-reversed wrong-device",
    "OF_BANKS": "keep-warm-glow",
    "PRIVATE": "device-dead device-stuck diode-open diode-shorted diode-reversed",
    "IN_DEVICES": "device-dead device-stuck",
    "IN_DIODES": "diode-open diode-shorted diode-reversed",
    "ODD_DIODE": "diode-shorted diode-reversed",
    "SILENCING": "open unplugged break device-dead diode-open diode-reversed fuse-blown",
    "DARKENING": "open unplugged break device-dead diode-open fuse-blown",
    "SILENCING_LINES": "open unplugged break fuse-blown",
    "DEAD_CELL": "device-dead diode-open diode-reversed",
    "SILENCED_CELLS": "break device-dead diode-open",
    "SILENT_UNFED": "open unplugged break device-dead diode-open",
    "LIGHTING": "stuck-on device-stuck diode-shorted",
    "LASTING": "stuck-on grounded",
    "AT_ENDS": "open unplugged stuck-on relay-stuck fuse-blown",
    "OF_WIRES": "grounded shorted-together crossed",
    "BETWEEN_TWO": "shorted-together crossed",
    "DISPLACING": "shorted-together crossed relay-stuck",
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
