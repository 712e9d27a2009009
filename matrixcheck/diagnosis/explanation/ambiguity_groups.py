"""Find ambiguity groups: faults that, swapped for each other within a set, leave every reading as it was."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.explanation.member_weights import Fittings
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fitting, Fuse, Setting, fitting_of, joint
from matrixcheck.diagnosis.inference.candidate_classes import Item, Signature, signature_of, variant
from matrixcheck.diagnosis.inference.difference import difference
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.problem import Problem, acts_in, without_darkening
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DARKENING, DISPLACING, IN_DEVICES, LASTING, LIGHTING, ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Ints, States
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey, Side

MOST_ALTERNATIVES = 60
"""Alternatives compared, most similar first, besides those that may change far more beside others than alone. Each
costs an evaluation. Halved or doubled: no answer of 15 moves, at 0.96 to 1.04 times the work."""
IDLE = 0.1
"""Nats within which readings count as equally likely; a single mark weighs some 4. Halved or doubled: no answer of 15
moves."""
SCREENED = 4
"""Exercises compared first, those that change most without the fault: they rule out most alternatives. Halved or
doubled: no answer of 15 moves."""
MOST_REMEMBERED, MOST_BYTES = 2**14, 2**24
"""Predictions of matrices with so few places are remembered, up to so many bytes in all: thousands of a usual machine.
Of larger ones a few exercises are compared first instead."""
LEAST_SHARED = 0.08
"""Share of a fault's changed places that an alternative must change alone: low, as the set may hide most of it. Halved
or doubled: no answer of 15 moves."""


class Group(NamedTuple):
    """Hold faults that no reading distinguishes, likeliest first.

    `fittings`: how each was fitted, in the same order. `items`: numbers of the items among them. `private`: the private
    causes among them, each by its cell and whether it is stuck, not dead.
    """

    members: tuple[Candidate, ...]
    fittings: Fittings
    items: frozenset[int]
    private: frozenset[tuple[CellKey, bool]] = frozenset()


class Part(NamedTuple):
    """Hold one fault of a completed set: an item (`number`), or a private cause of one cell."""

    lead: Candidate
    number: int | None
    cell: CellKey | None
    stuck: bool
    item: Item | None


class Completed(NamedTuple):
    """Hold a set with the private causes that explain the rest, and what all of it predicts."""

    parts: tuple[Part, ...]
    setting: Setting
    fits: tuple[Fit, ...]
    signature: Signature


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
            return _agrees(subject.evidence, known, self.wanted[place])
        faults, setting = [*self.leads, other.lead], joint((other.setting, self.setting))
        if subject.evidence.seen.size <= MOST_REMEMBERED:
            return _agrees(subject.evidence, self.alternatives.state(place, faults, setting), self.wanted[place])
        found = self.problem.found(place, faults, setting)
        if found is not None:
            return _agrees(subject.evidence, found.state, self.wanted[place])
        screening = self._screening(place)
        if screening is not None and setting.fuse is not Fuse.GOES:
            few, wanted = screening
            if not _agrees(few.evidence, few.shows(faults, setting), wanted):
                return False
        return _agrees(subject.evidence, subject.shows(faults, setting), self.wanted[place])

    @cached_property
    def _agree_without(self) -> list[bool]:
        """Return for each matrix whether these faults alone predict what the whole set does."""
        found = zip(self.problem.subjects, self.fits, self.wanted, strict=True)
        return [_agrees(subject.evidence, fit.state, wanted) for subject, fit, wanted in found]

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


def _agrees(evidence: Evidence, state: States, wanted: States) -> bool:
    """Return whether a prediction is the wanted one, with every glow as it was seen, where anything was seen."""
    differ = (state != wanted) & evidence.known
    if not differ.any():
        return True
    if not (state[differ] == Predicted.GLOW).all():
        return False
    return not ((evidence.with_glow_as_seen(state) != wanted) & evidence.known).any()


def _same_variant(problem: Problem, item: Item, lead: Candidate) -> tuple[Candidate, ...]:
    """Return the members that interact as the lead does; where only marks were read, all of them do."""
    if all(subject.evidence.exercises.alone for subject in problem.subjects):
        return item.members
    return tuple(one for one in item.members if variant(one) == variant(lead))


class Alternatives:
    """List the items of a problem, private causes among them, to find those that may replace a part of a set.

    What they change stands in flat arrays over n changes: `entry[n]` makes `shown[n]` of the place `place[n]`, counted
    through all matrices. `groups`: those that were found whole, by the set and the place in it, and what each cost.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.groups: dict[Hashable, tuple[Group, float]] = {}
        self._states: ByteStore[States] = ByteStore(MOST_BYTES)
        self.entries: list[tuple[int | None, Item]] = [
            *enumerate(problem.items),
            *((None, item) for item in problem.private_items),
        ]
        sizes = [subject.evidence.seen.size for subject in problem.subjects]
        starts = dict(zip(problem.matrix_ids, np.cumsum([0, *sizes])[:-1].tolist(), strict=True))
        changes = [(at, name, each) for at, (_, one) in enumerate(self.entries) for name, each in one.changes.items()]
        lengths = [len(each.places) for _, _, each in changes]
        self._entry = np.repeat(np.array([at for at, _, _ in changes], dtype=np.int32), lengths)
        places = [each.places + np.int32(starts[name]) for _, name, each in changes]
        self._place = np.concatenate([np.zeros(0, dtype=np.int32), *places])
        self._shown = np.concatenate([np.zeros(0, dtype=np.uint8), *(each.states for _, _, each in changes)])
        classes = [item.lead.fault_class for _, item in self.entries]
        brighter = self._counted(self._shown != Predicted.DARK) > 0  # without their fuse some switches read closed
        self._darkens = np.array([each in DARKENING for each in classes], dtype=np.bool_) & ~brighter
        self._lights = np.array([each in LIGHTING for each in classes], dtype=np.bool_)

    def _counted(self, which: Bools) -> Ints:
        """Count for each entry the changes that are set."""
        return np.bincount(self._entry[which], minlength=len(self.entries))

    def state(self, place: int, faults: Sequence[Candidate], setting: Setting) -> States:
        """Return what a set of faults shows in one matrix, not to be written to.

        Sets that differ only by what darkens cells are worked out once.
        """
        subject = self.problem.subjects[place]
        there = [fault for fault in faults if acts_in(fault, subject.frame.matrix.id)]
        others, dark = without_darkening(subject.frame, there, setting)
        state = self._state(place, others, setting)
        if not dark:
            return state
        state = state.copy()
        for sensed, driven in map(subject.frame.at, dark):
            state[sensed, :, driven] = Predicted.DARK
        return state

    def _state(self, place: int, there: Sequence[Candidate], setting: Setting) -> States:
        found = self.problem.found(place, there, setting)
        if found is not None:
            return found.state
        key = place, frozenset(there), setting
        state = self._states.get(key)
        if state is None:
            state = self.problem.subjects[place].shows(there, setting)
            self._states.put(key, state, state.nbytes)
        return state

    def of(self, completed: Completed, part: Part, without: Sequence[Fit]) -> list[tuple[int | None, Item]]:
        """Return items that may replace a part, with their numbers, most similar first; `without`: fits of the others.

        Similar are items that change some of the same places, and little else that the other parts don't. Besides, next
        to a displacing fault: all that act on its lines or on a cell that the part changes; next to a line that stays
        on: what joins it to the part's line; and other faults that hold the same line on, or of an odd diode. What only
        silences can't replace what only lights, nor the reverse, but for switches that are exercised by opening them.
        """
        problem = self.problem
        marks, others_show = list[Bools](), [np.zeros(0, dtype=np.uint8)]
        lights = darkens = opens = False
        for subject, there, gone in zip(problem.subjects, completed.fits, without, strict=True):
            now, before = there.state, gone.state
            differ = (now != before) & subject.evidence.known
            marks.append(differ)
            others_show.append(before.ravel())
            lights = lights or bool((differ & (before == Predicted.DARK)).any())
            darkens = darkens or bool((differ & (now == Predicted.DARK)).any())
            opens = opens or bool(subject.evidence.exercises.opened)
        changed = np.concatenate([np.zeros(0, dtype=np.bool_), *(mark.ravel() for mark in marks)])
        whole = int(np.count_nonzero(changed))
        shared = self._counted(changed[self._place])
        extent = self._counted(np.concatenate(others_show)[self._place] != self._shown)
        able = np.ones(len(self.entries), dtype=np.bool_)
        if lights and not darkens:
            able = ~self._darkens
        elif darkens and not lights and not opens:
            able = ~self._lights
        similar = shared > LEAST_SHARED * whole
        others = [other.lead for other in completed.parts if other is not part]
        lasting = {other.lines[0] for other in others if other.fault_class in LASTING}
        leads = [other.lead for other in completed.parts]
        displaced = {line for lead in leads if lead.fault_class in DISPLACING for line in lead.lines}
        if displaced or part.lead.fault_class in ODD_DIODE or part.lead.fault_class in LASTING:
            cells = {
                subject.frame.cell_at(*place)
                for subject, mark in zip(problem.subjects, marks, strict=True)
                for place in np.argwhere(mark.any(axis=1)).tolist()
            }
            for at in np.flatnonzero(~similar).tolist():
                lead = self.entries[at][1].lead
                acts = bool(displaced) and _acts_on(lead, displaced, cells)
                similar[at] = acts or _substitutes(lead, part.lead, lasting)
        similar &= able
        degree = (shared + LEAST_SHARED) / (whole + extent - shared + 1)
        found = [at for at in np.flatnonzero(similar).tolist() if self.entries[at][1] is not part.item]
        found.sort(key=lambda at: -float(degree[at]))
        return [
            self.entries[at]
            for rank, at in enumerate(found)
            if rank < MOST_ALTERNATIVES or _interacts(self.entries[at][1].lead, displaced)
        ]


