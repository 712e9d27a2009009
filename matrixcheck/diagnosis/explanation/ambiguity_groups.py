"""Faults that no reading tells apart: swapped for each other within a set, they leave every reading as it was."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.explanation.member_weights import Fittings
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fitting, Fuse, Setting, fitting_of, joint
from matrixcheck.diagnosis.inference.candidate_classes import Item, Signature, signature_of, variant
from matrixcheck.diagnosis.inference.difference import difference
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.problem import Problem, acts_in
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DARKENING, DISPLACING, LASTING, LIGHTING, ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Bools, States
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey, Side

ALTERNATIVES = 60
"""So many of the likest are tried, and besides those that may change far more in company than alone."""
IDLE = 0.1
"""Nats within which readings are as likely one way as the other."""
GLANCED = 4
"""Exercises by which an alternative is judged first: those in which most changes without the fault it stands in for."""
LEAST_SHARED = 0.08
"""What an alternative changes alone must be at least so much of what it stands in for changes in the set."""


class Group(NamedTuple):
    """Faults that no reading tells apart, likeliest first. `fittings`: how each was fitted, in their order. `items`:
    the search's items among them. `cell`: set where they are one cell's private cause, dead or stuck (`stuck`)."""

    members: tuple[Candidate, ...]
    fittings: Fittings
    items: frozenset[int]
    cell: CellKey | None = None
    stuck: bool = False


class Part(NamedTuple):
    """One fault of a completed set: a search item (`number`), or one cell's private cause."""

    lead: Candidate
    number: int | None
    cell: CellKey | None
    stuck: bool
    item: Item | None


class Completed(NamedTuple):
    """A set with the private causes that its readings call for, and what all of it predicts."""

    parts: tuple[Part, ...]
    setting: Setting
    fits: tuple[Fit, ...]
    signature: Signature


def group_alone(part: Part) -> Group:
    """The faults that look like a part of a set when each is the only one."""
    members = part.item.members if part.item else (part.lead,)
    setting = part.item.setting if part.item else USUAL
    fitted = ((one, fitting_of(one, setting)) for one in members)
    return Group(*likeliest_first(fitted), _items(part), part.cell, part.stuck)


def group_in_context(problem: Problem, completed: Completed, place: int, work: Work) -> Group:
    """The faults that may stand in for one part: swapped in, they leave every reading as it was, and need each of the
    others still. Once the work is used up, the rest is left out."""
    part = completed.parts[place]
    leads = [other.lead for index, other in enumerate(completed.parts) if index != place]
    wanted = [
        subject.evidence.with_glow_as_seen(fit.state)
        for subject, fit in zip(problem.subjects, completed.fits, strict=True)
    ]
    rest = _Base(problem, completed, leads, wanted)
    fewer = [_Base(problem, completed, [*leads[:at], *leads[at + 1 :]], wanted) for at in range(len(leads))]
    own = _of_one_kind(problem, part.item, part.lead) if part.item else (part.lead,)
    members = [(one, fitting_of(one, completed.setting)) for one in own]
    items = set(_items(part))
    cost = sum(map(evaluation, problem.subjects))
    for index, other in _alternatives(problem, completed, part, rest.fits):
        if work.over:
            break
        work.spend(cost)
        if rest.tells_with(other) and not any(base.tells_with(other) for base in fewer):
            setting = joint((other.setting, completed.setting))
            members += [(one, fitting_of(one, setting)) for one in _of_one_kind(problem, other, other.lead)]
            if index is not None:
                items.add(index)
    return Group(*likeliest_first(members), frozenset(items), part.cell, part.stuck)


def told_by(problem: Problem, fits: Sequence[Fit]) -> Signature:
    """What shows at every place of every reading where something was seen, as far as readings can tell."""
    told = []
    for subject, fit in zip(problem.subjects, fits, strict=True):
        states = subject.evidence.with_glow_as_seen(fit.state)
        told.append(fit._replace(differs=difference(states, subject.usual)))
    return signature_of(problem.subjects, told)


