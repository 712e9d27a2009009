"""Breaks on lines whose chain isn't known: any proper subset of a line's cells may lie beyond.

Every count of cells beyond the break is as likely, and every subset of that count. What all of them together say is a
sum over subsets, which elementary symmetric polynomials of the cells' likelihood ratios give in one pass. A subset that
takes one tested cell is that cell's own affair, and one that takes none shows nothing: neither is counted here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import accumulate, combinations, product
from math import comb, exp, inf, log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.unknown_breaks import subset_prior
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Floats

FEWEST = 2
"""Tested cells that a break must take to count: one cell alone is that cell's own affair."""
SHARED = 6
"""Up to so many cells in which broken lines cross are summed over exactly: their choices double with each."""
ONCE = (0.0, 0.5, 0.8, 1.0)
"""Parts of what is gained where they cross that bounds count once for all."""
PER_SUM, PER_CELL = 1_000, 150
"""Units of work for a sum over the subsets of one line, and for each of its cells (measured: 25 us and 4 us)."""
SAME = 1e-9
"""Weights that differ by less, in nats, are the same but for rounding."""
DOUBTED, ADDED = 10, 4
"""The likeliest subsets leave out some of so many dead cells, and take in one of so many others."""


@cache
def shares(count: int, untested: int, covered: int = 0) -> tuple[float, ...]:
    """Give the chance of one subset of tested cells that a break takes, by its size.

    Among the breaks of a line of `count` cells, whatever it does to the untested and the `covered` ones.
    """
    named = count - untested - covered
    found = []
    for taken in range(named + 1):
        total = 0.0
        for hidden, besides in product(range(covered + 1), range(untested + 1)):
            size = taken + hidden + besides
            if taken + hidden >= FEWEST and 0 < size < count:
                total += comb(covered, hidden) * comb(untested, besides) * subset_prior(count, size)
        found.append(total)
    return tuple(found)


def lone_share(count: int, untested: int) -> float:
    """Give the chance of a break that takes one given tested cell and no other tested one."""
    if count < FEWEST:
        return 0.0
    return sum(
        comb(untested, besides) * subset_prior(count, 1 + besides)
        for besides in range(untested + 1)
        if 1 + besides < count
    )


def log_sums(spared: Floats, taken: Floats, share: Floats) -> Floats:
    """Sum over subsets of each line the share of the size times the product over cells: [line] logs.

    `spared`, `taken` [line, cell]: log factor of a cell that is not, or is, in the subset (0 and -inf fill up).
    `share[line, size]`.
    """
    scale = np.maximum(spared, taken)
    out, into = np.exp(spared - scale), np.exp(taken - scale)
    sums = np.zeros((len(share), share.shape[1]))
    sums[:, 0] = 1.0
    for cell in range(out.shape[1]):
        longer = sums[:, :-1] * into[:, cell, None]
        sums *= out[:, cell, None]
        sums[:, 1:] += longer
    with np.errstate(divide="ignore"):
        found: Floats = np.log((sums * share).sum(axis=1)) + scale.sum(axis=1)
    return found


class Chain(NamedTuple):
    """A line of unknown chain: the places of its tested cells, and the shares by size (`shares`)."""

    places: tuple[int, ...]
    share: tuple[float, ...]


class Settled(NamedTuple):
    """What a broken line does with the cells in which it crosses others.

    `takes`: whether it takes each of those that are its to take. `gone`: those that another line took.
    """

    takes: dict[int, bool]
    gone: frozenset[int]


class Crossing(NamedTuple):
    """One choice of what broken lines do where they cross, and log of the weight of all subsets that agree with it."""

    weight: float
    lines: tuple[Settled, ...]


def log_together(lines: Sequence[Chain], ratios: Floats, work: Work) -> tuple[float, bool]:
    """Sum over subsets of all these broken lines at once: log, and whether it is exact.

    A cell that two of them take is dead once. `ratios[line, place]`: log likelihood ratio of a cell that is taken.
    Beyond SHARED such cells it is an upper bound.
    """
    shared = _shared(lines, ratios)
    work.spend(_cost(lines, len(ONCE) if len(shared) > SHARED else 2 ** len(shared)))
    if len(shared) > SHARED:
        return min(_bounded(lines, ratios, list(shared), once) for once in ONCE), False
    return float(np.logaddexp.reduce([each.weight for each in _crossings(lines, ratios, shared)])), True


def crossings(lines: Sequence[Chain], ratios: Floats, most: int, work: Work) -> list[Crossing]:
    """Find the likeliest choices for the cells in which lines cross, `most` of them; `ratios[line, place]` in nats."""
    shared = _shared(lines, ratios)
    work.spend(_cost(lines, 2 ** len(shared)))
    found = _crossings(lines, ratios, shared)
    return sorted(found, key=lambda each: -each.weight)[:most]


