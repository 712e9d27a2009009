"""The layout of one machine as frozen shapes, and the look-ups every other room needs.

They are made from a layout file by way of its form (`form.py`), which refuses what is wrong with it, and read back from
the journal as they were. Nothing unknown is invented: a line without a path has none, a chain that the layout doesn't
give is None.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import cached_property
from string import ascii_lowercase
from typing import Any, Literal, TypeVar

from msgspec import field

from matrixcheck.errors import UsageError
from matrixcheck.layout.frozen import Frozen
from matrixcheck.layout.numbering import NaturalOrder, Number, Numbering, is_used, natural_order, number_of
from matrixcheck.layout.places import CellKey, LineKey, Side

T = TypeVar("T")


class Kind(StrEnum):
    """What sits at the crossings of a matrix."""

    SWITCH = "switch"
    LAMP = "lamp"
    COIL = "coil"


Position = Literal["rest", "pulled"]
Section = Literal["before power", "displays", "sound", "lighting", "relays", "flippers", "play test"]
"""The lists of checks, in the order of the work: before power, then the rest of the machine's own test mode."""
Unit = Literal["ohms", "megohms", "volts", "amps"]
Device = Literal["switch", "lamp", "coil", "flash lamp"]


class Part(Frozen, frozen=True, kw_only=True):
    """Something that can fail and be replaced. Every key but `ref` is optional."""

    ref: str
    name: str = ""
    place: str = ""
    rating: str = ""
    rate: float | None = None


class Check(Frozen, frozen=True, kw_only=True):
    """A line of the machine's own on a list of checks.

    One that is measured has a `unit`, and passes from `least` to `most`.
    """

    section: Section
    text: str
    place: str = ""
    unit: Unit | None = None
    least: float | None = None
    most: float | None = None


class KeepWarm(Frozen, frozen=True, kw_only=True):
    """A resistor that passes a standing current through a flash lamp: `ohms`, and the supply in `volts`."""

    ohms: float
    volts: float


class Line(Frozen, frozen=True, kw_only=True):
    """One row or column as the layout gives it. `chain` holds cell numbers, plug outwards; None when unknown."""

    label: str = ""
    name: str = ""
    wire: str | None = None
    path: tuple[str, ...] = ()
    chain: tuple[Number, ...] | None = None
    supply: tuple[str, ...] = ()
    select: str | None = None
    when: Position | None = None


class CellNotes(Frozen, frozen=True, kw_only=True):
    """What the layout says of one cell beyond its name; every key is optional."""

    zone: str = ""
    reach: str = ""
    rest: Literal["open", "closed"] = "open"
    device: Device | None = None
    fitted: Literal["filament", "led"] | None = None
    keep_warm: KeepWarm | None = None
    ohms: float | None = None
    tolerance: float | None = None


class Cell(Frozen, frozen=True, kw_only=True):
    """A fitted crossing with all that is known of it."""

    key: CellKey
    number: Number
    name: str
    device: Device
    notes: CellNotes

    @property
    def order(self) -> NaturalOrder:
        """Return what cells are sorted by: their number, 2 before 10."""
        return natural_order(self.number)

    @property
    def lights(self) -> bool:
        """Return whether it is a lamp or a flash lamp."""
        return self.device in ("lamp", "flash lamp")

    @property
    def row_line(self) -> LineKey:
        """Return the row that the cell hangs on."""
        return LineKey(self.key.matrix, "row", self.key.row)

    @property
    def column_line(self) -> LineKey:
        """Return the column that the cell hangs on."""
        return LineKey(self.key.matrix, "column", self.key.column)


