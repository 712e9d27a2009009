"""A job that has just begun: a mark or none is answered too, on every layout that comes with the program."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.layout.files import read_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.readings import read_readings
from tests.machines import saltmarsh_tram

LAYOUTS = sorted((Path(__file__).parents[2] / "layouts").glob("*.toml"))


@pytest.mark.parametrize("mark", ["dead", "working", "stuck"])
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_a_single_mark_is_answered(path: Path, mark: str) -> None:
    layout = read_layout(path)
    for matrix in layout.matrices:
        cell = matrix.fitted[-1]
        told = json.dumps({"matrix": matrix.id, "cell": cell.key.address, "mark": mark})
        found = diagnose(layout, read_readings(told, layout, "a mark"))
        assert found.explanations
        assert {str(state.mark) for state in found.cells if state.cell == cell.key} == {mark}


@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_no_mark_at_all_accuses_nothing(path: Path) -> None:
    found = diagnose(read_layout(path), ())
    assert found.suspects == ()
    assert [each.suspects for each in found.explanations] == [()]


def test_a_fuse_found_faulty_explains_the_marks_of_its_string() -> None:
    layout = saltmarsh_tram()
    (string,) = layout.lines_through["F7"]
    dead = layout.matrix(string.matrix).cells_of(string)[:2]
    told = "\n".join(json.dumps({"matrix": string.matrix, "cell": cell.key.address, "mark": "dead"}) for cell in dead)
    found = diagnose(layout, read_readings(told, layout, "marks"), [Finding(place="F7", verdict="faulty")])
    (suspect,) = found.explanations[0].suspects
    assert found.explanations[0].probability == pytest.approx(1, abs=0.001)
    assert found.suspect(suspect).members[0].part == "F7"
