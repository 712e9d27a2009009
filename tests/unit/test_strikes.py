"""What striking a line out would change, said before it is done, is what it changes."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.places import CellKey
from matrixcheck.record.events import Withdrawn
from matrixcheck.record.job_state import JobState
from tests.machines import saltmarsh_tram
from tests.samples import some_of

NOON = datetime(2026, 11, 21, 12, 0, tzinfo=UTC)
ENTRIES = [("switches", "31 32- 33"), ("switches", "44+31"), ("lamps", "c1-"), ("coils", "c1-"), ("lamps", "11")]
PLACES = ["Q3", "F2", "F3", "lamp 11", "switch column 3", "X1-3"]


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench.book", clock=lambda: NOON)


def visit(bench: Bench, seed: int) -> str:
    """A job with a drawn history."""
    random = Random(seed)
    job = bench.new_job(saltmarsh_tram(), "invented")
    for _ in range(14):
        match random.randrange(5):
            case 0:
                bench.repair(job, random.choice(PLACES))
            case 1 if bench.state(job).last_undoable is not None:
                bench.undo(job)
            case 2:
                bench.defer(job, [CellKey("switches", 5, 5)], "later")
            case _:
                bench.mark(job, *random.choice(ENTRIES))
    return job


def outcomes(state: JobState) -> dict[CellKey, tuple[object, ...]]:
    """How each cell stands."""
    return {key: (one.mark, one.intermittent, one.retest_due, one.deferred) for key, one in state.standings.items()}


@pytest.mark.parametrize("seed", some_of(range(12), 3))
def test_the_cells_named_before_are_those_that_change(bench: Bench, seed: int) -> None:
    job = visit(bench, seed)
    tried = 0
    for number in range(1, len(bench.state(job).everything) + 1):
        before = bench.state(job)
        try:
            strike = bench.strike(job, number)
        except UsageError:
            continue
        tried += 1
        (bench.redo if strike.back else bench.undo)(job, event=number)
        after = bench.state(job)
        was, now = outcomes(before), outcomes(after)
        assert set(strike.cells) == {key for key in was if was[key] != now[key]}
        assert strike.back is (len(after.history) > len(before.history))
    assert tried > 5


def test_a_look_ahead_records_nothing(bench: Bench) -> None:
    job = visit(bench, 1)
    before = bench.state(job)
    bench.strike(job, 3)
    assert bench.state(job) == before
    assert bench.verify() == len(before.everything)


def test_cells_of_another_matrix_are_told_apart_from_its_own(bench: Bench) -> None:
    job = bench.new_job(saltmarsh_tram(), "invented")
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    strike = bench.strike(job, 3)
    assert strike.cells == (CellKey("switches", 1, 3),)
    assert strike.beyond == ()


def test_an_undo_line_stands_for_its_coming_back(bench: Bench) -> None:
    job = bench.new_job(saltmarsh_tram(), "invented")
    bench.mark(job, "switches", "31-")
    bench.undo(job)
    state = bench.state(job)
    assert isinstance(state.everything[2].event, Withdrawn)
    assert bench.strike(job, 3) == bench.strike(job, 2)
    assert bench.strike(job, 3).back


def test_the_opening_and_what_steers_can_not_be_struck_out(bench: Bench) -> None:
    job = bench.new_job(saltmarsh_tram(), "invented")
    bench.mark(job, "switches", "31-")
    bench.undo(job)
    bench.redo(job)
    for number, says in ((1, "job-opened"), (4, "redo"), (9, "has no event")):
        with pytest.raises(UsageError, match=says):
            bench.strike(job, number)
