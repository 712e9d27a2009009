"""What the answer says of repairs: how each stands, on the card that it was meant for or on one of its own."""

from __future__ import annotations

import json
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from record_case import PLACES, readings
from record_case import state_after as drawn_state
from report_case import START, state_after

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import FaultClass, to_json
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import Event, Found, JobOpened, Read, Recorded, Repaired, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import advance
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.full import card_in_full
from matrixcheck.report.answer.model import LONGEST_TITLE, Answer, Card
from matrixcheck.report.answer.schema import answer_schema
from matrixcheck.report.answer.text import answer_lines, card_lines, sure_words, top_lines
from matrixcheck.report.answer_section import answer_section
from matrixcheck.report.document import CardBlock
from matrixcheck.tui.text.analysis import analysis_of
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
OPENED = JobOpened(name="x", layout=TRAM)
COLUMN = tuple(cell.key for cell in TRAM.matrix("switches").fitted if cell.key.column == 3)
"""The eight switches of column 3, driven by Q3 through contact X1-3."""
BESIDE = tuple(cell.key for cell in TRAM.matrix("switches").fitted if cell.key.column in (2, 4))


def marked(mark: Mark, *cells: CellKey) -> tuple[Read, ...]:
    """Each of the cells judged so."""
    return tuple(Read(reading=Reading(matrix=cell.matrix, cell=cell, mark=mark)) for cell in cells)


BEGUN: tuple[Event, ...] = (OPENED, *marked(Mark.WORKING, *BESIDE), *marked(Mark.DEAD, *COLUMN))
WRONG = Repaired(place="Q3", did="replaced all the same")
RIGHT = Repaired(place="X1-3", did="pin bent back")


def answer_to(state: JobState) -> Answer:
    """The answer to a job as it stands."""
    return answer_of_job(diagnose(TRAM, state.current, state.known), state)


def after(*events: Event) -> Answer:
    """The answer after the column was found dead and these events."""
    return answer_to(state_after(*BEGUN, *events))


def repairs_shown(answer: Answer) -> list[tuple[str, str, str]]:
    """Place and standing of each repair that the answer shows, with the kind of card."""
    return [(card.kind, one.place, one.stands) for card in answer.cards for one in card.repairs]


def of_repair(answer: Answer) -> Card:
    """The one card that is a repair's own."""
    (card,) = [card for card in answer.cards if card.kind == "repair"]
    return card


def test_a_repair_waits_for_its_retest_on_a_card_of_its_own() -> None:
    answer = after(WRONG)
    card = of_repair(answer)
    assert (card.title, card.why) == ("Q3 repaired: replaced all the same", "8 cells to test again")
    assert card.repairs[0].words == "Q3 repaired (replaced all the same), retest due: 8 cells"
    assert not any("olumn 3" in one.title for one in answer.cards)
    assert "8 due for a retest" in answer.headline[-1]


def test_a_retest_that_fails_opens_the_fault_again_and_its_card_says_so() -> None:
    answer = after(WRONG, *marked(Mark.DEAD, *COLUMN))
    assert repairs_shown(answer) == [("shared fault", "Q3", "open again")]
    first = answer.cards[0]
    assert first.title == "Switch column 3 is open"
    assert sure_words(first) == "near certain, open again"
    assert first.repairs[0].words == "open again: the retest failed after Q3 was repaired (replaced all the same)"


def test_a_wrong_repair_is_out_of_the_answer_once_another_was_made_of_the_same_cells() -> None:
    answer = after(WRONG, *marked(Mark.DEAD, *COLUMN), RIGHT)
    assert repairs_shown(answer) == [("repair", "X1-3", "retest due")]


def test_a_retest_that_passes_closes_the_fault_by_that_repair() -> None:
    answer = after(WRONG, *marked(Mark.DEAD, *COLUMN), RIGHT, *marked(Mark.WORKING, *COLUMN))
    card = of_repair(answer)
    assert card.title == "Contact X1-3 repaired: pin bent back"
    assert card.why == "8 of 8 cells pass: closed by that repair"
    assert repairs_shown(answer) == [("repair", "X1-3", "closed")]


