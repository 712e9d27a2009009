"""What must not happen by accident at the machine, each with the keys that would bring it about."""

from __future__ import annotations

import pytest
from pilots import CannedBench, Clock, Machine, Run, with_hold

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.actions import PLACES
from matrixcheck.tui.screens.all_lit import AllLitScreen
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.hold import HoldScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.timed_walk import TimedWalkScreen
from matrixcheck.tui.screens.walk import WalkScreen
from tests.samples import some_of

HELD = (CellKey("switches", 1, 2), CellKey("switches", 2, 3))


def said(text: str) -> str:
    return " ".join(text.split())


async def hold(machine: Machine) -> None:
    """Begin a hold round with the two switches that the analyser proposes, and keep its scan."""
    await machine.press("g", "4", "enter")
    await machine.type("21 32")
    await machine.press("enter")
    assert isinstance(machine.app.screen, HoldScreen)


async def test_a_switch_that_answers_beside_the_held_ones_is_no_echo_of_them(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    async with run() as machine:
        await hold(machine)
        await machine.type("24")
        state = machine.reader().state(machine.job)
        assert state.current[-1].held == HELD
        assert set(state.current[-1].answered or ()) == {*HELD, CellKey("switches", 4, 2)}
        pressed = state.standings[CellKey("switches", 4, 2)]
        assert (pressed.mark, pressed.echoed, pressed.answered_instead) == (Mark.WORKING, (), ())
        assert "answered too" not in machine.text()
        assert all(not state.standings[key].echoed for key in HELD)


async def test_a_held_switch_that_is_pressed_again_is_no_echo_of_itself(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    async with run() as machine:
        await hold(machine)
        await machine.type("21")
        reading = machine.reader().state(machine.job).current[-1]
        assert (reading.cell, reading.held) == (HELD[0], (HELD[1],))
        assert "answered too" not in machine.text()
        assert machine.reader().state(machine.job).standings[HELD[0]].mark is Mark.WORKING


async def test_a_rest_scan_ticks_nothing_where_nothing_is_fitted(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        for typed in ("r7c5", "11 r7c5", "c5"):
            await machine.type(typed)
            assert "! " in machine.text(), typed
            assert "●" not in machine.text(), typed
            await machine.press("delete")
            assert "! " not in machine.text(), typed
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().state(machine.job).rest_scans == ()


async def test_no_number_of_escapes_throws_ticks_away(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3", "space")
        for _ in range(4):
            await machine.press("escape")
            assert isinstance(machine.app.screen, AskScreen)
            assert "1 ticked and not kept. End the scan without them?" in said(machine.text())
            await machine.press("escape")
            assert isinstance(machine.app.screen, RestScreen)
            assert machine.text().count("●") == 1
        await machine.press("escape", "enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().state(machine.job).rest_scans == ()


@pytest.mark.parametrize(
    ("matrix", "put_off", "sorts"),
    some_of(
        [
            ("switches", "21. 31.", [RollScreen, WalkScreen]),
            ("lamps", "9. 10.", [WalkScreen, TimedWalkScreen, AllLitScreen, RollScreen]),
            ("coils", "1. 2.", [WalkScreen, TimedWalkScreen, RollScreen]),
        ],
        1,
    ),
)
async def test_no_sort_of_round_that_fits_is_kept_from_a_few_cells(
    run: Run, bench: CannedBench, matrix: str, put_off: str, sorts: list[type[RoundScreen]]
) -> None:
    job = bench.jobs()[0].id
    for one in bench.state(job).layout.matrices:
        bench.mark(job, one.id, " ".join(cell.key.address for cell in one.fitted))
    bench.mark(job, matrix, put_off)
    async with run(matrix=matrix) as machine:
        for place, sort in enumerate(sorts, 1):
            await machine.press("l", "enter", str(place))
            screen = machine.app.screen
            assert type(screen) is sort
            assert len(machine.reader().state(machine.job).round.cells) == 2
            await machine.press("escape")
            assert isinstance(machine.app.screen, JobScreen)


async def test_a_timed_walk_over_a_few_devices_does_not_fall_out_of_step_with_the_machine(
    run: Run, bench: CannedBench, job: str
) -> None:
    clock = Clock()
    bench.mark(job, "lamps", " ".join(str(cell.number) for cell in bench.state(job).layout.matrix("lamps").fitted))
    bench.mark(job, "lamps", "2. 4.")
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("l")
        while "lamps" not in said(machine.text()).partition("▌")[2][:30]:
            await machine.press("down")
        await machine.press("enter", "2")
        walk = machine.app.screen
        assert isinstance(walk, TimedWalkScreen)
        await machine.type("2")
        assert "not in this round" in machine.text()
        clock.now += 2.7
        await machine.until(lambda: walk.place == 1)
        assert walk.hand().number == 2
        assert "not in this round" not in machine.text()
        await machine.press("minus", "escape")
        assert isinstance(machine.app.screen, JobScreen), "of those that are not in the round none is asked about"
        assert machine.mark("r2c1", "lamps") is Mark.DEAD
        assert machine.mark("r1c1", "lamps") is Mark.WORKING


def test_no_place_has_undo_without_redo() -> None:
    undoing = [place for place in PLACES.values() if any(one.name == "undo" for one in place.actions)]
    assert len(undoing) > 8
    assert [place.name for place in undoing if not any(one.name == "redo" for one in place.actions)] == []


async def test_an_undo_too_many_beside_the_grid_loses_nothing(run: Run) -> None:
    pages = {"safety": "a", "functions": "t", "findings": "p", "notes": "h"}
    async with run() as machine:
        await machine.press("w", "x", "enter")
        for kept, page in pages.items():
            await machine.press(page, *(["enter"] if kept != "notes" else ["escape", "w", "y", "enter", "h"]))
            made = getattr(machine.reader().state(machine.job), kept)
            assert made
            await machine.press("u")
            assert getattr(machine.reader().state(machine.job), kept) == made[:-1]
            assert "undone: " in machine.text()
            await machine.press("y")
            assert getattr(machine.reader().state(machine.job), kept) == made
            assert "counts again: " in machine.text()
            await machine.press("escape")
            assert isinstance(machine.app.screen, JobScreen)


async def test_an_undo_does_not_leave_unsaid_what_it_brings_back(run: Run) -> None:
    async with run() as machine:
        await machine.type("24")
        await machine.press("g", "1")
        await machine.type("24-")
        await machine.type("24*")
        await machine.press("backspace")
        shown = said(machine.text())
        assert "undone: switch 24" in shown
        assert "stuck" in shown
        assert "counts again: switch 24" in shown
