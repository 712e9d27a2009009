"""State each cell after the readings: its mark, whether it comes and goes, and the chance of a private cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from matrixcheck.diagnosis.evidence.intermittence import marks_of
from matrixcheck.diagnosis.explanation.combine import DIGITS
from matrixcheck.diagnosis.inference.posterior import Posterior
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.result import CellState
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


def cell_states(layout: Layout, readings: Sequence[Reading], private: Mapping[CellKey, float]) -> tuple[CellState, ...]:
    """Return one state a fitted cell, in the layout's order; `private`: the chance of a private cause, if known."""
    marks = marks_of(readings)
    return tuple(
        CellState.model_construct(
            cell=cell.key,
            number=cell.number,
            name=cell.name,
            mark=marks[cell.key][-1] if cell.key in marks else Mark.UNTESTED,
            private=round(private.get(cell.key, 0.0), DIGITS),
            intermittent=len(set(marks.get(cell.key, ()))) > 1,
        )
        for matrix in layout.matrices
        for cell in matrix.fitted
    )


def private_chances(problem: Problem, posterior: Posterior) -> dict[CellKey, float]:
    """Return for each cell of the problem the chance of a cause of its own.

    Where a solver sums what else looks like one dead or stuck cell with these, it is their share.
    """
    found: dict[CellKey, float] = {}
    for place, subject in enumerate(problem.subjects):
        total = np.zeros(subject.frame.shape)
        private = problem.private[place]
        of_dead, of_stuck = problem.shares[place] if problem.shares else (1.0, 1.0)
        for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
            if probability < 1e-6:
                break
            chances = problem.fit_of(place, scored.faults).posterior(private)
            total = total + probability * (chances.dead * of_dead + chances.stuck * of_stuck)
        for at, cell in subject.cells.items():
            found[cell.key] = float(min(total[at], 1.0))
    return found
