"""An undo strikes out a line or one event of it, a redo brings it back, and the history shows who, when and what."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import BATCHES, LAYOUT, START, at, recorded, withdrawal_of

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import Event, Recorded, Restored, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import advance, replay
from matrixcheck.record.withdrawals import struck_out

GULL, CRAB, ROPE = at(1, 2), at(2, 2), at(2, 3)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "bench.book", client="here", initials="AB")
    yield bench
    bench.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(LAYOUT, "lighthouse")


def as_it_counts(state: JobState) -> JobState:
    return replace(state, seq=0, struck=())


def after(events: tuple[Recorded, ...], event: Event) -> Recorded:
    seq = events[-1].seq + 1
    return Recorded(seq, "job1", seq, START, event)


@given(st.lists(BATCHES, min_size=1, max_size=8), st.data())
def test_undo_then_redo_is_the_identity(batches: list[tuple[Event, ...]], data: st.DataObject) -> None:
    events = recorded(*batches)
    undo = withdrawal_of(events, data.draw(st.sampled_from([one.batch for one in events[1:]])))
    redo = after((*events, undo), Restored(withdrawal=undo.seq))
    state = replay(events)
    assert as_it_counts(advance(advance(state, [undo]), [redo])) == as_it_counts(state)
    assert advance(state, [undo, redo]) == replay([*events, undo, redo])


@given(st.lists(BATCHES, min_size=1, max_size=8), st.data())
def test_striking_out_one_event_leaves_the_others_as_if_it_had_never_been(
    batches: list[tuple[Event, ...]], data: st.DataObject
) -> None:
    events = recorded(*batches)
    one = data.draw(st.sampled_from(events[1:]))
    state = advance(replay(events), [after(events, Withdrawn(batch=one.batch, only=(one.seq,)))])
    assert as_it_counts(state) == as_it_counts(replay([each for each in events if each != one]))


@given(st.lists(BATCHES, max_size=6), st.data())
def test_any_undos_and_redos_count_alike_folded_at_once_or_one_by_one(
    batches: list[tuple[Event, ...]], data: st.DataObject
) -> None:
    events = recorded(*batches)
    for _ in range(data.draw(st.integers(0, 5))):
        undos = [one.seq for one in events if isinstance(one.event, Withdrawn)]
        names = [one.batch for one in events[1:] if one.event.undoable]
        if undos and data.draw(st.booleans()):
            events += (after(events, Restored(withdrawal=data.draw(st.sampled_from(undos)))),)
        elif names:
            events += (after(events, Withdrawn(batch=data.draw(st.sampled_from(names)))),)
    state = replay(events[:1])
    for one in events[1:]:
        state = advance(state, [one])
    gone = struck_out(events)
    assert state == replay(events)
    assert state.everything == events
    assert all(one.seq not in gone for one in state.history)


def marks(bench: Bench, job: str) -> dict[str, Mark]:
    standings = bench.state(job).standings
    return {standings[key].cell.name: standings[key].mark for key in (GULL, CRAB, ROPE)}


def test_redo_goes_forward_as_far_as_undo_went_back(bench: Bench, job: str) -> None:
    seen = [marks(bench, job)]
    for entry in ("4", "5-", "8"):
        bench.mark(job, "switches", entry)
        seen.append(marks(bench, job))
    for stage in (2, 1, 0):
        bench.undo(job)
        assert marks(bench, job) == seen[stage]
    for stage in (1, 2, 3):
        assert bench.redo(job).what
        assert marks(bench, job) == seen[stage]
    with pytest.raises(UsageError, match="nothing to redo"):
        bench.redo(job)


def test_what_is_recorded_after_an_undo_ends_redo(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "4")
    bench.undo(job)
    bench.mark(job, "switches", "5")
    with pytest.raises(UsageError, match="nothing to redo"):
        bench.redo(job)
    assert bench.redo(job, event=2).cells == (GULL,)
    assert marks(bench, job)["gull"] is Mark.WORKING


def test_a_client_redoes_its_own_undo_alone(bench: Bench, job: str, tmp_path: Path) -> None:
    bench.mark(job, "switches", "4")
    bench.undo(job)
    other = Bench(tmp_path / "bench.book", client="there")
    with pytest.raises(UsageError, match="nothing to redo"):
        other.redo(job)
    other.mark(job, "switches", "5")
    assert bench.redo(job).cells == (GULL,)
    other.close()


def test_one_event_of_a_line_is_struck_out_by_its_number_and_the_rest_stays(bench: Bench, job: str) -> None:
    bench.new_job(LAYOUT, "another")
    bench.mark(job, "switches", "4 5- 8")
    bench.mark(job, "switches", "5")
    assert bench.state(job).standings[CRAB].intermittent
    number = next(line.seq for line in bench.log(job) if "(crab) dead" in line.text)
    assert number == 3
    assert bench.undo(job, event=number).cells == (CRAB,)
    standing = bench.state(job).standings[CRAB]
    assert (standing.mark, standing.intermittent) == (Mark.WORKING, False)
    assert marks(bench, job) == {"gull": Mark.WORKING, "crab": Mark.WORKING, "rope": Mark.WORKING}
    assert bench.undo(job).cells == (CRAB,)
    assert set(bench.undo(job).cells) == {GULL, ROPE}


@pytest.mark.parametrize(
    ("number", "says"), [(0, "no event"), (99, "no event"), (1, "can't be undone"), (2, "no longer counts")]
)
def test_what_can_not_be_struck_out_is_refused(bench: Bench, job: str, number: int, says: str) -> None:
    bench.mark(job, "switches", "4")
    bench.undo(job, event=2)
    before = bench.state(job).seq
    with pytest.raises(UsageError, match=says):
        bench.undo(job, event=number)
    assert bench.state(job).seq == before


def test_the_history_says_who_and_what_and_what_no_longer_counts(bench: Bench, job: str, tmp_path: Path) -> None:
    bench.mark(job, "switches", "4 5-")
    other = Bench(tmp_path / "bench.book", client="terminal pts/3 of somebody")
    other.undo(job, event=3)
    other.redo(job)
    other.undo(job, event=2)
    other.close()
    lines = bench.log(job)
    assert [line.seq for line in lines] == [1, 2, 3, 4, 5, 6]
    assert [line.who for line in lines] == ["AB"] * 3 + ["terminal pts/3"] * 3
    assert [line.withdrawn for line in lines] == [False, True, False, False, False, False]
    assert [line.text for line in lines[3:]] == [
        "undone: switch 5 (crab) dead",
        "redone: switch 5 (crab) dead",
        "undone: switch 4 (gull) answered",
    ]
