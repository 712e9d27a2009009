"""How long `job list` takes for a book of many jobs, above an empty book, in seconds of the processor."""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from matrixcheck.bench import Bench
from matrixcheck.layout.files import read_layout, shipped

OWN = "import sys; from matrixcheck.cli.main import main; sys.exit(main(sys.argv[1:]))"
MOST = 0.2


def main(argv: list[str]) -> int:
    """Measure and print; 1 when the figure is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench jobs", description=__doc__)
    parser.add_argument("--jobs", type=int, default=300)
    count = parser.parse_args(argv).jobs
    with TemporaryDirectory() as name:
        folder = Path(name)
        _fill(folder / "many.book", count)
        above = _seconds(folder / "many.book") - _seconds(folder / "empty.book")
    print(f"job list of {count} jobs: {above:.3f} s above an empty book, at most {MOST}")
    return int(above > MOST)


def _fill(path: Path, count: int) -> None:
    """Make invented jobs, each with marks of a quarter of its switches and lamps."""
    layout = read_layout(shipped()["saltmarsh-tram"])
    bench = Bench(path)
    for number in range(count):
        job = bench.new_job(layout, f"Invented machine {number}", f"INVENTED-{number:04}", "nobody")
        bench.mark(job, "switches", "c1 c2-")
        bench.mark(job, "lamps", "c1 c2-")
    bench.close()


def _seconds(book: Path) -> float:
    """Return the least of five runs."""
    return min(_once(book) for _ in range(5))


def _once(book: Path) -> float:
    before = _spent()
    line = [sys.executable, "-c", OWN, "job", "list", "--book", str(book)]
    subprocess.run(line, check=True, stdout=subprocess.DEVNULL)
    return _spent() - before


def _spent() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
