"""The cells that broken lines of unknown chain may have lost, for the sets that were found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.components import Component, UnknownChain
from matrixcheck.diagnosis.inference.exact.fault_sets import Found, WeightedSet
from matrixcheck.diagnosis.inference.exact.problem import Problem
from matrixcheck.diagnosis.inference.exact.subset_sums import (
    FEWEST,
    Chain,
    Settled,
    chance_of,
    crossings,
    likeliest,
    shares,
)
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Floats, Ints

NEGLIGIBLE = 12.0
"""Sets this far below the best, in nats, are left out: six millionths of its probability. Halved or doubled: no answer
of 15 moves, at 0.96 to 1.05 times the work."""
MOST_SUBSETS, MOST_WAYS = 8, 400
FIRST_SETS = 10
"""The cells of so many sets are named even where the work is used up."""
PER_LINE, PER_CELL = 4_000, 500
"""Units of work for naming the likeliest cells of one broken line, and for each of its cells (measured: 0.1 ms and 12
us)."""

Cut = tuple[int, frozenset[int]]
"""A broken unknown chain, and the tested cells that it lost (places in the component)."""


class Way(NamedTuple):
    """A set of faults, with the cells that its broken lines lost.

    `probability`: in its component. `items`, `cuts`: its faults. `code[place]`: of every cell. `free`: items that may
    be there besides without a trace.
    """

    probability: float
    items: tuple[int, ...]
    cuts: tuple[Cut, ...]
    code: Ints
    free: tuple[int, ...]


def ways_of(problem: Problem, component: Component, found: Found, work: Work) -> tuple[Way, ...]:
    """Name the cells that broken lines lost in the best sets; most probable first.

    The most probable one is there in any case. Once the work is used up, the first few sets only.
    """
    cut: list[tuple[WeightedSet, _Cut]] = []
    best = -np.inf
    for at, one_set in enumerate(found.sets[:MOST_WAYS]):
        if one_set.weight < best - NEGLIGIBLE or (at >= FIRST_SETS and work.over):
            break
        chosen = _cut(problem, component, one_set, work)
        cut += [(one_set, one) for one in chosen]
        best = max([best, *(one.weight for one in chosen)])
    ways = [
        Way(chance_of(one.weight, found.total), one_set.items, one.cuts, one.code, one_set.free)
        for one_set, one in cut
        if one.weight >= best - NEGLIGIBLE
    ]
    return tuple(sorted(ways, key=lambda way: -way.probability)[:MOST_WAYS])


class _Cut(NamedTuple):
    """A set whose broken lines have lost their cells: log of its weight, the cuts, `code[place]`."""

    weight: float
    cuts: tuple[Cut, ...]
    code: Ints


def _cut(problem: Problem, component: Component, one_set: WeightedSet, work: Work) -> list[_Cut]:
    """Find the likeliest choices of cells for the broken lines of a set.

    What they do with cells in which they cross is chosen first, and then each line by itself.
    """
    lines = [component.unknown[number] for number in one_set.broken]
    now = np.arange(len(one_set.code)), one_set.code
    ratios = np.array([component.gains[now[0], one_set.code | line.bit] - component.gains[now] for line in lines])
    found: list[_Cut] = []
    for crossing in crossings([Chain(line.places, line.share) for line in lines], ratios, MOST_SUBSETS, work):
        several = [_Cut(one_set.base, (), one_set.code)]
        for at, number in enumerate(one_set.broken):
            work.spend(PER_LINE + PER_CELL * len(lines[at].places))
            options = _taken(problem, lines[at], one_set.code, ratios[at], crossing.lines[at])
            longer = [_with(one, number, lines[at], *option) for one in several for option in options]
            several = _likeliest(longer)
        found += several
    return _likeliest(found)


def _likeliest(cuts: Sequence[_Cut]) -> list[_Cut]:
    return sorted(cuts, key=lambda one: -one.weight)[:MOST_SUBSETS]


def _taken(
    problem: Problem, line: UnknownChain, code: Ints, ratios: Floats, crossed: Settled
) -> list[tuple[tuple[int, ...], float]]:
    """Find the likeliest subsets of cells that a broken line takes, with the log of each one's weight.

    Beside what is settled where it crosses others. What is left of one that others hide is nothing, or looks like that
    cell's own. `code[place]`, `ratios[place]`: of the set, and what the break gains there.
    """
    seen = [place for place in line.places if place not in crossed.gone and code[place] | line.bit != code[place]]
    sure = [place for place in seen if crossed.takes.get(place)]
    count = int(problem.machine.lengths[problem.unknown[line.number].line])
    share = shares(count, count - len(line.places), len(line.places) - len(seen))[len(sure) :]
    free = [place for place in seen if place not in crossed.takes]
    gained = float(ratios[sure].sum())
    return [((*sure, *taken), gained + weight) for taken, weight in likeliest(free, ratios, share, MOST_SUBSETS)]


def _with(cut: _Cut, number: int, line: UnknownChain, taken: Sequence[int], weight: float) -> _Cut:
    """Add one more broken line, which takes these cells."""
    if len(taken) < FEWEST:
        return cut._replace(weight=cut.weight + weight)
    code = cut.code.copy()
    code[list(taken)] |= line.bit
    return _Cut(cut.weight + weight, (*cut.cuts, (number, frozenset(taken))), code)
