"""The analyser may fail: marks go on being kept, the screen says so, and the next mark tries again."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Run, column_three

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.errors import AnalysisError
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.text.suspects import WORKING
from tests.samples import some_of


def broken() -> Diagnosis:
    """A planted mistake of the analyser."""
    raise ZeroDivisionError("planted")


def reported() -> Diagnosis:
    """The same as the bench hands it on."""
    raise AnalysisError("the analysis failed", "all that was recorded is kept")


def out_of_memory() -> Diagnosis:
    """More than there is."""
    raise MemoryError


def endless() -> Diagnosis:
    """One call too many."""
    return endless()


@pytest.mark.parametrize("breaks", some_of([broken, reported, out_of_memory, endless], 2))
@AT_EACH_SIZE
async def test_a_mark_is_kept_and_the_failure_is_said_when_the_analysis_breaks_down(
    run: Run, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], breaks: Callable[[], Diagnosis]
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(breaks))
    async with run(size) as machine:
        await machine.press("minus")
        assert "The analysis failed" in machine.text()
        assert WORKING not in machine.text()
        await machine.type("24-")
        assert [machine.mark(address) for address in ("r1c1", "r4c2")] == [Mark.DEAD, Mark.DEAD]
        assert "kept: 24" in machine.text()


async def test_the_next_mark_tries_again(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(broken))
    async with run() as machine:
        await machine.press("minus")
        monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
        await machine.press("down", "minus")
        assert "94 %" in machine.text()
        assert "failed" not in machine.text()


async def test_suspects_of_older_marks_do_not_stay_when_the_analysis_of_newer_ones_fails(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        await machine.press("s")
        assert "◆" in machine.text()
        monkeypatch.setattr(CannedBench, "answer", staticmethod(broken))
        await machine.press("minus")
        assert "94 %" not in machine.text()
        assert "◆" not in machine.text()
        await machine.press("s", "k")
        assert "there is no suspect yet" in machine.text()


async def test_an_analysis_that_ends_after_the_job_was_left_harms_nothing(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, begun = threading.Event(), threading.Event()

    def slow() -> Diagnosis:
        begun.set()
        gate.wait(5)
        return column_three()

    async with run() as machine:
        monkeypatch.setattr(CannedBench, "answer", staticmethod(slow))
        await machine.pilot.press("minus")
        await machine.until(begun.is_set)
        await machine.pilot.press("b")
        await machine.until(lambda: "The bench" in machine.text())
        gate.set()
        await machine.settle()
        await machine.press("enter")
        assert "11 ✗" in machine.text()
