"""The places of one matrix by what people and machines call them: number or address, fitted or not."""

from __future__ import annotations

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey, parse_cell


class Grid:
    """Looks up places of a matrix. A number of 0 or less, as a listed matrix has where nothing is, names no place."""

    def __init__(self, matrix: Matrix) -> None:
        self.matrix = matrix
        rows, columns = matrix.size
        places = [CellKey(matrix.id, row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
        self._by_number = {number: key for key in places if (number := matrix.number_at(key.row, key.column)) > 0}

    def numbered(self, number: int) -> CellKey | None:
        """The place of that number, None where there is none."""
        return self._by_number.get(number)

    def addressed(self, address: str) -> CellKey | None:
        """The place at `rNcM` or `MATRIX.rNcM`, None where the grid has none."""
        key = parse_cell(address, self.matrix.id)
        return key if key is not None and self.matrix.contains(key) else None

    def called(self, key: CellKey) -> str:
        """The number of a place, or its address where it has none."""
        number = self.matrix.number_at(key.row, key.column)
        return str(number) if number > 0 else key.address
