"""How far a search says it went is how far it went."""

from __future__ import annotations

from itertools import combinations, count
from math import inf

import numpy as np
import pytest

from matrixcheck.diagnosis.forward.fault_effects import joint
from matrixcheck.diagnosis.inference.beam.search import FaultSet, search
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.samples import some_of
from tests.spice.simulate import written
from tests.unit.posed_problem import posed


def _problem(seed: int, kind: str, faults: int) -> Problem:
    case = draw_case(f"reach {seed}", kind, faults)
    layout = parse_layout(case.layout, "a drawn bank")
    rates = shipped_rates()
    readings = read_readings(written(case.readings), layout, "drawn readings")
    return posed(layout, readings, rates, candidates(layout, rates))


def _score(problem: Problem, faults: FaultSet) -> float:
    """The log-posterior of a set, by the definition."""
    chosen = [problem.items[index] for index in faults]
    fits = problem.fits([item.lead for item in chosen], joint(item.setting for item in chosen))
    told = sum(fit.log(private) for fit, private in zip(fits, problem.private, strict=True))
    return told + sum(item.weight for item in chosen)


@pytest.mark.parametrize("kind", some_of(["switch", "lamp", "coil"], 1))
def test_where_the_best_is_proven_no_pair_of_faults_is_better(kind: str) -> None:
    proven = 0
    for seed in range(3):
        problem = _problem(seed, kind, 1)
        explored = search(problem, Work(inf))
        if explored.proven:
            best = explored.best(1)[0].score
            places = sorted(range(len(problem.items)), key=lambda index: -problem.items[index].weight)[:40]
            assert all(_score(problem, frozenset(pair)) <= best + 1e-9 for pair in combinations(places, 2))
            proven += 1
    assert proven


@pytest.mark.slow
def test_most_machines_with_one_fault_are_proven() -> None:
    assert sum(search(_problem(seed, "switch", 1), Work(inf)).proven for seed in range(8)) >= 5


@pytest.mark.slow
def test_a_search_that_misses_the_best_does_not_call_it_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sets of two are kept from it, and a pair is better than every fault alone."""
    monkeypatch.setattr("matrixcheck.diagnosis.inference.beam.search.LARGEST_SET", 1)
    missed = 0
    for seed in range(6):
        problem = _problem(seed, "lamp", 2)
        explored = search(problem, Work(inf))
        best = explored.best(1)[0].score
        likely = sorted(range(len(problem.items)), key=lambda index: -_score(problem, frozenset((index,))))[:12]
        if any(_score(problem, frozenset(pair)) > best + 1e-9 for pair in combinations(likely, 2)):
            assert not explored.proven
            missed += 1
    assert missed


def test_what_is_left_aside_is_near_what_it_weighs() -> None:
    """The estimate against all pairs scored: within a factor of 30 or under a thousandth."""
    for seed in range(4):
        problem = _problem(seed, "coil", 2)
        explored = search(problem, Work(inf))
        gap = explored.gap
        alone = [index for index, item in enumerate(problem.items) if item.role == 0]
        unscored = [frozenset(pair) for pair in combinations(alone, 2) if frozenset(pair) not in explored.sets]
        missed = float(np.logaddexp.reduce([_score(problem, pair) for pair in unscored[:600]] or [-inf]))
        known = float(np.logaddexp.reduce([scored.score for scored in explored.sets.values()]))
        truth = 1 / (1 + np.exp(min(known - missed, 700.0)))
        assert truth < max(30 * gap, 1e-3)


def test_a_search_without_work_says_that_most_was_not_searched() -> None:
    explored = search(_problem(1, "switch", 2), Work(-inf))
    assert not explored.finished
    assert not explored.proven
    assert explored.gap > 0.5


@pytest.mark.parametrize("fault_class", ["open", "device-stuck", "device-dead"])
def test_a_plain_fault_is_weighed_however_late_it_is(fault_class: str) -> None:
    drawn = (draw_case(f"late {seed}", "switch", 1, classes=(fault_class,)) for seed in count())
    case = next(case for case in drawn if case.injected()[0]["visible"])
    layout = parse_layout(case.layout, "a drawn bank")
    rates = shipped_rates()
    readings = read_readings(written(case.readings), layout, "drawn readings")
    problem = posed(layout, readings, rates, candidates(layout, rates), Work(0))
    assert not problem.whole
    weighed = [*problem.items, *problem.private_items]
    assert any(member.fault_class == fault_class for item in weighed for member in item.members)
