"""The bench's testability figures against their definitions.

Source: MIL-STD-2165 / IEEE 1522: fraction of faults detected, FFD = sum of rates (detected) / sum of rates; fraction
isolated to an ambiguity group of at most L parts, FFI(L) = sum of rates (groups of at most L) / sum of rates
(detected). Status: definition of the terms: text; formulas: memory. The numbers are ours.
"""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.layout.form import layout_in
from tests.bench.circle import everything
from tests.bench.testability import Failure, detected, failures_of, isolated

FAILURES = [
    Failure(0.004, "Q1", "column 1 dark"),
    Failure(0.002, "X1-1", "column 1 dark"),
    Failure(0.003, "wire", "column 1 dark"),
    Failure(0.005, "lamp 7", "lamp 7 dark"),
    Failure(0.001, "lamp 7", "lamp 7 dark"),  # two ways to fail of one part
    Failure(0.005, "diode 7", None),
]


def test_the_fraction_detected_is_weighed_by_rate() -> None:
    assert detected(FAILURES) == pytest.approx(0.015 / 0.020, rel=1e-12, abs=0)


@pytest.mark.parametrize(("limit", "fraction"), [(1, 0.006 / 0.015), (2, 0.006 / 0.015), (3, 1.0)])
def test_the_fraction_isolated_counts_parts_and_not_ways_to_fail(limit: int, fraction: float) -> None:
    assert isolated(FAILURES, limit) == pytest.approx(fraction, rel=1e-12, abs=0)


def test_an_ambiguity_group_of_the_diagnosis_holds_all_that_give_the_same_readings() -> None:
    """The same bank both ways: faults grouped by their predicted readings, and the members that the diagnosis names."""
    matrix = {
        "id": "m",
        "kind": "switch",
        "cells": [[f"cell {r} {c}" for c in range(3)] for r in range(3)],
        "column": [{"path": ["U1-1", f"Q{c + 1}", f"X1-{c + 1}"]} for c in range(3)],
    }
    layout = layout_in({"format": 1, "name": "small", "matrix": [matrix]})
    exercises = everything(layout)
    failures = failures_of(layout, exercises)
    assert detected(failures) < 1
    groups: dict[object, set[str]] = {}
    for fault, _ in faults_of(layout):
        if fault.lines and fault.lines[0].side == "column" and fault.fault == "open" and len(fault.lines) == 1:
            shown = tuple(reading.answered for reading in predict(layout, [fault], exercises))
            groups.setdefault(shown, set()).add(str(fault.part))
    assert len(groups) == 3
    for fault, _ in faults_of(layout):
        if fault.part in ("Q1", "Q2", "Q3") and fault.fault == "open":
            readings = predict(layout, [fault], exercises)
            found = diagnose(layout, readings)
            (name,) = found.explanations[0].suspects
            members = {str(member.part) for member in found.suspect(name).members if member.fault == "open"}
            assert members == groups[tuple(reading.answered for reading in readings)]
