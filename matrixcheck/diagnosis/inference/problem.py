"""From a layout and its readings to a search problem: which faults may account for what was seen, and at what odds."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.intermittence import wavering
from matrixcheck.diagnosis.evidence.observations import weigh
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fuse, Setting, joint
from matrixcheck.diagnosis.inference.candidate_classes import (
    Item,
    Role,
    Signature,
    changes,
    log_odds,
    may_explain,
    mechanism,
    misfit_locations,
    signature_of,
    variant,
)
from matrixcheck.diagnosis.inference.difference import Difference
from matrixcheck.diagnosis.inference.likelihood import Fit, Private, Subject, subject_of
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import (
    AT_ENDS,
    COMES_AND_GOES,
    DEAD_CELL,
    DISPLACING,
    IN_DEVICES,
    ODD_DIODE,
    OF_BANKS,
    SILENCED_CELLS,
)
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

FIRST = (*OF_BANKS, *AT_ENDS, *IN_DEVICES)
"""What is weighed first, and however late it is: faults of banks, parts and lines, and the cells' own causes."""
MOST_BYTES = 2**27
"""Fits are kept up to 128 MB: thousands in the largest matrix where each changes little, and all that a usual machine
ever has."""
MOST_CHANGES, HOPELESS = 2**15, 60.0
"""Of faults that change more places of readings than this, those are left out against which the readings speak more
strongly, by so many nats, than for all that could ever be explained."""


class Problem(NamedTuple):
    """What the search works on. `private`: chances by matrix. `private_items`: what looks like one dead or stuck cell,
    by cell. `healthy`: the fits of a machine without faults. `whole`: time sufficed to weigh every candidate, and no
    reading was left out. `known`: fits that were worked out before, by matrix, faults and setting. `tested`: every cell
    that a reading exercised, in matrices that are searched elsewhere as well."""

    subjects: tuple[Subject, ...]
    items: tuple[Item, ...]
    private: tuple[Private, ...]
    dead: dict[CellKey, Item]
    stuck: dict[CellKey, Item]
    healthy: tuple[Fit, ...]
    whole: bool
    known: ByteStore[Fit]
    tested: frozenset[CellKey]

    def fits(self, faults: Sequence[Candidate], setting: Setting = USUAL) -> tuple[Fit, ...]:
        """How each matrix' readings fit the faults. What faults of one matrix show doesn't hang on those of others, so
        that it is worked out once for all sets that hold the same ones there."""
        found: list[Fit] = []
        for place, subject in enumerate(self.subjects):
            fit = self.found(place, faults, setting)
            if fit is None:
                there = [fault for fault in faults if acts_in(fault, subject.frame.matrix.id)]
                if len(there) == 1:
                    fit = alone(subject, there[0], setting, self.healthy[place])
                else:
                    fit = subject.fit(there, setting)
                self.known.put((subject.key, frozenset(there), setting), fit, fit.size)
            found.append(fit)
        return tuple(found)

    def fits_of(self, numbers: Iterable[int]) -> tuple[Fit, ...]:
        """How each matrix' readings fit a set of items, given by their numbers."""
        chosen = [self.items[number] for number in sorted(numbers)]
        return self.fits([item.lead for item in chosen], joint(item.setting for item in chosen))

    def found(self, place: int, faults: Iterable[Candidate], setting: Setting) -> Fit | None:
        """The fit of one matrix where it was worked out before."""
        name = self.subjects[place].frame.matrix.id
        there = frozenset(fault for fault in faults if acts_in(fault, name))
        return self.known.get((self.subjects[place].key, there, setting)) if there else self.healthy[place]

    @property
    def private_items(self) -> tuple[Item, ...]:
        """What looks like one dead or one stuck cell."""
        return (*self.dead.values(), *self.stuck.values())

    def own(self, cell: CellKey, stuck: bool) -> Item | None:
        """What looks as if just this cell were dead, or stuck; None where no reading would show it."""
        return (self.stuck if stuck else self.dead).get(cell)

    @property
    def matrix_ids(self) -> tuple[str, ...]:
        """The matrices that have readings, in the order of `subjects`."""
        return tuple(subject.frame.matrix.id for subject in self.subjects)

    def restricted(self, matrix_ids: Collection[str], items: Iterable[int]) -> Problem:
        """The problem of some of its matrices and items: every field that goes by matrices covers exactly these, in
        the order of `subjects`, in each item as well."""
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


