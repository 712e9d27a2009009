"""What holds of the answer to any machine and any readings: lengths, counts, and that nothing stands there twice."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

import pytest
from drawn_machines import evenings, findings, machines
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass, Suspect
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.report.answer.build import answer_of
from matrixcheck.report.answer.full import answer_in_full
from matrixcheck.report.answer.model import LONGEST_TITLE, Answer, Card
from matrixcheck.report.answer.ranking import ranked
from matrixcheck.report.answer.text import answer_lines, card_lines, top_lines
from matrixcheck.report.answer.titles import MOST_LIKELY, fault_title

Case = tuple[Layout, list[Reading], Diagnosis]


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """A drawn machine, what was read of it, and its diagnosis."""
    layout = draw(machines(most=3))
    readings = draw(evenings(layout))
    return layout, readings, diagnose(layout, readings, draw(findings(layout)))


def sentences(answer: Answer) -> Iterable[str]:
    """Everything that an answer says in words of its own."""
    yield from (answer.danger, answer.unfinished, *answer.headline, *answer.left_open)
    for card in answer.cards:
        yield from (card.title, card.why, card.first.short if card.first else "", *card.known)
    yield from (one.words for one in answer.also_possible)
    yield from (step.words for step in answer.next)


@settings(max_examples=10)
@given(cases())
def test_an_answer_is_brief_says_nothing_twice_and_counts_what_was_read(case: Case) -> None:
    brief_and_counted(case)


@pytest.mark.slow
@settings(max_examples=40)
@given(cases())
def test_an_answer_is_brief_says_nothing_twice_and_counts_what_was_read_of_many_machines(case: Case) -> None:
    brief_and_counted(case)


def brief_and_counted(case: Case) -> None:
    layout, readings, diagnosis = case
    answer = answer_of(diagnosis, layout, readings)
    assert len(top_lines(answer, 78)) <= 2
    assert [card.number for card in answer.cards] == list(range(1, len(answer.cards) + 1))
    for card in answer.cards:
        assert len(card.title) <= LONGEST_TITLE
        assert len(card_lines(card, 78)) <= 10
        assert_counted(layout, readings, diagnosis, card)
    assert_headline_counts(layout, readings, answer)
    assert_likelier(answer)
    said = Counter(filter(None, sentences(answer)))
    assert {words for words, count in said.items() if count > 1} == set()
    for width in (60, 78):
        for lines in (answer_lines(answer, width), answer_in_full(answer, diagnosis, width)):
            assert max((len(line.text) for line in lines), default=0) <= width


def assert_likelier(answer: Answer) -> None:
    """No card is less likely than what is also possible in its place."""
    for one in answer.also_possible:
        assert one.probability <= min(
            (card.probability for card in answer.cards if card.number in one.instead_of), default=1.0
        )
        assert not set(one.faults) & {card.title for card in answer.cards}


def assert_headline_counts(layout: Layout, readings: Sequence[Reading], answer: Answer) -> None:
    """What the headline says is untested, is."""
    marks = judged(layout, readings)
    untested = sum(cell.key not in marks for matrix in layout.matrices for cell in matrix.fitted)
    said = re.search(r"(\d+) cells? untested", " ".join(answer.headline))
    assert (int(said[1]) if said else 0) == untested


def assert_counted(layout: Layout, readings: Sequence[Reading], diagnosis: Diagnosis, card: Card) -> None:
    """The numbers of a card are its counts, and these are what the readings come to."""
    if card.why.startswith("as for "):
        return
    said = [(int(seen), int(tested)) for seen, tested in re.findall(r"(\d+) of (\d+) tested", card.why)]
    assert said == [(count.seen, count.tested) for count in card.counts if count.tested]
    against = re.search(r"(\d+) against", card.why)
    suspect = ranked(diagnosis).diagnosis.suspect(card.suspect)
    assert (int(against[1]) if against else 0) == card.against == len(suspect.contradicts)
    lead = lead_of(layout, suspect, card)
    for count in card.counts:
        expected = counted(layout, readings, lead, count.matrix)
        assert (count.seen, count.tested, count.untested) == expected, card
    untested = re.search(r"(\d+) untested", card.why)
    if untested:
        assert int(untested[1]) == sum(count.untested for count in card.counts)


def lead_of(layout: Layout, suspect: Suspect, card: Card) -> Fault:
    """The likeliest fault of a suspect that the title of its card begins with."""
    alone = len(suspect.members) == 1
    shares = dict(zip(suspect.members, shares_of(suspect), strict=True))
    rooms = (LONGEST_TITLE, LONGEST_TITLE - len(MOST_LIKELY))
    titled = [
        one
        for one in suspect.members
        if any(card.title.startswith(fault_title(layout, one, room, alone=alone)) for room in rooms)
    ]
    return max(titled, key=lambda one: round(shares[one], 9))


def shares_of(suspect: Suspect) -> Sequence[float]:
    """The share of each member."""
    return suspect.shares or [1 / len(suspect.members)] * len(suspect.members)


def counted(layout: Layout, readings: Sequence[Reading], fault: Fault, matrix_id: str) -> tuple[int, int, int]:
    """How many of a fault's cells in a matrix speak for it, how many are tested, how many not, from readings alone."""
    marks, shown = judged(layout, readings), uncalled(layout, readings)
    cells = {cell for cell in fault.cells if cell.matrix == matrix_id}
    if fault.fault in (FaultClass.DEVICE_DEAD, FaultClass.DIODE_OPEN, FaultClass.DIODE_REVERSED):
        (own,) = fault.cells
        fitted = layout.matrix(matrix_id).by_key
        shares_rows = layout.matrix(matrix_id).rows_shared
        beside = {one for one in fitted if one.column == own.column or (shares_rows and one.row == own.row)} - {own}
        works = {one for one in beside if marks.get(one) is Mark.WORKING}
        return len(works), len(beside & marks.keys()), len(beside - marks.keys())
    if fault.fault is FaultClass.RELAY_STUCK:
        kept = {line for line in fault.lines if layout.line(line).when in (None, fault.when)}
        sides = {line.place for line in fault.lines if line not in kept and line.matrix == matrix_id}
        if len(kept) < len(fault.lines):
            cells = {cell for cell in cells if cell.column in sides}
    dead = {cell for cell in cells if marks.get(cell) is Mark.DEAD}
    lit = {cell for cell in fault.cells if cell in shown or marks.get(cell) is Mark.STUCK}
    with_others = [reading for reading in readings if reading.cell and uncalled(layout, [reading])]
    others = {reading.cell for reading in with_others}
    missed = {reading.cell for reading in with_others if reading.cell not in (reading.answered or ())}
    if fault.fault in (FaultClass.KEEP_WARM_GLOW, FaultClass.DEVICE_STUCK) or (
        fault.fault in (FaultClass.STUCK_ON, FaultClass.GROUNDED) and lit
    ):
        speaks = lit & cells
    elif fault.fault is FaultClass.SHORTED_TOGETHER:
        speaks = others & cells
    elif fault.fault in (FaultClass.CROSSED, FaultClass.PLUGS_SWAPPED, FaultClass.PLUG_SHIFTED, FaultClass.RELAY_STUCK):
        speaks = dead | (missed & cells)
    else:
        speaks = dead
    tested = (cells & marks.keys()) | speaks
    return len(speaks), len(tested), len(cells - tested)


