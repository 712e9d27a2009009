"""What all screens do alike: their keys can be tapped, help lists them, and a phone shows them as buttons."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, TypeVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.containers import ScrollableContainer

from matrixcheck.tui.keeping import Keeping
from matrixcheck.tui.keymap import Keymap, bar_of, list_of, waiting_cap
from matrixcheck.tui.look import Look
from matrixcheck.tui.messages import WaitingChanged
from matrixcheck.tui.program import Program
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.waiting import waiting_words
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Wrapped
from matrixcheck.tui.widgets.toned import TonedScreen
from matrixcheck.tui.widths import PHONE

if TYPE_CHECKING:
    from matrixcheck.tui.navigation import Navigation

Result = TypeVar("Result")


class Page(TonedScreen[Result]):
    """A screen with a bar of keys. `press` does what a tapped key does."""

    # Here as well as in the program: a sheet over another screen hears none of the program's own keys.
    BINDINGS: ClassVar[list[BindingType]] = [Binding(App.COMMAND_PALETTE_BINDING, "actions", system=True)]

    _enter_held = False

    @property
    def keymap(self) -> Keymap:
        """Return the keys that the person gave to actions."""
        return self.program.look.keys

    @property
    def look(self) -> Look:
        """Return what the person has set."""
        return self.program.look

    def bar(self) -> tuple[Cap, ...]:
        """Return the keys for the bar."""
        return bar_of(self.PLACE, self.keymap)

    def listed(self) -> tuple[Cap, ...]:
        """Return every key of the screen, for the help and the list of actions."""
        return list_of(self.PLACE, self.keymap)

    @property
    def navigation(self) -> Navigation:
        """Return the ways to other screens."""
        return self.program.navigation

    @property
    def program(self) -> Program:
        """Return the program that the screen is one of."""
        app = self.app
        if not isinstance(app, Program):
            raise TypeError(f"{type(app).__name__} is not a program for these screens")
        return app

    @property
    def is_open(self) -> bool:
        """Return whether the screen is still there. One that closes loses its widgets before it leaves the app."""
        return self.is_attached and self.display

    def help_notes(self) -> Sequence[Sequence[Row]]:
        """Return what the help says beside the keys."""
        return ()

    def waiting_words(self, keeping: Keeping) -> str:
        """Return what is said of what waits to be kept."""
        return waiting_words(keeping.waiting, keeping.trouble, waiting_cap(self.keymap).key)

    def show_waiting(self) -> None:
        """Say what waits to be kept."""

    def on_waiting_changed(self, message: WaitingChanged) -> None:
        """Say what waits to be kept."""
        message.stop()
        self.show_waiting()

    def hold_enter(self) -> None:
        """Let the next key do nothing if it is Enter, for it may still be meant for the list that closed just now."""
        self._enter_held = True

    async def press(self, cap: Cap) -> None:
        """Do what a tapped key does."""
        await self.run_action(cap.action)

    async def on_key_bar_pressed(self, message: KeyBar.Pressed) -> None:
        """Do what a tapped key does; nothing for the second of two quick taps, as the first has answered."""
        message.stop()
        if self.is_top:
            await self.press(message.cap)

    def on_resize(self) -> None:
        """Lay the key bar out for fingers on a phone, and wrap what is said for the width."""
        # A screen that closes at once has no widgets any more.
        for bar in self.query(KeyBar):
            bar.tall = self.app.size.width < PHONE
        for lines in self.query(Wrapped):
            lines.wrap_anew()

    def action_actions(self) -> None:
        """Let an action of this screen be found by its name."""
        caps = [cap for cap in self.listed() if cap.action != "actions"]

        async def found(place: int | None) -> None:
            if place is not None:
                await self.press(caps[place])
                if isinstance(opened := self.app.screen, Page):
                    opened.hold_enter()

        names = [f"{cap.meaning}  ({cap.key})" if cap.key else cap.meaning for cap in caps]
        self.navigation.find("What to do", names, found)

    def action_help(self) -> None:
        """Show the keys of this screen; one that is tapped there is done."""

        async def chosen(cap: Cap | None) -> None:
            if cap is not None:
                await self.press(cap)

        self.navigation.help(self.PLACE.title, self.listed(), self.help_notes(), chosen)


def at_home(typed: str) -> str:
    """Put the home folder in the place of `~` in a path; what names nobody's home stays as it is."""
    try:
        return str(Path(typed).expanduser())
    except RuntimeError:
        return typed


def read_on(shown: ScrollableContainer) -> None:
    """Scroll a page on, at the end back to the top."""
    if shown.scroll_offset.y < shown.max_scroll_y:
        shown.scroll_page_down(animate=False)
    else:
        shown.scroll_home(animate=False)
