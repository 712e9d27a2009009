"""Messages that concern more than one screen."""

from __future__ import annotations

from textual.message import Message

from matrixcheck.errors import MatrixCheckError


class Ring(Message):
    """Something was kept: ring the bell, if it is wanted."""


class BookChanged(Message):
    """Another process wrote to the book."""


class BookTrouble(Message):
    """The book can't be read any more."""

    def __init__(self, error: MatrixCheckError) -> None:
        super().__init__()
        self.error = error


class StateChanged(Message):
    """An entry was kept, perhaps one of a screen that was left since."""


class WaitingChanged(Message):
    """What waits to be kept, or why it waits, has changed."""
