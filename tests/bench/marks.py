"""Machines whose faults are drawn from the shipped rates, with dead and working marks alone.

Nobody wrote down what answered instead: each shared fault drawn (open, unplugged, a break, a blown fuse, two lines
crossed) takes out its cells, and each cell may be dead by itself. This is the setting in which exact inference is
possible, which shows how much a search gives away.
"""

from __future__ import annotations

import gc
import random
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log, log1p
from typing import Any

from matrixcheck.diagnosis.diagnose import SEARCH
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.problem import problem_of
from matrixcheck.diagnosis.inference.exact.solve import search_sets
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL
from matrixcheck.diagnosis.machine.priors import cell_rates, shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.layouts import draw_bank, layout_text
from tests.spice.bank import Bank

KILLING = (FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.BREAK, FaultClass.FUSE_BLOWN, FaultClass.CROSSED)
WRONG = shipped_rates().reading.wrong_mark
LAYOUTS = 1000
"""Machines are drawn of so many layouts: with few of them, the same hidden chains would come back again and again."""
Cover = frozenset[CellKey]


@dataclass(frozen=True)
class Marked:
    """One machine: its layout, the marks made, and the tested cells that each shared fault takes out."""

    layout: Layout
    marks: Mapping[CellKey, bool]
    truth: frozenset[Cover]

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The marks as readings."""
        return tuple(
            Reading(matrix=cell.matrix, cell=cell, mark=Mark.DEAD if dead else Mark.WORKING)
            for cell, dead in self.marks.items()
        )


@lru_cache(maxsize=32)
def drawn_layout(seed: str, size: int, known: bool) -> tuple[Bank, Layout, tuple[Candidate, ...]]:
    """A full bank of lamps of `size` by `size`, its layout (chains known or not) and its killing faults, breaks of the
    true chains among them."""
    bank = draw_bank(random.Random(seed), "lamp", (size, size))
    full = parse_layout(layout_text(bank, frozenset(bank.lines)), seed)
    layout = full if known else parse_layout(layout_text(bank, frozenset()), seed)
    return bank, layout, tuple(each for each in candidates(full) if each.fault_class in KILLING)


def draw_marked(seed: str, size: int = 8, known: bool = True, shared: int | None = None) -> Marked:
    """The machine of a seed: faults by their rates (or exactly `shared` of them, by the same rates), up to 30 % of the
    cells untested, one mark in a hundred wrong."""
    rng = random.Random(seed)
    _, layout, pool = drawn_layout(f"{rng.randrange(LAYOUTS)}", size, known)
    if shared is None:
        there = [each for each in pool if rng.random() < each.rate]
    else:
        there = rng.choices(pool, weights=[each.rate for each in pool], k=shared)
    lost = {cell for each in there for cell in each.cells}
    own = _own_rate(layout)
    leave_out = rng.uniform(0, 0.3)
    marks = {}
    for cell in layout.matrices[0].fitted:
        dead = cell.key in lost or rng.random() < own
        if rng.random() >= leave_out:
            marks[cell.key] = dead != (rng.random() < WRONG)
    covers = {cover for each in there if len(cover := frozenset(each.cells).intersection(marks)) > 1}
    return Marked(layout, marks, frozenset(covers))


Group = frozenset[Cover]
"""The covers of one suspect's members: any of them may be meant."""


def right(truth: frozenset[Cover], named: Iterable[Cover]) -> bool:
    """Whether an explanation names what happened: nothing that was not there, and everything that shows.

    A fault whose cells others take out as well leaves no trace and need not be named; one that takes out a single
    tested cell is that cell's own affair.
    """
    return right_groups(truth, [frozenset({cover}) for cover in named])


def right_groups(truth: frozenset[Cover], named: Sequence[Group]) -> bool:
    """The same for suspects that are ambiguity groups: each must hold something that was there, unless it may be a
    cell's own affair, and everything that shows must be held by one of them."""
    shows = {cover for cover in truth if cover - frozenset().union(*(other for other in truth if other != cover))}
    shared = [group for group in named if all(len(cover) > 1 for cover in group)]
    return all(group & truth for group in shared) and shows <= frozenset().union(*named)


def groups_of(answer: Mapping[str, Any], suspects: Iterable[str], tested: Iterable[CellKey]) -> list[Group]:
    """For each suspect of an explanation, the tested cells that each of its members takes out."""
    cells = {str(cell): cell for cell in tested}
    named = {suspect["id"]: suspect for suspect in answer["suspects"]}
    return [
        frozenset(
            frozenset(cells[cell] for cell in member["cells"] if cell in cells) for member in named[suspect]["members"]
        )
        for suspect in suspects
    ]


def seconds_of_search(machine: Marked, times: int = 5) -> float:
    """Time the search for the most probable sets by itself, in seconds of the processor, the layout prepared before.

    The shortest of a few runs, as Python's `timeit` advises: the first ones after another program wait for memory.
    """
    prepared, readings, rates = machine_of(machine.layout), machine.readings, shipped_rates()
    taken = []
    gc.freeze()  # as in `diagnosis.py`
    for _ in range(times):
        started = time.process_time()
        search_sets(problem_of(prepared, readings, (), rates), Work(SEARCH))
        taken.append(time.process_time() - started)
    gc.unfreeze()
    return min(taken)


def _own_rate(layout: Layout) -> float:
    rates = cell_rates(layout.matrices[0].fitted[0], shipped_rates())
    alive = 1.0
    for fault_class in DEAD_CELL:
        alive *= 1 - rates[fault_class]
    return 1 - alive


@dataclass(frozen=True)
class Model:
    """The dead/working model of one machine: merged faults with their log odds, and what each mark costs."""

    covers: tuple[Cover, ...]
    odds: tuple[float, ...]
    alive: Mapping[CellKey, float]
    lost: Mapping[CellKey, float]


def model_of(machine: Marked) -> Model:
    """Faults that take out the same tested cells are one; each mark has a log likelihood if its cell is lost to a
    shared fault (`lost`) and if it is not (`alive`)."""
    merged: dict[Cover, float] = {}
    for each in candidates(machine.layout):
        cover = frozenset(each.cells).intersection(machine.marks)
        if each.fault_class in KILLING and len(cover) > 1:
            merged[cover] = 1 - (1 - merged.get(cover, 0.0)) * (1 - each.rate)
    own = _own_rate(machine.layout)
    dark = own * (1 - WRONG) + (1 - own) * WRONG
    return Model(
        tuple(merged),
        tuple(log(rate) - log1p(-rate) for rate in merged.values()),
        {cell: log(dark) if dead else log1p(-dark) for cell, dead in machine.marks.items()},
        {cell: log1p(-WRONG) if dead else log(WRONG) for cell, dead in machine.marks.items()},
    )
