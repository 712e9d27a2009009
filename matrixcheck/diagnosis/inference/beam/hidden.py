"""Faults that may be there besides a set without changing anything that was read.

No reading asks for them, so that they are not searched for; but sets behind which more can hide weigh more. They are
summed over in closed form, as the exact search does.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log1p

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.fault_classes import DISPLACING, SILENCING_LINES
from matrixcheck.layout.places import CellKey

MOST, NEAR = 40, 9.0
"""For so many sets, which lie so few nats below the best, it is worked out what may hide behind them: what lies further
below weighs too little for that to show."""


def hidden_behind(problem: Problem, faults: FaultSet, work: Work) -> FaultSet:
    """Return the items that only silence cells which are all silent beside these faults anyway."""
    fits = dict(zip(problem.matrix_ids, problem.fits_of(faults), strict=True))
    subjects = {subject.frame.matrix.id: subject for subject in problem.subjects}
    lit = {
        name: ((fit.state != Predicted.DARK) & subjects[name].evidence.known).any(axis=1) for name, fit in fits.items()
    }
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

    Of sets that differ only by what hides, the one without it stands for all; of two faults that hide behind each other
    the one of the higher number is what hides.
    """
    hidden: dict[FaultSet, FaultSet] = {}
    found, best = [], ranked[0].score
    for scored in ranked:
        if len(hidden) >= MOST or scored.score < best - NEAR or work.over:
            break
        hidden[scored.faults] = hidden_behind(problem, scored.faults, work)
    numbers = {index for each in hidden.items() for part in each for index in part}
    cells = {index: frozenset(problem.items[index].lead.cells) & problem.tested for index in numbers}
    counted: dict[FaultSet, FaultSet] = {}
    for scored in ranked:
        faults = scored.faults
        if any(member in hidden.get(faults - {member}, ()) for member in faults):
            continue
        behind = hidden.get(faults, frozenset())
        counted[faults] = frozenset(one for one in behind if not _counts_elsewhere(cells, faults, one))
        more = sum(log1p(exp(problem.items[index].weight)) for index in counted[faults])
        found.append(scored._replace(score=scored.score + more))
    return found, counted


def _counts_elsewhere(cells: Mapping[int, frozenset[CellKey]], faults: FaultSet, hidden: int) -> bool:
    """Whether a member of the set, of a higher number, hides behind the set with this item in its place."""
    for member in faults:
        if hidden < member:
            others = frozenset[CellKey]().union(*(cells[other] for other in faults if other != member))
            if cells[member] <= others | cells[hidden]:
                return True
    return False
