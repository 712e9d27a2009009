"""The short way to weigh faults that only silence cells gives what the forward model gives."""

from __future__ import annotations

import random

import numpy as np
import pytest

from matrixcheck.diagnosis.forward.fault_effects import USUAL
from matrixcheck.diagnosis.inference.problem import acts_in, fit_to, only_silences, without_darkening
from matrixcheck.diagnosis.inference.subjects import subjects_of
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.samples import some_of
from tests.spice.simulate import written


@pytest.mark.parametrize("marks", [0.0, 1.0], ids=["lists", "marks"])
@pytest.mark.parametrize("seed", some_of((1, 2), 1))
@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_silencing_cells_by_hand_is_what_the_forward_model_says(kind: str, seed: int, marks: float) -> None:
    """Every such fault alone, and sets of three of them."""
    rates, compared, rng = shipped_rates(), 0, random.Random(f"silenced {kind} {seed}")
    case = draw_case(f"silenced {seed}", kind, 2, wrong=0.05, marks=marks)
    layout = parse_layout(case.layout, "a drawn bank")
    readings = read_readings(written(case.readings), layout, "drawn readings")
    for subject in subjects_of(layout, readings, rates):
        healthy = subject.fit(())
        quick = [
            one
            for one in candidates(layout, rates)
            if subject.lights_by_cell and acts_in(one, subject.frame.matrix.id) and only_silences(one, subject.frame)
        ]
        for faults in (*((one,) for one in quick), *(rng.sample(quick, 3) for _ in range(20 if quick else 0))):
            short, whole = fit_to(subject, faults, USUAL, healthy), subject.fit(faults, USUAL)
            np.testing.assert_allclose(short.bare, whole.bare, rtol=1e-12, atol=1e-9)
            np.testing.assert_allclose(short.dead, whole.dead, rtol=1e-12, atol=1e-9)
            np.testing.assert_allclose(short.stuck, whole.stuck, rtol=1e-12, atol=1e-9)
            np.testing.assert_array_equal(short.state, whole.state)
            compared += 1
    assert compared > 50


def test_dark_cells_laid_upon_keep_warm_glow_are_what_the_forward_model_says() -> None:
    """An LED that is fed past the relay glows on beyond a break of either line."""
    rates, compared = shipped_rates(), 0
    for seed in range(12):
        case = draw_case(f"glow {seed}", "coil", 1)
        layout = parse_layout(case.layout, "a drawn bank")
        readings = read_readings(written(case.readings), layout, "drawn readings")
        known = candidates(layout, rates)
        glows = [one for one in known if one.fault_class is FaultClass.KEEP_WARM_GLOW]
        dark = [one for one in known if one.fault_class in (FaultClass.BREAK, FaultClass.DEVICE_DEAD)]
        for subject in subjects_of(layout, readings, rates):
            for faults in ((glow, one) for glow in glows for one in dark):
                others, cells = without_darkening(subject.frame, faults, USUAL)
                laid, whole = subject.darkened(subject.fit(others, USUAL), cells), subject.fit(faults, USUAL)
                np.testing.assert_allclose(laid.bare, whole.bare, rtol=1e-12, atol=1e-9)
                np.testing.assert_array_equal(laid.state, whole.state)
                compared += 1
    assert compared > 50