class _Base:
    """Faults of a set to which another one is added, to see whether they then predict what all of the set does."""

    def __init__(
        self, problem: Problem, completed: Completed, leads: Sequence[Candidate], wanted: Sequence[States]
    ) -> None:
        self.problem = problem
        self.setting = completed.setting
        self.leads = leads
        self.fits = problem.fits(leads, completed.setting)
        self.darkens = all(lead.fault_class in DARKENING for lead in leads)
        self.bare = sum(fit.bare for fit in completed.fits)
        self.wanted = wanted
        self.glances = [
            _glance(subject, wanted, fit)
            for subject, wanted, fit in zip(problem.subjects, self.wanted, self.fits, strict=True)
        ]

    def tells_with(self, other: Item) -> bool:
        """Whether this is so with that one."""
        if not all(self._tells_in(place, other) for place in range(len(self.wanted))):
            return False
        setting = joint((other.setting, self.setting))
        if not setting.loose:
            return True
        fits = self.problem.fits([*self.leads, other.lead], setting)
        return abs(sum(fit.bare for fit in fits) - self.bare) < IDLE

    def _tells_in(self, place: int, other: Item) -> bool:
        subject = self.problem.subjects[place]
        known = self._known_state(place, other)
        if known is not None:
            return _tells(subject.evidence, known, self.wanted[place])
        faults, setting = [*self.leads, other.lead], joint((other.setting, self.setting))
        found = self.problem.found(place, faults, setting)
        if found is not None:
            return _tells(subject.evidence, found.state, self.wanted[place])
        glance = self.glances[place]
        if glance is not None and setting.fuse is not Fuse.GOES:
            few, wanted = glance
            if not _tells(few.evidence, few.shows(faults, setting), wanted):
                return False
        return _tells(subject.evidence, subject.shows(faults, setting), self.wanted[place])

    def _known_state(self, place: int, other: Item) -> States | None:
        """What shows, where that takes no reckoning: faults that only make cells dark do so in any company of their
        like, and what they do alone tells it."""
        subject, fit = self.problem.subjects[place], self.fits[place]
        if not acts_in(other.lead, subject.frame.matrix.id):
            return fit.state
        changed = other.changes.get(subject.frame.matrix.id)
        if self.darkens and other.lead.fault_class in DARKENING:
            if changed is None:
                return fit.state
            if not changed.states.any():
                state = fit.state.copy()
                state.ravel()[changed.places] = Predicted.DARK
                return state
        return None


def _glance(subject: Subject, wanted: States, without: Fit) -> tuple[Subject, States] | None:
    """The matrix in the few exercises that tell most, and what is wanted there; None where all are as quick."""
    evidence = subject.evidence
    differ = ((wanted != evidence.with_glow_as_seen(without.state)) & evidence.known).sum(axis=(0, 2))
    few = sorted(np.argsort(-differ, kind="stable")[:GLANCED].tolist())
    if evidence.exercises.alone or len(differ) <= 2 * GLANCED:
        return None
    return subject._replace(evidence=evidence.only(few), usual=subject.usual[:, few]), wanted[:, few]


def _tells(evidence: Evidence, state: States, wanted: States) -> bool:
    return not ((evidence.with_glow_as_seen(state) != wanted) & evidence.known).any()


def _of_one_kind(problem: Problem, item: Item, lead: Candidate) -> tuple[Candidate, ...]:
    """The members that work as the lead does beside any other fault; where only marks were read, all of them do."""
    if all(subject.evidence.exercises.alone for subject in problem.subjects):
        return item.members
    return tuple(one for one in item.members if variant(one) == variant(lead))


