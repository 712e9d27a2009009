"""Shared faults that have cells in common, laid out so that a set of them is scored by a few look-ups.

Flags that do the same to all cells of a component count as one, so that a cell's state is one of a few and what it
gains stands in a small table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import or_
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.cell_states import alike, effects
from matrixcheck.diagnosis.inference.exact.incidence import Changes, Entries, entries_of
from matrixcheck.diagnosis.inference.exact.problem import Flagged, Problem, flagged
from matrixcheck.diagnosis.inference.exact.screening import Screened
from matrixcheck.diagnosis.inference.exact.sources import log_odds_of
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints


class UnknownChain(NamedTuple):
    """A line of unknown chain.

    `number`: among the machine's unknown ones. `places`: its tested cells in the component. `bit`: what a break does to
    them. `share[size]`: the chance of one subset of that size. `odds`: log odds of a break.
    """

    number: int
    places: tuple[int, ...]
    bit: int
    share: tuple[float, ...]
    odds: float


@dataclass(frozen=True, eq=False)
class Component:
    """Faults that have cells in common, and what a set of them gains.

    `cells[place]`: the machine's number of each cell. `gains[place, code]`: log-likelihood against no shared fault, in
    nats; `best[place, code]`: the most that it may come to with more flags. `codes[item, place]`: what each item does
    (bits); `entries`: the same by entries. `odds[item]`: log odds. `members[item]`: the sources that do the same.
    Larger items come first. `clash[item, item]`: two crossings of one line. `unknown`: lines of unknown chain.
    """

    cells: Ints
    gains: Floats
    best: Floats
    codes: Ints
    entries: Entries
    odds: Floats
    members: tuple[tuple[int, ...], ...]
    clash: Bools
    unknown: tuple[UnknownChain, ...]

    @property
    def size(self) -> int:
        """Return how many items and unknown chains there are."""
        return len(self.codes) + len(self.unknown)

    @cached_property
    def group(self) -> Ints:
        """Number the items so that no two with the same number are kept together: [item].

        They clash, or the larger makes the other idle.
        """
        return _groups(self.codes, self.clash)

    def keep(self, items: Ints, codes: Ints) -> Component:
        """Keep some of the items, by number, with what is left of what they do: `codes[item, place]`."""
        places = np.flatnonzero(codes.any(axis=0))
        own = np.ascontiguousarray(codes[:, places])
        return Component(
            self.cells[places],
            self.gains[places],
            self.best[places],
            own,
            entries_of(own),
            self.odds[items],
            tuple(self.members[item] for item in items.tolist()),
            self.clash[np.ix_(items, items)],
            (),
        )


def changes_of(component: Component, code: Ints, entries: Entries) -> Changes:
    """Work out what some items may make of cells with this `code[place]`."""
    count, width = component.gains.shape
    best, offset = component.best.ravel(), np.arange(count) * width
    now = component.gains.ravel()[offset + code]
    change = best[offset[entries.place] + (code[entries.place] | entries.bits)] - now[entries.place]
    return Changes(entries, np.maximum(change, 0.0), np.minimum(change, 0.0), best[offset + code] - now)


def components_of(problem: Problem, screened: Screened) -> tuple[Component, ...]:
    """Split the faults that are left into components that have no tested cell in common."""
    whole = flagged(problem, screened.sources)
    lengths = np.bincount(whole.item, minlength=len(screened.sources))
    on_lines = [_on_line(problem, at) for at in screened.unknown.tolist()]
    labels = labels_of(
        np.concatenate([whole.cell, *on_lines]),
        np.concatenate([lengths, np.array([len(cells) for cells in on_lines], dtype=np.int64)]),
        len(problem.machine.cells),
    )
    found = []
    for label in dict.fromkeys(labels.tolist()):
        there = labels == label
        sources, unknown = there[: len(lengths)], np.flatnonzero(there[len(lengths) :]).tolist()
        entries = sources[whole.item]
        items = _Items(
            screened.sources[sources],
            np.cumsum(lengths[sources]),
            Flagged(*(values[entries] for values in whole)),
        )
        found.append(_component(problem, items, [(int(screened.unknown[at]), on_lines[at]) for at in unknown]))
    return tuple(found)


class _Items(NamedTuple):
    """Sources of a component; where the entries of each end; and these, their items by the number among all."""

    sources: Ints
    ends: Ints
    flagged: Flagged


def _on_line(problem: Problem, number: int) -> Ints:
    cells = problem.machine.cells_of((problem.unknown[number].line, 0, 0))
    return cells[problem.marks.tested[cells]]


def labels_of(cells: Ints, lengths: Ints, count: int) -> Ints:
    """Label groups of cells: [group]; those that have cells in common, over however many others, bear the same label.

    `cells`: of all groups, one after the other. `lengths[group]`: how many each has. `count`: of all cells.
    """
    labels = np.arange(len(lengths))
    if not len(labels):
        return labels
    group, starts = np.repeat(labels, lengths), np.cumsum(lengths) - lengths
    while True:
        lowest = np.full(count, len(lengths))
        np.minimum.at(lowest, cells, labels[group])
        lower = np.minimum.reduceat(lowest[cells], starts)
        if (lower == labels).all():
            return labels
        labels = lower


def _component(problem: Problem, items: _Items, unknown: Sequence[tuple[int, Ints]]) -> Component:
    machine = problem.machine
    here = np.zeros(len(machine.cells), dtype=bool)
    here[np.concatenate([items.flagged.cell, *(there for _, there in unknown)])] = True
    cells = here.nonzero()[0]
    place_of = np.cumsum(here) - 1
    cuts = [problem.unknown[number].flag for number, _ in unknown]
    atoms = _atoms(items.flagged.flags, cuts)
    site = machine.site[cells]
    same = alike(tuple(machine.sites[at] for at in np.flatnonzero(np.bincount(site))), atoms)
    kept = [flag for flag in dict.fromkeys(same) if flag]
    bit_of = {flag: (1 << kept.index(one) if one else 0) for flag, one in zip(atoms, same, strict=True)}
    full = _full_codes(kept)
    tables = np.array([effects(one)[full] for one in machine.sites])
    gains = problem.gains[cells[:, None], tables[site]]
    bits = np.zeros(len(items.flagged.cell), dtype=np.int64)
    for flag, bit in bit_of.items():
        bits[items.flagged.flags & flag > 0] |= bit
    merged = _merged(problem, items, bits)
    members, chances = tuple(one.members for one in merged), [one.chance for one in merged]
    codes = np.zeros((len(merged), len(cells)), dtype=np.int64)
    for row, one in zip(codes, merged, strict=True):
        row[place_of[items.flagged.cell[one.entries]]] = bits[one.entries]
    lines = tuple(
        UnknownChain(
            number,
            tuple(place_of[there].tolist()),
            bit_of[problem.unknown[number].flag],
            problem.unknown_shares[number],
            float(problem.unknown_odds[number]),
        )
        for number, there in unknown
    )
    return Component(
        cells,
        gains,
        _best(gains),
        codes,
        entries_of(codes),
        log_odds_of(np.array(chances)),
        members,
        _clash(problem, members),
        lines,
    )


def _atoms(flags: Ints, cuts: Sequence[int]) -> tuple[int, ...]:
    every = reduce(or_, cuts, int(np.bitwise_or.reduce(flags)))
    return tuple(1 << at for at in range(every.bit_length()) if every & 1 << at)


def _full_codes(flags: Sequence[int]) -> Ints:
    """Give the machine's code for each of a component's: [code]."""
    found = np.zeros(1, dtype=np.int64)
    for flag in flags:
        found = np.concatenate([found, found | flag])
    return found


class _Merged(NamedTuple):
    """Hold sources that flag the same cells alike.

    `entries`: which are theirs. `size`: to how many cells they do something. `chance`: that of any of them.
    """

    members: tuple[int, ...]
    entries: slice
    size: int
    chance: float


def _merged(problem: Problem, items: _Items, bits: Ints) -> list[_Merged]:
    """Merge the sources that do the same, the largest and likeliest first; leave out what does nothing."""
    cells, flags = items.flagged.cell, items.flagged.flags
    sources, ends = items.sources.tolist(), items.ends.tolist()
    same: dict[tuple[bytes, bytes], list[int]] = {}
    starts = [0, *ends][:-1]
    for at, (start, end) in enumerate(zip(starts, ends, strict=True)):
        same.setdefault((cells[start:end].tobytes(), flags[start:end].tobytes()), []).append(at)
    sizes = np.add.reduceat(bits > 0, starts, dtype=np.int64).tolist() if sources else []
    chances = problem.chances[items.sources].tolist()
    found = [
        _Merged(
            tuple(sources[at] for at in there),
            slice(starts[there[0]], ends[there[0]]),
            sizes[there[0]],
            min(sum(chances[at] for at in there), 1.0),
        )
        for there in same.values()
        if sizes[there[0]]
    ]
    return sorted(found, key=lambda one: (-one.size, -one.chance))


def _best(gains: Floats) -> Floats:
    best = gains.copy()
    codes = np.arange(gains.shape[1])
    for code in codes[::-1].tolist():
        above = codes[(codes & code) == code]
        best[:, code] = gains[:, above].max(axis=1)
    return best


def _clash(problem: Problem, members: Sequence[tuple[int, ...]]) -> Bools:
    """Find pairs of items that are nothing but crossings and have a line in common: [item, item]."""
    clash = np.zeros((len(members), len(members)), dtype=bool)
    if not problem.crosses[[one for there in members for one in there]].any():
        return clash
    crossing: dict[int, list[int]] = {}
    for item, there in enumerate(members):
        if all(problem.crosses[one] for one in there):
            for line, _, _ in problem.sources[there[0]].pieces:
                crossing.setdefault(line, []).append(item)
    for items in crossing.values():
        clash[np.ix_(items, items)] = True
    np.fill_diagonal(clash, False)
    return clash


def _groups(codes: Ints, clash: Bools) -> Ints:
    """Number the items so that no two with the same number are kept together: [item]."""
    within = np.ones((len(codes), len(codes)), dtype=bool)
    for bit in range(int(codes.max(initial=0)).bit_length()):
        one = (codes >> bit & 1).astype(np.float32)
        within &= one @ one.T >= one.sum(axis=1)
    apart: Bools = clash | within | within.T
    found: list[int] = []
    fits: list[int] = []
    for item, row in enumerate(np.packbits(apart, axis=1, bitorder="little")):
        others = int.from_bytes(row.tobytes(), "little")
        number = next((at for at, group in enumerate(fits) if group >> item & 1), len(fits))
        if number == len(fits):
            fits.append(others)
        fits[number] &= others
        found.append(number)
    return np.array(found, dtype=np.int64)
