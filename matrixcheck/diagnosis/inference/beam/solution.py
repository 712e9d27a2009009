"""Solve one region by beam search: from a problem with readings of any kind to weighted sets of its items."""

from __future__ import annotations

from math import exp

from matrixcheck.diagnosis.inference.beam.search import Explored, search
from matrixcheck.diagnosis.inference.posterior import Posterior, Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work


def solve(problem: Problem, work: Work) -> Solution:
    """Return the scored sets as a posterior; the mass of unscored ones is estimated."""
    explored = search(problem, work)
    proven = explored.proven and problem.whole
    missing = 0.0 if proven else explored.gap if problem.whole else None
    return Solution(problem, _posterior(explored), missing, proven)


def _posterior(explored: Explored) -> Posterior:
    """Normalise over the scored sets."""
    ranked = explored.best()
    top = ranked[0].score
    weights = [exp(scored.score - top) for scored in ranked]
    total = sum(weights)
    return Posterior(tuple(ranked), tuple(weight / total for weight in weights))
