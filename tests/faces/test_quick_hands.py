"""Quick hands: two taps where one was meant, a key before a screen stands, another process in between."""

from __future__ import annotations

import threading

import pytest
from pilots import BREATH, PHONE, CannedBench, Machine, Run, column_three
from textual import events

from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import RoundStarted
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.screens.bench import BenchScreen
from matrixcheck.tui.screens.choose_round import ChooseRoundScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.later import LaterScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.widgets.job_list import JobList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.picks import Picks
from tests.samples import some_of


async def test_two_quick_taps_on_a_sort_of_round_begin_one(run: Run) -> None:
    async with run() as machine:
        await machine.press("g")
        picks = machine.app.screen.query_one(Picks)
        picks.picked(0)
        picks.picked(0)
        await machine.settle()
        assert isinstance(machine.app.screen, RollScreen)
        history = machine.reader().state(machine.job).history
        assert sum(isinstance(one.event, RoundStarted) for one in history) == 1
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


async def test_two_quick_taps_on_a_button_open_one_sheet(run: Run) -> None:
    async with run(PHONE) as machine:
        lines = machine.text().split("\n")
        row = next(y for y, line in enumerate(lines) if "round   matrix" in line)
        await machine.pilot.click(offset=(lines[row].index("round"), row), times=2)
        await machine.settle()
        assert isinstance(machine.app.screen, ChooseRoundScreen)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_screen_that_has_closed_takes_a_late_size_without_drawing(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        roll = machine.app.screen
        assert isinstance(roll, RollScreen)
        await machine.press("escape", "l")
        page = machine.app.screen
        assert isinstance(page, LaterScreen)
        await machine.press("escape")
        for closed in (roll, page):
            assert not closed.is_open
            assert not closed.query(KeyBar)
        roll.fit()
        page.on_resize()
        assert isinstance(machine.app.screen, JobScreen)


async def test_two_quick_taps_on_a_job_open_it_once(run: Run) -> None:
    async with run(at="bench") as machine:
        jobs = machine.app.screen.query_one(JobList)
        jobs.picked(0)
        jobs.picked(0)
        await machine.settle()
        assert isinstance(machine.app.screen, JobScreen)
        await machine.press("b")
        assert isinstance(machine.app.screen, BenchScreen)


@pytest.mark.parametrize(
    ("matrix", "typed", "kept"),
    some_of(
        [
            ("switches", [*"g1", *"24", "enter", *"31-", "enter", "escape"], {24: Mark.WORKING, 31: Mark.DEAD}),
            (
                "lamps",
                [*"g1", "enter", "enter", "minus", "enter", "escape"],
                {1: Mark.WORKING, 2: Mark.DEAD, 3: Mark.WORKING},
            ),
        ],
        1,
    ),
)
async def test_keys_faster_than_the_screens_come_find_the_screens_they_are_for(
    run: Run, matrix: str, typed: list[str], kept: dict[int, Mark]
) -> None:
    async with run(matrix=matrix) as machine:
        for key in typed:
            character = {"enter": "\r", "minus": "-"}.get(key, key if len(key) == 1 else None)
            machine.app.post_message(events.Key({"-": "minus"}.get(key, key), character))
        await machine.until(lambda: marks(machine, matrix) == kept)
        await machine.settle()
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.app.screen.entry.text == ""


def marks(machine: Machine, matrix: str) -> dict[int, Mark]:
    """What the journal holds of a matrix, by number."""
    found = machine.reader().state(machine.job).standings.values()
    return {
        one.cell.number: one.mark for one in found if one.cell.key.matrix == matrix and one.mark is not Mark.UNTESTED
    }


async def test_a_key_before_an_open_round_is_taken_up_leads_to_its_own_screen_and_then_back_into_the_round(
    run: Run, bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hurry(app: MatrixCheckApp) -> None:
        app.post_message(events.Key("g", "g"))

    bench.start_round(job, "switches", "roll")
    monkeypatch.setattr(MatrixCheckApp, "on_load", hurry, raising=False)
    async with run() as machine:
        assert isinstance(machine.app.screen, ChooseRoundScreen)
        await machine.press("escape")
        assert isinstance(machine.app.screen, RollScreen)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


@pytest.mark.parametrize("left_open", [False, True])
async def test_a_round_that_is_about_to_end_is_not_taken_up_again_and_the_next_key_is_the_job_s(
    run: Run, bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch, left_open: bool
) -> None:
    """A quick key began it before the job took up what was left open, and the book is slow to keep its end."""
    end_round, asked, goes_on = bench.end_round, threading.Event(), threading.Event()

    def slowly(job: str) -> None:
        asked.set()
        assert goes_on.wait(30)
        end_round(job)

    def hurry(app: MatrixCheckApp) -> None:
        app.post_message(events.Key("g", "g"))

    if left_open:
        bench.start_round(job, "lamps", "walk")
    monkeypatch.setattr(bench, "end_round", slowly)
    monkeypatch.setattr(MatrixCheckApp, "on_load", hurry, raising=False)
    async with run() as machine:
        await machine.press("1")
        assert isinstance(machine.app.screen, RollScreen)
        await machine.pilot.press("escape")
        await machine.until(lambda: asked.is_set() and isinstance(machine.app.screen, JobScreen))
        for _ in range(5):
            await machine.pilot.pause(BREATH)
            assert isinstance(machine.app.screen, JobScreen)
        goes_on.set()
        await machine.pilot.press("q")
        await machine.until(lambda: machine.app.return_code == 0)
    assert bench.state(job).round is None


async def test_a_round_that_ends_while_its_screen_is_being_made_ends_with_it(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.start_round(job, "switches", "roll")
    async with run() as machine:
        await machine.press("escape")
        job_screen = machine.app.screen
        assert isinstance(job_screen, JobScreen)
        machine.app.push_screen(RollScreen(job_screen.desk, "switches"))
        await machine.settle()
        assert machine.app.screen is job_screen


async def test_a_round_that_ends_elsewhere_while_a_sheet_lies_over_it_ends_with_the_sheet(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "o")
        machine.reader().end_round(machine.job)
        await machine.settle()
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


async def test_what_another_process_keeps_while_a_sheet_lies_over_a_round_is_shown_after_it(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "o")
        machine.reader().mark(machine.job, "lamps", "9-")
        await machine.settle()
        await machine.press("escape")
        assert isinstance(machine.app.screen, WalkScreen)
        assert " 9 ✗" in machine.text()


@pytest.mark.parametrize(("matrix", "digit"), some_of([("switches", "2"), ("lamps", "1")], 1))
async def test_the_enter_after_the_digit_that_chose_a_round_records_nothing(run: Run, matrix: str, digit: str) -> None:
    async with run(matrix=matrix) as machine:
        await machine.press("g", digit, "enter")
        assert machine.mark("r1c1", matrix) is Mark.UNTESTED
        assert "Press Enter again" in machine.text()
        await machine.press("enter")
        assert machine.mark("r1c1", matrix) is Mark.WORKING


async def test_the_second_enter_on_a_list_marks_nothing_on_the_screen_below(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "enter", "enter")
        assert machine.mark("r1c1", "lamps") is Mark.UNTESTED


async def test_the_second_enter_on_a_note_marks_nothing_on_the_job(run: Run) -> None:
    async with run() as machine:
        await machine.press("w")
        await machine.type("fuse seat bent")
        await machine.press("enter")
        assert machine.mark("r1c1") is Mark.UNTESTED
        await machine.press("enter")
        assert machine.mark("r1c1") is Mark.WORKING


def history(machine: Machine) -> list[str]:
    """What the journal says, in words."""
    return [line.text for line in machine.reader().log(machine.job)]


@pytest.mark.parametrize(
    ("keys", "page"),
    some_of(
        [
            (("x", *"bench checks", "enter", "enter"), "Bench checks"),
            (("x", *"before power", "enter", "enter"), "Before power"),
            (("p", "w", *"bent", "enter", "enter"), "Parts"),
            (("a", "minus", "enter", "enter"), "Before power"),
            (("t", "minus", "enter", "enter"), "The rest of the test mode"),
        ],
        2,
    ),
)
async def test_the_second_enter_on_a_sheet_records_nothing_good_on_the_page_below(
    run: Run, monkeypatch: pytest.MonkeyPatch, keys: tuple[str, ...], page: str
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        await machine.press(*("space" if key == " " else key for key in keys))
        assert page in machine.text()
        assert "Press Enter again" in machine.text()
        assert [text for text in history(machine) if "good" in text or "passed" in text] == []
        await machine.press("enter")
        assert len([text for text in history(machine) if "good" in text or "passed" in text]) == 1


async def test_any_other_key_judges_at_once_after_a_list(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "minus", "enter")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert machine.mark("r2c1", "lamps") is Mark.WORKING


async def test_a_bare_enter_keeps_no_rest_scan_and_one_key_says_that_nothing_shows(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3", "enter", "enter")
        assert machine.reader().state(machine.job).rest_scans == ()
        assert "z keeps that" in machine.text()
        await machine.press("z")
        (scan,) = machine.reader().state(machine.job).rest_scans
        assert scan.reading.answered == ()


async def test_nothing_shows_is_refused_while_something_is_ticked(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        await machine.type("24")
        await machine.press("z")
        assert machine.reader().state(machine.job).rest_scans == ()
        assert "1 are ticked" in machine.text()
