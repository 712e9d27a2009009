"""How fast the journal keeps events beside bare SQLite with the same settings, and what 200 kills cost it.

`python -m tests.bench journal [--events N] [--kills N]`
"""

from __future__ import annotations

import argparse
import sqlite3
from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from matrixcheck.bench import Bench
from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.reading import Reading
from matrixcheck.record.events import JobOpened, Read, body_of
from matrixcheck.record.journal import Journal, utc_now
from tests.faults.killing import killed_again_and_again

ROUNDS = 101
AIM = 0.8


def main(argv: list[str]) -> int:
    """Measure and print; 1 when the aim is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench journal", description=__doc__)
    parser.add_argument("--events", type=int, default=30, help="events a round, each in a transaction of its own")
    parser.add_argument("--kills", type=int, default=200, help="processes to kill while they mark; 0 for none")
    arguments = parser.parse_args(argv)
    with TemporaryDirectory(dir=Path.cwd()) as folder:
        reached = _speed(Path(folder), arguments.events)
    if arguments.kills:
        with TemporaryDirectory() as folder:
            _, kept = killed_again_and_again(Path(folder) / "bench.book", arguments.kills, seed=200)
        print(f"kill -9, {arguments.kills} times: {len(kept)} acknowledged marks, none lost, chain whole after each")
    return 0 if reached >= AIM else 1


def _speed(folder: Path, events: int) -> float:
    layout = read_layout(shipped()["switch-8x8"])
    cells = cycle(layout.matrices[0].fitted)
    cell = next(cells)
    reading = Read(reading=Reading(matrix=cell.key.matrix, cell=cell.key, answered=(cell.key,)))
    journal, bench = Journal(folder / "journal.book"), Bench(folder / "bench.book")
    with journal.writing() as book:
        book.append("job1", [JobOpened(name="measured", layout=layout)])
    job = bench.new_job(layout, "measured")
    bare = _bare(folder / "bare.db")

    def keep() -> None:
        with journal.writing() as book:
            book.append("job1", [reading])

    def insert() -> None:
        row = ("job1", 1, utc_now().isoformat(), reading.kind, body_of(reading))
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO event (job, batch, at, kind, body) VALUES (?, ?, ?, ?, ?)", row)
        bare.execute("COMMIT")

    subjects: dict[str, Callable[[], object]] = {
        "bare SQLite": insert,
        "journal": keep,
        "use case `mark`": lambda: bench.mark(job, cell.key.matrix, str(next(cells).number)),
    }
    rates: dict[str, list[float]] = {name: [] for name in subjects}
    for _ in range(ROUNDS):
        for name, once in subjects.items():
            rates[name].append(events / _seconds(once, events))
    for closing in (journal, bench, bare):
        closing.close()
    for name, found in rates.items():
        ratios = [one / other for one, other in zip(found, rates["bare SQLite"], strict=True)]
        print(f"{name:16} {median(found):8.0f} events a second   {median(ratios):.2f} of bare SQLite")
    reached = median(one / other for one, other in zip(rates["journal"], rates["bare SQLite"], strict=True))
    print(f"aim: journal at {AIM} or more: {'reached' if reached >= AIM else 'MISSED'}")
    return reached


def _bare(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("CREATE TABLE event (seq INTEGER PRIMARY KEY, job, batch, at, kind, body)")
    return connection


def _seconds(once: Callable[[], object], times: int) -> float:
    started = perf_counter()
    for _ in range(times):
        once()
    return perf_counter() - started
