"""The most probable sets of faults: a beam over sets, each scored by the forward model.

Additions are ranked by how much of what a set leaves unexplained they could explain, then scored exactly. What can't
come near the best is left aside: an addition that bears on no other fault of the set is worth what it gains and loses
by itself; one that may work together with others is tried while a set of that size could be the best at all. Members
of good sets are swapped for others. The search ends when no larger set can catch up, or at the deadline.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import combinations
from time import perf_counter
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.condition import joint
from matrixcheck.diagnosis.likelihood import Fit
from matrixcheck.diagnosis.outlook import Lookout
from matrixcheck.diagnosis.pool import Problem

FaultSet = frozenset[int]
Clock = Callable[[], float]

WIDTH = 10
ADDITIONS = 28
DEPTH = 8
EXHAUSTIVE = 9
"""Up to so many items every set is scored, so that probabilities are exact."""
NEAR = 7.0
"""Sets that can't come within so many nats of the best, whatever they explain, are left aside."""
HOPELESS = 30.0
"""A set this far below the best, in nats, is neither extended nor reported."""


class Scored(NamedTuple):
    """A set of items with its log-posterior (up to a constant) and its fits, one a matrix."""

    faults: FaultSet
    score: float
    fits: tuple[Fit, ...]

    @property
    def bare(self) -> float:
        """The log-likelihood without private causes."""
        return sum(fit.bare for fit in self.fits)


@dataclass
class Explored:
    """Every set that was scored. `finished`: the search ended by itself, not at its deadline."""

    sets: dict[FaultSet, Scored] = field(default_factory=dict)
    finished: bool = True

    def best(self, count: int | None = None) -> list[Scored]:
        """Sets by falling score."""
        order = sorted(self.sets.values(), key=lambda each: (-each.score, len(each.faults), sorted(each.faults)))
        return order[:count]


def search(problem: Problem, deadline: float, clock: Clock = perf_counter) -> Explored:
    """Explores sets of the problem's items until `deadline` (a reading of `clock`) at the latest."""
    return _Search(problem, deadline, clock).run()


class _Search:
    def __init__(self, problem: Problem, deadline: float, clock: Clock) -> None:
        self.problem = problem
        self.deadline = deadline
        self.clock = clock
        self.explored = Explored()
        self.lookout = Lookout(problem.subjects, problem.items)
        self.ceiling = sum(subject.evidence.ceiling for subject in problem.subjects)
        self.weights = sorted((item.weight for item in problem.items), reverse=True)
        self.best = -np.inf
        self.best_bare = -np.inf

    def run(self) -> Explored:
        self._score(frozenset())
        for index in range(len(self.problem.items)):
            self._score(frozenset((index,)))
        if len(self.problem.items) <= EXHAUSTIVE:
            everyone = range(len(self.problem.items))
            self._score_all(
                frozenset(chosen) for size in range(2, len(everyone) + 1) for chosen in combinations(everyone, size)
            )
            return self.explored
        for size in range(2, DEPTH + 1):
            if self._late() or self._out_of_reach(size):
                break
            beam = self._beam(size - 1)
            self._score_all(scored.faults | {addition} for scored in beam for addition in self._additions(scored))
            if not self._promising(self._beam(size)):
                break
        self._swap()
        return self.explored

    def _beam(self, size: int) -> list[Scored]:
        """The sets of that size to go on from: the best, and the best of those that leave private causes aside.

        A cause that is right but spoils some readings until a second one joins it looks poor beside "everything is a
        cell's own fault"; without that crutch it stands out.
        """
        of_size = [scored for scored in self.explored.sets.values() if len(scored.faults) == size]
        by_score = sorted(of_size, key=lambda scored: -scored.score)[:WIDTH]
        by_bare = sorted(of_size, key=lambda scored: -scored.bare)[:WIDTH]
        return list({scored.faults: scored for scored in (*by_score, *by_bare)}.values())

    def _promising(self, grown: list[Scored]) -> bool:
        return any(scored.score > self.best - HOPELESS / 2 or scored.bare > self.best_bare for scored in grown)

    def _out_of_reach(self, size: int) -> bool:
        """Whether no set of that size or more could come near the best, even if it explained every reading."""
        return self.ceiling + sum(self.weights[:size]) < self.best - NEAR

    def _late(self) -> bool:
        if self.clock() < self.deadline:
            return False
        self.explored.finished = False
        return True

    def _score_all(self, sets: Iterable[FaultSet]) -> None:
        for faults in sets:
            if self._late():
                return
            self._score(faults)

    def _score(self, faults: FaultSet) -> Scored:
        known = self.explored.sets.get(faults)
        if known is not None:
            return known
        problem = self.problem
        chosen = [problem.items[index] for index in faults]
        setting = joint(item.setting for item in chosen)
        fits = chosen[0].fits if len(chosen) == 1 else problem.fits([item.lead for item in chosen], setting)
        likely = sum(fit.log(private) for fit, private in zip(fits, problem.private, strict=True))
        scored = Scored(faults, likely + sum(item.weight for item in chosen), fits)
        self.explored.sets[faults] = scored
        if scored.score > self.best:
            self.best, self.best_bare = scored.score, scored.bare
        return scored

    def _additions(self, scored: Scored) -> list[int]:
        """The items to try besides: those that could bring the set near the best by what they gain and lose, and those
        that might work together with it, most hopeful first."""
        outlook = self.lookout.from_(scored.fits)
        prior = sum(self.problem.items[index].weight for index in scored.faults)
        most = self.ceiling + prior + self.lookout.weights
        worth = (scored.score + outlook.expected > self.best - NEAR) & (most > self.best - NEAR)
        worth |= (most > self.best) & (outlook.hoped > -HOPELESS / 3) & ~self._apart(scored.faults)
        worth[list(scored.faults)] = False
        places = np.flatnonzero(worth)
        return [int(place) for place in places[np.argsort(-outlook.hoped[places], kind="stable")][:ADDITIONS]]

    def _apart(self, faults: FaultSet) -> np.ndarray:
        """The items that don't bear on any of these: what is silent by two causes is no more silent than by one."""
        if all(self.lookout.silencing[index] for index in faults):
            return self.lookout.silencing
        return np.zeros_like(self.lookout.silencing)

    def _swap(self) -> None:
        """For the best sets, every member is taken out and others are tried in its place."""
        for scored in self.explored.best(3):
            for member in scored.faults:
                rest = self._score(scored.faults - {member})
                self._score_all(rest.faults | {other} for other in self._additions(rest))
