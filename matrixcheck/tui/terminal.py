"""The screens in a terminal of their own: what is typed comes whole, and every way out gives the terminal back."""

from __future__ import annotations

import asyncio
import signal
import sys

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver

from matrixcheck.errors import UsageError

ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class TerminalDriver(LinuxDriver):
    """Textual's driver for a terminal, which also ends the screens in good order when the system asks for it."""

    _hung_up = False

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

    def run_input_thread(self) -> None:
        """Read what is typed. Bytes that are no UTF-8, which Textual doesn't expect, are shown as replaced signs."""
        while not self.exit_event.is_set():
            try:
                super().run_input_thread()
            except UnicodeDecodeError as error:
                for event in XTermParser(self._debug).feed(error.object.decode(errors="replace")):
                    self.process_message(event)
            except OSError:
                # The terminal has gone, though nobody has said so by a signal.
                self._app.call_later(self._end, signal.SIGHUP)
                return

    def _end(self, asked_by: signal.Signals) -> None:
        """The exit code is then that of a program which the signal ended."""
        self._hung_up = self._hung_up or asked_by is signal.SIGHUP
        self._app.exit(return_code=128 + asked_by)


def check_terminal() -> None:
    """Raises UsageError where there is no terminal to type in or to draw on."""
    for stream, what in ((sys.__stdin__, "typed in"), (sys.__stderr__, "drawn on")):
        if stream is None or not stream.isatty():
            raise UsageError(f"the screens have no terminal to be {what}", "run `matrixcheck open` in a terminal")
