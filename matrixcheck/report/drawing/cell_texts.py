"""What stands in each cell of a drawn grid: on the technician's pages how it was found, on the card what it is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing, Standings

GLOWS = "glows"
"""In place of a mark: what lights by itself in a good machine, and was seen no other way."""


CLOSED_AT_REST, LED_FITTED = "*", "°"
"""Signs behind a number on the card."""


class CellText(NamedTuple):
    """One cell: number, name, the word for how it stands ("" where the drawing doesn't say), and short remarks."""

    number: str
    name: str
    word: str
    remarks: tuple[str, ...]


TextOf = Callable[[Cell], CellText]


def as_found(matrix: Matrix, standings: Standings, glowing: frozenset[CellKey]) -> TextOf:
    """Return what to write in the cells of a matrix as it was tested; `glowing` cells are no fault."""

    def text_of(cell: Cell) -> CellText:
        standing = standings[cell.key]
        glows = cell.key in glowing and standing.mark is Mark.STUCK
        return CellText(
            str(cell.number), cell.name, GLOWS if glows else str(standing.mark), tuple(_found(matrix, standing))
        )

    return text_of


def as_built(cell: Cell) -> CellText:
    """Return what to write in a cell for the machine itself: no result of a test, but what is odd by design."""
    notes = cell.notes
    signs = (CLOSED_AT_REST if notes.rest == "closed" else "") + (LED_FITTED if notes.fitted == "led" else "")
    due = f", {notes.ohms:g}\N{NO-BREAK SPACE}Ω" if notes.ohms is not None else ""
    return CellText(f"{cell.number}{signs}", f"{cell.name}{due}", "", ())


def _found(matrix: Matrix, standing: Standing) -> Iterable[str]:
    if standing.echoed:
        yield f"also {_numbers(matrix, standing.echoed)}"
    if standing.answered_instead:
        yield f"{_numbers(matrix, standing.answered_instead)} instead"
    if standing.faint:
        yield f"faint {_numbers(matrix, standing.faint)}"
    if standing.intermittent:
        yield "comes and goes"
    if standing.retest_due is not None:
        yield "test again"
    if standing.deferred is not None:
        yield "put off"
    if standing.ohms is not None:
        yield f"{standing.ohms:g} Ω"


def _numbers(matrix: Matrix, keys: Iterable[CellKey]) -> str:
    cells = (matrix.by_key.get(key) for key in keys)
    return " ".join(str(cell.number) if cell else "?" for cell in cells)