def subjects_of(layout: Layout, readings: Sequence[Reading], rates: Rates) -> tuple[Subject, ...]:
    """The matrices that were read, each with its evidence. Raises UsageError for a layout with a larger matrix than
    any may have today."""
    subjects = (subject_of_matrix(matrix, readings, rates) for matrix in layout.matrices)
    return tuple(subject for subject in subjects if subject is not None)


def subject_of_matrix(matrix: Matrix, readings: Sequence[Reading], rates: Rates) -> Subject | None:
    """A matrix with its evidence, None where nothing was read of it. Raises UsageError for one that is larger than any
    may be today."""
    if max(matrix.size) > LARGEST_SIDE:
        rows, columns = matrix.size
        raise UsageError(
            f"{matrix.id} is {rows} by {columns}: up to {LARGEST_SIDE} rows and columns are analysed",
            "split it into smaller matrices",
        )
    frame = Frame(matrix)
    evidence = weigh(frame, readings, rates.reading)
    return subject_of(frame, evidence) if evidence.readings else None


def fit_store() -> ByteStore[Fit]:
    """An empty store of fits."""
    return ByteStore[Fit](MOST_BYTES)


def problem_of(
    subjects: tuple[Subject, ...],
    pool: Iterable[Candidate],
    work: Work | None = None,
    fits: ByteStore[Fit] | None = None,
) -> Problem:
    """Weigh every candidate alone and sort it: worth searching, one cell's private cause, beside others only, or
    without effect. `fits`: those of earlier analyses of the same subjects."""
    everyone = tuple(pool)
    private = [_private_rates(subject.frame, everyone) for subject in subjects]
    sorting = _Sorting(subjects, private, fit_store() if fits is None else fits)
    whole = sorting.weigh(everyone, work or Work(inf)) and not any(each.evidence.left_out for each in subjects)
    for group in sorting.groups.values():
        sorting.sort(group)
    sorting.add_uncommanded_breaks(everyone)
    return Problem(
        subjects,
        tuple(sorting.items),
        tuple(sorting.private),
        sorting.dead,
        sorting.stuck,
        sorting.healthy,
        whole,
        sorting.known,
        frozenset(one.cell for subject in subjects for one in subject.evidence.readings if one.cell is not None),
    )


def _turn(candidate: Candidate) -> int:
    """When a candidate is weighed: what must be, what else there is, and odd diodes, of which each takes long."""
    if candidate.fault_class in FIRST:
        return 0
    return 2 if candidate.fault_class in ODD_DIODE else 1


class _Weighed(NamedTuple):
    """A candidate as it looks alone: for each matrix that it takes hold of, what it changes there."""

    candidate: Candidate
    setting: Setting
    changes: dict[str, Difference]


