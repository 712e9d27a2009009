"""A reading that every candidate predicts alike changes nothing, whatever was read before and which solver serves."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.marks import draw_marked
from tests.unit.drawn_machines import evenings, machines

WITHIN = 0.005
NEARLY_ALL = 0.999
"""What the named explanations must come to: others may predict something else."""
LIKELY = 0.01
"""Suspects of less likely explanations come and go with the ten that are named."""


def named(found: Diagnosis) -> Iterator[tuple[Fault, ...]]:
    """The healthy machine, the explanations, each of these without one of its suspects or with other members, and cells
    that may have a cause of their own."""
    yield ()
    for explanation in found.explanations:
        groups = [found.suspect(name).members for name in explanation.suspects]
        for at, members in enumerate(groups):
            yield tuple(group[0] for place, group in enumerate(groups) if place != at)
            for member in members:
                yield tuple(member if place == at else group[0] for place, group in enumerate(groups))
    for cell in found.cells:
        if cell.private > WITHIN:
            yield from (
                (Fault(fault=one, cells=(cell.cell,)),) for one in (FaultClass.DEVICE_DEAD, FaultClass.DEVICE_STUCK)
            )


def said_by_all(layout: Layout, found: Diagnosis, exercise: Reading) -> Reading | None:
    """What every named set predicts of this exercise, None where they differ."""
    said = {predict(layout, faults, [exercise])[0] for faults in named(found)}
    return said.pop() if len(said) == 1 else None


def sayings(layout: Layout, found: Diagnosis, matrix: Matrix, number: int) -> Iterator[Reading]:
    """Readings of a matrix that nobody learns from: a note, a rest scan, a list and a mark of one cell."""
    cell = matrix.fitted[number % len(matrix.fitted)].key
    yield Reading(matrix=matrix.id, cell=cell, note="looked at")
    resting = said_by_all(layout, found, Reading(matrix=matrix.id))
    if resting is not None:
        yield resting
    listed = said_by_all(layout, found, Reading(matrix=matrix.id, cell=cell))
    if listed is not None:
        yield listed
        if resting is not None and cell in (listed.answered or ()) and cell not in (resting.answered or ()):
            yield replace(listed, answered=None, faint=(), mark=Mark.WORKING)


def of_suspects(found: Diagnosis) -> dict[Fault, float]:
    """The probability of each likely suspect, by its first member."""
    likely = {name for one in found.explanations if one.probability >= LIKELY for name in one.suspects}
    return {one.members[0]: one.probability for one in found.suspects if one.id in likely}


def moved(before: Diagnosis, after: Diagnosis) -> list[str]:
    """The suspects, and the cells that were marked before, that moved further than they may."""
    ours, theirs = of_suspects(before), of_suspects(after)
    pairs = {str(one): (ours.get(one, 0.0), theirs.get(one, 0.0)) for one in ours.keys() | theirs.keys()}
    cells = {one.cell: one.private for one in before.cells if one.mark is not Mark.UNTESTED}
    pairs |= {str(one.cell): (cells[one.cell], one.private) for one in after.cells if one.cell in cells}
    return [f"{name}: {a} and {b}" for name, (a, b) in pairs.items() if abs(a - b) > WITHIN]


def says_how_bright(matrix: Matrix) -> bool:
    """Whether a list of what answers tells more: of keep-warm LEDs it says whether they look bright or faint.

    That is one thing of the whole bank that nobody knows before, so that the first list that says it may move what was
    read of these LEDs earlier.
    """
    return any(cell.notes.keep_warm is not None for cell in matrix.fitted)


def says_what_is_switched(matrix: Matrix) -> bool:
    """Whether a list or a rest scan tells more: of lighting strings it says whether the test switches them at all.

    The layout leaves that open, a healthy machine may do either, and what is predicted here is the one of the two that
    is usual.
    """
    return matrix.kind is Kind.LAMP and not matrix.rows_shared


@settings(max_examples=25, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(st.data())
def test_what_every_candidate_predicts_moves_no_probability(data: st.DataObject) -> None:
    nothing_moves(data)


@pytest.mark.slow
@settings(max_examples=150, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(st.data())
def test_what_every_candidate_predicts_moves_no_probability_on_many_machines(data: st.DataObject) -> None:
    nothing_moves(data)


def nothing_moves(data: st.DataObject) -> None:
    """Draw a machine and readings; what says nothing of them must move no probability."""
    layout = data.draw(machines(3))
    readings = data.draw(evenings(layout))
    read = [matrix for matrix in layout.matrices if any(each.matrix == matrix.id for each in readings)]
    assume(read)
    before = diagnose(layout, readings)
    assume(sum(one.probability for one in before.explanations) >= NEARLY_ALL)
    number = data.draw(st.integers(0, 15))
    for matrix in read:
        if says_how_bright(matrix) or says_what_is_switched(matrix):
            continue
        for reading in sayings(layout, before, matrix, number):
            after = diagnose(layout, [*readings, reading])
            assert moved(before, after) == [], reading


def empty_scans(layout: Layout) -> list[Reading]:
    return [Reading(matrix=matrix.id, answered=()) for matrix in layout.matrices]


@pytest.mark.parametrize("seed", range(8))
def test_an_empty_rest_scan_leaves_marks_to_the_exact_search(seed: int) -> None:
    machine = draw_marked(f"empty scan {seed}", shared=seed % 4)
    before = diagnose(machine.layout, machine.readings)
    after = diagnose(machine.layout, [*machine.readings, *empty_scans(machine.layout)])
    assert after.searched.exact == before.searched.exact
    assert moved(before, after) == []


TROUGH = """
format = 1
name = "Invented trough"
[[matrix]]
id = "switches"
kind = "switch"
numbering = "along-rows"
cells = [["one", "two", "three"], ["four", "five", "six"]]
[matrix.cell.1]
rest = "closed"
"""


@pytest.mark.parametrize("others", ["", "held"])
def test_a_switch_that_rests_closed_and_is_marked_stuck_is_named(others: str) -> None:
    """Beside a reading with a held switch, which marks alone can't say, as well."""
    layout = parse_layout(TROUGH, "trough")
    (matrix,) = layout.matrices
    first, second, *rest = (cell.key for cell in matrix.fitted)
    readings = [Reading(matrix=matrix.id, cell=cell, mark=Mark.WORKING) for cell in rest]
    readings.append(Reading(matrix=matrix.id, cell=first, mark=Mark.STUCK))
    if others:
        readings.append(Reading(matrix=matrix.id, cell=second, held=(rest[0],), mark=Mark.WORKING))
    found = diagnose(layout, readings)
    assert str(found.suspects[0].members[0].fault) == "device-stuck"
    assert found.suspects[0].members[0].cells == (first,)


LONE_LAMP = """
format = 1
name = "Invented lone lamp"
[[matrix]]
id = "switches"
kind = "switch"
cells = [["tram stop"]]
[[matrix.row]]
label = "1"
supply = ["F1"]
[[matrix]]
id = "lamps"
kind = "lamp"
cells = [["tram bell"]]
[[matrix.row]]
label = "1"
supply = ["F1"]
"""


def test_a_list_of_another_matrix_moves_no_lamp_that_is_alone_in_its_row() -> None:
    layout = parse_layout(LONE_LAMP, "lone lamp")
    switch, lamp = (matrix.fitted[0].key for matrix in layout.matrices)
    readings = [
        Reading(matrix="switches", cell=switch, mark=Mark.WORKING),
        Reading(matrix="lamps", cell=lamp, mark=Mark.STUCK),
    ]
    listed = Reading(matrix="switches", cell=switch, answered=(switch,))
    assert moved(diagnose(layout, readings), diagnose(layout, [*readings, listed])) == []
