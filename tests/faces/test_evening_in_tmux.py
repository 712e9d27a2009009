"""An evening typed at a real terminal in tmux, over all five matrices, with slips, a repair and a restart.

Every picture of the terminal is read for words that were replaced; the journal is compared with what was typed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from tests.machines import saltmarsh_tram
from tests.unit.test_words import REPLACED

PATIENCE = 30.0
LOOK_SECONDS = 0.1


class Terminal:
    """A terminal of its own server, so that nobody's settings and sessions are touched."""

    def __init__(self, folder: Path, size: tuple[int, int]) -> None:
        assert shutil.which("tmux"), "this test needs tmux: apt-get install tmux"
        self._folder, self._opened = folder, 0
        self._size = size
        self.read: list[str] = []

    def open(self, book: Path) -> None:
        """Start the program at the bench."""
        # A new socket each time: a server that was just ended may still be on its way out.
        self._opened += 1
        columns, rows = map(str, self._size)
        command = f"{sys.executable} -m matrixcheck.cli.main --book {book} open"
        self._do("new-session", "-d", "-x", columns, "-y", rows, command)
        self._do("set-option", "-s", "escape-time", "0")

    @property
    def _tmux(self) -> tuple[str, ...]:
        return "tmux", "-S", str(self._folder / f"socket-{self._opened}"), "-f", "/dev/null"

    def _do(self, *words: str) -> str:
        # A size that is set here would count for more than the terminal's own.
        environment = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES")}
        done = subprocess.run([*self._tmux, *words], check=True, capture_output=True, text=True, env=environment)
        return done.stdout

    def see(self, words: str) -> None:
        """Wait until these words stand on the screen, however their line is broken."""
        end = time.monotonic() + PATIENCE
        while words not in (shown := " ".join((picture := self._do("capture-pane", "-p")).split())):
            assert time.monotonic() < end, f"{words!r} never came:\n{picture}"
            time.sleep(LOOK_SECONDS)
        self.read.append(shown)

    def press(self, *keys: str) -> None:
        """Press keys by tmux's names for them."""
        self._do("send-keys", *keys)

    def type(self, text: str, words: str) -> None:
        """Type a text, and wait for words."""
        self._do("send-keys", "-l", "--", text)
        self.see(words)

    def enter(self, text: str, words: str) -> None:
        """Type a text and Enter, and wait for words."""
        self._do("send-keys", "-l", "--", text)
        self.press("Enter")
        self.see(words)

    def kill(self) -> None:
        """Take the terminal away, whatever runs in it."""
        subprocess.run([*self._tmux, "kill-server"], check=False, capture_output=True)


@pytest.fixture(params=[(100, 32), (60, 28)], ids=["100x32", "60x28"])
def terminal(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Terminal]:
    opened = Terminal(tmp_path, request.param)
    yield opened
    opened.kill()


def roll_switches(terminal: Terminal) -> None:
    """A roll with a slip, a number that isn't there, one that brought another along, and an undo."""
    terminal.type("g", "A round through switches")
    terminal.type("1", "60 left to test")
    terminal.enter("24", "kept: 24 right outlane ✓ working")
    terminal.enter("24-", "corrected from working")
    terminal.enter("41+42", "42 answered too")
    terminal.enter("99", "1 refused: 99")
    terminal.enter("53", "kept: 53")
    terminal.press("DC")
    terminal.see("dropped: 99")
    terminal.enter("61", "kept: 61")
    terminal.press("BSpace")
    terminal.see("undone")
    terminal.press("Escape")
    terminal.see("The round: 3 tested, 1 dead (24)")


def repair_column(terminal: Terminal) -> None:
    """A column that is dead, its repair, a rest scan, something put off, a note."""
    terminal.enter("11 12 21 22", "kept: ")
    terminal.enter("c3-", "kept: 8 dead")
    terminal.see("1 Switch column 3 is open")
    terminal.type("s", "▸1 Switch column 3 is open")
    terminal.type("m", "Repair")
    terminal.press("Enter")
    terminal.see("repaired; 8 cells are to be tested again")
    terminal.type("g", "A round through switches")
    terminal.type("3", "numbers that show")
    terminal.type("z", "> ▏ number and Enter")
    terminal.enter("55.", "kept: 55 lamp room later")
    terminal.type("w", "note")
    terminal.enter("plug was loose", "kept: the note")


def retest(terminal: Terminal, book: Path) -> None:
    """What the repair made due tested again; the program is ended in the midst of it."""
    terminal.type("e", "1 of 8")
    terminal.press("Enter")
    terminal.see("kept: 31")
    terminal.press("Enter")
    terminal.see("kept: 32")
    terminal.kill()
    terminal.open(book)
    terminal.see("pier arcade")
    terminal.press("Enter")
    terminal.see("number and Enter")
    terminal.type("e", "of 6")
    for number in (33, 34, 35, 36, 37):
        terminal.press("Enter")
        terminal.see(f"kept: {number}")
    terminal.press("Enter")
    terminal.see("kept: 38")
    terminal.press("Escape")
    terminal.see("The round: 6 tested")


