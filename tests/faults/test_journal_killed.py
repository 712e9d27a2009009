"""A process killed with no warning while it marks: whatever it had said was kept is there, and the chain is whole."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from killing import LAYOUT, killed_again_and_again

from matrixcheck.bench import Bench


@pytest.mark.parametrize("kills", [6, pytest.param(40, marks=pytest.mark.slow)])
def test_no_acknowledged_mark_is_lost_to_kill_9(tmp_path: Path, kills: int) -> None:
    book = tmp_path / "bench.book"
    job, acknowledged = killed_again_and_again(book, kills, seed=20260301)
    assert len(acknowledged) > kills
    writer = Bench(book)
    writer.mark(job, LAYOUT.matrices[0].id, str(LAYOUT.matrices[0].fitted[0].number))
    assert writer.verify() == writer.state(job).seq
    writer.close()


@pytest.mark.parametrize(
    "spins", [0, 20_000, 150_000, *(pytest.param(spins, marks=pytest.mark.slow) for spins in (2_000, 60_000, 400_000))]
)
def test_a_book_killed_while_it_is_made_is_empty_or_whole(tmp_path: Path, spins: int) -> None:
    book = tmp_path / "bench.book"
    script = (
        "import sys; from pathlib import Path; from matrixcheck.bench import Bench;"
        "from matrixcheck.layout.files import read_layout, shipped;"
        "layout = read_layout(shipped()['switch-8x8']); print('ready', flush=True);"
        "Bench(Path(sys.argv[1])).new_job(layout, 'lighthouse'); print('made', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(book)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        for _ in range(spins):
            pass
        process.send_signal(signal.SIGKILL)
        told = process.stdout.read()
    bench = Bench(book)
    made = len(bench.jobs())
    assert made == (bench.verify() if made else 0) <= 1
    assert "made" not in told or bench.jobs()
    job = bench.new_job(LAYOUT, "again")
    assert bench.state(job).name == "again"
    bench.close()
