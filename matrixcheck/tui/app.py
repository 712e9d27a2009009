"""The terminal program: themes, the bench behind the screens, and the watch for what other processes write."""

from __future__ import annotations

import asyncio
import gc
import time
from collections.abc import Callable, Coroutine, Iterable, Iterator
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import App
from textual.binding import Binding, BindingType
from textual.driver import Driver
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.actions import ANYWHERE
from matrixcheck.tui.bindings import bindings_of
from matrixcheck.tui.job_session import Desk, Refused
from matrixcheck.tui.keeping import Keeping
from matrixcheck.tui.keymap import textual_name
from matrixcheck.tui.left_off import LeftOff
from matrixcheck.tui.look import LOOK, Look
from matrixcheck.tui.messages import BookChanged, BookTrouble, Ring, StateChanged, WaitingChanged
from matrixcheck.tui.program import Program
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.terminal import TerminalDriver
from matrixcheck.tui.text.refused import lost_words
from matrixcheck.tui.themes import NAMED
from matrixcheck.tui.widths import BREAKPOINTS

if TYPE_CHECKING:
    from matrixcheck.tui.navigation import Navigation

POLL_SECONDS = 0.1
KeepTheme = Callable[[str], object]
MakeDemo = Callable[[], Path]


OF_A_JOB = frozenset({"grid", "tabs", "toned", "page", "grid_screen", "job"})
"""The stylesheets that the first paint of a job needs."""


def styles() -> Iterator[Path]:
    """Give every stylesheet: each lies beside the widget or screen that it is for, those of widgets come first."""
    for room in ("widgets", "screens"):
        yield from sorted(Path(__file__).with_name(room).glob("*.tcss"))


def _is_first(path: Path) -> bool:
    return path.stem in OF_A_JOB


def _joined(paths: Iterable[Path]) -> str:
    """Return stylesheets as one text: Textual would read its variables anew for each file."""
    return "".join(path.read_text("utf-8") for path in paths)


