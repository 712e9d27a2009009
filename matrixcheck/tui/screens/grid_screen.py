"""What every screen with a grid on it does alike: the grid and its room, the entry line, the keys' bar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Container, Vertical
from textual.geometry import Size
from textual.message import Message
from textual.widget import Widget

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import waiting_cap
from matrixcheck.tui.left_off import View
from matrixcheck.tui.messages import BookChanged, BookTrouble, StateChanged
from matrixcheck.tui.screens.entry_page import EntryPage
from matrixcheck.tui.text.geometry import Geometry
from matrixcheck.tui.text.keys import Cap, key_rows, placed
from matrixcheck.tui.text.tile import Light
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.rooms import Room
from matrixcheck.tui.widths import LEAST_PANE, PANE, PHONE, WIDE, class_of


class GridRoom(Container, Room):
    """The room of the grid."""


class Pane(Vertical, Room):
    """The room beside or below the grid."""


class Body(Container, Room):
    """The room that grid and pane share. It tells the screen when it has another size."""

    class Resized(Message):
        """There is more room, or less: what stands above or below takes another count of lines."""

    def on_resize(self) -> None:
        """Tell the screen."""
        self.post_message(self.Resized())


class GridScreen(EntryPage, Room):
    """A grid, a pane beside or below it, an entry line and the keys. The screens of the job and its rounds fill it."""

    ABOVE: ClassVar[int] = 1
    """Lines above the body where the grid stands above the pane."""

    def __init__(self, desk: Desk, matrix_id: str) -> None:
        super().__init__()
        self._desk = desk
        self._matrix_id = matrix_id
        self._grid_height: int | str = "1fr"
        self._away = False
        self._drawn = desk.version

    @property
    def desk(self) -> Desk:
        """Return the job behind the screen."""
        return self._desk

    @property
    def matrix(self) -> Matrix:
        """Return the matrix on the screen."""
        return self._desk.layout.matrix(self._matrix_id)

    @property
    def cell(self) -> Cell:
        """Return the cell under the cursor."""
        return self.matrix.by_key[self.grid.cursor]

    def compose(self) -> ComposeResult:
        """Compose head, grid and pane, entry, keys."""
        yield from self.header()
        grid = MatrixGrid(self.matrix, self._grid_room(), self.first_view())
        with Body(id="body"):
            with GridRoom(id="grid-room"):
                yield grid
            with Pane(id="pane"):
                yield from self.pane(grid)
        yield EntryLine(self.HINT, id="entry")
        yield KeyBar(self.keys_in_force(), id="keys")

    # What each screen fills in

    def header(self) -> Sequence[Widget]:
        """Return the widgets above the body."""
        return ()

    def pane(self, grid: MatrixGrid) -> Sequence[Widget]:
        """Return the widgets beside or below the grid."""
        del grid
        return ()

    def first_view(self) -> View | None:
        """Return what the grid shows at first, if not its first cell."""
        return None

    def lit(self) -> Mapping[CellKey, Light]:
        """Return the cells to light on the grid."""
        return {}

    def draw_pane(self) -> None:
        """Bring the pane up to date."""

    def after_change(self) -> None:
        """Show that the journal says something new."""
        self.draw()

    # What all do alike

    def waiting_caps(self) -> Sequence[Cap]:
        """Return the key for what waits to be kept, where something does."""
        return (waiting_cap(self.keymap),) if self._desk.keeping.waiting else ()

    @property
    def grid(self) -> MatrixGrid:
        """Return the grid."""
        return self.query_one(MatrixGrid)

    def on_compose(self) -> None:
        """Take the class of the screen's width at once.

        Textual gives it with the first size only, after a first paint that is laid out for another width.
        """
        self.set_class(True, class_of(self.app.size.width), update=False)

    def on_mount(self) -> None:
        """Draw what the journal says."""
        self.draw()

    def on_screen_suspend(self) -> None:
        """Take note that another screen comes before this one."""
        self._away = True

    def on_screen_resume(self) -> None:
        """Show what happened meanwhile."""
        if self._away:
            self._away = False
            self.hold_enter()
            self.show_waiting()
            self.read_anew()

    def on_matrix_grid_moved(self) -> None:
        """Show the cell under the cursor."""
        self.draw_pane()

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote."""
        message.stop()
        self.read_anew()

    def on_book_trouble(self, message: BookTrouble) -> None:
        """Say what is wrong with the book."""
        message.stop()
        self._warn(message.error)

    def on_state_changed(self, message: StateChanged) -> None:
        """Show what was kept for a screen that was left since."""
        message.stop()
        if self.is_open and self._drawn != self._desk.version:
            self.after_change()

    def read_anew(self) -> None:
        """Read what the journal says now, and show it."""
        self.run_worker(self._read_anew(), group="read")

    async def _read_anew(self) -> None:
        try:
            await self._desk.reload()
        except MatrixCheckError as error:
            self._warn(error)
            return
        if self.is_open:
            self.after_change()

    def show_waiting(self) -> None:
        """Say below the entry what waits to be kept, and offer the key for it."""
        keeping = self._desk.keeping
        self.entry.wait(self.waiting_words(keeping))
        self.show_keys()

    def action_move(self, down: int, right: int) -> None:
        """Move the cursor."""
        self.grid.step(down, right)

    def complain(self, error: MatrixCheckError) -> None:
        """Say in place what was refused."""
        self.entry.say(f"! {error}", "alert")

    def _warn(self, error: MatrixCheckError) -> None:
        """Say in place what is wrong with the book. What is being typed isn't refused by that, and goes on."""
        if self.is_open:
            self.entry.say(f"! {error}", "alert")

    def draw(self) -> None:
        """Bring everything up to date."""
        self._drawn = self._desk.version
        self.draw_grid()
        self.draw_pane()

    def on_body_resized(self, message: Body.Resized) -> None:
        """Share the height out anew, now that it is known."""
        message.stop()
        self.fit()

    @property
    def relaid(self) -> bool:
        """Return whether the job has another layout than the one that is drawn."""
        return self._matrix_id not in self._desk.layout.matrix_ids or self.grid.matrix != self.matrix

    async def relay(self) -> None:
        """Draw the matrix as another layout has it."""
        if self.is_open and self.relaid:
            await self.grid.use(self.matrix)
            self.show_keys()
            self.after_change()

    def draw_grid(self) -> None:
        """Bring the grid up to date."""
        self.grid.show(self._desk.faces(self.matrix, self.lit()))

    def fit(self) -> None:
        """Give a grid above its pane the lines that it can use, and the pane the rest."""
        if not self.is_open:
            return
        height: int | str = "1fr"
        if self.app.size.width < WIDE:
            height = Geometry.height_for(self.matrix.size[0], self.query_one("#body").size.height - LEAST_PANE)
        if height != self._grid_height:
            self._grid_height = height
            self.query_one("#grid-room").styles.height = height
        self.draw_pane()

    def _grid_room(self) -> Size:
        """Return the room that the grid will have, worked out before the first layout."""
        width, height = self.app.size
        phone = width < PHONE
        keys = len(key_rows(placed(self.keys_in_force(), width if phone else width - 2, phone)))
        if width >= WIDE:
            return Size(width - PANE, height - self.ABOVE - 1 - 2 - keys)
        return Size(width, Geometry.height_for(self.matrix.size[0], height - self.ABOVE - 2 - keys - LEAST_PANE))
