"""Plugs in the wrong place: which are alike, and which wire each logic end meets where plugs are swapped or shifted."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import LineKey

SHIFTS = (1, -1)
"""How far a plug may sit off: the loom's contact k on the board's pin k + 1, or on k - 1."""

Contacts = Mapping[str, tuple[LineKey, ...]]
"""The lines at each contact of a plug."""


def shiftable_plugs(layout: Layout) -> tuple[str, ...]:
    """List the plugs with numbered contacts, of which it is known which sits beside which."""
    found = layout.once(_contacts_by_plug)
    return tuple(plug for plug, contacts in found.items() if all(map(str.isdecimal, contacts)))


def like_plugs(layout: Layout) -> tuple[tuple[str, str], ...]:
    """List the pairs of plugs that go into each other's place.

    They have the same contacts, with lines of the same kind at each, and no line in common: two plugs of one line sit
    in its loom one after the other.
    """
    found = layout.once(_contacts_by_plug)
    kinds = {plug: _kinds(layout, contacts) for plug, contacts in found.items()}
    return tuple(
        (one, other)
        for one, other in combinations(found, 2)
        if kinds[one] == kinds[other] and set(lines_of_plugs(layout, one)).isdisjoint(lines_of_plugs(layout, other))
    )


def lines_of_plugs(layout: Layout, *plugs: str) -> tuple[LineKey, ...]:
    """List the lines at the contacts of plugs, plug by plug."""
    found = layout.once(_contacts_by_plug)
    return tuple(dict.fromkeys(line for plug in plugs for lines in found.get(plug, {}).values() for line in lines))


def displacement(
    matrix: Matrix, fault_class: FaultClass, part: str, other: object = None, after: int | None = None
) -> dict[LineKey, LineKey | None]:
    """Return for each line of misplaced plugs the line whose wire its logic end reaches; None where it reaches none.

    Only lines of this matrix are listed. A wire that comes to a pin of another matrix, of the other side, of no known
    line or of several is silent, and so is the pin's line.
    """
    loom = _contacts_in(matrix, part)
    if fault_class is FaultClass.PLUGS_SWAPPED:
        others = _contacts_in(matrix, str(other))
        return {**_reached(loom, others, 0), **_reached(others, loom, 0)}
    return _reached(loom, loom, after or 0)


def _reached(board: Contacts, loom: Contacts, step: int) -> dict[LineKey, LineKey | None]:
    """Return which wire each end reaches if the loom's contact k sits on the board's pin k + `step`."""
    found: dict[LineKey, LineKey | None] = {}
    for pin, ends in board.items():
        wires = loom.get(str(int(pin) - step) if step else pin, ())
        fits = len(ends) == len(wires) == 1 and ends[0].side == wires[0].side
        found.update(dict.fromkeys(ends, wires[0] if fits else None))
    return found


def _contacts_in(matrix: Matrix, plug: str) -> dict[str, tuple[LineKey, ...]]:
    found: dict[str, tuple[LineKey, ...]] = {}
    for key, line in matrix.lines.items():
        for ref in line.path:
            if owner(ref) == plug != ref:
                contact = ref.removeprefix(f"{plug}-")
                found[contact] = (*found.get(contact, ()), key)
    return found


def _contacts_by_plug(layout: Layout) -> dict[str, dict[str, tuple[LineKey, ...]]]:
    """List every plug of which a contact is known, in the order of the layout, with its lines by contact."""
    refs = [ref for matrix in layout.matrices for line in matrix.lines.values() for ref in line.path]
    plugs = dict.fromkeys(owner(ref) for ref in refs if owner(ref) != ref and part_class(ref) == "connector")
    return {plug: _contacts_over(layout, plug) for plug in plugs}


def _contacts_over(layout: Layout, plug: str) -> dict[str, tuple[LineKey, ...]]:
    found: dict[str, tuple[LineKey, ...]] = {}
    for matrix in layout.matrices:
        for contact, lines in _contacts_in(matrix, plug).items():
            found[contact] = (*found.get(contact, ()), *lines)
    return found


def _kinds(layout: Layout, contacts: Contacts) -> dict[str, tuple[tuple[str, bool, str], ...]]:
    """Return the kinds of line at each contact: what matrix they lie in, and on which side."""
    found: dict[str, tuple[tuple[str, bool, str], ...]] = {}
    for contact, lines in contacts.items():
        matrices = [layout.matrix(line.matrix) for line in lines]
        found[contact] = tuple(
            (matrix.kind.value, matrix.rows_shared, line.side) for matrix, line in zip(matrices, lines, strict=True)
        )
    return found
