"""The faults worth searching: those that can touch what doesn't fit, merged where single faults look the same.

An item stands for all candidates that give the same readings on their own. What looks just like one dead or stuck
cell is no item: it is one of that cell's private causes. Candidates that look the same alone may look different beside
other faults; the less likely of them, and those that show nothing alone, are items for company only.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from enum import IntEnum
from math import exp, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.observations import DARK, FAINT, LIT, UNKNOWN, Evidence
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fuse, Setting
from matrixcheck.diagnosis.inference.difference import Difference
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO
from matrixcheck.diagnosis.machine.matrix_frame import Bools
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.places import CellKey, LineKey

Signature = tuple[tuple[str, bytes], ...]


class Role(IntEnum):
    """When the search thinks of an item: by itself; in place of another that looks the same alone; as a cell's own
    cause, dead or stuck, said aloud because others work together with it; or only beside others, as it shows nothing
    alone."""

    ALONE = 0
    SUBSTITUTE = 1
    EXPLICIT = 2
    ONLY_JOINT = 3


class Item(NamedTuple):
    """Candidates that look and work the same. `lead` is the likeliest; `weight` the log-odds that any of them is there;
    `changes`: for each matrix that it takes hold of, what it shows alone besides a healthy machine, where anything was
    seen. `of`: the lead of the item that it may replace."""

    lead: Candidate
    members: tuple[Candidate, ...]
    weight: float
    setting: Setting
    changes: dict[str, Difference]
    role: Role = Role.ALONE
    of: Candidate | None = None

    def within(self, matrix_ids: Collection[str]) -> Item:
        """The item as some matrices see it."""
        return self._replace(changes={name: each for name, each in self.changes.items() if name in matrix_ids})


def log_odds(rate: float) -> float:
    """log(p / (1 - p)), with p kept off 0 and 1."""
    kept = min(max(rate, 1e-12), 1 - 1e-6)
    return log(kept / (1 - kept))


def chance_of(weight: float) -> float:
    """The chance of log-odds."""
    return 1 / (1 + exp(-min(max(weight, -700.0), 700.0)))


class Misfits(NamedTuple):
    """Lines and cells at which a healthy machine wouldn't have shown what was seen; pairs of lines of which one may
    have shown more than it should while the other one showed; and the cells whose diode could lead current round to
    where more shows than should."""

    lines: frozenset[LineKey]
    pairs: frozenset[tuple[LineKey, ...]]
    cells: frozenset[CellKey]
    sneaky: frozenset[CellKey]


def misfit_locations(subjects: Iterable[Subject], healthy: Iterable[Fit]) -> Misfits:
    """Where the readings disagree with a healthy machine."""
    lines: set[LineKey] = set()
    cells: set[CellKey] = set()
    pairs: set[tuple[LineKey, ...]] = set()
    sneaky: set[CellKey] = set()
    for subject, fit in zip(subjects, healthy, strict=True):
        wrong = misfits(subject.evidence, fit)
        frame, evidence = subject.frame, subject.evidence
        pairs.update(_together(subject, fit))
        for index in map(int, np.flatnonzero(wrong.any(axis=(0, 2)))):
            places = [frame.cell_at(int(s), int(d)) for s, d in np.argwhere(wrong[:, index, :])]
            for cell in (*places, *evidence.around(index)):
                cells.add(cell)
                lines.update((LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)))
            extra = wrong[:, index, :] & (fit.state[:, index, :] == DARK) & (evidence.exercised[:, index, :] == 0)
            if extra.any() and not evidence.exercises.alone:
                sneaky.update(_could_lead_there(subject, index, extra))
    return Misfits(frozenset(lines), frozenset(pairs), frozenset(cells), frozenset(sneaky))


def _together(subject: Subject, healthy: Fit) -> Iterator[tuple[LineKey, ...]]:
    """Both ways round, the lines of which one may have shown more than it should in a reading where the other one
    showed, or should have; or couldn't, as no cell is fitted there. Marks alone don't tell."""
    frame, evidence = subject.frame, subject.evidence
    seen, usual = evidence.seen, healthy.state
    more = (((seen == LIT) | (seen == UNKNOWN)) & (usual != LIT)) | ((seen == FAINT) & (usual == DARK))
    shows = (usual != DARK) | (seen == LIT) | (seen == FAINT)
    missing, nowhere = ((usual == LIT) & (seen == DARK)).any(axis=1), frame.fitted == 0
    sides = (
        (False, more.any(axis=2), shows.any(axis=2), nowhere, missing),
        (True, more.any(axis=0).T, shows.any(axis=0).T, nowhere.T, missing.T),
    )
    for driven, with_more, showing, without, lacking in sides:
        lines = [line for line in frame.matrix.lines if frame.is_driven(line) == driven]
        met = (with_more @ showing.T) | (without @ lacking.T)
        if evidence.exercises.alone:
            met[:] = True
        if lines:
            yield from ((lines[a], lines[b]) for a, b in np.argwhere(met | met.T).tolist())


def _could_lead_there(subject: Subject, index: int, extra: Bools) -> Iterable[CellKey]:
    """The cells whose odd diode could have made places show in one reading: in a switch matrix those that were closed;
    in a bank those in the sensed line, and in the driven line, of such a place. Relays keep warm what they like."""
    frame = subject.frame
    if frame.kind == "switch":
        shut = subject.evidence.exercises.closed[:, index, :] > 0
    elif frame.kind == "coil":
        shut = frame.fitted > 0
    else:
        lit = subject.evidence.seen[:, index, :] == LIT
        shut = extra.copy()
        shut |= (extra & lit.any(axis=0)[None, :]).any(axis=1)[:, None]
        shut |= (extra & lit.any(axis=1)[:, None]).any(axis=0)[None, :]
    return [frame.cell_at(int(s), int(d)) for s, d in np.argwhere(shut)]


def misfits(evidence: Evidence, fit: Fit) -> Bools:
    """Places of readings where what was seen isn't what the fit predicts."""
    wrong: Bools = (evidence.seen != UNKNOWN) & (evidence.seen != fit.state)
    wrong &= ~evidence.as_glow(fit.state)
    return wrong


