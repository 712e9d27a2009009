"""The work of a replay grows with the events and no faster; undos and long files take none again."""

from __future__ import annotations

import sys
from collections.abc import Callable
from itertools import cycle, islice
from pathlib import Path
from types import FrameType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import BATCHES, CELLS, LAYOUT, at, marked, read, recorded, withdrawal_of

from matrixcheck.bench import Bench, recording
from matrixcheck.errors import InputError
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.events import Event, Read, Recorded, Repaired
from matrixcheck.record.folding import Folding
from matrixcheck.record.replay import advance, replay
from matrixcheck.record.summary import log_lines


def _long(count: int) -> tuple[Recorded, ...]:
    """A job of `count` marks over all cells, a rest scan and a repair now and then, every tenth mark undone later."""
    events: tuple[Recorded, ...] = recorded(
        *(_event(place, cell) for place, cell in enumerate(islice(cycle(CELLS), count)))
    )
    for batch in [one.batch for one in events[1::10]]:
        events += (withdrawal_of(events, batch),)
    return events


def _event(place: int, cell: object) -> Event:
    if place % 50 == 49:
        return read(None, [at(2, 2)] if place % 100 == 49 else [])
    return Repaired(place="Q1") if place % 97 == 96 else marked(cell, Mark.WORKING)


@pytest.fixture
def folds(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The seq of every event that is folded in, once for each time."""
    folded: list[int] = []
    change = Folding._change

    def counted(folding: Folding, one: Recorded) -> None:
        folded.append(one.seq)
        change(folding, one)

    monkeypatch.setattr(Folding, "_change", counted)
    return folded


def test_a_replay_folds_each_event_that_counts_once_however_many_were_undone(folds: list[int]) -> None:
    events = _long(400)
    state = replay(events)
    assert folds == [one.seq for one in state.history[1:]]
    assert len(folds) == 360


def test_events_that_come_later_are_folded_alone_and_what_they_undo_not_at_all(folds: list[int]) -> None:
    events = recorded(*(marked(cell, Mark.DEAD) for cell in CELLS))
    cut = len(events) // 2
    state = replay(events[:cut])
    folds.clear()
    undone = withdrawal_of(events, events[-1].batch)
    assert advance(state, [*events[cut:], undone]) == replay([*events, undone])
    assert folds[: len(events) - cut - 1] == [one.seq for one in events[cut:-1]]


def test_many_undos_of_what_is_folded_already_fold_the_rest_once(folds: list[int]) -> None:
    events = _long(200)
    kept = [one for one in events if one.batch == one.seq and one.event.undoable]
    first = events[: len(kept) + 1]
    state = replay(first)
    folds.clear()
    after = advance(state, events[len(first) :])
    assert folds == [one.seq for one in after.history[1:]]


def test_the_history_in_words_folds_each_event_that_counts_once(folds: list[int]) -> None:
    log_lines(_long(300))
    assert len(folds) == len(set(folds)) == 270


def _calls(work: Callable[[], object]) -> int:
    """How many calls of functions, our own and built-in ones, a piece of work makes."""
    count = 0

    def seen(frame: FrameType, event: str, arg: object) -> None:
        nonlocal count
        del frame, arg
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(seen)
    try:
        work()
    finally:
        sys.setprofile(before)
    return count


@pytest.mark.parametrize("fold", [replay, log_lines])
def test_twice_the_events_take_twice_the_work(fold: Callable[[tuple[Recorded, ...]], object]) -> None:
    few, many = _long(200), _long(400)
    fold(few)
    assert _calls(lambda: fold(many)) <= 2.2 * _calls(lambda: fold(few))


def test_a_cell_read_twice_as_often_takes_twice_the_work() -> None:
    def all_of_one(count: int) -> tuple[Recorded, ...]:
        return recorded(*(read(CELLS[0], [CELLS[0]] if place % 2 else []) for place in range(count)))

    few, many = all_of_one(200), all_of_one(400)
    assert _calls(lambda: replay(many)) <= 2.2 * _calls(lambda: replay(few))


@given(st.lists(BATCHES, max_size=10), st.data())
def test_any_prefix_folded_on_in_any_steps_is_the_whole(batches: list[tuple[Event, ...]], data: st.DataObject) -> None:
    events = recorded(*batches)
    for _ in range(data.draw(st.integers(0, 3))):
        batch = data.draw(st.sampled_from([one.batch for one in events[1:]] or [99]))
        events += (withdrawal_of(events, batch),)
    cuts = sorted(data.draw(st.lists(st.integers(1, len(events)), min_size=1, max_size=4)))
    state = replay(events[: cuts[0]])
    for begin, end in zip(cuts, [*cuts[1:], len(events)], strict=True):
        state = advance(state, events[begin:end])
    assert state == replay(events)


@given(st.lists(BATCHES, max_size=6), BATCHES, st.lists(BATCHES, max_size=4))
def test_what_follows_an_undo_stands_as_without_the_undone_batch(
    before: list[tuple[Event, ...]], undone: tuple[Event, ...], after: list[tuple[Event, ...]]
) -> None:
    events = recorded(*before, undone, *after)
    batch = events[1 + sum(map(len, before))].batch
    later = len(events) - sum(map(len, after))
    withdrawal = withdrawal_of(events[:later], batch)
    state = advance(advance(replay(events[:later]), [withdrawal]), events[later:])
    rest = replay([one for one in events if one.batch != batch])
    assert replace(state, seq=0, struck=()) == replace(rest, seq=0)


def test_readings_are_checked_while_others_may_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bench, other = Bench(tmp_path / "bench.book"), Bench(tmp_path / "bench.book", patience=0.01)
    job = bench.new_job(LAYOUT, "lantern")
    check = recording.check_reading

    def noted(reading: Reading, layout: object) -> None:
        other.note(job, "written meanwhile")
        check(reading, layout)

    monkeypatch.setattr(recording, "check_reading", noted)
    cell = CELLS[0]
    good = Reading(matrix=cell.matrix, cell=cell, answered=(cell,))
    bench.take_readings(job, [good])
    with pytest.raises(InputError):
        bench.take_readings(job, [good, Reading(matrix=cell.matrix, cell=cell, mark=Mark.UNTESTED)])
    state = bench.state(job)
    assert len(state.notes) == 3
    assert sum(isinstance(one.event, Read) for one in state.history) == 1
    for one in (bench, other):
        one.close()
