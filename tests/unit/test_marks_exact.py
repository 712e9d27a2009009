"""Marks alone, exactly: against enumeration of all sets of faults, against pyAgrum, against CP-SAT's ten best sets, and
what no mark may do."""

from __future__ import annotations

import random
from itertools import combinations, product
from math import comb, exp, inf, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.noise import log_table
from matrixcheck.diagnosis.inference.exact.cell_likelihood import log_likelihoods
from matrixcheck.diagnosis.inference.exact.cell_states import effects
from matrixcheck.diagnosis.inference.exact.components import Component, components_of
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import Found, Tolerance
from matrixcheck.diagnosis.inference.exact.model import machine_of
from matrixcheck.diagnosis.inference.exact.problem import Problem, problem_of
from matrixcheck.diagnosis.inference.exact.screening import Screened, screen
from matrixcheck.diagnosis.inference.exact.solve import Searched, search_sets
from matrixcheck.diagnosis.inference.exact.sources import Source
from matrixcheck.diagnosis.inference.exact.subset_sums import Chain, likeliest, log_together, lone_share, shares
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.marks import Model, draw_marked
from tests.bench.others import ten_best
from tests.samples import some_of
from tests.unit.test_diagnosis_marks import bank, exact

EVERY = Tolerance(1e-13, 1e-13, 60.0)
NOTHING = np.zeros(0, dtype=np.int64)
SEEN = {0: Mark.WORKING, 1: Mark.DEAD, 2: Mark.STUCK, 3: Mark.UNTESTED}


def small(kind: str, rows: int, columns: int) -> Layout:
    """A bank without parts, its chains in the order of the lines."""
    matrix = {
        "id": "m",
        "kind": kind,
        "cells": [[f"cell {r} {c}" for c in range(columns)] for r in range(rows)],
        "column": [{"chain": [c * rows + r + 1 for r in range(rows)]} for c in range(columns)],
        "row": [{"chain": [c * rows + r + 1 for c in range(columns)]} for r in range(rows)],
    }
    return layout_in({"format": 1, "name": "small", "matrix": [matrix]})


def readings_of(layout: Layout, seen: tuple[int, ...]) -> list[Reading]:
    cells = layout.matrices[0].fitted
    return [Reading(matrix="m", cell=cell.key, mark=SEEN[one]) for cell, one in zip(cells, seen, strict=True)]


def posed(layout: Layout, seen: tuple[int, ...]) -> Problem:
    return problem_of(machine_of(layout), readings_of(layout, seen), (), shipped_rates())


def enumerated(problem: Problem) -> tuple[np.ndarray, np.ndarray]:
    """Every set of the visible sources in which no line is crossed twice: [set, source] and its log weight."""
    machine, sources = problem.machine, problem.visible.tolist()
    bits = (np.arange(1 << len(sources))[:, None] >> np.arange(len(sources))) & 1 > 0
    for a, b in combinations(range(len(sources)), 2):
        lines = [{line for line, _, _ in problem.sources[sources[at]].pieces} for at in (a, b)]
        if problem.crosses[sources[a]] and problem.crosses[sources[b]] and lines[0] & lines[1]:
            bits = bits[~(bits[:, a] & bits[:, b])]
    codes = np.zeros((len(bits), len(machine.cells)), dtype=np.int64)
    for at, source in enumerate(sources):
        for piece in problem.sources[source].pieces:
            for cell in machine.cells_of(piece).tolist():
                codes[:, cell] |= np.where(bits[:, at], piece[1], 0)
    tables = np.array([effects(machine.sites[site]) for site in machine.site])
    cells = np.arange(len(machine.cells))
    weight = problem.gains[cells, tables[cells, codes]].sum(axis=1) + bits @ problem.log_odds[problem.visible]
    return bits, weight


def everything(problem: Problem) -> list[tuple[Component, Found]]:
    """All of the problem's sources searched, whatever the screen would say."""
    whole = Screened(problem.visible, NOTHING, -inf, 0.0)
    return [(component, explore(component, Work(inf), EVERY)) for component in components_of(problem, whole)]


