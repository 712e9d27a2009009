"""The names of the matrices with their coverage and what waits in them, as much of it as one line holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.report.glyphs import DEFERRED, RETEST_DUE
from matrixcheck.tui.text.spans import clipped

SHORTEST = 3
OPEN = "»"
"""A round through the matrix is open."""


class Tally(NamedTuple):
    """How far one matrix is tested: `due` cells wait for a retest, `later` ones were put off."""

    matrix_id: str
    name: str
    tested: int
    total: int
    due: int = 0
    later: int = 0
    open: bool = False
    """Whether a round through it is open, anybody's."""

    @property
    def full(self) -> str:
        """Name and count."""
        return f" {self.name} {self.tested}/{self.total}{self.waiting} "

    @property
    def short(self) -> str:
        """Name alone, and what waits."""
        return self.named(self.name)

    @property
    def waiting(self) -> str:
        """What is under way, due for a retest and put off."""
        signs = (
            OPEN if self.open else "",
            self.due and f"{RETEST_DUE}{self.due}",
            self.later and f"{DEFERRED}{self.later}",
        )
        return "".join(f" {sign}" for sign in signs if sign)

    def named(self, name: str) -> str:
        """Return the tab under a shorter name, with what waits, which is never cut."""
        return f" {name}{self.waiting} "


def tab_texts(tallies: Sequence[Tally], current: str, width: int) -> tuple[str, ...]:
    """Return what each tab says so that all of them fit into `width`; the current one keeps its count the longest."""
    full = [tally.full for tally in tallies]
    if sum(map(len, full)) <= width:
        return tuple(full)
    names = [tally.name for tally in tallies]
    texts: list[str] = []
    for counted in (True, False):
        for room in range(max(map(len, names)), SHORTEST - 1, -1):
            texts = [
                tally.full if counted and tally.matrix_id == current else tally.named(name)
                for tally, name in zip(tallies, told_apart(names, room), strict=True)
            ]
            if sum(map(len, texts)) <= width:
                return tuple(texts)
    return tuple(texts)


def told_apart(names: Sequence[str], room: int) -> tuple[str, ...]:
    """Return names of at most `room` characters, no two alike: cut at the end, at the beginning, else numbered."""
    heads = [clipped(name, room) for name in names]
    met = Counter(heads)
    tails = [name if len(name) <= room else f"…{name[len(name) - room + 1 :]}" for name in names]
    cut = [head if met[head] == 1 else tail for head, tail in zip(heads, tails, strict=True)]
    again = Counter(cut)
    return tuple(
        name if again[name] == 1 else f"{name[: max(room - len(str(place)), 0)]}{place}"
        for place, name in enumerate(cut, 1)
    )
