"""What `serve` says on the terminal: where it is, the code to scan, who was paired."""

from __future__ import annotations

import asyncio
import io
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

import segno

from matrixcheck.web.devices import Device
from matrixcheck.web.pairing import Pairing

HOW = "Open it on the phone and press the button there. The code is good once, for 10 minutes."
CAUTION = (
    "Caution: this is plain http in your local network. Whoever can listen in it can read along and mark as a paired "
    "device does, so use it only where you trust everybody, or add --tls-own."
)


class Console:
    """The terminal of a server in the local network.

    A code follows the address `way_in`. `answers` says that somebody can press Enter here. Where nobody can, a code
    that was used or has ended is followed by a fresh one, in the same line.
    """

    def __init__(self, pairing: Pairing, way_in: str, out: TextIO, answers: bool) -> None:
        self._pairing = pairing
        self._way_in = way_in
        self._out = out
        self._answers = answers
        self._shown = False

    def greet(self, fingerprint: str | None) -> None:
        """Show the first code, and what there is to know; `fingerprint` is that of the certificate for https."""
        self.show_code()
        self._say(f"{CAUTION}\n" if fingerprint is None else certificate_words(fingerprint))
        self._say(f"{'Enter shows a fresh code. ' if self._answers else ''}Ctrl+C ends it.\n")

    def show_code(self) -> None:
        """Show a fresh code: the one before ends with that."""
        address = self._fresh()
        self._say(qr_code(address, inked=self._out.isatty() and "NO_COLOR" not in os.environ))
        self._say(f"matrixcheck is at {address}\n{HOW}\n")

    def paired(self, device: Device) -> None:
        """Say who was paired, and the way to the next code."""
        self._shown = False
        self._say(f"Paired: {device.name} (device {device.id}).")
        self._next()

    def look(self) -> None:
        """Say once that a code has ended."""
        if self._shown and self._pairing.over:
            self._shown = False
            self._say("The code has ended.")
            self._next()

    def _next(self) -> None:
        if self._answers:
            self._say(" Press Enter for a fresh code.\n")
        else:
            self._say(f" The next one: {self._fresh()}\n")

    def _fresh(self) -> str:
        self._shown = True
        return self._way_in + self._pairing.fresh()

    def _say(self, text: str) -> None:
        """Write; where nobody reads any more, the pages go on."""
        try:
            self._out.write(text)
            self._out.flush()
        except (OSError, ValueError):
            return


def announce(address: str, fingerprint: str | None, out: TextIO) -> None:
    """Say where the screens are on this computer."""
    out.write(f"matrixcheck is at {address}\n")
    if fingerprint is not None:
        out.write(certificate_words(fingerprint))
    out.write("Ctrl+C ends it.\n")
    out.flush()


def certificate_words(fingerprint: str) -> str:
    """Say by what the certificate is known."""
    return f"SHA-256 of the certificate, to compare where the browser warns:\n{fingerprint}\n"


@contextmanager
def on_enter(shown: Callable[[], None]) -> Iterator[None]:
    """Do something whenever a line is entered on this terminal, if it is one."""
    loop, source = asyncio.get_running_loop(), sys.stdin
    if not source.isatty():
        yield
        return
    # A server in the background mustn't be stopped for reading; it then goes on without the key.
    signal.signal(signal.SIGTTIN, signal.SIG_IGN)

    def read() -> None:
        try:
            entered = os.read(source.fileno(), 1024)
        except OSError:
            entered = b""
        if entered:
            shown()
        else:
            loop.remove_reader(source)

    loop.add_reader(source, read)
    try:
        yield
    finally:
        loop.remove_reader(source)


def qr_code(text: str, inked: bool) -> str:
    """Return the QR code (ISO/IEC 18004) of a text in half blocks: two of its rows a line, a block where it is light.

    `inked` sets white on black, so that it is the right way round in a light terminal as well.
    """
    drawn = io.StringIO()
    segno.make(text, micro=False).terminal(drawn, compact=True)
    lines = drawn.getvalue().splitlines()
    frame: Callable[[str], str] = "\x1b[97;40m{}\x1b[0m\n".format if inked else "{}\n".format
    return "".join(frame(line) for line in lines)
