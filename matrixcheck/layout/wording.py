"""Name cells and lines for people: the one way in which history, answers and reports write them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from matrixcheck.layout.model import Cell, Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey, LineKey, Side, parse_cell, parse_line

MOST_NAMED = 4
"""Things that a list names before it only counts the rest."""
_APART = {"switch": "direct input", "lamp": "lighting lamp"}
"""What devices are called in matrices whose rows are wires of their own."""


def cell_words(layout: Layout, key: CellKey) -> str:
    """Word a cell by device, number and name: "lamp 21 (step 2 lit)"; by its address where nothing is fitted.

    Where another matrix has devices of the same sort its own is named: "lamp 21 of insert lamps (step 2 lit)".
    """
    matrix = layout.matrix(key.matrix)
    cell = matrix.by_key.get(key)
    if cell is None:
        return f"the empty place {key.address}"
    device = cell.device if matrix.rows_shared else _APART.get(cell.device, cell.device)
    whose = f" of {matrix.name or matrix.id}" if has_like(layout, matrix) else ""
    return f"{device} {cell.number}{whose} ({cell.name})"


def has_like(layout: Layout, matrix: Matrix) -> bool:
    """Return whether another matrix is of the same sort, so that its lines and cells would be called the same."""
    return sum((each.kind, each.rows_shared) == (matrix.kind, matrix.rows_shared) for each in layout.matrices) > 1


def short_words(cell: Cell) -> str:
    """Word a cell by number and name alone, "21 step 2 lit", where its device is plain and room is short."""
    return f"{cell.number} {cell.name}"


def whereabouts(cell: Cell, layout: Layout) -> tuple[str, ...]:
    """Return how to find a device: its zone, how it is got at, and the wires of its lines, as far as known."""
    matrix = layout.matrix(cell.key.matrix)
    wires = [
        f"{key.side} {line.label} {line.wire}"
        for key in (cell.column_line, cell.row_line)
        if (line := matrix.lines.get(key)) and line.wire
    ]
    return tuple(filter(None, [cell.notes.zone, cell.notes.reach, *wires]))


def place_words(layout: Layout, place: str) -> str:
    """Word a place as findings and repairs keep it: a part by its designator, a line as "switch column 3 wire"."""
    if (cell := parse_cell(place, "")) is not None:
        return cell_words(layout, cell)
    if (line := parse_line(place, "")) is not None:
        return f"{line_words(layout, line)} wire"
    return place


def line_words(layout: Layout, key: LineKey) -> str:
    """Word one line by its label: "switch column 3", "direct input 2", "lighting string 1"."""
    return lines_words(layout, (key,))


def lines_words(layout: Layout, keys: Sequence[LineKey]) -> str:
    """Word lines by label, those of one side of a matrix together: "switch columns 1 and 2, lamp column 1"."""
    sides = [(place, list(found)) for place, found in groupby(keys, key=lambda key: (key.matrix, key.side))]
    return ", ".join(_side_words(layout, layout.matrix(matrix), side, lines) for (matrix, side), lines in sides)


def either(words: Sequence[str], last: str = "or", most: int = MOST_NAMED) -> str:
    """Word a list as it is spoken: "a", "a or b", "a, b or c", and "a, b, c, d or 3 more" where it is long."""
    shown = list(words[:most])
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def _side_words(layout: Layout, matrix: Matrix, side: Side, keys: Sequence[LineKey]) -> str:
    noun, many = _noun(layout, matrix, side)
    labels = [layout.line(key).label for key in keys]
    if len(labels) == 1:
        return f"{noun} {labels[0]}"
    if len(labels) > 2 and _consecutive(labels):
        return f"{many} {labels[0]} to {labels[-1]}"
    if len(labels) > MOST_NAMED:
        return f"{len(labels)} {many}"
    return f"{many} {either(labels, 'and')}"


def _noun(layout: Layout, matrix: Matrix, side: Side) -> tuple[str, str]:
    """Return the noun of one such line and of several.

    With the matrix's name where another one of its sort would be called the same.
    """
    if has_like(layout, matrix):
        one = f"{matrix.name or matrix.id} {side}"
    elif matrix.rows_shared:
        one = f"{matrix.kind} {side}"
    elif matrix.kind is Kind.SWITCH:
        one = "direct input" if side == "row" else "direct input column"
    else:
        one = "lighting string" if matrix.kind is Kind.LAMP else "coil string"
    return one, f"{one}s"


def _consecutive(labels: Sequence[str]) -> bool:
    numbers = [int(label) if label.isascii() and label.isdecimal() else None for label in labels]
    return None not in numbers and numbers == list(range(int(labels[0]), int(labels[0]) + len(labels)))
