"""Marks of a machine as a problem: what every cell gains in every state, and at what odds faults are shared.

What would show as one dead or one stuck cell alone is a private cause of that cell; what shows nowhere leaves the
problem, its chance what it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.inference.exact.cell_likelihood import Marks, log_likelihoods, marks_of_cells
from matrixcheck.diagnosis.inference.exact.cell_states import (
    APPEARANCE,
    DEAD_LOOK,
    FED_AT_REST,
    STUCK_LOOK,
    Site,
    effects,
)
from matrixcheck.diagnosis.inference.exact.model import Machine
from matrixcheck.diagnosis.inference.exact.sources import Source, Unknown, chances_of, log_odds_of
from matrixcheck.diagnosis.inference.exact.subset_sums import lone_share, shares
from matrixcheck.diagnosis.inference.likelihood import Private
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, private_classes
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints
from matrixcheck.diagnosis.machine.prior_updates import updated_priors
from matrixcheck.diagnosis.machine.priors import Rates, cell_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, parse_cell
from matrixcheck.layout.reading import Finding, Reading

LIKELIEST = 0.95
"""No private cause is taken for likelier than this before anything was read: marks can still speak against it."""


Value = TypeVar("Value", np.float64, np.int64, np.bool_)


class Reachable(NamedTuple):
    """The states that a cell flagged so may reach.

    `reach`: all of them. `credited`: those that are to the flag's credit: its own, and what no flag of a set brings
    about by itself.
    """

    reach: tuple[int, ...]
    credited: tuple[int, ...]


class Flagged(NamedTuple):
    """What sources do to cells, once for each cell of each, in the order of sources, then cells.

    `item[n]`: the source, counted among those asked about. `cell[n]`: the cell. `flags[n]`: its flags.
    """

    item: Ints
    cell: Ints
    flags: Ints


class Own(NamedTuple):
    """Sources that show as one cell dead, or `stuck`, and that cell: [n] each."""

    source: Ints
    cell: Ints
    stuck: Bools

    def of(self, cell: int, stuck: bool) -> tuple[int, ...]:
        """List the sources that show as this one cell dead, or stuck."""
        return tuple(self.source[(self.cell == cell) & (self.stuck == stuck)].tolist())


class Problem(NamedTuple):
    """The marks of a machine, and the shared faults that may account for them.

    `sources`, `unknown`: the machine's, at the rates that findings leave them; `chances`, `log_odds`, `crosses`: of
    each source. `dead`, `stuck`: chances of private causes by cell; `own`: the sources among them, by cell and whether
    it is stuck. `base[cell]`: the state without faults; `gains[cell, state]`: log-likelihood against that.
    `visible`: the sources that are shared and show. `unknown_shows[n]`: a break of the n-th unknown chain may be and
    show; `unknown_odds`, `unknown_shares` of each. Gains and odds are in nats.
    """

    machine: Machine
    marks: Marks
    sources: tuple[Source, ...]
    unknown: tuple[Unknown, ...]
    chances: Floats
    log_odds: Floats
    crosses: Bools
    dead: Floats
    stuck: Floats
    own: Own
    base: Ints
    gains: Floats
    visible: Ints
    unknown_shows: Bools
    unknown_odds: Floats
    unknown_shares: tuple[tuple[float, ...], ...]

    def completed(self, member: Candidate) -> Candidate:
        """Fill in the cells of a fault."""
        return self.machine.completed(member) if member.lines else member


def problem_of(machine: Machine, readings: Sequence[Reading], findings: Sequence[Finding], rates: Rates) -> Problem:
    """Pose the problem of a machine's marks alone."""
    marks = marks_of_cells(machine, readings, rates)
    sources, unknown, dead, stuck = _updated(machine, findings, rates)
    chances = chances_of(sources) if findings else machine.chances
    log_odds = log_odds_of(chances) if findings else machine.log_odds
    base = np.array([int(effects(site)[0]) for site in machine.sites], dtype=np.int64)[machine.site]
    count, alone = _shown_by(machine, marks)
    own = _own(machine, count, alone)
    lengths, untested = _lengths(machine, marks)
    lone = np.zeros(len(base))
    for one, length, left in zip(unknown, lengths, untested, strict=True):
        cells = machine.cells_of((one.line, 0, 0))
        lone[cells[marks.tested[cells]]] += one.rate * lone_share(length, left)
    dead, stuck = _with_own(Private(dead, stuck), own, chances, lone)
    logs = log_likelihoods(marks, dead, stuck)
    seen = count > 0
    seen[own.source] = False
    unknown_shares = tuple(shares(length, left) for length, left in zip(lengths, untested, strict=True))
    return Problem(
        machine,
        marks,
        sources,
        unknown,
        chances,
        log_odds,
        machine.crosses,
        dead,
        stuck,
        own,
        base,
        logs - logs[np.arange(len(base)), base][:, None],
        np.flatnonzero(seen),
        np.array([any(share) for share in unknown_shares], dtype=bool),
        log_odds_of(np.array([one.rate for one in unknown])) if unknown else np.zeros(0),
        unknown_shares,
    )


