"""Regions: matrices that no likely fault couples are solved separately, as one search over all of them would."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.explanation.combine import Combination, Region, combined
from matrixcheck.diagnosis.explanation.explanations import IMPROBABLE, explanations_of
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.inference.beam.solution import solve
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.regions import split_regions
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.spice.simulate import written
from tests.unit.posed_problem import posed


def two_banks(shared: str = "", rows: int = 2, columns: int = 3) -> Layout:
    """Two banks of the same size, their columns behind plugs of their own or behind one."""
    matrices = [
        {
            "id": name,
            "kind": "switch",
            "cells": [[f"{name} {r} {c}" for c in range(columns)] for r in range(rows)],
            "column": [{"path": [f"Q{first + c}", f"{shared or plug}-{first + c}"]} for c in range(columns)],
        }
        for name, plug, first in (("upper", "X1", 1), ("lower", "X2", columns + 1))
    ]
    return layout_in({"format": 1, "name": "two banks", "matrix": matrices})


def marked(layout: Layout, dead: set[str]) -> list[Reading]:
    return [
        Reading(matrix=matrix.id, cell=cell.key, mark=Mark.DEAD if str(cell.key) in dead else Mark.WORKING)
        for matrix in layout.matrices
        for cell in matrix.fitted
    ]


def problem(layout: Layout, dead: set[str], pool: Sequence[Candidate] | None = None) -> Problem:
    rates = shipped_rates()
    everyone = candidates(layout, rates) if pool is None else pool
    return posed(layout, marked(layout, dead), rates, everyone)


def opens(layout: Layout) -> list[Candidate]:
    """So few faults that every set of them is weighed."""
    return [
        one
        for one in candidates(layout)
        if (one.fault_class is FaultClass.OPEN and one.part is None) or one.fault_class in DEAD_CELL
    ]


DEAD = {"upper.r1c2", "upper.r2c2", "lower.r1c1", "lower.r2c1"}


def regions_of(parts: tuple[Problem, ...]) -> list[Region]:
    found = []
    for part in parts:
        solution = solve(part, Work(inf))
        found.append(Region(solution, explanations_of(solution, Work(inf))))
    return found


def marginals(regions: Sequence[Region]) -> dict[str, float]:
    """For each fault of a line, the chance that it is there."""
    found: dict[str, float] = {}
    for (problem, posterior, *_), _ in regions:
        for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
            for index in scored.faults:
                name = str(problem.items[index].lead.lines[0])
                found[name] = found.get(name, 0.0) + probability
    return found


def suspects(combination: Combination) -> frozenset[str]:
    return frozenset(str(group.members[0].fault) for _, explanation in combination[1] for group in explanation.groups)


def test_the_product_over_regions_is_what_one_search_finds() -> None:
    layout = two_banks()
    whole = problem(layout, DEAD, opens(layout))
    parts = split_regions(whole)
    assert sorted(name for part in parts for name in part.matrix_ids) == ["lower", "upper"]
    assert sorted(len(part.matrix_ids) for part in parts) == [1, 1]
    joined, single = regions_of(parts), regions_of((whole,))
    assert marginals(joined) == pytest.approx(marginals(single), rel=1e-9)
    best, likewise = combined(joined)[0], combined(single)[0]
    assert best[0] == pytest.approx(likewise[0], rel=1e-9)
    assert suspects(best) == suspects(likewise)


def test_a_plug_that_both_need_couples_them() -> None:
    both = {str(cell) for cell in (CellKey("upper", 1, 1), CellKey("upper", 2, 1), *_all("lower"))}
    (part,) = split_regions(problem(two_banks(shared="X3"), both))
    assert part.matrix_ids == ("upper", "lower")


def test_a_plug_against_most_readings_couples_nothing() -> None:
    parts = split_regions(problem(two_banks(shared="X3", rows=4, columns=4), {"upper.r1c2", "lower.r3c1"}))
    assert sorted(part.matrix_ids for part in parts) == [("lower",), ("upper",)]


def test_a_problem_of_some_matrices_covers_exactly_these_in_every_field_that_goes_by_matrices() -> None:
    whole = problem(two_banks(shared="X3", rows=4, columns=4), {"upper.r1c2", "lower.r3c1"})
    places = {"upper", "lower"}
    assert any(set(item.changes) == places for item in whole.items)
    for name in places:
        part = whole.restricted([name], range(len(whole.items)))
        assert part.matrix_ids == (name,)
        assert (len(part.private), len(part.healthy)) == (1, 1)
        assert part.tested == whole.tested  # a cell of another matrix that was tested is never called untested
        assert {cell.matrix for cell in (*part.dead, *part.stuck)} == {name}
        for item, before in zip(part.items, whole.items, strict=True):
            assert set(item.changes) == set(before.changes) & {name}
        for item in part.private_items:
            assert set(item.changes) <= {name}
            assert [fit is part.healthy[0] for fit in part.fits([item.lead])] == [False]


def _all(matrix: str) -> list[CellKey]:
    return [CellKey(matrix, r, c) for r in (1, 2) for c in (1, 2, 3)]


def test_improbable_explanations_share_the_suspects_of_likelier_ones() -> None:
    """Compared reading by reading, a part and what may replace it make one suspect; another suspect with some of the
    same faults, in an improbable explanation, would only confuse."""
    rates, seen = shipped_rates(), 0
    for seed in (1, 5, 6):
        case = draw_case(f"hardly {seed}", "switch", 2, wrong=0.01)
        layout = parse_layout(case.layout, "a drawn bank")
        readings = read_readings(written(case.readings), layout, "drawn readings")
        problem = posed(layout, readings, rates, candidates(layout, rates))
        explanations = explanations_of(solve(problem, Work(inf)), Work(inf))
        likely = [
            group
            for explanation in explanations
            if explanation.probability >= IMPROBABLE
            for group in explanation.groups
        ]
        for explanation in explanations:
            for part, group in zip(explanation.completed.parts, explanation.groups, strict=True):
                if explanation.probability < IMPROBABLE and any(part.lead in each.members for each in likely):
                    assert group in likely
                    seen += 1
    assert seen > 5


def test_two_faults_of_one_explanation_are_two_suspects() -> None:
    """Two stuck inputs, and what else it may be: an explanation that is hardly likely borrows groups of likelier ones,
    each of them once."""
    banks = [
        {"id": "bank", "kind": "switch", "cells": [["a"], ["b"]]},
        {"id": "other", "kind": "switch", "cells": [["c"]]},
    ]
    layout = layout_in({"format": 1, "name": "two inputs", "matrix": banks})
    alone = CellKey("other", 1, 1)
    stuck = [Reading(matrix="bank", cell=CellKey("bank", row, 1), mark=Mark.STUCK) for row in (1, 2)]
    found = diagnose(layout, [Reading(matrix="other", cell=alone, answered=(alone,)), *stuck])
    for explanation in found.explanations:
        assert len(set(explanation.suspects)) == len(explanation.suspects)


def test_a_shared_plug_is_found_though_a_blown_fuse_hides_it_in_one_of_its_matrices() -> None:
    plug = [{"path": [f"U1-{row}", f"X1-{row}"]} for row in range(1, 9)]
    matrices = [
        {"id": "upper", "kind": "switch", "volts": 12, "supply": ["F1"], "row": plug},
        {
            "id": "lower",
            "kind": "switch",
            "row": [{"path": [f"U2-{at}", f"X{1 + at // 5}-{8 + at}"]} for at in range(1, 9)],
        },
    ]
    names = [[f"cell {row} {column}" for column in range(8)] for row in range(8)]
    matrices = [each | {"cells": names, "column": [{"path": []} for _ in range(8)]} for each in matrices]
    layout = layout_in({"format": 1, "name": "a fuse and a plug", "matrix": matrices})
    faults = [parse_fault("unplugged:X1", layout), parse_fault("fuse-blown:F1", layout)]
    exercises = [Reading(matrix=matrix.id, answered=()) for matrix in layout.matrices]
    exercises += [
        Reading(matrix=matrix.id, cell=cell.key, answered=()) for matrix in layout.matrices for cell in matrix.fitted
    ]
    found = diagnose(layout, predict(layout, faults, exercises))
    parts = [{member.part for member in found.suspect(name).members} for name in found.explanations[0].suspects]
    assert len(parts) == 2
    assert any("F1" in each for each in parts)
    assert any("X1" in each for each in parts)
