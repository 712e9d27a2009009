"""The sets of shared faults of one component that account for its marks, most probable first, and a bound on the rest.

Sets are built up from larger faults to smaller ones. A fault that changes nothing beside the ones that are there stays
open: it may be there or not, and both are summed. Every other set is visited in the order of an upper bound of all sets
that go on from it: cells that were made worse stay so, cells that may yet become better are counted once where few
faults compete for them, and fault by fault where each is unlikely.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappop, heappush
from math import exp, inf, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Bools, Floats, Ints
from matrixcheck.diagnosis.marks.chains import Loose, log_sums, log_together
from matrixcheck.diagnosis.marks.component import Component, LooseLine
from matrixcheck.diagnosis.marks.entries import Entries
from matrixcheck.diagnosis.marks.prospect import MIXTURES, SLIGHT, Background, Outlook, ranked, worth_of


class Care(NamedTuple):
    """How far a search goes. It ends when no more than the share `missing` of the probability is. Sets of less than the
    share `tiny` of the best known one are counted without looking at what goes on from them; faults all of whose sets
    lie `hopeless` nats below it are given up."""

    missing: float
    tiny: float
    hopeless: float


FEW = 40
CAREFUL, USUAL, HASTY = Care(1e-7, 1e-8, 30.0), Care(1e-4, 1e-5, 24.0), Care(2e-3, 1e-4, 24.0)
"""For components of so few faults at first, for others, and for what takes longer."""
PATIENT, IMPATIENT, MOST_SETS = 100, 300, 700
"""After so many sets a search takes less care, still less, and ends; where chains are unknown, which takes longer,
after a third of that."""
LOOK_EVERY = 8
NEAR, AT_LEAST = 12.0, 10
"""Sets that were not worth a visit are told if they lie so few nats below the best, or among the first so many."""


class Leaf(NamedTuple):
    """One set: log of its weight with all that may hide behind it, and without what the choice of cells on its broken
    loose lines is worth; its items and broken loose lines; what every cell is in without these; and the items that may
    be there besides without a trace."""

    weight: float
    base: float
    items: tuple[int, ...]
    loose: tuple[int, ...]
    code: Ints
    free: tuple[int, ...]


class Found(NamedTuple):
    """The sets that were visited, best first, without all but the best of those that are hardly worth it; log of the
    total weight of all of them; and log of a bound on the weight of others."""

    leaves: tuple[Leaf, ...]
    total: float
    missing: float


class _Slight(NamedTuple):
    """Sets that are larger by one item than another one, and hardly worth a visit: log of the weight of each, and the
    item; and the set that they go on from: its items, what every cell is in, and what may be there without a trace."""

    weights: Floats
    added: Ints
    items: tuple[int, ...]
    code: Ints
    free: tuple[int, ...]


class _Node(NamedTuple):
    """A set that was not visited yet: what its parent's cells are in, what is added, and what stays open."""

    code: Ints
    item: int
    broken: int
    base: float
    items: tuple[int, ...]
    loose: tuple[int, ...]
    open: Ints
    free: tuple[int, ...]
    idle: frozenset[int] = frozenset()


class _Loose(NamedTuple):
    """What breaking each loose line is worth as it is, and at best; and which lines have no cell left to lose."""

    worth: Floats
    hope: Floats
    idle: frozenset[int]


def explore(component: Component, late: Callable[[], bool], care: Care | None = None) -> Found:
    """All sets of the component but for a negligible rest, or as many as time allows. `care`: how far to go, however
    many sets that takes."""
    return _Search(component, late, care).run()


