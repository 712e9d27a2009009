"""The job: a grid for each matrix, the cell under the cursor, the suspects, and the line that takes numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual.containers import Container
from textual.widget import Widget

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import JOB
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import often_of
from matrixcheck.tui.left_off import View
from matrixcheck.tui.page_address import show_address
from matrixcheck.tui.screens.job_ways import JobWays
from matrixcheck.tui.text.card import card, card_in_brief
from matrixcheck.tui.text.job import FIRST_HINT_ON_A_PHONE, first_hint, retests
from matrixcheck.tui.text.keys import Cap, filled
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.suspects import lights
from matrixcheck.tui.text.tile import Light
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.job_head import JobHead
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.suspect_list import SuspectList
from matrixcheck.tui.widgets.tabs import MatrixTabs
from matrixcheck.tui.widths import PANE_TEXT, PHONE, WIDE

if TYPE_CHECKING:
    pass

BREATH = 0.1
"""Seconds from the first paint to the first analysis, which would slow the paint on its way to the terminal."""
SUFFIX = {Mark.WORKING: "", Mark.DEAD: "-", Mark.STUCK: "*"}


class JobScreen(JobWays):
    """One job. Keys on the grid mark the cell under the cursor; digits go to the entry line."""

    PLACE = JOB
    ABOVE = 2

    def __init__(self, desk: Desk, matrix: str | None = None) -> None:
        ids = desk.layout.matrix_ids
        super().__init__(desk, next((one for one in (matrix, desk.left.matrix_id) if one in ids), ids[0]))
        self._gone_on = False
        self._halted_at: tuple[Path, int] | None = None
        self._offers_retest = False
        self._astray = False

    def header(self) -> Sequence[Widget]:
        """Return the job in a line, and the tabs."""
        return (
            JobHead(self._desk, id="head"),
            MatrixTabs(self._desk.tallies(), self._matrix_id, id="tabs"),
        )

    def pane(self, grid: MatrixGrid) -> Sequence[Widget]:
        """Return the cell under the cursor, and the suspects."""
        return Lines(self._card(grid.cursor), id="card"), SuspectList(
            self._desk.left.suspect, self._desk.left.suspects_top, id="suspects"
        )

    @property
    def _hints(self) -> tuple[str, str]:
        """Return how to begin, and how on a phone."""
        return first_hint(self.keymap, self.matrix), FIRST_HINT_ON_A_PHONE

    def _say_how_to_begin(self) -> None:
        self.entry.say(self._hints[self.app.size.width < PHONE], "quiet")

    def first_view(self) -> View | None:
        """Return what the grid showed when the job was left."""
        return self._desk.left.view_of(self._matrix_id, self._desk.layout)

    def lit(self) -> Mapping[CellKey, Light]:
        """Return the cells of the chosen suspect."""
        return lights(self.chosen)

    def draw_pane(self) -> None:
        """Show the cell under the cursor."""
        self._keep_place()
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
        self._keep_place()
        if self.entry.said not in self._hints:
            self.entry.say("", "quiet")

    def _keep_place(self) -> None:
        """Keep what the grid and the suspects show, for the way back."""
        left, suspects = self._desk.left, self.query_one(SuspectList)
        left.matrix_id, left.views[self._matrix_id] = self._matrix_id, self.grid.view
        left.suspect, left.suspects_top = suspects.wanted, suspects.top

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
        self._keep_here(SUFFIX[Mark(mark)], mark)

    def action_later(self) -> None:
        """Put the cell under the cursor on the later list."""
        self._keep_here(".", "to be tested later")

    def _keep_here(self, sign: str, what: str) -> None:
        """Mark the cell under the cursor, but not by a key that may be meant for a number that was refused just now."""
        if self._astray:
            self._astray = False
            self.entry.say(
                f"! Refused just now. Press the key again: it marks {short_words(self.cell)} as {what}", "alert"
            )
        else:
            self.keep(f"{self.cell.number}{sign}")

    def refuse_typed(self, text: str, error: MatrixCheckError) -> None:
        """Set aside what stands in the line. What comes next may speak of it, and not of the cell under the cursor."""
        super().refuse_typed(text, error)
        self._astray = True

    def settled(self) -> None:
        """Let the next key speak of the cell under the cursor again."""
        super().settled()
        self._astray = False

    def completed(self, text: str) -> str:
        """Return an entry with the number that it speaks of; after one was refused it stays as it is."""
        return text if self._astray else super().completed(text)

    def on_matrix_grid_moved(self) -> None:
        """Let the next key speak of the cell that the cursor came to."""
        self._astray = False

    async def go_to_matrix(self, matrix_id: str) -> bool:
        """Go to a matrix, where the layout still has it."""
        if matrix_id in self._desk.layout.matrix_ids:
            await self._open(matrix_id)
        return True

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

    def action_find(self) -> None:
        """Go to a cell by a few letters of its name."""

        cells = [cell for matrix in self._desk.layout.matrices for cell in matrix.fitted]

        async def found(place: int | None) -> None:
            if place is not None:
                await self._open(cells[place].key.matrix)
                self.grid.move_to(cells[place].key)

        names = [f"{short_words(cell)} · {cell.key.matrix}" for cell in cells]
        self.navigation.find("Find a cell", names, found)

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
        self._desk.left.views.clear()
        await super().relay()

    async def _open(self, matrix_id: str) -> None:
        if matrix_id == self._matrix_id:
            return
        hinted = self.entry.said in self._hints
        self._keep_place()
        self._matrix_id = matrix_id
        room = self.query_one("#grid-room", Container)
        await room.remove_children()
        await room.mount(MatrixGrid(self.matrix, room.size, self.first_view()))
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

    def _card(self, key: CellKey) -> tuple[Row, ...]:
        cell = self.matrix.by_key.get(key)
        if cell is None:
            return ()
        standing = self._desk.state.standings.get(key)
        width = self.app.size.width
        if width >= WIDE:
            return card(cell, standing, self._desk.layout, PANE_TEXT)
        return card_in_brief(cell, standing, self._desk.layout, width - 2)
