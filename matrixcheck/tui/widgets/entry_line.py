"""The line that takes numbers: what is typed, what it would do, and what became of the last one."""

from __future__ import annotations

from matrixcheck.layout.problems import visible
from matrixcheck.tui.text.spans import Row, Tone, wrapped
from matrixcheck.tui.widgets.lines import Lines

PROMPT = " > "
CARET = "▏"
MOST = 4
LONGEST_PASTED = 2_000


class EntryLine(Lines):
    """The entry, and below it what is said about it, which takes more lines only when it is long.

    The screen hands keys over with `take` and deals with Enter itself, at once: a message would let the next digit
    overtake it. What was typed stays until `clear`.
    """

    def __init__(self, hint: str, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._hint = hint
        self._text = ""
        self._refused = False
        self._said: tuple[str, Tone] = ("", "quiet")
        self._waiting = ""
        self._rows = tuple(self._lines())

    @property
    def text(self) -> str:
        """Return what is typed so far."""
        return self._text

    @property
    def said(self) -> str:
        """Return what is said about it."""
        return self._said[0]

    def on_resize(self) -> None:
        """Fit what is said to the room."""
        self._draw()

    def take(self, key: str, character: str | None) -> bool:
        """Let the line have a key other than Enter. Answers whether it took it."""
        if key == "backspace" and self._text:
            self._text = self._text[:-1]
        elif key == "escape" and self._text:
            self._text = ""
        elif character and character.isprintable():
            self._text = character if self._refused and character.isalnum() else self._text + character
        else:
            return False
        self._refused = False
        self._draw()
        return True

    def paste(self, text: str) -> None:
        """Let the line have a text that comes all at once, as one line, and no more of it than anybody means."""
        self._text += " ".join(visible(text).split())[:LONGEST_PASTED]
        self._refused = False
        self._draw()

    def clear(self) -> None:
        """Empty the entry; what was said stays."""
        self._text = ""
        self._refused = False
        self._draw()

    def refuse(self) -> None:
        """Let the next letter or figure begin anew; anything else goes on with what is typed."""
        self._refused = True

    def say(self, text: str, tone: Tone = "plain") -> None:
        """Say something about the entry on the second line."""
        self._said = (text, tone)
        self._draw()

    def wait(self, text: str) -> None:
        """Say below all else what waits to be kept; nothing where the text is empty."""
        self._waiting = text
        self._draw()

    def _draw(self) -> None:
        self.show(self._lines())

    def _lines(self) -> list[Row]:
        hint = "" if self._text else f" {self._hint}"
        room = max(self.size.width - len(PROMPT) - len(CARET), 1) if self.size.width else len(self._text)
        shown = self._text if len(self._text) <= room else f"…{self._text[1 - room :]}"
        typed: Row = ((PROMPT, "quiet"), (shown, "strong"), (CARET, "strong"), (hint, "quiet"))
        text, tone = self._said
        width = self.size.width - 1 if self.size.width else len(text) + 1
        said = wrapped(text, width, tone, indent=" ")[:MOST] or ((),)
        waiting = wrapped(self._waiting, width, "alert", indent=" ")[:MOST] if self._waiting else ()
        return [typed, *said, *waiting]
