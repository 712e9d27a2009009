"""The owner's sentences: one for every class of fault, by name, about what does not work, and no longer than read."""

from __future__ import annotations

import re

import pytest
from drawn_machines import machines
from hypothesis import given, settings
from hypothesis import strategies as st
from report_case import START, state_after, suspect

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.events import JobOpened, Read
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.document import Points, Sentence
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.markdown import markdown
from matrixcheck.report.owner_words import SILENT, SILENT_ONE, fault_sentence
from matrixcheck.report.page import page
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import Sheet
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
COIL = TRAM.matrix("coils").by_number[6].key
FAULTS = {one.fault.fault: one.fault for one in candidates(TRAM)} | {
    FaultClass.WRONG_DEVICE: Fault(fault=FaultClass.WRONG_DEVICE, cells=(COIL,))
}
SILENCING = (FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.FUSE_BLOWN, FaultClass.BREAK)


@pytest.mark.parametrize("fault_class", [*FaultClass])
def test_every_class_of_fault_has_its_sentence(fault_class: FaultClass) -> None:
    fault = FAULTS[fault_class]
    said = fault_sentence(suspect("s1", 0.9, "", member=fault), TRAM, frozenset(fault.cells))
    assert said[0] == said[0].upper()
    assert said.endswith(".")
    assert not re.search(r"\b\w+\.[rc]\d", said)
    for ref, part in TRAM.part_by_ref.items():
        assert not part.name or not re.search(rf"\b{ref}\b", said)


@pytest.mark.parametrize("fault_class", SILENCING)
def test_what_is_dead_is_counted_and_nothing_else(fault_class: FaultClass) -> None:
    fault = FAULTS[fault_class]
    dead = frozenset(fault.cells[:2])
    said = fault_sentence(suspect("s1", 0.9, "", member=fault), TRAM, dead)
    counts = [int(count) for count in re.findall(r"(\d+) (?:switch|switches|lamps?|coils?|flash lamps?) ", said)]
    assert sum(count for count in counts if f"{count} " in said) >= len(dead)
    assert any(words in said for words in (*SILENT.values(), *SILENT_ONE.values()))
    nothing = fault_sentence(suspect("s1", 0.9, "", member=fault), TRAM, frozenset())
    assert not any(words in nothing for words in (*SILENT.values(), *SILENT_ONE.values()))


@st.composite
def sheets(draw: st.DrawFn) -> Sheet:
    """A drawn machine with a few marks drawn on it, and what the analyser says of them."""
    layout = draw(machines(most=2))
    cells = [cell.key for matrix in layout.matrices for cell in matrix.fitted]
    marks = draw(st.lists(st.tuples(st.sampled_from(cells), st.sampled_from([Mark.WORKING, Mark.DEAD])), max_size=8))
    readings = [Reading(matrix=key.matrix, cell=key, mark=mark) for key, mark in marks]
    state = state_after(JobOpened(name="drawn", layout=layout), *(Read(reading=reading) for reading in readings))
    diagnosis = diagnose(layout, state.current)
    return Sheet(state, diagnosis, coverage_of(state), later_list(state), START)


def owner_texts(sheet: Sheet) -> list[str]:
    found = []
    for section in report_of(sheet, PAPERS["a4"]).owner:
        for block in section.blocks:
            found += block.items if isinstance(block, Points) else [block.text] if isinstance(block, Sentence) else []
    return found


@settings(max_examples=25)
@given(sheet=sheets())
@pytest.mark.slow
def test_reports_of_drawn_machines_are_made_their_counts_add_up_and_nothing_is_said_twice(sheet: Sheet) -> None:
    paper = PAPERS["a4"]
    report = report_of(sheet, paper)
    assert page(report, paper).count("</html>") == 1
    assert markdown(report).startswith("# drawn")
    (counted,) = [text for text in owner_texts(sheet) if re.match(r"Of \d+ devices?, ", text)]
    total, *others = map(int, re.findall(r"\d+", counted))
    assert total == sum(others) == sum(count.total for count in coverage_of(sheet.state).values())
    texts = owner_texts(sheet)
    assert len(texts) == len(set(texts))
