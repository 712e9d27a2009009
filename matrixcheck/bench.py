"""The use cases: what every face calls. A `Bench` is one bench book; each method reads or records one thing.

Whatever a method records is on the disk when it returns. All errors are children of MatrixCheckError.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.analyses import Analyses
from matrixcheck.errors import BookError, UsageError
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.record.answers import JobSummary, Kept, LastEntry, Undone, kept, summary, words_and_cells
from matrixcheck.record.copying import copy_job
from matrixcheck.record.entry import parse_entries, parse_places
from matrixcheck.record.entry_events import event_of, in_round
from matrixcheck.record.events import (
    Client,
    Deferred,
    Event,
    Found,
    JobOpened,
    Noted,
    Recorded,
    Repaired,
    RoundKind,
    RoundStarted,
    SafetyChecked,
    WalkManner,
    Withdrawn,
)
from matrixcheck.record.ids import job_meant, short_ids
from matrixcheck.record.job_state import JobState
from matrixcheck.record.journal import Clock, Journal, utc_now
from matrixcheck.record.readings import check_reading
from matrixcheck.record.replay import advance, replay, withdrawn_by
from matrixcheck.record.round_events import ended, paced, started
from matrixcheck.record.summary import Coverage, LaterItem, LogLine, coverage_of, later_list, log_lines
from matrixcheck.record.validation import guard_place, nothing_left, one_line, undoable

if TYPE_CHECKING:
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.diagnosis.result import Diagnosis

__all__ = [
    "Bench",
    "Coverage",
    "JobSummary",
    "Kept",
    "LastEntry",
    "LaterItem",
    "LogLine",
    "Undone",
]


class Bench:
    """The bench book at `path`, which need not exist yet. A job is named by its id or any unambiguous start of it.

    `clock` gives the time now, with its offset; `patience` is how long to wait for another process, in seconds.
    `client` names the program or page that works through this bench, and `initials` who is at it: rounds are the
    client's own, and what it undoes is. Where a use case takes `send`, the same use case sent again under that name is
    kept once. `rates` are a workshop's own rates of faults, the shipped ones where there are none. Threads may share a
    bench. `moved` says whether it went on in another book than it began with.
    """

    def __init__(
        self,
        path: Path,
        clock: Clock = utc_now,
        patience: float = 5.0,
        *,
        client: str = "",
        initials: str = "",
        rates: Rates | None = None,
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

    def close(self) -> None:
        """Let go of the book."""
        self._journal.close()

    def move_to(self, path: Path, jobs: Iterable[str]) -> dict[str, JobState]:
        """Go on in the book at `path`: copy these jobs there as this bench last read them.

        Returns their states by id there. The old book is left alone, and needn't be there any more. Raises, changing
        nothing, UsageError for the old book's own file or where the other holds such a job with other events, BookError
        where it takes none.
        """
        with self._lock:
            if self._journal.is_at(path):
                raise UsageError(f"{path} is the book itself", "name another file")
            known = [self._states[self._find(job, lambda: tuple(self._states))] for job in jobs]
            other = self._journal_at(path)
            try:
                with other.writing() as book:
                    states = {one.id: replay(copy_job(one.history, book), self.by.id) for one in known}
            except BaseException:
                other.close()
                raise
            old, self._journal, self.path, self.moved = self._journal, other, path, True
            self._states, self._seen, self._listed = states, None, 0
            with suppress(BookError):
                old.close()
            return dict(states)

    def new_job(self, layout: Layout, name: str, serial: str = "", owner: str = "") -> str:
        """Open a job for a machine and return its short id. The layout is kept with the job."""
        opened = JobOpened(
            name=one_line(name, "the job's name"),
            serial=one_line(serial, "the serial number", empty=True),
            owner=one_line(owner, "the owner", empty=True),
            layout=layout,
        )
        with self._lock:
            with self._journal.writing() as book:
                self._first_seen()
                taken = book.job_ids()
                fresh = short_ids(f"{opened.name}/{len(taken)}/{self._journal.now().isoformat()}")
                job = next(one for one in fresh if one not in taken)
                recorded = book.append(job, [opened], self.by)
            self._own(recorded)
            return job

    def jobs(self) -> tuple[JobSummary, ...]:
        """List every job in the book, oldest first."""
        with self._lock:
            self._first_seen()
            for recorded in self._journal.events(after=self._listed):
                self._listed = recorded.seq
                if recorded.seq > self._seq(recorded.job):
                    self._caught_up(recorded.job, [recorded])
            return tuple(summary(state) for state in sorted(self._states.values(), key=lambda one: one.history[0].seq))

    def state(self, job: str) -> JobState:
        """Return how the job stands now. Raises UsageError for a job that isn't there."""
        with self._lock:
            self._first_seen()
            found = self._find(job, self._journal.job_ids)
            return self._caught_up(found, self._journal.events(found, self._seq(found)))

    def status(self, job: str) -> dict[str, Coverage]:
        """Return coverage by matrix id, in the layout's order."""
        return coverage_of(self.state(job))

    def later(self, job: str) -> tuple[LaterItem, ...]:
        """List what is untested, deferred or due for a retest: by matrix, those of one reach together, by number."""
        return later_list(self.state(job))

    def log(self, job: str) -> tuple[LogLine, ...]:
        """List the job's whole history in words, oldest first, withdrawn events included."""
        return log_lines(self._journal.events(self._find(job, self._journal.job_ids)))

    def diagnosis(self, job: str, seconds: float | None = None) -> Diagnosis:
        """Return what would explain the readings that still speak: the last of what `refine` gives."""
        (last,) = self._analyses.refine(self.state(job), seconds, only_last=True)
        return last

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """Yield better and better diagnoses of the readings that still speak, until one is finished; no lock is held.

        `seconds` is a limit that somebody asks for; once `dropped` says that nobody waits any more, the search ends
        without another diagnosis. What one analysis worked out serves the next one of the same job.
        Raises AnalysisError when the analyser breaks down.
        """
        yield from self._analyses.refine(self.state(job), seconds, dropped)

    def mark(self, job: str, matrix_id: str, text: str, *, send: str = "") -> tuple[Kept, ...]:
        """Keep a line in the entry notation (see `record/entry.py`; `record/entry_events.py` says what it records).

        All of it is kept in one transaction, or, with an InputError, none.
        """
        return self._keep_each(
            job,
            lambda state: [event_of(entry, state) for entry in parse_entries(text, state.layout.matrix(matrix_id))],
            send,
        )

    def take_readings(self, job: str, readings: Iterable[Reading], *, send: str = "") -> tuple[Kept, ...]:
        """Keep readings, all in one transaction. Raises InputError, keeping none, where one can't be taken."""
        taken = tuple(readings)
        # Before the book is locked: a job keeps its layout, and many readings take their time.
        layout = self.state(job).layout
        for reading in taken:
            check_reading(reading, layout)
        return self._keep_each(job, lambda state: [in_round(reading, state) for reading in taken], send)

    def rest_scan(self, job: str, matrix_id: str, text: str = "", *, send: str = "") -> tuple[Kept, ...]:
        """Keep a rest scan: `text` lists every cell that shows, by number or address, empty for none.

        In this client's hold round of that matrix its held switches count as held, and belong in the list where they
        show.
        """

        def events(state: JobState) -> list[Event]:
            matrix = state.layout.matrix(matrix_id)
            held = state.round.held if state.round is not None and state.round.matrix == matrix_id else ()
            return [in_round(Reading(matrix=matrix_id, held=held, answered=parse_places(text, matrix)), state)]

        return self._keep_each(job, events, send)

    def defer(self, job: str, cells: Iterable[CellKey], reason: str, *, send: str = "") -> tuple[Kept, ...]:
        """Put cells off, with the reason; an empty one is filled in from the layout's reach."""
        put_off = tuple(cells)
        said = one_line(reason, "the reason", empty=True)

        def events(state: JobState) -> list[Event]:
            fitted = [state.layout.cell(key) for key in put_off]
            return [Deferred(cell=cell.key, reason=said or cell.notes.reach) for cell in fitted]

        return self._keep_each(job, events, send)

    def undo(self, job: str, batch: int | None = None, *, send: str = "") -> Undone:
        """Withdraw what this client recorded last: everything of one line, file or use case together.

        Repeated, it goes on backwards. Rounds stay as they are. With `batch`, withdraw that entry, whoever recorded it.
        Raises UsageError when nothing is left to undo, or that entry is no longer there.
        """

        def events(state: JobState) -> list[Event]:
            return [Withdrawn(batch=undoable(state, batch))]

        recorded, before, after = self._keep(job, events, send)
        gone = tuple(one for one in before.history if one.batch in withdrawn_by(recorded))
        return Undone(recorded[-1].seq, *words_and_cells(gone, after))

    def last_entry(self, job: str) -> LastEntry:
        """Return what was recorded last and not withdrawn, whichever client did.

        Raises UsageError where there is nothing.
        """
        state = self.state(job)
        last = state.last_of_all
        if last is None:
            raise nothing_left()
        words, _ = words_and_cells(tuple(one for one in state.history if one.batch == last.batch), state)
        return LastEntry(last.batch, last.client, last.initials, words)

    def note(self, job: str, text: str, *, send: str = "") -> None:
        """Keep a note."""
        said = one_line(text, "the note")
        self._keep(job, lambda _: [Noted(text=said)], send)

    def start_round(
        self,
        job: str,
        matrix_id: str,
        kind: RoundKind,
        held: Iterable[CellKey] = (),
        *,
        cells: Iterable[CellKey] = (),
        manner: WalkManner = "stepped",
    ) -> None:
        """Start a round through a matrix, or through some cells of it; this client's open one ends.

        Only a hold round holds switches, and it holds some; only a walk has a manner of its own.
        """
        begun = RoundStarted(
            matrix=matrix_id,
            round=kind,
            held=tuple(dict.fromkeys(held)),
            cells=tuple(dict.fromkeys(cells)),
            manner=manner,
        )
        self._keep(job, lambda state: started(begun, state))

    def pace(self, job: str, seconds: float, place: int, paused: bool = False) -> None:
        """Keep the timing of this client's paced walk.

        Now it shows the device at `place`, from 0, and goes on every `seconds` unless it is paused. Raises UsageError
        when no paced walk is open or no walk goes so.
        """
        self._keep(job, lambda state: [paced(state, seconds, place, paused)])

    def end_round(self, job: str) -> None:
        """End this client's open round. Raises UsageError when there is none."""
        self._keep(job, lambda state: [ended(state)])

    def finding(self, job: str, finding: Finding, note: str = "") -> None:
        """Keep what a bench check said of a place; the verdict `replaced` is a repair.

        Raises UsageError for a kind of check that there isn't.
        """
        if finding.check:
            from matrixcheck.diagnosis.machine.prior_updates import guard_check  # noqa: PLC0415

            guard_check(finding.check)
        if finding.verdict == "replaced":
            self.repair(job, finding.place, note)
            return
        said = one_line(note, "the note", empty=True)

        def events(state: JobState) -> list[Event]:
            guard_place(finding.place, state.layout)
            return [Found(finding=finding, note=said)]

        self._keep(job, events)

    def repair(self, job: str, place: str, note: str = "") -> tuple[CellKey, ...]:
        """Keep that a place was repaired; return the cells now due for a retest.

        The place is a designator, `MATRIX.cN` or `MATRIX.rNcM`.
        """
        said = one_line(note, "the note", empty=True)

        def events(state: JobState) -> list[Event]:
            guard_place(place, state.layout)
            return [Repaired(place=place, note=said)]

        *_, state = self._keep(job, events)
        return tuple(key for key, standing in state.standings.items() if standing.retest_due == place)

    def safety(self, job: str, item: str, passed: bool, note: str = "") -> None:
        """Keep how a safety check came out."""
        said = one_line(note, "the note", empty=True)
        event = SafetyChecked(item=one_line(item, "the check"), passed=passed, note=said)
        self._keep(job, lambda _: [event])

    def changed(self) -> bool:
        """Return whether another process wrote since this was last asked, at first since the bench was first used."""
        with self._lock:
            before, self._seen = self._first_seen(), self._journal.head()
            return self._seen != before

    def verify(self) -> int:
        """Prove the book's chain; return the count of events.

        Raises BookError naming the first bad row, or where there is no event.
        """
        return self._journal.verify()

    def _keep_each(self, job: str, events_for: Callable[[JobState], Sequence[Event]], send: str) -> tuple[Kept, ...]:
        recorded, before, after = self._keep(job, events_for, send)
        return tuple(kept(one, before, after) for one in recorded)

    def _keep(
        self, job: str, events_for: Callable[[JobState], Sequence[Event]], send: str = ""
    ) -> tuple[tuple[Recorded, ...], JobState, JobState]:
        """Record what `events_for` makes of the newest state, in one transaction.

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
                recorded = book.append(found, events_for(state), self.by, name)
                after = advance(state, recorded)
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
