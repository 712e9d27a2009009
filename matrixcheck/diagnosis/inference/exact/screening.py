"""Which shared faults can matter, given marks alone, with a bound on what all others weigh together.

A cell that faults of both its lines take counts once, so that a set of faults isn't the sum of its members. But what a
set gains is at most what it gains line by line, where each line is credited with every cell that is better off, and
charged its part of every cell that is worse off: half of it where one fault of either line may have taken the cell.
So bounded, lines are independent of each other, and the weight of all sets together is a product over lines. Where
much is dead, rows and columns would both be credited with it: so cells that a good set explains count once for all, in
part or altogether, and lines for what is left. Of these bounds the closest one holds.

Faults whose sets weigh next to nothing by this bound are left out, and the bound is drawn again, closer, for those that
stay.
"""

from __future__ import annotations

from enum import IntEnum
from functools import cache, reduce
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.cell_states import Flag
from matrixcheck.diagnosis.inference.exact.flag_rows import RowGains, flag_rows
from matrixcheck.diagnosis.inference.exact.problem import (
    Problem,
    flagged,
    padded,
    states_of,
    tails,
)
from matrixcheck.diagnosis.inference.exact.subset_sums import log_sums
from matrixcheck.diagnosis.inference.log_sum import log_sum
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints

LEAST = 11.0
"""Faults all of whose sets lie this far below a known one, in nats, are left out: a sixty-thousandth of its weight.
What they weigh together stays in the bound."""
FEW, SOME, MOST = 10, 50, 400
"""So few faults are all looked at; so many need no closer bound; so many are kept at most."""
PASSES, WORTHWHILE = 4, 0.8
"""So many rounds of bounding at most; a further one only where the last one left less than so much."""
MOST_ADDED, MOST_PROMISING = 12, 16
PARTS, CLOSELY = (1.0, 0.1), (1.0, 0.2, 0.0)
"""How much of what a good set explains is credited to lines; the rest counts once for all. A round after the first that
is over more than MANY faults is bounded closely, so that fewer faults of large matrices are cut off by MOST."""
MANY = 150
HIDDEN = 0.1
"""A fault that no mark supports, nor speaks against by so many nats, keeps the chance that it had: where all is dead, a
row that is stuck on may be behind any set, and is no rival of it."""
_STICKY = Flag.STUCK_SENSED | Flag.GROUNDED_SENSED
_WIDE = Flag.EVERYTHING | Flag.FED | Flag.CHOSEN | Flag.UNCHOSEN | Flag.STUCK_DRIVEN


class Kind(IntEnum):
    """Kinds of flags on one line, each bounded as a line of its own: a set may well hold one of each."""

    ORDINARY = 0
    STICKY = 1
    WIDE = 2


KINDS = len(Kind)


class Screened(NamedTuple):
    """What matters.

    `sources`, `unknown`: the sources and unknown chains, by number. `left_out`: log of a bound on the weight of all
    sets that hold another one that any mark supports, against that of no shared fault. `idle`: what all others that
    marks speak against weigh against nothing.
    """

    sources: Ints
    unknown: Ints
    left_out: float
    idle: float


def screen(problem: Problem) -> Screened:
    """Leave out the sources and unknown chains that can't matter."""
    everything = _everything(problem)
    looked = everything.first_look()
    kept = everything.keep(looked.supported, looked.unknown_supported)
    known, explained = kept.incumbent(looked.value[looked.supported])
    sources, unknown, left_out = kept.sources, kept.unknown, -np.inf
    for turn in range(PASSES):
        if len(sources) <= FEW:
            break
        parts = CLOSELY if turn and len(sources) > MANY else PARTS
        bound = kept.bound(known, explained, parts, MOST if turn == PASSES - 1 else len(sources))
        left_out = float(np.logaddexp(left_out, bound.left_out))
        before, sources, unknown = len(sources), sources[bound.sources], unknown[bound.unknown]
        much = len(sources) < WORTHWHILE * before
        if (turn and len(sources) <= SOME) or (not much and len(sources) <= MOST):
            break
        kept = kept.keep(bound.sources, bound.unknown)
    return Screened(sources, unknown, left_out, everything.idle(looked, explained))


class _Bound(NamedTuple):
    """Which sources and unknown chains stay, and log of a bound on the weight of all sets that hold another one."""

    sources: Bools
    unknown: Bools
    left_out: float


