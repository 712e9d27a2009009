"""What each item could add to a set of faults, estimated for all items at once.

Where two faults don't bear on each other, what an item changes in a healthy machine it changes beside others too: what
it gains and loses is a sum over places; what would show too much is no loss where the set silences the cell.
Items that silence cells, or keep a line's cells on, are weighed besides by what the set's own fit says of each cell's
being dead or stuck, which holds where wires are crossed or joined as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.inference.candidate_classes import Item, Role
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.machine.fault_classes import AT_ENDS, LASTING, OF_WIRES, SILENCING_LINES
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints, Places, States
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import LineKey

T = TypeVar("T", bound=np.generic)


class Outlook(NamedTuple):
    """By item: its weight with all it would gain, and with what it would lose besides, both in nats."""

    hoped: Floats
    expected: Floats


class _Changes(NamedTuple):
    """What items change in one matrix, one change after the other: `item[n]` shows `state[n]` at the flat `place[n]`,
    which adds `value[n]`; `cell[n]` is the flat cell of that place. `leads[n, 0 or 1]`: it comes out elsewhere where
    sensed, or driven, wires are crossed."""

    item: Places
    place: Places
    state: States
    value: Floats
    cell: Places
    leads: Bools


class _Cells(NamedTuple):
    """The flat cells of the items of some classes, one after the other. `lasting`: they would be stuck, else dead.
    `at_end`: crossed wires lead them elsewhere."""

    item: Ints
    cell: Ints
    lasting: bool
    at_end: bool


class _Led(NamedTuple):
    """Where crossed wires lead: `sensed[end]` and `driven[end]` are the lines of the other end."""

    sensed: Ints
    driven: Ints

    def moved(self, subject: Subject, changes: _Changes) -> _Changes:
        """The changes where they then come out."""
        sensed, exercise, driven = np.unravel_index(changes.place, subject.evidence.seen.shape)
        sensed = np.where(changes.leads[:, 0], self.sensed[sensed], sensed)
        driven = np.where(changes.leads[:, 1], self.driven[driven], driven)
        place = np.ravel_multi_index((sensed, exercise, driven), subject.evidence.seen.shape)
        value = subject.evidence.told(changes.state, place)
        cell = sensed * subject.frame.shape[1] + driven
        return changes._replace(place=place.astype(np.int32), value=value, cell=cell.astype(np.int32))

    def seen_from_ends(self, gains: Floats) -> Floats:
        """What belongs to cells, by the ends of their lines."""
        found: Floats = gains[np.ix_(self.sensed, self.driven)]
        return found


class Lookout:
    """The items of a problem laid out so that one pass over the readings weighs them all."""

    def __init__(self, subjects: Sequence[Subject], items: Sequence[Item], healthy: Sequence[Fit]) -> None:
        self.subjects = subjects
        self.weights = np.array([item.weight for item in items])
        self.alone = np.array([item.role is Role.ALONE for item in items], dtype=bool)
        self.silencing = np.array([item.lead.fault_class in SILENCING_LINES for item in items], dtype=bool)
        self.has_cells = np.array([item.lead.fault_class in (*SILENCING_LINES, *LASTING) for item in items], dtype=bool)
        leads = enumerate(item.lead for item in items)
        self._crossed = {index: lead.lines for index, lead in leads if lead.fault_class is FaultClass.CROSSED}
        self._shows = [fit.state.any(axis=1).ravel() for fit in healthy]
        self._changes = [_changes(subject, items) for subject in subjects]
        self._cells = [
            [_cells(subject, items, lasting, at_end) for lasting in (False, True) for at_end in (False, True)]
            for subject in subjects
        ]

    def from_(self, fits: Sequence[Fit], members: Iterable[int]) -> Outlook:
        """What each item could add where these are the fits of a set, one a matrix; `members`: the items of the set."""
        count = len(self.weights)
        gain, loss = np.zeros(count), np.zeros(count)
        own = np.where(self.has_cells, 0.0, -np.inf)
        crossed = [self._crossed[index] for index in members if index in self._crossed]
        for place, (subject, fit) in enumerate(zip(self.subjects, fits, strict=True)):
            led = _led(subject.frame, crossed)
            changes = led.moved(subject, self._changes[place]) if led else self._changes[place]
            better = changes.value - subject.evidence.told(fit.state.ravel()[changes.place], changes.place)
            silenced = self._shows[place] & ~fit.state.any(axis=1).ravel()
            if silenced.any():
                better[silenced[changes.cell] & (better < 0.0)] = 0.0
            gain += np.bincount(changes.item, np.maximum(better, 0.0), count)
            loss += np.bincount(changes.item, np.minimum(better, 0.0), count)
            for cells in self._cells[place]:
                gains = fit.stuck if cells.lasting else fit.dead
                there = led.seen_from_ends(gains) if led and cells.at_end else gains
                own += np.bincount(cells.item, there.ravel()[cells.cell], count)
        return Outlook(self.weights + np.maximum(gain, own), self.weights + np.maximum(gain + loss, own))


def _led(frame: Frame, crossed: Sequence[tuple[LineKey, ...]]) -> _Led | None:
    here = [lines for lines in crossed if lines[0].matrix == frame.matrix.id]
    if not here:
        return None
    led = _Led(*map(np.arange, frame.shape))
    for lines in here:
        side = led.driven if frame.is_driven(lines[0]) else led.sensed
        pair = [line.place - 1 for line in lines]
        side[pair] = side[pair[::-1]]
    return led


def _changes(subject: Subject, items: Sequence[Item]) -> _Changes:
    frame = subject.frame
    there = [(index, item) for index, item in enumerate(items) if frame.matrix.id in item.changes]
    changed = [item.changes[frame.matrix.id] for _, item in there]
    counts = [len(each.places) for each in changed]
    place = _joined([each.places for each in changed], np.int32)
    state = _joined([each.states for each in changed], np.uint8)
    sensed, _, driven = np.unravel_index(place, subject.evidence.seen.shape)
    return _Changes(
        item=np.repeat(np.array([index for index, _ in there], dtype=np.int32), counts),
        place=place,
        state=state,
        value=subject.evidence.told(state, place),
        cell=(sensed * frame.shape[1] + driven).astype(np.int32),
        leads=np.repeat(np.array([_leads(frame, item) for _, item in there], dtype=np.bool_).reshape(-1, 2), counts, 0),
    )


def _joined(arrays: Sequence[NDArray[T]], kind: type[T]) -> NDArray[T]:
    return np.concatenate([np.zeros(0, dtype=kind), *arrays])


def _leads(frame: Frame, item: Item) -> tuple[bool, bool]:
    """Whether what the item changes comes out elsewhere where sensed, and where driven, wires are crossed."""
    fault = item.lead.fault_class
    if fault in AT_ENDS:
        return True, True
    if fault not in OF_WIRES:
        return False, False
    of_driven = frame.is_driven(item.lead.lines[0])
    return of_driven, not of_driven


def _cells(subject: Subject, items: Sequence[Item], lasting: bool, at_end: bool) -> _Cells:
    frame, found = subject.frame, []
    for index, item in enumerate(items):
        fault = item.lead.fault_class
        if fault in (LASTING if lasting else SILENCING_LINES) and (fault in AT_ENDS) == at_end:
            at = [frame.at(cell) for cell in item.lead.cells if cell.matrix == frame.matrix.id]
            found += [(index, sensed * frame.shape[1] + driven) for sensed, driven in at]
    numbers = np.array(found, dtype=np.int64).reshape(-1, 2)
    return _Cells(numbers[:, 0], numbers[:, 1], lasting, at_end)
