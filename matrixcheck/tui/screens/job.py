"""The job: a grid for each matrix, the cell under the cursor, the suspects, and the line that takes numbers."""

from __future__ import annotations

from typing import ClassVar

from textual import events, work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, Vertical
from textual.geometry import Size
from textual.worker import get_current_worker

from matrixcheck.bench import Bench, Kept
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.browser import tell_place
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.messages import BookChanged
from matrixcheck.tui.screens.help import HelpScreen
from matrixcheck.tui.text.card import card, card_in_brief
from matrixcheck.tui.text.geometry import Geometry
from matrixcheck.tui.text.help import entry_rows, sign_rows
from matrixcheck.tui.text.job import headline, kept_words, preview, undone_words
from matrixcheck.tui.text.keys import key_rows, placed
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.suspects import Told, lights
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.keybar import KeyBar, caps_of
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.suspect_list import SuspectList
from matrixcheck.tui.widgets.tabs import MatrixTabs
from matrixcheck.tui.widgets.toned import TonedScreen

PHONE = 50
WIDE = 84
PANE = 33
HEAD = 4
LEAST_PANE = 5
ENTRY_STARTS = frozenset("0123456789+/=cr")
SUFFIX = {Mark.WORKING: "", Mark.DEAD: "-", Mark.STUCK: "*"}


