"""Marks of a machine as a problem: what every cell gains in every state, and at what odds faults are shared.

What would show as one dead or one stuck cell alone is a private cause of that cell; what shows nowhere leaves the
problem, its chance what it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.faults import DEAD_CELL, PRIVATE, Candidate
from matrixcheck.diagnosis.findings import heed
from matrixcheck.diagnosis.frame import Bools, Floats, Ints
from matrixcheck.diagnosis.marks.chains import lone_share, shares
from matrixcheck.diagnosis.marks.flags import NOT, ON, STATES, Site, effects
from matrixcheck.diagnosis.marks.machine import Machine, Source, Unknown, chances_of
from matrixcheck.diagnosis.marks.weights import Marks, Weights, marks_of_cells, weights_of
from matrixcheck.diagnosis.rates import Rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey, parse_cell
from matrixcheck.layout.reading import Finding, Reading

LIKELIEST = 0.95
"""No private cause is taken for likelier than this before anything was read."""


class Problem(NamedTuple):
    """`sources`, `unknown`: the machine's, at the rates that findings leave them; `chances`, `log_odds`, `crosses`: of
    each source. `dead`, `stuck`: chances of private causes by cell; `own`: the sources among them, by cell and whether
    it is stuck. `base[cell]`: the state without faults; `gains[cell, state]`: log-likelihood against that.
    `visible`: the sources that are shared and show. `loose[n]`: a break of the n-th unknown chain may be and show;
    `loose_odds`, `loose_shares` of each."""

    machine: Machine
    marks: Marks
    weights: Weights
    sources: tuple[Source, ...]
    unknown: tuple[Unknown, ...]
    chances: Floats
    log_odds: Floats
    crosses: Bools
    dead: Floats
    stuck: Floats
    own: dict[tuple[int, bool], tuple[int, ...]]
    base: Ints
    gains: Floats
    visible: Ints
    loose: Bools
    loose_odds: Floats
    loose_shares: tuple[tuple[float, ...], ...]


def problem_of(machine: Machine, readings: Sequence[Reading], findings: Sequence[Finding], rates: Rates) -> Problem:
    """The problem that marks alone of a machine pose."""
    marks = marks_of_cells(machine, readings, rates)
    sources, unknown, dead, stuck = _heeded(machine, findings, rates)
    chances = chances_of(sources) if findings else machine.chances
    base = np.array([int(effects(site)[0]) for site in machine.sites], dtype=np.int64)[machine.site]
    count, alone = _shown_by(machine, marks, base)
    own = _own(machine, count, alone)
    for (cell, is_stuck), there in own.items():
        (stuck if is_stuck else dead)[cell] += chances[list(there)].sum()
    lengths, untested = _lengths(machine, marks)
    for one, length, left in zip(unknown, lengths, untested, strict=True):
        cells = machine.cells_of((one.line, 0, 0))
        dead[cells[marks.tested[cells]]] += one.rate * lone_share(length, left)
    dead, stuck = np.minimum(dead, LIKELIEST), np.minimum(stuck, LIKELIEST)
    weights = weights_of(marks, dead, stuck)
    seen = count > 0
    seen[[at for there in own.values() for at in there]] = False
    return Problem(
        machine,
        marks,
        weights,
        sources,
        unknown,
        chances,
        log_odds_of(chances),
        machine.crosses,
        dead,
        stuck,
        own,
        base,
        weights.joint - np.take_along_axis(weights.joint, base[:, None], axis=1),
        np.flatnonzero(seen),
        np.array([length - left > 1 for length, left in zip(lengths, untested, strict=True)], dtype=bool),
        log_odds_of(np.array([one.rate for one in unknown])),
        tuple(shares(length, left) for length, left in zip(lengths, untested, strict=True)),
    )


def log_odds_of(chances: Floats) -> Floats:
    """log(p / (1 - p)) of each chance, kept off 0 and 1."""
    kept = np.clip(chances, 1e-12, 1 - 1e-6)
    found: Floats = np.log(kept) - np.log1p(-kept)
    return found


def tails(machine: Machine, values: Floats) -> Floats:
    """[.., line, n]: the sum of [.., cell] values over the cells of a line from the n-th on."""
    padded = np.concatenate([values, np.zeros((*values.shape[:-1], 1))], axis=-1)
    along = padded[..., machine.chains]
    found = np.zeros((*along.shape[:-1], along.shape[-1] + 1))
    found[..., :-1] = along[..., ::-1].cumsum(axis=-1)[..., ::-1]
    return found


@cache
def claims(site: Site, flags: tuple[int, ...]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each flag [flag, state]: the states that a cell flagged so may be in, whichever others of the flags join it;
    and those of them that it may be thanked for: its own, and what no flag of a set brings about by itself."""
    table = effects(site)
    codes, masks = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    for at, flag in enumerate(flags):
        codes, masks = np.concatenate([codes, codes | flag]), np.concatenate([masks, masks | 1 << at])
    states, single = table[codes], table[list(flags)]
    there = (masks[:, None] >> np.arange(len(flags))) & 1 > 0
    together = ~(there & (single == states[:, None])).any(axis=1) & (states != table[0])
    reach, thanks = np.zeros((len(flags), STATES), dtype=bool), np.zeros((len(flags), STATES), dtype=bool)
    for at in range(len(flags)):
        reach[at, states[there[:, at]]] = True
        thanks[at, states[there[:, at] & together]] = True
        thanks[at, single[at]] = True
    return reach, thanks


