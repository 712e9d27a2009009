"""What every screen with an entry line does alike: what is typed goes there first, from the keys or from a keypad."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events

from matrixcheck.layout.model import Matrix
from matrixcheck.tui.actions import KEYPAD
from matrixcheck.tui.keymap import tiles_of
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.help import entry_rows, letter_rows, sign_rows
from matrixcheck.tui.text.keys import TAKE_BACK, Cap, without_keys
from matrixcheck.tui.text.number_keys import goes_on, is_command, keypad, with_enter
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.tui.widths import PHONE

DIGITS = frozenset("0123456789")
PAD = (*"789-", TAKE_BACK, *"456*.", *"123+/", *"0=~")


class EntryPage(Page[None]):
    """A page whose entry line takes numbers of one matrix.

    Keys that belong to the entry line go there before they are looked up as commands; Enter on a typed entry is dealt
    with at once, so that nothing typed after it can overtake it.
    """

    HINT: ClassVar[str] = "number and Enter"

    def __init__(self) -> None:
        super().__init__()
        self._pad = False
        self._pad_turned = False

    # What each screen fills in; Textual's own metaclass leaves no room for abstract methods.

    @property
    def matrix(self) -> Matrix:
        """Return the matrix whose numbers are typed."""
        raise NotImplementedError

    def wants(self, event: events.Key) -> bool:
        """Return whether a key begins an entry."""
        character = event.character or ""
        return character in DIGITS or character in self.PLACE.typed or character.lower() in self.matrix.first_letters

    def submit(self, text: str) -> None:
        """Keep what was typed."""
        raise NotImplementedError

    def foretell(self, text: str) -> str:
        """Return what an entry would do, while it is being typed."""
        raise NotImplementedError

    def enter_words(self) -> str:
        """Return what Enter does with nothing typed; nothing where it does nothing."""
        return ""

    def phone_caps(self) -> Sequence[Cap]:
        """Return the keys that a phone shows as buttons."""
        return tiles_of(self.PLACE, self.keymap)

    # What all do alike

    @property
    def entry(self) -> EntryLine:
        """Return the entry line."""
        return self.query_one(EntryLine)

    def caps(self) -> Sequence[Cap]:
        """Return the keys that the bar shows.

        On a phone these are buttons, or a keypad in their place, so that no other is needed.
        """
        waiting = self.waiting_caps()
        if self.app.size.width >= PHONE:
            return (*self.bar(), *waiting)
        if self._pad:
            return (*self.keypad(PAD), *without_keys(tiles_of(KEYPAD, self.keymap)))
        return (*self.phone_caps(), *waiting)

    def waiting_caps(self) -> Sequence[Cap]:
        """Return the key for what waits to be kept, where something does."""
        return ()

    def keypad(self, signs: Sequence[str]) -> tuple[Cap, ...]:
        """Return keys for these signs, and for the letters that numbers of the matrix hold."""
        return keypad(signs, self.matrix, self._pad_turned)

    def help_notes(self) -> Sequence[Sequence[Row]]:
        """Return what the help says beside the keys."""
        return (entry_rows(), *filter(None, [letter_rows(self.matrix)]), sign_rows())

    def listed(self) -> tuple[Cap, ...]:
        """Return every key as it is pressed in this matrix."""
        return with_enter(super().listed(), self.matrix)

    def keys_in_force(self) -> Sequence[Cap]:
        """Return the keys of the bar as they are pressed in this matrix."""
        return with_enter(self.caps(), self.matrix)

    def show_keys(self) -> None:
        """Show the keys in force."""
        self.query_one(KeyBar).use(self.keys_in_force())

    def on_resize(self) -> None:
        """Show the keys that there is room for."""
        self.show_keys()

    async def on_key(self, event: events.Key) -> None:
        """Hand keys that belong to the entry line over to it."""
        entry, held, self._enter_held = self.entry, self._enter_held, False
        if event.key == "enter" and entry.text.strip():
            taken(event)
            await self.action_keep_typed()
        elif event.key == "enter" and held and self.enter_words():
            taken(event)
            entry.say(f"Press Enter again: {self.enter_words()}", "quiet")
        elif (entry.text or self.wants(event)) and entry.take(event.key, event.character):
            taken(event)
            self._say_what_it_does()

    def on_paste(self, event: events.Paste) -> None:
        """Type what is pasted, and let it wait for its Enter."""
        event.stop()
        self.entry.paste(event.text)
        self._say_what_it_does()

    async def press(self, cap: Cap) -> None:
        """Do what a tapped key does; Enter on a typed entry keeps that."""
        if cap.key == "Enter" and self.entry.text.strip():
            await self.action_keep_typed()
        else:
            await super().press(cap)

    def action_pad(self) -> None:
        """Put the keypad in the place of the buttons, or these back."""
        self._pad = not self._pad
        self.show_keys()

    def action_turn_pad(self) -> None:
        """Put letters in the place of the digits on the keypad, or these back."""
        self._pad_turned = not self._pad_turned
        self.show_keys()

    def action_type(self, sign: str) -> None:
        """Type a key of the keypad on the screen."""
        if sign == TAKE_BACK:
            self.entry.take("backspace", None)
        else:
            self.entry.take(sign, sign)
        self._say_what_it_does()

    async def action_keep_typed(self) -> None:
        """Keep what was typed, or do what the letter alone stands for; nothing typed, nothing done."""
        text = self.entry.text.strip()
        command = self._command(text)
        if command is not None:
            self.entry.clear()
            self.entry.say("")
            await self.press(command)
        elif text:
            self.submit(text)

    def _say_what_it_does(self) -> None:
        """Say what Enter would do with what is typed."""
        text = self.entry.text
        command = self._command(text)
        said = self.foretell(text) if text else ""
        if command is not None:
            said = "; ".join(filter(None, [goes_on(text, self.matrix), f"Enter: {command.meaning}"]))
        self.entry.say(said, "quiet")

    def _command(self, text: str) -> Cap | None:
        """Return the command that a letter alone stands for, where it begins numbers."""
        if not is_command(text, self.matrix):
            return None
        by_key = {cap.key: cap for cap in super().listed()}
        return by_key.get(text) or by_key.get(text.lower())
