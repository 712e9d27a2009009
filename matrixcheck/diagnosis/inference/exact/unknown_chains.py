"""Lines of unknown chain beside the other faults of a component: what breaking them adds to a set of faults."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.bounds import LARGEST, Background, Ranked, Terms, ranked
from matrixcheck.diagnosis.inference.exact.components import Component, UnknownChain
from matrixcheck.diagnosis.inference.exact.incidence import Changes, Entries
from matrixcheck.diagnosis.inference.exact.subset_sums import Chain, log_sums, log_together
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints

PER_CELL, PER_NUMBER = 400, 0.12
"""Units of work for each cell of the longest line that sums go through, and for each number of theirs (measured: 10 us
and 3 ns)."""


class Breaks(NamedTuple):
    """What breaking each unknown chain is worth, as logs.

    `worth[chain]`: as it is. `hope[chain]`: at best. `parts[row, chain]`: what it may weigh as one of others. `idle`:
    chains that have no cell left to lose.
    """

    worth: Floats
    hope: Floats
    parts: Floats
    idle: frozenset[int]


class UnknownChains:
    """The unknown chains of a component.

    `odds[chain]`: log odds of a break. `touched[chain, place]`: whether a cell is on it.
    """

    def __init__(self, component: Component, work: Work) -> None:
        self._work = work
        self.component = component
        lines = component.unknown
        longest = max((len(line.places) for line in lines), default=0)
        count, width = component.gains.shape
        self._offset = np.arange(count) * width
        self._places = np.full((len(lines), longest), count, dtype=np.int64)
        self._share = np.zeros((len(lines), longest + 1))
        self.touched: Bools = np.zeros((len(lines), count), dtype=bool)
        for row, line in enumerate(lines):
            self._places[row, : len(line.places)] = line.places
            self._share[row, : len(line.share)] = line.share
            self.touched[row, list(line.places)] = True
        self.odds = np.array([line.odds for line in lines])
        self._crossed = self.touched.sum(axis=0) > 1
        self._known: dict[bytes, Breaks] = {}
        self._known_after: dict[tuple[bytes, int], float] = {}

    def breaks(self, code: Ints, terms: Terms) -> Breaks:
        """Weigh breaking each chain beside this `code[place]`."""
        key = code.tobytes()
        if key not in self._known:
            best = self._ratios(code, self.component.best)
            best[:, :-1] = np.where((best[:, :-1] < 0) & self._crossed, best[:, :-1] / 2, best[:, :-1])
            above = np.ones((len(terms.shared), 1, best.shape[1]))
            above[:, 0, :-1] -= terms.shared
            as_it_is = self._ratios(code, self.component.gains)
            worth, hope, *parts = self._values(
                np.concatenate([as_it_is[None], best[None], np.where(best > 0, best * above, best)])
            )
            idle = [number for number, line in enumerate(self.component.unknown) if _is_idle(code, line)]
            self._known[key] = Breaks(worth, hope, np.array(parts), frozenset(idle))
        return self._known[key]

    def background(self, code: Ints, terms: Terms, first: int) -> Background:
        """Bound what the chains from the first on may add beside this `code[place]`, in nats."""
        breaks = self.breaks(code, terms)
        there = np.array([number not in breaks.idle for number in range(len(self.odds))], dtype=bool)
        there[:first] = False
        covered: Bools = self.touched[there].sum(axis=0) > 0
        return Background(covered, np.logaddexp(0.0, breaks.parts[:, there]).sum(axis=1))

    def after(self, code: Ints, terms: Terms, number: int) -> float:
        """Bound what the chains after one may add beside this `code[place]`, in nats."""
        key = code.tobytes(), number
        if key not in self._known_after:
            background = self.background(code, terms, number + 1)
            at = self._offset + code
            hope = self.component.best.ravel()[at] - self.component.gains.ravel()[at]
            credit = (terms.shared * hope)[:, background.covered].sum(axis=1)
            self._known_after[key] = float((credit + background.mixed).min())
        return self._known_after[key]

    def together(self, code: Ints, numbers: Sequence[int]) -> tuple[float, bool]:
        """Weigh breaking several chains at once beside this `code[place]`, and say whether that is exact.

        In nats, without their odds.
        """
        lines = [self.component.unknown[number] for number in numbers]
        gains = self.component.gains.ravel()
        now = gains[self._offset + code]
        ratios = np.array([gains[self._offset + (code | line.bit)] - now for line in lines])
        return log_together([Chain(line.places, line.share) for line in lines], ratios, self._work)

    def beside(
        self, changes: Changes, odds: Floats, ranks: Ranked, good: Bools
    ) -> tuple[Changes, Floats, Ranked, Bools]:
        """Add to items, for each chain, the break that takes all cells that are better off.

        Enough to find multipliers by. `odds[item]`: log odds; `good[item]`: the incumbent.
        """
        nothing = np.zeros(len(self._offset), dtype=np.int64)
        ratios = self._ratios(nothing, self.component.best)[:, :-1] if len(self.odds) else np.zeros((0, len(nothing)))
        taken = self.touched & (ratios > 0)
        there = np.flatnonzero(taken.any(axis=1))
        sizes = taken[there].sum(axis=1)
        row, place = np.nonzero(taken[there])
        entries = changes.entries
        lengths = np.concatenate([entries.lengths, sizes])
        joined = Entries(
            np.concatenate([entries.row, row + len(odds)]),
            np.concatenate([entries.place, place]),
            np.concatenate([entries.bits, np.zeros(len(row), dtype=np.int64)]),
            lengths,
            lengths.cumsum() - lengths,
        )
        better = np.concatenate([changes.better, ratios[there[row], place]])
        worse = np.concatenate([changes.worse, np.zeros(len(row))])
        with np.errstate(divide="ignore"):
            likely = np.maximum(self.odds[there] + np.log(self._share[there, sizes]), -LARGEST)
        groups = np.concatenate([ranks.group, ranks.groups + np.arange(len(there))])
        chosen = np.concatenate([good, np.zeros(len(there), dtype=bool)])
        return (
            Changes(joined, better, worse, changes.hope),
            np.concatenate([odds, likely]),
            ranked(groups),
            chosen,
        )

    def _ratios(self, code: Ints, gains: Floats) -> Floats:
        """Say what each chain's break makes of each cell: [chain, place], with a place at the end that none takes."""
        lines = self.component.unknown
        now = self.component.gains.ravel()[self._offset + code]
        taken = np.empty((len(lines), len(code) + 1))
        for bit in {line.bit for line in lines}:
            rows = [row for row, line in enumerate(lines) if line.bit == bit]
            taken[rows, :-1] = gains.ravel()[self._offset + (code | bit)] - now
        taken[:, -1] = -inf
        return taken

    def _values(self, ratios: Floats) -> Floats:
        """Weigh breaking each chain: logs [.., chain], by what it makes of cells [.., chain, place]."""
        places = np.broadcast_to(self._places, (*ratios.shape[:-1], self._places.shape[1]))
        along = np.take_along_axis(ratios, places, axis=-1)
        flat = along.reshape(-1, along.shape[-1])
        self._work.spend(flat.shape[1] * (PER_CELL + PER_NUMBER * flat.size))
        share = np.tile(self._share, (len(flat) // len(self._share), 1))
        values: Floats = self.odds + log_sums(np.zeros(flat.shape), flat, share).reshape(ratios.shape[:-1])
        return values


def _is_idle(code: Ints, line: UnknownChain) -> bool:
    there = code[list(line.places)]
    return bool(((there | line.bit) == there).all())
