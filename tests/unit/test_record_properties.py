"""What holds of any history at any time: of each prefix, with its undos and redos, against a plain reckoning."""

from __future__ import annotations

import pytest
from hypothesis import Phase, find, given, settings
from hypothesis import strategies as st
from record_case import BATCHES, EVENTS, LAYOUT, PLACES, START, on_path, readings, recorded, withdrawal_of

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import BY_KIND, JobOpened, Read, Recorded, Relaid, Repaired, Restored, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.readings import check_reading
from matrixcheck.record.replay import advance, replay
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.record.withdrawals import struck_out

READ = readings().map(lambda reading: (Read(reading=reading),))
FIXED = st.builds(Repaired, place=st.sampled_from(PLACES)).map(lambda event: (event,))


@st.composite
def histories(draw: st.DrawFn) -> tuple[Recorded, ...]:
    """Any history of the small machine, undos and redos at any place of it."""
    events = recorded()
    for batch in draw(st.lists(BATCHES | READ | FIXED, max_size=12)):
        first = events[-1].seq + 1
        events += tuple(Recorded(first + at, "job1", first, START, event) for at, event in enumerate(batch))
        undoable = [one.batch for one in events[1:] if one.event.undoable]
        if undoable and draw(st.integers(0, 3)) == 0:
            events += (withdrawal_of(events, draw(st.sampled_from(undoable))),)
            if draw(st.booleans()):
                seq = events[-1].seq
                events += (Recorded(seq + 1, "job1", seq + 1, START, Restored(withdrawal=seq)),)
    return events


@pytest.mark.parametrize("kind", sorted(BY_KIND))
def test_every_kind_of_event_is_drawn(kind: str) -> None:
    """A kind that is added has to be drawn, or no property of the record covers it.

    Other layouts are drawn in `test_relayout.py`, undos and redos above.
    """
    if BY_KIND[kind] not in (JobOpened, Relaid, Withdrawn, Restored):
        any_will_do = settings(max_examples=2000, phases=[Phase.generate])
        drawn = find(EVENTS, lambda event: event.kind == kind, settings=any_will_do)
        assert drawn.kind == kind


@given(histories())
def test_coverage_counts_no_reading_that_is_older_than_a_repair_on_its_path(events: tuple[Recorded, ...]) -> None:
    gone = struck_out(events)
    counting = [one for one in events if one.seq not in gone]
    state = replay(events)
    tested = {cell.key for matrix in LAYOUT.matrices for cell in matrix.fitted if speaks_since(counting, cell.key)}
    marked = {key for key, standing in state.standings.items() if standing.mark is not Mark.UNTESTED}
    assert marked <= tested
    for name, count in coverage_of(state).items():
        assert count.working + count.dead + count.stuck == sum(key.matrix == name for key in marked)


def speaks_since(counting: list[Recorded], key: CellKey) -> bool:
    """Whether a reading exercised or a scan showed the cell since the last repair on its path."""
    last = max(
        (
            one.seq
            for one in counting
            if isinstance(one.event, Repaired) and not one.event.outside and on_path(LAYOUT, one.event.place, key)
        ),
        default=0,
    )
    readings = (one.event.reading for one in counting if isinstance(one.event, Read) and one.seq > last)
    return any(
        one.cell == key
        or (one.cell is None and one.matrix == key.matrix and key in (*(one.answered or ()), *one.faint))
        for one in readings
    )


@given(histories())
def test_the_state_after_any_prefix_is_whole_and_the_same_however_it_was_reached(events: tuple[Recorded, ...]) -> None:
    state = replay(events[:1])
    assert_whole(state)
    for end, one in enumerate(events[1:], 2):
        state = advance(state, [one])
        assert state == replay(events[:end])
        assert_whole(state)


def assert_whole(state: JobState) -> None:
    """Nothing in a state contradicts anything else of it."""
    assert list(state.standings) == [cell.key for matrix in LAYOUT.matrices for cell in matrix.fitted]
    for reading in state.current:
        check_reading(reading, state.layout)
    for key, standing in state.standings.items():
        assert standing.retest_due is None or standing.mark is Mark.UNTESTED, key
    for repair in state.repairs:
        assert repair.passed | repair.failed <= repair.due
        assert not repair.passed & repair.failed
    coverage = coverage_of(state)
    for name, count in coverage.items():
        fitted = len(state.layout.matrix(name).fitted)
        assert count.total == fitted
        assert fitted == count.working + count.dead + count.stuck + count.untested + count.normal
    assert sum(count.retest_due for count in coverage.values()) == len(state.due)
    assert set(state.due) <= {item.cell for item in later_list(state)}
    assert all(one.seq <= state.seq for one in state.everything)


@given(histories(), st.data())
def test_undo_then_redo_at_any_time_leaves_what_counts_as_it_was(
    events: tuple[Recorded, ...], data: st.DataObject
) -> None:
    undoable = [one.batch for one in replay(events).history if one.event.undoable]
    if not undoable:
        return
    undo = withdrawal_of(events, data.draw(st.sampled_from(undoable)))
    redo = Recorded(undo.seq + 1, "job1", undo.seq + 1, START, Restored(withdrawal=undo.seq))
    before, after = replay(events), replay((*events, undo, redo))
    assert (after.standings, after.repairs, after.findings) == (before.standings, before.repairs, before.findings)
    assert (after.safety, after.history, after.coils) == (before.safety, before.history, before.coils)
