"""Extend fault sets by candidates whose effect shows only jointly with faults of the set.

Candidates with one signature alone may differ beside others: a reversed diode bypasses where a dead device doesn't, a
break silences a cell that nobody exercised but that a short feeds; of a shorted and a reversed diode of one cell, the
right one may look worse until its partner joins. A stuck switch works as a held one, and a dead lamp blocks what
bypasses through it. A shorted diode without effect alone has one beside another shorted diode, or on a grounded line.
Where commands reach other cells than their own, a break among untested cells shows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence, Set

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted, Seen
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.posterior import FaultSet
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO, LASTING, ODD_DIODE, SILENCING_LINES
from matrixcheck.diagnosis.machine.matrix_frame import Bools
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey

LEAST_PRIVATE_GAIN = 2.0
"""Nats that a private cause must gain before it becomes an explicit member of a set. A mark weighs some 4 nats, as 1 %
are wrong: half of that leaves out what noise explains as well. Halved or doubled: no answer of 15 moves."""
MOST_EXPLICIT = 3
"""Cells of each kind that become explicit beside one set: each costs an evaluation, and the largest gains matter.
Halved or doubled: no answer of 15 moves."""
MOST_ONLY_JOINT = 24
"""Odd diodes tried beside one set, by falling bypass count: each costs an evaluation, and the right one stands near the
front. Halved or doubled: no answer of 15 moves."""


class Interactions:
    """Index the items of a problem that are tried only jointly, by what they interact with.

    `own_stuck`, `own_dead`: items that are private causes, by cell. `odd`: odd diodes without effect alone, or with the
    signature of a dead device. `unseen`: breaks that silence only cells that nobody commanded. `holding`: what holds a
    line on and shows only where the line would be dark. `meeting`: rows that touch or are crossed, on sides that only a
    stuck relay selects.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.own_stuck: dict[CellKey, int] = {}
        self.own_dead: dict[CellKey, int] = {}
        self.odd: list[int] = []
        self.unseen: list[int] = []
        self.holding: list[int] = []
        self.meeting: list[int] = []
        self._substitutes: dict[int, list[int]] = {}
        self._dead_substitutes: dict[CellKey, list[int]] = {}
        self._draining: dict[LineKey, list[int]] = {}
        self._of_diode: dict[CellKey, list[int]] = {}
        self._switches = {each.frame.matrix.id for each in problem.subjects if each.frame.kind == "switch"}
        leads = {item.lead: index for index, item in enumerate(problem.items) if item.role is Role.ALONE}
        for index, item in enumerate(problem.items):
            if item.role is Role.ALONE and item.lead.fault_class in LASTING:
                self._draining.setdefault(item.lead.lines[0], []).append(index)
            if item.lead.fault_class in ODD_DIODE:
                self._of_diode.setdefault(item.lead.cells[0], []).append(index)
            if item.role is Role.EXPLICIT:
                is_dead = item.lead.fault_class is FaultClass.DEVICE_DEAD
                (self.own_dead if is_dead else self.own_stuck)[item.lead.cells[0]] = index
            elif item.role is Role.ONLY_JOINT and item.lead.fault_class in LASTING:
                self.holding.append(index)
            elif item.role is Role.ONLY_JOINT and item.lead.fault_class in BETWEEN_TWO:
                self.meeting.append(index)
            elif item.role is Role.ONLY_JOINT and item.lead.fault_class not in ODD_DIODE:
                self.unseen.append(index)
            elif item.role is Role.SUBSTITUTE and item.of in leads:
                self._substitutes.setdefault(leads[item.of], []).append(index)
            elif item.role is Role.SUBSTITUTE and item.of is not None and item.of.cells:
                self._dead_substitutes.setdefault(item.of.cells[0], []).append(index)
            if item.role in (Role.ONLY_JOINT, Role.SUBSTITUTE) and item.lead.fault_class in ODD_DIODE:
                self.odd.append(index)

    @property
    def explicit(self) -> frozenset[int]:
        """Return the items that are private causes of cells."""
        return frozenset((*self.own_stuck.values(), *self.own_dead.values()))

    @property
    def of_cells(self) -> frozenset[int]:
        """Return the items that the chances of private causes count: `explicit` ones, and their substitutes."""
        return self.explicit.union(*self._dead_substitutes.values())

    def sets(self, faults: FaultSet, fits: Sequence[Fit]) -> Iterator[FaultSet]:
        """Yield the sets to score beside `faults`; `fits`: its fits, one a matrix."""
        for member in sorted(faults):
            for other in self._substitutes.get(member, ()):
                yield faults - {member} | {other}
            if self.problem.items[member].lead.fault_class in ODD_DIODE:
                others = self._of_diode[self.problem.items[member].lead.cells[0]]
                yield from (faults - {member} | {other} for other in others if other != member)
        stuck, dead = self._unexplained(fits)
        for cell in dead:
            for other in self._dead_substitutes.get(cell, ()):
                yield faults | {other}
        for index in self.unseen:
            if len(set(self.problem.items[index].lead.cells).intersection(dead)) > 1:
                yield faults | {index}
        leads = [self.problem.items[index].lead for index in faults]
        if self.meeting and any(lead.fault_class is FaultClass.RELAY_STUCK for lead in leads):
            lit = self._lit_lines(fits)
            yield from (faults | {at} for at in self.meeting if not lit.isdisjoint(self.problem.items[at].lead.lines))
        has_odd_diode = any(lead.fault_class in ODD_DIODE for lead in leads)
        for own, cells in ((self.own_stuck, stuck), (self.own_dead, dead if has_odd_diode else ())):
            yield from (faults | {own[cell]} for cell in cells[:MOST_EXPLICIT] if cell in own)
        explicit = [self.problem.items[index].lead.cells[0] for index in faults if index in self.own_stuck.values()]
        draining = [lead.lines[0] for lead in leads if lead.fault_class in LASTING]
        drained = {line for line in draining if line.matrix in self._switches}
        grounded = self._with_grounded_wire(faults)
        for index in self._bypassing(fits, {*stuck, *explicit}, drained):
            yield from (base | {index} for base in (faults, *grounded))

    def _lit_lines(self, fits: Sequence[Fit]) -> set[LineKey]:
        """Return the lines of cells that showed though these fits hold them for dark."""
        found: set[LineKey] = set()
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            more = ((subject.evidence.seen == Seen.LIT) & (fit.state == Predicted.DARK)).any(axis=1)
            found.update(line for s, d in np.argwhere(more).tolist() for line in _lines_of(subject.frame.cell_at(s, d)))
        return found

    def held_on(self, alone: Sequence[int]) -> Iterator[FaultSet]:
        """Yield what holds a line on in pairs with each of the items `alone` that silences it among others.

        The one shows nothing alone, the other scores poorly, as the line works: neither enters a beam.
        """
        items = self.problem.items
        for index in self.holding:
            line = items[index].lead.lines[0]
            for other in alone:
                lead = items[other].lead
                if lead.fault_class in SILENCING_LINES and len(lead.lines) > 1 and line in lead.lines:
                    yield frozenset((index, other))

    def _with_grounded_wire(self, faults: FaultSet) -> list[FaultSet]:
        """Return the set with a grounded wire in place of a stuck input.

        Both read low all the time, but only the wire drains current.
        """
        found = []
        for member in faults:
            lead = self.problem.items[member].lead
            if lead.fault_class is FaultClass.STUCK_ON and lead.lines[0].matrix in self._switches:
                others = self._draining.get(lead.lines[0], ())
                grounded = [at for at in others if self.problem.items[at].lead.fault_class is FaultClass.GROUNDED]
                found += [faults - {member} | {other} for other in grounded]
        return found

    def drained(self, faults: FaultSet) -> list[int]:
        """Return faults of lines that could drain the bypass current of an odd diode of the set.

        Neither the drain nor the diode need gain anything alone.
        """
        odd = [self.problem.items[index].lead for index in faults]
        lines = [line for lead in odd if lead.fault_class in ODD_DIODE for line in _lines_of(lead.cells[0])]
        return [index for line in lines for index in self._draining.get(line, ()) if index not in faults]

    def _unexplained(self, fits: Sequence[Fit]) -> tuple[list[CellKey], list[CellKey]]:
        """Return the cells that a private cause would explain, stuck and dead, largest gain first."""
        found: tuple[list[tuple[float, CellKey]], list[tuple[float, CellKey]]] = ([], [])
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            for gains, named in zip((fit.stuck, fit.dead), found, strict=True):
                for sensed, driven in np.argwhere(gains > LEAST_PRIVATE_GAIN).tolist():
                    named.append((float(gains[sensed, driven]), subject.frame.cell_at(sensed, driven)))
        stuck, dead = ([cell for _, cell in sorted(named, reverse=True)] for named in found)
        return stuck, dead

    def _bypassing(self, fits: Sequence[Fit], stuck: Collection[CellKey], drained: Set[LineKey]) -> list[int]:
        """Return odd diodes that could explain what shows beyond the set's prediction, largest bypass count first.

        Those with the signature of a dead device count on drained lines only.
        """
        chances: dict[CellKey, float] = {}
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            seen = subject.evidence.seen
            surplus = ((seen == Seen.LIT) | (seen == Seen.FAINT)) & (fit.state == Predicted.DARK)
            if surplus.any():
                chances |= _bypass_counts(subject, surplus, stuck, drained)
        there = []
        for index in self.odd:
            item, cell = self.problem.items[index], self.problem.items[index].lead.cells[0]
            if item.role is Role.ONLY_JOINT or not drained.isdisjoint(_lines_of(cell)):
                there.append((chances.get(cell, 0.0), -index))
        return [-index for chance, index in sorted(there, reverse=True) if chance > 0][:MOST_ONLY_JOINT]


