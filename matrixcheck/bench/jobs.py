"""Use cases on jobs as a whole: one is opened, edited, closed or archived, all are listed, two visits compared."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from msgspec import DecodeError
from msgspec.json import decode

from matrixcheck.bench.book import Book, summarise
from matrixcheck.errors import UsageError
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import parse_cell
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.source import UNKNOWN, LayoutSource
from matrixcheck.record.answers import JobSummary, summary
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.events import Accepted, Event, JobArchived, JobClosed, JobEdited, JobOpened, JobReopened
from matrixcheck.record.ids import short_ids
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay
from matrixcheck.record.validation import one_line


class Changed(NamedTuple):
    """A cell that stands otherwise than at the end of another visit."""

    then: Standing
    now: Standing


class Jobs(Book):
    """What can be done with jobs."""

    def new_job(
        self,
        layout: Layout,
        name: str,
        serial: str = "",
        owner: str = "",
        *,
        previous: str = "",
        source: LayoutSource = UNKNOWN,
        send: str = "",
    ) -> str:
        """Open a job for a machine and return its short id. The layout is kept with the job.

        `previous` is the job of the machine's last visit, `source` where the layout was read.
        """
        opened = JobOpened(
            name=one_line(name, "the job's name"),
            serial=one_line(serial, "the serial number", empty=True),
            owner=one_line(owner, "the owner", empty=True),
            layout=layout,
            previous=previous,
            source=source,
        )
        sent = one_line(send, "the id of the send", empty=True)
        with self._lock:
            with self._journal.writing() as book:
                self._first_seen()
                if sent and (before := book.job_of(sent)):
                    return before
                taken = book.job_ids()
                fresh = short_ids(f"{opened.name}/{len(taken)}/{self._journal.now().isoformat()}")
                job = next(one for one in fresh if one not in taken)
                recorded = book.append(job, [opened], self.by, sent)
                summarise(book, replay(recorded))
            self._own(recorded)
            return job

    def visit_again(self, job: str, name: str = "", *, send: str = "") -> str:
        """Open a job for a machine that is back: its layout, serial number, owner and normal glow as at the last visit.

        `job` is that visit, or the machine's serial number. Returns the new job's short id.
        """
        last = self._last_visit(job)
        opened = self.new_job(
            last.layout, name or last.name, last.serial, last.owner, previous=last.id, source=last.source, send=send
        )
        accepted: list[Event] = [
            Accepted(cell=key, note=one.accepted) for key, one in last.standings.items() if one.accepted is not None
        ]
        if accepted:
            self._keep(opened, lambda _: accepted, f"{send}:glow" if send else "")
        return opened

    def jobs(self, find: str = "", *, archived: bool = True) -> tuple[JobSummary, ...]:
        """List the jobs of the book, the one worked on last first.

        With `find`, those in whose id, name, serial number, owner or machine all its words stand; without `archived`,
        those that aren't archived.
        """
        with self._lock:
            self._first_seen()
            found = self._summaries()
        return tuple(one for one in found if one.matches(find) and (archived or not one.archived))

    def edit_job(
        self,
        job: str,
        *,
        name: str | None = None,
        serial: str | None = None,
        owner: str | None = None,
        send: str = "",
    ) -> None:
        """Rename a job, or put its serial number or owner right; None leaves what there is."""
        edited = JobEdited(
            name=None if name is None else one_line(name, "the job's name"),
            serial=None if serial is None else one_line(serial, "the serial number", empty=True),
            owner=None if owner is None else one_line(owner, "the owner", empty=True),
        )
        if edited == JobEdited():
            raise UsageError("nothing to change was given", "give a name, a serial number or an owner")
        self._keep(job, lambda _: [edited], send)

    def close_job(self, job: str, verdict: str, *, send: str = "") -> None:
        """Close a job with a verdict. Raises UsageError for one that is closed."""
        closed = JobClosed(verdict=one_line(verdict, "the verdict"))

        def events(state: JobState) -> list[Event]:
            if state.verdict is not None:
                raise UsageError(f"job {state.id} is closed: {state.verdict}", "reopen it first")
            return [closed]

        self._keep(job, events, send)

    def reopen_job(self, job: str, *, send: str = "") -> None:
        """Go on with a closed job. Raises UsageError for one that is open."""

        def events(state: JobState) -> list[Event]:
            if state.verdict is None:
                raise UsageError(f"job {state.id} is open", "only a closed job is reopened")
            return [JobReopened()]

        self._keep(job, events, send)

    def archive_job(self, job: str, *, hidden: bool = True, send: str = "") -> None:
        """Take a job off the list, or put it back. Nothing of it is deleted.

        Raises UsageError where it is so already.
        """

        def events(state: JobState) -> list[Event]:
            if state.archived is hidden:
                how = "archived already" if hidden else "not archived"
                raise UsageError(f"job {state.id} is {how}", "`job list --all` shows every job")
            return [JobArchived(hidden=hidden)]

        self._keep(job, events, send)

    def changed_since(self, job: str, other: str = "") -> tuple[JobState, tuple[Changed, ...]]:
        """Compare a job with another visit of the same machine, by default its previous one.

        Returns the other's state and the cells that stand otherwise now, of those tested in either. Raises UsageError
        where no other visit is known.
        """
        from matrixcheck.layout.matching import matched  # noqa: PLC0415 - a paint can't wait

        state = self.state(job)
        if not (other or state.previous):
            raise UsageError(f"no earlier visit of job {state.id} is known", "name the job to compare with")
        then = self.state(other or state.previous)
        was = {now: place for place, now in matched(then.layout, state.layout).items()}
        keys = ((parse_cell(was.get(str(key), ""), ""), now) for key, now in state.standings.items())
        pairs = ((then.standings[key], now) for key, now in keys if key is not None and key in then.standings)
        return then, tuple(Changed(one, now) for one, now in pairs if _outcome(one) != _outcome(now))

    def _last_visit(self, named: str) -> JobState:
        same = [one for one in self.jobs() if one.serial and one.serial.casefold() == named.strip().casefold()]
        return self.state(same[0].id if same else named)

    def _summaries(self) -> Sequence[JobSummary]:
        kept = self._journal.summaries()
        if kept is not None:
            try:
                return [decode(body, type=JobSummary) for body in kept]
            except DecodeError:
                pass  # Written by a program of another day: the events say the same.
        for recorded in self._journal.events(after=self._listed):
            self._listed = recorded.seq
            if recorded.seq > self._seq(recorded.job):
                self._caught_up(recorded.job, [recorded])
        return [summary(state) for state in sorted(self._states.values(), key=lambda one: one.seq, reverse=True)]


def _outcome(standing: Standing) -> tuple[Mark, bool, bool]:
    return standing.mark, standing.intermittent, standing.normal
