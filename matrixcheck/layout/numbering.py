"""The number that a machine's own test shows for a cell, from its row and column."""

from __future__ import annotations

from typing import Literal

Numbering = Literal["down-columns", "along-rows", "column-then-row", "row-then-column", "listed"]


def number_of(scheme: Numbering, row: int, column: int, rows: int, columns: int) -> int:
    """The number of the cell at (`row`, `column`), both counted from 1, in a grid of `rows` by `columns`.

    `column-then-row` and `row-then-column` write the two counts side by side (column 3, row 7 is 37); the second
    takes as many digits as its largest value needs. Listed numbers come from the layout: asking here is a ValueError.
    """
    match scheme:
        case "down-columns":
            return (column - 1) * rows + row
        case "along-rows":
            return (row - 1) * columns + column
        case "column-then-row":
            return int(f"{column}{row:0{len(str(rows))}}")
        case "row-then-column":
            return int(f"{row}{column:0{len(str(columns))}}")
        case _:
            raise ValueError(f"numbers of a {scheme} matrix come from its layout")
