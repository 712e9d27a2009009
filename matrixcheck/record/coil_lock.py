"""Whether a coil is on at rest, and what was recorded of it since: the one rule for when steps need the power off.

A coil is on where a rest scan with nothing held shows it, or where it is marked stuck. A flash lamp on the coils'
supply counts as a coil does, unless a resistor keeps it warm. From then on the power stays off until it is recorded
that the coil fuse is out, and each coil seen on after that asks for the record again. A repair in the coil's matrix,
and a later rest scan of that matrix that shows no coil on, end it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import reduce

from msgspec import Struct
from msgspec.structs import replace

from matrixcheck.layout.model import Cell, Kind, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

COIL_FUSE_OUT = "coil fuse out"
"""The safety check that records it, passed when the fuse is out."""

SWITCH_OFF_NOW = "Switch off now. Take out the coil fuse. Leave it out until the short is found."
FUSE_IS_OUT = "The coil fuse is out. Leave it out until the short is found and its repair recorded."


class CoilLock(Struct, frozen=True):
    """The coils that are on at rest, none where all is well.

    `fuse_out` and `repaired` are what was recorded since the last of them was seen on.
    """

    coils: frozenset[CellKey] = frozenset()
    fuse_out: bool = False
    repaired: bool = False

    @property
    def stop(self) -> bool:
        """Return whether the power must be off: a coil is on, and its fuse is not recorded out."""
        return bool(self.coils) and not self.fuse_out

    @property
    def matrices(self) -> frozenset[str]:
        """Return the matrices of the coils that are on."""
        return frozenset(key.matrix for key in self.coils)

    def allows(self, matrix_id: str, *, rest_scan: bool) -> bool:
        """Return whether a matrix may be exercised.

        None may while the power must be off; that of a coil that was on may not before a rest scan that follows the
        repair.
        """
        return not self.stop and (matrix_id not in self.matrices or (self.repaired and rest_scan))


def lock_of(readings: Iterable[Reading], layout: Layout) -> CoilLock:
    """Return the lock after readings alone, oldest first."""
    return reduce(lambda lock, reading: seen(lock, reading, layout), readings, CoilLock())


def seen(lock: CoilLock, reading: Reading, layout: Layout) -> CoilLock:
    """Return the lock after a reading."""
    on = _on_at_rest(reading, layout)
    if on:
        return CoilLock(lock.coils | on)
    quiet = reading.cell is None and reading.answered is not None and not reading.held
    if not (quiet and lock.repaired):
        return lock
    left = frozenset(key for key in lock.coils if key.matrix != reading.matrix)
    return replace(lock, coils=left) if left else CoilLock()


def repaired(lock: CoilLock, touched: Collection[CellKey]) -> CoilLock:
    """Return the lock after a repair that concerns the `touched` cells."""
    concerned = not lock.matrices.isdisjoint(key.matrix for key in touched)
    return replace(lock, repaired=True) if concerned else lock


def checked(lock: CoilLock, item: str, passed: bool) -> CoilLock:
    """Return the lock after a safety check."""
    return replace(lock, fuse_out=passed) if lock.coils and is_coil_fuse(item) else lock


def is_coil_fuse(item: str) -> bool:
    """Return whether a safety check is the one of the coil fuse."""
    return item.strip().casefold() == COIL_FUSE_OUT


def _on_at_rest(reading: Reading, layout: Layout) -> frozenset[CellKey]:
    matrix = layout.matrix(reading.matrix)
    if matrix.kind is not Kind.COIL:
        return frozenset()
    shown: Collection[CellKey] = ()
    if reading.cell is not None:
        shown = (reading.cell,) if reading.mark is Mark.STUCK else ()
    elif not reading.held:
        shown = (*(reading.answered or ()), *reading.faint)
    return frozenset(key for key in shown if key in matrix.by_key and _burns(matrix.by_key[key]))


def _burns(cell: Cell) -> bool:
    """Return whether a device must not be on at rest. A flash lamp that a resistor keeps warm may well glow."""
    return cell.device == "coil" or (cell.device == "flash lamp" and cell.notes.keep_warm is None)
