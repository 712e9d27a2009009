"""Hold rounds expose every shorted diode that any rectangle can, as a conduction model of our own in this file says."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.advice.hold_rounds import HoldPlan, hold_plan
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from tests.machines import saltmarsh_tram


def matrix_of(grid: Sequence[Sequence[bool]], extra: str = "") -> Matrix:
    """A switch matrix, invented, with something fitted where the grid says so."""
    cells = [[f"place {r} {c}" if here else "" for c, here in enumerate(row)] for r, row in enumerate(grid)]
    text = str(cells).replace("'", '"')
    return parse_layout(
        f'format = 1\nname = "x"\n[[matrix]]\nid = "m"\nkind = "switch"\ncells = {text}\n{extra}', "test"
    ).matrix("m")


def answers(closed: Collection[CellKey], shorted: CellKey) -> set[CellKey]:
    """What shows while these cells are closed: a column pulled low takes every row with it that reaches it, a good
    diode passing from row to column only, the shorted one both ways."""
    found: set[CellKey] = set()
    for column in {cell.column for cell in closed}:
        low = {("c", column)}
        grown = True
        while grown:
            step = {("r", cell.row) for cell in closed if ("c", cell.column) in low}
            step |= {("c", cell.column) for cell in closed if cell == shorted and ("r", cell.row) in low}
            grown = not step <= low
            low |= step
        found |= {CellKey(shorted.matrix, place, column) for side, place in low if side == "r"}
    return found


def exposed(held: Sequence[CellKey], cells: Sequence[CellKey]) -> list[CellKey]:
    return [cell for cell in cells if answers({*held, cell}, cell) != {*held, cell}]


def plan_of(grid: Sequence[Sequence[bool]]) -> tuple[Matrix, HoldPlan]:
    matrix = matrix_of(grid)
    return matrix, hold_plan(matrix, exposed)


def within_a_rectangle(matrix: Matrix) -> set[CellKey]:
    """By enumeration: cells for which any two held switches make a shorted diode show."""
    keys = [cell.key for cell in matrix.fitted]
    return {key for key in keys if any(exposed(pair, [key]) for pair in combinations(set(keys) - {key}, 2))}


FULL = [[True] * 8 for _ in range(8)]


def test_a_full_matrix_needs_two_diagonals_of_eight() -> None:
    matrix, plan = plan_of(FULL)
    assert [len(each.held) for each in plan.rounds] == [8, 8]
    for each in plan.rounds:
        assert len({cell.row for cell in each.held}) == len({cell.column for cell in each.held}) == 8
    assert plan.unexposed == ()
    assert {cell for each in plan.rounds for cell in each.exposes} == {cell.key for cell in matrix.fitted}


grids = (
    st.integers(1, 5)
    .flatmap(lambda width: st.lists(st.lists(st.booleans(), min_size=width, max_size=width), min_size=1, max_size=5))
    .filter(lambda grid: any(map(any, grid)))
)


@given(grids)
@settings(max_examples=150)
def test_every_diode_that_any_rectangle_can_test_is_tested_and_the_others_are_named(grid: list[list[bool]]) -> None:
    matrix, plan = plan_of(grid)
    shown = {cell for each in plan.rounds for cell in each.exposes}
    assert shown == within_a_rectangle(matrix)
    assert shown | set(plan.unexposed) == {cell.key for cell in matrix.fitted}
    assert not shown & set(plan.unexposed)


@given(grids)
@settings(max_examples=100)
def test_what_a_round_is_said_to_expose_it_does_expose_and_no_held_switch_hides_an_echo(grid: list[list[bool]]) -> None:
    _, plan = plan_of(grid)
    for each in plan.rounds:
        assert exposed(each.held, each.exposes) == list(each.exposes)
        corners = [set(four) for four in combinations(each.held, 3)]
        assert not any(len({c.row for c in three}) == len({c.column for c in three}) == 2 for three in corners)


@given(grids)
@settings(max_examples=60)
def test_rounds_are_few(grid: list[list[bool]]) -> None:
    matrix, plan = plan_of(grid)
    rows, columns = matrix.size
    assert len(plan.rounds) <= 3 + max(rows, columns) // 2


def test_switches_within_reach_of_a_hand_are_held_first() -> None:
    notes = "[matrix.cell]\n" + "\n".join(f'{number} = {{reach = "ball"}}' for number in (1, 5, 9))
    plan = hold_plan(matrix_of([[True] * 3] * 3, notes), exposed)
    # Numbers run down the columns: the main diagonal is 1, 5, 9.
    assert not set(plan.rounds[0].held) & {CellKey("m", place, place) for place in (1, 2, 3)}


def test_only_the_diodes_asked_for_are_aimed_at() -> None:
    wanted = [CellKey("m", 2, 3)]
    plan = hold_plan(matrix_of(FULL), exposed, wanted)
    assert [(len(each.held), each.exposes) for each in plan.rounds] == [(2, tuple(wanted))]


@pytest.mark.parametrize("extra", ["diodes = false", "rows_shared = false"])
def test_a_matrix_without_diodes_needs_no_round(extra: str) -> None:
    assert hold_plan(matrix_of([[True], [True]], extra), exposed) == HoldPlan((), ())


def test_the_invented_machine_needs_few_rounds_for_all_its_diodes() -> None:
    matrix = saltmarsh_tram().matrix("switches")
    plan = hold_plan(matrix, exposed)
    assert len(plan.rounds) <= 3
    assert plan.unexposed == ()
