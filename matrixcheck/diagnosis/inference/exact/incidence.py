"""What items do to cells, as one entry for each cell of each item: most items have few of a component's cells."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints


class Entries(NamedTuple):
    """The cells of some items, one entry for each cell of each.

    `row[entry]`: the item, counted among those that are here. `place[entry]`: the cell. `bits[entry]`: what the item
    does to it. `lengths[item]`, `starts[item]`: how many entries each item has, at least one, and where they begin.
    """

    row: Ints
    place: Ints
    bits: Ints
    lengths: Ints
    starts: Ints

    def sums(self, values: Floats) -> Floats:
        """Sum each item's entries along the last axis: [.., item] of [.., entry]."""
        if not len(self.starts):
            return np.zeros((*values.shape[:-1], 0))
        found: Floats = np.add.reduceat(values, self.starts, axis=-1)
        return found

    def any(self, flags: Bools) -> Bools:
        """Say for each item whether any of its entries has this flag: [item] of [entry]."""
        found: Bools = np.logical_or.reduceat(flags, self.starts) if len(self.starts) else np.zeros(0, dtype=bool)
        return found

    def keep(self, items: Bools) -> Entries:
        """Keep those of some of the items: `items[item]`."""
        there = items[self.row]
        lengths = self.lengths[items]
        row = (items.cumsum() - 1)[self.row[there]]
        return Entries(row, self.place[there], self.bits[there], lengths, lengths.cumsum() - lengths)

    def of(self, items: Ints) -> Entries:
        """Keep those of these items, by their numbers [item], in ascending order."""
        if len(items) == len(self.lengths):
            return self
        chosen = np.zeros(len(self.lengths), dtype=bool)
        chosen[items] = True
        return self.keep(chosen)


def entries_of(codes: Ints) -> Entries:
    """List the entries of [item, place] codes, each item of which does something somewhere."""
    rows, places = np.nonzero(codes)
    lengths = np.bincount(rows, minlength=len(codes))
    return Entries(rows, places, codes[rows, places], lengths, lengths.cumsum() - lengths)


class Changes(NamedTuple):
    """What each entry of some items makes of its cell, in nats.

    `better[entry]`, `worse[entry]`: than now, at best. `hope[place]`: what each cell may gain yet.
    """

    entries: Entries
    better: Floats
    worse: Floats
    hope: Floats
