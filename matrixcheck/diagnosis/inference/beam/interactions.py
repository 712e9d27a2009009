"""What to think of beside the faults of a set that no search thinks of alone.

Candidates that look the same alone part ways in company: a reversed diode leads round where a dead device doesn't, a
break takes along a cell that nobody exercised but that a short feeds. A switch that is stuck works as one that is held,
and nothing comes round an odd diode through a lamp that is dead. A shorted diode that shows nothing alone shows beside
the first, or on a line that lies at ground. Where commands reach other cells than their own, a break shows beyond which
nobody tested.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence, Set

import numpy as np

from matrixcheck.diagnosis.evidence.observations import DARK, FAINT, LIT
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.posterior import FaultSet
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.machine.fault_classes import LASTING, ODD_DIODE
from matrixcheck.diagnosis.machine.matrix_frame import Bools
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey

CALLS_FOR = 2.0
"""What readings must add, in nats, before a cell's own cause is said aloud."""
MOST_ALOUD = 3
MOST_BESIDE = 24


class Company:
    """The items of a problem that are for company only, by what they go with. `own_stuck`, `own_dead`: the cells' own
    causes; `odd`: odd diodes that show nothing alone, or look like a dead device; `unseen`: breaks beyond which nobody
    tested."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.own_stuck: dict[CellKey, int] = {}
        self.own_dead: dict[CellKey, int] = {}
        self.odd: list[int] = []
        self.unseen: list[int] = []
        self._instead: dict[int, list[int]] = {}
        self._instead_of_dead: dict[CellKey, list[int]] = {}
        self._draining: dict[LineKey, list[int]] = {}
        self._switches = {each.frame.matrix.id for each in problem.subjects if each.frame.kind == "switch"}
        leads = {item.lead: index for index, item in enumerate(problem.items) if item.role is Role.ALONE}
        for index, item in enumerate(problem.items):
            if item.role is Role.ALONE and item.lead.fault_class in LASTING:
                self._draining.setdefault(item.lead.lines[0], []).append(index)
            if item.role is Role.ALOUD:
                is_dead = item.lead.fault_class is FaultClass.DEVICE_DEAD
                (self.own_dead if is_dead else self.own_stuck)[item.lead.cells[0]] = index
            elif item.role is Role.BESIDE and item.lead.fault_class not in ODD_DIODE:
                self.unseen.append(index)
            elif item.role is Role.INSTEAD and item.of in leads:
                self._instead.setdefault(leads[item.of], []).append(index)
            elif item.role is Role.INSTEAD and item.of is not None and item.of.cells:
                self._instead_of_dead.setdefault(item.of.cells[0], []).append(index)
            if item.role in (Role.BESIDE, Role.INSTEAD) and item.lead.fault_class in ODD_DIODE:
                self.odd.append(index)

    @property
    def aloud(self) -> frozenset[int]:
        """The items that are cells' own causes."""
        return frozenset((*self.own_stuck.values(), *self.own_dead.values()))

    def sets(self, faults: FaultSet, fits: Sequence[Fit]) -> Iterator[FaultSet]:
        """The sets to try in place of one with these fits."""
        for member in sorted(faults):
            for other in self._instead.get(member, ()):
                yield faults - {member} | {other}
        stuck, dead = self._called_for(fits)
        for cell in dead:
            for other in self._instead_of_dead.get(cell, ()):
                yield faults | {other}
        for index in self.unseen:
            if len(set(self.problem.items[index].lead.cells).intersection(dead)) > 1:
                yield faults | {index}
        leads = [self.problem.items[index].lead for index in faults]
        comes_round = any(lead.fault_class in ODD_DIODE for lead in leads)
        for own, called in ((self.own_stuck, stuck), (self.own_dead, dead if comes_round else ())):
            yield from (faults | {own[cell]} for cell in called[:MOST_ALOUD] if cell in own)
        aloud = [self.problem.items[index].lead.cells[0] for index in faults if index in self.own_stuck.values()]
        draining = [lead.lines[0] for lead in leads if lead.fault_class in LASTING]
        drained = {line for line in draining if line.matrix in self._switches}
        grounded = self._grounded_instead(faults)
        for index in self._led_round(fits, {*stuck, *aloud}, drained):
            yield from (base | {index} for base in (faults, *grounded))

    def _grounded_instead(self, faults: FaultSet) -> list[FaultSet]:
        """The set with a wire at ground in place of an input that reads low all the time, which drains nothing."""
        found = []
        for member in faults:
            lead = self.problem.items[member].lead
            if lead.fault_class is FaultClass.STUCK_ON and lead.lines[0].matrix in self._switches:
                others = self._draining.get(lead.lines[0], ())
                grounded = [at for at in others if self.problem.items[at].lead.fault_class is FaultClass.GROUNDED]
                found += [faults - {member} | {other} for other in grounded]
        return found

    def drained(self, faults: FaultSet) -> list[int]:
        """The faults of lines through which current that comes round an odd diode of the set could leave: neither
        may look like much alone."""
        odd = [self.problem.items[index].lead for index in faults]
        lines = [line for lead in odd if lead.fault_class in ODD_DIODE for line in _lines_of(lead.cells[0])]
        return [index for line in lines for index in self._draining.get(line, ()) if index not in faults]

    def _called_for(self, fits: Sequence[Fit]) -> tuple[list[CellKey], list[CellKey]]:
        """The cells whose readings call for a cause of their own, stuck and dead, loudest first."""
        found: tuple[list[tuple[float, CellKey]], list[tuple[float, CellKey]]] = ([], [])
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            for gains, named in zip((fit.stuck, fit.dead), found, strict=True):
                for sensed, driven in np.argwhere(gains > CALLS_FOR).tolist():
                    named.append((float(gains[sensed, driven]), subject.frame.cell_at(sensed, driven)))
        stuck, dead = ([cell for _, cell in sorted(named, reverse=True)] for named in found)
        return stuck, dead

    def _led_round(self, fits: Sequence[Fit], stuck: Collection[CellKey], drained: Set[LineKey]) -> list[int]:
        """Diodes that show nothing alone, where more shows than the set explains, and others on drained lines; those
        that explain most first."""
        chances: dict[CellKey, float] = {}
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            more = ((subject.evidence.seen == LIT) | (subject.evidence.seen == FAINT)) & (fit.state == DARK)
            if more.any():
                chances |= _led_there(subject, more, stuck, drained)
        there = []
        for index in self.odd:
            item, cell = self.problem.items[index], self.problem.items[index].lead.cells[0]
            if item.role is Role.BESIDE or not drained.isdisjoint(_lines_of(cell)):
                there.append((chances.get(cell, 0.0), -index))
        return [-index for chance, index in sorted(there, reverse=True) if chance > 0][:MOST_BESIDE]


def _lines_of(cell: CellKey) -> tuple[LineKey, LineKey]:
    return LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)


def _led_there(
    subject: Subject, more: Bools, stuck: Collection[CellKey], drained: Set[LineKey]
) -> dict[CellKey, float]:
    """By cell: in how many exercises an odd diode of it could lead to something that shows unexplained. In a switch
    matrix it is one of four corners, and the other three are closed; or it lies on a line through which current leaves,
    and so takes along every line that is closed to its own."""
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
    for exercise in np.flatnonzero(more.any(axis=(0, 2))):
        there, shown = shut[:, exercise, :].astype(np.float64), more[:, exercise, :].astype(np.float64)
        hits += there * (there @ shown.T @ there)
        hits[leaves] += there[leaves] * (shown.sum(axis=1) @ there)
    return {frame.cell_at(int(s), int(d)): float(hits[s, d]) for s, d in np.argwhere(hits)}
