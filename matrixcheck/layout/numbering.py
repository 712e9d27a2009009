"""A cell's number, as the machine's own test shows it or its chart prints it: how it reads, sorts and is worked out.

A number is a plain integer or a short text: letters and digits, single hyphens them, as in `9L`, `D1`, `A-3`.
Case doesn't count, so a text is kept in capitals. What digits alone write is always the integer. `c3`, `r2` and `r2c3`
name lines and places wherever they are typed, so no number may read like them.
"""

from __future__ import annotations

import re
from typing import Literal

from matrixcheck.layout.limits import LARGEST_NUMBER, LONGEST_NUMBER, whole_number
from matrixcheck.layout.problems import shown

Number = int | str
Numbering = Literal["down-columns", "along-rows", "column-then-row", "row-then-column", "listed"]
SCHEMES: tuple[Numbering, ...] = ("column-then-row", "row-then-column", "down-columns", "along-rows")
"""The numberings that follow a rule; those that say most of a place first."""
NaturalOrder = tuple[tuple[tuple[int, int, str], ...], str]

TEXT_PATTERN = "[A-Za-z0-9]+(-[A-Za-z0-9]+)*"
RESERVED_PATTERN = "[Cc][0-9]+|[Rr][0-9]+([Cc][0-9]+)?"
_TEXT = re.compile(TEXT_PATTERN)
_RESERVED = re.compile(RESERVED_PATTERN)
_RUN = re.compile("([0-9]+)|([A-Z]+)")


def read_number(text: str) -> Number:
    """Return the number that a text writes, a text in capitals.

    Raises ValueError, with the reason, where it writes none.
    """
    if not _TEXT.fullmatch(text):
        raise ValueError(
            f"{shown(text)} is not a cell number: use letters A to Z, digits and single hyphens, as in 9L or A-3"
        )
    if text.isdecimal():
        number = whole_number(text)
        if number is None:
            raise ValueError(f"{shown(text)} is not a cell number: a plain one lies between 1 and {LARGEST_NUMBER}")
        return number
    if len(text) > LONGEST_NUMBER:
        raise ValueError(
            f"{shown(text)} is not a cell number: it has {len(text)} characters, and {LONGEST_NUMBER} at most fit"
        )
    if _RESERVED.fullmatch(text):
        raise ValueError(
            f"{shown(text)} is not a cell number: typed, it names a line or a place; put a hyphen in, as in "
            f"{text[0].upper()}-{text[1:].upper()}"
        )
    return text.upper()


def parse_number(text: str) -> Number | None:
    """Return the number that a text writes, as `read_number` reads it; None where it writes none."""
    try:
        return read_number(text)
    except ValueError:
        return None


def nearest_number(text: str) -> str | None:
    """Return the number that a misspelt one probably means: `9 L` is `9-L`, `-A_3.` is `A-3`."""
    number = parse_number(re.sub("[^A-Za-z0-9]+", "-", text).strip("-"))
    return None if number is None else str(number)


def is_used(number: Number) -> bool:
    """Return whether it is a number at all: a listed matrix has 0 or "" where nothing is fitted."""
    return number > 0 if isinstance(number, int) else number != ""


def natural_order(number: Number) -> NaturalOrder:
    """Return what numbers are sorted by.

    Figures go by their value, so that 2 comes before 10, 9 before 9L and 9L before 10.
    """
    if isinstance(number, int):
        return ((0, number, ""),), ""
    runs = _RUN.findall(number)
    return tuple((0, int(figures), "") if figures else (1, 0, letters) for figures, letters in runs), number


def number_of(scheme: Numbering, row: int, column: int, rows: int, columns: int) -> int:
    """Return the number of the cell at (`row`, `column`), both counted from 1, in a grid of `rows` by `columns`.

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