class _Search:
    def __init__(self, component: Component, late: Callable[[], bool], care: Care | None) -> None:
        self.component = component
        self.late = late
        self.demanded = care
        self.care = care or (CAREFUL if len(component.codes) + len(component.loose) <= FEW else USUAL)
        count, width = component.gains.shape
        self.offset = np.arange(count) * width
        self.gains, self.best_gains = component.gains.ravel(), component.best.ravel()
        self.entries = component.entries
        self.ranked = ranked(component.group)
        self.log_there = np.logaddexp(0.0, component.odds)
        self.leaves: list[Leaf] = []
        self.slight: list[_Slight] = []
        self.heap: list[tuple[float, int, _Node]] = []
        self.pushed = 0
        self.lost: list[float] = []
        self.no_background = Background(np.zeros(count, dtype=bool), 0.0, np.zeros(len(MIXTURES)))
        self._lay_out_loose()
        self.clashes = component.clash.sum(axis=1) > 0
        self.best = max(self._greedy(0), self._greedy(2))
        self.visited = 0.0

    def run(self) -> Found:
        nothing = np.zeros(self.component.codes.shape[1], dtype=np.int64)
        self._visit(_Node(nothing, -1, -1, 0.0, (), (), np.arange(len(self.component.codes)), ()))
        visits = 0
        while self.heap:
            visits += 1
            if self.demanded is None and self._wearies(visits):
                break
            if self.late() or (visits % LOOK_EVERY == 0 and self._enough()):
                break
            self._visit(heappop(self.heap)[2])
        missing = _log_sum([*self.lost, *(-entry[0] for entry in self.heap)])
        leaves = tuple(sorted([*self.leaves, *self._best_slight()], key=lambda leaf: -leaf.weight))
        total = self.best + log(self.visited) if self.visited > 0 else leaves[0].weight
        return Found(leaves, total, missing)

    def _best_slight(self) -> list[Leaf]:
        """Of the sets that were counted without a visit, those near the best one, and enough to tell the first few."""
        if not self.slight:
            return []
        weights = np.concatenate([each.weights for each in self.slight])
        least = self.best - NEAR
        if len(self.leaves) < AT_LEAST:
            least = min(least, float(np.partition(weights, -AT_LEAST)[-AT_LEAST]) if len(weights) > AT_LEAST else -inf)
        found = []
        for each in self.slight:
            for at in np.flatnonzero(each.weights >= least).tolist():
                weight, item = float(each.weights[at]), int(each.added[at])
                code = each.code | self.component.codes[item]
                found.append(Leaf(weight, weight, (*each.items, item), (), code, each.free))
        return found

    def _count(self, weight: float) -> None:
        """Adds a set to the weight of all that were visited, which is kept as a share of the best one's."""
        if weight > self.best:
            self.visited *= exp(self.best - weight)
            self.best = weight
        self.visited += exp(weight - self.best)

    def _wearies(self, visits: int) -> bool:
        """Takes less care after many visits; whether there were too many."""
        worn = visits * 3 if self.component.loose else visits
        if worn >= IMPATIENT:
            self.care = HASTY
        elif worn >= PATIENT:
            self.care = USUAL
        return worn > MOST_SETS

    def _enough(self) -> bool:
        if -self.heap[0][0] > self.best + log(self.care.missing) / 2:
            return False
        left = sum(exp(-entry[0] - self.best) for entry in self.heap)
        return left < self.care.missing * self.visited

    def _greedy(self, power: int) -> float:
        """The weight of a set that is good: the best addition, again and again, by what it gains, or by that as a share
        of what it might."""
        entries, odds = self.entries, self.component.odds
        code, score = np.zeros(len(self.offset), dtype=np.int64), 0.0
        while len(odds):
            before = code[entries.place]
            at = self.offset[entries.place]
            change = self.gains[at + (before | entries.bits)] - self.gains[at + before]
            gain = entries.sums(change) + odds
            might = np.maximum(entries.sums(np.maximum(change, 0.0)), 1.0)
            chosen = int((gain * np.maximum(gain / might, 0.0) ** power).argmax())
            if gain[chosen] <= 0:
                break
            score += float(gain[chosen])
            code = code | self.component.codes[chosen]
        return score

    def _visit(self, node: _Node) -> None:
        component = self.component
        code = node.code if node.item < 0 else node.code | component.codes[node.item]
        value = float(self.gains[self.offset + code].sum())
        if node.broken >= 0:
            self._leaf(node, code, value)
            self._more_loose(node, code, value)
            return
        entries = self.entries.of(node.open)
        changed = (code[entries.place] | entries.bits) != code[entries.place]
        idle = ~entries.any(changed)
        base, free, opened = node.base, node.free, node.open
        if idle.any():
            free = (*free, *opened[idle].tolist())
            base += float(self.log_there[opened[idle]].sum())
            opened, entries = opened[~idle], entries.keep(~idle)
        hidden = self._loose(code).idle if self.component.loose else node.idle
        base += sum(float(np.logaddexp(0.0, self.loose_odds[number])) for number in hidden - node.idle)
        node = node._replace(base=base, free=free, open=opened, idle=hidden)
        self._leaf(node, code, value)
        self._more_items(node, code, value, entries)
        self._more_loose(node, code, value)

    def _leaf(self, node: _Node, code: Ints, value: float) -> None:
        weight, exact = node.base + value, True
        if node.loose:
            summed, exact = log_together(
                [Loose(line.places, line.share) for line in self._lines(node.loose)], self._ratios(code, node.loose)
            )
            weight += summed
        if exact:
            self._count(weight)
            self.leaves.append(Leaf(weight, node.base + value, node.items, node.loose, code, node.free))
        else:
            self.lost.append(weight)

    def _more_items(self, node: _Node, code: Ints, value: float, entries: Entries) -> None:
        """Queues every set that is larger by one item, or counts it at once where it is hardly worth a visit."""
        if not len(node.open):
            return
        score = node.base + value
        opened, outlook = self._hopeful(score, node.open, self._outlook(code, node.open, entries))
        if not len(opened):
            return
        bounds = score + outlook.own + outlook.later()
        slight: Bools = np.asarray(bounds < self.best + log(self.care.tiny))
        for at in np.flatnonzero(~slight).tolist():
            item, rest = int(opened[at]), opened[at + 1 :]
            if self.clashes[item]:
                apart: Bools = np.logical_not(self.component.clash[item, rest])
                rest = rest[apart]
            base = node.base + float(self.component.odds[item])
            self._push(
                float(bounds[at]), _Node(code, item, -1, base, (*node.items, item), (), rest, node.free, node.idle)
            )
        if slight.any():
            weights = score + outlook.gain[slight]
            self.slight.append(_Slight(weights, opened[slight], node.items, code, node.free))
            self.visited += float(np.exp(weights - self.best).sum())
            self._lose_beyond(weights, bounds[slight])

    def _lose_beyond(self, weights: Floats, bounds: Floats) -> None:
        """What may go on from sets that are not looked at further is lost."""
        top = float(bounds.max())
        beyond = float((np.exp(bounds - top) * -np.expm1(np.minimum(weights - bounds, 0.0))).sum())
        if beyond > 0:
            self.lost.append(top + log(beyond))

    def _hopeful(self, score: float, opened: Ints, outlook: Outlook) -> tuple[Ints, Outlook]:
        """Which of the open items may yet lead near the best set; what the others might have weighed is lost."""
        while len(opened):
            bound = score + outlook.own + outlook.others()
            hopeless = bound < self.best - self.care.hopeless
            if not hopeless.any():
                break
            self.lost.append(float(np.logaddexp.reduce(bound[hopeless])))
            opened, outlook = opened[~hopeless], outlook.keep(~hopeless)
        return opened, outlook

    def _outlook(self, code: Ints, opened: Ints, entries: Entries) -> Outlook:
        odds = self.component.odds[opened]
        now = self.gains[self.offset + code]
        hope = self.best_gains[self.offset + code] - now
        there = now[entries.place]
        at = self.offset[entries.place] + (code[entries.place] | entries.bits)
        change = self.best_gains[at] - there
        gain = entries.sums(self.gains[at] - there) + odds
        most = entries.sums(np.maximum(change, 0.0))
        own = entries.sums(change) + odds
        ranks, worth = self.ranked.of(opened), worth_of(odds, most)
        return Outlook(hope, entries, odds, own, most, gain, ranks, worth, self._background(code, 0))

    def _background(self, code: Ints, first: int) -> Background:
        """What the loose lines from the first on may add."""
        if not self.component.loose:
            return self.no_background
        loose = self._loose(code)
        there = np.array([number not in loose.idle for number in range(len(loose.hope))], dtype=bool)
        there[:first] = False
        wide: Bools = there & (loose.hope >= SLIGHT)
        most = np.maximum(loose.hope - self.loose_odds, 0.0)
        part = np.array(MIXTURES)[:, None] * most[wide] + self.loose_odds[wide]
        covered: Bools = self.loose_touched[wide].sum(axis=0) > 0
        single = float(np.logaddexp(0.0, loose.hope[there & ~wide]).sum())
        return Background(covered, single, np.logaddexp(0.0, part).sum(axis=1))

    def _push(self, bound: float, node: _Node) -> None:
        self.pushed += 1
        heappush(self.heap, (-bound, self.pushed, node))

    def _lay_out_loose(self) -> None:
        lines = self.component.loose
        longest = max((len(line.places) for line in lines), default=0)
        count = self.component.gains.shape[0]
        self.loose_places = np.full((len(lines), longest), count, dtype=np.int64)
        self.loose_share = np.zeros((len(lines), longest + 1))
        for row, line in enumerate(lines):
            self.loose_places[row, : len(line.places)] = line.places
            self.loose_share[row, : len(line.share)] = line.share
        self.loose_odds = np.array([line.odds for line in lines])
        self.loose_touched = np.zeros((len(lines), count), dtype=bool)
        for row, line in enumerate(lines):
            self.loose_touched[row, list(line.places)] = True
        self.known_loose: dict[bytes, _Loose] = {}
        self.known_after: dict[tuple[bytes, int], float] = {}
        crossings = np.bincount(self.loose_places.ravel(), minlength=count + 1)
        self.crossed = crossings[:count] > 1

    def _lines(self, numbers: tuple[int, ...]) -> list[LooseLine]:
        return [self.component.loose[number] for number in numbers]

    def _ratios(self, code: Ints, numbers: tuple[int, ...]) -> Floats:
        """[line, place]: what a cell gains when that line's break takes it."""
        now = self.gains[self.offset + code]
        return np.array([self.gains[self.offset + (code | line.bit)] - now for line in self._lines(numbers)])

    def _loose_values(self, code: Ints, at_best: bool) -> Floats:
        """For each loose line: what breaking it is worth, or may be at best."""
        lines = self.component.loose
        now = self.gains[self.offset + code]
        taken = np.empty((len(lines), len(code) + 1))
        for bit in {line.bit for line in lines}:
            rows = [row for row, line in enumerate(lines) if line.bit == bit]
            gains = self.best_gains if at_best else self.gains
            ratio = gains[self.offset + (code | bit)] - now
            taken[rows, :-1] = np.where((ratio < 0) & self.crossed, ratio / 2, ratio) if at_best else ratio
        taken[:, -1] = -inf
        along = np.take_along_axis(taken, self.loose_places, axis=1)
        values: Floats = self.loose_odds + log_sums(np.zeros(along.shape), along, self.loose_share)
        return values

    def _loose(self, code: Ints) -> _Loose:
        key = code.tobytes()
        if key not in self.known_loose:
            lines = self.component.loose
            worth, hope = (
                (self._loose_values(code, at_best) for at_best in (False, True)) if lines else [np.zeros(0)] * 2
            )
            idle = [number for number, line in enumerate(lines) if self._is_idle(code, line)]
            self.known_loose[key] = _Loose(worth, hope, frozenset(idle))
        return self.known_loose[key]

    def _is_idle(self, code: Ints, line: LooseLine) -> bool:
        there = code[list(line.places)]
        return bool(((there | line.bit) == there).all())

    def _more_loose(self, node: _Node, code: Ints, value: float) -> None:
        """Queues every set that is larger by one broken line of unknown chain, or counts it at once."""
        if not self.component.loose:
            return
        loose, broken = self._loose(code), list(node.loose)
        so_far = node.base + value + float((loose.hope - self.loose_odds)[broken].sum())
        for number in range(node.broken + 1, len(self.component.loose)):
            if number in loose.idle:
                continue
            bound = so_far + float(loose.hope[number]) + self._after(code, number)
            if bound < self.best - self.care.hopeless:
                self.lost.append(bound)
            elif not broken and bound < self.best + log(self.care.tiny):
                weight = node.base + value + float(loose.worth[number])
                base = node.base + value + float(self.loose_odds[number])
                self.leaves.append(Leaf(weight, base, node.items, (number,), code, node.free))
                self._count(weight)
                self._lose_beyond(np.array([weight]), np.array([bound]))
            else:
                base = node.base + float(self.loose_odds[number])
                there = (*node.loose, number)
                self._push(bound, _Node(code, -1, number, base, node.items, there, node.open[:0], node.free, node.idle))

    def _after(self, code: Ints, number: int) -> float:
        """A bound on what the loose lines after one may add."""
        key = code.tobytes(), number
        if key not in self.known_after:
            background = self._background(code, number + 1)
            hope = self.best_gains[self.offset + code] - self.gains[self.offset + code]
            covered = float(hope[background.covered].sum())
            self.known_after[key] = background.single + float(
                ((1 - np.array(MIXTURES)) * covered + background.mixed).min()
            )
        return self.known_after[key]


def _log_sum(values: list[float]) -> float:
    if not values:
        return -inf
    top = max(values)
    return top + log(sum(exp(value - top) for value in values)) if top > -inf else -inf
