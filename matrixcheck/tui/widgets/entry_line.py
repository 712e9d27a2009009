"""The line that takes numbers: what is typed, what it would do, and what became of the last one."""

from __future__ import annotations

from textual.message import Message

from matrixcheck.tui.text.spans import Row, Tone, wrapped
from matrixcheck.tui.widgets.lines import Lines

PROMPT = "> "
CARET = "▏"
MOST = 4


class EntryLine(Lines):
    """The entry, and below it what is said about it, which takes more lines only when it is long.

    The screen hands keys over with `take`; Enter posts `Submitted`. A refused entry stays as it was typed.
    """

    class Submitted(Message):
        """Enter was pressed on an entry that isn't empty."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    class Edited(Message):
        """The entry was changed by typing."""

        def __init__(self, text: str) -> None:
            super().__init__()
            self.text = text

    def __init__(self, hint: str, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._hint = hint
        self._text = ""
        self._said: tuple[str, Tone] = ("", "quiet")
        self._rows = tuple(self._lines())

    @property
    def text(self) -> str:
        """What is typed so far."""
        return self._text

    def take(self, key: str, character: str | None) -> bool:
        """Let the line have a key. Answers whether it took it."""
        if key == "enter" and self._text.strip():
            self.post_message(self.Submitted(self._text.strip()))
        elif key == "backspace" and self._text:
            self._edit(self._text[:-1])
        elif key == "escape" and self._text:
            self._edit("")
        elif character and character.isprintable() and key != "enter":
            self._edit(self._text + character)
        else:
            return False
        return True

    def clear(self) -> None:
        """Empty the entry; what was said stays."""
        self._text = ""
        self._draw()

    def say(self, text: str, tone: Tone = "plain") -> None:
        """Say something about the entry on the second line."""
        self._said = (text, tone)
        self._draw()

    def _edit(self, text: str) -> None:
        self._text = text
        self.post_message(self.Edited(text))
        self._draw()

    def _draw(self) -> None:
        self.show(self._lines())

    def _lines(self) -> list[Row]:
        hint = "" if self._text else f" {self._hint}"
        typed: Row = ((PROMPT, "quiet"), (self._text, "strong"), (CARET, "strong"), (hint, "quiet"))
        text, tone = self._said
        said = wrapped(text, self.size.width or len(text), tone)[:MOST] or ((),)
        return [typed, *said]
