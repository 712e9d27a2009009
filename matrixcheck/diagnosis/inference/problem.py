"""State the problem that the solvers work on: matrices with their readings, items, and fits at hand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting, joint
from matrixcheck.diagnosis.inference.candidate_classes import Item
from matrixcheck.diagnosis.inference.likelihood import Fit, Private, Subject
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import ODD_DIODE, SILENCED_CELLS
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey

MOST_BYTES = 2**27
"""Bytes of fits that are kept, 128 MB: thousands of the largest matrix where each changes little, and all that a usual
machine ever has."""


class Problem(NamedTuple):
    """State what a solver works on.

    `private`: chances of private causes, one entry a subject. `dead`, `stuck`: items with the signature of one dead or
    stuck cell, by cell. `healthy`: fits of a machine without faults. `whole`: every candidate was weighed, and no
    reading was left out. `known`: fits by (key of the subject, faults, setting). `tested`: every cell that a reading
    exercised, in other regions as well. `shares`: of `private`, what `dead` and `stuck` make up, one entry a subject;
    empty where that is all of it.
    """

    subjects: tuple[Subject, ...]
    items: tuple[Item, ...]
    private: tuple[Private, ...]
    dead: dict[CellKey, Item]
    stuck: dict[CellKey, Item]
    healthy: tuple[Fit, ...]
    whole: bool
    known: ByteStore[Fit]
    tested: frozenset[CellKey]
    shares: tuple[Private, ...] = ()

    def fits(self, faults: Sequence[Candidate], setting: Setting = USUAL) -> tuple[Fit, ...]:
        """Return the fit of each subject to the faults.

        What shows in one matrix doesn't depend on faults of others: it is evaluated once for all sets with the same
        faults there.
        """
        return tuple(self.fit_in(place, faults, setting) for place in range(len(self.subjects)))

    def fit_in(self, place: int, faults: Sequence[Candidate], setting: Setting) -> Fit:
        """Return the fit of the subject at `place` to the faults."""
        name = self.subjects[place].frame.matrix.id
        return self.fit_to_those(place, [fault for fault in faults if acts_in(fault, name)], setting)

    def fit_to_those(self, place: int, there: Sequence[Candidate], setting: Setting) -> Fit:
        """Return the fit of the subject at `place` to faults that all act in it."""
        if not there:
            return self.healthy[place]
        subject = self.subjects[place]
        key = subject.key, frozenset(there), setting
        fit = self.known.get(key)
        if fit is None:
            others, dark = without_darkening(subject.frame, there, setting)
            if len(others) < len(there) and not subject.evidence.exercises.alone:
                fit = subject.darkened(self.fit_to_those(place, others, setting), dark)
            else:
                fit = fit_to(subject, there, setting, self.healthy[place])
            self.known.put(key, fit, fit.size)
        return fit

    def fits_of(self, numbers: Iterable[int]) -> tuple[Fit, ...]:
        """Return the fit of each subject to a set of items, given by number."""
        return self.fits(*self._laid(numbers))

    def fit_of(self, place: int, numbers: Iterable[int]) -> Fit:
        """Return the fit of the subject at `place` to a set of items, given by number."""
        return self.fit_in(place, *self._laid(numbers))

    def _laid(self, numbers: Iterable[int]) -> tuple[list[Candidate], Setting]:
        chosen = [self.items[number] for number in sorted(numbers)]
        return [item.lead for item in chosen], joint(item.setting for item in chosen)

    def found(self, place: int, faults: Iterable[Candidate], setting: Setting) -> Fit | None:
        """Return the fit of the subject at `place` if it is known, else None."""
        name = self.subjects[place].frame.matrix.id
        there = frozenset(fault for fault in faults if acts_in(fault, name))
        return self.known.get((self.subjects[place].key, there, setting)) if there else self.healthy[place]

    @property
    def private_items(self) -> tuple[Item, ...]:
        """Return the items with the signature of one dead or one stuck cell."""
        return (*self.dead.values(), *self.stuck.values())

    def own(self, cell: CellKey, stuck: bool) -> Item | None:
        """Return the item with the signature of this cell dead, or stuck; None where no reading would show it."""
        return (self.stuck if stuck else self.dead).get(cell)

    @property
    def matrix_ids(self) -> tuple[str, ...]:
        """Return the ids of the matrices that have readings, in the order of `subjects`."""
        return tuple(subject.frame.matrix.id for subject in self.subjects)

    def restricted(self, matrix_ids: Collection[str], items: Iterable[int]) -> Problem:
        """Return the problem of some of its matrices and items, by number.

        Every field that goes by matrices covers exactly these, in the order of `subjects`, in each item as well.
        """
        places = [place for place, name in enumerate(self.matrix_ids) if name in matrix_ids]
        return Problem(
            subjects=tuple(self.subjects[place] for place in places),
            items=tuple(self.items[number].within(matrix_ids) for number in items),
            private=tuple(self.private[place] for place in places),
            dead={cell: item.within(matrix_ids) for cell, item in self.dead.items() if cell.matrix in matrix_ids},
            stuck={cell: item.within(matrix_ids) for cell, item in self.stuck.items() if cell.matrix in matrix_ids},
            healthy=tuple(self.healthy[place] for place in places),
            whole=self.whole,
            known=self.known,
            tested=self.tested,
        )


def fit_store() -> ByteStore[Fit]:
    """Return an empty store of fits."""
    return ByteStore[Fit](MOST_BYTES)


def fit_to(subject: Subject, faults: Sequence[Candidate], setting: Setting, healthy: Fit) -> Fit:
    """Return the fit of one subject to faults; to such as only silence cells without the forward model."""
    if setting == USUAL and subject.lights_by_cell and all(only_silences(one, subject.frame) for one in faults):
        cells = {cell for one in faults for cell in one.cells if cell.matrix == subject.frame.matrix.id}
        return subject.without(healthy, sorted(cells))
    return subject.fit(faults, setting)


def without_darkening(
    frame: Frame, faults: Sequence[Candidate], setting: Setting
) -> tuple[list[Candidate], list[CellKey]]:
    """Part faults of a bank from those that do no more than darken cells; return the others, and the dark cells.

    Whatever else is there, a dead lamp or coil is dark, and changes nothing else. It isn't so where current comes round
    through odd diodes, nor for what comes and goes. In a switch matrix joined lines show a switch elsewhere as well.
    """
    if frame.kind == "switch" or frame.is_strings or setting.loose:
        return list(faults), []
    classes = {fault.fault_class for fault in faults}
    if classes.isdisjoint(MAY_DARKEN) or not classes.isdisjoint(ODD_DIODE):
        return list(faults), []
    fed = FaultClass.KEEP_WARM_GLOW in classes
    others, dark = [], []
    for fault in faults:
        if _darkens(fault, frame, fed):
            dark += [cell for cell in fault.cells if cell.matrix == frame.matrix.id]
        else:
            others.append(fault)
    return others, dark


MAY_DARKEN = (FaultClass.BREAK, FaultClass.DEVICE_DEAD)


def _darkens(fault: Candidate, frame: Frame, fed: bool) -> bool:
    """Return whether a fault of a lamp or coil leaves its cells dark.

    A keep-warm LED may glow on beyond a break of its sensed line; of any, where such LEDs are `fed` past the relay.
    """
    if fault.fault_class is FaultClass.BREAK:
        driven = all(map(frame.is_driven, fault.lines))
        return (driven and not fed) or not any(frame.warm_leds[frame.at(cell)] for cell in fault.cells)
    return fault.fault_class is FaultClass.DEVICE_DEAD


def only_silences(candidate: Candidate, frame: Frame) -> bool:
    """Return whether a fault does no more than keep its cells from showing.

    A stuck lamp or coil shows on a sensed line that is open, but on no driven one.
    """
    if candidate.fault_class in (FaultClass.OPEN, FaultClass.UNPLUGGED):
        return frame.kind == "switch" or all(map(frame.is_driven, candidate.lines))
    return candidate.fault_class in SILENCED_CELLS


def acts_in(fault: Candidate, matrix_id: str) -> bool:
    """Return whether the fault has a line or cell in that matrix, or may take the fuse of lines there."""
    lines = fault.lines
    if not lines:
        return fault.cells[0].matrix == matrix_id
    if lines[0].matrix == matrix_id:
        return True
    return len(lines) + len(fault.fused) > 1 and any(line.matrix == matrix_id for line in (*lines[1:], *fault.fused))
