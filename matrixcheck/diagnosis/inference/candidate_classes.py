"""Classify candidates: which may explain a misfit, and which share a signature and a mechanism.

An item stands for all candidates that give the same readings alone. The signature of one dead or stuck cell makes no
item: it is a private cause of that cell. Candidates of one signature alone may differ beside other faults; the less
likely of them, and those without effect alone, are items that are tried jointly only.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from enum import IntEnum
from math import exp, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Judged, Predicted, Seen
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fuse, Setting, fused_with
from matrixcheck.diagnosis.inference.difference import Difference
from matrixcheck.diagnosis.inference.held_lines import lines_held_on
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO, KILLING, LASTING, PARTING
from matrixcheck.diagnosis.machine.matrix_frame import Bools
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.places import CellKey, LineKey

Signature = tuple[tuple[str, bytes], ...]


class Role(IntEnum):
    """Say when the search tries an item.

    ALONE: beside any set. SUBSTITUTE: in place of an item with the same signature alone. EXPLICIT: a private cause that
    becomes a member of the set, as others interact with it. ONLY_JOINT: beside others, as it has no effect alone.
    """

    ALONE = 0
    SUBSTITUTE = 1
    EXPLICIT = 2
    ONLY_JOINT = 3


class Item(NamedTuple):
    """Merge candidates of one signature and mechanism.

    `lead`: the likeliest. `weight`: log-odds that any of them is there. `changes`: by each matrix that it acts in, how
    its prediction alone differs from a healthy machine's where anything was seen. `of`: lead of the item that it may
    replace.
    """

    lead: Candidate
    members: tuple[Candidate, ...]
    weight: float
    setting: Setting
    changes: dict[str, Difference]
    role: Role = Role.ALONE
    of: Candidate | None = None

    def within(self, matrix_ids: Collection[str]) -> Item:
        """Return the item with its changes in some matrices only."""
        inside = {name: each for name, each in self.changes.items() if name in matrix_ids}
        return self if len(inside) == len(self.changes) else self._replace(changes=inside)


def log_odds(rate: float) -> float:
    """Return log(p / (1 - p)), with p clipped to 1e-12 .. 1 - 1e-6."""
    kept = min(max(rate, 1e-12), 1 - 1e-6)
    return log(kept / (1 - kept))


def chance_of(weight: float) -> float:
    """Return the probability of log-odds."""
    return 1 / (1 + exp(-min(max(weight, -700.0), 700.0)))


class Misfits(NamedTuple):
    """Locate misfits between the readings and a healthy machine.

    `lines`, `cells`: where a misfit lies or was exercised or held. `unread`: lines without an exercised cell. `pairs`:
    two lines of which one may have shown too much while the other one showed. `bypassing`: cells whose odd diode could
    feed a place that shows too much. `bright`: the lines on which anything shows too much, or a switch doesn't open.
    `fused`: of the `unread`, those whose fuse feeds a line with a misfit. `shut`: matrices where anything shows too
    much, and that read closed throughout without their fuse. `held`: the lines that something may hold on.
    """

    lines: frozenset[LineKey]
    unread: frozenset[LineKey]
    pairs: frozenset[tuple[LineKey, ...]]
    cells: frozenset[CellKey]
    bypassing: frozenset[CellKey]
    bright: frozenset[LineKey]
    fused: frozenset[LineKey]
    shut: frozenset[str]
    held: frozenset[LineKey]


def misfit_locations(subjects: Sequence[Subject], healthy: Iterable[Fit]) -> Misfits:
    """Return where the readings disagree with the fits of a healthy machine."""
    lines: set[LineKey] = set()
    unread: set[LineKey] = set()
    cells: set[CellKey] = set()
    pairs: set[tuple[LineKey, ...]] = set()
    bypassing: set[CellKey] = set()
    reading_shut = [subject.frame.matrix.id for subject in subjects if subject.frame.fuse_reads_closed]
    bright: set[LineKey] = set()
    for subject, fit in zip(subjects, healthy, strict=True):
        wrong = misfits(subject.evidence, fit)
        frame, evidence = subject.frame, subject.evidence
        pairs.update(_line_pairs(subject, fit))
        unread.update(_unread_lines(subject))
        bright.update(line for cell in _bright_cells(subject, wrong) for line in _lines_of(cell))
        for index in map(int, np.flatnonzero(wrong.any(axis=(0, 2)))):
            places = [frame.cell_at(int(s), int(d)) for s, d in np.argwhere(wrong[:, index, :])]
            for cell in (*places, *evidence.cells_in(index)):
                cells.add(cell)
                lines.update(_lines_of(cell))
            others = evidence.judged[:, index, :] == Judged.AS_OTHER
            extra = wrong[:, index, :] & (fit.state[:, index, :] == Predicted.DARK) & others
            if extra.any() and not evidence.exercises.alone:
                bypassing.update(_bypassing_cells(subject, index, extra))
    return Misfits(
        frozenset(lines),
        frozenset(unread),
        frozenset(pairs),
        frozenset(cells),
        frozenset(bypassing),
        frozenset(bright),
        frozenset(line for subject in subjects for line in _fused_with(subject, lines, unread)),
        frozenset(line.matrix for line in bright).intersection(reading_shut),
        frozenset(line for subject in subjects for line in lines_held_on(subject)),
    )


def _lines_of(cell: CellKey) -> tuple[LineKey, LineKey]:
    return LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)


def _unread_lines(subject: Subject) -> Iterator[LineKey]:
    """Yield the lines of which no cell was exercised: what is crossed with them leaves no other trace."""
    exercised = (subject.evidence.judged != Judged.AS_OTHER).any(axis=1)
    of_sensed, of_driven = (np.asarray(exercised.any(axis=axis)) for axis in (1, 0))
    for line in subject.frame.matrix.lines:
        if not (of_driven if subject.frame.is_driven(line) else of_sensed)[line.place - 1]:
            yield line


def _fused_with(subject: Subject, lines: Collection[LineKey], unread: Iterable[LineKey]) -> Iterator[LineKey]:
    """Yield the unread lines of a bank whose fuse feeds one of `lines`: grounded, such a line takes it."""
    frame = subject.frame
    if frame.kind == "switch":
        return
    for line in unread:
        if line.matrix == frame.matrix.id and frame.is_driven(line):
            fed = (LineKey(line.matrix, line.side, place + 1) for place in fused_with(frame, line.place - 1))
            if any(one in lines for one in fed):
                yield line


def _bright_cells(subject: Subject, wrong: Bools) -> Iterator[CellKey]:
    """Yield the cells that show too much, and the switches that don't open; `wrong`: the misfits."""
    more = (wrong & (subject.evidence.seen != Seen.DARK)).any(axis=1)
    yield from (subject.frame.cell_at(int(s), int(d)) for s, d in np.argwhere(more))
    for index in subject.evidence.exercises.opened:
        yield from subject.evidence.cells_in(index)


