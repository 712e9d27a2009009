"""The names of the matrices with their coverage, as much of them as one line holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.tui.text.spans import clipped

SHORTEST = 3


class Tally(NamedTuple):
    """How far one matrix is tested."""

    matrix_id: str
    name: str
    tested: int
    total: int

    @property
    def full(self) -> str:
        """Name and count."""
        return f" {self.name} {self.tested}/{self.total} "

    @property
    def short(self) -> str:
        """Name alone."""
        return f" {self.name} "


def tab_texts(tallies: Sequence[Tally], current: str, width: int) -> tuple[str, ...]:
    """Return what each tab says so that all of them fit into `width`; the current one keeps its count the longest."""
    full = [tally.full for tally in tallies]
    if sum(map(len, full)) <= width:
        return tuple(full)
    mixed = [tally.full if tally.matrix_id == current else tally.short for tally in tallies]
    for room in range(max(map(len, mixed)), SHORTEST + 1, -1):
        texts = [
            text if tally.matrix_id == current else f" {clipped(text.strip(), room - 2)} "
            for text, tally in zip(mixed, tallies, strict=True)
        ]
        if sum(map(len, texts)) <= width:
            return tuple(texts)
    return tuple(f" {tally.name[:SHORTEST]} " for tally in tallies)
