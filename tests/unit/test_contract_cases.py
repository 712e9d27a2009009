"""The 25 example cases: a bank's layout, its readings, and the faults that were put in."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from matrixcheck.cli.main import main
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import read_layout
from matrixcheck.record.readings import read_readings
from tests.bench.score import score
from tests.samples import some_of

CASES = Path(__file__).parents[1] / "contract"
LISTED = json.loads((CASES / "injected.json").read_text("utf-8"))


@pytest.mark.parametrize("entry", LISTED, ids=lambda entry: entry["case"])
def test_every_visible_injected_fault_is_in_the_best_explanation(entry: dict[str, Any]) -> None:
    """Within the usual cap, counted in this process's own time and not that of a busy machine."""
    name = entry["case"]
    layout = read_layout(CASES / f"{name}.toml")
    readings = read_readings((CASES / f"{name}.jsonl").read_text("utf-8"), layout, name)
    answer = to_json(diagnose(layout, readings))
    result = score(entry["injected"], True, answer)
    assert result.missed == ()
    assert result.extra == ()
    assert answer["explanations"][0]["probability"] > 0.5


@pytest.mark.parametrize("entry", some_of(LISTED, 3), ids=lambda entry: entry["case"])
def test_the_command_reads_every_case_and_answers_in_format_1(
    entry: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    files = [str(CASES / f"{entry['case']}.{ending}") for ending in ("toml", "jsonl")]
    assert main(["diagnose", *files, "--json"]) == 0
    printed = capsys.readouterr()
    answer = json.loads(printed.out)
    assert (answer["format"], printed.err) == (1, "")
    known = {suspect["id"] for suspect in answer["suspects"]}
    assert {name for each in answer["explanations"] for name in each["suspects"]} <= known
    assert 0.5 < sum(each["probability"] for each in answer["explanations"]) <= 1 + 1e-9


def test_the_examples_are_complete() -> None:
    assert len(LISTED) == 25
    assert {path.stem for path in CASES.glob("*.toml")} == {entry["case"] for entry in LISTED}