class Matrix(Frozen, frozen=True, kw_only=True, dict=True):
    """A grid of cells.

    `cells[r][c]` is a name, "" where nothing is fitted; `rows` and `columns` are always complete: a line that the
    layout leaves out stands there with its count as its label and nothing else.
    """

    id: str
    kind: Kind
    name: str = ""
    numbering: Numbering = "down-columns"
    numbers: tuple[tuple[Number, ...], ...] = ()
    strobe: Side = "column"
    diodes: bool | None = None
    volts: float | None = None
    supply: tuple[str, ...] = ()
    rows_shared: bool = True
    walk: tuple[Number, ...] = ()
    cells: tuple[tuple[str, ...], ...]
    columns: tuple[Line, ...] = field(default=(), name="column")
    rows: tuple[Line, ...] = field(default=(), name="row")
    notes: dict[str, CellNotes] = field(default_factory=dict, name="cell")

    @property
    def size(self) -> tuple[int, int]:
        """Return the count of rows and of columns."""
        return len(self.cells), len(self.cells[0])

    @property
    def has_diodes(self) -> bool:
        """Return whether a diode sits in series with each device."""
        return self.rows_shared if self.diodes is None else self.diodes

    def number_at(self, row: int, column: int) -> Number | None:
        """Return the number that the machine's test shows for the place, fitted or not.

        Places are counted from 1. None where a listed matrix gives it none.
        """
        if self.numbering == "listed":
            number = self.numbers[row - 1][column - 1]
            return number if is_used(number) else None
        return number_of(self.numbering, row, column, *self.size)

    @cached_property
    def fitted(self) -> tuple[Cell, ...]:
        """List every fitted cell, by rising number."""
        found = [
            self._cell(row, column, name)
            for row, names in enumerate(self.cells, 1)
            for column, name in enumerate(names, 1)
            if name
        ]
        return tuple(sorted(found, key=lambda cell: cell.order))

    def _cell(self, row: int, column: int, name: str) -> Cell:
        number = self.number_at(row, column) or 0
        notes = self.notes.get(str(number), CellNotes())
        device: Device = notes.device or self.kind.value
        return Cell(key=CellKey(self.id, row, column), number=number, name=name, device=device, notes=notes)

    @cached_property
    def longest_number(self) -> int:
        """Return the most characters that the number of a fitted cell has."""
        return max((len(str(cell.number)) for cell in self.fitted), default=1)

    @cached_property
    def letters(self) -> tuple[str, ...]:
        """Return the letters that numbers of fitted cells hold, by the alphabet; none in a matrix of plain numbers."""
        return tuple(sorted({sign for cell in self.fitted for sign in str(cell.number) if sign.isalpha()}))

    @cached_property
    def first_letters(self) -> frozenset[str]:
        """Return the letters, small ones, that numbers of fitted cells begin with."""
        return frozenset(str(cell.number)[0].lower() for cell in self.fitted) & frozenset(ascii_lowercase)

    @cached_property
    def by_number(self) -> dict[Number, Cell]:
        """Return fitted cells by their number."""
        return {cell.number: cell for cell in self.fitted}

    @cached_property
    def by_key(self) -> dict[CellKey, Cell]:
        """Return fitted cells by their place."""
        return {cell.key: cell for cell in self.fitted}

    @property
    def in_walk_order(self) -> tuple[Cell, ...]:
        """Return fitted cells in the order of the machine's own test; those that `walk` leaves out follow by number."""
        first = [self.by_number[number] for number in self.walk if number in self.by_number]
        return tuple(first) + tuple(cell for cell in self.fitted if cell.number not in self.walk)

    @cached_property
    def lines(self) -> dict[LineKey, Line]:
        """List every column, then every row that is shared.

        A row that isn't shared is a wire of one cell and no line, except in a matrix of one column (direct inputs),
        whose rows have paths of their own.
        """
        sides: list[tuple[Side, tuple[Line, ...]]] = [("column", self.columns)]
        if self.rows_shared or self.size[1] == 1:
            sides.append(("row", self.rows))
        return {LineKey(self.id, side, i): line for side, lines in sides for i, line in enumerate(lines, 1)}

    def cells_of(self, line: LineKey) -> tuple[Cell, ...]:
        """Return the fitted cells of a line, in its chain's order where that is known, else by number."""
        found = self._on_lines.get(line, [])
        chain = self.lines[line].chain if line in self.lines else None
        return tuple(sorted(found, key=lambda cell: chain.index(cell.number)) if chain else found)

    @cached_property
    def _on_lines(self) -> dict[LineKey, list[Cell]]:
        found: dict[LineKey, list[Cell]] = {}
        for cell in self.fitted:
            found.setdefault(cell.row_line, []).append(cell)
            found.setdefault(cell.column_line, []).append(cell)
        return found

    def contains(self, key: CellKey) -> bool:
        """Return whether the place lies within the grid, fitted or not."""
        rows, columns = self.size
        return key.matrix == self.id and 1 <= key.row <= rows and 1 <= key.column <= columns


