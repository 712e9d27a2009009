"""Leaving a job, or a page of it, and coming back leads to the place that was left."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, NOON, CannedBench, Machine, Run, column_three
from textual.containers import VerticalScroll

from matrixcheck.bench import Bench
from matrixcheck.tui.screens.answer import AnswerScreen
from matrixcheck.tui.screens.bench import BenchScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.log import LogScreen
from matrixcheck.tui.widgets.suspect_list import SuspectList


def job_of(machine: Machine) -> JobScreen:
    screen = machine.app.screen
    assert isinstance(screen, JobScreen)
    return screen


def place(machine: Machine) -> tuple[object, ...]:
    """Matrix, what its grid shows, the chosen suspect, and the suspects' first line in sight."""
    screen = job_of(machine)
    return screen.matrix.id, screen.grid.view, screen.chosen, screen.query_one(SuspectList).top


async def to_the_bench_and_back(machine: Machine) -> None:
    await machine.press("b")
    assert isinstance(machine.app.screen, BenchScreen)
    await machine.press("enter")


@AT_EACH_SIZE
async def test_the_bench_and_back_does_not_lose_the_matrix_the_cells_or_the_card(
    run: Run, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run(size) as machine:
        await machine.press("down", "right", "right", "tab", "down", "down", "left", "s", "s")
        before, seen = place(machine), machine.text()
        assert before[0] == "lamps"
        assert before[2] is not None
        await to_the_bench_and_back(machine)
        assert place(machine) == before
        assert machine.text() == seen
        await machine.press("shift+tab")
        assert str(job_of(machine).cell.key) == "switches.r2c3"


async def test_the_part_in_sight_of_a_large_grid_does_not_jump(run: Run) -> None:
    async with run((30, 20)) as machine:
        await machine.press(*["right"] * 7, *["left"] * 2)
        before = job_of(machine).grid.view
        assert before.origin != (0, 0)
        await machine.press("tab", "shift+tab")
        assert job_of(machine).grid.view == before
        await to_the_bench_and_back(machine)
        assert job_of(machine).grid.view == before


async def test_a_suspect_let_go_of_does_not_come_back_chosen(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        await machine.press("s", "escape")
        await to_the_bench_and_back(machine)
        assert job_of(machine).chosen is None


async def test_a_job_does_not_open_where_another_was_left(run: Run, bench: CannedBench, job: str) -> None:
    other = bench.new_job(bench.state(job).layout, "Promenade, machine 5")
    async with run(of=other, matrix="lamps") as machine:
        await machine.press("right", "b", "down", "enter")
        assert (job_of(machine).desk.job, job_of(machine).matrix.id) == (job, "switches")
        await machine.press("b", "up", "enter")
        assert (job_of(machine).desk.job, job_of(machine).matrix.id) == (other, "lamps")


async def test_the_history_does_not_open_at_another_line(run: Run, bench: CannedBench, job: str) -> None:
    for number in (24, 31, 36, 41):
        bench.mark(job, "switches", str(number))
    async with run() as machine:
        await machine.press("h", "down", "down")
        seen = machine.text()
        await machine.press("escape", "h")
        assert isinstance(machine.app.screen, LogScreen)
        assert machine.text() == seen


async def test_the_newest_line_of_the_history_stays_the_newest(run: Run, bench: CannedBench, job: str) -> None:
    async with run() as machine:
        await machine.press("h", "escape")
        bench.mark(job, "switches", "24")
        await machine.press("h")
        screen = machine.app.screen
        assert isinstance(screen, LogScreen)
        assert screen._history.here == 0


async def test_the_later_list_does_not_open_at_another_group(run: Run) -> None:
    async with run() as machine:
        await machine.press("l", "down", "down")
        seen = machine.text()
        await machine.press("escape", "l")
        assert machine.text() == seen


async def test_the_parts_behind_a_cell_do_not_open_at_another_one(run: Run) -> None:
    async with run() as machine:
        await machine.press("p")
        first = machine.text()
        await machine.press("down")
        seen = machine.text()
        assert seen != first
        await machine.press("escape", "p")
        assert machine.text() == seen


async def test_an_answer_that_is_the_same_does_not_open_at_its_top(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))

    def read_to() -> float:
        assert isinstance(machine.app.screen, AnswerScreen)
        return machine.app.screen.query_one(VerticalScroll).scroll_y

    async with run((39, 16)) as machine:
        await machine.press("pagedown", "down", "down", "down")
        before = read_to()
        assert before > 0
        await machine.press("escape", "pagedown")
        assert read_to() == before
        await machine.press("escape")
        await machine.type("24")
        await machine.press("pagedown")
        assert read_to() == 0


@pytest.mark.parametrize("last", ["24", "24."], ids=["a mark", "put off"])
async def test_a_restart_does_not_lead_away_from_the_last_entry(
    run: Run, bench: CannedBench, job: str, last: str
) -> None:
    for client, matrix, text in (("terminal 1", "switches", last), ("terminal 2", "lamps", "11")):
        other = Bench(bench.path, clock=lambda: NOON, client=client)
        other.mark(job, matrix, text)
        other.close()
    own = CannedBench(bench.path, clock=lambda: NOON, client="terminal 1")
    async with run(on=own) as machine:
        assert (job_of(machine).matrix.id, job_of(machine).cell.number) == ("switches", 24)
    async with run(on=own, matrix="lamps") as machine:
        assert job_of(machine).matrix.id == "lamps"
    own.close()
