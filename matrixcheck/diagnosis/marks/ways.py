"""From visited sets to ways it may be: every broken line of unknown chain with the cells that it may have lost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Floats, Ints
from matrixcheck.diagnosis.marks.chains import likeliest, shares
from matrixcheck.diagnosis.marks.component import Component, LooseLine
from matrixcheck.diagnosis.marks.problem import Problem
from matrixcheck.diagnosis.marks.search import Found

NEGLIGIBLE = 12.0
"""Sets this far below the best, in nats, are told no further."""
MOST_SUBSETS = 8

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
    gains = component.gains
    ways = []
    for leaf in found.leaves:
        if leaf.weight < found.leaves[0].weight - NEGLIGIBLE:
            break
        lines = [component.loose[number] for number in leaf.loose]
        for weight, cuts, code in _cut(problem, gains, leaf.base, leaf.code, lines, leaf.loose):
            ways.append(Way(float(np.exp(weight - found.total)), leaf.items, cuts, code, leaf.free))
    return tuple(sorted(ways, key=lambda way: -way.probability))


def _cut(
    problem: Problem, gains: Floats, weight: float, code: Ints, lines: Sequence[LooseLine], numbers: Sequence[int]
) -> list[tuple[float, tuple[Cut, ...], Ints]]:
    """The likeliest choices of cells for each of the lines in turn: what one took, the next can't."""
    if not lines:
        return [(weight, (), code)]
    line, places = lines[0], np.array(lines[0].places)
    ratios = np.zeros(len(code))
    now = gains[places, code[places]]
    ratios[places] = gains[places, code[places] | line.bit] - now
    left = [place for place in line.places if code[place] | line.bit != code[place]]
    count = int(problem.machine.lengths[problem.unknown[line.number].line])
    share = shares(count, count - len(line.places), len(line.places) - len(left))
    found = []
    for taken, gained in likeliest(left, ratios, share, MOST_SUBSETS):
        lost = code.copy()
        lost[list(taken)] |= line.bit
        for total, cuts, final in _cut(problem, gains, weight + gained, lost, lines[1:], numbers[1:]):
            found.append((total, ((numbers[0], frozenset(taken)), *cuts), final))
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