def hold_some(terminal: Terminal) -> None:
    """A hold round: what shows with two kept closed, then one that answers beside them."""
    terminal.type("g", "A round through switches")
    terminal.type("4", "keep them closed")
    terminal.enter("61 42", "Tick all that show")
    terminal.press("Tab")
    terminal.see("8 ticked")
    terminal.press("Enter")
    terminal.see("58 left to press")
    terminal.enter("44", "kept: 44 salt pan 4 ✓ working")
    terminal.press("Escape")
    terminal.see("The round: 1 tested")


def look_at_lamps(terminal: Terminal) -> None:
    """A walk with a dark lamp, one put off and an undo; a timed walk; all at once."""
    terminal.press("Tab")
    terminal.see("lamps 0/60")
    terminal.type("g", "A round through lamps")
    terminal.type("1", "Enter: works")
    terminal.press("Enter", "Enter")
    terminal.see("kept: 1 tram letter T ✓ working")
    terminal.type("-", "kept: 2 tram letter R ✗ dead")
    terminal.type("o", "why later?")
    terminal.press("Enter")
    terminal.see("kept: 3 tram letter A later")
    terminal.type("u", "undone")
    terminal.press("Escape")
    terminal.see("The round: 2 tested, 1 dead (2)")
    terminal.type("g", "A round through lamps")
    terminal.type("2", "press only what is wrong")
    terminal.press("Enter")
    terminal.see("Press Enter again")
    terminal.enter("20", "Enter step")
    terminal.type("*", "kept: 1 tram letter T * stuck")
    terminal.press("Escape")
    terminal.see("number and Enter")
    terminal.type("g", "A round through lamps")
    terminal.type("3", "number of a dark one")
    terminal.enter("5", "kept: 5 play again ✗ dead")
    terminal.press("Escape")
    terminal.see("1 dead (5)")


def go_through_the_others(terminal: Terminal) -> None:
    """Coils, direct inputs and lighting strings."""
    terminal.press("Tab")
    terminal.see("coils 0/30")
    terminal.type("g", "A round through coils")
    terminal.type("1", "Enter: works")
    terminal.press("Enter", "Enter")
    terminal.see("kept: 1 ")
    terminal.type("-", "kept: 2 auto launch ✗ dead")
    terminal.press("Escape")
    terminal.see("The round: 2 tested, 1 dead (2)")
    terminal.press("Tab")
    terminal.see("inputs 0/6")
    terminal.type("g", "A round through inputs")
    terminal.type("1", "6 left to test")
    terminal.enter("91", "kept: 91 coin slot left ✓ working")
    terminal.press("Escape")
    terminal.see("The round: 1 tested")
    terminal.press("Tab")
    terminal.see("lighting 0/13")
    terminal.type("g", "A round through lighting")
    terminal.type("1", "Enter: works")
    terminal.press("Enter", "Enter")
    terminal.see("kept: 11 left sling lights ✓ working")
    terminal.press("Escape")
    terminal.see("The round: 1 tested")


def begin_from_the_later_list(terminal: Terminal) -> None:
    """A round over what is reached in one way, from the list of what is left."""
    terminal.type("l", "start button")
    terminal.press("Enter")
    terminal.see("A round through 1 cell of inputs")
    terminal.type("1", "1 left to test")
    terminal.enter("93", "kept: 93 start button ✓ working")
    terminal.press("Escape")
    terminal.see("The round: 1 tested")


@pytest.mark.slow
def test_an_evening_over_five_matrices_is_kept_as_it_was_typed(terminal: Terminal, tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    job = Bench(book).new_job(saltmarsh_tram(), "pier arcade")
    terminal.open(book)
    terminal.see("pier arcade")
    terminal.press("Enter")
    terminal.see("switches 0/60")
    roll_switches(terminal)
    repair_column(terminal)
    retest(terminal, book)
    hold_some(terminal)
    look_at_lamps(terminal)
    go_through_the_others(terminal)
    begin_from_the_later_list(terminal)

    # To the bench, and back to where it was left.
    terminal.type("b", "The bench")
    terminal.press("Enter")
    terminal.see("lighting 1/13")

    state = Bench(book).state(job)
    marks = {str(one.cell.key.matrix): {} for one in state.standings.values()}
    for one in state.standings.values():
        if one.mark is not Mark.UNTESTED:
            marks[one.cell.key.matrix][one.cell.number] = one.mark
    works, dead, stuck = Mark.WORKING, Mark.DEAD, Mark.STUCK
    assert marks["switches"] == {
        **dict.fromkeys((11, 12, 21, 22, 41, 44, 53), works),
        **dict.fromkeys(range(31, 39), works),
        24: dead,
    }
    assert marks["lamps"] == {1: stuck, 2: dead, 5: dead}
    assert marks["coils"] == {1: works, 2: dead}
    assert marks["inputs"] == {91: works, 93: works}
    assert marks["lighting"] == {11: works}
    assert [one.cell.number for one in state.standings.values() if one.deferred is not None] == [55]
    assert any(one.event.kind == "note" for one in state.history)
    assert Bench(book).verify() >= len(state.history)
    assert len(terminal.read) > 60
    for shown in terminal.read:
        assert not [words for words in REPLACED if words in shown.casefold()], shown
