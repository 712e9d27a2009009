"""Files that are no book, or a book with bytes gone wrong: an error in one line or the truth, never anything else."""

from __future__ import annotations

import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st
from killing import LAYOUT

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError, MatrixCheckError
from matrixcheck.record.events import Noted
from matrixcheck.record.journal import Journal

SWITCHES = LAYOUT.matrices[0]


class Sound(bytes):
    """The bytes of a sound book, which a failing case needn't print."""

    def __repr__(self) -> str:
        return f"{len(self)} bytes"


@pytest.fixture(scope="module")
def sound() -> Iterator[Sound]:
    """The bytes of a book with a job, marks and a repair, that no process has open."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.book"
        bench = Bench(path)
        job = bench.new_job(LAYOUT, "lighthouse")
        for cell in SWITCHES.fitted[:20]:
            bench.mark(job, SWITCHES.id, str(cell.number))
        bench.repair(job, f"{SWITCHES.id}.c1")
        bench.close()
        yield Sound(path.read_bytes())


def _use(path: Path) -> list[str]:
    """Read and write the file as a book. What refused it; anything but a one-line error goes through."""
    refusals = []
    bench = Bench(path, patience=0.05)
    for use in (bench.jobs, bench.verify, bench.changed, lambda: bench.new_job(LAYOUT, "again")):
        try:
            use()
        except MatrixCheckError as error:
            assert isinstance(error, BookError)  # noqa: PT017
            assert str(path) in error.message  # noqa: PT017
            refusals.append(str(error))
    bench.close()
    return refusals


@given(st.binary(max_size=600) | st.binary(max_size=600).map(lambda data: b"SQLite format 3\x00" + data))
def test_random_bytes_are_refused_as_no_book(data: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.book"
        path.write_bytes(data)
        refusals = _use(path)
        assert len(refusals) == (4 if data else 1)
        assert not data or path.read_bytes() == data


@given(st.data())
def test_a_book_with_bytes_gone_wrong_is_refused_or_tells_the_truth(sound: Sound, data: st.DataObject) -> None:
    wrong = bytearray(sound)
    for _ in range(data.draw(st.integers(1, 6))):
        wrong[data.draw(st.integers(0, len(wrong) - 1))] = data.draw(st.integers(0, 255))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.book"
        path.write_bytes(sound)
        truth = Bench(path).jobs()
        path.write_bytes(wrong)
        try:
            told = Bench(path).jobs()
        except BookError:
            told = truth
        assert told == truth
        _use(path)


@given(st.integers(0, 100_000))
def test_a_book_cut_short_anywhere_is_refused_or_tells_the_truth(sound: Sound, left: int) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.book"
        path.write_bytes(sound)
        truth = Bench(path).jobs()
        kept = left % len(sound)
        path.write_bytes(sound[:kept])
        try:
            told = Bench(path).jobs()
        except BookError:
            told = truth
        assert told == (truth if kept else ())  # a file of no bytes is a book that nobody has written in
        _use(path)


def test_a_log_gone_wrong_costs_at_most_what_it_held(tmp_path: Path, sound: Sound) -> None:
    path = tmp_path / "bench.book"
    path.write_bytes(sound)
    before = Bench(path).verify()
    Path(f"{path}-wal").write_bytes(b"\x37\x7f\x06\x82" + b"\xa5" * 9_000)
    assert Bench(path).verify() == before


_FILLED = """
import sys
from pathlib import Path
from matrixcheck.errors import BookError
from matrixcheck.record.events import Noted
from matrixcheck.record.journal import Journal

journal = Journal(Path(sys.argv[1]))
try:
    for count in range(100_000):
        with journal.writing() as book:
            book.append(sys.argv[2], [Noted(text="x" * 1_000)])
        print(count, flush=True)
except BookError as error:
    print(error, file=sys.stderr)
    sys.exit(4)
"""


def _small_files() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))


def test_a_full_disk_is_told_in_one_line_and_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "bench.book"
    bench = Bench(path)
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.close()
    done = subprocess.run(
        [sys.executable, "-c", _FILLED, str(path), job],
        preexec_fn=_small_files,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 4
    assert done.stderr.count("\n") == 1
    assert str(path) in done.stderr
    kept = len(done.stdout.split())
    assert kept > 10
    assert Bench(path).verify() == kept + 1
    journal = Journal(path)
    with journal.writing() as book:
        book.append(job, [Noted(text="room again")])
    journal.close()
    assert Journal(path).verify() == kept + 2
