"""Faults that look alike stay one group beside a line that is always on, whose lamp they darken in every reading."""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Reading

SIZE = 8
LAMPS = (
    """
format = 1
name = "Invented lamps"
[[matrix]]
id = "lamps"
kind = "lamp"
numbering = "along-rows"
"""
    + "cells = ["
    + ", ".join(str([f"lamp {r} {c}" for c in range(1, SIZE + 1)]) for r in range(1, SIZE + 1))
    + "]\n"
    + "".join(
        f"[[matrix.column]]\nchain = {[SIZE * row + column + 1 for row in (0, 1, 3, 4, 5, 2, 6, 7)]}\n"
        for column in range(SIZE)
    )
)
UNTESTED = "lamps.r5c2"
"""The first cell beyond the break after 3, the last before that after 4: nobody lit it."""


@pytest.mark.parametrize("after", [3, 4])
def test_breaks_that_part_only_at_an_untested_lamp_are_one_suspect_beside_a_row_that_is_on(after: int) -> None:
    layout = parse_layout(LAMPS, "lamps")
    planted = [parse_fault(text, layout) for text in ("stuck-on:lamps.r3", f"break:lamps.c2:{after}")]
    asked = [Reading(matrix="lamps")]
    asked += [Reading(matrix="lamps", cell=cell.key) for cell in layout.matrices[0].fitted if str(cell.key) != UNTESTED]
    found = diagnose(layout, predict(layout, planted, asked))
    best = [found.suspect(name).members for name in found.explanations[0].suspects]
    breaks = [sorted(one.after or 0 for one in members if one.fault == "break") for members in best]
    assert [3, 4] in breaks