def padded(values: NDArray[Value]) -> NDArray[Value]:
    """Add a cell with nothing to [.., cell] values, where the chains of shorter lines point."""
    found = np.zeros((*values.shape[:-1], values.shape[-1] + 1), dtype=values.dtype)
    found[..., :-1] = values
    return found


def tails(inwards: Ints, values: NDArray[Value]) -> NDArray[Value]:
    """Sum [.., cell] values over the cells of every line from each cell on: [.., end], as the `end` of a piece says.

    `inwards[line, n]`: the machine's, of all lines or of some.
    """
    along: NDArray[Value] = padded(values).take(inwards, axis=-1)
    found = np.zeros((*along.shape[:-1], along.shape[-1] + 1), dtype=values.dtype)
    np.cumsum(along, axis=-1, out=found[..., 1:])
    return found.reshape(*values.shape[:-1], found.shape[-2] * found.shape[-1])


def flagged(problem: Problem, sources: Ints) -> Flagged:
    """Lay out what these sources, by their numbers [source], do to tested cells."""
    machine, pieces = problem.machine, problem.machine.pieces
    number = np.full(len(problem.chances), -1)
    number[sources] = np.arange(len(sources))
    here = np.flatnonzero(number[pieces.owner] >= 0)
    along = machine.chains[pieces.line[here]]
    there = (np.arange(along.shape[1]) >= pieces.start[here, None]) & padded(problem.marks.tested)[along]
    piece, cell = here[np.nonzero(there)[0]], along[there]
    item, flags = number[pieces.owner[piece]], np.array(pieces.flags, dtype=np.int64)[pieces.flag[piece]]
    key = item * len(machine.cells) + cell
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    is_first = np.ones(len(key), dtype=bool)
    is_first[1:] = ordered[1:] != ordered[:-1]
    first = np.flatnonzero(is_first)
    joined = np.bitwise_or.reduceat(flags[order], first) if len(first) else flags
    return Flagged(item[order[first]], cell[order[first]], joined)


def states_of(machine: Machine, cells: Ints, flags: Ints) -> Ints:
    """Look up the state of each of these cells under these flags: [n] each."""
    found = np.zeros(len(cells), dtype=np.int64)
    site = machine.site[cells]
    for number in np.flatnonzero(np.bincount(site)).tolist():
        there = site == number
        found[there] = effects(machine.sites[number])[flags[there]]
    return found


@cache
def reachable(site: Site, flags: tuple[int, ...]) -> tuple[Reachable, ...]:
    """Find the states of a cell under each of these flags, whichever others of them join it."""
    table = effects(site)
    codes, masks = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    for at, flag in enumerate(flags):
        codes, masks = np.concatenate([codes, codes | flag]), np.concatenate([masks, masks | 1 << at])
    states, single = table[codes], table[list(flags)]
    there = (masks[:, None] >> np.arange(len(flags))) & 1 > 0
    together = ~(there & (single == states[:, None])).any(axis=1) & (states != table[0])
    return tuple(
        Reachable(
            tuple(np.unique(states[there[:, at]]).tolist()),
            tuple(np.unique(np.append(states[there[:, at] & together], single[at])).tolist()),
        )
        for at in range(len(flags))
    )


def _updated(
    machine: Machine, findings: Sequence[Finding], rates: Rates
) -> tuple[tuple[Source, ...], tuple[Unknown, ...], Floats, Floats]:
    """Update the rates of sources, unknown chains and private causes ([cell] dead, stuck) by findings."""
    dead, stuck = machine.single_dead.copy(), machine.single_stuck.copy()
    if not findings:
        return machine.sources, machine.unknown, dead, stuck
    cells = _named_cells(machine, findings, rates)
    breaks = [
        Candidate(FaultClass.BREAK, None, (machine.lines[one.line],), (), rate=one.rate) for one in machine.unknown
    ]
    members = [member for source in machine.sources for member in source.members]
    moved = updated_priors(machine.layout, (*members, *breaks, *cells), findings, rates)
    left = iter(moved)
    sources = tuple(source._replace(members=tuple(next(left) for _ in source.members)) for source in machine.sources)
    unknown = tuple(one._replace(rate=next(left).rate) for one in machine.unknown)
    for before, after in zip(cells, left, strict=True):
        chances = dead if before.fault_class in DEAD_CELL else stuck
        if before.fault_class in DEAD_CELL or before.fault_class is FaultClass.DEVICE_STUCK:
            chances[machine.place[before.cells[0]]] += after.rate - before.rate
    return sources, unknown, dead, stuck


