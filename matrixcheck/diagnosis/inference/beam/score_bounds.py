"""Estimate what each item could add to the score of a fault set, for all items in one pass.

Where two faults don't interact, an item changes beside others what it changes in a healthy machine: gain and loss are
sums over places, and showing too much is no loss where the set silences the cell. Items that silence cells, or keep a
line's cells on, are also scored by the private gains of the set's own fit, which hold across crossed and joined wires.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.inference.candidate_classes import Item, Role
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.problem import acts_in
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import (
    AT_ENDS,
    LASTING,
    MISPLACED_PLUGS,
    OF_WIRES,
    SILENCING_LINES,
    SILENT_UNFED,
)
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints, Places, States
from matrixcheck.diagnosis.machine.plugs import displacement
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import LineKey

T = TypeVar("T", bound=np.generic)


LOST = -1
"""In place of a line, for a logic end that reaches no wire."""


class OptimisticScores(NamedTuple):
    """Score each item as an addition, in nats: `gain_only[item]` is an optimistic bound, `net[item]` an estimate.

    Both are log-odds plus the log-likelihood gained; `net` subtracts what the item would make worse. `own[item]`: what
    private causes of all its cells would gain, -inf where an item does more than that.
    """

    gain_only: Floats
    net: Floats
    own: Floats


class _Changes(NamedTuple):
    """List what items change in one matrix, as parallel arrays over n changes.

    `item[n]` shows `state[n]` at the flat `place[n]`, which adds `value[n]` nats; `cell[n]` is the flat cell of that
    place. `displaced[n, 0 or 1]`: crossed sensed, or driven, wires move the change.
    """

    item: Places
    place: Places
    state: States
    value: Floats
    cell: Places
    displaced: Bools


class _Cells(NamedTuple):
    """List (item, flat cell) pairs of some fault classes.

    `lasting`: the cells would be stuck, else dead. `at_end`: crossed wires move them.
    """

    item: Ints
    cell: Ints
    lasting: bool
    at_end: bool


class _Crossing(NamedTuple):
    """Map each line's logic end to the line whose wire it reaches: `sensed[end]`, `driven[end]`; LOST for none."""

    sensed: Ints
    driven: Ints

    def moved(self, subject: Subject, changes: _Changes) -> _Changes:
        """Return the changes at the places where crossed wires show them, without those that reach no wire."""
        sensed, exercise, driven = np.unravel_index(changes.place, subject.evidence.seen.shape)
        sensed = np.where(changes.displaced[:, 0], self.sensed[sensed], sensed)
        driven = np.where(changes.displaced[:, 1], self.driven[driven], driven)
        shows = (sensed != LOST) & (driven != LOST)
        if not shows.all():
            changes = _Changes(*(each[shows] for each in changes))
            sensed, exercise, driven = sensed[shows], exercise[shows], driven[shows]
        place = np.ravel_multi_index((sensed, exercise, driven), subject.evidence.seen.shape)
        value = subject.evidence.log_weights_at(changes.state, place)
        cell = sensed * subject.frame.shape[1] + driven
        return changes._replace(place=place.astype(np.int32), value=value, cell=cell.astype(np.int32))

    def by_line_ends(self, gains: Floats) -> Floats:
        """Return `gains[sensed, driven]` by the logic ends of the lines."""
        found: Floats = gains[np.ix_(self.sensed, self.driven)]
        found[self.sensed == LOST] = 0.0
        found[:, self.driven == LOST] = 0.0
        return found


class _Gains(NamedTuple):
    """Give the nats that each item gains and loses in one matrix by its places, and by private gains of its cells."""

    gain: Floats
    loss: Floats
    private: tuple[Floats, ...]


