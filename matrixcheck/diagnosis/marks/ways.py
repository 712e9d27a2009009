"""From visited sets to ways it may be: every broken line of unknown chain with the cells that it may have lost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Ints
from matrixcheck.diagnosis.marks.chains import FEWEST, likeliest, shares
from matrixcheck.diagnosis.marks.component import Component
from matrixcheck.diagnosis.marks.problem import Problem
from matrixcheck.diagnosis.marks.sets import Found

NEGLIGIBLE = 12.0
"""Sets this far below the best, in nats, are told no further."""
MOST_SUBSETS, MOST_WAYS = 8, 400
FIRST_SETS = 10
"""So many sets are told in any case."""

Cut = tuple[int, frozenset[int]]
"""A broken loose line, and the tested cells that it lost (places in the component)."""


class Way(NamedTuple):
    """One way it may be: its probability in its component, its items and cuts, what every cell is in, and the items
    that may be there besides without a trace."""

    probability: float
    items: tuple[int, ...]
    cuts: tuple[Cut, ...]
    code: Ints
    free: tuple[int, ...]


def ways_of(problem: Problem, component: Component, found: Found, late: Callable[[], bool]) -> tuple[Way, ...]:
    """The ways behind the best sets, most probable first; once it is late, behind the first few sets only."""
    ways = []
    least = found.leaves[0].weight - NEGLIGIBLE
    for at, leaf in enumerate(found.leaves[:MOST_WAYS]):
        if leaf.weight < least or (at >= FIRST_SETS and late()):
            break
        for partial in _cut(problem, component, _Partial(leaf.base, (), leaf.code), leaf.loose):
            if partial.weight >= least:
                chance = float(np.exp(partial.weight - found.total))
                ways.append(Way(chance, leaf.items, partial.cuts, partial.code, leaf.free))
    return tuple(sorted(ways, key=lambda way: -way.probability)[:MOST_WAYS])


class _Partial(NamedTuple):
    """A set some of whose broken lines have lost their cells: log of its weight, the cuts, what every cell is in."""

    weight: float
    cuts: tuple[Cut, ...]
    code: Ints


def _cut(problem: Problem, component: Component, start: _Partial, numbers: Sequence[int]) -> list[_Partial]:
    """The likeliest choices of cells for the lines one after the other: what one took, the next can't. What is left of
    one that others hide is nothing, or looks like that cell's own."""
    found = [start]
    for number in numbers:
        longer = [one for partial in found for one in _cut_one(problem, component, partial, number)]
        found = sorted(longer, key=lambda one: -one.weight)[:MOST_SUBSETS]
    return found


def _cut_one(problem: Problem, component: Component, partial: _Partial, number: int) -> list[_Partial]:
    line, gains, code = component.loose[number], component.gains, partial.code
    places = np.array(line.places)
    ratios = np.zeros(len(code))
    ratios[places] = gains[places, code[places] | line.bit] - gains[places, code[places]]
    left = [place for place in line.places if code[place] | line.bit != code[place]]
    count = int(problem.machine.lengths[problem.unknown[line.number].line])
    share = shares(count, count - len(line.places), len(line.places) - len(left))
    found = []
    for taken, gained in likeliest(left, ratios, share, MOST_SUBSETS):
        lost, cuts = code, partial.cuts
        if len(taken) >= FEWEST:
            lost, cuts = code.copy(), (*cuts, (number, frozenset(taken)))
            lost[list(taken)] |= line.bit
        found.append(_Partial(partial.weight + gained, cuts, lost))
    return found


def without_idle(component: Component, way: Way) -> Way:
    """The way without items that the others make idle, the least likely and smallest first."""
    if len(way.items) + len(way.cuts) < 2:
        return way
    shown = component.shown[np.arange(len(way.code)), way.code]
    items = list(way.items)
    for item in sorted(way.items, key=lambda one: (int((component.codes[one] > 0).sum()), component.odds[one])):
        rest = [one for one in items if one != item]
        code = code_of(component, rest, way.cuts)
        if (component.shown[np.arange(len(code)), code] == shown).all():
            items = rest
    return way._replace(items=tuple(items), code=code_of(component, items, way.cuts))


def code_of(component: Component, items: Sequence[int], cuts: Sequence[Cut]) -> Ints:
    """What every cell is in with these items and cuts."""
    code = np.zeros(component.codes.shape[1], dtype=np.int64)
    for item in items:
        code |= component.codes[item]
    for number, places in cuts:
        code[list(places)] |= component.loose[number].bit
    return code
