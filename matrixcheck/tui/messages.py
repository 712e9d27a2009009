"""Messages that concern more than one screen."""

from __future__ import annotations

from textual.message import Message


class BookChanged(Message):
    """Another process wrote to the book."""
