"""The grid of one matrix. Each column is a Line API widget of its own, so that a mark repaints one tile and no more."""

from __future__ import annotations

from collections.abc import Mapping

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.geometry import Region, Size
from textual.message import Message
from textual.strip import Strip

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.tui.left_off import View
from matrixcheck.tui.text.geometry import HEADER, Geometry, shifted
from matrixcheck.tui.text.spans import Row, clipped, row
from matrixcheck.tui.text.tile import Face, drawn
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.rooms import Room
from matrixcheck.tui.widgets.toned import Toned
from matrixcheck.tui.widths import LABELS

BLINK_SECONDS = 0.25


class GridColumn(Toned):
    """One column of tiles below its label. It asks the grid what stands where."""

    def __init__(self, grid: MatrixGrid, place: int) -> None:
        super().__init__(classes="grid-column")
        self._grid = grid
        self.place = place

    def render_line(self, y: int) -> Strip:
        """Return one line of the column's label or tiles."""
        return self.strip_of(self._grid.spans_at(self.place, y), self.size.width)

    def on_click(self, event: events.Click) -> None:
        """Tell the grid which tile was hit."""
        event.stop()
        self._grid.tapped(self.place, event.y)


class MatrixGrid(Horizontal, Room):
    """A matrix as rows and columns of tiles with one of them under the cursor.

    `show` gives the faces of its cells; only tiles whose face changed are drawn again. A matrix too large for the
    room is shown in part; the part follows the cursor.
    """

    class _About(Message):
        def __init__(self, grid: MatrixGrid, cell: CellKey) -> None:
            super().__init__()
            self.grid = grid
            self.cell = cell

        @property
        def control(self) -> MatrixGrid:
            """Return the grid."""
            return self.grid

    class Moved(_About):
        """The cursor came to another cell."""

    class Hit(_About):
        """A tile was clicked or tapped; the cursor is there already."""

    def __init__(
        self,
        matrix: Matrix,
        room: Size,
        view: View | None = None,
        *,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """`room` is the size expected; when it comes out right, nothing is laid out twice. `view` is shown at first."""
        super().__init__(id=id, classes="grid")
        self.matrix = matrix
        self._faces = _blank(matrix)
        self.cursor, self._origin = view or View(_first(matrix))
        self._blinking: CellKey | None = None
        self._digits = matrix.longest_number
        self._geometry = self._fitting(room)
        self._follow_cursor()

    @property
    def view(self) -> View:
        """Return the cell under the cursor, and which part is in sight."""
        return View(self.cursor, self._origin)

    @property
    def geometry(self) -> Geometry:
        """Return the sizes in force."""
        return self._geometry

    def compose(self) -> ComposeResult:
        """Compose row labels, then as many columns as there is room for."""
        yield Lines(self._row_labels(), id="row-labels")
        yield from self._columns()

    async def on_resize(self, event: events.Resize) -> None:
        """Fit the tiles to the room."""
        before, self._geometry = self._geometry, self._fitting(event.size)
        if before != self._geometry:
            await self._lay_out(before)

    async def use(self, matrix: Matrix) -> None:
        """Show a matrix in place of the one before; the cursor stays where something is still fitted."""
        self.matrix = matrix
        self._faces = _blank(matrix)
        if self.cursor not in self._faces:
            self.cursor = _first(matrix)
        self._digits = matrix.longest_number
        before, self._geometry = self._geometry, self._fitting(self.size)
        await self._lay_out(before)

    async def _lay_out(self, before: Geometry) -> None:
        if before.columns != self._geometry.columns:
            await self.remove_children(GridColumn)
            await self.mount(*self._columns())
        for column in self._shown_columns:
            column.styles.width = self._geometry.pitch_x
        self._follow_cursor()
        self._redraw()

    def show(self, faces: Mapping[CellKey, Face]) -> None:
        """Show these faces from now on; cells that aren't among them keep theirs."""
        changed = [key for key, face in faces.items() if self._faces.get(key) != face]
        self._faces.update(faces)
        for key in changed:
            self._repaint(key)

    def move_to(self, cell: CellKey) -> None:
        """Put the cursor on a fitted cell; nothing happens for any other."""
        if cell not in self._faces or cell == self.cursor:
            return
        left, self.cursor = self.cursor, cell
        if self._follow_cursor():
            self._redraw()
        else:
            self._repaint(left)
            self._repaint(cell)
        self.post_message(self.Moved(self, cell))

    def blink(self, cell: CellKey) -> None:
        """Let the tile under the cursor show for a moment that it was named again."""
        self._blinking = cell
        self._repaint(cell)
        self.set_timer(BLINK_SECONDS, self._steady)

    def step(self, down: int, right: int) -> None:
        """Move the cursor to the next fitted cell in a direction, round the edge where there is none before it."""
        rows, columns = self.matrix.size
        row_, column = self.cursor.row - 1, self.cursor.column - 1
        for _ in range(rows * columns):
            row_, column = (row_ + down) % rows, (column + right) % columns
            key = CellKey(self.matrix.id, row_ + 1, column + 1)
            if key in self._faces:
                self.move_to(key)
                return

    def tapped(self, place: int, y: int) -> None:
        """Take a click at line `y` of the column shown at `place`; above the tiles it turns to columns not shown."""
        if y < HEADER:
            shown = self._geometry.columns
            self._shift(0, shown if 2 * place >= shown else -shown)
            return
        row_ = (y - HEADER) // self._geometry.pitch_y
        if row_ >= self._geometry.rows:
            return
        key = CellKey(self.matrix.id, self._origin[0] + row_ + 1, self._origin[1] + place + 1)
        if key in self._faces:
            self.move_to(key)
            self.post_message(self.Hit(self, key))

    def spans_at(self, place: int, y: int) -> Row:
        """Return what stands on line `y` of the column shown at `place`."""
        pitch = self._geometry.pitch_x
        column = self._origin[1] + place + 1
        if y < HEADER:
            return self._column_label(place, column)
        shown_row, line_of_tile = divmod(y - HEADER, self._geometry.pitch_y)
        key = CellKey(self.matrix.id, self._origin[0] + shown_row + 1, column)
        face = self._faces.get(key)
        if shown_row >= self._geometry.rows or face is None:
            return row(" " * pitch)
        return drawn(face, self._geometry, key == self.cursor and key != self._blinking)[line_of_tile]

    def _column_label(self, place: int, column: int) -> Row:
        """Return a column's label; at the edges, signs that there are columns beyond."""
        pitch, line = self._geometry.pitch_x, self.matrix.columns[column - 1]
        head = line.label
        if line.wire and pitch > len(line.label) + len(line.wire) + 2:
            head = f"{line.label} {line.wire}"
        text = clipped(f" {head}", pitch).ljust(pitch)
        if place == 0 and column > 1:
            return ("«", "key"), (text[1:], "quiet")
        if place == self._geometry.columns - 1 and column < self.matrix.size[1]:
            return (text[:-1], "quiet"), ("»", "key")
        return row(text, "quiet")

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Show the part below."""
        event.stop()
        self._shift(1, 0)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Show the part above."""
        event.stop()
        self._shift(-1, 0)

    def on_mouse_scroll_right(self, event: events.MouseScrollRight) -> None:
        """Show the part to the right."""
        event.stop()
        self._shift(0, 1)

    def on_mouse_scroll_left(self, event: events.MouseScrollLeft) -> None:
        """Show the part to the left."""
        event.stop()
        self._shift(0, -1)

    def _steady(self) -> None:
        if self._blinking is not None:
            cell, self._blinking = self._blinking, None
            self._repaint(cell)

    def _shift(self, down: int, right: int) -> None:
        rows, columns = self.matrix.size
        origin = (
            max(min(self._origin[0] + down, rows - self._geometry.rows), 0),
            max(min(self._origin[1] + right, columns - self._geometry.columns), 0),
        )
        if origin != self._origin:
            self._origin = origin
            self._redraw()

    def _fitting(self, room: Size) -> Geometry:
        return Geometry.fit(*self.matrix.size, self._digits, room.width, room.height)

    def _columns(self) -> list[GridColumn]:
        columns = [GridColumn(self, place) for place in range(self._geometry.columns)]
        for column in columns:
            column.styles.width = self._geometry.pitch_x
        return columns

    @property
    def _shown_columns(self) -> list[GridColumn]:
        """Return the columns on the screen, from the left. They are asked for with every mark."""
        return [child for child in self.children if isinstance(child, GridColumn)]

    def _follow_cursor(self) -> bool:
        rows, columns = self.matrix.size
        origin = (
            shifted(self._origin[0], self._geometry.rows, rows, self.cursor.row - 1),
            shifted(self._origin[1], self._geometry.columns, columns, self.cursor.column - 1),
        )
        moved, self._origin = origin != self._origin, origin
        return moved

    def _redraw(self) -> None:
        self.query_one("#row-labels", Lines).show(self._row_labels())
        for column in self._shown_columns:
            column.refresh()

    def _row_labels(self) -> list[Row]:
        """Return the rows' labels; at the ends, arrows where there are rows beyond."""
        first, shown = self._origin[0], self._geometry.rows
        rows = [row("   ")] * (HEADER + shown * self._geometry.pitch_y)
        for index, line in enumerate(self.matrix.rows[first : first + shown]):
            beyond = "↑" if first and not index else " "
            if index == shown - 1 and first + shown < self.matrix.size[0]:
                beyond = "↓"
            label = f"{clipped(line.label, LABELS - 1):>{LABELS - 1}}"
            rows[HEADER + index * self._geometry.pitch_y] = ((label, "quiet"), (beyond, "key"))
        return rows

    def _repaint(self, key: CellKey) -> None:
        place, shown_row = key.column - 1 - self._origin[1], key.row - 1 - self._origin[0]
        columns = self._shown_columns
        if 0 <= place < len(columns) and 0 <= shown_row < self._geometry.rows:
            size = self._geometry
            lines = max(size.tile_height, min(size.pitch_y, 2))
            columns[place].refresh(Region(0, HEADER + shown_row * size.pitch_y, size.tile_width, lines))


def _blank(matrix: Matrix) -> dict[CellKey, Face]:
    return {cell.key: Face(number=cell.number, name=cell.name) for cell in matrix.fitted}


def _first(matrix: Matrix) -> CellKey:
    return matrix.in_walk_order[0].key if matrix.fitted else CellKey(matrix.id, 1, 1)
