"""Rounds and undo belong to a client; old books open, verify and go on; what is sent twice is kept once."""

from __future__ import annotations

import hashlib
import sqlite3
import sys
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import BATCHES, CELLS, LAYOUT, START, at, marked, read, recorded

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.errors import BookError, UsageError
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record import clients
from matrixcheck.record.events import (
    Client,
    Event,
    JobOpened,
    Noted,
    Read,
    Recorded,
    RoundEnded,
    RoundStarted,
    body_of,
)
from matrixcheck.record.journal import Journal
from matrixcheck.record.replay import replay
from matrixcheck.record.schema import MIGRATIONS, bring_up_to_date, version_of
from matrixcheck.record.summary import coverage_of

GULL, CRAB, ROPE, BELL = at(1, 2), at(2, 2), at(2, 3), at(2, 4)
OPENED = JobOpened(name="bench 1", layout=LAYOUT)
OLD_EVENTS: tuple[Event, ...] = (
    OPENED,
    RoundStarted(matrix="switches", round="hold", held=(ROPE,)),
    marked(GULL, Mark.WORKING),
    marked(CRAB, Mark.DEAD),
)


class Two:
    """One book, and two clients at work on the one job in it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.here = Bench(path, client="here", initials="AB")
        self.there = Bench(path, client="there", initials="CD")
        self.job = self.here.new_job(LAYOUT, "lantern")

    def close(self) -> None:
        self.here.close()
        self.there.close()


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Two]:
    both = Two(tmp_path / "bench.book")
    yield both
    both.close()


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    """A book as version 1 wrote it: its table, and its hash over six fields."""
    path = tmp_path / "old.book"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    bring_up_to_date(connection, MIGRATIONS[:1])
    before = bytes(32)
    for seq, event in enumerate(OLD_EVENTS, 1):
        row = (seq, "job1", seq, START.isoformat(), event.kind, body_of(event))
        before = hashlib.sha256(before + "\x1f".join(map(str, row)).encode()).digest()
        connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", (*row, before))
    connection.close()
    return path


def _hashes(path: Path) -> list[bytes]:
    connection = sqlite3.connect(path)
    found = [row[0] for row in connection.execute("SELECT hash FROM event ORDER BY seq")]
    connection.close()
    return found


def test_an_old_book_is_read_and_proved_without_a_trace(old_book: Path) -> None:
    before = old_book.read_bytes(), sorted(old_book.parent.iterdir())
    bench = Bench(old_book, client="here")
    assert bench.verify() == len(OLD_EVENTS)
    assert bench.status("job1")["switches"].dead == 1
    assert bench.state("job1").history == tuple(
        Recorded(seq, "job1", seq, START, event) for seq, event in enumerate(OLD_EVENTS, 1)
    )
    assert (old_book.read_bytes(), sorted(old_book.parent.iterdir())) == before


def test_an_old_book_knows_no_initials_and_gives_none(old_book: Path) -> None:
    bench = Bench(old_book, client="here", initials="AB")
    bench.sign_as_before()
    assert bench.by.initials == "AB"
    bench.mark("job1", "switches", "1-")
    bench.sign("CD")
    bench.sign_as_before()
    assert bench.by.initials == "AB", "those of what it recorded last"
    with pytest.raises(UsageError, match="too long"):
        bench.sign("ABCDE")


def test_an_old_book_goes_on_with_its_rows_and_their_hashes_as_they_were(old_book: Path) -> None:
    old = _hashes(old_book)
    bench = Bench(old_book, client="here", initials="AB")
    bench.mark("job1", "switches", "1-")
    bench.close()
    assert _hashes(old_book)[: len(old)] == old
    fresh = Bench(old_book)
    assert fresh.verify() == len(old) + 1
    last = fresh.state("job1").history[-1]
    assert (last.client, last.initials, bool(last.id)) == ("here", "AB", True)
    connection = sqlite3.connect(old_book)
    assert version_of(connection) == len(MIGRATIONS)
    connection.close()


def test_a_row_of_an_old_book_that_was_altered_is_named_before_and_after_it_is_brought_up_to_date(
    old_book: Path,
) -> None:
    connection = sqlite3.connect(old_book, isolation_level=None)
    connection.execute("DROP TRIGGER event_is_never_changed")
    connection.execute("UPDATE event SET job = 'job2' WHERE seq = 3")
    connection.execute(MIGRATIONS[0][1])
    for _ in range(2):
        with pytest.raises(BookError, match="row 3 was altered"):
            Journal(old_book).verify()
        bring_up_to_date(connection)
    connection.close()


def test_a_reader_that_came_before_the_migration_reads_on_after_it(old_book: Path) -> None:
    reader, writer = Bench(old_book, client="there"), Bench(old_book, client="here")
    assert reader.state("job1").seq == len(OLD_EVENTS)
    writer.note("job1", "brought up to date")
    assert reader.state("job1").seq == reader.verify() == len(OLD_EVENTS) + 1
    reader.close()
    writer.close()


def test_a_round_that_an_old_book_left_open_holds_nothing_for_a_client_and_ends_with_its_next(old_book: Path) -> None:
    bench = Bench(old_book, client="here")
    bench.mark("job1", "switches", "1-")
    state = bench.state("job1")
    assert isinstance(state.history[-1].event, Read)
    assert state.history[-1].event.reading.held == ()
    assert (state.round, len(state.rounds)) == (None, 1)
    bench.start_round("job1", "switches", "roll")
    assert set(bench.state("job1").rounds) == {"here"}
    bench.close()


def test_a_new_row_without_a_maker_is_refused_by_the_book_itself(two: Two) -> None:
    two.close()
    connection = sqlite3.connect(two.path)
    with pytest.raises(sqlite3.IntegrityError, match="has an id, a client and initials"):
        connection.execute(
            "INSERT INTO event (seq, job, batch, at, kind, body, hash) "
            "SELECT 9, job, 9, at, kind, body, hash FROM event"
        )
    connection.close()


def test_every_event_has_an_id_of_its_own(two: Two) -> None:
    two.here.mark(two.job, "switches", "1 4- 5-")
    two.there.mark(two.job, "switches", "1")
    found = Journal(two.path).events()
    assert len({one.id for one in found}) == len(found) == 5
    assert [one.client for one in found] == ["here"] * 4 + ["there"]
    assert [one.initials for one in found] == ["AB"] * 4 + ["CD"]


def test_a_reading_holds_what_its_own_client_holds_and_names_that_round(two: Two) -> None:
    two.here.start_round(two.job, "switches", "hold", [ROPE])
    two.here.rest_scan(two.job, "switches", "r2c3")
    two.there.start_round(two.job, "switches", "walk")
    two.here.mark(two.job, "switches", "r2c2")
    two.there.mark(two.job, "switches", "r2c2-")
    Bench(two.path, client="elsewhere").mark(two.job, "switches", "r1c2-")
    state = two.here.state(two.job)
    reads = [one for one in state.history if isinstance(one.event, Read)]
    held = {one.client: (one.event.reading.held, one.event.round) for one in reads}
    assert held == {
        "here": ((ROPE,), state.rounds["here"].seq),
        "there": ((), state.rounds["there"].seq),
        "elsewhere": ((), 0),
    }


def test_a_client_ends_its_own_round_alone(two: Two) -> None:
    two.here.start_round(two.job, "switches", "hold", [ROPE])
    two.there.start_round(two.job, "lamps", "walk")
    two.there.end_round(two.job)
    assert two.here.state(two.job).round is not None
    assert two.there.state(two.job).round is None
    with pytest.raises(UsageError, match="no round is open"):
        two.there.end_round(two.job)
    two.here.end_round(two.job)
    assert two.here.state(two.job).rounds == {}


def test_a_client_that_comes_back_finds_its_round(two: Two) -> None:
    two.here.start_round(two.job, "switches", "walk", manner="paced")
    two.here.pace(two.job, 2.0, 3)
    two.here.close()
    again = Bench(two.path, client="here").state(two.job)
    assert again.round is not None
    assert again.round.pace is not None
    assert again.last_at == again.round.pace.at


def test_an_undo_withdraws_the_clients_own_last_entry(two: Two) -> None:
    two.here.mark(two.job, "switches", "r2c2-")
    two.there.mark(two.job, "switches", "r1c2-")
    assert two.here.undo(two.job).cells == (CRAB,)
    with pytest.raises(UsageError, match="you have nothing left to undo"):
        two.here.undo(two.job)
    assert two.there.undo(two.job).cells == (GULL,)
    with pytest.raises(UsageError, match="nothing is left to undo"):
        two.here.undo(two.job)


def test_a_named_entry_is_withdrawn_once_whoever_made_it(two: Two) -> None:
    two.there.mark(two.job, "switches", "r1c2-")
    last = two.here.last_entry(two.job)
    assert (last.client, last.initials, last.what) == ("there", "CD", ("switch 4 (gull) dead",))
    two.here.undo(two.job, last.batch)
    with pytest.raises(UsageError, match="undone already"):
        two.here.undo(two.job, last.batch)
    with pytest.raises(UsageError, match="nothing is left"):
        two.here.last_entry(two.job)


USES: dict[str, Callable[[Bench, str], object]] = {
    "mark": lambda bench, job: bench.mark(job, "switches", "r1c2- r2c2-", send="s1"),
    "readings": lambda bench, job: bench.take_readings(
        job, [Reading(matrix="switches", cell=GULL, mark=Mark.DEAD)] * 2, send="s1"
    ),
    "rest scan": lambda bench, job: bench.rest_scan(job, "switches", "r1c2", send="s1"),
    "defer": lambda bench, job: bench.defer(job, [GULL, CRAB], "later", send="s1"),
    "note": lambda bench, job: bench.note(job, "seen", send="s1"),
    "undo": lambda bench, job: bench.undo(job, send="s1"),
    "repair": lambda bench, job: bench.repair(job, str(GULL), did="new leaf", send="s1"),
    "finding": lambda bench, job: bench.finding(job, Finding(place=str(GULL), verdict="good"), send="s1"),
    "safety check": lambda bench, job: bench.safety(job, "mains lead", passed=True, send="s1"),
    "check waived": lambda bench, job: bench.waive_check(job, "mains lead", "at the wall", send="s1"),
    "check measured": lambda bench, job: bench.measure_check(job, "insulation", 5.0, send="s1"),
    "line of the test mode": lambda bench, job: bench.function(job, "sound", "good", send="s1"),
    "job edited": lambda bench, job: bench.edit_job(job, owner="F. Quay", send="s1"),
    "job closed": lambda bench, job: bench.close_job(job, "works", send="s1"),
    "job archived": lambda bench, job: bench.archive_job(job, send="s1"),
}


@pytest.mark.parametrize("use", USES)
def test_what_is_sent_again_is_kept_once_and_answered_alike(two: Two, use: str) -> None:
    for entry in ("r2c4-", "r3c2-"):
        two.here.mark(two.job, "switches", entry)
    first = USES[use](two.here, two.job)
    after = two.here.state(two.job)
    again = USES[use](Bench(two.path, client="here"), two.job)
    assert two.here.state(two.job) == after
    assert [getattr(one, "seq", None) for one in _each(again)] == [getattr(one, "seq", None) for one in _each(first)]


def _each(answer: object) -> tuple[object, ...]:
    return answer if isinstance(answer, tuple) else (answer,)


def test_a_job_that_is_sent_again_is_opened_once(two: Two) -> None:
    first = two.here.new_job(LAYOUT, "another", send="s1")
    assert Bench(two.path, client="here").new_job(LAYOUT, "another", send="s1") == first
    again = two.here.visit_again(first, send="s2")
    assert two.here.visit_again(first, send="s2") == again
    assert len(two.here.jobs()) == 3


def test_a_repair_that_was_undone_and_is_sent_again_makes_nothing_due(two: Two) -> None:
    two.here.mark(two.job, "switches", "r1c2-")
    assert two.here.repair(two.job, str(GULL), send="s1").due == {GULL}
    two.here.undo(two.job)
    assert two.here.repair(two.job, str(GULL), send="s1").due == frozenset()
    assert two.here.state(two.job).due == ()


def test_what_was_undone_is_not_kept_anew_when_it_is_sent_again(two: Two) -> None:
    two.here.mark(two.job, "switches", "r1c2-", send="s1")
    two.here.undo(two.job)
    two.here.mark(two.job, "switches", "r1c2-", send="s1")
    assert two.here.state(two.job).standings[GULL].mark is Mark.UNTESTED


def test_an_id_that_another_job_has_is_refused(two: Two) -> None:
    other = two.here.new_job(LAYOUT, "another")
    two.here.note(two.job, "seen", send="s1")
    with pytest.raises(UsageError, match=f"kept for job {two.job}"):
        two.here.note(other, "seen", send="s1")
    assert two.here.state(other).notes == ()


def test_a_book_with_an_id_twice_is_not_called_whole(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "bench.book")
    with journal.writing() as book:
        book.append("job1", [OPENED], send="s1")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("matrixcheck.record.rows.sent", lambda *_: ())
        with journal.writing() as book:
            book.append("job1", [Noted(text="x")], send="s1")
    with pytest.raises(BookError, match="row 2 repeats the id of row 1"):
        journal.verify()
    journal.close()


MAKERS = st.sampled_from(["", "here", "there"])


@given(st.lists(st.tuples(BATCHES, MAKERS), max_size=10), MAKERS)
def test_what_stands_is_the_same_whoever_recorded_it(batches: list[tuple[tuple[Event, ...], str]], one: str) -> None:
    events = recorded(*(batch for batch, _ in batches))
    makers = ["", *(maker for batch, maker in batches for _ in batch)]
    several = replay([event._replace(client=maker) for event, maker in zip(events, makers, strict=True)])
    alone = replay([event._replace(client=one) for event in events])
    assert several.standings == alone.standings
    assert coverage_of(several) == coverage_of(alone)
    assert several.current == alone.current


ROUNDS = st.one_of(
    st.builds(RoundStarted, matrix=st.just("switches"), round=st.sampled_from(["walk", "roll"])),
    st.builds(RoundStarted, matrix=st.just("switches"), round=st.just("hold"), held=st.just((CELLS[0],))),
    st.builds(RoundEnded),
    st.just(read(CRAB, [CRAB])),
)


@given(st.lists(st.tuples(ROUNDS, st.sampled_from(["here", "there"])), max_size=14))
def test_two_clients_interleaved_have_each_the_round_that_they_would_have_alone(
    made: list[tuple[Event, str]],
) -> None:
    events = [
        event._replace(client=maker)
        for event, maker in zip(recorded(*(one for one, _ in made)), ["", *(by for _, by in made)], strict=True)
    ]
    for client in ("here", "there"):
        alone = replay([one for one in events if one.client in ("", client)], client)
        assert replay(events, client).round == alone.round
        assert replay(events, client).last_undoable == alone.last_undoable


@given(st.text(max_size=12), st.text(max_size=8))
def test_a_bench_takes_any_client_and_initials_or_refuses_them_in_one_line(client: str, initials: str) -> None:
    try:
        by = Bench(Path("no.book"), client=client, initials=initials).by
    except UsageError as error:
        assert "\n" not in str(error)  # noqa: PT017
        return
    assert isinstance(by, Client)
    assert not any(sign in field for field in by for sign in "\n\r\x1b\x1f")


def _run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    code = main(args)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_command_line_undoes_its_own_last_entry_without_a_question(
    two: Two, capsys: pytest.CaptureFixture[str]
) -> None:
    book = ("--book", str(two.path))
    assert _run(capsys, *book, "mark", two.job, "switches", "4-")[0] == 0
    assert _run(capsys, *book, "undo", two.job) == (0, "undone  switch 4 (gull) dead\n", "")


def test_the_command_line_refuses_to_undo_another_clients_entry_where_nobody_can_be_asked(
    two: Two, capsys: pytest.CaptureFixture[str]
) -> None:
    two.here.mark(two.job, "switches", "4- 5-")
    line = ("--book", str(two.path), "undo", two.job)
    code, out, err = _run(capsys, *line)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "the last entry is not yours: switch 4 (gull) dead and 1 more (by AB at here): add --yes" in err
    assert two.here.state(two.job).standings[GULL].mark is Mark.DEAD
    assert _run(capsys, *line, "--yes") == (0, "undone  switch 4 (gull) dead\nundone  switch 5 (crab) dead\n", "")


@pytest.mark.parametrize(
    ("answer", "undone"), [("y\n", True), ("Yes\n", True), ("n\n", False), ("\n", False), ("", False)]
)
def test_the_command_line_asks_before_it_undoes_another_clients_entry(
    two: Two, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, answer: str, undone: bool
) -> None:
    two.here.mark(two.job, "switches", "4-")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stdin, "readline", lambda: answer, raising=False)
    code, out, err = _run(capsys, "--book", str(two.path), "undo", two.job)
    assert code == 0
    assert err.startswith("the last entry is not yours: switch 4 (gull) dead (by AB at here). Undo it? [y/N] ")
    assert out == ("undone  switch 4 (gull) dead\n" if undone else "")
    assert (two.here.state(two.job).standings[GULL].mark is Mark.UNTESTED) is undone


def test_names_of_clients_are_told_apart_and_stay() -> None:
    key = clients.page_key("")
    assert clients.page_key(key) == key
    for no_key in ("", "A" * 8, "short", "x" * 33, "0123456\x1f"):
        assert clients.page_key(no_key) != no_key
    names = [clients.command_line(), clients.terminal(), clients.page(key)]
    assert all(one != other for one, other in pairwise(names))
    assert clients.command_line() == clients.command_line()
