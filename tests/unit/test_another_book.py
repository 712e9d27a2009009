"""A bench that goes on in another book: the job comes along as it stands, and the old book is left alone."""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import BATCHES, LAYOUT, START, at, recorded, withdrawal_of

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError, MatrixCheckError, UsageError
from matrixcheck.layout.reading import Mark
from matrixcheck.record.copying import renumbered
from matrixcheck.record.events import Read, RoundEnded, RoundPaced, RoundStarted
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay

CRAB, ROPE, BELL, GULL = at(2, 2), at(2, 3), at(2, 4), at(1, 2)


def bench_on(path: Path) -> Bench:
    """A bench of the client `A` with a clock that goes on a second at each look."""
    ticks = (START + timedelta(seconds=count) for count in range(10_000))
    return Bench(path, clock=lambda: next(ticks), patience=0.02, client="A", initials="ml")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = bench_on(tmp_path / "bench.book")
    yield bench
    bench.close()


@pytest.fixture
def job(bench: Bench) -> str:
    """A job that stands behind another in its book, with an entry undone, and a roll open with a reading in it."""
    bench.new_job(LAYOUT, "windmill")
    job = bench.new_job(LAYOUT, "lighthouse", serial="0417", owner="the harbour")
    bench.mark(job, "switches", "5-")
    bench.mark(job, "switches", "8-")
    bench.undo(job)
    bench.start_round(job, "switches", "roll")
    bench.mark(job, "switches", "4 11-")
    return job


@pytest.fixture
def other(tmp_path: Path) -> Path:
    return tmp_path / "shelf" / "other.book"


@pytest.fixture
def second(bench: Bench, job: str, other: Path) -> Iterator[Bench]:
    """The bench of another client, which has read the job and lost its book; the first has moved on already."""
    second = Bench(bench.path, clock=lambda: START, client="B")
    second.state(job)
    lose(bench)
    bench.move_to(other, [job])
    yield second
    second.close()


def without_numbers(state: JobState) -> object:
    """All that a job's state says but for the numbers of its events."""
    history = [one._replace(seq=0, batch=0, event=_unnumbered(one.event)) for one in state.history]
    marks = {key: (standing.mark, standing.deferred, standing.retest_due) for key, standing in state.standings.items()}
    rounds = {client: replace(one, seq=0) for client, one in state.rounds.items()}
    return state.name, state.serial, state.owner, state.layout, history, marks, rounds, state.current, state.coils


def _unnumbered(event: object) -> object:
    return replace(event, round=0) if isinstance(event, Read | RoundPaced | RoundEnded) else event


def lose(bench: Bench) -> Path:
    """Move the book's file away."""
    return bench.path.rename(bench.path.with_name("away.book"))


def test_a_job_whose_book_has_gone_goes_on_in_another_book_as_it_stood(bench: Bench, job: str, other: Path) -> None:
    before = bench.state(job)
    lose(bench)
    with pytest.raises(BookError, match="is gone"):
        bench.mark(job, "switches", "8-")
    (state,) = bench.move_to(other, [job]).values()
    assert (bench.path, bench.moved) == (other, True)
    assert without_numbers(state) == without_numbers(before) == without_numbers(bench_on(other).state(job))
    assert [one.seq for one in state.history] == list(range(1, len(before.history) + 1))
    assert [one.id for one in jobs_of(other)] == [job]
    assert stat.S_IMODE(other.stat().st_mode) == 0o600
    assert bench.verify() == len(before.history)


def jobs_of(path: Path) -> list[JobState]:
    """The jobs of a book, as a bench of its own reads them."""
    bench = bench_on(path)
    return [bench.state(one.id) for one in bench.jobs()]


def test_entries_undo_and_the_open_round_go_on_in_the_other_book(bench: Bench, job: str, other: Path) -> None:
    lose(bench)
    bench.move_to(other, [job])
    assert not bench.changed()
    bench.mark(job, "switches", "8-")
    assert bench.undo(job).cells == (ROPE,)
    assert set(bench.undo(job).cells) == {GULL, BELL}
    assert bench.undo(job).cells == (CRAB,)
    bench.end_round(job)
    (state,) = jobs_of(other)
    assert state.round is None
    assert {standing.mark for standing in state.standings.values()} == {Mark.UNTESTED}
    assert bench.verify() == bench_on(other).verify()


def test_a_reading_of_the_open_round_names_the_number_that_the_round_has_there(
    bench: Bench, job: str, other: Path
) -> None:
    lose(bench)
    bench.move_to(other, [job])
    (state,) = jobs_of(other)
    (began,) = [one.seq for one in state.history if isinstance(one.event, RoundStarted)]
    assert state.round is not None
    assert state.round.seq == began
    assert [one.event.round for one in state.history if isinstance(one.event, Read)] == [0, began, began]


