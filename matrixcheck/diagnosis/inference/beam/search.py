"""The most probable sets of faults: a beam over sets, each scored by the forward model.

Additions are ranked by how much of what a set leaves unexplained they could explain, then scored exactly. What can't
come near the best is left aside: an addition that bears on no other fault of the set is worth what it gains and loses
by itself; one that may work together with others is tried while a set of that size could be the best at all. Members
of good sets are swapped for others. The search ends when no larger set can catch up, or at the deadline.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations, zip_longest
from math import exp, inf, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.observations import DARK, GLOW
from matrixcheck.diagnosis.forward.fault_effects import Setting, joint
from matrixcheck.diagnosis.inference.beam.interactions import Company
from matrixcheck.diagnosis.inference.beam.score_bounds import Lookout
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem, strikes
from matrixcheck.diagnosis.inference.work import PER_SET, Work, evaluation
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DISPLACING
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints
from matrixcheck.diagnosis.result import FaultClass

WIDTH = 5
ADDITIONS = 20
DEPTH = 8
EXHAUSTIVE = 9
"""Up to so many items every set is scored, so that probabilities are exact."""
NEAR = 7.0
"""Sets that can't come within so many nats of the best, whatever they explain, are left aside."""
ALIKE = 2
"""So many sets that show the same have a place in a beam: a whole matrix goes dark in a dozen ways."""
FOREMOST, FEW_ADDITIONS = 6, 6
"""The sets of a beam after the first few try so many."""
POOR, POORER = -20.0, 4
"""Of additions that would be worth less by themselves, one for so many others is tried."""
BEYOND = 3
"""So many sets of a beam are gone on from that hold more faults than the best."""
AGAINST = 0.2
"""Additions are ranked by what they could explain and so much of what speaks against them: others may make good for
it."""
WIDELY, MANY_ADDITIONS = 1, 96
"""The first sets of a beam try so many where a fault makes others show in other places: which ones is seldom seen
beforehand."""
EVERYTHING = 1.0
"""A set within so many nats of predicting every reading leaves nothing to explain."""
MOST_LOOKED_AT, LITTLE = 300, 0.01
"""At the end so many sets that were left aside are scored, until the rest is estimated at so little."""
AS_GOOD = 0.5
HOPELESS = 30.0
"""A set this far below the best, in nats, is neither extended nor reported."""


@dataclass
class Explored:
    """Every set that was scored. `finished`: the search ended by itself, not as its work was used up. `proven`: no set
    that was not scored can be the best. `left_out`: the log-posterior, estimated, of all that was thought of and not
    scored."""

    sets: dict[FaultSet, Scored] = field(default_factory=dict)
    finished: bool = True
    proven: bool = False
    left_out: float = -inf

    @property
    def gap(self) -> float:
        """The probability of what was not scored, as estimated."""
        known = float(np.logaddexp.reduce([scored.score for scored in self.sets.values()]))
        return 1 / (1 + exp(min(known - self.left_out, 700.0)))

    def best(self, count: int | None = None) -> list[Scored]:
        """Sets by falling score."""
        order = sorted(self.sets.values(), key=_order)
        return order[:count]


def search(problem: Problem, work: Work) -> Explored:
    """Explores sets of the problem's items, as far as the work goes."""
    return _Search(problem, work).run()


class _Aside(NamedTuple):
    """Items that were not tried beside a set, and the log-posterior of the set with each, estimated."""

    items: Ints
    estimated: Floats

    def without(self, at: int) -> _Aside:
        """The others."""
        return _Aside(np.delete(self.items, at), np.delete(self.estimated, at))


