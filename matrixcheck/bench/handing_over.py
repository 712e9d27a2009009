"""Use cases that carry jobs elsewhere: into another book, to a file and back, and a copy of the whole book."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import NamedTuple

from matrixcheck.bench.book import Book, summarise
from matrixcheck.errors import BookError, UsageError
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay


class Imported(NamedTuple):
    """A job that came in: how many of its events are new to the book, and how many it has now. `ahead` is how many the
    book had more than the file."""

    job: str
    added: int
    events: int
    ahead: int


class HandingOver(Book):
    """What can be carried elsewhere."""

    def exported(self, job: str) -> str:
        """Return a job as the text of a file (`record/job_files.py`), undone events included."""
        from matrixcheck.record.copying import photos_named  # noqa: PLC0415 - a paint can't wait
        from matrixcheck.record.job_files import job_text  # noqa: PLC0415 - checks with pydantic; a paint can't wait

        with self._lock:
            events = self._journal.events(self._find(job, self._journal.job_ids))
            return job_text(events, self._journal.photos(photos_named(events)))

    def import_job(self, text: str, source: str) -> Imported:
        """Take in a job's file: a new job whole, one that went on elsewhere from where this book ends.

        Raises InputError for no such file, UsageError where this book went on as well: then nothing is taken.
        """
        from matrixcheck.record.copying import photos_named, renumbered  # noqa: PLC0415 - likewise
        from matrixcheck.record.job_files import placed, read_job, what_is_new  # noqa: PLC0415 - likewise

        given, photos = read_job(text, source)
        job = given[0].job
        with self._lock, self._journal.writing() as book:
            there = book.events(job)
            fresh = given[what_is_new(renumbered(there, 1), given) :]
            book.keep_photos({name: photos[name] for name in photos_named(given)})
            if fresh:
                self._first_seen()
                new = placed(given, there, book.head())
                book.insert(new)
                summarise(book, replay((*there, *new)))
        return Imported(job, len(fresh), len(there) + len(fresh), max(len(there) - len(given), 0))

    def back_up(self, target: Path) -> int:
        """Copy the book to a file that isn't there yet, also while it is in use; return the count of its events.

        Raises UsageError where there is no book, or no file can be made there; then none is left.
        """
        from matrixcheck.whole_files import PRIVATE, drafted, replace  # noqa: PLC0415 - likewise

        if target.exists() or target.is_symlink():
            raise UsageError(f"{target} is there already", "name a file that isn't there yet")
        with self._lock, ExitStack() as waste:
            draft = drafted(target, b"", waste)
            draft.chmod(PRIVATE)
            count = self._journal.back_up(draft)
            replace(draft, target)
        return count

    def move_to(self, path: Path, jobs: Iterable[str]) -> dict[str, JobState]:
        """Go on in the book at `path`: copy these jobs there as this bench last read them.

        Returns their states by id there. The old book is left alone, and needn't be there any more. Raises, changing
        nothing, UsageError for the old book's own file or where the other holds such a job with other events, BookError
        where it takes none.
        """
        from matrixcheck.record.copying import copy_job, photos_named  # noqa: PLC0415 - likewise

        with self._lock:
            if self._journal.is_at(path):
                raise UsageError(f"{path} is the book itself", "name another file")
            known = [self._states[self._find(job, lambda: tuple(self._states))] for job in jobs]
            photos = self._journal.rescued_photos(photos_named(one for each in known for one in each.everything))
            other = self._journal_at(path)
            try:
                with other.writing() as book:
                    states = {one.id: replay(copy_job(one, book, photos), self.by.id) for one in known}
                    for state in states.values():
                        summarise(book, state)
            except BaseException:
                other.close()
                raise
            old, self._journal, self.path, self.moved = self._journal, other, path, True
            self._states, self._seen, self._listed = states, None, 0
            with suppress(BookError):
                old.close()
            return dict(states)
