"""Bounds on what faults may yet add to a set: by the cells that may be better off, by the faults, or a mean of both."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Bools, Floats, Ints

SLIGHT = -1.0
"""Faults that gain less than this at best are bounded one by one, all others by the cells they take as well."""
MIXTURES = (0.0, 0.06, 0.12, 0.25, 0.5, 1.0)
"""How much of a bound goes by faults rather than by cells."""


LARGEST = 600.0
"""Weights of more nats than half of this are not reckoned with: other mixtures give closer bounds."""


class Background(NamedTuple):
    """What loose lines may add: the cells that those of them may take that are worth it, what the others weigh one by
    one, and what the former weigh for every mixture."""

    covered: Bools
    single: float
    mixed: Floats


class Outlook(NamedTuple):
    """What open items may add to a set. `hope[place]`: what each cell may gain yet; `touched[item, place]`;
    `own[item]`: the best change in all the cells of an item with its odds, `most[item]`: in those that may be better
    off, `gain[item]`: what it adds as it is. `group[item]`: of those of one group, a set holds one at most."""

    hope: Floats
    touched: Bools
    odds: Floats
    own: Floats
    most: Floats
    gain: Floats
    group: Ints
    background: Background

    def others(self, items: Ints) -> Floats:
        """For each item: a bound on what all the others may add, besides its own cells."""
        touched = self.touched[items]
        slight, single, part, here = self._shares(items)
        groups = np.log1p(part @ here)
        covered = self.hope * (touched[~slight].any(axis=0) | self.background.covered)
        besides = covered.sum() - (touched * covered).sum(axis=1)
        mixed = groups.sum(axis=1)[:, None] - groups @ here.T
        found: Floats = single.sum() - single + self._best_mix(besides, mixed)
        return found

    def later(self, items: Ints) -> Floats:
        """For each item: a bound on what those after it may add."""
        touched = self.touched[items]
        slight, single, part, here = self._shares(items)
        after = np.zeros_like(touched)
        after[:-1] = np.logical_or.accumulate((touched & ~slight[:, None])[::-1], axis=0)[::-1][1:]
        covered = (self.hope * ((after | self.background.covered) & ~touched)).sum(axis=1)
        groups = np.log1p((part[:, ::-1, None] * here[::-1]).cumsum(axis=1)[:, ::-1])
        mixed = groups.sum(axis=2) - (groups * here).sum(axis=2)
        return suffix_sum(single) + self._best_mix(covered, mixed)

    def _shares(self, items: Ints) -> tuple[Bools, Floats, Floats, Floats]:
        """Which items are slight; what each of these may weigh by itself; for every mixture what the others may; and
        which group each is of."""
        worth = self.odds[items] + self.most[items]
        slight = worth < SLIGHT
        single = np.where(slight, np.logaddexp(0.0, worth), 0.0)
        part = np.array(MIXTURES)[:, None] * self.most[items] + self.odds[items]
        number = np.unique(self.group[items], return_inverse=True)[1]
        here = (number[:, None] == np.arange(number.max(initial=0) + 1)).astype(np.float64)
        return slight, single, np.where(slight, 0.0, np.exp(np.minimum(part, LARGEST))), here

    def _best_mix(self, covered: Floats, mixed: Floats) -> Floats:
        """Cells are worth what they may gain, or items what theirs may: any mean of the two is a bound."""
        by_items = np.where(mixed < LARGEST / 2, mixed, np.inf) + self.background.mixed[:, None]
        by_items[0] = mixed[0] + self.background.mixed[0]
        least: Floats = ((1 - np.array(MIXTURES))[:, None] * covered + by_items).min(axis=0)
        return least + self.background.single


def suffix_sum(values: Floats) -> Floats:
    """The sum of what comes after each, along the last axis."""
    found: Floats = values[..., ::-1].cumsum(axis=-1)[..., ::-1] - values
    return found
