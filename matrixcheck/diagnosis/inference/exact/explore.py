"""The most probable sets of shared faults of one component: by enumeration, or where that
keeps too much, best first."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from matrixcheck.diagnosis.inference.exact.best_first import search_best_first
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.enumerate import enumerate_sets
from matrixcheck.diagnosis.inference.exact.fault_sets import Found, Tolerance
from matrixcheck.diagnosis.inference.exact.incumbent import incumbent

FEWEST, DEPTH = 10, 12.0
"""Of so few faults all sets are looked for; of more, those that lie no further than so many nats below a good one."""


def explore(component: Component, late: Callable[[], bool], tolerance: Tolerance | None = None) -> Found:
    """Find all sets of the component but for a negligible rest, or as many as time allows.

    `tolerance`: how far to go, however many sets that takes.
    """
    found = None
    if not component.unknown:
        few = len(component.codes) <= FEWEST
        depth = tolerance.hopeless if tolerance else DEPTH
        least = -inf if few else incumbent(component).weight - depth
        found = enumerate_sets(component, least, late, depth)
    return found or search_best_first(component, late, tolerance)