def marginals(searched: list[tuple[Component, Found]]) -> dict[tuple[int, ...], float]:
    """The chance of each item, by the sources that it stands for."""
    chances: dict[tuple[int, ...], float] = {}
    for component, found in searched:
        for item, sources in enumerate(component.members):
            own = 1 / (1 + exp(-component.odds[item]))
            chances[sources] = sum(
                exp(each.weight - found.total) * (1.0 if item in each.items else own if item in each.free else 0.0)
                for each in found.sets
            )
    return chances


@pytest.mark.parametrize(("kind", "columns"), [("switch", 3), ("lamp", 2)])
@pytest.mark.parametrize("seed", some_of(range(6), 3))
def test_marginals_equal_those_of_every_set_of_faults(kind: str, columns: int, seed: int) -> None:
    """All visible shared faults of a small bank, stuck and grounded lines and crossings among them: within 1e-9."""
    rng = random.Random(f"enumerated {kind} {seed}")
    layout = small(kind, 2, columns)
    problem = posed(layout, tuple(rng.choices((0, 1, 2, 3), (4, 5, 1, 1), k=2 * columns)))
    assert len(problem.visible) <= 18
    bits, weight = enumerated(problem)
    total = np.logaddexp.reduce(weight)
    searched = everything(problem)
    assert sum(found.total for _, found in searched) == pytest.approx(total, abs=1e-9, rel=0)
    order = problem.visible.tolist()
    for sources, ours in marginals(searched).items():
        there = bits[:, [order.index(source) for source in sources]].any(axis=1)
        assert ours == pytest.approx(float(np.exp(weight[there] - total).sum()), abs=1e-9, rel=0)


@pytest.mark.parametrize("dead", [{(1, 2), (2, 1)}, {(1, 1), (2, 2)}, {(1, 1), (1, 2), (2, 1)}, {(1, 1)}])
def test_marginals_equal_exact_inference_by_another_library(dead: set[tuple[int, int]]) -> None:
    """Open lines and dead cells of a 2x2 bank, against pyAgrum's lazy propagation, within 1e-9."""
    layout, rates = bank(2, 2), shipped_rates()
    pool = [
        one
        for one in candidates(layout, rates)
        if (one.fault_class is FaultClass.OPEN and one.part is None) or one.fault_class in DEAD_CELL
    ]
    private = sum(one.rate for one in pool if one.fault_class in DEAD_CELL and one.cells[0][1:] == (1, 1))
    cells = layout.matrices[0].fitted
    seen = tuple(1 if cell.key[1:] in dead else 0 for cell in cells)
    problem = posed(layout, seen)
    logs = log_likelihoods(problem.marks, np.full(4, private), np.zeros(4))
    gains = logs - np.take_along_axis(logs, problem.base[:, None], axis=1)
    wire = [at for at, source in enumerate(problem.sources) if _is_open_wire(source)]
    opens = [at for at in problem.visible.tolist() if at in wire]
    rate = next(one.rate for one in pool if one.fault_class is FaultClass.OPEN)
    chances = np.full(len(problem.chances), rate)
    problem = problem._replace(gains=gains, visible=np.array(opens), chances=chances)
    theirs = exact(dead, pool, np.full((2, 2), private), log_table(rates.reading))
    names = {at: problem.sources[at].members[0].lines[0].address for at in opens}
    assert sorted(names.values()) == sorted(theirs)
    for (source,), chance in marginals(everything(problem)).items():
        assert chance == pytest.approx(theirs[names[source]], abs=1e-9, rel=0)


def _is_open_wire(source: Source) -> bool:
    return any(member.fault_class is FaultClass.OPEN and member.part is None for member in source.members)


def sets_by_weight(component: Component, found: Found, count: int) -> list[float]:
    """The log weights of the best single sets: every visited one with every choice of what may hide behind it."""
    weights: list[float] = []
    for each in found.sets:
        bare = each.weight - sum(float(np.logaddexp(0, component.odds[item])) for item in each.free)
        options = sorted((float(component.odds[item]) for item in each.free), reverse=True)[:count]
        best = [bare]
        for odds in options:
            best = sorted([*best, *(one + odds for one in best)], reverse=True)[:count]
        weights += best
    return sorted(weights, reverse=True)[:count]