class _Search:
    def __init__(self, problem: Problem, work: Work) -> None:
        self.problem = problem
        self.work = work
        self.evaluated: set[tuple[str, frozenset[Candidate], Setting]] = set()
        self.explored = Explored()
        self.lookout = Lookout(problem.subjects, problem.items, problem.healthy)
        self.company = Company(problem)
        self.alone = [index for index, item in enumerate(problem.items) if item.role is Role.ALONE]
        self.ceiling = sum(subject.evidence.ceiling for subject in problem.subjects)
        self.weights = sorted((problem.items[index].weight for index in self.alone), reverse=True)
        self.aside: dict[FaultSet, _Aside] = {}
        self.best = -np.inf
        self.best_size = 0
        self.best_bare = -np.inf

    def run(self) -> Explored:
        self._score(frozenset())
        for index in self.alone:
            self._score(frozenset((index,)))
        small = len(self.alone) <= EXHAUSTIVE
        if small:
            self._score_all(
                frozenset(chosen) for size in range(2, len(self.alone) + 1) for chosen in combinations(self.alone, size)
            )
        else:
            self._score_beside_glow()
            self._grow()
            self._swap()
            self._look_aside()
        if not self.explored.finished:
            self._estimate_unscored()
        self._settle()
        self.explored.left_out = self._left_out()
        self.explored.proven = self.explored.finished and (small or self._beyond_all_pairs())
        return self.explored

    def _beyond_all_pairs(self) -> bool:
        """Whether no set of two faults or more could be better than the best, even if it explained every reading."""
        heaviest = sorted((item.weight for item in self.problem.items), reverse=True)[:2]
        return self.ceiling + sum(heaviest) < self.best

    def _score_beside_glow(self) -> None:
        """Pairs LEDs that are fed past their relay with each item that would keep them dark. Such an item looks poor
        alone, as they go on glowing, and their glow alone explains little: neither has a place in a beam."""
        items = self.problem.items
        glowing = [at for at in self.alone if items[at].lead.fault_class is FaultClass.KEEP_WARM_GLOW]
        if glowing:
            darkening = [at for at in self.alone if self._darkens_glow(at)]
            self._score_all(frozenset((glow, other)) for glow in glowing for other in darkening)

    def _darkens_glow(self, index: int) -> bool:
        """Whether an LED that glows in a healthy machine is dark with the item alone."""
        return any(
            bool(((fit.usual.ravel()[fit.differs.places] == GLOW) & (fit.differs.states == DARK)).any())
            for fit in self.problem.fits_of([index])
        )

    def _grow(self) -> None:
        """From sets of one size to sets of the next, while these could come near the best. What explains every reading
        is not added to: more may hide behind it, but nothing speaks of that."""
        for size in range(1, DEPTH):
            if self._late() or self._out_of_reach(size + 1):
                break
            beam = self._beam(size)[: BEYOND if size > max(self.best_size, 1) else None]
            for place, scored in enumerate(beam):
                if not self._explains_all(scored):
                    self._score_all(scored.faults | {addition} for addition in self._additions(scored, place))
            if not self._promising(self._beam(size + 1)):
                break

    def _beam(self, size: int) -> list[Scored]:
        """The sets of that size to go on from, joined by what company makes of the first two: the best, and the best of
        those that leave private causes aside.

        A cause that is right but spoils some readings until a second one joins it looks poor beside "everything is a
        cell's own fault"; without that crutch it stands out.
        """
        by_score, by_bare = self._ranked(size)
        for scored in (*by_score[:1], *by_bare[:1]):
            self._ask_company(scored)
        by_score, by_bare = self._ranked(size)
        pairs = [scored for pair in zip_longest(by_score, by_bare) for scored in pair if scored is not None]
        return list({scored.faults: scored for scored in pairs}.values())

    def _ranked(self, size: int) -> tuple[list[Scored], list[Scored]]:
        of_size = [scored for scored in self.explored.sets.values() if len(scored.faults) == size]
        by_score = sorted(of_size, key=_order)
        by_bare = sorted(of_size, key=lambda scored: (-round(scored.bare, 9), sorted(scored.faults)))
        return _varied(by_score), _varied(by_bare)

    def _ask_company(self, scored: Scored) -> None:
        """Tries what shows only beside others; what changes no reading is left aside."""
        if self._explains_all(scored):
            return
        for faults in self.company.sets(scored.faults, self.problem.fits_of(scored.faults)):
            if self._late():
                return
            if faults not in self.explored.sets:
                found = self._weighed(faults)
                if found.shows != scored.shows:
                    self._keep(found)

    def _explains_all(self, scored: Scored) -> bool:
        return scored.bare > self.ceiling - EVERYTHING

    def _promising(self, grown: list[Scored]) -> bool:
        return any(scored.score > self.best - HOPELESS / 2 or scored.bare > self.best_bare for scored in grown)

    def _out_of_reach(self, size: int) -> bool:
        """Whether no set of that size or more could come near the best, even if it explained every reading."""
        return self.ceiling + sum(self.weights[:size]) < self.best - NEAR

    def _late(self) -> bool:
        if not self.work.over:
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
        return self._keep(self._weighed(faults)) if known is None else known

    def _keep(self, scored: Scored) -> Scored:
        self.explored.sets[scored.faults] = scored
        if scored.score > self.best:
            self.best, self.best_bare, self.best_size = scored.score, scored.bare, len(scored.faults)
        return scored

    def _weighed(self, faults: FaultSet) -> Scored:
        problem = self.problem
        self._count_work(faults)
        fits = problem.fits_of(faults)
        likely = sum(fit.log(private) for fit, private in zip(fits, problem.private, strict=True))
        weight = sum(problem.items[index].weight for index in sorted(faults))
        return Scored(faults, likely + weight, sum(fit.bare for fit in fits), tuple(fit.differs.digest for fit in fits))

    def _count_work(self, faults: FaultSet) -> None:
        """Count what a set costs: what each matrix shows is worked out once for all sets with the same faults there.
        What earlier analyses left in the store makes no difference to the count."""
        chosen = [self.problem.items[index] for index in sorted(faults)]
        setting = joint(item.setting for item in chosen)
        self.work.spend(PER_SET)
        for subject in self.problem.subjects:
            name = subject.frame.matrix.id
            there = name, frozenset(item.lead for item in chosen if strikes(item.lead, name)), setting
            if there[1] and there not in self.evaluated:
                self.evaluated.add(there)
                self.work.spend(evaluation(subject))

    def _additions(self, scored: Scored, place: int = 0) -> list[int]:
        """The items to try besides: those that could bring the set near the best by what they gain and lose, and those
        that might work together with it, most hopeful first. `place`: of the set in its beam."""
        outlook = self.lookout.from_(self.problem.fits_of(scored.faults), scored.faults)
        prior = sum(self.problem.items[index].weight for index in scored.faults)
        most = self.ceiling + prior + self.lookout.weights
        worth = (scored.score + outlook.expected > self.best - NEAR) & (most > self.best - NEAR)
        worth |= (most > self.best) & (outlook.hoped > -HOPELESS / 3) & ~self._apart(scored.faults)
        worth &= self.lookout.alone
        worth[list(scored.faults)] = False
        places = np.flatnonzero(worth)
        likely = outlook.hoped[places] + AGAINST * np.minimum(outlook.expected[places], 0.0)
        order = places[np.argsort(-np.round(likely, 9), kind="stable")]
        wanted = ADDITIONS if place < FOREMOST else FEW_ADDITIONS
        if place < WIDELY and any(self.problem.items[index].lead.fault_class in DISPLACING for index in scored.faults):
            wanted = MANY_ADDITIONS
        poor = outlook.expected[order] < POOR
        tried = [*order[~poor][:wanted].tolist(), *order[poor][: wanted // POORER].tolist()]
        aside = self.lookout.alone.copy()
        aside[[*tried, *scored.faults]] = False
        self.aside[scored.faults] = _Aside(
            np.flatnonzero(aside), scored.score + np.minimum(outlook.expected[aside], 0.0)
        )
        return list(dict.fromkeys([*tried, *self.company.drained(scored.faults)]))

    def _apart(self, faults: FaultSet) -> Bools:
        """The items that don't bear on any of these: what is silent by two causes is no more silent than by one."""
        if all(self.lookout.silencing[index] for index in faults):
            return self.lookout.silencing
        return np.zeros_like(self.lookout.silencing)

    def _swap(self) -> None:
        """For the best sets, every member is taken out and others are tried in its place; what is only said aloud goes
        all at once."""
        for scored in self.explored.best(3):
            self._ask_company(scored)
            aloud = scored.faults & self.company.aloud
            taken = [*(frozenset((member,)) for member in scored.faults - aloud), *([aloud] if aloud else [])]
            for members in taken:
                rest = self._score(scored.faults - members)
                self._score_all(rest.faults | {other} for other in self._additions(rest, WIDELY))

    def _look_aside(self) -> None:
        """Score what was left aside, what may weigh most first, until the rest weighs little."""
        for _ in range(MOST_LOOKED_AT):
            if self._late() or self._left_out() < self._known() + log(LITTLE):
                return
            faults, at = max(
                ((faults, int(aside.estimated.argmax())) for faults, aside in self.aside.items() if len(aside.items)),
                key=lambda entry: self.aside[entry[0]].estimated[entry[1]],
            )
            self._score(faults | {int(self.aside[faults].items[at])})
            self.aside[faults] = self.aside[faults].without(at)

    def _estimate_unscored(self) -> None:
        """Count what was never tried beside the empty set and the best ones, as the work was used up before."""
        for faults in (frozenset[int](), *(scored.faults for scored in self.explored.best(3))):
            scored = self._score(faults)
            outlook = self.lookout.from_(self.problem.fits_of(faults), faults)
            left = [index for index in self.alone if faults | {index} not in self.explored.sets]
            estimated = scored.score + np.minimum(outlook.expected[left], 0.0)
            self.aside[faults] = _Aside(np.array(left, dtype=np.int64), estimated)

    def _known(self) -> float:
        return float(np.logaddexp.reduce([scored.score for scored in self.explored.sets.values()]))

    def _left_out(self) -> float:
        """The log-posterior, estimated, of what was left aside and not scored since."""
        left = [aside.estimated for aside in self.aside.values()]
        return float(np.logaddexp.reduce(np.concatenate([np.full(1, -inf), *left])))

    def _settle(self) -> None:
        """Sets that only say aloud what another one sums over count once."""
        aloud = self.company.aloud
        for scored in [scored for scored in self.explored.sets.values() if aloud & scored.faults]:
            silent = self._score(scored.faults - aloud)
            if scored.score < silent.score + AS_GOOD:
                del self.explored.sets[scored.faults]


def _order(scored: Scored) -> tuple[float, int, list[int]]:
    """Best first; what differs by rounding only goes by size and by number, on every machine alike."""
    return -round(scored.score, 9), len(scored.faults), sorted(scored.faults)


def _varied(ranked: Iterable[Scored]) -> list[Scored]:
    """The first sets for a beam, few of them that show the same."""
    kept: list[Scored] = []
    shown: dict[tuple[bytes, ...], int] = {}
    for scored in ranked:
        shown[scored.shows] = shown.get(scored.shows, 0) + 1
        if shown[scored.shows] <= ALIKE:
            kept.append(scored)
        if len(kept) == WIDTH:
            break
    return kept
