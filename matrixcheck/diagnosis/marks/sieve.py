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

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.frame import Bools, Floats, Ints
from matrixcheck.diagnosis.marks.chains import log_sums
from matrixcheck.diagnosis.marks.flags import Flag, effects
from matrixcheck.diagnosis.marks.problem import Problem, claims, tails

LEAST = 18.0
"""Faults all of whose sets lie this far below a known one, in nats, are left out."""
FEW, MOST = 50, 400
"""So few faults are all looked at; so many at most."""
PASSES = 4
MOST_GREEDY, MOST_PROMISING = 8, 150
PARTS = (1.0, 0.2, 0.0)
"""How much of what a good set explains is credited to lines; the rest counts once for all."""
_STICKY = Flag.STUCK_SENSED | Flag.GROUNDED_SENSED
_WIDE = Flag.EVERYTHING | Flag.FED | Flag.CHOSEN | Flag.UNCHOSEN | Flag.STUCK_DRIVEN
KINDS = 3


class Sieved(NamedTuple):
    """The sources and the unknown chains that matter, by number; and log of a bound on the weight of all sets that hold
    another one, against that of no shared fault. `passive`: sources that no mark speaks for, which may hide behind
    others; `idle`: what these and such chains weigh beside any set, against nothing."""

    sources: Ints
    unknown: Ints
    left_out: float
    passive: Ints
    idle: float


def sieve(problem: Problem) -> Sieved:
    """Leaves out what can't matter."""
    everything = _Pass(problem, problem.visible, np.flatnonzero(problem.loose))
    spoken, loose_spoken = everything.spoken_for()
    passive, idle = problem.visible[~spoken], everything.beside(~spoken, ~loose_spoken)
    kept = _Pass(problem, everything.sources[spoken], everything.unknown[loose_spoken])
    left_out = -np.inf
    if len(kept.sources) <= FEW:
        return Sieved(kept.sources, kept.unknown, left_out, passive, idle)
    known, explained = kept.good_set()
    for turn in range(PASSES):
        bound = kept.bound(known, explained, MOST if turn == PASSES - 1 else len(kept.sources))
        left_out = float(np.logaddexp(left_out, bound.left_out))
        fewer = len(bound.sources) < len(kept.sources) or len(bound.unknown) < len(kept.unknown)
        kept = _Pass(problem, bound.sources, bound.unknown)
        if len(bound.sources) <= FEW or (not fewer and len(bound.sources) <= MOST):
            break
    return Sieved(kept.sources, kept.unknown, left_out, passive, idle)


class _Bound(NamedTuple):
    """What stays, and log of a bound on the weight of all sets that hold something else."""

    sources: Ints
    unknown: Ints
    left_out: float


class _Weighed(NamedTuple):
    """Logs of bounds on the weight of all sets that hold a source, or a broken unknown chain."""

    sources: Floats
    loose: Floats


