"""Resistance of copper against IEC 60028: temperature coefficient 0.00393 per kelvin at 20 degrees Celsius.

Source: IEC 60028 (annealed copper). Status: text, secondary; the ratio is computed from it.
"""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.forward.coil_resistance import at_20


def test_copper_at_75_degrees_has_1_216_times_its_resistance_at_20_degrees() -> None:
    assert 1 / at_20(1.0, 75.0) == pytest.approx(1.216, rel=0, abs=0.0005)


def test_copper_at_20_degrees_needs_no_correction() -> None:
    assert at_20(4.2, 20.0) == pytest.approx(4.2, rel=1e-15, abs=0)
