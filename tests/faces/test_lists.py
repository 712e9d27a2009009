"""A list longer than its room keeps what is pointed at in sight, and a tap means the item that is seen there."""

from __future__ import annotations

import pytest
from pilots import PHONE, WIDE, CannedBench, Run, at_sizes
from textual import events

from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.widgets.job_list import JobList

COUNT = 30


@pytest.fixture
def many(bench: CannedBench) -> CannedBench:
    """The bench with many more jobs on it."""
    layout = read_layout(find_layout("coil-8x2"))
    for number in reversed(range(COUNT - 1)):
        bench.new_job(layout, f"Number {number}")
    return bench


@at_sizes(PHONE, slow=[WIDE])
async def test_what_is_pointed_at_is_in_sight_all_the_way_down_and_up(
    run: Run, many: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench") as machine:
        jobs = machine.app.screen.query_one(JobList)
        assert jobs.count == COUNT
        for key, places in (("down", range(1, COUNT - 1)), ("up", range(COUNT - 3, 0, -1))):
            for place in places:
                await machine.press(key)
                assert jobs.here == place
                assert any(f"▌ Number {place}" in line for line in machine.text().split("\n"))
        await machine.press("up", "up")
        assert jobs.here == COUNT - 1
    assert many.jobs()[-2].name == f"Number {COUNT - 2}"


async def test_the_wheel_points_and_a_tap_opens_what_is_seen(run: Run, many: CannedBench) -> None:
    async with run(at="bench") as machine:
        jobs = machine.app.screen.query_one(JobList)
        await machine.pilot._post_mouse_events([events.MouseScrollDown], jobs, button=0)
        await machine.settle()
        assert jobs.here == 1
        await machine.press(*["down"] * 20)
        await machine.tap("Number 20")
        screen = machine.app.screen
        assert isinstance(screen, JobScreen)
        assert many.state(screen.desk.job).name == "Number 20"