class _Sorting:
    """Candidates while they are weighed and told apart."""

    def __init__(self, subjects: tuple[Subject, ...], private: list[Private], known: ByteStore[Fit]) -> None:
        self.subjects = subjects
        self.private = private
        self.healthy = tuple(subject.fit(()) for subject in subjects)
        self.known = known
        self.groups: dict[tuple[Signature, str, float], list[_Weighed]] = {}
        self.items: list[Item] = []
        self.dead: dict[CellKey, Item] = {}
        self.stuck: dict[CellKey, Item] = {}

    def weigh(self, everyone: Iterable[Candidate], work: Work) -> bool:
        """Groups what looks and works the same, and as likely so where it comes and goes; whether time sufficed for
        all."""
        where = misfit_locations(self.subjects, self.healthy)
        nothing = signature_of(self.subjects, self.healthy)
        unsteady = wavering([reading for subject in self.subjects for reading in subject.evidence.readings])
        for candidate in sorted([each for each in everyone if may_explain(each, where)], key=_turn):
            if work.over and _turn(candidate):
                return False
            for setting in _settings(candidate, self.subjects, unsteady):
                work.spend(self._cost(candidate))
                fits = self._alone(candidate, setting)
                weighed = _Weighed(candidate, setting, self._changes(fits))
                if self._is_out_of_reach(weighed):
                    continue
                signature = signature_of(self.subjects, fits)
                if signature != nothing:
                    odds = round(sum(fit.bare for fit in fits), 6) if setting.loose else 0.0
                    self.groups.setdefault((signature, mechanism(candidate, setting), odds), []).append(weighed)
                elif candidate.fault_class in ODD_DIODE:
                    self.items.append(self._item([weighed], Role.ONLY_JOINT))
        return True

    def _is_out_of_reach(self, weighed: _Weighed) -> bool:
        """Whether a fault that changes very much is so far from what was seen that no set with it could be likely."""
        if sum(len(each.places) for each in weighed.changes.values()) <= MOST_CHANGES:
            return False
        explained = sum(each.evidence.ceiling for each in self.subjects) - sum(fit.bare for fit in self.healthy)
        return evidence_against(self.subjects, weighed.changes) > explained + HOPELESS

    def add_uncommanded_breaks(self, everyone: Iterable[Candidate]) -> None:
        """What would silence just lamps or coils that nobody commanded: where commands reach other cells than their
        own, they may have been called for all the same. One cell's causes are its own; breaks are for company."""
        classes = {weighed.candidate.fault_class for group in self.groups.values() for weighed in group}
        if classes.isdisjoint(DISPLACING):
            return
        dark = {cell for subject, fit in zip(self.subjects, self.healthy, strict=True) for cell in _dark(subject, fit)}
        groups: dict[tuple[CellKey, ...], list[_Weighed]] = {}
        for candidate in everyone:
            if candidate.fault_class in SILENCED_CELLS and dark.issuperset(candidate.cells):
                fits = tuple(
                    subject.without(fit, candidate.cells) if acts_in(candidate, subject.frame.matrix.id) else fit
                    for subject, fit in zip(self.subjects, self.healthy, strict=True)
                )
                groups.setdefault(candidate.cells, []).append(_Weighed(candidate, USUAL, self._changes(fits)))
        for cells, group in groups.items():
            if len(cells) == 1:
                self.sort(group)
            else:
                self.items.append(self._item(group, Role.ONLY_JOINT))

    def sort(self, group: list[_Weighed]) -> None:
        """Makes an item of what looks the same, with what of it works differently in company beside it."""
        item = self._item(group, Role.ALONE)
        own = None if item.setting.loose else next((one for one in item.members if one.fault_class in IN_DEVICES), None)
        if own is None:
            self.items.append(item)
        else:
            cell, is_dead = own.cells[0], own.fault_class is FaultClass.DEVICE_DEAD
            item = item._replace(lead=own)
            for subject, chances in zip(self.subjects, self.private, strict=True):
                if subject.frame.matrix.id == cell.matrix:
                    (chances.dead if is_dead else chances.stuck)[subject.frame.at(cell)] = _chance(item.members)
            (self.dead if is_dead else self.stuck)[cell] = item
        if all(subject.evidence.exercises.alone for subject in self.subjects):
            return  # marks alone tell nothing of company
        if own is not None:
            self.items.append(item._replace(role=Role.EXPLICIT))
        variants: dict[Hashable, list[_Weighed]] = {}
        for weighed in group:
            variants.setdefault(variant(weighed.candidate), []).append(weighed)
        variants.pop(variant(item.lead), None)
        self.items += [self._item(alike, Role.SUBSTITUTE)._replace(of=item.lead) for alike in variants.values()]

    def _cost(self, candidate: Candidate) -> float:
        return sum(evaluation(each) for each in self.subjects if acts_in(candidate, each.frame.matrix.id))

    def _alone(self, candidate: Candidate, setting: Setting) -> tuple[Fit, ...]:
        """The fit of every matrix to one fault; those that it doesn't touch keep their healthy one."""
        found = []
        for subject, healthy in zip(self.subjects, self.healthy, strict=True):
            if acts_in(candidate, subject.frame.matrix.id):
                key = subject.key, frozenset((candidate,)), setting
                fit = self.known.get(key)
                if fit is None:
                    fit = alone(subject, candidate, setting, healthy)
                    self.known.put(key, fit, fit.size)
                found.append(fit)
            else:
                found.append(healthy)
        return tuple(found)

    def _changes(self, fits: Sequence[Fit]) -> dict[str, Difference]:
        found = zip(self.subjects, fits, self.healthy, strict=True)
        return {subject.frame.matrix.id: changes(subject, fit) for subject, fit, healthy in found if fit is not healthy}

    def _item(self, group: list[_Weighed], role: Role) -> Item:
        members = tuple(dict.fromkeys(weighed.candidate for weighed in group))
        lead, setting, differing = max(group, key=lambda weighed: weighed.candidate.rate)
        return Item(lead, members, log_odds(_chance(members)), setting, differing, role)


def evidence_against(subjects: Iterable[Subject], changed: Mapping[str, Difference]) -> float:
    """How strongly readings speak against these changes to a healthy machine, by matrix, in nats: the sum over the
    places that they make worse."""
    loss = 0.0
    for subject in subjects:
        found = changed.get(subject.frame.matrix.id)
        if found is not None:
            usual = subject.evidence.told(subject.usual.ravel()[found.places], found.places)
            told = subject.evidence.told(found.states, found.places)
            loss += float(np.maximum(usual - told, 0.0).sum())
    return loss


