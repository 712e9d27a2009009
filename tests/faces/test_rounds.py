"""The steps of a round as plain values, against a plain reckoning of the same."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from pilots import NOON, CannedBench

from matrixcheck.layout.places import CellKey
from matrixcheck.record.job_state import Pace
from matrixcheck.tui.round_steps import (
    WalkTiming,
    entered_since,
    entry_for,
    order_of,
    resumed_at,
    resumed_timing,
    unjudged_before,
    untested,
)

SECONDS = st.floats(min_value=0.2, max_value=60, allow_nan=False)
TIMES = st.floats(min_value=0, max_value=10_000, allow_nan=False)


@given(began=TIMES, seconds=SECONDS, steps=st.integers(min_value=0, max_value=200), part=st.floats(0.01, 0.99))
def test_a_timed_walk_shows_the_device_whose_turn_it_is(began: float, seconds: float, steps: int, part: float) -> None:
    timing = WalkTiming(began, seconds)
    assert timing.place(began + (steps + part) * seconds) == steps


@given(began=TIMES, seconds=SECONDS, steps=st.integers(1, 200), off=st.floats(-0.45, 0.45))
def test_saying_that_it_stepped_just_now_puts_the_nearest_step_here(
    began: float, seconds: float, steps: int, off: float
) -> None:
    now = began + (steps + off) * seconds
    put_right = WalkTiming(began, seconds).stepped_now(now)
    assert put_right.place(now + 0.01 * seconds) == steps
    assert math.isclose(put_right.until_next(now + 0.25 * seconds), 0.75 * seconds, rel_tol=1e-6, abs_tol=1e-6)


@given(began=TIMES, seconds=SECONDS, at=st.floats(0.1, 500), rest=st.floats(0.1, 500))
def test_a_pause_takes_no_time_off_the_device_shown(began: float, seconds: float, at: float, rest: float) -> None:
    stopped = WalkTiming(began, seconds).paused(began + at)
    assert stopped.place(began + at + rest) == stopped.place(began + at)
    going = stopped.resumed(began + at + rest)
    off = going.until_next(began + at + rest) - WalkTiming(began, seconds).until_next(began + at)
    assert math.isclose(off / seconds, round(off / seconds), rel_tol=0, abs_tol=1e-5)


@given(began=TIMES, seconds=SECONDS, at=st.floats(0.1, 500), by=st.integers(-20, 20))
def test_moving_a_timed_walk_by_whole_devices_keeps_its_phase(began: float, seconds: float, at: float, by: int) -> None:
    timing = WalkTiming(began, seconds)
    now = began + (math.floor(at / seconds) + 0.5) * seconds
    assert timing.moved(by).place(now) == timing.place(now) + by


@given(
    now=TIMES,
    seconds=SECONDS,
    place=st.integers(0, 60),
    steps=st.integers(0, 50),
    part=st.floats(0.01, 0.99),
    late=st.floats(0.0, 500.0),
)
def test_a_timed_walk_is_taken_up_stopped_at_the_device_that_was_last_known(
    *, now: float, seconds: float, place: int, steps: int, part: float, late: float
) -> None:
    known = Pace(seconds, place, False, NOON)
    timing = resumed_timing(known, NOON + timedelta(seconds=(steps + part) * seconds), now)
    assert timing.place(now + late) == place + steps
    assert timing.resumed(now + late).stepped_now(now + late).place(now + late + 0.1 * seconds) == place + steps + 1
    stopped = resumed_timing(replace(known, paused=True), NOON + timedelta(seconds=late), now)
    assert stopped.place(now + late) == place


def test_a_walk_follows_the_order_of_the_machines_own_test(bench: CannedBench, job: str) -> None:
    matrix = bench.state(job).layout.matrix("switches")
    assert [cell.number for cell in order_of(matrix)][:4] == [11, 12, 13, 14]
    few = [CellKey("switches", 4, 2), CellKey("switches", 1, 2)]
    assert [cell.number for cell in order_of(matrix, few)] == [21, 24]


def test_a_round_speaks_of_cells_marked_put_off_or_measured_since_it_began(bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "11")
    bench.start_round(job, "switches", "walk")
    since = bench.state(job).seq
    bench.mark(job, "switches", "12 13- 14. 15=4.1")
    spoken = entered_since(bench.state(job), since)
    assert spoken == {CellKey("switches", row, 1) for row in (2, 3, 4, 5)}
    bench.undo(job)
    assert entered_since(bench.state(job), since) == frozenset()


def test_what_is_entered_once_a_round_is_over_is_no_part_of_it(bench: CannedBench, job: str) -> None:
    bench.start_round(job, "switches", "walk")
    since = bench.state(job).seq
    bench.mark(job, "switches", "12")
    bench.end_round(job)
    bench.mark(job, "switches", "13 14.")
    assert entered_since(bench.state(job), since) == {CellKey("switches", 2, 1)}


@pytest.mark.parametrize(("typed", "place"), [("", 0), ("11 12", 2), ("13", 3), ("87", 59)])
def test_a_round_goes_on_after_the_last_cell_that_it_spoke_of(
    bench: CannedBench, job: str, typed: str, place: int
) -> None:
    bench.start_round(job, "switches", "walk")
    since = bench.state(job).seq
    if typed:
        bench.mark(job, "switches", typed)
    state = bench.state(job)
    assert resumed_at(order_of(state.layout.matrix("switches")), state, since) == place


def test_only_devices_that_went_by_unmarked_passed_in_silence(bench: CannedBench, job: str) -> None:
    bench.start_round(job, "switches", "walk")
    since = bench.state(job).seq
    bench.mark(job, "switches", "12- 14.")
    state = bench.state(job)
    order = order_of(state.layout.matrix("switches"))
    assert [cell.number for cell in unjudged_before(order, 5, state, since)] == [11, 13, 15]


def test_an_entry_for_many_cells_is_kept_as_one_and_undone_as_one(bench: CannedBench, job: str) -> None:
    order = order_of(bench.state(job).layout.matrix("switches"))
    bench.mark(job, "switches", entry_for(order))
    assert untested(order, bench.state(job)) == ()
    bench.undo(job)
    assert untested(order, bench.state(job)) == order
