"""What a closed visit says of how often things fail, in terms of a layout's places."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey


class Cured(NamedTuple):
    """A place whose repair cured something: of its cells those that had been `dead`, and those that were `on`."""

    place: str
    dead: frozenset[CellKey]
    on: frozenset[CellKey]


class Visit(NamedTuple):
    """A machine as one job saw it: the cells that were tested at all, and what was cured."""

    layout: Layout
    tested: frozenset[CellKey]
    cured: tuple[Cured, ...] = ()
