"""Lagrange multipliers of cells that bound closely what all sets of faults together weigh.

The bound is convex in the multipliers. Where faults take a cell more than once in all, its multiplier is too low, and
where less, too high. Steps down that slope are as long as the distance to a known good set allows (Polyak,
Introduction to Optimization, 1987, 5.3.2; from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.bounds import Ranked
from matrixcheck.diagnosis.inference.exact.incidence import Changes
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats

STEPS = 8
"""So many steps down the slope at most."""
NEAR = 2.0
"""Bounds that lie so few nats above the incumbent are close enough: the sets beside it weigh as much."""


class Multipliers(NamedTuple):
    """Multipliers and the bound that they give.

    `shared[place]`: the part of each cell's gain that counts once for all. `bound`: log of the bound on the weight of
    all sets. `value[item]`: log of what each item weighs in it.
    """

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
    """Find multipliers for items of these odds.

    `changes.worse[entry]`: charged as far as each item bears it. `odds[item]`: log odds. `good[item]`: the incumbent,
    of this weight (a log). `start[place]`: multipliers to start from, as parts of gains.
    """
    entries, better, worse, hope = changes
    per_hope = 1 / np.where(hope > 0, hope, 1.0)
    taken_by_good = np.bincount(entries.place[good[entries.row] & (better > 0)], minlength=len(hope))
    first = np.minimum(taken_by_good, 2) / 2 if start is None else np.where(taken_by_good > 0, start, 0.0)
    multiplier = first * hope
    base = odds + entries.sums(worse)
    best = Multipliers(np.ones(len(hope)), np.inf, odds)
    for _ in range(steps):
        shared = multiplier * per_hope
        value = base + entries.sums(better - shared[entries.place] * better)
        top = np.zeros(ranks.groups)
        np.maximum.at(top, ranks.group, value)
        weighed = np.exp(value - top[ranks.group])
        whole = np.exp(-top) + np.bincount(ranks.group, weighed, ranks.groups)
        bound = float(multiplier.sum() + (top + np.log(whole)).sum())
        if bound < best.bound:
            best = Multipliers(shared, bound, value)
        if bound < weight + NEAR:
            break
        chance = weighed / whole[ranks.group]
        slope = 1 - np.bincount(entries.place, chance[entries.row] * better, len(hope)) * per_hope
        slope[(hope <= 0) | ((slope > 0) & (multiplier <= 0)) | ((slope < 0) & (multiplier >= hope))] = 0.0
        steepness = float(slope @ slope)
        if not steepness:
            break
        multiplier = np.clip(multiplier - (bound - weight - NEAR / 2) / steepness * slope, 0.0, hope)
    return best
