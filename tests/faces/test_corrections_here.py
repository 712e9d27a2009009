"""A slip is corrected where it is: by typing the number again, in the midst of a round."""

from __future__ import annotations

from pilots import Run

from matrixcheck.layout.reading import Mark


async def test_a_number_typed_again_with_another_verdict_corrects_the_first_and_typing_goes_on(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        for text in ("24", "25", "24-", "26"):
            await machine.type(text)
        standing = machine.reader().state(machine.job).standings
        cell = next(one for one in standing.values() if one.cell.number == 24)
        assert (cell.mark, cell.intermittent, cell.count) == (Mark.DEAD, False, 1)
        assert machine.mark("r6c2") is Mark.WORKING


async def test_a_correction_says_what_it_was_and_one_key_says_that_it_did_both(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("24")
        await machine.type("24-")
        assert "corrected from working; & if it did both" in " ".join(machine.text().split())
        await machine.press("ampersand")
        cell = next(one for one in machine.reader().state(machine.job).standings.values() if one.cell.number == 24)
        assert cell.intermittent
        assert "comes and goes" in machine.text()
        await machine.press("ampersand")
        assert "nothing was corrected" in machine.text()


async def test_a_device_judged_again_in_a_walk_is_corrected(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "right", "minus", "left", "enter")
        cell = next(
            one
            for one in machine.reader().state(machine.job).standings.values()
            if one.cell.key.matrix == "lamps" and one.cell.key.address == "r2c1"
        )
        assert (cell.mark, cell.intermittent) == (Mark.WORKING, False)
