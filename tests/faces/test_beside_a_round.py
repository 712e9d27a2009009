"""Notes, the history and the answer are one key away during a round, and nothing of the round is lost on the way."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Clock, Machine, Run, column_three

from matrixcheck.layout.reading import Mark
from matrixcheck.tui.screens.answer import AnswerScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.log import LogScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.timed_walk import TimedWalkScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.screens.words import WordsScreen
from tests.samples import some_of

NOTE, HISTORY, ANSWER = WordsScreen, LogScreen, AnswerScreen


def said(machine: Machine) -> str:
    return " ".join(machine.text().split())


def place(machine: Machine) -> tuple[type, object, str, int]:
    """The round in front: its sort, the cell under the cursor, what is typed, how many lines are ticked."""
    screen = machine.app.screen
    assert isinstance(screen, RoundScreen)
    hand = screen.hand()
    return type(screen), hand and hand.key, screen.entry.text, machine.text().count("●")


@AT_EACH_SIZE
@pytest.mark.parametrize(
    ("matrix", "begin", "keys"),
    some_of(
        [
            (
                "switches",
                ["g", "1", "2", "4", "enter", "3", "1"],
                {"insert": NOTE, "pageup": HISTORY, "pagedown": ANSWER},
            ),
            ("lamps", ["g", "1", "minus", "right", "5"], {"pagedown": ANSWER}),
            ("lamps", ["g", "1", "minus", "right"], {"w": NOTE, "h": HISTORY, "pagedown": ANSWER}),
            ("lamps", ["g", "3", "minus"], {"w": NOTE, "h": HISTORY, "pagedown": ANSWER}),
            ("switches", ["g", "3", "space", "down", "space"], {"w": NOTE, "h": HISTORY, "pagedown": ANSWER}),
        ],
        2,
    ),
    ids=["roll", "walk, typing", "walk", "all at once", "rest scan"],
)
async def test_no_way_there_and_back_loses_the_place_in_a_round(
    run: Run, size: tuple[int, int], matrix: str, begin: list[str], keys: dict[str, type]
) -> None:
    async with run(size, matrix=matrix) as machine:
        await machine.press(*begin)
        before, seq = place(machine), machine.reader().state(machine.job).seq
        for key, screen in keys.items():
            await machine.press(key)
            assert isinstance(machine.app.screen, screen)
            await machine.press("escape")
            assert place(machine) == before
        state = machine.reader().state(machine.job)
        assert state.seq == seq
        assert state.round is not None


async def test_a_note_in_a_round_does_not_end_it(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1", "insert")
        await machine.type("left")
        assert isinstance(machine.app.screen, RollScreen)
        assert "kept: the note" in machine.text()
        assert [note.text for note in machine.reader().state(machine.job).notes] == ["left"]
        await machine.type("24")
        assert machine.mark("r4c2") is Mark.WORKING


@pytest.mark.parametrize(
    ("key", "screen"), some_of([("w", WordsScreen), ("h", LogScreen), ("pagedown", AnswerScreen)], 1)
)
async def test_a_timed_walk_does_not_run_on_unseen(run: Run, key: str, screen: type) -> None:
    clock = Clock()
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("2")
        walk = machine.app.screen
        assert isinstance(walk, TimedWalkScreen)
        clock.now += 4.7
        await machine.until(lambda: walk.place == 2)
        await machine.press(key)
        assert isinstance(machine.app.screen, screen)
        clock.now += 300
        await machine.press("escape")
        assert machine.app.screen is walk
        assert walk.place == 2
        assert "Walk resumed, and paused" in said(machine)
        await machine.press("right", "enter", "minus")
        assert machine.mark("r4c1", "lamps") is Mark.DEAD
        await machine.press("escape")
        assert "2 not judged" in said(machine), "of those that went by unseen none is asked about"


@AT_EACH_SIZE
async def test_the_answer_in_a_round_is_not_the_one_from_before_it(
    run: Run, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    async with run(size) as machine:
        await machine.press("g", "1")
        await machine.type("32-")
        monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
        await machine.press("pagedown")
        assert "Switch column 3 is open" in said(machine)
        assert "94 %" in said(machine)


@AT_EACH_SIZE
async def test_a_round_does_not_end_without_its_summary(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.mark(job, "switches", "33* 24")
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run(size) as machine:
        await machine.press("g", "1")
        for text in ("21", "31-", "32-", "33", "61."):
            await machine.type(text)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        summary = (
            "The round: 4 tested, 2 dead (31 32), 1 put off (61). Changed since last time: 33 was stuck, is working."
        )
        assert summary in said(machine)
        await machine.press("pagedown")
        assert summary in said(machine)
        assert f"{summary} {machine.app.screen._analysis.headline[0]}" in said(machine)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_round_in_which_nothing_was_entered_is_given_no_summary(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "right", "escape")
        assert "The round" not in machine.text()


async def test_the_summary_of_a_retest_does_not_hide_what_was_before(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31- 32-")
    bench.repair(job, "X1-3")
    async with run() as machine:
        await machine.press("e", "minus", "minus", "escape")
        assert "The round: 2 tested, 2 dead (31 32)." in said(machine)
        machine.reader().repair(job, "X1-3")
        await machine.until(lambda: "↻2" in machine.text())
        await machine.press("e", "right", "left", "enter", "minus", "escape")
        assert "Changed since last time: 31 was dead, is working." in said(machine)
        assert isinstance(machine.app.screen, JobScreen)


@pytest.mark.parametrize("screen", [RollScreen, WalkScreen, TimedWalkScreen, RestScreen])
def test_no_round_leaves_them_out_of_its_keys(screen: type[RoundScreen]) -> None:
    names = {action.name for action in screen.PLACE.actions}
    assert {"note", "history", "answer"} <= names
