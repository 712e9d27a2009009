"""A check before power that failed is said on every screen of its job, and where every sort of round begins."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Run, column_three

from matrixcheck.report.rounds import sorts_for
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.widgets.entry_line import EntryLine
from tests.machines import saltmarsh_tram
from tests.samples import some_of

ROUNDS = [
    (matrix.id, str(place), sort.name)
    for matrix in saltmarsh_tram().matrices
    if matrix.id in {"switches", "lamps", "coils"}
    for place, sort in enumerate(sorts_for(matrix, some=False), 1)
]


@pytest.fixture
def failed(bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch) -> CannedBench:
    """A bench with a job one of whose checks before power failed."""
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    bench.safety(job, "mains voltage", False, "taps at 120")
    return bench


@pytest.mark.parametrize(("matrix", "digit", "sort"), some_of(ROUNDS, 4))
async def test_every_sort_of_round_begins_with_the_failed_check(
    run: Run, failed: CannedBench, matrix: str, digit: str, sort: str
) -> None:
    async with run(matrix=matrix, on=failed) as machine:
        await machine.press("g", digit)
        if sort == "hold round":
            await machine.press("1", "1", "enter")
        screen = machine.app.screen
        assert isinstance(screen, RoundScreen), sort
        assert "safety check FAILED: mains voltage (taps at 120)" in screen.query_one(EntryLine).said
        assert machine.text().split("\n")[0].startswith(" FAILED: mains voltage.")


async def test_a_round_that_was_left_open_begins_again_with_the_failed_check(
    run: Run, failed: CannedBench, job: str
) -> None:
    failed.start_round(job, "switches", "walk")
    async with run(on=failed) as machine:
        assert isinstance(machine.app.screen, RoundScreen)
        assert "safety check FAILED: mains voltage" in machine.app.screen.query_one(EntryLine).said


@AT_EACH_SIZE
async def test_the_failed_check_stands_first_on_every_screen_of_its_job(
    run: Run, failed: CannedBench, size: tuple[int, int]
) -> None:
    first = " FAILED: mains voltage."
    async with run(size, on=failed) as machine:
        assert machine.text().startswith(first)
        for key in "pkhlmte":
            await machine.press(key)
            assert not isinstance(machine.app.screen, JobScreen), key
            assert machine.text().startswith(first), key
            await machine.press("escape")
            assert isinstance(machine.app.screen, JobScreen), key


async def test_a_check_that_is_passed_or_waived_is_said_no_more(run: Run, failed: CannedBench, job: str) -> None:
    async with run(on=failed) as machine:
        await machine.press("e")
        failed.waive_check(job, "mains voltage", "taps set, measured tomorrow")
        await machine.press("escape", "e")
        assert "FAILED" not in machine.text()
