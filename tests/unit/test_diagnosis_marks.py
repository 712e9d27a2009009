"""Marks alone: probabilities against a network that another library solves, and what must never change."""

from __future__ import annotations

import warnings
from itertools import product
from math import exp, inf

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.noise import Judged, Predicted, Seen, log_table
from matrixcheck.diagnosis.inference.beam.solution import solve
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.unit.posed_problem import posed

Place = tuple[int, int]


def bank(rows: int, columns: int) -> Layout:
    matrix = {
        "id": "m",
        "kind": "switch",
        "cells": [[f"cell {r} {c}" for c in range(columns)] for r in range(rows)],
        "column": [{"path": [f"Q{c + 1}"]} for c in range(columns)],
    }
    return layout_in({"format": 1, "name": "small", "matrix": [matrix]})


def marked(layout: Layout, dead: set[Place], untested: frozenset[Place] = frozenset()) -> list[Reading]:
    return [
        Reading(matrix="m", cell=cell.key, mark=Mark.DEAD if cell.key[1:] in dead else Mark.WORKING)
        for cell in layout.matrices[0].fitted
        if cell.key[1:] not in untested
    ]


@pytest.mark.parametrize("dead", [{(1, 2), (2, 1)}, {(1, 1), (2, 2)}, {(1, 1), (1, 2), (2, 1)}])
def test_marginals_equal_exact_inference(dead: set[tuple[int, int]]) -> None:
    """Opens of lines and private causes in a 2x2 bank, against pyAgrum's exact inference, within 1e-9. Every line has a
    dead cell here: the search leaves out lines without one, which are open with a chance of 1e-8 or so."""
    layout, rates = bank(2, 2), shipped_rates()
    readings = marked(layout, dead)
    pool = [
        one
        for one in candidates(layout, rates)
        if (one.fault_class is FaultClass.OPEN and one.part is None) or one.fault_class in DEAD_CELL
    ]
    problem = posed(layout, readings, rates, pool)
    posterior = solve(problem, Work(inf)).posterior
    ours = {
        item.lead.lines[0].address: sum(
            probability
            for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True)
            if index in scored.faults
        )
        for index, item in enumerate(problem.items)
    }
    for line, probability in exact(dead, pool, problem.private[0].dead, log_table(rates.reading)).items():
        assert ours[line] == pytest.approx(probability, abs=1e-9, rel=0)


with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its generated types set off deprecation warnings, which as errors end the process
    import pyagrum


def exact(dead: set[tuple[int, int]], pool: list, private, table) -> dict[str, float]:  # type: ignore[type-arg, no-untyped-def]
    """The same model as a Bayesian network: four lines, four private causes, four marks."""
    net = pyagrum.BayesNet()
    for one in pool:
        if one.fault_class is FaultClass.OPEN:
            name = one.lines[0].address
            net.add(pyagrum.LabelizedVariable(name, name, 2))
            net.cpt(name).fillWith([1 - one.rate, one.rate])
    marked = table[Judged.BY_MARK]
    dark_when = [exp(marked[Predicted.LIT, Seen.DARK]), exp(marked[Predicted.DARK, Seen.DARK])]
    lit_when = [exp(marked[Predicted.LIT, Seen.LIT]), exp(marked[Predicted.DARK, Seen.LIT])]
    for row, column in product((1, 2), (1, 2)):
        own, seen = f"own{row}{column}", f"seen{row}{column}"
        chance = float(private[row - 1, column - 1])
        net.add(pyagrum.LabelizedVariable(own, own, 2))
        net.cpt(own).fillWith([1 - chance, chance])
        net.add(pyagrum.LabelizedVariable(seen, seen, 3))
        for parent in (f"r{row}", f"c{column}", own):
            net.addArc(parent, seen)
        for a, b, c in product((0, 1), repeat=3):
            broken = int(a or b or c)
            values = [lit_when[broken], dark_when[broken]]
            net.cpt(seen)[{f"r{row}": a, f"c{column}": b, own: c}] = [*values, 1 - sum(values)]
    engine = pyagrum.LazyPropagation(net)
    engine.setEvidence({f"seen{r}{c}": int((r, c) in dead) for r, c in product((1, 2), (1, 2))})
    engine.makeInference()
    return {name: float(engine.posterior(name)[1]) for name in ("r1", "r2", "c1", "c2")}


def odds_of_an_open_column(diagnosis: Diagnosis) -> float:
    """Odds of the explanations in which all of column 1 is open, against all others."""
    opened = 0.0
    for explanation in diagnosis.explanations:
        members = [fault for name in explanation.suspects for fault in diagnosis.suspect(name).members]
        if any(fault.fault is FaultClass.OPEN and fault.part == "Q1" for fault in members):
            opened += explanation.probability
    return opened / max(1 - opened, 1e-12)


def test_a_working_mark_never_raises_the_odds_of_what_would_have_killed_the_cell() -> None:
    layout = bank(4, 4)
    dead = {(1, 1), (2, 1)}
    without = marked(layout, dead, untested=frozenset({(3, 1), (4, 1)}))
    more = marked(layout, dead, untested=frozenset({(4, 1)}))
    assert odds_of_an_open_column(diagnose(layout, more)) <= odds_of_an_open_column(diagnose(layout, without))


def test_untested_cells_never_clear_a_part() -> None:
    layout = bank(4, 4)
    diagnosis = diagnose(layout, marked(layout, {(1, 1), (2, 1)}, untested=frozenset({(3, 1), (4, 1)})))
    top = [fault for name in diagnosis.explanations[0].suspects for fault in diagnosis.suspect(name).members]
    assert any(fault.fault is FaultClass.OPEN and fault.part == "Q1" for fault in top)
    reached = [cell for suspect in diagnosis.suspects for cell in suspect.untested]
    assert CellKey("m", 3, 1) in reached


def test_a_healthy_bank_has_no_suspects() -> None:
    layout = bank(4, 4)
    diagnosis = diagnose(layout, marked(layout, set()))
    assert diagnosis.explanations[0].suspects == ()
    assert diagnosis.explanations[0].probability == pytest.approx(1.0, abs=1e-5)  # a break, and two wrong marks


def test_relabelling_rows_changes_nothing_but_names() -> None:
    layout = bank(4, 4)
    first = diagnose(layout, marked(layout, {(1, 2), (3, 2), (4, 2)}))
    moved = diagnose(layout, marked(layout, {(2, 2), (1, 2), (3, 2)}))
    chances = [sorted(each.probability for each in one.explanations) for one in (first, moved)]
    assert chances[0] == pytest.approx(chances[1], abs=1e-9)