def _named_cells(machine: Machine, findings: Sequence[Finding], rates: Rates) -> list[Candidate]:
    """List the private faults of the cells that findings name."""
    first = machine.layout.matrices[0].id if machine.layout.matrices else ""
    keys: dict[CellKey, None] = {}
    for finding in findings:
        for place in finding.places:
            key = parse_cell(place, first)
            if key in machine.place:
                keys[key] = None
    found = []
    for key in keys:
        matrix = machine.layout.matrix(key.matrix)
        chances = cell_rates(matrix.by_key[key], rates)
        possible = private_classes(matrix.has_diodes)
        found += [Candidate(one, None, (), (key,), rate=chances[one]) for one in possible]
    return found


def _with_own(private: Private, own: Own, chances: Floats, lone: Floats) -> Private:
    """Add to the chances of private causes what shows as one cell dead or stuck.

    `lone[cell]`: the chance that a break of an unknown chain takes just this one. The causes of a device rule each
    other out; all others are there or not whatever the rest is.
    """
    dead, stuck = private
    neither = np.maximum(1 - dead - stuck, 1 - LIKELIEST)
    unlikely = -np.log1p(-np.minimum(chances[own.source], LIKELIEST))
    count = len(dead)
    more = [np.bincount(own.cell[its], unlikely[its], count) for its in (~own.stuck, own.stuck)]
    odds_dead = np.expm1(np.log1p(dead / neither) + more[0] - np.log1p(-np.minimum(lone, LIKELIEST)))
    odds_stuck = np.expm1(np.log1p(stuck / neither) + more[1])
    every = 1 + odds_dead + odds_stuck
    return Private(np.minimum(odds_dead / every, LIKELIEST), np.minimum(odds_stuck / every, LIKELIEST))


def _shown_by(machine: Machine, marks: Marks) -> tuple[Ints, Ints]:
    """Count in how many tested cells each source shows by itself, and find the last of these: [source] both."""
    pieces = machine.pieces
    shows = pieces.shows[:, machine.site] & marks.tested
    count = len(machine.cells)
    step = (count + 1) * machine.chains.shape[1]
    summed = tails(machine.inwards, shows * (step + np.arange(1, count + 1)))[pieces.row, pieces.end]
    each, sums = np.divmod(summed, step)
    cells = np.bincount(pieces.owner, each, len(machine.sources))
    alone = np.where(each == 1, sums - 1, -1).astype(np.int64)
    last = np.full(len(machine.sources), -1)
    np.maximum.at(last, pieces.owner, alone)
    first = np.full(len(machine.sources), count)
    np.minimum.at(first, pieces.owner, np.where(each == 1, alone, count))
    once = (cells == 2) & (first == last) & (np.bincount(pieces.owner, each == 1, len(machine.sources)) == 2)
    return np.where(once, 1, cells).astype(np.int64), last


def _own(machine: Machine, count: Ints, alone: Ints) -> Own:
    """Find the sources that show as one dead or one stuck cell."""
    there = np.flatnonzero(count == 1)
    cell = alone[there]
    pieces = machine.pieces
    piece = np.searchsorted(pieces.owner, there)
    states = pieces.states[pieces.flag[piece], machine.site[cell]]
    for at in np.flatnonzero(pieces.owner[np.minimum(piece + 1, len(pieces.owner) - 1)] == there).tolist():
        code = _flags_at(machine, int(there[at]), int(cell[at]))
        states[at] = effects(machine.sites[machine.site[cell[at]]])[code]
    looks = APPEARANCE[states]
    healthy = np.array([effects(site)[0] for site in machine.sites], dtype=np.int64)[machine.site[cell]]
    # A stuck coil is on at rest only where its line is fed.
    plain = (looks == DEAD_LOOK) | ((looks == STUCK_LOOK) & FED_AT_REST[healthy])
    return Own(there[plain], cell[plain], looks[plain] == STUCK_LOOK)


def _flags_at(machine: Machine, source: int, cell: int) -> int:
    """Join the flags that a source sets upon one of its cells."""
    pieces = machine.sources[source].pieces
    if len(pieces) == 1:
        return pieces[0][1]
    code = 0
    for piece in pieces:
        code |= piece[1] if cell in machine.cells_of(piece) else 0
    return code


def _lengths(machine: Machine, marks: Marks) -> tuple[list[int], list[int]]:
    """Count for each unknown chain how many cells it has, and how many of them are untested."""
    lengths = [int(machine.lengths[one.line]) for one in machine.unknown]
    untested = [int((~marks.tested[machine.cells_of((one.line, 0, 0))]).sum()) for one in machine.unknown]
    return lengths, untested
