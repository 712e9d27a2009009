"""The sets of shared faults of one component that account for its marks, most probable first, and a bound on the rest.

Sets are built up from larger faults to smaller ones. A fault that changes nothing beside the ones that are there stays
open: it may be there or not, and both are summed. Every other set is visited in the order of an upper bound of all sets
that go on from it: cells that were made worse stay so, cells that may yet become better are counted once where few
faults compete for them, and fault by fault where each is unlikely.
"""

from __future__ import annotations

from dataclasses import replace
from heapq import heappop, heappush
from math import exp, inf, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.bounds import (
    Background,
    GainBounds,
    Terms,
    charges_of,
    gain_bounds,
    log_beyond,
    ranked,
)
from matrixcheck.diagnosis.inference.exact.components import Component, changes_of
from matrixcheck.diagnosis.inference.exact.enumerate import enumerate_sets
from matrixcheck.diagnosis.inference.exact.fault_sets import AT_LEAST, NEAR, Found, Tolerance, WeightedSet
from matrixcheck.diagnosis.inference.exact.incidence import Entries
from matrixcheck.diagnosis.inference.exact.incumbent import Incumbent, incumbent, incumbent_with
from matrixcheck.diagnosis.inference.exact.multipliers import multipliers_for
from matrixcheck.diagnosis.inference.exact.unknown_chains import UnknownChains
from matrixcheck.diagnosis.inference.log_sum import log_sum
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints

FEW = 40
"""Faults and unknown chains up to which a component is searched finely at first. Halved or doubled: no answer of 15
moves."""
FINE, USUAL, COARSE = Tolerance(1e-4, 1e-5, 16.0), Tolerance(1e-3, 1e-4, 14.0), Tolerance(3e-3, 3e-4, 14.0)
"""For components of at most FEW faults and unknown chains at first, for others, and for what takes longer."""
USUAL_AFTER, COARSE_AFTER, MOST_SETS = 100, 300, 700
"""After so many visits a search is less exact, still less, and ends. Halved or doubled: no answer of 15 moves."""
LIKELY = 9.0
"""Every other visit goes to the likeliest set that was counted only, if it lies so few nats below the best one. Halved
or doubled: no answer of 15 moves."""
MOST_GOOD, AS_GOOD = 120, 1.5
"""Where chains are unknown, so many good sets without broken lines are visited first: those that an enumeration finds,
or else for each fault one that holds it, if it lies so few nats below the best. Halved or doubled: no answer of 15
moves."""
MOSTLY = (0.93, 0.75)
"""Parts of gains that some bounds count once for all: where few faults compete for a cell, nearly all of it."""

PER_VISIT, PER_ENTRY, PER_ADDED = 11_000, 12, 1_200
"""Units of work for a visit, for each entry of its open items, and for each item added to an incumbent, where half an
entry counts besides (measured: 280 us, 300 ns, 30 us)."""


class _Larger(NamedTuple):
    """Sets that are larger by one item than one that was visited.

    `weights[n]`: log of the weight of each. `added[n]`: the item. `visited[n]`: whether it was visited itself since;
    changed in place. `items`, `code[place]`, `free`: of the set that they go on from.
    """

    weights: Floats
    added: Ints
    visited: Bools
    items: tuple[int, ...]
    code: Ints
    free: tuple[int, ...]


class _Node(NamedTuple):
    """A set that was not visited yet.

    `code[place]`: of the set it goes on from. `item`, `chain`: what was added to that, or -1. `base`: log of the weight
    of its faults. `open`: items that may yet be added. `idle`: broken chains that change nothing beside the set.
    `counted`: where its weight was counted already.
    """

    code: Ints
    item: int
    chain: int
    base: float
    items: tuple[int, ...]
    broken: tuple[int, ...]
    open: Ints
    free: tuple[int, ...]
    idle: frozenset[int] = frozenset()
    counted: tuple[_Larger, int] | None = None


def search_best_first(component: Component, work: Work, tolerance: Tolerance | None = None) -> Found:
    """Find all sets of the component but for a negligible rest, or as many as the work allows.

    `tolerance`: how far to go, however many sets that takes.
    """
    return _BestFirst(component, work, tolerance).run()


class _BestFirst:
    def __init__(self, component: Component, work: Work, tolerance: Tolerance | None) -> None:
        self.component = component
        self.work = work
        self.demanded = tolerance
        self.tolerance = tolerance or (FINE if len(component.codes) + len(component.unknown) <= FEW else USUAL)
        count, width = component.gains.shape
        self.offset = np.arange(count) * width
        self.gains = component.gains.ravel()
        self.entries = component.entries
        self.ranked = ranked(component.group)
        self.log_there = np.logaddexp(0.0, component.odds)
        self.may_hide = np.bincount(component.group, self.log_there)[component.group]
        self.sets: list[WeightedSet] = []
        self.larger: list[_Larger] = []
        self.heap: list[tuple[float, int, _Node]] = []
        self.likely: list[tuple[float, int, _Node]] = []
        self.gone: set[int] = set()
        self.pushed = 0
        self.lost: list[float] = []
        self.unknown = UnknownChains(component, work)
        self.clashes = component.clash.sum(axis=1) > 0
        self.good = incumbent(component)
        self.best = self.good.weight
        self.terms = self._terms(self.good)
        self.no_background = Background(np.zeros(count, dtype=bool), np.zeros(len(self.terms.shared)))
        self.visited = 0.0
        self.tops: list[float] = []
        self.tenth = -inf

    def run(self) -> Found:
        nothing = np.zeros(self.component.codes.shape[1], dtype=np.int64)
        self._visit(_Node(nothing, -1, -1, 0.0, (), (), np.arange(len(self.component.codes)), ()))
        self._visit_incumbents()
        visits = 0
        while self.heap:
            visits += 1
            if self.demanded is None and self._coarsen(visits):
                break
            if self.work.over or self._enough():
                break
            self._visit(self._next(visits))
        missing = log_sum([*self.lost, *(-entry[0] for entry in self.heap if entry[1] not in self.gone)])
        sets = tuple(sorted([*self.sets, *self._best_larger()], key=lambda one_set: -one_set.weight))
        unvisited = [each.weights[~each.visited] for each in self.larger]
        total = np.logaddexp.reduce(np.concatenate([[one_set.weight for one_set in self.sets], *unvisited]))
        return Found(sets, float(total), missing)

    def _visit_incumbents(self) -> None:
        """Visit the sets without broken lines that lie near the best, by way of those that lead to them.

        Where many lines are dead, broken ones have bounds far above what they weigh, and the search may end before it
        comes to a good set.
        """
        visited: set[tuple[int, ...]] = set()
        for items in self._incumbents():
            for size in range(1, len(items) + 1):
                there = items[:size]
                if self.work.over or there in visited:
                    continue
                queued = (entry for entry in self.heap if entry[2].items == there and not entry[2].broken)
                for _, number, node in list(queued)[:1]:
                    self._take(number)
                    self._visit(node)
                visited.add(there)

    def _incumbents(self) -> list[tuple[int, ...]]:
        good = tuple(sorted(self.good.items))
        if not self.component.unknown:
            return [good]
        enumerated = enumerate_sets(replace(self.component, unknown=()), self.good.weight - LIKELY, self.work, LIKELY)
        if enumerated:
            return [tuple(sorted(one_set.items)) for one_set in enumerated.sets[:MOST_GOOD]]
        others = []
        if not self.work.over:
            others = [incumbent_with(self.component, item) for item in range(len(self.entries.lengths))]
            added = sum(len(each.items) for each in others)
            self.work.spend(added * (PER_ADDED + len(self.entries.row) / 2))
        near = [each for each in others if each.weight > self.good.weight - AS_GOOD]
        return [good, *(tuple(sorted(each.items)) for each in near[:MOST_GOOD])]

    def _next(self, visits: int) -> _Node:
        """Take by turns the set with the greatest bound, and the likeliest one that was not visited.

        Where the work runs out, what goes on from the best sets must not be missing.
        """
        is_likely = visits % 2 == 0 and self.likely and -self.likely[0][0] > self.best - LIKELY
        _, number, node = heappop(self.likely if is_likely else self.heap)
        self._take(number)
        return node

    def _take(self, number: int) -> None:
        """Take a set out of both queues: what is gone never stands first."""
        self.gone.add(number)
        for queue in (self.heap, self.likely):
            while queue and queue[0][1] in self.gone:
                heappop(queue)

    def _best_larger(self) -> list[WeightedSet]:
        """Give the sets that were counted without a visit and lie near the best one, AT_LEAST of them at least."""
        least = min(self.best - max(NEAR, -log(self.tolerance.tiny)), self.tenth)
        found = []
        for each in self.larger:
            for at in np.flatnonzero((each.weights >= least) & ~each.visited).tolist():
                weight, item = float(each.weights[at]), int(each.added[at])
                code = each.code | self.component.codes[item]
                found.append(WeightedSet(weight, weight, (*each.items, item), (), code, each.free))
        return found

    def _count(self, weights: Floats) -> None:
        """Add sets to the weight of all that are known, which is kept as a multiple of the best one's."""
        best = float(weights.max())
        if best > self.best:
            self.visited *= exp(self.best - best)
            self.best = best
        self.visited += float(np.exp(weights - self.best).sum())

    def _rank(self, weights: list[float]) -> None:
        """Take sets among the best few."""
        self.tops = sorted([*self.tops, *weights], reverse=True)[:AT_LEAST]
        if len(self.tops) == AT_LEAST:
            self.tenth = self.tops[-1]

    def _coarsen(self, visits: int) -> bool:
        """Make the search less exact after many visits; say whether there were too many."""
        if visits >= COARSE_AFTER:
            self.tolerance = COARSE
        elif visits >= USUAL_AFTER:
            self.tolerance = USUAL
        return visits > MOST_SETS

    def _enough(self) -> bool:
        """Say whether the best few sets are known, and little else is missing."""
        if self.visited <= 0 or -self.heap[0][0] > min(
            self.best + log(self.tolerance.missing * self.visited), self.tenth
        ):
            return False
        left = sum(exp(-entry[0] - self.best) for entry in self.heap if entry[1] not in self.gone)
        return left < self.tolerance.missing * self.visited

    def _visit(self, node: _Node) -> None:
        component = self.component
        self.work.spend(PER_VISIT + PER_ENTRY * int(self.entries.lengths[node.open].sum()))
        code = node.code if node.item < 0 else node.code | component.codes[node.item]
        value = float(self.gains[self.offset + code].sum())
        if node.chain >= 0:
            if len(node.broken) > 1:
                self._record(node, code, value)
            self._more_broken(node, code, value)
            return
        entries = self.entries.of(node.open)
        changed = (code[entries.place] | entries.bits) != code[entries.place]
        idle = ~entries.any(changed)
        base, free, opened = node.base, node.free, node.open
        if idle.any():
            free = (*free, *opened[idle].tolist())
            base += float(self.log_there[opened[idle]].sum())
            opened, entries = opened[~idle], entries.keep(~idle)
        hidden = self.unknown.breaks(code, self.terms).idle if component.unknown else node.idle
        base += sum(float(np.logaddexp(0.0, self.unknown.odds[number])) for number in hidden - node.idle)
        node = node._replace(base=base, free=free, open=opened, idle=hidden)
        self._record(node, code, value)
        self._more_items(node, code, value, entries)
        self._more_broken(node, code, value)

    def _record(self, node: _Node, code: Ints, value: float) -> None:
        weight, exact = node.base + value, True
        if node.broken:
            summed, exact = self.unknown.together(code, node.broken)
            weight += summed
        if not exact:
            self.lost.append(weight)
            return
        bare = weight - float(self.log_there[list(node.free)].sum())
        known = [bare]
        if node.counted is not None:
            larger, at = node.counted
            larger.visited[at] = True
            self.visited -= exp(float(larger.weights[at]) - self.best)
            known = []
        self._count(np.array([weight]))
        self._rank([*known, *(bare + self.component.odds[list(node.free)]).tolist()])
        self.sets.append(WeightedSet(weight, node.base + value, node.items, node.broken, code, node.free))

    def _more_items(self, node: _Node, code: Ints, value: float, entries: Entries) -> None:
        """Count every set that is larger by one item; queue those from which others worth a visit may go on."""
        if not len(node.open):
            return
        score = node.base + value
        opened, bounds = self._hopeful(score, node.open, self._gain_bounds(code, node.open, entries))
        if not len(opened):
            return
        weights = score + bounds.gain
        larger = _Larger(weights, opened, np.zeros(len(opened), dtype=bool), node.items, code, node.free)
        self.larger.append(larger)
        self._count(weights)
        hidden = float(self.log_there[list(node.free)].sum())
        self._rank(
            (weights - hidden).tolist()
            if len(weights) <= AT_LEAST
            else np.partition(weights - hidden, -AT_LEAST)[-AT_LEAST:].tolist()
        )
        beyond = log_beyond(score + bounds.with_later() + self.may_hide[opened], weights)
        slight: Bools = np.asarray(beyond < min(self.best + log(self.tolerance.tiny), self.tenth))
        for at in np.flatnonzero(~slight).tolist():
            item, rest = int(opened[at]), opened[at + 1 :]
            if self.clashes[item]:
                apart: Bools = np.logical_not(self.component.clash[item, rest])
                rest = rest[apart]
            base = node.base + float(self.component.odds[item])
            there = (*node.items, item)
            larger_by_one = _Node(code, item, -1, base, there, (), rest, node.free, node.idle, (larger, at))
            self._push(float(beyond[at]), float(weights[at]), larger_by_one)
        if slight.any():
            self.lost.append(float(np.logaddexp.reduce(beyond[slight])))

    def _hopeful(self, score: float, opened: Ints, bounds: GainBounds) -> tuple[Ints, GainBounds]:
        """Keep the open items that may yet lead near the best set; what the others might have weighed is lost."""
        bound = score + bounds.with_others() + self.may_hide[opened]
        hopeless = bound < min(self.best - self.tolerance.hopeless, self.tenth)
        if not hopeless.any():
            return opened, bounds
        self.lost.append(float(np.logaddexp.reduce(bound[hopeless])))
        return opened[~hopeless], bounds.keep(~hopeless)

    def _terms(self, good: Incumbent) -> Terms:
        """Choose the ways to draw bounds, one a row.

        All gains counted once for all, most of them, by multipliers, and fault by fault; losses borne in equal parts by
        the groups that take a cell, or by one fault alone.
        """
        component, entries = self.component, self.entries
        count = len(self.offset)
        charge = charges_of(entries, self.ranked, count)
        charge[self.unknown.touched.sum(axis=0) > 0] = 0.0
        changes = changes_of(component, np.zeros(count, dtype=np.int64), entries)
        borne = changes._replace(worse=changes.worse * charge[entries.place])
        chosen = np.zeros(len(component.codes), dtype=bool)
        chosen[list(good.items)] = True
        multipliers = self.unknown.beside(borne, component.odds, self.ranked, chosen)
        shared = multipliers_for(*multipliers, good.weight).shared
        return Terms(
            np.array([np.ones(count), *(np.full(count, part) for part in MOSTLY), shared, shared, np.zeros(count)]),
            np.array([0.0, *(1.0 for _ in MOSTLY), 1.0, 0.0, 1.0])[:, None] * charge,
        )

    def _gain_bounds(self, code: Ints, opened: Ints, entries: Entries) -> GainBounds:
        changes = changes_of(self.component, code, entries)
        after = self.offset[entries.place] + (code[entries.place] | entries.bits)
        gain = self.gains[after] - self.gains[self.offset + code][entries.place]
        odds = self.component.odds[opened]
        return gain_bounds(
            changes, gain, odds, self.terms, ranks=self.ranked.of(opened), background=self._background(code)
        )

    def _background(self, code: Ints) -> Background:
        return self.unknown.background(code, self.terms, 0) if self.component.unknown else self.no_background

    def _push(self, bound: float, weight: float, node: _Node) -> None:
        """Queue a set of this weight; `bound`: of what goes on from it."""
        self.pushed += 1
        heappush(self.heap, (-bound, self.pushed, node))
        heappush(self.likely, (-weight, self.pushed, node))

    def _more_broken(self, node: _Node, code: Ints, value: float) -> None:
        """Queue every set that is larger by one broken line of unknown chain; count the first one at once."""
        if not self.component.unknown:
            return
        breaks, broken, score = self.unknown.breaks(code, self.terms), list(node.broken), node.base + value
        so_far = score + float((breaks.hope - self.unknown.odds)[broken].sum())
        for number in range(node.chain + 1, len(self.component.unknown)):
            if number in breaks.idle:
                continue
            bound = so_far + float(breaks.hope[number]) + self.unknown.after(code, self.terms, number)
            if bound < min(self.best - self.tolerance.hopeless, self.tenth):
                self.lost.append(bound)
                continue
            base = node.base + float(self.unknown.odds[number])
            weight = bound
            if not broken:
                weight = score + float(breaks.worth[number])
                self.sets.append(WeightedSet(weight, base + value, node.items, (number,), code, node.free))
                self._count(np.array([weight]))
                bound = float(log_beyond(np.array([bound]), np.array([weight]))[0])
            if bound < min(self.best + log(self.tolerance.tiny), self.tenth):
                self.lost.append(bound)
                continue
            there = (*node.broken, number)
            longer = _Node(code, -1, number, base, node.items, there, node.open[:0], node.free, node.idle)
            self._push(bound, weight, longer)
