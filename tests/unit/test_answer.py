"""The answer to each stage of the evening, as it is read at 78 and at 60 columns."""

from __future__ import annotations

import json
from datetime import time
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator, ValidationError
from report_case import DIAGNOSIS, EVENTS, state_after
from syrupy.assertion import SnapshotAssertion

from matrixcheck.cli.evening import played, the_evening
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Searched, to_json
from matrixcheck.layout.reading import Reading
from matrixcheck.record.events import SafetyChecked
from matrixcheck.report.answer.build import answer_of, answer_of_job
from matrixcheck.report.answer.model import LONGEST_TITLE, Answer
from matrixcheck.report.answer.schema import answer_schema
from matrixcheck.report.answer.text import answer_lines, card_lines, top_lines
from tests.machines import saltmarsh_tram

STAGES = [step.at for step in the_evening().steps if step.finds]


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[time, Answer]:
    """The answers of the evening, by the time of their step."""
    book = tmp_path_factory.mktemp("evening") / "evening.book"
    return {
        one.step.at: answer_of_job(one.sheet.diagnosis, one.sheet.state)
        for one in played(the_evening(), book)
        if one.sheet
    }


@pytest.mark.parametrize("width", [78, 60])
@pytest.mark.parametrize("stage", STAGES, ids=str)
def test_the_answer_reads_as_it_did(
    answers: dict[time, Answer], stage: time, width: int, snapshot: SnapshotAssertion
) -> None:
    lines = [line.text for line in answer_lines(answers[stage], width, "j2hk")]
    assert max(map(len, lines)) <= width
    assert "\n".join(lines) == snapshot


def test_the_whole_answer_to_the_evening_fits_sixty_lines(answers: dict[time, Answer]) -> None:
    assert max(len(answer_lines(answer, 78, "j2hk")) for answer in answers.values()) <= 60


def test_a_card_of_the_evening_fits_ten_lines_and_its_title_its_room(answers: dict[time, Answer]) -> None:
    cards = [card for answer in answers.values() for card in answer.cards]
    assert len(cards) == 16
    assert all(len(card_lines(card, 78)) <= 10 for card in cards)
    assert all(len(card.title) <= LONGEST_TITLE for card in cards)


def test_the_schema_that_is_shipped_is_that_of_the_model() -> None:
    """If not: `python -m matrixcheck.report.answer.schema > matrixcheck/report/answer/answer.schema.json`."""
    kept = files("matrixcheck.report.answer").joinpath("answer.schema.json").read_text(encoding="utf-8")
    assert kept == answer_schema()


def test_the_answers_of_the_evening_fit_their_schema(answers: dict[time, Answer]) -> None:
    """JSON Schema, draft 2020-12, as the PyPI package jsonschema reads it."""
    validator = Draft202012Validator(json.loads(answer_schema()))
    for answer in (*answers.values(), Answer(danger="Switch off now.", stop=True)):
        validator.validate(json.loads(json.dumps(to_json(answer))))
    with pytest.raises(ValidationError):
        validator.validate({"headline": ["one", "two", "three"]})


def test_dangers_come_first_then_what_hinders_play_and_a_harmless_glow_last(answers: dict[time, Answer]) -> None:
    for answer in answers.values():
        ranks = [(not one.dangerous, one.kind == "no fault", not one.hinders_play) for one in answer.cards]
        assert ranks == sorted(ranks)


def test_a_coil_that_stays_on_comes_before_a_likelier_fault_of_more_cells() -> None:
    """Planted: two switch columns open, a coil driver that conducts all the time."""
    found = found_with("open:Q3", "open:Q4", "stuck-on:coils.r2")
    first, *others = found.cards
    assert first.dangerous
    assert "oil" in first.title
    assert [card.title for card in others][:2] == ["Switch column 3 is open", "Switch column 4 is open"]


def test_a_safety_check_that_failed_stands_before_all_else_until_it_passes() -> None:
    failed = SafetyChecked(item="earth bond", passed=False, note="2 ohms")
    first, second, *others = answer_of_job(DIAGNOSIS, state_after(*EVENTS, failed)).cards
    assert [(card.kind, card.dangerous, card.why) for card in (first, second)] == [
        ("safety", True, "sheath cut"),
        ("safety", True, "2 ohms"),
    ]
    assert not any(card.dangerous for card in others)
    passed = answer_of_job(DIAGNOSIS, state_after(*EVENTS, failed, SafetyChecked(item="Earth bond", passed=True)))
    assert [one.title for one in passed.cards if one.kind == "safety"] == ["Safety check failed: mains lead"]


def test_a_waived_safety_check_is_no_danger_and_is_said_with_its_reason() -> None:
    waived = SafetyChecked(item="mains lead", passed=False, note="a new one is fitted", waived=True)
    answer = answer_of_job(DIAGNOSIS, state_after(*EVENTS, waived))
    assert not [one for one in answer.cards if one.kind == "safety"]
    assert "safety check waived: mains lead (a new one is fitted)" in answer.left_open


def test_nothing_tested_and_nothing_found_are_said_apart() -> None:
    assert found_with(asked=0).headline == ("Nothing is tested yet. 169 cells untested.",)
    assert found_with(asked=200).headline[0].startswith("No fault found in what was tested.")


def test_a_search_that_was_cut_short_takes_the_first_of_the_two_lines() -> None:
    searched = Searched(exact=False, seconds=2.0, gap=0.3, finished=False)
    answer = answer_of_job(DIAGNOSIS.model_copy(update={"searched": searched}), state_after(*EVENTS))
    assert answer.unfinished == "Stopped early (2 s); up to 30 % not searched: a likelier cause may exist."
    assert [line.text for line in top_lines(answer, 78)] == [answer.unfinished, *answer.headline]


def found_with(*faults: str, asked: int = 200) -> Answer:
    """The answer to the first exercises of the demonstration's machine with these faults in it."""
    layout = saltmarsh_tram()
    cells = [cell.key for matrix in layout.matrices for cell in matrix.in_walk_order]
    exercises = [Reading(matrix=key.matrix, cell=key) for key in cells]
    scans = [Reading(matrix=one.id) for one in layout.matrices] if faults else []
    readings = predict(layout, [parse_fault(text, layout) for text in faults], [*scans, *exercises[:asked]])
    return answer_of(diagnose(layout, readings), layout, readings)
