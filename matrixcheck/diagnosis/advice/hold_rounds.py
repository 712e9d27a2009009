"""Hold rounds: which switches to keep closed so that a shorted diode shows when its switch is pressed.

A shorted diode says nothing until three corners of a rectangle are closed: with (r, c') and (r', c) held, pressing
(r, c) also shows (r', c'). So each line of a diode needs another held switch. A round holds one switch a line where it
can (a diagonal, in a full matrix); that exposes every diode but those of the held switches, which the next round takes.
No three held switches lie on two rows and two columns, so that no held switch hides another's echo.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from matrixcheck.layout.model import Cell, Kind, Matrix
from matrixcheck.layout.numbering import NaturalOrder
from matrixcheck.layout.places import CellKey

Exposed = Callable[[Sequence[CellKey], Sequence[CellKey]], Collection[CellKey]]
"""From held cells and others: those of the others whose diode, shorted, would show when its switch is pressed."""


class HoldRound(NamedTuple):
    """Hold the switches to keep closed, and the diodes that pressing each other switch then tests."""

    held: tuple[CellKey, ...]
    exposes: tuple[CellKey, ...]


class HoldPlan(NamedTuple):
    """Hold rounds in order, and the diodes that none can test: their switch is the only one on a line."""

    rounds: tuple[HoldRound, ...]
    unexposed: tuple[CellKey, ...]


def hold_plan(matrix: Matrix, exposed: Exposed, wanted: Iterable[CellKey] | None = None) -> HoldPlan:
    """Plan few rounds, of few held switches each, that test the wanted diodes of a switch matrix (all, by default).

    Switches within reach of a hand are held rather than others. `exposed` says what a round exposes. A matrix without
    diodes needs no round.
    """
    if matrix.kind is not Kind.SWITCH or not matrix.has_diodes:
        return HoldPlan((), ())
    cells = sorted(matrix.fitted, key=_effort)
    left = {cell.key for cell in matrix.fitted} if wanted is None else set(wanted)
    rounds: list[HoldRound] = []
    unexposed: list[CellKey] = []
    while left:
        found = _round(cells, left, left, exposed) or _round(cells, {min(left)}, left, exposed)
        if found is None:
            unexposed.append(min(left))
            left.remove(min(left))
            continue
        rounds.append(found)
        left -= set(found.exposes)
    return HoldPlan(tuple(rounds), tuple(unexposed))


def _round(cells: Sequence[Cell], aim: Collection[CellKey], left: set[CellKey], exposed: Exposed) -> HoldRound | None:
    """Return a round that exposes some of `aim`, first without holding any of it; None where there is none.

    Where every switch of a line is aimed at, one of them has to be held, and waits for the next round.
    """
    for usable in ([cell for cell in cells if cell.key not in aim], cells):
        held = _one_a_line(usable, aim)
        if len(held) < 2:
            continue
        shown = exposed(held, sorted(left - set(held)))
        if set(shown) & set(aim):
            return HoldRound(held, tuple(sorted(shown)))
    return None


def _one_a_line(usable: Sequence[Cell], aim: Collection[CellKey]) -> tuple[CellKey, ...]:
    """Return few cells such that every line of `aim` that can has one.

    A largest matching of its rows to its columns, then the easiest cell for each line that is left over.
    """
    rows = {cell.row for cell in aim}
    columns = {cell.column for cell in aim}
    partner = _matching([cell for cell in usable if cell.key.row in rows and cell.key.column in columns])
    held = {CellKey(usable[0].key.matrix, row, column) for column, row in partner.items()} if usable else set()
    for lines, taken, side in ((rows, set(partner.values()), "row"), (columns, set(partner), "column")):
        for line in sorted(lines - taken):
            on_line = (cell.key for cell in usable if getattr(cell.key, side) == line)
            held.update(key for key in [next(on_line, None)] if key)
    return tuple(sorted(held))


def _matching(cells: Sequence[Cell]) -> Mapping[int, int]:
    """Return a largest matching of columns to rows (Kuhn's augmenting paths), easy cells tried first."""
    columns_of: dict[int, list[int]] = {}
    for cell in cells:
        columns_of.setdefault(cell.key.row, []).append(cell.key.column)
    partner: dict[int, int] = {}

    def place(row: int, tried: set[int]) -> bool:
        for column in columns_of[row]:
            if column not in tried:
                tried.add(column)
                if column not in partner or place(partner[column], tried):
                    partner[column] = row
                    return True
        return False

    for row in columns_of:
        place(row, set())
    return partner


def _effort(cell: Cell) -> tuple[int, NaturalOrder]:
    """Return a sort key: closed at rest first, then within reach of a hand, of unknown reach, and others.

    Those that are closed at rest hold themselves. Equals go by number.
    """
    if cell.notes.rest == "closed":
        return 0, cell.order
    return {"hand": 1, "": 2}.get(cell.notes.reach.casefold(), 3), cell.order
