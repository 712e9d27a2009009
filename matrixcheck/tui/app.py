"""The terminal program: themes, the bench behind the screens, and the watch for what other processes write."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from pathlib import Path, PurePath
from typing import ClassVar

from textual import events
from textual.app import App
from textual.driver import Driver
from textual.drivers.linux_driver import LinuxDriver

from matrixcheck.bench import Bench
from matrixcheck.record import clients
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.messages import BookChanged, Ring
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.terminal import TerminalDriver, check_terminal
from matrixcheck.tui.themes import DARK, LIGHT

POLL_SECONDS = 0.1
BREAKPOINTS = [(0, "-phone"), (50, "-narrow"), (84, "-wide")]


class MatrixCheckApp(App[None]):
    """Starts at the bench, or at one job of it. Without `own_layouts` a new job takes a shipped layout."""

    TITLE = "matrixcheck"
    CSS_PATH: ClassVar[list[str | PurePath]] = [
        "styles/tones.tcss",
        "styles/bench.tcss",
        "styles/job.tcss",
        "styles/rounds.tcss",
    ]
    HORIZONTAL_BREAKPOINTS = BREAKPOINTS
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        bench: Bench,
        job: str | None = None,
        matrix: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        *,
        own_layouts: bool = True,
    ) -> None:
        super().__init__()
        self._clock = clock
        self._own_layouts = own_layouts
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        # Not by setting `theme`: that would parse every style a second time before the first paint.
        self.set_reactive(MatrixCheckApp.theme, DARK.name)
        self.stylesheet.set_variables(self.get_css_variables())
        self._bench = bench
        self._job = job
        self._matrix = matrix
        self._bell_wanted = False
        self._early: list[events.Key] | None = []

    def get_driver_class(self) -> type[Driver]:
        """Ours in place of Textual's for a terminal."""
        chosen = super().get_driver_class()
        return TerminalDriver if chosen is LinuxDriver else chosen

    def on_mount(self) -> None:
        """Begin to watch the book. The first screen waits until the program stands: before that Textual would draw it
        twice, and keep the first drawing to itself."""
        self.set_interval(POLL_SECONDS, self._watch)
        self.call_later(self._open)

    async def on_event(self, event: events.Event) -> None:
        """Keys that come before the first screen wait for it."""
        if self._early is not None and isinstance(event, events.Key):
            self._early.append(event)
        else:
            await super().on_event(event)

    async def _open(self) -> None:
        if self._job is None:
            self._show_bench()
        else:
            self.push_screen(JobScreen(Desk(self._bench, self._job, self._clock), self._matrix), self._show_bench)
        self.call_after_refresh(gc.enable)
        early, self._early = self._early or [], None
        for key in early:
            await self.on_event(key)

    def action_other_light(self) -> None:
        """Change between the dark and the light theme."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name

    def _show_bench(self, _: None = None) -> None:
        # One who opens a job at once needn't wait for the list of all.
        from matrixcheck.tui.screens.bench import BenchScreen  # noqa: PLC0415

        self.push_screen(BenchScreen(self._bench, self._clock, own_layouts=self._own_layouts))

    def on_ring(self, message: Ring) -> None:
        """Ring where it is wanted."""
        message.stop()
        if self._bell_wanted:
            self.bell()

    def action_bell_on_off(self) -> None:
        """A bell for every number kept in a roll, or none."""
        self._bell_wanted = not self._bell_wanted
        self.notify("Bell on" if self._bell_wanted else "Bell off", timeout=2)

    def _watch(self) -> None:
        if self._bench.changed():
            self.screen.post_message(BookChanged())


def run(
    book: Path, job: str | None = None, matrix: str | None = None, *, own_layouts: bool = True, client: str = ""
) -> int:
    """Run the screens on a book until the person quits or the system ends them; the exit code. `client` names a page
    that they are shown on; without it they are this terminal's.

    Raises MatrixCheckError before they open. However they end, the book is closed.
    """
    bench = Bench(book, client=client or clients.terminal(), initials=clients.initials())
    try:
        bench.changed()
        found = None if job is None else bench.state(job).id
        return _run(MatrixCheckApp(bench, found, matrix, own_layouts=own_layouts))
    finally:
        bench.close()


def _run(app: MatrixCheckApp) -> int:
    if app.driver_class is TerminalDriver:
        check_terminal()
    # What was imported stays, and what the first paint is made of as well: looking through all that for garbage would
    # hold up the paint, and now and then a mark.
    gc.freeze()
    gc.disable()
    try:
        app.run()
    finally:
        gc.enable()
    return app.return_code or 0
