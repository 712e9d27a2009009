"""What the screens cost: first paint against a bare Textual program, bytes and time of one mark, and a command's start.

Both programs run in a pseudo-terminal of 100 by 32 in true colour, turn about, as a person would start them, with
compiled modules. The figures to reach: first paint at most 1.4 times the bare program's; a mark at most 400 bytes and
5 ms of work; `--version` at most twice bare Python, `--help` at most 1.3 times the smallest program made with typer.
"""

from __future__ import annotations

import argparse
import fcntl
import os
import pty
import re
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.bench import installed, starting

COLUMNS, ROWS = 100, 32
QUIET_SECONDS = 0.6
PATIENCE_SECONDS = 30.0
MOST_TIMES, MOST_BYTES, MOST_MS = 1.4, 400, 5
"""First paint against the bare program's; one mark."""

BARE = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("first paint")

Bare().run()
"""

JOB = """
import sys
from pathlib import Path
from matrixcheck.record.clients import terminal
from matrixcheck.tui.run import run

run(Path(sys.argv[1]), sys.argv[2], client=terminal())
"""

# There is no answer to show, so that only the mark itself is repainted.
TIMED = """
import sys, time
from pathlib import Path
from textual.drivers.linux_driver import LinuxDriver
from matrixcheck.bench import Bench
from matrixcheck.tui.app import MatrixCheckApp

record = Path(sys.argv[3])
started = []

class Quick(Bench):
    def refine(self, job, seconds=None, dropped=None):
        yield from ()

    def mark(self, job, matrix_id, text, *, send=""):
        kept = super().mark(job, matrix_id, text, send=send)
        started.append((time.perf_counter(), time.process_time()))
        return kept

class Watched(LinuxDriver):
    def write(self, data):
        super().write(data)
        if started:
            wall, work = started[-1]
            since = time.perf_counter() - wall, time.process_time() - work
            with record.open("a") as file:
                print(len(started), *since, file=file)

app = MatrixCheckApp(Quick(Path(sys.argv[1])), sys.argv[2])
app.driver_class = Watched
app.run()
"""


class Terminal:
    """A program in a pseudo-terminal, with what it wrote so far."""

    def __init__(self, bytecode: Path, program: str, *arguments: str) -> None:
        """The compiled modules are in the folder `bytecode`."""
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        environment = installed.environment(bytecode) | {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        environment.pop("NO_COLOR", None)
        self.began = time.perf_counter()
        self._process = subprocess.Popen(
            [sys.executable, "-c", program, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=environment,
            start_new_session=True,
        )
        os.close(slave)
        self.written = b""

    def wait_for(self, text: str) -> float:
        """Read until the text stands among what was written; the seconds since the start."""
        deadline = time.perf_counter() + PATIENCE_SECONDS
        while text.encode() not in self.written:
            if time.perf_counter() > deadline or not self._read(deadline - time.perf_counter()):
                raise RuntimeError(f"'{text}' never came; the last that did: {plain(self.written)[-400:]!r}")
        return time.perf_counter() - self.began

    def work(self) -> float:
        """Seconds of processor time that the program has taken so far, in all its threads."""
        tasks = Path(f"/proc/{self._process.pid}/task").iterdir()
        return sum(int((task / "schedstat").read_text().split()[0]) for task in tasks) / 1e9

    def until_quiet(self) -> None:
        """Read until nothing has come for a while."""
        while self._read(QUIET_SECONDS):
            pass

    def send(self, keys: str) -> bytes:
        """Type keys, and give what is written from then until it is quiet."""
        before = len(self.written)
        os.write(self._master, keys.encode())
        self.until_quiet()
        return self.written[before:]

    def close(self) -> None:
        """End the program."""
        self._process.kill()
        self._process.wait()
        os.close(self._master)

    def _read(self, seconds: float) -> bool:
        ready, _, _ = select.select([self._master], [], [], max(seconds, 0.0))
        if not ready:
            return False
        try:
            self.written += os.read(self._master, 65536)
        except OSError:
            return False
        return True


def plain(written: bytes) -> str:
    """What was written, without escape sequences."""
    return re.sub(r"\x1b(?:\[[0-9;?<>=]*[ -/]*[@-~]|[@-_])", "", written.decode(errors="replace"))


@contextmanager
def terminal(bytecode: Path, program: str, *arguments: str) -> Iterator[Terminal]:
    """A program in a pseudo-terminal for a while."""
    running = Terminal(bytecode, program, *arguments)
    try:
        yield running
    finally:
        running.close()


def new_book(folder: Path) -> tuple[str, str]:
    """A book with one job on the invented machine, a quarter tested; its path and the job's id."""
    from matrixcheck.bench import Bench  # noqa: PLC0415 - not part of what is timed
    from matrixcheck.layout.files import find_layout, read_layout  # noqa: PLC0415

    bench = Bench(folder / "bench.book")
    job = bench.new_job(read_layout(find_layout("saltmarsh-tram")), "Pier arcade, machine 4")
    bench.mark(job, "switches", "c1 c2-")
    bench.close()
    return str(folder / "bench.book"), job


