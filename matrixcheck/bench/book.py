"""One bench book as a client works on it: its jobs' states, kept up with the journal, and what is recorded next."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import MappingProxyType

from msgspec.json import encode

from matrixcheck.analyses import Analyses, GivenRates
from matrixcheck.record.answers import summary
from matrixcheck.record.clients import initials_of
from matrixcheck.record.events import Client, Event, Recorded
from matrixcheck.record.ids import job_meant
from matrixcheck.record.job_state import JobState
from matrixcheck.record.journal import Clock, Journal, Writing, utc_now
from matrixcheck.record.replay import advance, replay
from matrixcheck.record.validation import one_line

NO_PHOTOS: Mapping[str, bytes | None] = MappingProxyType({})


def summarise(book: Writing, state: JobState) -> None:
    """Keep what a list shows of a job, in the transaction of its last event."""
    book.summarise(state.id, state.seq, encode(summary(state)))


class Book:
    """The bench book at `path`, which need not exist yet. A job is named by its id or any unambiguous start of it.

    `clock` gives the time now, with its offset; `patience` is how long to wait for another process, in seconds.
    `client` names the program or page that works through this bench, and `initials` who is at it: rounds are the
    client's own, and what it undoes is. Where a use case takes `send`, the same use case sent again under that name is
    kept once. `rates` are a workshop's own rates of faults, or make them; the shipped ones where there are none.
    Threads may share a bench. `moved` says whether it went on in another book than it began with.
    """

    def __init__(
        self,
        path: Path,
        clock: Clock = utc_now,
        patience: float = 5.0,
        *,
        client: str = "",
        initials: str = "",
        rates: GivenRates = None,
    ) -> None:
        self.path = path
        self.moved = False
        self.by = Client(one_line(client, "the client", empty=True), one_line(initials, "the initials", empty=True))
        self._journal_at = partial(Journal, clock=clock, patience=patience)
        self._journal = self._journal_at(path)
        self._states: dict[str, JobState] = {}
        self._analyses = Analyses(rates)
        self._lock = threading.RLock()
        self._seen: int | None = None
        self._listed = 0

    def sign(self, initials: str) -> None:
        """Record under these initials from now on. Raises UsageError for what is too long or no letters."""
        self.by = Client(self.by.id, initials_of(initials))

    def sign_as_before(self) -> None:
        """Record under the initials that this client used last, if it recorded anything."""
        used = self._journal.last_initials(self.by.id) if self.by.id else None
        if used is not None:
            self.by = Client(self.by.id, used)

    def close(self) -> None:
        """Let go of the book."""
        self._journal.close()

    def state(self, job: str) -> JobState:
        """Return how the job stands now. Raises UsageError for a job that isn't there."""
        with self._lock:
            self._first_seen()
            found = self._find(job, self._journal.job_ids)
            return self._caught_up(found, self._journal.events(found, self._seq(found)))

    def changed(self) -> bool:
        """Return whether another process wrote since this was last asked, at first since the bench was first used."""
        with self._lock:
            before, self._seen = self._first_seen(), self._journal.head()
            return self._seen != before

    def verify(self) -> int:
        """Prove the book's chain and its photos; return the count of events.

        Raises BookError naming the first bad row, or where there is no event.
        """
        return self._journal.verify()

    def _keep(
        self,
        job: str,
        events_for: Callable[[JobState], Sequence[Event]],
        send: str = "",
        photos: Mapping[str, bytes | None] = NO_PHOTOS,
    ) -> tuple[tuple[Recorded, ...], JobState, JobState]:
        """Record what `events_for` makes of the newest state, with the `photos` that it names, in one transaction.

        Returns the records, and the states before and after. What the same send recorded before comes back as it is.
        """
        name = one_line(send, "the id of the send", empty=True)
        with self._lock:
            with self._journal.writing() as book:
                self._first_seen()
                found = self._find(job, book.job_ids)
                state = self._caught_up(found, book.events(found, self._seq(found)))
                if name and (before := book.sent(found, name)):
                    return before, state, state
                events = events_for(state)
                book.keep_photos(photos)
                recorded = book.append(found, events, self.by, name)
                after = advance(state, recorded)
                summarise(book, after)
            self._own(recorded)
            self._states[found] = after
            return recorded, state, after

    def _own(self, recorded: tuple[Recorded, ...]) -> None:
        """Count what this bench wrote as no news to it, unless there was news before."""
        if recorded and self._seen == recorded[0].seq - 1:
            self._seen = recorded[-1].seq

    def _first_seen(self) -> int:
        if self._seen is None:
            self._seen = self._journal.head()
        return self._seen

    def _seq(self, job: str) -> int:
        return self._states[job].seq if job in self._states else 0

    def _caught_up(self, job: str, events: Sequence[Recorded]) -> JobState:
        state = self._states.get(job)
        self._states[job] = replay(events, self.by.id) if state is None else advance(state, events)
        return self._states[job]

    def _find(self, job: str, job_ids: Callable[[], tuple[str, ...]]) -> str:
        wanted = job.strip().lower()
        if wanted in self._states:
            return wanted
        return job_meant(job, job_ids(), self.path)
