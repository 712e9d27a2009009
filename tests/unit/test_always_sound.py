"""An answer is sound whatever was read: `diagnose` never raises, and no number, suspect or sentence is amiss."""

from __future__ import annotations

from itertools import count

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.record.readings import check_reading
from tests.unit.drawn_machines import evenings, findings, machines
from tests.unit.soundness import flaws_of

TICKS = st.sampled_from((1e-4, 1e-4, 1e-2, 1.0))
"""Seconds that pass at every look at the clock, so that searches are cut off at any moment."""


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@given(st.data(), TICKS)
def test_an_answer_is_sound_for_any_machine_and_any_readings(data: st.DataObject, tick: float) -> None:
    sound_for_a_machine(data, tick)


@pytest.mark.slow
@settings(max_examples=200, suppress_health_check=list(HealthCheck))
@given(st.data(), TICKS)
def test_an_answer_is_sound_for_many_machines_and_readings(data: st.DataObject, tick: float) -> None:
    sound_for_a_machine(data, tick)


def sound_for_a_machine(data: st.DataObject, tick: float) -> None:
    """Draw a machine, readings and findings; the answer must have no flaw."""
    layout = data.draw(machines())
    readings = data.draw(evenings(layout))
    for reading in readings:
        check_reading(reading, layout)
    said = data.draw(findings(layout))
    moments = count()
    found = diagnose(layout, readings, said, clock=lambda: next(moments) * tick)
    assert flaws_of(found, readings) == []
