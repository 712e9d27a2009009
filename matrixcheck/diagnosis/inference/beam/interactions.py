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
from matrixcheck.diagnosis.inference.beam.surplus import bypass_counts, lines_of, lines_with_surplus, shows_too_much
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.likelihood import Fit
from matrixcheck.diagnosis.inference.posterior import FaultSet
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO, LASTING, ODD_DIODE, SILENCING_LINES
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey

LEAST_PRIVATE_GAIN = 1.5
"""Nats that a private cause must gain before it becomes an explicit member of a set. A mark weighs some 4 nats, as 1 %
are wrong, a glow that wasn't noticed 1.9. Halved: no answer of 10 moves."""
MOST_EXPLICIT = 3
"""Cells of each kind that become explicit beside one set: each costs an evaluation, and the largest gains matter.
Halved or doubled: no answer of 15 moves."""
MOST_DRAINED = 24
"""Pairs of a wire at ground and an odd diode on it that are tried: each costs an evaluation. Halved: 1 of 10 answers
moves at 1.23 times the work; doubled: none at 1.02 times the work."""
MOST_ONLY_JOINT = 24
"""Odd diodes tried beside one set, by falling bypass count: each costs an evaluation, and the right one stands near the
front. Halved or doubled: no answer of 15 moves."""


