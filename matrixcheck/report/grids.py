"""Draw a matrix as lines of text, for every width.

Each cell shows its number, glyph, letter and signs, and its name where there is room. The lines are spans, so that a
terminal can fill the marks and paper can leave them plain.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Line, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.report.glyphs import (
    DEFERRED,
    ECHOED,
    FAINT,
    GLYPHS,
    INSTEAD,
    INTERMITTENT,
    LETTERS,
    NORMAL,
    RETEST_DUE,
)

SHORTEST_NAME = 9
LONGEST_HEAD = 12


class Span(NamedTuple):
    """A piece of a line. `mark` is set where the piece shows how a cell stands."""

    text: str
    mark: Mark | None = None


class Square(NamedTuple):
    """One fitted place of a grid, ready to be shown. `signs` are the signs of `glyphs`, none of them twice."""

    cell: Cell
    mark: Mark
    signs: str

    @property
    def shown(self) -> str:
        """Return glyph and letter of the mark, then the signs."""
        return f"{GLYPHS[self.mark]}{LETTERS[self.mark]}{self.signs}"


def square_of(cell: Cell, standings: Mapping[CellKey, Standing]) -> Square:
    """Return how a cell is shown."""
    standing = standings[cell.key]
    shown = (
        (ECHOED, standing.echoed),
        (INSTEAD, standing.answered_instead),
        (FAINT, standing.faint),
        (NORMAL, standing.normal),
        (INTERMITTENT, standing.intermittent),
        (RETEST_DUE, standing.retest_due is not None),
        (DEFERRED, standing.deferred is not None),
    )
    return Square(cell, standing.mark, "".join(sign for sign, there in shown if there))


def squares_of(matrix: Matrix, standings: Mapping[CellKey, Standing]) -> tuple[tuple[Square | None, ...], ...]:
    """Return the grid by rows and columns; None where nothing is fitted."""
    rows, columns = matrix.size
    squares = {cell.key: square_of(cell, standings) for cell in matrix.fitted}
    return tuple(
        tuple(squares.get(CellKey(matrix.id, row, column)) for column in range(1, columns + 1))
        for row in range(1, rows + 1)
    )


def head_of(line: Line, fallback: str) -> str:
    """Return what stands at the head of a row or column: its label, else its name, else its place."""
    return line.label or line.name or fallback


def grid_lines(matrix: Matrix, standings: Mapping[CellKey, Standing], width: int) -> Iterator[tuple[Span, ...]]:
    """Yield the grid in lines of at most `width` signs; columns that don't fit beside the others follow below them."""
    squares = squares_of(matrix, standings)
    fitted = [square for row in squares for square in row if square]
    digits = matrix.longest_number
    signs = max((len(square.shown) for square in fitted), default=2)
    row_heads = [_clip(head_of(line, f"r{place}"), LONGEST_HEAD) for place, line in enumerate(matrix.rows, 1)]
    column_heads = [head_of(line, f"c{place}") for place, line in enumerate(matrix.columns, 1)]
    margin = max(map(len, row_heads), default=0) + 1
    bare = digits + 1 + signs + 1
    names = max((len(square.cell.name) for square in fitted), default=0)
    room = (width - margin) // len(column_heads) - bare - 1
    name_width = min(room, names) if room >= min(SHORTEST_NAME, names) else 0
    step = bare + (name_width + 1 if name_width else 0)
    per_block = max(1, (width - margin) // step)
    for first in range(0, len(column_heads), per_block):
        if first:
            yield (Span(""),)
        block = slice(first, first + per_block)
        heads = "".join(_clip(head, step - 1).ljust(step) for head in column_heads[block])
        yield (Span(f"{'':{margin}}{heads}".rstrip()),)
        for head, row in zip(row_heads, squares, strict=True):
            spans = [Span(head.rjust(margin - 1) + " ")]
            for square in row[block]:
                spans.extend(_spans(square, digits, signs, name_width, step))
            yield tuple(spans)


def _spans(square: Square | None, digits: int, signs: int, name_width: int, step: int) -> Iterator[Span]:
    if square is None:
        yield Span(" " * step)
        return
    yield Span(f"{square.cell.number:>{digits}} ")
    yield Span(square.shown[:2], square.mark)
    yield Span(square.shown[2:].ljust(signs - 2) + " ")
    if name_width:
        yield Span(_clip(square.cell.name, name_width).ljust(name_width) + " ")


def _clip(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"
