"""Count where more shows than a set of faults predicts: current came round by some other way."""

from __future__ import annotations

from collections.abc import Collection, Sequence, Set

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted, Seen
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.machine.matrix_frame import Bools
from matrixcheck.layout.places import CellKey, LineKey


def lines_of(cell: CellKey) -> tuple[LineKey, LineKey]:
    """Return the two lines of a cell."""
    return LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)


def shows_too_much(subject: Subject, fit: Fit) -> Bools:
    """Return where anything showed though the fit predicts dark, as [sensed, exercise, driven]."""
    seen = subject.evidence.seen
    found: Bools = ((seen == Seen.LIT) | (seen == Seen.FAINT)) & (fit.state == Predicted.DARK)
    return found


def lines_with_surplus(subjects: Sequence[Subject], fits: Sequence[Fit]) -> dict[LineKey, int]:
    """Count for each line of lamps or coils how often a cell of it showed too much."""
    found: dict[LineKey, int] = {}
    for subject, fit in zip(subjects, fits, strict=True):
        if subject.frame.kind == "switch":
            continue
        more = shows_too_much(subject, fit).sum(axis=1)
        for sensed, driven in np.argwhere(more).tolist():
            for line in lines_of(subject.frame.cell_at(sensed, driven)):
                found[line] = found.get(line, 0) + int(more[sensed, driven])
    return found


def bypass_counts(
    subject: Subject, surplus: Bools, stuck: Collection[CellKey], drained: Set[LineKey]
) -> dict[CellKey, float]:
    """Count, by cell, the unexplained places that an odd diode of it could feed.

    `surplus[sensed, exercise, driven]`: where more showed than predicted. In a switch matrix the diode is one corner of
    a rectangle whose other three are closed; or it lies on a drained line and pulls every line closed to its own. Among
    lamps and coils current comes round by both of its lines.
    """
    frame = subject.frame
    if frame.kind != "switch":
        shown_at = surplus.sum(axis=1)
        on_lines = shown_at.sum(axis=1)[:, None] + shown_at.sum(axis=0)[None, :]
        return {cell.key: 1.0 + float(on_lines[place]) for place, cell in frame.cells.items()}
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
