"""Partition a component by what is sure.

Where some fault of a family is there beyond doubt, the cells that all of them take are taken, and faults that met in
such cells only have nothing to do with each other any more.

Ten line faults that cross in a large matrix have thousands of likely sets as one component, and a few each by
themselves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.bounds import charges_of, ranked
from matrixcheck.diagnosis.inference.exact.components import Component, changes_of, labels_of
from matrixcheck.diagnosis.inference.exact.incumbent import improved, incumbent
from matrixcheck.diagnosis.inference.exact.multipliers import NEAR, multipliers_for
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Ints

FEW = 30
"""Components of fewer faults are searched as they are. Halved or doubled: no answer of 15 moves."""
HOPELESS = 12.0
"""A family is sure when all sets without any of it lie so many nats below the incumbent: a share of six millionths.
Halved or doubled: no answer of 15 moves, at 0.93 to 1.00 times the work."""
SLACK = 20.0
"""A family takes in every fault that leaves at most so many nats unexplained of what its first fault explains. Halved
or doubled: no answer of 15 moves."""
ROUNDS, LEAST_PART = 3, 3
"""What isn't sure is tried so often, and in its place smaller faults that make it up, of more than so many cells.
Halved or doubled: no answer of 15 moves."""
STEPS = 12
"""Steps towards multipliers: more than in a search, as a family is sure only where the bound is close. Halved or
doubled: no answer of 15 moves."""

PER_STEP = 2_400
"""Units of work for each step towards multipliers, besides one for each entry (measured: 60 us and 20 ns)."""


class Partition(NamedTuple):
    """Independent components, and log of a bound on the weight of all sets that they leave out."""

    components: tuple[Component, ...]
    left_out: float


def partition(component: Component, work: Work) -> Partition:
    """Split the component into as many as what is sure allows, as far as the work does."""
    if component.unknown or len(component.codes) < FEW:
        return Partition((component,), -np.inf)
    return _Partitioner(component, work).partition()


class _Partitioner:
    def __init__(self, component: Component, work: Work) -> None:
        self.work = work
        self.component = component
        self.entries = component.entries
        self.ranked = ranked(component.group)
        self.charge = charges_of(self.entries, self.ranked, len(component.cells))
        self.good = improved(component, incumbent(component))
        self.code = np.zeros(len(component.cells), dtype=np.int64)
        self.owner = np.full(len(component.cells), -1)
        self.families: list[Bools] = []
        changes = changes_of(component, self.code, self.entries)
        borne = changes._replace(worse=changes.worse * self.charge[self.entries.place])
        chosen = np.zeros(len(component.codes), dtype=bool)
        chosen[list(self.good.items)] = True
        self.shared = multipliers_for(borne, component.odds, self.ranked, chosen, self.good.weight, steps=STEPS).shared
        self.lost: list[float] = []

    def partition(self) -> Partition:
        """Look for families that are sure, and split the component by them."""
        pending = list(self.good.items)
        for _ in range(ROUNDS):
            settled = len(self.families)
            left = [item for item in pending if self.work.over or not self._settle(item)]
            inner = dict.fromkeys(inner for item in left for inner in self._inside(item))
            pending = [*(left if len(self.families) > settled else ()), *inner]
        if not self.families:
            return Partition((self.component,), -np.inf)
        return Partition(self._components(), float(np.logaddexp.reduce(self.lost)))

    def _settle(self, item: int) -> bool:
        """Say whether the family of an item is sure; then its cells are taken."""
        entries, code = self.entries, self.code
        theirs = code | self.component.codes[item]
        at = np.arange(len(code))
        gained = np.maximum(self.component.gains[at, theirs] - self.component.gains[at, code], 0.0)
        total = float(gained.sum())
        if total < HOPELESS:
            return False
        same = (code[entries.place] | entries.bits) == theirs[entries.place]
        family = entries.sums(np.where(same, gained[entries.place], 0.0)) >= max(total - SLACK, total / 2)
        family[item] = True
        takers = np.bincount(entries.place[same & family[entries.row]], minlength=len(code))
        taken = (takers == family.sum()) & (theirs != code)
        if not taken.any():
            return False
        self.work.spend(STEPS * (PER_STEP + len(entries.row)))
        bound = self._without(family)
        if bound > self.good.weight - HOPELESS:
            return False
        self.lost.append(bound)
        self.owner[taken & (self.owner < 0)] = len(self.families)
        self.families.append(family)
        self.code = np.where(taken, theirs, code)
        return True

    def _inside(self, item: int) -> list[int]:
        """Find smaller items that make up most of one, the largest first."""
        entries, whole = self.entries, self.component.codes[item]
        within = entries.sums((whole[entries.place] | entries.bits) == whole[entries.place])
        size = entries.lengths[item]
        small = np.flatnonzero((within == entries.lengths) & (entries.lengths < size) & (entries.lengths > LEAST_PART))
        left = whole > 0
        found = []
        for inner in sorted(small.tolist(), key=lambda one: -int(entries.lengths[one])):
            places = self.component.codes[inner] > 0
            if left[places].sum() * 2 > places.sum():
                found.append(inner)
                left[places] = False
        return found

    def _without(self, family: Bools) -> float:
        """Bound the weight of all sets without any of a family, but with one of each sure one: log."""
        component = self.component
        others = ~family
        entries = self.entries.keep(others)
        changes = changes_of(component, self.code, entries)
        borne = changes._replace(worse=changes.worse * self.charge[entries.place])
        chosen = np.zeros(len(others), dtype=bool)
        chosen[list(self.good.items)] = True
        odds = component.odds[others]
        taken = float(component.gains[np.arange(len(self.code)), self.code].sum())
        needed = self._needed(family)
        cost = sum(float(component.odds[sure & others].max()) for sure in needed)
        target = self.good.weight - HOPELESS - taken - cost - 2 * NEAR
        multipliers = multipliers_for(
            borne, odds, self.ranked.of(others), chosen[others], target, start=self.shared, steps=STEPS
        )
        value = np.zeros(len(others))
        value[others] = multipliers.value
        return taken + multipliers.bound + sum(float(np.logaddexp.reduce(value[sure & others])) for sure in needed)

    def _needed(self, family: Bools) -> list[Bools]:
        """Find sure families of which a set without this one holds a fault that it holds for no other one."""
        counted = family.copy()
        found = []
        for sure in self.families:
            if not (sure & counted).any():
                found.append(sure)
                counted |= sure
        return found

    def _components(self) -> tuple[Component, ...]:
        entries, owner = self.entries, self.owner
        there = (self.code[entries.place] | entries.bits) != self.code[entries.place]
        for number, family in enumerate(self.families):
            there |= (owner[entries.place] == number) & family[entries.row]
        lengths = np.bincount(entries.row[there], minlength=len(entries.lengths))
        left = np.flatnonzero(lengths)
        labels = self._with_clashes(left, labels_of(entries.place[there], lengths[left], len(owner)))
        codes = np.zeros(self.component.codes.shape, dtype=np.int64)
        codes[entries.row[there], entries.place[there]] = entries.bits[there]
        return tuple(
            self.component.keep(left[labels == label], codes[left[labels == label]])
            for label in dict.fromkeys(labels.tolist())
        )

    def _with_clashes(self, items: Ints, labels: Ints) -> Ints:
        """Join the components of crossings that can't be together."""
        for first, second in np.argwhere(np.triu(self.component.clash[np.ix_(items, items)])).tolist():
            if labels[first] != labels[second]:
                labels = np.where(labels == labels[second], labels[first], labels)
        return labels
