"""The exact solver: marks alone of one region, from readings to weighted sets of the problem's items.

Each component of the marks is a solution of its own: its problem holds the evidence of its own cells and the candidates
that the search kept there. What is left, cells that no shared fault concerns, is one solution more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import log

import numpy as np

from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fuse, Setting
from matrixcheck.diagnosis.inference.candidate_classes import Item, chance_of
from matrixcheck.diagnosis.inference.candidate_weighing import problem_of
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.fault_sets import Found
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.problem import Problem as Marks
from matrixcheck.diagnosis.inference.exact.problem import problem_of as marks_of
from matrixcheck.diagnosis.inference.exact.solve import search_sets
from matrixcheck.diagnosis.inference.exact.ways import Cut, Way, ways_of
from matrixcheck.diagnosis.inference.likelihood import Fit, Private, Subject
from matrixcheck.diagnosis.inference.posterior import FaultSet, Posterior, Scored, Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.unknown_breaks import breaks_of
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, with_or_without_diodes
from matrixcheck.diagnosis.machine.priors import Rates, cell_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading

OWN = (*DEAD_CELL, FaultClass.DEVICE_STUCK)
NOTHING = 1e-4
"""Sets that together weigh less than this share of a component are left out of explanations. Halved or doubled: no
answer of 15 moves."""
FOR_NAMING = 0.5
"""A share of the work, besides what the search may use, for naming the cells that broken lines lost: a search that was
cut short has sets to name as well. Halved or doubled: no answer of 15 moves."""
FEW_SETS = 24
"""So many sets are kept in any case. Halved or doubled: no answer of 15 moves."""


def solve(
    layout: Layout,
    subjects: Sequence[Subject],
    readings: Sequence[Reading],
    findings: Sequence[Finding],
    *,
    rates: Rates,
    work: Work,
    fits: ByteStore[Fit] | None = None,
) -> tuple[Solution, ...]:
    """Find weighted fault sets of each component of the marks, and of the cells that are in none.

    The last solution bears the bound on what was not visited in all of them.
    """

    naming = work.part(FOR_NAMING)
    earlier = {subject.frame.matrix.id: subject.earlier for subject in subjects}
    marks = marks_of(machine_of(layout, rates, earlier), readings, findings, rates)
    searched = search_sets(marks, work)
    found = [
        _of_component(subjects, marks, component, sets, rates=rates, work=naming, fits=fits)
        for component, sets in searched.components
    ]
    if naming.over:
        work.spend(max(work.limit - work.spent, 0.0))
    left = marks.marks.tested.copy()
    for component, _ in searched.components:
        left[component.cells] = False
    rest = _posed(subjects, marks, np.flatnonzero(left), (), rates=rates, fits=fits)
    alone = Posterior((_scored(rest, frozenset(), 0.0),), (1 / (1 + searched.idle),))
    return (*found, Solution(rest, alone, min(searched.missing, 1.0), proven=True, bounded=True))


def _of_component(
    subjects: Sequence[Subject],
    marks: Marks,
    component: Component,
    sets: Found,
    *,
    rates: Rates,
    work: Work,
    fits: ByteStore[Fit] | None = None,
) -> Solution:
    ways = _likely(ways_of(marks, component, sets, work))
    sources = [source for members in component.members for source in members]
    cuts = dict.fromkeys(cut for way in ways for cut in way.cuts)
    pool = (
        *(marks.completed(member) for source in sources for member in marks.sources[source].members),
        *(each for cut in cuts for each in _breaks_of(marks, component, cut)),
    )
    problem = _posed(subjects, marks, component.cells, pool, rates=rates, fits=fits)
    return Solution(problem, _posterior(marks, component, problem, ways), 0.0, proven=True)


def _likely(ways: Sequence[Way]) -> tuple[Way, ...]:
    kept: list[Way] = []
    left = sum(way.probability for way in ways)
    for way in ways:
        if len(kept) >= FEW_SETS and left < NOTHING:
            break
        kept.append(way)
        left -= way.probability
    return tuple(kept)


def _posed(
    subjects: Sequence[Subject],
    marks: Marks,
    cells: Iterable[int],
    shared: Iterable[Candidate],
    *,
    rates: Rates,
    fits: ByteStore[Fit] | None,
) -> Problem:
    """Pose the problem of some of the cells, with these shared faults and every cell's own."""
    numbers = list(cells)
    keys = frozenset(marks.machine.cells[cell] for cell in numbers)
    matrices = {key.matrix for key in keys}
    within = tuple(subject.within(keys) for subject in subjects if subject.frame.matrix.id in matrices)
    own = (each for cell in numbers for each in _own(marks, cell, rates))
    problem = problem_of(within, (*shared, *own), fits=fits)
    private, shares = [], []
    for subject, lone in zip(within, problem.private, strict=True):
        dead, stuck = np.zeros(subject.frame.shape), np.zeros(subject.frame.shape)
        of_dead, of_stuck = np.ones(subject.frame.shape), np.ones(subject.frame.shape)
        for place, cell in subject.cells.items():
            number = marks.machine.place[cell.key]
            dead[place], stuck[place] = marks.dead[number], marks.stuck[number]
            of_dead[place] = _share(problem.dead.get(cell.key), lone.dead[place], dead[place], stuck[place])
            of_stuck[place] = _share(problem.stuck.get(cell.key), lone.stuck[place], stuck[place], dead[place])
        private.append(Private(dead, stuck))
        shares.append(Private(of_dead, of_stuck))
    tested = frozenset(marks.machine.cells[cell] for cell in np.flatnonzero(marks.marks.tested))
    return problem._replace(private=tuple(private), shares=tuple(shares), tested=tested)


