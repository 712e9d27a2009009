"""What comes round through single odd diodes is the same, worked out for all of them at once or for one by itself."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from matrixcheck.diagnosis.evidence.exercises import exercises_of
from matrixcheck.diagnosis.forward.bank_sneak_paths import Odd
from matrixcheck.diagnosis.forward.fault_effects import Setting, condition_of
from matrixcheck.diagnosis.forward.simulate import shows, work_out_ahead
from matrixcheck.diagnosis.inference.likelihood import state_of
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout
from tests.machines import shipped_layout

BESIDE = (
    (),
    (FaultClass.CROSSED,),
    (FaultClass.SHORTED_TOGETHER,),
    (FaultClass.GROUNDED,),
    (FaultClass.STUCK_ON,),
    (FaultClass.DEVICE_DEAD, FaultClass.BREAK),
    (FaultClass.RELAY_STUCK,),
)
BOTH_WAYS = Setting(both_ways=True)


def _drawn(layout: Layout, matrix: str, classes: tuple[FaultClass, ...], rng: Random) -> list[Candidate]:
    """Draw a fault of each class in the matrix, of those classes that it has."""
    there = [one for one in candidates(layout) if one.fault_class in classes and _matrix_of(one) == matrix]
    return [rng.choice(alike) for each in classes if (alike := [one for one in there if one.fault_class is each])]


def _matrix_of(fault: Candidate) -> str:
    return (*fault.lines, *fault.cells)[0].matrix


@pytest.mark.parametrize(
    ("name", "matrix", "beside"),
    [
        # Each fault beside them in one matrix, the relay in that which has one; the long run has each in all.
        pytest.param(
            *there,
            beside,
            marks=[] if (number + 2) % 3 == place else pytest.mark.slow,
            id=f"{' '.join(there)} beside {' and '.join(beside) or 'nothing'}",
        )
        for number, beside in enumerate(BESIDE)
        for place, there in enumerate([("lamp-8x8", "lamps"), ("saltmarsh-tram", "lamps"), ("saltmarsh-tram", "coils")])
    ],
)
def test_odd_diodes_show_the_same_worked_out_together_or_one_by_one(
    name: str, matrix: str, beside: tuple[FaultClass, ...]
) -> None:
    layout = shipped_layout(name)
    rng = Random(f"{name} {matrix} {beside}")
    by_itself, ahead = Frame(layout.matrix(matrix)), Frame(layout.matrix(matrix))
    faults = _drawn(layout, matrix, beside, rng)
    odd = [one for one in candidates(layout) if one.fault_class in ODD_DIODE and one.cells[0].matrix == matrix]
    cells = rng.sample([cell.key for cell in layout.matrix(matrix).fitted], 20)
    exercises = exercises_of(ahead, [(None, ()), *((cell, ()) for cell in cells)])
    work_out_ahead(
        ahead,
        condition_of(ahead, faults, BOTH_WAYS),
        exercises,
        [Odd(ahead.at(one.cells[0]), one.fault_class is FaultClass.DIODE_SHORTED) for one in odd],
    )
    found = len(ahead.solved)
    assert found > len(odd) / 2
    for one in odd:
        shown = [
            state_of(shows(frame, condition_of(frame, [*faults, one], BOTH_WAYS), exercises))
            for frame in (ahead, by_itself)
        ]
        assert np.array_equal(*shown), one
    assert len(ahead.solved) < found + len(by_itself.solved)
