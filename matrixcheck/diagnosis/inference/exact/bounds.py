"""Bounds on what faults may yet add to a set.

What a set gains in a cell is counted once however many faults it holds that take the cell. So each cell has a Lagrange
multiplier: a part of its gain that counts once for all, whoever takes it, while each fault is credited with the rest.
Where a set loses, each group of faults that take the cell bears its part of the loss, as of one group a set holds one
at most. Whatever the multipliers, that is a bound, in which faults of different groups are independent; good
multipliers make it close.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.incidence import Changes, Entries
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints

LARGEST = 600.0
"""Nats: weights above are cut off, as `exp` of some 710 overflows; a row that sums to more than half is not used."""


class Terms(NamedTuple):
    """How bounds are drawn, each row in another way.

    `shared[row, place]`: the part of a cell's gain that counts once for all. `charged[row, place]`: the part of its
    loss that each fault bears; 0 where only the one that is asked about does.
    """

    shared: Floats
    charged: Floats


class Background(NamedTuple):
    """What unknown chains may add.

    `covered[place]`: whether one may take the cell. `mixed[row]`: log of what they weigh themselves.
    """

    covered: Bools
    mixed: Floats


class Ranked(NamedTuple):
    """Items by groups.

    `group[item]`: its group. `rank[item]`: its rank there. `groups`: how many there are. `largest`: how many items the
    largest one has.
    """

    group: Ints
    rank: Ints
    groups: int
    largest: int

    def of(self, items: Ints | Bools) -> Ranked:
        """Keep some of the items, by number or as a mask [item]."""
        return self._replace(group=self.group[items], rank=self.rank[items])

    def sums(self, part: Floats) -> Floats:
        """Sum by groups: [row, group] of [row, item]."""
        at = self.group + np.arange(0, len(part) * self.groups, self.groups)[:, None]
        summed = np.bincount(at.ravel(), part.ravel(), len(part) * self.groups)
        return summed.reshape(len(part), self.groups).astype(np.float64)

    def laid_out(self, part: Floats) -> Floats:
        """Lay out by groups and ranks: [row, group, rank] of [row, item], with an empty rank at the end."""
        found = np.zeros((len(part), self.groups, self.largest + 1))
        found[:, self.group, self.rank] = part
        return found


def ranked(group: Ints) -> Ranked:
    """Rank items by the number of each one's group: [item]."""
    counts = np.bincount(group)
    order = np.argsort(group, kind="stable")
    rank = np.empty(len(group), dtype=np.int64)
    rank[order] = np.arange(len(group)) - np.repeat(np.cumsum(counts) - counts, counts)
    return Ranked(group, rank, len(counts), int(counts.max(initial=0)))


def charges_of(entries: Entries, ranks: Ranked, count: int) -> Floats:
    """Share out losses: [place] the part that each fault bears, one of as many as groups take the cell."""
    takers = np.zeros((count, ranks.groups), dtype=bool)
    takers[entries.place, ranks.group[entries.row]] = True
    found: Floats = 1 / np.maximum(takers.sum(axis=1), 1)
    return found


class GainBounds(NamedTuple):
    """Bounds on what open items may add to a set, in nats.

    `credit[row, place]`: what of a cell's hope counts once for all. `own[row, item]`: what an item does to its own
    cells at best, with its odds. `gain[item]`: what it adds as it is. `part[row, item]`: what it may weigh as one of
    others (no log). `ranked`: of those of one group, a set holds one at most.
    """

    entries: Entries
    credit: Floats
    own: Floats
    gain: Floats
    part: Floats
    ranked: Ranked
    background: Background

    def keep(self, items: Bools) -> GainBounds:
        """Keep the items of a mask [item]."""
        return GainBounds(
            self.entries.keep(items),
            self.credit,
            self.own[:, items],
            self.gain[items],
            self.part[:, items],
            self.ranked.of(items),
            self.background,
        )

    def with_others(self) -> Floats:
        """Bound for each item what it and all the others may add: [item]."""
        entries = self.entries
        there = self.background.covered.copy()
        there[entries.place] = True
        credit = self.credit * there
        besides = credit.sum(axis=1)[:, None] - entries.sums(credit[:, entries.place])
        logs = np.log1p(self.ranked.sums(self.part))
        mixed = logs.sum(axis=1)[:, None] - logs[:, self.ranked.group]
        return self._least(self.own + besides, mixed)

    def with_later(self) -> Floats:
        """Bound for each item what it and those after it may add: [item]."""
        entries, count = self.entries, len(self.gain)
        last = np.where(self.background.covered, count, 0)
        np.maximum.at(last, entries.place, entries.row)
        until = np.array([np.bincount(last, row, count + 1) for row in self.credit])
        own = np.where(last[entries.place] > entries.row, self.credit[:, entries.place], 0.0)
        besides = until[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:] - entries.sums(own)
        group, rank = self.ranked.group, self.ranked.rank
        from_here = self.ranked.laid_out(self.part)[:, :, ::-1].cumsum(axis=2)[:, :, ::-1]
        logs = np.log1p(from_here)
        with_it, after_it = logs[:, group, rank], logs[:, group, rank + 1]
        return self._least(self.own + besides, suffix_sum(with_it - after_it) - after_it)

    def _least(self, rest: Floats, mixed: Floats) -> Floats:
        by_rows = rest + mixed + self.background.mixed[:, None]
        by_rows[1:][mixed[1:] >= LARGEST / 2] = np.inf
        least: Floats = by_rows.min(axis=0)
        return least


def gain_bounds(
    changes: Changes, gain: Floats, odds: Floats, terms: Terms, *, ranks: Ranked, background: Background
) -> GainBounds:
    """Bound what items may add.

    `gain[entry]`: what each entry adds as it is. `odds[item]`: log odds.
    """
    entries, better, worse, hope = changes
    rows = len(terms.shared)
    shared, charged = terms.shared[:, entries.place], terms.charged[:, entries.place]
    each = np.empty((2 * rows + 1, len(better)))
    each[:rows] = better - shared * better + charged * worse
    each[rows:-1] = better + np.where(charged > 0, charged, 1.0) * worse
    each[-1] = gain
    sums = entries.sums(each) + odds
    part = np.exp(np.minimum(sums[:rows], LARGEST))
    return GainBounds(entries, terms.shared * hope, sums[rows:-1], sums[-1], part, ranks, background)


def suffix_sum(values: Floats) -> Floats:
    """Sum what comes after each value along the last axis, in the same shape."""
    found: Floats = values[..., ::-1].cumsum(axis=-1)[..., ::-1] - values
    return found


def log_beyond(bounds: Floats, weights: Floats) -> Floats:
    """Bound what goes on from sets, without these, as logs [set] like `weights`; `bounds[set]` are on both together."""
    with np.errstate(divide="ignore"):
        found: Floats = weights + np.log(np.expm1(np.clip(bounds - weights, 0.0, LARGEST)))
    return found
