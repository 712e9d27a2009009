"""Look-ups in a layout: numbers, places, lines, parts; and what is filled in where the file is silent."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from matrixcheck.errors import UsageError
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Line
from matrixcheck.layout.places import CellKey, LineKey, parse_cell, parse_line

BED = parse_layout(
    """
format = 1
name = "Test bed"

[[part]]
ref = "X5"
name = "9-way plug"

[[matrix]]
id = "switches"
kind = "switch"
supply = ["F2"]
walk = [3, 1]
cells = [["a", "b"], ["c", ""], ["d", ""]]
  [[matrix.column]]
  path = ["U4-1", "Q1", "X5-1"]
  chain = [3, 1, 2]
  [[matrix.row]]
  path = ["U7-1", "X5-9"]

[[matrix]]
id = "bank"
kind = "coil"
numbering = "listed"
numbers = [[30, 10], [20, 0]]
cells = [["kick", "flash"], ["post", ""]]
  [[matrix.column]]
  label = "A"
  select = "K1"
  when = "rest"
  supply = ["F3"]
  [[matrix.column]]
  label = 5
  select = "K1"
  when = "pulled"
  [matrix.cell.10]
  device = "flash lamp"

[[matrix]]
id = "inputs"
kind = "switch"
rows_shared = false
cells = [["coin"], ["start"]]
  [[matrix.row]]
  path = ["U9-1", "X5-7"]

[[matrix]]
id = "strings"
kind = "lamp"
rows_shared = false
cells = [["a1", "b1"], ["a2", "b2"]]
""",
    "test bed",
)
SWITCHES, BANK, INPUTS, STRINGS = BED.matrices


def test_fitted_cells_go_by_rising_number_and_gaps_are_left_out() -> None:
    assert [(cell.number, cell.name, str(cell.key)) for cell in SWITCHES.fitted] == [
        (1, "a", "switches.r1c1"),
        (2, "c", "switches.r2c1"),
        (3, "d", "switches.r3c1"),
        (4, "b", "switches.r1c2"),
    ]
    assert [cell.number for cell in BANK.fitted] == [10, 20, 30]


def test_cells_are_found_by_number_and_by_place() -> None:
    assert BANK.by_number[20].key == CellKey("bank", 2, 1)
    assert BED.cell(CellKey("bank", 1, 2)).name == "flash"
    assert SWITCHES.number_at(2, 2) == 5


def test_a_device_is_what_its_matrix_says_unless_it_says_otherwise() -> None:
    assert [cell.device for cell in BANK.fitted] == ["flash lamp", "coil", "coil"]


def test_the_walk_goes_first_and_the_rest_follow_by_number() -> None:
    assert [cell.number for cell in SWITCHES.in_walk_order] == [3, 1, 2, 4]
    assert [cell.number for cell in BANK.in_walk_order] == [10, 20, 30]


def test_lines_that_the_file_leaves_out_are_called_by_their_place() -> None:
    assert [line.label for line in SWITCHES.columns] == ["1", "2"]
    assert [line.label for line in SWITCHES.rows] == ["1", "2", "3"]
    assert [line.label for line in BANK.columns] == ["A", "5"]
    assert SWITCHES.rows[2] == Line(label="3")


def test_cells_of_a_line_go_by_its_chain_or_by_number() -> None:
    assert [cell.number for cell in SWITCHES.cells_of(LineKey("switches", "column", 1))] == [3, 1, 2]
    assert [cell.number for cell in SWITCHES.cells_of(LineKey("switches", "row", 1))] == [1, 4]


def test_rows_that_are_not_shared_are_lines_only_beside_a_single_column() -> None:
    assert [str(key) for key in INPUTS.lines] == ["inputs.c1", "inputs.r1", "inputs.r2"]
    assert [str(key) for key in STRINGS.lines] == ["strings.c1", "strings.c2"]


def test_diodes_are_taken_for_granted_only_where_rows_are_shared() -> None:
    assert [matrix.has_diodes for matrix in BED.matrices] == [True, True, False, False]


def test_a_part_is_known_by_the_lines_that_need_it() -> None:
    def lines(ref: str) -> list[str]:
        return [str(key) for key in BED.lines_through[ref]]

    assert lines("X5") == ["switches.c1", "switches.r1", "inputs.r1"]
    assert lines("X5-9") == ["switches.r1"]
    assert lines("F2") == ["switches.c1", "switches.c2"]
    assert lines("K1") == ["bank.c1", "bank.c2"]
    assert lines("F3") == ["bank.c1"]
    assert "X6" not in BED.lines_through


def test_a_cell_depends_on_the_parts_of_both_its_lines_and_of_its_matrix() -> None:
    key = CellKey("switches", 1, 1)
    assert BED.path_parts(key) == {"U4-1", "U4", "Q1", "X5-1", "X5", "U7-1", "U7", "X5-9", "F2"}
    assert BED.path_parts(CellKey("bank", 1, 1)) == {"K1", "F3"}


def test_only_described_parts_have_a_description() -> None:
    assert set(BED.part_by_ref) == {"X5"}


@pytest.mark.parametrize(
    ("look_up", "message"),
    [
        (lambda: BED.matrix("lamps"), "no matrix 'lamps' in 'Test bed': take one of switches, bank, inputs, strings"),
        (lambda: BED.cell(CellKey("bank", 2, 2)), "nothing is fitted at bank.r2c2: name a fitted cell"),
        (lambda: BED.line(LineKey("strings", "row", 1)),
         "no line strings.r1: rows and columns count from 1, as in the layout"),
    ],
)  # fmt: skip
def test_what_is_not_there_is_refused_by_name(look_up, message: str) -> None:
    with pytest.raises(UsageError) as refused:
        look_up()
    assert str(refused.value) == message


def test_places_within_the_grid_count_though_nothing_is_fitted() -> None:
    assert SWITCHES.contains(CellKey("switches", 3, 2))
    assert not SWITCHES.contains(CellKey("switches", 4, 1))
    assert not SWITCHES.contains(CellKey("bank", 1, 1))


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("r2c11", CellKey("m", 2, 11)),
        ("other.r1c1", CellKey("other", 1, 1)),
        ("r0c1", None),
        ("r1", None),
        ("R1C1", None),
    ],
)
def test_cell_addresses_are_read_as_they_are_written(text: str, key: CellKey | None) -> None:
    assert parse_cell(text, "m") == key
    assert key is None or text in (str(key), key.address)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("c3", LineKey("m", "column", 3)),
        ("b-1.r12", LineKey("b-1", "row", 12)),
        ("c0", None),
        ("3", None),
        ("r1c1", None),
    ],
)
def test_line_addresses_are_read_as_they_are_written(text: str, key: LineKey | None) -> None:
    assert parse_line(text, "m") == key
    assert key is None or text in (str(key), key.address)


def test_two_matrices_of_one_id_are_no_layout() -> None:
    matrix = {"id": "m", "kind": "lamp", "cells": [["a"]]}
    with pytest.raises(ValidationError, match="same id"):
        layout_in({"format": 1, "name": "x", "matrix": [matrix, matrix]})