class _Look(NamedTuple):
    """A first look at all sources.

    `supported[source]`, `unknown_supported[chain]`: whether any mark supports it. `value[source]`: log of what it
    weighs by itself.
    """

    supported: Bools
    unknown_supported: Bools
    value: Floats


class _Some(NamedTuple):
    """Some of the pieces: their numbers, whose they are, and the line and kind of each; [n] each."""

    piece: Ints
    owner: Ints
    group: Ints


class _Promising(NamedTuple):
    """Sources that gain by themselves.

    `chosen`: their numbers. `cells`: the tested cells that any of them has. `codes[source, n]`, `worth[source, n]`:
    their flags there, and what these gain.
    """

    chosen: Ints
    cells: Ints
    codes: Ints
    worth: Floats


class _Weighed(NamedTuple):
    """Logs of bounds on the weight of all sets that hold a source, or a broken unknown chain."""

    sources: Floats
    unknown: Floats


class _Pass:
    """One round of bounding, over the faults that are left."""

    def __init__(self, best: RowGains, sources: Ints, unknown: Ints, piece: Ints, owner: Ints) -> None:
        problem = best.problem
        self.best, self.problem = best, problem
        self.sources = sources
        self.unknown = unknown
        self.piece, self.owner = piece, owner
        pieces = problem.machine.pieces
        flag = pieces.flag[piece]
        self.inwards, self.end = problem.machine.inwards, pieces.end[piece]
        self.group = pieces.line[piece] * KINDS + _kinds(pieces.flags)[flag]
        self.count = np.bincount(owner, minlength=len(sources))
        broken = [problem.machine.unknown[at] for at in unknown.tolist()]
        self.unknown_line = np.array([one.line for one in broken], dtype=np.int64)
        unknown_flag = np.array([pieces.flags.index(one.flag) for one in broken], dtype=np.int64)
        used = np.bincount(flag, minlength=len(pieces.flags)) > 0
        used[unknown_flag] = True
        self.rows = flag_rows(problem.machine.sites, tuple(pieces.flags[at] for at in np.flatnonzero(used).tolist()))
        row = np.zeros(len(used), dtype=np.int64)
        row[used] = self.rows.of_flag
        self.row, self.unknown_row = row[flag], row[unknown_flag]

    def keep(self, sources: Bools, unknown: Bools) -> _Pass:
        """Start the next round, over some of the sources and unknown chains."""
        here = sources[self.owner]
        owner = (sources.cumsum() - 1)[self.owner[here]]
        return _Pass(self.best, self.sources[sources], self.unknown[unknown], self.piece[here], owner)

    def first_look(self) -> _Look:
        """Find what marks support, and what each source weighs by itself."""
        _, credited = self.best.of(self.rows)
        better = (credited > 0).astype(np.float64)
        alone = self._alone()
        found, summed = tails(self.inwards, np.array([better, alone]))[:, self.row, self.end]
        supported: Bools = np.bincount(self.owner, found, len(self.sources)) > 0
        value = self.problem.log_odds[self.sources] + np.bincount(self.owner, summed, len(self.sources))
        chains = self.problem.machine.chains[self.unknown_line]
        on_unknown: Bools = padded(better)[self.unknown_row[:, None], chains].sum(axis=1) > 0
        return _Look(supported, on_unknown, value)

    def idle(self, looked: _Look, explained: Bools) -> float:
        """Weigh what no mark supports and some speak against as single faults, against no fault (no log).

        `explained[cell]`: what a good set explains: there others are hidden.
        """
        alone = np.where(explained, 0.0, self._alone())
        against = tails(self.inwards, alone)[self.row, self.end]
        gained = np.bincount(self.owner, against, len(self.sources))
        value = self.problem.log_odds[self.sources] + gained
        unknown = self._unknown_values(alone)[~looked.unknown_supported]
        return float(np.exp(value[~looked.supported & (gained < -HIDDEN)]).sum() + np.exp(unknown).sum())

    def incumbent(self, value: Floats) -> tuple[float, Bools]:
        """Build a good set of sources, by what each gains beside the ones before it.

        `value[source]`: log of what each weighs by itself. Log of the weight of the set, and [cell] what it explains.
        """
        codes, score = np.zeros(len(self.problem.base), dtype=np.int64), 0.0
        best, explained = 0.0, codes > 0
        if not (value > 0).any():
            return best, explained
        chosen, cells, places, worth = self._promising(value)
        if not len(chosen):
            return best, explained
        odds = self.problem.log_odds[self.sources[chosen]]
        for _ in range(MOST_ADDED):
            gained = odds + worth.sum(axis=1)
            first = int(gained.argmax())
            if gained[first] <= 0:
                break
            score += float(odds[first])
            odds[first] = -np.inf  # a source is in the set once, however likely it is by itself
            codes[cells] |= places[first]
            worth[:, places[first] > 0] = 0.0
            whole = score + self._exactly(codes)
            if whole > best:
                best, explained = whole, codes > 0
        return best, explained

    def _promising(self, value: Floats) -> _Promising:
        """Choose the sources that gain most by themselves: one for each line and kind, and of wider ones the best few.

        Crossings are left out: faults of the two lines by themselves take the same cells.
        """
        problem = self.problem
        value = np.where(problem.crosses[self.sources], -np.inf, value)
        single = self.count[self.owner] == 1
        best = np.zeros(len(problem.machine.lines) * KINDS)
        np.maximum.at(best, self.group[single], value[self.owner[single]])
        bar = np.full(len(value), max(0.0, _least(value[self.count > 1], MOST_PROMISING)))
        bar[self.owner[single]] = best[self.group[single]]
        chosen = np.flatnonzero((value >= bar) & (value > 0))
        there = flagged(problem, self.sources[chosen])
        cells = np.flatnonzero(np.bincount(there.cell))
        place = np.searchsorted(cells, there.cell)
        codes = np.zeros((len(chosen), len(cells)), dtype=np.int64)
        codes[there.item, place] = there.flags
        worth = np.zeros(codes.shape)
        worth[there.item, place] = problem.gains[there.cell, states_of(problem.machine, there.cell, there.flags)]
        return _Promising(chosen, cells, codes, worth)

    def _alone(self) -> Floats:
        """Give what every cell gains when it is flagged so, and not otherwise: [row, cell]."""
        problem = self.problem
        states = self.rows.alone[:, problem.machine.site]
        found: Floats = np.where(problem.marks.tested, problem.gains[np.arange(len(problem.base)), states], 0.0)
        return found

    def _exactly(self, codes: Ints) -> float:
        """Weigh these flags of all cells: `codes[cell]`."""
        cells = np.flatnonzero(codes)
        states = states_of(self.problem.machine, cells, codes[cells])
        return float(self.problem.gains[cells, states].sum())

    def bound(self, known: float, explained: Bools, parts: tuple[float, ...], most: int) -> _Bound:
        """Keep what may be in a set that weighs no less than LEAST below a known one; bound the rest.

        `known`: log of that weight. `explained[cell]`: what it explains. `most`: how many sources are kept at most.
        """
        self._split_pieces()
        charged, credited = self.best.of(self.rows)
        charged = np.minimum(charged, 0.0) / np.maximum(self._takers(), 1)
        credit = np.where(charged < 0, 0.0, np.maximum(credited, 0.0))
        spare = np.where(explained, credit, 0.0)
        whole = float(spare.max(axis=0, initial=0.0).sum())
        on_piece, spared = tails(self.inwards, np.array([charged + credit, spare]))[:, self.row, self.end]
        bounds = [
            self._weigh(
                on_piece - (1 - part) * spared,
                self._unknown_values(charged + credit - (1 - part) * spare),
                (1 - part) * whole,
            )
            for part in (parts if whole else parts[:1])
        ]
        sources = reduce(np.minimum, (each.sources for each in bounds))
        unknown = reduce(np.minimum, (each.unknown for each in bounds))
        stays = sources >= max(known - LEAST, _least(sources, most))
        unknown_stays = unknown >= known - LEAST
        return _Bound(stays, unknown_stays, log_sum(np.concatenate([sources[~stays], unknown[~unknown_stays]])))

    def _weigh(self, on_piece: Floats, unknown: Floats, constant: float) -> _Weighed:
        """Bound the weight of all sets that hold each source, and each broken chain.

        `on_piece[piece]`: what every line is credited and charged with. `unknown[chain]`: what breaking it may weigh.
        `constant`: what is credited once for all.
        """
        own, shared = self.own, self.shared
        value = self.odds.copy()
        value[own.owner] += on_piece[own.piece]
        of_line = _log_one_plus(
            np.concatenate([own.group, self.unknown_line * KINDS]),
            np.concatenate([value[own.owner], unknown]),
            len(self.problem.machine.lines) * KINDS,
        )
        share = on_piece[shared.piece] - of_line[shared.group]
        share = np.where(share < 0, share / self.sharers, share)
        value += np.bincount(shared.owner, share, len(self.sources))
        value[own.owner] -= of_line[own.group]
        everything = of_line.sum() + np.logaddexp(0.0, value[self.count > 1]).sum() + self.all_odds
        everything += constant
        return _Weighed(everything + value, everything + unknown - of_line[self.unknown_line * KINDS])

    def _split_pieces(self) -> None:
        """Split the pieces into those that are all that their source has, and others.

        `sharers[n]`: how many faults that are kept together may share the charge of a line, by shared piece.
        """
        single = self.count[self.owner] == 1
        self.own, self.shared = (self._some(np.flatnonzero(which)) for which in (single, ~single))
        groups = len(self.problem.machine.lines) * KINDS
        rivals = np.bincount(self.shared.group, minlength=groups)
        crossing = self.problem.crosses[self.sources][self.shared.owner]
        sharers = np.bincount(self.shared.group[~crossing], minlength=groups) + (rivals > 0)
        self.sharers = np.maximum(sharers[self.shared.group], 1)
        self.odds = self.problem.log_odds[self.sources]
        self.all_odds = float(np.logaddexp(0.0, self.odds).sum())

    def _some(self, pieces: Ints) -> _Some:
        return _Some(pieces, self.owner[pieces], self.group[pieces])

    def _takers(self) -> Ints:
        """Count how many faults of a set, none of them idle, may take each cell at once: [cell]."""
        machine = self.problem.machine
        there = np.zeros(machine.chains.shape[0] * KINDS, dtype=bool)
        there[self.group] = True
        there[self.unknown_line * KINDS] = True
        by_line = there.reshape(-1, KINDS).sum(axis=1)
        along = np.repeat(by_line, machine.chains.shape[1])
        found: Ints = np.bincount(machine.chains.ravel(), along, len(machine.cells) + 1)[:-1].astype(np.int64)
        return found

    def _unknown_values(self, worth: Floats) -> Floats:
        problem = self.problem
        if not len(self.unknown):
            return np.zeros(0)
        chains = problem.machine.chains[self.unknown_line]
        tested = padded(problem.marks.tested)[chains]
        taken = np.where(tested, padded(worth)[self.unknown_row[:, None], chains], -np.inf)
        share = np.zeros((len(chains), chains.shape[1] + 1))
        for row, at in enumerate(self.unknown):
            known = problem.unknown_shares[at]
            share[row, : len(known)] = known
        odds = problem.unknown_odds[self.unknown]
        found: Floats = odds + log_sums(np.zeros(taken.shape), taken, share)
        return found


