"""The most probable sets of shared faults of one component: by a sweep, or where that keeps too much, by a search."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from matrixcheck.diagnosis.inference.exact.best_first import search
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.enumerate import sweep
from matrixcheck.diagnosis.inference.exact.fault_sets import Care, Found
from matrixcheck.diagnosis.inference.exact.incumbent import good_set

FEWEST, DEPTH = 10, 12.0
"""Of so few faults all sets are looked for; of more, those that lie no further than so many nats below a good one."""


def explore(component: Component, late: Callable[[], bool], care: Care | None = None) -> Found:
    """All sets of the component but for a negligible rest, or as many as time allows. `care`: how far to go, however
    many sets that takes."""
    found = None
    if not component.loose:
        few = len(component.codes) <= FEWEST
        depth = care.hopeless if care else DEPTH
        least = -inf if few else good_set(component).weight - depth
        found = sweep(component, least, late, depth)
    return found or search(component, late, care)
