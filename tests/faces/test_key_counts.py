"""How many keys the common acts take: one hand holds the torch."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Clock, Machine, Run, column_three

from matrixcheck.layout.reading import Mark
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.walk import WalkScreen


async def pressed(machine: Machine, *keys: str, at_most: int) -> None:
    """Press keys, no more than the act may take."""
    assert len(keys) <= at_most
    await machine.press(*keys)


@AT_EACH_SIZE
async def test_a_mark_in_a_roll_takes_the_number_and_enter(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("g", "1")
        await pressed(machine, *"24", "enter", at_most=len("24") + 1)
        await pressed(machine, *"31", "enter", at_most=len("31") + 1)
        assert [machine.mark("r4c2"), machine.mark("r1c3")] == [Mark.WORKING, Mark.WORKING]


@AT_EACH_SIZE
async def test_a_mark_in_a_walk_takes_one_key(run: Run, size: tuple[int, int]) -> None:
    marks = {"enter": Mark.WORKING, "minus": Mark.DEAD, "asterisk": Mark.STUCK, "full_stop": Mark.UNTESTED}
    async with run(size, matrix="lamps") as machine:
        await machine.press("g", "1", "minus")
        for row, (key, mark) in enumerate(marks.items(), 2):
            await pressed(machine, key, at_most=1)
            assert machine.mark(f"r{row}c1", "lamps") is mark
            standings = machine.reader().state(machine.job).standings
            deferred = {key.row for key, one in standings.items() if one.deferred is not None}
            assert deferred == ({row} if key == "full_stop" else set())
            assert machine.app.screen.grid.cursor.row == row + 1  # type: ignore[attr-defined]


async def test_an_exception_in_a_timed_walk_takes_one_key(run: Run) -> None:
    async with run(matrix="lamps", clock=Clock()) as machine:
        await machine.press("g", "2", "5", "enter")
        await pressed(machine, "minus", at_most=1)
        assert machine.mark("r1c1", "lamps") is Mark.DEAD


@AT_EACH_SIZE
async def test_a_roll_is_started_with_two_keys_and_so_is_a_walk(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await pressed(machine, "g", "1", at_most=2)
        assert isinstance(machine.app.screen, RollScreen)
        await machine.press("escape")
        await pressed(machine, "g", "2", at_most=2)
        assert isinstance(machine.app.screen, WalkScreen)


@AT_EACH_SIZE
async def test_a_retest_after_a_repair_takes_two_keys(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.mark(job, "switches", "24-")
    bench.repair(job, "switches.r4c2")
    async with run(size) as machine:
        assert machine.mark("r4c2") is Mark.UNTESTED
        await pressed(machine, "e", "enter", at_most=2)
        assert machine.mark("r4c2") is Mark.WORKING


@AT_EACH_SIZE
@pytest.mark.parametrize("key", ["u", "backspace"])
async def test_the_last_of_a_walk_is_taken_back_with_one_key_that_leads_to_its_device(
    run: Run, size: tuple[int, int], key: str
) -> None:
    async with run(size, matrix="lamps") as machine:
        await machine.press("g", "1", "minus", "minus")
        await pressed(machine, key, at_most=1)
        assert [machine.mark(f"r{row}c1", "lamps") for row in (1, 2)] == [Mark.DEAD, Mark.UNTESTED]
        await pressed(machine, "enter", at_most=1)
        assert machine.mark("r2c1", "lamps") is Mark.WORKING


@AT_EACH_SIZE
async def test_the_last_of_a_roll_is_corrected_with_one_key(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("g", "1")
        await machine.type("24-")
        await pressed(machine, "backspace", at_most=1)
        assert machine.mark("r4c2") is Mark.UNTESTED


@AT_EACH_SIZE
async def test_the_last_mark_at_the_job_is_corrected_with_one_key(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("minus")
        await pressed(machine, "u", at_most=1)
        assert machine.mark("r1c1") is Mark.UNTESTED


@AT_EACH_SIZE
@pytest.mark.parametrize("keys", [("s", "m", "enter"), ("k", "m", "enter")], ids=["chosen suspect", "its checks"])
async def test_a_replaced_part_takes_four_keys_at_most(
    run: Run, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], keys: tuple[str, ...]
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run(size) as machine:
        await pressed(machine, *keys, at_most=4)
        (made,) = machine.reader().state(machine.job).repairs
        assert made.place == "Q3"
        assert made.did
        if keys[0] == "s":
            assert isinstance(machine.app.screen, JobScreen)
