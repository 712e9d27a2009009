"""The program in a real pseudo-terminal, as a person has it."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path
from typing import Any

# Its end of the terminal becomes the one whose loss the system tells it by SIGHUP, as a shell's child has it.
PROGRAM = """
import fcntl, sys, termios
from pathlib import Path
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from matrixcheck.record.clients import terminal
from matrixcheck.tui.run import run
sys.exit(run(Path(sys.argv[1]), sys.argv[2], client=terminal()))
"""
KEYS_A_SECOND = 20
PATIENCE = 30.0


class Terminal:
    """The screens in a pseudo-terminal of 100 by 32."""

    def __init__(self, book: Path, job: str, program: str = PROGRAM) -> None:
        self._master, self._slave = pty.openpty()
        fcntl.ioctl(self._slave, termios.TIOCSWINSZ, struct.pack("HHHH", 32, 100, 0, 0))
        environment = os.environ | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", program, str(book), job],
            stdin=self._slave,
            stdout=self._slave,
            stderr=self._slave,
            env=environment,
            start_new_session=True,
        )
        self.written = b""

    @property
    def modes(self) -> list[Any]:
        """How the terminal is set: echo, lines, signals and the rest."""
        return termios.tcgetattr(self._slave)

    def read_for(self, seconds: float) -> None:
        """Read what comes within some time."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            # Not `select`: it takes no file number above 1023, and a long run of tests has more files open.
            waiting = select.poll()
            waiting.register(self._master, select.POLLIN)
            if waiting.poll(1000 * left):
                try:
                    self.written += os.read(self._master, 65536)
                except OSError:
                    return

    def wait_for(self, text: str) -> None:
        """Read until a text comes that wasn't there before."""
        deadline = time.monotonic() + PATIENCE
        while text.encode() not in self.written:
            assert time.monotonic() < deadline, f"{text!r} never came: {self.written[-2000:]!r}"
            self.read_for(0.05)
        self.written = b""

    def type(self, keys: str | bytes) -> None:
        """Type at twenty keys a second, reading meanwhile, as a terminal does."""
        for key in keys.encode() if isinstance(keys, str) else keys:
            os.write(self._master, bytes([key]))
            self.read_for(1 / KEYS_A_SECOND)

    def paste(self, raw: bytes) -> None:
        """Let bytes come all at once."""
        os.write(self._master, raw)

    def hang_up(self) -> None:
        """Take the terminal away, as the end of a connection or a closed window does."""
        os.close(self._slave)
        os.close(self._master)

    def ended(self) -> int:
        """Read on until the program ends by itself; its exit code."""
        deadline = time.monotonic() + PATIENCE
        while self.process.poll() is None and time.monotonic() < deadline:
            self.read_for(0.05)
        self.read_for(0.05)
        self.kill()
        return self.process.wait()

    def close(self) -> int:
        """Wait for the program to end, and let go of the terminal; the exit code."""
        code = self.ended()
        os.close(self._slave)
        os.close(self._master)
        return code

    def kill(self) -> None:
        """End the program, if it still runs."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
