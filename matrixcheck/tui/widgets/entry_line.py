"""The line that takes numbers: what is typed, what it would do, and what became of the last one."""

from __future__ import annotations

from matrixcheck.layout.problems import visible
from matrixcheck.tui.text.spans import Row, Tone, shortened, wrapped
from matrixcheck.tui.widgets.lines import Lines

PROMPT = " > "
CARET = "▏"
MOST = 4
ROOM_TO_TYPE = 40
"""Characters that stay for what is typed where something else stands beside it."""
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
        self._said: tuple[str, Tone] = ("", "quiet")
        self._waiting = ""
        self._aside = ""
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
            self._text += character
        else:
            return False
        self._draw()
        return True

    def paste(self, text: str) -> None:
        """Let the line have a text that comes all at once, as one line, and no more of it than anybody means."""
        self._text += " ".join(visible(text).split())[:LONGEST_PASTED]
        self._draw()

    def clear(self) -> None:
        """Empty the entry; what was said stays."""
        self._text = ""
        self._draw()

    def say(self, text: str, tone: Tone = "plain") -> None:
        """Say something about the entry on the second line."""
        self._said = (text, tone)
        self._draw()

    def wait(self, text: str) -> None:
        """Say below all else what waits to be kept; nothing where the text is empty."""
        self._waiting = text
        self._draw()

    def set_aside(self, text: str) -> None:
        """Say which entries were refused; nothing where the text is empty."""
        self._aside = text
        self._draw()

    def _draw(self) -> None:
        self.show(self._lines())

    def _lines(self) -> list[Row]:
        width = max(self._across - 1, 0)
        beside = self._aside if not width or width - len(self._aside) >= ROOM_TO_TYPE else ""
        text, tone = self._said
        wide = width or 1 + max(len(text), len(self._waiting))
        said = shortened(wrapped(text, wide, tone, indent=" "), MOST) or ((),)
        below = (self._waiting if beside else self._aside, "" if beside else self._waiting)
        more = (line for each in below if each for line in shortened(wrapped(each, wide, "alert", indent=" "), MOST))
        return [self._typed(width, beside), *said, *more]

    @property
    def _across(self) -> int:
        """Return how wide the line is; before it was laid out, that it goes across the screen; 0 on none."""
        return self.size.width or (self.app.size.width if self.is_attached else 0)

    def _typed(self, width: int, beside: str) -> Row:
        """Return the line with what is typed; `beside` stands at its end, always in the same place."""
        hint = "" if self._text else f" {self._hint}"
        room = max(width + 1 - len(PROMPT) - len(CARET) - len(beside), 1) if width else len(self._text)
        shown = self._text if len(self._text) <= room else f"…{self._text[1 - room :]}"
        typed: Row = ((PROMPT, "quiet"), (shown, "strong"), (CARET, "strong"), (hint, "quiet"))
        if not beside:
            return typed
        gap = width - sum(len(part) for part, _ in typed) - len(beside)
        return (*typed, (" " * gap, "plain"), (beside, "alert"))