def may_explain(candidate: Candidate, where: Misfits) -> bool:
    """Whether the candidate could account for anything that doesn't fit."""
    if candidate.fault_class in BETWEEN_TWO:
        return candidate.lines in where.pairs and all(line in where.lines for line in candidate.lines)
    if candidate.lines:
        return any(line in where.lines for line in candidate.lines)
    cell = candidate.cells[0]
    if candidate.fault_class is FaultClass.DIODE_SHORTED:
        return cell in where.sneaky
    if candidate.fault_class is FaultClass.DIODE_REVERSED:
        return cell in where.sneaky or cell in where.cells
    return any(each in where.cells for each in candidate.cells)


def mechanism(candidate: Candidate, setting: Setting) -> str:
    """How a fault works, for what it does together with others: a parted wire isn't a dead chip, a driver that is
    stuck isn't a grounded wire, a loose contact isn't a burnt one."""
    if setting.loose and candidate in setting.loose:
        return f"{mechanism(candidate, USUAL)}, loose"
    match candidate.fault_class:
        case FaultClass.OPEN | FaultClass.UNPLUGGED | FaultClass.FUSE_BLOWN:
            is_chip = candidate.part is not None and part_class(candidate.part) == "integrated circuit"
            sides = sorted({str(line.side) for line in candidate.lines})
            return f"{'muted' if is_chip else 'parted'} {' '.join(sides)}"
        case FaultClass.GROUNDED if setting.fuse is not Fuse.HOLDS:
            return f"grounded, fuse {setting.fuse.name}, {candidate.lines[0]}"
        case FaultClass.BREAK | FaultClass.DEVICE_DEAD | FaultClass.DIODE_OPEN | FaultClass.DIODE_REVERSED:
            return "killed"
        case other:
            return other.value


def variant(candidate: Candidate) -> Hashable:
    """What sets candidates apart that work the same way and look the same alone: cells that were never exercised may be
    dead as well, a reversed diode leads round where others don't, and without a fuse nothing is fed past a relay."""
    if candidate.fault_class in (FaultClass.DIODE_REVERSED, FaultClass.FUSE_BLOWN):
        return candidate.fault_class
    return candidate.cells if mechanism(candidate, USUAL) == "killed" else None


def signature_of(subjects: Sequence[Subject], fits: Sequence[Fit]) -> Signature:
    """What shows at every place of every reading where something was seen, as a key."""
    return tuple(
        (subject.frame.matrix.id, changes(subject, fit).digest) for subject, fit in zip(subjects, fits, strict=True)
    )


def changes(subject: Subject, fit: Fit) -> Difference:
    """What the fit shows besides a healthy machine, where anything was seen."""
    return fit.differs.only(subject.evidence.seen.ravel()[fit.differs.places] != UNKNOWN)
