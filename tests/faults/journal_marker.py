"""A process for the tests of the journal: marks cells of a job without end and says on stdout what was kept.

Usage: python journal_marker.py BOOK JOB FIRST [COUNT]. It takes the cells of the first matrix in turn from FIRST on,
prints `ready` once it is about to mark, then the seq of each mark after its use case returned, and stops after COUNT.
"""

from __future__ import annotations

import sys
from itertools import count, islice
from pathlib import Path

from matrixcheck.bench import Bench


def main(book: str, job: str, first: str, how_many: str | None = None) -> None:
    """Mark and tell."""
    bench = Bench(Path(book), patience=60)
    matrix = bench.state(job).layout.matrices[0]
    cells = matrix.fitted
    print("ready", flush=True)
    for turn in islice(count(int(first)), None if how_many is None else int(how_many)):
        (kept,) = bench.mark(job, matrix.id, f"{cells[turn % len(cells)].number}{'-' if turn % 3 else ''}")
        print(kept.seq, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
