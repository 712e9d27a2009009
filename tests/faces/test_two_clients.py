"""Two clients at work on one job: a screen keeps its own round, and undoes its own entries."""

from __future__ import annotations

from pilots import CannedBench, Run

from matrixcheck.bench import Bench
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.messages import BookChanged
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.roll import RollScreen


async def test_a_round_that_another_client_starts_and_ends_leaves_the_one_here_alone(
    run: Run, bench: CannedBench
) -> None:
    async with run(on=CannedBench(bench.path, client="here")) as machine:
        there = Bench(machine.bench.path, client="there")
        await machine.press("g", "1")
        there.start_round(machine.job, "switches", "hold", [CellKey("switches", 1, 2)])
        machine.app.screen.post_message(BookChanged())
        await machine.settle()
        assert isinstance(machine.app.screen, RollScreen)
        await machine.type("21")
        state = machine.reader().state(machine.job)
        assert state.history[-1].event.reading.held == ()
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert set(machine.reader().state(machine.job).rounds) == {"there"}
        there.close()


async def test_an_undo_on_a_screen_takes_back_what_was_entered_there(run: Run, bench: CannedBench) -> None:
    async with run(on=CannedBench(bench.path, client="here")) as machine:
        there = Bench(machine.bench.path, client="there")
        await machine.type("21-")
        there.mark(machine.job, "switches", "24-")
        await machine.press("u")
        found = machine.reader().status(machine.job)["switches"]
        assert found.dead == 1
        matrix = there.state(machine.job).layout.matrix("switches")
        assert there.state(machine.job).standings[matrix.by_number[24].key].mark is Mark.DEAD
        await machine.press("u")
        assert machine.reader().status(machine.job)["switches"].dead == 1
        assert "you have nothing left to undo" in " ".join(machine.text().split())
        there.close()
