"""Marks alone, from readings to an answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp
from typing import NamedTuple

from matrixcheck.diagnosis.inference.exact.components import Component, components_of
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import Found
from matrixcheck.diagnosis.inference.exact.partition import partition
from matrixcheck.diagnosis.inference.exact.problem import Problem
from matrixcheck.diagnosis.inference.exact.screening import screen
from matrixcheck.diagnosis.inference.likelihood import Subject


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


class Searched(NamedTuple):
    """Independent components with the most probable sets of each; a bound on the share of all sets that were not
    visited; and what faults that no mark speaks for weigh beside any set."""

    components: tuple[tuple[Component, Found], ...]
    missing: float
    idle: float


def search_sets(problem: Problem, late: Callable[[], bool]) -> Searched:
    """Screen the faults, split them into independent components, and find the most probable sets of each."""
    screened = screen(problem)
    explored: list[tuple[Component, Found]] = []
    missing = 0.0
    for whole in components_of(problem, screened):
        apart = partition(whole, late)
        found = [explore(component, late) for component in apart.components]
        missing += sum(_share(each.missing - each.total) for each in found)
        missing += _share(apart.left_out - sum(each.total for each in found))
        explored += zip(apart.components, found, strict=True)
    missing += _share(screened.left_out - sum(found.total for _, found in explored))
    return Searched(tuple(explored), missing, screened.idle)


def _share(log_ratio: float) -> float:
    return exp(min(log_ratio, 50.0))
