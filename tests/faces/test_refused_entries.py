"""A refused entry is not lost, not hidden and not mixed into what is typed after it, however fast that comes."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Machine, Run
from textual import events

from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.widgets.entry_line import EntryLine
from tests.samples import some_of


def said(machine: Machine) -> str:
    return " ".join(machine.text().split())


def line(machine: Machine) -> str:
    return machine.app.screen.query_one(EntryLine).text


def by_number(machine: Machine) -> dict[object, Standing]:
    """How the switches stand, by number."""
    found = machine.reader().state(machine.job).standings.values()
    return {one.cell.number: one for one in found if one.cell.key.matrix == "switches"}


async def at_once(machine: Machine, text: str) -> None:
    """Type a text without waiting for anything between its keys; a bar is Enter."""
    for sign in text:
        name = {"|": "enter", "-": "minus", "+": "plus"}.get(sign, sign)
        machine.app.post_message(events.Key(name, "\r" if sign == "|" else sign))
    await machine.settle()


@AT_EACH_SIZE
@pytest.mark.parametrize("keys", ["g 1", ""], ids=["roll", "job"])
async def test_what_is_typed_after_refused_entries_is_not_lost_and_neither_are_they(
    run: Run, keys: str, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press(*keys.split())
        await at_once(machine, "99|24|98+31|25-|21+97|26|")
        marks = {cell: machine.mark(cell) for cell in ("r4c2", "r5c2", "r6c2", "r1c2", "r1c3")}
        assert marks == {
            "r4c2": Mark.WORKING,
            "r5c2": Mark.DEAD,
            "r6c2": Mark.WORKING,
            "r1c2": Mark.UNTESTED,
            "r1c3": Mark.UNTESTED,
        }
        assert "! 3 refused: 99 · 98+31 · 21+97. F6 takes the first up again, Del drops it." in said(machine)


async def test_a_sign_typed_after_a_refused_number_does_not_speak_of_the_one_before(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await at_once(machine, "24|99|-|+31|")
        standing = by_number(machine)
        assert (standing[24].mark, standing[24].echoed) == (Mark.WORKING, ())
        assert "3 refused: 99 · - · +31" in said(machine)


@pytest.mark.parametrize(
    ("key", "mark"), some_of([("enter", Mark.WORKING), ("minus", Mark.DEAD), ("asterisk", Mark.STUCK)], 1)
)
async def test_a_key_after_a_refused_number_does_not_mark_the_cell_under_the_cursor(
    run: Run, key: str, mark: Mark
) -> None:
    async with run() as machine:
        await machine.type("99")
        await machine.press(key)
        assert machine.mark("r1c1") is Mark.UNTESTED
        assert "Press the key again" in machine.text()
        await machine.press(key)
        assert machine.mark("r1c1") is mark


async def test_a_refused_number_does_not_take_the_next_key_from_a_walk(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        await at_once(machine, "199||-")
        assert machine.mark("r1c1", "lamps") is Mark.WORKING
        assert machine.mark("r2c1", "lamps") is Mark.DEAD
        assert "1 refused: 199" in said(machine)


async def test_a_refused_entry_is_not_gone_before_it_is_fixed(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await at_once(machine, "24+99|25|26|27|")
        assert "1 refused: 24+99" in said(machine)
        await machine.press("f6")
        assert line(machine) == "24+99"
        await machine.press("escape")
        assert "1 refused: 24+99" in said(machine), "Esc lets go of it and drops nothing"
        await machine.press("f6", "backspace", "backspace", "3", "1", "enter")
        assert "refused" not in machine.text()
        standing = by_number(machine)
        assert [key.address for key in standing[24].echoed] == ["r1c3"]


async def test_the_key_that_drops_does_not_drop_more_than_one(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await at_once(machine, "98|99|")
        await machine.press("delete")
        assert "dropped: 98" in machine.text()
        assert "1 refused: 99" in said(machine)
        await machine.press("f6", "delete")
        assert line(machine) == ""
        assert "refused" not in machine.text()
        await machine.press("f6", "delete")
        assert "nothing was refused" in machine.text()


async def test_backspace_after_a_refused_number_takes_nothing_back_that_was_kept(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("24")
        await machine.type("99")
        await machine.press("backspace", "backspace", "backspace")
        assert machine.mark("r4c2") is Mark.UNTESTED, "with nothing typed any more it undoes, as ever"
        await machine.press("f5")
        await machine.type("98")
        await machine.press("backspace")
        assert line(machine) == "9"
        await machine.press("backspace", "2", "5", "enter")
        assert machine.mark("r4c2") is Mark.WORKING
        assert machine.mark("r5c2") is Mark.WORKING


async def test_a_round_that_ends_does_not_take_what_was_refused_along(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        await at_once(machine, "199|")
        await machine.press("escape", "tab")
        assert isinstance(machine.app.screen, JobScreen)
        assert "1 refused: 199" in said(machine)
        await machine.press("f6")
        assert "lamps 0/60" in machine.text(), "it is put right in the matrix that it was typed for"
        await machine.press("backspace", "backspace", "backspace", "1", "9", "enter")
        assert machine.mark("r3c3", "lamps") is Mark.WORKING
        assert "refused" not in machine.text()


async def test_a_round_through_another_matrix_does_not_take_it_for_its_own(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("199")
        await machine.press("shift+tab", "g", "1")
        assert isinstance(machine.app.screen, RollScreen)
        assert "1 refused: 199" in said(machine)
        await machine.press("f6")
        assert "199 is of lamps: end the round to put it right" in said(machine)
        assert line(machine) == ""


@pytest.mark.parametrize("key", ["b", "q"])
async def test_neither_bench_nor_quit_loses_it_unasked(run: Run, key: str) -> None:
    async with run() as machine:
        await machine.type("99")
        await machine.press(key)
        assert isinstance(machine.app.screen, AskScreen)
        assert "1 entry was refused. Leave without it?" in said(machine)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert "1 refused: 99" in said(machine)


async def test_what_the_book_refuses_later_is_not_lost(
    run: Run, bench: CannedBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        assert isinstance(machine.app.screen, WalkScreen)
        kept = bench.mark

        def mark(job: str, matrix_id: str, text: str) -> object:
            return kept(job, matrix_id, "199" if text == "r2c1-" else text)

        monkeypatch.setattr(bench, "mark", mark)
        await at_once(machine, "--|")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert machine.mark("r2c1", "lamps") is Mark.UNTESTED
        assert machine.mark("r3c1", "lamps") is Mark.WORKING
        assert "1 refused: r2c1-" in said(machine)


def test_before_it_has_its_room_the_line_squeezes_nothing_into_the_width_of_what_was_said() -> None:
    line = EntryLine("number and Enter")
    line.say("kept: 24 right outlane")
    line.set_aside("! 1 refused: 99. F6 takes it up again, Del drops it.")
    line.wait("not kept yet: 25")
    words = ["".join(part for part, _ in row).strip() for row in line.rows]
    assert words[1:] == ["kept: 24 right outlane", "not kept yet: 25"]
    assert words[0].endswith("! 1 refused: 99. F6 takes it up again, Del drops it.")
