"""Find ambiguity groups: faults that, swapped for each other within a set, leave every reading as it was."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.explanation.alternatives import Alternatives
from matrixcheck.diagnosis.explanation.completed_sets import Completed, Group, Part
from matrixcheck.diagnosis.explanation.member_weights import Fittings
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fitting, Fuse, fitting_of, joint
from matrixcheck.diagnosis.inference.candidate_classes import Item, Signature, signature_of, variant
from matrixcheck.diagnosis.inference.difference import difference
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.problem import Problem, acts_in
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DARKENING, IN_DEVICES
from matrixcheck.diagnosis.machine.matrix_frame import Bools, States
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey

IDLE = 0.1
"""Nats within which readings count as equally likely; a single mark weighs some 4. Halved or doubled: no answer of 15
moves."""
SCREENED = 4
"""Exercises compared first, those that change most without the fault: they rule out most alternatives. Halved or
doubled: no answer of 15 moves."""
MOST_REMEMBERED = 2**14
"""Predictions of matrices with so few places are remembered. Of larger ones a few exercises are compared first
instead."""


def group_alone(part: Part) -> Group:
    """Return the faults with the signature of a part when each is the only fault."""
    members = part.item.members if part.item else (part.lead,)
    setting = part.item.setting if part.item else USUAL
    fitted = ((one, fitting_of(one, setting)) for one in members)
    return Group(*likeliest_first(fitted), _item_numbers(part), _private_of(part))


def group_in_context(alternatives: Alternatives, completed: Completed, place: int, work: Work) -> Group:
    """Return the faults that may replace the part at `place`.

    Swapped in, they leave every reading as it was, and make none of the other parts redundant. Once the work is used
    up, further ones are left out. A group that was found before costs as much as when it was found.
    """
    problem, part = alternatives.problem, completed.parts[place]
    key = tuple((other.lead, other.number) for other in completed.parts), completed.setting, place
    known = alternatives.groups.get(key)
    if known is not None and work.spent + known[1] < work.limit:
        work.spend(known[1])
        return known[0]
    leads = [other.lead for index, other in enumerate(completed.parts) if index != place]
    wanted = [
        subject.evidence.with_glow_as_seen(fit.state)
        for subject, fit in zip(problem.subjects, completed.fits, strict=True)
    ]
    rest = _Remainder(alternatives, completed, leads, wanted)
    smaller = [_Remainder(alternatives, completed, [*leads[:at], *leads[at + 1 :]], wanted) for at in range(len(leads))]
    own = _same_variant(problem, part.item, part.lead) if part.item else (part.lead,)
    members = [(one, fitting_of(one, completed.setting)) for one in own]
    items, private = set(_item_numbers(part)), set(_private_of(part))
    cost, before, whole = sum(map(evaluation, problem.subjects)), work.spent, True
    for index, other in alternatives.of(completed, part, rest.fits):
        if work.over:
            whole = False
            break
        work.spend(cost)
        if rest.predicts_the_same(other) and not any(remainder.predicts_the_same(other) for remainder in smaller):
            setting = joint((other.setting, completed.setting))
            members += [(one, fitting_of(one, setting)) for one in _same_variant(problem, other, other.lead)]
            if index is not None:
                items.add(index)
            if other.lead.fault_class in IN_DEVICES:
                private.add((other.lead.cells[0], other.lead.fault_class is not FaultClass.DEVICE_DEAD))
    group = Group(*likeliest_first(members), frozenset(items), frozenset(private))
    if whole:
        alternatives.groups[key] = group, work.spent - before
    return group


def observable_signature(problem: Problem, fits: Sequence[Fit]) -> Signature:
    """Return a key for the predictions wherever something was seen, as far as readings can distinguish them."""
    observable = []
    for subject, fit in zip(problem.subjects, fits, strict=True):
        states = subject.evidence.with_glow_as_seen(fit.state)
        observable.append(fit._replace(differs=difference(states, subject.usual)))
    return signature_of(problem.subjects, observable)


class _Remainder:
    """Hold the other faults of a set, to test whether a fault added to them predicts what the whole set does."""

    def __init__(
        self, alternatives: Alternatives, completed: Completed, leads: Sequence[Candidate], wanted: Sequence[States]
    ) -> None:
        self.alternatives = alternatives
        self.problem = alternatives.problem
        self.setting = completed.setting
        self.leads = leads
        self.darkens = all(lead.fault_class in DARKENING for lead in leads)
        self.completed = completed
        self.wanted = wanted
        self._screenings: dict[int, tuple[Subject, States] | None] = {}

    @cached_property
    def fits(self) -> tuple[Fit, ...]:
        """Return the fits of these faults."""
        return self.problem.fits(self.leads, self.setting)

    def predicts_the_same(self, other: Item) -> bool:
        """Return whether these faults and `other` predict what the whole set does."""
        if not all(self._agrees_in(place, other) for place in range(len(self.wanted))):
            return False
        setting = joint((other.setting, self.setting))
        if not setting.loose:
            return True
        fits = self.problem.fits([*self.leads, other.lead], setting)
        bare = sum(fit.bare for fit in self.completed.fits)
        return abs(sum(fit.bare for fit in fits) - bare) < IDLE

    def _agrees_in(self, place: int, other: Item) -> bool:
        subject = self.problem.subjects[place]
        if not acts_in(other.lead, subject.frame.matrix.id):
            return self._agree_without[place]
        known = self._known_state(place, other)
        if known is not None:
            return self._agrees_as(place, known)
        faults, setting = [*self._there[place], other.lead], joint((other.setting, self.setting))
        if subject.evidence.seen.size <= MOST_REMEMBERED:
            return self._agrees_as(place, self.alternatives.state(place, faults, setting))
        found = self.problem.found(place, faults, setting)
        if found is not None:
            return self._agrees_as(place, found.state)
        screening = self._screening(place)
        if screening is not None and setting.fuse is not Fuse.GOES:
            few, wanted = screening
            if not _agrees(few.evidence, few.evidence.known, few.shows(faults, setting), wanted):
                return False
        return self._agrees_as(place, subject.shows(faults, setting))

    def _agrees_as(self, place: int, state: States) -> bool:
        """Return whether this prediction of a matrix is that of the whole set."""
        evidence = self.problem.subjects[place].evidence
        return _agrees(evidence, self.alternatives.known[place], state, self.wanted[place])

    @cached_property
    def _there(self) -> list[list[Candidate]]:
        """Return for each matrix those of these faults that act in it."""
        return [[lead for lead in self.leads if acts_in(lead, name)] for name in self.problem.matrix_ids]

    @cached_property
    def _agree_without(self) -> list[bool]:
        """Return for each matrix whether these faults alone predict what the whole set does."""
        return [self._agrees_as(place, fit.state) for place, fit in enumerate(self.fits)]

    def _screening(self, place: int) -> tuple[Subject, States] | None:
        if place not in self._screenings:
            self._screenings[place] = _screening_of(self.problem.subjects[place], self.wanted[place], self.fits[place])
        return self._screenings[place]

    def _known_state(self, place: int, other: Item) -> States | None:
        """Return the prediction with `other` where it needs no evaluation, else None.

        Faults that only darken cells add up: what each does alone it does beside the others.
        """
        fit = self.fits[place]
        changed = other.changes.get(self.problem.subjects[place].frame.matrix.id)
        if self.darkens and other.lead.fault_class in DARKENING:
            if changed is None:
                return fit.state
            if not changed.states.any():
                state = fit.state.copy()
                state.ravel()[changed.places] = Predicted.DARK
                return state
        return None


def _screening_of(subject: Subject, wanted: States, without: Fit) -> tuple[Subject, States] | None:
    """Return the matrix in the exercises that change most, and what is wanted there; None where that saves nothing."""
    evidence = subject.evidence
    differ = ((wanted != evidence.with_glow_as_seen(without.state)) & evidence.known).sum(axis=(0, 2))
    few = sorted(np.argsort(-differ, kind="stable")[:SCREENED].tolist())
    if evidence.exercises.alone or len(differ) <= 2 * SCREENED:
        return None
    return subject._replace(evidence=evidence.only(few), usual=subject.usual[:, few]), wanted[:, few]


def _agrees(evidence: Evidence, known: Bools, state: States, wanted: States) -> bool:
    """Return whether a prediction is the wanted one, with every glow as it was seen, where anything was seen.

    `known`: where that is.
    """
    differ = (state != wanted) & known
    if np.count_nonzero(differ & (state != Predicted.GLOW)):
        return False
    return not np.count_nonzero(differ) or not ((evidence.with_glow_as_seen(state) != wanted) & known).any()


def _same_variant(problem: Problem, item: Item, lead: Candidate) -> tuple[Candidate, ...]:
    """Return the members that interact as the lead does; where only marks were read, all of them do."""
    if all(subject.evidence.exercises.alone for subject in problem.subjects):
        return item.members
    return tuple(one for one in item.members if variant(one) == variant(lead))


def _item_numbers(part: Part) -> frozenset[int]:
    return frozenset() if part.number is None else frozenset((part.number,))


def _private_of(part: Part) -> frozenset[tuple[CellKey, bool]]:
    return frozenset() if part.cell is None else frozenset(((part.cell, part.stuck),))


def likeliest_first(members: Iterable[tuple[Candidate, Fitting]]) -> tuple[tuple[Candidate, ...], Fittings]:
    """Return each candidate once, likeliest first, and all ways in which each was fitted.

    Those that are as likely go by class and name, so that their order doesn't hang on which solver served.
    """
    found: dict[Candidate, dict[Fitting, None]] = {}
    for candidate, fitting in members:
        found.setdefault(candidate, {})[fitting] = None
    order = sorted(found, key=_rank)
    return tuple(order), tuple(tuple(found[candidate]) for candidate in order)


def _rank(candidate: Candidate) -> tuple[float, int, str, tuple[LineKey, ...], int, str]:
    place = (candidate.part or "", candidate.lines, candidate.after or 0, f"{candidate.cells} {candidate.other}")
    return -candidate.rate, _CLASSES[candidate.fault_class], *place


_CLASSES = {fault: number for number, fault in enumerate(FaultClass)}
