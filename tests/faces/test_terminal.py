"""The program in a real pseudo-terminal: a round typed at twenty keys a second, and two programs on one job at once."""

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
from collections.abc import Iterator
from pathlib import Path

import pytest
from pilots import NOON, CannedBench

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark

PROGRAM = """
import sys
from pathlib import Path
from matrixcheck.tui.app import run
sys.exit(run(Path(sys.argv[1]), sys.argv[2]))
"""
KEYS_A_SECOND = 20
PATIENCE = 30.0


class Terminal:
    """The screens in a pseudo-terminal of 100 by 32."""

    def __init__(self, book: Path, job: str) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 32, 100, 0, 0))
        environment = os.environ | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(book), job],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
        )
        os.close(slave)
        self.written = b""

    def read_for(self, seconds: float) -> None:
        """Read what comes within some time."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            ready, _, _ = select.select([self._master], [], [], left)
            if ready:
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

    def type(self, keys: str) -> None:
        """Type at twenty keys a second, reading meanwhile, as a terminal does."""
        for key in keys:
            os.write(self._master, key.encode())
            self.read_for(1 / KEYS_A_SECOND)

    def close(self) -> int:
        """Wait for the program to end by itself; its exit code."""
        deadline = time.monotonic() + PATIENCE
        while self.process.poll() is None and time.monotonic() < deadline:
            self.read_for(0.05)
        if self.process.poll() is None:
            self.process.kill()
        os.close(self._master)
        return self.process.wait()


@pytest.fixture
def terminals(bench: CannedBench, job: str) -> Iterator[list[Terminal]]:
    """Two programs on the same job."""
    bench.close()
    running = [Terminal(bench.path, job) for _ in range(2)]
    yield running
    for terminal in running:
        if terminal.process.poll() is None:
            terminal.process.kill()
            terminal.process.wait()


def test_a_round_typed_at_twenty_keys_a_second_is_in_the_journal_to_the_last_mark(
    terminals: list[Terminal], bench: CannedBench, job: str
) -> None:
    typed, other = terminals
    typed.wait_for("number and Enter")
    other.wait_for("number and Enter")
    typed.type("g")
    typed.wait_for("Before you start")
    typed.type("1")
    typed.wait_for("left to test")
    layout = bench.state(job).layout
    numbers = [cell.number for cell in layout.matrix("switches").fitted]
    typed.type("".join(f"{number}\r" for number in numbers))
    typed.wait_for("None left to test")
    reader = Bench(bench.path, clock=lambda: NOON)
    standings = reader.state(job).standings
    assert all(standings[cell.key].mark is Mark.WORKING for cell in layout.matrix("switches").fitted)
    assert len(reader.state(job).current) == len(numbers)
    other.wait_for("switches 60/60")
    typed.type("\x1b")
    typed.wait_for(" suspects")
    typed.type("q")
    other.type("q")
    assert [typed.close(), other.close()] == [0, 0]


def test_what_is_typed_while_the_program_starts_is_not_lost(
    terminals: list[Terminal], bench: CannedBench, job: str
) -> None:
    early, _ = terminals
    early.type("24-")
    early.wait_for("Enter keeps 24 right outlane: dead")
    early.type("\r")
    early.wait_for("kept: 24")
    standings = Bench(bench.path, clock=lambda: NOON).state(job).standings
    assert [one.cell.number for one in standings.values() if one.mark is Mark.DEAD] == [24]


def test_two_programs_marking_one_job_at_once_lose_nothing(
    terminals: list[Terminal], bench: CannedBench, job: str
) -> None:
    for terminal in terminals:
        terminal.wait_for("number and Enter")
    numbers = [cell.number for cell in bench.state(job).layout.matrix("switches").fitted]
    halves = numbers[:30], numbers[30:]
    for first, second in zip(*halves, strict=True):
        for terminal, number, sign in ((terminals[0], first, "-"), (terminals[1], second, "*")):
            terminal.type(f"{number}{sign}\r")
    for terminal in terminals:
        terminal.wait_for("switches 60/60")
    reader = Bench(bench.path, clock=lambda: NOON)
    coverage = reader.status(job)["switches"]
    assert (coverage.dead, coverage.stuck) == (30, 30)
    assert reader.verify() == 1 + 60
    for terminal in terminals:
        terminal.type("q")
    assert [terminal.close() for terminal in terminals] == [0, 0]
