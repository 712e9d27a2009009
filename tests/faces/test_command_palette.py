"""The command palette: the actions of the screen by name, on every screen, and nothing of Textual's own."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, Machine, Run
from textual import events
from textual.app import App
from textual.screen import ModalScreen

from matrixcheck.layout.reading import Mark
from matrixcheck.tui.action import Place
from matrixcheck.tui.actions import BENCH, JOB, NEW_JOB, ROLL, WALK
from matrixcheck.tui.keymap import NO_KEYMAP, list_of
from matrixcheck.tui.screens.find import FindScreen
from matrixcheck.tui.screens.help import HelpScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.widgets.entry_line import EntryLine
from tests.samples import some_of

PALETTE = App.COMMAND_PALETTE_BINDING


def offered(machine: Machine) -> list[str]:
    """All that the palette would find, in the table's order."""
    screen = machine.app.screen
    assert isinstance(screen, FindScreen)
    return [name.partition("  (")[0] for name in screen._choices]


@AT_EACH_SIZE
@pytest.mark.parametrize(
    ("matrix", "keys", "place"),
    some_of(
        [
            (None, ("b",), BENCH),
            (None, ("b", "n"), NEW_JOB),
            ("switches", (), JOB),
            ("switches", ("g", "1"), ROLL),
            ("lamps", ("g", "1"), WALK),
        ],
        2,
    ),
    ids=["bench", "new job", "job", "roll", "walk"],
)
async def test_it_offers_the_actions_of_the_screen_and_nothing_else(
    run: Run, size: tuple[int, int], matrix: str | None, keys: tuple[str, ...], place: Place
) -> None:
    async with run(size, matrix=matrix) as machine:
        await machine.press(*keys, PALETTE)
        assert offered(machine) == [cap.meaning for cap in list_of(place, NO_KEYMAP) if cap.action != "actions"]


async def test_a_command_is_done_by_its_name_where_letters_are_typed(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("24")
        await machine.press(PALETTE, *"undo", "enter")
        assert machine.mark("r4c2") is Mark.UNTESTED


async def test_enter_at_once_behind_the_last_letter_does_what_all_letters_name(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "enter", "enter")
        for key in (PALETTE, *"undo", "enter"):
            await machine.pilot.press(key)
        await machine.settle()
        assert isinstance(machine.app.screen, WalkScreen)
        assert machine.mark("r1c1", "lamps") is Mark.UNTESTED


async def test_the_palette_takes_nothing_that_was_typed_before_it(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        for key, character in (("minus", "-"), (PALETTE, "\x10"), ("u", "u"), ("n", "n")):
            machine.app.post_message(events.Key(key, character))
        await machine.settle()
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert machine.app.screen.query_one(EntryLine).text == "un"


async def test_the_palette_does_not_open_over_itself_or_over_the_help(run: Run) -> None:
    async with run() as machine:
        await machine.press(PALETTE, PALETTE)
        assert len([one for one in machine.app.screen_stack if isinstance(one, ModalScreen)]) == 1
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        await machine.press("question_mark", PALETTE)
        assert isinstance(machine.app.screen, HelpScreen)
