"""Propose tests that no symptom asks for: rest scans, a cell on each untested line, hold rounds.

Their gain is 0, as they say nothing of the cause of what was seen. They find what hasn't shown yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matrixcheck.diagnosis.advice.hold_rounds import HoldRound
from matrixcheck.diagnosis.result import NextTest
from matrixcheck.diagnosis.words.places import count_of, numbers_words
from matrixcheck.layout.model import Cell, Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Reading
from matrixcheck.layout.wording import cell_words, lines_words

MOST_COVERING = 3
"""Covering cells that are named at a time; the next ones follow once these are tested."""

_AT_REST = {
    Kind.SWITCH: "Look at the switch test with nothing pressed: what shows is stuck closed.",
    Kind.LAMP: "Look at the lamps with none commanded: what glows is stuck on, or fed by another way.",
    Kind.COIL: "If a coil pulls, switch off at once. Look at the bank with nothing fired: what glows is stuck on.",
}


def rest_scans(layout: Layout, readings: Sequence[Reading]) -> Iterator[NextTest]:
    """Yield a rest scan for each matrix under test that has had none."""
    looked = {reading.matrix for reading in readings if reading.cell is None}
    for matrix in under_test(layout, readings):
        if matrix.id not in looked:
            yield NextTest(matrix=matrix.id, cell=None, gain=0.0, says=_AT_REST[matrix.kind])


def covering(layout: Layout, readings: Sequence[Reading]) -> Iterator[NextTest]:
    """Yield untested cells on lines without a tested one: those on two such lines first, then those at hand."""
    tested = {reading.cell for reading in readings if reading.cell is not None}
    named = 0
    for matrix in under_test(layout, readings):
        open_lines = {line for line in matrix.lines if _untried(matrix, line, tested)}
        left = [cell for cell in matrix.in_walk_order if cell.key not in tested]
        while open_lines and named < MOST_COVERING:
            best = max(left, key=lambda cell: (len(_lines(cell) & open_lines), is_at_hand(cell)))
            gone = sorted(_lines(best) & open_lines)
            yield NextTest(matrix=matrix.id, cell=best.key, gain=0.0, says=_covers(layout, best, gone))
            open_lines -= _lines(best)
            left.remove(best)
            named += 1


def hold_tests(layout: Layout, rounds: Sequence[HoldRound]) -> Iterator[NextTest]:
    """Yield the hold rounds that are left to make; each starts with a rest scan, its switches held."""
    for each in rounds:
        whose = numbers_words(layout, each.held, "and", most=len(each.held))
        diodes = count_of(len(each.exposes), "diode")
        says = f"Not testable yet: {diodes}, whose short shows only with other switches held."
        says += f" Hold {whose} closed, then press the others."
        yield NextTest(matrix=each.held[0].matrix, cell=None, held=each.held, gain=0.0, says=says)


def under_test(layout: Layout, readings: Sequence[Reading]) -> tuple[Matrix, ...]:
    """Return the matrices that have readings; the first one before there are any."""
    begun = {reading.matrix for reading in readings}
    return tuple(matrix for matrix in layout.matrices if matrix.id in begun) or layout.matrices[:1]


def is_at_hand(cell: Cell) -> bool:
    """Return whether the layout says that a hand gets at the cell with the machine closed up."""
    return cell.notes.reach.casefold() == "hand"


def _lines(cell: Cell) -> set[LineKey]:
    return {cell.row_line, cell.column_line}


def _untried(matrix: Matrix, line: LineKey, tested: set[CellKey]) -> bool:
    cells = matrix.cells_of(line)
    return bool(cells) and not any(cell.key in tested for cell in cells)


def _covers(layout: Layout, cell: Cell, lines: Sequence[LineKey]) -> str:
    return (
        f"Test {cell_words(layout, cell.key)}: nothing is known of {lines_words(layout, lines)} yet. "
        "No symptom asks for it; it covers what is untested."
    )
