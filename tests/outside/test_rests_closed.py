"""A switch that rests closed (a ball in the trough) is exercised by opening it.

Source: the circuit simulator `neospice` (PyPI, MIT): what a scan reads with the switch closed, and with it open.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from tests.bench.cases import classes_for, draw_fault
from tests.bench.layouts import draw_bank, layout_text
from tests.spice.against import in_project
from tests.spice.bank import Bank, Fault, Place
from tests.spice.switches import scan
from tests.spice.wiring import Board, Wiring


def _trough(seed: object) -> tuple[random.Random, Bank, tuple[Place, ...]]:
    """A switch bank with three switches in a line that rest closed."""
    rng = random.Random(f"trough {seed}")
    bank = draw_bank(rng, "switch", (4, 6))
    resting = tuple(sorted(place for place in bank.fitted if place[1] == 2))[:3]
    notes = {place: {"rest": "closed"} for place in resting}
    return rng, replace(bank, volts=12.0, supply=("F9",), notes=notes), resting


def _layout(bank: Bank) -> Layout:
    return parse_layout(layout_text(bank, frozenset(bank.lines)), "a trough")


def _predicted(layout: Layout, bank: Bank, faults: tuple[Fault, ...], place: Place) -> bool:
    cell = CellKey(bank.id, *place)
    (reading,) = predict(
        layout, [in_project(bank, layout, fault) for fault in faults], [Reading(matrix=bank.id, cell=cell)]
    )
    return cell in (reading.answered or ())


@pytest.mark.parametrize("fault_class", classes_for(_trough(0)[1]))
@pytest.mark.parametrize("seed", range(4))
def test_it_answers_if_it_reads_closed_and_no_longer_does_when_opened(fault_class: str, seed: int) -> None:
    rng, bank, resting = _trough(f"{fault_class} {seed}")
    fault = draw_fault(rng, bank, fault_class)
    if fault.cells and not fault.lines and seed % 2:
        fault = replace(fault, cells=resting[:1])
    wiring, layout, board = Wiring(bank, (fault,)), _layout(bank), Board(threshold=2.1)
    for place in resting:
        closed = place in scan(bank, wiring, board, frozenset(resting))
        opened = place in scan(bank, wiring, board, frozenset(resting) - {place})
        assert _predicted(layout, bank, (fault,), place) == (closed and not opened)


def test_a_stuck_one_is_named_from_the_lists_of_what_answered() -> None:
    """Opening it changes nothing, and a scan at rest shows it as ever: a dead one would be missing there."""
    _, bank, resting = _trough("named")
    layout, cells = _layout(bank), [CellKey(bank.id, *place) for place in sorted(bank.fitted)]
    stuck = CellKey(bank.id, *resting[1])
    fault = in_project(bank, layout, Fault("device-stuck", cells=resting[1:2]))
    plan = [Reading(matrix=bank.id, cell=None), *(Reading(matrix=bank.id, cell=cell) for cell in cells)]
    readings = predict(layout, [fault], plan)
    assert [reading.cell for reading in readings if reading.cell not in (*reading.answered, None)] == [stuck]
    found = diagnose(layout, readings)
    (suspect,) = (each for each in found.suspects if each.id in found.explanations[0].suspects)
    assert fault in suspect.members
