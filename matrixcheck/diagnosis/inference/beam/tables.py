"""Tables of one problem that its searches share, each made when it is first asked for.

They depend on the problem alone: a search with more work finds them as the one before left them.
"""

from __future__ import annotations

from functools import cached_property

from matrixcheck.diagnosis.inference.beam.hidden import Hiding
from matrixcheck.diagnosis.inference.beam.interactions import Interactions
from matrixcheck.diagnosis.inference.beam.score_bounds import OptimisticScores, ScoreBounds
from matrixcheck.diagnosis.inference.beam.set_scores import SetScores
from matrixcheck.diagnosis.inference.posterior import FaultSet
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.machine.byte_store import ByteStore

MOST_BYTES = 2**24
"""Bytes of optimistic scores that are kept, 16 MB: those of a thousand sets of a usual machine."""


class Tables:
    """Hold what searches of a problem ask for again and again."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.scores = SetScores(problem)
        self._additions: ByteStore[OptimisticScores] = ByteStore(MOST_BYTES)

    @cached_property
    def bounds(self) -> ScoreBounds:
        """Return the items laid out to score additions in one pass."""
        return ScoreBounds(self.problem.subjects, self.problem.items, self.problem.healthy)

    @cached_property
    def interactions(self) -> Interactions:
        """Return the items that are tried only jointly."""
        return Interactions(self.problem)

    @cached_property
    def hiding(self) -> Hiding:
        """Return the items that may hide behind a set."""
        return Hiding(self.problem)

    def additions(self, faults: FaultSet) -> OptimisticScores:
        """Score every item as an addition to a set."""
        found = self._additions.get(faults)
        if found is None:
            found = self.bounds.additions(self.problem.fits_of(faults), faults)
            self._additions.put(faults, found, sum(each.nbytes for each in found))
        return found
