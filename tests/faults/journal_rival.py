"""A process for the tests of the journal: one of several that mark the same job for some time, as two people would.

Usage: python journal_rival.py BOOK JOB SIGN SECONDS. It waits for a line on stdin, marks the job's cells in turn until
the time is over and all have had their turn, and says how often. After another line it reads what the others wrote and
says how the job stands.
"""

from __future__ import annotations

import hashlib
import sys
import time
from itertools import cycle
from pathlib import Path

from matrixcheck.bench import Bench
from matrixcheck.record.job_state import JobState


def how_it_stands(state: JobState) -> str:
    """The same words for the same state, whichever process says them."""
    cells = ((str(key), one.mark, one.count, one.intermittent) for key, one in state.standings.items())
    told = [(one.seq, one.at.isoformat(), repr(one.event)) for one in state.history[1:]]
    return hashlib.sha256(repr((state.seq, sorted(cells), told)).encode()).hexdigest()


def main(book: str, job: str, sign: str, seconds: str) -> None:
    """Mark, say how often, and how the job stands in the end."""
    bench = Bench(Path(book), patience=60)
    matrix = bench.state(job).layout.matrices[0]
    print("ready", flush=True)
    sys.stdin.readline()
    marked, end = 0, time.monotonic() + float(seconds)
    for cell in cycle(matrix.fitted):
        if time.monotonic() >= end and marked > len(matrix.fitted):
            break
        marked += len(bench.mark(job, matrix.id, f"{cell.number}{sign.strip()}"))
    print(marked, flush=True)
    sys.stdin.readline()
    print(how_it_stands(bench.state(job)), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