class MatrixCheckApp(App[None], Program):
    """Starts at the bench, or at one job of it. With `own_layouts` a new job takes any file."""

    TITLE = "matrixcheck"
    CSS = _joined(filter(_is_first, styles()))
    """What the job's own screen needs; the rest comes with the ways to other screens."""
    HORIZONTAL_BREAKPOINTS = BREAKPOINTS
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_of(ANYWHERE),
        # In its turn: Textual would let it overtake what was typed before it.
        Binding(App.COMMAND_PALETTE_BINDING, "command_palette", priority=False),
    ]

    def __init__(
        self,
        bench: Bench,
        job: str | None = None,
        matrix: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        *,
        own_layouts: bool = True,
        layouts: Path | None = None,
        look: Look = LOOK,
        keep_theme: KeepTheme | None = None,
        make_demo: MakeDemo | None = None,
        own_book: Path | None = None,
    ) -> None:
        """`make_demo` makes the demonstration's book; where that is shown, `own_book` is the one to go back to."""
        super().__init__()
        self._make_demo = make_demo
        self.own_book = own_book
        self.next_book: Path | None = None
        """The book that is to be shown once this program has ended, if any."""
        self._keep_theme = keep_theme
        self.look = look
        self.set_keymap({name: textual_name(key) for name, key in look.keys.items()})
        for theme in NAMED.values():
            self.register_theme(theme)
        # Not by setting `theme`: that would parse every style a second time before the first paint.
        self.set_reactive(MatrixCheckApp.theme, NAMED[look.theme].name)
        self.stylesheet.set_variables(self.get_css_variables())
        self._bench = bench
        self._job = job
        self._matrix = matrix
        self._bell_wanted = look.bell
        self._early: list[events.Key] | None = []
        self._looking: asyncio.Task[None] | None = None
        self._trouble = ""
        self.keeping = Keeping(self._beside, self._say_what_waits, self._say_what_is_kept)
        self._clock = clock
        self._left: dict[str, LeftOff] = {}
        self._own_layouts = own_layouts
        self._layouts = layouts

    @cached_property
    def navigation(self) -> Navigation:
        """Return the ways between the screens. The first paint of a job doesn't wait for them."""
        from matrixcheck.tui.navigation import Navigation  # noqa: PLC0415

        others = (path for path in styles() if not _is_first(path))
        self.stylesheet.add_source(_joined(others), read_from=("", "other screens"))
        return Navigation(
            self, self._bench, self.keeping, self._desk, own_layouts=self._own_layouts, layouts=self._layouts
        )

    def get_driver_class(self) -> type[Driver]:
        """Return our driver in place of Textual's for a terminal."""
        chosen = super().get_driver_class()
        return TerminalDriver if chosen is LinuxDriver else chosen

    def on_mount(self) -> None:
        """Begin to watch the book.

        The first screen waits until the program stands: before that Textual would draw it twice, and keep the first
        drawing to itself.
        """
        self.set_interval(POLL_SECONDS, self._watch)
        self.call_later(self._open)

    async def on_event(self, event: events.Event) -> None:
        """Let keys that come before the first screen wait for it."""
        if self._early is not None and isinstance(event, events.Key):
            self._early.append(event)
        else:
            await super().on_event(event)

    async def _open(self) -> None:
        if self._job is None:
            self.navigation.bench()
        else:
            self.push_screen(JobScreen(self._desk(self._job), self._matrix), lambda _: self.navigation.bench())
        self.call_after_refresh(gc.enable)
        early, self._early = self._early or [], None
        for key in early:
            await self.on_event(key)

    def _desk(self, job: str) -> Desk:
        return Desk(self._bench, job, self.keeping, self._clock, self._left)

    def action_command_palette(self) -> None:
        """Let an action of the screen be found by its name.

        In place of Textual's own sheet: with Enter at once behind the last letter that may still do what it found for
        fewer letters.
        """
        if isinstance(self.screen, Page):
            self.screen.action_actions()

    def action_other_theme(self) -> None:
        """Go on to the next theme, which stays chosen where that can be kept."""
        names = list(NAMED)
        chosen = names[(names.index(self.theme_name) + 1) % len(names)]
        self.theme = NAMED[chosen].name
        if self._keep_theme is None:
            return
        try:
            self._keep_theme(chosen)
        except MatrixCheckError as error:
            self.notify(f"The theme isn't kept: {error}", severity="warning")

    @property
    def theme_name(self) -> str:
        """Return the theme by the name that a person chooses it by."""
        return next(name for name, theme in NAMED.items() if theme.name == self.theme)

    @property
    def has_demo(self) -> bool:
        """Return whether the demonstration's book can be looked at from here."""
        return self._make_demo is not None and self.own_book is None

    def look_at_demo(self) -> None:
        """Show the demonstration's book in place of one's own, which stays as it is."""
        if self.has_demo:
            self.run_worker(self._go_to_demo(), group="demo", exclusive=True)

    async def _go_to_demo(self) -> None:
        if self._make_demo is None:
            return
        try:
            # By a thread: what is written waits for the disk.
            self.next_book = await asyncio.to_thread(self._make_demo)
        except MatrixCheckError as error:
            self._tell(BookTrouble(error))
            return
        self.exit()

    def on_ring(self, message: Ring) -> None:
        """Ring where it is wanted."""
        message.stop()
        if self._bell_wanted:
            self.bell()

    def action_bell_on_off(self) -> None:
        """Ring a bell for every number kept in a roll, or ring none."""
        self._bell_wanted = not self._bell_wanted
        self.notify("Bell on" if self._bell_wanted else "Bell off", timeout=2)

    def action_waiting(self) -> None:
        """Show what waits to be kept."""
        if self.keeping.waiting:
            self.navigation.not_kept(self._keep_elsewhere)

    def _keep_elsewhere(self, path: Path, refused: Refused) -> None:
        """Go on in another book, and keep there what waits; `refused` is called where that can't be."""
        # By the program and not by a screen: one that is left must not cut it short.
        self.run_worker(self._move_to(path, refused), group="move")

    @property
    def _desks(self) -> list[Desk]:
        """Return the jobs that are open."""
        return [screen.desk for screen in self.screen_stack if isinstance(screen, JobScreen)]

    async def _move_to(self, path: Path, refused: Refused) -> None:
        desks = self._desks
        jobs = self.keeping.jobs.union(desk.job for desk in desks)
        try:
            states = await self.keeping.ask(lambda: self._bench.move_to(path, jobs))
        except MatrixCheckError as error:
            refused(error)
            return
        for desk in desks:
            desk.moved(states[desk.job])
        self.notify(f"From now on kept in {path}")
        self.keeping.try_again()

    async def action_quit(self) -> None:
        """End the program; where entries wait or were refused, only once it was said that they may be lost."""
        waiting = self.keeping.waiting
        refused = [one for desk in self._desks for one in desk.refused]
        if not waiting and not refused:
            self._leave()
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self._leave()

        if not waiting:
            self.navigation.ask(*lost_words(refused), answered)
            return
        count = f"{len(waiting)} {'entry is' if len(waiting) == 1 else 'entries are'} not kept"
        more = f"They are tried once more, then lost: {' · '.join(waiting)}"
        self.navigation.ask(f"{count}. Quit anyway?", more, answered)

    def _leave(self) -> None:
        """End the program; from the demonstration it goes back to one's own book."""
        self.next_book = self.own_book
        self.exit()

    def _beside(self, work: Coroutine[Any, Any, None]) -> None:
        self.run_worker(work, group="book")

    def _say_what_waits(self) -> None:
        self._tell(WaitingChanged())

    def _say_what_is_kept(self) -> None:
        self._tell(StateChanged())

    def _tell(self, message: Message) -> None:
        if self.is_running and self.screen_stack:
            self.screen.post_message(message)

    def _watch(self) -> None:
        self.keeping.look()
        if self._looking is None and not self.keeping.busy:
            self._looking = asyncio.create_task(self._look())
            self._looking.add_done_callback(self._looked)

    async def _look(self) -> None:
        """Say what other processes wrote; say once that the book can't be read any more."""
        try:
            changed = await self.keeping.ask(self._bench.changed)
        except MatrixCheckError as error:
            if self._trouble != str(error):
                self._trouble = str(error)
                self._tell(BookTrouble(error))
            return
        if changed or self._trouble:
            self._trouble = ""
            self._tell(BookChanged())

    def _looked(self, look: asyncio.Task[None]) -> None:
        self._looking = None
        if not look.cancelled() and look.exception() is not None:
            self.call_later(look.result)
