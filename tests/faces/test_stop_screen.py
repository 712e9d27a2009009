"""A coil on at rest: the screens say to switch off, and offer nothing else before the coil fuse is recorded out."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, NARROW, CannedBench, Machine, Run

from matrixcheck.bench import Bench
from matrixcheck.layout.places import CellKey
from matrixcheck.record.coil_lock import COIL_FUSE_OUT
from matrixcheck.tui.screens.choose_round import ChooseRoundScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.stop import StopScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.figures import figures
from tests.samples import some_of

STOP = "Switch off now. Take out the coil fuse. Leave it out until the short is found."


def words(machine: Machine, where: str = "#sheet") -> str:
    """What a part of the screen says, in one line."""
    region = machine.app.screen.query_one(where).region
    lines = machine.text().split("\n")[region.y : region.bottom]
    return " ".join(" ".join(line[region.x : region.right] for line in lines).split())


@AT_EACH_SIZE
async def test_a_stuck_coil_stops_everything_until_the_fuse_is_recorded_out(
    run: Run, bench: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, matrix="coils", on=Bench(bench.path)) as machine:
        await machine.type("2*")
        assert isinstance(machine.app.screen, StopScreen)
        assert STOP in words(machine)
        await machine.press("enter")
        assert machine.bench.state(machine.job).coils.stop
        await machine.press("exclamation_mark")
        assert isinstance(machine.app.screen, JobScreen)
        (kept,) = machine.reader().state(machine.job).safety
        assert (kept.item, kept.passed) == (COIL_FUSE_OUT, True)
        assert "The coil fuse is out." in words(machine, "#head")
        await machine.press("g")
        assert not isinstance(machine.app.screen, StopScreen)


def in_figures(machine: Machine) -> str:
    """The words that a sheet draws in figures three lines high."""
    drawn = {figures(sign): sign for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ "}
    region = machine.app.screen.query_one("#sheet").region
    lines = [line[region.x : region.right].strip(" ") for line in machine.text().split("\n")]
    found = []
    for top in range(len(lines) - 2):
        rows = lines[top : top + 3]
        width = max(map(len, rows))
        shapes = [tuple(row.ljust(width)[at : at + 3].ljust(3) for row in rows) for at in range(0, width, 3)]
        signs = "".join(drawn.get(shape, "?") for shape in shapes)
        if width and "?" not in signs:
            found.append(signs.strip())
    return " ".join(filter(None, found))


@AT_EACH_SIZE
@pytest.mark.parametrize(
    "keys",
    some_of(
        {
            "rest scan of a flash lamp": "g 3 2 3 enter enter",
            "walk": "g 1 asterisk",
            "timed walk": "g 2 enter enter 2 asterisk enter",
            "typed": "1 asterisk enter",
            "flash lamp typed": "2 2 asterisk enter",
        }.values(),
        3,
    ),
)
async def test_switch_off_now_is_said_at_once_in_the_largest_letters(
    run: Run, size: tuple[int, int], keys: str
) -> None:
    async with run(size, matrix="coils") as machine:
        await machine.press(*keys.split())
        assert isinstance(machine.app.screen, StopScreen)
        assert in_figures(machine) == "SWITCH OFF NOW"


async def test_a_roll_over_coils_says_switch_off_now_as_well(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "coils", "1-")
    bench.repair(job, "coil 1")
    async with run(NARROW, matrix="coils") as machine:
        await machine.press("l", "1", "3")
        assert isinstance(machine.app.screen, RollScreen)
        await machine.press("1", "asterisk", "enter")
        assert in_figures(machine) == "SWITCH OFF NOW"


async def test_no_key_leads_to_a_step_while_a_coil_is_on(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.type("2*")
        for key in "gdkl":
            for way in (["escape"], ["escape", "tab"]):
                await machine.press(*way)
                assert isinstance(machine.app.screen, JobScreen), key
                assert words(machine, "#suspects") == STOP
                await machine.press(key)
                assert isinstance(machine.app.screen, StopScreen), key


async def test_a_rest_scan_that_shows_a_coil_stops_a_walk_elsewhere(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "down", "enter")
        assert machine.bench.state(machine.job).round is not None
        machine.reader().rest_scan(machine.job, "coils", "2")
        await machine.until(lambda: isinstance(machine.app.screen, StopScreen))
        await machine.settle()
        assert machine.bench.state(machine.job).round is None


@pytest.mark.parametrize("matrix", ["switches", "coils"])
async def test_a_job_opened_with_a_coil_on_begins_with_it_and_no_coil_round_goes_on(
    run: Run, job: str, matrix: str
) -> None:
    async with run(at="bench") as machine:
        machine.reader().start_round(job, matrix, "walk")
        machine.reader().rest_scan(job, "coils", "2")
    async with run() as machine:
        assert isinstance(machine.app.screen, StopScreen)
        await machine.press("exclamation_mark")
        assert machine.app.screen.__class__ is (WalkScreen if matrix == "switches" else JobScreen)
        assert (machine.bench.state(job).round is None) is (matrix == "coils")


async def test_a_slip_is_undone_where_the_danger_is_told(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.type("2*")
        await machine.press("u")
        assert isinstance(machine.app.screen, JobScreen)
        assert STOP not in words(machine, "#suspects")
        assert machine.bench.state(machine.job).standings[CellKey("coils", 2, 1)].count == 0


async def test_undoing_the_record_of_the_fuse_stops_again(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.type("2*")
        await machine.press("exclamation_mark", "u")
        assert isinstance(machine.app.screen, StopScreen)


async def test_the_fuse_is_no_check_before_power(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.type("2*")
        await machine.press("exclamation_mark", "tab", "g")
        assert isinstance(machine.app.screen, ChooseRoundScreen)
        assert "No check before power is recorded" in words(machine)
        assert "The coil fuse is out." in words(machine)


async def test_after_the_repair_a_rest_scan_of_the_coils_opens_them_again(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.type("2*")
        await machine.press("exclamation_mark")
        await machine.press("g", "enter")
        assert machine.bench.state(machine.job).round is None
        machine.reader().repair(machine.job, "Q32")
        screen = machine.app.screen
        assert isinstance(screen, JobScreen)
        await machine.until(lambda: bool(screen.desk.state.repairs))
        await machine.press("down")
        await machine.press("g", "down", "down", "enter")
        assert machine.bench.state(machine.job).round is not None
        await machine.press("z")
        assert not machine.bench.state(machine.job).coils.coils


@pytest.mark.parametrize("key", some_of("laph", 2))
async def test_a_page_that_is_open_gives_way_when_another_screen_sees_a_coil_on(run: Run, key: str) -> None:
    async with run() as machine:
        await machine.press(key)
        assert not isinstance(machine.app.screen, JobScreen)
        machine.reader().rest_scan(machine.job, "coils", "2")
        await machine.until(lambda: isinstance(machine.app.screen, StopScreen))