def _line_pairs(subject: Subject, healthy: Fit) -> Iterator[tuple[LineKey, ...]]:
    """Yield ordered pairs of lines, one of which may have shown too much in a reading where the other one showed.

    The other one may also have been due, or have no cell there. Marks alone leave all pairs possible.
    """
    frame, evidence = subject.frame, subject.evidence
    seen, usual = evidence.seen, healthy.state
    more = ((seen == Seen.LIT) | (seen == Seen.UNKNOWN)) & (usual != Predicted.LIT)
    more |= (seen == Seen.FAINT) & (usual == Predicted.DARK)
    for index in evidence.exercises.opened:  # a switch that doesn't open goes on showing
        sensed, driven = evidence.exercises.commanded[index]
        more[sensed, index, driven] |= seen[sensed, index, driven] == Seen.DARK
    shows = (usual != Predicted.DARK) | (seen == Seen.LIT) | (seen == Seen.FAINT)
    missing, nowhere = ((usual == Predicted.LIT) & (seen == Seen.DARK)).any(axis=1), frame.fitted == 0
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


def _bypassing_cells(subject: Subject, index: int, extra: Bools) -> Iterable[CellKey]:
    """Return the cells whose odd diode could have fed the places `extra[sensed, driven]` of one reading.

    In a switch matrix those that were closed; in a lamp matrix those in the sensed or driven line of such a place; in a
    coil bank all, as relays may feed any.
    """
    frame = subject.frame
    if frame.kind == "switch":
        shut = subject.evidence.exercises.closed[:, index, :] > 0
    elif frame.kind == "coil":
        shut = frame.fitted > 0
    else:
        lit = subject.evidence.seen[:, index, :] == Seen.LIT
        shut = extra.copy()
        shut |= (extra & lit.any(axis=0)[None, :]).any(axis=1)[:, None]
        shut |= (extra & lit.any(axis=1)[:, None]).any(axis=0)[None, :]
    return [frame.cell_at(int(s), int(d)) for s, d in np.argwhere(shut)]


