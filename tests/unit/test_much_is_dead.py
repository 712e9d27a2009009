"""A plug that is off, and many lines dead at once: the commonest faults of all get an answer that names all of them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import chain, combinations
from math import inf, log

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.inference.exact.components import Component, components_of
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import WeightedSet
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.problem import Problem, problem_of
from matrixcheck.diagnosis.inference.exact.screening import screen
from matrixcheck.diagnosis.inference.exact.subset_sums import shares
from matrixcheck.diagnosis.inference.exact.ways import ways_of
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Ints
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.layout.designators import CONNECTORS
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.machines import saltmarsh_tram, shipped_layout
from tests.samples import some_of
from tests.unit.soundness import flaws_of

TRAM = saltmarsh_tram()


def marked(layout: Layout, dead: set[CellKey], rest: bool) -> list[Reading]:
    """The dead cells, and with `rest` all others of the same matrices as working."""
    return [
        Reading(matrix=cell.key.matrix, cell=cell.key, mark=Mark.DEAD if cell.key in dead else Mark.WORKING)
        for matrix in layout.matrices
        for cell in matrix.fitted
        if cell.key in dead or (rest and any(key.matrix == matrix.id for key in dead))
    ]


@pytest.mark.parametrize(
    ("name", "side", "count", "rest"),
    [
        ("switch-8x8", "column", 5, False),
        pytest.param("switch-8x8", "column", 7, True, marks=pytest.mark.slow),
        pytest.param("switch-8x8", "row", 7, True, marks=pytest.mark.slow),
        ("lamp-8x8", "row", 6, True),
    ],
)
def test_many_dead_lines_of_unknown_chains_are_all_named_and_nothing_else(
    name: str, side: str, count: int, rest: bool
) -> None:
    layout = shipped_layout(name)
    dead = {cell.key for cell in layout.matrices[0].fitted if getattr(cell.key, side) <= count}
    readings = marked(layout, dead, rest)
    found = diagnose(layout, readings)
    assert flaws_of(found, readings) == []
    suspects = [found.suspect(name) for name in found.explanations[0].suspects]
    assert set().union(*(suspect.explains for suspect in suspects)) == dead
    assert not any(suspect.contradicts for suspect in suspects)
    lines = {line for suspect in suspects for line in suspect.members[0].lines}
    assert {(line.side, line.place) for line in lines} == {(side, place) for place in range(1, count + 1)}


def test_of_many_ways_that_are_as_likely_none_is_called_sure() -> None:
    """Eight dead columns may be crossed two by two in 105 ways, and as many rows likewise."""
    layout = shipped_layout("switch-8x8")
    found = diagnose(layout, marked(layout, {cell.key for cell in layout.matrices[0].fitted}, True))
    assert found.explanations[0].probability < 0.1
    assert flaws_of(found) == []
    assert all(found.suspect(name).probability < 0.5 for name in found.explanations[0].suspects)
    assert not found.searched.exact


PLUGS = [ref for ref in TRAM.lines_through if "-" not in ref and ref.rstrip("0123456789") in CONNECTORS]


@pytest.mark.parametrize(
    ("plug", "rest"),
    [
        # The rest is untested for one plug and works for the next: two of four plugs so, the others take longer.
        pytest.param(plug, rest, marks=[pytest.mark.slow] if rest is bool(number % 2) or number % 4 > 1 else [])
        for number, plug in enumerate(PLUGS)
        for rest in (False, True)
    ],
)
def test_a_pulled_plug_is_found(plug: str, rest: bool) -> None:
    """Where the rest was tested, the likeliest explanation names it; a fuse or a feed may have done as much else."""
    lines = TRAM.lines_through[plug]
    dead = {cell.key for line in lines for cell in TRAM.matrix(line.matrix).cells_of(line)}
    readings = marked(TRAM, dead, rest)
    found = diagnose(TRAM, readings)
    assert flaws_of(found, readings) == []
    suspects = [found.suspect(name) for name in found.explanations[0].suspects]
    assert set().union(*(suspect.explains for suspect in suspects)) == dead
    if rest:
        assert any(plug in {member.part for member in suspect.members} for suspect in suspects)


def bank(rows: int, columns: int) -> Layout:
    cells = [[f"cell {row} {column}" for column in range(columns)] for row in range(rows)]
    return layout_in({"format": 1, "name": "bank", "matrix": [{"id": "m", "kind": "switch", "cells": cells}]})


@pytest.mark.parametrize("seed", some_of(range(8), 3))
def test_the_likeliest_way_of_crossing_broken_lines_is_the_first(seed: int) -> None:
    """What several broken lines of unknown chains took, against every choice of cells."""
    rng = random.Random(f"broken lines {seed}")
    layout = bank(4, 3)
    readings = [
        Reading(matrix="m", cell=cell.key, mark=rng.choices((Mark.DEAD, Mark.WORKING), (5, 2))[0])
        for cell in layout.matrices[0].fitted
        if rng.random() < 0.9
    ]
    problem = problem_of(machine_of(layout), readings, (), shipped_rates())
    compared = 0
    for component in components_of(problem, screen(problem)):
        found = explore(component, Work(inf))
        for found_set in [found_set for found_set in found.sets if len(found_set.broken) > 1][:6]:
            (first, *_) = ways_of(problem, component, found._replace(sets=(found_set,)), Work(inf))
            likeliest = max(every_way(problem, component, found_set, found_set.code, found_set.broken))
            assert log(first.probability) + found.total == pytest.approx(found_set.base + likeliest, abs=1e-9, rel=0)
            compared += 1
    assert compared


def every_way(
    problem: Problem, component: Component, found_set: WeightedSet, code: Ints, numbers: Sequence[int]
) -> list[float]:
    """Log of the weight of every choice of cells, one line after the other: what one took, the next can't."""
    if not numbers:
        return [0.0]
    line = component.unknown[numbers[0]]
    left = [place for place in line.places if code[place] | line.bit != code[place]]
    count = int(problem.machine.lengths[problem.unknown[line.number].line])
    share = shares(count, count - len(line.places), len(line.places) - len(left))
    found = []
    for taken in chain.from_iterable(combinations(left, size) for size in range(len(left) + 1)):
        if share[len(taken)] > 0:
            after = code.copy()
            after[list(taken)] |= line.bit
            places = list(taken)
            gained = float((component.gains[places, after[places]] - component.gains[places, code[places]]).sum())
            rest = every_way(problem, component, found_set, after, numbers[1:])
            found += [log(share[len(taken)]) + gained + each for each in rest]
    return found or [-inf]
