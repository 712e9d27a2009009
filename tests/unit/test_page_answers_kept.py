"""The answers that the page shows: worked out beside everything else, each in sight until a better one comes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from matrixcheck.analyses import Analyses
from matrixcheck.bench import Bench
from matrixcheck.errors import AnalysisError
from matrixcheck.report.answer.model import STILL_LOOKING
from matrixcheck.web.page.answers import Answers
from tests.machines import saltmarsh_tram

LONG = 60.0
"""Seconds that an answer may take on a busy machine; each is there much sooner."""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    opened = Bench(tmp_path / "bench.book")
    yield opened
    opened.close()


@pytest.fixture
def job(bench: Bench) -> str:
    opened = bench.new_job(saltmarsh_tram(), "pier arcade")
    bench.mark(opened, "switches", "21 22 31- 32- 33- 34- 41 42")
    return opened


@pytest.fixture
def answers(bench: Bench) -> Iterator[Answers]:
    found = Answers(partial(Bench, bench.path))
    yield found
    found.close()


def test_nothing_is_known_at_first_and_the_whole_answer_after_a_while(bench: Bench, job: str, answers: Answers) -> None:
    state = bench.state(job)
    first = answers.newest(state)
    assert (first.answer, first.ended, first.version) == (None, False, 0)
    whole = answers.newest(state, LONG)
    assert whole.whole
    assert "column 3" in whole.answer.cards[0].title
    assert whole.version == answers.version(job) > 0
    assert answers.newest(state) == whole


def test_the_answer_before_is_shown_as_still_looking_until_a_mark_is_answered(
    bench: Bench, job: str, answers: Answers
) -> None:
    before = answers.newest(bench.state(job), LONG)
    bench.mark(job, "switches", "35-")
    meanwhile = answers.newest(bench.state(job))
    if not meanwhile.ended:  # It may be there already.
        assert meanwhile.answer.unfinished == STILL_LOOKING
        assert meanwhile.answer.cards == before.answer.cards or meanwhile.seq > before.seq
    after = answers.newest(bench.state(job), LONG)
    assert after.whole
    assert after.seq == bench.state(job).seq
    assert after.version > before.version


def test_an_answer_from_before_a_coil_was_seen_on_is_not_shown(bench: Bench, job: str, answers: Answers) -> None:
    answers.newest(bench.state(job), LONG)
    bench.mark(job, "coils", "3*")
    meanwhile = answers.newest(bench.state(job))
    assert meanwhile.answer is None or meanwhile.answer.stop


def test_an_analysis_that_breaks_down_is_said_and_the_next_mark_tries_again(
    bench: Bench, job: str, answers: Answers, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks_down(*_: object, **__: object) -> None:
        raise AnalysisError("broken", "on purpose")

    with monkeypatch.context() as patch:
        patch.setattr(Analyses, "refine", breaks_down)
        assert answers.newest(bench.state(job), LONG).failed
    assert answers.newest(bench.state(job)).failed
    bench.mark(job, "switches", "35-")
    assert answers.newest(bench.state(job), LONG).whole


def test_two_jobs_get_their_answers_one_after_the_other(bench: Bench, job: str, answers: Answers) -> None:
    other = bench.new_job(saltmarsh_tram(), "another")
    bench.mark(other, "lamps", "20-")
    answers.newest(bench.state(job))
    assert answers.newest(bench.state(other), LONG).whole
    assert answers.newest(bench.state(job), LONG).whole


def test_closed_it_looks_no_further(bench: Bench, job: str) -> None:
    answers = Answers(partial(Bench, bench.path))
    answers.newest(bench.state(job))
    answers.close()
    assert not answers.newest(bench.state(job)).whole
