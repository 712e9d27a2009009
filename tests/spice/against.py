"""The project's forward model beside the circuit simulator: the same faults and exercises put to both."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.forward.fault_effects import Fuse, Setting
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import fault_at
from matrixcheck.diagnosis.machine.matrix_frame import FULL_SENSE_VOLTS
from matrixcheck.diagnosis.result import Fault as ProjectFault
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, parse_line
from matrixcheck.layout.reading import Reading
from tests.spice.bank import Bank, Fault, address
from tests.spice.simulate import Exercise, shows, simulate
from tests.spice.wiring import Board

HALF_OF_IT = 3.0
"""Volts from which on an input of 12 V reads three diode drops as closed."""


class Shown(NamedTuple):
    """What one exercise shows: places that answer, and those that only glow faintly."""

    answered: frozenset[str]
    faint: frozenset[str]


class Difference(NamedTuple):
    """One exercise for which the two disagree."""

    exercise: Exercise
    simulator: Shown
    project: Shown


def differences(
    bank: Bank, layout: Layout, faults: tuple[Fault, ...], board: Board, plan: tuple[Exercise, ...]
) -> list[Difference]:
    """Every exercise of the plan where the project predicts something else than the simulator shows.

    Whether a keep-warm LED is bright or faint at its standing current is left open: neither could know.
    """
    exercises = [
        Reading(
            matrix=bank.id,
            cell=CellKey(bank.id, *each.cell) if each.cell else None,
            held=tuple(CellKey(bank.id, *place) for place in each.held),
        )
        for each in plan
    ]
    setting = Setting(
        Fuse.GOES if board.strong else Fuse.HOLDS,
        both_ways=not board.polar,
        high_inputs=bank.volts >= FULL_SENSE_VOLTS and board.threshold >= HALF_OF_IT,
    )
    predicted = predict(layout, [in_project(bank, layout, fault) for fault in faults], exercises, setting)
    warm = frozenset(
        address(place) for place, note in bank.notes.items() if "keep_warm" in note and note["fitted"] == "led"
    )
    found = []
    for exercise, seen, reading in zip(plan, simulate(bank, faults, board, plan), predicted, strict=True):
        simulator = Shown(*shows(seen))
        answered = frozenset(cell.address for cell in reading.answered or ())
        project = Shown(answered, frozenset(cell.address for cell in reading.faint))
        if _settled(simulator, warm) != _settled(project, warm):
            found.append(Difference(exercise, simulator, project))
    return found


def _settled(shown: Shown, warm: frozenset[str]) -> Shown:
    return Shown(shown.answered | (shown.faint & warm), shown.faint - warm)


def in_project(bank: Bank, layout: Layout, fault: Fault) -> ProjectFault:
    """The fault in the project's terms."""
    lines = [parse_line(line, bank.id) for line in fault.lines]
    pair = fault.fault in ("shorted-together", "crossed")
    if fault.fault in ("plugs-swapped", "plug-shifted"):
        return fault_at(layout, FaultClass(fault.fault), part=fault.part, other=fault.other, after=fault.after)
    return fault_at(
        layout,
        FaultClass(fault.fault),
        part=fault.part,
        line=lines[0] if lines and not fault.part else None,
        other=lines[1] if pair else None,
        after=fault.after,
        cells=tuple(CellKey(bank.id, *place) for place in fault.cells),
        when=fault.when,
    )
