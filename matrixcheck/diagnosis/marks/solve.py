"""Marks alone, from readings to an answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.likelihood import Subject
from matrixcheck.diagnosis.marks.component import Component, components_of
from matrixcheck.diagnosis.marks.machine import machine_of
from matrixcheck.diagnosis.marks.problem import Problem, problem_of
from matrixcheck.diagnosis.marks.search import Found, explore
from matrixcheck.diagnosis.marks.sieve import Sieved, sieve
from matrixcheck.diagnosis.marks.stories import posterior_of, stories_of
from matrixcheck.diagnosis.marks.tell import Answer, Part, tell
from matrixcheck.diagnosis.marks.ways import ways_of
from matrixcheck.diagnosis.marks.weights import private_chances
from matrixcheck.diagnosis.rates import Rates
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
        """Whether nothing that is missing could change the ranking: neighbours lie further apart, or are the same by
        symmetry."""
        chances = [explanation.probability for explanation in self.answer.explanations]
        steps = [before - after for before, after in zip(chances, [*chances[1:], 0.0], strict=True)]
        return all(step > self.missing or step < SAME for step in steps)


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
    sieved, explored = search_sets(problem, late)
    parts = []
    for component, found in explored:
        ways = ways_of(problem, component, found, late)
        posterior = posterior_of(problem, component, ways)
        parts.append(Part(component, posterior, stories_of(problem, component, ways)))
    missing = sum(_share(found.missing - found.total) for _, found in explored)
    missing += _share(sieved.left_out - sum(found.total for _, found in explored))
    answer = tell(problem, parts, readings, rates, missing=missing, idle=sieved.idle)
    return Solved(answer, _private(problem, parts), min(missing, 1.0))


def search_sets(problem: Problem, late: Callable[[], bool]) -> tuple[Sieved, list[tuple[Component, Found]]]:
    """What the sieve left, and the most probable sets of each component of it."""
    sieved = sieve(problem)
    return sieved, [(component, explore(component, late)) for component in components_of(problem, sieved)]


def _share(log_ratio: float) -> float:
    return exp(min(log_ratio, 50.0))


def _private(problem: Problem, parts: Sequence[Part]) -> dict[CellKey, float]:
    everything = np.arange(len(problem.base))
    dead, stuck = private_chances(problem.weights, everything, problem.base, problem.dead, problem.stuck)
    chances = np.minimum(dead + stuck, 1.0)
    for part in parts:
        chances[part.component.cells] = part.posterior.of_cells()
    return dict(zip(problem.machine.cells, chances.tolist(), strict=True))
