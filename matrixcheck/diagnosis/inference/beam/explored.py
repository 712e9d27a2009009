"""What a search has scored: sets in their order, and the probability of what was left out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from heapq import nlargest
from math import exp, inf

from matrixcheck.diagnosis.inference.log_sum import log_sum
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored


@dataclass
class Explored:
    """Hold every set that was scored.

    `finished`: the search ended by itself, not because its work was used up. `proven`: no unscored set can be the best.
    `left_out`: estimated log-posterior of the deferred sets. `exhaustive`: every set of the items was scored.
    """

    sets: dict[FaultSet, Scored] = field(default_factory=dict)
    finished: bool = True
    proven: bool = False
    left_out: float = -inf
    exhaustive: bool = False

    @property
    def gap(self) -> float:
        """Return the estimated probability of what was not scored."""
        known = log_sum([scored.score for scored in self.sets.values()])
        return 1 / (1 + exp(min(known - self.left_out, 700.0)))

    def best(self, count: int | None = None) -> list[Scored]:
        """Return the sets by falling score, the first `count` of them."""
        every: Collection[Scored] = self.sets.values()
        if count is None or len(every) <= count:
            return sorted(every, key=order)
        least = nlargest(count, [scored.score for scored in every])[-1] - TIED
        return sorted([scored for scored in every if scored.score >= least], key=order)[:count]


Rank = tuple[float, int, tuple[int, ...]]
"""Best first; ties but for rounding go by size and by numbers, on every machine alike."""
DIGITS, TIED = 9, 1e-8
"""Decimals of a score that order sets: further ones are rounding. Scores further apart than the second are no ties."""


def order(scored: Scored) -> Rank:
    """Return the sort key of a set."""
    return -round(scored.score, DIGITS), len(scored.members), scored.members
