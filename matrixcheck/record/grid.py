"""The places of one matrix by what people and machines call them: number or address, fitted or not."""

from __future__ import annotations

from collections.abc import Collection

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.numbering import Number, parse_number
from matrixcheck.layout.places import CellKey, parse_cell


class Grid:
    """Looks up places of a matrix."""

    def __init__(self, matrix: Matrix) -> None:
        self.matrix = matrix
        rows, columns = matrix.size
        places = [CellKey(matrix.id, row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
        found = ((matrix.number_at(key.row, key.column), key) for key in places)
        self._by_number = {number: key for number, key in found if number is not None}

    @property
    def numbers(self) -> Collection[Number]:
        """List every number of the grid."""
        return self._by_number.keys()

    def numbered(self, number: Number) -> CellKey | None:
        """Return the place of that number, None where there is none."""
        return self._by_number.get(number)

    def addressed(self, address: str) -> CellKey | None:
        """Return the place at `rNcM` or `MATRIX.rNcM`, None where the grid has none."""
        key = parse_cell(address, self.matrix.id)
        return key if key is not None and self.matrix.contains(key) else None

    def named(self, text: str) -> CellKey | None:
        """Return the place of that address or number, None where there is none; the case of a number doesn't count."""
        number = parse_number(text)
        return self.addressed(text) if number is None else self.numbered(number)

    def called(self, key: CellKey) -> str:
        """Return the number of a place, or its address where it has none."""
        number = self.matrix.number_at(key.row, key.column)
        return key.address if number is None else str(number)
