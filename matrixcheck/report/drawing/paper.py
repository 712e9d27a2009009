"""Sheets of paper, in tenths of a millimetre: the unit of every drawing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

MARGIN_SIDE, MARGIN_TOP, MARGIN_BOTTOM = 120, 170, 150
"""White around what is printed; the head and the foot of a page stand in it."""


class Paper(NamedTuple):
    """A sheet, upright, with its name in CSS.

    Its sides are as ISO 216 (A4) and ANSI/ASME Y14.1 (Letter, 8.5 by 11 in) give them.
    """

    name: str
    wide: int
    high: int

    @property
    def width(self) -> int:
        """Return the width between the margins."""
        return self.wide - 2 * MARGIN_SIDE

    @property
    def height(self) -> int:
        """Return the height between the margins."""
        return self.high - MARGIN_TOP - MARGIN_BOTTOM


ENDLESS = Paper("endless", 2100, 1_000_000)
"""For what isn't printed: nothing has to be left out."""
PAPERS: Mapping[str, Paper] = MappingProxyType({"a4": Paper("A4", 2100, 2970), "letter": Paper("letter", 2159, 2794)})