def test_half_a_retest_is_counted_and_the_rest_is_due() -> None:
    card = of_repair(after(RIGHT, *marked(Mark.WORKING, *COLUMN[:3])))
    assert card.why == "3 of 8 cells pass, 5 to test again"
    assert [one.verdict for one in card.evidence].count("untested") == 5


def test_the_screens_say_once_how_much_waits_for_its_retest() -> None:
    state = state_after(*BEGUN, RIGHT)
    diagnosis = diagnose(TRAM, state.current, state.known)
    said = [" ".join(one.says) for one in analysis_of(diagnosis, answer_of_job(diagnosis, state)).cards]
    assert said[-1] == "retest due, 8 cells"
    half = state_after(*BEGUN, RIGHT, *marked(Mark.WORKING, *COLUMN[:3]))
    diagnosis = diagnose(TRAM, half.current, half.known)
    said = [" ".join(one.says) for one in analysis_of(diagnosis, answer_of_job(diagnosis, half)).cards]
    assert said[-1] == "retest due, 5 cells: 3 of 8 cells pass, 5 to test again"


def test_what_fails_for_another_reason_opens_no_repair_again_and_is_found_under_its_card() -> None:
    """Plug X5 was off and is home again; a bulb behind it is dead."""
    behind = tuple(cell.key for cell in TRAM.matrix("lamps").fitted if cell.key.column < 5)
    dead = behind[10]
    events = (OPENED, *marked(Mark.DEAD, *behind), Repaired(place="X5", did="pushed home"))
    works = tuple(cell for cell in behind if cell != dead)
    answer = answer_to(state_after(*events, *marked(Mark.WORKING, *works), *marked(Mark.DEAD, dead)))
    card = of_repair(answer)
    bulb = next(one for one in answer.cards if one.kind == "single cell")
    assert not bulb.repairs
    assert card.repairs[0].stands == "open again"
    assert card.why == f"{len(works)} of {len(behind)} cells pass, 1 fails (see {bulb.number})"


def test_cells_that_work_and_light_another_are_counted_apart_from_those_that_fail() -> None:
    """Plug X5 was off and is home again; lamp column 5 stays on, so that each lamp lights one of it too."""
    lamps = TRAM.matrix("lamps")
    behind = [cell.key for cell in lamps.fitted if cell.key.column < 5]
    echoes = tuple(
        Read(reading=Reading(matrix="lamps", cell=cell, answered=(cell, CellKey("lamps", cell.row, 5))))
        for cell in behind
    )
    events = (OPENED, *marked(Mark.DEAD, *behind), Repaired(place="X5", did="pushed home"), *echoes)
    answer = answer_to(state_after(*events))
    driver = next(one for one in answer.cards if one.title == "Lamp column 5 stays on")
    count = len(behind)
    assert of_repair(answer).why == f"0 of {count} cells pass, {count} echo (see {driver.number})"


def test_a_second_repair_of_the_same_place_stands_for_both() -> None:
    answer = after(RIGHT, *marked(Mark.DEAD, *COLUMN), Repaired(place="X1-3", did="new pin"))
    assert [one.words for card in answer.cards for one in card.repairs] == [
        "contact X1-3 repaired (new pin), retest due: 8 cells"
    ]


def test_what_is_outside_the_layout_or_had_nothing_to_retest_has_no_card() -> None:
    answer = answer_to(state_after(OPENED, Repaired(place="a belt", did="new", outside=True), RIGHT))
    assert repairs_shown(answer) == []


def test_a_repair_that_was_struck_out_is_said_nowhere() -> None:
    state = state_after(*BEGUN, RIGHT)
    undone = advance(state, [Recorded(state.seq + 1, "pond", state.seq + 1, START, Withdrawn(batch=state.seq))])
    assert repairs_shown(answer_to(undone)) == []
    assert answer_to(undone).cards[0].title == "Switch column 3 is open"


def test_only_a_measurement_since_the_repair_speaks() -> None:
    """The coil was of the wrong kind; another is fitted, and measures right."""
    coil = TRAM.matrix("coils").by_number[6].key

    def wrong_coils(*events: Event) -> set[FaultClass]:
        state = state_after(OPENED, *marked(Mark.WORKING, coil), *events)
        found = diagnose(TRAM, state.current, state.known)
        return {fault.fault for one in found.suspects if one.probability > 0.5 for fault in one.members}

    low, right = (Read(reading=Reading(matrix="coils", cell=coil, ohms=ohms)) for ohms in (2.9, 4.8))
    fitted = Repaired(place=str(coil), did="replaced")
    assert FaultClass.WRONG_DEVICE in wrong_coils(low)
    assert wrong_coils(low, fitted) == set()
    assert wrong_coils(low, fitted, right) == set()
    assert FaultClass.WRONG_DEVICE in wrong_coils(right, fitted, low)


def test_a_check_before_the_repair_is_out_and_one_after_it_speaks() -> None:
    faulty = Found(finding=Finding(place="X1-3", verdict="faulty"))
    assert any(card.known for card in after(faulty).cards)
    assert not any(card.known for card in after(faulty, RIGHT, *marked(Mark.DEAD, *COLUMN)).cards)
    assert any(card.known for card in after(RIGHT, *marked(Mark.DEAD, *COLUMN), faulty).cards)


def test_the_repair_of_a_line_outdates_checks_of_parts_that_serve_it_alone() -> None:
    found = [Found(finding=Finding(place=place, verdict="faulty")) for place in ("Q3", "X1-3", "X1", "Q4")]
    state = state_after(*BEGUN, *found, Repaired(place="switches.c3", did="new pin"))
    assert [one.place for one in state.findings] == ["X1", "Q4"]


def test_every_face_says_the_same_of_a_repair() -> None:
    state = state_after(*BEGUN, WRONG, *marked(Mark.DEAD, *COLUMN))
    diagnosis = diagnose(TRAM, state.current, state.known)
    answer = answer_of_job(diagnosis, state)
    words = answer.cards[0].repairs[0].words
    Draft202012Validator(json.loads(answer_schema())).validate(json.loads(json.dumps(to_json(answer))))
    assert words in " ".join(" ".join(line.text for line in answer_lines(answer, 78)).split())
    assert words in " ".join(
        " ".join(line.text for line in card_in_full(answer, answer.cards[0], diagnosis, 78)).split()
    )
    assert words in analysis_of(diagnosis, answer).cards[0].says
    assert any(isinstance(one, CardBlock) and ("repair", words) in one.facts for one in answer_section(answer).blocks)


STEPS = st.lists(
    readings().map(lambda reading: Read(reading=reading))
    | st.builds(Repaired, place=st.sampled_from(PLACES), did=st.sampled_from(["", "replaced", "a new one " * 9])),
    max_size=14,
)


@settings(max_examples=10)
@given(STEPS)
def test_an_answer_with_repairs_is_brief_says_nothing_twice_and_counts_every_cell_that_is_due(
    events: list[Event],
) -> None:
    brief_and_counted(events)


@pytest.mark.slow
@settings(max_examples=40)
@given(STEPS)
def test_an_answer_with_repairs_is_brief_says_nothing_twice_and_counts_all_in_many_jobs(events: list[Event]) -> None:
    brief_and_counted(events)


def brief_and_counted(events: list[Event]) -> None:
    state = drawn_state(*events)
    diagnosis = diagnose(state.layout, state.current, state.known)
    answer = answer_of_job(diagnosis, state)
    assert len(top_lines(answer, 78)) <= 2
    assert [card.number for card in answer.cards] == list(range(1, len(answer.cards) + 1))
    said = [words for card in answer.cards for words in (card.title, card.why, *(one.words for one in card.repairs))]
    # Two cards that rest on the same as a third both point at it.
    own = [words for words in said if words and not words.startswith("as for ")]
    assert max(Counter(own).values(), default=1) == 1
    for card in answer.cards:
        assert len(card.title) <= LONGEST_TITLE
        assert len(card_lines(card, 78)) <= 10
    shown = {one.place: one for card in answer.cards for one in card.repairs}
    waiting = {
        place: {cell for one in state.repairs if one.place == place for cell in one.due if cell in state.due}
        for place in {state.standings[cell].retest_due for cell in state.due}
    }
    assert {place: shown[place].due for place in waiting if place} == {
        place: len(cells) for place, cells in waiting.items() if place
    }
    assert all(one.due == 0 for one in shown.values() if one.stands == "closed")