class _Pass:
    """One round of bounding, over the faults that are left."""

    def __init__(self, problem: Problem, sources: Ints, unknown: Ints) -> None:
        self.problem = problem
        self.sources = sources
        self.unknown = unknown
        pieces = problem.machine.pieces
        among = np.zeros(len(problem.log_odds), dtype=bool)
        among[sources] = True
        here = among[pieces.owner]
        number = np.full(len(among), -1)
        number[sources] = np.arange(len(sources))
        self.owner, self.line = number[pieces.owner[here]], pieces.line[here]
        self.flag, self.start = pieces.flag[here], pieces.start[here]
        self.group = self.line * KINDS + _kinds(pieces.flags)[self.flag]
        self.loose_line = np.array([problem.machine.unknown[at].line for at in unknown], dtype=np.int64)
        self.loose_flag = np.array([problem.machine.unknown[at].flag for at in unknown], dtype=np.int64)

    def spoken_for(self) -> tuple[Bools, Bools]:
        """Whether any mark speaks for each source, and for each unknown chain."""
        _, credited = self._best()
        better = (credited > 0).astype(np.float64)
        found = tails(self.problem.machine, better)[self.flag, self.line, self.start]
        chains = self.problem.machine.chains[self.loose_line]
        padded = np.concatenate([better, np.zeros((len(better), 1))], axis=1)
        on_loose: Bools = padded[self._loose_rows()[:, None], chains].sum(axis=1) > 0
        return np.bincount(self.owner, found, len(self.sources)) > 0, on_loose

    def beside(self, sources: Bools, loose: Bools) -> float:
        """What these sources and chains weigh as single faults, against no fault: a share."""
        problem = self.problem
        pieces = problem.machine.pieces
        alone = problem.gains[np.arange(len(problem.base)), pieces.states[:, problem.machine.site]]
        self.worth = np.where(problem.marks.tested, alone, 0.0)
        value = problem.log_odds[self.sources].copy()
        value += self._summed(self.worth)
        chains = self._loose_values()
        return float(np.exp(value[sources]).sum() + np.exp(chains[loose]).sum())

    def good_set(self) -> tuple[float, Bools]:
        """A good set of sources: log of its weight, and the cells that it explains. Two ways to find one are tried: by
        what each source gains, and by that as a share of what it might."""
        return max((self._one_by_one(power) for power in (0, 2)), key=lambda found: found[0])

    def _one_by_one(self, power: int) -> tuple[float, Bools]:
        chosen, places, cells, worth = self._promising()
        odds = self.problem.log_odds[self.sources[chosen]]
        codes, score = np.zeros(len(self.problem.base), dtype=np.int64), 0.0
        best, explained = 0.0, codes > 0
        for _ in range(MOST_GREEDY if len(chosen) else 0):
            value = odds + worth.sum(axis=1)
            might = np.maximum(np.maximum(worth, 0.0).sum(axis=1), 1.0)
            first = int((value * np.maximum(value / might, 0.0) ** power).argmax())
            if value[first] <= 0:
                break
            score += float(odds[first])
            codes[cells] |= places[first]
            worth[:, places[first] > 0] = 0.0
            if score + self._exactly(codes) > best:
                best, explained = score + self._exactly(codes), (codes > 0) & self.problem.marks.tested
        return best, explained

    def _promising(self) -> tuple[Ints, Ints, Ints, Floats]:
        """The sources that gain most by themselves, if anything; [source, n]: their flags and what they gain in the
        n-th of some cells; and these cells."""
        problem, machine = self.problem, self.problem.machine
        alone = problem.gains[np.arange(len(problem.base)), machine.pieces.states[:, machine.site]]
        alone = np.where(problem.marks.tested, alone, 0.0)
        value = problem.log_odds[self.sources] + self._summed(alone)
        chosen = np.argsort(-value, kind="stable")[:MOST_PROMISING]
        chosen = chosen[value[chosen] > 0]
        codes = np.zeros((len(chosen), len(problem.base)), dtype=np.int64)
        worth = np.zeros(codes.shape)
        row = {flag: at for at, flag in enumerate(machine.pieces.flags)}
        for at, source in enumerate(self.sources[chosen].tolist()):
            for piece in problem.sources[source].pieces:
                there = machine.cells_of(piece)
                codes[at, there] |= piece[1]
                worth[at, there] = alone[row[piece[1]], there]
        cells = np.flatnonzero((codes > 0).any(axis=0) & problem.marks.tested)
        return chosen, codes[:, cells], cells, worth[:, cells]

    def _summed(self, worth: Floats) -> Floats:
        """For each source: the sum over its cells of [flags, cell]."""
        on_piece = tails(self.problem.machine, worth)[self.flag, self.line, self.start]
        found: Floats = np.bincount(self.owner, on_piece, len(self.sources)).astype(np.float64)
        return found

    def _exactly(self, codes: Ints) -> float:
        """What these flags of all cells gain."""
        machine = self.problem.machine
        cells = np.flatnonzero((codes > 0) & self.problem.marks.tested)
        states = [int(effects(machine.sites[machine.site[cell]])[codes[cell]]) for cell in cells]
        return float(self.problem.gains[cells, states].sum())

    def bound(self, known: float, explained: Bools, most: int) -> _Bound:
        """What may be in a set that weighs no less than LEAST below a known one, at most so many sources; and a bound
        on the rest."""
        charged, credited = self._best()
        charged = np.minimum(charged, 0.0) / np.maximum(self._takers(), 1)
        credit = np.where(charged < 0, 0.0, np.maximum(credited, 0.0))
        whole = float(credit.max(axis=0, initial=0.0)[explained].sum())
        bounds = [
            self._weigh(charged + np.where(explained, part * credit, credit), (1 - part) * whole)
            for part in (PARTS if explained.any() else PARTS[:1])
        ]
        sources = np.min([each.sources for each in bounds], axis=0)
        loose = np.min([each.loose for each in bounds], axis=0)
        stays = sources >= max(known - LEAST, _least(sources, most))
        loose_stays = loose >= known - LEAST
        left_out = _log_sum(np.concatenate([sources[~stays], loose[~loose_stays]]))
        return _Bound(self.sources[stays], self.unknown[loose_stays], left_out)

    def _weigh(self, worth: Floats, constant: float) -> _Weighed:
        """Bounds on the weight of all sets that hold each source, and each broken chain. `worth[flags, cell]`: what
        every line is credited and charged with; `constant`: what is credited once for all."""
        self.worth = worth
        odds = self.problem.log_odds[self.sources]
        on_piece = tails(self.problem.machine, worth)[self.flag, self.line, self.start]
        count = np.bincount(self.owner, minlength=len(self.sources))
        single = count[self.owner] == 1
        value = odds.copy()
        value[self.owner[single]] += on_piece[single]
        loose = self._loose_values()
        groups = self.problem.machine.chains.shape[0] * KINDS
        of_line = _log_one_plus(
            np.concatenate([self.group[single], self.loose_line * KINDS]),
            np.concatenate([value[self.owner[single]], loose]),
            groups,
        )
        several = ~single
        share = on_piece[several] - of_line[self.group[several]]
        rivals = np.bincount(self.group[several], minlength=groups)
        crossing = self.problem.crosses[self.sources][self.owner[several]]
        apart = np.bincount(self.group[several][~crossing], minlength=groups) + (rivals > 0)
        share = np.where(share < 0, share / np.maximum(apart[self.group[several]], 1), share)
        value += np.bincount(self.owner[several], share, len(self.sources))
        value[self.owner[single]] -= of_line[self.group[single]]
        everything = of_line.sum() + np.logaddexp(0.0, value[count > 1]).sum() + np.logaddexp(0.0, odds).sum()
        return _Weighed(constant + everything + value, constant + everything + loose - of_line[self.loose_line * KINDS])

    def _best(self) -> tuple[Floats, Floats]:
        """[flags, cell]: what a cell may be worth when it is flagged so, and what of that is owed to the flag."""
        problem, machine = self.problem, self.problem.machine
        flags = machine.pieces.flags
        rows = sorted({*self.flag.tolist(), *self._loose_rows().tolist()})
        company = tuple(flags[row] for row in rows)
        found = np.full((2, len(flags), len(machine.cells)), -np.inf)
        may = np.array([claims(site, company) for site in machine.sites])
        for at, row in enumerate(rows):
            for which in range(2):
                for state in np.flatnonzero(may[:, which, at].any(axis=0)).tolist():
                    there = may[:, which, at, state][machine.site]
                    better = np.maximum(found[which, row], problem.gains[:, state])
                    found[which, row] = np.where(there, better, found[which, row])
        found[:, :, ~problem.marks.tested] = 0.0
        found[np.isinf(found)] = 0.0
        return found[0], found[1]

    def _loose_rows(self) -> Ints:
        """For each unknown chain, the row of the flags that a break sets."""
        flags = self.problem.machine.pieces.flags
        return np.array([flags.index(flag) for flag in self.loose_flag.tolist()], dtype=np.int64)

    def _takers(self) -> Ints:
        """For each cell: how many faults of a set, none of them idle, may take it at once."""
        machine = self.problem.machine
        there = np.zeros(machine.chains.shape[0] * KINDS, dtype=bool)
        there[self.group] = True
        there[self.loose_line * KINDS] = True
        by_line = there.reshape(-1, KINDS).sum(axis=1)
        found = np.zeros(len(machine.cells) + 1, dtype=np.int64)
        np.add.at(found, machine.chains, np.broadcast_to(by_line[:, None], machine.chains.shape))
        return found[:-1]

    def _loose_values(self) -> Floats:
        problem = self.problem
        if not len(self.unknown):
            return np.zeros(0)
        chains = problem.machine.chains[self.loose_line]
        rows = self._loose_rows()
        padded = np.concatenate([self.worth, np.zeros((len(self.worth), 1))], axis=1)
        tested = np.append(problem.marks.tested, False)[chains]
        taken = np.where(tested, padded[rows[:, None], chains], -np.inf)
        share = np.zeros((len(chains), chains.shape[1] + 1))
        for row, at in enumerate(self.unknown):
            known = problem.loose_shares[at]
            share[row, : len(known)] = known
        odds = problem.loose_odds[self.unknown]
        found: Floats = odds + log_sums(np.zeros(taken.shape), taken, share)
        return found


def _kinds(flags: tuple[int, ...]) -> Ints:
    return np.array([1 if flag & _STICKY else 2 if flag & _WIDE else 0 for flag in flags], dtype=np.int64)


def _log_one_plus(group: Ints, value: Floats, count: int) -> Floats:
    """log(1 + sum of exp(value)) of each group."""
    top = np.zeros(count)
    np.maximum.at(top, group, value)
    summed = np.bincount(group, np.exp(value - top[group]), count)
    found: Floats = top + np.log(np.exp(-top) + summed)
    return found


def _log_sum(values: Floats) -> float:
    if not len(values):
        return -np.inf
    top = float(values.max())
    return top + float(np.log(np.exp(values - top).sum())) if np.isfinite(top) else -np.inf


def _least(values: Floats, most: int) -> float:
    """The least of the greatest so many values."""
    return -np.inf if len(values) <= most else float(np.partition(values, -most)[-most])
