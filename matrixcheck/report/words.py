"""Figures and small phrases in words, the same on screen and on paper."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.record.summary import Coverage

NOTHING_SHARED = "nothing that cells share, only causes of their own"


def moment(at: datetime) -> str:
    """Return a time to the minute, by the clock on the wall here."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M")


def cell_words(key: CellKey, layout: Layout) -> str:
    """Return number and name of a cell, or its address where nothing is fitted."""
    cell = layout.matrix(key.matrix).by_key.get(key)
    return f"{cell.number} {cell.name}" if cell else key.address


def cells_words(keys: Iterable[CellKey], layout: Layout, most: int | None = None) -> str:
    """Name cells matrix by matrix, each by number and name.

    Of a matrix no more than `most` are named, the rest counted.
    """
    by_matrix: dict[str, list[CellKey]] = {}
    for key in keys:
        by_matrix.setdefault(key.matrix, []).append(key)
    pieces = []
    for matrix, cells in by_matrix.items():
        more = f" and {len(cells) - most} more" if most is not None and len(cells) > most else ""
        pieces.append(f"{matrix} {', '.join(cell_words(key, layout) for key in cells[:most])}{more}")
    return "; ".join(pieces)


def coverage_words(coverage: Coverage) -> str:
    """Say how far a matrix is tested, in one sentence piece that always names what is untested."""
    tested = coverage.total - coverage.untested
    return f"{tested} of {coverage.total} tested, {coverage.untested} untested"
