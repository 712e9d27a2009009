"""The line that says, on a terminal, that something takes longer than one would wait for without a word."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer
from typing import Protocol, TextIO

LOOKING = "still searching …"
PATIENCE = 0.5
"""Seconds until the line is shown: what takes less needs no word."""


class Waiting(Protocol):
    """A thread that calls something after a time, unless it is cancelled before."""

    daemon: bool

    def start(self) -> None:
        """Begin to wait."""

    def cancel(self) -> None:
        """Wait no longer."""


@contextmanager
def progress(
    doing: str = LOOKING,
    stream: TextIO | None = None,
    timer: Callable[[float, Callable[[], None]], Waiting] = Timer,
) -> Iterator[None]:
    """Show what is being done while the block takes longer than PATIENCE, and erase it at the end.

    `stream` is stderr by default; nothing is shown where it is no terminal. The block prints and asks nothing.
    """
    out = sys.stderr if stream is None else stream
    if not out.isatty():
        yield
        return
    line = _Line(out, doing)
    waiting = timer(PATIENCE, line.show)
    waiting.daemon = True
    waiting.start()
    try:
        yield
    finally:
        waiting.cancel()
        line.erase()


class _Line:
    """One line on a terminal. Once it was erased it is shown no more, whichever thread comes late."""

    def __init__(self, out: TextIO, doing: str) -> None:
        self._out = out
        self._doing = doing
        self._lock = Lock()
        self._shown = self._erased = False

    def show(self) -> None:
        with self._lock:
            if not self._erased:
                self._shown = True
                self._write(f"\r{self._doing}")

    def erase(self) -> None:
        with self._lock:
            self._erased = True
            if self._shown:
                # Blanks and not a control sequence: they erase on every terminal.
                self._write(f"\r{' ' * len(self._doing)}\r")

    def _write(self, text: str) -> None:
        try:
            self._out.write(text)
            self._out.flush()
        except (OSError, ValueError):
            # A terminal that went away doesn't keep the answer from where it is wanted.
            return
