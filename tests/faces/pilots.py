"""The screens under a test's hands: real keys and clicks in, plain text out; and canned answers of the analyser."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime

import pytest
from stillness import BREATH, PATIENCE
from textual._context import visible_screen_stack
from textual.pilot import Pilot

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.result import (
    CellState,
    Diagnosis,
    Explanation,
    Fault,
    FaultClass,
    NextTest,
    Searched,
    Suspect,
)
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.screens.job import JobScreen

NOON = datetime(2026, 11, 21, 12, 0, tzinfo=UTC)
WIDE, NARROW, PHONE = (100, 32), (60, 28), (39, 35)


def at_sizes(*sizes: tuple[int, int], slow: Sequence[tuple[int, int]] = ()) -> pytest.MarkDecorator:
    """Run a test at sizes of the screen, at some of them in the long run only."""
    marked = [*((size, ()) for size in sizes), *((size, pytest.mark.slow) for size in slow)]
    return pytest.mark.parametrize("size", [pytest.param(s, id=f"{s[0]}x{s[1]}", marks=marks) for s, marks in marked])


# The smallest screen has the least room, and finds most; a test that names no size has a wide one.
AT_EACH_SIZE = at_sizes(PHONE, slow=[WIDE, NARROW])

Run = Callable[..., AbstractAsyncContextManager["Machine"]]


def silent() -> Diagnosis:
    """A diagnosis with nothing in it."""
    return Diagnosis(explanations=(), suspects=(), cells=(), searched=Searched(exact=True, seconds=0.0))


def column_three() -> Diagnosis:
    """A canned answer: the driver of switch column 3, and one cell that speaks against it."""
    cells = tuple(CellKey("switches", row, 3) for row in range(2, 8))
    column = Suspect(
        id="s1",
        probability=0.94,
        members=(Fault(fault=FaultClass.OPEN, part="Q3", lines=(LineKey("switches", "column", 3),), cells=cells),),
        explains=cells,
        contradicts=(CellKey("switches", 1, 3),),
        untested=(CellKey("switches", 8, 3),),
        says="Column 3 is open at Q3 or before it: fits 6 results, 1 against, 1 untested.",
    )
    device = Suspect(
        id="s2",
        probability=0.31,
        members=(Fault(fault=FaultClass.DEVICE_DEAD, cells=(CellKey("switches", 4, 1),)),),
        explains=(CellKey("switches", 4, 1),),
        contradicts=(),
        untested=(),
        says="14 drain has a cause of its own: the switch, its diode or its wire.",
    )
    return Diagnosis(
        explanations=(Explanation(probability=0.9, suspects=("s1", "s2")),),
        suspects=(column, device),
        cells=(
            CellState(cell=cells[0], number=32, name="swing gate", mark=Mark.DEAD, private=0.01),
            CellState(cell=CellKey("switches", 8, 3), number=38, name="pier end", mark=Mark.UNTESTED, private=0.0),
        ),
        searched=Searched(exact=True, seconds=0.01),
    )


def with_hold() -> Diagnosis:
    """As before, and two things to do next: exercise 38, and press 31 with 21 and 32 held."""
    held = (CellKey("switches", 1, 2), CellKey("switches", 2, 3))
    tests = (
        NextTest(matrix="switches", cell=CellKey("switches", 8, 3), gain=0.8, says="test 38"),
        NextTest(matrix="switches", cell=CellKey("switches", 1, 3), held=held, gain=0.2, says="press 31, holding"),
    )
    return column_three().model_copy(update={"next": tests})


class Clock:
    """A steady clock that a test moves by hand."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class CannedBench(Bench):
    """A real bench whose analyser gives the answer that a test wants."""

    answer: Callable[[], Diagnosis] = staticmethod(silent)

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """The canned answer, and no better one."""
        del job, seconds, dropped
        yield type(self).answer()


class Machine:
    """A running screen under a test's hands."""

    def __init__(self, app: MatrixCheckApp, pilot: Pilot[None], bench: Bench, job: str) -> None:
        self.app = app
        self.pilot = pilot
        self.bench = bench
        self.job = job

    async def press(self, *keys: str) -> None:
        """Press keys one by one, and let the screen settle after each."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()

    async def type(self, text: str) -> None:
        """Type a text as single keys, then Enter."""
        await self.press(*text, "enter")

    async def click(self, selector: str, x: int, y: int) -> None:
        """Click inside a widget."""
        await self.pilot.click(selector, offset=(x, y))
        await self.settle()

    async def tap(self, text: str, last: bool = False) -> None:
        """Click on the first (or last) place where the screen shows this text."""
        lines = self.text().split("\n")
        spots = [(line.find(text), y) for y, line in enumerate(lines) if text in line]
        if not spots:
            raise AssertionError(f"{text!r} is not on the screen:\n{self.text()}")
        x, y = spots[-1 if last else 0]
        await self.pilot.click(offset=(x + len(text) // 2, y))
        await self.settle()

    async def settle(self) -> None:
        """Let messages, analysis, book and repaints run to their end."""
        await self.pilot.pause()
        while self._at_work() or self._on_their_way():
            await self.until(lambda: not self._at_work())
            await self.pilot.pause()

    def _at_work(self) -> bool:
        """Whether the analysis, the book or another worker has yet to end.

        Not an entry that the book refused and that is tried again. But one that only takes long, however long the
        screens have said already that it waits.
        """
        screen, keeping = self.app.screen, self.app.keeping
        return (
            (isinstance(screen, JobScreen) and not screen.analysed)
            or (keeping.busy and keeping.trouble is None)
            or any(not worker.is_finished for worker in self.app.workers if worker.group != "book")
        )

    def _on_their_way(self) -> bool:
        """Whether a message or a callback waits for the program or one of its widgets."""
        pumps = (self.app, *self.app._registry)
        waiting = any(not pump._message_queue.empty() or pump._next_callbacks for pump in pumps)
        return waiting or bool(self.app.screen._callbacks)

    async def until(self, holds: Callable[[], bool]) -> None:
        """Go on until something holds; fails when it doesn't within half a minute."""
        async with asyncio.timeout(PATIENCE):
            while not holds():
                await self.pilot.pause(BREATH)

    def text(self) -> str:
        """The screen as plain lines, with those that it lies over."""
        visible_screen_stack.set(self.app._background_screens)
        return "\n".join(strip.text.rstrip() for strip in self.app.screen._compositor.render_strips())

    def mark(self, address: str, matrix: str = "switches") -> Mark:
        """What the journal says of a cell, read by a bench of its own."""
        row, column = address[1:].split("c")
        return self.reader().state(self.job).standings[CellKey(matrix, int(row), int(column))].mark

    def reader(self) -> Bench:
        """Another bench on the same book, as a second process would have it."""
        return Bench(self.bench.path, clock=lambda: NOON)
