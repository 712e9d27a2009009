"""Marks alone, from readings to an answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.explanation.mark_answer import Answer, Part, tell
from matrixcheck.diagnosis.explanation.mark_explanations import posterior_of, stories_of
from matrixcheck.diagnosis.explanation.mark_ways import ways_of
from matrixcheck.diagnosis.inference.exact.cell_likelihood import private_chances
from matrixcheck.diagnosis.inference.exact.components import Component, components_of
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import Found
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.partition import parted
from matrixcheck.diagnosis.inference.exact.problem import Problem, problem_of
from matrixcheck.diagnosis.inference.exact.screening import sieve
from matrixcheck.diagnosis.inference.likelihood import Subject
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


def is_marks_alone(subjects: Sequence[Subject]) -> bool:
    """Whether marks are all that was read, and flags say all of them: no fuse was seen to go, and no bank has more than
    two sides behind relays."""
    return bool(subjects) and all(
        subject.evidence.exercises.alone and not subject.evidence.blew and _has_two_sides(subject)
        for subject in subjects
    )


def _has_two_sides(subject: Subject) -> bool:
    frame = subject.frame
    return frame.kind != "coil" or frame.rest_slot < 0 or frame.shape[1] <= 2


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


class Searched(NamedTuple):
    """Independent components with the most probable sets of each; a bound on the share of all sets that were not
    visited; and what faults that no mark speaks for weigh beside any set."""

    components: tuple[tuple[Component, Found], ...]
    missing: float
    idle: float


def search_sets(problem: Problem, late: Callable[[], bool]) -> Searched:
    """What the sieve leaves, in independent parts, and the most probable sets of each."""
    sieved = sieve(problem)
    explored: list[tuple[Component, Found]] = []
    missing = 0.0
    for whole in components_of(problem, sieved):
        apart = parted(whole, late)
        found = [explore(component, late) for component in apart.components]
        missing += sum(_share(each.missing - each.total) for each in found)
        missing += _share(apart.left_out - sum(each.total for each in found))
        explored += zip(apart.components, found, strict=True)
    missing += _share(sieved.left_out - sum(found.total for _, found in explored))
    return Searched(tuple(explored), missing, sieved.idle)


def _share(log_ratio: float) -> float:
    return exp(min(log_ratio, 50.0))


def _private(problem: Problem, parts: Sequence[Part]) -> dict[CellKey, float]:
    everything = np.arange(len(problem.base))
    dead, stuck = private_chances(problem.weights, everything, problem.base, problem.dead, problem.stuck)
    chances = np.minimum(dead + stuck, 1.0)
    for part in parts:
        chances[part.component.cells] = part.posterior.of_cells()
    return dict(zip(problem.machine.cells, chances.tolist(), strict=True))