def first_paints(
    bytecode: Path, book: str, job: str, rounds: int
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Seconds by the clock and of work from start to first paint, of the job screen and of the bare program, measured
    in turn. The first start of each, which may have to compile its modules, doesn't count."""
    ours: list[tuple[float, float]] = []
    bare: list[tuple[float, float]] = []
    for _ in range(1 + rounds):
        with terminal(bytecode, BARE) as running:
            bare.append((running.wait_for("first paint"), running.work()))
        with terminal(bytecode, JOB, book, job) as running:
            ours.append((running.wait_for("number and Enter"), running.work()))
    return ours[1:], bare[1:]


def marks(bytecode: Path, book: str, job: str, folder: Path, keys: str) -> list[tuple[float, float, int]]:
    """For each key in `keys`: seconds by the clock and of work from its commit to its last write, and bytes written."""
    record = folder / "writes"
    record.touch()
    found: list[tuple[float, float, int]] = []
    with terminal(bytecode, TIMED, book, job, str(record)) as running:
        running.wait_for("number and Enter")
        running.until_quiet()
        for count, key in enumerate(keys, 1):
            written = len(running.send(key))
            lines = [line.split() for line in record.read_text().splitlines()]
            own = [line for line in lines if int(line[0]) == count]
            found.append((max(float(line[1]) for line in own), max(float(line[2]) for line in own), written))
    return found


def main(argv: list[str]) -> int:
    """Measure and print; 1 when a figure is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench screens", description=__doc__)
    parser.add_argument("--rounds", type=int, default=9, help="starts of each program")
    rounds = parser.parse_args(argv).rounds
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bytecode = folder / "bytecode"
        book, job = new_book(folder)
        ours, bare = first_paints(bytecode, book, job, rounds)
        measured = marks(bytecode, book, job, folder, "-*\r-*\r-*\r-*")
        size = max(written for _, _, written in measured)
        work = statistics.median(seconds for _, seconds, _ in measured) * 1000
        wall = statistics.median(seconds for seconds, _, _ in measured) * 1000
        ratio, ratio_of_work = (
            statistics.median(one[at] for one in ours) / statistics.median(one[at] for one in bare) for at in (0, 1)
        )
        own, other = (statistics.median(seconds for seconds, _ in paints) * 1000 for paints in (ours, bare))
        print(f"first paint  {own:.0f} ms, bare program {other:.0f} ms: {ratio:.2f} times (at most {MOST_TIMES:g})")
        print(f"             {ratio_of_work:.2f} times its work")
        print(f"one mark     {size} bytes at most (at most {MOST_BYTES})")
        print(f"             {work:.1f} ms of work from commit to last write (at most {MOST_MS})")
        print(f"             {wall:.1f} ms by the clock")
        slow_start = starting.report(bytecode, rounds)
    return int(ratio > MOST_TIMES or size > MOST_BYTES or work > MOST_MS or slow_start)
