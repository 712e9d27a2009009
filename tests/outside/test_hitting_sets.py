"""The search on the worked examples of diagnosis theory, put as wiring: every conflict is a dead cell whose line runs
through the conflict's components, one transistor each."""

from __future__ import annotations

from itertools import pairwise, product
from math import inf, prod

import pytest

from matrixcheck.diagnosis.advice.next_tests import Outcome, gain
from matrixcheck.diagnosis.inference.beam.solution import solve
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark, Reading
from tests.unit.posed_problem import posed

Sets = set[frozenset[str]]


def wired(conflicts: list[set[str]]) -> tuple[Layout, dict[str, str]]:
    """A bank with one cell a row, each on its own column; row i runs through the transistors of conflict i."""
    names = sorted(set().union(*conflicts))
    refs = {name: f"Q{index}" for index, name in enumerate(names, 1)}
    count = len(conflicts)
    matrix = {
        "id": "m",
        "kind": "switch",
        "cells": [[f"conflict {r}" if r == c else "" for c in range(count)] for r in range(count)],
        "row": [{"path": sorted(refs[name] for name in conflict)} for conflict in conflicts],
    }
    return layout_in({"format": 1, "name": "conflicts", "matrix": [matrix]}), refs


def explored(conflicts: list[set[str]], rate: float) -> list[tuple[frozenset[str], float, bool]]:
    """Every explored set of components, its probability, and whether it accounts for all conflicts. Components that
    stand in the same conflicts are one item to the search; its members share the probability."""
    layout, refs = wired(conflicts)
    readings = [Reading(matrix="m", cell=cell.key, mark=Mark.DEAD) for cell in layout.matrices[0].fitted]
    rates = shipped_rates()
    pool = [
        candidate._replace(rate=rate)
        for candidate in candidates(layout, rates)
        if candidate.fault_class is FaultClass.OPEN and candidate.part is not None
    ]
    problem = posed(layout, readings, rates, pool)
    posterior = solve(problem, Work(inf)).posterior
    names = {ref: name for name, ref in refs.items()}
    found = []
    for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
        alike = [[names[str(one.part)] for one in problem.items[index].members] for index in scored.faults]
        for chosen in product(*alike):
            parts = frozenset(chosen)
            covered = all(parts & conflict for conflict in conflicts)
            assert covered == (not problem.fits_of(scored.faults)[0].state.any())
            found.append((parts, probability / prod(map(len, alike)), covered))
    return found


def minimal(found: list[tuple[frozenset[str], float, bool]]) -> Sets:
    hitting = {parts for parts, _, covered in found if covered}
    return {parts for parts in hitting if not any(other < parts for other in hitting)}


def sets(*texts: str) -> Sets:
    return {frozenset(text.split()) for text in texts}


@pytest.mark.parametrize(
    ("conflicts", "diagnoses"),
    [
        # Reiter, A theory of diagnosis from first principles, AIJ 32 (1987): full adder. Computed; circuit from memory.
        (["X1 X2", "X1 A2 O1"], sets("X1", "X2 A2", "X2 O1")),
        # The same paper's hitting-set example. Computed; family from memory.
        (
            ["2 4 5", "1 2 3", "1 3 5", "2 4 6", "2 4", "2 3 5", "1 6"],
            sets("1 2", "1 3 4", "1 4 5", "2 3 6", "2 5 6", "3 4 6"),
        ),
        # Greiner, Smith, Wilkerson, A correction to the algorithm in Reiter's theory of diagnosis, AIJ 41 (1989).
        # Computed; family from memory.
        (["a b", "b c", "a c", "b d", "b"], sets("a b", "b c")),
        # de Kleer et al., Diagnosing multiple faults, AIJ 32 (1987). Computed; circuit from memory.
        (["A1 M1 M2", "A1 A2 M1 M3"], sets("A1", "M1", "A2 M2", "M2 M3")),
    ],
)
def test_the_minimal_diagnoses_of_the_literature_are_found(conflicts: list[str], diagnoses: Sets) -> None:
    assert minimal(explored([set(conflict.split()) for conflict in conflicts], rate=0.2)) == diagnoses


def test_the_published_probabilities_hold_over_the_sets_that_explain_everything() -> None:
    """P(A1) = P(M1) = 0.478 with p = 0.01 each (computed; circuit from memory), over sets that account for all.

    A1 and M1 stand in the same conflicts: the search takes them for one item and leaves out that both are broken.
    """
    found = explored([{"A1", "M1", "M2"}, {"A1", "A2", "M1", "M3"}], rate=0.01)
    total = sum(probability for _, probability, covered in found if covered)
    for name in ("A1", "M1"):
        share = sum(probability for parts, probability, covered in found if covered and name in parts) / total
        assert share == pytest.approx(0.478, abs=0.02)


def test_more_components_in_a_set_of_equal_reach_are_less_probable() -> None:
    found = explored([{"X1", "X2"}, {"X1", "A2", "O1"}], rate=0.01)
    by_size = sorted((len(parts), -probability) for parts, probability, covered in found if covered)
    best = {size: -least for size, least in reversed(by_size)}
    assert all(best[small] > best[large] for small, large in pairwise(sorted(best)))


def test_the_published_best_probe_is_x() -> None:
    """Of the points X, Y, Z between multipliers and adders the gain in bits is greatest at X (computed; circuit from
    memory): with inputs 3, 2, 2, 3, 3 each should read 6, and the minimal candidates say which would not."""
    odd = {("A1",): "", ("M1",): "X", ("A2", "M2"): "Y", ("M2", "M3"): "YZ"}
    weights = [0.01 ** len(parts) for parts in odd]
    gains = {
        point: gain(weights, list(odd), [Outcome(point not in wrong) for wrong in odd.values()], wrong=0.0)
        for point in "XYZ"
    }
    assert max(gains, key=lambda point: gains[point]) == "X"
    assert gains["X"] == pytest.approx(1.0, rel=0, abs=0.1)
