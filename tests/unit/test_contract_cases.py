"""The 24 example cases: a bank's layout, its readings, and the faults that were put in."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from matrixcheck.diagnosis.analyse import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import read_layout
from matrixcheck.record.readings import read_readings
from tests.bench.score import score

CASES = Path(__file__).parents[1] / "contract"
LISTED = json.loads((CASES / "injected.json").read_text("utf-8"))


@pytest.mark.parametrize("entry", LISTED, ids=lambda entry: entry["case"])
def test_every_visible_injected_fault_is_in_the_best_explanation(entry: dict[str, Any]) -> None:
    name = entry["case"]
    layout = read_layout(CASES / f"{name}.toml")
    readings = read_readings((CASES / f"{name}.jsonl").read_text("utf-8"), layout, name)
    # The cap is lifted: what is asked here is the answer, not how fast a loaded machine finds it.
    answer = to_json(diagnose(layout, readings, cap_seconds=30))
    result = score(entry["injected"], True, answer)
    assert result.missed == ()
    assert answer["explanations"][0]["probability"] > 0.5


def test_the_examples_are_complete() -> None:
    assert len(LISTED) == 24
    assert {path.stem for path in CASES.glob("*.toml")} == {entry["case"] for entry in LISTED}