@pytest.mark.parametrize("seed", some_of(range(8), 3))
def test_the_ten_best_sets_are_those_of_another_solver(seed: int) -> None:
    """8x8 machines with one or two shared faults: the weights of the ten best sets of each component, against OR-tools
    CP-SAT on the same model, within its rounding."""
    machine = draw_marked(f"ten best {seed}", shared=1 + seed % 2)
    problem = problem_of(machine_of(machine.layout), machine.readings, (), shipped_rates())
    compared = 0
    for component in components_of(problem, screen(problem)):
        if component.gains.shape[1] != 2 or len(component.codes) < 4:
            continue
        compared += 1
        found = explore(component, Work(inf))
        keys = [machine.layout.matrices[0].fitted[cell].key for cell in component.cells]
        covers = tuple(
            frozenset([item, *(keys[place] for place in np.flatnonzero(code))])
            for item, code in enumerate(component.codes)
        )  # the number of the item, which is no cell, tells equal ones apart
        lost = dict(zip(keys, component.gains[:, 1].tolist(), strict=True))
        model = Model(covers, tuple(component.odds.tolist()), dict.fromkeys(keys, 0.0), lost)  # type: ignore[arg-type]
        theirs = []
        for chosen in ten_best(model):
            taken = frozenset().union(*chosen)
            odds = sum(component.odds[covers.index(one)] for one in chosen)
            theirs.append(odds + sum(lost.get(key, 0.0) for key in taken))
        ours = sets_by_weight(component, found, 10)[: len(theirs)]
        assert ours == pytest.approx(theirs, abs=2e-3, rel=0)
    assert compared or not machine.truth


@pytest.mark.parametrize("known", [True, False], ids=["known chains", "unknown chains"])
def test_a_large_matrix_with_many_faults_is_searched_within_its_work(known: bool) -> None:
    """Ten shared faults in 64x64 cells: no more than one step beyond the bound, and the same sets again."""
    machine = draw_marked("within its work", size=64, known=known, shared=10)
    problem = problem_of(machine_of(machine.layout), machine.readings, (), shipped_rates())
    works = [Work(1e6), Work(1e6)]
    first, again = (search_sets(problem, work) for work in works)
    assert works[0].over
    assert works[0].spent < 2e6
    assert works[0].spent == works[1].spent
    assert _items(first) == _items(again)


def _items(searched: Searched) -> list[tuple[tuple[int, ...], float]]:
    return [(each.items, each.weight) for _, found in searched.components for each in found.sets]


@settings(max_examples=40)
@given(st.integers(2, 7), st.data())
def test_breaks_of_an_unknown_chain_sum_to_one(count: int, data: st.DataObject) -> None:
    """Those that take several tested cells, one, or none: together every proper subset of the line."""
    untested = data.draw(st.integers(0, count - 1))
    tested = count - untested
    several = sum(comb(tested, taken) * chance for taken, chance in enumerate(shares(count, untested)))
    one = tested * lone_share(count, untested)
    none = sum(comb(untested, k) / ((count - 1) * comb(count, k)) for k in range(1, untested + 1) if k < count)
    assert several + one + none == pytest.approx(1.0, abs=1e-12)


ratios = st.lists(st.floats(-6, 6), min_size=7, max_size=7)


@settings(max_examples=60)
@given(ratios, st.integers(0, 2), st.integers(0, 2))
def test_broken_lines_that_cross_weigh_what_all_their_subsets_do(gains: list[float], hidden: int, also: int) -> None:
    """A row of cells 0 to 3 and a column of cells 3 to 6, each with some untested cells: every pair of subsets."""
    lines = [
        Chain((0, 1, 2, 3), shares(4 + hidden, hidden)),
        Chain((3, 4, 5, 6), shares(4 + also, also)),
    ]
    total = 0.0
    for first, second in product(*(_subsets(line.places) for line in lines)):
        value = lines[0].share[len(first)] * lines[1].share[len(second)]
        total += value * exp(sum(gains[place] for place in {*first, *second}))
    ours, is_exact = log_together(lines, np.array([gains, gains]), Work(inf))
    assert is_exact
    assert ours == pytest.approx(log(total), abs=1e-9)


