"""A reversed diode of a 12 V switch matrix may echo, by a threshold that no layout gives: it is named either way."""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.fault_effects import Setting
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import fault_at
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading


def bank(volts: float) -> Layout:
    cells = [[f"cell {r} {c}" for c in range(5)] for r in range(4)]
    matrix = {"id": "m", "kind": "switch", "volts": volts, "cells": cells}
    return layout_in({"format": 1, "name": "small", "matrix": [matrix]})


HELD = (CellKey("m", 2, 4), CellKey("m", 3, 3))
ODD = CellKey("m", 2, 3)


def asked(layout: Layout) -> list[Reading]:
    cells = [cell.key for cell in layout.matrices[0].fitted]
    return [Reading(matrix="m", cell=cell, held=tuple(key for key in HELD if key != cell)) for cell in (None, *cells)]


@pytest.mark.parametrize("high_inputs", [True, False])
def test_a_reversed_diode_at_12_volts_is_named_whatever_the_threshold(high_inputs: bool) -> None:
    layout = bank(12)
    fault = fault_at(layout, FaultClass.DIODE_REVERSED, cells=(ODD,))
    readings = predict(layout, [fault], asked(layout), Setting(high_inputs=high_inputs))
    echo = CellKey("m", 3, 4)
    others = [reading for reading in readings if reading.cell != echo]
    assert any(echo in (reading.answered or ()) for reading in others) is high_inputs
    found = diagnose(layout, readings)
    (name,) = found.explanations[0].suspects
    members = found.suspect(name).members
    assert fault in members
    assert (len(members) == 1) is high_inputs  # without its echo it reads as a dead switch


def test_at_5_volts_a_reversed_diode_never_echoes_by_itself() -> None:
    layout = bank(5)
    fault = fault_at(layout, FaultClass.DIODE_REVERSED, cells=(ODD,))
    shown = [set(reading.answered or ()) for reading in predict(layout, [fault], asked(layout))]
    sound = [set(reading.answered or ()) for reading in predict(layout, [], asked(layout))]
    assert set().union(*sound) > {ODD}
    assert shown == [without - {ODD} for without in sound]
