"""Messages that concern more than one screen."""

from __future__ import annotations

from textual.message import Message


class Ring(Message):
    """Something was kept: ring the bell, if it is wanted."""


class BookChanged(Message):
    """Another process wrote to the book."""
