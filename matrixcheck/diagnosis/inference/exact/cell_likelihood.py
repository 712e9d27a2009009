"""What marks say of each cell in each state that it may be in, its private causes summed out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Judged, Predicted, Seen, log_table, rates_of_kind
from matrixcheck.diagnosis.inference.exact.cell_states import GLOWS, NOT, ON, STATES, exercised_of, resting_of
from matrixcheck.diagnosis.inference.exact.model import Machine
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints, States
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.reading import Mark, Reading

_MARKS = {Mark.DEAD: 0, Mark.WORKING: 1, Mark.STUCK: 2, Mark.UNTESTED: -1, None: -1}
_SORTS = 3
_ALL = np.arange(STATES)
EXERCISED, RESTING, SINGLE = exercised_of(_ALL), resting_of(_ALL), _ALL % 2 == 1
_PREDICTED = np.array([Predicted.DARK, Predicted.LIT, Predicted.GLOW])


class Marks(NamedTuple):
    """`tested[cell]`: it was marked. `seen[cell, 0 or 1]`: what was seen last when it was exercised, and at rest.
    `told[cell, 0 or 1, NOT/ON/GLOWS]`: log-likelihood of its marks for what shows then."""

    tested: Bools
    seen: States
    told: Floats

    def of(self, cells: Ints) -> Marks:
        """The same for some of the cells."""
        return Marks(self.tested[cells], self.seen[cells], self.told[cells])


class Weights(NamedTuple):
    """Log-likelihoods by (cell, state). `joint`: with private causes summed out. `dead`, `stuck`: what such a cause
    would add to what the state says by itself."""

    joint: Floats
    dead: Floats
    stuck: Floats


def marks_of_cells(machine: Machine, readings: Sequence[Reading], rates: Rates) -> Marks:
    """The marks of every cell; several of one cell add up."""
    count = len(machine.cells)
    tally = np.zeros((count, _SORTS))
    seen = np.full((count, 2), Seen.DARK, dtype=np.uint8)
    sorts = np.array([_MARKS[reading.mark] for reading in readings], dtype=np.int64)
    cells = np.array(
        [machine.place.get(reading.cell, -1) if reading.cell else -1 for reading in readings], dtype=np.int64
    )
    known = (sorts >= 0) & (cells >= 0)
    sorts, cells = sorts[known], cells[known]
    np.add.at(tally, (cells, sorts), 1.0)
    seen[cells, 0] = np.where(sorts == _MARKS[Mark.DEAD], Seen.DARK, Seen.LIT)
    seen[cells, 1] = np.where(sorts == _MARKS[Mark.STUCK], Seen.LIT, Seen.DARK)
    told = np.zeros((count, 2, len(_PREDICTED)))
    tables = np.array([log_table(rates_of_kind(frame, rates.reading))[Judged.BY_MARK] for frame in machine.frames])
    dark, lit = tables[:, _PREDICTED, Seen.DARK][machine.kind], tables[:, _PREDICTED, Seen.LIT][machine.kind]
    dead, working, stuck = tally.T[:, :, None]
    told[:, 0] = dead * dark + (working + stuck) * lit
    told[:, 1] = (dead + working) * dark + stuck * lit
    tested: Bools = tally.sum(axis=1) > 0
    return Marks(tested, seen, told)


def weights_of(marks: Marks, dead: Floats, stuck: Floats) -> Weights:
    """Every cell in every state. `dead`, `stuck`: chances of a private cause, by cell."""
    exercised, resting = marks.told[:, 0][:, EXERCISED], marks.told[:, 1][:, RESTING]
    lost = np.where(
        (EXERCISED == GLOWS) | ((EXERCISED == ON) & SINGLE), marks.told[:, 0, NOT][:, None] - exercised, 0.0
    )
    held = np.where(EXERCISED == ON, 0.0, marks.told[:, 0, ON][:, None] - exercised)
    held = held + np.where(RESTING == ON, 0.0, marks.told[:, 1, ON][:, None] - resting)
    held = np.where(EXERCISED == ON, held, 0.0)
    private = dead[:, None] * np.expm1(np.minimum(lost, 600)) + stuck[:, None] * np.expm1(np.minimum(held, 600))
    return Weights(exercised + resting + np.log1p(private), lost, held)


def private_chances(weights: Weights, cells: Ints, states: Ints, dead: Floats, stuck: Floats) -> tuple[Floats, Floats]:
    """The chances that cells in these states are dead, or stuck, for a reason of their own."""
    lost, held = weights.dead[cells, states], weights.stuck[cells, states]
    total = 1 + dead[cells] * np.expm1(np.minimum(lost, 600)) + stuck[cells] * np.expm1(np.minimum(held, 600))
    return (
        dead[cells] * np.exp(np.minimum(lost, 600)) / total,
        stuck[cells] * np.exp(np.minimum(held, 600)) / total,
    )
