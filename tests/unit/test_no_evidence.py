"""A fault without evidence is no suspect, whether lists of what answered were read or marks alone."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.samples import some_of
from tests.spice.simulate import written
from tests.unit.soundness import flaws_of


def as_marks(readings: Sequence[Reading]) -> list[Reading]:
    """What a tick for each cell would say."""
    return [
        Reading(
            matrix=each.matrix, cell=each.cell, mark=Mark.WORKING if each.cell in (each.answered or ()) else Mark.DEAD
        )
        for each in readings
        if each.cell is not None
    ]


@pytest.mark.parametrize("seed", some_of([1, 4, 9], 1))
@pytest.mark.parametrize(
    ("kind", "share"),
    [
        ("switch", 0.5), ("lamp", 1.0), ("coil", 0.5),
        *(pytest.param(*one, marks=pytest.mark.slow) for one in (("switch", 1.0), ("lamp", 0.5), ("coil", 1.0))),
    ],
)  # fmt: skip
def test_no_suspect_explains_nothing_with_evidence_against_it(kind: str, seed: int, share: float) -> None:
    case = draw_case(f"zero-{seed}", kind, seed % 3 + 1)
    layout = parse_layout(case.layout, case.name)
    readings = read_readings(written(case.readings), layout, case.name)
    for seen in (readings, as_marks(readings)):
        part = seen[: max(1, round(share * len(seen)))]
        assert flaws_of(diagnose(layout, part), part) == []
