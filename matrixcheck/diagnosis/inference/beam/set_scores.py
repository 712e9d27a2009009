"""Score sets of a problem's items, each matrix once for all sets with the same faults in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting, joint
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem, acts_in
from matrixcheck.diagnosis.inference.work import evaluation
from matrixcheck.diagnosis.machine.candidates import Candidate

NOTHING: FaultSet = frozenset()


class Part(NamedTuple):
    """Name what a set comes to in one matrix: the index of the subject, the faults there, and the setting of the set.

    Faults go by the number of the first item with the same lead. Of a matrix without faults the setting says nothing.
    """

    place: int
    faults: FaultSet
    setting: Setting


class ScoredSet(NamedTuple):
    """Hold a set with its score, and what it comes to in each matrix."""

    scored: Scored
    parts: tuple[Part, ...]


class _PartScore(NamedTuple):
    """Score one matrix: log-likelihood with private causes summed out, without them, and a digest of what shows."""

    log: float
    bare: float
    shows: bytes


class SetScores:
    """Score sets by the forward model; what the store of fits dropped isn't asked for again."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.costs = tuple(evaluation(subject) for subject in problem.subjects)
        self._weights = [item.weight for item in problem.items]
        self._unusual = frozenset(index for index, item in enumerate(problem.items) if item.setting != USUAL)
        numbers: dict[Candidate, int] = {}
        self._number = [numbers.setdefault(item.lead, index) for index, item in enumerate(problem.items)]
        self._repeated = frozenset(index for index, number in enumerate(self._number) if index != number)
        self._there = [
            frozenset(number for lead, number in numbers.items() if acts_in(lead, name)) for name in problem.matrix_ids
        ]
        self._empty = [Part(place, NOTHING, USUAL) for place in range(len(self._there))]
        self._scores: dict[Part, _PartScore] = {}
        self._sets: dict[FaultSet, ScoredSet] = {}

    def of(self, faults: FaultSet) -> ScoredSet:
        """Return the set with its score, worked out once."""
        known = self._sets.get(faults)
        if known is None:
            known = self._sets[faults] = self._scored(faults)
        return known

    def _parts(self, faults: FaultSet) -> tuple[Part, ...]:
        """Return what the set comes to in each matrix."""
        unusual = faults & self._unusual
        setting = joint(self.problem.items[index].setting for index in sorted(unusual)) if unusual else USUAL
        leads = frozenset(self._number[index] for index in faults) if faults & self._repeated else faults
        heres = [leads & there for there in self._there]
        return tuple([Part(place, here, setting) if here else self._empty[place] for place, here in enumerate(heres)])

    def _scored(self, faults: FaultSet) -> ScoredSet:
        members, parts = tuple(sorted(faults)), self._parts(faults)
        found = [self._scores.get(part) or self._part_score(part, members) for part in parts]
        weight = sum([self._weights[index] for index in members])
        logs, bares, shows = zip(*found, strict=True)
        return ScoredSet(Scored(faults, members, sum(logs) + weight, sum(bares), shows), parts)

    def _part_score(self, part: Part, members: Sequence[int]) -> _PartScore:
        leads = [self.problem.items[index].lead for index in members if self._number[index] in part.faults]
        fit = self.problem.fit_to_those(part.place, leads, part.setting)
        score = _PartScore(fit.log(self.problem.private[part.place]), fit.bare, fit.differs.digest)
        self._scores[part] = score
        return score
