"""The faults worth searching: those that can touch what doesn't fit, merged where single faults look the same.

An item stands for all candidates that give the same readings on their own. What looks just like one dead or stuck
cell is no item: it is one of that cell's private causes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence import LIT, UNKNOWN, Evidence
from matrixcheck.diagnosis.faults import DEAD_CELL, Candidate
from matrixcheck.diagnosis.likelihood import Fit, Subject
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, LineKey

Signature = tuple[tuple[str, bytes], ...]


class Item(NamedTuple):
    """Candidates that look the same. `lead` is the likeliest; `weight` the log-odds that any of them is there;
    `changes`: for each matrix, the flat places that differ from a healthy machine, and whether they are on instead."""

    lead: Candidate
    members: tuple[Candidate, ...]
    weight: float
    blows_fuse: bool
    changes: dict[str, tuple[np.ndarray, np.ndarray]]  # type: ignore[type-arg]


def log_odds(rate: float) -> float:
    """log(p / (1 - p)), with p kept off 0 and 1."""
    kept = min(max(rate, 1e-12), 1 - 1e-6)
    return log(kept / (1 - kept))


class Touched(NamedTuple):
    """Lines and cells at which a healthy machine wouldn't have shown what was seen."""

    lines: frozenset[LineKey]
    cells: frozenset[CellKey]
    sneaks: frozenset[str]


def touched(subjects: Iterable[Subject], healthy: Iterable[Fit]) -> Touched:
    """Where the readings disagree with a healthy machine, and in which matrices more shows than should."""
    lines: set[LineKey] = set()
    cells: set[CellKey] = set()
    sneaks: set[str] = set()
    for subject, fit in zip(subjects, healthy, strict=True):
        wrong = misfits(subject.evidence, fit)
        matrix = subject.frame.matrix
        extra = wrong & ~fit.shown.on
        if (extra & (subject.evidence.exercised == 0)).any():
            sneaks.add(matrix.id)
        for sensed, index, driven in np.argwhere(wrong):
            place = subject.frame.cell_at(int(sensed), int(driven))
            reading = subject.evidence.readings[index]
            for cell in (place, *filter(None, [reading.cell]), *reading.held):
                cells.add(cell)
                lines.update((LineKey(matrix.id, "row", cell.row), LineKey(matrix.id, "column", cell.column)))
    return Touched(frozenset(lines), frozenset(cells), frozenset(sneaks))


def misfits(evidence: Evidence, fit: Fit) -> np.ndarray:  # type: ignore[type-arg]
    """Places of readings where what was seen isn't what the fit predicts."""
    lit = evidence.seen == LIT
    wrong = (lit != fit.shown.on) & (evidence.seen != UNKNOWN)
    if fit.shown.glow is not None:
        wrong &= ~fit.shown.glow
    if fit.shown.faint is not None:
        wrong &= ~(fit.shown.faint & (evidence.seen == 1))
    return wrong | ((evidence.seen == 1) & ~(fit.shown.on if fit.shown.faint is None else fit.shown.faint))


def worth_a_look(candidate: Candidate, where: Touched) -> bool:
    """Whether the candidate could account for anything that doesn't fit."""
    if candidate.fault_class in (FaultClass.SHORTED_TOGETHER, FaultClass.CROSSED):
        return all(line in where.lines for line in candidate.lines)
    if candidate.lines:
        return any(line in where.lines for line in candidate.lines)
    cell = candidate.cells[0]
    if candidate.fault_class is FaultClass.DIODE_SHORTED:
        return cell.matrix in where.sneaks
    return cell in where.cells


def signature_of(subjects: Sequence[Subject], fits: Sequence[Fit]) -> Signature:
    """What shows at every place of every reading where something was seen, as a key."""
    return tuple(
        (subject.frame.matrix.id, _shown_bytes(subject.evidence, fit)) for subject, fit in zip(subjects, fits, strict=True)
    )


def _shown_bytes(evidence: Evidence, fit: Fit) -> bytes:
    state = fit.shown.on.astype(np.uint8)
    if fit.shown.faint is not None:
        state[fit.shown.faint] = 2
    if fit.shown.glow is not None:
        state[fit.shown.glow] = 3
    state[evidence.seen == UNKNOWN] = 0
    return state.tobytes()


def changes(healthy: Fit, fit: Fit, evidence: Evidence) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg]
    """Flat places where the fit shows something else than a healthy machine, and whether they are on."""
    differ = fit.shown.on != healthy.shown.on
    if fit.shown.faint is not None:
        differ |= fit.shown.faint
    if fit.shown.glow is not None and healthy.shown.glow is not None:
        differ |= fit.shown.glow != healthy.shown.glow
    differ &= evidence.known
    places = np.flatnonzero(differ)
    return places, fit.shown.on.ravel()[places]


def is_private_dead(candidate: Candidate) -> bool:
    """Whether the candidate kills one cell for a reason of its own."""
    return candidate.fault_class in DEAD_CELL