def _share(item: Item | None, lone: float, whole: float, other: float) -> float:
    """Return the share of the chance that a cell is dead, or stuck, that the beam would count as the cell's own.

    `whole`: that chance, counting all that shows as this one cell. `item`: what a reading asks for of all that; where
    none does, the cell's own faults count alone, at the rate `lone`. `other`: the chance of the reverse, which rules it
    out.
    """
    chance = chance_of(item.weight) if item else lone
    return min(chance * (1 - other) / whole, 1.0) if whole else 1.0


def _own(marks: Marks, cell: int, rates: Rates) -> Iterator[Candidate]:
    """List what shows as this one cell dead, or stuck."""
    key = marks.machine.cells[cell]
    matrix = marks.machine.layout.matrix(key.matrix)
    chances = cell_rates(matrix.by_key[key], rates)
    for one in with_or_without_diodes(OWN, matrix.has_diodes):
        yield Candidate(one, None, (), (key,), rate=chances[one])
    for stuck in (False, True):
        for source in marks.own.of(cell, stuck):
            yield from (marks.completed(member) for member in marks.sources[source].members)
    for number, unknown in enumerate(marks.unknown):
        if cell in marks.machine.cells_of((unknown.line, 0, 0)):
            yield from _breaks_taking(marks, number, [cell])


def _breaks_of(marks: Marks, component: Component, cut: Cut) -> Iterator[Candidate]:
    number, places = cut
    yield from _breaks_taking(
        marks, component.unknown[number].number, [int(component.cells[place]) for place in places]
    )


def _breaks_taking(marks: Marks, number: int, lost: Sequence[int]) -> Iterator[Candidate]:
    """Yield the breaks of an unknown chain that take these tested cells, one for each count of cells before them."""
    machine, unknown = marks.machine, marks.unknown[number]
    cells = machine.cells_of((unknown.line, 0, 0))
    hidden = frozenset(machine.cells[cell] for cell in cells[~marks.marks.tested[cells]].tolist())
    cut = frozenset(machine.cells[cell] for cell in lost)
    yield from breaks_of(machine.lines[unknown.line], cut, len(cells), hidden, unknown.rate)


def _posterior(marks: Marks, component: Component, problem: Problem, ways: Sequence[Way]) -> Posterior:
    """Turn ways into sets of the problem's items; an item that the problem lacks changes nothing that was read."""
    number = _numbers(problem)
    of_item = [_number_of(marks, number, members) for members in component.members]
    of_cut: dict[Cut, int | None] = {}
    chances: dict[FaultSet, float] = {}
    hidden: dict[FaultSet, FaultSet] = {}
    for way in ways:
        for cut in way.cuts:
            if cut not in of_cut:
                of_cut[cut] = _first(number, (_key(each, USUAL) for each in _breaks_of(marks, component, cut)))
        named = (*(of_item[item] for item in way.items), *(of_cut[cut] for cut in way.cuts))
        faults = frozenset(one for one in named if one is not None)
        chances[faults] = chances.get(faults, 0.0) + way.probability
        hidden.setdefault(faults, frozenset(one for item in way.free if (one := of_item[item]) is not None))
    ranked = sorted(chances, key=lambda faults: (-chances[faults], len(faults), sorted(faults)))
    return Posterior(
        tuple(_scored(problem, faults, log(max(chances[faults], 1e-300))) for faults in ranked),
        tuple(chances[faults] for faults in ranked),
        tuple(hidden[faults] - faults for faults in ranked),
    )


Key = tuple[Candidate, bool, frozenset[str]]
"""A candidate without its rate, whether it took its fuse with it before anything was read, and which matrices were read
before it did."""


def _key(member: Candidate, setting: Setting) -> Key:
    return member._replace(rate=0.0), setting.fuse is Fuse.GONE, setting.spared


def _numbers(problem: Problem) -> dict[Key, int]:
    found: dict[Key, int] = {}
    for index, item in enumerate(problem.items):
        for member in item.members:
            found.setdefault(_key(member, item.setting), index)
    return found


def _number_of(marks: Marks, number: dict[Key, int], members: Sequence[int]) -> int | None:
    """Find the problem's item of the likeliest of these sources."""
    ranked = sorted(members, key=lambda source: -marks.chances[source])
    return _first(
        number,
        (
            _key(marks.completed(member), marks.sources[source].fitting(member).setting)
            for source in ranked
            for member in marks.sources[source].members
        ),
    )


def _first(number: dict[Key, int], keys: Iterable[Key]) -> int | None:
    return next((one for key in keys if (one := number.get(key)) is not None), None)


def _scored(problem: Problem, faults: FaultSet, score: float) -> Scored:
    fits = problem.fits_of(faults)
    shows = tuple(fit.differs.digest for fit in fits)
    return Scored(faults, tuple(sorted(faults)), score, sum(fit.bare for fit in fits), shows)
