"""The answer to each stage of the evening, as it is read at 78 and at 60 columns."""

from __future__ import annotations

import json
from datetime import time
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator, ValidationError
from syrupy.assertion import SnapshotAssertion

from matrixcheck.cli.evening import played, the_evening
from matrixcheck.diagnosis.result import to_json
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.model import LONGEST_TITLE, Answer
from matrixcheck.report.answer.schema import answer_schema
from matrixcheck.report.answer.text import answer_lines, card_lines

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
    lines = [line.text for line in answer_lines(answers[stage], width)]
    assert max(map(len, lines)) <= width
    assert "\n".join(lines) == snapshot


def test_the_whole_answer_to_the_evening_fits_sixty_lines(answers: dict[time, Answer]) -> None:
    assert max(len(answer_lines(answer, 78)) for answer in answers.values()) <= 60


def test_a_card_of_the_evening_fits_ten_lines_and_its_title_its_room(answers: dict[time, Answer]) -> None:
    cards = [card for answer in answers.values() for card in answer.cards]
    assert len(cards) == 15
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