class Interactions:
    """Index the items of a problem that are tried only jointly, by what they interact with.

    `own_stuck`, `own_dead`: items that are private causes, by cell. `odd`: odd diodes, with an effect alone or not.
    `unseen`: breaks that silence only cells that nobody commanded. `holding`: what holds a line on and shows only where
    the line would be dark. `meeting`: rows that touch or are crossed, on sides that only a stuck relay selects.
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
        self._stands_for: dict[int, int] = {}
        self._dead_substitutes: dict[CellKey, list[int]] = {}
        self._draining: dict[LineKey, list[int]] = {}
        self._of_diode: dict[CellKey, list[int]] = {}
        self._breaks: dict[CellKey, list[int]] = {}
        self._switches = {each.frame.matrix.id for each in problem.subjects if each.frame.kind == "switch"}
        leads = {item.lead: index for index, item in enumerate(problem.items) if item.role is Role.ALONE}
        for index, item in enumerate(problem.items):
            if item.role is Role.ALONE and item.lead.fault_class in LASTING:
                self._draining.setdefault(item.lead.lines[0], []).append(index)
            if item.lead.fault_class is FaultClass.BREAK:
                for cell in item.lead.cells:
                    self._breaks.setdefault(cell, []).append(index)
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
                self._stands_for[index] = leads[item.of]
            elif item.role is Role.SUBSTITUTE and item.of is not None and item.of.cells:
                self._dead_substitutes.setdefault(item.of.cells[0], []).append(index)
            if item.role is not Role.EXPLICIT and item.lead.fault_class in ODD_DIODE:
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
        yield from self.replaced(faults)
        stuck, dead = self._unexplained(fits)
        for cell in dead:
            for other in self._dead_substitutes.get(cell, ()):
                yield faults | {other}
        for index in self.unseen:
            if len(set(self.problem.items[index].lead.cells).intersection(dead)) > 1:
                yield faults | {index}
        for index in self._broken_before_odd_diodes(faults):
            if not set(self.problem.items[index].lead.cells).isdisjoint(dead):
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
        displaced = {line.matrix for lead in leads if lead.fault_class in BETWEEN_TWO for line in lead.lines}
        grounded = self._with_grounded_wire(faults)
        for index in self._bypassing(fits, {*stuck, *explicit}, drained, displaced):
            yield from (base | {index} for base in (faults, *grounded))

    def replaced(self, faults: FaultSet) -> Iterator[FaultSet]:
        """Yield the sets with one member replaced by what shows the same alone and may differ beside the others.

        Substitutes; the other odd diode of a cell; what else holds a line on, as a driver is lost with its plug and a
        wire at ground isn't.
        """
        for member in sorted(faults):
            lead = self.problem.items[member].lead
            others = list(self._substitutes.get(member, ()))
            if lead.fault_class in ODD_DIODE:
                others += self._of_diode[lead.cells[0]]
            if lead.fault_class in LASTING:
                others += self._draining.get(lead.lines[0], ())
            yield from (faults - {member} | {other} for other in others if other not in faults)

    def _lit_lines(self, fits: Sequence[Fit]) -> set[LineKey]:
        """Return the lines of cells that showed though these fits hold them for dark."""
        found: set[LineKey] = set()
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            more = ((subject.evidence.seen == Seen.LIT) & (fit.state == Predicted.DARK)).any(axis=1)
            found.update(line for s, d in np.argwhere(more).tolist() for line in lines_of(subject.frame.cell_at(s, d)))
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

    def drained_pairs(self, healthy: Sequence[Fit]) -> list[FaultSet]:
        """Return pairs of a wire at ground and an odd diode on it, where the diode's other line shows too much.

        Current leaves by the diode whenever that line is live; without the one or the other nothing does, so that
        neither enters a beam. Those of the lines that show most come first. Switches are tried as sets are met.
        """
        surplus = lines_with_surplus(self.problem.subjects, healthy)
        found = []
        for cell, diodes in self._of_diode.items():
            for line, other in (lines_of(cell), lines_of(cell)[::-1]):
                if other in surplus:
                    wires = [at for at in self._draining.get(line, ()) if self._is_grounded(at)]
                    found += [(-surplus[other], wire, diode) for wire in wires for diode in diodes]
        return [frozenset(pair) for _, *pair in sorted(found)[:MOST_DRAINED]]

    def _is_grounded(self, index: int) -> bool:
        return self.problem.items[index].lead.fault_class is FaultClass.GROUNDED

    def substitutes(self, index: int) -> Sequence[int]:
        """Return the items that look like this one alone and may differ beside others."""
        return self._substitutes.get(index, ())

    def without_substitutes(self, faults: FaultSet) -> FaultSet:
        """Return the set with each substitute replaced by the item that it stands for."""
        return frozenset(self._stands_for.get(index, index) for index in faults)

    def _with_grounded_wire(self, faults: FaultSet) -> list[FaultSet]:
        """Return the set with a grounded wire in place of a stuck input.

        Both read low all the time, but only the wire drains current.
        """
        found = []
        for member in faults:
            lead = self.problem.items[member].lead
            if lead.fault_class is FaultClass.STUCK_ON and lead.lines[0].matrix in self._switches:
                others = self._draining.get(lead.lines[0], ())
                found += [faults - {member} | {other} for other in others if self._is_grounded(other)]
        return found

    def _broken_before_odd_diodes(self, faults: FaultSet) -> list[int]:
        """Return the breaks that leave an odd diode of the set at their far end: cells there go on showing by it."""
        cells = {cell for index in faults for cell in self._odd_cell(index)}
        return [index for cell in sorted(cells) for index in self._breaks.get(cell, ()) if index not in faults]

    def _odd_cell(self, index: int) -> Sequence[CellKey]:
        lead = self.problem.items[index].lead
        return lead.cells if lead.fault_class in ODD_DIODE else ()

    def drained(self, faults: FaultSet) -> list[int]:
        """Return faults of lines that could drain the bypass current of an odd diode of the set.

        Neither the drain nor the diode need gain anything alone.
        """
        odd = [self.problem.items[index].lead for index in faults]
        lines = [line for lead in odd if lead.fault_class in ODD_DIODE for line in lines_of(lead.cells[0])]
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

    def _bypassing(
        self, fits: Sequence[Fit], stuck: Collection[CellKey], drained: Set[LineKey], displaced: Set[str]
    ) -> list[int]:
        """Return odd diodes that could explain what shows beyond the set's prediction, largest bypass count first.

        Those that show alone, or look like a dead device, count on drained lines and in matrices with displaced lines
        only: what they show alone says little there.
        """
        chances: dict[CellKey, float] = {}
        for subject, fit in zip(self.problem.subjects, fits, strict=True):
            surplus = shows_too_much(subject, fit)
            if surplus.any():
                chances |= bypass_counts(subject, surplus, stuck, drained)
        there = []
        for index in self.odd:
            item, cell = self.problem.items[index], self.problem.items[index].lead.cells[0]
            on_drained = item.role is not Role.ALONE and not drained.isdisjoint(lines_of(cell))
            if item.role is Role.ONLY_JOINT or on_drained or cell.matrix in displaced:
                there.append((chances.get(cell, 0.0), -index))
        return [-index for chance, index in sorted(there, reverse=True) if chance > 0][:MOST_ONLY_JOINT]