def _interacts(lead: Candidate, displaced: set[LineKey]) -> bool:
    """Return whether what a fault changes alone is no measure of what it changes in the set.

    So it is for a grounded line, whose fuse another one may blow, and for displaced lines.
    """
    if lead.fault_class in DISPLACING:
        return False
    return lead.fault_class is FaultClass.GROUNDED or not displaced.isdisjoint(lead.lines)


def _substitutes(lead: Candidate, part: Candidate, lasting: set[LineKey]) -> bool:
    """Return whether a fault may replace the part although its signature alone differs.

    So may another fault of the same odd diode, what else holds the part's line on, and a short that joins that line to
    one of the `lasting` lines.
    """
    if part.fault_class in ODD_DIODE:
        return lead.fault_class in ODD_DIODE and lead.cells == part.cells
    if part.fault_class in LASTING and lead.fault_class in LASTING:
        return lead.lines == part.lines
    return (
        lead.fault_class is FaultClass.SHORTED_TOGETHER
        and part.fault_class in LASTING
        and part.lines[0] in lead.lines
        and not lasting.isdisjoint(lead.lines)
    )


def _acts_on(lead: Candidate, lines: set[LineKey], cells: set[CellKey]) -> bool:
    """Return whether a fault acts on these lines, on lines with these cells, or in a cell on these lines."""
    if lead.lines:
        return not (lines.isdisjoint(lead.lines) and cells.isdisjoint(lead.cells))
    return any(LineKey(cell.matrix, side, place) in lines for cell in lead.cells for side, place in _sides(cell))


def _sides(cell: CellKey) -> tuple[tuple[Side, int], ...]:
    return ("row", cell.row), ("column", cell.column)


def _item_numbers(part: Part) -> frozenset[int]:
    return frozenset() if part.number is None else frozenset((part.number,))


def _private_of(part: Part) -> frozenset[tuple[CellKey, bool]]:
    return frozenset() if part.cell is None else frozenset(((part.cell, part.stuck),))


def likeliest_first(members: Iterable[tuple[Candidate, Fitting]]) -> tuple[tuple[Candidate, ...], Fittings]:
    """Return each candidate once, likeliest first, and all ways in which each was fitted."""
    found: dict[Candidate, dict[Fitting, None]] = {}
    for candidate, fitting in members:
        found.setdefault(candidate, {})[fitting] = None
    order = sorted(found, key=lambda candidate: -candidate.rate)
    return tuple(order), tuple(tuple(found[candidate]) for candidate in order)
