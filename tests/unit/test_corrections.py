"""A number typed again in one round, with another outcome, corrects the first; the two together only where asked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from record_case import LAYOUT, at

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing

GULL, CRAB = at(1, 2), at(2, 2)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "bench.book", client="here")
    yield bench
    bench.close()


@pytest.fixture
def job(bench: Bench) -> str:
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.start_round(job, "switches", "roll")
    return job


def gull(bench: Bench, job: str) -> Standing:
    return bench.state(job).standings[GULL]


def test_a_number_typed_again_with_another_mark_corrects_the_first_and_leaves_no_comes_and_goes(
    bench: Bench, job: str
) -> None:
    bench.mark(job, "switches", "4")
    bench.mark(job, "switches", "5")
    (kept,) = bench.mark(job, "switches", "4-")
    assert kept.corrected
    assert kept.before is Mark.WORKING
    assert gull(bench, job).mark is Mark.DEAD
    assert not gull(bench, job).intermittent
    assert gull(bench, job).count == 1


def test_undoing_a_correction_brings_the_first_back_and_redo_takes_it_out_again(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    bench.mark(job, "switches", "4-")
    undone = bench.undo(job)
    assert len(undone.what) == len(undone.back) == 1
    assert "working" in undone.back[0] or "gull" in undone.back[0]
    assert (gull(bench, job).mark, gull(bench, job).count) == (Mark.WORKING, 1)
    bench.redo(job)
    assert (gull(bench, job).mark, gull(bench, job).intermittent) == (Mark.DEAD, False)
    bench.undo(job)
    bench.undo(job)
    assert gull(bench, job).mark is Mark.UNTESTED


def test_where_it_behaved_differently_both_count(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    bench.mark(job, "switches", "4-")
    (kept,) = bench.differed(job, GULL)
    assert kept.cell == GULL
    assert gull(bench, job).intermittent
    assert gull(bench, job).mark is Mark.DEAD
    with pytest.raises(UsageError, match="corrected nothing"):
        bench.differed(job, GULL)
    bench.undo(job)
    assert (gull(bench, job).mark, gull(bench, job).intermittent) == (Mark.WORKING, False)


def test_what_the_first_showed_beside_it_goes_with_it(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4+5")
    bench.mark(job, "switches", "4")
    assert gull(bench, job).echoed == ()
    assert gull(bench, job).count == 1


def test_only_the_slip_goes_of_a_line_that_kept_several(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4- 5-")
    bench.mark(job, "switches", "4")
    standings = bench.state(job).standings
    assert (standings[GULL].mark, standings[CRAB].mark) == (Mark.WORKING, Mark.DEAD)


def test_another_round_corrects_nothing(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    bench.end_round(job)
    bench.mark(job, "switches", "4-")
    assert gull(bench, job).intermittent
    with pytest.raises(UsageError, match="corrected nothing"):
        bench.differed(job, GULL)


def test_another_client_is_not_corrected(bench: Bench, job: str, tmp_path: Path) -> None:
    bench.mark(job, "switches", "4")
    other = Bench(tmp_path / "bench.book", client="there")
    other.start_round(job, "switches", "roll")
    other.mark(job, "switches", "4-")
    assert other.state(job).standings[GULL].intermittent
    other.close()


def test_the_same_outcome_again_is_a_further_pass(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    (kept,) = bench.mark(job, "switches", "4")
    assert not kept.corrected
    assert gull(bench, job).count == 2


def test_a_resistance_corrects_no_mark(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    bench.mark(job, "switches", "4=4.1")
    assert (gull(bench, job).mark, gull(bench, job).ohms) == (Mark.WORKING, pytest.approx(4.1, rel=1e-9))


def test_a_correction_goes_out_and_in_with_the_job(bench: Bench, job: str, tmp_path: Path) -> None:
    bench.mark(job, "switches", "4")
    bench.mark(job, "switches", "4-")
    other = Bench(tmp_path / "other.book", client="there")
    other.mark(other.new_job(LAYOUT, "before it"), "switches", "5")
    taken = other.import_job(bench.exported(job), "job.jsonl")
    assert other.exported(taken.job) == bench.exported(job)
    standing = other.state(taken.job).standings[GULL]
    assert (standing.mark, standing.intermittent, standing.count) == (Mark.DEAD, False, 1)
    other.close()
