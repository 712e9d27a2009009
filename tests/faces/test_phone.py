"""On a phone: every control can be reached with a finger, nothing of it lies beyond the edge, no other keyboard is
needed for numbers."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilots import PHONE, CannedBench, Clock, Machine, Run, at_sizes, column_three, with_hold
from textual.containers import VerticalScroll

from matrixcheck.layout.form import layout_in
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.keymap import NO_KEYMAP, list_of
from matrixcheck.tui.screens.help import HelpScreen
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from tests.samples import some_of

LOW = (39, 30)
SCREENS = {
    "job": ("switches", ""),
    "roll": ("switches", "g 1"),
    "walk": ("lamps", "g 1"),
    "timed-walk": ("lamps", "g 2"),
    "all at once": ("lamps", "g 3"),
    "rest scan": ("switches", "g 3"),
    "hold round": ("switches", "g 4 enter 2 1 space 3 2 enter enter"),
    "later list": ("switches", "l"),
    "checks": ("switches", "s k"),
    "parts": ("switches", "p"),
    "safety": ("switches", "a"),
    "log": ("switches", "h"),
}
SOME = pytest.mark.parametrize("name", some_of(SCREENS, 5))


@pytest.fixture(autouse=True)
def _something_to_show(bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    bench.mark(job, "switches", "11 12 24- 32- 33- 34- 35- 36- 37- 61.")


async def opened(machine: Machine, keys: str) -> Page:
    """The screen that some keys lead to."""
    await machine.press(*keys.split())
    screen = machine.app.screen
    assert isinstance(screen, Page)
    return screen


@SOME
@at_sizes(LOW, slow=[PHONE])
async def test_no_button_lies_beyond_the_edge(run: Run, name: str, size: tuple[int, int]) -> None:
    matrix, keys = SCREENS[name]
    async with run(size, matrix=matrix, clock=Clock()) as machine:
        screen = await opened(machine, keys)
        bar = screen.query_one("#keys", KeyBar)
        assert bar.region.bottom <= size[1]
        assert bar.size.height == len(bar.rows)
        assert "…" not in plain(bar.rows)


@SOME
async def test_whatever_a_key_does_can_be_tapped(run: Run, name: str) -> None:
    """By a button, or in the list that the button `keys` (`more` at the job) shows, which scrolls."""
    matrix, keys = SCREENS[name]
    async with run(PHONE, matrix=matrix, clock=Clock()) as machine:
        screen = await opened(machine, keys)
        every = list_of(screen.PLACE, NO_KEYMAP)
        await machine.tap("more" if name == "job" else "keys", last=True)
        assert isinstance(machine.app.screen, HelpScreen)
        listed = " ".join(plain(machine.app.screen.query(Lines).first().rows).split())
        assert [cap.meaning for cap in every if cap.meaning not in listed] == []
        shown = machine.app.screen.query_one(VerticalScroll)
        shown.scroll_end(animate=False)
        await machine.settle()
        assert shown.scroll_offset.y == shown.max_scroll_y


async def test_an_action_far_down_the_list_is_done_when_it_is_tapped(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.tap("more")
        machine.app.screen.query_one(VerticalScroll).scroll_relative(y=10, animate=False)
        await machine.settle()
        await machine.tap("back to the bench")
        assert "The bench" in machine.text()


@at_sizes(LOW, slow=[PHONE])
async def test_an_entry_is_typed_on_the_keypad_in_place_of_the_buttons(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.tap("pad")
        for key in ("4", "4", "+", "1", "1", "Enter"):
            await tap_key(machine, key)
        standing = machine.reader().state(machine.job).standings[CellKey("switches", 4, 4)]
        assert standing.mark is Mark.WORKING
        assert standing.echoed == (CellKey("switches", 1, 1),)
        await tap_key(machine, "back")
        await machine.tap("dead", last=True)
        assert machine.mark("r4c4") is Mark.DEAD


async def test_what_glows_faintly_is_typed_on_the_keypad_during_a_walk(run: Run) -> None:
    async with run(PHONE, matrix="lamps") as machine:
        await machine.press("g", "1")
        await machine.tap("pad")
        for key in ("~", "3", "⌫", "9", "Enter"):
            await tap_key(machine, key)
        standing = machine.reader().state(machine.job).standings[CellKey("lamps", 1, 1)]
        assert standing.faint == (CellKey("lamps", 1, 2),)


async def test_switches_to_hold_are_typed_on_a_keypad(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run(PHONE) as machine:
        await machine.press("g", "4")
        for key in ("2", "1", "space", "3", "2", "Enter"):
            await tap_key(machine, key)
        held = machine.reader().state(machine.job).round.held
        assert held == (CellKey("switches", 1, 2), CellKey("switches", 2, 3))


async def test_the_places_of_a_suspect_stay_in_sight_below_long_checks(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.press("s", "k")
        assert "Q3" in machine.text().partition("What did you find")[2]
        await machine.tap("good")
        assert "kept: Q3 found good" in machine.text()


async def tap_key(machine: Machine, word: str) -> None:
    """Tap the middle of a key of the keypad on the screen."""
    bar = machine.app.screen.query(KeyBar).last()
    for y, spans in enumerate(bar.rows):
        x = 0
        for text, _ in spans:
            if text.strip() == word:
                await machine.pilot.click(bar, offset=(x + len(text) // 2, y))
                await machine.settle()
                return
            x += len(text)
    raise AssertionError(f"no key {word!r}: {plain(bar.rows)}")


async def test_of_a_grid_too_wide_a_part_is_shown_and_a_tap_above_it_turns_over(run: Run, tmp_path: Path) -> None:
    names = [[f"place {row}-{column}" for column in range(1, 17)] for row in range(1, 17)]
    matrix = {"id": "wide", "kind": "switch", "numbering": "down-columns", "cells": names}
    other = CannedBench(tmp_path / "wide.book")
    wide = other.new_job(layout_in({"format": 1, "name": "Wide", "matrix": [matrix]}), "Invented")
    async with run(PHONE, on=other, of=wide) as machine:
        grid = machine.app.screen.query_one(MatrixGrid)
        shown = grid.geometry.columns
        assert 7 <= shown < 16
        assert "«" not in machine.text()
        await machine.tap("»")
        await machine.tap(f"{16 * shown + 3}∙")
        assert grid.cursor == CellKey("wide", 3, shown + 1)
        await machine.tap("dead", last=True)
        assert machine.reader().state(wide).standings[CellKey("wide", 3, shown + 1)].mark is Mark.DEAD
        await machine.tap("«")
        assert "  1" in machine.text().split("\n")[2]
        assert "«" not in machine.text()


async def test_what_a_repair_calls_for_has_its_sign_on_a_phone_too(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "24- 25.")
    bench.repair(job, "switches.r4c2")
    async with run(PHONE) as machine:
        lines = machine.text().split("\n")
        first = next(y for y, line in enumerate(lines) if "24∙" in line)
        later = next(y for y, line in enumerate(lines) if "25∙" in line)
        assert "↻" in lines[first + 1]
        assert "." in lines[later + 1]
        assert "1 to test again after a repair" in " ".join(machine.text().split())