def _everything(problem: Problem) -> _Pass:
    owner = problem.machine.pieces.owner
    number = np.full(len(problem.log_odds), -1)
    number[problem.visible] = np.arange(len(problem.visible))
    piece = np.flatnonzero(number[owner] >= 0)
    return _Pass(RowGains(problem), problem.visible, np.flatnonzero(problem.unknown_shows), piece, number[owner[piece]])


@cache
def _kinds(flags: tuple[int, ...]) -> Ints:
    """Give the `Kind` of each code of flags."""
    kinds = [Kind.STICKY if flag & _STICKY else Kind.WIDE if flag & _WIDE else Kind.ORDINARY for flag in flags]
    return np.array(kinds, dtype=np.int64)


def _log_one_plus(group: Ints, value: Floats, count: int) -> Floats:
    """Sum by groups: [group] log(1 + sum of exp(value))."""
    top = np.zeros(count)
    np.maximum.at(top, group, value)
    summed = np.bincount(group, np.exp(value - top[group]), count)
    found: Floats = top + np.log(np.exp(-top) + summed)
    return found


def _least(values: Floats, most: int) -> float:
    """Find the least of the greatest so many values; -inf where there are no more than these."""
    return -np.inf if len(values) <= most else float(np.partition(values, -most)[-most])
