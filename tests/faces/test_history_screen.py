"""The history under real keys: who, when and what; any line struck out and counted again; what that takes along."""

from __future__ import annotations

from pilots import AT_EACH_SIZE, NOON, PHONE, CannedBench, Machine, Run

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.log import LogScreen
from matrixcheck.tui.screens.stop import StopScreen
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.history import History
from matrixcheck.tui.widgets.lines import Lines


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().split())


def question(machine: Machine) -> str:
    """What a sheet asks, as one line."""
    return " ".join(plain(machine.app.screen.query_one("#sheet Lines", Lines).rows).split())


async def point(machine: Machine, words: str) -> None:
    """Point at the line of the history that says so."""
    history = machine.app.screen.query_one(History)
    for _ in range(history.count):
        if history.pointed is not None and words in history.pointed.text:
            return
        await machine.press("down")
    raise AssertionError(f"no line says {words!r}")


def struck(machine: Machine) -> list[str]:
    """The texts that are drawn struck through, or parts of them."""
    rows = machine.app.screen.query_one(History).rows
    return [text for spans in rows for text, tone in spans if tone == "struck"]


@AT_EACH_SIZE
async def test_every_line_says_who_when_and_what(run: Run, bench: CannedBench, job: str, size: tuple[int, int]) -> None:
    other = Bench(bench.path, clock=lambda: NOON, client="page 12345678", initials="CD")
    other.mark(job, "switches", "31-")
    other.close()
    async with run(size) as machine:
        await machine.press("enter", "h")
        text = said(machine)
        assert "3 2026-11-21 12:00" in text
        assert "2 2026-11-21 12:00 CD switch 31 (tram stop 1) dead" in text
        assert "1 2026-11-21 12:00 - job opened" in text


@AT_EACH_SIZE
async def test_any_line_is_struck_out_and_counts_again(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    for entry in ("31", "32-", "33"):
        bench.mark(job, "switches", entry)
    async with run(size) as machine:
        await machine.press("h")
        await point(machine, "tram stop 2")
        await machine.press("backspace")
        assert machine.mark("r2c3") is Mark.UNTESTED
        assert [machine.mark("r1c3"), machine.mark("r3c3")] == [Mark.WORKING, Mark.WORKING]
        assert "undone: switch 32 (tram stop 2) dead" in said(machine)
        assert "".join(struck(machine)).startswith("switch 32 (tram stop 2) dead")
        await machine.press("backspace")
        assert machine.mark("r2c3") is Mark.UNTESTED
        assert "that line is struck out: y has it count again" in said(machine)
        await machine.press("y")
        assert machine.mark("r2c3") is Mark.DEAD
        assert struck(machine) == []
        assert "counts again: switch 32 (tram stop 2) dead" in said(machine)


async def test_one_mark_of_a_line_of_several_is_struck_out_alone(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31 32- 33")
    async with run() as machine:
        await machine.press("h")
        await point(machine, "tram stop 2")
        await machine.press("backspace")
        marks = [machine.mark(f"r{row}c3") for row in (1, 2, 3)]
        assert marks == [Mark.WORKING, Mark.UNTESTED, Mark.WORKING]


async def test_a_strike_is_taken_back_from_its_own_line_as_well(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31")
    async with run() as machine:
        await machine.press("u", "h")
        await point(machine, "undone")
        await machine.press("backspace")
        assert machine.mark("r1c3") is Mark.WORKING


@AT_EACH_SIZE
async def test_what_a_strike_takes_along_in_another_matrix_is_named_and_asked_first(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.mark(job, "switches", "c8-")
    bench.mark(job, "lamps", "11-")
    made = bench.repair(job, "X5")
    due = [sum(key.matrix == name for key in made.due) for name in ("switches", "lamps")]
    assert all(due)
    async with run(size) as machine:
        await machine.press("h", "backspace")
        assert isinstance(machine.app.screen, AskScreen)
        assert f"It changes how {due[0]} cells of switches and {due[1]} of lamps stand." in question(machine)
        await machine.press("escape")
        assert len(machine.reader().state(job).repairs) == 1
        await machine.press("backspace", "enter")
        assert machine.reader().state(job).repairs == ()
        assert machine.reader().state(job).due == ()


async def test_a_strike_within_its_own_matrix_is_not_asked(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    async with run() as machine:
        await machine.press("h", "backspace")
        assert isinstance(machine.app.screen, LogScreen)
        assert machine.reader().state(job).repairs == ()


async def test_a_strike_that_makes_a_coil_count_as_on_again_is_asked_and_then_says_stop(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.mark(job, "coils", "1*")
    bench.safety(job, "coil fuse out", True)
    async with run() as machine:
        await machine.press("h", "backspace")
        assert "the power must be off" in question(machine)
        await machine.press("enter", "escape")
        assert isinstance(machine.app.screen, StopScreen)


async def test_what_cannot_be_struck_out_is_refused_in_one_line(run: Run) -> None:
    async with run() as machine:
        await machine.press("h", "backspace")
        assert "! event 1 can't be undone: job-opened" in said(machine)
        assert struck(machine) == []


async def test_a_tap_only_points(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31")
    bench.mark(job, "switches", "32")
    async with run(PHONE) as machine:
        await machine.press("h")
        await machine.tap("(tram stop 1)")
        assert machine.mark("r1c3") is Mark.WORKING
        await machine.tap("strike out")
        assert machine.mark("r1c3") is Mark.UNTESTED
        assert machine.mark("r2c3") is Mark.WORKING


async def test_the_line_pointed_at_stays_so_while_others_record(run: Run, bench: CannedBench, job: str) -> None:
    for entry in ("31", "32", "33"):
        bench.mark(job, "switches", entry)
    async with run() as machine:
        await machine.press("h", "down", "down")
        pointed = machine.app.screen.query_one(History).pointed
        bench.note(job, "from elsewhere")
        await machine.press("w", "x", "enter")
        assert machine.app.screen.query_one(History).pointed == pointed


@AT_EACH_SIZE
async def test_every_line_comes_into_sight_on_the_way_down(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    for number in range(30):
        bench.note(job, f"note number {number:02}")
    async with run(size) as machine:
        await machine.press("h")
        for number in reversed(range(30)):
            assert f"note number {number:02}" in machine.text()
            await machine.press("down")
        await machine.press("down")
        assert "note number 29" in machine.text()
