"""Find the most probable fault sets of one component: by enumeration, or best first where that keeps too much."""

from __future__ import annotations

from math import inf

from matrixcheck.diagnosis.inference.exact.best_first import search_best_first
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.enumerate import enumerate_sets
from matrixcheck.diagnosis.inference.exact.fault_sets import Found, Tolerance
from matrixcheck.diagnosis.inference.exact.incumbent import incumbent
from matrixcheck.diagnosis.inference.work import Work

FOR_ENUMERATION = 0.5
"""The share of the work that enumeration may use: where it keeps too much, the other half is left to search best first.
Halved or doubled: no answer of 15 moves."""
FEWEST, DEPTH = 10, 12.0
"""Of so few faults all sets are looked for; of more, those at most so many nats below the incumbent. `DEPTH` halved: 3
of 15 answers move at 0.94 times the work; doubled: none. `FEWEST` halved or doubled: none."""


def explore(component: Component, work: Work, tolerance: Tolerance | None = None) -> Found:
    """Find all sets of the component but for a negligible rest, or as many as the work allows.

    `tolerance`: how far to go, however many sets that takes.
    """
    found = None
    if not component.unknown:
        few = len(component.codes) <= FEWEST
        depth = tolerance.hopeless if tolerance else DEPTH
        least = -inf if few else incumbent(component).weight - depth
        part = work.part(FOR_ENUMERATION)
        found = enumerate_sets(component, least, part, depth)
        work.spend(part.spent)
    return found or search_best_first(component, work, tolerance)