def misfits(evidence: Evidence, fit: Fit) -> Bools:
    """Return where what was seen isn't what the fit predicts, as [sensed, exercise, driven]."""
    wrong: Bools = (evidence.seen != Seen.UNKNOWN) & (evidence.seen != fit.state)
    wrong &= ~evidence.fits_glow(fit.state)
    return wrong


def may_explain(candidate: Candidate, where: Misfits) -> bool:
    """Return whether the candidate could explain any of the misfits."""
    if candidate.fault_class in BETWEEN_TWO:
        first, second = candidate.lines
        either = where.lines | where.unread
        return candidate.lines in where.pairs and bool(where.lines & {first, second}) and either >= {first, second}
    if candidate.fault_class in ALWAYS_ON and not _could_show(candidate, where):
        return False
    if candidate.lines:
        shut = where.shut if candidate.fault_class is FaultClass.FUSE_BLOWN else ()
        more = where.fused if candidate.fault_class is FaultClass.GROUNDED else frozenset[LineKey]()
        more |= where.held if candidate.fault_class in LASTING else frozenset[LineKey]()
        own = any(line in where.lines or line in more or line.matrix in shut for line in candidate.lines)
        return own or not where.lines.isdisjoint(candidate.fused)
    cell = candidate.cells[0]
    if candidate.fault_class is FaultClass.DIODE_SHORTED:
        return cell in where.bypassing
    if candidate.fault_class is FaultClass.DIODE_REVERSED:
        return cell in where.bypassing or cell in where.cells
    # Beside displaced lines a stuck cell shows at another cell of its lines.
    return candidate.fault_class is FaultClass.DEVICE_STUCK or any(each in where.cells for each in candidate.cells)


ALWAYS_ON = (FaultClass.STUCK_ON, FaultClass.DEVICE_STUCK)
"""What is always on makes nothing darker: it explains nothing where nothing shows too much."""


def _could_show(candidate: Candidate, where: Misfits) -> bool:
    """Return whether too much shows where a line or cell that is always on may come out, over crossed lines as well.

    A line that something may hold on shows more than it should once its plug or chip is suspected.
    """
    if candidate.lines:
        if candidate.lines[0] in where.held:
            return True
        return not {line.matrix for line in where.bright}.isdisjoint(line.matrix for line in candidate.lines)
    return not where.bright.isdisjoint(_lines_of(candidate.cells[0]))


def mechanism(candidate: Candidate, setting: Setting) -> str:
    """Return a key for how a fault interacts with others.

    A parted wire isn't a dead chip, a stuck driver isn't a grounded wire, a loose contact isn't a burnt one.
    """
    if setting.loose and candidate in setting.loose:
        return f"{mechanism(candidate, USUAL)}, loose"
    if candidate.fault_class in PARTING:
        is_chip = candidate.part is not None and part_class(candidate.part) == "integrated circuit"
        sides = sorted({str(line.side) for line in candidate.lines})
        return f"{'muted' if is_chip else 'parted'} {' '.join(sides)}"
    if candidate.fault_class in KILLING:
        return "killed"
    if candidate.fault_class is FaultClass.GROUNDED and setting.fuse is not Fuse.HOLDS:
        return f"grounded, fuse {setting.fuse.name}, {candidate.lines[0]}, spares {sorted(setting.spared)}"
    return candidate.fault_class.value


def variant(candidate: Candidate) -> Hashable:
    """Return a key for differences between candidates of one signature and mechanism that show beside other faults.

    Cells that were never exercised may be dead as well, a reversed diode bypasses where others don't, and without a
    fuse nothing is fed past a relay.
    """
    if candidate.fault_class in (FaultClass.DIODE_REVERSED, FaultClass.FUSE_BLOWN):
        return candidate.fault_class
    return candidate.cells if mechanism(candidate, USUAL) == "killed" else None


def signature_of(subjects: Sequence[Subject], fits: Sequence[Fit]) -> Signature:
    """Return a key for the predictions wherever something was seen: one digest a matrix."""
    return tuple(
        (subject.frame.matrix.id, changes(subject, fit).digest) for subject, fit in zip(subjects, fits, strict=True)
    )


def changes(subject: Subject, fit: Fit) -> Difference:
    """Return how the fit's prediction differs from a healthy machine's where anything was seen."""
    return fit.differs.only(subject.evidence.seen.ravel()[fit.differs.places] != Seen.UNKNOWN)
