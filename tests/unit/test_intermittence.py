"""What comes and goes: cells whose readings contradict each other have loose contacts, plugs or wires."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.diagnosis.result import Diagnosis, FaultClass, Suspect
from matrixcheck.layout.files import read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import read_readings

LAYOUT = Path(__file__).parents[2] / "layouts" / "saltmarsh-tram.toml"
COLUMN = 3


@pytest.fixture(scope="module")
def layout() -> Layout:
    return read_layout(LAYOUT)


def _marked(layout: Layout, column: Sequence[bool], again: int, marks: bool) -> str:
    """A walk through the switches of an invented machine: those of one column as given, the others working; then the
    first of that column answer when tried once more."""
    fitted = [cell for cell in layout.matrix("switches").fitted if cell.notes.rest != "closed"]
    odd = [cell for cell in fitted if cell.key.column == COLUMN]
    marked = [(cell.number, True) for cell in fitted if cell.key.column != COLUMN]
    marked += [(cell.number, works) for cell, works in zip(odd, column, strict=True)]
    marked += [(cell.number, True) for cell in odd[:again]]
    lines = [
        {"matrix": "switches", "cell": number}
        | ({"mark": "working" if works else "dead"} if marks else {"answered": [number] if works else []})
        for number, works in marked
    ]
    return "\n".join(map(json.dumps, lines))


def _diagnosed(layout: Layout, again: int, marks: bool) -> Diagnosis:
    count = sum(cell.key.column == COLUMN for cell in layout.matrix("switches").fitted)
    return diagnose(layout, read_readings(_marked(layout, [False] * count, again, marks), layout, "marks"))


def _best(diagnosis: Diagnosis) -> Suspect:
    (name,) = diagnosis.explanations[0].suspects
    return next(suspect for suspect in diagnosis.suspects if suspect.id == name)


@pytest.mark.parametrize("marks", [False, True], ids=["lists of what answered", "marks alone"])
def test_a_line_that_comes_back_has_a_loose_contact_or_wire_and_not_a_failed_driver(
    layout: Layout, marks: bool
) -> None:
    path = layout.matrix("switches").columns[COLUMN - 1].path
    contact = next(ref for ref in path if ref.startswith("X"))
    lasting, loose = (_best(_diagnosed(layout, again, marks)) for again in (0, 2))
    assert {member.part for member in lasting.members} >= {*path}
    assert {member.part for member in loose.members} == {contact, None}
    assert {member.fault for member in loose.members} == {FaultClass.OPEN}


def test_one_cell_that_comes_and_goes_is_its_own_affair(layout: Layout) -> None:
    cells = [cell for cell in layout.matrix("switches").fitted if cell.key.column == COLUMN]
    marked = _marked(layout, [False, *[True] * (len(cells) - 1)], 1, marks=False)
    marked += f'\n{{"matrix": "switches", "cell": {cells[0].number}, "answered": []}}'
    best = _best(diagnose(layout, read_readings(marked, layout, "marks")))
    assert best.members[0].fault is FaultClass.DEVICE_DEAD
    assert best.members[0].cells == (cells[0].key,)


def test_cells_are_intermittent_that_answered_once_and_not_another_time(layout: Layout) -> None:
    marked = [
        {"matrix": "switches", "cell": "r1c1", "answered": []},
        {"matrix": "switches", "cell": "r1c1", "answered": ["r1c1"]},
        {"matrix": "switches", "cell": "r1c2", "mark": "dead"},
        {"matrix": "switches", "cell": "r1c2", "answered": []},
        {"matrix": "switches", "cell": "r2c1", "mark": "stuck"},
        {"matrix": "switches", "cell": "r2c1", "mark": "working"},
    ]
    readings = read_readings("\n".join(map(json.dumps, marked)), layout, "marks")
    assert intermittent_cells(readings) == {CellKey("switches", 1, 1)}


def test_what_is_dead_each_time_behind_a_loose_plug_is_explained_by_the_fault_that_keeps_it_dead(
    layout: Layout,
) -> None:
    """The lamps of three columns behind plug X5 come and go, but for those of two rows, which stay dark."""
    lamps = layout.matrix("lamps")
    readings = [
        Reading(matrix="lamps", cell=cell.key, mark=Mark.WORKING if again and cell.key.row not in {3, 6} else Mark.DEAD)
        for cell in lamps.fitted
        for again in (False, True, True)
        if cell.key.column in {2, 3, 4}
    ]
    elsewhere = CellKey("lamps", 1, 8)
    found = diagnose(layout, [*readings, Reading(matrix="lamps", cell=elsewhere, answered=(elsewhere,))])
    explained = [set(found.suspect(name).explains) for name in found.explanations[0].suspects]
    dark = {cell.key for cell in lamps.fitted if cell.key.row in {3, 6} and cell.key.column in {2, 3, 4}}
    assert len(explained) > 1
    assert all(explained)
    assert dark <= set().union(*explained)
