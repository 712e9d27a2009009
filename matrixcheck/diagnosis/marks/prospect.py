"""Bounds on what faults may yet add to a set: by the cells that may be better off, by the faults, or a mean of both."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Bools, Floats, Ints
from matrixcheck.diagnosis.marks.entries import Entries

SLIGHT = -1.0
"""Faults that gain less than this at best are bounded one by one, all others by the cells they take as well."""
MIXTURES = (0.0, 0.06, 0.12, 0.25, 0.5, 1.0)
"""How much of a bound goes by faults rather than by cells."""


LARGEST = 600.0
"""Weights of more nats than half of this are not reckoned with: other mixtures give closer bounds."""
_MIXTURES = np.array(MIXTURES)
_BY_CELLS = 1 - _MIXTURES[:, None]


class Background(NamedTuple):
    """What loose lines may add: the cells that those of them may take that are worth it, what the others weigh one by
    one, and what the former weigh for every mixture."""

    covered: Bools
    single: float
    mixed: Floats


class Ranked(NamedTuple):
    """Items parted into groups: the group of each and its rank there; and how many groups there are, and how many items
    the largest has."""

    group: Ints
    rank: Ints
    groups: int
    largest: int

    def of(self, items: Ints | Bools) -> Ranked:
        """The same for some of the items."""
        return self._replace(group=self.group[items], rank=self.rank[items])


def ranked(group: Ints) -> Ranked:
    """Items by the number of each one's group."""
    counts = np.bincount(group)
    order = np.argsort(group, kind="stable")
    rank = np.empty(len(group), dtype=np.int64)
    rank[order] = np.arange(len(group)) - np.repeat(np.cumsum(counts) - counts, counts)
    return Ranked(group, rank, len(counts), int(counts.max(initial=0)))


class Worth(NamedTuple):
    """Which items are `slight`; what each of these may weigh by itself, `single[item]`; for every mixture what the
    others may, `part[mixture, item]`."""

    slight: Bools
    single: Floats
    part: Floats

    def of(self, items: Bools) -> Worth:
        """The same for some of the items."""
        return Worth(self.slight[items], self.single[items], self.part[:, items])


def worth_of(odds: Floats, most: Floats) -> Worth:
    """What items of these odds may weigh that gain so much at most."""
    worth = odds + most
    slight = worth < SLIGHT
    single = np.where(slight, np.logaddexp(0.0, worth), 0.0)
    part = _MIXTURES[:, None] * most + odds
    return Worth(slight, single, np.where(slight, 0.0, np.exp(np.minimum(part, LARGEST))))


class Outlook(NamedTuple):
    """What open items may add to a set. `hope[place]`: what each cell may gain yet; `entries`: of the items;
    `own[item]`: the best change in all the cells of an item with its odds, `most[item]`: in those that may be better
    off, `gain[item]`: what it adds as it is. `ranked`: of those of one group, a set holds one at most. `worth`: of
    each item in either way of bounding."""

    hope: Floats
    entries: Entries
    odds: Floats
    own: Floats
    most: Floats
    gain: Floats
    ranked: Ranked
    worth: Worth
    background: Background

    def keep(self, items: Bools) -> Outlook:
        """The same for some of the items."""
        return Outlook(
            self.hope,
            self.entries.keep(items),
            self.odds[items],
            self.own[items],
            self.most[items],
            self.gain[items],
            self.ranked.of(items),
            self.worth.of(items),
            self.background,
        )

    def others(self) -> Floats:
        """For each item: a bound on what all the others may add, besides its own cells."""
        slight, single, part = self.worth
        entries = self.entries
        there = self.background.covered.copy()
        there[entries.place[~slight[entries.row]]] = True
        covered = np.where(there, self.hope, 0.0)
        besides = covered.sum() - entries.sums(covered[entries.place])
        groups = np.log1p(self._of_groups(part))
        mixed = groups.sum(axis=1)[:, None] - groups[:, self.ranked.group]
        found: Floats = single.sum() - single + self._best_mix(besides, mixed)
        return found

    def later(self) -> Floats:
        """For each item: a bound on what those after it may add."""
        slight, single, part = self.worth
        entries, count = self.entries, len(self.odds)
        last = np.where(self.background.covered, count, 0)
        heavy = ~slight[entries.row]
        np.maximum.at(last, entries.place[heavy], entries.row[heavy])
        until = np.bincount(last, self.hope, count + 1)
        own = np.where(last[entries.place] > entries.row, self.hope[entries.place], 0.0)
        covered = until[::-1].cumsum()[::-1][1:] - entries.sums(own)
        group, rank = self.ranked.group, self.ranked.rank
        from_here = np.zeros((len(MIXTURES), self.ranked.groups, self.ranked.largest + 1))
        from_here[:, :, :-1] = self._by_group(part)[:, :, ::-1].cumsum(axis=2)[:, :, ::-1]
        logs = np.log1p(from_here)
        with_it, after_it = logs[:, group, rank], logs[:, group, rank + 1]
        mixed = suffix_sum(with_it - after_it) - after_it
        return suffix_sum(single) + self._best_mix(covered, mixed)

    def _of_groups(self, part: Floats) -> Floats:
        """[mixture, group]: the sums of what is given by [mixture, item]."""
        count = self.ranked.groups
        at = self.ranked.group + np.arange(0, len(part) * count, count)[:, None]
        found: Floats = (
            np.bincount(at.ravel(), part.ravel(), len(part) * count).reshape(len(part), count).astype(np.float64)
        )
        return found

    def _by_group(self, part: Floats) -> Floats:
        """[mixture, group, rank]: what is given by [mixture, item]."""
        found = np.zeros((len(part), self.ranked.groups, self.ranked.largest))
        found[:, self.ranked.group, self.ranked.rank] = part
        return found

    def _best_mix(self, covered: Floats, mixed: Floats) -> Floats:
        """Cells are worth what they may gain, or items what theirs may: any mean of the two is a bound."""
        by_items = _BY_CELLS * covered + mixed + self.background.mixed[:, None]
        by_items[1:][mixed[1:] >= LARGEST / 2] = np.inf
        least: Floats = by_items.min(axis=0)
        return least + self.background.single


def suffix_sum(values: Floats) -> Floats:
    """The sum of what comes after each, along the last axis."""
    found: Floats = values[..., ::-1].cumsum(axis=-1)[..., ::-1] - values
    return found
