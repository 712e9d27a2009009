"""Undo belongs to where one is: to a round, or to the matrix on the screen; and it can be taken back."""

from __future__ import annotations

from pilots import Run

from matrixcheck.layout.reading import Mark


async def test_undo_in_a_round_stops_at_its_start_however_long_the_key_is_held(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("9-")
        await machine.press("g", "1", "right", "right", "minus")
        for _ in range(12):
            await machine.pilot.press("u")
        await machine.settle()
        assert machine.mark("r3c1", "lamps") is Mark.UNTESTED
        assert machine.mark("r1c2", "lamps") is Mark.DEAD
        assert "nothing of this round is left to undo" in machine.text()


async def test_backspace_in_a_roll_takes_nothing_back_from_before_it(run: Run) -> None:
    async with run() as machine:
        await machine.type("24-")
        await machine.press("g", "1")
        await machine.type("21")
        await machine.press("backspace", "backspace", "backspace")
        assert machine.mark("r1c2") is Mark.UNTESTED
        assert machine.mark("r4c2") is Mark.DEAD


async def test_an_undo_that_would_reach_another_matrix_names_it_and_asks_first(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("9-")
        await machine.press("tab", "u")
        shown = " ".join(machine.text().split())
        assert "The last entry is in another matrix, lamps. Undo it?" in shown
        assert "lamp 9" in shown
        await machine.press("escape")
        assert machine.mark("r1c2", "lamps") is Mark.DEAD
        await machine.press("u", "enter")
        assert machine.mark("r1c2", "lamps") is Mark.UNTESTED
        assert "undone: lamp 9" in machine.text()


async def test_a_redo_brings_back_what_was_undone_and_names_it(run: Run) -> None:
    async with run() as machine:
        await machine.type("24-")
        await machine.press("u", "y")
        assert machine.mark("r4c2") is Mark.DEAD
        assert "counts again: switch 24" in machine.text()
        await machine.press("y")
        assert "there is nothing to redo" in machine.text()


async def test_a_redo_in_a_roll_needs_no_letter(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("24")
        await machine.press("backspace", "f5")
        assert machine.mark("r4c2") is Mark.WORKING


async def test_undo_in_the_round_that_was_taken_up_again_reaches_to_its_start_only(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("9-")
        await machine.press("g", "1", "minus")
        machine.bench.close()
    async with run(matrix="lamps") as machine:
        await machine.press("u", "u")
        assert machine.mark("r1c1", "lamps") is Mark.UNTESTED
        assert machine.mark("r1c2", "lamps") is Mark.DEAD
