"""What marks say of each cell in each state that it may be in, its private causes summed out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Judged, Predicted, Seen, log_table, rates_of_kind
from matrixcheck.diagnosis.evidence.observations import is_rest_scan
from matrixcheck.diagnosis.inference.exact.cell_states import EXERCISED, FED_AT_REST, RESTING, SINGLE, Shows
from matrixcheck.diagnosis.inference.exact.model import Machine
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.reading import Mark, Reading

_MARKS = {Mark.DEAD: 0, Mark.WORKING: 1, Mark.STUCK: 2, Mark.UNTESTED: -1, None: -1}
_SORTS = 3
_OF_SHOWS = {Shows.NOTHING: Predicted.DARK, Shows.LIGHT: Predicted.LIT, Shows.GLOW: Predicted.GLOW}
_PREDICTED = np.array([_OF_SHOWS[shows] for shows in Shows])
LARGEST = 600.0
"""Nats that a private cause may add at most: `exp` of some 710 overflows."""


class Marks(NamedTuple):
    """The marks of every cell.

    `tested[cell]`: whether it was marked. `logs[cell, 0 or 1, Shows]`: log-likelihood of its marks for what shows while
    it is exercised (0) and at rest (1).
    """

    tested: Bools
    logs: Floats

    def of(self, cells: Ints) -> Marks:
        """Keep some of the cells, by their numbers, [cell] of the result."""
        return Marks(self.tested[cells], self.logs[cells])


def marks_of_cells(machine: Machine, readings: Sequence[Reading], rates: Rates) -> Marks:
    """Collect the marks of every cell of the machine; several of one cell add up, and what rest scans say of it."""
    count = len(machine.cells)
    tally = np.zeros((count, _SORTS))
    sorts = np.array([_MARKS[reading.mark] for reading in readings], dtype=np.int64)
    cells = np.array(
        [machine.place.get(reading.cell, -1) if reading.cell else -1 for reading in readings], dtype=np.int64
    )
    known = (sorts >= 0) & (cells >= 0)
    np.add.at(tally, (cells[known], sorts[known]), 1.0)
    logs = np.zeros((count, 2, len(Shows)))
    tables = np.array([log_table(rates_of_kind(frame, rates.reading)) for frame in machine.frames])[machine.kind]
    (dark, lit), (dark_at_rest, lit_at_rest) = (
        (tables[:, judged][:, _PREDICTED, Seen.DARK], tables[:, judged][:, _PREDICTED, Seen.LIT])
        for judged in (Judged.BY_MARK, Judged.AT_REST)
    )
    dead, working, stuck = tally.T[:, :, None]
    logs[:, 0] = dead * dark + (working + stuck) * lit
    scans = [reading for reading in readings if is_rest_scan(reading)]
    scanned = np.isin([frame.matrix.id for frame in machine.frames], [scan.matrix for scan in scans])[machine.kind]
    # A scan says itself what isn't on.
    logs[:, 1] = (dead + working) * dark_at_rest * ~scanned[:, None] + stuck * lit_at_rest
    for scan in scans:
        _add_scan(machine, scan, rates, logs)
    tested: Bools = tally.sum(axis=1) > 0
    return Marks(tested, logs)


def _add_scan(machine: Machine, scan: Reading, rates: Rates, logs: Floats) -> None:
    """Add to `logs` what a rest scan says of each cell at rest."""
    number = next(at for at, frame in enumerate(machine.frames) if frame.matrix.id == scan.matrix)
    table = log_table(rates_of_kind(machine.frames[number], rates.reading))[Judged.AS_OTHER][_PREDICTED]
    on = np.zeros(len(machine.cells), dtype=bool)
    on[[machine.place[cell] for cell in scan.answered or () if cell in machine.place]] = True
    here = machine.kind == number
    logs[here, 1] += np.where(on[here, None], table[:, Seen.LIT], table[:, Seen.DARK])


def log_likelihoods(marks: Marks, dead: Floats, stuck: Floats) -> Floats:
    """Weigh every cell in every state: [cell, state], private causes summed out, in nats.

    `dead[cell]`, `stuck[cell]`: chances of a private cause.
    """
    exercised, resting = marks.logs[:, 0][:, EXERCISED], marks.logs[:, 1][:, RESTING]
    dark = marks.logs[:, :, Shows.NOTHING].sum(axis=1)[:, None]
    lost = np.where(SINGLE, dark - exercised - resting, 0.0)
    held = np.where(FED_AT_REST, marks.logs[:, 1, Shows.LIGHT][:, None] - resting, 0.0)
    private = dead[:, None] * np.expm1(np.minimum(lost, LARGEST)) + stuck[:, None] * np.expm1(np.minimum(held, LARGEST))
    return exercised + resting + np.log1p(private)
