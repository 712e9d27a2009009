"""Search the most probable fault sets by beam, each scored by the forward model.

Additions to a set are ranked by their optimistic scores, then scored exactly. Those that can't come near the best are
deferred: an addition that interacts with no fault of the set is worth its net score; one that may interact is tried
while a set of that size could be the best at all. Members of good sets are swapped for others. The search ends when no
larger set can catch up, or when the work is used up.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from heapq import heapify, heapreplace
from itertools import combinations, zip_longest
from math import inf, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.inference.beam.explored import DIGITS, Explored, order
from matrixcheck.diagnosis.inference.beam.set_scores import Part
from matrixcheck.diagnosis.inference.beam.tables import Tables
from matrixcheck.diagnosis.inference.candidate_classes import Role
from matrixcheck.diagnosis.inference.log_sum import log_sum
from matrixcheck.diagnosis.inference.posterior import FaultSet, Scored
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import PER_SET, Work
from matrixcheck.diagnosis.machine.fault_classes import DISPLACING
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import LineKey

BEAM_WIDTH = 5
"""Sets of one size that are extended by each ranking (score, bare score): further ones are mostly copies of these.
Halved: 2 of 15 answers move at 0.91 times the work; doubled: none."""
ADDITIONS = 20
"""Items tried beside a set of a beam: the right one stands among the first by optimistic score, unless lines are
displaced (`MANY_ADDITIONS`). Halved or doubled: no answer of 15 moves, at 0.96 to 1.03 times the work."""
LARGEST_SET = 8
"""Items in the largest sets: more shared faults at once are too improbable to matter. Halved or doubled: no answer of
15 moves."""
MOST_EXHAUSTIVE = 9
"""Up to so many items every set is scored (at most 2**9), so that probabilities are exact. Halved or doubled: no answer
of 15 moves."""
NEAR = 7.0
"""Sets that can't come within so many nats of the best, whatever they explain, are deferred: one alone weighs less than
a thousandth of the best. Halved: 1 of 15 answers moves at 0.90 times the work; doubled: none at 1.06 times the work."""
MOST_ALIKE = 2
"""Sets with equal predictions in one beam: a dozen faults darken a whole matrix, and would fill it. Halved: 1 of 15
answers moves; doubled: none at 0.94 times the work."""
FULL_RANKS, FEW_ADDITIONS = 6, 6
"""The first sets of a beam try `ADDITIONS`, later ones so few: they seldom lead to the best. Halved or doubled: no
answer of 15 moves."""
POOR_NET, POOR_FACTOR = -20.0, 4
"""Of additions with a net score below this, in nats, one in so many is tried: only an interaction could save them.
Halved or doubled: no answer of 15 moves, at 0.97 to 1.01 times the work."""
LARGER_KEPT = 3
"""Sets extended in beams of larger sets than the best: its prior makes a larger one less likely. Halved or doubled: no
answer of 15 moves."""
LOSS_SHARE = 0.2
"""Additions are ranked by gain and this share of their loss: another fault of the set may explain the loss away. Halved
or doubled: no answer of 15 moves."""
WIDE_RANKS, MANY_ADDITIONS = 1, 96
"""The first set of a beam tries so many beside a fault that displaces readings: there the ranking says little. Halved
or doubled: no answer of 15 moves."""
PERFECT_FIT = 1.0
"""A set within so many nats of the ceiling fits every reading; a single misfit costs more. Halved or doubled: no answer
of 15 moves."""
LEAST_VARIED = 1.0
"""Nats by which the cells of a substitute must be darker than those of the item that it replaces. Halved or doubled: no
answer of 10 moves."""
PAIRED = 6
"""Items that silence lines and could gain most, each tried with a second one in place of a member of a good set. Halved
or doubled: no answer of 15 moves, at 0.98 to 1.05 times the work."""
MOST_DEFERRED_SCORED, NEGLIGIBLE_SHARE = 300, 0.01
"""At the end so many deferred sets are scored at most, until the others are estimated to weigh less than this share.
Halved or doubled: no answer of 15 moves."""
EXPLICIT_GAIN = 0.5
"""Nats by which explicit private causes must raise a score: less is the same set counted twice. Halved or doubled: no
answer of 15 moves."""
HOPELESS = 30.0
"""A set this far below the best, in nats, is neither extended nor reported. Halved or doubled: no answer of 15 moves,
at 0.96 to 1.00 times the work."""


def search(problem: Problem, work: Work, tables: Tables | None = None) -> Explored:
    """Score sets of the problem's items, as far as the work goes. `tables`: those of earlier searches of it."""
    return _Search(tables or Tables(problem), work).run()