def _lines_of(cell: CellKey) -> tuple[LineKey, LineKey]:
    return LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)


def _bypass_counts(
    subject: Subject, surplus: Bools, stuck: Collection[CellKey], drained: Set[LineKey]
) -> dict[CellKey, float]:
    """Count, by cell, the unexplained places that an odd diode of it could feed.

    `surplus[sensed, exercise, driven]`: where more showed than predicted. In a switch matrix the diode is one corner of
    a rectangle whose other three are closed; or it lies on a drained line and pulls every line closed to its own.
    """
    frame = subject.frame
    if frame.kind != "switch":
        return dict.fromkeys((cell.key for cell in frame.cells.values()), 1.0)
    shut = subject.evidence.exercises.closed > 0
    for cell in stuck:
        if cell.matrix == frame.matrix.id:
            sensed, driven = frame.at(cell)
            shut[sensed, :, driven] = True
    leaves = [line.place - 1 for line in drained if line.matrix == frame.matrix.id and not frame.is_driven(line)]
    hits = np.zeros(frame.shape)
    for exercise in np.flatnonzero(surplus.any(axis=(0, 2))):
        there, shown = shut[:, exercise, :].astype(np.float64), surplus[:, exercise, :].astype(np.float64)
        hits += there * (there @ shown.T @ there)
        hits[leaves] += there[leaves] * (shown.sum(axis=1) @ there)
    return {frame.cell_at(int(s), int(d)): float(hits[s, d]) for s, d in np.argwhere(hits)}
