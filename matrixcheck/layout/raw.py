"""Reading a layout's data before it is known to be sound: what has the wrong type is passed over, as `shape` tells of
it, so that one slip doesn't hide the next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.numbering import Number, is_used, natural_order, number_of, parse_number

Table = dict[str, Any]
Place = tuple[int, int]


def tables(value: Any) -> Iterator[tuple[int, Table]]:
    """Return the tables of a list, each with its position from 0."""
    return ((place, item) for place, item in enumerate(_list(value)) if isinstance(item, dict))


def texts(value: Any) -> Iterator[tuple[int, str]]:
    """Return the texts of a list, each with its position from 0."""
    return ((place, item) for place, item in enumerate(_list(value)) if isinstance(item, str))


def all_texts(value: Any) -> Iterator[str]:
    """Yield every text in it, however deep in lists and tables."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list | dict):
        for item in value.values() if isinstance(value, dict) else value:
            yield from all_texts(item)


def numbers(value: Any) -> Iterator[tuple[int, Number]]:
    """Return the cell numbers of a list, each with its position from 0."""
    found = ((place, number_in(item)) for place, item in enumerate(_list(value)))
    return ((place, number) for place, number in found if number is not None)


def number_in(value: Any) -> Number | None:
    """Return the cell number that a value is, "" for a gap; None where it is none, as true, 1.5 and 'c3' are."""
    if isinstance(value, str):
        return parse_number(value) if value else ""
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def is_grid(value: Any, is_cell: Callable[[Any], bool]) -> bool:
    """Return whether it is a list of rows of one length, at least one by one and no longer than a matrix can be."""
    rows = [row for row in _list(value) if isinstance(row, list)]
    return (
        0 < len(rows) == len(_list(value)) <= LARGEST_SIDE
        and 0 < len(rows[0]) <= LARGEST_SIDE
        and all(len(row) == len(rows[0]) and all(map(is_cell, row)) for row in rows)
    )


class Grid(NamedTuple):
    """The places of a matrix, rows and columns counted from 0. `place_of` holds every number of the grid."""

    rows: int
    columns: int
    place_of: dict[Number, Place]
    fitted: dict[Number, Place]

    @classmethod
    def of(cls, matrix: Table) -> Grid | None:
        """Return the grid of a matrix's table; None where its cells or numbers are not sound enough to tell."""
        names, scheme, given = matrix.get("cells"), matrix.get("numbering", "down-columns"), matrix.get("numbers")
        if not is_grid(names, lambda name: isinstance(name, str)):
            return None
        assert isinstance(names, list)
        rows, columns = len(names), len(names[0])
        places = [(row, column) for row in range(rows) for column in range(columns)]
        if scheme == "listed":
            if not is_grid(given, lambda value: number_in(value) is not None):
                return None
            assert isinstance(given, list)
            if (len(given), len(given[0])) != (rows, columns):
                return None
            numbered = {
                place: number for place in places if (number := number_in(given[place[0]][place[1]])) is not None
            }
        else:
            try:
                numbered = {(row, col): number_of(scheme, row + 1, col + 1, rows, columns) for row, col in places}
            except ValueError:
                return None
        place_of = {number: place for place, number in numbered.items() if is_used(number)}
        fitted = {number: (row, column) for number, (row, column) in place_of.items() if names[row][column].strip()}
        return cls(rows, columns, place_of, fitted)

    def numbers_on(self, side: str, position: int) -> tuple[Number, ...]:
        """Return the numbers of the fitted cells of a row or column, position counted from 0."""
        axis = 0 if side == "row" else 1
        own = (number for number, place in self.fitted.items() if place[axis] == position)
        return tuple(sorted(own, key=natural_order))


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []
