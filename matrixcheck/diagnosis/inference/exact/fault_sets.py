"""Sets of shared faults of one component, as searches find them."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.machine.matrix_frame import Ints

NEAR, AT_LEAST = 12.0, 10
"""Sets that lie so few nats below the best are told, and the first so many in any case."""


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
    """The sets that are worth telling, best first; log of the total weight of all that were looked at; and log of a
    bound on the weight of others."""

    leaves: tuple[Leaf, ...]
    total: float
    missing: float


class Care(NamedTuple):
    """How far a search goes. It ends when no more than the share `missing` of the probability is. Sets of less than the
    share `tiny` of the best known one are counted without looking at what goes on from them; faults all of whose sets
    lie `hopeless` nats below it are given up."""

    missing: float
    tiny: float
    hopeless: float
