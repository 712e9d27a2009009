"""The screens in a terminal of their own: what is typed comes whole, and every way out gives the terminal back."""

from __future__ import annotations

import asyncio
import os
import selectors
import signal
import sys
from codecs import getincrementaldecoder

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver

from matrixcheck.errors import UsageError

ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
WAIT = 0.1
"""Seconds after which the reader looks whether it shall end, and whether an escape was all that was typed."""


class TerminalDriver(LinuxDriver):
    """Textual's driver for a terminal, which also ends the screens in good order when the system asks for it."""

    _hung_up = False
    _suspended = False

    def start_application_mode(self) -> None:
        """Take the terminal, and listen to the signals that ask for an end."""
        super().start_application_mode()  # type: ignore[no-untyped-call]
        loop = asyncio.get_running_loop()
        for one in ENDING:
            loop.add_signal_handler(one, self._end, one)

    def write(self, data: str) -> None:
        """Write to the terminal while there is one: Textual would wait for ever for one that has gone."""
        if not self._hung_up:
            super().write(data)

    def suspend_application_mode(self) -> None:
        """Give the terminal back for a while."""
        self._suspended = True
        super().suspend_application_mode()

    def resume_application_mode(self) -> None:
        """Take the terminal again after a suspension.

        The signal that asks for it also comes when the terminal has gone: a second start would leave threads behind
        that keep the program from ending.
        """
        if self._suspended:
            self._suspended = False
            super().resume_application_mode()

    def run_input_thread(self) -> None:
        """Read what is typed until the screens end or the terminal has gone, whether or not a signal says so.

        Bytes that are no UTF-8 are shown as replacement characters; Textual's own loop breaks down at them, and reads
        on for ever where nothing can come any more.
        """
        parser = XTermParser(self._debug)
        decode = getincrementaldecoder("utf-8")("replace").decode
        with selectors.DefaultSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                if selector.select(WAIT):
                    raw = self._typed()
                    if not raw:
                        self._app.call_later(self._end, signal.SIGHUP)
                        return
                    for event in parser.feed(decode(raw)):
                        self.process_message(event)
                for event in parser.tick():
                    self.process_message(event)

    def _typed(self) -> bytes:
        """Return what was typed; nothing where the terminal has gone."""
        try:
            return os.read(self.fileno, 4096)
        except OSError:
            return b""

    def _end(self, asked_by: signal.Signals) -> None:
        """End with the exit code of a program which the signal ended."""
        self._hung_up = self._hung_up or asked_by is signal.SIGHUP
        self._app.exit(return_code=128 + asked_by)


def check_terminal() -> None:
    """Raises UsageError where there is no terminal to type in or to draw on."""
    for stream, what in ((sys.__stdin__, "typed in"), (sys.__stderr__, "drawn on")):
        if stream is None or not stream.isatty():
            raise UsageError(f"the screens have no terminal to be {what}", "run `matrixcheck open` in a terminal")
