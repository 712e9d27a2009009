"""What readings show of each cell, counted without any diagnosis."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from matrixcheck.diagnosis.evidence.intermittence import marks_of
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


class Symptoms(NamedTuple):
    """Cells by what was seen of them.

    `marks`: the last mark of each tested cell. `uncalled`: cells that showed though they were neither exercised nor
    held, and don't rest closed; `uncalled_by` is the first reading in which each did, `besides` those that did so at
    rest or beside the exercised cell, `at_rest` those of rest scans. `instead`: cells in whose place others answered;
    `too`: those that answered with others. `unsteady`: those that come and go.
    """

    marks: dict[CellKey, Mark]
    uncalled_by: dict[CellKey, Reading]
    besides: frozenset[CellKey]
    at_rest: frozenset[CellKey]
    instead: frozenset[CellKey]
    too: frozenset[CellKey]
    unsteady: frozenset[CellKey]

    @property
    def uncalled(self) -> frozenset[CellKey]:
        """Return the cells that showed uncalled."""
        return frozenset(self.uncalled_by)

    @property
    def failures(self) -> frozenset[CellKey]:
        """Return the cells with which something is wrong; one that answers in another's place is no failure more."""
        marked = frozenset(cell for cell, mark in self.marks.items() if mark in (Mark.DEAD, Mark.STUCK))
        return marked | self.besides

    def tested(self, cells: Collection[CellKey]) -> frozenset[CellKey]:
        """Return those of the cells that were exercised or judged."""
        return frozenset(cell for cell in cells if cell in self.marks)

    def dead(self, cells: Collection[CellKey]) -> frozenset[CellKey]:
        """Return those of the cells that are dead."""
        return frozenset(cell for cell in cells if self.marks.get(cell) is Mark.DEAD)


def symptoms(layout: Layout, readings: Sequence[Reading]) -> Symptoms:
    """Return what the readings show of each cell."""
    found = marks_of([_without_rest_closed(layout, reading) for reading in readings])
    uncalled: dict[CellKey, Reading] = {}
    besides: set[CellKey] = set()
    at_rest: set[CellKey] = set()
    instead: set[CellKey] = set()
    too: set[CellKey] = set()
    for reading in readings:
        others = _others(layout, reading)
        for cell in others:
            uncalled.setdefault(cell, reading)
        if reading.cell is None or reading.cell in (reading.answered or ()):
            besides.update(others)
        if reading.cell is None:
            at_rest.update(others)
        if reading.cell is not None and others:
            (too if reading.cell in (reading.answered or ()) else instead).add(reading.cell)
    return Symptoms(
        {cell: marks[-1] for cell, marks in found.items() if _is_fitted(layout, cell)},
        uncalled,
        frozenset(besides),
        frozenset(at_rest),
        frozenset(instead),
        frozenset(too),
        frozenset(cell for cell, marks in found.items() if {Mark.WORKING, Mark.DEAD} <= set(marks)),
    )


def _without_rest_closed(layout: Layout, reading: Reading) -> Reading:
    """Return a rest scan without the switches that should be closed then: these are neither stuck nor tested by it."""
    if reading.cell is not None or not reading.answered:
        return reading
    shown = tuple(cell for cell in reading.answered if not (_is_fitted(layout, cell) and _rests_closed(layout, cell)))
    return replace(reading, answered=shown)


def _others(layout: Layout, reading: Reading) -> list[CellKey]:
    """Return the fitted cells that showed in a reading though nobody called them.

    None beside a lamp of the lighting: most machines keep it lit whatever is tested (common practice, no source).
    """
    matrix = layout.matrix(reading.matrix)
    if reading.cell is not None and matrix.kind is Kind.LAMP and not matrix.rows_shared:
        return []
    called = {reading.cell, *reading.held}
    return [
        cell
        for cell in reading.answered or ()
        if cell not in called and _is_fitted(layout, cell) and not _rests_closed(layout, cell)
    ]


def _is_fitted(layout: Layout, cell: CellKey) -> bool:
    return cell in layout.matrix(cell.matrix).by_key


def _rests_closed(layout: Layout, cell: CellKey) -> bool:
    return layout.cell(cell).notes.rest == "closed"
