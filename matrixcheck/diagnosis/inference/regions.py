"""Split a machine into regions: groups of matrices that no likely fault couples.

The likelihood of a fault set is a product over matrices, its prior one over faults. Where no fault acts in two groups
of matrices, the posterior is the product of theirs: exactly, whatever the size of either.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Seen
from matrixcheck.diagnosis.inference.candidate_classes import Item, may_explain, misfit_locations
from matrixcheck.diagnosis.inference.candidate_weighing import evidence_against
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.problem import Problem, acts_in
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Bools

HOPELESS_COUPLING = 60.0
"""A fault in several matrices couples none of them where the evidence against it exceeds by so much, in nats, all that
doesn't fit in them: no likely set of others could explain as much away. Without what doesn't fit, a plug whose matrix
reads closed throughout, as its fuse is gone, would not couple its other matrices. Halved or doubled: no answer of 15
moves."""


def coupled_matrices(subjects: Sequence[Subject], pool: Iterable[Candidate]) -> tuple[tuple[Subject, ...], ...]:
    """Group the matrices that a fault couples which might explain a misfit.

    Cheap and coarse: nothing is evaluated but the healthy machine.
    """
    if len(subjects) < 2:
        return (tuple(subjects),) if subjects else ()
    where = misfit_locations(subjects, [subject.fit(()) for subject in subjects])
    place = {subject.frame.matrix.id: at for at, subject in enumerate(subjects)}
    group = list(range(len(subjects)))
    for candidate in pool:
        there = {place[line.matrix] for line in (*candidate.lines, *candidate.fused) if line.matrix in place}
        if len(there) > 1 and may_explain(candidate, where):
            group = _merged(group, there)
    return tuple(
        tuple(subject for subject, each in zip(subjects, group, strict=True) if each == one)
        for one in dict.fromkeys(group)
    )


def _merged(group: Sequence[int], there: Iterable[int]) -> list[int]:
    """Return the group numbers with the groups of these matrices made one."""
    numbers = {group[one] for one in there}
    return [min(numbers) if one in numbers else one for one in group]


def split_regions(problem: Problem) -> tuple[Problem, ...]:
    """Split a problem into one for each group of matrices that faults couple, fewest items first."""
    if len(problem.subjects) < 2:
        return (problem,)
    reach = [_reach(problem, item) for item in problem.items]
    misfit = [subject.evidence.ceiling - subject.fit(()).bare for subject in problem.subjects]
    kept = [
        place
        for place, ties in enumerate(reach)
        if len(ties) < 2 or _is_plausible(problem, problem.items[place], sum(misfit[at] for at in ties))
    ]
    group = list(range(len(problem.subjects)))
    for place in kept:
        group = _merged(group, reach[place])
    parts = []
    for one in dict.fromkeys(group):
        names = [name for name, each in zip(problem.matrix_ids, group, strict=True) if each == one]
        parts.append(problem.restricted(names, [place for place in kept if group[reach[place][0]] == one]))
    return tuple(sorted(parts, key=lambda part: len(part.items)))


def _reach(problem: Problem, item: Item) -> list[int]:
    """Return the indices of the matrices in which the item changes something that was read, else where it lies."""
    names = problem.matrix_ids
    changed = [at for at, name in enumerate(names) if name in item.changes and len(item.changes[name].places)]
    return changed or [next(at for at, name in enumerate(names) if acts_in(item.lead, name))]


def _is_plausible(problem: Problem, item: Item, misfit: float) -> bool:
    """Return whether other faults may explain away the evidence against an item. `misfit`: in nats, of its matrices.

    What it lets show on a sensed line that never showed anything is not counted: one dead chip or plug explains that
    away, as where inputs would read closed without their supply and nothing hears them.
    """
    heard = {
        subject.frame.matrix.id: item.changes[subject.frame.matrix.id].only(_is_heard(subject, item))
        for subject in problem.subjects
        if subject.frame.matrix.id in item.changes
    }
    return evidence_against(problem.subjects, heard) < misfit + HOPELESS_COUPLING


def _is_heard(subject: Subject, item: Item) -> Bools:
    """Return which changes of an item in a matrix lie on sensed lines of which anything was ever seen."""
    seen = subject.evidence.seen
    shown = ((seen != Seen.DARK) & (seen != Seen.UNKNOWN)).any(axis=(1, 2))
    sensed, *_ = np.unravel_index(item.changes[subject.frame.matrix.id].places, seen.shape)
    heard: Bools = shown[sensed]
    return heard
