"""A terminal that is turned, or made narrower, while a screen is open."""

from __future__ import annotations

import pytest
from pilots import PHONE, CannedBench, Clock, Machine, Run, column_three

from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines

MIDDLE = (60, 28)
SCREENS = {
    "choose a round": "g",
    "choose what to hold": "g 4",
    "note": "w",
    "why later": "o",
    "safety": "a",
    "functions": "t",
    "repair": "m",
    "put the layout right": "j",
    "checks": "s k",
    "parts": "p",
}


async def turn(machine: Machine, size: tuple[int, int]) -> None:
    """Turn the terminal, and wait until the open screen has keys for its new width."""
    await machine.pilot.resize_terminal(*size)
    await machine.until(lambda: machine.app.screen.query(KeyBar).first().tall is (size == PHONE))
    await machine.settle()


def said(machine: Machine) -> list[str]:
    return [plain(lines.rows) for lines in machine.app.screen.query("Wrapped, #sheet Picks").results(Lines)]


async def test_no_word_is_cut_where_a_screen_was_opened_before_the_terminal_was_turned(
    run: Run, bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    bench.mark(job, "switches", "11 12 24- 32- 33- 34- 35- 36- 37- 61.")
    async with run(MIDDLE, clock=Clock()) as machine:
        for name, keys in SCREENS.items():
            await machine.press(*keys.split())
            wide = said(machine)
            assert any(wide), name
            await turn(machine, PHONE)
            turned = said(machine)
            await machine.press(*["escape"] * len(keys.split()))
            await machine.press(*keys.split())
            assert turned == said(machine), name
            assert max(len(line) for each in turned for line in each.split("\n")) <= PHONE[0], name
            await turn(machine, MIDDLE)
            assert said(machine) == wide, name
            await machine.press(*["escape"] * len(keys.split()))