class JobScreen(TonedScreen[None]):
    """One job. Keys on the grid mark the cell under the cursor; digits go to the entry line."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "mark('working')", "working", key_display="Enter"),
        Binding("minus", "mark('dead')", "dead", key_display="-"),
        Binding("asterisk", "mark('stuck')", "stuck", key_display="*"),
        Binding("full_stop,comma", "later", "later", key_display="."),
        Binding("u", "undo", "undo"),
        Binding("tab", "matrix(1)", "next matrix", key_display="Tab"),
        Binding("s", "suspect", "suspects"),
        Binding("question_mark", "help", "keys", key_display="?"),
        Binding("b", "bench", "bench"),
        Binding("q", "app.quit", "quit"),
        Binding("shift+tab", "matrix(-1)", "previous matrix", show=False, key_display="Shift+Tab"),
        Binding("t", "app.other_light", "light or dark", show=False),
        Binding("escape", "let_go", "let go of the suspect", show=False, key_display="Esc"),
        Binding("up", "move(-1, 0)", "move up", show=False, key_display="↑"),
        Binding("down", "move(1, 0)", "move down", show=False, key_display="↓"),
        Binding("left", "move(0, -1)", "move left", show=False, key_display="←"),
        Binding("right", "move(0, 1)", "move right", show=False, key_display="→"),
    ]

    def __init__(self, bench: Bench, job: str, matrix: str | None = None) -> None:
        super().__init__()
        self._desk = Desk(bench, job)
        ids = self._desk.layout.matrix_ids
        self._matrix_id = matrix if matrix in ids else ids[0]
        self._cursors: dict[str, CellKey] = {}
        self._analysed: int | None = None
        self._analysing = False
        self._grid_height: int | str = "1fr"

    @property
    def desk(self) -> Desk:
        """The job behind the screen."""
        return self._desk

    @property
    def matrix(self) -> Matrix:
        """The matrix whose tab is open."""
        return self._desk.layout.matrix(self._matrix_id)

    def compose(self) -> ComposeResult:
        """Head, tabs, grid and pane, entry, keys."""
        yield Lines(headline(self._desk.state), id="head")
        yield MatrixTabs(self._desk.tallies(), self._matrix_id, id="tabs")
        with Container(id="body"):
            grid = MatrixGrid(self.matrix, self._grid_room())
            with Container(id="grid-room"):
                yield grid
            with Vertical(id="pane"):
                yield Lines(self._card(grid.cursor, self.app.size.width), id="card")
                yield SuspectList(id="suspects")
        yield EntryLine("number and Enter", id="entry")
        yield KeyBar(caps_of(self.BINDINGS), id="keys")

    def on_mount(self) -> None:
        """Draw what the journal says."""
        self._draw_grid()
        self.call_after_refresh(self._analyse)

    def on_screen_resume(self) -> None:
        """Tell a page in front of the program where it is."""
        tell_place(self.app, self._desk.job, self._matrix_id)

    def on_resize(self) -> None:
        """Lay the key bar out for fingers on a phone."""
        self.query_one(KeyBar).tall = self.app.size.width < PHONE
        self.call_after_refresh(self._fit)

    # Keys

    def on_key(self, event: events.Key) -> None:
        """Hand keys that belong to the entry line over to it, before they are looked up as commands."""
        entry = self.query_one(EntryLine)
        if (entry.text or (event.character or "") in ENTRY_STARTS) and entry.take(event.key, event.character):
            event.stop()

    def action_mark(self, mark: str) -> None:
        """Mark the cell under the cursor."""
        self._keep(f"{self._number}{SUFFIX[Mark(mark)]}")

    def action_later(self) -> None:
        """Put the cell under the cursor on the later list."""
        self._keep(f"{self._number}.")

    def action_undo(self) -> None:
        """Take back what was kept last."""
        try:
            undone = self._desk.undo()
        except MatrixCheckError as error:
            self._entry.say(f"! {error}", "alert")
            return
        self._entry.say(undone_words(undone), "strong")
        self._after_change()

    def action_move(self, down: int, right: int) -> None:
        """Move the cursor."""
        self._grid.step(down, right)

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

    def action_help(self) -> None:
        """Show the keys of this screen."""
        self.app.push_screen(HelpScreen("At the job", self.BINDINGS, (entry_rows(), sign_rows())))

    def action_bench(self) -> None:
        """Go back to the bench."""
        self.dismiss()

    # Messages

    def on_entry_line_edited(self, message: EntryLine.Edited) -> None:
        """Say what the entry would do."""
        self._entry.say(preview(self._with_cell(message.text), self.matrix) if message.text else "", "quiet")

    def on_entry_line_submitted(self, message: EntryLine.Submitted) -> None:
        """Keep the entry."""
        kept = self._keep(self._with_cell(message.text))
        if kept and kept[-1].cell is not None:
            self._grid.move_to(kept[-1].cell)

    def on_matrix_grid_moved(self) -> None:
        """Show the cell under the cursor."""
        self._cursors[self._matrix_id] = self._grid.cursor
        self._draw_card()

    async def on_matrix_tabs_chosen(self, message: MatrixTabs.Chosen) -> None:
        """Open the tab that was tapped."""
        await self._open(message.matrix_id)

    def on_suspect_list_chosen(self) -> None:
        """Light the cells of the chosen suspect."""
        self._draw_grid()

    async def on_key_bar_pressed(self, message: KeyBar.Pressed) -> None:
        """Do what the tapped key does; Enter on a typed entry keeps it."""
        if message.cap.key == "Enter" and self._entry.take("enter", None):
            return
        await self.run_action(message.cap.action)

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote."""
        message.stop()
        self._desk.reload()
        self._after_change()

    # What is drawn

    @property
    def _grid(self) -> MatrixGrid:
        return self.query_one(MatrixGrid)

    @property
    def _entry(self) -> EntryLine:
        return self.query_one(EntryLine)

    @property
    def _number(self) -> int:
        return self.matrix.by_key[self._grid.cursor].number

    def _with_cell(self, text: str) -> str:
        """An entry that begins with a sign speaks of the cell under the cursor."""
        return f"{self._number}{text}" if text[:1] in "+/=" else text

    def _keep(self, text: str) -> tuple[Kept, ...]:
        try:
            kept = self._desk.mark(self.matrix, text)
        except MatrixCheckError as error:
            self._entry.say(f"! {error}", "alert")
            return ()
        self._entry.clear()
        self._entry.say(kept_words(kept), "strong")
        self._after_change()
        return kept

    async def _open(self, matrix_id: str) -> None:
        if matrix_id == self._matrix_id:
            return
        self._matrix_id = matrix_id
        room = self.query_one("#grid-room", Container)
        await room.remove_children()
        grid = MatrixGrid(self.matrix, room.size)
        await room.mount(grid)
        if matrix_id in self._cursors:
            grid.move_to(self._cursors[matrix_id])
        self._entry.clear()
        self._fit()
        self._draw()
        tell_place(self.app, self._desk.job, matrix_id)

    def _after_change(self) -> None:
        self._draw()
        self._analyse()

    def _draw(self) -> None:
        self.query_one(MatrixTabs).show(self._desk.tallies(), self._matrix_id)
        self._draw_grid()
        self._draw_card()

    def _draw_grid(self) -> None:
        self._grid.show(self._desk.faces(self.matrix, lights(self.query_one(SuspectList).chosen)))

    def _grid_room(self) -> Size:
        """The room that the grid will have, worked out before the first layout."""
        width, height = self.app.size
        keys = len(key_rows(placed(caps_of(self.BINDINGS), width - 2, width < PHONE)))
        if width >= WIDE:
            return Size(width - PANE, height - HEAD - 1 - keys)
        return Size(width, Geometry.height_for(self.matrix.size[0], height - HEAD - keys - LEAST_PANE))

    def _fit(self) -> None:
        """Where the grid stands above the pane, give it the lines that it can use and the pane the rest."""
        height: int | str = "1fr"
        if self.app.size.width < WIDE:
            height = Geometry.height_for(self.matrix.size[0], self.query_one("#body").size.height - LEAST_PANE)
        if height != self._grid_height:
            self._grid_height = height
            self.query_one("#grid-room").styles.height = height
        self._draw_card()

    def _draw_card(self) -> None:
        self.query_one("#card", Lines).show(self._card(self._grid.cursor, self.app.size.width))

    def _card(self, key: CellKey, width: int) -> tuple[Row, ...]:
        cell = self.matrix.by_key.get(key)
        if cell is None:
            return ()
        standing = self._desk.state.standings.get(key)
        if width >= WIDE:
            return card(cell, standing, self._desk.layout, PANE - 3)
        return card_in_brief(cell, standing, self._desk.layout, width - 2)

    # Analysis: off the event loop, one at a time, and again while there is something newer

    def _analyse(self) -> None:
        if not self._analysing and self._analysed != self._desk.state.seq:
            self._analysing = True
            self._diagnose(self._desk.state.seq)

    @work(thread=True, exclusive=True, group="analysis")
    def _diagnose(self, seq: int) -> None:
        # The analyser is the one heavy import; here it keeps nobody waiting.
        from matrixcheck.tui.text.telling import tell  # noqa: PLC0415

        worker = get_current_worker()
        told = tell(self._desk.bench.diagnosis(self._desk.job), self._desk.layout)
        if not worker.is_cancelled:
            self.app.call_from_thread(self._diagnosed, seq, told)

    def _diagnosed(self, seq: int, told: Told) -> None:
        self._analysing, self._analysed = False, seq
        self.query_one(SuspectList).tell(told)
        self._analyse()
