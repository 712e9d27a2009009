"""Several processes at one book: nothing is lost, all end with the same state, and making the book at once is safe."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from journal_rival import how_it_stands
from killing import LAYOUT, marker

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark

MARKS = 150
RIVAL = Path(__file__).with_name("journal_rival.py")


def test_two_processes_marking_one_job_lose_nothing_and_agree(tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    watching = Bench(book)
    job = watching.new_job(LAYOUT, "lighthouse")
    assert not watching.changed()
    processes = [marker(book, job, first, MARKS) for first in (0, 7)]
    told = [[int(line) for line in process.communicate()[0].split()[1:]] for process in processes]
    assert [process.returncode for process in processes] == [0, 0]
    assert [len(seqs) for seqs in told] == [MARKS, MARKS]
    assert sorted(told[0] + told[1]) == list(range(2, 2 * MARKS + 2))
    assert watching.changed()
    fresh = Bench(book)
    assert watching.state(job) == fresh.state(job)
    assert fresh.state(job).seq == fresh.verify() == 2 * MARKS + 1
    watching.close()


@pytest.mark.parametrize("seconds", [0, pytest.param(10, marks=pytest.mark.slow)])
def test_two_processes_marking_one_job_for_some_time_lose_nothing_and_end_with_the_same_state(
    tmp_path: Path, seconds: int
) -> None:
    """Each goes round the cells more than once, however short the time."""
    book = tmp_path / "bench.book"
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.close()
    command = [sys.executable, str(RIVAL), str(book), job]
    rivals = [
        subprocess.Popen([*command, sign, str(seconds)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for sign in ("-", "*")
    ]
    assert [rival.stdout.readline() for rival in rivals] == ["ready\n"] * 2
    _all_go_on(rivals)
    marked = [int(rival.stdout.readline()) for rival in rivals]
    _all_go_on(rivals)
    stands = [rival.communicate()[0].strip() for rival in rivals]
    assert [rival.returncode for rival in rivals] == [0, 0]
    reader = Bench(book)
    state = reader.state(job)
    assert min(marked) > len(state.standings), "each was to go round more than once"
    assert reader.verify() == state.seq == 1 + sum(marked)
    kept = Counter(one.event.reading.mark for one in state.history[1:])
    assert [kept[Mark.DEAD], kept[Mark.STUCK]] == marked
    assert stands == [how_it_stands(state)] * 2


def _all_go_on(rivals: list[subprocess.Popen[str]]) -> None:
    for rival in rivals:
        rival.stdin.write("\n")
        rival.stdin.flush()


def test_a_book_made_by_many_processes_at_once_holds_the_job_of_each(tmp_path: Path) -> None:
    book = tmp_path / "shelf" / "bench.book"
    script = (
        "import sys; from pathlib import Path; from matrixcheck.bench import Bench;"
        "from matrixcheck.layout.files import read_layout, shipped;"
        "layout = read_layout(shipped()['switch-8x8']); print('ready', flush=True); sys.stdin.readline();"
        "bench = Bench(Path(sys.argv[1]), patience=60); print(bench.new_job(layout, sys.argv[2]))"
    )
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    processes = [
        subprocess.Popen([sys.executable, "-c", script, str(book), f"job {count}"], **pipes) for count in range(6)
    ]
    assert [process.stdout.readline() for process in processes] == ["ready\n"] * 6
    for process in processes:
        process.stdin.write("\n")
        process.stdin.flush()
    said = [process.communicate() for process in processes]
    assert [errors for _, errors in said] == [""] * 6
    bench = Bench(book)
    assert sorted(job.name for job in bench.jobs()) == [f"job {count}" for count in range(6)]
    assert {job.id for job in bench.jobs()} == {ids.strip() for ids, _ in said}
    assert bench.verify() == 6


def test_a_reader_beside_a_writer_sees_only_whole_batches(tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.close()
    process = marker(book, job, 0, MARKS)
    seen = [0]
    while process.poll() is None:
        seen.append(Bench(book).state(job).seq)
    process.communicate()
    assert seen == sorted(seen)
    assert Bench(book).state(job).seq == MARKS + 1