def _alternatives(
    problem: Problem, completed: Completed, part: Part, without: Sequence[Fit]
) -> list[tuple[int | None, Item]]:
    """Items that touch some of what the part changes, those that change most nearly the same first; beside a fault that
    makes others show in other places, all that bear on its lines or hold a cell that the part changes; beside a line
    that stays on, what joins it to the part's; and what else an odd diode may be. What only silences cells can't stand
    in for what only makes some show, nor the other way round, but for switches that are exercised by opening them."""
    marks: dict[str, Bools] = {}
    changed: set[CellKey] = set()
    lights = darkens = opens = False
    for subject, there, gone in zip(problem.subjects, completed.fits, without, strict=True):
        differ = (there.state != gone.state) & subject.evidence.known
        marks[subject.frame.matrix.id] = differ.ravel()
        changed.update(subject.frame.cell_at(int(s), int(d)) for s, d in np.argwhere(differ.any(axis=1)))
        lights = lights or bool((differ & (gone.state == Predicted.DARK)).any())
        darkens = darkens or bool((differ & (there.state == Predicted.DARK)).any())
        opens = opens or bool(subject.evidence.exercises.opened)
    wrong_way = () if lights and darkens else DARKENING if lights else LIGHTING if darkens and not opens else ()
    whole = sum(np.count_nonzero(mark) for mark in marks.values())
    others = [other.lead for other in completed.parts if other is not part]
    lasting = {other.lines[0] for other in others if other.fault_class in LASTING}
    displaced = {line for other in completed.parts if other.lead.fault_class in DISPLACING for line in other.lead.lines}

    def likeness(item: Item) -> float:
        shared = sum(np.count_nonzero(marks[name][each.places]) for name, each in item.changes.items())
        if shared <= LEAST_SHARED * whole and not (
            (displaced and _bears_on(item.lead, displaced, changed)) or _works_as(item.lead, part.lead, lasting)
        ):
            return 0.0
        extent = sum(len(each.places) for each in item.changes.values())
        return (shared + LEAST_SHARED) / (whole + extent - shared + 1)

    everyone = [*enumerate(problem.items), *((None, item) for item in problem.private_items)]
    able = [each for each in everyone if each[1] is not part.item and each[1].lead.fault_class not in wrong_way]
    ranked = sorted(((likeness(item), index, item) for index, item in able), key=lambda entry: -entry[0])
    return [
        (index, item)
        for rank, (alike, index, item) in enumerate(ranked)
        if alike and (rank < ALTERNATIVES or _changes_more_in_company(item.lead, displaced))
    ]


def _changes_more_in_company(lead: Candidate, displaced: set[LineKey]) -> bool:
    """Whether what a fault changes alone is no measure: a grounded line beside another one that takes its fuse, or a
    line that is led elsewhere."""
    if lead.fault_class in DISPLACING:
        return False
    return lead.fault_class is FaultClass.GROUNDED or not displaced.isdisjoint(lead.lines)


def _works_as(lead: Candidate, part: Candidate, lasting: set[LineKey]) -> bool:
    """Whether a fault may look like the part though alone it looks otherwise: the same diode's being odd another way;
    or a short that keeps the part's line on, as it joins it to one of these."""
    if part.fault_class in ODD_DIODE:
        return lead.fault_class in ODD_DIODE and lead.cells == part.cells
    return (
        lead.fault_class is FaultClass.SHORTED_TOGETHER
        and part.fault_class in LASTING
        and part.lines[0] in lead.lines
        and not lasting.isdisjoint(lead.lines)
    )


def _bears_on(lead: Candidate, lines: set[LineKey], cells: set[CellKey]) -> bool:
    """Whether a fault takes hold of these lines, or of lines with these cells; or of a cell on these lines."""
    if lead.lines:
        return not (lines.isdisjoint(lead.lines) and cells.isdisjoint(lead.cells))
    return any(LineKey(cell.matrix, side, place) in lines for cell in lead.cells for side, place in _sides(cell))


def _sides(cell: CellKey) -> tuple[tuple[Side, int], ...]:
    return ("row", cell.row), ("column", cell.column)


def _items(part: Part) -> frozenset[int]:
    return frozenset() if part.number is None else frozenset((part.number,))


def likeliest_first(members: Iterable[tuple[Candidate, Fitting]]) -> tuple[tuple[Candidate, ...], Fittings]:
    """Each candidate once, likeliest first, and all ways in which each was fitted."""
    found: dict[Candidate, dict[Fitting, None]] = {}
    for candidate, fitting in members:
        found.setdefault(candidate, {})[fitting] = None
    order = sorted(found, key=lambda candidate: -candidate.rate)
    return tuple(order), tuple(tuple(found[candidate]) for candidate in order)
