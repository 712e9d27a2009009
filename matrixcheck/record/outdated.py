"""What a repair outdates: the readings and rest scans that no longer speak, and what is left of those that do.

A repair touches the cells whose path holds what was repaired. It outdates every reading of such a cell, and every other
reading or scan that showed such a cell where it had no business: as echo, misreport or glow. A cell that only stood in
a reading because it was held, or because it was on at rest as all could see, outdates nothing; but what that reading
said of it is too old to go on speaking, and is taken out.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import NamedTuple

from msgspec.structs import replace

from matrixcheck.layout.designators import is_ref, owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.cell_state import PASSES_WHEN_INTERMITTENT, Seen, Standing
from matrixcheck.record.job_state import RepairMade


def cells_touched(layout: Layout, place: str) -> frozenset[CellKey]:
    """Return the fitted cells that work on a place concerns.

    These are a cell itself, a line's cells, or those whose lines run through a part. None for a place that the layout
    doesn't know.
    """
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted]
    if (key := parse_cell(place, "")) is not None:
        return frozenset(cell.key for cell in cells if cell.key == key)
    if (line := parse_line(place, "")) is not None:
        return frozenset(cell.key for cell in cells if line in (cell.row_line, cell.column_line))
    return layout.once(_cells_by_part).get(place, frozenset())


def _cells_by_part(layout: Layout) -> dict[str, frozenset[CellKey]]:
    found: dict[str, set[CellKey]] = {}
    for matrix in layout.matrices:
        for cell in matrix.fitted:
            for part in layout.path_parts(cell.key):
                found.setdefault(part, set()).add(cell.key)
    return {part: frozenset(cells) for part, cells in found.items()}


def is_outdated(finding: Finding, place: str, touched_by: Callable[[str], frozenset[CellKey]]) -> bool:
    """Return whether a repair outdates a finding: it looked at the place, or at a contact or pin of it.

    Of a line also findings on parts that serve no other line: people repair "column 3" and mean its driver.
    """
    line = touched_by(place) if parse_line(place, "") else frozenset[CellKey]()

    def within(ref: str) -> bool:
        cells = touched_by(ref) if line and is_ref(ref) else frozenset[CellKey]()
        return bool(cells) and cells <= line

    return any(place in (each, owner(each)) or within(each) for each in finding.places)


def out_of_place(reading: Reading, resting: Collection[CellKey]) -> frozenset[CellKey]:
    """Return the cells that a reading shows, brightly or faintly, as echo, misreport or glow.

    The exercised cell, those that were held and those that are on at rest (`resting`) are none.
    """
    shown = frozenset(reading.answered or ()).union(reading.faint)
    return shown.difference(reading.held, resting, (reading.cell,) if reading.cell else ())


class AtRestNow(NamedTuple):
    """What shows in one matrix with nothing exercised.

    `closed` are the switches that rest closed, `anyway` gives these and all else that is known to show under a
    reading's held switches.
    """

    closed: frozenset[CellKey]
    anyway: Callable[[Reading], frozenset[CellKey]]


def showed_out_of_place(seen: Iterable[Seen], touched: Collection[CellKey], at_rest: AtRestNow) -> bool:
    """Return whether any of the readings showed one of the `touched` cells where it had no business."""
    return any(not out_of_place(one.reading, at_rest.anyway(one.reading)).isdisjoint(touched) for one in seen)


def still_speaking(
    seen: Iterable[Seen],
    touched: Collection[CellKey],
    at_rest: AtRestNow,
    mark_of: Callable[[Reading], Mark | None],
) -> list[Seen]:
    """Return readings of an untouched cell that a repair doesn't outdate, without what they say of `touched` cells.

    One that showed such a cell only as it is at rest, or held and silent, is left as its mark. Where it shows others
    out of place too, that is worth more: then only the touched cells go out of it.
    """
    return [one._replace(reading=_without(one.reading, touched, at_rest, mark_of)) for one in seen]


def _without(
    reading: Reading, touched: Collection[CellKey], at_rest: AtRestNow, mark_of: Callable[[Reading], Mark | None]
) -> Reading:
    if reading.answered is None and not reading.faint:
        return reading
    shown, held = frozenset(reading.answered or ()).union(reading.faint), frozenset(reading.held)
    stale = ((shown - held - at_rest.closed) | (held - shown)).intersection(touched) - {reading.cell}
    if not stale:
        return reading
    if out_of_place(reading, at_rest.anyway(reading)):
        answered = None if reading.answered is None else tuple(key for key in reading.answered if key not in stale)
        return replace(reading, answered=answered, faint=tuple(key for key in reading.faint if key not in stale))
    return replace(reading, answered=None, faint=(), mark=mark_of(reading))


def due_again(standing: Standing, fresh: Standing, repair: RepairMade) -> Standing:
    """Return the cell with nothing said of it since the repair; what it was before is kept beside."""
    waiting = standing.retest_due is not None
    return replace(
        fresh,
        retest_due=repair.place,
        before_repair=standing.before_repair if waiting else standing.mark,
        passes_needed=PASSES_WHEN_INTERMITTENT if standing.intermittent else standing.passes_needed,
        repaired_by=(*(standing.repaired_by if waiting else ()), repair.seq),
    )


def resistance_alone(seen: Seen) -> Seen | None:
    """Return what a reading says of its device's resistance and no more; None where nothing was measured."""
    reading = seen.reading
    if reading.ohms is None:
        return None
    measured = Reading(matrix=reading.matrix, cell=reading.cell, ohms=reading.ohms, note=reading.note, at=reading.at)
    return seen._replace(reading=measured)
