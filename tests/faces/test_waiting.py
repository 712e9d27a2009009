"""Entries that the book doesn't take at once: they wait in order, in sight, until they are kept or dropped by hand."""

from __future__ import annotations

import asyncio
import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from pilots import NARROW, NOON, PHONE, CannedBench, Run, at_sizes, silent
from stillness import BREATH
from textual.app import App

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.layout.reading import Mark
from matrixcheck.record.answers import Kept
from matrixcheck.record.events import Read
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.waiting import WaitingScreen


@pytest.fixture
def hasty(bench: CannedBench) -> Iterator[CannedBench]:
    """The same book, on which one try waits for others only a moment."""
    bench.close()
    hasty = CannedBench(bench.path, clock=lambda: NOON, patience=0.02)
    yield hasty
    hasty.close()


@pytest.fixture
def other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Another book, not there yet, in the folder in which the program runs."""
    monkeypatch.chdir(tmp_path)
    return tmp_path / "rescue.book"


@pytest.fixture
def lock(hasty: CannedBench) -> Iterator[sqlite3.Connection]:
    """Another program that holds the book until it rolls back."""
    other = sqlite3.connect(hasty.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield other
    other.close()


@pytest.fixture
def slow(bench: CannedBench, monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """The book keeps no mark before this is set."""
    mark, goes_on = bench.mark, threading.Event()

    def slowly(*what: str) -> tuple[Kept, ...]:
        assert goes_on.wait(30)
        return mark(*what)

    monkeypatch.setattr(bench, "mark", slowly)
    return goes_on


async def test_entries_typed_while_another_program_holds_the_book_wait_in_sight_and_are_kept_in_order(
    run: Run, hasty: CannedBench, lock: sqlite3.Connection
) -> None:
    async with run(on=hasty) as machine:
        for typed in ("24-", "31", "24"):
            await machine.type(typed)
        assert "24- · 31 · 24" in machine.text()
        assert "locked" in machine.text()
        assert machine.mark("r4c2") is machine.mark("r1c3") is Mark.UNTESTED
        await machine.press("5")
        assert machine.app.screen.query_one("#entry").text == "5"  # type: ignore[attr-defined]
        lock.execute("ROLLBACK")
        machine.app.keeping.try_again()
        await machine.until(lambda: not machine.app.keeping.busy)
        await machine.settle()
        assert "NOT KEPT" not in machine.text()
        history = machine.reader().state(machine.job).history[1:]
        assert [one.event.reading.cell.address for one in history] == ["r4c2", "r1c3", "r4c2"]  # type: ignore[union-attr]


async def test_a_whole_roll_can_be_typed_and_ended_while_the_book_is_held(
    run: Run, hasty: CannedBench, lock: sqlite3.Connection
) -> None:
    async with run(on=hasty) as machine:
        await machine.press("g", "1")
        assert isinstance(machine.app.screen, RollScreen)
        for typed in ("24", "31-"):
            await machine.type(typed)
        assert "start of a roll · 24 · 31-" in machine.text().replace("r2c4", "24").replace("r4c2", "24")
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        lock.execute("ROLLBACK")
        machine.app.keeping.try_again()
        await machine.until(lambda: not machine.app.keeping.busy)
        kinds = [one.event.kind for one in machine.reader().state(machine.job).history[1:]]
        assert kinds == ["round-started", "reading", "reading", "round-ended"]


async def test_a_key_is_over_only_once_a_slow_book_has_kept_it_though_it_is_said_to_wait(
    run: Run, slow: threading.Event
) -> None:
    async with run() as machine:
        await machine.press("2", "4", "minus")
        pressed = asyncio.create_task(machine.press("enter"))
        await machine.until(lambda: machine.app.keeping.waiting == ("24-",) and "24-" in machine.text())
        for _ in range(5):
            await machine.pilot.pause(BREATH)
        assert not pressed.done()
        slow.set()
        await pressed
        assert machine.mark("r4c2") is Mark.DEAD
        assert "kept: 24" in machine.text()


@at_sizes(PHONE, slow=[NARROW])
async def test_the_lines_that_say_what_waits_are_given_back_to_the_grid_once_it_is_kept(
    run: Run, slow: threading.Event, size: tuple[int, int]
) -> None:
    async with run(size, matrix="lamps") as machine:
        await machine.press("g", "1")
        room = machine.app.screen.query_one("#grid-room")
        before = room.size
        await machine.pilot.press("minus")
        await machine.until(lambda: bool(machine.app.keeping.waiting) and room.size.height < before.height)
        slow.set()
        await machine.settle()
        assert room.size == before


async def test_undo_of_what_a_slow_book_is_about_to_keep_undoes_it(run: Run, slow: threading.Event) -> None:
    async with run() as machine:
        await machine.press("2", "4", "minus")
        await machine.pilot.press("enter")
        await machine.until(lambda: machine.app.keeping.waiting == ("24-",))
        await machine.pilot.press("u")
        slow.set()
        await machine.settle()
        assert machine.mark("r4c2") is Mark.UNTESTED
        assert "undone: switch 24" in machine.text()


async def test_undo_drops_the_entry_made_last_and_the_others_are_kept(
    run: Run, hasty: CannedBench, lock: sqlite3.Connection
) -> None:
    async with run(on=hasty) as machine:
        for typed in ("24-", "31", "32"):
            await machine.type(typed)
        await machine.press("u")
        assert machine.app.keeping.waiting == ("24-", "31")
        await machine.press("f3")
        assert isinstance(machine.app.screen, WaitingScreen)
        await machine.press("backspace")
        assert "31" not in "".join(machine.app.keeping.waiting)
        lock.execute("ROLLBACK")
        await machine.press("enter")
        await machine.until(lambda: isinstance(machine.app.screen, JobScreen))
        assert len(machine.reader().state(machine.job).history) == 2


async def test_quitting_while_entries_wait_asks_first(run: Run, hasty: CannedBench, lock: sqlite3.Connection) -> None:
    del lock
    async with run(on=hasty) as machine:
        await machine.type("24-")
        await machine.press("q")
        assert isinstance(machine.app.screen, AskScreen)
        assert "24-" in machine.text()
        await machine.press("escape")
        assert machine.app.keeping.waiting == ("24-",)


async def test_a_book_that_was_moved_away_keeps_nothing_until_it_is_back(run: Run, hasty: CannedBench) -> None:
    async with run(on=hasty) as machine:
        await machine.type("24-")
        away = hasty.path.rename(hasty.path.with_name("away.book"))
        await machine.type("31")
        assert "is gone" in " ".join(machine.text().split())
        assert "kept: 31" not in machine.text()
        away.rename(hasty.path)
        machine.app.keeping.try_again()
        await machine.until(lambda: not machine.app.keeping.busy)
        assert machine.mark("r1c3") is Mark.WORKING


async def test_what_waits_after_the_book_was_moved_away_is_kept_elsewhere_by_hand(
    run: Run, hasty: CannedBench, other: Path
) -> None:
    async with run(on=hasty) as machine:
        for typed in ("21-", "22-"):
            await machine.type(typed)
        await machine.press("u")
        hasty.path.rename(hasty.path.with_name("away.book"))
        for typed in ("24-", "31", "32-"):
            await machine.type(typed)
        await machine.press("f3")
        await machine.tap("keep elsewhere")
        await machine.type(other.name)
        await machine.until(lambda: not machine.app.keeping.busy)
        await machine.settle()
        assert isinstance(machine.app.screen, JobScreen)
        assert "now in rescue.book" in machine.text()
        assert "NOT KEPT" not in machine.text()
        assert cells_in(other, machine.job) == ["r1c2", "r4c2", "r1c3", "r2c3"]
        assert machine.app.screen.analysed
        await machine.press("u")
        await machine.type("33")
        assert cells_in(other, machine.job) == ["r1c2", "r4c2", "r1c3", "r3c3"]
        assert machine.reader().verify() == 7
        await machine.press("b")
        assert "now in rescue.book" in machine.text()


def cells_in(book: Path, job: str) -> list[str]:
    """The cells of the readings that count in a book, oldest first, as a second process reads them."""
    history = Bench(book, clock=lambda: NOON).state(job).history
    return [one.event.reading.cell.address for one in history if isinstance(one.event, Read) and one.event.reading.cell]


async def test_what_was_kept_elsewhere_is_analysed_though_it_bears_a_number_that_was_analysed_before(
    run: Run, hasty: CannedBench, other: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    analysed: list[int] = []
    second = hasty.new_job(hasty.state(hasty.jobs()[0].id).layout, "the one behind")

    def answer() -> Diagnosis:
        analysed.append(len(hasty.state(second).current))
        return silent()

    monkeypatch.setattr(CannedBench, "answer", staticmethod(answer))
    async with run(on=hasty, of=second) as machine:
        assert (hasty.state(second).seq, analysed) == (2, [0])
        hasty.path.rename(hasty.path.with_name("away.book"))
        await machine.type("24-")
        await machine.press("f3", "tab")
        await machine.type(other.name)
        await machine.until(lambda: not machine.app.keeping.busy)
        await machine.settle()
        assert hasty.state(second).seq == 2
        assert analysed[-1] == 1


async def test_a_roll_goes_on_in_the_other_book_and_ends_there(run: Run, hasty: CannedBench, other: Path) -> None:
    async with run(on=hasty) as machine:
        await machine.type("21-")
        await machine.press("u", "g", "1")
        await machine.type("24")
        hasty.path.rename(hasty.path.with_name("away.book"))
        await machine.press("3")
        await machine.until(lambda: "is gone" in " ".join(machine.text().split()))
        await machine.type("1-")
        await machine.press("f3", "tab")
        await machine.type(other.name)
        await machine.until(lambda: not machine.app.keeping.busy)
        await machine.settle()
        assert isinstance(machine.app.screen, RollScreen)
        await machine.type("32")
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert cells_in(other, machine.job) == ["r4c2", "r1c3", "r2c3"]
        assert machine.reader().state(machine.job).round is None


async def test_a_refused_file_is_said_where_it_was_named_and_all_goes_on_waiting(
    run: Run, hasty: CannedBench, other: Path
) -> None:
    other.mkdir()
    async with run(on=hasty) as machine:
        hasty.path.rename(hasty.path.with_name("away.book"))
        await machine.type("24-")
        await machine.press("f3", "tab")
        await machine.type(other.name)
        assert isinstance(machine.app.screen, WaitingScreen)
        assert "is a folder" in " ".join(machine.text().split())
        assert machine.app.keeping.waiting == ("24-",)
        await machine.press("tab", "escape")
        assert isinstance(machine.app.screen, WaitingScreen)


async def test_over_the_network_no_file_of_this_computer_can_be_named(run: Run, hasty: CannedBench) -> None:
    async with run(on=hasty, own_layouts=False) as machine:
        hasty.path.rename(hasty.path.with_name("away.book"))
        await machine.type("24-")
        await machine.press("f3")
        assert "keep elsewhere" not in machine.text()
        await machine.press("tab")
        assert isinstance(machine.app.screen, WaitingScreen)


async def test_a_book_that_turns_bad_is_said_once_and_ends_no_screen(run: Run, hasty: CannedBench) -> None:
    async with run(on=hasty) as machine:
        Path(hasty.path).rename(hasty.path.with_name("away.book"))
        await machine.until(lambda: "is gone" in " ".join(machine.text().split()))
        await machine.press("h")
        await machine.press("escape", "l")
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


@pytest.mark.parametrize("own", [True, False], ids=["at this computer", "over the network"])
async def test_over_the_network_no_command_of_the_palette_names_a_file_of_this_computer(
    run: Run, hasty: CannedBench, lock: sqlite3.Connection, own: bool
) -> None:
    del lock
    async with run(on=hasty, own_layouts=own) as machine:
        await machine.type("24-")
        await machine.press("f3", App.COMMAND_PALETTE_BINDING)
        assert "drop the entry made last" in machine.text()
        assert ("another book file" in machine.text()) is own


async def test_what_a_round_came_to_hides_no_call_back_of_an_entry_made_before_it_was_kept(
    run: Run, slow: threading.Event
) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.pilot.press("2", "4", "minus", "enter", "escape")
        await machine.until(lambda: isinstance(machine.app.screen, JobScreen))
        await machine.pilot.press("3", "1", "enter")
        await machine.until(lambda: len(machine.app.keeping.waiting) == 3)
        slow.set()
        await machine.settle()
        said = " ".join(machine.text().split())
        assert "kept: 31" in said
        assert "The round: 1 tested, 1 dead (24)." in said
