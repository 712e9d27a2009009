"""From visited sets to ways it may be: every broken line of unknown chain with the cells that it may have lost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Ints
from matrixcheck.diagnosis.marks.chains import FEWEST, likeliest, shares
from matrixcheck.diagnosis.marks.component import Component
from matrixcheck.diagnosis.marks.problem import Problem
from matrixcheck.diagnosis.marks.search import Found

NEGLIGIBLE = 12.0
"""Sets this far below the best, in nats, are told no further."""
MOST_SUBSETS, MOST_WAYS = 8, 400

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


def ways_of(problem: Problem, component: Component, found: Found) -> tuple[Way, ...]:
    """The ways behind the best sets, most probable first."""
    ways = []
    least = found.leaves[0].weight - NEGLIGIBLE
    for leaf in found.leaves[:MOST_WAYS]:
        if leaf.weight < least:
            break
        for weight, cuts, code in _cut(problem, component, _Start(leaf.base, leaf.code, least), leaf.loose):
            ways.append(Way(float(np.exp(weight - found.total)), leaf.items, cuts, code, leaf.free))
    return tuple(sorted(ways, key=lambda way: -way.probability)[:MOST_WAYS])


class _Start(NamedTuple):
    """A set before its broken lines have lost any cells: log of its weight, what every cell is in, and the least weight
    that is told."""

    weight: float
    code: Ints
    least: float


def _cut(
    problem: Problem, component: Component, start: _Start, numbers: Sequence[int]
) -> list[tuple[float, tuple[Cut, ...], Ints]]:
    """The likeliest choices of cells for each of the lines in turn: what one took, the next can't. What is left of one
    that others hide is nothing, or looks like that cell's own."""
    weight, code, least = start
    if not numbers:
        return [(weight, (), code)] if weight >= least else []
    line, gains = component.loose[numbers[0]], component.gains
    places = np.array(line.places)
    ratios = np.zeros(len(code))
    now = gains[places, code[places]]
    ratios[places] = gains[places, code[places] | line.bit] - now
    left = [place for place in line.places if code[place] | line.bit != code[place]]
    count = int(problem.machine.lengths[problem.unknown[line.number].line])
    share = shares(count, count - len(line.places), len(line.places) - len(left))
    found = []
    for taken, gained in likeliest(left, ratios, share, MOST_SUBSETS):
        lost, cut = code.copy(), ((numbers[0], frozenset(taken)),) if len(taken) >= FEWEST else ()
        lost[list(taken) if cut else []] |= line.bit
        for total, cuts, final in _cut(problem, component, _Start(weight + gained, lost, least), numbers[1:]):
            found.append((total, (*cut, *cuts), final))
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
