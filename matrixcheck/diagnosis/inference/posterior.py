"""Describe weighted sets of faults: the result of every solver, from which explanations are made."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.inference.problem import Problem

FaultSet = frozenset[int]
"""Numbers of a problem's items."""


class Scored(NamedTuple):
    """Score a set of items.

    `members`: the same in rising order. `score`: log-posterior, up to a constant. `bare`: log-likelihood without
    private causes. `shows`: a digest of its prediction, one a subject. Fits are left to the problem: of thousands of
    sets few are needed again.
    """

    faults: FaultSet
    members: tuple[int, ...]
    score: float
    bare: float
    shows: tuple[bytes, ...]


class Posterior(NamedTuple):
    """List sets with their probabilities, best first.

    `hidden[n]`: items that may be there besides the n-th set without changing a reading; its probability sums over
    them. `hidden` is empty where no set has any.
    """

    sets: tuple[Scored, ...]
    probabilities: tuple[float, ...]
    hidden: tuple[FaultSet, ...] = ()

    def hidden_behind(self, place: int) -> FaultSet:
        """Return the items that may be there unseen besides the set of this number."""
        return self.hidden[place] if self.hidden else frozenset()


class Solution(NamedTuple):
    """Give what a solver found for one region.

    `missing`: the probability of every set that it did not score, an upper bound where it is `bounded` and an estimate
    elsewhere; None where it is not known. `proven`: none of these can come before the best one.
    """

    problem: Problem
    posterior: Posterior
    missing: float | None
    proven: bool
    bounded: bool = False
