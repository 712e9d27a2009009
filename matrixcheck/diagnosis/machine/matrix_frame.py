"""One matrix as arrays: driven lines against sensed lines, both counted from 0.

In a switch matrix a driven line is pulled low in turn and the sensed lines are read; in a lamp matrix a driven line
is powered in turn and the sensed lines are sunk; in a bank behind a changeover relay the sides are the driven lines.
Arrays over places have the shape (sensed, exercises, driven), so that each side of a line fault is one product.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey, LineKey, Side

T = TypeVar("T")
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Places = NDArray[np.int32]
"""Flat places of an array over readings."""
States = NDArray[np.uint8]

MOST_SOLVED_BYTES = 2**25
"""Operating points of a bank are kept up to 32 MB: thousands, of which a fault set asks for one an exercise."""
BATCH_PLACES = 2**20
"""So many places of readings are scored at once: 8 MB an array of numbers."""
FULL_SENSE_VOLTS = 9.0
"""Switch matrices sensed from here up have a supply of their own for the sensed side (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Frame:
    """Where the cells and lines of a matrix lie in arrays."""

    matrix: Matrix

    @cached_property
    def drive_side(self) -> Side:
        """Return the side whose lines are driven: columns where rows are not shared, as nothing is strobed there."""
        return "column" if self.selected or not self.matrix.rows_shared else self.matrix.strobe

    @cached_property
    def shape(self) -> tuple[int, int]:
        """Return the counts of sensed and of driven lines."""
        rows, columns = self.matrix.size
        return (rows, columns) if self.drive_side == "column" else (columns, rows)

    def at(self, cell: CellKey) -> tuple[int, int]:
        """Return the place of a cell: its sensed and its driven line."""
        row, column = cell.row - 1, cell.column - 1
        return (row, column) if self.drive_side == "column" else (column, row)

    def cell_at(self, sensed: int, driven: int) -> CellKey:
        """Return the cell at a place."""
        return self._cells_at[sensed][driven]

    @cached_property
    def _cells_at(self) -> list[list[CellKey]]:
        by_column, (senses, drives) = self.drive_side == "column", self.shape
        return [
            [CellKey(self.matrix.id, *((s, d) if by_column else (d, s))) for d in range(1, drives + 1)]
            for s in range(1, senses + 1)
        ]

    def is_driven(self, line: LineKey) -> bool:
        """Return whether a line is one of the driven ones."""
        return line.side == self.drive_side

    @cached_property
    def kind(self) -> str:
        """Return the kind: `switch`, `lamp` or `coil`."""
        return self.matrix.kind.value

    @cached_property
    def fitted(self) -> Floats:
        """Return 1.0 where a cell is fitted, by (sensed, driven)."""
        grid = np.array([[bool(name) for name in row] for row in self.matrix.cells], dtype=np.float64)
        return grid if self.drive_side == "column" else grid.T.copy()

    @cached_property
    def cells(self) -> dict[tuple[int, int], Cell]:
        """Return the fitted cells by place."""
        return {self.at(cell.key): cell for cell in self.matrix.fitted}

    @cached_property
    def selected(self) -> dict[int, str]:
        """Return for each column behind a relay the position that selects it ("rest", "pulled")."""
        found = {index: line.when for index, line in enumerate(self.matrix.columns) if line.select and line.when}
        return {index: str(when) for index, when in found.items()}

    @cached_property
    def rest_slot(self) -> int:
        """Return the driven line that is powered when nothing is commanded; -1 where none is."""
        at_rest = [index for index, when in self.selected.items() if when == "rest"]
        if at_rest:
            return at_rest[0]
        return 0 if self.kind == "coil" and self.shape[1] == 1 else -1

    @cached_property
    def is_strings(self) -> bool:
        """Return whether the driven lines are lighting strings.

        Every lamp has a return of its own, so that a string that is fed lights as a whole.
        """
        return self.kind == "lamp" and not self.matrix.rows_shared

    @cached_property
    def is_scanned(self) -> bool:
        """Return whether every driven line is fed in turn all the time, and not just the commanded one."""
        return self.kind == "lamp" and not self.is_strings

    @cached_property
    def has_diodes(self) -> bool:
        """Return whether a diode sits in series with each device."""
        return self.matrix.has_diodes

    @cached_property
    def leds(self) -> Floats:
        """Return 1.0 at each LED, by (sensed, driven)."""
        found = np.zeros(self.shape)
        for place, cell in self.cells.items():
            found[place] = cell.notes.fitted == "led"
        return found

    @cached_property
    def warm_leds(self) -> Floats:
        """Return 1.0, by (sensed, driven), at each LED that a keep-warm resistor may light on a live driven line."""
        found = np.zeros(self.shape)
        for place, cell in self.cells.items():
            if cell.notes.fitted == "led" and cell.notes.keep_warm is not None:
                found[place] = 1.0
        return found

    @cached_property
    def any_warm(self) -> bool:
        """Return whether any LED is kept warm."""
        return bool(self.warm_leds.any())

    @cached_property
    def fuse_reads_closed(self) -> bool:
        """Return whether a sensed side without its supply reads every switch as closed."""
        return self.kind == "switch" and (self.matrix.volts or 0.0) >= FULL_SENSE_VOLTS

    @cached_property
    def _made(self) -> dict[Callable[[Frame], Any], Any]:
        return {}

    def once(self, make: Callable[[Frame], T]) -> T:
        """Return what `make` gives of this frame, worked out once and kept as long as the frame."""
        if make not in self._made:
            self._made[make] = make(self)
        made: T = self._made[make]
        return made

    @cached_property
    def solved(self) -> ByteStore[States]:
        """Return the store of operating points that were found before (see `bank_sneak_paths`)."""
        return ByteStore(MOST_SOLVED_BYTES)


@cache
def identity(count: int) -> Floats:
    """Return lines as built, (end, wire): each end leads to its own wire; not to be written to."""
    found: Floats = np.eye(count)
    found.flags.writeable = False
    return found


@cache
def ones(count: int) -> Floats:
    """Return so many times 1.0; not to be written to."""
    found: Floats = np.ones(count)
    found.flags.writeable = False
    return found


def through(lines: Floats, array: Floats | Bools) -> Floats:
    """Return `array` [wire, exercise, driven] as it comes out of `lines` [end, wire]: [end, exercise, driven]."""
    count, *rest = array.shape
    found: Floats = (lines @ array.reshape(count, -1)).reshape(len(lines), *rest)
    return found
