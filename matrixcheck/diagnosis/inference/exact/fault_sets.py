"""Sets of shared faults of one component, as the searches find them."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.machine.matrix_frame import Ints

NEAR, AT_LEAST = 12.0, 10
"""Sets that lie so few nats below the best one are listed, and the first so many in any case. Twelve nats are six
millionths of its probability: no explanation shows less."""


class WeightedSet(NamedTuple):
    """One set of faults with its weight.

    `weight`: log of its weight with all that may hide behind it. `base`: the same without what the choice of cells on
    its broken unknown chains is worth. `items`: its items. `broken`: its broken unknown chains. `code[place]`: the
    component's code of every cell, without these chains. `free`: items that may be there besides without a trace.
    """

    weight: float
    base: float
    items: tuple[int, ...]
    broken: tuple[int, ...]
    code: Ints
    free: tuple[int, ...]


class Found(NamedTuple):
    """The sets worth listing, best first, and what all sets weigh.

    `total`: log of the weight of all sets that were looked at. `missing`: log of a bound on the weight of all others.
    """

    sets: tuple[WeightedSet, ...]
    total: float
    missing: float


class Tolerance(NamedTuple):
    """How much of the probability a search may leave out.

    `missing`: it ends when no more than this share is left. `tiny`: sets of less than this share of the best known one
    are counted, but not gone on from. `hopeless`: faults all of whose sets lie so many nats below it are given up.
    """

    missing: float
    tiny: float
    hopeless: float
