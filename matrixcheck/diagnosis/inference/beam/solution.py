"""Solve one region by beam search: from a problem with readings of any kind to weighted sets of its items."""

from __future__ import annotations

from math import exp

from matrixcheck.diagnosis.inference.beam.explored import Explored, order
from matrixcheck.diagnosis.inference.beam.hidden import with_hidden
from matrixcheck.diagnosis.inference.beam.search import search
from matrixcheck.diagnosis.inference.beam.tables import Tables
from matrixcheck.diagnosis.inference.posterior import FaultSet, Posterior, Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work


def solve(problem: Problem, work: Work, tables: Tables | None = None) -> Solution:
    """Return the scored sets as a posterior; the mass of unscored ones is estimated.

    `tables`: those of earlier searches of the same problem.
    """
    tables = tables or Tables(problem)
    explored = search(problem, work, tables)
    proven = explored.proven and problem.whole
    missing = 0.0 if proven else explored.gap if problem.whole else None
    return Solution(problem, _posterior(tables, explored, work), missing, proven)


def _posterior(tables: Tables, explored: Explored, work: Work) -> Posterior:
    """Normalise over the scored sets and what may hide behind them."""
    hidden: dict[FaultSet, FaultSet] = {}
    ranked = explored.best()
    if not explored.exhaustive:
        weighed, hidden = with_hidden(tables.hiding, ranked, work)
        ranked = sorted(weighed, key=order)
    top = ranked[0].score
    weights = [exp(scored.score - top) for scored in ranked]
    total = sum(weights)
    nothing: FaultSet = frozenset()
    return Posterior(
        tuple(ranked),
        tuple(weight / total for weight in weights),
        tuple(hidden.get(scored.faults, nothing) for scored in ranked),
    )
