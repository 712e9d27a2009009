"""The bench book: it only grows, proves itself, is read without a trace, and refuses what is no book in one line."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from record_case import LAYOUT, START, at, read

from matrixcheck.errors import BookError, UsageError
from matrixcheck.record.events import Event, JobOpened, Noted
from matrixcheck.record.journal import Journal
from matrixcheck.record.schema import APPLICATION_ID, MIGRATIONS, bring_up_to_date, version_of

OPENED = JobOpened(name="bench 1", layout=LAYOUT)


def clock() -> Callable[[], datetime]:
    """A clock that goes on a second each time it is asked."""
    ticks = (START + timedelta(seconds=count) for count in range(10_000))
    return lambda: next(ticks)


def add(journal: Journal, *events: Event, job: str = "job1") -> None:
    """Append events as one batch."""
    with journal.writing() as book:
        book.append(job, events)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shelf" / "bench.book"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    journal = Journal(path, clock())
    yield journal
    journal.close()


@pytest.fixture
def closed(path: Path) -> Path:
    """A book with an opening and three notes, that no process has open."""
    journal = Journal(path, clock())
    add(journal, OPENED)
    for text in ("one", "two", "three"):
        add(journal, Noted(text=text))
    journal.close()
    return path


def raw(path: Path) -> sqlite3.Connection:
    """The book as any SQLite program sees it."""
    return sqlite3.connect(path, isolation_level=None)


def test_what_was_appended_is_read_back_with_its_place_batch_and_time(journal: Journal) -> None:
    reading = read(at(2, 2), [at(2, 2), at(2, 3)], held=[at(2, 4)], note="dé\u00a0jà \\ ✓")
    add(journal, OPENED)
    add(journal, reading, Noted(text="x"))
    first, second, third = journal.events("job1")
    assert (first.event, second.event, third.event) == (OPENED, reading, Noted(text="x"))
    assert [(one.seq, one.batch) for one in (first, second, third)] == [(1, 1), (2, 2), (3, 2)]
    assert (first.at, second.at, third.at) == (START, START + timedelta(seconds=1), START + timedelta(seconds=1))
    assert first.at.tzinfo is UTC


def test_times_are_kept_as_utc_in_iso_8601(path: Path) -> None:
    summer = datetime.fromisoformat("2026-07-01T20:15:30.250000+02:00")
    journal = Journal(path, lambda: summer)
    add(journal, OPENED)
    journal.close()
    assert raw(path).execute("SELECT at FROM event").fetchone() == ("2026-07-01T18:15:30.250000+00:00",)


def test_jobs_are_kept_apart_and_listed_oldest_first(journal: Journal) -> None:
    for job in ("zz", "aa"):
        add(journal, OPENED, job=job)
    add(journal, Noted(text="x"), job="zz")
    assert journal.job_ids() == ("zz", "aa")
    assert [one.seq for one in journal.events("zz")] == [1, 3]
    assert [one.seq for one in journal.events("zz", after=1)] == [3]
    assert journal.head() == 3


def test_a_block_that_fails_keeps_nothing(journal: Journal) -> None:
    def fail_within() -> None:
        with journal.writing() as book:
            book.append("job1", [Noted(text="x")])
            raise RuntimeError

    add(journal, OPENED)
    with pytest.raises(RuntimeError):
        fail_within()
    assert journal.head() == 1
    add(journal, Noted(text="y"))
    assert journal.verify() == 2


def test_a_book_that_is_not_there_reads_as_empty_and_is_not_made(path: Path) -> None:
    journal = Journal(path)
    assert (journal.job_ids(), journal.events("job1"), journal.head()) == ((), (), 0)
    with pytest.raises(UsageError, match="there is no bench book"):
        journal.verify()
    assert not path.parent.exists()


def test_an_empty_book_is_never_called_sound(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with pytest.raises(BookError, match="is empty: nothing was ever recorded in it, or all of it is lost"):
        Journal(path).verify()
    connection = raw(path)
    bring_up_to_date(connection)
    connection.close()
    with pytest.raises(BookError, match="is empty"):
        Journal(path).verify()


def test_a_book_that_was_removed_is_missed_and_none_is_put_in_its_place(closed: Path) -> None:
    journal = Journal(closed)
    assert journal.verify() == 4
    closed.unlink()
    for attempt in (journal.verify, journal.head, lambda: add(journal, Noted(text="x"))):
        with pytest.raises(BookError, match="is gone"):
            attempt()
    assert list(closed.parent.iterdir()) == []


def test_a_folder_that_may_not_be_read_is_trouble_with_the_book(as_nobody: Path) -> None:
    path = as_nobody / "shelf" / "bench.book"
    journal = Journal(path)
    add(journal, OPENED)
    journal.close()
    path.parent.chmod(0)
    for attempt in (Journal(path).verify, Journal(path).job_ids, lambda: add(Journal(path), OPENED)):
        with pytest.raises(BookError, match="can't be used: Permission denied"):
            attempt()
    path.parent.chmod(0o700)
    assert Journal(path).verify() == 1


def test_the_book_is_written_through_a_log_and_says_whose_it_is(closed: Path) -> None:
    with raw(closed) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
    connection.close()


def test_reading_leaves_the_file_and_its_folder_as_they_were(closed: Path) -> None:
    before = closed.read_bytes(), sorted(closed.parent.iterdir()), closed.stat().st_mtime_ns
    journal = Journal(closed)
    assert len(journal.events("job1")) == journal.verify() == 4
    assert (closed.read_bytes(), sorted(closed.parent.iterdir()), closed.stat().st_mtime_ns) == before


def test_reading_while_another_writes_sees_all_that_it_kept(closed: Path) -> None:
    writer, reader = Journal(closed), Journal(closed)
    add(writer, Noted(text="four"))
    before = sorted(closed.parent.iterdir())
    assert reader.head() == 5
    add(writer, Noted(text="five"))
    assert reader.verify() == 6
    assert sorted(closed.parent.iterdir()) == before
    writer.close()


def test_an_empty_file_is_an_empty_book(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    journal = Journal(path)
    assert journal.head() == 0
    add(journal, OPENED)
    journal.close()
    assert Journal(path).verify() == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET body = '{}' WHERE seq = 2",
        "DELETE FROM event WHERE seq = 4",
        "DELETE FROM event",
        "INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq = 2",
        "INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq = 4",
    ],
)
def test_sqlite_itself_refuses_to_change_a_row(closed: Path, statement: str) -> None:
    connection = raw(closed)
    with pytest.raises(sqlite3.IntegrityError, match="the book only ever grows"):
        connection.execute(statement)
    connection.close()
    assert Journal(closed).verify() == 4


def _tamper(path: Path, *statements: str) -> None:
    connection = raw(path)
    guards = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    for _, sql in guards:
        connection.execute(sql)
    connection.close()


@pytest.mark.parametrize(
    ("statement", "row"),
    [
        ("UPDATE event SET body = replace(body, 'two', 'twa') WHERE seq = 3", 3),
        ("UPDATE event SET at = '2026-03-01T19:00:00+00:00' WHERE seq = 2", 2),
        ("UPDATE event SET job = 'job2' WHERE seq = 4", 4),
        ("UPDATE event SET batch = 1 WHERE seq = 2", 2),
        ("UPDATE event SET kind = 'round-ended', body = '{}' WHERE seq = 2", 2),
        ("UPDATE event SET hash = zeroblob(32) WHERE seq = 2", 2),
        ("DELETE FROM event WHERE seq = 2", 2),
        ("DELETE FROM event WHERE seq = 1", 1),
        ("UPDATE event SET seq = 9 WHERE seq = 4", 4),
        ("UPDATE event SET id = 'x/1' WHERE seq = 2", 2),
        ("UPDATE event SET client = 'another' WHERE seq = 3", 3),
        ("UPDATE event SET initials = 'ZZ' WHERE seq = 4", 4),
        ("UPDATE event SET id = NULL, client = NULL, initials = NULL WHERE seq = 3", 3),
        ("UPDATE event SET client = NULL WHERE seq = 3", 3),
        (
            "INSERT INTO event SELECT 5, job, batch, at, kind, body, hash, 'x/1', client, initials "
            "FROM event WHERE seq = 4",
            5,
        ),
    ],
)
def test_a_row_altered_by_other_means_is_named(closed: Path, statement: str, row: int) -> None:
    _tamper(closed, statement)
    with pytest.raises(BookError, match=rf"row {row} (was altered|is missing)"):
        Journal(closed).verify()


def test_an_altered_row_never_speaks_even_unasked(closed: Path) -> None:
    _tamper(closed, "UPDATE event SET body = replace(body, 'two', 'twa') WHERE seq = 3")
    with pytest.raises(BookError, match="row 3 was altered"):
        Journal(closed).events("job1")


def test_one_flipped_byte_in_the_file_is_noticed(closed: Path) -> None:
    data = bytearray(closed.read_bytes())
    data[data.index(b'"three"') + 1] ^= 1
    closed.write_bytes(data)
    with pytest.raises(BookError, match="row 4 was altered or is damaged"):
        Journal(closed).verify()


def test_a_book_without_its_guards_is_not_called_sound(closed: Path) -> None:
    connection = raw(closed)
    connection.execute("DROP TRIGGER event_is_never_changed")
    connection.close()
    with pytest.raises(BookError, match="lost its guards"):
        Journal(closed).verify()


def _refused(path: Path, message: str) -> None:
    """Neither reading nor writing takes the file; both say so in one line and leave it as it was."""
    before = path.read_bytes() if path.is_file() else None
    for attempt in (lambda: Journal(path).head(), lambda: add(Journal(path, patience=0.05), OPENED)):
        with pytest.raises(BookError, match=message) as caught:
            attempt()
        assert str(path) in caught.value.message
        assert caught.value.hint
        assert "\n" not in str(caught.value)
    assert (path.read_bytes() if path.is_file() else None) == before


def test_a_folder_is_no_book(tmp_path: Path) -> None:
    _refused(tmp_path, "is a folder")
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_no_book() -> None:
    _refused(Path(os.devnull), "is no plain file")


@pytest.mark.parametrize("content", [b"not a book at all", b"x" * 10_000, b"SQLite format 3\x00" + b"\xff" * 4_000])
def test_a_file_of_another_kind_is_no_book(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "letter.txt"
    path.write_bytes(content)
    _refused(path, "is not a bench book")


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with raw(path) as connection:
        connection.execute("CREATE TABLE stock (part TEXT)")
    connection.close()
    _refused(path, "a database of another program")


def test_a_book_of_a_newer_version_is_left_alone(closed: Path) -> None:
    with raw(closed) as connection:
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    connection.close()
    _refused(closed, "written by a newer matrixcheck")


@pytest.mark.parametrize("left", [0.01, 0.4, 0.6, 0.99, 0.9999])
def test_a_truncated_book_is_damaged(closed: Path, left: float) -> None:
    data = closed.read_bytes()
    closed.write_bytes(data[: int(len(data) * left)])
    with pytest.raises(BookError, match=r"is damaged|is not a bench book|is missing"):
        Journal(closed).verify()


def test_a_locked_book_is_named_and_left(closed: Path) -> None:
    other = raw(closed)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(BookError, match="is locked by another program"):
        add(Journal(closed, patience=0.05), Noted(text="x"))
    other.execute("ROLLBACK")
    other.close()
    assert Journal(closed).verify() == 4


@pytest.fixture
def as_nobody() -> Iterator[Path]:
    """A folder of a user's own, and the test run as that user where it would else be the administrator."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        if os.geteuid() != 0:
            yield folder
            return
        os.chown(folder, 65534, 65534)
        os.seteuid(65534)
        try:
            yield folder
        finally:
            os.seteuid(0)


