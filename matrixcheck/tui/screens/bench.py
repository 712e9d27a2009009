"""The bench: the jobs on it, found as one types, put right, closed or put away; and the way to put a machine there."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from textual import events, work
from textual.app import ComposeResult

from matrixcheck.bench import Bench, JobSummary
from matrixcheck.errors import MatrixCheckError
from matrixcheck.report.visits import visits
from matrixcheck.tui.actions import BENCH
from matrixcheck.tui.keeping import Entry, Keeping
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.messages import BookChanged, BookTrouble, StateChanged
from matrixcheck.tui.page_address import show_address
from matrixcheck.tui.screens.page import Page
from matrixcheck.tui.text.first_steps import Step, demo_words, steps
from matrixcheck.tui.text.spans import Row, Tone, wrapped
from matrixcheck.tui.text.waiting import now_in
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.job_list import JobList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Pick
from matrixcheck.tui.widgets.toned import taken

VERDICTS = ("works", "works, but for what is listed", "goes back as it came")


class BenchScreen(Page[None]):
    """All jobs, the one worked on last first, with how far they are."""

    PLACE = BENCH

    def __init__(self, bench: Bench, keeping: Keeping) -> None:
        super().__init__()
        self._keeping = keeping
        self._bench = bench
        self._every: tuple[JobSummary, ...] = ()
        self._archived = False

    def compose(self) -> ComposeResult:
        """Compose head, what is looked for, jobs, what was kept or went wrong, keys."""
        yield Lines(self._head(), id="head")
        looked_for = EntryLine("name, serial number, owner or machine", id="looked-for")
        looked_for.display = False
        yield looked_for
        yield JobList([Pick(step.title, step.says) for step in self._steps], id="jobs")
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def on_screen_resume(self) -> None:
        """Read the jobs anew whenever the bench comes back into sight."""
        self._show()
        show_address(self.app, None, None)

    def on_screen_suspend(self) -> None:
        """Take away what was said: on the way back it would pass for something newer."""
        self._say("", "quiet")

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote."""
        message.stop()
        self._show()

    async def on_key(self, event: events.Key) -> None:
        """Look for a job with everything that is typed, while one is looked for."""
        looked_for = self.query_one(EntryLine)
        if not looked_for.display:
            self._pick(event)
            return
        if event.key == "escape":
            taken(event)
            looked_for.clear()
            looked_for.display = False
            self._show_found()
        elif event.key not in {"enter", "up", "down"} and looked_for.take(event.key, event.character):
            taken(event)
            self._show_found()

    def on_item_list_picked(self, message: JobList.Picked) -> None:
        """Open the job that was tapped."""
        message.stop()
        if self._offers_first:
            self._begin(self._steps[message.place])
        else:
            self._open(self.query_one(JobList).job_at(message.place))

    def action_open(self) -> None:
        """Open the job pointed at."""
        if (job := self._pointed) is not None:
            self._open(job.id)
        elif self._offers_first:
            self._begin(self._steps[self.query_one(JobList).here])

    def action_step(self, by: int) -> None:
        """Point at another job."""
        self.query_one(JobList).step(by)

    def action_new(self) -> None:
        """Put a machine on the bench."""
        self.navigation.new_job(self._open)

    @property
    def _steps(self) -> Sequence[Step]:
        return steps(demo=self.program.has_demo, own_files=self.navigation.own_layouts)

    @property
    def _offers_first(self) -> bool:
        return self.query_one(JobList).offers_first

    def _pick(self, event: events.Key) -> None:
        """Take what can be done first by its digit."""
        if self._offers_first and event.character and event.character.isdecimal():
            taken(event)
            place = int(event.character) - 1
            if 0 <= place < len(self._steps):
                self.query_one(JobList).point(place)
                self._begin(self._steps[place])

    def _begin(self, step: Step) -> None:
        if not self.is_top:
            return
        if step is Step.DEMO:
            self._say("making the demo's book …", "quiet")
            self.program.look_at_demo()
        elif step is Step.CHART:
            self.navigation.import_chart(self._new_from)
        else:
            self.action_new()

    def _new_from(self, layout: str | None) -> None:
        if layout is not None:
            self.navigation.new_job(self._open, layout)

    def action_find(self) -> None:
        """Look for a job as one types."""
        self.query_one(EntryLine).display = True

    def action_initials(self) -> None:
        """Ask who records here."""

        def typed(initials: str | None) -> None:
            if initials is None:
                return
            try:
                self._bench.sign(initials)
            except MatrixCheckError as error:
                self._complain(error)
                return
            self._show()

        now = self._bench.by.initials
        hint = "at most 4 letters, or Enter alone for none"
        self.navigation.words("Your initials", hint, typed, may_be_empty=True, begun=now)

    def action_archived(self) -> None:
        """Show archived jobs too, or no longer."""
        self._archived = not self._archived
        self._show()

    def action_edit(self) -> None:
        """Put name, serial number and owner of the job right."""
        job = self._pointed
        if job is None:
            return

        def edited(changed: Mapping[str, str] | None) -> None:
            if changed:
                self._keep(job, "job edited", lambda: self._bench.edit_job(job.id, **changed))

        self.navigation.edit_job(job, edited)

    def action_close(self) -> None:
        """Close the job with a verdict, or reopen it."""
        job = self._pointed
        if job is None:
            return
        if job.verdict is not None:
            self._keep(job, "job reopened", lambda: self._bench.reopen_job(job.id))
            return

        def said(verdict: str | None) -> None:
            if verdict is not None:
                self._keep(job, f"job closed: {verdict}", lambda: self._bench.close_job(job.id, verdict))

        self.navigation.words(f"{job.name}: how does it leave the bench?", "the verdict", said, VERDICTS)

    def action_archive(self) -> None:
        """Take the job off the list, or put it back. Nothing of it is deleted."""
        job = self._pointed
        if job is not None:
            words = "job back on the list" if job.archived else "job archived; nothing of it is deleted"
            self._keep(job, words, lambda: self._bench.archive_job(job.id, hidden=not job.archived))

    def action_visit_again(self) -> None:
        """Put the machine of the job on the bench once more: its layout, serial number and owner as they were last."""
        job = self._pointed
        if job is None:
            return
        last = visits(job, self._every)[-1]

        def named(name: str | None) -> None:
            if name is None:
                return
            try:
                self._open(self._bench.visit_again(last.id, name))
            except MatrixCheckError as error:
                self._complain(error)

        self.navigation.words(f"Another visit of {last.machine}: its name?", "the job's name", named, begun=last.name)

    def action_compare(self) -> None:
        """Show what changed since the visit before."""
        job = self._pointed
        if job is None:
            return
        stays = [one.id for one in visits(job, self._every)]
        before = job.previous or next(iter(stays[stays.index(job.id) - 1 : stays.index(job.id)]), "")
        if not before:
            self._say(f"{job.name}: no earlier visit of this machine is known", "quiet")
            return
        try:
            self.navigation.compare(job.id, before)
        except MatrixCheckError as error:
            self._complain(error)

    def on_state_changed(self, message: StateChanged) -> None:
        """Show what was kept for a screen that was left since."""
        message.stop()
        self._read()

    def on_book_trouble(self, message: BookTrouble) -> None:
        """Say what is wrong with the book."""
        message.stop()
        self._complain(message.error)

    def show_waiting(self) -> None:
        """Say what waits to be kept."""
        self._say(self.waiting_words(self._keeping), "alert")

    @property
    def _pointed(self) -> JobSummary | None:
        return self.query_one(JobList).pointed

    def _head(self) -> list[Row]:
        which = "archived ones too" if self._archived else "worked on last first"
        who = self._bench.by.initials
        about = [f"recorded as {who}" if who else "", which, now_in(self._bench.path.name if self._bench.moved else "")]
        own = self.program.own_book
        width, leave = self.app.size.width - 2, key_named("quit", BENCH, self.keymap)
        demo = demo_words(own, self._bench.path, leave, width) if own is not None else ()
        return [(("The bench", "title"), (f"  {' · '.join(filter(None, about))}", "quiet")), *demo]

    def _show(self) -> None:
        if self._keeping.waiting:
            self.show_waiting()
        self.query_one("#head", Lines).show(self._head())
        self._read()

    def _read(self) -> None:
        self._read_jobs()

    @work(exclusive=True, group="read")
    async def _read_jobs(self) -> None:
        try:
            self._every = await self._keeping.ask(self._bench.jobs)
        except MatrixCheckError as error:
            self._complain(error)
            return
        if self.is_open:
            self._show_found()

    def _show_found(self) -> None:
        typed = self.query_one(EntryLine).text
        self.query_one(JobList).show_jobs(self._found(typed), typed.strip(), is_empty=not self._every)

    def _found(self, typed: str) -> Sequence[JobSummary]:
        return [one for one in self._every if one.matches(typed) and (self._archived or not one.archived)]

    def _open(self, job: str | None) -> None:
        if job is None or not self.is_top:
            return
        self.query_one(JobList).want(job)
        try:
            self.navigation.job(job)
        except MatrixCheckError as error:
            self._complain(error)

    def _keep(self, job: JobSummary, words: str, keep: Callable[[], object]) -> None:
        """Have something of a job kept, and say so once it is."""
        self._keeping.add(
            Entry(
                job.id,
                words,
                keep,
                kept=lambda _: self.call_later(self._say, f"kept: {words}", "strong"),
                refused=lambda error: self.call_later(self._complain, error),
            )
        )

    def _complain(self, error: MatrixCheckError) -> None:
        self._say(f"! {error}", "alert")

    def _say(self, words: str, tone: Tone) -> None:
        if self.is_open:
            said = wrapped(words, self.app.size.width - 2, tone) if words else ()
            self.query_one("#trouble", Lines).show(said)
