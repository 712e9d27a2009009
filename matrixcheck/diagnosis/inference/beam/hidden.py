"""Faults that may be there besides a set without changing anything that was read.

No reading asks for them, so that they are not searched for; but sets behind which more can hide weigh more. They are
summed over in closed form, as the exact search does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import exp, inf, log1p

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.forward.fault_effects import USUAL, joint
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.likelihood import Fit, Subject
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem, acts_in
from matrixcheck.diagnosis.inference.work import Work, evaluation
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DISPLACING, SILENCING_LINES
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey

MOST, NEAR = 40, 9.0
"""For so many sets, which lie so few nats below the best, it is worked out what may hide behind them: what lies further
below weighs too little for that to show. Halved or doubled: no answer of 15 moves, at 0.83 to 1.08 times the work."""


class Hiding:
    """List the items of a problem that only silence cells, with these, to find those that hide behind a set."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._items = [
            index
            for index, item in enumerate(problem.items)
            if item.role is Role.ALONE and item.lead.fault_class in SILENCING_LINES and not item.setting.loose
        ]
        self._others = [
            index
            for index, item in enumerate(problem.items)
            if item.role is Role.ALONE and index not in self._items and not item.setting.loose
        ]
        sizes = [subject.frame.fitted.size for subject in problem.subjects]
        starts = dict(zip(problem.matrix_ids, np.cumsum([0, *sizes])[:-1].tolist(), strict=True))
        frames = {subject.frame.matrix.id: subject.frame for subject in problem.subjects}
        at: list[tuple[int, int]] = []
        for place, index in enumerate(self._items):
            for cell in problem.items[index].lead.cells:
                if cell.matrix in frames:
                    frame = frames[cell.matrix]
                    sensed, driven = frame.at(cell)
                    at.append((place, starts[cell.matrix] + sensed * frame.shape[1] + driven))
        pairs = np.array(at, dtype=np.int64).reshape(-1, 2)
        self._item_of, self._cell_of = pairs[:, 0], pairs[:, 1]
        self._known: dict[FaultSet, tuple[FaultSet, float]] = {}

    def behind(self, faults: FaultSet, work: Work) -> FaultSet:
        """Return the items that only silence cells which are all silent beside these faults anyway.

        Where inputs read closed without their supply, any item of the matrix that changes no prediction.

        What was found before costs as much as when it was found.
        """
        if faults not in self._known:
            found = Work(inf)
            self._known[faults] = self._behind(faults, found), found.spent
        hidden, spent = self._known[faults]
        work.spend(spent)
        return hidden

    def _behind(self, faults: FaultSet, work: Work) -> FaultSet:
        problem = self.problem
        fits = problem.fits_of(faults)
        leads = [problem.items[index].lead for index in faults]
        closed = [subject.frame.fuse_reads_closed and _is_unfed(subject, leads) for subject in problem.subjects]
        lit = np.concatenate(
            [
                ((fit.state != Predicted.DARK) & subject.evidence.known).any(axis=1).ravel() & (not shut)
                for subject, fit, shut in zip(problem.subjects, fits, closed, strict=True)
            ]
        )
        shows = np.bincount(self._item_of, lit[self._cell_of], len(self._items)) > 0
        silent = [index for index, some in zip(self._items, shows.tolist(), strict=True) if not some]
        if any(closed):
            names = {name for name, shut in zip(problem.matrix_ids, closed, strict=True) if shut}
            silent += [each for each in self._others if names.issuperset(problem.items[each].changes)]
        unclear = any(closed) or any(lead.fault_class in DISPLACING for lead in leads)
        return frozenset(
            index
            for index in silent
            if index not in faults and not (unclear and self._shows_beside(faults, index, fits, work))
        )

    def _shows_beside(self, faults: FaultSet, index: int, fits: Sequence[Fit], work: Work) -> bool:
        """Return whether an item changes a prediction where lines are displaced, or inputs read closed unfed.

        What lies at a displaced line's end silences cells of another line; a dead chip reads nothing as closed.
        """
        work.spend(sum(map(evaluation, self.problem.subjects)))
        chosen = [self.problem.items[number] for number in sorted(faults | {index})]
        leads, setting = [item.lead for item in chosen], joint(item.setting for item in chosen)
        usual = self.problem.items[index].setting == USUAL
        return any(
            not self.problem.fit_in(place, leads, setting).differs.equals(fits[place].differs)
            for place, name in enumerate(self.problem.matrix_ids)
            if not usual or acts_in(self.problem.items[index].lead, name)
        )


def _is_unfed(subject: Subject, leads: Iterable[Candidate]) -> bool:
    """Return whether one of these faults takes the supply of a matrix."""
    name = subject.frame.matrix.id
    return any(lead.fault_class is FaultClass.FUSE_BLOWN and acts_in(lead, name) for lead in leads)


def with_hidden(hiding: Hiding, ranked: list[Scored], work: Work) -> tuple[list[Scored], dict[FaultSet, FaultSet]]:
    """Add to each set the weight of all that may hide behind it; give the sets, and what hides by set.

    Of sets that differ only by what hides, the one without it stands for all; of two faults that hide behind each other
    the one of the higher number is what hides.
    """
    hidden: dict[FaultSet, FaultSet] = {}
    problem = hiding.problem
    found: list[Scored] = []
    best = ranked[0].score
    for scored in ranked:
        if len(hidden) >= MOST or scored.score < best - NEAR or work.over:
            break
        hidden[scored.faults] = hiding.behind(scored.faults, work)
    hidden = {faults: behind for faults, behind in hidden.items() if behind}
    if not hidden:
        return ranked, {}
    numbers = {index for each in hidden.items() for part in each for index in part}
    cells = {index: frozenset(problem.items[index].lead.cells) & problem.tested for index in numbers}
    counted: dict[FaultSet, FaultSet] = {}
    for scored in ranked:
        faults = scored.faults
        if any(member in hidden.get(faults - {member}, ()) for member in faults):
            continue
        if faults not in hidden:
            found.append(scored)
            continue
        counted[faults] = frozenset(one for one in hidden[faults] if not _counts_elsewhere(cells, faults, one))
        more = sum(log1p(exp(problem.items[index].weight)) for index in counted[faults])
        found.append(scored._replace(score=scored.score + more))
    return found, counted


def _counts_elsewhere(cells: Mapping[int, frozenset[CellKey]], faults: FaultSet, hidden: int) -> bool:
    """Return whether a member of the set, of a higher number, hides behind the set with this item in its place."""
    for member in faults:
        if hidden < member:
            others = frozenset[CellKey]().union(*(cells[other] for other in faults if other != member))
            if cells[member] <= others | cells[hidden]:
                return True
    return False
