"""The files of a book: private, whole without their log once closed, and nothing is called kept in any other file."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from record_case import LAYOUT

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError
from matrixcheck.record.events import Event, JobOpened, Noted
from matrixcheck.record.journal import Journal

BESIDE = ("", "-wal", "-shm")


def add(journal: Journal, *events: Event) -> None:
    """Append events as one batch."""
    with journal.writing() as book:
        book.append("job1", events)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    """A journal that has its book open, with one event in it."""
    journal = Journal(path, patience=0.05)
    add(journal, JobOpened(name="bench 1", layout=LAYOUT))
    yield journal
    journal.close()


def copied(path: Path, folder: Path) -> Path:
    """A copy of the book's file alone, as somebody makes who knows nothing of the files beside it."""
    return Path(shutil.copy(path, folder / "copy.book"))


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def wide_umask() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


@pytest.mark.usefixtures("wide_umask")
def test_a_new_book_and_the_folders_made_for_it_are_their_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "shelf" / "lower" / "bench.book"
    journal = Journal(path)
    add(journal, JobOpened(name="bench 1", layout=LAYOUT))
    assert [mode(Path(f"{path}{ending}")) for ending in BESIDE] == [0o600] * 3
    assert mode(path.parent) == mode(path.parent.parent) == 0o700
    journal.close()


@pytest.mark.usefixtures("wide_umask")
def test_a_book_and_a_folder_that_are_there_already_keep_their_modes(tmp_path: Path) -> None:
    folder = tmp_path / "shelf"
    folder.mkdir(0o755)
    path = folder / "bench.book"
    path.touch(0o640)
    add(Journal(path), JobOpened(name="bench 1", layout=LAYOUT))
    assert (mode(folder), mode(path)) == (0o755, 0o640)


def test_a_closed_book_is_whole_without_its_log_though_another_has_it_open(
    journal: Journal, path: Path, tmp_path: Path
) -> None:
    other = Journal(path)
    add(other, Noted(text="one"))
    add(journal, Noted(text="two"))
    journal.close()
    assert Journal(copied(path, tmp_path)).verify() == 3
    other.close()


def test_a_book_that_was_moved_while_open_is_whole_without_its_log_once_closed(
    journal: Journal, path: Path, tmp_path: Path
) -> None:
    add(journal, Noted(text="one"))
    path.rename(tmp_path / "moved.book")
    journal.close()
    assert Journal(copied(tmp_path / "moved.book", tmp_path)).verify() == 2


def another_book(path: Path) -> None:
    """Another book in the place of this one."""
    other = Journal(path.with_name("other.book"))
    add(other, JobOpened(name="bench 2", layout=LAYOUT))
    other.close()
    other.path.replace(path)


LOST: dict[str, Callable[[Path], object]] = {
    "removed": lambda path: path.unlink(),
    "moved": lambda path: path.rename(path.with_name("moved.book")),
    "its folder moved": lambda path: path.parent.rename(path.parent.with_name("moved")),
    "replaced": another_book,
    "replaced by a folder": lambda path: (path.unlink(), path.mkdir()),
    "its log removed": lambda path: Path(f"{path}-wal").unlink(),
    "the index of its log removed": lambda path: Path(f"{path}-shm").unlink(),
}


@pytest.mark.parametrize("lose", LOST.values(), ids=LOST)
def test_nothing_is_called_kept_once_the_file_is_not_the_one_that_was_opened(
    tmp_path: Path, lose: Callable[[Path], object]
) -> None:
    path = tmp_path / "shelf" / "bench.book"
    journal = Journal(path)
    add(journal, JobOpened(name="bench 1", layout=LAYOUT))
    lose(path)
    for attempt in (lambda: add(journal, Noted(text="lost")), journal.head):
        with pytest.raises(BookError, match=r"is gone|was replaced") as caught:
            attempt()
        assert caught.value.hint
        assert str(path) in caught.value.message


@pytest.mark.parametrize("lose", LOST.values(), ids=LOST)
def test_what_loses_the_file_in_the_middle_of_a_transaction_is_noticed(
    tmp_path: Path, lose: Callable[[Path], object]
) -> None:
    path = tmp_path / "shelf" / "bench.book"
    journal = Journal(path)
    add(journal, JobOpened(name="bench 1", layout=LAYOUT))

    def keep() -> None:
        with journal.writing() as book:
            book.append("job1", [Noted(text="lost")])
            lose(path)

    with pytest.raises(BookError, match=r"is gone|was replaced"):
        keep()


def test_nothing_that_was_refused_is_in_the_moved_book(journal: Journal, path: Path, tmp_path: Path) -> None:
    path.rename(tmp_path / "moved.book")
    with pytest.raises(BookError, match="is gone"):
        add(journal, Noted(text="refused"))
    journal.close()
    assert Journal(tmp_path / "moved.book").verify() == 1


def test_a_book_put_back_in_its_place_is_written_to_again(journal: Journal, path: Path, tmp_path: Path) -> None:
    path.rename(tmp_path / "moved.book")
    with pytest.raises(BookError, match="is gone"):
        add(journal, Noted(text="refused"))
    (tmp_path / "moved.book").rename(path)
    add(journal, Noted(text="kept"))
    assert journal.head() == 2


def test_a_book_that_was_only_read_and_then_removed_is_missed_and_not_made_anew(journal: Journal, path: Path) -> None:
    journal.close()
    reader = Journal(path)
    assert reader.head() == 1
    path.unlink()
    for attempt in (reader.head, lambda: add(reader, Noted(text="lost"))):
        with pytest.raises(BookError, match="is gone"):
            attempt()
    assert not path.exists()


def test_a_mark_in_a_book_that_was_removed_is_no_mark(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(LAYOUT, "bench 1")
    bench.mark(job, "switches", "1")
    bench.path.unlink()
    with pytest.raises(BookError, match="is gone"):
        bench.mark(job, "switches", "2")
    bench.close()


def test_closing_a_replaced_book_leaves_the_log_of_the_new_one(journal: Journal, path: Path) -> None:
    another_book(path)
    for ending in BESIDE[1:]:
        Path(f"{path}{ending}").unlink()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("PRAGMA journal_mode = WAL")
    other.execute("CREATE TABLE apart (x)")
    journal.close()
    assert Path(f"{path}-wal").exists()
    other.close()
