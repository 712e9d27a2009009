"""Faults that may be there besides a set without changing anything that was read.

No reading asks for them, so that they are not searched for; but sets behind which more can hide weigh more. They are
summed over in closed form, as the exact search does.
"""

from __future__ import annotations

from math import exp, log1p

from matrixcheck.diagnosis.evidence.observations import DARK
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.fault_classes import DISPLACING, SILENCING_LINES

MOST, NEAR = 40, 9.0
"""For so many sets, which lie so few nats below the best, it is worked out what may hide behind them: what lies further
below weighs too little for that to show."""


def hidden_behind(problem: Problem, faults: FaultSet, work: Work) -> FaultSet:
    """Return the items that only silence cells which are all silent beside these faults anyway."""
    fits = dict(zip(problem.matrix_ids, problem.fits_of(faults), strict=True))
    subjects = {subject.frame.matrix.id: subject for subject in problem.subjects}
    lit = {name: ((fit.state != DARK) & subjects[name].evidence.known).any(axis=1) for name, fit in fits.items()}
    displaced = any(problem.items[index].lead.fault_class in DISPLACING for index in faults)
    found = []
    for index, item in enumerate(problem.items):
        if (
            index in faults
            or item.role is not Role.ALONE
            or item.lead.fault_class not in SILENCING_LINES
            or item.setting.loose
        ):
            continue
        there = [cell for cell in item.lead.cells if cell.matrix in lit]
        if any(lit[cell.matrix][subjects[cell.matrix].frame.at(cell)] for cell in there):
            continue
        if displaced:  # what lies at a line's end then silences cells of another line
            work.spend(sum(map(evaluation, problem.subjects)))
            beside = problem.fits_of(faults | {index})
            if any((fit.state != fits[name].state).any() for name, fit in zip(problem.matrix_ids, beside, strict=True)):
                continue
        found.append(index)
    return frozenset(found)


def with_hidden(problem: Problem, ranked: list[Scored], work: Work) -> tuple[list[Scored], dict[FaultSet, FaultSet]]:
    """Add to each set the weight of all that may hide behind it; give the sets, and what hides by set.

    Of sets that differ only by what hides, the one without it stands for all.
    """
    hidden: dict[FaultSet, FaultSet] = {}
    found, best = [], ranked[0].score
    for scored in ranked:
        if len(hidden) >= MOST or scored.score < best - NEAR or work.over:
            break
        hidden[scored.faults] = hidden_behind(problem, scored.faults, work)
    for scored in ranked:
        if any(member in hidden.get(scored.faults - {member}, ()) for member in scored.faults):
            continue
        more = sum(log1p(exp(problem.items[index].weight)) for index in hidden.get(scored.faults, ()))
        found.append(scored._replace(score=scored.score + more))
    return found, hidden
