"""Comparing a few exercises before all of them changes no ambiguity group."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.explanation import ambiguity_groups
from matrixcheck.diagnosis.result import Explanation, Suspect
from matrixcheck.layout.files import read_layout
from matrixcheck.record.readings import read_readings
from tests.samples import some_of

CASES = Path(__file__).parents[1] / "contract"
NAMES = [entry["case"] for entry in json.loads((CASES / "injected.json").read_text("utf-8"))]


def _answer_to(name: str) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...]]:
    layout = read_layout(CASES / f"{name}.toml")
    readings = read_readings((CASES / f"{name}.jsonl").read_text("utf-8"), layout, name)
    found = diagnose(layout, readings)
    return found.explanations, found.suspects


@pytest.mark.parametrize("name", some_of(NAMES[::3], 2))
def test_comparing_a_few_exercises_first_changes_no_group(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    screened = _answer_to(name)
    monkeypatch.setattr(ambiguity_groups, "SCREENED", 10**6)
    assert _answer_to(name) == screened
