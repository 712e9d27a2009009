"""Marks alone, from readings to an answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.explanation.mark_answer import Answer, Part, tell
from matrixcheck.diagnosis.explanation.mark_explanations import posterior_of, stories_of
from matrixcheck.diagnosis.explanation.mark_ways import ways_of
from matrixcheck.diagnosis.inference.exact.cell_likelihood import private_chances
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.problem import Problem, problem_of
from matrixcheck.diagnosis.inference.exact.solve import search_sets
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading

SAME = 1e-9
"""Explanations whose probabilities differ by less are as probable as each other."""


class Solved(NamedTuple):
    """An answer; the chance of a cause of its own of each cell; and `missing`, a bound on the probability of all sets
    of faults that were not visited."""

    answer: Answer
    private: dict[CellKey, float]
    missing: float

    @property
    def exact(self) -> bool:
        """Whether the best explanation is the best for certain: no other one, of those told or not, could come before
        it. One that is as probable by symmetry doesn't count."""
        first, *others = [explanation.probability for explanation in self.answer.explanations]
        rivals = [other for other in others if first - other > SAME]
        return first - max(rivals, default=0.0) > self.missing


def solve(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding],
    rates: Rates,
    late: Callable[[], bool],
) -> Solved:
    """The most probable explanations of marks alone."""
    problem = problem_of(machine_of(layout), readings, findings, rates)
    searched = search_sets(problem, late)
    parts = []
    for component, found in searched.components:
        ways = ways_of(problem, component, found, late)
        posterior = posterior_of(problem, component, ways)
        parts.append(Part(component, posterior, stories_of(problem, component, ways)))
    answer = tell(problem, parts, readings, rates, missing=searched.missing, idle=searched.idle)
    return Solved(answer, _private(problem, parts), min(searched.missing, 1.0))


def _private(problem: Problem, parts: Sequence[Part]) -> dict[CellKey, float]:
    everything = np.arange(len(problem.base))
    dead, stuck = private_chances(problem.weights, everything, problem.base, problem.dead, problem.stuck)
    chances = np.minimum(dead + stuck, 1.0)
    for part in parts:
        chances[part.component.cells] = part.posterior.of_cells()
    return dict(zip(problem.machine.cells, chances.tolist(), strict=True))
