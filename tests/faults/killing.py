"""Processes that mark cells of a job and are killed with no warning while they do."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
from pathlib import Path

from matrixcheck.bench import Bench
from matrixcheck.layout.files import read_layout, shipped

MARKER = Path(__file__).with_name("journal_marker.py")
LAYOUT = read_layout(shipped()["switch-8x8"])


def marker(book: Path, job: str, first: int, *count: int) -> subprocess.Popen[str]:
    """A process that marks the job's cells from the `first` on, without end or `count` times."""
    command = [sys.executable, str(MARKER), str(book), job, str(first), *map(str, count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def kill_after(process: subprocess.Popen[str], acknowledged: int, spins: int) -> list[int]:
    """Kill it once it has told of so many marks and this process has counted up to `spins`; all marks it told of."""
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    told = [process.stdout.readline() for _ in range(acknowledged)]
    for _ in range(spins):
        pass
    process.send_signal(signal.SIGKILL)
    told += process.stdout.readlines()
    assert process.wait() == -signal.SIGKILL
    process.stdout.close()
    return [int(line) for line in told if line.endswith("\n")]


def killed_again_and_again(book: Path, kills: int, seed: int) -> tuple[str, set[int]]:
    """Open a job, kill so many processes that mark it, and after each find all they told of in a book that is whole.

    The job and every mark that was acknowledged.
    """
    chance = random.Random(seed)
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.close()
    acknowledged: set[int] = set()
    for turn in range(kills):
        process = marker(book, job, turn * 100)
        acknowledged |= set(kill_after(process, chance.randrange(12), chance.randrange(60_000)))
        reader = Bench(book)
        kept = {one.seq for one in reader.state(job).history}
        assert acknowledged <= kept, f"lost after {turn + 1} kills: {sorted(acknowledged - kept)}"
        assert reader.verify() == max(kept)
    return job, acknowledged