def _heeded(
    machine: Machine, findings: Sequence[Finding], rates: Rates
) -> tuple[tuple[Source, ...], tuple[Unknown, ...], Floats, Floats]:
    """Sources, unknown chains and private chances at the rates that findings leave them."""
    dead, stuck = machine.single_dead.copy(), machine.single_stuck.copy()
    if not findings:
        return machine.sources, machine.unknown, dead, stuck
    cells = _named_cells(machine, findings, rates)
    breaks = [
        Candidate(FaultClass.BREAK, None, (machine.lines[one.line],), (), rate=one.rate) for one in machine.unknown
    ]
    members = [member for source in machine.sources for member in source.members]
    moved = heed(machine.layout, (*members, *breaks, *cells), findings)
    left = iter(moved)
    sources = tuple(source._replace(members=tuple(next(left) for _ in source.members)) for source in machine.sources)
    unknown = tuple(one._replace(rate=next(left).rate) for one in machine.unknown)
    for before, after in zip(cells, left, strict=True):
        chances = dead if before.fault_class in DEAD_CELL else stuck
        if before.fault_class in DEAD_CELL or before.fault_class is FaultClass.DEVICE_STUCK:
            chances[machine.place[before.cells[0]]] += after.rate - before.rate
    return sources, unknown, dead, stuck


def _named_cells(machine: Machine, findings: Sequence[Finding], rates: Rates) -> list[Candidate]:
    """The private faults of the cells that findings name."""
    first = machine.layout.matrices[0].id if machine.layout.matrices else ""
    keys: dict[CellKey, None] = {}
    for finding in findings:
        key = parse_cell(finding.place, first)
        if key in machine.place:
            keys[key] = None
    found = []
    for key in keys:
        matrix = machine.layout.matrix(key.matrix)
        chances = rates.cell[matrix.kind.value]
        found += [
            Candidate(one, None, (), (key,), rate=chances[one])
            for one in PRIVATE
            if matrix.has_diodes or not one.startswith("diode")
        ]
    return found


def _shown_by(machine: Machine, marks: Marks, base: Ints) -> tuple[Ints, Ints]:
    """In how many tested cells each source shows by itself, and the last of these cells."""
    pieces = machine.pieces
    states = pieces.states[:, machine.site]
    shows = (states // 2 != base // 2) & marks.tested
    among = pieces.flag, pieces.line, pieces.start
    each = tails(machine, shows.astype(np.float64))[among]
    sums = tails(machine, shows * np.arange(1.0, len(base) + 1))[among]
    count = np.bincount(pieces.owner, each, len(machine.sources))
    alone = np.where(each == 1, sums - 1, -1).astype(np.int64)
    last = np.full(len(machine.sources), -1)
    np.maximum.at(last, pieces.owner, alone)
    first = np.full(len(machine.sources), len(base))
    np.minimum.at(first, pieces.owner, np.where(each == 1, alone, len(base)))
    once = (count == 2) & (first == last) & (np.bincount(pieces.owner, each == 1, len(machine.sources)) == 2)
    return np.where(once, 1, count).astype(np.int64), last


def _own(machine: Machine, count: Ints, alone: Ints) -> dict[tuple[int, bool], tuple[int, ...]]:
    """The sources that show as one dead or one stuck cell, by cell and whether it is stuck."""
    found: dict[tuple[int, bool], list[int]] = {}
    for at in np.flatnonzero(count == 1).tolist():
        cell = int(alone[at])
        site = machine.sites[machine.site[cell]]
        code = _flags_at(machine, at, cell)
        state = int(effects(site)[code])
        shown = state // 6, state // 2 % 3
        if shown in ((NOT, NOT), (ON, ON)):
            found.setdefault((cell, shown == (ON, ON)), []).append(at)
    return {key: tuple(there) for key, there in found.items()}


def _flags_at(machine: Machine, source: int, cell: int) -> int:
    """The flags that a source sets upon one of its cells."""
    pieces = machine.sources[source].pieces
    if len(pieces) == 1:
        return pieces[0][1]
    code = 0
    for piece in pieces:
        code |= piece[1] if cell in machine.cells_of(piece) else 0
    return code


def _lengths(machine: Machine, marks: Marks) -> tuple[list[int], list[int]]:
    """For each unknown chain: how many cells it has, and how many of them are untested."""
    lengths = [int(machine.lengths[one.line]) for one in machine.unknown]
    untested = [int((~marks.tested[machine.cells_of((one.line, 0, 0))]).sum()) for one in machine.unknown]
    return lengths, untested
