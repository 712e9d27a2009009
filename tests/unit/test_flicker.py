"""A lamp that flickers has an entry of its own: two readings that contradict each other, kept and undone as one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from record_case import LAYOUT, at

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.layout.reading import Mark
from matrixcheck.report.tables import kept_lines

RED, CRAB = at(1, 1, "lamps"), at(2, 2)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(tmp_path / "bench.book")
    yield found
    found.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(LAYOUT, "invented")


@pytest.mark.parametrize(("matrix", "typed", "cell"), [("lamps", "11+-", RED), ("switches", "5+-", CRAB)])
def test_what_flickers_comes_and_goes_and_is_never_good(
    bench: Bench, job: str, matrix: str, typed: str, cell: object
) -> None:
    kept = bench.mark(job, matrix, typed)
    state = bench.state(job)
    (key,) = [one for one, standing in state.standings.items() if standing.intermittent]
    assert key == cell
    assert (state.standings[key].mark, state.standings[key].fails) == (Mark.DEAD, True)
    assert intermittent_cells(state.judged) == {key}
    assert bench.status(job)[matrix].working == 0
    (line,) = kept_lines(kept, LAYOUT)
    assert line.endswith("dead, comes and goes")


def test_one_undo_takes_a_flicker_out_and_one_redo_brings_it_back(bench: Bench, job: str) -> None:
    bench.mark(job, "lamps", "11+-")
    bench.undo(job)
    assert bench.state(job).standings[RED].mark is Mark.UNTESTED
    bench.redo(job)
    assert bench.state(job).standings[RED].intermittent


def test_in_a_round_a_flicker_corrects_what_was_typed_before_and_is_corrected_whole(bench: Bench, job: str) -> None:
    bench.start_round(job, "lamps", "walk")
    for slip in ("11", "11-", "11*"):
        bench.mark(job, "lamps", slip)
        bench.mark(job, "lamps", "11+-")
        assert [one.reading.mark for one in bench.state(job).standings[RED].seen] == [Mark.WORKING, Mark.DEAD]
        bench.mark(job, "lamps", "11")
        standing = bench.state(job).standings[RED]
        assert (standing.mark, standing.intermittent, standing.count) == (Mark.WORKING, False, 1)


def test_of_all_that_a_round_corrects_only_the_last_word_counts(bench: Bench, job: str) -> None:
    bench.start_round(job, "lamps", "walk")
    for typed in ("11", "11-", "11*", "11-", "11"):
        bench.mark(job, "lamps", typed)
        standing = bench.state(job).standings[RED]
        assert (standing.count, standing.intermittent) == (1, False)
    bench.undo(job)
    assert bench.state(job).standings[RED].mark is Mark.DEAD


def test_what_flickered_passes_several_times_after_a_repair_and_a_flicker_fails_it(bench: Bench, job: str) -> None:
    bench.mark(job, "lamps", "11+-")
    bench.repair(job, "lamps.r1c1", did="socket cleaned")
    bench.mark(job, "lamps", "11")
    assert bench.state(job).standings[RED].passes_left == 2
    bench.mark(job, "lamps", "11+-")
    assert bench.state(job).repairs[-1].outcome == "failed"
    assert bench.state(job).standings[RED].fails


def test_a_flickering_lamp_stands_so_in_the_history_and_is_no_fault_of_its_line(bench: Bench, job: str) -> None:
    bench.mark(job, "lamps", "11+- 12 13 21 22")
    assert [line.text for line in bench.log(job)[1:3]] == [
        "lamp 11 (red) working (comes and goes)",
        "lamp 11 (red) dead (comes and goes)",
    ]
    diagnosis = bench.diagnosis(job)
    assert all(not fault.lines for suspect in diagnosis.suspects[:1] for fault in suspect.members)
