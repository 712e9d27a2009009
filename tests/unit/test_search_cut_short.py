"""A search that is cut short, by a limit in seconds or because nobody waits any more, leaves nothing behind that would
change the answer of the next one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import count
from typing import Any

import pytest

from matrixcheck.diagnosis.diagnose import KeptRegions, Limit, refine
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.inference.kept import Kept
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Diagnosis, to_json
from matrixcheck.layout.reading import Reading
from tests.unit.report_case import LAYOUT

FAULTS = [parse_fault(text, LAYOUT) for text in ("open:Q2", "shorted-together:switches.r1:switches.r3")]
READINGS = predict(LAYOUT, FAULTS, [Reading(matrix="switches", cell=one.key) for one in LAYOUT.matrices[0].fitted])
LOOKS = (0, 1, 3, 10, 30, 100)
"""How often the search has asked whether it must end before it must."""


def untimed(found: Diagnosis) -> Mapping[str, Any]:
    """The answer as JSON values, but for how long it took."""
    body: dict[str, Any] = to_json(found)
    body["searched"].pop("seconds")
    return body


def limits(looks: int) -> Iterator[Limit]:
    """A limit in seconds, and an end of all interest, after so many looks."""
    moments, asked = count(), count()
    yield Limit(looks + 0.5, lambda: float(next(moments)))
    yield Limit(dropped=lambda: next(asked) >= looks)


@pytest.fixture(scope="module")
def whole() -> list[Mapping[str, Any]]:
    """What an analysis gives that nothing cuts short."""
    return [untimed(found) for found in refine(LAYOUT, READINGS)]


@pytest.mark.parametrize("looks", LOOKS)
def test_the_answer_after_a_search_that_was_cut_short_is_that_of_a_fresh_one(
    looks: int, whole: list[Mapping[str, Any]]
) -> None:
    for limit in limits(looks):
        kept: KeptRegions = Kept(LAYOUT)
        list(refine(LAYOUT, READINGS, limit=limit, kept=kept))
        assert [untimed(found) for found in refine(LAYOUT, READINGS, kept=kept)] == whole


def test_some_of_these_searches_are_cut_short(whole: list[Mapping[str, Any]]) -> None:
    for limits_alike in zip(*map(limits, LOOKS), strict=True):
        answers = [[untimed(found) for found in refine(LAYOUT, READINGS, limit=limit)] for limit in limits_alike]
        assert any(answer != whole for answer in answers)


def test_a_search_that_nobody_waits_for_gives_no_more_diagnoses() -> None:
    assert list(refine(LAYOUT, READINGS, limit=Limit(dropped=lambda: True))) == []
    waiting = [True]
    answers = refine(LAYOUT, READINGS, limit=Limit(dropped=lambda: not waiting))
    next(answers)
    waiting.clear()
    assert list(answers) == []


def test_a_search_that_a_limit_cuts_short_says_that_it_is_not_finished() -> None:
    *_, last = refine(LAYOUT, READINGS, limit=next(limits(0)))
    assert not last.searched.finished
