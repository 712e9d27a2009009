"""The names of the matrices with their coverage, as much of them as one line holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.report.glyphs import RETEST_DUE
from matrixcheck.tui.text.spans import clipped

SHORTEST = 3


class Tally(NamedTuple):
    """How far one matrix is tested."""

    matrix_id: str
    name: str
    tested: int
    total: int
    due: int = 0
    """How many of its cells are due for a retest."""

    @property
    def full(self) -> str:
        """Name and count."""
        return f" {self.name} {self.tested}/{self.total}{self.waiting} "

    @property
    def short(self) -> str:
        """Name alone, and what is due."""
        return f" {self.name}{self.waiting} "

    @property
    def waiting(self) -> str:
        """What is due for a retest."""
        return f" {RETEST_DUE}{self.due}" if self.due else ""

    def cut(self, width: int) -> str:
        """Return the name cut so that it fits with what is due, which is never cut."""
        return f" {clipped(self.name, max(width - 2 - len(self.waiting), 1))}{self.waiting} "


def tab_texts(tallies: Sequence[Tally], current: str, width: int) -> tuple[str, ...]:
    """Return what each tab says so that all of them fit into `width`; the current one keeps its count the longest."""
    full = [tally.full for tally in tallies]
    if sum(map(len, full)) <= width:
        return tuple(full)
    mixed = [tally.full if tally.matrix_id == current else tally.short for tally in tallies]
    for room in range(max(map(len, mixed)), SHORTEST + 1, -1):
        texts = [
            text if tally.matrix_id == current or len(text) <= room else tally.cut(room)
            for text, tally in zip(mixed, tallies, strict=True)
        ]
        if sum(map(len, texts)) <= width:
            return tuple(texts)
    return tuple(f" {tally.name[:SHORTEST]}{tally.waiting} " for tally in tallies)
