"""The job: a grid for each matrix, the cell under the cursor, the suspects, and the line that takes numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget
from textual.worker import get_current_worker

from matrixcheck.errors import AnalysisError, MatrixCheckError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import JOB
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import key_named, often_of
from matrixcheck.tui.page_address import show_address
from matrixcheck.tui.screens.grid_screen import GridScreen
from matrixcheck.tui.text.card import card, card_in_brief
from matrixcheck.tui.text.job import FIRST_HINT_ON_A_PHONE, first_hint, retests
from matrixcheck.tui.text.keys import Cap, filled
from matrixcheck.tui.text.number_keys import pressed
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.suspects import Analysis, deciding, lights
from matrixcheck.tui.text.tile import Light
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.job_head import JobHead
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.suspect_list import SuspectList
from matrixcheck.tui.widgets.tabs import MatrixTabs
from matrixcheck.tui.widths import PANE_TEXT, PHONE, WIDE

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Suspect

BREATH = 0.1
"""Seconds from the first paint to the first analysis, which would slow the paint on its way to the terminal."""
SUFFIX = {Mark.WORKING: "", Mark.DEAD: "-", Mark.STUCK: "*"}


class JobScreen(GridScreen):
    """One job. Keys on the grid mark the cell under the cursor; digits go to the entry line."""

    PLACE = JOB
    ABOVE = 2

    def __init__(self, desk: Desk, matrix: str | None = None) -> None:
        ids = desk.layout.matrix_ids
        super().__init__(desk, matrix if matrix in ids else ids[0])
        self._cursors: dict[str, CellKey] = {}
        self._analysed: tuple[Path, int] | None = None
        self._analysing = False
        self._gone_on = False
        self._halted_at: tuple[Path, int] | None = None
        self._offers_retest = False
        self._said_of_retests: Callable[[], Sequence[str]] | None = None

    def header(self) -> Sequence[Widget]:
        """Return the job in a line, and the tabs."""
        return (
            JobHead(self._desk, id="head"),
            MatrixTabs(self._desk.tallies(), self._matrix_id, id="tabs"),
        )

    def pane(self, grid: MatrixGrid) -> Sequence[Widget]:
        """Return the cell under the cursor, and the suspects."""
        return Lines(self._card(grid.cursor), id="card"), SuspectList(id="suspects")

    @property
    def analysis(self) -> Analysis | None:
        """Return the diagnosis that is shown."""
        return self.query_one(SuspectList).analysis

    @property
    def chosen(self) -> Suspect | None:
        """Return the suspect whose cells are lit."""
        return self.query_one(SuspectList).chosen

    @property
    def _hints(self) -> tuple[str, str]:
        """Return how to begin, and how on a phone."""
        return first_hint(self.keymap, self.matrix), FIRST_HINT_ON_A_PHONE

    def _say_how_to_begin(self) -> None:
        self.entry.say(self._hints[self.app.size.width < PHONE], "quiet")

    def lit(self) -> Mapping[CellKey, Light]:
        """Return the cells of the chosen suspect."""
        return lights(self.chosen)

    def draw_pane(self) -> None:
        """Show the cell under the cursor."""
        self._cursors[self._matrix_id] = self.grid.cursor
        self.query_one("#card", Lines).show(self._card(self.grid.cursor))

    def after_change(self) -> None:
        """Show it, and have it analysed.

        How to begin is not said once something is kept. Where a coil is on at rest, that comes before all else.
        """
        if self.entry.said in self._hints and self._desk.state.current:
            self.entry.say("", "quiet")
        if self.relaid:
            self.call_later(self.relay)
            return
        self.query_one(JobHead).show_job()
        self.query_one(MatrixTabs).show(self._desk.tallies(), self._matrix_id)
        self.draw()
        if bool(self._desk.state.due) is not self._offers_retest:
            self.show_keys()
        self._say_closing()
        self._halt()
        self._analyse()

    def caps(self) -> Sequence[Cap]:
        """Return the keys that there is room for; help has them all."""
        # What is due comes before what would decide, and the bar has room for one of them.
        self._offers_retest = bool(self._desk.state.due)
        unused = "decide" if self._offers_retest else "retest"
        caps, width = [cap for cap in super().caps() if cap.action != unused], self.app.size.width
        return filled(caps, often_of(JOB, self.keymap), width - 2) if PHONE <= width < WIDE else caps

    def on_mount(self) -> None:
        """Say how to begin. The analysis waits for the first paint, and so does a round that is still open."""
        self.query_one(SuspectList).of_matrix(self._matrix_id)
        self.query_one(SuspectList).halt(self._desk.state.coils.stop)
        if not self._desk.state.current:
            self._say_how_to_begin()

    def on_screen_suspend(self) -> None:
        """Take away what was kept last: on the way back it would pass for something newer."""
        if self.entry.said not in self._hints:
            self.entry.say("", "quiet")

    def on_screen_resume(self) -> None:
        """Give a page in front of the program its address."""
        show_address(self.app, self._desk.job, self._matrix_id)
        waiting = len(self._desk.state.due)
        if waiting and not self.entry.said:
            self.entry.say(retests(waiting, self.keymap, self.matrix), "quiet")
        self.call_after_refresh(self._go_on)

    def enter_words(self) -> str:
        """Return which cell Enter would mark."""
        return f"it marks {short_words(self.cell)} as working"

    def action_mark(self, mark: str) -> None:
        """Mark the cell under the cursor."""
        self.keep(f"{self.cell.number}{SUFFIX[Mark(mark)]}")

    def action_later(self) -> None:
        """Put the cell under the cursor on the later list."""
        self.keep(f"{self.cell.number}.")

    async def action_matrix(self, by: int) -> None:
        """Open the tab of another matrix."""
        ids = self._desk.layout.matrix_ids
        await self._open(ids[(ids.index(self._matrix_id) + by) % len(ids)])

    def action_suspect(self) -> None:
        """Choose the next suspect and light its cells."""
        self.query_one(SuspectList).choose_next()

    def action_let_go(self) -> None:
        """Let go of the chosen suspect."""
        self.query_one(SuspectList).choose_none()

    def action_round(self) -> None:
        """Choose a round through this matrix."""
        self.navigation.choose_round(self, self.matrix.id)

    def action_list(self) -> None:
        """Show the later list; a group of it can become a round."""
        if not self._stopped():
            self.navigation.later_list(self)

    def action_decide(self) -> None:
        """Walk through the most informative cells for the suspects."""
        if self._stopped():
            return
        cells = deciding(self.analysis, self.chosen)
        if cells:
            self.navigation.choose_round(self, cells[0].matrix, cells)
        else:
            key = pressed(key_named("checks", JOB, self.keymap), self.matrix) or "checks"
            self.entry.say(f"no test of a cell would help further; {key} shows the bench checks of a suspect", "quiet")

    def action_checks(self) -> None:
        """Show the bench checks of the chosen suspect, or of the likeliest."""
        if self._stopped():
            return
        analysis = self.analysis
        suspect = self.chosen or next(iter(analysis.suspects if analysis else ()), None)
        if analysis is None or suspect is None:
            self.entry.say("there is no suspect yet", "quiet")
            return
        self.navigation.checks(self, analysis, suspect)

    def action_parts(self) -> None:
        """Show what the cell under the cursor works through."""
        self.navigation.parts(self, self.cell)

    def action_repair(self) -> None:
        """Keep a repair: at the places of the chosen suspect, else behind the cell under the cursor."""
        # Here and not above: the first paint needs none of it.
        from matrixcheck.report.repairing import repaired_words  # noqa: PLC0415
        from matrixcheck.report.spots import likely_places, places_behind  # noqa: PLC0415

        layout = self._desk.layout
        places = likely_places(self.chosen) if self.chosen else places_behind(self.cell, layout)
        self.navigation.repair(self._desk, places, lambda made: self.tell(repaired_words(made, layout)))

    def action_retest(self) -> None:
        """Walk through what is due for a retest in this matrix, else in the first that has such cells."""
        if self._stopped():
            return
        due = dict.fromkeys(key.matrix for key in self._desk.state.due)
        if due:
            self.navigation.retest(self, self._matrix_id if self._matrix_id in due else next(iter(due)))
        else:
            self.entry.say("nothing is due for a retest", "quiet")

    def action_correct(self) -> None:
        """Put the layout right at the cell under the cursor."""
        self.navigation.correct(self, self.cell)

    def tell(self, words: str) -> None:
        """Say what was kept."""
        if self.is_open:
            self._say_kept(words)

    def round_left(self, closing: Callable[[], Sequence[str]]) -> None:
        """Say what the retests of a round that was left came to, once all of it is kept."""
        self._said_of_retests = closing
        self._say_closing()

    def _say_closing(self) -> None:
        if self._said_of_retests is not None and not self._desk.keeping.busy:
            words, self._said_of_retests = " ".join(self._said_of_retests()), None
            if words and not self.entry.text:
                self.entry.say(words, "strong")

    def action_page(self, name: str) -> None:
        """Show a page of this job."""
        self.navigation.page(name, self._desk)

    def action_functions(self) -> None:
        """Show the rest of the test mode."""
        if not self._stopped():
            self.navigation.page("functions", self._desk)

    def action_accept(self) -> None:
        """Accept that the lamp under the cursor glows at rest, or no longer."""
        key, back = self.cell.key, self._desk.state.standings[self.cell.key].accepted is not None
        said = f"{short_words(self.cell)}: {'counts again' if back else 'its glow is normal here'}"
        bench, job = self._desk.bench, self._desk.job
        self._desk.queue(
            said,
            lambda: bench.accept(job, [key], back=back),
            self.outcome(lambda _: self._say_kept(f"kept: {said}")),
        )

    def action_note(self) -> None:
        """Write a note."""
        self.navigation.note(self)

    def note(self, words: str) -> None:
        """Keep a note."""
        bench, job = self._desk.bench, self._desk.job
        self._desk.queue(
            f"note: {words}", lambda: bench.note(job, words), self.outcome(lambda _: self._say_kept("kept: the note"))
        )

    def action_find(self) -> None:
        """Go to a cell by a few letters of its name."""

        cells = [cell for matrix in self._desk.layout.matrices for cell in matrix.fitted]

        async def found(place: int | None) -> None:
            if place is not None:
                await self._open(cells[place].key.matrix)
                self.grid.move_to(cells[place].key)

        names = [f"{short_words(cell)} · {cell.key.matrix}" for cell in cells]
        self.navigation.find("Find a cell", names, found)

    def action_bench(self) -> None:
        """Go back to the bench."""
        self.dismiss()

    async def on_matrix_tabs_chosen(self, message: MatrixTabs.Chosen) -> None:
        """Open the tab that was tapped."""
        await self._open(message.matrix_id)

    def on_suspect_list_chosen(self) -> None:
        """Light the cells of the chosen suspect, and give it room where there is little."""
        self.query_one("#pane").set_class(self.chosen is not None, "-suspect")
        self.draw_grid()

    async def relay(self) -> None:
        """Draw the job as another layout has it; where its matrix is gone, the first one."""
        ids = self._desk.layout.matrix_ids
        if self.is_open and self._matrix_id not in ids:
            self._matrix_id = ids[0]
            self.query_one(SuspectList).of_matrix(ids[0])
        self._cursors.clear()
        await super().relay()

    async def _open(self, matrix_id: str) -> None:
        if matrix_id == self._matrix_id:
            return
        hinted = self.entry.said in self._hints
        self._matrix_id = matrix_id
        room = self.query_one("#grid-room", Container)
        await room.remove_children()
        grid = MatrixGrid(self.matrix, room.size)
        await room.mount(grid)
        if matrix_id in self._cursors:
            grid.move_to(self._cursors[matrix_id])
        self.entry.clear()
        if hinted:
            self._say_how_to_begin()
        self.query_one(MatrixTabs).show(self._desk.tallies(), matrix_id)
        self.query_one(SuspectList).of_matrix(matrix_id)
        self.show_keys()
        self.fit()
        self.draw()
        show_address(self.app, self._desk.job, matrix_id)

    def _go_on(self) -> None:
        """Take up a round that was left open, once, after the first paint.

        A quick key that leads elsewhere comes before it.
        """
        if not self.is_top:
            return
        self._halt()
        if self._gone_on or self._desk.state.coils.stop:
            return
        self._gone_on = True
        if self._desk.left_open:
            self.navigation.resume(self)
        self.set_timer(BREATH, self._analyse)

    def _halt(self) -> None:
        """Say that a coil is on at rest, once for each thing that the journal says."""
        state = self._desk.state
        self.query_one(SuspectList).halt(state.coils.stop)
        if state.coils.stop and self.is_top and self._halted_at != self._desk.version:
            self._halted_at = self._desk.version
            self.navigation.stop(self)

    def _stopped(self) -> bool:
        """Return whether a coil on at rest forbids the step that a key asked for; then that is said."""
        if self._desk.state.coils.stop:
            self.navigation.stop(self)
        return self._desk.state.coils.stop

    def _card(self, key: CellKey) -> tuple[Row, ...]:
        cell = self.matrix.by_key.get(key)
        if cell is None:
            return ()
        standing = self._desk.state.standings.get(key)
        width = self.app.size.width
        if width >= WIDE:
            return card(cell, standing, self._desk.layout, PANE_TEXT)
        return card_in_brief(cell, standing, self._desk.layout, width - 2)

    # Analysis: off the event loop, one at a time, and again while there is something newer

    @property
    def analysed(self) -> bool:
        """Return whether what is shown beside the grid was made of all that the journal holds."""
        return self._analysed == self._desk.version

    def _analyse(self) -> None:
        if not self._analysing and not self.analysed:
            self._analysing = True
            self._diagnose(self._desk.version)

    @work(thread=True, exclusive=True, group="analysis")
    def _diagnose(self, version: tuple[Path, int]) -> None:
        """Show each diagnosis as it comes. What was recorded meanwhile ends it, and it begins again from there."""
        worker, desk = get_current_worker(), self._desk
        for analysis in desk.answers(lambda: worker.is_cancelled or desk.version != version):
            if worker.is_cancelled:
                return
            self.app.call_from_thread(
                self._failed if isinstance(analysis, Exception) else self._diagnosed, version, analysis
            )
        if not worker.is_cancelled:
            self.app.call_from_thread(self._ready, version)

    def _diagnosed(self, version: tuple[Path, int], analysis: Analysis) -> None:
        if self.is_open and self._desk.version == version:
            self.query_one(SuspectList).show_analysis(analysis)

    def _failed(self, version: tuple[Path, int], error: Exception) -> None:
        if not self.is_open:
            return
        if self._desk.version == version:
            self.query_one(SuspectList).fail()
        if isinstance(error, MatrixCheckError) and not isinstance(error, AnalysisError):
            self.complain(error)
        else:
            self.log.error(error)

    def _ready(self, version: tuple[Path, int]) -> None:
        self._analysing, self._analysed = False, version
        self._analyse()
