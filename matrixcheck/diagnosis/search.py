"""The most probable sets of faults: a beam over sets, each scored by the forward model.

Additions are ranked by how much of what a set leaves unexplained they could explain at best, then scored exactly.
Members of good sets are swapped for others. The search ends when no larger set can catch up, or at the deadline.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import combinations
from time import perf_counter
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.condition import joint
from matrixcheck.diagnosis.frame import Floats
from matrixcheck.diagnosis.items import Item
from matrixcheck.diagnosis.likelihood import Fit
from matrixcheck.diagnosis.pool import Problem
from matrixcheck.diagnosis.result import FaultClass

FaultSet = frozenset[int]
Clock = Callable[[], float]

WIDTH = 10
ADDITIONS = 28
DEPTH = 8
SILENCING = (FaultClass.BREAK, FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.FUSE_BLOWN)
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
        if count == 1:
            return [max(self.sets.values(), key=lambda each: each.score)]
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
        self.ceiling = sum(subject.evidence.ceiling for subject in problem.subjects)
        self.weights = sorted((item.weight for item in problem.items), reverse=True)

    def run(self) -> Explored:
        empty: FaultSet = frozenset()
        self._score(empty)
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
            beam = [scored for scored in self._beam(size - 1) if self._may_grow(scored)]
            if not beam:
                break
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
        best = self.explored.best(1)[0]
        return any(scored.score > best.score - HOPELESS / 2 or scored.bare > best.bare for scored in grown)

    def _out_of_reach(self, size: int) -> bool:
        """Whether no set of that size or more could come near the best, even if it explained every reading."""
        return self.ceiling + sum(self.weights[:size]) < self.explored.best(1)[0].score - NEAR

    def _may_grow(self, scored: Scored) -> bool:
        return self._reach(scored, self.weights[0] if self.weights else 0.0)

    def _reach(self, scored: Scored, weight: float) -> bool:
        """Whether a set with one more item of that weight could come near the best."""
        prior = sum(self.problem.items[index].weight for index in scored.faults)
        return self.ceiling + prior + weight > self.explored.best(1)[0].score - NEAR

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
        return scored

    def _additions(self, scored: Scored) -> list[int]:
        """The items that could explain most of what the set leaves unexplained."""
        told = [
            subject.evidence.told(fit.state.ravel(), np.arange(fit.state.size))
            for subject, fit in zip(self.problem.subjects, scored.fits, strict=True)
        ]
        names = self.problem.matrix_ids
        found: list[tuple[float, int]] = []
        least = self.explored.best(1)[0].score - NEAR - self.ceiling
        least -= sum(self.problem.items[index].weight for index in scored.faults)
        for index, item in enumerate(self.problem.items):
            if index not in scored.faults and item.weight > least:
                alone = sum(overlap(item, name, told[at]) for at, name in enumerate(names) if name in item.changes)
                optimism = item.weight + max(alone, self._as_dead_cells(item, scored))
                if optimism > -HOPELESS / 3:
                    found.append((optimism, index))
        return [index for _, index in sorted(found, reverse=True)[:ADDITIONS]]

    def _as_dead_cells(self, item: Item, scored: Scored) -> float:
        """What an item could gain by silencing its cells, in the context of the set: wires that are crossed or joined
        show elsewhere than in a healthy machine."""
        if item.lead.fault_class not in SILENCING:
            return 0.0
        subjects, names = self.problem.subjects, self.problem.matrix_ids
        total = 0.0
        for cell in item.lead.cells:
            if cell.matrix in names:
                at = names.index(cell.matrix)
                total += float(scored.fits[at].dead[subjects[at].frame.at(cell)])
        return total

    def _swap(self) -> None:
        """For the best sets, every member is taken out and others are tried in its place."""
        for scored in self.explored.best(3):
            for member in scored.faults:
                rest = self._score(scored.faults - {member})
                self._score_all(rest.faults | {other} for other in self._additions(rest))


def overlap(item: Item, name: str, told: Floats) -> float:
    """What the item could gain at best in one matrix over `told`, what each flat place adds in a set's context."""
    places, better = item.changes[name]
    return float(np.maximum(better - told[places], 0.0).sum())
