"""What a repair makes due for a retest, against a walk over the paths; what a retest then says of the repair."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import convert
from record_case import BATCHES, PLACES, START, at, marked, on_path, read, recorded, state_after, withdrawal_of

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.events import Event, JobOpened, Read, Recorded, Repaired
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import advance, replay

CRAB, ROPE, BELL, GULL, TIDE = at(2, 2), at(2, 3), at(2, 4), at(1, 2), at(3, 2)
TROUGH = at(3, 1)
PARTS = ["U1-1", "U1-2", "Q1", "Q2", "Q3", "X1-1", "X1-2", "X2-1", "F1", "K1"]


class Visit(NamedTuple):
    """A machine with what was read of it, and what was repaired then. `stuck` are the cells that its one rest scan
    showed, `closed` the switches that rest closed."""

    layout: Layout
    readings: list[Reading]
    stuck: frozenset[CellKey]
    closed: frozenset[CellKey]
    place: str


@st.composite
def visits(draw: st.DrawFn) -> Visit:
    """Two matrices that share parts; each cell is read once at most, with what is on at rest in every answer."""
    refs = st.lists(st.sampled_from(PARTS), unique=True, max_size=2)
    fuse = st.sampled_from([(), ("F1",)])
    matrices = []
    closed: set[CellKey] = set()
    for name, kind in (("switches", "switch"), ("lamps", "lamp")):
        rows, columns = draw(st.integers(1, 3)), draw(st.integers(1, 3))
        resting = draw(st.sets(st.integers(1, rows * columns), max_size=2)) if kind == "switch" else set()
        matrices.append(
            {
                "id": name,
                "kind": kind,
                "supply": draw(fuse),
                "cells": [[f"{name} {row} {column}" for column in range(columns)] for row in range(rows)],
                "column": [{"path": draw(refs), "supply": draw(fuse)} for _ in range(columns)],
                "row": [{"path": draw(refs)} for _ in range(rows)],
                "cell": {str(number): {"rest": "closed"} for number in resting},
            }
        )
        closed |= {CellKey(name, (number - 1) % rows + 1, (number - 1) // rows + 1) for number in resting}
    layout = convert({"format": 1, "name": "drawn", "matrix": matrices}, Layout)
    cells = [cell.key for matrix in layout.matrices for cell in matrix.fitted]
    stuck = frozenset(draw(st.sets(st.sampled_from(cells), max_size=3))) - closed
    readings = [
        Reading(matrix=name, answered=tuple(sorted(key for key in stuck | closed if key.matrix == name)))
        for name in ("switches", "lamps")
    ]
    for key in draw(st.lists(st.sampled_from(cells), unique=True, max_size=8)):
        near = [other for other in cells if other.matrix == key.matrix and other != key]
        some = st.lists(st.sampled_from(near), unique=True, max_size=2) if near else st.just([])
        held = set(draw(some)) if key.matrix == "switches" else set()
        others = set(draw(some)) | {other for other in stuck | closed | held if other.matrix == key.matrix}
        faint = set(draw(some)) - others - {key} if key.matrix == "lamps" else set()
        answers = key in stuck or draw(st.booleans())
        shown = others | {key} if answers else others - {key}
        readings.append(
            Reading(
                matrix=key.matrix,
                cell=key,
                held=tuple(sorted(held)),
                answered=tuple(sorted(shown)),
                faint=tuple(sorted(faint)),
            )
        )
    lines = [str(line) for matrix in layout.matrices for line in matrix.lines]
    place = draw(st.sampled_from([*PARTS, "X1", "X2", "U1", *lines, *map(str, cells)]))
    return Visit(layout, readings, stuck, frozenset(closed), place)


def state_of(visit: Visit, *more: Event) -> JobState:
    events = [JobOpened(name="drawn", layout=visit.layout), *(Read(reading=one) for one in visit.readings), *more]
    return replay(Recorded(seq, "job1", seq, START, event) for seq, event in enumerate(events, 1))


def due_by_walk(visit: Visit) -> set[CellKey]:
    """The cells that are due, by asking of each of them what the rule says."""
    touched = {
        cell.key
        for matrix in visit.layout.matrices
        for cell in matrix.fitted
        if on_path(visit.layout, visit.place, cell.key)
    }
    by_cell: Mapping[CellKey | None, Reading] = {one.cell: one for one in visit.readings}
    found = set()
    for matrix in visit.layout.matrices:
        scan_is_outdated = any(key.matrix == matrix.id for key in touched & visit.stuck)
        for cell in matrix.fitted:
            reading = by_cell.get(cell.key)
            tested = reading is not None or cell.key in visit.stuck
            shown = {*reading.answered, *reading.faint} - {*reading.held, cell.key} if reading else set()
            out_of_place = shown - visit.closed - visit.stuck
            judged_apart = reading is not None and reading.held
            rests_on_scan = scan_is_outdated and cell.key in visit.stuck and not judged_apart
            if tested and (cell.key in touched or out_of_place & touched or rests_on_scan):
                found.add(cell.key)
    return found


@given(visits())
def test_due_is_what_a_walk_over_the_paths_finds(visit: Visit) -> None:
    state = state_of(visit, Repaired(place=visit.place))
    assert set(state.due) == due_by_walk(visit)
    assert state.repairs[0].due == due_by_walk(visit)


@given(visits())
def test_a_repair_leaves_every_cell_that_is_not_due_as_it_stood(visit: Visit) -> None:
    before, after = state_of(visit), state_of(visit, Repaired(place=visit.place))
    for key, standing in after.standings.items():
        if standing.retest_due is None:
            was = before.standings[key]
            assert (standing.mark, standing.intermittent, standing.ohms) == (was.mark, was.intermittent, was.ohms)
            assert (standing.echoed, standing.answered_instead) == (was.echoed, was.answered_instead)


@given(st.lists(BATCHES, max_size=10), st.sampled_from(PLACES))
def test_no_mark_rests_on_a_reading_that_is_older_than_a_repair_on_its_path(
    batches: list[tuple[Event, ...]], place: str
) -> None:
    state = state_after(*batches, Repaired(place=place))
    for key, standing in state.standings.items():
        if on_path(state.layout, place, key):
            assert standing.mark is Mark.UNTESTED
            assert all(one.reading.mark is one.reading.answered is None for one in standing.seen)


@given(st.lists(BATCHES, max_size=10), st.sampled_from(PLACES))
def test_no_reading_that_speaks_shows_a_repaired_cell_out_of_place(
    batches: list[tuple[Event, ...]], place: str
) -> None:
    state = state_after(*batches, Repaired(place=place))
    for reading in state.current:
        shown = {*(reading.answered or ()), *reading.faint} - {*reading.held, TROUGH}
        assert not any(on_path(state.layout, place, key) for key in shown if key in state.standings)


def test_switches_that_rest_closed_or_hang_make_nothing_else_due() -> None:
    """Beside every other switch the one at rest and the stuck one show; a repair there concerns their column alone."""
    others = [key for key in state_after().standings if key.matrix == "switches" and key.column not in (1, 2)]
    scan = read(None, [TROUGH, CRAB])
    readings = [read(key, [key, TROUGH, CRAB]) for key in others]
    for place in ("Q1", "switches.c1", "Q2", "switches.r2c2"):
        state = state_after(scan, *readings, Repaired(place=place))
        assert set(state.due) <= {CRAB}
        assert all(state.standings[key].mark is Mark.WORKING for key in others)


def test_what_was_read_beside_a_stuck_switch_does_not_go_on_showing_it_after_its_repair() -> None:
    state = state_after(read(None, [CRAB]), read(BELL, [BELL, CRAB]), Repaired(place="switches.r2c2"))
    assert [(one.cell, one.answered, one.mark) for one in state.current] == [(BELL, None, Mark.WORKING)]


def passed_and_failed(*events: Event) -> list[tuple[str, str]]:
    return [(one.place, one.outcome) for one in state_after(*events).repairs]


def test_a_retest_that_fails_leaves_the_repair_open_and_the_right_one_closes_it() -> None:
    dead = [read(CRAB, []), read(GULL, [])]
    wrong, right = Repaired(place="Q2", did="replaced"), Repaired(place="X5-2", did="pin bent back")
    fails, passes = [read(CRAB, []), read(GULL, [])], [read(CRAB, [CRAB]), read(GULL, [GULL])]
    assert passed_and_failed(*dead, wrong) == [("Q2", "retest due")]
    assert passed_and_failed(*dead, wrong, *fails) == [("Q2", "failed")]
    assert passed_and_failed(*dead, wrong, *fails, right) == [("Q2", "failed"), ("X5-2", "retest due")]
    assert passed_and_failed(*dead, wrong, *fails, right, passes[0]) == [("Q2", "failed"), ("X5-2", "retest due")]
    assert passed_and_failed(*dead, wrong, *fails, right, *passes) == [("Q2", "failed"), ("X5-2", "passed")]
    assert passed_and_failed(*dead, right, *passes, fails[1]) == [("X5-2", "failed")]


def test_a_cell_that_answers_with_another_has_not_passed() -> None:
    assert passed_and_failed(read(CRAB, []), Repaired(place="Q2"), read(CRAB, [CRAB, ROPE])) == [("Q2", "failed")]


def test_two_repairs_before_one_retest_are_both_judged_by_it() -> None:
    both = [Repaired(place="Q2"), Repaired(place="X5-2")]
    assert passed_and_failed(read(CRAB, []), *both, read(CRAB, [CRAB])) == [("Q2", "passed"), ("X5-2", "passed")]
    state = state_after(read(CRAB, []), *both)
    assert (state.standings[CRAB].retest_due, state.standings[CRAB].before_repair) == ("X5-2", Mark.DEAD)


def test_a_repair_of_what_nobody_tested_makes_nothing_due() -> None:
    assert passed_and_failed(Repaired(place="Q2")) == [("Q2", "nothing to retest")]


def test_a_repair_outside_the_layout_touches_nothing_that_was_read() -> None:
    belt = Repaired(place="Q2", did="belt replaced", outside=True)
    state = state_after(read(CRAB, []), belt)
    assert state.standings == state_after(read(CRAB, [])).standings
    assert state.known == ()


@pytest.mark.parametrize("answers", range(4))
def test_an_intermittent_cell_is_due_until_it_passed_three_times(answers: int) -> None:
    came_and_went = [read(CRAB, []), read(CRAB, [CRAB])]
    assert state_after(*came_and_went).standings[CRAB].intermittent
    state = state_after(*came_and_went, Repaired(place="Q2"), *[read(CRAB, [CRAB])] * answers)
    standing = state.standings[CRAB]
    assert (standing.retest_due is None) is (answers == 3)
    assert standing.passes_left == 3 - answers
    assert standing.mark is (Mark.WORKING if answers == 3 else Mark.UNTESTED)
    assert state.repairs[0].outcome == ("passed" if answers == 3 else "retest due")


def test_an_intermittent_cell_that_fails_again_failed_its_retest() -> None:
    came_and_went = [read(CRAB, []), read(CRAB, [CRAB]), Repaired(place="Q2"), read(CRAB, [CRAB])]
    state = state_after(*came_and_went, read(CRAB, []))
    assert (state.standings[CRAB].mark, state.standings[CRAB].intermittent) == (Mark.DEAD, True)
    assert state.repairs[0].outcome == "failed"


@pytest.mark.parametrize("place", range(3))
def test_a_wrong_mark_that_is_struck_out_leaves_no_coming_and_going(place: int) -> None:
    marks = [marked(CRAB, Mark.WORKING)] * 2
    marks.insert(place, marked(CRAB, Mark.DEAD))
    events = recorded(*marks)
    assert replay(events).standings[CRAB].intermittent
    state = advance(replay(events), [withdrawal_of(events, events[1 + place].batch)])
    assert (state.standings[CRAB].mark, state.standings[CRAB].intermittent) == (Mark.WORKING, False)


def test_the_resistance_of_a_device_outlives_the_repair_of_its_driver_and_not_its_own() -> None:
    def ohms(*events: Event) -> Iterable[float | None]:
        return [reading.ohms for reading in state_after(*events).current]

    kicker = at(1, 1, "coils")
    measured = [marked(kicker, Mark.DEAD), read(kicker, ohms=2.9)]
    assert ohms(*measured, Repaired(place="coils.c1")) == [2.9]
    assert ohms(*measured, Repaired(place="coils.r1c1")) == []
    assert ohms(read(kicker, ohms=2.9), Repaired(place="coils.r1c1"), read(kicker, ohms=4.2)) == [4.2]
