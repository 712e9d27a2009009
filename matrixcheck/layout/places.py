"""Names for the places in a matrix: cells (`switches.r1c3`) and lines (`switches.c3`), counted from 1."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

Side = Literal["row", "column"]

_COUNT = "[1-9][0-9]{0,5}"
_CELL = re.compile(rf"(?:(?P<matrix>[\w-]+)\.)?r(?P<row>{_COUNT})c(?P<column>{_COUNT})")
_LINE = re.compile(rf"(?:(?P<matrix>[\w-]+)\.)?(?P<side>[rc])(?P<place>{_COUNT})")


class CellKey(NamedTuple):
    """One crossing of a matrix, fitted or not. `row` and `column` count from 1. `str()` gives `MATRIX.rNcM`."""

    matrix: str
    row: int
    column: int

    def __str__(self) -> str:
        return f"{self.matrix}.{self.address}"

    @property
    def address(self) -> str:
        """Return the place within its matrix, `rNcM`."""
        return f"r{self.row}c{self.column}"


class LineKey(NamedTuple):
    """One row or column of a matrix. `place` counts from 1. `str()` gives `MATRIX.rN` or `MATRIX.cN`."""

    matrix: str
    side: Side
    place: int

    def __str__(self) -> str:
        return f"{self.matrix}.{self.address}"

    @property
    def address(self) -> str:
        """Return the place within its matrix, `rN` or `cN`."""
        return f"{self.side[0]}{self.place}"


def parse_cell(text: str, matrix: str) -> CellKey | None:
    """Return `rNcM` or `MATRIX.rNcM` as a key; `matrix` is taken where the text names none.

    None when it is no address.
    """
    found = _CELL.fullmatch(text)
    return found and CellKey(found["matrix"] or matrix, int(found["row"]), int(found["column"]))


def parse_line(text: str, matrix: str) -> LineKey | None:
    """Return `rN`, `cN` or `MATRIX.cN` as a key; `matrix` is taken where the text names none.

    None when it is no line.
    """
    found = _LINE.fullmatch(text)
    if not found:
        return None
    return LineKey(found["matrix"] or matrix, "row" if found["side"] == "r" else "column", int(found["place"]))
