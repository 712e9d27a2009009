"""All likely sets of a component, enumerated in one pass over its faults.

Every set that is kept so far goes on with the next fault and without it, or with it left open where it changes nothing.
What sets may come to is bounded: each cell that a later fault may take counts as the best that it may be in, once.
Those that lie too far below a good set are left out. Few sets are left at any time where one or two faults explain what
is seen.
"""

from __future__ import annotations

import numpy as np

from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.fault_sets import AT_LEAST, NEAR, Found, WeightedSet
from matrixcheck.diagnosis.inference.log_sum import log_sum
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Ints

FEW_SETS, MOST_SETS, MOST_NUMBERS = 24, 1200, 120_000
"""So few sets are all kept; so many at a time at most, and so many numbers for what their cells are in: beyond that,
the component is searched best first. Halved or doubled: no answer of 15 moves, at 0.96 to 1.02 times the work."""
PER_FAULT, PER_NUMBER = 1_000, 0.7
"""Units of work: for going on with one fault, and for each number kept of the sets (measured: 25 us and 18 ns)."""
BITS = 62
"""So many faults are remembered in one number: bits of an int64 without its sign, and one to spare."""


def enumerate_sets(component: Component, least: float, work: Work, near: float = NEAR) -> Found | None:
    """Enumerate all sets that weigh `least` (a log) or more, and list those that lie so `near` the best one.

    None where too many would have to be kept at a time, or the work is used up.
    """
    enumerated = _Enumeration(component, least)
    most = min(MOST_SETS, MOST_NUMBERS // len(component.cells))
    for item in range(len(component.codes)):
        enumerated.take(item)
        work.spend(PER_FAULT + PER_NUMBER * enumerated.rows.size)
        if len(enumerated.base) > most or work.over:
            return None
    return enumerated.found(near)


class _Enumeration:
    """The sets kept so far.

    `rows[set, number]`: the code of every cell, then which faults are there, and which are open, as bits. `base[set]`:
    log of the weight of its faults. `lost`: logs of bounds on what was left out.
    """

    def __init__(self, component: Component, least: float) -> None:
        self.component = component
        self.least = least
        self.count, width = component.gains.shape
        self.offset = np.arange(self.count) * width
        self.table = component.best.copy()
        self.last = np.zeros(self.count, dtype=np.int64)
        entries = component.entries
        np.maximum.at(self.last, entries.place, entries.row)
        self.log_there = np.logaddexp(0.0, component.odds)
        self.later = self.log_there[::-1].cumsum()[::-1] - self.log_there
        self.clashes = component.clash.sum(axis=1) > 0
        self.words = len(component.codes) // BITS + 1
        self.adds = self._adds()
        self.rows = np.zeros((1, self.count + 2 * self.words), dtype=np.int64)
        self.base = np.zeros(1)
        self.lost: list[float] = [-np.inf]

    def _adds(self) -> Ints:
        """Lay out what each fault adds to the row of a set that it joins: [fault, number]."""
        codes = self.component.codes
        found = np.zeros((len(codes), self.count + 2 * self.words), dtype=np.int64)
        found[:, : self.count] = codes
        items = np.arange(len(codes))
        found[items, self.count + items // BITS] = 1 << items % BITS
        return found

    def take(self, item: int) -> None:
        """Go on with one more fault."""
        rows, base = self.rows, self.base
        word, bit = divmod(item, BITS)
        larger = rows | self.adds[item]
        idle = (larger[:, : self.count] == rows[:, : self.count]).all(axis=1)
        left_open, taken = idle.nonzero()[0], (~idle).nonzero()[0]
        if self.clashes[item]:
            clashing = self._clashing(item)
            left_open, taken = left_open[~clashing[left_open]], taken[~clashing[taken]]
        self.rows = np.concatenate([rows, larger[taken]])
        self.base = np.concatenate([base, base[taken] + self.component.odds[item]])
        if len(left_open):
            self.base[left_open] += self.log_there[item]
            self.rows[left_open, self.count + self.words + word] |= 1 << bit
        if self.least > -np.inf and len(self.base) > FEW_SETS:
            self._leave_out(item)

    def _clashing(self, item: int) -> Bools:
        """Say which sets hold a fault that this one can't be together with: [set]."""
        found = np.zeros(len(self.rows), dtype=bool)
        for other in np.flatnonzero(self.component.clash[item, :item]).tolist():
            word, bit = divmod(other, BITS)
            found |= self.rows[:, self.count + word] >> bit & 1 > 0
        return found

    def _leave_out(self, item: int) -> None:
        """Leave out the sets that can't weigh enough whatever goes on from them."""
        closed = self.last <= item
        self.table[closed] = self.component.gains[closed]
        bound = self.base + self.table.ravel()[self.offset + self.rows[:, : self.count]].sum(axis=1) + self.later[item]
        kept = bound >= self.least
        if not kept.all():
            self.lost.append(log_sum(bound[~kept]))
            self.rows, self.base = self.rows[kept], self.base[kept]

    def found(self, near: float) -> Found:
        """Give what is kept after the last fault."""
        codes = self.rows[:, : self.count]
        weights = self.base + self.component.gains.ravel()[self.offset + codes].sum(axis=1)
        listed = max(AT_LEAST, int((weights >= float(weights.max()) - near).sum()))
        ranked = np.argsort(-weights, kind="stable")[:listed]
        sets = [
            WeightedSet(weight, weight, _numbers(bits[: self.words]), (), codes[at], _numbers(bits[self.words :]))
            for at, weight, bits in zip(
                ranked.tolist(), weights[ranked].tolist(), self.rows[ranked, self.count :].tolist(), strict=True
            )
        ]
        return Found(tuple(sets), log_sum(weights), log_sum(np.array(self.lost)))


def _numbers(words: list[int]) -> tuple[int, ...]:
    found = []
    for word, left in enumerate(words):
        bits = left
        while bits:
            lowest = bits & -bits
            found.append(word * BITS + lowest.bit_length() - 1)
            bits ^= lowest
    return tuple(found)
