"""What each item could add to a set of faults, estimated for all items at once.

Where two faults don't bear on each other, what an item changes in a healthy machine it changes beside others too: what
it gains and loses is a sum over places. Items that silence cells, or keep a line's cells on, are weighed besides by
what the set's own fit says of each cell's being dead or stuck, which holds where wires are crossed or joined as well.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Floats, Ints
from matrixcheck.diagnosis.items import Item, Role
from matrixcheck.diagnosis.likelihood import Fit, Subject
from matrixcheck.diagnosis.result import FaultClass

SILENCING = frozenset({FaultClass.BREAK, FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.FUSE_BLOWN})
LASTING = frozenset({FaultClass.STUCK_ON, FaultClass.GROUNDED})


class Outlook(NamedTuple):
    """By item: its weight with all it would gain, and with what it would lose besides, both in nats."""

    hoped: Floats
    expected: Floats


class _Spread(NamedTuple):
    """Numbers that belong to items, one after the other: `owner[n]` is the item of the n-th."""

    owner: Ints
    place: Ints
    value: Floats


class Lookout:
    """The items of a problem laid out so that one pass over the readings weighs them all."""

    def __init__(self, subjects: Sequence[Subject], items: Sequence[Item]) -> None:
        self.subjects = subjects
        self.weights = np.array([item.weight for item in items])
        self.alone = np.array([item.role is Role.ALONE for item in items], dtype=bool)
        self.silencing = np.array([item.lead.fault_class in SILENCING for item in items], dtype=bool)
        self.lasting = np.array([item.lead.fault_class in LASTING for item in items], dtype=bool)
        self._changes = [_changes(subject, items) for subject in subjects]
        self._silenced = [_cells(subject, items, SILENCING) for subject in subjects]
        self._kept_on = [_cells(subject, items, LASTING) for subject in subjects]

    def from_(self, fits: Sequence[Fit]) -> Outlook:
        """What each item could add where these are the fits of a set, one a matrix."""
        count = len(self.weights)
        gain, loss = np.zeros(count), np.zeros(count)
        own = np.where(self.silencing | self.lasting, 0.0, -np.inf)
        for subject, fit, changed, silenced, kept_on in zip(
            self.subjects, fits, self._changes, self._silenced, self._kept_on, strict=True
        ):
            told = subject.evidence.told(fit.state.ravel()[changed.place], changed.place)
            better = changed.value - told
            gain += np.bincount(changed.owner, np.maximum(better, 0.0), count)
            loss += np.bincount(changed.owner, np.minimum(better, 0.0), count)
            own += np.bincount(silenced.owner, fit.dead.ravel()[silenced.place], count)
            own += np.bincount(kept_on.owner, fit.stuck.ravel()[kept_on.place], count)
        return Outlook(self.weights + np.maximum(gain, own), self.weights + np.maximum(gain + loss, own))


def _changes(subject: Subject, items: Sequence[Item]) -> _Spread:
    name = subject.frame.matrix.id
    there = [(index, *item.changes[name]) for index, item in enumerate(items) if name in item.changes]
    return _spread([(index, places, better) for index, places, better in there])


def _cells(subject: Subject, items: Sequence[Item], classes: Set[FaultClass]) -> _Spread:
    """The cells of the items of these classes."""
    frame, width = subject.frame, subject.frame.shape[1]
    found = []
    for index, item in enumerate(items):
        if item.lead.fault_class in classes:
            at = [frame.at(cell) for cell in item.lead.cells if cell.matrix == frame.matrix.id]
            places = np.array([sensed * width + driven for sensed, driven in at], dtype=np.int64)
            found.append((index, places, np.zeros(len(places))))
    return _spread(found)


def _spread(parts: Sequence[tuple[int, Ints, Floats]]) -> _Spread:
    if not parts:
        return _Spread(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))
    owner = np.concatenate([np.full(len(places), index) for index, places, _ in parts])
    return _Spread(owner, np.concatenate([part[1] for part in parts]), np.concatenate([part[2] for part in parts]))
