"""What a long job costs: `status` and `log` of many events beside those of an empty book, and a long file of readings.

`python -m tests.bench replay [--events N] [--readings N]`. Seconds of the processor, so that other work on the machine
counts little.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from collections.abc import Iterable
from itertools import cycle, islice
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from matrixcheck.bench import Bench
from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.events import Event, JobOpened, Read, Withdrawn
from matrixcheck.record.journal import Journal

LAYOUT = read_layout(shipped()["switch-8x8"])
JOB = "job1"
OWN = "import sys; from matrixcheck.cli.main import main; sys.exit(main(sys.argv[1:]))"


def main(argv: list[str]) -> int:
    """Measure and print; 1 when a figure is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench replay", description=__doc__)
    parser.add_argument("--events", type=int, default=100_000)
    parser.add_argument("--readings", type=int, default=40_000)
    arguments = parser.parse_args(argv)
    with TemporaryDirectory() as name:
        folder = Path(name)
        missed = _commands(folder, arguments.events)
        began = process_time()
        bench = Bench(folder / "readings.book")
        bench.take_readings(bench.new_job(LAYOUT, "long"), _readings(arguments.readings))
        print(f"{arguments.readings} readings of a file: {process_time() - began:.2f} s")
        bench.close()
    return int(missed)


def _commands(folder: Path, events: int) -> bool:
    many = [Read(reading=one) for one in _readings(events)]
    some = [Read(reading=one) for one in _readings(2_000)]
    # The first of the marks is the second row of the book; every tenth is undone.
    undone = [Withdrawn(batch=2 + 10 * count) for count in range(200)]
    for name, kept in (("empty", []), ("many", many), ("undone", [*some, *undone])):
        _write(folder / name, kept)
    missed = False
    for command, book, most in (("status", "many", 2.0), ("status", "undone", 0.2), ("log", "undone", None)):
        above = _seconds(folder / book, command) - _seconds(folder / "empty", command)
        print(f"{command} of the book `{book}`: {above:.2f} s above an empty one{f', at most {most}' if most else ''}")
        missed |= most is not None and above > most
    return missed


def _readings(count: int) -> list[Reading]:
    cells = islice(cycle(LAYOUT.matrices[0].fitted), count)
    return [Reading(matrix=cell.key.matrix, cell=cell.key, mark=Mark.WORKING) for cell in cells]


def _write(path: Path, events: Iterable[Event]) -> None:
    journal = Journal(path)
    with journal.writing() as book:
        book.append(JOB, [JobOpened(name="long", layout=LAYOUT)])
        for event in events:
            book.append(JOB, [event])
    journal.close()


def _seconds(book: Path, command: str) -> float:
    """The least of three runs."""
    return min(_once(book, command) for _ in range(3))


def _once(book: Path, command: str) -> float:
    before = _spent()
    line = [sys.executable, "-c", OWN, "--book", str(book), command, JOB]
    subprocess.run(line, check=True, stdout=subprocess.DEVNULL)
    return _spent() - before


def _spent() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
