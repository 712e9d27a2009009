"""Current needs a way in and a way out: without either, nothing comes round an odd diode (Kirchhoff's current law)."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from matrixcheck.diagnosis.forward.bank_sneak_paths import odd_diodes, operating_points
from matrixcheck.diagnosis.forward.fault_effects import condition_of
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_classes import ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import shipped_rates
from tests.machines import shipped_layout


@pytest.mark.parametrize("name", ["lamp-8x8", "coil-8x2"])
@pytest.mark.parametrize("seed", range(20))
def test_where_nothing_is_sunk_or_nothing_is_fed_nothing_shows(name: str, seed: int) -> None:
    layout = shipped_layout(name)
    (matrix,) = layout.matrices
    frame = Frame(matrix)
    odd = [each for each in candidates(layout, shipped_rates()) if each.fault_class in ODD_DIODE]
    condition = condition_of(frame, Random(seed).sample(odd, 4))
    senses, drives = frame.shape
    lines, nothing = np.vstack([np.eye(senses), np.ones(senses)]), np.zeros((senses + 1, drives))
    unfed = operating_points(frame, condition, odd_diodes(frame, condition), nothing, lines)
    lines, nothing = np.vstack([np.eye(drives), np.ones(drives)]), np.zeros((drives + 1, senses))
    unsunk = operating_points(frame, condition, odd_diodes(frame, condition), lines, nothing)
    assert not any(shown.any() for shown in (*unfed, *unsunk))