class Layout(Frozen, frozen=True, kw_only=True, dict=True, weakref=True):
    """One machine."""

    format: Literal[1]
    name: str
    parts: tuple[Part, ...] = field(default=(), name="part")
    checks: tuple[Check, ...] = field(default=(), name="check")
    matrices: tuple[Matrix, ...] = field(default=(), name="matrix")

    def matrix(self, matrix_id: str) -> Matrix:
        """Return the matrix of that id. Raises UsageError, with the ids that there are, for any other."""
        for matrix in self.matrices:
            if matrix.id == matrix_id:
                return matrix
        raise UsageError(f"no matrix '{matrix_id}' in '{self.name}'", f"take one of {', '.join(self.matrix_ids)}")

    @property
    def matrix_ids(self) -> tuple[str, ...]:
        """Return the ids of the matrices, in the layout's order."""
        return tuple(matrix.id for matrix in self.matrices)

    @cached_property
    def _made(self) -> dict[Callable[[Layout], Any], Any]:
        return {}

    def once(self, make: Callable[[Layout], T]) -> T:
        """Return what `make` gives of this layout, worked out once and kept as long as the layout."""
        if make not in self._made:
            self._made[make] = make(self)
        made: T = self._made[make]
        return made

    @cached_property
    def part_by_ref(self) -> dict[str, Part]:
        """Return the parts that the layout describes; a part that only stands in a path is not among them."""
        return {part.ref: part for part in self.parts}

    def cell(self, key: CellKey) -> Cell:
        """Return the fitted cell at a place. Raises UsageError where nothing is fitted."""
        cell = self.matrix(key.matrix).by_key.get(key)
        if cell is None:
            raise UsageError(f"nothing is fitted at {key}", "name a fitted cell")
        return cell

    def line(self, key: LineKey) -> Line:
        """Return the line at a place. Raises UsageError where the layout has none."""
        line = self.matrix(key.matrix).lines.get(key)
        if line is None:
            raise UsageError(f"no line {key}", "rows and columns count from 1, as in the layout")
        return line

    @cached_property
    def lines_through(self) -> dict[str, tuple[LineKey, ...]]:
        """Return for each designator (`X5`, `X5-4`, `Q3`, `F2`, `K1`): the lines whose path, supply or relay it is.

        A contact counts for its connector too: `X5-4` stands under `X5-4` and under `X5`.
        """
        found: dict[str, dict[LineKey, None]] = {}
        for matrix in self.matrices:
            for key, line in matrix.lines.items():
                shared = matrix.supply if key.side == "column" else ()
                for ref in (*line.path, *line.supply, *shared, *filter(None, [line.select])):
                    for name in (ref, ref.partition("-")[0]):
                        found.setdefault(name, {})[key] = None
        return {ref: tuple(lines) for ref, lines in found.items()}

    def path_parts(self, key: CellKey) -> frozenset[str]:
        """List every designator, contacts and their connectors alike, that the cell's two lines run through."""
        matrix = self.matrix(key.matrix)
        ends = (LineKey(key.matrix, "row", key.row), LineKey(key.matrix, "column", key.column))
        lines = [matrix.lines[end] for end in ends if end in matrix.lines]
        refs = [ref for line in lines for ref in (*line.path, *line.supply, *filter(None, [line.select]))]
        refs.extend(matrix.supply)
        return frozenset(name for ref in refs for name in (ref, ref.partition("-")[0]))
