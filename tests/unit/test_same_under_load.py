"""The same readings give the same answer, byte for byte, however busy the computer is."""

from __future__ import annotations

import pytest

from tests.bench import load
from tests.bench.load import answers, differing


@pytest.mark.slow
def test_answers_with_eight_busy_processes_beside_are_the_same_byte_for_byte() -> None:
    assert differing([f"under load {i}" for i in range(20)]) == []


def test_an_answer_that_differs_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    runs = iter((["one", "two"], ["one", "other"]))
    monkeypatch.setattr(load, "_in_a_process", lambda _: next(runs))
    assert differing(["a", "b"], beside=1) == ["b"]


def test_answers_hold_suspects_and_no_seconds() -> None:
    (answer,) = answers(["under load"])
    assert '"explanations"' in answer
    assert '"seconds"' not in answer
