"""Weighted sets of faults: what every solver gives, and what explanations are made of."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.inference.problem import Problem

FaultSet = frozenset[int]
"""Numbers of a problem's items."""


class Scored(NamedTuple):
    """A set of items with its log-posterior (up to a constant), and `bare`, its log-likelihood without private causes.
    `shows`: a key for what it predicts. How the readings fit it is asked of the problem: of thousands of sets few are
    asked for again."""

    faults: FaultSet
    score: float
    bare: float
    shows: tuple[bytes, ...]


class Posterior(NamedTuple):
    """Sets with their probabilities, best first. `hidden[n]`: the items that may be there besides the n-th set without
    changing a reading, which its probability sums over; none where it is empty."""

    sets: tuple[Scored, ...]
    probabilities: tuple[float, ...]
    hidden: tuple[FaultSet, ...] = ()

    def hidden_behind(self, place: int) -> FaultSet:
        """The items that may hide behind the set of this number."""
        return self.hidden[place] if self.hidden else frozenset()


class Solution(NamedTuple):
    """What a solver found for one region.

    `missing`: the probability of every set that it did not score, an upper bound where it is `bounded` and an estimate
    elsewhere; None where it is not known. `proven`: none of these can come before the best one.
    """

    problem: Problem
    posterior: Posterior
    missing: float | None
    proven: bool
    bounded: bool = False
