"""The numbers that a machine's own test shows, from rows and columns."""

from __future__ import annotations

from typing import get_args

import pytest

from matrixcheck.layout.numbering import Numbering, number_of

SCHEMES = [scheme for scheme in get_args(Numbering) if scheme != "listed"]
SIZES = [
    (1, 1),
    (1, 64),
    (64, 1),
    (2, 3),
    (8, 8),
    (16, 2),
    (9, 10),
    (10, 9),
    (11, 100),
    (100, 11),
    (99, 99),
    (64, 64),
]


@pytest.mark.parametrize(
    ("scheme", "place", "size", "number"),
    [
        ("down-columns", (7, 3), (8, 8), 23),
        ("down-columns", (1, 2), (16, 2), 17),
        ("along-rows", (7, 3), (8, 8), 51),
        ("along-rows", (2, 1), (16, 2), 3),
        ("column-then-row", (7, 3), (8, 8), 37),
        ("column-then-row", (7, 3), (16, 8), 307),
        ("column-then-row", (12, 3), (16, 8), 312),
        ("column-then-row", (7, 12), (8, 16), 127),
        ("row-then-column", (7, 3), (8, 8), 73),
        ("row-then-column", (7, 3), (8, 16), 703),
        ("row-then-column", (12, 3), (16, 8), 123),
        ("row-then-column", (1, 1), (64, 64), 101),
    ],
)
def test_worked_examples(scheme: Numbering, place: tuple[int, int], size: tuple[int, int], number: int) -> None:
    assert number_of(scheme, *place, *size) == number


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("rows", "columns"), SIZES)
def test_every_cell_of_a_grid_has_a_number_of_its_own(scheme: Numbering, rows: int, columns: int) -> None:
    numbers = [number_of(scheme, r, c, rows, columns) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    assert len(set(numbers)) == rows * columns
    assert min(numbers) >= 1


@pytest.mark.parametrize(("rows", "columns"), SIZES)
def test_counted_schemes_run_from_one_without_gaps(rows: int, columns: int) -> None:
    down = [number_of("down-columns", r, c, rows, columns) for c in range(1, columns + 1) for r in range(1, rows + 1)]
    along = [number_of("along-rows", r, c, rows, columns) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    assert down == along == list(range(1, rows * columns + 1))


@pytest.mark.parametrize(("rows", "columns"), SIZES)
def test_written_schemes_give_back_their_row_and_column(rows: int, columns: int) -> None:
    for row in range(1, rows + 1):
        for column in range(1, columns + 1):
            base = 10 ** len(str(rows))
            assert divmod(number_of("column-then-row", row, column, rows, columns), base) == (column, row)
            base = 10 ** len(str(columns))
            assert divmod(number_of("row-then-column", row, column, rows, columns), base) == (row, column)


def test_listed_numbers_cannot_be_worked_out() -> None:
    with pytest.raises(ValueError, match="listed"):
        number_of("listed", 1, 1, 8, 8)
