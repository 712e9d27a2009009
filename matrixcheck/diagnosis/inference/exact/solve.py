"""Marks alone, from readings to an answer."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from typing import NamedTuple

from matrixcheck.diagnosis.inference.exact.components import Component, components_of
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import Found
from matrixcheck.diagnosis.inference.exact.partition import partition
from matrixcheck.diagnosis.inference.exact.problem import Problem
from matrixcheck.diagnosis.inference.exact.screening import screen
from matrixcheck.diagnosis.inference.held_lines import lines_held_on
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.work import Work


def is_marks_alone(subjects: Sequence[Subject]) -> bool:
    """Say whether marks are all that was read, and flags can say all of them.

    That is, no fuse was seen to go, no bank has more than two sides behind relays, and no line works that something may
    hold on beside others.
    """
    return bool(subjects) and all(
        subject.evidence.exercises.alone
        and not subject.evidence.blew
        and _has_two_sides(subject)
        and not lines_held_on(subject)
        for subject in subjects
    )


def _has_two_sides(subject: Subject) -> bool:
    frame = subject.frame
    return frame.kind != "coil" or frame.rest_slot < 0 or frame.shape[1] <= 2


class Searched(NamedTuple):
    """What a search found.

    `components`: independent ones, with the most probable sets of each. `missing`: a bound on the weight of all sets
    that were not visited, as a multiple of those that were. `idle`: what faults that no mark supports weigh beside any
    set.
    """

    components: tuple[tuple[Component, Found], ...]
    missing: float
    idle: float


def search_sets(problem: Problem, work: Work) -> Searched:
    """Screen the faults, split them into independent components, and find the most probable sets of each.

    Once the work is used up, the sets met so far are given, with a bound on the weight of all others.
    """
    screened = screen(problem)
    partitions = [partition(whole, work) for whole in components_of(problem, screened)]
    found = iter(_explored([component for each in partitions for component in each.components], work))
    explored: list[tuple[Component, Found]] = []
    missing = 0.0
    for each in partitions:
        pairs = [(component, next(found)) for component in each.components]
        missing += sum(_share(sets.missing - sets.total) for _, sets in pairs)
        missing += _share(each.left_out - sum(sets.total for _, sets in pairs))
        explored += pairs
    missing += _share(screened.left_out - sum(sets.total for _, sets in explored))
    return Searched(tuple(explored), missing, screened.idle)


def _explored(components: Sequence[Component], work: Work) -> list[Found]:
    """Explore each component with an equal share of what work is left, the smallest first.

    What small ones don't need is left to larger ones. One that had use for more uses up all of it.
    """
    found: dict[int, Found] = {}
    cut = False
    for at in sorted(range(len(components)), key=lambda at: components[at].size):
        part = work.part(1 / (len(components) - len(found)))
        found[at] = explore(components[at], part)
        cut = cut or part.over
        work.spend(part.spent)
    if cut:
        work.spend(max(work.limit - work.spent, 0.0))
    return [found[at] for at in range(len(components))]


def _share(log_ratio: float) -> float:
    return exp(min(log_ratio, 50.0))
