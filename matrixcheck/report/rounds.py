"""The sorts of round, which of them suit a matrix, and the caution that stands before each."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Kind, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.report.cautions import BY_KIND, INSIDE


class Sort(NamedTuple):
    """One sort of round: what every face calls it, and what it is for."""

    id: str
    name: str
    says: str


ROLL = Sort("roll", "roll", "balls roll, you type what answers")
WALK = Sort("walk", "walk", "the machine waits at each device, you judge it")
TIMED = Sort("timed", "timed walk", "the machine steps by itself, you press only what is wrong")
ALL = Sort("all", "all at once", "everything is lit, you mark what is dark")
REST = Sort("rest", "rest scan", "what shows with nothing pressed")
COILS_AT_REST = Sort("rest", "rest scan", "what pulls or glows with nothing fired")
IN_ANY_ORDER = Sort("roll", "any order", "you type the number of each that works")
HOLD = Sort("hold", "hold round", "some switches kept closed, to show shorted diodes")

OUTSIDE_REACHES = frozenset({"hand", "ball"})
UNCHECKED = "No check before power is recorded for this job."


def sorts_for(matrix: Matrix, some: bool) -> tuple[Sort, ...]:
    """Return the sorts that suit a matrix; of `some` of its cells only those that needn't show all of it."""
    if matrix.kind is Kind.LAMP:
        return (WALK, TIMED, ALL, IN_ANY_ORDER) if some else (WALK, TIMED, ALL)
    if matrix.kind is Kind.COIL:
        return (WALK, TIMED, IN_ANY_ORDER) if some else (WALK, TIMED, COILS_AT_REST)
    if some:
        return ROLL, WALK
    return (ROLL, WALK, REST, HOLD) if matrix.rows_shared and matrix.has_diodes else (ROLL, WALK, REST)


def caution_for(matrix: Matrix, cells: Collection[Cell]) -> str:
    """Return what must be said before the power is needed.

    It goes by the kind of matrix, and by where the cells are got at. A reach that nobody gave may well be inside.
    """
    inside = any(cell.notes.reach not in OUTSIDE_REACHES for cell in cells)
    return f"{BY_KIND[matrix.kind]} {INSIDE}" if inside else BY_KIND[matrix.kind]


def held_together(matrix: Matrix, held: Sequence[CellKey]) -> str:
    """Say which two of the switches to hold share a row or a column; nothing where none do."""
    cells = [matrix.by_key[key] for key in held if key in matrix.by_key]
    for first, second in combinations(cells, 2):
        shared = {first.column_line, first.row_line} & {second.column_line, second.row_line}
        if shared:
            line = min(shared)
            label = matrix.lines[line].label
            return f"{first.number} and {second.number} are both in {line.side} {label}: hold one of them"
    return ""
