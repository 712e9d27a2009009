"""Find the items that may replace one part of a set: similar ones first, each costs an evaluation to compare."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.explanation.completed_sets import Completed, Group, Part
from matrixcheck.diagnosis.forward.fault_effects import Setting
from matrixcheck.diagnosis.inference.candidate_classes import Item
from matrixcheck.diagnosis.inference.likelihood import Fit
from matrixcheck.diagnosis.inference.problem import Problem, without_darkening
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DARKENING, DISPLACING, LASTING, LIGHTING, ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Ints, States
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey, Side

MOST_ALTERNATIVES = 60
"""Alternatives compared, most similar first, besides those that may change far more beside others than alone. Each
costs an evaluation. Halved or doubled: no answer of 15 moves, at 0.96 to 1.04 times the work."""
LEAST_SHARED = 0.08
"""Share of a fault's changed places that an alternative must change alone: low, as the set may hide most of it. Halved
or doubled: no answer of 15 moves."""
NOT_CHANGED = 255
"""No state of a place: it isn't changed."""
MOST_BYTES = 2**24
"""Bytes of remembered predictions: thousands of a usual machine."""


class Alternatives:
    """List the items of a problem, private causes among them, to find those that may replace a part of a set.

    What they change stands in flat arrays over n changes: `entry[n]` makes `shown[n]` of the place `place[n]`, counted
    through all matrices. `groups`: those that were found whole, by the set and the place in it, and what each cost.
    `known`: where anything was seen, by matrix.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.groups: dict[Hashable, tuple[Group, float]] = {}
        self.known = [subject.evidence.known for subject in problem.subjects]
        self._states: ByteStore[States] = ByteStore(MOST_BYTES)
        self.entries: list[tuple[int | None, Item]] = [
            *enumerate(problem.items),
            *((None, item) for item in problem.private_items),
        ]
        sizes = [subject.evidence.seen.size for subject in problem.subjects]
        starts = dict(zip(problem.matrix_ids, np.cumsum([0, *sizes])[:-1].tolist(), strict=True))
        self._starts, self._size = starts, sum(sizes)
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

    def _look_alike(self, item: Item) -> Bools:
        """Return which entries show alone just what an item shows alone."""
        own = np.full(self._size, NOT_CHANGED, dtype=np.uint8)
        for name, each in item.changes.items():
            own[each.places + self._starts[name]] = each.states
        alike = self._counted(own[self._place] == self._shown)
        whole = sum(len(each.places) for each in item.changes.values())
        found: Bools = (alike == whole) & (self._counted(np.ones_like(self._shown, dtype=np.bool_)) == whole)
        return found

    def state(self, place: int, faults: Sequence[Candidate], setting: Setting) -> States:
        """Return what faults show in a matrix that all of them act in, not to be written to.

        As `Predicted`, [sensed, exercise, driven]. `place`: the index of the matrix among the problem's.
        Sets that differ only by what darkens cells are worked out once.
        """
        subject = self.problem.subjects[place]
        others, dark = without_darkening(subject.frame, faults, setting)
        state = self._state(place, others, setting)
        if not dark:
            return state
        state = state.copy()
        for sensed, driven in map(subject.frame.at, dark):
            state[sensed, :, driven] = Predicted.DARK
        return state

    def _state(self, place: int, there: Sequence[Candidate], setting: Setting) -> States:
        if not there:
            return self.problem.healthy[place].state
        subject = self.problem.subjects[place]
        key = subject.key, frozenset(there), setting
        fit = self.problem.known.get(key)
        if fit is not None:
            return fit.state
        state = self._states.get(key)
        if state is None:
            state = subject.shows(there, setting)
            self._states.put(key, state, state.nbytes)
        return state

    def of(self, completed: Completed, part: Part, without: Sequence[Fit]) -> list[tuple[int | None, Item]]:
        """Return items that may replace a part, with their numbers, most similar first; `without`: fits of the others.

        Similar are items that change some of the same places, and little else that others don't; and those that
        show alone what the part shows alone, however small a share that is of all that it changes here. Besides, next
        to a displacing fault: all that act on its lines or on a cell that the part changes; next to a line that stays
        on: what joins it to the part's line; and other faults that hold the same line on, or of an odd diode. What only
        silences can't replace what only lights, nor the reverse, but for switches that are exercised by opening them.
        """
        problem = self.problem
        marks, others_show = list[Bools](), [np.zeros(0, dtype=np.uint8)]
        lights = darkens = opens = False
        for subject, known, there, gone in zip(problem.subjects, self.known, completed.fits, without, strict=True):
            now, before = there.state, gone.state
            differ = (now != before) & known
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
        if part.item is not None and any(len(each.places) for each in part.item.changes.values()):
            similar |= self._look_alike(part.item)
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
            if rank < MOST_ALTERNATIVES
            or _interacts(self.entries[at][1].lead, displaced)
            or _substitutes(self.entries[at][1].lead, part.lead, lasting)
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
