"""Weigh every candidate alone and merge those of one signature: from a pool of candidates to a problem."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting
from matrixcheck.diagnosis.inference.candidate_classes import (
    Item,
    Misfits,
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
from matrixcheck.diagnosis.inference.fault_settings import settings_of, share_of
from matrixcheck.diagnosis.inference.likelihood import Fit, Private, Subject
from matrixcheck.diagnosis.inference.problem import Problem, acts_in, fit_store, fit_to, only_silences
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import (
    AT_ENDS,
    BETWEEN_TWO,
    DEAD_CELL,
    DISPLACING,
    IN_DEVICES,
    LASTING,
    ODD_DIODE,
    OF_BANKS,
    SILENCED_CELLS,
)
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey

FIRST = (*OF_BANKS, *AT_ENDS, *IN_DEVICES)
"""Weighed first, even with no work left, as they are few and common: faults of banks and line ends, private causes."""
MOST_FIRST = 400e6
"""So much work they may take all the same: only in a matrix of some 50 lines a side, read through, is it too little.
Halved or doubled: no answer of 15 moves."""
QUICKER = 30
"""What only silences a few cells is weighed so many times as quickly: the model isn't asked. Halved or doubled: no
answer of 15 moves."""
MOST_CHANGES, HOPELESS = 2**15, 60.0
"""A fault that changes more places than the first is left out where the evidence against it exceeds all that could be
explained by the second, in nats: no rate makes up for that much. A place takes 5 bytes: the others stay small. Halved
or doubled: no answer of 15 moves."""
MOST_LIKELY = 0.5
"""No item is taken for likelier than this before anything was read. Halved or doubled: no answer of 15 moves."""


def problem_of(
    subjects: tuple[Subject, ...],
    pool: Iterable[Candidate],
    work: Work | None = None,
    fits: ByteStore[Fit] | None = None,
) -> Problem:
    """Weigh every candidate alone and give it a role: searched, a private cause, joint only, or without effect.

    Without `work` there is no bound. `fits`: those of earlier analyses of the same subjects.
    """
    everyone = tuple(pool)
    private = [_private_rates(subject.frame, everyone) for subject in subjects]
    weighing = _CandidateWeighing(subjects, private, fit_store() if fits is None else fits)
    whole = weighing.weigh(everyone, work or Work(inf)) and not any(each.evidence.left_out for each in subjects)
    for group in weighing.groups.values():
        weighing.add_items(group)
    weighing.add_uncommanded_breaks(everyone)
    return Problem(
        subjects,
        tuple(weighing.items),
        tuple(weighing.private),
        weighing.dead,
        weighing.stuck,
        weighing.healthy,
        whole,
        weighing.known,
        frozenset(one.cell for subject in subjects for one in subject.evidence.readings if one.cell is not None),
    )


def _weighing_order(candidate: Candidate) -> int:
    """Return 0, 1 or 2, rising: candidates that must be weighed, others, and odd diodes, which cost most."""
    if candidate.fault_class in FIRST:
        return 0
    return 2 if candidate.fault_class in ODD_DIODE else 1


class _Weighed(NamedTuple):
    """Hold a candidate weighed alone: what it changes, by each matrix that it acts in.

    `share`: of its rate, that it has in this setting.
    """

    candidate: Candidate
    setting: Setting
    changes: dict[str, Difference]
    share: float = 1.0


class _CandidateWeighing:
    """Collect items and private causes while candidates are weighed."""

    def __init__(self, subjects: tuple[Subject, ...], private: list[Private], known: ByteStore[Fit]) -> None:
        self.subjects = subjects
        self.private = private
        self.healthy = tuple(subject.fit(()) for subject in subjects)
        self.known = known
        self.of_marks = all(subject.evidence.exercises.alone for subject in subjects)
        self.opens: dict[Hashable, Fit] = {}
        self.groups: dict[tuple[Signature, str, float], list[_Weighed]] = {}
        self.items: list[Item] = []
        self.dead: dict[CellKey, Item] = {}
        self.stuck: dict[CellKey, Item] = {}

    def weigh(self, everyone: Iterable[Candidate], work: Work) -> bool:
        """Group candidates by signature, mechanism and, where loose, likelihood; return whether all were weighed."""
        where = misfit_locations(self.subjects, self.healthy)
        nothing = signature_of(self.subjects, self.healthy)
        unsteady = intermittent_cells([reading for subject in self.subjects for reading in subject.evidence.readings])
        likely = [(each, self._places(each)) for each in everyone if may_explain(each, where)]
        for subject in self.subjects:
            subject.work_out_ahead((), [each for each, _ in likely if each.fault_class in ODD_DIODE])
        ordered = [(_weighing_order(each), self._cost(each, places), each, places) for each, places in likely]
        for order, cost, candidate, places in sorted(ordered, key=lambda entry: entry[:2]):
            if work.over and (order or work.spent > MOST_FIRST):
                return False
            settings = settings_of(candidate, self.subjects, unsteady)
            for setting in settings:
                work.spend(cost)
                fits = self._fits_alone(candidate, setting, places)
                weighed = _Weighed(candidate, setting, self._changes(fits), share_of(setting, settings))
                if self._is_hopeless(weighed):
                    continue
                signature = tuple(
                    (name, weighed.changes[name].digest if name in weighed.changes else usual)
                    for name, usual in nothing
                )
                if signature != nothing:
                    odds = round(sum(fit.bare for fit in fits), 6) if setting.loose else 0.0
                    self.groups.setdefault((signature, mechanism(candidate, setting), odds), []).append(weighed)
                elif self._shows_jointly(candidate, where):
                    self.items.append(self._item([weighed], Role.ONLY_JOINT))
        return True

    def _shows_jointly(self, silent: Candidate, where: Misfits) -> bool:
        """Return whether a fault that changes nothing alone may do so beside others.

        Rows that touch or are crossed meet on a side of the bank where both have coils: a stuck relay selects another
        side.
        """
        if silent.fault_class in BETWEEN_TWO:
            return any(each.frame.selected and acts_in(silent, each.frame.matrix.id) for each in self.subjects)
        return silent.fault_class in ODD_DIODE or (silent.fault_class in LASTING and silent.lines[0] in where.held)

    def _is_hopeless(self, weighed: _Weighed) -> bool:
        """Return whether a fault that changes many places fits so badly that no set with it could be likely."""
        if sum(len(each.places) for each in weighed.changes.values()) <= MOST_CHANGES:
            return False
        explained = sum(each.evidence.ceiling for each in self.subjects) - sum(fit.bare for fit in self.healthy)
        return evidence_against(self.subjects, weighed.changes) > explained + HOPELESS

    def add_uncommanded_breaks(self, everyone: Iterable[Candidate]) -> None:
        """Add what silences only lamps or coils that nobody commanded.

        Where a displacing fault is in the pool, commands may have reached these cells all the same. Faults of one cell
        become its private cause; breaks are tried jointly only.
        """
        classes = {weighed.candidate.fault_class for group in self.groups.values() for weighed in group}
        if classes.isdisjoint(DISPLACING):
            return
        dark = {
            cell
            for subject, fit in zip(self.subjects, self.healthy, strict=True)
            for cell in _uncommanded(subject, fit)
        }
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
                self.add_items(group)
            else:
                self.items.append(self._item(group, Role.ONLY_JOINT))

    def add_items(self, group: list[_Weighed]) -> None:
        """Make an item of one signature's candidates, and a substitute of each variant that interacts differently."""
        item = self._item(group, Role.ALONE)
        own = None if item.setting.loose else next((one for one in item.members if one.fault_class in IN_DEVICES), None)
        if own is None:
            self.items.append(item)
        else:
            cell, is_dead = own.cells[0], own.fault_class is FaultClass.DEVICE_DEAD
            item = item._replace(lead=own)
            for subject, chances in zip(self.subjects, self.private, strict=True):
                if subject.frame.matrix.id == cell.matrix:
                    whole = min(sum(member.rate for member in item.members), MOST_LIKELY)
                    (chances.dead if is_dead else chances.stuck)[subject.frame.at(cell)] = whole
            (self.dead if is_dead else self.stuck)[cell] = item
        if self.of_marks:
            return  # marks alone show no interaction
        if own is not None:
            self.items.append(item._replace(role=Role.EXPLICIT))
        if len(group) > 1:
            self.items += self._substitutes(item, group)

    def _substitutes(self, item: Item, group: list[_Weighed]) -> list[Item]:
        """Return an item of each variant among its candidates that interacts differently from its lead."""
        variants: dict[Hashable, list[_Weighed]] = {}
        for weighed in group:
            variants.setdefault(variant(weighed.candidate), []).append(weighed)
        variants.pop(variant(item.lead), None)
        return [self._item(alike, Role.SUBSTITUTE)._replace(of=item.lead) for alike in variants.values()]

    def _places(self, candidate: Candidate) -> list[int]:
        """Return the indices of the subjects that a fault acts in."""
        return [at for at, subject in enumerate(self.subjects) if acts_in(candidate, subject.frame.matrix.id)]

    def _cost(self, candidate: Candidate, places: Iterable[int]) -> float:
        there = [self.subjects[at] for at in places]
        return sum(evaluation(each) / (QUICKER if self._is_quick(candidate, each) else 1) for each in there)

    def _is_quick(self, candidate: Candidate, subject: Subject) -> bool:
        return subject.lights_by_cell and only_silences(candidate, subject.frame)

    def _fits_alone(self, candidate: Candidate, setting: Setting, places: Iterable[int]) -> tuple[Fit, ...]:
        """Return the fit of every matrix to one fault; but for those at `places` they keep their healthy fit."""
        found, only = list(self.healthy), frozenset((candidate,))
        for at in places:
            subject = self.subjects[at]
            key = subject.key, only, setting
            fit = self.known.get(key)
            if fit is None:
                fit = self._fit_alone(subject, candidate, setting, self.healthy[at])
                self.known.put(key, fit, fit.size)
            found[at] = fit
        return tuple(found)

    def _fit_alone(self, subject: Subject, candidate: Candidate, setting: Setting, healthy: Fit) -> Fit:
        """Return the fit of one matrix to one fault: once for all parts that may leave the same lines open."""
        if candidate.fault_class is not FaultClass.OPEN or setting.loose:
            return fit_to(subject, (candidate,), setting, healthy)
        key = subject.key, candidate.lines, mechanism(candidate, setting), setting
        fit = self.opens.get(key)
        if fit is None:
            fit = self.opens[key] = fit_to(subject, (candidate,), setting, healthy)
        return fit

    def _changes(self, fits: Sequence[Fit]) -> dict[str, Difference]:
        found = zip(self.subjects, fits, self.healthy, strict=True)
        return {subject.frame.matrix.id: changes(subject, fit) for subject, fit, healthy in found if fit is not healthy}

    def _item(self, group: list[_Weighed], role: Role) -> Item:
        members = tuple(dict.fromkeys(weighed.candidate for weighed in group))
        lead, setting, differing, _ = max(group, key=lambda weighed: weighed.candidate.rate)
        rates = {weighed.candidate: weighed.candidate.rate * weighed.share for weighed in group}
        return Item(lead, members, log_odds(min(sum(rates.values()), MOST_LIKELY)), setting, differing, role)


def evidence_against(subjects: Iterable[Subject], changed: Mapping[str, Difference]) -> float:
    """Return the log-likelihood, in nats, lost at places that these changes to a healthy machine make worse.

    `changed`: the changes, by matrix.
    """
    loss = 0.0
    for subject in subjects:
        found = changed.get(subject.frame.matrix.id)
        if found is not None:
            usual = subject.evidence.log_weights_at(subject.usual.ravel()[found.places], found.places)
            now = subject.evidence.log_weights_at(found.states, found.places)
            loss += float(np.maximum(usual - now, 0.0).sum())
    return loss


def _uncommanded(subject: Subject, healthy: Fit) -> list[CellKey]:
    """Return the lamps or coils that no reading of a healthy machine would show."""
    if subject.frame.kind == "switch" or subject.evidence.exercises.alone:
        return []
    return [cell.key for (s, d), cell in subject.frame.cells.items() if not healthy.state[s, :, d].any()]


def _private_rates(frame: Frame, pool: Iterable[Candidate]) -> Private:
    """Sum the rates of private causes, by (sensed, driven)."""
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