@settings(max_examples=10)
@given(st.lists(st.floats(-6, -0.1) | st.floats(0.1, 6), min_size=8, max_size=8))
def test_many_broken_lines_that_cross_weigh_no_more_than_said(gains: list[float]) -> None:
    """Two rows of four cells and the four columns of two: every choice of subsets of all six."""
    rows = [Chain(tuple(range(4 * row, 4 * row + 4)), shares(5, 1)) for row in range(2)]
    lines = [*rows, *(Chain((column, column + 4), shares(4, 2)) for column in range(4))]
    taken, weight = np.zeros(1, dtype=np.int64), np.ones(1)
    for line in lines:
        subsets = _subsets(line.places)
        bits = np.array([sum(1 << place for place in chosen) for chosen in subsets])
        share = np.array([line.share[len(chosen)] for chosen in subsets])
        taken, weight = (taken[:, None] | bits).ravel(), np.outer(weight, share).ravel()
    total = float(weight @ np.exp(((taken[:, None] >> np.arange(8)) & 1) @ np.array(gains)))
    bound, is_exact = log_together(lines, np.array([gains] * len(lines)), Work(inf))
    assert bound >= log(total) - 1e-9
    assert not is_exact or bound <= log(total) + 1e-9


def _subsets(places: tuple[int, ...]) -> list[tuple[int, ...]]:
    return [chosen for size in range(len(places) + 1) for chosen in combinations(places, size)]


@settings(max_examples=40)
@given(ratios)
def test_the_likeliest_subset_is_named_first(gains: list[float]) -> None:
    share = shares(9, 2)
    best = max(
        (log(share[len(chosen)]) + sum(gains[place] for place in chosen))
        for chosen in _subsets(tuple(range(7)))
        if share[len(chosen)] > 0
    )
    named = likeliest(range(7), np.array(gains), share, 5)
    assert named[0][1] == pytest.approx(best, abs=1e-9)


marks = st.tuples(*[st.sampled_from((0, 1, 3))] * 9)


@settings(max_examples=40)
@given(marks, st.integers(0, 8))
def test_a_working_mark_never_speaks_for_a_fault_that_would_kill_its_cell(seen: tuple[int, ...], cell: int) -> None:
    """With one shared fault at most, against none: for every visible fault of a 3x3 bank."""
    before = posed(small("lamp", 3, 3), (*seen[:cell], 3, *seen[cell + 1 :]))
    after = posed(small("lamp", 3, 3), (*seen[:cell], 0, *seen[cell + 1 :]))
    for source in set(before.visible.tolist()) & set(after.visible.tolist()):
        assert alone(after, source) <= alone(before, source) + 1e-9 or not _kills(after, source, cell)


def alone(problem: Problem, source: int) -> float:
    machine = problem.machine
    codes = np.zeros(len(machine.cells), dtype=np.int64)
    for piece in problem.sources[source].pieces:
        codes[machine.cells_of(piece)] |= piece[1]
    states = [int(effects(machine.sites[machine.site[cell]])[code]) for cell, code in enumerate(codes)]
    return float(problem.log_odds[source] + problem.gains[np.arange(len(states)), states].sum())


def _kills(problem: Problem, source: int, cell: int) -> bool:
    return any(cell in problem.machine.cells_of(piece) for piece in problem.sources[source].pieces)


@settings(max_examples=25)
@given(marks)
def test_untested_cells_never_clear_a_part(seen: tuple[int, ...]) -> None:
    """A fault none of whose cells was tested keeps its odds and leaves the problem."""
    layout = small("switch", 3, 3)
    problem = posed(layout, (3, 3, 3, *seen[3:]))
    column = [at for at, source in enumerate(problem.sources) if all(line == 0 for line, _, _ in source.pieces)]
    assert column
    assert not set(column) & set(problem.visible.tolist())
    for suspect in diagnose(layout, readings_of(layout, (3, 3, 3, *seen[3:]))).suspects:
        reached = {cell for member in suspect.members for cell in member.cells if cell.column == 1}
        assert reached <= set(suspect.untested)