def test_an_old_book_that_is_still_there_keeps_what_it_held(bench: Bench, job: str, other: Path) -> None:
    old, count = bench.path, bench.verify()
    bench.move_to(other, [job])
    bench.mark(job, "switches", "8-")
    assert bench_on(old).verify() == count
    assert bench_on(old).state(job).standings[ROPE].mark is Mark.UNTESTED


def test_another_book_keeps_its_own_jobs_and_the_numbers_go_on(bench: Bench, job: str, other: Path) -> None:
    neighbour = bench_on(other)
    own = neighbour.new_job(LAYOUT, "harbour crane")
    neighbour.mark(own, "switches", "5-")
    neighbour.close()
    lose(bench)
    bench.move_to(other, [job])
    assert {one.id for one in bench.jobs()} == {own, job}
    assert bench.state(own).standings[CRAB].mark is Mark.DEAD
    assert bench.state(job).history[0].seq == 3
    bench.verify()


def test_a_second_client_may_follow_into_the_book_to_which_the_first_has_moved(
    bench: Bench, job: str, second: Bench, other: Path
) -> None:
    bench.mark(job, "switches", "8-")
    held = bench.verify()
    state = second.move_to(other, [job])[job]
    assert state.standings[ROPE].mark is Mark.DEAD
    assert second.verify() == held
    second.mark(job, "switches", "12-")
    assert second.undo(job).cells == (at(3, 4),)


REFUSED: dict[str, tuple[Callable[[Path], object], str]] = {
    "a folder": (lambda path: path.mkdir(parents=True), "is a folder"),
    "a device": (lambda path: link_to(path, Path("/dev/null")), "is no plain file"),
    "a pipe": (lambda path: (path.parent.mkdir(), os.mkfifo(path)), "is no plain file"),
    "a text": (lambda path: (path.parent.mkdir(), path.write_text("no book " * 200)), "is not a bench book"),
    "the lost file": (lambda path: link_to(path, path.parent.parent / "away.book"), "the book itself"),
    "its old place": (lambda path: link_to(path, path.parent.parent / "bench.book"), "the book itself"),
}


def link_to(path: Path, target: Path) -> None:
    """Make `path` lead to another file, which needn't be there."""
    path.parent.mkdir()
    path.symlink_to(target)


@pytest.mark.parametrize(("make", "says"), REFUSED.values(), ids=REFUSED)
def test_what_can_be_no_other_book_is_refused_and_the_bench_stays_at_its_own(
    bench: Bench, job: str, other: Path, make: Callable[[Path], object], says: str
) -> None:
    old, away = bench.path, lose(bench)
    make(other)
    with pytest.raises(MatrixCheckError, match=says):
        bench.move_to(other, [job])
    assert (bench.path, bench.moved, old.exists()) == (old, False, False)
    away.rename(old)
    bench.mark(job, "switches", "8-")
    assert bench.state(job).standings[ROPE].mark is Mark.DEAD


def test_a_book_where_an_entry_of_the_job_was_undone_since_is_refused_and_left(
    bench: Bench, job: str, second: Bench, other: Path
) -> None:
    bench.undo(job)
    held = bench.verify()
    with pytest.raises(UsageError, match=f"other events of job {job}"):
        second.move_to(other, [job])
    assert bench_on(other).verify() == held


def test_a_copy_from_earlier_that_lacks_entries_of_the_job_is_refused_and_left(bench: Bench, job: str) -> None:
    bench.close()
    copy = Path(shutil.copy(bench.path, bench.path.with_name("copy.book")))
    bench.mark(job, "switches", "8-")
    with pytest.raises(UsageError, match=f"other events of job {job}"):
        bench.move_to(copy, [job])
    assert bench_on(copy).state(job).standings[ROPE].mark is Mark.UNTESTED
    assert bench.state(job).standings[ROPE].mark is Mark.DEAD


def test_a_copy_that_lacks_nothing_is_gone_on_with(bench: Bench, job: str) -> None:
    bench.close()
    copy = Path(shutil.copy(bench.path, bench.path.with_name("copy.book")))
    bench.state(job)
    lose(bench)
    held = bench_on(copy).verify()
    bench.move_to(copy, [job])
    assert bench.verify() == held


@given(st.lists(BATCHES, max_size=8), st.data())
def test_events_under_new_numbers_give_the_same_state(batches: list[tuple[object, ...]], data: st.DataObject) -> None:
    events = recorded(*batches)  # type: ignore[arg-type]
    later = sorted({one.batch for one in events[1:]})
    for batch in data.draw(st.lists(st.sampled_from(later), unique=True)) if later else []:
        events = (*events, withdrawal_of(events, batch))
    before = replay(events)
    first = data.draw(st.integers(1, 50))
    after = replay(renumbered(before.history, first))
    assert without_numbers(after) == without_numbers(before)
    assert [one.seq for one in after.history] == list(range(first, first + len(after.history)))
    assert len({one.batch for one in after.history}) == len({one.batch for one in before.history})
    assert renumbered(after.history, 1) == renumbered(before.history, 1)
