"""Shared faults that have cells in common, laid out so that a set of them is scored by a few look-ups.

Flags that do the same to all cells of a component count as one, so that a cell's state is one of a few and what it
gains stands in a small table.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence import DARK, FAINT, LIT
from matrixcheck.diagnosis.frame import Bools, Floats, Ints, States
from matrixcheck.diagnosis.marks.flags import GLOWS, ON, alike, effects
from matrixcheck.diagnosis.marks.problem import Problem, log_odds_of
from matrixcheck.diagnosis.marks.sieve import Sieved
from matrixcheck.diagnosis.marks.weights import EXERCISED, RESTING


class LooseLine(NamedTuple):
    """A line of unknown chain. `number`: of the machine's unknown ones; `places`: its tested cells in the component;
    `bit`: what a break does to them; `share`: the chance of one subset, by its size."""

    number: int
    places: tuple[int, ...]
    bit: int
    share: tuple[float, ...]
    odds: float


class Component(NamedTuple):
    """`cells[place]`: the machine's number of each cell. `gains[place, code]`: log-likelihood against no shared fault;
    `best`: the most that it may come to with more flags. `states`, `shown` [place, code]: the cell's state, and what of
    it marks can tell.

    `codes[item, place]`: what each item does, `flags`: as the machine has it; `odds[item]`; `members[item]`: the
    sources that do the same. Larger items come first. `clash[item, item]`: two crossings of one line.
    `group[item]`: of items of one group no two are kept together, as they clash or the larger makes the other idle.
    `loose`: lines of unknown chain.
    """

    cells: Ints
    gains: Floats
    best: Floats
    states: States
    shown: States
    codes: Ints
    flags: Ints
    odds: Floats
    members: tuple[tuple[int, ...], ...]
    clash: Bools
    group: Ints
    loose: tuple[LooseLine, ...]

    def states_of(self, code: Ints) -> Ints:
        """The state of every cell where they are in these."""
        found: Ints = self.states[np.arange(len(code)), code].astype(np.int64)
        return found


def components_of(problem: Problem, sieved: Sieved) -> tuple[Component, ...]:
    """The faults that are left, parted into those that have no tested cell in common."""
    flagged = [_flagged(problem, at) for at in sieved.sources.tolist()]
    on_lines = [_on_line(problem, at) for at in sieved.unknown.tolist()]
    labels = _labels([*(cells for cells, _ in flagged), *on_lines], len(problem.machine.cells))
    found = []
    for label in dict.fromkeys(labels):
        sources = [at for at in range(len(flagged)) if labels[at] == label]
        loose = [at for at in range(len(on_lines)) if labels[len(flagged) + at] == label]
        found.append(
            _component(
                problem,
                [(int(sieved.sources[at]), *flagged[at]) for at in sources],
                [(int(sieved.unknown[at]), on_lines[at]) for at in loose],
            )
        )
    return tuple(found)


def _flagged(problem: Problem, source: int) -> tuple[Ints, Ints]:
    """The tested cells that a source flags, and their flags."""
    machine = problem.machine
    pieces = problem.sources[source].pieces
    if len(pieces) == 1:
        cells = machine.cells_of(pieces[0])
        cells = cells[problem.marks.tested[cells]]
        return cells, np.full(len(cells), pieces[0][1], dtype=np.int64)
    codes = np.zeros(len(machine.cells), dtype=np.int64)
    for piece in pieces:
        codes[machine.cells_of(piece)] |= piece[1]
    codes[~problem.marks.tested] = 0
    cells = np.flatnonzero(codes)
    return cells, codes[cells]


def _on_line(problem: Problem, number: int) -> Ints:
    cells = problem.machine.cells_of((problem.unknown[number].line, 0, 0))
    return cells[problem.marks.tested[cells]]


def _labels(groups: Sequence[Ints], count: int) -> list[int]:
    """A label for each group of cells; those that have cells in common, over however many others, bear the same."""
    if not groups:
        return []
    lengths = [len(group) for group in groups]
    cells = np.concatenate(groups)
    starts = np.concatenate([[0], np.cumsum(lengths)[:-1]])
    labels = np.arange(len(groups))
    while True:
        lowest = np.full(count, len(groups))
        np.minimum.at(lowest, cells, np.repeat(labels, lengths))
        lower = np.minimum.reduceat(lowest[cells], starts)
        if (lower == labels).all():
            return [int(label) for label in labels]
        labels = lower


def _component(
    problem: Problem, items: Sequence[tuple[int, Ints, Ints]], loose: Sequence[tuple[int, Ints]]
) -> Component:
    machine = problem.machine
    cells = np.unique(np.concatenate([*(there for _, there, _ in items), *(there for _, there in loose)]))
    cuts = [problem.unknown[number].flag for number, _ in loose]
    atoms = _atoms([*(flags for _, _, flags in items), np.array(cuts, dtype=np.int64)])
    site = machine.site[cells]
    same = alike(tuple(machine.sites[at] for at in np.unique(site).tolist()), atoms)
    kept = [flag for flag in dict.fromkeys(same) if flag]
    bit_of = {flag: (1 << kept.index(one) if one else 0) for flag, one in zip(atoms, same, strict=True)}
    full = _full_codes(kept)
    tables = np.array([effects(one)[full] for one in machine.sites])
    states = tables[site]
    gains = problem.gains[cells[:, None], states]
    flagged = np.zeros((len(items), len(cells)), dtype=np.int64)
    if items:
        rows = np.repeat(np.arange(len(items)), [len(there) for _, there, _ in items])
        places = np.searchsorted(cells, np.concatenate([there for _, there, _ in items]))
        flagged[rows, places] = np.concatenate([flags for _, _, flags in items])
    codes = np.zeros_like(flagged)
    for flag, bit in bit_of.items():
        codes |= np.where(flagged & flag, bit, 0)
    merged = _alike(codes, flagged)
    first = [rows[0] for rows in merged]
    codes, flagged = codes[first], flagged[first]
    members = tuple(tuple(items[row][0] for row in rows) for rows in merged)
    chances = [min(sum(problem.chances[one] for one in there), 1.0) for there in members]
    order = sorted(range(len(codes)), key=lambda at: (-int((codes[at] > 0).sum()), -chances[at]))
    codes, flagged, members = codes[order], flagged[order], tuple(members[at] for at in order)
    lines = tuple(
        LooseLine(
            number,
            tuple(np.searchsorted(cells, there).tolist()),
            bit_of[problem.unknown[number].flag],
            problem.loose_shares[number],
            float(problem.loose_odds[number]),
        )
        for number, there in loose
    )
    clash = _clash(problem, members)
    return Component(
        cells,
        gains,
        _best(gains),
        states,
        _shown(problem, cells, states),
        codes,
        flagged,
        log_odds_of(np.array([chances[at] for at in order])),
        members,
        clash,
        _groups(codes, clash),
        lines,
    )


def _atoms(flags: Sequence[Ints]) -> tuple[int, ...]:
    every = int(np.bitwise_or.reduce(np.concatenate(flags))) if flags else 0
    return tuple(1 << at for at in range(every.bit_length()) if every & 1 << at)


def _full_codes(flags: Sequence[int]) -> Ints:
    """The machine's code for each of a component's."""
    found = np.zeros(1, dtype=np.int64)
    for flag in flags:
        found = np.concatenate([found, found | flag])
    return found


def _alike(codes: Ints, flags: Ints) -> list[list[int]]:
    """The rows that are the same in both, together; those that do nothing are left out."""
    found: dict[bytes, list[int]] = {}
    for row, (code, flag) in enumerate(zip(codes, flags, strict=True)):
        if code.any():
            found.setdefault(flag.tobytes(), []).append(row)
    return list(found.values())


def _best(gains: Floats) -> Floats:
    best = gains.copy()
    codes = np.arange(gains.shape[1])
    for code in codes[::-1].tolist():
        above = codes[(codes & code) == code]
        best[:, code] = gains[:, above].max(axis=1)
    return best


def _shown(problem: Problem, cells: Ints, states: Ints) -> States:
    """What shows in these states as far as marks can tell, a glow as it was seen where it may as well have been; 4
    times what it does when exercised, and what it does at rest."""
    told, seen = problem.marks.told[cells], problem.marks.seen[cells]
    found = []
    for which, shows in ((0, EXERCISED[states]), (1, RESTING[states])):
        might = told[:, which, GLOWS] > told[:, which, ON] - 1.0
        state = np.where(shows == GLOWS, FAINT, np.where(shows == ON, LIT, DARK))
        as_lit = (shows == GLOWS) & ((seen[:, which] == LIT) & might)[:, None]
        found.append(np.where(as_lit, LIT, state))
    shown: States = (found[0] * 4 + found[1]).astype(np.uint8)
    return shown


def _clash(problem: Problem, members: Sequence[tuple[int, ...]]) -> Bools:
    """Pairs of items that are nothing but crossings and have a line in common."""
    clash = np.zeros((len(members), len(members)), dtype=bool)
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
    """A number for each item, so that of those with the same one no two are kept together."""
    bits = range(int(codes.max(initial=0)).bit_length())
    each = np.concatenate([codes >> bit & 1 for bit in bits], axis=1).astype(np.float32) if bits else codes
    within = each @ each.T >= each.sum(axis=1)
    apart: Bools = clash | within | within.T
    found = np.zeros(len(codes), dtype=np.int64)
    fits = np.zeros((0, len(codes)), dtype=bool)
    for item in range(len(codes)):
        open_groups = np.flatnonzero(fits[:, item])
        if len(open_groups):
            number = int(open_groups[0])
        else:
            number = len(fits)
            fits = np.concatenate([fits, np.ones((1, len(codes)), dtype=bool)])
        found[item] = number
        fits[number] &= apart[item]
    return found
