"""What an analysis remembers of earlier sets is what the forward model shows of each."""

from __future__ import annotations

import random

import numpy as np
import pytest

from matrixcheck.diagnosis.explanation.alternatives import Alternatives
from matrixcheck.diagnosis.forward.fault_effects import Fuse, Setting
from matrixcheck.diagnosis.inference.beam.search import search
from matrixcheck.diagnosis.inference.beam.set_scores import SetScores
from matrixcheck.diagnosis.inference.beam.tables import Tables
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_classes import ODD_DIODE
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.spice.simulate import written
from tests.unit.posed_problem import posed


def _problem(seed: int, kind: str) -> Problem:
    case = draw_case(f"remembered {seed}", kind, 2)
    layout = parse_layout(case.layout, "a drawn bank")
    rates = shipped_rates()
    readings = read_readings(written(case.readings), layout, "drawn readings")
    return posed(layout, readings, rates, candidates(layout, rates))


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_dead_devices_are_laid_upon_what_the_others_show(kind: str) -> None:
    rng = random.Random(kind)
    problem = _problem(1, kind)
    alternatives, (subject,) = Alternatives(problem), problem.subjects
    everyone = tuple(one for item in problem.items for one in item.members)
    dead = [one for item in problem.dead.values() for one in item.members if one.fault_class is FaultClass.DEVICE_DEAD]
    odd = [one for one in everyone if one.fault_class in ODD_DIODE]
    compared = 0
    for _ in range(150):
        faults = [*rng.sample(dead, min(len(dead), rng.randint(1, 3))), *rng.sample(everyone, rng.randint(0, 3))]
        faults += rng.sample(odd, 1) if odd and rng.random() < 0.2 else []
        rng.shuffle(faults)
        setting = Setting(fuse=rng.choice(list(Fuse)), both_ways=rng.random() < 0.3)
        shown = subject.shows(faults, setting)
        np.testing.assert_array_equal(alternatives.state(0, faults, setting), shown)
        compared += bool((shown != subject.usual).any())
    assert compared > 100


@pytest.mark.parametrize("kind", ["lamp", "coil"])
def test_what_only_darkens_cells_is_laid_upon_the_fit_of_the_others(kind: str) -> None:
    rng = random.Random(kind)
    compared = 0
    for seed in range(3):
        problem = _problem(seed, kind)
        (subject,) = problem.subjects
        everyone = [one for item in (*problem.items, *problem.private_items) for one in item.members]
        darkening = [one for one in everyone if one.fault_class in (FaultClass.DEVICE_DEAD, FaultClass.BREAK)]
        for _ in range(40):
            faults = [*rng.sample(darkening, rng.randint(1, 3)), *rng.sample(everyone, rng.randint(0, 2))]
            rng.shuffle(faults)
            setting = Setting(fuse=rng.choice(list(Fuse)), both_ways=rng.random() < 0.3)
            found, fit = problem.fit_in(0, faults, setting), subject.fit(faults, setting)
            np.testing.assert_array_equal(found.state, fit.state)
            np.testing.assert_allclose(found.bare, fit.bare, rtol=1e-9, atol=1e-9)
            np.testing.assert_allclose(found.dead, fit.dead, rtol=1e-9, atol=1e-9)
            np.testing.assert_allclose(found.stuck, fit.stuck, rtol=1e-9, atol=1e-9)
            compared += bool((fit.state != subject.usual).any())
    assert compared > 75


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_a_set_scores_the_same_whatever_was_scored_before_it(kind: str) -> None:
    rng = random.Random(kind)
    problem = _problem(2, kind)
    kept = SetScores(problem)
    sets = [frozenset(rng.sample(range(len(problem.items)), rng.randint(0, 4))) for _ in range(60)]
    for faults in (*sets, *sets):
        fresh = SetScores(problem)
        assert kept.of(faults) == fresh.of(faults)


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_a_search_with_the_tables_of_a_shorter_one_ends_as_one_without(kind: str) -> None:
    problem = _problem(3, kind)
    tables = Tables(problem)
    short, limit = search(problem, Work(4e6), tables), 20e6
    again, fresh = search(problem, Work(limit), tables), search(_problem(3, kind), Work(limit))
    assert len(short.sets) < len(fresh.sets) or short.finished
    assert again.best() == fresh.best()
    assert (again.finished, again.proven, again.left_out) == (fresh.finished, fresh.proven, fresh.left_out)