def alone(subject: Subject, candidate: Candidate, setting: Setting, healthy: Fit) -> Fit:
    """How the readings of one matrix fit one fault. Most faults silence cells and do no more, which is less work."""
    if setting == USUAL and subject.lights_by_cell and only_silences(candidate, subject.frame):
        return subject.without(healthy, [cell for cell in candidate.cells if cell.matrix == subject.frame.matrix.id])
    return subject.fit((candidate,), setting)


def only_silences(candidate: Candidate, frame: Frame) -> bool:
    """Whether a fault does no more than keep its cells from showing. A lamp or a coil that is stuck shows on a sensed
    line that is open, but on no driven one."""
    if candidate.fault_class in (FaultClass.OPEN, FaultClass.UNPLUGGED):
        return frame.kind == "switch" or all(map(frame.is_driven, candidate.lines))
    return candidate.fault_class in SILENCED_CELLS


def _dark(subject: Subject, healthy: Fit) -> list[CellKey]:
    """The lamps or coils that no reading would show, were the machine healthy."""
    if subject.frame.kind == "switch" or subject.evidence.exercises.alone:
        return []
    return [cell.key for (s, d), cell in subject.frame.cells.items() if not healthy.state[s, :, d].any()]


def _chance(members: Iterable[Candidate]) -> float:
    return min(sum(member.rate for member in members), 0.5)


def acts_in(fault: Candidate, matrix_id: str) -> bool:
    """Whether the fault takes hold of anything in that matrix."""
    if fault.lines:
        return any(line.matrix == matrix_id for line in fault.lines)
    return fault.cells[0].matrix == matrix_id


def _settings(candidate: Candidate, subjects: Sequence[Subject], unsteady: Collection[CellKey]) -> tuple[Setting, ...]:
    """The settings that make a difference to a fault. Where cells come and go, what may be loose may do so."""
    lasting = _lasting_settings(candidate, subjects)
    if may_be_loose(candidate) and any(cell in unsteady for cell in candidate.cells):
        return (*lasting, Setting(loose=frozenset((candidate,))))
    return lasting


def may_be_loose(candidate: Candidate) -> bool:
    """Whether a fault may come and go by itself: contacts, plugs, wires, switches and sockets may, drivers and diodes
    seldom do (common practice, no source)."""
    if candidate.fault_class is FaultClass.OPEN:
        return candidate.part is None or part_class(candidate.part) == "connector"
    return candidate.fault_class in COMES_AND_GOES


def _lasting_settings(candidate: Candidate, subjects: Sequence[Subject]) -> tuple[Setting, ...]:
    """The settings that make a difference to a fault: a grounded driven line of lamps or coils goes dark alone or takes
    its fuse with it; an LED passes current through its odd diode one way only, or both; inputs of 12 V switch at a low
    level, or at half their supply."""
    if candidate.fault_class is FaultClass.GROUNDED:
        line = candidate.lines[0]
        for subject in subjects:
            if line.matrix == subject.frame.matrix.id and subject.frame.is_driven(line):
                ways = {"lamp": (Fuse.HOLDS, Fuse.GONE), "coil": tuple(Fuse)}.get(subject.frame.kind, (Fuse.HOLDS,))
                return tuple(Setting(fuse) for fuse in ways)
    if candidate.fault_class in ODD_DIODE:
        for subject in subjects:
            cell = subject.frame.matrix.by_key.get(candidate.cells[0])
            if cell is not None and cell.notes.fitted == "led":
                return USUAL, Setting(both_ways=True)
            if (
                cell is not None
                and subject.frame.fuse_reads_closed
                and candidate.fault_class is FaultClass.DIODE_REVERSED
            ):
                return USUAL, Setting(high_inputs=True)
    return (USUAL,)


def _private_rates(frame: Frame, pool: Iterable[Candidate]) -> Private:
    dead, stuck = np.zeros(frame.shape), np.zeros(frame.shape)
    for candidate in pool:
        if candidate.lines or candidate.cells[0].matrix != frame.matrix.id:
            continue
        place = frame.at(candidate.cells[0])
        if candidate.fault_class in DEAD_CELL:
            dead[place] += candidate.rate
        elif candidate.fault_class is FaultClass.DEVICE_STUCK:
            stuck[place] += candidate.rate
    return Private(dead, stuck)