def _cost(lines: Sequence[Chain], choices: int) -> float:
    """Count the units of work for summing over the subsets of these lines so many times."""
    return float(choices * sum(PER_SUM + PER_CELL * len(line.places) for line in lines))


def _shared(lines: Sequence[Chain], ratios: Floats) -> dict[int, int]:
    """Find the cells in which lines cross, and of each the first line that may take it."""
    seen: dict[int, list[int]] = {}
    for number, line in enumerate(lines):
        for place in line.places:
            seen.setdefault(place, []).append(number)
    return {place: there[0] for place, there in seen.items() if len(there) > 1 and ratios[:, place].any()}


def _crossings(lines: Sequence[Chain], ratios: Floats, shared: Mapping[int, int]) -> Iterator[Crossing]:
    for choice in product((False, True), repeat=len(shared)):
        by_first = dict(zip(shared, choice, strict=True))
        taken = frozenset(place for place, is_taken in by_first.items() if is_taken)
        takes = [{place: by_first[place] for place in shared if shared[place] == at} for at in range(len(lines))]
        settled = tuple(Settled(own, taken - own.keys()) for own in takes)
        yield Crossing(sum(_log_one(*each) for each in zip(lines, ratios, settled, strict=True)), settled)


def _bounded(lines: Sequence[Chain], ratios: Floats, shared: Sequence[int], once: float) -> float:
    """Bound the sum over subsets of all these lines: log.

    The part `once` of what is gained in cells that several lines may take counts once for all, the rest for each line;
    what is lost counts half.
    """
    theirs = ratios[:, shared]
    softened = ratios.copy()
    softened[:, shared] = np.where(theirs < 0, theirs / 2, theirs * (1 - once))
    gained = once * float(np.maximum(theirs, 0.0).max(axis=0).sum())
    return gained + sum(_log_one(*pair, Settled({}, frozenset())) for pair in zip(lines, softened, strict=True))


def _log_one(line: Chain, ratios: Floats, settled: Settled) -> float:
    spared, taken = np.zeros((1, len(line.places))), np.empty((1, len(line.places)))
    for at, place in enumerate(line.places):
        taken[0, at] = 0.0 if place in settled.gone else ratios[place]
        if place in settled.takes:
            (spared if settled.takes[place] else taken)[0, at] = -inf
    return float(log_sums(spared, taken, np.array([line.share]))[0])


def likeliest(
    places: Sequence[int], ratios: Floats, share: Sequence[float], most: int
) -> list[tuple[tuple[int, ...], float]]:
    """Find the subsets of places that a break most likely takes, with the log of each one's weight.

    `ratios[place]`: log likelihood ratios. `share[size]`: the chance of one subset. `most`: how many at most.
    """
    ranked = sorted(places, key=lambda place: -ratios[place])
    gain = {place: float(ratios[place]) for place in ranked}
    dead = [place for place in ranked if gain[place] > 0]
    doubted, others = dead[-DOUBTED:], [place for place in ranked if gain[place] <= 0][:ADDED]
    so_far = [0.0, *accumulate(gain[place] for place in ranked)]
    found: list[tuple[float, Sequence[int], tuple[int, ...], tuple[int, ...]]] = []

    def weigh(size: int, less: tuple[int, ...] = (), more: tuple[int, ...] = ()) -> None:
        weight = share[size - len(less) + len(more)]
        if weight > 0:
            gained = so_far[size] - sum(gain[place] for place in less) + sum(gain[place] for place in more)
            found.append((log(weight) + gained, ranked[:size], less, more))

    for size in range(len(ranked) + 1):  # of each size the best
        weigh(size)
    for less in (some for size in range(3) for some in combinations(doubted, size)):
        for more in ((), *((other,) for other in others)):
            weigh(len(dead), less, more)
    found.sort(key=lambda one: -one[0])
    least = found[min(most + ADDED + 4, len(found)) - 1][0] - SAME if found else 0.0
    subsets: dict[tuple[int, ...], float] = {}
    for gained, whole, less, more in found:
        if gained < least:
            break
        subsets.setdefault(tuple(sorted({*whole, *more}.difference(less))), gained)
    return sorted(subsets.items(), key=lambda entry: (-entry[1], entry[0]))[:most]


def chance_of(weight: float, total: float) -> float:
    """Give a share of a whole, both as logs, kept at 1 against rounding."""
    return min(exp(weight - total), 1.0)
