"""A matrix as a table: heads, and for each fitted place its number, its mark and its signs, with a link to the cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from matrixcheck.layout.model import Line, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.record.cell_state import Standing, Standings
from matrixcheck.report.answer.model import Verdict
from matrixcheck.report.cell_facts import mark_words
from matrixcheck.report.glyphs import DEFERRED, GLYPHS, RETEST_DUE
from matrixcheck.report.grids import Square, head_of, squares_of

LIGHTS: Mapping[Verdict, tuple[str, str]] = {
    "fits": ("◆", "fits the chosen fault"),
    "against": ("≠", "speaks against the chosen fault"),
    "untested": ("?", "not tested, the chosen fault would take it"),
}
"""The sign of a cell that the chosen fault takes hold of, and what it says."""


@dataclass(frozen=True)
class Head:
    """The head of a row or column: what stands there, and the rest that is known of the line."""

    label: str
    says: str


@dataclass(frozen=True)
class Place:
    """A fitted place: where its page is, what it shows, and the same in words."""

    href: str
    number: str
    name: str
    mark: str
    glyph: str
    signs: str
    says: str
    light: str = ""


@dataclass(frozen=True)
class Grid:
    """A matrix by rows and columns; None where nothing is fitted."""

    id: str
    name: str
    columns: Sequence[Head]
    rows: Sequence[tuple[Head, Sequence[Place | None]]]


def grid_of(job: str, matrix: Matrix, standings: Standings, lit: Mapping[CellKey, Verdict] | None = None) -> Grid:
    """Return a matrix of a job as a table; `lit` are the cells of a fault that somebody looks at."""
    lights = lit or {}

    def place(square: Square | None) -> Place | None:
        if square is None:
            return None
        return _place(job, square, standings[square.cell.key], lights.get(square.cell.key))

    rows = [
        (_head(line, f"r{row}", "row"), [place(square) for square in squares])
        for row, (line, squares) in enumerate(zip(matrix.rows, squares_of(matrix, standings), strict=True), 1)
    ]
    columns = [_head(line, f"c{column}", "column") for column, line in enumerate(matrix.columns, 1)]
    return Grid(matrix.id, matrix.name or matrix.id, columns, rows)


def _head(line: Line, fallback: str, side: str) -> Head:
    label = head_of(line, fallback)
    about = ", ".join(filter(None, [line.wire or "", line.name if line.name != label else ""]))
    return Head(label, f"{side} {label}{f', {about}' if about else ''}")


def _place(job: str, square: Square, standing: Standing, light: Verdict | None) -> Place:
    cell = square.cell
    lit, meaning = LIGHTS[light] if light else ("", "")
    more = [
        "test again" if standing.retest_due is not None else "",
        "later" if standing.deferred is not None else "",
        meaning,
    ]
    says = f"{short_words(cell)}: {', '.join(filter(None, [mark_words(standing), *more]))}"
    # What is due and what is put off is the more urgent to see where there is room for a few signs.
    signs = "".join(sorted(square.signs, key=lambda sign: sign not in (RETEST_DUE, DEFERRED)))
    mark = "normal" if standing.normal else str(Mark(square.mark))
    return Place(
        f"/job/{job}/cell/{cell.key.matrix}/{cell.key.address}",
        str(cell.number),
        cell.name,
        mark,
        GLYPHS[square.mark],
        signs,
        says,
        lit,
    )
