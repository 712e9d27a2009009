"""Name a bench check by what it tests: `wire.switches.c3`, `fuse.F2`, `bulb.lamps.24`; the same in every answer.

A code is made of letters, digits, `-` and `.`, so that it can be typed as it stands.
"""

from __future__ import annotations

import re

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey

Place = str | LineKey | CellKey

_STRANGE = re.compile("[^A-Za-z0-9-]+")


def code_of(layout: Layout, test: str, *places: Place) -> str:
    """Return the code of a test at designators, lines or cells. Cells go by number, and a matrix is named once."""
    words: list[str] = [test]
    matrix = ""
    for place in places:
        if isinstance(place, str):
            words.append(_STRANGE.sub("-", place))
            continue
        if place.matrix != matrix:
            matrix = place.matrix
            words.append(matrix_word(layout, matrix))
        words.append(place.address if isinstance(place, LineKey) else str(layout.cell(place).number))
    return ".".join(words)


def matrix_word(layout: Layout, matrix_id: str) -> str:
    """Return a matrix's id as it can be typed anywhere, with its count where two would be the same."""
    words = [_STRANGE.sub("-", each) for each in layout.matrix_ids]
    at = layout.matrix_ids.index(matrix_id)
    alike = [word.casefold() for word in words].count(words[at].casefold()) > 1
    return f"{words[at]}-{at + 1}" if alike else words[at]