class ScoreBounds:
    """Lay out the items of a problem so that one pass over the readings scores them all."""

    def __init__(self, subjects: Sequence[Subject], items: Sequence[Item], healthy: Sequence[Fit]) -> None:
        self.subjects = subjects
        self.healthy = healthy
        self.weights = np.array([item.weight for item in items])
        self.alone = np.array([item.role is Role.ALONE for item in items], dtype=bool)
        self.silencing = np.array([_silences(subjects, item) for item in items], dtype=bool)
        self.has_cells = np.array([item.lead.fault_class in (*SILENCING_LINES, *LASTING) for item in items], dtype=bool)
        self._holding = {index: item.lead.lines[0] for index, item in enumerate(items) if _holds(item)}
        crossing = (FaultClass.CROSSED, *MISPLACED_PLUGS)
        self._crossed = {index: item.lead for index, item in enumerate(items) if item.lead.fault_class in crossing}
        self._shows = [fit.state.any(axis=1).ravel() for fit in healthy]
        self._changes = [_changes(subject, items) for subject in subjects]
        self._cells = [
            [_cells(subject, items, lasting, at_end) for lasting in (False, True) for at_end in (False, True)]
            for subject in subjects
        ]
        self._beside_nothing: dict[int, _Gains] = {}

    def additions(self, fits: Sequence[Fit], members: Iterable[int]) -> OptimisticScores:
        """Score every item as an addition to the set `members` with these fits, one a matrix."""
        count = len(self.weights)
        gain, loss = np.zeros(count), np.zeros(count)
        own = np.where(self.has_cells, 0.0, -np.inf)
        numbers = tuple(members)
        crossed = [self._crossed[index] for index in numbers if index in self._crossed]
        held = [self._holding[index] for index in numbers if index in self._holding]
        for place, (subject, fit) in enumerate(zip(self.subjects, fits, strict=True)):
            crossing = _crossing_of(subject.frame, crossed)
            found = self._gains(place, fit, crossing, [line for line in held if line.matrix == subject.frame.matrix.id])
            gain += found.gain
            loss += found.loss
            for private in found.private:
                own += private
        return OptimisticScores(self.weights + np.maximum(gain, own), self.weights + np.maximum(gain + loss, own), own)

    def _gains(self, place: int, fit: Fit, crossing: _Crossing | None, held: Sequence[LineKey]) -> _Gains:
        """Return what each item gains and loses in one matrix; in one without faults it is worked out once."""
        if fit is not self.healthy[place] or crossing or held:
            return self._gains_beside(place, fit, crossing, held)
        if place not in self._beside_nothing:
            self._beside_nothing[place] = self._gains_beside(place, fit, None, ())
        return self._beside_nothing[place]

    def _gains_beside(self, place: int, fit: Fit, crossing: _Crossing | None, held: Sequence[LineKey]) -> _Gains:
        count, subject = len(self.weights), self.subjects[place]
        changes = crossing.moved(subject, self._changes[place]) if crossing else self._changes[place]
        state = fit.state
        better = changes.value - subject.evidence.log_weights_at(state.ravel()[changes.place], changes.place)
        silenced = self._shows[place] & ~state.any(axis=1).ravel()
        if np.count_nonzero(silenced):
            better[silenced[changes.cell] & (better < 0.0)] = 0.0
        if held:
            better[self.silencing[changes.item] & _on(subject.frame, held)[changes.cell] & (better < 0.0)] = 0.0
        private: list[Floats] = []
        for cells in self._cells[place]:
            gains = fit.stuck if cells.lasting else fit.dead
            by_cell = crossing.by_line_ends(gains) if crossing and cells.at_end else gains
            private.append(_summed(cells.item, by_cell.ravel()[cells.cell], count))
        return _Gains(
            _summed(changes.item, np.maximum(better, 0.0), count),
            _summed(changes.item, np.minimum(better, 0.0), count),
            tuple(private),
        )


def _summed(items: Ints | Places, nats: Floats, count: int) -> Floats:
    """Sum `nats[n]` by `items[n]`, for so many items."""
    return np.bincount(items, nats, count).astype(np.float64, copy=False)


def _holds(item: Item) -> bool:
    """Return whether an item holds one line on, whatever silences it nearer to the logic."""
    return item.lead.fault_class in LASTING and len(item.lead.lines) == 1


def _on(frame: Frame, lines: Iterable[LineKey]) -> Bools:
    """Return a mask of the flat cells on these driven lines: what holds one on keeps its cells from being silenced."""
    found = np.zeros(frame.shape, dtype=np.bool_)
    for line in lines:
        if frame.is_driven(line):
            found[:, line.place - 1] = True
    return found.ravel()


def _silences(subjects: Sequence[Subject], item: Item) -> bool:
    """Return whether an item only silences lines: a missing supply doesn't where inputs then read closed."""
    fault_class = item.lead.fault_class
    unfed = fault_class in SILENCING_LINES and fault_class not in SILENT_UNFED
    reads_closed = (each.frame.fuse_reads_closed and acts_in(item.lead, each.frame.matrix.id) for each in subjects)
    return fault_class in SILENCING_LINES and not (unfed and any(reads_closed))


def _crossing_of(frame: Frame, crossed: Sequence[Candidate]) -> _Crossing | None:
    here = [fault for fault in crossed if acts_in(fault, frame.matrix.id)]
    if not here:
        return None
    crossing = _Crossing(*map(np.arange, frame.shape))
    for fault in here:
        before = _Crossing(*(side.copy() for side in crossing))
        for end, wire in _reached(frame, fault).items():
            at = 1 if frame.is_driven(end) else 0
            crossing[at][end.place - 1] = LOST if wire is None else before[at][wire.place - 1]
    return crossing


def _reached(frame: Frame, fault: Candidate) -> dict[LineKey, LineKey | None]:
    """Return for each line that a crossing or a misplaced plug moves the line whose wire its logic end reaches."""
    if fault.fault_class is FaultClass.CROSSED:
        return dict(zip(fault.lines, reversed(fault.lines), strict=True))
    return displacement(frame.matrix, fault.fault_class, str(fault.part), fault.other, fault.after)


def _changes(subject: Subject, items: Sequence[Item]) -> _Changes:
    frame = subject.frame
    present = [(index, item) for index, item in enumerate(items) if frame.matrix.id in item.changes]
    changed = [item.changes[frame.matrix.id] for _, item in present]
    counts = [len(each.places) for each in changed]
    place = _joined([each.places for each in changed], np.int32)
    state = _joined([each.states for each in changed], np.uint8)
    sensed, _, driven = np.unravel_index(place, subject.evidence.seen.shape)
    return _Changes(
        item=np.repeat(np.array([index for index, _ in present], dtype=np.int32), counts),
        place=place,
        state=state,
        value=subject.evidence.log_weights_at(state, place),
        cell=(sensed * frame.shape[1] + driven).astype(np.int32),
        displaced=np.repeat(
            np.array([_is_displaced(frame, item) for _, item in present], dtype=np.bool_).reshape(-1, 2), counts, 0
        ),
    )


def _joined(arrays: Sequence[NDArray[T]], kind: type[T]) -> NDArray[T]:
    return np.concatenate([np.zeros(0, dtype=kind), *arrays])


def _is_displaced(frame: Frame, item: Item) -> tuple[bool, bool]:
    """Return whether crossed sensed wires, and crossed driven wires, move what the item changes."""
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
