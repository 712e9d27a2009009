"""Where something stands in a chart, as its reader finds it: row and column of the sheet."""

from __future__ import annotations

from typing import NamedTuple


class Spot(NamedTuple):
    """A cell of a chart, row and column counted from 1. `column` is 0 for the whole row."""

    chart: str
    row: int
    column: int = 0

    def __str__(self) -> str:
        return f"{self.chart}, {self.within}"

    @property
    def within(self) -> str:
        """Return the place without the chart's name: `row 4, column C`."""
        return f"row {self.row}, column {column_letters(self.column)}" if self.column else f"row {self.row}"


def column_letters(column: int) -> str:
    """Return the letters that spreadsheets give a column counted from 1: A to Z, AA, AB and so on."""
    letters = ""
    while column > 0:
        column, place = divmod(column - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters
