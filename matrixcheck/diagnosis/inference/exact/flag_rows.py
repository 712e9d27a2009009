"""What cells may be worth under each code of flags; codes that may do the same count as one row."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.inference.exact.cell_states import Site, effects
from matrixcheck.diagnosis.inference.exact.problem import Problem, Reachable, reachable
from matrixcheck.diagnosis.machine.matrix_frame import Floats, Ints


class FlagRows(NamedTuple):
    """Flags by rows: those that may do the same count as one.

    `of_flag[flag]`: its row. `reachable[row][site]`: the states that cells may be in. `alone[row, site]`: the state
    when nothing else is flagged.
    """

    of_flag: Ints
    reachable: tuple[tuple[Reachable, ...], ...]
    alone: Ints


@cache
def flag_rows(sites: tuple[Site, ...], flags: tuple[int, ...]) -> FlagRows:
    """Group codes of flags that may do the same at all of these sites."""
    by_site = [reachable(site, flags) for site in sites]
    tables = [effects(site) for site in sites]
    same = [
        (tuple(one[at] for one in by_site), tuple(int(table[flag]) for table in tables))
        for at, flag in enumerate(flags)
    ]
    rows = list(dict.fromkeys(same))
    return FlagRows(
        np.array([rows.index(one) for one in same], dtype=np.int64),
        tuple(by_site for by_site, _ in rows),
        np.array([alone for _, alone in rows], dtype=np.int64).reshape(len(rows), len(sites)),
    )


class RowGains:
    """What cells may be worth under flags, worked out once for each combination of flags."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.known: dict[tuple[tuple[Reachable, ...], ...], tuple[Floats, Floats]] = {}

    def of(self, rows: FlagRows) -> tuple[Floats, Floats]:
        """Give what a cell may be worth when flagged so, and what of that the flag is credited: [row, cell] both."""
        if rows.reachable not in self.known:
            self.known[rows.reachable] = self._worked_out(rows)
        return self.known[rows.reachable]

    def _worked_out(self, rows: FlagRows) -> tuple[Floats, Floats]:
        problem, machine = self.problem, self.problem.machine
        found = np.zeros((2, len(rows.reachable), len(machine.cells)))
        for number in range(len(machine.sites)):
            cells = np.flatnonzero((machine.site == number) & problem.marks.tested)
            gains = np.ascontiguousarray(problem.gains[cells].T)
            best: dict[tuple[int, ...], Floats] = {}
            for row, of_site in enumerate(rows.reachable):
                for which, states in enumerate(of_site[number]):
                    if states not in best:
                        best[states] = np.maximum.reduce([gains[state] for state in states])
                    found[which, row, cells] = best[states]
        return found[0], found[1]