def test_a_read_only_book_can_be_read_but_not_written(as_nobody: Path) -> None:
    path = as_nobody / "bench.book"
    journal = Journal(path, clock())
    add(journal, OPENED)
    journal.close()
    path.chmod(0o444)
    before = path.read_bytes(), sorted(as_nobody.iterdir())
    with pytest.raises(BookError, match="can't be written"):
        add(Journal(path), Noted(text="x"))
    assert Journal(path).head() == 1
    assert (path.read_bytes(), sorted(as_nobody.iterdir())) == before


def test_a_read_only_folder_takes_no_new_book(as_nobody: Path) -> None:
    as_nobody.chmod(0o555)
    with pytest.raises(BookError, match=r"bench\.book"):
        add(Journal(as_nobody / "bench.book"), OPENED)
    with pytest.raises(BookError, match="can't be used"):
        add(Journal(as_nobody / "shelf" / "bench.book"), OPENED)
    as_nobody.chmod(0o755)


def test_a_file_in_the_way_of_the_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "shelf").write_text("")
    with pytest.raises(BookError, match="can't be used"):
        add(Journal(tmp_path / "shelf" / "bench.book"), OPENED)


def test_steps_are_taken_one_by_one_each_whole_or_not_at_all() -> None:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    steps = (*MIGRATIONS, ("CREATE TABLE extra (x)", "INSERT INTO extra VALUES (1)"))
    bring_up_to_date(connection)
    assert version_of(connection) == len(MIGRATIONS)
    broken = (*MIGRATIONS, ("CREATE TABLE extra (x)", "INSERT INTO missing VALUES (1)"))
    with pytest.raises(sqlite3.OperationalError):
        bring_up_to_date(connection, broken)
    assert version_of(connection, broken) == len(MIGRATIONS)
    bring_up_to_date(connection, steps)
    assert version_of(connection, steps) == len(steps)
    assert connection.execute("SELECT x FROM extra").fetchall() == [(1,)]
    connection.close()
