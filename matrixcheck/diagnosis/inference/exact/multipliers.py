"""Prices of cells that bound closely what all sets of faults together weigh.

The bound is convex in the prices. Where faults take a cell more than once in all, its price is too low, and where less,
too high. Steps down that slope are as long as the distance to a known good set allows (Polyak, Introduction to
Optimization, 1987, 5.3.2; from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.bounds import Ranked
from matrixcheck.diagnosis.inference.exact.incidence import Changes
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats

STEPS = 8
NEAR = 2.0
"""Bounds that lie so few nats above a good set are close enough."""


class Multipliers(NamedTuple):
    """The part of each cell's gain that counts once for all; log of the bound on the weight of all sets; and log of
    what each item weighs in it."""

    shared: Floats
    bound: float
    value: Floats


def multipliers_for(
    changes: Changes,
    odds: Floats,
    ranks: Ranked,
    good: Bools,
    weight: float,
    *,
    start: Floats | None = None,
    steps: int = STEPS,
) -> Multipliers:
    """Prices for items of these odds. `changes.worse[entry]`: charged as far as each item bears it; `good[item]`: a
    good set, of this weight."""
    entries, better, worse, hope = changes
    per_hope = 1 / np.where(hope > 0, hope, 1.0)
    taken_by_good = np.bincount(entries.place[good[entries.row] & (better > 0)], minlength=len(hope))
    first = np.minimum(taken_by_good, 2) / 2 if start is None else np.where(taken_by_good > 0, start, 0.0)
    price = first * hope
    base = odds + entries.sums(worse)
    best = Multipliers(np.ones(len(hope)), np.inf, odds)
    for _ in range(steps):
        shared = price * per_hope
        value = base + entries.sums(better - shared[entries.place] * better)
        top = np.zeros(ranks.groups)
        np.maximum.at(top, ranks.group, value)
        weighed = np.exp(value - top[ranks.group])
        whole = np.exp(-top) + np.bincount(ranks.group, weighed, ranks.groups)
        bound = float(price.sum() + (top + np.log(whole)).sum())
        if bound < best.bound:
            best = Multipliers(shared, bound, value)
        if bound < weight + NEAR:
            break
        chance = weighed / whole[ranks.group]
        slope = 1 - np.bincount(entries.place, chance[entries.row] * better, len(hope)) * per_hope
        slope[(hope <= 0) | ((slope > 0) & (price <= 0)) | ((slope < 0) & (price >= hope))] = 0.0
        steepness = float(slope @ slope)
        if not steepness:
            break
        price = np.clip(price - (bound - weight - NEAR / 2) / steepness * slope, 0.0, hope)
    return best