def judged(layout: Layout, readings: Sequence[Reading]) -> dict[CellKey, Mark]:
    """The last mark of every cell that was exercised, and stuck where it shows at rest and was never found dead."""
    found: dict[CellKey, Mark] = {}
    dead: set[CellKey] = set()
    for reading in readings:
        if reading.cell is None:
            continue
        mark = reading.mark
        if mark is None and reading.answered is not None:
            mark = Mark.WORKING if reading.cell in reading.answered else Mark.DEAD
        if mark is not None:
            found[reading.cell] = mark
            dead |= {reading.cell} if mark is Mark.DEAD else set()
    for cell in uncalled(layout, [reading for reading in readings if reading.cell is None]):
        if cell not in dead:
            found[cell] = Mark.STUCK
    return found


def is_lighting(matrix: Matrix) -> bool:
    """Lamps on strings of their own stay lit in most machines while one is tested (common practice, no source)."""
    return matrix.kind is Kind.LAMP and not matrix.rows_shared


def uncalled(layout: Layout, readings: Sequence[Reading]) -> set[CellKey]:
    """Fitted cells that showed though nobody called them and they don't rest closed; lighting is lit anyhow."""
    return {
        cell
        for reading in readings
        if not (reading.cell and is_lighting(layout.matrix(reading.matrix)))
        for cell in reading.answered or ()
        if cell not in (reading.cell, *reading.held)
        and cell in layout.matrix(cell.matrix).by_key
        and layout.cell(cell).notes.rest == "open"
    }