class _Deferred(NamedTuple):
    """List items not yet tried beside a set, and the estimated log-posterior of the set with each.

    `mass`: that of all of them together. `first`: the index of the likeliest, -1 where there is none.
    """

    items: Ints
    estimated: Floats
    mass: float
    first: int

    @property
    def highest(self) -> float:
        """Return the estimate of the likeliest, -inf where there is none."""
        return float(self.estimated[self.first]) if self.first >= 0 else -inf

    def without_first(self) -> _Deferred:
        """Return all but the likeliest."""
        before, after = slice(self.first), slice(self.first + 1, None)
        items, estimated = (np.concatenate([each[before], each[after]]) for each in (self.items, self.estimated))
        return _deferred(items, estimated)


def _deferred(items: Ints, estimated: Floats) -> _Deferred:
    return _Deferred(items, estimated, log_sum(estimated), int(estimated.argmax()) if len(items) else -1)


class _Search:
    def __init__(self, tables: Tables, work: Work) -> None:
        self.problem = problem = tables.problem
        self.tables = tables
        self.work = work
        self.evaluated: set[Part] = set()
        self.scores = tables.scores
        self.explored = Explored()
        self.bounds = tables.bounds
        self.interactions = tables.interactions
        self.alone = [index for index, item in enumerate(problem.items) if item.role is Role.ALONE]
        self.ceiling = sum(subject.evidence.ceiling for subject in problem.subjects)
        self.weights = sorted((problem.items[index].weight for index in self.alone), reverse=True)
        self.of_size: defaultdict[int, list[Scored]] = defaultdict(list)
        self.deferred: dict[FaultSet, _Deferred] = {}
        self.ranked: dict[int, _Ranked] = {}
        self.mass = -np.inf
        self.best = -np.inf
        self.best_size = 0
        self.best_bare = -np.inf

    def run(self) -> Explored:
        self._score(frozenset())
        for index in self.alone:
            self._score(frozenset((index,)))
        self._score_all(self.interactions.held_on(self.alone))
        self._score_all(self.interactions.drained_pairs(self.problem.healthy))
        small = len(self.alone) <= MOST_EXHAUSTIVE and not self.interactions.holding
        if small:
            self._score_all(
                frozenset(chosen) for size in range(2, len(self.alone) + 1) for chosen in combinations(self.alone, size)
            )
        else:
            self._score_beside_glow()
            self._grow()
            self._swap()
            self._score_deferred()
        if not self.explored.finished:
            self._estimate_unscored()
        self._merge_explicit()
        self._merge_substitutes()
        self.explored.left_out = self._left_out()
        self.explored.exhaustive = small and self.explored.finished
        self.explored.proven = self.explored.finished and (small or self._beats_all_pairs())
        return self.explored

    def _beats_all_pairs(self) -> bool:
        """Return whether no set of two or more faults could beat the best, even with a perfect fit."""
        heaviest = sorted((item.weight for item in self.problem.items), reverse=True)[:2]
        return self.ceiling + sum(heaviest) < self.best

    def _score_beside_glow(self) -> None:
        """Score LEDs that are fed past their relay in pairs with each item that would keep them dark.

        Such an item scores poorly alone, as the LEDs go on glowing, and their glow alone explains little: neither
        enters a beam.
        """
        items = self.problem.items
        glowing = [at for at in self.alone if items[at].lead.fault_class is FaultClass.KEEP_WARM_GLOW]
        if glowing:
            darkening = [at for at in self.alone if self._darkens_glow(at)]
            self._score_all(frozenset((glow, other)) for glow in glowing for other in darkening)

    def _darkens_glow(self, index: int) -> bool:
        """Return whether an LED that glows in a healthy machine is dark with the item alone."""
        for fit in self.problem.fits_of([index]):
            usual = fit.usual.ravel()[fit.differs.places]
            if ((usual == Predicted.GLOW) & (fit.differs.states == Predicted.DARK)).any():
                return True
        return False

    def _grow(self) -> None:
        """Extend sets of one size to the next, while these could come near the best.

        A perfect fit is not extended: no reading is evidence of a further fault.
        """
        for size in range(1, LARGEST_SET):
            if self._out_of_work() or self._out_of_reach(size + 1):
                break
            beam = self._beam(size)[: LARGER_KEPT if size > max(self.best_size, 1) else None]
            for rank, scored in enumerate(beam):
                if not self._explains_all(scored):
                    self._score_all(scored.faults | {addition} for addition in self._additions(scored, rank))
            if not self._promising(self._beam(size + 1)):
                break

    def _beam(self, size: int) -> list[Scored]:
        """Return the sets of one size to extend, by score and by bare score, with interactions of the first two tried.

        A right cause that spoils some readings until a second one joins it scores poorly against a set that puts every
        reading down to private causes; without private causes it ranks high.
        """
        by_score, by_bare = self._ranked(size)
        for scored in (*by_score[:1], *by_bare[:1]):
            self._try_interactions(scored)
        by_score, by_bare = self._ranked(size)
        pairs = [scored for pair in zip_longest(by_score, by_bare) for scored in pair if scored is not None]
        return list({scored.faults: scored for scored in pairs}.values())

    def _ranked(self, size: int) -> tuple[list[Scored], list[Scored]]:
        of_size, found = self.of_size[size], self.ranked.get(size)
        if found is None or found.known < len(of_size):
            by_score, by_bare = sorted(of_size, key=order), sorted(of_size, key=_bare_order)
            found = self.ranked[size] = _Ranked(len(of_size), _diverse(by_score), _diverse(by_bare))
        return found.by_score, found.by_bare

    def _try_interactions(self, scored: Scored) -> None:
        """Score joint-only items beside the set; those that change no prediction are dropped."""
        if self._explains_all(scored):
            return
        for faults in self.interactions.sets(scored.faults, self.problem.fits_of(scored.faults)):
            if self._out_of_work():
                return
            if faults not in self.explored.sets:
                found = self._weighed(faults)
                if found.shows != scored.shows:
                    self._keep(found)

    def _explains_all(self, scored: Scored) -> bool:
        return scored.bare > self.ceiling - PERFECT_FIT

    def _promising(self, grown: list[Scored]) -> bool:
        return any(scored.score > self.best - HOPELESS / 2 or scored.bare > self.best_bare for scored in grown)

    def _out_of_reach(self, size: int) -> bool:
        """Return whether no set of that size or more could come near the best, even with a perfect fit."""
        return self.ceiling + sum(self.weights[:size]) < self.best - NEAR

    def _out_of_work(self) -> bool:
        if not self.work.over:
            return False
        self.explored.finished = False
        return True

    def _score_all(self, sets: Iterable[FaultSet]) -> None:
        for faults in sets:
            if self._out_of_work():
                return
            self._score(faults)

    def _score(self, faults: FaultSet) -> Scored:
        known = self.explored.sets.get(faults)
        return self._keep(self._weighed(faults)) if known is None else known

    def _keep(self, scored: Scored) -> Scored:
        self.explored.sets[scored.faults] = scored
        self.of_size[len(scored.members)].append(scored)
        self.mass = float(np.logaddexp(self.mass, scored.score))
        if scored.score > self.best:
            self.best, self.best_bare, self.best_size = scored.score, scored.bare, len(scored.faults)
        return scored

    def _weighed(self, faults: FaultSet) -> Scored:
        """Score a set, and spend its cost: each matrix is evaluated once for all sets with the same faults in it.

        Fits that earlier analyses left in the store make no difference to the count.
        """
        self.work.spend(PER_SET)
        scored, parts = self.scores.of(faults)
        for part in parts:
            if part.faults and part not in self.evaluated:
                self.evaluated.add(part)
                self.work.spend(self.scores.costs[part.place])
        return scored

    def _additions(self, scored: Scored, rank: int = 0) -> list[int]:
        """Return the items to try beside a set, best ranked first; the others are deferred.

        Tried are those whose net score brings the set near the best, and those that might interact with it, and their
        substitutes that suit the set better: what a member of it lights doesn't lie beyond a break. `rank`: the place
        of the set in its beam.
        """
        scores = self.tables.additions(scored.faults)
        prior = sum(self.problem.items[index].weight for index in scored.faults)
        most = self.ceiling + prior + self.bounds.weights
        worth = (scored.score + scores.net > self.best - NEAR) & (most > self.best - NEAR)
        worth |= (most > self.best) & (scores.gain_only > -HOPELESS / 3) & ~self._independent(scored.faults)
        worth &= self.bounds.alone
        worth[list(scored.faults)] = False
        places = np.flatnonzero(worth)
        likely = scores.gain_only[places] + LOSS_SHARE * np.minimum(scores.net[places], 0.0)
        order = places[np.argsort(-np.round(likely, 9), kind="stable")]
        wanted = ADDITIONS if rank < FULL_RANKS else FEW_ADDITIONS
        if rank < WIDE_RANKS and any(
            self.problem.items[index].lead.fault_class in DISPLACING for index in scored.faults
        ):
            wanted = MANY_ADDITIONS
        poor = scores.net[order] < POOR_NET
        tried = [*order[~poor][:wanted].tolist(), *order[poor][: wanted // POOR_FACTOR].tolist()]
        varied = [
            other
            for index in tried
            for other in self.interactions.substitutes(index)
            if scores.own[other] > scores.own[index] + LEAST_VARIED
        ]
        deferred = self.bounds.alone.copy()
        deferred[[*tried, *scored.faults]] = False
        self.deferred[scored.faults] = _deferred(
            np.flatnonzero(deferred), scored.score + np.minimum(scores.net[deferred], 0.0)
        )
        return list(dict.fromkeys([*tried, *varied, *self.interactions.drained(scored.faults)]))

    def _independent(self, faults: FaultSet) -> Bools:
        """Return a mask of the items that don't interact with any of `faults`.

        What two faults silence is as silent as by one.
        """
        if all(self.bounds.silencing[index] for index in faults):
            return self.bounds.silencing
        return np.zeros_like(self.bounds.silencing)

    def _swap(self) -> None:
        """Try other items in place of each member of the best sets; explicit private causes go all at once.

        First what shows the same alone as a member: only with that may others fit, as a plug that is off beside a wire
        at ground.
        """
        for scored in self.explored.best(3):
            self._score_all(self.interactions.replaced(scored.faults))
        for scored in self.explored.best(3):
            self._try_interactions(scored)
            explicit = scored.faults & self.interactions.explicit
            taken = [*(frozenset((member,)) for member in scored.faults - explicit), *([explicit] if explicit else [])]
            for members in taken:
                rest = self._score(scored.faults - members)
                self._score_all(rest.faults | {other} for other in self._additions(rest, WIDE_RANKS))
                leads = [self.problem.items[index].lead for index in members]
                if any(lead.fault_class in DISPLACING for lead in leads):
                    self._swap_for_two(rest, frozenset(line for lead in leads for line in lead.lines))

    def _swap_for_two(self, rest: Scored, lines: frozenset[LineKey]) -> None:
        """Try two items in place of one of these lines that was taken out.

        What a crossing explains, two open lines explain as well; each alone looks poor for what both would leave. What
        takes hold of other lines too gains more than they do, and explains nothing better.
        """
        scores = self.tables.additions(rest.faults)
        gains = np.where(self.bounds.alone & self.bounds.silencing, scores.gain_only, -np.inf)
        gains[[not lines.issuperset(item.lead.lines) for item in self.problem.items]] = -np.inf
        gains[list(rest.faults)] = -np.inf
        for index in np.argsort(-np.round(gains, 9), kind="stable")[:PAIRED].tolist():
            if self._out_of_work():
                return
            one = self._score(rest.faults | {index})
            self._score_all(one.faults | {other} for other in self._additions(one))

    def _score_deferred(self) -> None:
        """Score deferred sets, highest estimate first, until the others weigh little."""
        queue = [(-each.highest, place, faults) for place, (faults, each) in enumerate(self.deferred.items())]
        heapify(queue)
        for _ in range(MOST_DEFERRED_SCORED):
            if self._out_of_work() or self._left_out() < self.mass + log(NEGLIGIBLE_SHARE):
                return
            _, place, faults = queue[0]
            likeliest = self.deferred[faults]
            self._score(faults | {int(likeliest.items[likeliest.first])})
            left = self.deferred[faults] = likeliest.without_first()
            heapreplace(queue, (-left.highest, place, faults))

    def _estimate_unscored(self) -> None:
        """Defer what was never tried beside the empty set and the best ones, as the work was used up before."""
        for faults in (frozenset[int](), *(scored.faults for scored in self.explored.best(3))):
            scored = self._score(faults)
            scores = self.tables.additions(faults)
            left = [index for index in self.alone if faults | {index} not in self.explored.sets]
            estimated = scored.score + np.minimum(scores.net[left], 0.0)
            self.deferred[faults] = _deferred(np.array(left, dtype=np.int64), estimated)

    def _left_out(self) -> float:
        """Return the estimated log-posterior of all deferred sets."""
        return log_sum([deferred.mass for deferred in self.deferred.values()])

    def _merge_explicit(self) -> None:
        """Drop sets that only make explicit what another one sums over: private causes, then their substitutes."""
        for explicit in (self.interactions.explicit, self.interactions.of_cells):
            for scored in [scored for scored in self.explored.sets.values() if explicit & scored.faults]:
                silent = self._score(scored.faults - explicit)
                if scored.score < silent.score + EXPLICIT_GAIN:
                    del self.explored.sets[scored.faults]

    def _merge_substitutes(self) -> None:
        """Drop sets with a substitute that shows no more than the item it stands for: that one's rate includes its."""
        for scored in list(self.explored.sets.values()):
            plain = self.interactions.without_substitutes(scored.faults)
            if plain != scored.faults and self._score(plain).shows == scored.shows:
                del self.explored.sets[scored.faults]


class _Ranked(NamedTuple):
    """Hold the first sets of one size by score, and by bare score; `known`: of how many."""

    known: int
    by_score: list[Scored]
    by_bare: list[Scored]


def _bare_order(scored: Scored) -> tuple[float, tuple[int, ...]]:
    return -round(scored.bare, DIGITS), scored.members


def _diverse(ranked: Iterable[Scored]) -> list[Scored]:
    """Return the first sets for a beam, few of them with equal predictions."""
    kept: list[Scored] = []
    shown: dict[tuple[bytes, ...], int] = {}
    for scored in ranked:
        shown[scored.shows] = shown.get(scored.shows, 0) + 1
        if shown[scored.shows] <= MOST_ALIKE:
            kept.append(scored)
        if len(kept) == BEAM_WIDTH:
            break
    return kept
